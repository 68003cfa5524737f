/* The limits of the history that the station file sets: what is older, or too much, is taken out of the book in small
 * transactions in the thread pool, between the commits of the stations, so that none of them waits long. It looks
 * soon after the start or a changed limit, then once an hour, and says in the log what went. */
#ifndef DAEMON_PRUNER_H
#define DAEMON_PRUNER_H

#include "audit.h"
#include "kniferail/care.h"
#include "kniferail/config.h"

struct pruner {
    int64_t keep_days, most_bytes;  /* 0: no limit */
    int64_t next_us;                /* when it looks next, by clock_us() */
    int64_t known_utc_ms, known_us; /* a time that has surely come, and clock_us() then */
    char before[KR_BOOK_TIME_MAX];
    struct kr_care_limits limits; /* of the transaction under way: the pool reads them */
    struct kr_care_pruned gone;   /* since the pass began */
    bool more, ok;                /* of the last transaction */
    bool too_large_told, ended;
    struct kr_care_error error;
};

/* last_sign_utc_ms: of the run before, 0: there was none. Age is counted on the clock, but not beyond that time and
 * what this run has lasted: a clock that stands in the future must not end the history. */
void pruner_open(struct pruner *pruner, int64_t last_sign_utc_ms);

/* The limits of the station file, from now on; a book in memory has no history that anybody reads. */
void pruner_set(struct pruner *pruner, const struct kr_config *config);

/* Never again: the gateway ends. */
void pruner_end(struct pruner *pruner);

bool pruner_is_due(const struct pruner *pruner);
void pruner_begin(struct pruner *pruner);                      /* on the loop's thread */
void pruner_run(struct pruner *pruner, struct kr_book *book);  /* in the pool */
void pruner_ended(struct pruner *pruner, struct audit *audit); /* on the loop's thread */

#endif
