#include "change_rig.h"

#include <stdlib.h>

#include <check.h>

/* The simulator's own figures. */
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

void rig_small(struct rig *rig, uint16_t n_rails)
{
    small_station(rig);
    rig->config.geometry.n_rails = rig->sim_config.n_rails = n_rails;
    rig->config.hard_wired = 0x1F;
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

uint16_t rig_request_code(struct rig *rig, enum kr_request_kind kind)
{
    rig_request(rig, kind);
    return rig_u16(rig, KR_REG_VERDICT_CODE, 0, 0);
}

uint16_t rig_command_code(struct rig *rig, enum kr_command command, enum kr_job job)
{
    rig_command(rig, command, job);
    return rig_u16(rig, KR_REG_COMMAND_RESULT, 0, 0);
}

void rig_staged(struct rig *rig)
{
    rig_to_idle(rig);
    fill_order(rig, 1);
    ck_assert_uint_eq(rig_request_code(rig, KR_REQUEST_STAGE), KR_OK);
}

void rig_started(struct rig *rig)
{
    rig_staged(rig);
    ck_assert_uint_eq(rig_command_code(rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_OK);
    until_state(rig, KR_STATE_EXECUTE);
}

void rig_run_until(struct rig *rig, enum kr_phase job, uint16_t rail, enum kr_carriage_phase carriage)
{
    for (int i = 0; i < 60000; i++) {
        if (rig_u16(rig, KR_REG_PHASE, 0, 0) == (uint16_t)job && carriage_phase(rig, rail) == carriage)
            return;
        rig_cycle(rig);
    }
    ck_abort_msg("carriage %u never in phase %d of phase %d: state %d, alarm %d", (unsigned)rail,
                 (int)carriage, (int)job, (int)kr_station_state(rig->station), (int)rig_alarm(rig));
}

void rig_is_sound(const struct rig *rig)
{
    ck_assert_ptr_null(sim_machine_collision(&rig->machine));
    ck_assert_ptr_null(sim_machine_dragged(&rig->machine));
    ck_assert_msg(!rig->false_measured, "rail %u holder %u claimed at %d um, is at %d um, at %lld us",
                  (unsigned)rig->false_claim.rail, (unsigned)rig->false_claim.holder,
                  (int)rig->false_claim.claimed_um, (int)rig->false_claim.true_um,
                  (long long)rig->false_claim.at_us);
}

void rig_ends_verified(struct rig *rig)
{
    until_state(rig, KR_STATE_COMPLETE);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_VERIFIED);
    ck_assert(rig_status(rig) & KR_STATUS_VERIFIED);
    ck_assert_int_le(rig_worst_edge_um(rig), rig->config.geometry.tolerance_um + rig->claim_um);
    ck_assert_int_le(rig_worst_pair_um(rig), rig->config.pair_window_um + 2 * rig->claim_um);
    ck_assert_int_le(rig_worst_slit_um(rig), rig->config.slit_tolerance_um + 2 * rig->claim_um);
    rig_is_sound(rig);
}

#define PLACED_UM 100 /* backlash, what the pin takes along as it leaves, and the encoder */

void rig_is_honest(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++) {
            int32_t off_um =
                rig_um(rig, KR_REG_HOLDER_POSITION, r, i) - sim_machine_holder_um(&rig->machine, r, i);
            ck_assert_msg(known(rig, r, i) < KR_PLACED || abs(off_um) <= PLACED_UM,
                          "rail %d holder %d is known as %d, and is off by %d um", r + 1, i + 1,
                          (int)known(rig, r, i), (int)off_um);
        }
}

void rig_nothing_moves_ms(struct rig *rig, int64_t ms)
{
    int32_t from_um[KR_RAILS_MAX];
    uint16_t n_rails = rig->config.geometry.n_rails;
    for (uint16_t r = 0; r < n_rails; r++)
        from_um[r] = sim_machine_carriage_um(&rig->machine, r);
    for (int64_t end_us = rig->time_us + 1000 * ms; rig->time_us < end_us;) {
        rig_cycle(rig);
        for (uint16_t r = 0; r < n_rails; r++) {
            ck_assert_int_le(abs(sim_machine_carriage_um(&rig->machine, r) - from_um[r]), 20);
            ck_assert_uint_eq(rig->out.axis[r].outputs, 0);
            ck_assert_uint_eq(rig->out.axis[r].controlword & KR_CW_ENABLE_OPERATION, 0);
        }
    }
}

uint16_t rig_status(const struct rig *rig)
{
    return rig_u16(rig, KR_REG_STATUS, 0, 0);
}
