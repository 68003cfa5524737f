/* Costs that add up from holder to holder and still contain the sequence of the moves. They come from the prices that a
 * plan's empty ways put on holders, which are the dual variables of the assignment problem (bound.h). These costs are a
 * lower bound over all choices and sequences, and a good estimate for choices near that plan. README.md beside this
 * file has the sources. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_PRICE_H
#define KNIFERAIL_PLAN_PRICE_H

#include "bound.h"
#include "path.h"

/* Prices of picking up each holder next, and costs with these prices in place of the shortest empty ways. */
struct price {
    int64_t pick_us[KR_HOLDERS_MAX], end_us;
    /* The highest price of a pick between a holder and the left end of the rail, and between it and the right end. */
    int64_t most_left_us[KR_HOLDERS_MAX], most_right_us[KR_HOLDERS_MAX];
    struct cost cost;
};

/* Sets the costs by the moves m of a plan. Returns an amount to be added once: every plan in which anything moves takes
 * at least the sum of its costs plus this amount. */
int64_t price_make(struct price *p, struct match *a, const struct moves *m, const struct cost *c, const struct rail *r,
                   int64_t *steps);

/* Returns what the prices add to handling and drag of holder i if it moves to x. */
int64_t price_move_us(const struct price *p, const struct rail *r, int i, int64_t x);

#endif
