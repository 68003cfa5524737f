/* Which holder makes which cut: the cheapest way by a cost that adds up from holder to holder, over all choices that
 * are possible. Exact as to what is possible; what its cost leaves out is the sequence of the moves. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_ASSIGN_H
#define KNIFERAIL_PLAN_ASSIGN_H

#include "cost.h"

/* A node: holder i makes cut j, by staying (0) or moving (1). */
struct assign_node {
    int64_t cost;
    int16_t left_holder; /* that makes cut j - 1; -1: there is none */
    int16_t left_moved;
};

struct assign {
    struct assign_node node[KR_HOLDERS_MAX][KR_CUTS_MAX][2];
};

/* Sets cut[] of the cheapest choice. False if there is none. */
bool assign_best(struct assign *assign, const struct rail *rail, const struct cost *cost,
                 struct choice *choice);

#endif
