#ifndef KR_MOTION_TIMING_H
#define KR_MOTION_TIMING_H

#include "rail.h"

/* Measures the times with which a plan calculates: see struct kr_timing. */

void timing_step_begins(const struct rail *r); /* begins a docking, or the steps after a drag */
void timing_step_fails(const struct rail *r);  /* the step does not count */
void timing_docked(const struct rail *r);
/* The carriage is undocked and ready for the next move. Without an undocking the call does nothing. */
void timing_undocked(const struct rail *r);

void timing_way_given(const struct rail *r);
void timing_way_taken(const struct rail *r);
void timing_way_gone(const struct rail *r);

#endif
