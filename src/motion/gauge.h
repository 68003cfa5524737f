#ifndef KR_MOTION_GAUGE_H
#define KR_MOTION_GAUGE_H

#include "rail.h"

/* These run rounds of scans in both directions that measure the switch. Their flags are not matched to holders. */
void gauge_enter(const struct rail *r);             /* the first round begins */
int32_t gauge_speed_um_per_s(const struct rail *r); /* speed of the passes in the present round */
/* Evaluates the two passes of a round: n flags each, and hit[1] in falling sequence. True: another round follows. The
 * rail may have tripped. */
bool gauge_take(const struct rail *r, uint16_t n);

#endif
