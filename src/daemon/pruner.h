/* The pruner enforces the limits that the station file sets for the history. It deletes older or surplus entries from
 * the book, in small transactions in the thread pool, between the commits of the stations, so that no station waits
 * long. It runs soon after the start or a change of a limit, then once an hour, and logs what it has deleted. */
#ifndef DAEMON_PRUNER_H
#define DAEMON_PRUNER_H

#include "audit.h"
#include "kniferail/care.h"
#include "kniferail/config.h"

struct pruner {
    int64_t keep_days, most_bytes; /* 0: no limit */
    int64_t next_us;               /* when it runs next, by clock_us() */
    /* A time of day that has certainly been reached, and clock_us() at that time. */
    int64_t known_utc_ms, known_us;
    char before[KR_BOOK_TIME_MAX];
    struct kr_care_limits limits; /* of the transaction under way; the pool reads them */
    struct kr_care_pruned gone;   /* what was deleted since this pass began */
    bool more, ok;                /* of the last transaction: there is more to delete; it succeeded */
    bool too_large_told, ended;
    struct kr_care_error error;
};

/* last_sign_utc_ms: the last time at which the run before is known to have worked; 0: there was no such run. Ages are
 * counted by the clock, but never beyond last_sign_utc_ms plus the duration of this run. So a clock that is set to a
 * wrong date in the future does not delete the history. */
void pruner_open(struct pruner *pruner, int64_t last_sign_utc_ms);

/* Sets the limits of the station file. A book in memory has none, because nobody reads its history. */
void pruner_set(struct pruner *pruner, const struct kr_config *config);

/* Call it when the gateway ends: the pruner does not run any more. */
void pruner_end(struct pruner *pruner);

bool pruner_is_due(const struct pruner *pruner);
void pruner_begin(struct pruner *pruner);                      /* on the loop's thread */
void pruner_run(struct pruner *pruner, struct kr_book *book);  /* in the pool */
void pruner_ended(struct pruner *pruner, struct audit *audit); /* on the loop's thread */

#endif
