/* Pins, brakes, what is stored first, restarts and jumps; determinism; and how holders arrive. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "rig.h"

#define PERIOD_MS 10

/* ---- pin and brake ------------------------------------------------------------------------------------------------------------ */

START_TEST(a_pin_that_never_seats_is_tried_again_so_often_and_then_named)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_break(&rig, 0, SIM_PIN_STUCK_OUT, 0, 0);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DOCKING);
    uint16_t holder = rig_docked(&rig, 0);
    int64_t came_ms = rig_ms_until_alarm(&rig, KR_ALARM_PIN_NOT_IN);
    int64_t tries = rig.config.carriage[0].dock_tries, limit_ms = rig.config.carriage[0].pin_limit_ms;
    ck_assert_int_ge(came_ms, tries * limit_ms);
    ck_assert_int_le(came_ms, tries * (limit_ms + 3 * PERIOD_MS));
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder);
    ck_assert_int_eq(rig_first_alarm(&rig).value, (int32_t)tries);
    ck_assert_int_eq(kr_station_durable(rig.station)->holder[0][holder - 1].dock_retries, tries);
    ck_assert_int_eq(rig_known(&rig, 0, (uint16_t)(holder - 1)), KR_MEASURED); /* its brake never opened */
    rig_until_state(&rig, KR_STATE_HELD);
    rig_mend(&rig, 0, SIM_PIN_STUCK_OUT, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_RECORD_RETRIES, 0, 0), tries);
    rig_end(&rig);
}
END_TEST

START_TEST(a_pin_that_seats_at_the_second_try_goes_on_and_is_counted)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_break(&rig, 0, SIM_PIN_STUCK_OUT, 0, 0);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_BACKING);
    rig_mend(&rig, 0, SIM_PIN_STUCK_OUT, 0);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RETRIES, 0, 0), 1);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_holder_that_took_many_retries_is_named_once_for_maintenance)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.carriage[0].retries_notice = 8;
    for (uint16_t i = 0; i < 5; i++)
        rig.book.holder[0][i].dock_retries = 7;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_break(&rig, 0, SIM_PIN_STUCK_OUT, 0, 0);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_BACKING);
    uint16_t holder = rig_docked(&rig, 0);
    rig_mend(&rig, 0, SIM_PIN_STUCK_OUT, 0);
    rig_ends_verified(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_MANY_RETRIES);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    rig_end(&rig);
}
END_TEST

struct device {
    enum sim_fault fault;
    enum kr_carriage_phase phase;
    enum kr_alarm_code alarm;
    size_t limit; /* offset of its limit in struct kr_carriage_config */
};
static const struct device devices[] = {
    {SIM_BRAKE_STUCK, KR_CARRIAGE_FREEING, KR_ALARM_BRAKE_NOT_OPEN,
     offsetof(struct kr_carriage_config, brake_limit_ms)},
    {SIM_PIN_STUCK_IN, KR_CARRIAGE_UNDOCKING, KR_ALARM_PIN_NOT_OUT,
     offsetof(struct kr_carriage_config, pin_limit_ms)},
};

