#ifndef KR_STATION_SINGLE_H
#define KR_STATION_SINGLE_H

#include "state.h"

/* Moves one holder to one place, for maintenance: a plan of a single move under the rules of every plan. It uses the
 * present knowledge of the neighbours. A gap that is already too narrow may not shrink. */
struct kr_result single_judge(const struct kr_station_config *config, const struct kr_durable *durable,
                              const struct job *job);
void single_plan(const struct kr_station *s, struct kr_plan *plan); /* no holder cuts in it */

/* Judges a drag to and fro: whether the holder has room on either side. Sets the place of the next drag. */
struct kr_result single_judge_drag(const struct kr_station_config *config, const struct kr_durable *durable,
                                   struct job *job);

#endif
