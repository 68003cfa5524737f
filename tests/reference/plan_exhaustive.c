#include "plan_exhaustive.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SITES_MAX  8
#define PLACES_MAX 2000
#define WORK_MAX   30000000

/* Why trying these places is enough: the time is a concave function of each idle holder's place on either side of
 * where it stands, so the best place is at an end of what is allowed. Such ends are a limit, a web edge, a cutting or
 * standing neighbour, or a neighbour's start, plus or minus the spacings in between, the deadband and overtravels. */

struct all {
    const struct kr_plan_request *q;
    const struct kr_rail_geometry *g;
    const struct kr_cuts *cuts;
    int n;
    struct kr_holder h[SITES_MAX];
    int64_t gap[SITES_MAX]; /* to the next */
    int n_places[SITES_MAX];
    int64_t place[SITES_MAX][PLACES_MAX];
    bool moved[SITES_MAX];
    int64_t x[SITES_MAX], counted[SITES_MAX];
    int64_t best_us, work;
};

static int64_t travel_us(int64_t um, struct kr_speed v)
{
    double d = (double)um, top = v.v_um_per_s, a = v.a_um_per_s2;
    return llround((d >= top * top / a ? d / top + top / a : 2 * sqrt(d / a)) * 1e6);
}

static int64_t turn_of(const struct all *a, int i, int64_t x)
{
    int64_t p = a->h[i].position_um;
    if (a->g->approach > 0 && x < p)
        return x - a->g->overtravel_um;
    if (a->g->approach < 0 && x > p)
        return x + a->g->overtravel_um;
    return x;
}

/* What each way of the carriage takes besides its profile. */
static int64_t way_us(const struct all *a)
{
    return (int64_t)a->g->setpoint_us + a->g->rounding_us;
}

static int64_t drag_us(const struct all *a, int i, int64_t x)
{
    int64_t p = a->h[i].position_um, turn = turn_of(a, i, x);
    return travel_us(llabs(turn - p), a->g->drag) +
           (turn != x ? travel_us(llabs(turn - x), a->g->drag) + way_us(a) : 0);
}

/* Of a move, wherever it comes in the sequence. */
static int64_t own_us(const struct all *a, int i)
{
    return a->g->dock_us + a->g->undock_us + 2 * way_us(a) + drag_us(a, i, a->x[i]);
}

static bool may_rest(const struct all *a, int64_t x)
{
    int64_t clear = a->q->geometry.idle_clearance_um;
    bool outside = a->q->park || a->q->geometry.idle_policy == KR_IDLE_OUTSIDE_WEB;
    if (x < a->g->min_um || x > a->g->max_um)
        return false;
    return !outside || x <= a->cuts->web_left_um - clear || x >= a->cuts->web_right_um + clear;
}

/* ---- places ---------------------------------------------------------------------------------------------------- */

static void add_place(struct all *a, int i, int64_t x)
{
    if (!may_rest(a, x) || x == a->h[i].position_um || turn_of(a, i, x) < a->g->min_um ||
        turn_of(a, i, x) > a->g->max_um)
        return;
    for (int k = 0; k < a->n_places[i]; k++) {
        if (a->place[i][k] == x)
            return;
    }
    if (a->n_places[i] < PLACES_MAX)
        a->place[i][a->n_places[i]++] = x;
}

static void add_around(struct all *a, int i, int64_t from, int64_t away)
{
    for (int turns = -a->n; turns <= a->n; turns++) {
        if (a->g->approach == 0 && turns != 0)
            continue;
        int64_t over = turns * (int64_t)a->g->overtravel_um;
        add_place(a, i, from + away + over);
        add_place(a, i, from - away + over);
    }
}

static void add_from_neighbour(struct all *a, int i, int k, int64_t away)
{
    int64_t p = a->h[k].position_um;
    add_around(a, i, p, away);
    add_around(a, i, p + a->q->deadband_um, away);
    add_around(a, i, p - a->q->deadband_um, away);
    for (int j = 0; j < a->cuts->n_cuts; j++)
        add_around(a, i, (int64_t)a->cuts->cut_um[j] + a->g->cut_side_um - a->h[k].edge_offset_um, away);
    add_around(a, i, a->g->min_um, away);
    add_around(a, i, a->g->max_um, away);
    add_around(a, i, a->cuts->web_left_um - a->q->geometry.idle_clearance_um, away);
    add_around(a, i, a->cuts->web_right_um + a->q->geometry.idle_clearance_um, away);
}

static void find_places(struct all *a)
{
    for (int i = 0; i < a->n; i++) {
        a->n_places[i] = 0;
        for (int k = 0; k < a->n; k++) {
            int64_t away = 0;
            for (int s = i < k ? i : k; s < (i < k ? k : i); s++)
                away += a->gap[s];
            add_from_neighbour(a, i, k, away);
        }
    }
}

/* ---- orders ---------------------------------------------------------------------------------------------------- */

