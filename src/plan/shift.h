/* Neighbouring assignments: one holder cuts instead of another. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_SHIFT_H
#define KNIFERAIL_PLAN_SHIFT_H

#include "search.h"

/* Holder b cuts instead of a: everybody between them takes the neighbouring cut, and nobody of them has wants any more. */
void shift_run(struct choice *choice, int a, int b);

/* Makes the best choice better until no such exchange gains; those that cost more by slack_us, as far as costs add
 * up, aren't tried. */
void shift_improve(struct search_room *w, const struct rail *rail, int64_t slack_us);

/* The same with two shifts at a time, of which the second follows from the first: once, with the cheapest so many. True if
 * that gained. */
bool shift_improve_twice(struct search_room *w, const struct rail *r, int64_t slack_us, int most);

#endif
