/* A rail's proximity switch, where it is and the bias of its scans: as arguments of `kniferail set`, in the block that
 * is written, and as the station has it before and behind a request. */
#ifndef KNIFERAIL_CLI_SET_SWITCH_H
#define KNIFERAIL_CLI_SET_SWITCH_H

#include "edit_request.h"
#include "kniferail/corrections.h"

/* An argument by its letter: I the offset, B the bias. False after telling what is wrong with it. */
bool set_switch_put(struct edit_block *block, char letter, const char *text);

/* Both. */
void set_switch_fill(struct edit_block *block, const struct kr_switch *is);

/* Those of a rail, from 1, as the station has them, without what references have found. False: client->error says
 * why. */
bool set_switch_read(struct kr_client *client, uint16_t rail_number, struct kr_switch *is);

/* Once a request was accepted: reads them again, and prints what they were and what they have become. False:
 * client->error says why. */
bool set_switch_changed(struct kr_client *client, uint16_t rail_number, const struct kr_switch *was);

#endif