START_TEST(a_device_that_does_not_move_is_an_alarm_at_its_limit_and_not_before)
{
    const struct device *d = &devices[_i];
    struct rig rig;
    rig_begin_small(&rig);
    int32_t limit_ms;
    memcpy(&limit_ms, (const char *)&rig.config.carriage[0] + d->limit, sizeof limit_ms);
    rig_start_changeover(&rig);
    rig_break(&rig, 0, d->fault, 0, 0);
    rig_until_carriage(&rig, 0, d->phase);
    uint16_t holder = rig_docked(&rig, 0);
    rig_run_ms(&rig, limit_ms - PERIOD_MS);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), d->alarm);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder);
    ck_assert_int_eq(rig_first_alarm(&rig).value, limit_ms);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_mend(&rig, 0, d->fault, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void brake_seems_open(struct rig *rig)
{
    uint16_t *inputs = &rig->in.axis[0].inputs;
    if (rig_carriage_phase(rig, 0) == KR_CARRIAGE_BRAKING ||
        rig_carriage_phase(rig, 0) == KR_CARRIAGE_STOPPING)
        *inputs = (uint16_t)((*inputs & ~KR_DI_BRAKE_CLOSED) | KR_DI_BRAKE_OPEN);
}

START_TEST(a_brake_that_is_not_proven_closed_keeps_the_pin_in)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig.meddle = brake_seems_open;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_BRAKING);
    rig_run_ms(&rig, rig.config.carriage[0].brake_limit_ms - PERIOD_MS);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_BRAKE_NOT_CLOSED);
    uint16_t holder = rig_docked(&rig, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_uint_eq(rig_docked(&rig, 0), holder);
    ck_assert(rig.in.axis[0].inputs & KR_DI_PIN_IN);
    ck_assert_int_eq(rig_known(&rig, 0, (uint16_t)(holder - 1)), KR_UNKNOWN);
    rig.meddle = NULL;
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void pin_slips(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_PIN_IN;
}

static void brake_closes(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_BRAKE_OPEN;
}

/* _i: 0 the pin, 1 the brake */
START_TEST(a_pin_or_a_brake_that_changes_by_itself_in_a_drag_aborts_it)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    uint16_t holder = rig_docked(&rig, 0);
    rig.meddle = _i == 0 ? pin_slips : brake_closes;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), _i == 0 ? KR_ALARM_PIN_LOST : KR_ALARM_BRAKE_LOST);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTING);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_int_eq(rig_known(&rig, 0, (uint16_t)(holder - 1)), KR_UNKNOWN);
    rig_end(&rig);
}
END_TEST

static void pin_is_not_seen_out(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_PIN_OUT;
}

static void pin_is_seen_in(struct rig *rig)
{
    rig->in.axis[0].inputs |= KR_DI_PIN_IN;
}

/* _i: in a scan and on the way to a holder, each with the pin not seen out any more, and seen in */
START_TEST(a_carriage_that_passes_holders_stops_in_the_cycle_in_which_its_pin_is_not_proven_out)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, _i < 2 ? KR_CARRIAGE_SCANNING : KR_CARRIAGE_TRAVELLING);
    rig_run_ms(&rig, 100);
    ck_assert(rig_anything_moves(&rig));
    rig.meddle = _i % 2 ? pin_is_seen_in : pin_is_not_seen_out;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PIN_UNPROVEN);
    ck_assert_int_eq(rig_carriage_phase(&rig, 0), KR_CARRIAGE_STOPPING);
    for (uint16_t h = 0; h < 5; h++) /* it may have taken any of them along */
        ck_assert_int_eq(rig_known(&rig, 0, h), KR_UNKNOWN);
    rig_until_state(&rig, KR_STATE_HELD);
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    (void)rig_ms_until_alarm(&rig,
                             KR_ALARM_PIN_NOT_OUT); /* it is driven out first, and that can't be proven */
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), at_um);
    rig.meddle = NULL;
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- what is stored first --------------------------------------------------------------------------------------------------- */

START_TEST(no_holder_is_docked_before_it_is_stored_that_it_may_be_in_motion)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_PLAN);
    rig.book_cycles = -1; /* the disk does not answer any more */
    rig_until_carriage(&rig, 0, KR_CARRIAGE_TRAVELLING);
    for (int i = 0; i < 1000; i++) {
        rig_cycle(&rig);
        ck_assert_uint_eq(rig.out.axis[0].outputs & KR_DO_PIN_IN, 0);
    }
    ck_assert_int_eq(rig_carriage_phase(&rig, 0), KR_CARRIAGE_TRAVELLING);
    rig.book_cycles = 2;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DOCKING);
    ck_assert_uint_eq(rig.book.docking[0], rig_docked(&rig, 0));
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_book_that_fails_holds_the_job)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig.book_broken = true;
    rig_ms_until_alarm(&rig, KR_ALARM_BOOK_FAILED);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    rig_until_state(&rig, KR_STATE_HELD); /* the cause stands */
    rig.book_broken = false;
    rig_run_ms(&rig, 200);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- restarts, positions that jump ---------------------------------------------------------------------------------------------- */

