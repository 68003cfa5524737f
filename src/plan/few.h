/* Searches a crowded rail of few holders completely, for given cuts. Private to src/plan.
 *
 * Where holders stand nearer to each other than their spacing, two choices decide which moves may come in which
 * sequence: which holders stay, and where the others end. So an exchange of a single holder may not lead to the best
 * plan. With few holders, all choices can be tried. For each idle holder, the time is a concave function of its place
 * on either side of its start. So the best place is at an end of the allowed places: at a limit; or at a spacing (and
 * overtravels) from the end or the start of a neighbour, or from the place from which that neighbour's own place
 * follows. */
#ifndef KNIFERAIL_PLAN_FEW_H
#define KNIFERAIL_PLAN_FEW_H

#include "search.h"

/* Tells whether a rail is crowded and has few holders. */
bool few_is_there(const struct rail *rail);

/* Tries every combination of ends that may still be better, with the cuts of the room's partial choice. The room must
 * have prices, and once_us is what price_make() returned with them. */
void few_try(struct search_room *w, const struct rail *rail, int64_t once_us);

#endif
