/* Finds the stations of a gateway by asking every unit identifier. */
#ifndef KNIFERAIL_CLI_STATIONS_H
#define KNIFERAIL_CLI_STATIONS_H

#include <stdio.h>

#include "kniferail/client.h"

/* The greatest unit identifier of a station: Modbus Application Protocol, serial line, 2.2. */
#define KR_UNIT_ID_MAX 247

/* Sets address->unit_id to the unit identifier of the station called `name`. False: client->error says why. */
bool kr_station_named(struct kr_client *client, struct kr_client_address *address, const char *name);

/* Prints unit identifier and name of each station; returns how many there are. */
int kr_stations_print(struct kr_client *client, const struct kr_client_address *address, FILE *to);

#endif
