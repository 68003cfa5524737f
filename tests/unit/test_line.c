/* Tests of the signals to the line: that it may run and that knives may be lowered, and 0 in any doubt. */
#include "rig.h"
#include "suite.h"

/* ---- before, during and after a changeover --------------------------------------------------------------------- */

#define MAY (KR_LINE_MAY_START | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER)

static void cutting_is_clear(const struct rig *rig)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        for (uint16_t w = 0; w < KR_HOLDERS_MAX / 16; w++)
            ck_assert_uint_eq(rig_u16(rig, KR_REG_CUTTING, r, w), 0);
}

static void may_not(const struct rig *rig)
{
    ck_assert_uint_eq(rig_line_status(rig) & MAY, 0);
    cutting_is_clear(rig);
}

START_TEST(before_a_changeover_nothing_may_run)
{
    struct rig rig;
    rig_begin_small(&rig);
    may_not(&rig);
    rig_stage(&rig, 1);
    may_not(&rig);
    rig_end(&rig);
}
END_TEST

/* Idle holders inside the web must never be lowered: the mask has those that cut, and no other. */
static void cutting_is_the_plans(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        unsigned cutting = 0;
        for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++) {
            bool in_mask = rig_u16(rig, KR_REG_CUTTING, r, i / 16) >> i % 16 & 1;
            ck_assert_int_eq(in_mask, rig_u16(rig, KR_REG_HOLDER_CUT, r, i) != 0);
            ck_assert_int_eq(in_mask, i < SMALL_HOLDERS && kr_station_plan(rig->station)->rail[r].holder[i].cut != 0);
            cutting += in_mask;
        }
        ck_assert_uint_eq(cutting, 4); /* three slits, trimmed on both sides; five holders */
    }
}

static void may_run(const struct rig *rig)
{
    ck_assert_uint_eq(rig_line_status(rig), MAY);
    cutting_is_the_plans(rig);
}

START_TEST(from_start_to_complete_the_knives_are_to_be_raised_and_nothing_may_run)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    while (rig_state(&rig) != KR_STATE_COMPLETE) {
        ck_assert(rig_line_status(&rig) & KR_LINE_RAISE);
        may_not(&rig);
        rig_cycle(&rig);
    }
    may_run(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(the_mask_holds_exactly_the_holders_that_cut)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    cutting_is_the_plans(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(what_is_verified_stays_so_through_reset_and_stop)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    may_run(&rig);
    rig_reset(&rig);
    may_run(&rig);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    may_run(&rig);
    rig_stage(&rig, 2); /* the next order waits, the present one runs */
    may_run(&rig);
    rig.in.permissives &= (uint16_t) ~(KR_PERMIT_LINE_STOPPED | KR_PERMIT_KNIVES_RAISED); /* it does run */
    rig_run_ms(&rig, 1000);
    may_run(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(what_was_verified_is_no_longer_so_when_another_order_is_started)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_stage(&rig, 2);
    rig_reset(&rig);
    may_run(&rig); /* a staged order changes nothing yet */
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    may_not(&rig);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    rig_end(&rig);
}
END_TEST

/* ---- doubts ---------------------------------------------------------------------------------------------------- */

static void pin_is_not_proven_out(struct rig *rig)
{
    rig->in.axis[1].inputs &= (uint16_t)~KR_DI_PIN_OUT;
}

static void carriage_is_not_parked(struct rig *rig)
{
    rig->in.axis[1].position_um += 300; /* too little to be a jump, further than the window */
}

static void drive_is_on(struct rig *rig)
{
    rig->in.axis[1].statusword = (uint16_t)((rig->in.axis[1].statusword & ~0x6Fu) | 0x27u);
}

static void no_datum(struct rig *rig)
{
    rig->in.axis[1].referenced = false;
}

static void no_power(struct rig *rig)
{
    rig->in.axis[1].statusword &= (uint16_t)~KR_SW_VOLTAGE_ENABLED;
}

static void clamp_is_not_proven(struct rig *rig)
{
    rig->in.axis[1].inputs &= (uint16_t)~KR_DI_CLAMP_CLOSED;
}

static void clamp_is_open_too(struct rig *rig)
{
    rig->in.axis[1].inputs |= KR_DI_CLAMP_OPEN;
}

/* With permissives from the register, nobody in control means that nobody says that the guards are closed. */
static void nobody_in_control(struct rig *rig)
{
    rig->in.controlled = false;
}

static const struct doubt {
    void (*meddle)(struct rig *rig);
    bool undoes_verified; /* holders may have moved: it doesn't come back by itself */
} doubts[] = {
    {pin_is_not_proven_out, false},
    {carriage_is_not_parked, false},
    {drive_is_on, false},
    {no_datum, false},
    {no_power, true},
    {clamp_is_not_proven, true},
    {clamp_is_open_too, true},
    {nobody_in_control, true},
};
#define N_DOUBTS ((int)(sizeof doubts / sizeof doubts[0]))

static void only_a_scan_lets_it_run_again(struct rig *rig)
{
    may_not(rig);
    ck_assert_uint_eq(rig_status(rig) & (KR_STATUS_VERIFIED | KR_STATUS_SCAN_DUE), KR_STATUS_SCAN_DUE);
    ck_assert_int_eq(rig_known(rig, 1, 0), KR_REMEMBERED);
    rig_reset(rig);
    rig_start_job(rig, KR_JOB_VERIFY);
    rig_ends_verified(rig);
    may_run(rig);
}

/* Without its proof a clamp may have been open, and holders shift when it closes. */
START_TEST(a_doubt_about_the_machine_stops_the_line_at_once)
{
    const struct doubt *d = &doubts[_i];
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig_common_clamp(&rig, 1);
    rig.config.carriage[1].park_window_um = 200;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    rig_run_ms(&rig, 500);
    may_run(&rig);
    rig.meddle = d->meddle;
    rig_cycle(&rig);
    may_not(&rig);
    rig.meddle = NULL;
    rig.in.controlled = true;
    rig_run_ms(&rig, 3000);
    if (d->undoes_verified)
        only_a_scan_lets_it_run_again(&rig);
    else
        may_run(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_heartbeat_that_stands_still_stops_the_line_at_its_limit)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.drive_inputs = 0x1F; /* guards and power stay proven */
    rig_begin(&rig);
    rig_set_up_small(&rig);
    uint16_t last = rig.in.plc_heartbeat;
    while (rig.in.plc_heartbeat == last)
        rig_cycle(&rig);
    rig.heart_stopped = true;
    rig_run_ms(&rig, rig.config.heartbeat_limit_ms - 10);
    may_run(&rig);
    rig_cycle(&rig);
    may_not(&rig);
    rig.heart_stopped = false;
    rig_run_ms(&rig, 1000);
    may_run(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(open_guards_undo_the_verification_until_a_scan_has_looked_again)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig.in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    rig_cycle(&rig);
    may_not(&rig);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_REMEMBERED);
    rig.in.permissives = 0x1F;
    rig_run_ms(&rig, 2000);
    may_not(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_until_complete(&rig);
    may_run(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_link_that_is_lost_at_rest_undoes_the_verification)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_break(&rig, 0, SIM_LINK_LOST, 0, 0);
    rig_cycle(&rig);
    may_not(&rig);
    ck_assert(!rig_status_has(&rig, KR_STATUS_LINK));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_LINK, 0, 0), 0);
    rig_mend(&rig, 0, SIM_LINK_LOST, 0);
    rig_run_ms(&rig, 1000);
    may_not(&rig);
    rig_end(&rig);
}
END_TEST

/* It moves no knife: a line that runs goes on, and is not started. */
START_TEST(while_a_book_fails_no_line_is_started_and_no_knife_lowered)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_run_ms(&rig, 500);
    rig.in.book_failed = true;
    rig_cycle(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), KR_LINE_MAY_RUN);
    cutting_is_clear(&rig);
    rig.in.book_failed = false;
    rig_cycle(&rig);
    may_run(&rig);
    rig_end(&rig);
}
END_TEST

