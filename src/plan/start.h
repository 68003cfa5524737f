/* Where the search for a choice begins. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_START_H
#define KNIFERAIL_PLAN_START_H

#include "search.h"

/* Makes the best of several beginnings the room's best, and its path the plain one, for bounds; best.time_us stays
 * INT64_MAX if nothing is possible. Until the room's steps have come down to until_steps each is improved before the
 * next; half of what is left may go into other sweeps for the best. */
void start_all(struct search_room *w, const struct rail *rail, int64_t until_steps);

#endif
