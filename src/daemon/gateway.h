/* The gateway: all parts of the daemon, the sequence in which they start and end, and the cycle that drives them. */
#ifndef DAEMON_GATEWAY_H
#define DAEMON_GATEWAY_H

#include <limits.h>
#include <stdatomic.h>

#include "args.h"
#include "clock.h"
#include "kniferail/care.h"
#include "overruns.h"
#include "station_host.h"

struct reload {
    uv_work_t work;
    bool busy, again; /* again: another reload was asked for during this one */
    bool ok;
    struct kr_config config;
    struct kr_config_errors errors;
};

/* The pool checks the pages of the history once after the start (kr_book_check_pages). */
struct page_check {
    uv_work_t work;
    atomic_bool stop;
    bool ok;
    char path[PATH_MAX];
    struct kr_care_error error;
};

struct gateway {
    uv_loop_t *loop;
    struct args args;
    struct kr_config config;
    struct kr_book *book;
    uint16_t session; /* 0: the book has no session of this run yet */
    struct kr_book_run last_run;
    int64_t began_utc_ms;
    struct kr_face *face;
    bool face_open; /* true until the face is closed completely */
    struct committer committer;
    uint16_t book_station[KR_STATIONS_MAX]; /* for each station of the station file: its number in the book */
    struct planner planner;
    struct traces traces;
    struct station_host *host[KR_STATIONS_MAX];
    struct beat beat;
    bool beating;
    uint32_t cycles;
    struct overruns overruns;
    uv_signal_t term, interrupt, hang_up;
    struct reload reload;
    struct page_check page_check;
    enum kr_unit_state state_told[KR_STATIONS_MAX]; /* the states that the service manager was told last */
    int64_t status_us;                              /* no status is told before this time, by clock_us() */
    bool status_told;
    bool shut_down;
    /* When the end was asked for; since when nothing moves, 0: something moves. */
    int64_t shut_down_us, still_us;
    bool came_to_rest;
};

/* Starts everything; the loop's callbacks run it from then on. config is complete and has the overrides of args; both
 * are copied. False: *error says why; call gateway_close() nonetheless. */
bool gateway_open(struct gateway *gateway, uv_loop_t *loop, const struct args *args, const struct kr_config *config,
                  char *error, size_t error_size);

/* Frees everything that the loop's callbacks have not freed. Call it only when the loop has ended, or was never run. */
void gateway_close(struct gateway *gateway);

/* Called on SIGHUP: reads the station file again, in the thread pool, and takes over the settings that may change. */
void gateway_reload(struct gateway *gateway);

#endif
