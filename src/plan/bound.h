/* Proven lower bounds of the time of one choice's moves, over all their sequences. Private to src/plan.
 *
 * The assignment bound of the asymmetric travelling salesman problem: a sequence gives every drop (and the carriage's
 * start) one next pick (or the end). The least cost of such an assignment is a bound. The bound is better if those
 * successions are left out that no sequence may have because another move must come first.
 *
 * An assignment may fall apart into several circles, and is weak where moves lie in clusters far apart. So the cost is
 * also split in two. One part is the time that the way would take at full speed all along; its least is known from how
 * often each stretch of the rail must be crossed. The least of the rest is an assignment again. This is the Lagrangian
 * relaxation of one constraint, namely that the whole way is at least so long; the rate at which length is charged is
 * its multiplier (M. L. Fisher 1981). README.md beside this file has the sources. */
#ifndef KNIFERAIL_PLAN_BOUND_H
#define KNIFERAIL_PLAN_BOUND_H

#include "moves.h"

#define NODES_MAX    (MOVES_MAX + 1)
#define FORBIDDEN_US INT32_C(500000000) /* above any sum of ways that a sequence might choose instead */

/* Rows: the drops of moves 0 to n - 1, then the start. Columns: their picks, then the end. */
struct match {
    int n; /* nodes on each side: moves + 1 */
    int32_t cost[NODES_MAX][NODES_MAX];
    /* Prices, the dual variables of the assignment: row + column <= cost everywhere, equal where matched. */
    int64_t row[NODES_MAX], column[NODES_MAX];
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
