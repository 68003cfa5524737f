/* Neighbouring assignments of a crowded rail: a whole stretch of cuts goes to the next holders. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_STRETCH_H
#define KNIFERAIL_PLAN_STRETCH_H

#include "search.h"

/* Where idle holders stand too near to each other, one more of them on one side of a few cuts and one fewer on the
 * other is what gains, and every single cut that goes to another holder loses. Tries that, at most so many times and
 * those first that cost least by the path's way to count and the room's prices. True if one made the best choice
 * better. Sets the room's path. */
bool stretch_once(struct search_room *w, const struct rail *rail, int most);

#endif
