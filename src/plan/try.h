/* One choice tried: is it better than the best so far? Private to src/plan. */
#ifndef KNIFERAIL_PLAN_TRY_H
#define KNIFERAIL_PLAN_TRY_H

#include "search.h"

/* Judges a choice whose cuts are set, unless it came up before; near: beginning with the best one's order, else from
 * scratch. True, and it is the best from now on, if it takes less time, or as much with fewer moves. */
bool try_cuts(struct search_room *w, const struct rail *rail, struct choice *choice, bool near);

/* Judges a choice whose ends are settled. As above. */
bool try_settled(struct search_room *w, const struct rail *rail, const struct choice *choice, bool near);

/* What takes longer is of no use. */
int64_t try_worth_us(const struct search_room *w);

/* Writes a solution down. order is of the moves given. */
void try_keep(struct solution *solution, const struct moves *moves, const struct choice *choice,
              const int16_t order[], int64_t time_us);

#endif
