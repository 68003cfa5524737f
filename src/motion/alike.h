#ifndef KR_MOTION_ALIKE_H
#define KR_MOTION_ALIKE_H

#include "rail.h"

/* A holder that a scan found: its expected position, and its deviation from that. */
struct found {
    int32_t at_um, off_um;
};

enum alike {
    ALIKE_UNKNOWN, /* too few holders, or their deviations do not agree */
    ALIKE_RIGHT,   /* most holders are at their expected positions */
    ALIKE_SHIFTED, /* most holders have the same deviation */
    ALIKE_SCALED,  /* the deviations of most holders grow along the rail */
};

/* Finds what the deviations of most holders have in common within limit_um. found[] is in rail order. *shift_um is the
 * common deviation; for ALIKE_SCALED, it is the largest one. */
enum alike alike_of(const struct found found[], uint16_t n, int32_t limit_um, int32_t *shift_um);

/* Averages the holders whose deviation agrees within limit_um with that of most holders, and returns their number.
 * *at_um and *off_um are their mean position and mean deviation. 0: they are too few, or their deviations do not
 * agree. */
uint16_t alike_mean(const struct found found[], uint16_t n, int32_t limit_um, int32_t *at_um, int32_t *off_um);

#endif
