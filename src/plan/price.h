/* A lower bound over all choices and orders, from the prices that the best plan's empty ways put on holders. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_PRICE_H
#define KNIFERAIL_PLAN_PRICE_H

#include "bound.h"
#include "path.h"

/* Prices of holders as the next to be picked up; and costs with these prices in place of the shortest empty ways. */
struct price {
    int64_t pick_us[KR_HOLDERS_MAX], end_us;
    int64_t most_left_us[KR_HOLDERS_MAX],
        most_right_us[KR_HOLDERS_MAX]; /* the dearest from one to the rail's end */
    struct cost cost;
};

/* m are the best plan's. No plan in which anything moves takes less. */
int64_t price_bound(struct price *p, struct match *a, struct path *path, const struct moves *m,
                    const struct cost *c, const struct rail *r, int64_t *steps);

#endif
