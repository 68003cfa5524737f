#ifndef KR_MOTION_GAUGE_H
#define KR_MOTION_GAUGE_H

#include "rail.h"

/* Rounds of scans both ways that are learned from, and not matched to holders. */
void gauge_enter(const struct rail *r);             /* the first round begins */
int32_t gauge_speed_um_per_s(const struct rail *r); /* of the passes of the present round */
/* Takes what the two passes of a round have seen: n flags each, hit[1] in falling order. True: another round is to be
 * scanned. The rail may have tripped. */
bool gauge_take(const struct rail *r, uint16_t n);

#endif
