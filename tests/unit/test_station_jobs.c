/* Jobs beside the changeover, other kinds of stations, what is recorded, and what a client sees of the way there. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "rig.h"

/* ---- jobs ------------------------------------------------------------------------------------------------------------- */

START_TEST(park_moves_every_holder_clear_of_the_web)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.geometry.web_max_nm = 180000000; /* 160 to 340 mm */
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_PARK);
    rig_until_complete(&rig);
    for (uint16_t r = 0; r < 2; r++) {
        for (uint16_t i = 0; i < 5; i++) {
            int32_t at_um = sim_machine_holder_um(&rig.machine, r, i);
            ck_assert(at_um <= 150 * MM + 60 ||
                      at_um >= 350 * MM - 60); /* 10 mm clear of it, within the deadband */
        }
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, r, 0), 0);
    }
    ck_assert_uint_eq(rig_line_status(&rig) & (KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ENDED);
    ck_assert(rig_status_has(&rig, KR_STATUS_PARKED));
    rig_end(&rig);
}
END_TEST

START_TEST(home_references_the_rail_that_is_asked_for_and_its_positions_are_only_remembered_then)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[0].absolute_encoder = rig.sim_config.rail[1].absolute_encoder = 0;
    rig_begin(&rig);
    ck_assert(!rig_status_has(&rig, KR_STATUS_REFERENCED));
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 2}), KR_OK);
    rig_until_complete(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 1, 0), 1);
    ck_assert_int_le(
        abs(rig_i32(&rig, KR_REG_CARRIAGE_POSITION, 1, 0) - sim_machine_carriage_um(&rig.machine, 1)), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 0); /* it places nothing */
    rig_reset(&rig);
    rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 0});
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_REFERENCED));
    rig_reset(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 1});
    rig_until_complete(&rig);
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_REMEMBERED);
    ck_assert_int_eq(rig_known(&rig, 1, 0), KR_MEASURED);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    rig_end(&rig);
}
END_TEST

START_TEST(a_rail_that_is_not_there_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 3}),
                     KR_UNKNOWN_RAIL);
    ck_assert_int_eq(rig_answer_limit(&rig), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(homing_that_does_not_end_is_an_alarm_at_its_limit)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[0].absolute_encoder = 0;
    rig.sim_config.rail[0].homing_speed_um_per_s = 10; /* it would take an hour */
    rig.config.carriage[0].home_limit_ms = 5000;
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_HOMING);
    int64_t came_ms = rig_ms_until_alarm(&rig, KR_ALARM_HOMING_FAILED);
    ck_assert_int_ge(came_ms, 5000);
    ck_assert_int_le(came_ms, 5100);
    ck_assert_uint_eq(rig_first_alarm(&rig).rail, 1);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert(!rig_anything_moves(&rig));
    rig_end(&rig);
}
END_TEST

START_TEST(a_guided_release_frees_the_rail_that_is_asked_for_where_it_stands)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig_command(&rig, KR_COMMAND_ABORT, 0);
    rig_until_state(&rig, KR_STATE_ABORTED);
    uint16_t holder = rig_docked(&rig, 0);
    ck_assert_uint_gt(holder, 0);
    rig_reset(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 1}),
                     KR_PIN_NOT_OUT); /* it would drag the holder along */
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_RELEASE, .rail = 1}), KR_OK);
    while (rig_state(&rig) != KR_STATE_COMPLETE) {
        rig_cycle(&rig);
        ck_assert(!rig_anything_moves(&rig));
    }
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), at_um);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0);
    ck_assert_int_eq(rig_known(&rig, 0, (uint16_t)(holder - 1)),
                     KR_UNKNOWN); /* nobody has measured where it is */
    rig_end(&rig);
}
END_TEST

