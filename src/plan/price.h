/* A lower bound over all choices and orders, from the prices that the best plan's empty ways put on holders. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_PRICE_H
#define KNIFERAIL_PLAN_PRICE_H

#include "bound.h"
#include "cost.h"

/* Prices of holders as the next to be picked up; room for the sum over all choices. */
struct price {
    int64_t pick_us[KR_HOLDERS_MAX], end_us;
    int64_t most_us; /* the dearest of them */
    int64_t least_us[KR_CUTS_MAX + 1];
};

/* m are the best plan's. No plan in which anything moves takes less. */
int64_t price_bound(struct price *p, struct match *a, const struct moves *m, const struct cost *c,
                    const struct rail *r, int64_t *steps);

#endif
