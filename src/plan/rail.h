/* One rail as the planner sees it: the holders that stand on it, from left to right, and the rules for two
 * neighbours. Private to src/plan.
 *
 * Places are int64_t micrometres, so that no sum of them can overflow. `Least' functions answer: given how the left
 * neighbour ends, how far left can this one end? Being further left never hurts what comes to the right, so least
 * places tell exactly what is possible. The mirrored rail answers the same question from the other end. */
#ifndef KNIFERAIL_PLAN_RAIL_H
#define KNIFERAIL_PLAN_RAIL_H

#include "kniferail/plan.h"

#define NOWHERE   (INT64_MAX / 4) /* no place at all; also a limit that isn't there */
#define ANY_SPLIT (-1)
#define NO_LIMIT  (-(INT64_MAX / 4))

struct site {
    int64_t p;      /* where it stands */
    int64_t edge;   /* from its centre to its cutting edge */
    int64_t gap;    /* spacing needed to the next site on the right */
    uint16_t index; /* in the caller's holder[] */
    bool may_cut, may_move;
};

struct rail {
    uint16_t n, n_cuts;
    uint16_t first_slit; /* index of the slit between cuts 0 and 1 */
    struct site at[KR_HOLDERS_MAX];
    int64_t cut[KR_CUTS_MAX];
    int64_t min, max; /* of every centre that is moved */
    bool outside;     /* idle holders rest outside the web: at most web_left or at least web_right */
    int64_t web_left, web_right; /* for idle centres, clearance included */
    int split;                   /* parking: holders before it rest left of the web, the others right of it */
    int64_t deadband;
    int64_t overtravel; /* 0 where either way is as good */
    int8_t approach;
    int64_t carriage;
    struct kr_speed empty, drag;
    int64_t way_us;      /* what each way takes besides its profile */
    int64_t handling_us; /* dock and undock, and that of the way to the holder and of the drag */
    struct crowd *crowd; /* of a crowded rail, while it is searched; else NULL */
};

/* How one holder ends. Moved: at x exactly. Not moved: it stands at its p, but may be counted at x, some place
 * within its deadband. x == NOWHERE: impossible. */
struct end {
    int64_t x;
    bool moved;
};

void rail_make(struct rail *rail, const struct kr_geometry *geometry, const struct kr_rail_geometry *rg,
               const struct kr_rail_now *now, const struct kr_cuts *cuts, bool park, int32_t deadband_um);
void rail_mirror(struct rail *mirrored, const struct rail *rail);

/* Where holder i's centre must be to make cut j, both from 0. */
static inline int64_t rail_target(const struct rail *r, int i, int j)
{
    return r->cut[j] - r->at[i].edge;
}

/* What moving i to x sweeps, and how long it drags. */
int64_t rail_low(const struct rail *rail, int i, int64_t x);
int64_t rail_high(const struct rail *rail, int i, int64_t x);
int64_t rail_drag_us(const struct rail *rail, int i, int64_t x);

/* May the left, or the right, of neighbours i - 1 and i go first, both moving, from where they stand to left_x and
 * x? */
bool rail_left_first(const struct rail *rail, int i, int64_t left_x, int64_t x);
bool rail_right_first(const struct rail *rail, int i, int64_t left_x, int64_t x);

/* The least end of holder i behind its left neighbour's end (left is not read for i == 0). */
struct end rail_least_stay(const struct rail *rail, int i, struct end left); /* idle or fixed */
struct end rail_least_move(const struct rail *rail, int i, struct end left); /* idle */
struct end rail_cut_stay(const struct rail *rail, int i, int64_t target, struct end left);
struct end rail_cut_move(const struct rail *rail, int i, int64_t target, struct end left);
struct end rail_idle_move(const struct rail *rail, int i, int64_t x, struct end left); /* to x, if legal */

/* The place at or right of x, or at or left of it, where holder i may rest if it idles; NOWHERE, NO_LIMIT if none. */
int64_t rail_rest_right(const struct rail *rail, int i, int64_t x);
int64_t rail_rest_left(const struct rail *rail, int i, int64_t x);

/* May i end so (moved to x, or not moved) between neighbours that end so? Only the pair to the left is judged;
 * how a stayer may be counted is the least functions' affair. */
bool rail_pair_moves(const struct rail *rail, int i, struct end left, struct end right);

#endif
