#ifndef KR_MOTION_TRACK_H
#define KR_MOTION_TRACK_H

#include "rail.h"

/* Takes the newest position; trips if it cannot be true. */
void track_step(const struct rail *r);
void track_forget(const struct rail *r);
bool carriage_still(const struct rail *r); /* with proof, since the present phase began */

#endif