/* _i: the carriage's phase in which the gateway is killed */
START_TEST(a_gateway_that_restarts_knows_the_pin_may_be_in_and_what_may_have_moved)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    rig_until_carriage(&rig, 0, (enum kr_carriage_phase)_i);
    rig_run_ms(&rig, 60);
    uint16_t holder = rig.book.docking[0];
    ck_assert_uint_gt(holder, 0);
    rig_restart(&rig);
    rig_cycle(&rig);
    ck_assert_int_le(rig_known(&rig, 0, (uint16_t)(holder - 1)), KR_UNKNOWN);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert(!rig_anything_moves(&rig));
    rig_stays_still_ms(&rig, 2000);
    rig_to_idle(&rig);
    bool in = rig_docked(&rig, 0) != 0;
    if (in) {
        ck_assert_uint_eq(rig_docked(&rig, 0), holder);
        ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_PIN_NOT_OUT);
        rig_start_job(&rig, KR_JOB_RELEASE);
        rig_until_complete(&rig);
        ck_assert_uint_eq(rig_docked(&rig, 0), 0);
        rig_reset(&rig);
    }
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_gateway_that_restarts_again_in_a_quick_stop_lets_it_come_to_its_end)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_VERIFY);
    while (abs(sim_machine_speed_um_per_s(&rig.machine, 0)) < 190000)
        rig_cycle(&rig);
    for (int starts = 0; starts < 2; starts++) {
        rig_restart(&rig);
        rig_run_ms(&rig, 20);
        ck_assert(rig_anything_moves(&rig));
        ck_assert_int_eq(rig_state(&rig), KR_STATE_STOPPING);
        ck_assert(rig.out.moving);
    }
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert(!rig_anything_moves(&rig));
    rig_end(&rig);
}
END_TEST

/* Drives at the end of a wire answer some cycles after the start, and are looked at before anything is written to them. */
START_TEST(a_drive_that_runs_on_is_stopped_when_it_first_answers)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_VERIFY);
    while (abs(sim_machine_speed_um_per_s(&rig.machine, 0)) < 190000)
        rig_cycle(&rig);
    struct kr_axis_out as_it_runs = rig.out.axis[0];
    as_it_runs.serial = 0;
    rig_break(&rig, 0, SIM_LINK_LOST, 0, 0);
    rig_restart(&rig);
    rig_run_ms(&rig, 60); /* less than the drive's own watchdog waits */
    ck_assert_int_ge(abs(sim_machine_speed_um_per_s(&rig.machine, 0)), 190000);
    rig_mend(&rig, 0, SIM_LINK_LOST, 0);
    rig.out.axis[0] = as_it_runs;
    rig_run_ms(&rig, 20);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_STOPPING);
    ck_assert(rig.out.moving);
    ck_assert_uint_eq(kr_drive_state_of(rig.in.axis[0].statusword), KR_DRIVE_QUICK_STOP_ACTIVE);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert(!rig_anything_moves(&rig));
    rig_end(&rig);
}
END_TEST

