/* The clocks of this computer, and the timer of the cycle. */
#ifndef DAEMON_CLOCK_H
#define DAEMON_CLOCK_H

#include <stdbool.h>
#include <stdint.h>
#include <uv.h>

#define CLOCK_TEXT_MAX 32

int64_t clock_utc_ms(void);                                 /* the time of day, for people; it may jump */
int64_t clock_us(void);                                     /* for measuring times; it never jumps */
void clock_text(int64_t utc_ms, char text[CLOCK_TEXT_MAX]); /* "2026-03-01T06:30:00.125Z" */

/* A timer that is due exactly at begin + n * period, however late each beat is handled. The kernel counts the periods,
 * so delays do not add up. libuv's own timers count whole milliseconds from the start of the loop's iteration. */
struct beat {
    int fd;
    uv_poll_t poll;
    int64_t period_us, due_us; /* due_us: when the next beat is due, by clock_us() */
    int64_t late_us;           /* how late on_beat was called last, counted from the first beat that was due */
    /* beats: how many were due since the last call; 1, or more after a delay */
    void (*on_beat)(void *arg, uint32_t beats);
    void *arg;
};
bool beat_start(struct beat *beat, uv_loop_t *loop, int64_t period_us, void (*on_beat)(void *arg, uint32_t beats),
                void *arg);
bool beat_is_due(const struct beat *beat);
void beat_stop(struct beat *beat);

#endif
