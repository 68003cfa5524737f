#include "sim/flagswitch.h"

#include <math.h>

#include "sim/draw.h"

#define NEVER 2.0 /* a fraction that is beyond the end of the sub-step */

/* ---- the flags ----------------------------------------------------------------------------------------- */

/* The position of the sensing face relative to one flag, at both ends of the sub-step. */
struct pass {
    double from_um, to_um;
};

struct sweep {
    double face_from_um, face_to_um;
    int16_t travelling; /* the docked holder */
    double holder_from_um;
    const struct sim_rail_config *config;
};

struct first {
    int16_t flag;
    double when;
};

/* The flags are numbered: first holders, then foreign flags, then references. */
static int16_t first_reference(const struct sim_rail *rail)
{
    return (int16_t)(rail->n_holders + SIM_FOREIGN_MAX);
}

/* Returns the place and apparent width of a flag that is not a holder's. */
static struct sim_reference_config fixed_flag(const struct sim_switch *sw, const struct sim_rail *rail,
                                              const struct sim_rail_config *config, int16_t flag)
{
    int i = flag - first_reference(rail);
    if (i < 0)
        return (struct sim_reference_config){sw->foreign_um[flag - rail->n_holders], config->flag_width_um};
    struct sim_reference_config reference = config->reference[i];
    reference.at_um += sw->reference_dirt_um[i] / 2;
    reference.width_um += sw->reference_dirt_um[i];
    return reference;
}

static double reach_um(const struct sim_switch *sw, const struct sim_rail *rail, const struct sim_rail_config *config,
                       int16_t flag)
{
    if (flag < rail->n_holders)
        return config->flag_width_um / 2.0;
    return fixed_flag(sw, rail, config, flag).width_um / 2.0;
}

static struct pass pass_of(const struct sim_switch *sw, const struct sim_rail *rail, const struct sweep *s,
                           int16_t flag)
{
    if (flag >= rail->n_holders) {
        double at_um = fixed_flag(sw, rail, s->config, flag).at_um;
        return (struct pass){s->face_from_um - at_um, s->face_to_um - at_um};
    }
    double to_um = rail->holder[flag].at_um;
    double from_um = flag == s->travelling ? s->holder_from_um : to_um;
    return (struct pass){s->face_from_um - from_um, s->face_to_um - to_um};
}

/* Returns when, after `since`, the face comes within reach of the flag, as a fraction of the sub-step. */
static double entry(struct pass p, double within_um, double since)
{
    double by_um = p.to_um - p.from_um;
    double now_um = p.from_um + by_um * since;
    if (fabs(now_um) < within_um)
        return since;
    double edge_um = now_um > 0 ? within_um : -within_um;
    double when = by_um == 0 ? NEVER : (edge_um - p.from_um) / by_um;
    return when > since && when <= 1 ? when : NEVER;
}

/* Returns when the face leaves the reach of the flag again. */
static double leave(struct pass p, double within_um, double since)
{
    double by_um = p.to_um - p.from_um;
    double now_um = p.from_um + by_um * since;
    if (fabs(now_um) > within_um)
        return since;
    double edge_um = by_um > 0 ? within_um : -within_um;
    double when = by_um == 0 ? NEVER : (edge_um - p.from_um) / by_um;
    return when >= since && when < 1 ? when : NEVER;
}

static bool is_flag(const struct sim_switch *sw, const struct sim_rail *rail, int16_t flag)
{
    if (flag >= first_reference(rail))
        return sw->sees_references && !(sw->references_missing >> (flag - first_reference(rail)) & 1u);
    if (flag >= rail->n_holders)
        return flag < rail->n_holders + sw->n_foreign;
    return flag != SIM_NOBODY && rail->holder[flag].present && !rail->holder[flag].flag_missing;
}

/* Holders keep their sequence, so the nearest one is found by starting from the last nearest one. */
static int16_t nearest_holder(const struct sim_rail *rail, int16_t near, double face_um)
{
    while (near != SIM_NOBODY) {
        const struct sim_holder *h = &rail->holder[near];
        int16_t next = h->left;
        if (face_um > h->at_um)
            next = h->right;
        if (next == SIM_NOBODY || fabs(rail->holder[next].at_um - face_um) >= fabs(h->at_um - face_um))
            break;
        near = next;
    }
    return near;
}

static void look_at(const struct sim_switch *sw, const struct sim_rail *rail, const struct sweep *s, int16_t flag,
                    double since, struct first *first)
{
    if (!is_flag(sw, rail, flag))
        return;
    double t = entry(pass_of(sw, rail, s, flag), reach_um(sw, rail, s->config, flag), since);
    if (t < first->when)
        *first = (struct first){flag, t};
}

/* Returns the first flag that the face meets. Its travel in one sub-step is far smaller than the gap between two
 * holders, so it can only meet the nearest holder and those beside it. */
