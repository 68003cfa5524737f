#include "address.h"

#include "cli.h"

bool kr_address_read(const char *command, const struct kr_address_options *options, struct kr_client_address *address)
{
    long port, unit_id;
    if (!kr_number(command, "--port", options->port, 1, 65535, &port) ||
        !kr_number(command, "--unit", options->unit, 0, 255, &unit_id))
        return false;
    *address = (struct kr_client_address){options->host, options->port, (int)unit_id};
    return true;
}
