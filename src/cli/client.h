/* A Modbus/TCP client that reads a station's image by the same table that the server answers from. */
#ifndef KNIFERAIL_CLI_CLIENT_H
#define KNIFERAIL_CLI_CLIENT_H

#include <modbus/modbus.h>

#include "kniferail/map.h"

struct kr_client {
    modbus_t *modbus;      /* NULL: not connected */
    struct kr_image image; /* what was read so far; 0 elsewhere */
    char error[160];       /* why the last call failed */
};

/* Which station, as the command line says. */
struct kr_client_address {
    const char *host, *port, *unit;
    long unit_id;
};
/* The options that set `address`, to stand in a command's list. */
#define KR_CLIENT_OPTIONS(address) \
    {"host", &(address).host, NULL}, {"port", &(address).port, NULL}, \
    { \
        "unit", &(address).unit, NULL \
    }
#define KR_CLIENT_ADDRESS \
    { \
        .host = "127.0.0.1", .port = "1502", .unit = "255" \
    }
/* Reads the numbers in it. False after telling what is wrong. */
bool kr_client_address_read(const char *command, struct kr_client_address *address);

/* Connects and reads what tells the map: version, word order, unit. False: error says why, nothing is left open. */
bool kr_client_open(struct kr_client *client, const struct kr_client_address *address);
void kr_client_close(struct kr_client *client);

/* Reads a block, or the first n elements of a row, into the image. No transfer exceeds 100 registers; each is of one
 * cycle. False: error says why. */
bool kr_client_block(struct kr_client *client, enum kr_block_id block);
bool kr_client_row(struct kr_client *client, enum kr_reg reg, uint16_t rail, uint16_t n);

/* Writes registers side by side, in transfers of at most 100, the last registers last. False: error says why. */
bool kr_client_write(struct kr_client *client, uint16_t address, const uint16_t word[], uint16_t n);

/* Values of an image that was read. */
uint16_t kr_get_u16(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t kr_get_i32(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t kr_get_um(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
void kr_get_text(const struct kr_image *image, enum kr_reg reg, char *text, size_t size);
/* The name of a size of holders; "?" if the station lists none of that number. */
void kr_get_size_name(const struct kr_image *image, uint16_t number, char text[KR_SIZE_NAME_MAX]);

#endif
