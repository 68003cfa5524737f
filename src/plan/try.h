/* Tries one choice, and tells whether it is better than the best one so far. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_TRY_H
#define KNIFERAIL_PLAN_TRY_H

#include "search.h"

/* Tries a choice whose cuts and ends are set and legal. Returns as try_cuts(). */
bool try_ends(struct search_room *w, const struct rail *rail, const struct choice *ends);

/* Tries a choice whose cuts are set, unless it was tried before. If it takes less time, or the same time with fewer
 * moves, it becomes the best one and the result is true. */
bool try_cuts(struct search_room *w, const struct rail *rail, struct choice *choice);

/* Does the same even if the choice came up before, perhaps with a first sequence that led nowhere. */
bool try_fresh(struct search_room *w, const struct rail *rail, struct choice *choice);

/* Does the same for the best choice with other cuts, wants or goals of holders first to last, and begins with the
 * sequence of the best choice. */
bool try_near(struct search_room *w, const struct rail *rail, struct choice *choice, int first, int last);

/* Tells whether a plan with this time and number of moves beats another one: it takes less time, or the same time with
 * fewer moves. */
bool try_beats(int64_t time_us, int n_moves, const struct solution *than);

/* Returns the time above which a plan is of no use. */
int64_t try_worth_us(const struct search_room *w);

/* Writes a solution. choice may be the solution's own. sequence is one of the given moves. */
void try_keep(const struct rail *rail, struct solution *solution, const struct moves *moves,
              const struct choice *choice, const int16_t sequence[], int64_t time_us);

/* Copies a solution of this rail, as choice_copy() does. */
void try_copy(const struct rail *rail, struct solution *to, const struct solution *from);

#endif