static void trouble(struct rig *rig, int which, bool is)
{
    rig->in.book_failed = which == 0 && is;
    rig->in.book_gone = which == 1 && is;
    rig->in.book_disk_full = which == 2 && is;
    rig_cycle(rig);
}

/* _i: it can't store, it is gone, its disk is full */
START_TEST(what_is_wrong_with_the_book_is_an_alarm_at_rest_too_and_ends_with_its_cause)
{
    static const enum kr_alarm_code code[] = {KR_ALARM_BOOK_FAILED, KR_ALARM_BOOK_GONE, KR_ALARM_BOOK_DISK_FULL};
    struct rig rig;
    rig_begin_small(&rig);
    rig_run_ms(&rig, 500);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    trouble(&rig, _i, true);
    ck_assert_int_eq(rig_alarm(&rig), code[_i]);
    ck_assert_int_eq(kr_station_state(rig.station), KR_STATE_IDLE);
    trouble(&rig, _i, false);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_end(&rig);
}
END_TEST

START_TEST(an_abort_at_rest_stops_the_line)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_command(&rig, KR_COMMAND_ABORT, 0);
    may_not(&rig);
    rig_until_state(&rig, KR_STATE_ABORTED);
    may_not(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_restarted_gateway_does_not_let_the_line_run_before_it_has_looked)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_run_ms(&rig, 500);
    rig_restart(&rig);
    rig_to_idle(&rig);
    may_not(&rig);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ORDER_IN_FORCE, 0, 0), 1);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_until_complete(&rig);
    may_run(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(tighter_tolerances_undo_the_verification)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig.config.heartbeat_limit_ms = 2000;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    rig_cycle(&rig);
    may_run(&rig);
    rig.config.geometry.tolerance_um -= 50;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_UNVERIFY));
    rig_cycle(&rig);
    may_not(&rig);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("line");
    TCase *tc = suite_case(suite, "changeovers");
    tcase_add_test(tc, before_a_changeover_nothing_may_run);
    tcase_add_test(tc, from_start_to_complete_the_knives_are_to_be_raised_and_nothing_may_run);
    tcase_add_test(tc, the_mask_holds_exactly_the_holders_that_cut);
    tcase_add_test(tc, what_is_verified_stays_so_through_reset_and_stop);
    tcase_add_test(tc, what_was_verified_is_no_longer_so_when_another_order_is_started);
    tc = suite_case(suite, "doubts");
    tcase_add_loop_test(tc, a_doubt_about_the_machine_stops_the_line_at_once, 0, N_DOUBTS);
    tcase_add_test(tc, a_heartbeat_that_stands_still_stops_the_line_at_its_limit);
    tcase_add_test(tc, open_guards_undo_the_verification_until_a_scan_has_looked_again);
    tcase_add_test(tc, a_link_that_is_lost_at_rest_undoes_the_verification);
    tcase_add_test(tc, while_a_book_fails_no_line_is_started_and_no_knife_lowered);
    tcase_add_loop_test(tc, what_is_wrong_with_the_book_is_an_alarm_at_rest_too_and_ends_with_its_cause, 0, 3);
    tcase_add_test(tc, an_abort_at_rest_stops_the_line);
    tcase_add_test(tc, a_restarted_gateway_does_not_let_the_line_run_before_it_has_looked);
    tcase_add_test(tc, tighter_tolerances_undo_the_verification);
    return suite;
}
