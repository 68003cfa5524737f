#include "plan_rails.h"

#include <stdlib.h>
#include <string.h>

#include "plan_cases.h"

const char *const rails_name[RAILS_FAMILIES] = {
    "random", "shift",  "fan out", "fan in",   "interleaved", "few",    "outside", "crowded",
    "sparse", "states", "contact", "approach", "nothing",     "pushed", "pressed",
};

struct rails {
    uint64_t state;
    struct kr_plan_request *q;
    int n;          /* holders */
    int32_t length; /* of the rail */
};

static int32_t pick(struct rails *r, int32_t low, int32_t high)
{
    return cases_between(&r->state, low, high);
}

/* Invented machine figures: a quick one, a usual one, a slow one, one with weak acceleration. */
static void profile_of(int profile, struct kr_rail_geometry *g)
{
    static const struct kr_rail_geometry profiles[] = {
        {.empty = {1000000, 1000000}, .drag = {500000, 1000000}, .dock_us = 800000, .undock_us = 800000},
        {.empty = {600000, 800000}, .drag = {250000, 500000}, .dock_us = 1000000, .undock_us = 800000},
        {.empty = {200000, 400000}, .drag = {100000, 200000}, .dock_us = 1500000, .undock_us = 1500000},
        {.empty = {2000000, 300000}, .drag = {1000000, 200000}, .dock_us = 500000, .undock_us = 400000},
    };
    g->empty = profiles[profile].empty;
    g->drag = profiles[profile].drag;
    g->dock_us = profiles[profile].dock_us;
    g->undock_us = profiles[profile].undock_us;
}

static void geometry_of(struct rails *r, int family, int profile)
{
    struct kr_geometry *g = &r->q->geometry;
    int32_t room = family == RAILS_SPARSE ? 150000 : family == RAILS_CROWDED ? 29000 : pick(r, 40000, 90000);
    if (family == RAILS_STATES)
        room += 40000;
    r->length = r->n * room + 60000;
    g->n_rails = 1;
    g->n_sizes = 3;
    g->size_spacing_um[0] = 25400; /* 1, 2, 3 in: common practice, no published source */
    g->size_spacing_um[1] = 50800;
    g->size_spacing_um[2] = 76200;
    g->web_centre_um = r->length / 2;
    g->web_max_nm = (int64_t)r->length * 1000;
    g->trim_max_nm = g->web_max_nm;
    g->shift_max_um = r->length / 4;
    g->tolerance_max_um = 1000;
    g->rail[0].n_holders = (uint16_t)r->n;
    g->rail[0].max_um = r->length;
    profile_of(profile, &g->rail[0]);
    if (family == RAILS_APPROACH) {
        g->rail[0].approach = pick(r, 0, 1) ? 1 : -1;
        g->rail[0].overtravel_um = 2000;
    }
    if (family == RAILS_OUTSIDE) {
        g->idle_policy = KR_IDLE_OUTSIDE_WEB;
        g->idle_clearance_um = 10000;
    }
    r->q->deadband_um = 50;
}

static void holders_of(struct rails *r, int family)
{
    for (int i = 0; i < r->n; i++) {
        struct kr_holder *h = &r->q->rail[0].holder[i];
        h->holder_size = 1;
        if (family != RAILS_STATES)
            continue;
        h->holder_size = (uint8_t)(pick(r, 0, 3) ? 1 : 2);
        h->edge_offset_um = pick(r, 8000, 9500);
        if (pick(r, 0, 9) == 0)
            h->state = (uint8_t)pick(r, 1, 3);
    }
}

static int32_t spacing_after(const struct rails *r, int i)
{
    const struct kr_holder *h = r->q->rail[0].holder;
    return i + 1 < r->n ? kr_spacing_um(&r->q->geometry, h[i].holder_size, h[i + 1].holder_size) : 0;
}

/* Spreads holders 0 to n - 1 over the rail's middle share (percent), with random shares of what is spare. */
static void spread(struct rails *r, int32_t percent, int32_t jitter)
{
    int64_t weight[KR_HOLDERS_MAX + 1], sum = 0, need = 0;
    struct kr_holder *h = r->q->rail[0].holder;
    for (int i = 0; i < r->n; i++)
        need += spacing_after(r, i);
    int64_t spare = (r->length - need) * percent / 100, at = (r->length - need - spare) / 2;
    for (int i = 0; i <= r->n; i++)
        sum += weight[i] = pick(r, 100 - jitter, 100 + jitter);
    for (int i = 0; i < r->n; i++) {
        at += spare * weight[i] / sum;
        h[i].position_um = (int32_t)at;
        at += spacing_after(r, i);
    }
    r->q->rail[0].carriage_um = pick(r, 0, 1) ? 0 : pick(r, 0, r->length);
}

/* Stacks in contact: each holder touches the next, measured with up to 15 um of error. */
static void stack(struct rails *r)
{
    struct kr_holder *h = r->q->rail[0].holder;
    int32_t at = pick(r, 0, 20000);
    int64_t spare = r->length - at - (int64_t)(r->n - 1) * 25400;
    for (int i = 0; i < r->n; i++) {
        h[i].position_um = at + pick(r, -15, 15);
        at += 25400;
        if (pick(r, 0, 7) == 0 && spare > 100000) {
            int32_t jump = pick(r, 20000, (int32_t)(spare / 3));
            at += jump;
            spare -= jump;
        }
    }
    if (h[r->n - 1].position_um > r->length)
        h[r->n - 1].position_um = r->length;
}

