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
    if (unit_id == 0 || unit_id == 255)
        snprintf(client->error, sizeof client->error,
                 "the gateway has several stations, none of them the default one: --unit says which");
    else
        snprintf(client->error, sizeof client->error, "the gateway has no station with unit identifier %d",
                 unit_id);
    return false;
}

static bool read_words(struct kr_client *client, uint16_t address, uint16_t n)
{
    while (n > 0) {
        uint16_t part = n < CLIENT_MOST_REGISTERS ? n : CLIENT_MOST_REGISTERS;
        if (modbus_read_input_registers(client->modbus, address, part, &client->image.word[address]) !=
            part) {
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
    return read_words(client, kr_reg_address(reg, rail, 0),
                      (uint16_t)(n * kr_reg_words(kr_reg_info(reg)->type)));
}

/* What the map says of itself has to agree with what this program was built with. */
static bool agree(struct kr_client *client)
{
    struct kr_image *image = &client->image;
    uint16_t version = kr_get_u16(image, KR_REG_MAP_VERSION, 0, 0);
    if (version != KR_MAP_VERSION) {
        snprintf(client->error, sizeof client->error, "the map has version %u; this program knows version %d",
                 version, KR_MAP_VERSION);
        return false;
    }
    image->format.low_word_first = kr_get_u16(image, KR_REG_WORD_ORDER, 0, 0) != 0;
    image->format.length_unit = kr_get_u16(image, KR_REG_LENGTH_UNIT, 0, 0) ? KR_LENGTH_INCH : KR_LENGTH_MM;
    if (kr_get_i32(image, KR_REG_WORD_ORDER_PROOF, 0, 0) == KR_MAP_WORD_ORDER_PROOF)
        return true;
    snprintf(client->error, sizeof client->error,
             "the word order can't be proven; this is no station of this map");
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
    if (connect_to(client, address->host, address->port, address->unit_id) &&
        kr_client_block(client, KR_BLOCK_RUN) && kr_client_block(client, KR_BLOCK_ABOUT) && agree(client))
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

uint16_t kr_get_u16(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    return image->word[kr_reg_address(reg, rail, index)];
}

int32_t kr_get_i32(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    const uint16_t *word = &image->word[kr_reg_address(reg, rail, index)];
    uint32_t high = word[image->format.low_word_first ? 1 : 0],
             low = word[image->format.low_word_first ? 0 : 1];
    return (int32_t)(high << 16 | low);
}

int32_t kr_get_um(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    return kr_um_from_nm(kr_nm_from_count(kr_get_i32(image, reg, rail, index), image->format.length_unit));
}

/* What is not printable doesn't reach the terminal. */
void kr_get_text(const struct kr_image *image, enum kr_reg reg, char *text, size_t size)
{
    const struct kr_reg_info *info = kr_reg_info(reg);
    size_t n = 0;
    for (unsigned i = 0; i < 2u * info->n && n + 1 < size; i++) {
        uint16_t word = image->word[info->address + i / 2];
        unsigned char c = (unsigned char)(i % 2 ? word & 0xff : word >> 8);
        if (c == '\0')
            break;
        text[n++] = (char)(c >= ' ' && c <= '~' ? c : '?');
    }
    text[n] = '\0';
}

void kr_get_size_name(const struct kr_image *image, uint16_t number, char text[KR_SIZE_NAME_MAX])
{
    bool listed =
        number >= 1 && number <= KR_SIZES_MAX && number <= kr_get_u16(image, KR_REG_SIZE_COUNT, 0, 0);
    if (listed)
        kr_get_text(image, (enum kr_reg)(KR_REG_SIZE_NAME_1 + number - 1), text, KR_SIZE_NAME_MAX);
    else
        snprintf(text, KR_SIZE_NAME_MAX, "?");
}

static uint16_t within(uint16_t n, enum kr_reg row)
{
    uint16_t most = kr_reg_info(row)->n;
    return n < most ? n : most;
}

uint16_t kr_get_rails(const struct kr_image *image)
{
    uint16_t n = kr_get_u16(image, KR_REG_RAIL_COUNT, 0, 0);
    return n < KR_RAILS_MAX ? n : KR_RAILS_MAX;
}

uint16_t kr_get_holders(const struct kr_image *image, uint16_t rail)
{
    return within(kr_get_u16(image, KR_REG_RAIL_HOLDERS, rail, 0), KR_REG_HOLDER_POSITION);
}

uint16_t kr_get_cut_lines(const struct kr_image *image)
{
    return within(kr_get_u16(image, KR_REG_CUT_COUNT, 0, 0), KR_REG_CUT_LINE);
}
