#ifndef KR_MOTION_CLAMP_H
#define KR_MOTION_CLAMP_H

#include "rail.h"

/* At rest nothing keeps the common clamp open. */
void clamp_again(const struct rail *r);

#endif
