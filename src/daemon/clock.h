/* The clocks of this machine, and the beat of the cycle. */
#ifndef DAEMON_CLOCK_H
#define DAEMON_CLOCK_H

#include <stdbool.h>
#include <stdint.h>
#include <uv.h>

#define CLOCK_TEXT_MAX 32

int64_t clock_utc_ms(void);                                 /* for people: may jump */
int64_t clock_us(void);                                     /* for measuring: never jumps */
void clock_text(int64_t utc_ms, char text[CLOCK_TEXT_MAX]); /* "2026-03-01T06:30:00.125Z" */

/* Beats at begin + n * period, exactly, however late each beat is taken: the kernel's timer counts, so that nothing
 * adds up. libuv's own timers count whole milliseconds from the start of the loop's turn. */
struct beat {
    int fd;
    uv_poll_t poll;
    int64_t period_us, due_us; /* due_us: of the next beat, by clock_us() */
    int64_t late_us;           /* how long after the first beat that was due the last call of on_beat began */
    void (*on_beat)(void *arg,
                    uint32_t beats); /* beats that were due since the last call: 1, or more after a delay */
    void *arg;
};
bool beat_start(struct beat *beat, uv_loop_t *loop, int64_t period_us,
                void (*on_beat)(void *arg, uint32_t beats), void *arg);
bool beat_is_due(const struct beat *beat);
void beat_stop(struct beat *beat);

#endif
