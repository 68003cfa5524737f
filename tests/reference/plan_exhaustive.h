/* The least changeover time of one small rail by trying everything: every choice of holders, every place worth trying
 * for those that idle, every order of the moves. Written from the rules in kniferail/plan.h, it shares nothing with the
 * planner but that header. */
#ifndef PLAN_EXHAUSTIVE_H
#define PLAN_EXHAUSTIVE_H

#include "kniferail/plan.h"

/* In microseconds; -1: nothing is possible; -2: too much to try. */
int64_t plan_exhaustive(const struct kr_plan_request *request, const struct kr_cuts *cuts, int rail);

#endif
