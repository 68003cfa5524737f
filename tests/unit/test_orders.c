/* Tests of orders: a request has a number, and is judged, stored, and only then answered; which requests are refused,
 * and what an answer changes. */
#include <stdlib.h>
#include <string.h>

#include "rig.h"
#include "suite.h"

/* ---- the verdict ----------------------------------------------------------------------------------------------- */

static uint32_t staged(const struct rig *rig)
{
    return (uint32_t)rig_i32(rig, KR_REG_ORDER_STAGED, 0, 0);
}

static uint32_t in_force(const struct rig *rig)
{
    return (uint32_t)rig_i32(rig, KR_REG_ORDER_IN_FORCE, 0, 0);
}

START_TEST(an_accepted_order_is_staged_and_answered_with_all_that_it_was)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 4711);
    ck_assert_int_eq(rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 9), KR_OK);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_SESSION, 0, 0), rig.session);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 9);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_KIND, 0, 0), KR_REQUEST_STAGE);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_ORDER, 0, 0), 4711);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_SLIT_COUNT, 0, 0), 3);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_SUM, 0, 0), 300 * MM);
    ck_assert_int_gt(rig_i32(&rig, KR_REG_VERDICT_TIME, 0, 0), 0);
    ck_assert_uint_eq(staged(&rig), 4711);
    ck_assert_uint_eq(in_force(&rig), 0);
    ck_assert(!rig.out.moving);
    rig_end(&rig);
}
END_TEST

START_TEST(the_verdict_appears_whole_in_one_cycle_and_not_before_it_is_stored)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.book_cycles = 40;
    rig_begin(&rig);
    rig_run_ms(&rig, 2000);
    rig_small_order(&rig, 4711);
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 9);
    int busy_cycles = 0;
    for (; rig_u16(&rig, KR_REG_REQUEST_BUSY, 0, 0); busy_cycles++) {
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 0);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_ORDER, 0, 0), 0);
        ck_assert_uint_eq(staged(&rig), 0);
        rig_cycle(&rig);
    }
    ck_assert_int_ge(busy_cycles, 40);
    ck_assert_int_le(busy_cycles, 100); /* within a second */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 9);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_ORDER, 0, 0), 4711);
    ck_assert_uint_eq(staged(&rig), 4711);
    ck_assert_uint_eq(rig.book.staged_order.order_number, 4711);
    rig_end(&rig);
}
END_TEST

static void idle_with_order(struct rig *rig)
{
    rig_small_ordinary(rig, 1);
    rig_begin(rig);
    rig_small_order(rig, 1);
}

/* The verdict's time is the plan's, and the plan's is held by the machine to what docking truly takes. */
START_TEST(the_verdict_tells_the_time_that_the_moves_then_take)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_request(&rig, KR_REQUEST_STAGE);
    int32_t told_ms = rig_i32(&rig, KR_REG_VERDICT_TIME, 0, 0);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    int32_t planned_ms = rig_i32(&rig, KR_REG_RECORD_PLANNED, 0, 0);
    ck_assert_int_gt(told_ms, 5000);
    ck_assert_int_le(abs(planned_ms - told_ms), 100); /* the scan found the holders some um elsewhere */
    rig_end(&rig);
}
END_TEST

static void until_judged(struct rig *rig)
{
    for (int i = 0; i < 1000 && rig->out.request_busy; i++)
        rig_cycle(rig);
    ck_assert(!rig->out.request_busy);
}

static void expect_waiting(const struct rig *rig, uint32_t force_number, uint32_t staged_number)
{
    ck_assert_uint_eq(in_force(rig), force_number);
    ck_assert_uint_eq(staged(rig), staged_number);
    ck_assert_int_eq(rig_status_has(rig, KR_STATUS_IN_FORCE), force_number != 0);
    ck_assert_int_eq(rig_status_has(rig, KR_STATUS_STAGED), staged_number != 0);
}

static uint16_t reg(const struct rig *rig, enum kr_reg r)
{
    return rig_u16(rig, r, 0, 0);
}

