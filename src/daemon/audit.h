/* The audit: what clients and the gateway itself did, kept in the book by the thread pool, in transactions of their
 * own: what can't be kept holds up nothing else. Nobody waits for it. A row is on its way to the disk a quarter of a
 * second after it was told, at the latest behind the commit that is under way then. A client that repeats itself a
 * thousand times a second can't fill the disk: what is more than its share (KR_AUDIT_KINDS) is counted in one row for
 * each ten minutes.
 *
 * On the loop's thread, but for `entry` while the pool stores it. */
#ifndef DAEMON_AUDIT_H
#define DAEMON_AUDIT_H

#include "kniferail/audit.h"
#include "kniferail/book.h"
#include "kniferail/bucket.h"

struct kr_face;

#define AUDIT_NEWS     64 /* told one by one between two transactions */
#define AUDIT_COUNTING 24 /* rows that count at once; who finds none shares one of its kind */

struct audit_counting {
    struct kr_audit_row row; /* times 0: the place is free */
    int64_t begun_us;
    bool dirty; /* it has counted since it was stored */
};

struct audit {
    bool kept;                    /* there is a book with a file */
    const struct kr_face *face;   /* knows the groups; NULL: not yet */
    const uint16_t *book_station; /* of the stations, by their place in the station file; borrowed */
    int64_t next_id;
    struct kr_buckets buckets;
    struct kr_book_audit news, entry; /* entry: given to the pool; it stays until it is stored */
    struct audit_counting counting[KR_AUDIT_KIND_COUNT + AUDIT_COUNTING]; /* first those that several share */
    bool dirty, failed;
    int64_t due_us; /* of what is dirty, by clock_us(); behind a failure: when it is tried again */
};

/* kept: false: nothing is ever kept. next_id: of the first row. */
void audit_open(struct audit *audit, bool kept, int64_t next_id);

/* An event of now. Its group is filled in where it is a client's. */
void audit_add(struct audit *audit, const struct kr_audit_event *event);

/* The same from its parts. */
void audit_tell(struct audit *audit, enum kr_audit_kind kind, uint16_t station_number, const char *who,
                const char *result, const char *what, ...) __attribute__((format(printf, 6, 7)));

bool audit_is_due(const struct audit *audit);
void audit_begin(struct audit *audit); /* entry is the pool's from now on */
void audit_ended(struct audit *audit, bool stored, const char *why);

#endif
