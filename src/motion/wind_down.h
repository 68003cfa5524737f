#ifndef KR_MOTION_WIND_DOWN_H
#define KR_MOTION_WIND_DOWN_H

#include "rail.h"

/* Without a link or with a dead encoder, standstill can't be proven, and the drive's own watchdog must stop it. The
 * station does not wait longer than this. It is longer than any stop from full speed: v/a at the smallest plausible
 * deceleration. */
#define WIND_DOWN_STANDSTILL_LIMIT_MS 5000

void wind_down_step(const struct rail *r);

/* Stops a drive that runs although this program has not switched it on, and returns true in that case. */
bool wind_down_found_running(const struct rail *r);

#endif