static void expect_verdict(const struct rig *rig, uint16_t number, enum kr_code code)
{
    ck_assert_uint_eq(reg(rig, KR_REG_VERDICT_NUMBER), number);
    ck_assert_uint_eq(rig_verdict(rig), code);
}

START_TEST(what_is_written_after_the_number_belongs_to_the_next_request)
{
    struct rig rig;
    idle_with_order(&rig);
    rig.plan_cycles = 20;
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 1);
    memset(rig.in.request.word, 0xFF, sizeof rig.in.request.word);
    until_judged(&rig);
    expect_verdict(&rig, 1, KR_OK);
    expect_waiting(&rig, 0, 1);
    ck_assert_int_eq(kr_station_durable(rig.station)->staged_order.width_nm[1], 110000000);
    rig_end(&rig);
}
END_TEST

START_TEST(while_one_is_judged_another_is_not_taken)
{
    struct rig rig;
    idle_with_order(&rig);
    rig.plan_cycles = 20;
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 1);
    rig_small_order(&rig, 2);
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 2);
    until_judged(&rig);
    rig_run_ms(&rig, 1000);
    expect_verdict(&rig, 1, KR_OK);
    expect_waiting(&rig, 0, 1);
    rig_end(&rig);
}
END_TEST

/* ---- numbers and sessions -------------------------------------------------------------------------------------- */

START_TEST(the_same_number_with_the_same_block_changes_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 5);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_complete(&rig);
    ck_assert_int_eq(rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 5), KR_OK);
    ck_assert_uint_eq(staged(&rig), 0);
    ck_assert_uint_eq(in_force(&rig), 1);
    rig_end(&rig);
}
END_TEST

START_TEST(the_same_number_over_a_changed_block_is_called_reused)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 5);
    rig_small_order(&rig, 2);
    ck_assert_int_eq(rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 5), KR_NUMBER_REUSED);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VALUE, 0, 0), 5);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_ORDER, 0, 0), 2);
    ck_assert_uint_eq(staged(&rig), 1);
    rig_end(&rig);
}
END_TEST

START_TEST(repeated_while_it_is_judged_it_is_judged_once)
{
    struct rig rig;
    idle_with_order(&rig);
    rig.plan_cycles = 20;
    for (int i = 0; i < 15; i++)
        rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 5);
    until_judged(&rig);
    expect_verdict(&rig, 5, KR_OK);
    uint32_t serial = kr_station_durable(rig.station)->serial;
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 5);
    rig_run_ms(&rig, 1000);
    ck_assert_uint_eq(kr_station_durable(rig.station)->serial, serial);
    rig_end(&rig);
}
END_TEST

START_TEST(after_65535_comes_1_and_a_smaller_number_is_as_new_as_a_greater_one)
{
    static const uint16_t numbers[] = {65535, 1, 40000, 39999};
    struct rig rig;
    idle_with_order(&rig);
    for (uint32_t i = 0; i < 4; i++) {
        rig_small_order(&rig, i + 1);
        rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, numbers[i]);
        expect_verdict(&rig, numbers[i], KR_OK);
        expect_waiting(&rig, 0, i + 1);
    }
    rig_end(&rig);
}
END_TEST

START_TEST(number_0_is_no_request)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 0);
    rig_run_ms(&rig, 500);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 0);
    ck_assert_uint_eq(staged(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_request_of_another_session_is_stale)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    ck_assert_int_eq(rig_request_numbered(&rig, (uint16_t)(rig.session + 7), KR_REQUEST_STAGE, 5), KR_STALE_SESSION);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VALUE, 0, 0), rig.session + 7);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), rig.session);
    ck_assert_uint_eq(staged(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(after_a_restart_the_verdict_stands_under_its_old_session_and_the_old_request_is_stale)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 4711);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 9);
    uint16_t old = rig.session;
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_uint_ne(rig_u16(&rig, KR_REG_SESSION, 0, 0), old);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_SESSION, 0, 0), old);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 9);
    ck_assert_int_eq(rig_verdict(&rig), KR_OK);
    ck_assert_uint_eq(staged(&rig), 4711);
    rig_request_numbered(&rig, old, KR_REQUEST_STAGE, 9); /* the PLC writes what it wrote before */
    ck_assert_int_eq(rig_verdict(&rig), KR_STALE_SESSION);
    ck_assert_int_eq(rig_command_numbered(&rig, old, KR_COMMAND_START, KR_JOB_CHANGEOVER, 77), KR_STALE_SESSION);
    rig_stays_still_ms(&rig, 3000);
    rig_end(&rig);
}
END_TEST

