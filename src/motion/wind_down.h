#ifndef KR_MOTION_WIND_DOWN_H
#define KR_MOTION_WIND_DOWN_H

#include "rail.h"

/* Without a link or with a dead encoder standstill can't be proven; the drive's own watchdog must stop it. After this
 * long the station no longer waits. Longer than any stop from full speed: v/a at the least sensible figures. */
#define WIND_DOWN_STANDSTILL_LIMIT_MS 5000

void wind_down_step(const struct rail *r);

/* If the drive runs though nobody here has switched it on: stops it, and returns true. */
bool wind_down_found_running(const struct rail *r);

#endif
