/* Proven lower bounds for the time of one choice's moves, over all their sequences. Private to src/plan.
 *
 * The first bound is the assignment bound of the asymmetric travelling salesman problem. A sequence gives every drop,
 * and the carriage's start, one next pick, or the end. The least cost of such an assignment is a bound. The bound is
 * better if successions are left out that no sequence may have because another move must come first.
 *
 * An assignment may consist of several closed circles (subtours), and its bound is weak if the moves lie in clusters
 * far apart. So the second bound splits the cost in two parts. The first part is the time that the way would take at
 * full speed throughout; its least value follows from how often each stretch of the rail must be crossed. The least
 * value of the second part, the rest, is an assignment again. This is the Lagrangian relaxation of one constraint,
 * namely that the whole way is at least so long; the multiplier is the rate at which length is charged (M. L. Fisher
 * 1981). README.md beside this file has the sources. */
#ifndef KNIFERAIL_PLAN_BOUND_H
#define KNIFERAIL_PLAN_BOUND_H

#include "moves.h"

#define NODES_MAX (MOVES_MAX + 1)
/* Greater than any sum of ways that a sequence could choose instead. */
#define FORBIDDEN_US INT32_C(500000000)

/* Rows: the drops of moves 0 to n - 1, then the start. Columns: their picks, then the end. */
struct match {
    int n; /* number of nodes on each side: moves + 1 */
    int32_t cost[NODES_MAX][NODES_MAX];
    /* Prices, the dual variables of the assignment: row + column <= cost for every pair, and equal for matched
     * pairs. */
    int64_t row[NODES_MAX], column[NODES_MAX];
    int16_t row_of[NODES_MAX]; /* the row matched to each column */
};

/* Solves the assignment over the empty ways. Returns its cost, which includes all fixed time. */
int64_t bound_match(struct match *match, const struct moves *moves, int64_t *steps);

/* Solves the same assignment without the constraints of which move must come first. Its prices hold for other choices
 * too. */
int64_t bound_match_free(struct match *match, const struct moves *moves, int64_t *steps);

/* Returns the better of the two bounds. */
int64_t bound_sequences(struct match *match, const struct moves *moves, const struct rail *rail, int64_t *steps);

#endif
