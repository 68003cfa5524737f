#include "kniferail/client.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "fail.h"

#define TIMEOUT_S 2

bool client_fail(struct kr_client *client, const char *what)
{
    snprintf(client->error, sizeof client->error, "%s: %s", what, modbus_strerror(errno));
    return false;
}

static bool no_such_unit(struct kr_client *client)
{
    int unit_id = modbus_get_slave(client->modbus);
    client->needs_unit = unit_id == 0 || unit_id == 255;
    if (client->needs_unit)
        snprintf(client->error, sizeof client->error,
                 "the gateway has several stations, and none of them is the default one: give the unit "
                 "identifier of one");
    else
        snprintf(client->error, sizeof client->error, "the gateway has no station with unit identifier %d", unit_id);
    return false;
}

static bool read_words(struct kr_client *client, uint16_t address, uint16_t n)
{
    while (n > 0) {
        uint16_t part = n < CLIENT_MOST_REGISTERS ? n : CLIENT_MOST_REGISTERS;
        if (modbus_read_input_registers(client->modbus, address, part, &client->image.word[address]) != part) {
            char what[64];
            snprintf(what, sizeof what, "reading %u input registers at %u", part, address);
            return errno == EMBXGPATH ? no_such_unit(client) : client_fail(client, what);
        }
        address = (uint16_t)(address + part);
        n = (uint16_t)(n - part);
    }
    return true;
}

bool kr_client_block(struct kr_client *client, enum kr_block_id block)
{
    const struct kr_block_info *info = kr_block_info(block);
    return read_words(client, info->first, info->words);
}

bool kr_client_row(struct kr_client *client, enum kr_reg reg, uint16_t rail, uint16_t n)
{
    return read_words(client, kr_reg_address(reg, rail, 0), (uint16_t)(n * kr_reg_words(kr_reg_info(reg)->type)));
}

/* Checks that the station's map is the one for which this program was built. */
static bool agree(struct kr_client *client)
{
    struct kr_image *image = &client->image;
    uint16_t version = kr_get_u16(image, KR_REG_MAP_VERSION, 0, 0);
    if (version != KR_MAP_VERSION) {
        snprintf(client->error, sizeof client->error, "the map has version %u; this program knows version %d", version,
                 KR_MAP_VERSION);
        return false;
    }
    image->format.low_word_first = kr_get_u16(image, KR_REG_WORD_ORDER, 0, 0) != 0;
    image->format.length_unit = kr_get_u16(image, KR_REG_LENGTH_UNIT, 0, 0) ? KR_LENGTH_INCH : KR_LENGTH_MM;
    if (kr_get_i32(image, KR_REG_WORD_ORDER_PROOF, 0, 0) == KR_MAP_WORD_ORDER_PROOF)
        return true;
    snprintf(client->error, sizeof client->error,
             "the register that proves the word order has another value; this is not a station with this "
             "register map");
    return false;
}

static bool connect_to(struct kr_client *client, const char *host, const char *port, int unit_id)
{
    client->modbus = modbus_new_tcp_pi(host, port);
    if (!client->modbus || modbus_set_slave(client->modbus, unit_id) != 0 ||
        modbus_set_response_timeout(client->modbus, TIMEOUT_S, 0) != 0)
        return client_fail(client, "preparing the connection");
    if (modbus_connect(client->modbus) == 0)
        return true;
    char what[96];
    snprintf(what, sizeof what, "connecting to %.60s, port %.8s", host, port);
    return client_fail(client, what);
}

bool kr_client_open(struct kr_client *client, const struct kr_client_address *address)
{
    memset(client, 0, sizeof *client);
    if (connect_to(client, address->host, address->port, address->unit_id) && kr_client_block(client, KR_BLOCK_RUN) &&
        kr_client_block(client, KR_BLOCK_ABOUT) && agree(client))
        return true;
    kr_client_close(client);
    return false;
}

void kr_client_close(struct kr_client *client)
{
    if (!client->modbus)
        return;
    modbus_close(client->modbus);
    modbus_free(client->modbus);
    client->modbus = NULL;
}
