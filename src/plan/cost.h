/* What each holder costs at least, whatever the others do, as far as costs add up from holder to holder; and the
 * cheapest assignments by such costs. Quick: what it leaves out is whether idle holders find room between the cutting
 * ones, and the order of the moves. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_COST_H
#define KNIFERAIL_PLAN_COST_H

#include "choice.h"

#define NEVER (INT64_MAX / 4)

/* Indexed by holder and by cut, or by the number of cuts to the holder's left. A move costs handling, drag, and the
 * shortest empty way that can lead to it from any other holder; once, that way is the carriage's own. */
struct cost {
    int64_t cut_us[KR_HOLDERS_MAX][KR_CUTS_MAX];
    int64_t rest_us[KR_HOLDERS_MAX][KR_CUTS_MAX + 1];
    int32_t way_us[KR_HOLDERS_MAX][KR_CUTS_MAX]; /* the same way at the empty carriage's greatest speed */
    int64_t approach_us[KR_HOLDERS_MAX];         /* that shortest empty way */
    int64_t first_us;                            /* to add once, if anything moves: may be negative */
    int64_t ahead_us[KR_HOLDERS_MAX + 1]
                    [KR_CUTS_MAX + 1]; /* least of all holders from i on, with j cuts made */
    int32_t permille;                  /* of way_us that ahead_us counts in */
};

/* Fills cut_us to first_us. */
void cost_make(struct cost *cost, const struct rail *rail);

/* Fills ahead_us, counting in permille of the empty ways. What ahead_us[0][0] + first_us says with permille 0 is a
 * lower bound of the time of every plan in which anything moves. */
void cost_look_ahead(struct cost *cost, const struct rail *rail, int32_t permille);

/* Cost of i making cut j, or idling behind j cuts, as ahead_us counts it. */
static inline int64_t cost_of_cut(const struct cost *c, int i, int j)
{
    return c->cut_us[i][j] + (int64_t)c->way_us[i][j] * c->permille / 1000;
}

/* Sets cut[] of the cheapest assignment. False if too few may cut. */
bool cost_best(const struct cost *cost, const struct rail *rail, struct choice *choice);

#endif
