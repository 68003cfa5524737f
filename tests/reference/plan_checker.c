#include "plan_checker.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

__extension__ typedef __int128 wide;

static char reason[200];

static const char *wrong(const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(reason, sizeof reason, format, args);
    va_end(args);
    return reason;
}

/* ---- cut lines, once more and another way: from both ends in 128 bits ------------------------------------- */

static wide halves_up(wide a, wide b) /* a / b to nearest, b > 0 */
{
    wide n = 2 * a + b, d = 2 * b, q = n / d;
    return n % d < 0 ? q - 1 : q;
}

/* Edge k of the slits in um: everything over 2e9 (half nm times million). */
static wide edge_um(const struct kr_geometry *g, const struct kr_order *o, int k)
{
    wide sum = 0, all = 0, p = 1000000 + o->compensation_ppm;
    wide centre = (wide)g->web_centre_um * 1000 + o->shift_nm;
    for (int i = 0; i < o->n_slits; i++) {
        all += o->width_nm[i];
        if (i < k)
            sum += o->width_nm[i];
    }
    wide left = 2000000 * centre - (wide)1000000 * o->web_width_nm; /* the web's operator edge */
    wide right = 2000000 * centre + (wide)1000000 * o->web_width_nm;
    if (o->edge_flags & KR_UNTRIMMED_OPERATOR)
        return halves_up(left + 2 * p * sum, 2000000000);
    if (o->edge_flags & KR_UNTRIMMED_DRIVE)
        return halves_up(right - 2 * p * (all - sum), 2000000000);
    if (o->alignment == KR_FROM_OPERATOR_EDGE)
        return halves_up(left + 2000000 * (wide)o->trim_nm + 2 * p * sum, 2000000000);
    return halves_up(2000000 * centre + p * (2 * sum - all), 2000000000);
}

const char *plan_checker_cuts(const struct kr_plan_request *q, const struct kr_cuts *c)
{
    const struct kr_order *o = &q->order;
    int n = 0;
    if (q->park)
        return c->n_cuts == 0 ? NULL : wrong("a park has %u cuts", c->n_cuts);
    for (int k = 0; k <= o->n_slits; k++) {
        if ((k == 0 && (o->edge_flags & KR_UNTRIMMED_OPERATOR)) ||
            (k == o->n_slits && (o->edge_flags & KR_UNTRIMMED_DRIVE)))
            continue;
        if (n >= c->n_cuts || c->cut_um[n] != edge_um(&q->geometry, o, k))
            return wrong("cut %d is at %d, not %d", n + 1, c->cut_um[n], (int)edge_um(&q->geometry, o, k));
        n++;
    }
    return n == c->n_cuts ? NULL : wrong("%u cuts instead of %d", c->n_cuts, n);
}

/* ---- one rail ------------------------------------------------------------------------------------------------ */

struct stand {
    const struct kr_plan_request *q;
    const struct kr_rail_geometry *g;
    const struct kr_rail_now *now;
    const struct kr_plan_rail *plan;
    const struct kr_cuts *cuts;
    int n, who[KR_HOLDERS_MAX]; /* holders on the rail, from 0 */
    int64_t at[KR_HOLDERS_MAX]; /* where they are at the moment, by who[] */
};

static int64_t spacing(const struct stand *s, int a, int b)
{
    const int32_t *c = s->q->geometry.size_spacing_um;
    int64_t sum = (int64_t)c[s->now->holder[s->who[a]].holder_size - 1] + c[s->now->holder[s->who[b]].holder_size - 1];
    return (sum + 1) / 2;
}

static bool rests_outside(const struct stand *s)
{
    return s->q->park || s->q->geometry.idle_policy == KR_IDLE_OUTSIDE_WEB;
}

static bool may_rest(const struct stand *s, int64_t x)
{
    int64_t clear = s->q->geometry.idle_clearance_um;
    if (x < s->g->min_um || x > s->g->max_um)
        return false;
    return !rests_outside(s) || x <= s->cuts->web_left_um - clear || x >= s->cuts->web_right_um + clear;
}

static const char *check_cutters(const struct stand *s)
{
    int next = 1;
    for (int k = 0; k < s->n; k++) {
        const struct kr_plan_holder *h = &s->plan->holder[s->who[k]];
        const struct kr_holder *at = &s->now->holder[s->who[k]];
        if (h->cut == 0)
            continue;
        if (h->cut != next++)
            return wrong("holder %d makes cut %u out of turn", s->who[k] + 1, h->cut);
        if (at->state != KR_HOLDER_IN)
            return wrong("holder %d cuts but is not in service", s->who[k] + 1);
        int64_t target = (int64_t)s->cuts->cut_um[h->cut - 1] + s->g->cut_side_um - at->edge_offset_um;
        if (h->target_um != target)
            return wrong("holder %d has target %d, not %d", s->who[k] + 1, h->target_um, (int)target);
        if (target < s->g->min_um || target > s->g->max_um)
            return wrong("holder %d is to cut beyond the rail", s->who[k] + 1);
        if (!h->moved && llabs(target - at->position_um) > s->q->deadband_um)
            return wrong("holder %d stays out of its deadband", s->who[k] + 1);
    }
    return next - 1 == s->cuts->n_cuts ? NULL : wrong("%d of %u cuts are made", next - 1, s->cuts->n_cuts);
}

