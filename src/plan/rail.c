#include "rail.h"

#include <string.h>

#include "integers.h"

/* ---- making ------------------------------------------------------------------------------------------- */

static void add_sites(struct rail *r, const struct kr_geometry *g, const struct kr_rail_geometry *rg,
                      const struct kr_rail_now *now)
{
    for (uint16_t i = 0; i < rg->n_holders; i++) {
        const struct kr_holder *h = &now->holder[i];
        if (h->state == KR_HOLDER_ABSENT)
            continue;
        if (r->n > 0)
            r->at[r->n - 1].gap = kr_spacing_um(g, now->holder[r->at[r->n - 1].index].holder_size, h->holder_size);
        r->at[r->n++] = (struct site){
            .p = h->position_um,
            .edge = h->edge_offset_um,
            .index = i,
            .may_cut = h->state == KR_HOLDER_IN,
            .may_move = h->state != KR_HOLDER_FIXED,
        };
    }
}

void rail_make(struct rail *r, const struct kr_geometry *geometry, const struct kr_rail_geometry *rg,
               const struct kr_rail_now *now, const struct kr_cuts *cuts, bool park, int32_t deadband_um)
{
    memset(r, 0, sizeof *r);
    add_sites(r, geometry, rg, now);
    r->n_cuts = cuts->n_cuts;
    r->first_slit = cuts->first_slit_edge;
    for (uint16_t j = 0; j < cuts->n_cuts; j++)
        r->cut[j] = (int64_t)cuts->cut_um[j] + rg->cut_side_um;
    r->min = rg->min_um;
    r->max = rg->max_um;
    r->outside = park || geometry->idle_policy == KR_IDLE_OUTSIDE_WEB;
    r->web_left = (int64_t)cuts->web_left_um - geometry->idle_clearance_um;
    r->web_right = (int64_t)cuts->web_right_um + geometry->idle_clearance_um;
    r->split = ANY_SPLIT;
    r->deadband = deadband_um;
    r->approach = rg->approach;
    r->overtravel = rg->approach != 0 ? rg->overtravel_um : 0;
    r->carriage = now->carriage_um;
    r->empty = rg->empty;
    r->drag = rg->drag;
    r->way_us = (int64_t)rg->setpoint_us + rg->rounding_us;
    r->handling_us = (int64_t)rg->dock_us + rg->undock_us + 2 * r->way_us;
}

int64_t kr_way_time_us(const struct kr_rail_geometry *rail, int64_t distance_um, struct kr_speed speed)
{
    return kr_move_time_us(abs_i64(distance_um), speed) + rail->setpoint_us + rail->rounding_us;
}

void rail_mirror(struct rail *m, const struct rail *r)
{
    *m = *r;
    for (int i = 0; i < r->n; i++) {
        struct site *s = &m->at[r->n - 1 - i];
        *s = r->at[i];
        s->p = -s->p;
        s->edge = -s->edge;
        s->gap = i > 0 ? r->at[i - 1].gap : 0;
    }
    for (int j = 0; j < r->n_cuts; j++)
        m->cut[r->n_cuts - 1 - j] = -r->cut[j];
    m->min = -r->max;
    m->max = -r->min;
    m->web_left = -r->web_right;
    m->web_right = -r->web_left;
    m->split = r->split == ANY_SPLIT ? ANY_SPLIT : r->n - r->split;
    m->approach = (int8_t)-r->approach;
    m->carriage = -r->carriage;
}

/* ---- one holder --------------------------------------------------------------------------------------- */

static bool comes_back(const struct rail *r, int i, int64_t x)
{
    return (r->approach > 0 && x < r->at[i].p) || (r->approach < 0 && x > r->at[i].p);
}

int64_t rail_low(const struct rail *r, int i, int64_t x)
{
    if (x >= r->at[i].p)
        return r->at[i].p;
    return r->approach > 0 ? x - r->overtravel : x;
}

int64_t rail_high(const struct rail *r, int i, int64_t x)
{
    if (x <= r->at[i].p)
        return r->at[i].p;
    return r->approach < 0 ? x + r->overtravel : x;
}

int64_t rail_drag_us(const struct rail *r, int i, int64_t x)
{
    int64_t d = abs_i64(x - r->at[i].p);
    if (!comes_back(r, i, x))
        return kr_move_time_us(d, r->drag);
    return kr_move_time_us(d + r->overtravel, r->drag) + kr_move_time_us(r->overtravel, r->drag) +
           (r->overtravel > 0 ? r->way_us : 0);
}

/* Returns the side of the web on which holder i has to rest, if that is fixed beforehand. */
static bool is_left(const struct rail *r, int i)
{
    return r->split != ANY_SPLIT && i < r->split;
}

static bool is_right(const struct rail *r, int i)
{
    return r->split != ANY_SPLIT && i >= r->split;
}

int64_t rail_rest_right(const struct rail *r, int i, int64_t x)
{
    if (x < r->min)
        x = r->min;
    if (r->outside && x < r->web_right && (x > r->web_left || is_right(r, i)))
        x = r->web_right;
    return x > r->max || (is_left(r, i) && x > r->web_left) ? NOWHERE : x;
}

int64_t rail_rest_left(const struct rail *r, int i, int64_t x)
{
    if (x > r->max)
        x = r->max;
    if (r->outside && x > r->web_left && (x < r->web_right || is_left(r, i)))
        x = r->web_left;
    return x < r->min || (is_right(r, i) && x < r->web_right) ? NO_LIMIT : x;
}

