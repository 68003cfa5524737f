/* The cheapest way through all assignments by costs that add up, idle holders that are pushed aside included. It is a
 * shortest path in an acyclic graph, found by dynamic programming (R. Sedgewick and K. Wayne, Algorithms, section 4.4):
 * a node is a holder with the cut that it makes, and costs may be below 0. README.md beside this file has the source.
 * Private to src/plan.
 *
 * Between two holders that cut, at their cut lines, all idle holders have to find room: a holder that stands nearer to
 * one of the two than the spacings in between allow has to go at least that far. No plan does with less, so the path's
 * cost is a lower bound. It leaves out how movers hinder each other on their ways, and the sequence of the moves. */
#ifndef KNIFERAIL_PLAN_PATH_H
#define KNIFERAIL_PLAN_PATH_H

#include "cost.h"

#define NOBODY       (-1)
#define CELLS_A_STEP 3 /* of a crowd's dynamic programming */

/* What the way of a holder counts on top, in permille of the time that the empty carriage takes for it, by its
 * direction. While the carriage sweeps to the right, a holder on its way to the right saves the carriage that much, and
 * a holder that goes left costs it as much again. */
struct lean {
    int32_t left_permille, right_permille; /* both 0 for a bound */
};

struct path {
    const struct cost *cost;
    struct lean lean;
    int64_t reach[KR_HOLDERS_MAX + 1]; /* spacings from holder 0 on, added up */
    /* What the holders before one cost at rest, with so many cuts to their left. */
    int64_t rest_us[KR_CUTS_MAX + 1][KR_HOLDERS_MAX + 1];
    /* Of all holders together at least: below 0 where there are prices. */
    int64_t least_rest_us[KR_CUTS_MAX + 1];
    int64_t after_us[KR_HOLDERS_MAX]
                    [KR_CUTS_MAX]; /* the least cost of all holders right of i, while i makes cut j */
    int64_t from_us[KR_CUTS_MAX][KR_HOLDERS_MAX]; /* the same with i's own cost, by cut */
    int64_t least_us;
    int64_t work; /* how many cells of crowds were looked at */
};

/* Fills the path. Its costs are read until it is filled anew. Steps count down. */
void path_make(struct path *path, const struct rail *rail, const struct cost *cost, struct lean lean,
               int64_t *steps);

/* Fills only what path_between_us() needs. */
void path_sums(struct path *path, const struct rail *rail, const struct cost *cost);

/* Returns what the idle holders cost between holder i, which makes cut j (NOBODY: the end of the rail, and j is -1),
 * and holder next, which makes cut j + 1 (the number of the rail's holders: its other end). NEVER: there is no room. */
int64_t path_between_us(struct path *path, const struct rail *rail, int i, int j, int next);

/* Sets cut[] of the cheapest assignment. False if there is none. */
bool path_best(struct path *path, const struct rail *rail, struct choice *choice);

#endif
