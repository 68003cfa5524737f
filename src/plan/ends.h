/* Improves a choice without changing its cuts: which holder makes room, and where idle holders rest. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_ENDS_H
#define KNIFERAIL_PLAN_ENDS_H

#include "search.h"

/* Tells whether holder i may either stay or move, as far as its own cut is concerned. */
bool ends_optional(const struct rail *rail, const struct choice *choice, int i);

/* Improves the best choice until none of these changes gains. */
void ends_improve(struct search_room *w, const struct rail *rail);

/* Tells whether every move is needed: the choice becomes illegal if any one holder that moves and may stay stays. */
bool ends_are_needed(const struct rail *rail, const struct choice *choice);

/* Lets each holder stay that moves without need. The choice stays legal. */
void ends_drop_needless(struct search_room *w, const struct rail *rail);

#endif
