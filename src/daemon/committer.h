/* The committer writes the data that must survive to the book. The thread pool makes one commit at a time for the whole
 * daemon. A commit that fails is tried again, after a pause that grows; meanwhile the station knows that its facts are
 * not stored. While there is nothing to store, the pool checks once a second that the book's file still exists and has
 * room, and deletes the part of the history that is beyond the limits of the station file. */
#ifndef DAEMON_COMMITTER_H
#define DAEMON_COMMITTER_H

#include <uv.h>

#include "audit.h"
#include "kniferail/book.h"
#include "pruner.h"

/* The committer's data of one station. */
struct station_commits {
    char name[KR_NAME_MAX]; /* a copy, because the pool reads it while a reload may change the config */
    const struct kr_station *station;
    uint16_t session;
    uint16_t book_station;
    uint32_t committed_serial;
    bool failed;       /* the last attempt failed */
    bool failure_seen; /* the station has made a step since then, and knows it */
    int64_t retry_us;  /* no attempt before this time, by clock_us() */
    int32_t backoff_ms;
    uint32_t left_out;          /* alarms and changeovers that were lost, for lack of room, while the book failed */
    struct kr_book_entry news;  /* alarms and changeovers since the last attempt */
    struct kr_book_entry entry; /* belongs to the pool while a commit is under way */
    uint16_t n_told;            /* changeovers of `entry` whose records are in the log */
    bool knife_waits;           /* a knife has to be looked up */
    char knife_name[KR_KNIFE_NAME_MAX];  /* belongs to the pool during the look-up */
    struct kr_knife_answer knife, found; /* the result of the last look-up; `found` belongs to the pool during it */
    uint32_t knife_ticket;               /* of the last knife that was asked for */
    void (*on_commit)(void *arg);        /* called when a commit has ended, successfully or not */
    void *arg;
};

struct committer {
    uv_loop_t *loop;
    struct kr_book *book;
    uv_work_t work;
    struct station_commits *busy_with; /* NULL: no commit is under way */
    bool ok;                           /* the commit succeeded; written by the pool */
    /* The state of the book's file; `looked` belongs to the pool during a check. */
    enum kr_book_look seen, looked;
    bool looking;
    struct pruner pruner; /* belongs to the pool while it prunes, except for its limits and times */
    bool pruning;
    struct audit audit;
    bool auditing;
    int64_t look_us;           /* when to check the file next, by clock_us() */
    uint16_t n_stations, next; /* next: the station whose turn it is first */
    struct station_commits *station[KR_STATIONS_MAX];
};

/* pruner_open() explains last_sign_utc_ms. */
void committer_open(struct committer *committer, uv_loop_t *loop, struct kr_book *book, int64_t last_sign_utc_ms);
void committer_add(struct committer *committer, struct station_commits *station);

/* Stores what the station file seeds, before anybody can connect. A person's first change is then a commit of its own,
 * whose history tells what the file had said. If the book can't store it, committer_step tries again. */
void committer_store_first(struct committer *committer, struct station_commits *station);

/* Stores the rest of the audit. Call it when the loop has ended. */
void committer_close(struct committer *committer);

/* Add an alarm or a changeover to the next commit. */
void committer_alarm(struct station_commits *station, const struct kr_alarm *alarm, bool raised);
void committer_changeover(struct station_commits *station, const struct kr_book_changeover *changeover);

/* Asks the ledger for a knife. The answer is in station->knife as soon as that has this ticket. Ticket 0 asks for
 * nothing. */
void committer_knife(struct station_commits *station, uint32_t ticket, const char *name);

/* Called every cycle. If the pool is free, begins to look a knife up, a commit, or a check of the file, whichever is
 * due. */
void committer_step(struct committer *committer);

/* Tells whether the station's newest facts are being stored, and it is worth waiting for them. */
bool committer_pending(const struct committer *committer, const struct station_commits *station);

#endif
