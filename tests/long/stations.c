#include "stations.h"

#include <string.h>

/* ---- the rails ------------------------------------------------------------------------------------------------- */

static int32_t spacing_um(const struct rig *rig, uint16_t r, uint16_t i)
{
    const struct kr_holder_data *row = rig->book.holder[r];
    return kr_spacing_um(&rig->config.geometry, row[i].holder_size, row[i + 1].holder_size);
}

static void draw_sizes(struct draw *d, struct rig *rig, uint16_t r)
{
    bool mixed = draw_chance(d, 30);
    uint8_t one = (uint8_t)draw_between(d, 1, 2);
    for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++)
        rig->book.holder[r][i].holder_size = mixed ? (uint8_t)draw_between(d, 1, 3) : one;
}

static void draw_states(struct draw *d, struct rig *rig, uint16_t r)
{
    uint16_t n = rig->config.geometry.rail[r].n_holders;
    if (n < 5 || !draw_chance(d, 40))
        return;
    uint16_t i = (uint16_t)draw_between(d, 0, n - 1);
    uint8_t state = (uint8_t)draw_between(d, KR_HOLDER_OUT, KR_HOLDER_ABSENT);
    rig->book.holder[r][i].state = state;
    rig->sim_config.rail[r].holder[i].seized = state == KR_HOLDER_FIXED;
    rig->sim_config.rail[r].holder[i].absent = state == KR_HOLDER_ABSENT;
}

/* Length of the rail: all holders side by side, and room to move. */
static int32_t draw_length(struct draw *d, const struct rig *rig, uint16_t r)
{
    int32_t need_um = 0;
    for (uint16_t i = 0; i + 1 < rig->config.geometry.rail[r].n_holders; i++)
        need_um += spacing_um(rig, r, i);
    return (int32_t)((int64_t)need_um * draw_between(d, 140, 260) / 100) + 100000;
}

static void spread(struct draw *d, struct rig *rig, uint16_t r, int32_t length_um)
{
    uint16_t n = rig->config.geometry.rail[r].n_holders;
    int32_t free_um = length_um, at_um = 0;
    for (uint16_t i = 0; i + 1 < n; i++)
        free_um -= spacing_um(rig, r, i);
    for (uint16_t i = 0; i < n; i++) {
        struct kr_holder_data *h = &rig->book.holder[r][i];
        int32_t step_um = draw_between(d, 0, free_um / (n - i) * 3 / 2);
        step_um = step_um < free_um ? step_um : free_um;
        at_um += step_um + (i > 0 ? spacing_um(rig, r, (uint16_t)(i - 1)) : 0);
        free_um -= step_um;
        *h = (struct kr_holder_data){.position_um = at_um,
                                     .edge_offset_um = draw_between(d, -4000, 4000),
                                     .known = KR_REMEMBERED,
                                     .holder_size = h->holder_size,
                                     .state = h->state};
        struct sim_holder_config *m = &rig->sim_config.rail[r].holder[i];
        m->start_um = at_um;
        m->body_um = rig->config.geometry.size_spacing_um[h->holder_size - 1] - 600;
    }
}

/* ---- the machine ----------------------------------------------------------------------------------------------- */

static void draw_physics(struct draw *d, struct sim_rail_config *m)
{
    m->slip_um = draw_between(d, 0, 15);
    m->backlash_um = draw_between(d, 0, 40);
    m->hysteresis_um = draw_between(d, 50, 600);
    m->latency_us = draw_between(d, 0, 1000);
    m->jitter_us = draw_between(d, 0, 30);
    m->lag_us = draw_between(d, 0, 4000);
    m->quick_stop_stays = draw_chance(d, 50) ? 0 : 1;
    m->pin_in_ms = draw_between(d, 80, 400);
    m->pin_out_ms = draw_between(d, 80, 400);
    m->brake_open_ms = draw_between(d, 50, 200);
    m->brake_close_ms = draw_between(d, 50, 200);
    m->absolute_encoder = draw_chance(d, 80);
}