START_TEST(a_changeover_to_where_everything_stands_moves_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    while (rig_state(&rig) != KR_STATE_COMPLETE) {
        rig_cycle(&rig);
        for (uint16_t r = 0; r < 2; r++)
            ck_assert_uint_eq(rig.out.axis[r].outputs & KR_DO_PIN_IN, 0);
    }
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 0) + rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 1), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(where_the_station_asks_for_it_every_changeover_begins_with_a_scan)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.scan_policy = KR_SCAN_ALWAYS;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, KR_PHASE_SCAN);
    rig_until_complete(&rig);
    rig_end(&rig);
}
END_TEST

/* What a station that accepts remembered places does with them, and with one that nobody remembers. */
START_TEST(where_the_station_accepts_what_is_remembered_only_an_unknown_place_is_scanned_for)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.scan_policy = KR_SCAN_UNKNOWN;
    rig_begin(&rig);
    if (_i == 1)
        rig.book.holder[0][2].known = KR_UNKNOWN;
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_uint_eq(rig_known(&rig, 0, 1), KR_REMEMBERED);
    ck_assert_int_eq(rig_status_has(&rig, KR_STATUS_SCAN_DUE), _i == 1);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, _i == 1 ? KR_PHASE_SCAN : KR_PHASE_PLAN);
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED)); /* measured by the verification all the same */
    rig_end(&rig);
}
END_TEST

/* ---- other stations ----------------------------------------------------------------------------------------------------- */

START_TEST(a_razor_station_has_an_upper_rail_alone)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.geometry.n_rails = rig.sim_config.n_rails = 1;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_COUNT, 0, 0), 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_ROLE, 1, 0), 65535);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_WORST_PAIR, 0, 0), 0);
    ck_assert_int_le(rig_worst_edge_um(&rig), 60);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_SLIT_MEASURED, 0, 0) - 90 * MM), 120);
    rig_end(&rig);
}
END_TEST

START_TEST(a_third_rail_puts_a_knife_at_every_cut_too)
{
    struct rig rig;
    rig_defaults(&rig, 3, 5, 2);
    rig_begin(&rig);
    static const int32_t widths_um[] = {300 * MM, 400 * MM, 350 * MM};
    rig_order(&rig, 1, 1200 * MM, widths_um, 3);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    for (uint16_t r = 0; r < 3; r++) {
        int cuts = 0;
        for (uint16_t i = 0; i < 5; i++)
            cuts += rig_u16(&rig, KR_REG_HOLDER_CUT, r, i) != 0;
        ck_assert_int_eq(cuts, 4);
        ck_assert_uint_ne(rig_u16(&rig, KR_REG_CUTTING, r, 0), 0);
    }
    ck_assert_int_le(rig_worst_edge_um(&rig), 203);
    ck_assert_int_le(rig_worst_pair_um(&rig), 300);
    rig_end(&rig);
}
END_TEST

START_TEST(holders_out_of_service_fixed_and_absent_are_left_where_they_are)
{
    struct rig rig;
    rig_defaults(&rig, 2, 9, 1);
    rig.book.holder[0][1].state = KR_HOLDER_ABSENT;
    rig.sim_config.rail[0].holder[1].absent = true;
    rig.book.holder[0][8].state = KR_HOLDER_FIXED;
    rig.sim_config.rail[0].holder[8].seized = true;
    rig.book.holder[1][4].state = KR_HOLDER_OUT;
    rig_begin(&rig);
    static const int32_t widths_um[] = {200 * MM, 250 * MM, 220 * MM};
    rig_order(&rig, 1, 800 * MM, widths_um, 3);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    int32_t fixed_um = sim_machine_holder_um(&rig.machine, 0, 8);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, 0, 1), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, 0, 8), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, 1, 4), 0);
    ck_assert_int_eq(sim_machine_holder_um(&rig.machine, 0, 8), fixed_um);
    rig_end(&rig);
}
END_TEST

/* ---- on the way ----------------------------------------------------------------------------------------------------------- */

