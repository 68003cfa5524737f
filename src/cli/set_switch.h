/* A rail's proximity switch, that is, its offset and the bias of its scans: as arguments of `kniferail set`, in the
 * block that is written, and as the station has it before and after a request. */
#ifndef KNIFERAIL_CLI_SET_SWITCH_H
#define KNIFERAIL_CLI_SET_SWITCH_H

#include "edit_request.h"
#include "kniferail/corrections.h"

/* Enters an argument by its letter: I the offset, B the bias. False: the text is wrong, which was printed. */
bool set_switch_put(struct edit_block *block, char letter, const char *text);

/* Enters both. */
void set_switch_fill(struct edit_block *block, const struct kr_switch *is);

/* Reads both for a rail, from 1, as the station uses them, without the corrections that references have found. False:
 * client->error says why. */
bool set_switch_read(struct kr_client *client, uint16_t rail_number, struct kr_switch *is);

/* Call it when a request was accepted: reads both again, and prints the old and the new values. False: client->error
 * says why. */
bool set_switch_changed(struct kr_client *client, uint16_t rail_number, const struct kr_switch *was);

#endif
