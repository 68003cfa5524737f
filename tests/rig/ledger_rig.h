/* A real book behind a rig: what the rig commits is committed to a file, and the station asks its ledger of knives. */
#ifndef KR_TESTS_LEDGER_RIG_H
#define KR_TESTS_LEDGER_RIG_H

#include "kniferail/book.h"
#include "rig.h"

struct ledger_rig {
    struct rig *rig;
    char folder[64], path[96];
    struct kr_book *book;
    uint16_t station;
    bool unreadable; /* the ledger, not the rest of the book */
    int64_t utc_ms;  /* of the next commit; the test may set it */
    bool may_fail;   /* a commit; else that fails the test */
    bool failed;     /* one has: the gateway is as good as dead, and what it does from then on is nothing */
    struct kr_book_entry entry; /* of the next commit: a test may add alarms and changeovers */
};

/* Between rig_defaults() and rig_start(). The file lies where nothing is synchronised to a disk, if there is such a
 * place. */
void ledger_rig_begin(struct ledger_rig *ledger, struct rig *rig);
void ledger_rig_restart(struct ledger_rig *ledger); /* book and station begin anew with what is stored */
void ledger_rig_close(struct ledger_rig *ledger);   /* the two halves of that: the book alone is closed, */
void ledger_rig_open(struct ledger_rig *ledger);    /* and both begin anew */
void ledger_rig_end(struct ledger_rig *ledger);     /* after rig_end() */

/* The first row of a query, as sqlite3 prints it: "1|0|text". The second fails the test if it is another. */
int64_t ledger_number(const struct ledger_rig *ledger, const char *query);
__attribute__((format(printf, 3, 4))) void ledger_expect(const struct ledger_rig *ledger, const char *query,
                                                         const char *row, ...);

#endif
