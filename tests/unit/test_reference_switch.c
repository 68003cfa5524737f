/* Tests of references with a switch of their own: they may stand between the holders, even beside a holder's flag. They
 * show where drive and rail are, and the holders that nobody moved show whether the two switches still agree. The tests
 * compare with the true positions of holders and knives. */
#include <stdlib.h>
#include <string.h>

#include "rig.h"
#include "suite.h"

#define FLAG_UM       (8 * MM)
#define OWN_OFFSET_UM (-35 * MM) /* from the pin to the references' switch */

static const int32_t upper_mm[] = {60, 150, 331, 470}, lower_mm[] = {75, 150, 290, 451};

static void give(struct rig *rig, uint16_t r, const int32_t at_mm[], uint16_t n)
{
    struct kr_references *p = &rig->config.carriage[r].references;
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    *p = (struct kr_references){
        .n = n, .window_um = 1 * MM, .step_um = 300, .own_switch = true, .switch_offset_um = OWN_OFFSET_UM};
    m->n_references = n;
    m->reference_switch_own = true;
    m->reference_switch_offset_um = OWN_OFFSET_UM;
    for (uint16_t i = 0; i < n; i++) {
        p->flag[i] = (struct kr_reference){at_mm[i] * MM, FLAG_UM};
        m->reference[i] = (struct sim_reference_config){at_mm[i] * MM, FLAG_UM};
    }
}

static void with_own_switches(struct rig *rig)
{
    rig_small_ordinary(rig, 2);
    for (uint16_t r = 0; r < 2; r++)
        rig->config.carriage[r].jump_um = 20 * MM;
    give(rig, 0, upper_mm, 4);
    give(rig, 1, lower_mm, 4);
}

static void begin_set_up(struct rig *rig)
{
    with_own_switches(rig);
    rig_begin(rig);
    rig_set_up_small(rig);
}

static int32_t datum_um(const struct rig *rig)
{
    return rig_um(rig, KR_REG_DATUM_CORRECTION, 0, 0);
}

/* ---- what they are found by ------------------------------------------------------------------------------------ */

START_TEST(references_among_the_holders_are_found_and_a_rail_that_is_right_stays_as_it_is)
{
    struct rig rig;
    begin_set_up(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFERENCES_GOOD, 0, 0), 0xF);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFERENCES_GOOD, 1, 0), 0xF);
    ck_assert_int_le(abs(datum_um(&rig)), 30);
    ck_assert_int_eq(rig_um(&rig, KR_REG_SWITCH_CORRECTION, 0, 0), 0);
    rig_is_honest(&rig);
    rig_end(&rig);
}
END_TEST

/* By a reference's own place a holder's flag is seen by the other switch alone. */
START_TEST(a_pattern_is_found_among_its_own_switch_s_flags_alone)
{
    struct kr_references p = {.n = 4, .own_switch = true}, q = p;
    struct kr_hit hit[4];
    for (uint16_t i = 0; i < 4; i++) {
        p.flag[i] = (struct kr_reference){upper_mm[i] * MM, FLAG_UM};
        q.flag[i] = (struct kr_reference){lower_mm[i] * MM, FLAG_UM};
        hit[i] = (struct kr_hit){upper_mm[i] * MM - 123456, FLAG_UM};
    }
    ck_assert_int_eq(kr_pattern_find(&p, false, hit, 4).n, 4);
    ck_assert_int_eq(kr_pattern_find(&p, false, hit, 4).shift_um, -123456);
    ck_assert_int_eq(kr_pattern_find(&p, false, &hit[1], 3).n, 3);
    ck_assert_int_lt(kr_pattern_find(&q, false, hit, 4).n, 4);
    ck_assert(!kr_patterns_alike(&p, &q, false));
    q = p;
    ck_assert(kr_patterns_alike(&p, &q, false));
    q.own_switch = false; /* the one rail's switch does not see the other's flags */
    ck_assert(!kr_patterns_alike(&p, &q, false));
}
END_TEST

START_TEST(a_datum_that_shifted_is_taken_off_and_the_knives_are_truly_right)
{
    static const int32_t shifts_um[] = {250, -250, 90};
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, shifts_um[_i]);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(datum_um(&rig) + shifts_um[_i]), 40);
    rig_end(&rig);
}
END_TEST