static bool can_move(const struct all *a, int i, const int64_t at[])
{
    int64_t turn = turn_of(a, i, a->x[i]), low = at[i], high = at[i];
    low = turn < low ? turn : low;
    high = turn > high ? turn : high;
    if (i > 0) {
        int64_t found = at[i] - at[i - 1], need = found < a->gap[i - 1] ? found : a->gap[i - 1];
        if (low - at[i - 1] < need)
            return false;
    }
    if (i + 1 < a->n) {
        int64_t found = at[i + 1] - at[i], need = found < a->gap[i] ? found : a->gap[i];
        if (at[i + 1] - high < need)
            return false;
    }
    return true;
}

static void try_orders(struct all *a, int64_t at[], unsigned left, int64_t carriage, int64_t us, int64_t rest_us)
{
    a->work++;
    if (us + rest_us >= a->best_us || a->work > WORK_MAX)
        return;
    if (left == 0) {
        a->best_us = us;
        return;
    }
    for (int i = 0; i < a->n; i++) {
        if (!(left & (1u << i)) || !can_move(a, i, at))
            continue;
        int64_t from = at[i], own = own_us(a, i);
        at[i] = a->x[i];
        try_orders(a, at, left & ~(1u << i), a->x[i], us + travel_us(llabs(from - carriage), a->g->empty) + own,
                   rest_us - own);
        at[i] = from;
    }
}

static void start_orders(struct all *a, int64_t carriage)
{
    int64_t at[SITES_MAX], rest_us = 0;
    unsigned left = 0;
    for (int i = 0; i < a->n; i++) {
        at[i] = a->h[i].position_um;
        if (a->moved[i]) {
            left |= 1u << i;
            rest_us += own_us(a, i);
        }
    }
    try_orders(a, at, left, carriage, 0, rest_us);
}

/* ---- choices --------------------------------------------------------------------------------------------------- */

static void choose(struct all *a, int i, int j, int64_t carriage);

static void end_at(struct all *a, int i, int j, bool moved, int64_t x, int64_t counted, int64_t carriage)
{
    if (i > 0 && counted < a->counted[i - 1] + a->gap[i - 1])
        return;
    a->moved[i] = moved;
    a->x[i] = x;
    a->counted[i] = counted;
    choose(a, i + 1, j, carriage);
}

static void stay_idle(struct all *a, int i, int j, int64_t carriage)
{
    int64_t p = a->h[i].position_um, low = p - a->q->deadband_um;
    if (i > 0 && a->counted[i - 1] + a->gap[i - 1] > low)
        low = a->counted[i - 1] + a->gap[i - 1];
    while (low <= p + a->q->deadband_um && a->h[i].state != KR_HOLDER_FIXED && !may_rest(a, low))
        low++;
    if (low <= p + a->q->deadband_um)
        end_at(a, i, j, false, p, low, carriage);
}

static void cut(struct all *a, int i, int j, int64_t carriage)
{
    int64_t p = a->h[i].position_um;
    int64_t t = (int64_t)a->cuts->cut_um[j] + a->g->cut_side_um - a->h[i].edge_offset_um, turn = turn_of(a, i, t);
    if (t < a->g->min_um || t > a->g->max_um)
        return;
    if (llabs(t - p) <= a->q->deadband_um)
        end_at(a, i, j + 1, false, p, t, carriage);
    if (t != p && turn >= a->g->min_um && turn <= a->g->max_um)
        end_at(a, i, j + 1, true, t, t, carriage);
}

static void choose(struct all *a, int i, int j, int64_t carriage)
{
    a->work++;
    if (a->cuts->n_cuts - j > a->n - i || a->work > WORK_MAX)
        return;
    if (i == a->n) {
        start_orders(a, carriage);
        return;
    }
    if (j < a->cuts->n_cuts && a->h[i].state == KR_HOLDER_IN)
        cut(a, i, j, carriage);
    stay_idle(a, i, j, carriage);
    for (int k = 0; k < a->n_places[i] && a->h[i].state != KR_HOLDER_FIXED; k++)
        end_at(a, i, j, true, a->place[i][k], a->place[i][k], carriage);
}

int64_t plan_exhaustive(const struct kr_plan_request *q, const struct kr_cuts *cuts, int rail)
{
    static struct all a;
    const struct kr_rail_now *now = &q->rail[rail];
    memset(&a, 0, sizeof a);
    a.q = q;
    a.g = &q->geometry.rail[rail];
    a.cuts = cuts;
    a.best_us = INT64_MAX;
    for (int i = 0; i < a.g->n_holders; i++) {
        if (now->holder[i].state == KR_HOLDER_ABSENT)
            continue;
        if (a.n == SITES_MAX)
            return -2;
        a.h[a.n++] = now->holder[i];
    }
    for (int i = 0; i + 1 < a.n; i++) {
        const int32_t *c = q->geometry.size_spacing_um;
        a.gap[i] = ((int64_t)c[a.h[i].holder_size - 1] + c[a.h[i + 1].holder_size - 1] + 1) / 2;
        if (a.h[i + 1].position_um < a.h[i].position_um)
            return -1;
    }
    find_places(&a);
    choose(&a, 0, 0, now->carriage_um);
    if (a.work > WORK_MAX)
        return -2;
    return a.best_us == INT64_MAX ? -1 : a.best_us;
}
