#include "kniferail/plan.h"

#include <string.h>

#include "ahead.h"
#include "crowd.h"
#include "cuts.h"
#include "feasible.h"
#include "few.h"
#include "integers.h"

/* The memory in which one call works. */
struct workspace {
    struct rail rail[KR_RAILS_MAX], next;
    struct search_room search;
    struct ahead_room ahead;
    struct rooms rooms;
    struct solution solution[KR_RAILS_MAX];
    struct kr_cuts next_cuts;
    struct kr_plan plan; /* copied to the caller only when all rails are done */
};

size_t kr_plan_workspace_size(void)
{
    return sizeof(struct workspace);
}

/* ---- writing a rail's plan ------------------------------------------------------------------------------ */

static uint8_t reason_of(const struct rail *r, const struct choice *c, int i)
{
    int64_t p = r->at[i].p;
    if (!c->end[i].moved)
        return KR_WHY_NOT;
    if (c->ahead[i])
        return KR_WHY_NEXT;
    if (c->cut[i] != IDLE)
        return abs_i64(c->end[i].x - p) > r->deadband ? KR_WHY_CUT : KR_WHY_ROOM;
    return r->outside && p > r->web_left && p < r->web_right ? KR_WHY_CLEAR : KR_WHY_ROOM;
}

static void write_holders(const struct rail *r, const struct choice *c, const struct kr_rail_now *now,
                          uint16_t n_holders, struct kr_plan_rail *out)
{
    for (uint16_t i = 0; i < n_holders; i++)
        out->holder[i].target_um = now->holder[i].position_um;
    for (int i = 0; i < r->n; i++) {
        struct kr_plan_holder *h = &out->holder[r->at[i].index];
        h->cut = (uint16_t)(c->cut[i] + 1);
        h->moved = c->end[i].moved;
        h->reason = reason_of(r, c, i);
        if (h->moved || h->cut > 0)
            h->target_um = clamp_i32(c->end[i].x);
    }
}

static void write_after(const struct rail *r, const struct moves *m, int i, struct kr_move *out)
{
    int n = 0;
    if (m->link[i] < 0)
        out->after[n++] = (uint16_t)(r->at[i - 1].index + 1);
    if (m->link[i + 1] > 0)
        out->after[n] = (uint16_t)(r->at[i + 1].index + 1);
}

static void write_moves(const struct rail *r, const struct solution *s, const struct moves *m, struct kr_plan_rail *out)
{
    int64_t now_us = 0, carriage = r->carriage;
    out->n_moves = (uint16_t)m->n;
    for (int n = 0; n < m->n; n++) {
        struct kr_move *v = &out->move[n];
        int i = s->site[n];
        int64_t x = s->choice.end[i].x;
        v->holder = (uint16_t)(r->at[i].index + 1);
        v->from_um = clamp_i32(r->at[i].p);
        v->to_um = clamp_i32(x);
        v->start_us = now_us;
        now_us += kr_move_time_us(abs_i64(r->at[i].p - carriage), r->empty) + r->handling_us + rail_drag_us(r, i, x);
        v->end_us = now_us;
        write_after(r, m, i, v);
        carriage = x;
    }
    out->time_us = now_us;
}

/* Returns enough steps for the best plan of a small rail and a very good one of a large rail. If holders stand too near
 * to each other, more of them move, and the choice of a cutting holder changes which others move. If these are few, all
 * combinations of ends are tried. */
static int64_t default_steps(const struct rail *r)
{
    int64_t n = r->n, steps = 20000 + 7000 * n + 150 * n * n;
    if (few_is_there(r))
        return 1000000;
    return crowd_is_there(r) ? steps * 7 / 4 : steps;
}

/* ---- one rail ---------------------------------------------------------------------------------------------- */

static int64_t steps_for(const struct kr_plan_request *q, const struct rail *r)
{
    return q->budget_steps > 0 ? q->budget_steps : default_steps(r);
}

