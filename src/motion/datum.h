#ifndef KR_MOTION_DATUM_H
#define KR_MOTION_DATUM_H

#include "rail.h"

/* Tells whether the rail's present task needs the datum. Homing does not, nor does a jog without a datum. */
bool datum_is_needed(const struct rail *r);

/* Tells whether the drive may come on for the rail's task. If not, an alarm names the cause. */
bool datum_permits(const struct rail *r);

/* Call datum_step() in every cycle with a link, and datum_forget() in every cycle without one. */
void datum_step(const struct rail *r);
void datum_forget(const struct rail *r);

void datum_leaves_rest(const struct rail *r); /* call it when the drive comes on */
void datum_given_up(const struct rail *r);    /* call it when homing begins */
/* Call it when homing is done. Homing that moved nothing trips the rail. */
void datum_found(const struct rail *r);

#endif
