/* Neighbouring assignments of a crowded rail, in which a whole stretch of cuts goes to the next holders. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_STRETCH_H
#define KNIFERAIL_PLAN_STRETCH_H

#include "search.h"

/* If idle holders stand too near to each other, a plan may gain by one more idle holder on one side of a few cuts and
 * one fewer on the other side, although every single cut that goes to another holder loses. This function tries such
 * stretches, at most `most' times, in the sequence of their estimated cost by the path and by the room's prices.
 * Returns true if one of them improved the best choice. It sets the room's path. */
bool stretch_once(struct search_room *w, const struct rail *rail, int most);

#endif
