/* The position of a rail in the machine's frame: as arguments of `kniferail set`, in the block that is written, and as
 * the station has it before and after a request. */
#ifndef KNIFERAIL_CLI_SET_FRAME_H
#define KNIFERAIL_CLI_SET_FRAME_H

#include "edit_request.h"
#include "kniferail/frame.h"

/* Enters an argument by its letter: O the offset, S the scale in ppm, P the points of the table. False: the text is
 * wrong, which was printed. */
bool set_frame_put(struct edit_block *block, char letter, const char *text);

/* Enters the whole frame. */
void set_frame_fill(struct edit_block *block, const struct kr_frame *frame);

/* Reads the frame of a rail, from 1, that the station uses, without the corrections that references have found. False:
 * client->error says why. */
bool set_frame_read(struct kr_client *client, uint16_t rail_number, struct kr_frame *frame);

/* Call it when a request was accepted: reads the frame again, and prints the old and the new one. False: client->error
 * says why. */
bool set_frame_changed(struct kr_client *client, uint16_t rail_number, const struct kr_frame *was);

#endif
