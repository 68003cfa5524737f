/* The choices with which the search begins. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_START_H
#define KNIFERAIL_PLAN_START_H

#include "search.h"

/* Makes several first choices, puts the best one into the room, and leaves the plain path in the room for bounds.
 * best.time_us stays INT64_MAX if nothing is possible. Until the room's steps have come down to until_steps, each first
 * choice is improved before the next one is made. Half of the remaining steps may be spent on other sweeps for the best
 * choice. */
void start_all(struct search_room *w, const struct rail *rail, int64_t until_steps);

#endif
