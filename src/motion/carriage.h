#ifndef KR_MOTION_CARRIAGE_H
#define KR_MOTION_CARRIAGE_H

#include "rail.h"

void carriage_step(const struct rail *r);

#endif
