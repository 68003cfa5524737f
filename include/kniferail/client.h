/* client: a Modbus/TCP client that reads the image of a station by the same table by which the server answers. A client
 * belongs to one thread at a time. A call waits at most two seconds for each answer of the gateway. */
#ifndef KNIFERAIL_CLIENT_H
#define KNIFERAIL_CLIENT_H

#include <modbus/modbus.h>

#include "kniferail/alarm.h"
#include "kniferail/map.h"

struct kr_client {
    modbus_t *modbus;      /* NULL: not connected */
    struct kr_image image; /* the registers that were read so far; the others are 0 */
    char error[160];       /* why the last call failed */
    /* The call failed because the gateway has several stations, none of them the default one. */
    bool needs_unit;
};

/* Which station: name or number of the gateway, its TCP port, and the unit identifier of the station (255: the only
 * one, or the default one). The texts are the caller's. */
struct kr_client_address {
    const char *host, *port;
    int unit_id;
};
/* Connects, and reads what describes the map: version, word order, unit. False: error says why, and nothing is left
 * open. */
bool kr_client_open(struct kr_client *client, const struct kr_client_address *address);
void kr_client_close(struct kr_client *client);

/* Read a block, or the first n elements of a row, into the image. No transfer exceeds 100 registers, and each transfer
 * is of one cycle. False: error says why. */
bool kr_client_block(struct kr_client *client, enum kr_block_id block);
bool kr_client_row(struct kr_client *client, enum kr_reg reg, uint16_t rail, uint16_t n);

/* Reads all registers that describe a station and its rails: every block that its pictures and its state in words need,
 * and of the holders' arrays as many elements as there are holders. False: error says why. */
bool kr_client_station(struct kr_client *client);

/* Writes registers side by side, in transfers of at most 100, the last registers last. False: error says why. */
bool kr_client_write(struct kr_client *client, uint16_t address, const uint16_t word[], uint16_t n);

/* These read from an image that was read before. index counts from 0. */
uint16_t kr_get_alarms(const struct kr_image *image); /* standing alarms in the list */
struct kr_alarm kr_get_alarm(const struct kr_image *image, uint16_t index);
/* The result of the last request, of the last command, or why no plan was possible; also as a sentence. */
enum kr_client_result { KR_CLIENT_VERDICT, KR_CLIENT_COMMAND, KR_CLIENT_REFUSAL };
struct kr_result kr_get_result(const struct kr_image *image, enum kr_client_result which);
void kr_get_result_text(const struct kr_image *image, enum kr_client_result which, char *text, size_t size);

#endif
