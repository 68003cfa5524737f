#ifndef KR_MOTION_SCAN_PACE_H
#define KR_MOTION_SCAN_PACE_H

#include "rail.h"

/* Sends the carriage on a pass that ends at end_um, the drive's own position. Decides whether the pass is predicted. */
void scan_pace_begin(const struct rail *r, int32_t end_um);

/* In each cycle of the pass, once its edges were taken. on_flag: a switch is on a flag. */
void scan_pace_step(const struct rail *r, int32_t end_um, bool on_flag);

/* For a predicted pass. scan_pace_edge_fits(): the drive latched an edge where the carriage was surely at scan speed.
 * scan_pace_hit_fits(): a flag is the next one that the switch was to meet. scan_pace_met_all(): all flags were met. */
bool scan_pace_edge_fits(const struct rail *r, int32_t position_um);
bool scan_pace_hit_fits(const struct rail *r, enum kr_switch_of of, struct kr_hit hit);
bool scan_pace_met_all(const struct rail *r);

#endif
