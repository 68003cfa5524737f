#ifndef KR_MOTION_TIMING_H
#define KR_MOTION_TIMING_H

#include "rail.h"

/* What a plan reckons with, timed as it is done: see struct kr_timing. */

void timing_step_begins(const struct rail *r); /* a docking, or what follows a drag */
void timing_step_fails(const struct rail *r);  /* it does not count */
void timing_docked(const struct rail *r);
void timing_undocked(
    const struct rail *r); /* and ready for the next move; called without an undocking it does nothing */

void timing_way_given(const struct rail *r);
void timing_way_taken(const struct rail *r);
void timing_way_gone(const struct rail *r);

#endif