START_TEST(an_unknown_kind_of_request_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    ck_assert_int_eq(rig_request(&rig, (enum kr_request_kind)(KR_REQUEST_LAST + 1)), KR_UNKNOWN_KIND);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), KR_REQUEST_LAST);
    rig_end(&rig);
}
END_TEST

/* ---- staging --------------------------------------------------------------------------------------------------- */

START_TEST(a_new_acceptance_replaces_the_staged_order_and_says_which)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_REPLACED, 0, 0), 0);
    rig_stage(&rig, 2);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_REPLACED, 0, 0), 1);
    ck_assert_uint_eq(staged(&rig), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(a_rejected_order_leaves_the_staged_one_and_names_its_reason)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    rig_small_order(&rig, 2);
    rig_order_set(&rig, KR_REG_WIDTH_SUM, 0, 300 * MM + 1);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_SUM_MISMATCH);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VALUE, 0, 0), 300 * MM);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), 300 * MM + 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_REPLACED, 0, 0), 0);
    ck_assert_uint_eq(staged(&rig), 1);
    rig_end(&rig);
}
END_TEST

START_TEST(a_check_says_what_staging_would_and_stages_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_CHECK), KR_OK);
    ck_assert_int_gt(rig_i32(&rig, KR_REG_VERDICT_TIME, 0, 0), 0);
    ck_assert_uint_eq(staged(&rig), 0);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NO_ORDER);
    rig_end(&rig);
}
END_TEST

START_TEST(cancel_drops_the_staged_order_and_says_which)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_CANCEL), KR_NOTHING_STAGED);
    rig_stage(&rig, 1);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_CANCEL), KR_OK);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_REPLACED, 0, 0), 1);
    ck_assert_uint_eq(staged(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(cancel_with_nothing_staged_is_refused_and_what_is_in_force_stays)
{
    struct rig rig;
    idle_with_order(&rig);
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_CANCEL), KR_NOTHING_STAGED);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_until_state(&rig, KR_STATE_EXECUTE);
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_CANCEL), KR_NOTHING_STAGED);
    expect_waiting(&rig, 1, 0);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- while a job runs, or a plan is awaited -------------------------------------------------------------------- */

START_TEST(an_order_accepted_in_mid_changeover_alters_nothing_of_it)
{
    static const int32_t other_um[] = {60 * MM, 70 * MM};
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    uint16_t generation = rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0);
    rig_order(&rig, 2, 300 * MM, other_um, 2);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), generation);
    rig_until_complete(&rig);
    ck_assert_uint_eq(in_force(&rig), 1);
    ck_assert_uint_eq(staged(&rig), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_CUT_COUNT, 0, 0), 4);
    ck_assert_int_le(rig_worst_edge_um(&rig), 203);
    rig_end(&rig);
}
END_TEST

/* Order 1 is set up and verified, order 2 is staged, and the unit is Idle. */
static void one_in_force_another_staged(struct rig *rig)
{
    static const int32_t other_um[] = {60 * MM, 70 * MM};
    rig_begin_small(rig);
    rig_start_changeover(rig);
    rig_until_complete(rig);
    rig_order(rig, 2, 300 * MM, other_um, 2);
    ck_assert_int_eq(rig_request(rig, KR_REQUEST_STAGE), KR_OK);
    rig_reset(rig);
}

