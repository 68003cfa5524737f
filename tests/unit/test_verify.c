/* Tests of verification, that is, of what is within the tolerance, to the micrometre; and of corrections. */
#include <stdlib.h>

#include "rig.h"
#include "suite.h"

/* ---- tolerance ------------------------------------------------------------------------------------------------- */

#define ORDER_TOLERANCE_UM 203
#define PAIR_WINDOW_UM     300
#define SLIT_TOLERANCE_UM  300
#define SCAN_UM            3 /* rounding of edges and of their mean, on an ideal machine */

static uint16_t holder_of_cut(const struct rig *rig, uint16_t rail, uint16_t cut) /* from 0; cut from 1 */
{
    for (uint16_t i = 0; i < 5; i++)
        if (rig_u16(rig, KR_REG_HOLDER_CUT, rail, i) == cut)
            return i;
    ck_abort_msg("nobody makes cut %d", cut);
    return 0;
}

static int32_t deviation(const struct rig *rig, uint16_t rail, uint16_t holder)
{
    return rig_i32(rig, KR_REG_HOLDER_DEVIATION, rail, holder);
}

/* Pushes the holder of a cut so that its deviation becomes off_um. */
static void put_off(struct rig *rig, uint16_t rail, uint16_t cut, int32_t off_um)
{
    uint16_t holder = holder_of_cut(rig, rail, cut);
    int32_t target_um = rig_i32(rig, KR_REG_HOLDER_TARGET, rail, holder);
    rig_push_by_hand(rig, rail, holder, target_um + off_um - sim_machine_holder_um(&rig->machine, rail, holder));
}

static void set_up_and_idle(struct rig *rig)
{
    rig_begin_small(rig);
    rig_set_up_small(rig);
    rig_reset(rig);
}

static void verify_is_good(struct rig *rig)
{
    rig_start_job(rig, KR_JOB_VERIFY);
    rig_ends_verified(rig);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_VERIFIED);
}

/* _i: 0 to the right, 1 to the left */
START_TEST(a_knife_just_within_its_tolerance_is_verified)
{
    struct rig rig;
    set_up_and_idle(&rig);
    put_off(&rig, 0, 2, (_i == 0 ? 1 : -1) * (ORDER_TOLERANCE_UM - SCAN_UM));
    verify_is_good(&rig);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_RECORD_WORST, 0, 0)), ORDER_TOLERANCE_UM);
    ck_assert_int_ge(abs(rig_i32(&rig, KR_REG_RECORD_WORST, 0, 0)), ORDER_TOLERANCE_UM - 2 * SCAN_UM);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_WORST_HOLDER, 0, 0), holder_of_cut(&rig, 0, 2) + 1);
    rig_end(&rig);
}
END_TEST

static void verify_is_bad(struct rig *rig)
{
    rig_start_job(rig, KR_JOB_VERIFY);
    rig_until_state(rig, KR_STATE_HELD);
    ck_assert(!rig_status_has(rig, KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_line_status(rig) & (KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER), 0);
}

START_TEST(a_knife_just_out_of_its_tolerance_is_named_with_value_and_limit)
{
    struct rig rig;
    set_up_and_idle(&rig);
    int32_t off_um = (_i == 0 ? 1 : -1) * (ORDER_TOLERANCE_UM + SCAN_UM + 1);
    put_off(&rig, 0, 2, off_um);
    uint16_t holder = holder_of_cut(&rig, 0, 2);
    verify_is_bad(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_OUT_OF_TOLERANCE);
    ck_assert_uint_eq(rig_first_alarm(&rig).rail, 1);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder + 1);
    ck_assert_int_le(abs(rig_first_alarm(&rig).value - off_um), SCAN_UM);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, ORDER_TOLERANCE_UM);
    ck_assert_int_le(abs(deviation(&rig, 0, holder) - off_um), SCAN_UM);
    rig_end(&rig);
}
END_TEST

START_TEST(an_order_may_have_a_tolerance_of_its_own)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_order_set(&rig, KR_REG_TOLERANCE, 0, 500);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig.config.pair_window_um = 2000;
    rig.config.slit_tolerance_um = 2000;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_UNVERIFY));
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_complete(&rig);
    rig_reset(&rig);
    put_off(&rig, 0, 2, 480);
    verify_is_good(&rig);
    rig_reset(&rig);
    put_off(&rig, 0, 2, 520);
    verify_is_bad(&rig);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, 500);
    rig_end(&rig);
}
END_TEST

/* Each knife of the pair is in its own tolerance; apart from each other they are not. */
START_TEST(a_pair_out_of_its_window_is_named_by_its_cut)
{
    struct rig rig;
    set_up_and_idle(&rig);
    rig.config.slit_tolerance_um = 1000;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_UNVERIFY));
    put_off(&rig, 0, 3, 155);
    put_off(&rig, 1, 3, -155);
    verify_is_bad(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PAIR_OUT_OF_WINDOW);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 3);
    ck_assert_int_le(abs(rig_first_alarm(&rig).value - 310), 2 * SCAN_UM);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, PAIR_WINDOW_UM);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_RECORD_WORST_PAIR, 0, 0)), 2000);
    rig_end(&rig);
}
END_TEST

