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

/* What a holder's way counts on top, in permille of what the empty carriage takes for it, by where it leads. While the
 * carriage sweeps to the right, a holder on its way there saves it that much, and one that goes left costs it as much
 * again. */
struct lean {
    int32_t left_permille, right_permille; /* both 0 for a bound */
};

struct path {
    const struct cost *cost;
    struct lean lean;
    int64_t reach[KR_HOLDERS_MAX + 1]; /* spacings from holder 0 on, added up */
    /* What the holders before one cost at rest, with so many cuts to their left. */
    int64_t rest_us[KR_CUTS_MAX + 1][KR_HOLDERS_MAX + 1];
    int64_t least_rest_us[KR_CUTS_MAX + 1];        /* of any of them together: below 0 where prices are */
    int64_t after_us[KR_HOLDERS_MAX][KR_CUTS_MAX]; /* least of all right of i, while i makes cut j */
    int64_t from_us[KR_CUTS_MAX][KR_HOLDERS_MAX];  /* the same with i's own cost, by cut */
    int64_t least_us;
    int64_t work; /* cells of crowds looked at */
};

/* Fills it; costs are read until it is filled anew. Steps count down. */
void path_make(struct path *path, const struct rail *rail, const struct cost *cost, struct lean lean,
               int64_t *steps);

/* Only what path_between_us() needs. */
void path_sums(struct path *path, const struct rail *rail, const struct cost *cost);

/* What idle holders cost right of i that makes cut j (NOBODY: of the rail's end, and j is -1) and left of next, that
 * makes cut j + 1 (the rail's number of holders: its other end). NEVER: there is no room. */
int64_t path_between_us(struct path *path, const struct rail *rail, int i, int j, int next);

/* Sets cut[] of the cheapest. False if there is none. */
bool path_best(struct path *path, const struct rail *rail, struct choice *choice);

#endif
