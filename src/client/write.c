/* Writing is in a file of its own, so that a program that only reads is linked without it. */
#include <stdio.h>

#include "fail.h"

bool kr_client_write(struct kr_client *client, uint16_t address, const uint16_t word[], uint16_t n)
{
    while (n > 0) {
        uint16_t part = n < CLIENT_MOST_REGISTERS ? n : CLIENT_MOST_REGISTERS;
        if (modbus_write_registers(client->modbus, address, part, word) != part) {
            char what[64];
            snprintf(what, sizeof what, "writing %u holding registers at %u", part, address);
            return client_fail(client, what);
        }
        address = (uint16_t)(address + part);
        word += part;
        n = (uint16_t)(n - part);
    }
    return true;
}
