/* layout: the register map (regmap.def) arranged for quick answers. Built once, then read only. */
#ifndef KR_FACE_LAYOUT_H
#define KR_FACE_LAYOUT_H

#include "kniferail/map.h"

#define FACE_RUNS_MAX KR_BLOCK_COUNT
#define FACE_BITS_MAX 32
#define FACE_NO_BLOCK 255

enum face_half { FACE_WHOLE, FACE_FIRST_HALF, FACE_SECOND_HALF }; /* of a 32-bit value */

/* Blocks of one area that lie side by side: one read may span them. */
struct face_run {
    uint16_t first, words;
};

/* Bit addresses that stand for the bits of words side by side. */
struct face_bits {
    uint16_t first, bits;
    uint16_t word; /* address of the word that holds the first 16 */
};

struct face_layout {
    uint16_t n_input, n_holding, n_coils, n_discrete;
    struct face_run input[FACE_RUNS_MAX], holding[FACE_RUNS_MAX];
    struct face_bits coil[FACE_BITS_MAX], discrete[FACE_BITS_MAX];
    uint8_t block[KR_MAP_HOLDING_WORDS]; /* enum kr_block_id of a writable register, or FACE_NO_BLOCK */
    /* A mask: FFFFh if the register has a row. The others read 0 whatever is written. */
    uint16_t kept[KR_MAP_HOLDING_WORDS];
    /* enum kr_reg of a mask that no trigger hands over, or KR_REG_NONE. */
    uint16_t watched[KR_MAP_HOLDING_WORDS];
    uint8_t half[KR_MAP_HOLDING_WORDS]; /* enum face_half */
    /* Rows that the face fills in for each client: addresses of input registers. */
    uint16_t own_role, own_control, control_held, control_holder, control_holder_words;
    uint16_t own_first, own_end; /* all of them lie in [own_first, own_end), */
    uint16_t odd_first, odd_end; /* and block ODD here */
};

void face_layout_build(struct face_layout *layout);

/* Do all n registers from first exist? n is 1 or more. For holding registers the read-only window counts, too. */
bool face_layout_has_input(const struct face_layout *layout, uint32_t first, uint32_t n);
bool face_layout_has_holding(const struct face_layout *layout, uint32_t first, uint32_t n);

/* Returns the block in which all n registers from first may be written, or FACE_NO_BLOCK. */
uint8_t face_layout_writable(const struct face_layout *layout, uint32_t first, uint32_t n);

/* Returns the row of bits that contains address, or NULL. */
const struct face_bits *face_layout_bits(const struct face_bits *rows, uint16_t n_rows, uint32_t address);
bool face_layout_has_bits(const struct face_bits *rows, uint16_t n_rows, uint32_t first, uint32_t n);

#endif
