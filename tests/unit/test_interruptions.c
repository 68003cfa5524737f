/* Tests of Hold, Stop, Abort, a restart and a shut-down in every phase of a changeover: what is stored first, what the
 * station still believes, and how the job continues. */
#include <stdlib.h>

#include "rig.h"
#include "suite.h"

/* ---- in any phase ---------------------------------------------------------------------------------------------- */

static const struct moment {
    enum kr_phase job;
    enum kr_carriage_phase carriage;
    int32_t wait_ms;
} moments[] = {
    {KR_PHASE_SCAN, KR_CARRIAGE_ENABLING, 20},      {KR_PHASE_SCAN, KR_CARRIAGE_SCANNING, 1500},
    {KR_PHASE_MOVE, KR_CARRIAGE_TRAVELLING, 200},   {KR_PHASE_MOVE, KR_CARRIAGE_DOCKING, 70},
    {KR_PHASE_MOVE, KR_CARRIAGE_FREEING, 40},       {KR_PHASE_MOVE, KR_CARRIAGE_DRAGGING, 200},
    {KR_PHASE_MOVE, KR_CARRIAGE_SETTLING, 30},      {KR_PHASE_MOVE, KR_CARRIAGE_BRAKING, 40},
    {KR_PHASE_MOVE, KR_CARRIAGE_UNDOCKING, 70},     {KR_PHASE_VERIFY, KR_CARRIAGE_SCANNING, 4500},
    {KR_PHASE_TRAVEL, KR_CARRIAGE_TRAVELLING, 100},
};
#define N_MOMENTS ((int)(sizeof moments / sizeof moments[0]))

static bool may_have_moved(enum kr_carriage_phase phase)
{
    return phase >= KR_CARRIAGE_FREEING && phase <= KR_CARRIAGE_BRAKING;
}

/* Every moment on two rails: even numbers clamp each holder, odd ones have a common clamp. */
static const struct moment *reach(struct rig *rig, int number)
{
    const struct moment *moment = &moments[number / 2];
    rig_small_ordinary(rig, 1);
    if (number % 2)
        rig_common_clamp(rig, 0);
    rig_begin(rig);
    rig_start_changeover(rig);
    rig_until_step(rig, moment->job, 0, moment->carriage);
    rig_run_ms(rig, moment->wait_ms);
    ck_assert_int_eq(rig_carriage_phase(rig, 0), moment->carriage);
    return moment;
}

static void interrupt(struct rig *rig, int number, enum kr_command command, enum kr_unit_state rest)
{
    const struct moment *moment = reach(rig, number);
    uint16_t docked = rig_docked(rig, 0);
    ck_assert_uint_eq(rig_command(rig, command, 0), KR_OK);
    rig_until_state(rig, rest);
    rig_is_honest(rig);
    rig_is_sound(rig);
    if (command == KR_COMMAND_ABORT && may_have_moved(moment->carriage))
        ck_assert_uint_eq(rig_known(rig, 0, (uint16_t)(docked - 1)), KR_UNKNOWN);
    for (uint16_t i = 0; rig->config.carriage[0].clamping == KR_CLAMP_COMMON && i < SMALL_HOLDERS; i++)
        if (moment->job == KR_PHASE_MOVE && i + 1 != docked)
            ck_assert_uint_eq(rig_known(rig, 0, i), KR_UNKNOWN);
    rig_nothing_moves_ms(rig, 2000);
}

START_TEST(held_in_any_phase_nothing_is_claimed_that_is_not_so_and_unheld_it_ends_verified)
{
    struct rig rig;
    interrupt(&rig, _i, KR_COMMAND_HOLD, KR_STATE_HELD);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0); /* the pin is out: the drive stood still */
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNHOLD, 0), KR_OK);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(stopped_in_any_phase_the_next_start_ends_verified)
{
    struct rig rig;
    interrupt(&rig, _i, KR_COMMAND_STOP, KR_STATE_STOPPED);
    rig_carry_on(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(aborted_in_any_phase_what_may_have_moved_is_unknown_and_the_next_start_ends_verified)
{
    struct rig rig;
    interrupt(&rig, _i, KR_COMMAND_ABORT, KR_STATE_ABORTED);
    rig_carry_on(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_gateway_that_restarts_in_any_phase_stops_what_runs_and_the_next_start_ends_verified)
{
    struct rig rig;
    reach(&rig, _i);
    uint16_t docked = rig_docked(&rig, 0);
    rig_restart(&rig);
    rig.in.controlled = true;
    rig.in.control_generation++;
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_run_ms(&rig, 1000);
    rig_nothing_moves_ms(&rig, 1000);
    for (uint16_t i = 0; i < SMALL_HOLDERS; i++)
        ck_assert_uint_le(rig_known(&rig, 0, i), i + 1 == docked ? KR_PLACED : KR_REMEMBERED);
    rig_is_honest(&rig);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0); /* the guards' drive input is there: it came out */
    rig_carry_on(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(shut_down_in_any_phase_it_comes_to_rest_with_the_pin_out_and_all_of_it_stored)
{
    struct rig rig;
    reach(&rig, _i);
    rig.in.shut_down = true;
    rig_cycle(&rig);
    ck_assert(!rig.out.at_rest);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_STOPPING);
    for (int i = 0; i < 1000 && !rig.out.at_rest; i++)
        rig_cycle(&rig);
    ck_assert(rig.out.at_rest);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_STOPPED);
    ck_assert(!rig.out.moving);
    ck_assert(!rig_anything_moves(&rig));
    ck_assert_uint_eq(rig.book.serial, kr_station_durable(rig.station)->serial);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_RESET, 0), KR_NOT_IN_THIS_STATE);
    rig_stays_still_ms(&rig, 1000);
    rig_is_honest(&rig);
    rig_restart(&rig);
    rig.in.shut_down = false;
    rig_to_idle(&rig);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_OK);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- restarts -------------------------------------------------------------------------------------------------- */

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
        ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_RELEASE_NEEDED);
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

