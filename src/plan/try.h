/* One choice tried: is it better than the best so far? Private to src/plan. */
#ifndef KNIFERAIL_PLAN_TRY_H
#define KNIFERAIL_PLAN_TRY_H

#include "search.h"

/* Judges a choice whose cuts are set, unless it came up before. True, and it is the best from now on, if it takes less
 * time, or as much with fewer moves. */
/* Judges a choice whose cuts and ends are set and legal. */
bool try_ends(struct search_room *w, const struct rail *rail, const struct choice *ends);

bool try_cuts(struct search_room *w, const struct rail *rail, struct choice *choice);

/* Even if it came up before, perhaps beginning with a sequence that led nowhere. */
bool try_fresh(struct search_room *w, const struct rail *rail, struct choice *choice);

/* The same for the best choice with other cuts, wants or goals of holders first to last, beginning with its
 * sequence. */
bool try_near(struct search_room *w, const struct rail *rail, struct choice *choice, int first, int last);

/* Does a plan with this time and so many moves beat that one? Less time does, and at the same time fewer moves. */
bool try_beats(int64_t time_us, int n_moves, const struct solution *than);

/* What takes longer is of no use. */
int64_t try_worth_us(const struct search_room *w);

/* Writes a solution down; the choice may be its own. sequence is of the moves given. */
void try_keep(const struct rail *rail, struct solution *solution, const struct moves *moves,
              const struct choice *choice, const int16_t sequence[], int64_t time_us);

/* One solution of this rail becomes the same as another, as choice_copy(). */
void try_copy(const struct rail *rail, struct solution *to, const struct solution *from);

#endif
