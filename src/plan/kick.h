/* Iterated local search (H. R. Lourenco, O. C. Martin and T. Stützle 2003). A kick, the perturbation of that method,
 * changes the best plan a little at random. The plan is then improved again, and kept unless it has become slower. The
 * random numbers are the same in every call. They come from a linear congruential generator with the constants of D.
 * E. Knuth's MMIX (from memory). README.md beside this file has the sources. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_KICK_H
#define KNIFERAIL_PLAN_KICK_H

#include "search.h"

/* Both functions go on until the room's steps have come down to until_steps. kick_choice() changes which holders cut,
 * and kick_sequence() only changes the sequence of the moves. */
void kick_choice(struct search_room *w, const struct rail *rail, int64_t until_steps);
void kick_sequence(struct search_room *w, const struct rail *rail, int64_t until_steps);

#endif