static struct first next_flag(const struct sim_switch *sw, const struct sim_rail *rail, const struct sweep *s,
                              double since)
{
    struct first first = {SIM_NOBODY, NEVER};
    if (sw->near != SIM_NOBODY) {
        look_at(sw, rail, s, rail->holder[sw->near].left, since, &first);
        look_at(sw, rail, s, sw->near, since, &first);
        look_at(sw, rail, s, rail->holder[sw->near].right, since, &first);
    }
    for (int16_t i = 0; i < sw->n_foreign; i++)
        look_at(sw, rail, s, (int16_t)(rail->n_holders + i), since, &first);
    for (int16_t i = 0; sw->sees_references && i < s->config->n_references; i++)
        look_at(sw, rail, s, (int16_t)(first_reference(rail) + i), since, &first);
    return first;
}

/* ---- from the sensing face to the probe input ---------------------------------------------------------- */

static void queue(struct sim_switch *sw, int64_t at_ns, bool level)
{
    if (sw->n_edges > 0) {
        int64_t last_ns = sw->edge[(sw->first + sw->n_edges - 1u) % SIM_EDGES_MAX].at_ns;
        at_ns = at_ns > last_ns ? at_ns : last_ns; /* random delays do not change the sequence of edges */
    }
    sw->edge[(sw->first + sw->n_edges++) % SIM_EDGES_MAX] = (struct sim_edge){at_ns, level};
}

static uint16_t *edge_counter(struct sim_switch *sw, struct sim_rail *rail, int16_t flag)
{
    if (flag >= first_reference(rail))
        return &sw->reference_edges[flag - first_reference(rail)];
    return flag < rail->n_holders ? &rail->holder[flag].edges : &sw->foreign_edges[flag - rail->n_holders];
}

static int64_t edge_delay_ns(const struct sim_rail_config *config, struct sim_draw draw)
{
    double delay_us = config->latency_us + sim_draw_either_way(draw) * config->jitter_us;
    return delay_us > 0 ? llround(delay_us * 1000) : 0;
}

/* Adds an edge, and all or none of its bounces, depending on the room. There is always room for the edge itself,
 * because fewer flags can be passed in one delay than would fill the ring. */
static void sense(struct sim_switch *sw, struct sim_rail *rail, const struct sim_rail_config *config, int16_t flag,
                  bool level, double when, int32_t bounces, struct sim_moment moment)
{
    uint16_t *counter = edge_counter(sw, rail, flag);
    struct sim_draw draw = {moment.seed, SIM_DRAW_EDGE_DELAY, moment.rail_index, (uint32_t)flag, (*counter)++};
    int64_t from_ns = (moment.now_us - SIM_SUBSTEP_US) * 1000;
    int64_t at_ns = from_ns + llround(when * SIM_SUBSTEP_US * 1000) + edge_delay_ns(config, draw);
    if (sw->n_edges == SIM_EDGES_MAX)
        sw->n_edges--;
    queue(sw, at_ns, level);
    if (sw->n_edges + 2 * bounces >= SIM_EDGES_MAX)
        return;
    draw.what = SIM_DRAW_BOUNCE;
    draw.nth *= 2 * SIM_BOUNCES_MAX;
    for (int32_t i = 0; i < 2 * bounces; i++, draw.nth++) {
        at_ns += 50000 + llround(sim_draw_unit(draw) * 200000); /* 50 to 250 us apart: invented */
        queue(sw, at_ns, i % 2 == 0 ? !level : level);
    }
}

static void pass_flags(struct sim_switch *sw, struct sim_rail *rail, const struct sim_rail_config *config,
                       const struct sweep *s, int32_t bounces, struct sim_moment moment)
{
    double when = 0;
    while (when < NEVER) {
        int16_t seen = sw->seen;
        if (seen == SIM_NOBODY) {
            struct first next = next_flag(sw, rail, s, when);
            if (next.flag != SIM_NOBODY)
                sense(sw, rail, config, next.flag, true, next.when, bounces, moment);
            sw->seen = next.flag;
            when = next.when;
            continue;
        }
        if (is_flag(sw, rail, seen))
            when = leave(pass_of(sw, rail, s, seen), reach_um(sw, rail, config, seen) + config->hysteresis_um, when);
        if (when == NEVER)
            return;
        struct first next = next_flag(sw, rail, s, when);
        bool another = next.when == when; /* another flag is already under the face, so the switch stays on */
        if (!another)
            sense(sw, rail, config, seen, false, when, bounces, moment);
        sw->seen = SIM_NOBODY;
        if (another)
            sw->seen = next.flag;
    }
}

/* ---- the probe ----------------------------------------------------------------------------------------- */

void sim_probe_command(struct sim_probe *probe, uint16_t function)
{
    if (!(function & KR_PROBE_ENABLE))
        *probe = (struct sim_probe){0};
    else if (!(probe->function & KR_PROBE_ENABLE))
        probe->function = function;
}

