/* Neighbouring assignments: one holder cuts instead of another. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_SHIFT_H
#define KNIFERAIL_PLAN_SHIFT_H

#include "search.h"

/* Holder b cuts instead of a: everybody between them takes the neighbouring cut, and nobody of them has wants any
 * more. */
void shift_run(struct choice *choice, int a, int b);

/* Tries such exchanges, at most so many and those first that cost least by the ranking's costs; those that cost more by
 * slack_us aren't tried. True if one made the best choice better. */
bool shift_once(struct search_room *w, const struct rail *rail, int64_t slack_us, int most);

/* The same with two shifts at a time, of which the second follows from the first. */
bool shift_twice(struct search_room *w, const struct rail *rail, int64_t slack_us, int most);

/* Until no exchange within slack_us gains. */
void shift_improve(struct search_room *w, const struct rail *rail, int64_t slack_us);

/* Until neither costs that add up nor the prices of the best choice's own sequence lead any further. */
void shift_descend(struct search_room *w, const struct rail *rail);

#endif