/* Least-first: if the least places fit, some places fit. */
static const char *check_arrangement(const struct stand *s)
{
    int64_t last = INT64_MIN / 2;
    for (int k = 0; k < s->n; k++) {
        const struct kr_plan_holder *h = &s->plan->holder[s->who[k]];
        const struct kr_holder *at = &s->now->holder[s->who[k]];
        int64_t low = at->position_um - (int64_t)s->q->deadband_um, high = 2 * (int64_t)at->position_um - low;
        if (h->moved || h->cut > 0)
            low = high = h->target_um;
        int64_t x = k == 0 ? low : last + spacing(s, k - 1, k);
        x = x < low ? low : x;
        if (h->cut == 0 && at->state != KR_HOLDER_FIXED) {
            while (x <= high && !may_rest(s, x))
                x++;
        }
        if (x > high)
            return wrong("holder %d has no legal place in the end (needs %d, has %d)", s->who[k] + 1, (int)x,
                         (int)high);
        last = x;
    }
    return NULL;
}

static int find(const struct stand *s, int holder)
{
    for (int k = 0; k < s->n; k++) {
        if (s->who[k] == holder - 1)
            return k;
    }
    return -1;
}

static int64_t travel_us(double d, struct kr_speed v)
{
    double top = v.v_um_per_s, a = v.a_um_per_s2;
    double t = d >= top * top / a ? d / top + top / a : 2 * sqrt(d / a);
    return llround(t * 1e6);
}

static const char *check_sweep(const struct stand *s, int k, int64_t to)
{
    int64_t from = s->at[k], low = from < to ? from : to, high = from < to ? to : from, turn = to;
    if (s->g->approach > 0 && to < from)
        turn = low = to - s->g->overtravel_um;
    if (s->g->approach < 0 && to > from)
        turn = high = to + s->g->overtravel_um;
    if (to < s->g->min_um || to > s->g->max_um || turn < s->g->min_um || turn > s->g->max_um)
        return wrong("holder %d is moved beyond the rail", s->who[k] + 1);
    if (k > 0) {
        int64_t need = spacing(s, k - 1, k), found = from - s->at[k - 1];
        if (low - s->at[k - 1] < (found < need ? found : need))
            return wrong("holder %d comes too near to its left neighbour", s->who[k] + 1);
    }
    if (k + 1 < s->n) {
        int64_t need = spacing(s, k, k + 1), found = s->at[k + 1] - from;
        if (s->at[k + 1] - high < (found < need ? found : need))
            return wrong("holder %d comes too near to its right neighbour", s->who[k] + 1);
    }
    return NULL;
}

/* What each way takes besides its profile: to the holder, and one or two with it. */
static int64_t way_us(const struct stand *s)
{
    return (int64_t)s->g->setpoint_us + s->g->rounding_us;
}

/* How long a move drags, there and back where the approach wants it. */
static int64_t drag_us(const struct stand *s, int64_t from, int64_t to)
{
    bool back = (s->g->approach > 0 && to < from) || (s->g->approach < 0 && to > from);
    double d = (double)llabs(to - from), over = s->g->overtravel_um;
    int64_t turns_us = over > 0 ? way_us(s) : 0;
    return back ? travel_us(d + over, s->g->drag) + travel_us(over, s->g->drag) + turns_us : travel_us(d, s->g->drag);
}

