/* Neighbouring assignments of a crowded rail, in which a whole stretch of cuts goes to the next holders. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_STRETCH_H
#define KNIFERAIL_PLAN_STRETCH_H

#include "search.h"

/* Where idle holders stand too near to each other, a plan may gain by one idle holder more on one side of a few cuts
 * and one fewer on the other side, while every single cut that goes to another holder loses. This function tries such
 * stretches, at most `most' times, and those first that cost least by the costs of the path and by the room's prices.
 * True if one of them made the best choice better. It sets the room's path. */
bool stretch_once(struct search_room *w, const struct rail *rail, int most);

#endif
