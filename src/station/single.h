#ifndef KR_STATION_SINGLE_H
#define KR_STATION_SINGLE_H

#include "state.h"

/* One holder moved to one place, for maintenance: a plan of a single move under the rules of every plan. It stands on
 * what is known of the neighbours as they are now; a gap that was found too narrow may not shrink. */
struct kr_result single_judge(const struct kr_station_config *config, const struct kr_durable *durable,
                              const struct job *job);
void single_plan(const struct kr_station *s, struct kr_plan *plan); /* nobody cuts in it */

/* With a drag to and fro: whether the holder has room for it to either side, and which place it is to go to next. */
struct kr_result single_judge_drag(const struct kr_station_config *config, const struct kr_durable *durable,
                                   struct job *job);

#endif
