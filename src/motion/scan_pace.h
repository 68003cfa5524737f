#ifndef KR_MOTION_SCAN_PACE_H
#define KR_MOTION_SCAN_PACE_H

#include "rail.h"

/* Sends the carriage on a pass that ends at end_um, the drive's own position. Decides whether the pass is predicted. */
void scan_pace_begin(const struct rail *r, int32_t end_um);

/* Call it in each cycle of the pass, after its edges were taken. on_flag: a switch is on a flag. */
void scan_pace_step(const struct rail *r, int32_t end_um, bool on_flag);

/* Three questions about a predicted pass. scan_pace_edge_fits(): was the carriage certainly at scan speed when the
 * drive latched the edge? scan_pace_hit_fits(): is the flag the next one that the switch should meet?
 * scan_pace_met_all(): were all flags met? */
bool scan_pace_edge_fits(const struct rail *r, int32_t position_um);
bool scan_pace_hit_fits(const struct rail *r, enum kr_switch_of of, struct kr_hit hit);
bool scan_pace_met_all(const struct rail *r);

#endif