START_TEST(beyond_a_step_it_holds_and_a_confirmed_shift_is_taken_off)
{
    static const int32_t shifts_um[] = {700, -5000};
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, shifts_um[_i]);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    struct kr_alarm alarm = rig_held_by(&rig, KR_ALARM_REFERENCES_SHIFTED);
    rig_nothing_is_measured(&rig, 0);
    ck_assert_int_le(abs(alarm.value - shifts_um[_i]), 40);
    struct edit_values values = {.rail = 1, .position_um = alarm.value};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_OK);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(datum_um(&rig) + shifts_um[_i]), 40);
    rig_end(&rig);
}
END_TEST

/* Its holders go with it, and the two switches agree all the same. */
START_TEST(a_warmer_rail_is_taken_off_by_its_slope)
{
    static const int32_t warmer_ppm[] = {250, -250};
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_RAIL_WARMER, 0, warmer_ppm[_i]);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(exchanged_drives_are_named_with_the_rail_whose_references_were_found)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DRIVES_EXCHANGED, 0, 0);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    rig_until_state(&rig, KR_STATE_HELD);
    struct kr_alarm alarm = rig_first_alarm(&rig); /* of whichever rail was scanned first */
    ck_assert_int_eq(alarm.code, KR_ALARM_REFERENCES_EXCHANGED);
    ck_assert_uint_eq(alarm.item + alarm.rail, 1 + 2);
    rig_end(&rig);
}
END_TEST

START_TEST(a_pattern_of_no_rail_is_told_as_such)
{
    static const int32_t strange_mm[] = {60, 180, 300, 433};
    struct rig rig;
    with_own_switches(&rig);
    for (uint16_t i = 0; i < 4; i++)
        rig.sim_config.rail[0].reference[i].at_um = strange_mm[i] * MM;
    rig_begin(&rig);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    ck_assert_uint_eq(rig_held_by(&rig, KR_ALARM_REFERENCES_EXCHANGED).item, 0);
    rig_end(&rig);
}
END_TEST

/* _i: which one; the faults by turns. */
START_TEST(one_of_several_that_is_dirty_or_missing_is_a_notice)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, _i % 2 ? SIM_REFERENCE_MISSING : SIM_REFERENCE_DIRTY, (uint16_t)(_i / 2), _i % 2 ? 0 : 3000);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_REFERENCE_BAD));
    ck_assert_int_eq(rig_first_alarm(&rig).item, _i / 2 + 1);
    rig_end(&rig);
}
END_TEST

