#ifndef KR_MOTION_FIND_H
#define KR_MOTION_FIND_H

#include "rail.h"

void find_begin(const struct rail *r);
void find_step(const struct rail *r);

#endif