uint16_t sim_probe_status(const struct sim_probe *probe)
{
    uint16_t status = 0;
    if (probe->function & KR_PROBE_ENABLE)
        status |= KR_PROBE_ENABLED;
    if (probe->rising_stored)
        status |= KR_PROBE_RISING_STORED;
    if (probe->falling_stored)
        status |= KR_PROBE_FALLING_STORED;
    return status;
}

static void latch(struct sim_probe *probe, bool level, double motor_um)
{
    bool continuous = probe->function & KR_PROBE_CONTINUOUS;
    uint16_t wanted = level ? KR_PROBE_RISING : KR_PROBE_FALLING;
    bool *stored = level ? &probe->rising_stored : &probe->falling_stored;
    if (!(probe->function & KR_PROBE_ENABLE) || !(probe->function & wanted) || (*stored && !continuous))
        return;
    *stored = true;
    if (level) {
        probe->rise_count++;
        probe->rise_at_um = motor_um;
    } else {
        probe->fall_count++;
        probe->fall_at_um = motor_um;
    }
}

static void show(struct sim_switch *sw, struct sim_probe *probe, bool level, double motor_um)
{
    if (level == sw->level)
        return;
    sw->level = level;
    latch(probe, level, motor_um);
}

static void deliver(struct sim_switch *sw, struct sim_probe *probe, double motor_from_um, double motor_to_um,
                    enum sim_stuck stuck, int64_t now_us)
{
    const double substep_ns = SIM_SUBSTEP_US * 1000.0;
    int64_t from_ns = (now_us - SIM_SUBSTEP_US) * 1000;
    show(sw, probe, stuck == SIM_SWITCH_WORKS ? sw->sensed : stuck == SIM_STUCK_ON, motor_from_um);
    while (sw->n_edges > 0 && sw->edge[sw->first].at_ns <= now_us * 1000) {
        struct sim_edge e = sw->edge[sw->first];
        sw->first = (uint16_t)((sw->first + 1u) % SIM_EDGES_MAX);
        sw->n_edges--;
        sw->sensed = e.level;
        double part = fmax(0, (double)(e.at_ns - from_ns) / substep_ns);
        if (stuck == SIM_SWITCH_WORKS)
            show(sw, probe, e.level, motor_from_um + (motor_to_um - motor_from_um) * part);
    }
}

/* ---- one sub-step -------------------------------------------------------------------------------------- */

static void see_now(struct sim_switch *sw, const struct sim_rail *rail, const struct sim_rail_config *config)
{
    int16_t docked = rail->carriage.docked;
    int32_t offset_um = sw->sees_holders ? config->switch_offset_um : config->reference_switch_offset_um;
    sw->at_um = rail->carriage.at_um + offset_um + sw->bumped_um;
    sw->near = nearest_holder(rail, sw->near, sw->at_um);
    sw->holder_at_um = docked == SIM_NOBODY ? 0 : rail->holder[docked].at_um;
}

static int16_t any_holder(const struct sim_rail *rail)
{
    for (int16_t i = 0; i < rail->n_holders; i++)
        if (rail->holder[i].present)
            return i;
    return SIM_NOBODY;
}

void sim_switch_init(struct sim_switch *sw, enum sim_switch_of of, const struct sim_rail *rail,
                     const struct sim_rail_config *config)
{
    bool holders = of == SIM_SWITCH_OF_HOLDERS;
    *sw = (struct sim_switch){.sees_holders = holders,
                              .sees_references = holders != config->reference_switch_own,
                              .seen = SIM_NOBODY,
                              .near = SIM_NOBODY,
                              .travelling = SIM_NOBODY};
    if (holders)
        sw->near = any_holder(rail);
    see_now(sw, rail, config);
    struct sweep still = {sw->at_um, sw->at_um, SIM_NOBODY, 0, config};
    sw->seen = next_flag(sw, rail, &still, 0).flag;
    sw->sensed = sw->level = sw->seen != SIM_NOBODY;
}

void sim_switch_step(struct sim_switch *sw, struct sim_probe *probe, struct sim_rail *rail,
                     const struct sim_rail_config *config, double motor_from_um, double motor_to_um,
                     enum sim_stuck stuck, int32_t bounces, struct sim_moment moment)
{
    struct sweep s = {.face_from_um = sw->at_um, .config = config};
    /* Only a holder that was docked in the last sub-step has travelled, not one that was docked just now. */
    s.travelling = sw->travelling;
    s.holder_from_um = sw->holder_at_um;
    see_now(sw, rail, config);
    sw->travelling = rail->carriage.docked;
    s.face_to_um = sw->at_um;
    pass_flags(sw, rail, config, &s, bounces, moment);
    deliver(sw, probe, motor_from_um, motor_to_um, stuck, moment.now_us);
}