/* Its middle is 1.6 mm off then, more than a distance may differ by. */
START_TEST(one_of_two_that_is_very_dirty_is_no_exchange)
{
    struct rig rig;
    with_own_switches(&rig);
    give(&rig, 0, (const int32_t[]){60, 470}, 2);
    rig_begin(&rig);
    rig_set_up_small(&rig);
    rig_break(&rig, 0, SIM_REFERENCE_DIRTY, 1, 3200);
    rig_scan_again(&rig);
    rig_held_by(&rig, KR_ALARM_REFERENCES_UNSEEN);
    rig_mend(&rig, 0, SIM_REFERENCE_DIRTY, 1);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_until_complete(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- the second switch itself ---------------------------------------------------------------------------------- */

START_TEST(a_dead_switch_of_the_references_is_named_and_nothing_is_measured)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_REFERENCE_SWITCH_STUCK_OFF, 0, 0);
    rig_change_over_again(&rig);
    struct kr_alarm alarm = rig_held_by(&rig, KR_ALARM_REFERENCE_SWITCH_DEAD);
    ck_assert_int_eq(alarm.limit, 4);
    rig_nothing_is_measured(&rig, 0);
    rig_mend(&rig, 0, SIM_REFERENCE_SWITCH_STUCK_OFF, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_switch_of_the_references_that_is_stuck_is_named_before_or_after_a_pass)
{
    struct rig rig;
    begin_set_up(&rig);
    if (_i == 0)
        rig_break(&rig, 0, SIM_REFERENCE_SWITCH_STUCK_ON, 0, 0);
    rig_change_over_again(&rig);
    if (_i == 1) {
        rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
        while (!(rig.in.axis[0].probe_status >> KR_PROBE_2 & KR_PROBE_RISING_STORED))
            rig_cycle(&rig);
        rig_break(&rig, 0, SIM_REFERENCE_SWITCH_STUCK_ON, 0, 0);
    }
    rig_held_by(&rig, KR_ALARM_REFERENCE_SWITCH_STUCK);
    rig_mend(&rig, 0, SIM_REFERENCE_SWITCH_STUCK_ON, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* Within a step of the references, so that these hold for nothing; the holders that nobody moved tell it. */
static const int32_t bumps_um[] = {250, -250, 160};

START_TEST(a_bumped_bracket_of_either_switch_holds_and_when_it_is_set_back_it_goes_on)
{
    enum sim_fault bracket = _i % 2 ? SIM_REFERENCE_BRACKET_BUMPED : SIM_BRACKET_BUMPED;
    int32_t bump_um = bumps_um[_i / 2];
    struct rig rig;
    begin_set_up(&rig);
    rig_scan_again(&rig); /* from here on all of them were scanned, and none dragged */
    rig_until_complete(&rig);
    rig_break(&rig, 0, bracket, 0, bump_um);
    rig_scan_again(&rig);
    struct kr_alarm alarm = rig_held_by(&rig, KR_ALARM_SWITCHES_APART);
    ck_assert_int_le(abs(abs(alarm.value) - abs(bump_um)), 40);
    rig_nothing_is_measured(&rig, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_held_by(&rig, KR_ALARM_SWITCHES_APART);
    rig_mend(&rig, 0, bracket, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_until_complete(&rig);
    rig_is_honest(&rig);
    rig_stage(&rig, 4);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_bracket_of_the_references_beyond_a_step_holds_by_the_references)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_REFERENCE_BRACKET_BUMPED, 0, 900);
    rig_scan_again(&rig);
    struct kr_alarm alarm = rig_held_by(&rig, KR_ALARM_REFERENCES_SHIFTED);
    struct edit_values values = {.rail = 1, .position_um = alarm.value};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_OK); /* which is not so: the other switch says no */
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_held_by(&rig, KR_ALARM_SWITCHES_APART);
    rig_nothing_is_measured(&rig, 0);
    rig_mend(&rig, 0, SIM_REFERENCE_BRACKET_BUMPED, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_until_complete(&rig);
    rig_is_honest(&rig);
    rig_end(&rig);
}
END_TEST

/* Also one confirmation after the other ends it: the references' is not asked for again. */
START_TEST(what_a_person_confirms_of_both_is_not_asked_for_in_turns)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_REFERENCE_BRACKET_BUMPED, 0, 900);
    rig_scan_again(&rig);
    struct kr_alarm alarm = rig_held_by(&rig, KR_ALARM_REFERENCES_SHIFTED);
    struct edit_values values = {.rail = 1, .position_um = alarm.value};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_OK);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    values.position_um = rig_held_by(&rig, KR_ALARM_SWITCHES_APART).value;
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_OK);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_until_complete(&rig);
    rig_end(&rig);
}
END_TEST

/* The bias of a scan that goes one way is the holders' switch's. */
START_TEST(with_two_switches_a_scan_goes_both_ways)
{
    struct rig rig;
    with_own_switches(&rig);
    struct kr_carriage_config carriage = rig.config.carriage[0];
    carriage.scan_ways = KR_SCAN_ONE_WAY;
    carriage.scan_bias_um = 140;
    ck_assert(kr_scan_goes_both_ways(&carriage, false));
    carriage.references.own_switch = false;
    ck_assert(!kr_scan_goes_both_ways(&carriage, false));
}
END_TEST

/* The switch that stands 35 mm to the left has to come beyond the last flag, the other one beyond the last holder. */
START_TEST(the_scan_s_range_brings_each_switch_over_its_own_flags)
{
    struct rig rig;
    int32_t from_um, to_um, from_without_um, to_without_um;
    with_own_switches(&rig);
    struct kr_carriage_config carriage = rig.config.carriage[0], without = carriage;
    without.references.n = 0;
    kr_scan_range(&rig.config.geometry.rail[0], &without, &from_without_um, &to_without_um);
    kr_scan_range(&rig.config.geometry.rail[0], &carriage, &from_um, &to_um);
    ck_assert_int_eq(from_um, from_without_um);
    carriage.references.flag[3].at_um = rig.config.geometry.rail[0].max_um;
    kr_scan_range(&rig.config.geometry.rail[0], &carriage, &from_um, &to_um);
    ck_assert_int_eq(to_um, to_without_um - OWN_OFFSET_UM + FLAG_UM / 2);
}
END_TEST