START_TEST(a_homing_that_was_broken_off_leaves_no_datum_behind)
{
    struct rig rig;
    rig_begin_small(
        &rig); /* its encoders are absolute: the drives say that they are referenced all the time */
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_HOMING);
    rig_run_ms(&rig, 200);
    rig_break(&rig, 0, SIM_POSITION_JUMP, 0, 5 * MM); /* nobody can tell while it homes */
    rig_run_ms(&rig, 100);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_to_idle(&rig);
    ck_assert(!rig_status_has(&rig, KR_STATUS_REFERENCED));
    rig_stage(&rig, 1);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NOT_HOMED);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_complete(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* _i: 0 at rest, 1 in a scan, 2 at rest with a restart after it */
START_TEST(after_a_position_jumped_nothing_is_believed_before_homing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    if (_i == 1) {
        rig_start_job(&rig, KR_JOB_VERIFY);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
        rig_run_ms(&rig, 1500);
    }
    rig_break(&rig, 0, SIM_POSITION_JUMP, 0, _i == 1 ? 6 * MM : 3 * MM);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_POSITION_JUMPED);
    ck_assert_int_eq(rig_known(&rig, 0, 2), KR_UNKNOWN);
    ck_assert_uint_eq(rig_line_status(&rig) & (KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER), 0);
    rig_run_ms(&rig, 3000);
    if (_i == 1) {
        ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTED);
        rig_command(&rig, KR_COMMAND_CLEAR, 0);
        rig_until_state(&rig, KR_STATE_STOPPED);
    } else if (_i == 2) {
        rig_restart(&rig);
    } else {
        rig_command(&rig, KR_COMMAND_STOP, 0);
        rig_until_state(&rig, KR_STATE_STOPPED);
    }
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NOT_HOMED);
    ck_assert(!rig_status_has(&rig, KR_STATUS_REFERENCED));
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_REFERENCED));
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_link_that_is_lost_in_motion_aborts_and_is_named_alone)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.hard_wired = 0x1F; /* they go with the link */
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 1, KR_CARRIAGE_DRAGGING);
    uint16_t holder = rig_docked(&rig, 1);
    rig_break(&rig, 1, SIM_LINK_LOST, 0, 0);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTING);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_LINK_LOST);
    ck_assert_uint_eq(rig_first_alarm(&rig).rail, 2);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_int_eq(rig_known(&rig, 1, (uint16_t)(holder - 1)), KR_UNKNOWN);
    rig_command(&rig, KR_COMMAND_CLEAR, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_LINK_LOST); /* it still is */
    rig_mend(&rig, 1, SIM_LINK_LOST, 0);
    rig_run_ms(&rig, 200);
    rig_stays_still_ms(&rig, 2000);
    rig_end(&rig);
}
END_TEST

START_TEST(an_alarm_that_reset_found_standing_is_no_obstacle_any_more_when_its_cause_is_gone)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 1, KR_CARRIAGE_TRAVELLING);
    rig_break(&rig, 1, SIM_LINK_LOST, 0, 0);
    rig_until_state(&rig, KR_STATE_ABORTED);
    rig_reset(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_ALARM_STANDS);
    rig_mend(&rig, 1, SIM_LINK_LOST, 0);
    rig_run_ms(&rig, 200);
    rig_stays_still_ms(&rig, 500);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_OK);
    rig_until_state(&rig,
                    KR_STATE_ABORTED); /* the drive has stopped itself meanwhile: that is another cause */
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_DRIVE_FAULT);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- determinism -------------------------------------------------------------------------------------------------------------------- */

/* _i: how many tenths of the changeover are over at the checkpoint */
START_TEST(a_copy_of_the_state_and_the_same_inputs_give_the_same_outputs)
{
    enum { CYCLES = 400 };
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_run_ms(&rig, 3500 * _i);
    struct kr_station *copy = malloc(kr_station_size());
    ck_assert_ptr_nonnull(copy);
    memcpy(copy, rig.station, kr_station_size());
    for (int i = 0; i < CYCLES; i++) {
        struct kr_station_out out;
        rig_cycle(&rig);
        rig.in.request.present = rig.in.command.present = false;
        kr_station_step(copy, &rig.in, &out);
        for (uint16_t r = 0; r < 2; r++) {
            const struct kr_axis_out *a = &out.axis[r], *b = &rig.out.axis[r];
            ck_assert_uint_eq(a->serial, b->serial);
            ck_assert_uint_eq(a->controlword, b->controlword);
            ck_assert_uint_eq(a->outputs, b->outputs);
            ck_assert_int_eq(a->target_um, b->target_um);
        }
    }
    ck_assert_mem_eq(copy, rig.station, kr_station_size());
    free(copy);
    rig_end(&rig);
}
END_TEST

/* ---- how it moves ---------------------------------------------------------------------------------------------------------------------- */

START_TEST(rails_that_take_turns_never_move_at_the_same_time)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.geometry.rails_together = false;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    bool moved[2] = {false, false};
    while (rig_state(&rig) == KR_STATE_EXECUTE) {
        rig_cycle(&rig);
        bool both = true;
        for (uint16_t r = 0; r < 2; r++) {
            bool moves = abs(sim_machine_speed_um_per_s(&rig.machine, r)) > 500;
            moved[r] = moved[r] || moves;
            both = both && moves;
        }
        ck_assert(!both);
    }
    ck_assert(moved[0] && moved[1]);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* _i: 0 growing, 1 falling */
