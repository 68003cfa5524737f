#ifndef KR_MOTION_ALIKE_H
#define KR_MOTION_ALIKE_H

#include "rail.h"

/* A holder that a scan found: where it should be, and how far off it was. */
struct found {
    int32_t at_um, off_um;
};

enum alike {
    ALIKE_UNKNOWN, /* too few, or each its own way */
    ALIKE_RIGHT,   /* most are where they should be */
    ALIKE_SHIFTED, /* most are off by the same */
    ALIKE_SCALED,  /* most are off by so much of the way along the rail */
};

/* What most of them, in rail order, have in common within limit_um. *shift_um: how far off they are; of ALIKE_SCALED
 * the one that is furthest off. */
enum alike alike_of(const struct found found[], uint16_t n, int32_t limit_um, int32_t *shift_um);

/* Of those that are off by what most of them are, within limit_um: how many, and in the mean where and by how much. 0:
 * they are too few, or each is off its own way. */
uint16_t alike_mean(const struct found found[], uint16_t n, int32_t limit_um, int32_t *at_um,
                    int32_t *off_um);

#endif
