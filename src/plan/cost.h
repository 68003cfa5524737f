/* The least cost of each holder, whatever the others do, as far as costs add up from holder to holder. These costs
 * leave out which holder is in whose way, and the sequence of the moves. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_COST_H
#define KNIFERAIL_PLAN_COST_H

#include "choice.h"

#define NEVER (INT64_MAX / 4)

/* The costs. The arrays are indexed by holder and by cut, or by the number of cuts to the holder's left. A move costs
 * handling, drag, and the shortest empty way that can lead to the holder from any other one. For one move that way is
 * instead the carriage's own way from its start. */
struct cost {
    /* The least and the greatest end of a holder that leaves the others room on the rail. */
    int64_t low[KR_HOLDERS_MAX], high[KR_HOLDERS_MAX];
    int64_t cut_us[KR_HOLDERS_MAX][KR_CUTS_MAX];
    int64_t rest_us[KR_HOLDERS_MAX][KR_CUTS_MAX + 1];
    /* The time of the holder's way at the empty carriage's speed; below 0: to the left. */
    int32_t way_us[KR_HOLDERS_MAX][KR_CUTS_MAX];
    int64_t approach_us[KR_HOLDERS_MAX]; /* the shortest empty way to the holder */
    int64_t first_us;                    /* added once if anything moves; may be below 0 */
};

void cost_make(struct cost *cost, const struct rail *rail);

#endif
