/* Which holder makes which cut: the cheapest way by a cost that adds up from holder to holder, over all choices that
 * are possible. Exact as to what is possible; what its cost leaves out is the order of the moves. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_ASSIGN_H
#define KNIFERAIL_PLAN_ASSIGN_H

#include "choice.h"

/* A node: holder i makes cut j, by staying (0) or moving (1). */
struct assign_node {
    int64_t cost;
    int16_t left_holder; /* that makes cut j - 1; -1: there is none */
    int8_t left_moved;
};

struct assign {
    int64_t cost_us[KR_HOLDERS_MAX][KR_CUTS_MAX];     /* of i moving to cut j */
    int64_t rest_us[KR_HOLDERS_MAX][KR_CUTS_MAX + 1]; /* of i idling right of j cuts */
    struct assign_node node[KR_HOLDERS_MAX][KR_CUTS_MAX][2];
};

/* Fills the costs: handling and drag, and permille of the same way at the empty carriage's greatest speed. */
void assign_costs(struct assign *a, const struct rail *rail, int32_t permille);

/* Sets cut[] of the cheapest choice. False if there is none. */
bool assign_best(struct assign *a, const struct rail *rail, struct choice *choice);

#endif