/* Tells whether the swept path of the holder ends within the limits, wherever it starts. */
static bool path_within(const struct rail *r, int i, int64_t x)
{
    if (!comes_back(r, i, x))
        return x >= r->min && x <= r->max;
    return r->approach > 0 ? x - r->overtravel >= r->min && x <= r->max : x >= r->min && x + r->overtravel <= r->max;
}

/* ---- two neighbours -----------------------------------------------------------------------------------
 * A gap that is already too narrow may not shrink: if neighbours already stand nearer than their spacing, the moving
 * one must not pass its own start. The minima and maxima with p below express that. */

/* While holder i moves, its left neighbour stands at y. Returns the least place that holder i may sweep. */
static int64_t low_limit(const struct rail *r, int i, int64_t y)
{
    return min_i64(y + r->at[i - 1].gap, r->at[i].p);
}

/* While holder i - 1 moves to left_x, holder i stands at y. */
static bool left_clears(const struct rail *r, int i, int64_t left_x, int64_t y)
{
    return rail_high(r, i - 1, left_x) <= max_i64(y - r->at[i - 1].gap, r->at[i - 1].p);
}

bool rail_left_first(const struct rail *r, int i, int64_t left_x, int64_t x)
{
    return left_clears(r, i, left_x, r->at[i].p) && rail_low(r, i, x) >= low_limit(r, i, left_x);
}

bool rail_right_first(const struct rail *r, int i, int64_t left_x, int64_t x)
{
    return rail_low(r, i, x) >= low_limit(r, i, r->at[i - 1].p) && left_clears(r, i, left_x, x);
}

bool rail_pair_moves(const struct rail *r, int i, struct end left, struct end right)
{
    if (left.moved && right.moved)
        return right.x >= left.x + r->at[i - 1].gap &&
               (rail_left_first(r, i, left.x, right.x) || rail_right_first(r, i, left.x, right.x));
    if (left.moved)
        return left_clears(r, i, left.x, r->at[i].p);
    return !right.moved || rail_low(r, i, right.x) >= low_limit(r, i, r->at[i - 1].p);
}

/* ---- least ends --------------------------------------------------------------------------------------- */

static const struct end impossible = {.x = NOWHERE, .moved = false};

static int64_t beside(const struct rail *r, int i, struct end left)
{
    return i == 0 ? NO_LIMIT : left.x + r->at[i - 1].gap;
}

static struct end stay_within(const struct rail *r, int i, int64_t low, int64_t high, struct end left)
{
    struct end e = {.x = max_i64(low, beside(r, i, left)), .moved = false};
    if (e.x > high || (i > 0 && left.moved && !left_clears(r, i, left.x, r->at[i].p)))
        return impossible;
    return e;
}

struct end rail_least_stay(const struct rail *r, int i, struct end left)
{
    const struct site *s = &r->at[i];
    int64_t low = s->p - r->deadband, high = s->p + r->deadband;
    if (!s->may_move)
        return stay_within(r, i, low, high, left);
    low = rail_rest_right(r, i, max_i64(low, beside(r, i, left)));
    return stay_within(r, i, low, high, left);
}

struct end rail_cut_stay(const struct rail *r, int i, int64_t target, struct end left)
{
    if (abs_i64(target - r->at[i].p) > r->deadband || target < r->min || target > r->max)
        return impossible;
    return stay_within(r, i, target, target, left);
}

struct end rail_cut_move(const struct rail *r, int i, int64_t target, struct end left)
{
    struct end e = {.x = target, .moved = true};
    if (target == r->at[i].p || !path_within(r, i, target) || target < beside(r, i, left))
        return impossible;
    return i == 0 || rail_pair_moves(r, i, left, e) ? e : impossible;
}

struct end rail_idle_move(const struct rail *r, int i, int64_t x, struct end left)
{
    if (!r->at[i].may_move || rail_rest_right(r, i, x) != x)
        return impossible;
    return rail_cut_move(r, i, x, left);
}

/* Returns the least place left of p whose sweep is not below low, or else the least place right of p. */
static int64_t least_rest(const struct rail *r, int i, int64_t from, int64_t low)
{
    int64_t back = r->approach > 0 ? r->overtravel : 0, on = r->approach < 0 ? r->overtravel : 0;
    int64_t x = rail_rest_right(r, i, max_i64(from, max_i64(low, r->min) + back));
    if (x < r->at[i].p)
        return x;
    x = rail_rest_right(r, i, max_i64(from, r->at[i].p + 1));
    return x <= r->max - on ? x : NOWHERE;
}

static int64_t least_of_two_movers(const struct rail *r, int i, struct end left)
{
    int64_t from = beside(r, i, left), x = NOWHERE;
    if (left_clears(r, i, left.x, r->at[i].p))
        x = least_rest(r, i, from, low_limit(r, i, left.x));
    int64_t high = rail_high(r, i - 1, left.x);
    /* The right one goes first: it must make room for the whole sweep of the left one. */
    if (high > r->at[i - 1].p)
        from = max_i64(from, high + r->at[i - 1].gap);
    return min_i64(x, least_rest(r, i, from, low_limit(r, i, r->at[i - 1].p)));
}

struct end rail_least_move(const struct rail *r, int i, struct end left)
{
    struct end e = {.x = NOWHERE, .moved = true};
    if (!r->at[i].may_move)
        return impossible;
    if (i == 0)
        e.x = least_rest(r, i, NO_LIMIT, NO_LIMIT);
    else if (left.moved)
        e.x = least_of_two_movers(r, i, left);
    else
        e.x = least_rest(r, i, beside(r, i, left), low_limit(r, i, r->at[i - 1].p));
    return e.x == NOWHERE ? impossible : e;
}