START_TEST(a_start_that_names_the_staged_order_sets_it_up)
{
    struct rig rig;
    one_in_force_another_staged(&rig);
    ck_assert_int_eq(rig_command_start_order(&rig, KR_JOB_CHANGEOVER, 2), KR_OK);
    rig_until_complete(&rig);
    ck_assert_uint_eq(in_force(&rig), 2);
    ck_assert_uint_eq(staged(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_start_that_names_another_order_is_refused_with_both_numbers_and_changes_nothing)
{
    static const enum kr_job jobs[] = {KR_JOB_CHANGEOVER, KR_JOB_VERIFY};
    static const uint32_t other[] = {2, 1}; /* the staged one; to verify only the one in force can be meant */
    struct rig rig;
    one_in_force_another_staged(&rig);
    for (int i = 0; i < 2; i++) {
        ck_assert_int_eq(rig_command_start_order(&rig, jobs[i], 4711), KR_OTHER_ORDER);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_COMMAND_RESULT_VALUE, 0, 0), 4711);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_COMMAND_RESULT_LIMIT, 0, 0), (int32_t)other[i]);
        ck_assert_int_eq(rig_state(&rig), KR_STATE_IDLE);
        ck_assert_uint_eq(in_force(&rig), 1);
        ck_assert_uint_eq(staged(&rig), 2);
        ck_assert(rig_u16(&rig, KR_REG_STATUS, 0, 0) & KR_STATUS_VERIFIED);
    }
    ck_assert_int_eq(rig_command_start_order(&rig, KR_JOB_VERIFY, 2), KR_OTHER_ORDER);
    rig_end(&rig);
}
END_TEST

START_TEST(a_start_that_names_the_order_in_force_sets_it_up_again_and_leaves_what_is_staged)
{
    struct rig rig;
    one_in_force_another_staged(&rig);
    ck_assert_int_eq(rig_command_start_order(&rig, KR_JOB_CHANGEOVER, 1), KR_OK);
    rig_until_complete(&rig);
    ck_assert_uint_eq(in_force(&rig), 1);
    ck_assert_uint_eq(staged(&rig), 2);
    ck_assert(rig_u16(&rig, KR_REG_STATUS, 0, 0) & KR_STATUS_VERIFIED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 0), 0); /* all stood where they belong */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_CUT_COUNT, 0, 0), 4);
    ck_assert_int_le(rig_worst_edge_um(&rig), 203);
    rig_end(&rig);
}
END_TEST

START_TEST(a_changeover_does_not_start_while_the_verdict_is_being_stored)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_run_ms(&rig, 500);
    rig.book_cycles = -1; /* the disk does not answer */
    rig_small_order(&rig, 1);
    rig_request(&rig, KR_REQUEST_STAGE);
    ck_assert(rig.out.request_busy);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_BUSY);
    rig_end(&rig);
}
END_TEST

START_TEST(a_request_and_a_job_that_want_a_plan_at_the_same_time_both_get_theirs)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig.plan_cycles = 50;
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    while (reg(&rig, KR_REG_PHASE) != KR_PHASE_PLAN)
        rig_cycle(&rig);
    rig_run_ms(&rig, 100 * _i);
    rig_small_order(&rig, 2);
    rig_request(&rig, KR_REQUEST_STAGE);
    ck_assert_uint_eq(rig_verdict(&rig), KR_OK);
    expect_waiting(&rig, 1, 2);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_job_behind_a_request_whose_plan_never_comes_is_held_with_the_reason)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_until_state(&rig, KR_STATE_EXECUTE);
    rig.plan_cycles = -1;
    rig_small_order(&rig, 2);
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 2);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PLAN_LATE);
    rig_end(&rig);
}
END_TEST

START_TEST(a_request_whose_plan_never_comes_is_refused_at_the_limit_and_the_next_one_is_judged)
{
    struct rig rig;
    idle_with_order(&rig);
    rig.plan_cycles = -1;
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 1);
    rig_run_ms(&rig, rig.config.plan_limit_ms - 20);
    ck_assert(rig.out.request_busy);
    rig_run_ms(&rig, 100);
    expect_verdict(&rig, 1, KR_NO_PLAN_IN_TIME);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), rig.config.plan_limit_ms);
    expect_waiting(&rig, 0, 0);
    rig.plan_cycles = 3;
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 2);
    expect_verdict(&rig, 2, KR_OK);
    expect_waiting(&rig, 0, 1);
    rig_end(&rig);
}
END_TEST