/* Stacks whose holders stand nearer than their spacing, as hands push them: by a few millimetres, or by half of it;
 * all of them, or one in three. */
static void push(struct rails *r, int32_t stacks)
{
    struct kr_holder *h = r->q->rail[0].holder;
    int32_t nearest = pick(r, 0, 1) ? 23400 : 12700, one_in = pick(r, 1, 3), at = 0;
    int64_t spare = r->length - (int64_t)r->n * 26000;
    for (int i = 0; i < r->n; i++) {
        if (i == 0 || pick(r, 1, r->n) < stacks) {
            int32_t jump = pick(r, 0, (int32_t)(spare / 2));
            at += jump;
            spare -= jump;
        }
        h[i].position_um = at;
        at += pick(r, 1, one_in) == 1 ? pick(r, nearest, 25400) : pick(r, 25400, 26000);
    }
    r->q->rail[0].carriage_um = pick(r, 0, 1) ? 0 : pick(r, 0, r->length);
}

static int cuts_of(struct rails *r, int family)
{
    int usable = 0;
    for (int i = 0; i < r->n; i++)
        usable += r->q->rail[0].holder[i].state == KR_HOLDER_IN;
    switch (family) {
    case RAILS_INTERLEAVED: return usable / 2;
    case RAILS_FEW:
    case RAILS_PRESSED: return usable / 5 + 2;
    case RAILS_PUSHED: return usable - pick(r, usable / 4, usable * 3 / 4);
    case RAILS_OUTSIDE: return usable * 2 / 3;
    case RAILS_SHIFT:
    case RAILS_FAN_IN:
    case RAILS_FAN_OUT: return usable;
    default: return usable - pick(r, 0, usable / 3);
    }
}

static void order_of(struct rails *r, int family, int n_cuts)
{
    struct kr_order *o = &r->q->order;
    int64_t weight[KR_SLITS_MAX], sum = 0, used = 0;
    bool same = family == RAILS_SHIFT || family == RAILS_FAN_IN || family == RAILS_FAN_OUT;
    int32_t widest = r->length - 10000;
    if (family == RAILS_FAN_IN || family == RAILS_SHIFT || family == RAILS_OUTSIDE)
        widest = n_cuts * 26000 + (widest - n_cuts * 26000) / 2;
    o->n_slits = (uint16_t)(n_cuts - 1);
    for (int i = 0; i < o->n_slits; i++)
        sum += weight[i] = same ? 100 : pick(r, 1, 100);
    int64_t least = family == RAILS_STATES ? 40000 : 25400, spare = widest - least * o->n_slits;
    spare = spare < 0 ? 0 : spare * pick(r, 60, 100) / 100;
    for (int i = 0; i < o->n_slits; i++) {
        int64_t um = least + spare * weight[i] / sum;
        o->width_nm[i] = um * 1000;
        used += um;
    }
    o->web_width_nm = (used + 2000) * 1000;
    if (family == RAILS_SHIFT)
        o->shift_nm = (int64_t)pick(r, -(widest - (int32_t)used) / 2, r->length / 12) * 1000;
}

/* Puts the first cutting holders near their cuts, so that little or nothing is left to do. */
static void place_near(struct rails *r)
{
    struct kr_cuts cuts;
    if (kr_cuts_make(&r->q->geometry, &r->q->order, &cuts).code != KR_OK)
        return;
    for (int i = 0, last = cuts.n_cuts - 1; i < r->n; i++) {
        int32_t beyond = i > last ? (i - last) * 30000 : 0;
        r->q->rail[0].holder[i].position_um = cuts.cut_um[i > last ? last : i] + beyond + pick(r, -20, 20);
    }
}

bool rails_make(int family, int n_holders, int profile, uint64_t seed, struct kr_plan_request *q)
{
    struct rails r = {.state = seed * 1000003 + (uint64_t)(family * 8 + profile) * 7919, .q = q, .n = n_holders};
    struct kr_plan plan;
    memset(q, 0, sizeof *q);
    geometry_of(&r, family, profile);
    holders_of(&r, family);
    if (family == RAILS_CONTACT)
        stack(&r);
    else if (family == RAILS_PUSHED)
        push(&r, 6);
    else if (family == RAILS_PRESSED)
        push(&r, 1);
    else
        spread(&r, family == RAILS_FAN_OUT ? 40 : 96, family == RAILS_SHIFT || family == RAILS_FAN_OUT ? 2 : 95);
    int n_cuts = cuts_of(&r, family);
    if (n_cuts < 2)
        return false;
    order_of(&r, family, n_cuts);
    if (family == RAILS_NOTHING)
        place_near(&r);
    void *workspace = malloc(kr_plan_workspace_size());
    q->budget_steps = 1;
    bool can = workspace != NULL && kr_plan_make(q, workspace, &plan).code == KR_OK;
    q->budget_steps = 0;
    free(workspace);
    return can;
}
