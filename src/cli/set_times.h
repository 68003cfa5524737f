/* A rail's planned times: as arguments of `kniferail set`, in the block that is written, and as the station has them
 * before and after a request. */
#ifndef KNIFERAIL_CLI_SET_TIMES_H
#define KNIFERAIL_CLI_SET_TIMES_H

#include "edit_request.h"
#include "kniferail/station.h"

/* Enters an argument by its letter, in milliseconds: d the time to dock, u to undock, g the time of each travel for its
 * set-point, j its constant time. False: the text is wrong, which was printed. */
bool set_times_put(struct edit_block *block, char letter, const char *text);

/* Reads the times of a rail, from 1. False: client->error says why. */
bool set_times_read(struct kr_client *client, uint16_t rail_number, struct kr_rail_times *is);

/* Call it when a request was accepted: reads the times again, and prints the old and the new ones. False: client->error
 * says why. */
bool set_times_changed(struct kr_client *client, uint16_t rail_number, const struct kr_rail_times *was);

#endif
