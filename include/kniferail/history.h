/* history: what the book tells of the past, read while the gateway writes it or long after. It opens the file for
 * reading only and takes no lock that a gateway would mind. Belongs to book; the command line stands on it. */
#ifndef KNIFERAIL_HISTORY_H
#define KNIFERAIL_HISTORY_H

#include "kniferail/book.h"

enum kr_history_table {
    KR_HISTORY_CHANGEOVERS, /* one row a job that placed or verified holders */
    KR_HISTORY_MOVED,       /* one row a job and holder of the part that it moved: what it did to that one */
    KR_HISTORY_EDITS,       /* one row a maintenance request, accepted or not */
    KR_HISTORY_AUDIT,       /* one row what a client or the gateway did; of the station, and of the gateway */
    KR_HISTORY_ALARMS,      /* one row an alarm raised, one when it is gone */
    KR_HISTORY_HOLDERS,     /* one row a holder, as it is now; the period is not read */
    KR_HISTORY_FRAMES,      /* one row a point of each rail's frame, as it counts; the period is not read */
    KR_HISTORY_SIZES,       /* one row a size of holders: number and name; the period is not read */
    KR_HISTORY_SPENT,  /* one row a changeover: its times, and on what they were spent; of all rails always */
    KR_HISTORY_TIMING, /* one row a rail and changeover: what a plan reckons with, counted and summed */
    KR_HISTORY_REFERENCES, /* one row a rail and changeover that saw its references: off so much since taught */
    KR_HISTORY_ALARM_TIMES,  /* alarms without words: at_ms (since 1970), raised (0 or 1), code, rail, item */
    KR_HISTORY_KNIVES,       /* one row a knife of the ledger, as it is now; the period is not read */
    KR_HISTORY_KNIFE_EVENTS, /* one row each time that something became of a knife */
    KR_HISTORY_KNIFE_LIST,   /* the same as a list that can be taken in again (knife_list.h) */
    KR_HISTORY_ORDER_METRES, /* one row an order that was run until the next changeover and a holder that cut in it: the
                              * changeover's id, metres, rail, holder; of all rails always */
    KR_HISTORY_STAYS, /* one row each time that a knife was on a holder: on which, since when, until when */
    KR_HISTORY_ERRORS, /* one row a holder and changeover that placed it: how far off its target it was at the end */
};

enum kr_cell_kind { KR_CELL_NONE, KR_CELL_NUMBER, KR_CELL_REAL, KR_CELL_TEXT };
struct kr_cell {
    enum kr_cell_kind kind;
    int64_t number;
    double real;
    const char *text;
};

#define KR_HISTORY_COLUMNS_MAX 20

/* Lives during the call that it is given to. */
struct kr_history_row {
    bool is_heading; /* the first call of each reading: names only */
    int n;
    const char *name[KR_HISTORY_COLUMNS_MAX]; /* with its unit: "planned_ms" */
    struct kr_cell cell[KR_HISTORY_COLUMNS_MAX];
};

/* What is asked for. Each may be left out: 0 or NULL stands for all. */
struct kr_history_part {
    /* The beginning of a UTC time as the book writes it: "2026", "2026-03-01", "2026-03-01T06:30". Both belong to the
     * period; "" is without bound, too. */
    const char *from, *to;
    uint16_t rail, holder; /* numbers from 1; a holder only with its rail */
    /* The name of a knife of the ledger: what happened to the holders that it was on, while it was there. Of the tables
     * MOVED, EDITS, AUDIT (nothing), ALARMS, HOLDERS, STAYS and ERRORS; the others do not look at it. */
    const char *knife;
};

struct kr_history;

/* station: NULL is fine for a book with one station. NULL: *error says why in one line, always closed with a 0. */
struct kr_history *kr_history_open(const char *path, const char *station, char *error, size_t error_size);
void kr_history_close(struct kr_history *history); /* NULL is fine */
const char *kr_history_station(const struct kr_history *history);

/* The unit of length that the station had when the gateway stored something last. False: an older program wrote the
 * book, and nothing says; *unit stays as it is. */
bool kr_history_length_unit(const struct kr_history *history, enum kr_length_unit *unit);

/* Calls each for every row of the part, oldest first (holders and errors: in rail order), until it returns false. part:
 * NULL is all. Of a rail, a changeover has the moves, corrections and worst deviation of that rail. Of a rail or holder
 * there are the maintenance requests that named it, or all of its rail, or changed it, and the alarms that name it; of
 * a knife also the requests by which something became of it while it was on no holder. False: kr_history_error says
 * why. */
bool kr_history_read(struct kr_history *history, enum kr_history_table table,
                     const struct kr_history_part *part,
                     bool (*each)(void *arg, const struct kr_history_row *row), void *arg);
const char *kr_history_error(const struct kr_history *history);

struct kr_history_changeover {
    char ended_at[KR_BOOK_TIME_MAX];
    uint16_t n_rails;
    bool has_web; /* false: a program that kept no cut lines stored it, or it ended before it had any */
    struct kr_book_changeover
        changeover; /* without moves; ended_utc_ms and what stands behind planned_ms in its record
                                             are 0 */
};

/* The newest changeover or verification that ended at a time that begins with `at` ("2026-03-01T06"); NULL: the newest
 * of all. False: there is none, or it can't be read: kr_history_error says which. */
bool kr_history_changeover(struct kr_history *history, const char *at, struct kr_history_changeover *to);

/* Calls step every few milliseconds while any of the calls here reads or checks. */
void kr_history_watch(struct kr_history *history, void (*step)(void *arg), void *arg);

/* Holds every row of the history, of all stations, against the seal that it was stored with. tell gets each table in
 * which some are not what was stored: how many, and in which row or changeover the first is. False: kr_history_error
 * says why. */
bool kr_history_check(struct kr_history *history,
                      void (*tell)(void *arg, const char *table, int64_t rows, int64_t first), void *arg);

/* Whether text can stand for a bound of the period. */
bool kr_history_time_is_good(const char *text);

#endif
