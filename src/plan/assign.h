/* Finds the cheapest assignment of holders to cuts, by costs that add up from holder to holder. It is exact as to which
 * assignments are possible, but its costs leave out the sequence of the moves. The method is that of path.h, on nodes
 * that also tell whether the holder stays. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_ASSIGN_H
#define KNIFERAIL_PLAN_ASSIGN_H

#include "cost.h"

/* A node: holder i makes cut j, and stays (0) or moves (1). */
struct assign_node {
    int64_t cost;
    int16_t left_holder; /* the holder that makes cut j - 1; -1: there is none */
    int16_t left_moved;
};

struct assign {
    struct assign_node node[KR_HOLDERS_MAX][KR_CUTS_MAX][2];
};

/* Sets cut[] of the cheapest choice. False if no choice is possible. */
bool assign_best(struct assign *assign, const struct rail *rail, const struct cost *cost, struct choice *choice);

#endif