START_TEST(what_a_refused_request_would_have_taken_says_nothing_of_the_staged_order)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_request(&rig, KR_REQUEST_STAGE);
    int32_t told_ms = rig_i32(&rig, KR_REG_VERDICT_TIME, 0, 0);
    rig_order_set(&rig, KR_REG_WEB_WIDTH, 0, 0);
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_WEB_WIDTH);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_until_state(&rig, KR_STATE_EXECUTE);
    ck_assert_int_gt(told_ms, 5000);
    ck_assert_int_ge(rig_i32(&rig, KR_REG_TIME_LEFT, 0, 0), told_ms);
    rig_end(&rig);
}
END_TEST

/* ---- the book -------------------------------------------------------------------------------------------------- */

START_TEST(a_gateway_that_ends_before_the_book_had_it_knows_nothing_of_it)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 1);
    rig_run_ms(&rig, 100);
    rig.book_cycles = -1;
    rig_small_order(&rig, 2);
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 2);
    rig_run_ms(&rig, 1000);
    rig_restart(&rig);
    rig.book_cycles = 2;
    rig_cycle(&rig);
    expect_verdict(&rig, 1, KR_OK);
    expect_waiting(&rig, 0, 1);
    rig_end(&rig);
}
END_TEST

START_TEST(a_book_that_neither_stores_nor_fails_is_told_of)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_run_ms(&rig, 100);
    rig.book_cycles = -1;
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 1);
    rig_run_ms(&rig, KR_BOOK_LATE_MS - 100);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_run_ms(&rig, 200);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_BOOK_LATE);
    ck_assert(rig.out.request_busy); /* it is only told: what waits goes on waiting */
    rig_end(&rig);
}
END_TEST

static uint32_t reg32(const struct rig *rig, enum kr_reg reg)
{
    return (uint32_t)rig_i32(rig, reg, 0, 0);
}

/* found out: 0 it is known to fail when the request comes; 1 it fails while the plan is made; 2 in storing. */
START_TEST(what_the_book_cannot_store_is_refused_and_what_was_staged_stays)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_run_ms(&rig, 100);
    rig.book_broken = true;
    rig.in.book_failed = _i == 0;
    rig.plan_cycles = 20;
    rig_small_order(&rig, 2);
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 2);
    rig_run_ms(&rig, 50);
    rig.in.book_failed = _i <= 1;
    rig.book_broken = _i <= 1; /* what it was not given it has not to withdraw */
    rig.book_failures = _i == 2;
    until_judged(&rig);
    expect_verdict(&rig, 2, KR_NOT_STORED);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_ORDER), 2);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_REPLACED), 0);
    expect_waiting(&rig, 0, 1);
    rig.book_broken = false;
    rig_run_ms(&rig, 1000);
    expect_waiting(&rig, 0, 1); /* the book tries again; the order isn't in it */
    ck_assert_uint_eq(rig.book.staged_order.order_number, 1);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 3);
    expect_verdict(&rig, 3, KR_OK);
    expect_waiting(&rig, 0, 2);
    rig_end(&rig);
}
END_TEST

/* What a commit that failed wrote may stand in the file: killed now, the gateway would find the order staged. */
START_TEST(while_the_withdrawal_is_not_stored_the_request_stays_busy_and_the_alarm_stands)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_run_ms(&rig, 100);
    rig_small_order(&rig, 2);
    rig.book_broken = true;
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 2);
    for (int i = 0; i < 1000; i++) {
        rig_cycle(&rig);
        ck_assert(rig.out.request_busy);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_REQUEST_BUSY, 0, 0), 1);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 1);
        expect_waiting(&rig, 0, 1);
    }
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_BOOK_FAILED);
    rig.book_broken = false;
    until_judged(&rig);
    expect_verdict(&rig, 2, KR_NOT_STORED);
    ck_assert_uint_eq(rig.book.verdict.number, 2);
    ck_assert_int_eq(rig.book.verdict.result.code, KR_NOT_STORED);
    ck_assert_uint_eq(rig.book.staged_order.order_number, 1);
    rig_end(&rig);
}
END_TEST

/* The book fails while the plan is made, and gets well as soon as the request is refused: what it then stores must not
 * hold that order, not even for the moment until the next copy. */
