/* Can it be done at all? Exact, from the least possible place of every holder; and if not, what is at fault.
 * Private to src/plan. */
#ifndef KNIFERAIL_PLAN_FEASIBLE_H
#define KNIFERAIL_PLAN_FEASIBLE_H

#include "rail.h"

/* Whether the rail's cuts can all be made, with every idle holder at rest somewhere legal. */
bool feasible(const struct rail *rail);

/* KR_OK if feasible, else the reason, without the rail's number. */
struct kr_result feasible_judge(const struct rail *rail);

#endif
