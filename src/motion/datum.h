#ifndef KR_MOTION_DATUM_H
#define KR_MOTION_DATUM_H

#include "rail.h"

/* Whether what the rail does just now stands on its datum: not homing, nor a jog without one. */
bool datum_is_needed(const struct rail *r);

/* Whether the drive may come on for the rail's task. If not, the cause is told. */
bool datum_permits(const struct rail *r);

/* In every cycle with a link; in every cycle without. */
void datum_step(const struct rail *r);
void datum_forget(const struct rail *r);

void datum_leaves_rest(const struct rail *r); /* the drive comes on */
void datum_given_up(const struct rail *r);    /* homing begins */
void datum_found(const struct rail *r);       /* homing is done: if it went nowhere, that trips the rail */

#endif
