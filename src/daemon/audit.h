/* The audit records what clients and the gateway itself did. The thread pool stores its rows in the book, in separate
 * transactions, so that a failure to store them delays nothing else. Nobody waits for these transactions. Storing a row
 * begins a quarter of a second after the event, or after the commit that is under way then. A client that repeats an
 * action a thousand times a second can't fill the disk: events beyond its share (KR_AUDIT_KINDS) are counted in one row
 * for each ten minutes.
 *
 * Everything here belongs to the loop's thread, except for `entry` while the pool stores it. */
#ifndef DAEMON_AUDIT_H
#define DAEMON_AUDIT_H

#include "kniferail/audit.h"
#include "kniferail/book.h"
#include "kniferail/bucket.h"

struct kr_face;

#define AUDIT_NEWS     64 /* events with a row of their own between two transactions */
#define AUDIT_COUNTING 24 /* counting rows at the same time; further clients share one row for each kind of event */

struct audit_counting {
    struct kr_audit_row row; /* times 0: the place is free */
    int64_t begun_us;
    bool dirty; /* it has counted an event since it was stored */
};

struct audit {
    bool kept;                    /* there is a book with a file */
    const struct kr_face *face;   /* knows the groups; NULL: not yet */
    const uint16_t *book_station; /* for each station of the station file: its number in the book; borrowed */
    int64_t next_id;
    struct kr_buckets buckets;
    struct kr_book_audit news, entry; /* the pool stores `entry`; it stays until it is stored */
    struct audit_counting counting[KR_AUDIT_KIND_COUNT + AUDIT_COUNTING]; /* the shared ones come first */
    bool dirty, failed;
    int64_t due_us; /* when to store the dirty rows, or to try again after a failure; by clock_us() */
};

/* kept: false if no row is to be stored, ever. next_id: the id of the first row. */
void audit_open(struct audit *audit, bool kept, int64_t next_id);

/* Adds an event that happens now. Fills in the group if the event comes from a client. */
void audit_add(struct audit *audit, const struct kr_audit_event *event);

/* Does the same, and makes the event from its parts. */
void audit_tell(struct audit *audit, enum kr_audit_kind kind, uint16_t station_number, const char *who,
                const char *result, const char *what, ...) __attribute__((format(printf, 6, 7)));

bool audit_is_due(const struct audit *audit);
void audit_begin(struct audit *audit); /* `entry` belongs to the pool from now on */
void audit_ended(struct audit *audit, bool stored, const char *why);

#endif