START_TEST(progress_never_goes_back_and_ends_at_100)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    uint16_t before = 0;
    bool interrupted = false;
    while (rig_state(&rig) != KR_STATE_COMPLETE) {
        rig_cycle(&rig);
        uint16_t now = rig_u16(&rig, KR_REG_PROGRESS, 0, 0);
        ck_assert_uint_ge(now, before);
        before = now;
        if (now >= 60 && !interrupted) { /* looked for, planned and placed anew from here */
            interrupted = true;
            rig_command(&rig, KR_COMMAND_HOLD, 0);
            rig_until_state(&rig, KR_STATE_HELD);
            rig_command(&rig, KR_COMMAND_UNHOLD, 0);
        }
        ck_assert(now < 100 || rig_state(&rig) == KR_STATE_COMPLETE);
        ck_assert_int_ge(rig_i32(&rig, KR_REG_TIME_LEFT, 0, 0), 0);
    }
    ck_assert(interrupted);
    ck_assert_uint_eq(before, 100);
    rig_end(&rig);
}
END_TEST

START_TEST(progress_keeps_room_for_moves_and_their_verification_though_no_time_was_planned)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_stage(&rig, 2); /* the same cuts: nothing is to be moved */
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_TIME, 0, 0), 0);
    rig_push_by_hand(&rig, 0, 2, 5 * MM);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    ck_assert_uint_le(rig_u16(&rig, KR_REG_PROGRESS, 0, 0), 60);
    rig_until_complete(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(moves_done_and_planned_stay_until_the_next_plan)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    uint16_t planned = rig_u16(&rig, KR_REG_MOVES_PLANNED, 0, 0);
    ck_assert_uint_gt(planned, 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_MOVES_DONE, 0, 0), 0);
    rig_until_phase(&rig, KR_PHASE_VERIFY);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_MOVES_DONE, 0, 0), planned);
    rig_until_complete(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_MOVES_DONE, 0, 0), planned);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_MOVES_PLANNED, 0, 0), planned);
    rig_end(&rig);
}
END_TEST

START_TEST(time_left_is_right_within_a_fifth_from_the_plan_on)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    int64_t from_us = rig.time_us, said_ms = rig_i32(&rig, KR_REG_TIME_LEFT, 0, 0);
    rig_until_complete(&rig);
    int64_t took_ms = (rig.time_us - from_us) / 1000;
    ck_assert_int_le(llabs(said_ms - took_ms), took_ms / 5);
    rig_end(&rig);
}
END_TEST

START_TEST(a_record_tells_what_was_done)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    const struct kr_plan *plan = kr_station_plan(rig.station);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_VERIFIED);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_ORDER, 0, 0), 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_PLANNED, 0, 0), (int32_t)((plan->time_us + 500) / 1000));
    int32_t planned_ms = rig_i32(&rig, KR_REG_RECORD_PLANNED, 0, 0),
            actual_ms = rig_i32(&rig, KR_REG_RECORD_ACTUAL, 0, 0);
    ck_assert_int_gt(actual_ms, 0);
    ck_assert_int_le(abs(planned_ms - actual_ms), planned_ms / 5); /* the machine is held to the plan */
    ck_assert_int_gt(rig_i32(&rig, KR_REG_RECORD_TOTAL, 0, 0), actual_ms);
    for (uint16_t r = 0; r < 2; r++) {
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, r), plan->rail[r].n_moves);
        ck_assert_uint_gt(rig_u16(&rig, KR_REG_RECORD_WORST_HOLDER, 0, r), 0);
    }
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_command(&rig, KR_COMMAND_ABORT, 0);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ABORTED);
    rig_end(&rig);
}
END_TEST

START_TEST(moves_made_before_an_interruption_are_in_the_record)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_UNDOCKING);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING); /* the second one */
    rig_command(&rig, KR_COMMAND_HOLD, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 0), 1);
    ck_assert_int_gt(rig_i32(&rig, KR_REG_RECORD_ACTUAL, 0, 0), 1000);
    rig_end(&rig);
}
END_TEST

