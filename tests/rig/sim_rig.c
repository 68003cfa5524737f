#include "sim_rig.h"

#include <stdlib.h>

#define READY (KR_CW_ENABLE_VOLTAGE | KR_CW_NO_QUICK_STOP)

static void without_errors(struct sim_rail_config *rail)
{
    rail->backlash_um = 0;
    rail->slip_um = 0;
    rail->clamp_shift_um = 0;
    rail->jitter_us = 0;
    rail->home_scatter_um = 0;
}

void sim_rig_defaults(struct sim_rig *r, uint16_t n_rails, uint16_t n_holders)
{
    *r = (struct sim_rig){.period_us = 10000};
    r->config = (struct sim_config){.seed = 1, .n_rails = n_rails, .inputs = SIM_INPUTS_ALL};
    for (uint16_t i = 0; i < n_rails; i++) {
        struct sim_rail_config *rail = &r->config.rail[i];
        sim_rail_defaults(rail);
        without_errors(rail);
        rail->n_holders = n_holders;
        for (int32_t k = 0; k < n_holders; k++)
            rail->holder[k] = (struct sim_holder_config){.start_um = 500000 + k * 100000, .body_um = 20000};
    }
}

void sim_rig_start(struct sim_rig *r)
{
    struct sim_mistake mistake = sim_machine_init(&r->m, &r->config);
    ck_assert_msg(mistake.what == NULL, "config refused: %s", mistake.what ? mistake.what : "");
    for (uint16_t i = 0; i < r->config.n_rails; i++)
        r->out[i] = (struct kr_axis_out){
            .controlword = READY, .speed_um_per_s = 500000, .accel_um_per_s2 = 1000000, .decel_um_per_s2 = 1000000};
}

void sim_rig_cycle(struct sim_rig *r)
{
    for (uint16_t i = 0; i < r->config.n_rails; i++)
        r->out[i].serial++;
    sim_machine_step(&r->m, r->out, r->period_us, r->in);
}

void sim_rig_run_ms(struct sim_rig *r, int32_t ms)
{
    for (int32_t t = 0; t < ms * 1000; t += r->period_us)
        sim_rig_cycle(r);
}

bool sim_rig_run_until_inputs(struct sim_rig *r, uint16_t rail, uint16_t inputs, int32_t limit_ms)
{
    for (int32_t t = 0; t < limit_ms * 1000; t += r->period_us) {
        sim_rig_cycle(r);
        if ((r->in[rail].inputs & inputs) == inputs)
            return true;
    }
    return false;
}

bool sim_rig_run_until_status(struct sim_rig *r, uint16_t rail, uint16_t bits, uint16_t value, int32_t limit_ms)
{
    for (int32_t t = 0; t < limit_ms * 1000; t += r->period_us) {
        sim_rig_cycle(r);
        if ((r->in[rail].statusword & bits) == value)
            return true;
    }
    return false;
}

bool sim_rig_run_until_state(struct sim_rig *r, uint16_t rail, enum kr_drive_state state, int32_t limit_ms)
{
    for (int32_t t = 0; t < limit_ms * 1000; t += r->period_us) {
        sim_rig_cycle(r);
        if (kr_drive_state_of(r->in[rail].statusword) == state)
            return true;
    }
    return false;
}

bool sim_rig_enable(struct sim_rig *r, uint16_t rail, int8_t mode)
{
    r->out[rail].mode = mode;
    r->out[rail].controlword = READY;
    if (!sim_rig_run_until_state(r, rail, KR_DRIVE_READY_TO_SWITCH_ON, 100))
        return false;
    r->out[rail].controlword = READY | KR_CW_SWITCH_ON;
    if (!sim_rig_run_until_state(r, rail, KR_DRIVE_SWITCHED_ON, 100))
        return false;
    r->out[rail].controlword = READY | KR_CW_SWITCH_ON | KR_CW_ENABLE_OPERATION;
    if (!sim_rig_run_until_state(r, rail, KR_DRIVE_OPERATION_ENABLED, 1000))
        return false;
    for (int i = 0; i < 10 && r->in[rail].mode != mode; i++)
        sim_rig_cycle(r);
    return r->in[rail].mode == mode;
}

bool sim_rig_setpoint(struct sim_rig *r, uint16_t rail, int32_t target_um)
{
    r->out[rail].target_um = target_um;
    r->out[rail].controlword |= KR_CW_NEW_SETPOINT;
    if (!sim_rig_run_until_status(r, rail, KR_SW_SETPOINT_ACK, KR_SW_SETPOINT_ACK, 100))
        return false;
    r->out[rail].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
    return sim_rig_run_until_status(r, rail, KR_SW_SETPOINT_ACK, 0, 100);
}

bool sim_rig_move(struct sim_rig *r, uint16_t rail, int32_t target_um)
{
    return sim_rig_setpoint(r, rail, target_um) &&
           sim_rig_run_until_status(r, rail, KR_SW_TARGET_REACHED, KR_SW_TARGET_REACHED, 60000);
}

bool sim_rig_dock(struct sim_rig *r, uint16_t rail)
{
    r->out[rail].outputs = KR_DO_PIN_IN;
    if (!sim_rig_run_until_inputs(r, rail, KR_DI_PIN_IN, 1000))
        return false;
    r->out[rail].outputs |= KR_DO_BRAKE_OPEN;
    return sim_rig_run_until_inputs(r, rail, KR_DI_BRAKE_OPEN, 1000);
}

bool sim_rig_undock(struct sim_rig *r, uint16_t rail)
{
    r->out[rail].outputs = KR_DO_PIN_IN;
    if (!sim_rig_run_until_inputs(r, rail, KR_DI_BRAKE_CLOSED, 1000))
        return false;
    r->out[rail].outputs = KR_DO_PIN_OUT;
    return sim_rig_run_until_inputs(r, rail, KR_DI_PIN_OUT, 1000);
}

int32_t sim_rig_holder_um(const struct sim_rig *r, uint16_t holder)
{
    return sim_machine_holder_um(&r->m, 0, holder);
}