START_TEST(an_order_that_was_refused_for_the_book_is_in_no_copy_that_the_book_gets)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_run_ms(&rig, 100);
    rig.plan_cycles = 20;
    rig_small_order(&rig, 2);
    rig_hand_over(&rig, rig.session, KR_REQUEST_STAGE, 2);
    rig_run_ms(&rig, 50);
    rig.in.book_failed = true;
    for (int i = 0; i < 200; i++) {
        rig_cycle(&rig);
        ck_assert_uint_eq(rig.book.staged_order.order_number, 1);
    }
    expect_verdict(&rig, 2, KR_NOT_STORED);
    ck_assert(!rig.in.book_failed);
    rig_end(&rig);
}
END_TEST

/* ---- the order's own numbers ----------------------------------------------------------------------------------- */

START_TEST(order_number_0_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 0);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_ORDER_NUMBER);
    rig_end(&rig);
}
END_TEST

START_TEST(half_an_order_is_refused_by_its_sum)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_order_set(&rig, KR_REG_WIDTH, 2, 90 * MM); /* as a write that has not arrived yet would leave it */
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_SUM_MISMATCH);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_VALUE), 290 * MM);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_LIMIT), 300 * MM);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_SUM), 290 * MM);
    expect_waiting(&rig, 0, 0);
    rig_order_set(&rig, KR_REG_WIDTH_SUM, 0, 0); /* the PLC gives none */
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    expect_waiting(&rig, 0, 1);
    rig_end(&rig);
}
END_TEST

/* Every register of the order is read where the map says, and what is wrong with it is named with its limit. */
static const struct {
    enum kr_reg reg;
    uint16_t index;
    int32_t value;
    enum kr_code code;
    uint16_t item;
    int32_t limit;
    bool length;
} wrong[] = {
    {KR_REG_SLIT_COUNT, 0, 0, KR_SLIT_COUNT, 0, 128, false},
    {KR_REG_SLIT_COUNT, 0, 129, KR_SLIT_COUNT, 0, 128, false},
    {KR_REG_SLIT_COUNT, 0, 65535, KR_SLIT_COUNT, 0, 128, false},
    {KR_REG_ALIGNMENT, 0, 2, KR_ALIGNMENT, 0, 1, false},
    {KR_REG_EDGE_FLAGS, 0, 4, KR_EDGE_FLAGS, 0, 3, false},
    {KR_REG_COMPENSATION, 0, 20001, KR_COMPENSATION, 0, 20000, false},
    {KR_REG_COMPENSATION, 0, -20001, KR_COMPENSATION, 0, -20000, false},
    {KR_REG_SHIFT, 0, 51 * MM, KR_SHIFT, 0, 50 * MM, true},
    {KR_REG_SHIFT, 0, -51 * MM, KR_SHIFT, 0, -50 * MM, true},
    {KR_REG_TOLERANCE, 0, 1010, KR_TOLERANCE, 0, 1000, true},
    {KR_REG_TOLERANCE, 0, -10, KR_TOLERANCE, 0, 0, true},
    {KR_REG_WEB_WIDTH, 0, 2801 * MM, KR_WEB_WIDTH, 0, 2800 * MM, true},
    {KR_REG_WEB_WIDTH, 0, 0, KR_WEB_WIDTH, 0, 2800 * MM, true},
    {KR_REG_WIDTH, 1, 0, KR_SLIT_WIDTH, 2, 2800 * MM, true},
    {KR_REG_WIDTH, 2, -5 * MM, KR_SLIT_WIDTH, 3, 2800 * MM, true},
};
#define N_WRONG ((int)(sizeof wrong / sizeof wrong[0]))

static void begin_format(struct rig *rig, struct kr_format format)
{
    rig_small_ordinary(rig, 1);
    rig->config.format = format;
    rig_begin(rig);
    rig_small_order(rig, 1);
}

static struct kr_format format_of(int i)
{
    return (struct kr_format){i & 1 ? KR_LENGTH_INCH : KR_LENGTH_MM, (i & 2) != 0};
}

