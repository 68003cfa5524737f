#ifndef KR_MOTION_TRACK_H
#define KR_MOTION_TRACK_H

#include "rail.h"

/* Takes the newest position, and trips the rail if it cannot be true. */
void track_step(const struct rail *r);
void track_forget(const struct rail *r);
/* The carriage has provably stood since the present phase began. */
bool carriage_still(const struct rail *r);

#endif
