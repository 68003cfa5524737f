#include "sim/machine.h"

#include <assert.h>
#include <math.h>

#include "axis.h"

struct sim_mistake sim_machine_init(struct sim_machine *m, const struct sim_config *config)
{
    struct sim_mistake mistake = sim_config_check(config);
    if (mistake.what)
        return mistake;
    *m = (struct sim_machine){.config = *config, .inputs = config->inputs};
    m->incidents.least_gap_um = INFINITY;
    for (uint16_t r = 0; r < config->n_rails; r++) {
        sim_axis_init(&m->axis[r], &config->rail[r]);
        m->incidents.least_gap_um = fmin(m->incidents.least_gap_um, sim_rail_least_gap_um(&m->axis[r].rail));
    }
    return mistake;
}

/* ---- time ---------------------------------------------------------------------------------------------- */

static void substep(struct sim_machine *m)
{
    m->now_us += SIM_SUBSTEP_US;
    for (uint16_t r = 0; r < m->config.n_rails; r++) {
        struct sim_moment moment = {m->config.seed, r, m->now_us};
        sim_axis_step(&m->axis[r], &m->config.rail[r], m->inputs, moment, &m->incidents);
    }
}

void sim_machine_run(struct sim_machine *m, int64_t dt_us)
{
    assert(dt_us >= 0);
    m->left_us += dt_us;
    while (m->left_us >= SIM_SUBSTEP_US) {
        m->left_us -= SIM_SUBSTEP_US;
        substep(m);
    }
}

/* Returns the rail whose drive is connected to this rail's wire. */
static uint16_t wired_to(const struct sim_machine *m, uint16_t rail)
{
    bool exchanged = m->config.n_rails > 1 && rail < 2 && sim_axis_broken(&m->axis[0], SIM_DRIVES_EXCHANGED);
    return exchanged ? (uint16_t)(1 - rail) : rail;
}

void sim_machine_write(struct sim_machine *m, uint16_t rail, const struct kr_axis_out *out)
{
    assert(rail < m->config.n_rails);
    sim_axis_write(&m->axis[wired_to(m, rail)], out);
}

void sim_machine_read(const struct sim_machine *m, uint16_t rail, struct kr_axis_in *in)
{
    assert(rail < m->config.n_rails);
    uint16_t drive = wired_to(m, rail);
    sim_axis_read(&m->axis[drive], &m->config.rail[drive], m->inputs, m->now_us, in);
}

void sim_machine_step(struct sim_machine *m, const struct kr_axis_out out[], int64_t dt_us, struct kr_axis_in in[])
{
    for (uint16_t r = 0; r < m->config.n_rails; r++)
        sim_axis_ask(&m->axis[wired_to(m, r)], m->now_us, &out[r]);
    sim_machine_run(m, dt_us);
    for (uint16_t r = 0; r < m->config.n_rails; r++) {
        uint16_t drive = wired_to(m, r);
        sim_axis_hear(&m->axis[drive], &m->config.rail[drive], m->inputs, m->now_us, &in[r]);
    }
}

void sim_machine_set_inputs(struct sim_machine *m, uint16_t inputs)
{
    m->inputs = inputs;
}

/* ---- the truth ----------------------------------------------------------------------------------------- */

int32_t sim_machine_holder_um(const struct sim_machine *m, uint16_t rail, uint16_t holder)
{
    assert(rail < m->config.n_rails && holder < m->config.rail[rail].n_holders);
    return (int32_t)lround(m->axis[rail].rail.holder[holder].at_um);
}

int32_t sim_machine_blade_um(const struct sim_machine *m, uint16_t rail, uint16_t holder)
{
    assert(rail < m->config.n_rails && holder < m->config.rail[rail].n_holders);
    return m->axis[rail].rail.holder[holder].blade_um;
}

int32_t sim_machine_carriage_um(const struct sim_machine *m, uint16_t rail)
{
    assert(rail < m->config.n_rails);
    return (int32_t)lround(m->axis[rail].rail.carriage.at_um);
}

int32_t sim_machine_speed_um_per_s(const struct sim_machine *m, uint16_t rail)
{
    assert(rail < m->config.n_rails);
    return (int32_t)lround(m->axis[rail].drive.actual.speed_um_per_s);
}

int sim_machine_docked(const struct sim_machine *m, uint16_t rail)
{
    assert(rail < m->config.n_rails);
    return m->axis[rail].rail.carriage.docked;
}

enum sim_phase sim_machine_phase(const struct sim_machine *m, uint16_t rail)
{
    assert(rail < m->config.n_rails);
    return m->axis[rail].phase;
}

uint32_t sim_machine_entered(const struct sim_machine *m, uint16_t rail, enum sim_phase phase)
{
    assert(rail < m->config.n_rails && phase < SIM_N_PHASES);
    return m->axis[rail].entered[phase];
}

uint32_t sim_machine_setpoints(const struct sim_machine *m, uint16_t rail)
{
    assert(rail < m->config.n_rails);
    return m->axis[rail].drive.setpoints;
}

uint32_t sim_machine_releases(const struct sim_machine *m, uint16_t rail, uint16_t holder)
{
    assert(rail < m->config.n_rails && holder < m->config.rail[rail].n_holders);
    return m->axis[rail].rail.holder[holder].releases;
}

int64_t sim_machine_now_us(const struct sim_machine *m)
{
    return m->now_us + m->left_us;
}

const struct sim_incident *sim_machine_collision(const struct sim_machine *m)
{
    return m->incidents.collision.count > 0 ? &m->incidents.collision : NULL;
}

const struct sim_incident *sim_machine_dragged(const struct sim_machine *m)
{
    return m->incidents.dragged.count > 0 ? &m->incidents.dragged : NULL;
}

int32_t sim_machine_least_gap_um(const struct sim_machine *m)
{
    return m->incidents.least_gap_um < INT32_MAX ? (int32_t)floor(m->incidents.least_gap_um) : INT32_MAX;
}
