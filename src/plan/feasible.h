/* Can it be done at all? And if not, what is at fault? Both answers are exact. They come from dynamic programming from
 * the left over holders and numbers of cuts, which keeps only the least possible place of each holder. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_FEASIBLE_H
#define KNIFERAIL_PLAN_FEASIBLE_H

#include "rail.h"

/* Whether the rail's cuts can all be made, with every idle holder at rest somewhere legal. */
bool feasible(const struct rail *rail);

/* Room to find the reason in: for each holder, by the number of cuts made by those before it, the least place where it
 * could idle; and the same on the mirrored rail. */
struct rooms {
    int64_t from_left[KR_HOLDERS_MAX][KR_CUTS_MAX + 1], from_right[KR_HOLDERS_MAX][KR_CUTS_MAX + 1];
};

/* KR_OK if feasible, else the reason, without the rail's number. */
struct kr_result feasible_judge(struct rooms *rooms, const struct rail *rail);

#endif
