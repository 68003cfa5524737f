#include "kniferail/plan.h"

#include <string.h>

#include "assign.h"
#include "choice.h"
#include "feasible.h"
#include "order.h"
#include "whole.h"

/* What one call works in. */
struct workspace {
    struct rail rail;
    struct assign assign;
    struct choice choice;
    struct moves moves;
    int16_t order[KR_HOLDERS_MAX];
    struct kr_plan plan; /* becomes the caller's only when all rails are done */
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

static void write_move(const struct rail *r, const struct moves *m, int k, int64_t way_us,
                       struct kr_move *out)
{
    const struct site *s = &r->at[m->site[k]];
    int n = 0;
    out->holder = (uint16_t)(s->index + 1);
    out->from_um = clamp_i32(s->p);
    out->to_um = clamp_i32(m->x[k]);
    out->end_us = out->start_us + way_us + r->handling_us + rail_drag_us(r, m->site[k], m->x[k]);
    if (m->first[k] < 0)
        out->after[n++] = (uint16_t)(r->at[m->site[k - 1]].index + 1);
    if (k + 1 < m->n && m->first[k + 1] > 0)
        out->after[n] = (uint16_t)(r->at[m->site[k + 1]].index + 1);
}

static void write_moves(const struct rail *r, const struct moves *m, const int16_t order[],
                        struct kr_plan_rail *out)
{
    int64_t now_us = 0;
    out->n_moves = (uint16_t)m->n;
    for (int s = 0; s < m->n; s++) {
        int k = order[s];
        out->move[s].start_us = now_us;
        write_move(r, m, k, s == 0 ? m->start_us[k] : m->way_us[order[s - 1]][k], &out->move[s]);
        now_us = out->move[s].end_us;
    }
    out->time_us = now_us;
}

/* ---- one rail ---------------------------------------------------------------------------------------------- */

static struct kr_result plan_rail(struct workspace *w, const struct kr_plan_request *q, uint16_t rail)
{
    const struct kr_rail_geometry *rg = &q->geometry.rail[rail];
    struct kr_plan_rail *out = &w->plan.rail[rail];
    rail_make(&w->rail, &q->geometry, rg, &q->rail[rail], &w->plan.cuts, q->park, q->deadband_um);
    struct kr_result result = feasible_judge(&w->rail);
    result.rail = result.code == KR_OK ? 0 : (uint16_t)(rail + 1);
    if (result.code != KR_OK)
        return result;
    assign_costs(&w->assign, &w->rail, 1000);
    if (!assign_best(&w->assign, &w->rail, &w->choice) || !choice_settle(&w->rail, &w->choice))
        return (struct kr_result){.code = KR_SPACING, .rail = (uint16_t)(rail + 1)};
    moves_make(&w->moves, &w->rail, &w->choice);
    order_find(&w->moves, w->order, &w->plan.steps);
    write_holders(&w->rail, &w->choice, &q->rail[rail], rg->n_holders, out);
    write_moves(&w->rail, &w->moves, w->order, out);
    out->order_bound_us = out->bound_us = 0;
    return result;
}

/* ---- all rails ----------------------------------------------------------------------------------------------- */

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
    struct kr_result result = request->park
                                  ? web_edges(&request->geometry, &request->order, &w->plan.cuts)
                                  : kr_cuts_make(&request->geometry, &request->order, &w->plan.cuts);
    for (uint16_t i = 0; i < request->geometry.n_rails && result.code == KR_OK; i++)
        result = plan_rail(w, request, i);
    if (result.code != KR_OK)
        return result;
    add_up(&request->geometry, &w->plan);
    *plan = w->plan;
    return result;
}
