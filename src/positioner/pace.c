#include "pace.h"

/* If a call is later than this, the origin is shifted. Either the caller has lost the time for good, or its next call
 * makes up for it. This can't be known yet, and no image may seem younger than it is. */
#define LATE_MAX_US  20000
#define SETTLE_CALLS 100 /* at least one in so many calls is punctual */

void pace_step(struct pace *pace, int64_t now_us, int64_t dt_us)
{
    pace->machine_us += dt_us;
    int64_t late_us = now_us - pace->origin_us - pace->machine_us;
    if (pace->calls < SETTLE_CALLS)
        pace->calls++;
    if (late_us > LATE_MAX_US) {
        pace->origin_us += late_us;
        pace->unsure_us += late_us;
        pace->calls = 0;
    } else if (late_us < 0) {
        pace->origin_us += late_us;
        pace->unsure_us = pace->unsure_us > -late_us ? pace->unsure_us + late_us : 0;
    }
    if (pace->calls == SETTLE_CALLS)
        pace->unsure_us = 0;
}

static int32_t saturated(int64_t value)
{
    return (int32_t)(value < INT32_MAX ? value : INT32_MAX);
}

/* The age is rounded up: it may be too great by the rounding, as it may be by a shifted origin. */
int32_t pace_age_ms(const struct pace *pace, int64_t asked_us, int32_t *span_us)
{
    int64_t age_us = pace->origin_us + pace->machine_us - asked_us;
    int32_t age_ms = saturated(age_us > 0 ? (age_us + 999) / 1000 : 0);
    int64_t rounded_us = 1000LL * age_ms - age_us;
    *span_us = saturated(*span_us + pace->unsure_us + (rounded_us > 0 ? rounded_us : 0));
    return age_ms;
}
