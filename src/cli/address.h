/* The options that tell a command which station to read. */
#ifndef KNIFERAIL_CLI_ADDRESS_H
#define KNIFERAIL_CLI_ADDRESS_H

#include "kniferail/client.h"

struct kr_address_options {
    const char *host, *port, *unit;
};
#define KR_ADDRESS_DEFAULTS \
    { \
        .host = "127.0.0.1", .port = "1502", .unit = "255" \
    }
/* The options that fill in `address`, for a command's list of options. */
#define KR_ADDRESS_OPTIONS(address) \
    {"host", &(address).host, NULL}, {"port", &(address).port, NULL}, \
    { \
        "unit", &(address).unit, NULL \
    }

/* Reads the numbers in the options. False: the mistake was printed. */
bool kr_address_read(const char *command, const struct kr_address_options *options, struct kr_client_address *address);

#endif