/* Travel is what the drive counts, and what is true of the machine are places. */
void station_set_travel(struct rig *rig, uint16_t r, bool parks_low)
{
    struct kr_carriage_config *c = &rig->config.carriage[r];
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    int32_t from_um, to_um, end_um = kr_frame_position_um(&c->frame, rig->config.geometry.rail[r].max_um);
    kr_scan_range(&rig->config.geometry.rail[r], c, &from_um, &to_um);
    c->travel_min_um = from_um - 20000;
    c->travel_max_um = (to_um > end_um ? to_um : end_um) + 20000;
    c->park_um = kr_frame_place_um(&c->frame, parks_low ? c->travel_min_um + 5000 : c->travel_max_um - 5000);
    m->carriage_um = c->park_um;
    c->home_limit_ms = (int32_t)((c->travel_max_um - c->travel_min_um) * 1000LL / m->homing_speed_um_per_s) + 5000;
    m->home_offset_um = c->travel_min_um + 1000;
    m->home_um = kr_frame_place_um(&c->frame, m->home_offset_um);
    m->stop_low_um = kr_frame_place_um(&c->frame, c->travel_min_um) - 20000;
    m->stop_high_um = kr_frame_place_um(&c->frame, c->travel_max_um) + 20000;
}

static void draw_carriage(struct draw *d, struct rig *rig, uint16_t r)
{
    struct kr_carriage_config *c = &rig->config.carriage[r];
    struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    int32_t a = draw_between(d, 800000, 2000000);
    g->empty = (struct kr_speed){draw_between(d, 400000, 1000000), a};
    g->drag = (struct kr_speed){draw_between(d, 200000, 500000), a};
    g->dock_us = 1000LL * (m->pin_in_ms + m->brake_open_ms) > 0 ? 1000 * (m->pin_in_ms + m->brake_open_ms + 60) : 0;
    g->undock_us = 1000 * (m->pin_out_ms + m->brake_close_ms + 160);
    c->scan_speed_um_per_s = draw_between(d, 150000, 200000);
    c->passes_apart_um = 1500; /* hysteresis, and twice what the delay makes of the speed */
    c->switch_offset_um = draw_chance(d, 50) ? draw_between(d, -40000, 40000) : 0;
    m->switch_offset_um = c->switch_offset_um;
    c->scan_ways = KR_SCAN_ONE_WAY; /* where the bias is known */
    if (draw_chance(d, 20)) /* one way: half the hysteresis, half the play, and what the delay makes of the speed */
        c->scan_bias_um = m->hysteresis_um / 2 + m->backlash_um / 2 +
                          (int32_t)((int64_t)c->scan_speed_um_per_s * m->latency_us / 1000000);
    station_set_travel(rig, r, draw_chance(d, 70));
}

static void draw_clamp(struct draw *d, struct rig *rig, uint16_t r)
{
    if (!draw_chance(d, 25))
        return;
    rig->config.carriage[r].clamping = KR_CLAMP_COMMON;
    rig->sim_config.rail[r].clamp_common = 1;
    rig->sim_config.rail[r].clamp_open_ms = draw_between(d, 100, 500);
    rig->sim_config.rail[r].clamp_close_ms = draw_between(d, 100, 500);
}

static void draw_approach(struct draw *d, struct rig *rig, uint16_t r)
{
    if (!draw_chance(d, 30))
        return;
    rig->config.geometry.rail[r].approach = draw_chance(d, 50) ? 1 : -1;
    rig->config.geometry.rail[r].overtravel_um = draw_between(d, 200, 2000);
}

static int32_t draw_rail(struct draw *d, struct rig *rig, uint16_t r)
{
    draw_sizes(d, rig, r);
    int32_t length_um = draw_length(d, rig, r);
    rig->config.geometry.rail[r].min_um = 0;
    rig->config.geometry.rail[r].max_um = length_um;
    spread(d, rig, r, length_um);
    draw_states(d, rig, r);
    draw_physics(d, &rig->sim_config.rail[r]);
    draw_carriage(d, rig, r);
    draw_clamp(d, rig, r);
    draw_approach(d, rig, r);
    return length_um;
}

static void draw_geometry(struct draw *d, struct rig *rig, int32_t shortest_um)
{
    struct kr_geometry *g = &rig->config.geometry;
    g->rails_together = draw_chance(d, 80);
    g->idle_policy = draw_chance(d, 75) ? KR_IDLE_ANYWHERE : KR_IDLE_OUTSIDE_WEB;
    g->web_centre_um = shortest_um / 2;
    g->web_max_nm = 1000LL * shortest_um;
    g->trim_min_nm = 0;
    g->trim_max_nm = g->web_max_nm;
    g->shift_max_um = 5000;
}

