/* Neighbouring assignments: one holder cuts instead of another. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_SHIFT_H
#define KNIFERAIL_PLAN_SHIFT_H

#include "search.h"

/* Holder b cuts instead of a: everybody between them takes the neighbouring cut. Sets to->cut. */
void shift_run(const struct choice *from, int a, int b, struct choice *to);

/* Makes the best choice better until no such exchange gains; those that cost more by slack_us, as far as costs add
 * up, aren't tried. */
void shift_improve(struct search_room *w, const struct rail *rail, int64_t slack_us);

#endif
