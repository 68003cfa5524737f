#include "plan_cases.h"

#include <string.h>

uint64_t cases_next(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

int32_t cases_between(uint64_t *state, int32_t low, int32_t high)
{
    uint64_t span = (uint64_t)((int64_t)high - low) + 1;
    return (int32_t)((int64_t)low + (int64_t)(cases_next(state) % span));
}

static bool one_in(uint64_t *s, int32_t n)
{
    return cases_between(s, 1, n) == 1;
}

/* Coarse places make exact contacts likely. */
static int32_t grain(uint64_t *s, int32_t low, int32_t high, int32_t step)
{
    return cases_between(s, low / step, high / step) * step;
}

static void random_rail(uint64_t *s, struct kr_rail_geometry *g, int most_holders, int32_t length)
{
    static const struct kr_speed speeds[] = {
        {1000000, 1000000}, {500000, 1000000}, {250000, 2000000}, {2000000, 500000}, {100000, 100000},
    };
    g->n_holders = (uint16_t)cases_between(s, 1, most_holders);
    g->min_um = grain(s, -20000, 20000, 1000);
    g->max_um = g->min_um + length;
    g->cut_side_um = one_in(s, 3) ? cases_between(s, -200, 200) : 0;
    g->empty = speeds[cases_between(s, 0, 4)];
    g->drag = one_in(s, 3) ? g->empty : speeds[cases_between(s, 1, 4)];
    g->dock_us = cases_between(s, 0, 1500000);
    g->undock_us = cases_between(s, 0, 1500000);
    if (g->dock_us % 4 == 0) { /* one rail in four */
        g->setpoint_us = g->undock_us / 10;
        g->rounding_us = g->dock_us / 20;
    }
    if (one_in(s, 3)) {
        g->approach = one_in(s, 2) ? 1 : -1;
        g->overtravel_um = grain(s, 0, 5000, 500);
    }
}

static void random_geometry(uint64_t *s, struct kr_geometry *g, int most_holders, int32_t length)
{
    /* 1, 2, 3 in: common practice, no published source */
    static const int32_t inch[3] = {25400, 50800, 76200};
    g->n_rails = (uint16_t)(one_in(s, 3) ? 2 : 1);
    g->rails_together = !one_in(s, 4);
    g->n_sizes = 3;
    memcpy(g->size_spacing_um, inch, sizeof inch);
    for (uint16_t i = 0; i < g->n_rails; i++) {
        g->rail[i].role = i == 0 ? KR_UPPER : KR_LOWER;
        random_rail(s, &g->rail[i], most_holders, length);
    }
    g->web_centre_um = length / 2 + grain(s, -30000, 30000, 1000);
    g->web_max_nm = (int64_t)(length + 100000) * 1000;
    g->trim_max_nm = INT64_C(400000000);
    g->shift_max_um = 50000;
    g->compensation_max_ppm = 20000;
    g->tolerance_um = 200; /* 0.2 mm: common practice, no published source */
    g->tolerance_max_um = 1000;
    g->idle_policy = one_in(s, 3) ? KR_IDLE_OUTSIDE_WEB : KR_IDLE_ANYWHERE;
    g->idle_clearance_um = grain(s, 0, 10000, 1000);
}

/* Stands the holders from left to right with spare room shared out at random; some too near. */
static void random_now(uint64_t *s, const struct kr_geometry *g, const struct kr_rail_geometry *rg, int32_t deadband,
                       struct kr_rail_now *now)
{
    bool mixed = one_in(s, 3), tight = one_in(s, 4), offsets = one_in(s, 3);
    int32_t step = one_in(s, 2) ? 100 : 1, at = rg->min_um + grain(s, 0, 40000, step);
    int32_t spare = (rg->max_um - rg->min_um) / (rg->n_holders + 1);
    for (uint16_t i = 0; i < rg->n_holders; i++) {
        struct kr_holder *h = &now->holder[i];
        h->holder_size = (uint8_t)(mixed ? cases_between(s, 1, 3) : 1);
        h->edge_offset_um = offsets ? cases_between(s, -3000, 3000) : 0;
        h->state = (uint8_t)(one_in(s, 8) ? cases_between(s, 1, 3) : KR_HOLDER_IN);
        if (i > 0)
            at += kr_spacing_um(g, now->holder[i - 1].holder_size, h->holder_size);
        if (!tight || one_in(s, 4))
            at += grain(s, 0, spare, step);
        if (one_in(s, 8))
            at -= cases_between(s, 0, 2 * deadband + 20);
        h->position_um = at;
    }
    now->carriage_um = grain(s, rg->min_um, rg->max_um, step);
}

static void random_order(uint64_t *s, const struct kr_geometry *g, int most_cuts, struct kr_order *o)
{
    o->edge_flags = (uint16_t)(one_in(s, 4) ? cases_between(s, 0, 2) : 0);
    o->n_slits = (uint16_t)cases_between(s, 1, most_cuts > 1 ? most_cuts - 1 : 1);
    o->alignment = (uint16_t)(one_in(s, 3) ? KR_FROM_OPERATOR_EDGE : KR_CENTRED);
    o->compensation_ppm = one_in(s, 3) ? cases_between(s, -5000, 5000) : 0;
    o->shift_nm = one_in(s, 3) ? (int64_t)cases_between(s, -20000000, 20000000) : 0;
    int32_t widest = (int32_t)(g->web_max_nm / 1000) / (o->n_slits + 1);
    int64_t sum = 0;
    for (uint16_t i = 0; i < o->n_slits; i++) {
        int32_t um = one_in(s, 3) ? cases_between(s, 25000, 26000) : cases_between(s, 25000, widest + 25000);
        if (one_in(s, 4))
            um = 25400;
        o->width_nm[i] = (int64_t)um * 1000 + (one_in(s, 4) ? cases_between(s, -500, 500) : 0);
        sum += o->width_nm[i];
    }
    o->trim_nm = (int64_t)grain(s, 0, 60000, 500) * 1000;
    o->web_width_nm = sum + sum / 100 + (int64_t)cases_between(s, 0, 80000) * 2000;
    if (o->web_width_nm > g->web_max_nm)
        o->web_width_nm = g->web_max_nm;
}

void cases_any(uint64_t seed, int most_holders, struct kr_plan_request *q)
{
    uint64_t state = seed, *s = &state;
    memset(q, 0, sizeof *q);
    int32_t length = most_holders * grain(s, 30000, 150000, 5000) + 50000;
    random_geometry(s, &q->geometry, most_holders, length);
    q->deadband_um = one_in(s, 2) ? cases_between(s, 0, 200) : 50;
    q->park = one_in(s, 10);
    int fewest = most_holders;
    for (uint16_t i = 0; i < q->geometry.n_rails; i++) {
        const struct kr_rail_geometry *rg = &q->geometry.rail[i];
        random_now(s, &q->geometry, rg, q->deadband_um, &q->rail[i]);
        fewest = rg->n_holders < fewest ? rg->n_holders : fewest;
    }
    random_order(s, &q->geometry, one_in(s, 10) ? most_holders : fewest, &q->order);
    /* Now and then most holders already stand where they should. */
    struct kr_cuts cuts;
    if (one_in(s, 4) && !q->park && kr_cuts_make(&q->geometry, &q->order, &cuts).code == KR_OK) {
        for (uint16_t i = 0; i < q->geometry.rail[0].n_holders && i < cuts.n_cuts; i++) {
            struct kr_holder *h = &q->rail[0].holder[i];
            int32_t off = cases_between(s, -q->deadband_um, q->deadband_um);
            h->position_um = cuts.cut_um[i] + q->geometry.rail[0].cut_side_um - h->edge_offset_um + off;
        }
    }
}

static void push(uint64_t *s, const struct kr_geometry *g, const struct kr_rail_geometry *rg, struct kr_rail_now *now)
{
    int32_t before = now->holder[0].position_um;
    for (uint16_t i = 1; i < rg->n_holders; i++) {
        struct kr_holder *h = &now->holder[i], *left = &now->holder[i - 1];
        int32_t need = kr_spacing_um(g, left->holder_size, h->holder_size), apart = h->position_um - before;
        int32_t pushed = cases_between(s, need / 4, need);
        before = h->position_um;
        h->position_um = left->position_um + (one_in(s, 3) || pushed > apart ? apart : pushed);
    }
}

void cases_pushed(uint64_t seed, int most_holders, struct kr_plan_request *q)
{
    uint64_t state = ~seed;
    cases_any(seed, most_holders, q);
    for (uint16_t i = 0; i < q->geometry.n_rails; i++)
        push(&state, &q->geometry, &q->geometry.rail[i], &q->rail[i]);
}
