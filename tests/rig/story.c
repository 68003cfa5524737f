#include "rig.h"

#include <stdlib.h>

#include <check.h>

#define LONG_MS 900000 /* no event that a test waits for takes longer */

/* ---- to the beginning ------------------------------------------------------------------------------------------ */

void rig_to_idle(struct rig *rig)
{
    if (!rig->in.controlled) {
        rig->in.controlled = true;
        rig->in.control_generation++;
    }
    rig->in.permissives = 0x1F;
    rig_run_ms(rig, 1000);
    if (!rig->edges_confirmed && !rig->book_broken && rig->book_cycles >= 0 && rig->book_failures == 0)
        rig_confirm_edges(rig);
    rig_command(rig, KR_COMMAND_RESET, 0);
    rig_until_state_within(rig, KR_STATE_IDLE, 5000);
}

void rig_reset(struct rig *rig)
{
    if (rig_state(rig) == KR_STATE_ABORTED) {
        ck_assert_int_eq(rig_command(rig, KR_COMMAND_CLEAR, 0), KR_OK);
        rig_until_state(rig, KR_STATE_STOPPED);
    }
    ck_assert_int_eq(rig_command(rig, KR_COMMAND_RESET, 0), KR_OK);
    rig_until_state(rig, KR_STATE_IDLE);
}

/* ---- steps ----------------------------------------------------------------------------------------------------- */

void rig_stage(struct rig *rig, uint32_t number)
{
    rig_small_order(rig, number);
    ck_assert_int_eq(rig_request(rig, KR_REQUEST_STAGE), KR_OK);
}

void rig_start_job(struct rig *rig, enum kr_job job)
{
    ck_assert_int_eq(rig_command(rig, KR_COMMAND_START, job), KR_OK);
    rig_until_state(rig, KR_STATE_EXECUTE);
}

void rig_start_changeover(struct rig *rig)
{
    rig_stage(rig, 1);
    rig_start_job(rig, KR_JOB_CHANGEOVER);
}

void rig_change_over_again(struct rig *rig)
{
    rig_reset(rig);
    rig_stage(rig, 2);
    rig_start_job(rig, KR_JOB_CHANGEOVER);
}

void rig_scan_again(struct rig *rig)
{
    rig_reset(rig);
    rig_start_job(rig, KR_JOB_SCAN);
}

int64_t rig_scan_ms(struct rig *rig)
{
    int64_t from_us = rig->time_us;
    rig_start_job(rig, KR_JOB_SCAN);
    rig_until_complete(rig);
    int64_t ms = (rig->time_us - from_us) / 1000;
    rig_reset(rig);
    return ms;
}

void rig_guards(struct rig *rig, bool closed)
{
    if (closed)
        rig_mend(rig, 0, SIM_GUARDS_OPENED, 0);
    else
        rig_break(rig, 0, SIM_GUARDS_OPENED, 0, 0);
    rig_run_ms(rig, 200);
}

void rig_open_and_close_guards(struct rig *rig)
{
    rig_guards(rig, false);
    rig_guards(rig, true);
}

