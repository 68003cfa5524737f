/* What must survive goes to the book, in the thread pool, one commit at a time for the whole daemon. A commit that
 * fails is tried again, a little later each time; meanwhile the station knows that its facts are not stored. While
 * there is nothing to store, the pool looks once a second whether the book's file is still there and has room, and
 * takes out of the history what the station file's limits end. */
#ifndef DAEMON_COMMITTER_H
#define DAEMON_COMMITTER_H

#include <uv.h>

#include "audit.h"
#include "kniferail/book.h"
#include "pruner.h"

/* One station's part. */
struct station_commits {
    char name[KR_NAME_MAX]; /* its own: the pool reads it while a reload may write the config */
    const struct kr_station *station;
    uint16_t session;
    uint16_t book_station;
    uint32_t committed_serial;
    bool failed;       /* the last attempt failed */
    bool failure_seen; /* by the station, in a step since then */
    int64_t retry_us;  /* not before, by clock_us() */
    int32_t backoff_ms;
    uint32_t left_out;                   /* alarms and changeovers that found no room while the book failed */
    struct kr_book_entry news;           /* alarms and changeovers since the last attempt */
    struct kr_book_entry entry;          /* the pool's while a commit is under way */
    uint16_t n_told;                     /* changeovers of entry whose records are in the log */
    bool knife_waits;                    /* a knife is to be looked up */
    char knife_name[KR_KNIFE_NAME_MAX];  /* the pool's while it is looked up */
    struct kr_knife_answer knife, found; /* the last one that was looked up; found is the pool's meanwhile */
    uint32_t knife_ticket;               /* of the last one that was asked for */
    void (*on_commit)(void *arg);        /* a commit has ended, well or not */
    void *arg;
};

struct committer {
    uv_loop_t *loop;
    struct kr_book *book;
    uv_work_t work;
    struct station_commits *busy_with; /* NULL: no commit is under way */
    bool ok;                           /* the commit under way; written by the pool */
    enum kr_book_look seen, looked;    /* of the book's file; looked is the pool's while it looks */
    bool looking;
    struct pruner pruner; /* the pool's while it prunes, but for its limits and times */
    bool pruning;
    struct audit audit;
    bool auditing;
    int64_t look_us;           /* when next, by clock_us() */
    uint16_t n_stations, next; /* next: whose turn it is to be looked at first */
    struct station_commits *station[KR_STATIONS_MAX];
};

/* last_sign_utc_ms: see pruner_open. */
void committer_open(struct committer *committer, uv_loop_t *loop, struct kr_book *book,
                    int64_t last_sign_utc_ms);
void committer_add(struct committer *committer, struct station_commits *station);

/* Stores what the station file seeds, before anybody can connect. A person's first change is then a commit of its own,
 * whose history tells what the file had said. If the book can't store it, committer_step tries again. */
void committer_store_first(struct committer *committer, struct station_commits *station);

/* Stores what is left of the audit, while the loop does not run any more. */
void committer_close(struct committer *committer);

/* Kept with the next commit. */
void committer_alarm(struct station_commits *station, const struct kr_alarm *alarm, bool raised);
void committer_changeover(struct station_commits *station, const struct kr_book_changeover *changeover);

/* A knife that the station asks the ledger for: its answer is in station->knife once it has this ticket. 0: none. */
void committer_knife(struct station_commits *station, uint32_t ticket, const char *name);

/* Called every cycle: looks a knife up, begins a commit, or a look at the file, if it is time for one and none is
 * under way. */
void committer_step(struct committer *committer);

/* Whether the station's newest facts are on their way to the book and it is worth waiting for them. */
bool committer_pending(const struct committer *committer, const struct station_commits *station);

#endif
