/* Looks ahead to the order that follows. Private to src/plan.
 *
 * What does not lengthen this changeover may be settled for the next one's sake: among plans of one rail that take no
 * longer than the slower rail does anyway, the one after which the next changeover is least; and where time is left,
 * idle holders already go where the next order wants them. */
#ifndef KNIFERAIL_PLAN_AHEAD_H
#define KNIFERAIL_PLAN_AHEAD_H

#include "search.h"

struct ahead_room {
    struct rail next;
    struct solution after, best_after, candidate;
    int n_pool;
    struct solution pool[POOL_MAX];
};

/* next: the same rail with the next order's cuts, holders and carriage where they are now. Changes *solution, if that
 * helps; it stays within limit_us. */
void ahead_settle(struct ahead_room *a, struct search_room *w, const struct rail *rail,
                  const struct rail *next, int64_t limit_us, int64_t steps, struct solution *solution);

#endif
