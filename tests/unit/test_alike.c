/* Tests of a whole rail that is off: its datum, its scale, its switch, or another rail's drive. Without references,
 * only the holders can show this: if all of them are off in the same way, they are not what has moved. The tests
 * compare with the true positions. */
#include <stdlib.h>
#include <string.h>

#include "../long/draw.h"
#include "rig.h"
#include "suite.h"

/* The small order is set up and verified; then hands may have been there, so that the next job looks first. */
static void begin_set_up(struct rig *rig)
{
    rig_small_ordinary(rig, 2);
    rig_begin(rig);
    rig_set_up_small(rig);
}

/* The changeover is started again, and is held by this alarm alone: nothing of the rail is measured or verified. */
static void expect_held_by(struct rig *rig, enum kr_alarm_code code, int32_t shift_um, int32_t within_um)
{
    struct kr_alarm alarm = rig_held_by(rig, code);
    ck_assert_int_le(abs(alarm.value - shift_um), within_um);
    ck_assert_uint_eq(rig_alarm_count(rig), 1);
    ck_assert_int_eq(rig_um(rig, KR_REG_RAIL_SHIFT, 0, 0), alarm.value);
    rig_nothing_is_measured(rig, 0);
}

static const int32_t shifts_um[] = {700, 1200, -700, -5000};

/* Less than a jump or a drift that is named, between two changeovers; whether a scan comes first or last. */
START_TEST(a_datum_that_shifted_between_two_changeovers_holds_with_one_alarm)
{
    struct rig rig;
    begin_set_up(&rig);
    rig.config.carriage[0].jump_um = 10 * MM;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, shifts_um[_i / 2]);
    if (_i % 2)
        rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    expect_held_by(&rig, KR_ALARM_RAIL_SHIFTED, shifts_um[_i / 2], 30);
    rig_end(&rig);
}
END_TEST

/* Before the alarm nothing has moved by the wrong datum, since hands may have been there. */
START_TEST(a_cause_that_is_mended_needs_no_confirmation)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 700);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    expect_held_by(&rig, KR_ALARM_RAIL_SHIFTED, 700, 30);
    rig_resume(&rig, KR_COMMAND_UNHOLD); /* nobody has looked: it comes again */
    expect_held_by(&rig, KR_ALARM_RAIL_SHIFTED, 700, 30);
    rig_mend(&rig, 0, SIM_DATUM_SHIFTED, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    ck_assert_int_eq(rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0), 0);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_RAIL_SHIFTED)); /* nobody has to give Reset for that */
    rig_end(&rig);
}
END_TEST

/* Only whoever may maintain gets so far (the face sees to it), and has to have read by how much. */
START_TEST(what_a_person_confirms_is_measured_by_the_next_scan_and_who_it_was_is_kept)
{
    struct rig rig;
    begin_set_up(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, (struct edit_values){.rail = 1}), KR_NO_SHIFT_TO_CONFIRM);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 400);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    expect_held_by(&rig, KR_ALARM_RAIL_SHIFTED, 400, 30);
    int32_t shift_um = rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0);
    struct edit_values values = {.rail = 1, .position_um = shift_um + 50};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_SHIFT_DIFFERS);
    values.rail = 3;
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_UNKNOWN_RAIL);
    strcpy(rig.in.edit_origin, "192.0.2.7");
    values = (struct edit_values){.rail = 1, .position_um = shift_um};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_OK);
    ck_assert_str_eq(rig.book.edit.origin, "192.0.2.7");
    ck_assert_int_eq(rig.book.edit.position_um, shift_um);
    ck_assert_int_eq(rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0), 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_until_complete(&rig); /* true only as far as the person was right, and he was not */
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_MEASURED);
    rig_end(&rig);
}
END_TEST

