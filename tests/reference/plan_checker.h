/* Judges a plan by the rules in kniferail/plan.h alone: it shares nothing with the planner but that header. */
#ifndef PLAN_CHECKER_H
#define PLAN_CHECKER_H

#include "kniferail/plan.h"

/* NULL if the plan is sound, else what is wrong with it, in a buffer that the next call writes over. */
const char *plan_checker(const struct kr_plan_request *request, const struct kr_plan *plan);

/* The same for cut lines by themselves, of a request that is no park. */
const char *plan_checker_cuts(const struct kr_plan_request *request, const struct kr_cuts *cuts);

#endif
