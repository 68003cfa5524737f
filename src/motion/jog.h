#ifndef KR_MOTION_JOG_H
#define KR_MOTION_JOG_H

#include "rail.h"

void jog_step(const struct rail *r);

#endif
