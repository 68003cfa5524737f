/* Kicks: the best is worsened a little at random, improved again, and kept if it comes out better. The random numbers
 * are the same in every call. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_KICK_H
#define KNIFERAIL_PLAN_KICK_H

#include "search.h"

/* Each goes on until the room's steps have come down to until_steps. */
void kick_choice(struct search_room *w, const struct rail *rail, int64_t until_steps);
void kick_sequence(struct search_room *w, const struct rail *rail, int64_t until_steps);

#endif
