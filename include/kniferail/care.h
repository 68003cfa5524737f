/* care: looks after a book: a copy of it, whether all of it is sound, and the end of history that nobody wants any
 * more. Belongs to book; the command line and the daemon stand on it.
 *
 * A copy and a check read along while a gateway writes, and hold it up in nothing. Pruning takes the book for
 * itself. */
#ifndef KNIFERAIL_CARE_H
#define KNIFERAIL_CARE_H

#include <stdatomic.h>

#include "kniferail/book.h"

#define KR_CARE_TEXT_MAX     512 /* of an error or finding: one line, with paths */
#define KR_CARE_FINDINGS_MAX 16
#define KR_CARE_TABLES       13 /* of the history */

struct kr_care_error {
    char text[KR_CARE_TEXT_MAX]; /* one line */
};

/* ---- a copy ----------------------------------------------------------------------------------------------------- */

/* Copies the book at path, as its last commit left it, to the file `to`: one file that needs no other beside it. It is
 * written under another name, checked like kr_book_check, synced, and only then given its name, so that a file of that
 * name is never half a book. replace: a file that is there is taken the place of; else it is left alone and the copy
 * refused. False: *error says why, and nothing is left of the copy. */
bool kr_book_backup(const char *path, const char *to, bool replace, int64_t *bytes,
                    struct kr_care_error *error);

/* ---- a check ---------------------------------------------------------------------------------------------------- */

struct kr_care_table {
    const char *name;
    int64_t rows;
    char oldest[KR_BOOK_TIME_MAX]; /* "": it has none, or no time of its own */
};

/* What the last run left of a station. */
struct kr_care_station {
    char name[KR_NAME_MAX];
    char changed_at[KR_BOOK_TIME_MAX]; /* its last commit */
    bool unsealed;                     /* changed by hand, and meant so */
    uint16_t in_motion[KR_RAILS_MAX];  /* number of the holder that was docked; 0: none */
    bool clamp_open[KR_RAILS_MAX], datum_doubted[KR_RAILS_MAX];
    bool staged, in_force;        /* whether there is such an order */
    uint32_t staged_order, order; /* their numbers */
    uint16_t n_queued;
};

struct kr_care_report {
    int64_t schema_version, bytes, wal_bytes; /* wal_bytes: what its -wal file holds; 0: there is none */
    bool in_use;                              /* a gateway has it open */
    uint16_t session;                         /* the last one; 0: there was none */
    char session_at[KR_BOOK_TIME_MAX];
    /* How that run ended, as far as it said itself; UNKNOWN: it runs, or it said nothing. */
    enum kr_run_end ended;
    char ended_at[KR_BOOK_TIME_MAX];
    struct kr_care_table table[KR_CARE_TABLES];
    uint16_t n_stations;
    struct kr_care_station station[KR_STATIONS_MAX];
    uint16_t n_findings; /* 0: the book is sound */
    char finding[KR_CARE_FINDINGS_MAX][KR_CARE_TEXT_MAX];
};

/* Reads the whole file: every page, every reference, every seal, and the schema. False: it can't be read as a book at
 * all, and *error says why. True: what is wrong is in *report. */
bool kr_book_check(const char *path, struct kr_care_report *report, struct kr_care_error *error);

/* What a start does not read: every page and every reference of the history. Ends early once *stop is set, with what
 * was found until then. False: *error says what is wrong. */
bool kr_book_check_pages(const char *path, atomic_bool *stop, struct kr_care_error *error);

/* ---- pruning ---------------------------------------------------------------------------------------------------- */

struct kr_care_limits {
    const char *
        before; /* the beginning of a UTC time as kr_history_time_is_good() has it: what is older goes; NULL: none */
    int64_t most_bytes; /* the oldest days go until the book holds no more than this; 0: no limit */
};

struct kr_care_pruned {
    int64_t rows[KR_CARE_TABLES]; /* that go, in the sequence of kr_care_table_name() */
    int64_t sessions;
    int64_t bytes_before, bytes_after; /* after: 0 unless it was done */
    char until[KR_BOOK_TIME_MAX];      /* what is from this time on stays */
    bool too_large;                    /* most_bytes can't be reached: what stays needs more */
    bool not_shrunk;                   /* the rows are gone, the file keeps its size: error says why */
};

/* Takes the history before the limits out of the book, in one transaction, and gives its room back to the disk. What a
 * station starts from stays: its state, and the newest verdict, maintenance request and changeover of each. go_ahead
 * false: all is counted, and nothing is changed. Refused while a gateway uses the book, and if kr_book_check finds
 * anything. */
bool kr_book_prune(const char *path, const struct kr_care_limits *limits, bool go_ahead,
                   struct kr_care_pruned *pruned, struct kr_care_error *error);

/* The same by the gateway that has the book open: a few of the oldest rows in one small transaction, so that a commit
 * behind it does not wait long. "Oldest" is by the sequence in which they were stored; times may jump with the clock.
 * Adds to *pruned what went; the file keeps its size, and what is free in it is used again. *more: there may be more
 * to do. False: nothing went, and *error says why. On the thread of the book. */
bool kr_book_prune_few(struct kr_book *book, const struct kr_care_limits *limits,
                       struct kr_care_pruned *pruned, bool *more, struct kr_care_error *error);

/* Of the history: 0 to KR_CARE_TABLES - 1. */
const char *kr_care_table_name(int table);

#endif