/* The bracket falls further after it was looked at. */
START_TEST(another_shift_than_the_confirmed_one_is_told_anew)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_BRACKET_BUMPED, 0, -400);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    expect_held_by(&rig, KR_ALARM_RAIL_SHIFTED, 400, 30);
    struct edit_values values = {.rail = 1, .position_um = rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0)};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_OK);
    rig_break(&rig, 0, SIM_BRACKET_BUMPED, 0, -900);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    expect_held_by(&rig, KR_ALARM_RAIL_SHIFTED, 900, 30);
    rig_end(&rig);
}
END_TEST

START_TEST(a_confirmation_that_the_book_could_not_store_is_none)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 700);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_run_ms(&rig, 1000);
    int32_t shift_um = rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0);
    rig.book_failures = 1;
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, (struct edit_values){.rail = 1, .position_um = shift_um}),
                     KR_NOT_STORED);
    ck_assert_int_eq(rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0), shift_um);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_RAIL_SHIFTED));
    rig_end(&rig);
}
END_TEST

START_TEST(a_shift_is_not_forgotten_by_a_restart_and_no_policy_moves_by_it)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    rig.config.scan_policy = KR_SCAN_UNKNOWN;
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 700);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    expect_held_by(&rig, KR_ALARM_RAIL_SHIFTED, 700, 30);
    rig_run_ms(&rig, 1000);
    rig_restart(&rig);
    rig_run_ms(&rig, 1000);
    ck_assert_int_le(abs(rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0) - 700), 30);
    rig_to_idle(&rig);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    expect_held_by(&rig, KR_ALARM_RAIL_SHIFTED, 700, 30);
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++)
        ck_assert_uint_eq(sim_machine_releases(&rig.machine, 0, h), 0);
    rig_end(&rig);
}
END_TEST

/* The lower rail's holders stand 30 mm further than the upper's. */
START_TEST(exchanged_drives_are_one_alarm_of_each_rail_and_not_a_notice_of_each_holder)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++) {
        rig.book.holder[1][h].position_um += 30 * MM;
        rig.sim_config.rail[1].holder[h].start_um += 30 * MM;
    }
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    rig_break(&rig, 0, SIM_LINK_LOST, 0, 0); /* behind it nobody sees the position change */
    rig_break(&rig, 1, SIM_LINK_LOST, 0, 0);
    rig_run_ms(&rig, 500);
    rig_break(&rig, 0, SIM_DRIVES_EXCHANGED, 0, 0);
    rig_mend(&rig, 0, SIM_LINK_LOST, 0);
    rig_mend(&rig, 1, SIM_LINK_LOST, 0);
    rig_run_ms(&rig, 500);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_first_alarm(&rig).code, KR_ALARM_RAIL_SHIFTED);
    ck_assert_int_le(abs(abs(rig_first_alarm(&rig).value) - 30 * MM), 30);
    ck_assert_uint_le(rig_alarm_count(&rig), 2);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_FLAG_DISPLACED));
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

/* 0.05 % of 2.8 m. */
START_TEST(a_scale_that_changed_holds_and_says_how_far_the_furthest_holder_is_off)
{
    struct rig rig;
    rig_defaults(&rig, 1, 12, 2);
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    rig_break(&rig, 0, SIM_SCALE_OFF, 0, 500);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    expect_held_by(&rig, KR_ALARM_RAIL_SCALED, 1400, 40);
    rig_end(&rig);
}
END_TEST

/* Held by a scan that saw all holders 600 um off, also the two that the carriage has released since. */
static void until_a_bumped_bracket_is_told(struct rig *rig)
{
    rig_small_ordinary(rig, 1);
    rig_begin(rig);
    rig_start_job(rig, KR_JOB_SCAN);
    rig_until_complete(rig);
    rig_break(rig, 0, SIM_BRACKET_BUMPED, 0, -600);
    for (uint16_t h = 4; h <= 5; h++) {
        rig_reset(rig);
        struct start_values move = {
            .job = KR_JOB_MOVE, .rail = 1, .holder = h, .position_um = (70 + 90 * (h - 1)) * MM};
        ck_assert_int_eq(rig_command_start(rig, move), KR_OK);
        rig_until_complete(rig);
    }
    rig_reset(rig);
    rig_start_job(rig, KR_JOB_SCAN);
    expect_held_by(rig, KR_ALARM_SWITCH_SHIFTED, 600, 40);
}

