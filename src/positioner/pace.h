/* pace: computes how old an image is on the caller's time. The caller says with each cycle how much time the cycle
 * stands for; the sum of these times is the caller's time. The time of a request is read from the clock. Pure: the
 * clock is handed in. */
#ifndef POSITIONER_PACE_H
#define POSITIONER_PACE_H

#include <stdint.h>

/* All times are in microseconds. In the beginning all fields are 0, except for origin_us. */
struct pace {
    int64_t machine_us; /* the caller's time: the sum of all dt_us */
    /* The clock's time at which the caller's time was 0, as the most punctual call shows it. */
    int64_t origin_us;
    int64_t unsure_us; /* the true origin may be this much earlier, because the caller's last calls were late */
    uint32_t calls;    /* calls since unsure_us last grew */
};

/* Notes a call at now_us of the clock, which stands for dt_us of the caller's time. */
void pace_step(struct pace *pace, int64_t now_us, int64_t dt_us);

/* Returns the age of an image in whole milliseconds on the caller's time. The image was requested at asked_us of the
 * clock, and the answer came within *span_us after that. *span_us grows by the amount by which the age may be too
 * great: the drive took the image between (now - age) and (now - age + span). */
int32_t pace_age_ms(const struct pace *pace, int64_t asked_us, int32_t *span_us);

#endif