static struct kr_result search_one(struct workspace *w, const struct kr_plan_request *q, uint16_t rail)
{
    struct rail *r = &w->rail[rail];
    struct kr_plan_rail *out = &w->plan.rail[rail];
    rail_make(r, &q->geometry, &q->geometry.rail[rail], &q->rail[rail], &w->plan.cuts, q->park, q->deadband_um);
    struct kr_result result = feasible_judge(&w->rooms, r);
    result.rail = result.code == KR_OK ? 0 : (uint16_t)(rail + 1);
    if (result.code != KR_OK)
        return result;
    int64_t given = steps_for(q, r), steps = given;
    w->search.limit_us = 0;
    if (!search_rail(&w->search, r, &w->solution[rail], &out->bound_us, &steps))
        return (struct kr_result){.code = KR_SPACING, .rail = (uint16_t)(rail + 1)};
    out->time_us = w->solution[rail].time_us;
    w->plan.steps += (uint32_t)clamp_i32(given - steps);
    return result;
}

/* If dragging is faster than travelling empty, a holder that is dragged further may save more of an empty way than it
 * costs, and no bound over all choices is known. */
static bool drags_slower(const struct rail *r)
{
    return r->drag.v_um_per_s <= r->empty.v_um_per_s && r->drag.a_um_per_s2 <= r->empty.a_um_per_s2;
}

static void write_one(struct workspace *w, const struct kr_plan_request *q, uint16_t rail)
{
    const struct rail *r = &w->rail[rail];
    const struct solution *s = &w->solution[rail];
    struct kr_plan_rail *out = &w->plan.rail[rail];
    ways_reset(&w->search.ways, r);
    moves_make(&w->search.moves, r, &s->choice, &w->search.ways);
    write_holders(r, &s->choice, &q->rail[rail], q->geometry.rail[rail].n_holders, out);
    write_moves(r, s, &w->search.moves, out);
    out->sequence_bound_us = min_i64(out->time_us, s->bound_us);
    out->bound_us = drags_slower(r) ? min_i64(out->time_us, out->bound_us) : 0;
}

/* ---- all rails ----------------------------------------------------------------------------------------------- */

/* Prepares the faster rails for the next order: rails that move together may take as long as the slowest one. */
static void look_ahead(struct workspace *w, const struct kr_plan_request *q)
{
    if (kr_cuts_make(&q->geometry, &q->next, &w->next_cuts).code != KR_OK)
        return;
    int64_t slowest_us = 0;
    for (uint16_t i = 0; i < q->geometry.n_rails; i++)
        slowest_us = max_i64(slowest_us, w->solution[i].time_us);
    for (uint16_t i = 0; i < q->geometry.n_rails; i++) {
        int64_t limit_us = q->geometry.rails_together ? slowest_us : w->solution[i].time_us;
        rail_make(&w->next, &q->geometry, &q->geometry.rail[i], &q->rail[i], &w->next_cuts, false, q->deadband_um);
        ahead_settle(&w->ahead, &w->search, &w->rail[i], &w->next, limit_us, steps_for(q, &w->rail[i]),
                     &w->solution[i]);
    }
}

static void add_up(const struct kr_geometry *g, struct kr_plan *plan)
{
    for (uint16_t i = 0; i < g->n_rails; i++) {
        const struct kr_plan_rail *rail = &plan->rail[i];
        if (g->rails_together) {
            plan->time_us = max_i64(plan->time_us, rail->time_us);
            plan->bound_us = max_i64(plan->bound_us, rail->bound_us);
        } else {
            plan->time_us += rail->time_us;
            plan->bound_us += rail->bound_us;
        }
    }
}

struct kr_result kr_plan_make(const struct kr_plan_request *request, void *workspace, struct kr_plan *plan)
{
    struct workspace *w = workspace;
    memset(&w->plan, 0, sizeof w->plan);
    struct kr_result result = request->park ? web_edges(&request->geometry, &request->order, &w->plan.cuts)
                                            : kr_cuts_make(&request->geometry, &request->order, &w->plan.cuts);
    for (uint16_t i = 0; i < request->geometry.n_rails && result.code == KR_OK; i++)
        result = search_one(w, request, i);
    if (result.code != KR_OK)
        return result;
    if (request->next_known && !request->park)
        look_ahead(w, request);
    for (uint16_t i = 0; i < request->geometry.n_rails; i++)
        write_one(w, request, i);
    add_up(&request->geometry, &w->plan);
    *plan = w->plan;
    return result;
}
