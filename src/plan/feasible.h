/* Tells whether the cuts can be made at all, and if not, why. Both answers are exact. They come from dynamic
 * programming from the left over holders and numbers of cuts, which keeps only the least possible place of each holder.
 * Private to src/plan. */
#ifndef KNIFERAIL_PLAN_FEASIBLE_H
#define KNIFERAIL_PLAN_FEASIBLE_H

#include "rail.h"

/* Tells whether all of the rail's cuts can be made, with every idle holder at rest in a legal place. */
bool feasible(const struct rail *rail);

/* Memory for finding the reason: for each holder, by the number of cuts of the holders before it, the least place where
 * it could idle; and the same on the mirrored rail. */
struct rooms {
    int64_t from_left[KR_HOLDERS_MAX][KR_CUTS_MAX + 1], from_right[KR_HOLDERS_MAX][KR_CUTS_MAX + 1];
};

/* Returns KR_OK if the cuts can be made, else the reason, without the rail's number. */
struct kr_result feasible_judge(struct rooms *rooms, const struct rail *rail);

#endif
