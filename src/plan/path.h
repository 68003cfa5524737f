/* Finds the cheapest of all assignments by costs that add up, which include idle holders that are pushed aside. It is a
 * shortest path in an acyclic graph, found by dynamic programming (R. Sedgewick and K. Wayne, Algorithms, section 4.4):
 * a node is a holder with the cut that it makes, and costs may be below 0. README.md beside this file has the source.
 * Private to src/plan.
 *
 * All idle holders between two holders that cut need room between their cut lines. A holder that stands nearer to one
 * of the two than the spacings in between allow has to go at least that far. No plan can avoid this, so the path's cost
 * is a lower bound. It leaves out how moving holders hinder each other, and the sequence of the moves. */
#ifndef KNIFERAIL_PLAN_PATH_H
#define KNIFERAIL_PLAN_PATH_H

#include "cost.h"

#define NOBODY       (-1)
#define CELLS_A_STEP 3 /* cells of a crowd's dynamic programming that count as one step */

/* The weight of a holder's way, in permille of the time that the empty carriage takes for it, by its direction. While
 * the carriage sweeps to the right, a holder on its way to the right saves the carriage that way, and a holder that
 * goes left costs it once more. */
struct lean {
    int32_t left_permille, right_permille; /* both 0 for a bound */
};

struct path {
    const struct cost *cost;
    struct lean lean;
    int64_t reach[KR_HOLDERS_MAX + 1]; /* sum of the spacings from holder 0 on */
    /* Cost at rest of the holders before each one, by the number of cuts to their left. */
    int64_t rest_us[KR_CUTS_MAX + 1][KR_HOLDERS_MAX + 1];
    /* Least cost at rest of all holders together; it is below 0 if there are prices. */
    int64_t least_rest_us[KR_CUTS_MAX + 1];
    /* The least cost of all holders to the right of i, while i makes cut j. */
    int64_t after_us[KR_HOLDERS_MAX][KR_CUTS_MAX];
    int64_t from_us[KR_CUTS_MAX][KR_HOLDERS_MAX]; /* the same, plus the cost of i itself, by cut */
    int64_t least_us;
    int64_t work; /* number of cells of crowds that were looked at */
};

/* Fills the path. It reads cost until it is filled again. *steps counts down. */
void path_make(struct path *path, const struct rail *rail, const struct cost *cost, struct lean lean, int64_t *steps);

/* Fills only what path_between_us() needs. */
void path_sums(struct path *path, const struct rail *rail, const struct cost *cost);

/* Returns the cost of the idle holders between holder i, which makes cut j, and holder next, which makes cut j + 1. If
 * i is NOBODY, it means the left end of the rail, and j is -1. If next is the number of the rail's holders, it means
 * the right end. NEVER: there is no room. */
int64_t path_between_us(struct path *path, const struct rail *rail, int i, int j, int next);

/* Sets cut[] of the cheapest assignment. False if there is none. */
bool path_best(struct path *path, const struct rail *rail, struct choice *choice);

#endif