START_TEST(what_is_wrong_with_an_order_is_named_with_item_value_and_limit_in_every_format)
{
    struct rig rig;
    int n = _i / 4;
    begin_format(&rig, format_of(_i));
    int32_t value = wrong[n].length ? rig_count(&rig, wrong[n].value) : wrong[n].value;
    int32_t limit = wrong[n].length ? rig_count(&rig, wrong[n].limit) : wrong[n].limit;
    rig_order_set(&rig, wrong[n].reg, wrong[n].index, value);
    rig_order_set(&rig, KR_REG_WIDTH_SUM, 0, 0);
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_STAGE), wrong[n].code);
    ck_assert_uint_eq(reg(&rig, KR_REG_VERDICT_ITEM), wrong[n].item);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VALUE, 0, 0), value);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), limit);
    expect_waiting(&rig, 0, 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_trim_outside_what_the_chutes_reach_is_refused_with_its_edge)
{
    struct rig rig;
    idle_with_order(&rig);
    rig_order_set(&rig, KR_REG_ALIGNMENT, 0, KR_FROM_OPERATOR_EDGE);
    rig_order_set(&rig, KR_REG_TRIM, 0, 4999);
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_TRIM_TOO_SMALL);
    ck_assert_uint_eq(reg(&rig, KR_REG_VERDICT_ITEM), 1);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_VALUE), 4999);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_LIMIT), 5000);
    rig_order_set(&rig, KR_REG_TRIM, 0, 5000);
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    rig_end(&rig);
}
END_TEST

/* 3 1/8 in, 4 1/16 in and 3 in: 0.0001 in is 2540 nm exactly, so that nothing is lost on the way in. */
START_TEST(inches_are_exact_and_the_word_order_is_the_configured_one)
{
    static const int32_t counts[] = {31250, 40625, 30000};
    struct rig rig;
    begin_format(&rig, (struct kr_format){KR_LENGTH_INCH, _i != 0});
    for (uint16_t i = 0; i < 3; i++)
        rig_order_set(&rig, KR_REG_WIDTH, i, counts[i]);
    rig_order_set(&rig, KR_REG_WIDTH_SUM, 0, 101875);
    rig_order_set(&rig, KR_REG_WEB_WIDTH, 0, 130000);
    ck_assert_uint_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    ck_assert_uint_eq(reg32(&rig, KR_REG_WORD_ORDER_PROOF), KR_MAP_WORD_ORDER_PROOF);
    ck_assert_uint_eq(reg(&rig, KR_REG_WORD_ORDER_PROOF), _i != 0 ? 0x0304 : 0x0102); /* its first register */
    ck_assert_uint_eq(reg(&rig, KR_REG_WORD_ORDER), _i != 0);
    ck_assert_uint_eq(reg(&rig, KR_REG_LENGTH_UNIT), 1);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_SUM), 101875);
    const struct kr_order *order = &kr_station_durable(rig.station)->staged_order;
    ck_assert_int_eq(order->width_nm[0], 31250LL * 2540);
    ck_assert_int_eq(order->web_width_nm, 130000LL * 2540);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    for (uint16_t i = 0; i < 3; i++) {
        int32_t right = rig_i32(&rig, KR_REG_CUT_LINE, 0, (uint16_t)(i + 1)),
                left = rig_i32(&rig, KR_REG_CUT_LINE, 0, i);
        ck_assert_int_le(abs(right - left - counts[i]), 1); /* each cut line is rounded once */
        ck_assert_int_le(abs(rig_i32(&rig, KR_REG_SLIT_MEASURED, 0, i) - counts[i]), 118); /* 0.3 mm */
    }
    rig_end(&rig);
}
END_TEST

static void add_verdicts(Suite *suite)
{
    TCase *tc = suite_case(suite, "verdicts");
    tcase_add_test(tc, an_accepted_order_is_staged_and_answered_with_all_that_it_was);
    tcase_add_test(tc, the_verdict_appears_whole_in_one_cycle_and_not_before_it_is_stored);
    tcase_add_test(tc, the_verdict_tells_the_time_that_the_moves_then_take);
    tcase_add_test(tc, what_is_written_after_the_number_belongs_to_the_next_request);
    tcase_add_test(tc, while_one_is_judged_another_is_not_taken);
}

