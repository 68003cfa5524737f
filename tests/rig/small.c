#include "rig.h"

static void small_rail(struct rig *rig, uint16_t r)
{
    struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    g->max_um = 500 * MM;
    g->dock_us = 300000;
    g->undock_us = 400000;
    rig->config.carriage[r].park_um = -60 * MM;
    m->carriage_um = -60 * MM;
    m->home_um = m->home_offset_um = -100 * MM;
    m->pin_in_ms = m->pin_out_ms = 150;
    m->brake_open_ms = m->brake_close_ms = 100;
    m->clamp_open_ms = m->clamp_close_ms = 300;
    m->slip_um = m->backlash_um = m->jitter_us = m->clamp_shift_um = m->home_scatter_um = 0;
    for (uint16_t i = 0; i < g->n_holders; i++) {
        int32_t at_um = (60 + 90 * i) * MM;
        rig->book.holder[r][i].position_um = at_um;
        m->holder[i].start_um = at_um;
    }
}

void rig_small_ideal(struct rig *rig, uint16_t n_rails)
{
    rig_defaults(rig, n_rails, SMALL_HOLDERS, 2);
    for (uint16_t r = 0; r < n_rails; r++)
        small_rail(rig, r);
    rig->config.geometry.web_centre_um = 250 * MM;
    rig->config.geometry.trim_max_nm = 200000000;
}

/* Takes the simulator's default parameters. */
static void ordinary(struct rig *rig, uint16_t r)
{
    struct sim_rail_config usual, *m = &rig->sim_config.rail[r];
    sim_rail_defaults(&usual);
    m->slip_um = usual.slip_um;
    m->backlash_um = usual.backlash_um;
    m->jitter_us = usual.jitter_us;
    m->clamp_shift_um = usual.clamp_shift_um;
    m->home_scatter_um = usual.home_scatter_um;
}

void rig_small_ordinary(struct rig *rig, uint16_t n_rails)
{
    rig_small_ideal(rig, n_rails);
    rig->config.drive_inputs = 0x1F;
    for (uint16_t r = 0; r < n_rails; r++) {
        rig->config.geometry.rail[r].empty = (struct kr_speed){500 * MM, 1000 * MM};
        rig->config.geometry.rail[r].drag = (struct kr_speed){250 * MM, 1000 * MM};
        ordinary(rig, r);
    }
}

void rig_common_clamp(struct rig *rig, uint16_t rail)
{
    struct sim_rail_config *m = &rig->sim_config.rail[rail];
    rig->config.carriage[rail].clamping = KR_CLAMP_COMMON;
    m->clamp_common = true;
    m->clamp_open_ms = m->clamp_close_ms = 300;
}

void rig_begin(struct rig *rig)
{
    rig_start(rig);
    rig_to_idle(rig);
}

void rig_begin_small(struct rig *rig)
{
    rig_small_ideal(rig, 2);
    rig_begin(rig);
}

void rig_small_order(struct rig *rig, uint32_t number)
{
    static const int32_t widths_um[] = {90 * MM, 110 * MM, 100 * MM};
    rig_order(rig, number, 360 * MM, widths_um, 3);
}
