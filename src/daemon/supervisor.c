#include "supervisor.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>
#include <uv.h>

#include "clock.h"
#include "log.h"

/* The parts of a message, which may be noted at any time, in the sequence of their lines. */
enum { NEWS_RELOADING = 1, NEWS_READY = 2, NEWS_STATUS = 4, NEWS_WATCHDOG = 8, NEWS_STOPPING = 16 };

static struct {
    uv_mutex_t lock;
    uv_cond_t news; /* there is something to tell, or the thread has to end */
    uv_cond_t told; /* the thread has ended */
    uv_thread_t teller;
    bool open; /* there is a service manager; written only while the thread does not run */
    bool ended, ending, refused;
    unsigned noted; /* NEWS_... */
    int64_t reloading_us;
    /* feed_every_us: 0 if there is no watchdog; feed_us: when to feed it next. */
    int64_t feed_every_us, feed_us;
    char status[SUPERVISOR_STATUS_MAX];
} to;

/* ---- the thread ------------------------------------------------------------------------------------------- */

/* RELOADING and READY are never in one message, because the service manager would not see that a reload has begun. */
static unsigned first_of(unsigned noted)
{
    return (noted & NEWS_RELOADING) != 0 ? NEWS_RELOADING : noted;
}

static void write_message(unsigned news, char *text, size_t size)
{
    char since[64] = "";
    if ((news & NEWS_RELOADING) != 0)
        snprintf(since, sizeof since, "RELOADING=1\nMONOTONIC_USEC=%" PRId64 "\n", to.reloading_us);
    snprintf(text, size, "%s%s%s%s%s%s%s", since, (news & NEWS_READY) != 0 ? "READY=1\n" : "",
             (news & NEWS_STOPPING) != 0 ? "STOPPING=1\n" : "", (news & NEWS_WATCHDOG) != 0 ? "WATCHDOG=1\n" : "",
             (news & NEWS_STATUS) != 0 ? "STATUS=" : "", (news & NEWS_STATUS) != 0 ? to.status : "",
             (news & NEWS_STATUS) != 0 ? "\n" : "");
}

/* Waits for something to tell. False: the thread has to end, and nothing is left to tell. */
static bool take_message(char *text, size_t size)
{
    uv_mutex_lock(&to.lock);
    while (to.noted == 0 && !to.ending)
        uv_cond_wait(&to.news, &to.lock);
    unsigned news = first_of(to.noted);
    to.noted &= ~news;
    write_message(news, text, size);
    uv_mutex_unlock(&to.lock);
    return news != 0;
}

/* If the service manager does not listen, the log says so once. Whether it then ends the gateway is its decision. */
static void send_message(const char *text)
{
    int rc = sd_notify(0, text);
    if (rc < 0 && !to.refused)
        log_line(LOG_WARNING, "the service manager can't be reached (NOTIFY_SOCKET): %s", strerror(-rc));
    to.refused = rc < 0;
}

static void teller_main(void *arg)
{
    static char text[SUPERVISOR_STATUS_MAX + 160];
    (void)arg;
    while (take_message(text, sizeof text))
        send_message(text);
    uv_mutex_lock(&to.lock);
    to.ended = true;
    uv_cond_signal(&to.told);
    uv_mutex_unlock(&to.lock);
}

/* ---- the loop's thread ------------------------------------------------------------------------------------ */

static void note(unsigned news)
{
    if (!to.open)
        return;
    uv_mutex_lock(&to.lock);
    if (news == NEWS_RELOADING) { /* a READY from before the reload is not told any more */
        to.reloading_us = clock_us();
        to.noted &= ~(unsigned)NEWS_READY;
    }
    to.noted |= news;
    uv_cond_signal(&to.news);
    uv_mutex_unlock(&to.lock);
}

void supervisor_ready(void)
{
    note(NEWS_READY);
}

void supervisor_status(const char *status)
{
    if (!to.open)
        return;
    uv_mutex_lock(&to.lock);
    snprintf(to.status, sizeof to.status, "%s", status);
    uv_mutex_unlock(&to.lock);
    note(NEWS_STATUS);
}

void supervisor_cycle(int64_t now_us)
{
    if (to.feed_every_us == 0 || now_us < to.feed_us)
        return;
    to.feed_us = now_us + to.feed_every_us;
    note(NEWS_WATCHDOG);
}

void supervisor_reloading(void)
{
    note(NEWS_RELOADING);
}

void supervisor_reloaded(void)
{
    note(NEWS_READY);
}

void supervisor_stopping(void)
{
    to.feed_every_us = 0;
    note(NEWS_STOPPING);
}

/* ---- life ------------------------------------------------------------------------------------------------- */

/* The watchdog is fed four times as often as the service manager demands, because a late message should not end the
 * gateway. */
static void look_for_watchdog(void)
{
    uint64_t limit_us = 0;
    if (sd_watchdog_enabled(0, &limit_us) > 0 && limit_us / 4 < INT64_MAX)
        to.feed_every_us = (int64_t)(limit_us / 4);
}

bool supervisor_open(void)
{
    if (getenv("NOTIFY_SOCKET") == NULL)
        return true;
    look_for_watchdog();
    if (uv_mutex_init(&to.lock) != 0 || uv_cond_init(&to.news) != 0 || uv_cond_init(&to.told) != 0)
        return false;
    to.open = uv_thread_create(&to.teller, teller_main, NULL) == 0;
    return to.open;
}

/* The thread may be blocked by a socket that nobody reads; then the process ends without waiting for it. */
void supervisor_close(void)
{
    const uint64_t second_ns = 1000000000;
    if (!to.open)
        return;
    uv_mutex_lock(&to.lock);
    to.ending = true;
    uv_cond_signal(&to.news);
    while (!to.ended && uv_cond_timedwait(&to.told, &to.lock, second_ns) == 0)
        ; /* it may wake for nothing; a time-out shows in to.ended */
    bool done = to.ended;
    uv_mutex_unlock(&to.lock);
    to.open = false;
    if (done)
        uv_thread_join(&to.teller);
}
