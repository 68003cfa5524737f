#include "clock.h"

#include <stdio.h>
#include <string.h>
#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>

int64_t clock_utc_ms(void)
{
    struct timespec now;
    /* It can't fail, because this clock exists and the address is valid. */
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

int64_t clock_us(void)
{
    return (int64_t)(uv_hrtime() / 1000); /* CLOCK_MONOTONIC, as the timer below */
}

void clock_text(int64_t utc_ms, char text[CLOCK_TEXT_MAX])
{
    time_t seconds = (time_t)(utc_ms / 1000);
    struct tm tm;
    char date[24] = "";
    if (gmtime_r(&seconds, &tm) != NULL)
        strftime(date, sizeof date, "%Y-%m-%dT%H:%M:%S", &tm);
    snprintf(text, CLOCK_TEXT_MAX, "%s.%03dZ", date, (int)(utc_ms % 1000));
}

static struct timespec timespec_of(int64_t us)
{
    return (struct timespec){.tv_sec = (time_t)(us / 1000000), .tv_nsec = (long)(us % 1000000 * 1000)};
}

static void on_readable(uv_poll_t *poll, int status, int events)
{
    struct beat *beat = poll->data;
    uint64_t beats;
    (void)events;
    if (status < 0 || read(beat->fd, &beats, sizeof beats) != (ssize_t)sizeof beats)
        return; /* no beat is due; the descriptor doesn't block */
    beat->late_us = clock_us() - beat->due_us;
    beat->due_us += (int64_t)beats * beat->period_us;
    beat->on_beat(beat->arg, beats < UINT32_MAX ? (uint32_t)beats : UINT32_MAX);
}

bool beat_start(struct beat *beat, uv_loop_t *loop, int64_t period_us, void (*on_beat)(void *arg, uint32_t beats),
                void *arg)
{
    *beat = (struct beat){.period_us = period_us, .on_beat = on_beat, .arg = arg};
    beat->fd = timerfd_create(CLOCK_MONOTONIC, TFD_NONBLOCK | TFD_CLOEXEC);
    if (beat->fd < 0)
        return false;
    beat->due_us = clock_us() + period_us;
    struct itimerspec when = {.it_value = timespec_of(beat->due_us), .it_interval = timespec_of(period_us)};
    if (timerfd_settime(beat->fd, TFD_TIMER_ABSTIME, &when, NULL) != 0 ||
        uv_poll_init(loop, &beat->poll, beat->fd) != 0) {
        close(beat->fd);
        return false;
    }
    beat->poll.data = beat;
    return uv_poll_start(&beat->poll, UV_READABLE, on_readable) == 0;
}

bool beat_is_due(const struct beat *beat)
{
    return clock_us() >= beat->due_us;
}

static void on_closed(uv_handle_t *handle)
{
    struct beat *beat = handle->data;
    close(beat->fd);
}

void beat_stop(struct beat *beat)
{
    uv_close((uv_handle_t *)&beat->poll, on_closed);
}
