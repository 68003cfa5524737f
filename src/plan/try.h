/* Tries one choice: is it better than the best one so far? Private to src/plan. */
#ifndef KNIFERAIL_PLAN_TRY_H
#define KNIFERAIL_PLAN_TRY_H

#include "search.h"

/* Judges a choice whose cuts and ends are set and legal. True as try_cuts(). */
bool try_ends(struct search_room *w, const struct rail *rail, const struct choice *ends);

/* Judges a choice whose cuts are set, unless it came up before. True, and it is the best from now on, if it takes less
 * time, or as much time with fewer moves. */
bool try_cuts(struct search_room *w, const struct rail *rail, struct choice *choice);

/* Does the same even if the choice came up before, perhaps with a first sequence that led nowhere. */
bool try_fresh(struct search_room *w, const struct rail *rail, struct choice *choice);

/* Does the same for the best choice with other cuts, wants or goals of holders first to last, and begins with the
 * sequence of the best choice. */
bool try_near(struct search_room *w, const struct rail *rail, struct choice *choice, int first, int last);

/* Does a plan with this time and so many moves beat that one? It does with less time, or with the same time and fewer
 * moves. */
bool try_beats(int64_t time_us, int n_moves, const struct solution *than);

/* Returns a time: a plan that takes longer is of no use. */
int64_t try_worth_us(const struct search_room *w);

/* Writes a solution down; the choice may be the solution's own. The sequence is one of the given moves. */
void try_keep(const struct rail *rail, struct solution *solution, const struct moves *moves,
              const struct choice *choice, const int16_t sequence[], int64_t time_us);

/* Makes one solution of this rail equal to another one, as choice_copy() does. */
void try_copy(const struct rail *rail, struct solution *to, const struct solution *from);

#endif
