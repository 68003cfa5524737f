/* A crowded rail of few holders: for given cuts, every way to end is looked at. Private to src/plan.
 *
 * Where holders stand nearer to each other than their spacing, the choice of the holders that stay, and of the places
 * where the others end, decides which moves may be made in which sequence. So no exchange of a single holder may lead
 * to the best plan. With few holders all choices can be looked at. The time is a concave function of the place of each
 * idle holder, on either side of its start. So the best place is at an end of the places that are allowed: at a limit,
 * or at a spacing (and overtravels) from the end or the start of a neighbour, or from the place from which that
 * neighbour's own place follows. */
#ifndef KNIFERAIL_PLAN_FEW_H
#define KNIFERAIL_PLAN_FEW_H

#include "search.h"

/* Is this such a rail? */
bool few_is_there(const struct rail *rail);

/* Tries every way to end that may still be better, with the cuts of the room's partial choice. The room must have
 * prices; once_us is what price_make() returned with them. */
void few_try(struct search_room *w, const struct rail *rail, int64_t once_us);

#endif