static void add_numbers(Suite *suite)
{
    TCase *tc = suite_case(suite, "numbers");
    tcase_add_test(tc, the_same_number_with_the_same_block_changes_nothing);
    tcase_add_test(tc, the_same_number_over_a_changed_block_is_called_reused);
    tcase_add_test(tc, repeated_while_it_is_judged_it_is_judged_once);
    tcase_add_test(tc, after_65535_comes_1_and_a_smaller_number_is_as_new_as_a_greater_one);
    tcase_add_test(tc, number_0_is_no_request);
    tcase_add_test(tc, a_request_of_another_session_is_stale);
    tcase_add_test(tc, after_a_restart_the_verdict_stands_under_its_old_session_and_the_old_request_is_stale);
    tcase_add_test(tc, an_unknown_kind_of_request_is_refused);
}

static void add_staging(Suite *suite)
{
    TCase *tc = suite_case(suite, "staging");
    tcase_add_test(tc, a_new_acceptance_replaces_the_staged_order_and_says_which);
    tcase_add_test(tc, a_rejected_order_leaves_the_staged_one_and_names_its_reason);
    tcase_add_test(tc, a_check_says_what_staging_would_and_stages_nothing);
    tcase_add_test(tc, cancel_drops_the_staged_order_and_says_which);
    tcase_add_test(tc, cancel_with_nothing_staged_is_refused_and_what_is_in_force_stays);
}

static void add_jobs(Suite *suite)
{
    TCase *tc = suite_case(suite, "jobs");
    tcase_add_test(tc, an_order_accepted_in_mid_changeover_alters_nothing_of_it);
    tcase_add_test(tc, a_start_that_names_the_staged_order_sets_it_up);
    tcase_add_test(tc, a_start_that_names_another_order_is_refused_with_both_numbers_and_changes_nothing);
    tcase_add_test(tc, a_start_that_names_the_order_in_force_sets_it_up_again_and_leaves_what_is_staged);
    tcase_add_test(tc, a_changeover_does_not_start_while_the_verdict_is_being_stored);
    tcase_add_loop_test(tc, a_request_and_a_job_that_want_a_plan_at_the_same_time_both_get_theirs, 0, 8);
    tcase_add_test(tc, a_job_behind_a_request_whose_plan_never_comes_is_held_with_the_reason);
    tcase_add_test(tc, a_request_whose_plan_never_comes_is_refused_at_the_limit_and_the_next_one_is_judged);
    tcase_add_test(tc, what_a_refused_request_would_have_taken_says_nothing_of_the_staged_order);
}

static void add_book(Suite *suite)
{
    TCase *tc = suite_case(suite, "book");
    tcase_add_test(tc, a_gateway_that_ends_before_the_book_had_it_knows_nothing_of_it);
    tcase_add_test(tc, a_book_that_neither_stores_nor_fails_is_told_of);
    tcase_add_loop_test(tc, what_the_book_cannot_store_is_refused_and_what_was_staged_stays, 0, 3);
    tcase_add_test(tc, while_the_withdrawal_is_not_stored_the_request_stays_busy_and_the_alarm_stands);
    tcase_add_test(tc, an_order_that_was_refused_for_the_book_is_in_no_copy_that_the_book_gets);
}

static void add_numbers_of_the_order(Suite *suite)
{
    TCase *tc = suite_case(suite, "numbers of the order");
    tcase_add_test(tc, order_number_0_is_refused);
    tcase_add_test(tc, half_an_order_is_refused_by_its_sum);
    tcase_add_loop_test(tc, what_is_wrong_with_an_order_is_named_with_item_value_and_limit_in_every_format, 0,
                        4 * N_WRONG);
    tcase_add_test(tc, a_trim_outside_what_the_chutes_reach_is_refused_with_its_edge);
    tcase_add_loop_test(tc, inches_are_exact_and_the_word_order_is_the_configured_one, 0, 2);
}

Suite *make_suite(void)
{
    Suite *suite = suite_create("orders");
    add_verdicts(suite);
    add_numbers(suite);
    add_staging(suite);
    add_jobs(suite);
    add_book(suite);
    add_numbers_of_the_order(suite);
    return suite;
}
