#include "station_rig.h"

#include <stdlib.h>

#include <check.h>

#define LONG_MS 600000 /* nothing on a small station takes longer */

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

void small_station(struct rig *rig)
{
    rig_defaults(rig, 2, 5, 2);
    for (uint16_t r = 0; r < 2; r++)
        small_rail(rig, r);
    rig->config.geometry.web_centre_um = 250 * MM;
    rig->config.geometry.trim_max_nm = 200000000;
}

void begin(struct rig *rig)
{
    rig_start(rig);
    rig_to_idle(rig);
}

void begin_small(struct rig *rig)
{
    small_station(rig);
    begin(rig);
}

void fill_order(struct rig *rig, uint32_t number)
{
    static const int32_t widths_um[] = {90 * MM, 110 * MM, 100 * MM};
    rig_order(rig, number, 360 * MM, widths_um, 3);
}

enum kr_code verdict(const struct rig *rig)
{
    return (enum kr_code)rig_u16(rig, KR_REG_VERDICT_CODE, 0, 0);
}

enum kr_code answer(const struct rig *rig)
{
    return (enum kr_code)rig_u16(rig, KR_REG_COMMAND_RESULT, 0, 0);
}

uint16_t answer_rail(const struct rig *rig)
{
    return rig_u16(rig, KR_REG_COMMAND_RESULT_RAIL, 0, 0);
}

void stage(struct rig *rig, uint32_t number)
{
    fill_order(rig, number);
    rig_request(rig, KR_REQUEST_STAGE);
    ck_assert_int_eq(verdict(rig), KR_OK);
}

enum kr_unit_state state_of(const struct rig *rig)
{
    return kr_station_state(rig->station);
}

void until_state(struct rig *rig, enum kr_unit_state state)
{
    if (!rig_run_until_state(rig, state, LONG_MS))
        ck_abort_msg("unit state %d, not %d; first alarm %d", (int)state_of(rig), (int)state,
                     (int)rig_alarm(rig));
}

void start(struct rig *rig, enum kr_job job)
{
    rig_command(rig, KR_COMMAND_START, job);
    ck_assert_int_eq(answer(rig), KR_OK);
    until_state(rig, KR_STATE_EXECUTE);
}

void start_changeover(struct rig *rig)
{
    stage(rig, 1);
    start(rig, KR_JOB_CHANGEOVER);
}

void until_complete(struct rig *rig)
{
    until_state(rig, KR_STATE_COMPLETE);
}

void set_up(struct rig *rig)
{
    start_changeover(rig);
    until_complete(rig);
    ck_assert(status_has(rig, KR_STATUS_VERIFIED));
}

enum kr_carriage_phase carriage_phase(const struct rig *rig, uint16_t rail)
{
    return (enum kr_carriage_phase)rig_u16(rig, KR_REG_CARRIAGE_PHASE, rail, 0);
}

void resume(struct rig *rig, enum kr_command command)
{
    rig_command(rig, command, 0);
    ck_assert_int_eq(answer(rig), KR_OK);
    until_state(rig, KR_STATE_EXECUTE);
}

void ends_verified(struct rig *rig)
{
    until_complete(rig);
    ck_assert(status_has(rig, KR_STATUS_VERIFIED));
    ck_assert_int_le(rig_worst_edge_um(rig), 203);
    ck_assert(!rig->false_measured);
    ck_assert_ptr_null(sim_machine_collision(&rig->machine));
    ck_assert_ptr_null(sim_machine_dragged(&rig->machine));
}

void until_carriage(struct rig *rig, uint16_t rail, enum kr_carriage_phase phase)
{
    for (int64_t end_us = rig->time_us + 1000LL * LONG_MS; rig->time_us < end_us; rig_cycle(rig))
        if (carriage_phase(rig, rail) == phase)
            return;
    ck_abort_msg("the carriage of rail %d never came to phase %d; unit state %d, first alarm %d", rail + 1,
                 (int)phase, (int)state_of(rig), (int)rig_alarm(rig));
}

void until_phase(struct rig *rig, enum kr_phase phase)
{
    for (int64_t end_us = rig->time_us + 1000LL * LONG_MS; rig->time_us < end_us; rig_cycle(rig))
        if (rig_u16(rig, KR_REG_PHASE, 0, 0) == (uint16_t)phase)
            return;
    ck_abort_msg("the job never came to phase %d; unit state %d, first alarm %d", (int)phase,
                 (int)state_of(rig), (int)rig_alarm(rig));
}

int64_t ms_until_alarm(struct rig *rig, enum kr_alarm_code code)
{
    int64_t from_us = rig->time_us;
    while (rig_u16(rig, KR_REG_ALARM_COUNT, 0, 0) == 0 && rig->time_us - from_us < 1000LL * LONG_MS)
        rig_cycle(rig);
    if (rig_alarm(rig) != code)
        ck_abort_msg("first alarm %d, not %d; unit state %d, phase %d", (int)rig_alarm(rig), (int)code,
                     (int)state_of(rig), rig_u16(rig, KR_REG_PHASE, 0, 0));
    return (rig->time_us - from_us) / 1000;
}

struct kr_alarm first_alarm(const struct rig *rig)
{
    const struct kr_alarm *alarm;
    ck_assert_uint_gt(kr_station_alarms(rig->station, &alarm), 0);
    return alarm[0];
}

bool anything_moves(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        if (abs(sim_machine_speed_um_per_s(&rig->machine, r)) > 500)
            return true;
    return false;
}

void stays_still_ms(struct rig *rig, int64_t ms)
{
    enum kr_unit_state state = state_of(rig);
    for (int64_t end_us = rig->time_us + 1000 * ms; rig->time_us < end_us;) {
        rig_cycle(rig);
        ck_assert_int_eq(state_of(rig), state);
        ck_assert(!anything_moves(rig));
        for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
            ck_assert_int_eq(carriage_phase(rig, r), KR_CARRIAGE_OFF);
    }
}

enum kr_known known(const struct rig *rig, uint16_t rail, uint16_t holder)
{
    return (enum kr_known)rig_u16(rig, KR_REG_HOLDER_KNOWN, rail, holder);
}

bool status_has(const struct rig *rig, uint16_t bits)
{
    return (rig_u16(rig, KR_REG_STATUS, 0, 0) & bits) == bits;
}

uint16_t line_status_of(const struct rig *rig)
{
    return rig_u16(rig, KR_REG_LINE_STATUS, 0, 0);
}

void push_by_hand(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um)
{
    rig->in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    rig_run_ms(rig, 100);
    ck_assert(sim_machine_break(&rig->machine, rail, SIM_MOVED_BY_HAND, holder, by_um));
    rig_run_ms(rig, 100);
    rig->in.permissives |= KR_PERMIT_GUARDS_CLOSED;
    rig_run_ms(rig, 100);
}