struct kr_alarm rig_held_by(struct rig *rig, enum kr_alarm_code code)
{
    rig_until_state(rig, KR_STATE_HELD);
    struct kr_alarm alarm = rig_first_alarm(rig);
    ck_assert_int_eq(alarm.code, code);
    ck_assert_int_eq(alarm.rail, 1);
    ck_assert(!rig_status_has(rig, KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_line_status(rig) & (KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER), 0);
    rig_is_sound(rig);
    return alarm;
}

void rig_nothing_is_measured(const struct rig *rig, uint16_t rail)
{
    for (uint16_t h = 0; h < rig->config.geometry.rail[rail].n_holders; h++)
        ck_assert_int_le(rig_known(rig, rail, h), KR_REMEMBERED);
}

void rig_resume(struct rig *rig, enum kr_command how)
{
    ck_assert_int_eq(rig_command(rig, how, 0), KR_OK);
    rig_until_state(rig, KR_STATE_EXECUTE);
}

void rig_unhold(struct rig *rig)
{
    rig_until_state(rig, KR_STATE_HELD);
    rig_is_honest(rig);
    rig->meddle = NULL;
    rig_nothing_moves_ms(rig, 1000);
    ck_assert_int_eq(rig_command(rig, KR_COMMAND_UNHOLD, 0), KR_OK);
}

void rig_carry_on(struct rig *rig)
{
    for (int tries = 0; tries < 4; tries++) {
        rig_reset(rig);
        enum kr_code code = rig_command(rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
        if (code == KR_OK) {
            rig_ends_verified(rig);
            return;
        }
        ck_assert_msg(code == KR_RELEASE_NEEDED || code == KR_NOT_HOMED, "Start: result %d", (int)code);
        rig_start_job(rig, code == KR_RELEASE_NEEDED ? KR_JOB_RELEASE : KR_JOB_HOME);
        rig_until_complete(rig);
    }
    ck_abort_msg("Start is refused again and again");
}

void rig_set_up(struct rig *rig, uint32_t number, uint16_t n_slits, int32_t width_um)
{
    int32_t widths_um[KR_SLITS_MAX];
    for (uint16_t i = 0; i < n_slits; i++)
        widths_um[i] = width_um;
    rig_order(rig, number, n_slits * width_um + 60 * MM, widths_um, n_slits);
    ck_assert_int_eq(rig_request(rig, KR_REQUEST_STAGE), KR_OK);
    rig_set_up_again(rig);
}

void rig_set_up_small(struct rig *rig)
{
    rig_start_changeover(rig);
    rig_ends_verified(rig);
}

void rig_set_up_again(struct rig *rig)
{
    rig_to_idle(rig);
    ck_assert_int_eq(rig_command(rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_OK);
    rig_ends_verified(rig);
}

/* ---- waiting --------------------------------------------------------------------------------------------------- */

void rig_until_state_within(struct rig *rig, enum kr_unit_state state, int64_t limit_ms)
{
    if (!rig_run_until_state(rig, state, limit_ms))
        ck_abort_msg("unit state %d, not %d; first alarm %d of value %d", (int)rig_state(rig), (int)state,
                     (int)rig_alarm(rig), rig_i32(rig, KR_REG_ALARM_VALUE, 0, 0));
}

void rig_until_state(struct rig *rig, enum kr_unit_state state)
{
    rig_until_state_within(rig, state, LONG_MS);
}

void rig_until_complete(struct rig *rig)
{
    rig_until_state(rig, KR_STATE_COMPLETE);
}

static void never_came(const struct rig *rig, const char *what, int rail, int phase)
{
    ck_abort_msg("rail %d: %s %d never came; unit state %d, phase %d, first alarm %d", rail, what, phase,
                 (int)rig_state(rig), rig_phase(rig), (int)rig_alarm(rig));
}

void rig_until_phase(struct rig *rig, enum kr_phase phase)
{
    for (int64_t end_us = rig->time_us + 1000LL * LONG_MS; rig->time_us < end_us; rig_cycle(rig))
        if (rig_phase(rig) == phase)
            return;
    never_came(rig, "phase of the job", 0, (int)phase);
}

void rig_until_carriage(struct rig *rig, uint16_t rail, enum kr_carriage_phase phase)
{
    for (int64_t end_us = rig->time_us + 1000LL * LONG_MS; rig->time_us < end_us; rig_cycle(rig))
        if (rig_carriage_phase(rig, rail) == phase)
            return;
    never_came(rig, "phase of the carriage", rail + 1, (int)phase);
}

void rig_until_step(struct rig *rig, enum kr_phase job, uint16_t rail, enum kr_carriage_phase carriage)
{
    for (int64_t end_us = rig->time_us + 1000LL * LONG_MS; rig->time_us < end_us; rig_cycle(rig))
        if (rig_phase(rig) == job && rig_carriage_phase(rig, rail) == carriage)
            return;
    never_came(rig, "phase of the carriage in that of the job", rail + 1, (int)carriage);
}

int64_t rig_ms_until_alarm(struct rig *rig, enum kr_alarm_code code)
{
    int64_t from_us = rig->time_us;
    while (rig_alarm_count(rig) == 0 && rig->time_us - from_us < 1000LL * LONG_MS)
        rig_cycle(rig);
    if (rig_alarm(rig) != code)
        ck_abort_msg("first alarm %d, not %d; unit state %d, phase %d", (int)rig_alarm(rig), (int)code,
                     (int)rig_state(rig), rig_phase(rig));
    return (rig->time_us - from_us) / 1000;
}

void rig_alarm_at_limit(struct rig *rig, int64_t limit_ms, enum kr_alarm_code code)
{
    rig_run_ms(rig, limit_ms - RIG_PERIOD_MS);
    ck_assert_int_eq(rig_alarm(rig), KR_ALARM_NONE);
    rig_cycle(rig);
    ck_assert_int_eq(rig_alarm(rig), code);
}

/* ---- what has to be so ----------------------------------------------------------------------------------------- */

void rig_is_sound(const struct rig *rig)
{
    ck_assert_ptr_null(sim_machine_collision(&rig->machine));
    ck_assert_ptr_null(sim_machine_dragged(&rig->machine));
    ck_assert_msg(!rig->false_measured, "rail %u holder %u claimed at %d um, is at %d um, at %lld us",
                  (unsigned)rig->false_claim.rail, (unsigned)rig->false_claim.holder, (int)rig->false_claim.claimed_um,
                  (int)rig->false_claim.true_um, (long long)rig->false_claim.at_us);
    ck_assert_msg(!rig->record_without_cause, "a job ended, and its record does not say why");
}

static int32_t tolerance_um(const struct rig *rig)
{
    int32_t of_order_um = kr_station_durable(rig->station)->order.tolerance_um;
    return of_order_um != 0 ? of_order_um : rig->config.geometry.tolerance_um;
}

void rig_ends_verified(struct rig *rig)
{
    rig_until_complete(rig);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_VERIFIED);
    ck_assert(rig_status_has(rig, KR_STATUS_VERIFIED));
    ck_assert_int_le(rig_worst_edge_um(rig), tolerance_um(rig));
    ck_assert_int_le(rig_worst_pair_um(rig), rig->config.pair_window_um);
    ck_assert_int_le(rig_worst_slit_um(rig), rig->config.slit_tolerance_um);
    rig_is_sound(rig);
}

#define PLACED_UM 100 /* the sum of backlash, the shift when the pin leaves, and the encoder's resolution */

void rig_is_honest(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++) {
            int32_t off_um = rig_um(rig, KR_REG_HOLDER_POSITION, r, i) - sim_machine_holder_um(&rig->machine, r, i);
            ck_assert_msg(rig_known(rig, r, i) < KR_PLACED || abs(off_um) <= PLACED_UM,
                          "rail %d holder %d is known as %d, and is off by %d um", r + 1, i + 1,
                          (int)rig_known(rig, r, i), (int)off_um);
        }
}

bool rig_anything_moves(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        if (abs(sim_machine_speed_um_per_s(&rig->machine, r)) > 500)
            return true;
    return false;
}

void rig_nothing_moves_ms(struct rig *rig, int64_t ms)
{
    int32_t from_um[KR_RAILS_MAX];
    uint16_t n_rails = rig->config.geometry.n_rails;
    for (uint16_t r = 0; r < n_rails; r++)
        from_um[r] = sim_machine_carriage_um(&rig->machine, r);
    for (int64_t end_us = rig->time_us + 1000 * ms; rig->time_us < end_us;) {
        rig_cycle(rig);
        ck_assert(!rig_anything_moves(rig));
        for (uint16_t r = 0; r < n_rails; r++) {
            ck_assert_int_le(abs(sim_machine_carriage_um(&rig->machine, r) - from_um[r]), 20);
            ck_assert_uint_eq(rig->out.axis[r].outputs, 0);
            ck_assert_uint_eq(rig->out.axis[r].controlword & KR_CW_ENABLE_OPERATION, 0);
        }
    }
}

void rig_stays_still_ms(struct rig *rig, int64_t ms)
{
    enum kr_unit_state state = rig_state(rig);
    for (int64_t end_us = rig->time_us + 1000 * ms; rig->time_us < end_us;) {
        rig_nothing_moves_ms(rig, rig->period_us / 1000);
        ck_assert_int_eq(rig_state(rig), state);
        for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
            ck_assert_int_eq(rig_carriage_phase(rig, r), KR_CARRIAGE_OFF);
    }
}