/* ---- the way back ---------------------------------------------------------------------------------------------- */

static void lose_datum(struct rig *rig, int32_t by_um)
{
    rig_break(rig, 0, SIM_DRIVE_FAULT, 0, 0x7305);
    rig_run_ms(rig, 100);
    rig_break(rig, 0, SIM_POSITION_JUMP, 0, by_um);
    rig_run_ms(rig, 100);
    rig_mend(rig, 0, SIM_DRIVE_FAULT, 0);
    rig_run_ms(rig, 100);
}

START_TEST(after_a_battery_fault_references_among_the_holders_give_the_datum_back)
{
    static const int32_t lost_um[] = {123456, -777777, 300};
    struct rig rig;
    begin_set_up(&rig);
    lose_datum(&rig, lost_um[_i]);
    rig_reset(&rig);
    struct start_values find = {.job = KR_JOB_FIND, .rail = 1};
    ck_assert_int_eq(rig_command_start(&rig, find), KR_OK);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_FINDING);
    rig_until_state_within(&rig, KR_STATE_COMPLETE, 120000);
    ck_assert_int_le(abs(datum_um(&rig) + lost_um[_i]), 300);
    rig_is_honest(&rig);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(the_last_two_have_to_be_told_by_their_distance)
{
    struct rig rig;
    with_own_switches(&rig);
    give(&rig, 0, (const int32_t[]){60, 150, 380, 470}, 4); /* 90 mm twice */
    ck_assert(!kr_find_is_possible(&rig.config.geometry, &rig.config.carriage[0].references));
    give(&rig, 0, upper_mm, 4);
    ck_assert(kr_find_is_possible(&rig.config.geometry, &rig.config.carriage[0].references));
    give(&rig, 0, upper_mm, 1);
    ck_assert(!kr_find_is_possible(&rig.config.geometry, &rig.config.carriage[0].references));
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("references with a switch of their own");
    TCase *tc = suite_case(suite, "references with a switch of their own");
    tcase_add_test(tc, references_among_the_holders_are_found_and_a_rail_that_is_right_stays_as_it_is);
    tcase_add_test(tc, a_pattern_is_found_among_its_own_switch_s_flags_alone);
    tcase_add_loop_test(tc, a_datum_that_shifted_is_taken_off_and_the_knives_are_truly_right, 0, 3);
    tcase_add_loop_test(tc, beyond_a_step_it_holds_and_a_confirmed_shift_is_taken_off, 0, 2);
    tcase_add_loop_test(tc, a_warmer_rail_is_taken_off_by_its_slope, 0, 2);
    tcase_add_test(tc, exchanged_drives_are_named_with_the_rail_whose_references_were_found);
    tcase_add_test(tc, a_pattern_of_no_rail_is_told_as_such);
    tcase_add_loop_test(tc, one_of_several_that_is_dirty_or_missing_is_a_notice, 0, 8);
    tcase_add_test(tc, one_of_two_that_is_very_dirty_is_no_exchange);
    tcase_add_test(tc, a_dead_switch_of_the_references_is_named_and_nothing_is_measured);
    tcase_add_loop_test(tc, a_switch_of_the_references_that_is_stuck_is_named_before_or_after_a_pass, 0, 2);
    tcase_add_loop_test(tc, a_bumped_bracket_of_either_switch_holds_and_when_it_is_set_back_it_goes_on, 0, 6);
    tcase_add_test(tc, a_bracket_of_the_references_beyond_a_step_holds_by_the_references);
    tcase_add_test(tc, what_a_person_confirms_of_both_is_not_asked_for_in_turns);
    tcase_add_test(tc, with_two_switches_a_scan_goes_both_ways);
    tcase_add_test(tc, the_scan_s_range_brings_each_switch_over_its_own_flags);
    tcase_add_loop_test(tc, after_a_battery_fault_references_among_the_holders_give_the_datum_back, 0, 3);
    tcase_add_test(tc, the_last_two_have_to_be_told_by_their_distance);
    return suite;
}
