/* pace: how old an image is on the caller's time. The caller makes cycles and says with each how much time its cycle
 * stands for; the sum of those is the caller's time. A question was sent at a time of the clock. Pure: the clock is
 * handed in. */
#ifndef POSITIONER_PACE_H
#define POSITIONER_PACE_H

#include <stdint.h>

/* All times in microseconds. All 0 but for origin_us: the beginning. */
struct pace {
    int64_t machine_us; /* the caller's time: the sum of all dt_us ... */
    int64_t origin_us;  /* ... counts from here on the clock, as near as its most punctual call shows */
    int64_t unsure_us;  /* it may truly count from so much earlier: the caller's last calls were late */
    uint32_t calls;     /* since unsure_us last grew */
};

/* A call at now_us of the clock, for dt_us of the caller's time. */
void pace_step(struct pace *pace, int64_t now_us, int64_t dt_us);

/* The age of an image that was asked for at asked_us of the clock and answered within *span_us after it, in whole
 * milliseconds on the caller's time. *span_us grows by what the age can be too great by: the drive took the image at
 * some time between the age and the span after it. */
int32_t pace_age_ms(const struct pace *pace, int64_t asked_us, int32_t *span_us);

#endif
