/* history: reads the past from the book, while the gateway writes it or long afterwards. It opens the file for reading
 * only, and takes no lock that could disturb a gateway. Belongs to book; the command line stands on it. */
#ifndef KNIFERAIL_HISTORY_H
#define KNIFERAIL_HISTORY_H

#include "kniferail/book.h"

enum kr_history_table {
    KR_HISTORY_CHANGEOVERS, /* one row for each job that placed or verified holders */
    /* One row for each job and each holder that it moved: what the job did to that holder. */
    KR_HISTORY_MOVED,
    KR_HISTORY_EDITS, /* one row for each maintenance request, accepted or not */
    /* One row for each event of the audit that concerns the station or the gateway as a whole. */
    KR_HISTORY_AUDIT,
    KR_HISTORY_ALARMS,  /* one row when an alarm is raised, and one when it is gone */
    KR_HISTORY_HOLDERS, /* one row for each holder, as it is now; the period is not used */
    /* One row for each point of a rail's frame, as it counts now; the period is not used. */
    KR_HISTORY_FRAMES,
    KR_HISTORY_SIZES, /* one row for each size of holders: number and name; the period is not used */
    /* One row for each changeover: its times, and on what they were spent. It is always about all rails. */
    KR_HISTORY_SPENT,
    /* One row for each rail and changeover: the times that a plan calculates with, counted and summed. */
    KR_HISTORY_TIMING,
    /* One row for each rail and each changeover that saw the rail's references: how far they were off since they were
     * taught. */
    KR_HISTORY_REFERENCES,
    /* Alarms without sentences: at_ms (since 1970), raised (0 or 1), code, rail, item. */
    KR_HISTORY_ALARM_TIMES,
    KR_HISTORY_KNIVES,       /* one row for each knife of the ledger, as it is now; the period is not used */
    KR_HISTORY_KNIFE_EVENTS, /* one row for each event in the life of a knife */
    /* The knives and their events as a list that can be read in again (knife_list.h). */
    KR_HISTORY_KNIFE_LIST,
    /* One row for each order that was run until the next changeover, and each holder that cut in it: the changeover's
     * id, metres, rail, holder. It is always about all rails. */
    KR_HISTORY_ORDER_METRES,
    /* One row for each time that a knife was on a holder: on which one, since when, until when. */
    KR_HISTORY_STAYS,
    KR_HISTORY_TEST_CUTS, /* one row for each strip of each test cut */
    /* One row for each holder and each changeover that placed it: its distance from its target at the end. */
    KR_HISTORY_ERRORS,
};

enum kr_cell_kind { KR_CELL_NONE, KR_CELL_NUMBER, KR_CELL_REAL, KR_CELL_TEXT };
struct kr_cell {
    enum kr_cell_kind kind;
    int64_t number;
    double real;
    const char *text;
};

#define KR_HISTORY_COLUMNS_MAX 20

/* A row is valid during the call that gets it. */
struct kr_history_row {
    bool is_heading; /* the first call of each reading, which has names only */
    int n;
    const char *name[KR_HISTORY_COLUMNS_MAX]; /* name of a column, with its unit: "planned_ms" */
    struct kr_cell cell[KR_HISTORY_COLUMNS_MAX];
};

/* The rows that are wanted. 0 or NULL in a field stands for all rows. */
struct kr_history_part {
    /* The first and last time of the period. Each is the beginning of a UTC time as the book writes it: "2026",
     * "2026-03-01", "2026-03-01T06:30". "" sets no bound either. */
    const char *from, *to;
    uint16_t rail, holder; /* numbers from 1; a holder needs its rail */
    /* Name of a knife of the ledger. The rows are about the holders that it was on, during that time. The tables MOVED,
     * EDITS, AUDIT (which then has no rows), ALARMS, HOLDERS, STAYS and ERRORS use this field, and the other tables do
     * not. */
    const char *knife;
};

struct kr_history;

/* Opens a book for reading. station may be NULL if the book has one station. NULL: *error says why in one line, always
 * closed with a 0. */
struct kr_history *kr_history_open(const char *path, const char *station, char *error, size_t error_size);
void kr_history_close(struct kr_history *history); /* NULL: does nothing */
const char *kr_history_station(const struct kr_history *history);

/* Returns the station's unit of length when the gateway last stored something. False: an older program wrote the book,
 * which does not contain it, and *unit is unchanged. */
bool kr_history_length_unit(const struct kr_history *history, enum kr_length_unit *unit);

/* Calls each() for every row of the part, the oldest first (holders and errors: in rail order), until it returns false.
 * part NULL: all rows. If the part has a rail, a changeover shows the moves, corrections and worst deviation of that
 * rail. If the part has a rail or a holder, the maintenance requests are those that named it, named its whole rail, or
 * changed it, and the alarms are those that name it. If the part has a knife, the requests are also those that
 * concerned the knife while it was on no holder. False: kr_history_error() says why. */
bool kr_history_read(struct kr_history *history, enum kr_history_table table, const struct kr_history_part *part,
                     bool (*each)(void *arg, const struct kr_history_row *row), void *arg);
const char *kr_history_error(const struct kr_history *history);

struct kr_history_changeover {
    char ended_at[KR_BOOK_TIME_MAX];
    uint16_t n_rails;
    /* False: an older program stored it, without cut lines, or the job ended before it had any. */
    bool has_web;
    /* It has no moves. ended_utc_ms, and the fields after planned_ms in its record, are 0. */
    struct kr_book_changeover changeover;
};

/* Reads the newest changeover or verification that ended at a time that begins with `at` ("2026-03-01T06"). NULL: the
 * newest of all. False: there is none, or it can't be read, and kr_history_error() says which. */
bool kr_history_changeover(struct kr_history *history, const char *at, struct kr_history_changeover *to);

/* Calls step() every few milliseconds while one of the functions here reads or checks. */
void kr_history_watch(struct kr_history *history, void (*step)(void *arg), void *arg);

/* Compares every row of the history, of all stations, with its stored seal. tell() gets each table in which rows do not
 * match: how many, and the row or changeover of the first one. False: kr_history_error() says why. */
bool kr_history_check(struct kr_history *history,
                      void (*tell)(void *arg, const char *table, int64_t rows, int64_t first), void *arg);

/* Tells whether text is valid as a bound of the period. */
bool kr_history_time_is_good(const char *text);

#endif