/* Two that the carriage has released since the bracket was bumped are off as those that nobody moved: the drive
 * counts as it did. */
START_TEST(a_bracket_that_was_bumped_is_told_from_a_datum_by_the_holders_that_were_released)
{
    struct rig rig;
    until_a_bumped_bracket_is_told(&rig);
    rig_mend(&rig, 0, SIM_BRACKET_BUMPED, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_until_complete(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_SWITCH_SHIFTED));
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

/* As the page for maintenance says: the offset of before less the alarm's value. */
START_TEST(a_switch_that_stays_where_it_was_bumped_to_is_set_anew)
{
    struct rig rig;
    until_a_bumped_bracket_is_told(&rig);
    struct kr_switch is = {rig.config.carriage[0].switch_offset_um - rig_first_alarm(&rig).value, 0};
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_STOP, 0), KR_OK);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_int_eq(rig_switch(&rig, 1, is), KR_OK);
    rig.claim_um += 40; /* the alarm's value is that of a scan */
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    ck_assert_int_eq(rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0), 0);
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++)
        ck_assert_int_eq(rig_known(&rig, 0, h), KR_MEASURED);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_SWITCH_SHIFTED));
    rig_end(&rig);
}
END_TEST

/* Hands that moved some of them, each its own way or two alike, are no rail that is off. */
START_TEST(holders_that_hands_moved_are_measured_where_they_are)
{
    static const int32_t by_um[][SMALL_HOLDERS] = {
        {700, 0, 0, 0, 0}, {700, 700, 0, 0, 0}, {4000, -3000, 0, 0, 0}, {4000, -3000, 1300, 2000, 0}};
    struct rig rig;
    begin_set_up(&rig);
    rig_guards(&rig, false);
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++)
        if (by_um[_i][h])
            rig_break(&rig, 0, SIM_MOVED_BY_HAND, h, by_um[_i][h]);
    rig_guards(&rig, true);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_RAIL_SHIFTED));
    rig_end(&rig);
}
END_TEST

/* What nobody notices without references, as config/pages/maintenance.md has it: all holders counted from a datum that
 * was wrong before the first scan. */
START_TEST(a_datum_that_was_wrong_from_the_first_scan_on_is_not_noticed_without_references)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    rig.claim_um = 2 * MM;
    rig_start(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 700);
    rig_to_idle(&rig);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_complete(&rig);
    ck_assert_int_ge(rig_worst_edge_um(&rig), 600);
    rig_end(&rig);
}
END_TEST

/* As far as the neighbour and a hair's breadth back: two that touch can't be told apart from two that collide. */
static void push(struct rig *rig, uint16_t holder, int32_t by_um)
{
    rig_break(rig, 0, SIM_MOVED_BY_HAND, holder, by_um);
    rig_break(rig, 0, SIM_MOVED_BY_HAND, holder, by_um < 0 ? 150 : -150);
}

/* A fault of the frame on the upper rail, too small for a jump, and perhaps a hand at one holder. Returns the fault. */
static enum sim_fault strike_by_chance(struct rig *rig, struct draw *d)
{
    static const enum sim_fault faults[] = {SIM_DATUM_SHIFTED, SIM_SCALE_OFF, SIM_BRACKET_BUMPED};
    enum sim_fault fault = faults[draw_between(d, 0, 2)];
    int32_t size = fault == SIM_SCALE_OFF ? draw_between(d, 2000, 10000) : draw_between(d, 300, 5000);
    rig_break(rig, 0, fault, 0, draw_chance(d, 50) ? size : -size);
    rig_guards(rig, false);
    if (draw_chance(d, 50))
        push(rig, (uint16_t)draw_between(d, 0, SMALL_HOLDERS - 1), draw_between(d, -6000, 6000));
    rig_guards(rig, true);
    return fault;
}

