#include "cost.h"

#include "integers.h"

/* ---- the cost of one holder -------------------------------------------------------------------------------------- */

/* Returns the least empty way that can lead to holder i. A way that starts where another holder was just put down is no
 * shorter, because that holder keeps its spacing. */
static int64_t approach_us(const struct rail *r, int i)
{
    int64_t least = NOWHERE;
    if (i > 0)
        least = min_i64(r->at[i - 1].gap, r->at[i].p - r->at[i - 1].p);
    if (i + 1 < r->n)
        least = min_i64(least, min_i64(r->at[i].gap, r->at[i + 1].p - r->at[i].p));
    return least == NOWHERE ? 0 : kr_move_time_us(least, r->empty);
}

/* Finds where each holder may end: neighbours keep their spacings, and a fixed holder stays where it is. */
static void find_room(struct cost *c, const struct rail *r)
{
    for (int i = 0; i < r->n; i++) {
        c->low[i] = r->at[i].may_move ? r->min : r->at[i].p - r->deadband;
        if (i > 0)
            c->low[i] = max_i64(c->low[i], c->low[i - 1] + r->at[i - 1].gap);
    }
    for (int i = r->n - 1; i >= 0; i--) {
        c->high[i] = r->at[i].may_move ? r->max : r->at[i].p + r->deadband;
        if (i + 1 < r->n)
            c->high[i] = min_i64(c->high[i], c->high[i + 1] - r->at[i].gap);
    }
}

/* The limits between which holder i may rest with j cuts to its left. They are wide enough whichever holders make those
 * cuts. */
static void rest_bounds(const struct cost *c, const struct rail *r, int i, int j, int64_t edge_low, int64_t edge_high,
                        int64_t *low, int64_t *high)
{
    *low = c->low[i];
    *high = c->high[i];
    if (j > 0 && i > 0)
        *low = max_i64(*low, r->cut[j - 1] - edge_high + r->at[i - 1].gap);
    if (j < r->n_cuts)
        *high = min_i64(*high, r->cut[j] - edge_low - r->at[i].gap);
}

/* Returns how far holder i has to go to rest there: 0 if it may stay, NOWHERE if there is no such place. */
static int64_t rest_way(const struct rail *r, int i, int64_t low, int64_t high)
{
    int64_t p = r->at[i].p;
    if (low > high)
        return NOWHERE;
    int64_t right = rail_rest_right(r, i, max_i64(low, p)), left = rail_rest_left(r, i, min_i64(high, p));
    int64_t way = NOWHERE;
    if (right <= high)
        way = right - p;
    if (left >= low)
        way = min_i64(way, p - left);
    return way;
}

static int64_t move_us(const struct rail *r, int i, int64_t x)
{
    return r->handling_us + rail_drag_us(r, i, x) + approach_us(r, i);
}

static int64_t rest_us(const struct cost *c, const struct rail *r, int i, int j, int64_t edge_low, int64_t edge_high)
{
    int64_t low, high, deadband = r->deadband;
    rest_bounds(c, r, i, j, edge_low, edge_high, &low, &high);
    if (!r->at[i].may_move)
        return 0;
    int64_t way = rest_way(r, i, low, high);
    if (way == NOWHERE)
        return NEVER;
    if (way <= deadband)
        return 0;
    return r->handling_us + kr_move_time_us(way, r->drag) + approach_us(r, i);
}

static void edges_of(const struct rail *r, int64_t *low, int64_t *high)
{
    *low = NOWHERE;
    *high = -NOWHERE;
    for (int i = 0; i < r->n; i++) {
        if (r->at[i].may_cut) {
            *low = min_i64(*low, r->at[i].edge);
            *high = max_i64(*high, r->at[i].edge);
        }
    }
}

static int64_t cut_us(const struct cost *c, const struct rail *r, int i, int64_t target)
{
    if (!r->at[i].may_cut || target < c->low[i] || target > c->high[i])
        return NEVER;
    return abs_i64(target - r->at[i].p) <= r->deadband ? 0 : move_us(r, i, target);
}

void cost_make(struct cost *c, const struct rail *r)
{
    int64_t edge_low, edge_high, dearest = 0, nearest = NOWHERE;
    find_room(c, r);
    edges_of(r, &edge_low, &edge_high);
    for (int i = 0; i < r->n; i++) {
        c->approach_us[i] = approach_us(r, i);
        for (int j = 0; j < r->n_cuts; j++) {
            int64_t target = rail_target(r, i, j), d = target - r->at[i].p;
            c->cut_us[i][j] = cut_us(c, r, i, target);
            c->way_us[i][j] = clamp_i32(d * 1000000 / r->empty.v_um_per_s);
        }
        for (int j = 0; j <= r->n_cuts; j++)
            c->rest_us[i][j] = rest_us(c, r, i, j, edge_low, edge_high);
        if (r->at[i].may_move) {
            dearest = max_i64(dearest, approach_us(r, i));
            nearest = min_i64(nearest, abs_i64(r->at[i].p - r->carriage));
        }
    }
    c->first_us = (nearest == NOWHERE ? 0 : kr_move_time_us(nearest, r->empty)) - dearest;
}
