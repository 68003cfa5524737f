/* A crowded rail of few holders: for given cuts, every way to end is looked at. Private to src/plan.
 *
 * Where holders stand nearer to each other than their spacing, who stays and where the others end change which moves
 * are free to be made in which sequence, and no exchange of one holder may lead to the best. Few holders are few
 * enough for all of it: the time is a concave function of each idle holder's place on either side of its start, so
 * that the best place is at an end of what is allowed: a limit, or a spacing (and overtravels) away from a
 * neighbour's end or start, or from what that one's own place follows from. */
#ifndef KNIFERAIL_PLAN_FEW_H
#define KNIFERAIL_PLAN_FEW_H

#include "search.h"

/* Is the rail one of these? */
bool few_is_there(const struct rail *rail);

/* Tries every way to end with the cuts of the room's partial choice that may still be better. The room has prices;
 * once_us is what price_make() returned with them. */
void few_try(struct search_room *w, const struct rail *rail, int64_t once_us);

#endif
