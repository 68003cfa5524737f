/* A maintenance request to a running station, from the block that is written to the verdict that is read. */
#ifndef KNIFERAIL_CLI_EDIT_REQUEST_H
#define KNIFERAIL_CLI_EDIT_REQUEST_H

#include "kniferail/client.h"

/* The block as it will be written; numbers go in as they are, lengths when the station's unit is known. */
struct edit_block {
    struct kr_format format;
    const struct kr_image *image; /* the station's, with block SIZES; NULL: it is not asked yet */
    uint16_t number, n_widths;
    bool of_knife;     /* the registers of a knife are written, too */
    bool of_frame;     /* those of a rail's frame */
    bool of_switch;    /* those of its switch */
    uint16_t n_points; /* of its table */
    uint16_t word[KR_MAP_BLOCK_WORDS_MAX];
};

/* Where an element of the block stands. */
uint16_t *edit_at(struct edit_block *block, enum kr_reg reg, uint16_t index);

void edit_put_length(struct edit_block *block, enum kr_reg reg, uint16_t index, int64_t nm);
void edit_put_32(struct edit_block *block, enum kr_reg reg, uint16_t index, uint32_t value);

/* Gives the block its session and number, writes it, and waits for its verdict. False: client->error says why. */
bool edit_ask(struct kr_client *client, struct edit_block *block);

/* The verdict, once edit_ask() has returned true. */
struct kr_result edit_result(const struct kr_image *image);

#endif