/* Drives at the end of a wire answer some cycles after the start, and are looked at before anything is written to
 * them. */
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

/* ---- what is stored first, and what waits for it --------------------------------------------------------------- */

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

START_TEST(a_book_that_fails_holds_the_job_until_it_stores_again)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig.book_broken = true;
    rig_ms_until_alarm(&rig, KR_ALARM_BOOK_FAILED);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    for (int i = 0; i < 500; i++) {
        rig_cycle(&rig);
        ck_assert_int_ne(rig_state(&rig), KR_STATE_EXECUTE);
    }
    ck_assert_int_eq(rig_state(&rig), KR_STATE_HELD); /* the cause stands */
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_BOOK_FAILED);
    rig.book_broken = false;
    rig_run_ms(&rig, 200);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- going on -------------------------------------------------------------------------------------------------- */

START_TEST(what_was_placed_before_an_interruption_is_looked_at_before_it_is_judged)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.geometry.n_rails = rig.sim_config.n_rails = 1;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    uint16_t moves = rig_u16(&rig, KR_REG_MOVES_PLANNED, 0, 0);
    while (rig_u16(&rig, KR_REG_MOVES_DONE, 0, 0) + 1 < moves || rig_carriage_phase(&rig, 0) != KR_CARRIAGE_SETTLING)
        rig_cycle(&rig);
    rig_command(&rig, KR_COMMAND_HOLD, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_resume(&rig, KR_COMMAND_UNHOLD); /* nothing is left to move */
    rig_until_phase(&rig, KR_PHASE_VERIFY);
    rig_ends_verified(&rig);
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

Suite *make_suite(void)
{
    Suite *suite = suite_create("interruptions");
    TCase *tc = suite_case(suite, "phases");
    tcase_add_loop_test(tc, held_in_any_phase_nothing_is_claimed_that_is_not_so_and_unheld_it_ends_verified, 0,
                        2 * N_MOMENTS);
    tcase_add_loop_test(tc, stopped_in_any_phase_the_next_start_ends_verified, 0, 2 * N_MOMENTS);
    tcase_add_loop_test(tc, aborted_in_any_phase_what_may_have_moved_is_unknown_and_the_next_start_ends_verified, 0,
                        2 * N_MOMENTS);
    tcase_add_loop_test(tc, a_gateway_that_restarts_in_any_phase_stops_what_runs_and_the_next_start_ends_verified, 0,
                        2 * N_MOMENTS);
    tcase_add_loop_test(tc, shut_down_in_any_phase_it_comes_to_rest_with_the_pin_out_and_all_of_it_stored, 0,
                        2 * N_MOMENTS);
    tc = suite_case(suite, "restarts");
    tcase_add_loop_test(tc, a_gateway_that_restarts_knows_the_pin_may_be_in_and_what_may_have_moved,
                        KR_CARRIAGE_DOCKING, KR_CARRIAGE_SCANNING);
    tcase_add_test(tc, a_gateway_that_restarts_again_in_a_quick_stop_lets_it_come_to_its_end);
    tcase_add_test(tc, a_drive_that_runs_on_is_stopped_when_it_first_answers);
    tc = suite_case(suite, "book");
    tcase_add_test(tc, no_holder_is_docked_before_it_is_stored_that_it_may_be_in_motion);
    tcase_add_test(tc, a_book_that_fails_holds_the_job_until_it_stores_again);
    tc = suite_case(suite, "going on");
    tcase_add_test(tc, what_was_placed_before_an_interruption_is_looked_at_before_it_is_judged);
    tcase_add_test(tc, moves_made_before_an_interruption_are_in_the_record);
    return suite;
}
