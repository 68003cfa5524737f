/* care: looks after a book. It copies a book, checks it, and deletes history that nobody needs any more. Belongs to
 * book; the command line and the daemon stand on it.
 *
 * A copy and a check only read. A gateway can write meanwhile, and does not wait for them. Pruning needs the book for
 * itself. */
#ifndef KNIFERAIL_CARE_H
#define KNIFERAIL_CARE_H

#include <stdatomic.h>

#include "kniferail/book.h"

#define KR_CARE_TEXT_MAX     512 /* text of an error or a finding: one line, with paths */
#define KR_CARE_FINDINGS_MAX 16
#define KR_CARE_TABLES       14 /* tables of the history */

struct kr_care_error {
    char text[KR_CARE_TEXT_MAX]; /* one line */
};

/* ---- a copy ----------------------------------------------------------------------------------------------------- */

/* Copies the book at path, as its last commit left it, to the file `to`, which needs no other file beside it. The copy
 * is written under another name, checked like kr_book_check(), synced, and only then renamed, so that a file of that
 * name is always a whole book. With replace, the copy replaces a file that is already there; without it, such a file is
 * left alone and the copy is refused. False: *error says why, and nothing is left of the copy. */
bool kr_book_backup(const char *path, const char *to, bool replace, int64_t *bytes, struct kr_care_error *error);

/* ---- a check ---------------------------------------------------------------------------------------------------- */

struct kr_care_table {
    const char *name;
    int64_t rows;
    char oldest[KR_BOOK_TIME_MAX]; /* "": the table has no row, or its rows have no time */
};

/* The state in which the last run left a station. */
struct kr_care_station {
    char name[KR_NAME_MAX];
    char changed_at[KR_BOOK_TIME_MAX]; /* time of its last commit */
    bool unsealed;                     /* somebody changed it by hand on purpose, so that it has no seal */
    uint16_t in_motion[KR_RAILS_MAX];  /* number of the holder that was docked; 0: none */
    bool clamp_open[KR_RAILS_MAX], datum_doubted[KR_RAILS_MAX];
    bool staged, in_force;        /* whether there is a staged order, and one in force */
    uint32_t staged_order, order; /* numbers of these orders */
    uint16_t n_queued;
};

struct kr_care_report {
    /* wal_bytes: size of the content of its -wal file; 0: there is none. */
    int64_t schema_version, bytes, wal_bytes;
    bool in_use;      /* a gateway has the book open */
    uint16_t session; /* the last session; 0: there was none */
    char session_at[KR_BOOK_TIME_MAX];
    /* How the last run ended, as far as it has stored that. UNKNOWN: it still runs, or it has stored nothing. */
    enum kr_run_end ended;
    char ended_at[KR_BOOK_TIME_MAX];
    struct kr_care_table table[KR_CARE_TABLES];
    uint16_t n_stations;
    struct kr_care_station station[KR_STATIONS_MAX];
    uint16_t n_findings; /* 0: the book is sound */
    char finding[KR_CARE_FINDINGS_MAX][KR_CARE_TEXT_MAX];
};

/* Reads the whole file: every page, every reference, every seal, and the schema. True: *report tells what is wrong.
 * False: the file can't be read as a book at all, and *error says why. */
bool kr_book_check(const char *path, struct kr_care_report *report, struct kr_care_error *error);

/* Checks what a start does not read: every page and every reference of the history. It ends early once *stop is set,
 * and then tells what it has found so far. False: *error says what is wrong. */
bool kr_book_check_pages(const char *path, atomic_bool *stop, struct kr_care_error *error);

/* ---- pruning ---------------------------------------------------------------------------------------------------- */

struct kr_care_limits {
    /* Rows older than this UTC time go. It is the beginning of a time, as kr_history_time_is_good() has it. NULL: no
     * limit. */
    const char *before;
    int64_t most_bytes; /* The oldest days go until the book holds no more than this; 0: no limit. */
};

struct kr_care_pruned {
    int64_t rows[KR_CARE_TABLES]; /* rows that go, in the sequence of kr_care_table_name() */
    int64_t sessions;
    int64_t bytes_before, bytes_after; /* bytes_after is 0 unless the rows were deleted */
    char until[KR_BOOK_TIME_MAX];      /* rows from this time on stay */
    bool too_large;                    /* most_bytes can't be reached, because the remaining rows need more */
    bool not_shrunk;                   /* the rows are gone, but the file keeps its size; *error says why */
};

/* Deletes the history beyond the limits in one transaction, and gives its room back to the disk. Everything that a
 * station starts from stays: its state, and its newest verdict, maintenance request and changeover. go_ahead false: the
 * rows are only counted, and nothing is changed. The call is refused while a gateway uses the book, and if
 * kr_book_check() finds anything. */
bool kr_book_prune(const char *path, const struct kr_care_limits *limits, bool go_ahead, struct kr_care_pruned *pruned,
                   struct kr_care_error *error);

/* Prunes the book that the gateway itself has open. It deletes a few of the oldest rows in one small transaction, so
 * that a commit that waits behind it does not wait long. The oldest rows are those that were stored first, because
 * times may jump with the clock. The deleted rows are added to *pruned. The file keeps its size, and its free room is
 * used again. *more: there may be more to delete. False: nothing was deleted, and *error says why. Call it on the
 * thread of the book. */
bool kr_book_prune_few(struct kr_book *book, const struct kr_care_limits *limits, struct kr_care_pruned *pruned,
                       bool *more, struct kr_care_error *error);

/* Returns the name of a table of the history: 0 to KR_CARE_TABLES - 1. */
const char *kr_care_table_name(int table);

#endif
