/* One rail as the planner sees it: the holders that stand on it, from left to right, and the rules for two neighbours.
 * Private to src/plan.
 *
 * Places are int64_t micrometres, so that no sum of them can overflow. The functions whose name has `least' or `cut'
 * answer this question: given how the left neighbour ends, how far left can this holder end? A place further left never
 * hurts the holders to the right, so least places tell exactly what is possible. The mirrored rail answers the same
 * question from the other end. */
#ifndef KNIFERAIL_PLAN_RAIL_H
#define KNIFERAIL_PLAN_RAIL_H

#include "kniferail/plan.h"

#define NOWHERE   (INT64_MAX / 4) /* no place; also a limit that does not exist */
#define ANY_SPLIT (-1)
#define NO_LIMIT  (-(INT64_MAX / 4))

struct site {
    int64_t p;      /* place where it stands */
    int64_t edge;   /* distance from its centre to its cutting edge */
    int64_t gap;    /* needed spacing to the next site on the right */
    uint16_t index; /* index in the caller's holder[] */
    bool may_cut, may_move;
};

struct rail {
    uint16_t n, n_cuts;
    uint16_t first_slit; /* index of the slit between cuts 0 and 1 */
    struct site at[KR_HOLDERS_MAX];
    int64_t cut[KR_CUTS_MAX];
    int64_t min, max;            /* limits of the centre of every holder that is moved */
    bool outside;                /* idle holders rest outside the web: at most at web_left, or at least at web_right */
    int64_t web_left, web_right; /* for idle centres, clearance included */
    int split;                   /* parking: holders before this index rest left of the web, the others right of it */
    int64_t deadband;
    int64_t overtravel; /* 0 if a holder may arrive from either side */
    int8_t approach;
    int64_t carriage;
    struct kr_speed empty, drag;
    int64_t way_us;      /* time of each way in addition to its profile */
    int64_t handling_us; /* dock and undock, and way_us for the way to the holder and for the drag */
    struct crowd *crowd; /* of a crowded rail during its search; else NULL */
};

/* How one holder ends. If it moved, it is exactly at x. If it did not move, it stands at its p, but may be counted at
 * x, a place within its deadband. x is NOWHERE: it cannot end so. */
struct end {
    int64_t x;
    bool moved;
};

void rail_make(struct rail *rail, const struct kr_geometry *geometry, const struct kr_rail_geometry *rg,
               const struct kr_rail_now *now, const struct kr_cuts *cuts, bool park, int32_t deadband_um);
void rail_mirror(struct rail *mirrored, const struct rail *rail);

/* Returns where the centre of holder i must be to make cut j; both count from 0. */
static inline int64_t rail_target(const struct rail *r, int i, int j)
{
    return r->cut[j] - r->at[i].edge;
}

/* These return the least and the greatest place that the move of holder i to x sweeps, and the time of its drag. */
int64_t rail_low(const struct rail *rail, int i, int64_t x);
int64_t rail_high(const struct rail *rail, int i, int64_t x);
int64_t rail_drag_us(const struct rail *rail, int i, int64_t x);

/* These tell whether the left one, or the right one, of the neighbours i - 1 and i may go first, if both move from
 * where they stand to left_x and x. */
bool rail_left_first(const struct rail *rail, int i, int64_t left_x, int64_t x);
bool rail_right_first(const struct rail *rail, int i, int64_t left_x, int64_t x);

/* These return the least end of holder i, if its left neighbour ends at left (which is not read for i == 0). The holder
 * stays or moves. It idles, or makes the cut whose target is given. */
struct end rail_least_stay(const struct rail *rail, int i, struct end left); /* idle or fixed */
struct end rail_least_move(const struct rail *rail, int i, struct end left); /* idle */
struct end rail_cut_stay(const struct rail *rail, int i, int64_t target, struct end left);
struct end rail_cut_move(const struct rail *rail, int i, int64_t target, struct end left);
/* Returns the end of a holder that idles and moves to x, if that is legal. */
struct end rail_idle_move(const struct rail *rail, int i, int64_t x, struct end left);

/* These return the nearest place at or right of x, or at or left of x, where holder i may rest if it idles; NOWHERE or
 * NO_LIMIT if there is none. */
int64_t rail_rest_right(const struct rail *rail, int i, int64_t x);
int64_t rail_rest_left(const struct rail *rail, int i, int64_t x);

/* Tells whether holder i may end at right (moved or not), if its left neighbour ends at left. Only this pair is
 * checked. The functions above decide at which place a holder that stays is counted. */
bool rail_pair_moves(const struct rail *rail, int i, struct end left, struct end right);

#endif