START_TEST(a_pair_just_within_its_window_is_verified)
{
    struct rig rig;
    set_up_and_idle(&rig);
    put_off(&rig, 0, 3, 145);
    put_off(&rig, 1, 3, -145);
    verify_is_good(&rig);
    ck_assert_int_le(abs(abs(rig_i32(&rig, KR_REG_RECORD_WORST_PAIR, 0, 0)) - 290), 2 * SCAN_UM);
    rig_end(&rig);
}
END_TEST

START_TEST(a_slit_of_the_wrong_width_is_named)
{
    struct rig rig;
    set_up_and_idle(&rig);
    for (uint16_t r = 0; r < 2; r++) { /* both knives of a cut together: no pair is out of its window */
        put_off(&rig, r, 2, -155);
        put_off(&rig, r, 3, 155);
    }
    verify_is_bad(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_SLIT_OUT_OF_TOLERANCE);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 2);
    ck_assert_int_le(abs(rig_first_alarm(&rig).value - 310), 2 * SCAN_UM);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, SLIT_TOLERANCE_UM);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_SLIT_MEASURED, 0, 1) - (110 * MM + 310)), 2 * SCAN_UM);
    rig_end(&rig);
}
END_TEST

START_TEST(slits_are_held_to_their_compensated_widths)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_order_set(&rig, KR_REG_COMPENSATION, 0, 10000); /* 1 %: 1.1 mm on 110 */
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_SLIT_MEASURED, 0, 1) - 111100), 60);
    rig_end(&rig);
}
END_TEST

/* ---- corrections ----------------------------------------------------------------------------------------------- */

/* Runs until the upper rail sets a holder that cuts down at its place; from 0. */
static uint16_t placing_a_cut(struct rig *rig)
{
    rig_until_phase(rig, KR_PHASE_MOVE);
    for (;;) {
        rig_until_carriage(rig, 0, KR_CARRIAGE_BRAKING);
        uint16_t holder = (uint16_t)(rig_docked(rig, 0) - 1);
        if (rig_u16(rig, KR_REG_HOLDER_CUT, 0, holder) != 0)
            return holder;
        rig_until_carriage(rig, 0, KR_CARRIAGE_READY);
    }
}

START_TEST(what_is_out_of_tolerance_is_corrected_alone)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    uint16_t holder = placing_a_cut(&rig);
    rig_break(&rig, 0, SIM_BRAKE_SLIPS, holder, 700);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_READY);
    rig_run_ms(&rig, 1000);
    rig_mend(&rig, 0, SIM_BRAKE_SLIPS, holder);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_CORRECTIONS, 0, 0), 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_CORRECTIONS, 0, 1), 0);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

START_TEST(corrections_end_after_so_many_and_the_holder_is_named)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    uint16_t holder = placing_a_cut(&rig);
    rig_break(&rig, 0, SIM_BRAKE_SLIPS, holder, 700); /* again and again */
    rig_ms_until_alarm(&rig, KR_ALARM_OUT_OF_TOLERANCE);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder + 1);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_CORRECTIONS, 0, 0), rig.config.corrections_max);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ENDED);
    ck_assert_int_eq(kr_station_durable(rig.station)->record.cause.code, KR_ALARM_OUT_OF_TOLERANCE);
    rig_end(&rig);
}
END_TEST

START_TEST(a_holder_that_slips_again_and_again_is_named_for_maintenance_once)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.carriage[0].slips_notice = 2;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    uint16_t holder = placing_a_cut(&rig);
    rig_break(&rig, 0, SIM_BRAKE_SLIPS, holder, 700);
    rig_ms_until_alarm(&rig, KR_ALARM_MANY_SLIPS); /* a notice: the job goes on */
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder + 1);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 2);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    rig_mend(&rig, 0, SIM_BRAKE_SLIPS, holder);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_CORRECTIONS, 0, 0), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(a_verification_moves_no_holder)
{
    struct rig rig;
    set_up_and_idle(&rig);
    put_off(&rig, 0, 2, 1 * MM);
    int32_t at_um = sim_machine_holder_um(&rig.machine, 0, holder_of_cut(&rig, 0, 2));
    rig_start_job(&rig, KR_JOB_VERIFY);
    while (rig_state(&rig) == KR_STATE_EXECUTE) {
        rig_cycle(&rig);
        for (uint16_t r = 0; r < 2; r++)
            ck_assert_uint_eq(rig.out.axis[r].outputs & (KR_DO_PIN_IN | KR_DO_BRAKE_OPEN), 0);
    }
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(sim_machine_holder_um(&rig.machine, 0, holder_of_cut(&rig, 0, 2)), at_um);
    rig_end(&rig);
}
END_TEST