/* On one station in three scans go fast between flags that are known. By a stream of its own, so that all else of a
 * story stays as it was. */
static void draw_fast_scans(struct rig *rig)
{
    struct draw d = {rig->sim_config.seed ^ UINT64_C(0x66617374)};
    if (!draw_chance(&d, 33))
        return;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
        rig->config.carriage[r].scan_fast_um_per_s = draw_between(&d, 300000, g->empty.v_um_per_s);
        g->setpoint_us = 2 * rig->period_us;
        g->rounding_us = 15000;
    }
}

/* On every second station the drives count the edges of flags, so that a late answer may bring two. By a stream of its
 * own, too. */
static void draw_edge_counts(struct rig *rig)
{
    struct draw d = {rig->sim_config.seed ^ UINT64_C(0x65646765)};
    bool counted = draw_chance(&d, 50);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (enum kr_switch_of of = 0; of < KR_SWITCHES; of++)
            rig->config.carriage[r].edges_counted[of] = counted;
}

void station_draw(struct draw *d, struct rig *rig, uint16_t n_holders)
{
    int32_t percent = draw_between(d, 1, 100);
    uint16_t n_rails = percent <= 25 ? 1 : percent <= 90 ? 2 : 3;
    uint16_t n = n_holders ? n_holders : (uint16_t)draw_between(d, 3, 12);
    rig_defaults(rig, n_rails, n, 1);
    rig->sim_config.seed = draw_bits(d);
    int32_t shortest_um = INT32_MAX;
    for (uint16_t r = 0; r < n_rails; r++) {
        int32_t length_um = draw_rail(d, rig, r);
        shortest_um = length_um < shortest_um ? length_um : shortest_um;
    }
    draw_geometry(d, rig, shortest_um);
    rig->config.format.length_unit = draw_chance(d, 25) ? KR_LENGTH_INCH : KR_LENGTH_MM;
    rig->config.format.low_word_first = draw_chance(d, 50);
    rig->config.drive_inputs = (uint16_t)draw_between(d, 0, 0x1F);
    rig->config.scan_policy = draw_chance(d, 20) ? KR_SCAN_ALWAYS : KR_SCAN_AFTER_ACCESS;
    rig->plan_cycles = draw_between(d, 0, 8);
    rig->book_cycles = draw_between(d, 0, 6);
    draw_fast_scans(rig);
    draw_edge_counts(rig);
}

/* ---- orders ---------------------------------------------------------------------------------------------------- */

static uint16_t most_slits(const struct rig *rig)
{
    uint16_t least = KR_HOLDERS_MAX;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        uint16_t in = 0;
        for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++)
            in = (uint16_t)(in + (kr_station_durable(rig->station)->holder[r][i].state == KR_HOLDER_IN));
        least = in < least ? in : least;
    }
    return least > 1 ? (uint16_t)(least - 1) : 1;
}

static void draw_order(struct draw *d, struct rig *rig, uint32_t number)
{
    int32_t widths_um[KR_SLITS_MAX], web_um = (int32_t)(rig->config.geometry.web_max_nm / 1000);
    uint16_t n = (uint16_t)draw_between(d, 1, most_slits(rig));
    web_um = (int32_t)((int64_t)web_um * draw_between(d, 50, 95) / 100);
    int32_t mean_um = web_um / n * draw_between(d, 60, 95) / 100;
    for (uint16_t i = 0; i < n; i++)
        widths_um[i] = mean_um * draw_between(d, 80, 110) / 100;
    rig_order(rig, number, web_um, widths_um, n);
    rig_order_set(rig, KR_REG_SHIFT, 0, rig_count(rig, draw_between(d, -4000, 4000)));
    if (draw_chance(d, 30))
        rig_order_set(rig, KR_REG_COMPENSATION, 0, draw_between(d, -3000, 3000));
    if (draw_chance(d, 20))
        rig_order_set(rig, KR_REG_EDGE_FLAGS, 0, draw_between(d, 1, 2));
}

bool station_order(struct draw *d, struct rig *rig, uint32_t number)
{
    for (int tries = 0; tries < 60; tries++) {
        draw_order(d, rig, number);
        rig_request(rig, KR_REQUEST_STAGE);
        if (rig_verdict(rig) == KR_OK)
            return true;
    }
    return false;
}
