/* The same cuts with other ends: which holder makes room, and where idle holders rest. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_ENDS_H
#define KNIFERAIL_PLAN_ENDS_H

#include "search.h"

/* May holder i stay as well as move, as far as its own cut is concerned? */
bool ends_optional(const struct rail *rail, const struct choice *choice, int i);

/* Makes the best choice better until none of these changes gains. */
void ends_improve(struct search_room *w, const struct rail *rail);

/* Would the choice be illegal if any one that moves and may stay stayed? */
bool ends_are_needed(const struct rail *rail, const struct choice *choice);

/* Lets each holder stay that moves without need: all the rest is as legal if it stays. */
void ends_drop_needless(struct search_room *w, const struct rail *rail);

#endif