START_TEST(generations_step_when_what_they_count_changes_and_not_else)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_run_ms(&rig, 1000);
    uint16_t order = rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0),
             position = rig_u16(&rig, KR_REG_POSITION_GENERATION, 0, 0);
    rig_run_ms(&rig, 2000);
    rig_stage(&rig, 1); /* staged only */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), order);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_POSITION_GENERATION, 0, 0), position);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    ck_assert_uint_ne(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), order);
    rig_until_complete(&rig);
    ck_assert_uint_ne(rig_u16(&rig, KR_REG_POSITION_GENERATION, 0, 0), position);
    order = rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0);
    position = rig_u16(&rig, KR_REG_POSITION_GENERATION, 0, 0);
    rig_run_ms(&rig, 5000);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), order);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_POSITION_GENERATION, 0, 0), position);
    rig_end(&rig);
}
END_TEST

START_TEST(a_full_list_keeps_the_first_alarms_and_counts_the_others)
{
    struct rig rig;
    rig_defaults(&rig, 2, 30, 1);
    rig.config.carriage[0].displaced_um = 10;
    for (uint16_t i = 0; i < 30; i++)
        rig.book.holder[0][i].position_um += 500; /* every one stands elsewhere */
    rig_begin(&rig);
    static const int32_t widths_um[] = {300 * MM};
    rig_order(&rig, 1, 500 * MM, widths_um, 1);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, KR_PHASE_PLAN);
    ck_assert_uint_eq(rig_alarm_count(&rig), KR_ALARMS_MAX);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARMS_LOST, 0, 0), 30 - KR_ALARMS_MAX);
    for (uint16_t k = 0; k < KR_ALARMS_MAX; k++)
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_ITEMS, 0, k), k + 1);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_reset(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_plan_that_does_not_come_holds_the_job_at_its_limit)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig.plan_cycles = 100000;
    rig_until_phase(&rig, KR_PHASE_PLAN);
    while (rig.out.plan_ticket == 0)
        rig_cycle(&rig);
    uint32_t old = rig.out.plan_ticket;
    rig_run_ms(&rig, rig.config.plan_limit_ms - 10);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PLAN_LATE);
    rig_until_state(&rig, KR_STATE_HELD);
    rig.plan_cycles = 3;
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    rig_until_phase(&rig, KR_PHASE_FREE);
    rig_until_phase(&rig, KR_PHASE_PLAN);
    while (rig.out.plan_ticket == 0)
        rig_cycle(&rig);
    ck_assert_uint_ne(rig.out.plan_ticket, old); /* the old one's answer would be dropped */
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    rig_end(&rig);
}
END_TEST

START_TEST(an_answer_under_an_old_ticket_is_dropped)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig.plan_cycles = 100000;
    rig_until_phase(&rig, KR_PHASE_PLAN);
    while (rig.out.plan_ticket == 0)
        rig_cycle(&rig);
    for (int i = 0; i < 50; i++) {
        rig_cycle(&rig);
        rig.in.plan.ticket = rig.out.plan_ticket - 1;
        rig.in.plan.result = (struct kr_result){.code = KR_OK};
        kr_station_step(rig.station, &rig.in, &rig.out);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_PHASE, 0, 0), KR_PHASE_PLAN);
    }
    rig_end(&rig);
}
END_TEST

/* ---- reload ----------------------------------------------------------------------------------------------------------------- */

START_TEST(geometry_is_taken_in_stopped_and_idle_only)
{
    struct rig rig;
    rig_begin_small(&rig);
    struct kr_station_config other = rig.config;
    other.geometry.web_centre_um += 5 * MM;
    ck_assert(kr_station_reconfigure(rig.station, &other, true));
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    ck_assert(!kr_station_reconfigure(rig.station, &rig.config, true));
    rig_until_complete(&rig);
    ck_assert(!kr_station_reconfigure(rig.station, &rig.config, true));
    ck_assert_int_eq(rig_i32(&rig, KR_REG_CUT_LINE, 0, 0), 105 * MM); /* of the other centre */
    rig_reset(&rig);
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, true));
    rig_cycle(&rig);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_CUT_LINE, 0, 0), 100 * MM);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_REMEMBERED);
    rig_end(&rig);
}
END_TEST