/* Replays the moves; skip is a holder whose move is left out, 0 for none. */
static const char *replay(struct stand *s, int skip)
{
    bool done[KR_HOLDERS_MAX + 1] = {false};
    int64_t carriage = s->now->carriage_um, us = 0;
    for (int k = 0; k < s->n; k++)
        s->at[k] = s->now->holder[s->who[k]].position_um;
    for (int m = 0; m < s->plan->n_moves; m++) {
        const struct kr_move *v = &s->plan->move[m];
        int k = find(s, v->holder);
        if (v->holder == skip)
            continue;
        if (k < 0 || done[v->holder] || s->now->holder[v->holder - 1].state == KR_HOLDER_FIXED)
            return wrong("move %d: holder %u can't be moved (again)", m + 1, v->holder);
        if (v->from_um != s->at[k] || v->to_um != s->plan->holder[v->holder - 1].target_um || v->from_um == v->to_um)
            return wrong("move %d goes from %d to %d", m + 1, v->from_um, v->to_um);
        const char *bad = check_sweep(s, k, v->to_um);
        if (bad != NULL)
            return bad;
        for (int a = 0; a < 2 && skip == 0; a++) {
            if (v->after[a] > KR_HOLDERS_MAX || (v->after[a] > 0 && !done[v->after[a]]))
                return wrong("move %d comes before that of holder %u", m + 1, v->after[a]);
        }
        if (skip == 0 && v->start_us != us)
            return wrong("move %d starts at the wrong time", m + 1);
        us += travel_us((double)llabs(v->from_um - carriage), s->g->empty) + s->g->dock_us +
              drag_us(s, v->from_um, v->to_um) + s->g->undock_us + 2 * way_us(s);
        if (skip == 0 && v->end_us != us)
            return wrong("move %d ends at %lld, not %lld", m + 1, (long long)v->end_us, (long long)us);
        carriage = s->at[k] = v->to_um;
        done[v->holder] = true;
    }
    for (int i = 1; i <= s->g->n_holders && skip == 0; i++) {
        if (done[i] != (s->plan->holder[i - 1].moved != 0))
            return wrong("holder %d: moved is %d", i, s->plan->holder[i - 1].moved);
        if (!done[i] && s->plan->holder[i - 1].cut == 0 &&
            s->plan->holder[i - 1].target_um != s->now->holder[i - 1].position_um)
            return wrong("holder %d rests but has another target", i);
    }
    if (skip == 0 && s->plan->time_us != us)
        return wrong("the rail takes %lld us, not %lld", (long long)s->plan->time_us, (long long)us);
    return NULL;
}

/* A move is needless if all the rest is as sound without it. */
static const char *check_need(struct stand *s)
{
    struct kr_plan_rail less;
    const struct kr_plan_rail *whole = s->plan;
    for (int m = 0; m < whole->n_moves; m++) {
        int holder = whole->move[m].holder;
        less = *whole;
        struct kr_plan_holder *h = &less.holder[holder - 1];
        int32_t p = s->now->holder[holder - 1].position_um;
        h->moved = 0;
        if (h->cut == 0)
            h->target_um = p;
        s->plan = &less;
        bool sound = check_cutters(s) == NULL && check_arrangement(s) == NULL && replay(s, holder) == NULL;
        s->plan = whole;
        bool ahead = s->q->next_known && whole->holder[holder - 1].reason == KR_WHY_NEXT;
        if (sound && !ahead)
            return wrong("the move of holder %d is needless", holder);
    }
    return NULL;
}

static const char *check_rail(const struct kr_plan_request *q, const struct kr_plan *plan, int rail)
{
    struct stand s = {
        .q = q, .g = &q->geometry.rail[rail], .now = &q->rail[rail], .plan = &plan->rail[rail], .cuts = &plan->cuts};
    for (int i = 0; i < s.g->n_holders; i++) {
        if (s.now->holder[i].state != KR_HOLDER_ABSENT)
            s.who[s.n++] = i;
        else if (s.plan->holder[i].moved || s.plan->holder[i].cut)
            return wrong("holder %d is absent but used", i + 1);
    }
    const char *bad = check_cutters(&s);
    if (bad == NULL)
        bad = check_arrangement(&s);
    if (bad == NULL)
        bad = replay(&s, 0);
    if (bad == NULL)
        bad = check_need(&s);
    if (bad == NULL && (s.plan->sequence_bound_us > s.plan->time_us || s.plan->bound_us > s.plan->time_us))
        return wrong("bounds %lld and %lld lie above the time %lld", (long long)s.plan->sequence_bound_us,
                     (long long)s.plan->bound_us, (long long)s.plan->time_us);
    return bad;
}

const char *plan_checker(const struct kr_plan_request *q, const struct kr_plan *plan)
{
    int64_t longest = 0, sum = 0;
    const char *bad = plan_checker_cuts(q, &plan->cuts);
    for (int i = 0; i < q->geometry.n_rails && bad == NULL; i++) {
        bad = check_rail(q, plan, i);
        sum += plan->rail[i].time_us;
        longest = plan->rail[i].time_us > longest ? plan->rail[i].time_us : longest;
    }
    if (bad == NULL && plan->time_us != (q->geometry.rails_together ? longest : sum))
        return wrong("the changeover takes %lld us", (long long)plan->time_us);
    if (bad == NULL && plan->bound_us > plan->time_us)
        return wrong("the changeover's bound lies above its time");
    return bad;
}
