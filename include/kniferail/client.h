/* client: a Modbus/TCP client that reads the image of a station by the register map. A client belongs to one thread at
 * a time. A call waits at most two seconds for each answer of the gateway. */
#ifndef KNIFERAIL_CLIENT_H
#define KNIFERAIL_CLIENT_H

#include <modbus/modbus.h>

#include "kniferail/alarm.h"
#include "kniferail/map.h"

struct kr_client {
    modbus_t *modbus;      /* NULL: the client is not connected */
    struct kr_image image; /* the registers that were read so far; the others are 0 */
    char error[160];       /* why the last call failed */
    /* The last call failed because the gateway has several stations and no default one. */
    bool needs_unit;
};

/* Address of a station: the gateway's host name or IP address, its TCP port, and the unit identifier of the station.
 * 255 is the only station, or the default one. The texts belong to the caller. */
struct kr_client_address {
    const char *host, *port;
    int unit_id;
};
/* Connects, and reads what describes the map: version, word order, unit. False: error says why, and no connection is
 * left open. */
bool kr_client_open(struct kr_client *client, const struct kr_client_address *address);
void kr_client_close(struct kr_client *client);

/* These read a block, or the first n elements of a row, into the image. No transfer exceeds 100 registers, and all
 * registers of one transfer come from the same cycle. False: error says why. */
bool kr_client_block(struct kr_client *client, enum kr_block_id block);
bool kr_client_row(struct kr_client *client, enum kr_reg reg, uint16_t rail, uint16_t n);

/* Reads all registers that describe a station and its rails, for pictures of it and for its state in words. It reads as
 * many elements of the holders' arrays as there are holders. False: error says why. */
bool kr_client_station(struct kr_client *client);

/* Writes adjacent registers, in transfers of at most 100, in the sequence of their addresses. False: error says why. */
bool kr_client_write(struct kr_client *client, uint16_t address, const uint16_t word[], uint16_t n);

/* These read from an image that was read before. index counts from 0. kr_get_alarms() returns the number of standing
 * alarms in the list. */
uint16_t kr_get_alarms(const struct kr_image *image);
struct kr_alarm kr_get_alarm(const struct kr_image *image, uint16_t index);
/* The results that an image holds: of the last request, of the last command, and why no plan was possible. They come as
 * numbers, or as a sentence. */
enum kr_client_result { KR_CLIENT_VERDICT, KR_CLIENT_COMMAND, KR_CLIENT_REFUSAL };
struct kr_result kr_get_result(const struct kr_image *image, enum kr_client_result which);
void kr_get_result_text(const struct kr_image *image, enum kr_client_result which, char *text, size_t size);

#endif