START_TEST(other_numbers_of_rails_or_holders_are_not_taken)
{
    struct rig rig;
    rig_begin_small(&rig);
    struct kr_station_config other = rig.config;
    other.geometry.n_rails = 3;
    ck_assert(!kr_station_reconfigure(rig.station, &other, true));
    other = rig.config;
    other.geometry.rail[1].n_holders = 6;
    ck_assert(!kr_station_reconfigure(rig.station, &other, true));
    rig_cycle(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_COUNT, 0, 0), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_HOLDERS, 1, 0), 5);
    rig_end(&rig);
}
END_TEST

START_TEST(a_reload_in_motion_takes_limits_and_leaves_the_machine_as_it_was)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    struct kr_station_config other = rig.config;
    other.geometry.rail[0].max_um = 1;
    other.carriage[0].park_um = 300 * MM;
    other.carriage[0].scan_bias_um = 500;
    other.format.unit = KR_UNIT_INCH;
    other.heartbeat_limit_ms = 2500;
    ck_assert(kr_station_reconfigure(rig.station, &other, false));
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_LENGTH_UNIT, 0, 0), 0);
    ck_assert_int_le(abs(sim_machine_carriage_um(&rig.machine, 0) + 60 * MM), 1000);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

static TCase *jobs(void)
{
    TCase *tc = tcase_create("jobs");
    tcase_add_test(tc, park_moves_every_holder_clear_of_the_web);
    tcase_add_test(tc, home_references_the_rail_that_is_asked_for_and_its_positions_are_only_remembered_then);
    tcase_add_test(tc, a_rail_that_is_not_there_is_refused);
    tcase_add_test(tc, homing_that_does_not_end_is_an_alarm_at_its_limit);
    tcase_add_test(tc, a_guided_release_frees_the_rail_that_is_asked_for_where_it_stands);
    tcase_add_test(tc, a_changeover_to_where_everything_stands_moves_nothing);
    tcase_add_test(tc, where_the_station_asks_for_it_every_changeover_begins_with_a_scan);
    tcase_add_loop_test(tc, where_the_station_accepts_what_is_remembered_only_an_unknown_place_is_scanned_for,
                        0, 2);
    tcase_add_test(tc, a_razor_station_has_an_upper_rail_alone);
    tcase_add_test(tc, a_third_rail_puts_a_knife_at_every_cut_too);
    tcase_add_test(tc, holders_out_of_service_fixed_and_absent_are_left_where_they_are);
    return tc;
}

static TCase *on_the_way(void)
{
    TCase *tc = tcase_create("on the way");
    tcase_add_test(tc, progress_never_goes_back_and_ends_at_100);
    tcase_add_test(tc, progress_keeps_room_for_moves_and_their_verification_though_no_time_was_planned);
    tcase_add_test(tc, moves_done_and_planned_stay_until_the_next_plan);
    tcase_add_test(tc, time_left_is_right_within_a_fifth_from_the_plan_on);
    tcase_add_test(tc, a_record_tells_what_was_done);
    tcase_add_test(tc, moves_made_before_an_interruption_are_in_the_record);
    tcase_add_test(tc, generations_step_when_what_they_count_changes_and_not_else);
    tcase_add_test(tc, a_full_list_keeps_the_first_alarms_and_counts_the_others);
    tcase_add_test(tc, a_plan_that_does_not_come_holds_the_job_at_its_limit);
    tcase_add_test(tc, an_answer_under_an_old_ticket_is_dropped);
    tcase_add_test(tc, geometry_is_taken_in_stopped_and_idle_only);
    tcase_add_test(tc, other_numbers_of_rails_or_holders_are_not_taken);
    tcase_add_test(tc, a_reload_in_motion_takes_limits_and_leaves_the_machine_as_it_was);
    return tc;
}

int main(void)
{
    Suite *suite = suite_create("station: jobs");
    suite_add_tcase(suite, jobs());
    suite_add_tcase(suite, on_the_way());
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
