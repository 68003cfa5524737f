#ifndef KR_MOTION_WIND_DOWN_H
#define KR_MOTION_WIND_DOWN_H

#include "rail.h"

void wind_down_step(const struct rail *r);

/* If the drive runs though nobody here has switched it on: stops it, and returns true. */
bool wind_down_found_running(const struct rail *r);

#endif
