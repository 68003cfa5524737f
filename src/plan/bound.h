/* Proven lower bounds of the time of one choice's moves, over all their sequences. Private to src/plan.
 *
 * A sequence gives every drop (and the carriage's start) one next pick (or the end): an assignment, whose least cost is
 * a bound, the better for leaving out successions that what must be first forbids. It may fall apart into several
 * circles, and is weak where moves lie in clusters far apart. So the cost is also split: what the way would take at
 * full speed all along, whose least is known from how often each stretch of the rail must be crossed, and the rest,
 * whose least is an assignment again. */
#ifndef KNIFERAIL_PLAN_BOUND_H
#define KNIFERAIL_PLAN_BOUND_H

#include "moves.h"

#define NODES_MAX    (MOVES_MAX + 1)
#define FORBIDDEN_US INT32_C(500000000) /* above any sum of ways that a sequence might choose instead */

/* Rows: the drops of moves 0 to n - 1, then the start. Columns: their picks, then the end. */
struct match {
    int n; /* nodes on each side: moves + 1 */
    int32_t cost[NODES_MAX][NODES_MAX];
    int64_t row[NODES_MAX],
        column[NODES_MAX];     /* prices: row + column <= cost everywhere, equal where matched */
    int16_t row_of[NODES_MAX]; /* the row matched to each column */
};

/* Solves the assignment over the empty ways; returns its cost, all fixed time included. */
int64_t bound_match(struct match *match, const struct moves *moves, int64_t *steps);

/* The same without regard to what must be first: its prices hold for other choices too. */
int64_t bound_match_free(struct match *match, const struct moves *moves, int64_t *steps);

/* The best bound there is: the greater of both kinds. */
int64_t bound_sequences(struct match *match, const struct moves *moves, const struct rail *rail,
                        int64_t *steps);

#endif
