#ifndef KR_MOTION_SCAN_H
#define KR_MOTION_SCAN_H

#include "rail.h"

void scan_begin(const struct rail *r);
void scan_step(const struct rail *r);
/* For a search for flags outside of a scan. Call scan_watch() once with the probe armed, and then scan_edges() in each
 * cycle. The flags are in scan_hits(), pass 0. */
void scan_watch(const struct rail *r);
void scan_edges(const struct rail *r);
/* scan_probe() returns the touch probe function for the scan, and scan_is_armed() tells whether the drive has armed
 * it. */
uint16_t scan_probe(const struct kr_motion *m, const struct kr_carriage_config *carriage);
bool scan_is_armed(const struct rail *r);
void scan_not_armed(const struct rail *r); /* the probe was not armed in time, and the rail trips */

#endif
