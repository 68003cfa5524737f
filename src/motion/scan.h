#ifndef KR_MOTION_SCAN_H
#define KR_MOTION_SCAN_H

#include "rail.h"

void scan_begin(const struct rail *r);
void scan_step(const struct rail *r);
/* For whoever looks for flags by himself: from now on, with the probe armed; then in each cycle. Flags that are met
 * come to stand in scan_hits(), pass 0. */
void scan_watch(const struct rail *r);
void scan_edges(const struct rail *r);
/* The touch probe function that the scan wants; whether the drive has armed it. */
uint16_t scan_probe(const struct kr_motion *m, const struct kr_carriage_config *carriage);
bool scan_is_armed(const struct rail *r);
void scan_not_armed(const struct rail *r); /* in time: the rail trips */

#endif
