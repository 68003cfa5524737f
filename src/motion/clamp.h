#ifndef KR_MOTION_CLAMP_H
#define KR_MOTION_CLAMP_H

#include "rail.h"

/* Closes the common clamp at rest, where nothing needs it open. */
void clamp_again(const struct rail *r);

#endif
