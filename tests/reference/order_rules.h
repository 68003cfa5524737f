/* What an order must be like, stated once more from the contract in kniferail/plan.h: it shares nothing with the
 * planner but that header. Judges each refusal for the order's own numbers, and that none is missing. */
#ifndef ORDER_RULES_H
#define ORDER_RULES_H

#include "kniferail/plan.h"

struct order_tally {
    unsigned long long refused; /* refusals judged to be right, with their item, value and limit */
    unsigned long long single;  /* of these: orders that break one rule only, so that no other code could be right */
};

/* NULL if the answer of kr_cuts_make() is right, else what is wrong with it, in a buffer that the next call of either
 * function writes over. cuts is read where the order is accepted. */
const char *order_rules_cuts(const struct kr_geometry *geometry, const struct kr_order *order,
                             const struct kr_result *result, const struct kr_cuts *cuts, struct order_tally *tally);

/* The same for an answer of kr_plan_make(): of a park the web's width and shift count alone, and an order without fault
 * may be refused for the machine's sake. */
const char *order_rules_plan(const struct kr_plan_request *request, const struct kr_result *result,
                             struct order_tally *tally);

void order_tally_print(const struct order_tally *tally);

#endif
