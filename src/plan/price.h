/* Costs that add up from holder to holder and still know about the sequence of the moves. They come from the prices
 * that a plan's empty ways put on holders, which are the dual variables of the assignment problem (bound.h). These
 * costs are a lower bound over all choices and sequences, and a good guess of the time that another choice near that
 * plan would take. README.md beside this file has the sources. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_PRICE_H
#define KNIFERAIL_PLAN_PRICE_H

#include "bound.h"
#include "path.h"

/* Prices of the holders as the next one to be picked up, and costs with these prices in place of the shortest empty
 * ways. */
struct price {
    int64_t pick_us[KR_HOLDERS_MAX], end_us;
    /* The dearest pick from a holder to the left end of the rail, and to the right end. */
    int64_t most_left_us[KR_HOLDERS_MAX], most_right_us[KR_HOLDERS_MAX];
    struct cost cost;
};

/* Sets the costs by the moves m of a plan. Returns what is to be added once: no plan in which anything moves takes less
 * than its costs added up and that. */
int64_t price_make(struct price *p, struct match *a, const struct moves *m, const struct cost *c,
                   const struct rail *r, int64_t *steps);

/* Returns what the prices add to handling and drag of holder i if it moves to x. */
int64_t price_move_us(const struct price *p, const struct rail *r, int i, int64_t x);

#endif
