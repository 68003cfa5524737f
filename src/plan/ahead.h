/* Looks ahead to the next order. Private to src/plan.
 *
 * A rail may take as long as the slower rail takes anyway. Among the plans of one rail within that limit, this file
 * chooses the plan after which the next changeover is shortest. If time is left, idle holders already go to their
 * places for the next order. */
#ifndef KNIFERAIL_PLAN_AHEAD_H
#define KNIFERAIL_PLAN_AHEAD_H

#include "search.h"

struct ahead_room {
    struct rail next;
    struct solution after, best_after, candidate;
    int n_pool;
    struct solution pool[POOL_MAX];
};

/* Changes *solution if that helps the next order. The solution stays within limit_us. next is the same rail with the
 * cuts of the next order, and with holders and carriage where they are now. */
void ahead_settle(struct ahead_room *a, struct search_room *w, const struct rail *rail, const struct rail *next,
                  int64_t limit_us, int64_t steps, struct solution *solution);

#endif