START_TEST(every_holder_arrives_from_the_side_that_the_station_asks_for)
{
    int side = _i == 0 ? 1 : -1;
    struct rig rig;
    rig_small_ideal(&rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        rig.config.geometry.rail[r].approach = (int8_t)side;
        rig.config.geometry.rail[r].overtravel_um = 1000;
        rig.sim_config.rail[r].backlash_um = 300;
        rig.config.carriage[r].passes_apart_um = 1500;
    }
    rig_begin(&rig);
    rig_start_changeover(&rig);
    int arrivals = 0, last_way[2] = {0, 0};
    while (rig_state(&rig) == KR_STATE_EXECUTE) {
        enum kr_carriage_phase before[2] = {rig_carriage_phase(&rig, 0), rig_carriage_phase(&rig, 1)};
        rig_cycle(&rig);
        for (uint16_t r = 0; r < 2; r++) {
            int32_t speed = sim_machine_speed_um_per_s(&rig.machine, r);
            if (abs(speed) > 1000)
                last_way[r] = speed > 0 ? 1 : -1;
            if (before[r] == KR_CARRIAGE_DRAGGING && rig_carriage_phase(&rig, r) == KR_CARRIAGE_SETTLING) {
                ck_assert_int_eq(last_way[r], side);
                arrivals++;
            }
        }
    }
    ck_assert_int_gt(arrivals, 3);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void add_devices(Suite *suite)
{
    TCase *tc = tcase_create("devices");
    tcase_add_test(tc, a_pin_that_never_seats_is_tried_again_so_often_and_then_named);
    tcase_add_test(tc, a_pin_that_seats_at_the_second_try_goes_on_and_is_counted);
    tcase_add_test(tc, a_holder_that_took_many_retries_is_named_once_for_maintenance);
    tcase_add_loop_test(tc, a_device_that_does_not_move_is_an_alarm_at_its_limit_and_not_before, 0, 2);
    tcase_add_test(tc, a_brake_that_is_not_proven_closed_keeps_the_pin_in);
    tcase_add_loop_test(tc, a_pin_or_a_brake_that_changes_by_itself_in_a_drag_aborts_it, 0, 2);
    tcase_add_loop_test(
        tc, a_carriage_that_passes_holders_stops_in_the_cycle_in_which_its_pin_is_not_proven_out, 0, 4);
    tcase_add_test(tc, no_holder_is_docked_before_it_is_stored_that_it_may_be_in_motion);
    tcase_add_test(tc, a_book_that_fails_holds_the_job);
    tcase_add_loop_test(tc, a_gateway_that_restarts_knows_the_pin_may_be_in_and_what_may_have_moved,
                        KR_CARRIAGE_DOCKING, KR_CARRIAGE_SCANNING);
    tcase_add_test(tc, a_drive_that_runs_on_is_stopped_when_it_first_answers);
    tcase_add_test(tc, a_gateway_that_restarts_again_in_a_quick_stop_lets_it_come_to_its_end);
    tcase_add_test(tc, a_homing_that_was_broken_off_leaves_no_datum_behind);
    tcase_add_loop_test(tc, after_a_position_jumped_nothing_is_believed_before_homing, 0, 3);
    tcase_add_test(tc, a_link_that_is_lost_in_motion_aborts_and_is_named_alone);
    tcase_add_test(tc, an_alarm_that_reset_found_standing_is_no_obstacle_any_more_when_its_cause_is_gone);
    tcase_add_loop_test(tc, a_copy_of_the_state_and_the_same_inputs_give_the_same_outputs, 0, 10);
    tcase_add_test(tc, rails_that_take_turns_never_move_at_the_same_time);
    tcase_add_loop_test(tc, every_holder_arrives_from_the_side_that_the_station_asks_for, 0, 2);
    suite_add_tcase(suite, tc);
}

int main(void)
{
    Suite *suite = suite_create("station: devices");
    add_devices(suite);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
