/* Where a rail lies in the machine's frame: as arguments of `kniferail set`, in the block that is written, and as the
 * station has it before and behind a request. */
#ifndef KNIFERAIL_CLI_SET_FRAME_H
#define KNIFERAIL_CLI_SET_FRAME_H

#include "edit_request.h"
#include "kniferail/frame.h"

/* An argument by its letter: O the offset, S the scale in ppm, P the points of the table. False after telling what is
 * wrong with it. */
bool set_frame_put(struct edit_block *block, char letter, const char *text);

/* All of it. */
void set_frame_fill(struct edit_block *block, const struct kr_frame *frame);

/* The frame of a rail, from 1, as the station has it, without what references have found. False: client->error says
 * why. */
bool set_frame_read(struct kr_client *client, uint16_t rail_number, struct kr_frame *frame);

/* Once a request was accepted: reads the frame again, and prints what it was and what it has become. False:
 * client->error says why. */
bool set_frame_changed(struct kr_client *client, uint16_t rail_number, const struct kr_frame *was);

#endif
