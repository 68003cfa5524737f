/* A maintenance request to a running station: writes its block of registers, and reads the verdict. */
#ifndef KNIFERAIL_CLI_EDIT_REQUEST_H
#define KNIFERAIL_CLI_EDIT_REQUEST_H

#include "kniferail/client.h"

/* The block to be written. Numbers are entered directly, lengths as soon as the station's unit is known. */
struct edit_block {
    struct kr_format format;
    const struct kr_image *image; /* the station's image with the block SIZES; NULL: it was not read yet */
    uint16_t number, n_widths;
    bool of_knife;     /* the registers of a knife are written, too */
    bool of_frame;     /* the registers of a rail's frame are written, too */
    bool of_switch;    /* the registers of a rail's switch are written, too */
    bool of_times;     /* the registers of a rail's planned times are written, too */
    bool pairs_seen;   /* with strips: it is stated that a person has looked at each pair */
    uint16_t n_points; /* points of the frame's table */
    uint16_t word[KR_MAP_BLOCK_WORDS_MAX];
};

/* Returns the place of a register's element in the block. */
uint16_t *edit_at(struct edit_block *block, enum kr_reg reg, uint16_t index);

void edit_put_length(struct edit_block *block, enum kr_reg reg, uint16_t index, int64_t nm);
void edit_put_32(struct edit_block *block, enum kr_reg reg, uint16_t index, uint32_t value);

/* Enters session and number, writes the block, and waits for the verdict. False: client->error says why. */
bool edit_ask(struct kr_client *client, struct edit_block *block);

/* Returns the verdict. Call it after edit_ask() has returned true. */
struct kr_result edit_result(const struct kr_image *image);

#endif
