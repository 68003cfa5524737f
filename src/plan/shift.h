/* Neighbouring assignments, in which one holder cuts instead of another one: a local search that takes the first
 * improvement, in the sequence of an estimate by the dual prices of the assignment (price.h). README.md beside this
 * file has the sources. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_SHIFT_H
#define KNIFERAIL_PLAN_SHIFT_H

#include "search.h"

/* Makes holder b cut instead of holder a: each holder between them takes the neighbouring cut, and the wants of these
 * holders are cleared. */
void shift_run(struct choice *choice, int a, int b);

/* Tries such shifts, at most `most', and those first that cost least by the ranking's costs. A shift that costs
 * slack_us more is not tried. True if one of them made the best choice better. */
bool shift_once(struct search_room *w, const struct rail *rail, int64_t slack_us, int most);

/* Does the same with two shifts at a time, of which the second one follows from the first. */
bool shift_twice(struct search_room *w, const struct rail *rail, int64_t slack_us, int most);

/* Tries shifts until none within slack_us gains. */
void shift_improve(struct search_room *w, const struct rail *rail, int64_t slack_us);

/* Tries shifts, ranked by costs that add up and by the prices of the best choice's own sequence, until neither ranking
 * leads any further. */
void shift_descend(struct search_room *w, const struct rail *rail);

#endif