/* _i: the seed. The judge is where the knives truly are: rig_ends_verified() and rig_is_sound() look there. */
START_TEST(whatever_shifts_a_rail_by_chance_nothing_is_verified_before_it_is_mended)
{
    struct rig rig;
    struct draw draw = {(uint64_t)_i};
    begin_set_up(&rig);
    rig.config.carriage[0].jump_um = 20 * MM;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    enum sim_fault fault = strike_by_chance(&rig, &draw);
    rig_change_over_again(&rig);
    rig_until_state(&rig, KR_STATE_HELD);
    enum kr_alarm_code code = rig_alarm(&rig);
    ck_assert_msg(code == KR_ALARM_RAIL_SHIFTED || code == KR_ALARM_RAIL_SCALED, "seed %d: alarm %d", _i, (int)code);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    rig_is_sound(&rig);
    rig_mend(&rig, 0, fault, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* Three of five were moved by hands, each its own way: two that agree are not most of them. The page for maintenance
 * says that this stays hidden. */
START_TEST(a_datum_that_shifts_while_hands_move_most_holders_is_not_noticed_without_references)
{
    static const int32_t by_um[SMALL_HOLDERS] = {0, 0, 4 * MM, -3 * MM, 1300};
    struct rig rig;
    begin_set_up(&rig);
    rig.claim_um = 5 * MM;
    rig_guards(&rig, false);
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++)
        if (by_um[h] != 0)
            rig_break(&rig, 0, SIM_MOVED_BY_HAND, h, by_um[h]);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 700);
    rig_guards(&rig, true);
    rig_change_over_again(&rig);
    rig_until_state_within(&rig, KR_STATE_COMPLETE, 120000);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_RAIL_SHIFTED));
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_ge(rig_worst_edge_um(&rig), 650);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("a rail that is off");
    TCase *tc = suite_case(suite, "a rail that is off");
    tcase_add_loop_test(tc, a_datum_that_shifted_between_two_changeovers_holds_with_one_alarm, 0,
                        2 * (int)(sizeof shifts_um / sizeof shifts_um[0]));
    tcase_add_test(tc, a_cause_that_is_mended_needs_no_confirmation);
    tcase_add_test(tc, what_a_person_confirms_is_measured_by_the_next_scan_and_who_it_was_is_kept);
    tcase_add_test(tc, another_shift_than_the_confirmed_one_is_told_anew);
    tcase_add_test(tc, a_confirmation_that_the_book_could_not_store_is_none);
    tcase_add_test(tc, a_shift_is_not_forgotten_by_a_restart_and_no_policy_moves_by_it);
    tcase_add_test(tc, exchanged_drives_are_one_alarm_of_each_rail_and_not_a_notice_of_each_holder);
    tcase_add_test(tc, a_scale_that_changed_holds_and_says_how_far_the_furthest_holder_is_off);
    tcase_add_test(tc, a_bracket_that_was_bumped_is_told_from_a_datum_by_the_holders_that_were_released);
    tcase_add_test(tc, a_switch_that_stays_where_it_was_bumped_to_is_set_anew);
    tcase_add_loop_test(tc, holders_that_hands_moved_are_measured_where_they_are, 0, 4);
    tcase_add_loop_test(tc, whatever_shifts_a_rail_by_chance_nothing_is_verified_before_it_is_mended, 1, 61);
    tcase_add_test(tc, a_datum_that_was_wrong_from_the_first_scan_on_is_not_noticed_without_references);
    tcase_add_test(tc, a_datum_that_shifts_while_hands_move_most_holders_is_not_noticed_without_references);
    return suite;
}
