/* Looks ahead to the order that follows. Private to src/plan.
 *
 * Whatever does not make this changeover longer may be settled for the next one. Of the plans of one rail that take no
 * longer than the slower rail takes anyway, the one is chosen after which the next changeover takes least. Where time
 * is left, idle holders already go where the next order wants them. */
#ifndef KNIFERAIL_PLAN_AHEAD_H
#define KNIFERAIL_PLAN_AHEAD_H

#include "search.h"

struct ahead_room {
    struct rail next;
    struct solution after, best_after, candidate;
    int n_pool;
    struct solution pool[POOL_MAX];
};

/* Changes *solution if that helps the next order; the solution stays within limit_us. next is the same rail with the
 * cuts of the next order, and with holders and carriage where they are now. */
void ahead_settle(struct ahead_room *a, struct search_room *w, const struct rail *rail,
                  const struct rail *next, int64_t limit_us, int64_t steps, struct solution *solution);

#endif