/* ---- a correction that has no room ----------------------------------------------------------------------------- */

/* Every holder cuts, and two neighbours stand 1.1 mm further apart than their spacing. To correct the first one to the
 * right it would have to overtravel by 2 mm, because it arrives from the right. */
static void set_up_without_room(struct rig *rig)
{
    static const int32_t widths_um[] = {51900, 90 * MM, 80 * MM, 100 * MM};
    rig_small_ideal(rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        rig->config.geometry.rail[r].approach = -1;
        rig->config.geometry.rail[r].overtravel_um = 2 * MM;
    }
    rig_begin(rig);
    rig_order(rig, 1, 360 * MM, widths_um, 4);
    ck_assert_int_eq(rig_request(rig, KR_REQUEST_STAGE), KR_OK);
    rig_start_job(rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(rig);
    rig_reset(rig);
}

START_TEST(a_knife_in_tolerance_that_has_no_room_to_be_corrected_stays)
{
    struct rig rig;
    set_up_without_room(&rig);
    put_off(&rig, 0, 1, -120); /* beyond the deadband */
    uint16_t holder = holder_of_cut(&rig, 0, 1);
    int32_t at_um = sim_machine_holder_um(&rig.machine, 0, holder);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert_int_eq(sim_machine_holder_um(&rig.machine, 0, holder), at_um);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_RECORD_WORST, 0, 0) + 120), 2 * SCAN_UM);
    rig_reset(&rig);
    put_off(&rig, 0, 1, 120); /* there is room to the left, so it is corrected */
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_RECORD_WORST, 0, 0)), 50);
    rig_end(&rig);
}
END_TEST

START_TEST(a_knife_out_of_a_tolerance_that_has_no_room_to_be_corrected_is_no_plan)
{
    struct rig rig;
    set_up_without_room(&rig);
    put_off(&rig, 0, 1, _i == 0 ? -170 : -400); /* half of the pair's window is 150, the knife's tolerance 203 */
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PLAN_REFUSED);
    rig_end(&rig);
}
END_TEST

/* ---- after a restart: who cuts is not stored, and follows from who is in place --------------------------------- */

START_TEST(after_a_restart_a_knife_in_tolerance_but_beyond_the_deadband_is_verified)
{
    struct rig rig;
    set_up_and_idle(&rig);
    put_off(&rig, 0, 2, 150); /* three deadbands */
    put_off(&rig, 1, 2, 120);
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_REMEMBERED);
    verify_is_good(&rig);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_RECORD_WORST, 0, 0) - 150), 2 * SCAN_UM);
    rig_end(&rig);
}
END_TEST

START_TEST(after_a_restart_a_knife_out_of_tolerance_is_named)
{
    struct rig rig;
    set_up_and_idle(&rig);
    uint16_t holder = holder_of_cut(&rig, 0, 2);
    put_off(&rig, 0, 2, 900);
    rig_restart(&rig);
    rig_to_idle(&rig);
    verify_is_bad(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_OUT_OF_TOLERANCE);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder + 1);
    ck_assert_int_le(abs(rig_first_alarm(&rig).value - 900), SCAN_UM);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("verify");
    TCase *tc = suite_case(suite, "tolerance");
    tcase_add_loop_test(tc, a_knife_just_within_its_tolerance_is_verified, 0, 2);
    tcase_add_loop_test(tc, a_knife_just_out_of_its_tolerance_is_named_with_value_and_limit, 0, 2);
    tcase_add_test(tc, an_order_may_have_a_tolerance_of_its_own);
    tcase_add_test(tc, a_pair_out_of_its_window_is_named_by_its_cut);
    tcase_add_test(tc, a_pair_just_within_its_window_is_verified);
    tcase_add_test(tc, a_slit_of_the_wrong_width_is_named);
    tcase_add_test(tc, slits_are_held_to_their_compensated_widths);
    tc = suite_case(suite, "corrections");
    tcase_add_test(tc, what_is_out_of_tolerance_is_corrected_alone);
    tcase_add_test(tc, corrections_end_after_so_many_and_the_holder_is_named);
    tcase_add_test(tc, a_holder_that_slips_again_and_again_is_named_for_maintenance_once);
    tcase_add_test(tc, a_verification_moves_no_holder);
    tc = suite_case(suite, "restarts");
    tcase_add_test(tc, a_knife_in_tolerance_that_has_no_room_to_be_corrected_stays);
    tcase_add_loop_test(tc, a_knife_out_of_a_tolerance_that_has_no_room_to_be_corrected_is_no_plan, 0, 2);
    tcase_add_test(tc, after_a_restart_a_knife_in_tolerance_but_beyond_the_deadband_is_verified);
    tcase_add_test(tc, after_a_restart_a_knife_out_of_tolerance_is_named);
    return suite;
}
