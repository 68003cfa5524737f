#include "choice.h"

#include <string.h>

#include "whole.h"

/* For every holder the greatest end that the holders right of it leave: places up to these can be completed. */
struct reach {
    struct end stay[KR_HOLDERS_MAX], move[KR_HOLDERS_MAX];
};

static const struct end impossible = {.x = NOWHERE, .moved = false};

static struct end least_of(struct end a, struct end b)
{
    return b.x < a.x ? b : a;
}

static bool possible(struct end e)
{
    return e.x < NOWHERE;
}

static struct end stay_behind(const struct rail *r, int i, int cut, int want, struct end left)
{
    if (want > 0 || (i > 0 && !possible(left)))
        return impossible;
    return cut == IDLE ? rail_least_stay(r, i, left) : rail_cut_stay(r, i, rail_target(r, i, cut), left);
}

static struct end move_behind(const struct rail *r, int i, int cut, int want, struct end left)
{
    if (want < 0 || (i > 0 && !possible(left)))
        return impossible;
    return cut == IDLE ? rail_least_move(r, i, left) : rail_cut_move(r, i, rail_target(r, i, cut), left);
}

/* Runs over the mirrored rail, so that its least ends are the rail's greatest. */
static void reach_make(const struct rail *r, const struct choice *c, struct reach *reach)
{
    struct rail m;
    rail_mirror(&m, r);
    struct end stay = impossible, move = impossible;
    for (int i = 0; i < m.n; i++) {
        int mine = r->n - 1 - i, cut = c->cut[mine];
        int want = c->want[mine];
        int mirrored = cut == IDLE ? IDLE : r->n_cuts - 1 - cut;
        struct end s =
            least_of(stay_behind(&m, i, mirrored, want, stay), stay_behind(&m, i, mirrored, want, move));
        struct end v =
            least_of(move_behind(&m, i, mirrored, want, stay), move_behind(&m, i, mirrored, want, move));
        stay = s;
        move = v;
        reach->stay[mine] = (struct end){.x = -s.x, .moved = s.moved};
        reach->move[mine] = (struct end){.x = -v.x, .moved = v.moved};
    }
}

/* The nearest place to p from low on and not beyond high; low is the least legal one. */
static int64_t nearest_rest(const struct rail *r, int i, int64_t low, int64_t high)
{
    int64_t p = r->at[i].p, left = NO_LIMIT, right = NOWHERE;
    if (low < p)
        left = rail_rest_left(r, i, min_i64(p - 1, high));
    if (high > p) {
        int64_t on = r->approach < 0 ? r->overtravel : 0;
        right = rail_rest_right(r, i, max_i64(low, p + 1));
        if (right > high || right + on > r->max)
            right = NOWHERE;
    }
    if (left < low)
        left = NO_LIMIT;
    if (right == NOWHERE && left == NO_LIMIT)
        return NOWHERE;
    return right - p < p - left ? right : left;
}

static struct end go(const struct rail *r, int i, int cut, int want, struct end left, struct end reach)
{
    struct end e = move_behind(r, i, cut, want, left);
    if (!possible(e) || e.x > reach.x)
        return impossible;
    if (cut == IDLE)
        e.x = nearest_rest(r, i, e.x, reach.x);
    return e;
}

void choice_clear(struct choice *c)
{
    memset(c, 0, sizeof *c);
    for (int i = 0; i < KR_HOLDERS_MAX; i++)
        c->cut[i] = IDLE;
}

bool choice_settle(const struct rail *r, struct choice *c)
{
    struct reach reach = {0};
    struct end left = impossible;
    reach_make(r, c, &reach);
    for (int i = 0; i < r->n; i++) {
        struct end e = stay_behind(r, i, c->cut[i], c->want[i], left);
        if (!possible(e) || e.x > reach.stay[i].x)
            e = go(r, i, c->cut[i], c->want[i], left, reach.move[i]);
        if (!possible(e))
            return false;
        c->end[i] = left = e;
    }
    return true;
}

bool choice_is_legal(const struct rail *r, const struct choice *c)
{
    struct end left = impossible;
    for (int i = 0; i < r->n; i++) {
        struct end e = c->end[i];
        if (!e.moved)
            e = stay_behind(r, i, c->cut[i], 0, left);
        else if (c->cut[i] != IDLE)
            e = rail_cut_move(r, i, rail_target(r, i, c->cut[i]), left);
        else
            e = rail_idle_move(r, i, e.x, left);
        if (!possible(e))
            return false;
        left = e;
    }
    return true;
}
