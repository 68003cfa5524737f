/* A real book for a rig: what the rig commits is committed to a file, and the station asks the ledger of knives in
 * it. */
#ifndef KR_TESTS_LEDGER_RIG_H
#define KR_TESTS_LEDGER_RIG_H

#include "kniferail/book.h"
#include "rig.h"

struct ledger_rig {
    struct rig *rig;
    char folder[64], path[96];
    struct kr_book *book;
    uint16_t station;
    bool unreadable; /* the ledger can't be read, but the rest of the book can */
    int64_t utc_ms;  /* time of the next commit; the test may set it */
    bool may_fail;   /* a commit may fail; otherwise a failed commit fails the test */
    /* A commit has failed: the gateway counts as dead, and nothing that it does is stored any more. */
    bool failed;
    struct kr_book_entry entry; /* of the next commit: a test may add alarms and changeovers */
};

/* Call it between rig_defaults() and rig_start(). The file lies in a folder that is not synced to a disk, if there is
 * one. */
void ledger_rig_begin(struct ledger_rig *ledger, struct rig *rig);
void ledger_rig_restart(struct ledger_rig *ledger); /* book and station start again with the stored data */
void ledger_rig_close(struct ledger_rig *ledger);   /* the first half of a restart: only closes the book */
void ledger_rig_open(struct ledger_rig *ledger);    /* the second half: book and station start again */
void ledger_rig_end(struct ledger_rig *ledger);     /* call it after rig_end() */

/* Returns the first row of a query as sqlite3 prints it: "1|0|text". The second function fails the test if the row is
 * another one. */
int64_t ledger_number(const struct ledger_rig *ledger, const char *query);
__attribute__((format(printf, 3, 4))) void ledger_expect(const struct ledger_rig *ledger, const char *query,
                                                         const char *row, ...);

#endif
