/* Tests of the metres that each knife has cut, and of the notice at a limit. */

#include "rig.h"
#include "suite.h"

/* One rail of seven, four of which cut. */
static void set_up(struct rig *rig, uint32_t notice)
{
    rig_defaults(rig, 1, 7, 1);
    rig->config.carriage[0].metres_notice = notice;
    rig_start(rig);
    rig->in.line_metres = UINT32_MAX - 200; /* it will wrap */
    rig_set_up(rig, 1, 3, 200 * MM);
}

static uint32_t metres(const struct rig *rig, uint16_t holder)
{
    return (uint32_t)rig_i32(rig, KR_REG_HOLDER_METRES, 0, (uint16_t)(holder - 1));
}

static void line_runs(struct rig *rig, bool runs)
{
    rig->in.permissives = runs ? KR_PERMIT_GUARDS_CLOSED | KR_PERMIT_AIR | KR_PERMIT_ENABLE : 0x1F;
    rig_run_ms(rig, 100);
}

static void run_metres(struct rig *rig, uint32_t m)
{
    for (uint32_t i = 0; i < m; i++) {
        rig->in.line_metres++;
        rig_run_ms(rig, 20);
    }
}

START_TEST(metres_are_counted_to_the_knives_that_cut_and_to_no_other)
{
    struct rig rig;
    set_up(&rig, 0);
    line_runs(&rig, true);
    run_metres(&rig, 350);
    for (uint16_t h = 1; h <= 7; h++)
        ck_assert_uint_eq(metres(&rig, h), rig_cut_of(&rig, 1, h) ? 350 : 0);
    rig_end(&rig);
}
END_TEST

START_TEST(the_book_is_written_in_pieces_of_100_m_and_when_the_line_stops)
{
    struct rig rig;
    set_up(&rig, 0);
    line_runs(&rig, true);
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 1);
    uint32_t serial = kr_station_durable(rig.station)->serial;
    run_metres(&rig, 99);
    ck_assert_uint_eq(kr_station_durable(rig.station)->serial, serial);
    ck_assert_uint_eq(metres(&rig, cuts), 99);
    run_metres(&rig, 1);
    ck_assert_uint_eq(kr_station_durable(rig.station)->serial, serial + 1);
    run_metres(&rig, 30);
    ck_assert_uint_eq(rig.book.holder[0][cuts - 1].metres, 100);
    line_runs(&rig, false);
    ck_assert_uint_eq(rig.book.holder[0][cuts - 1].metres, 130);
    rig_restart(&rig);
    rig_cycle(&rig);
    ck_assert_uint_eq(metres(&rig, cuts), 130);
    rig_end(&rig);
}
END_TEST

START_TEST(while_the_line_stands_or_nothing_is_verified_no_knife_cuts)
{
    struct rig rig;
    set_up(&rig, 0);
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 1);
    run_metres(&rig, 50); /* the line is known to stand */
    ck_assert_uint_eq(metres(&rig, cuts), 0);
    line_runs(&rig, true);
    run_metres(&rig, 40);
    rig.in.permissives = KR_PERMIT_AIR | KR_PERMIT_ENABLE; /* somebody opens the guards */
    rig_run_ms(&rig, 50);
    run_metres(&rig, 50);
    ck_assert_uint_eq(metres(&rig, cuts), 40);
    rig_end(&rig);
}
END_TEST

/* As the map says of LINE_METRES: nobody knows which of the knives are raised. */
START_TEST(metres_count_whether_knives_raised_is_given_or_not)
{
    struct rig rig;
    set_up(&rig, 0);
    line_runs(&rig, true);
    rig.in.permissives |= KR_PERMIT_KNIVES_RAISED;
    rig_run_ms(&rig, 50);
    run_metres(&rig, 40);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 40);
    rig_end(&rig);
}
END_TEST

START_TEST(a_counter_that_jumps_or_begins_anew_counts_nothing_by_the_jump)
{
    static const int64_t jump[] = {-1000, 10001, 65536, -65536, INT32_MAX};
    struct rig rig;
    set_up(&rig, 0);
    line_runs(&rig, true);
    run_metres(&rig, 20);
    rig.in.line_metres += (uint32_t)jump[_i];
    rig_run_ms(&rig, 20);
    run_metres(&rig, 30);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 50);
    rig_end(&rig);
}
END_TEST

/* Each metre of a counter whose words come in the wrong order is one of 65536. */
START_TEST(a_counter_with_its_words_in_the_wrong_order_counts_nothing_and_is_told)
{
    struct rig rig;
    set_up(&rig, 0);
    line_runs(&rig, true);
    rig.in.line_metres = 1000u << 16;
    rig_run_ms(&rig, 20);
    for (uint32_t m = 1001; m < 1010; m++) {
        rig.in.line_metres = m << 16;
        rig_run_ms(&rig, 200);
    }
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 0);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_METRES_IMPLAUSIBLE));
    ck_assert_int_eq(rig_first_alarm(&rig).value, 65536);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, 4000); /* a minute at 4000 m/min */
    rig_end(&rig);
}
END_TEST

/* However a client steps, it makes a knife no older than a line of 4000 m/min would: 72 minutes of steps of 10 km a
 * cycle made a knife new, when metres wrapped. */
START_TEST(no_counter_outruns_the_fastest_line)
{
    struct rig rig;
    set_up(&rig, 0);
    line_runs(&rig, true);
    rig_run_ms(&rig, 60000);
    for (int i = 0; i < 6000; i++) { /* a minute */
        rig.in.line_metres += i % 2 != 0 ? 10000 : 100;
        rig_cycle(&rig);
    }
    ck_assert_uint_le(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 8000);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_METRES_IMPLAUSIBLE));
    rig_end(&rig);
}
END_TEST

START_TEST(a_counter_that_is_written_once_in_ten_seconds_counts_in_full)
{
    struct rig rig;
    set_up(&rig, 0);
    line_runs(&rig, true);
    for (int i = 0; i < 30; i++) { /* 3600 m/min */
        rig_run_ms(&rig, 10000);
        rig.in.line_metres += 600;
    }
    rig_run_ms(&rig, 20);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 18000);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_METRES_IMPLAUSIBLE));
    rig_end(&rig);
}
END_TEST

START_TEST(metres_end_at_the_most_that_can_be_counted)
{
    struct rig rig;
    set_up(&rig, 0);
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 1);
    rig.book.holder[0][cuts - 1].metres = UINT32_MAX - 150;
    rig_restart(&rig);
    rig_to_idle(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_until_complete(&rig);
    line_runs(&rig, true);
    run_metres(&rig, 120);
    ck_assert_uint_eq(metres(&rig, cuts), UINT32_MAX - 30);
    run_metres(&rig, 60);
    ck_assert_uint_eq(metres(&rig, cuts), UINT32_MAX);
    run_metres(&rig, 200);
    line_runs(&rig, false);
    ck_assert_uint_eq(rig.book.holder[0][cuts - 1].metres, UINT32_MAX);
    rig_end(&rig);
}
END_TEST

/* Control changes hands: the face zeroes the block, the next client writes its own counter. */
START_TEST(after_a_change_of_control_the_counter_is_a_new_one)
{
    struct rig rig;
    rig_defaults(&rig, 1, 7, 1);
    rig.config.access = 0; /* else the guards, unknown for a moment, would take 'verified' along */
    rig_start(&rig);
    rig_set_up(&rig, 1, 3, 200 * MM);
    line_runs(&rig, true);
    run_metres(&rig, 20);
    rig.in.control_generation++;
    rig.in.line_metres = 0;
    rig_run_ms(&rig, 50);
    rig.in.line_metres = 5020;
    rig_run_ms(&rig, 1500);
    run_metres(&rig, 10);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 30);
    rig_end(&rig);
}
END_TEST

/* ---- by the line's speed --------------------------------------------------------------------------------------- */

static void set_up_by_speed(struct rig *rig)
{
    rig_defaults(rig, 1, 7, 1);
    rig->config.metres_source = KR_METRES_SPEED;
    rig_start(rig);
    rig_set_up(rig, 1, 3, 200 * MM);
}

/* 333.3 m/min are 5.555 m/s: in ten minutes 3333 m, and not a metre more or less whatever the cycle makes of it. */
START_TEST(a_speed_is_summed_exactly_to_the_knives_that_cut_and_to_no_other)
{
    struct rig rig;
    set_up_by_speed(&rig);
    line_runs(&rig, true);
    rig.in.line_speed = 3333;
    rig_run_ms(&rig, 599000);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 2)), 3327); /* 3327.445 */
    rig_run_ms(&rig, 1000);
    for (uint16_t h = 1; h <= 7; h++)
        ck_assert_uint_eq(metres(&rig, h), rig_cut_of(&rig, 1, h) ? 3333 : 0);
    rig_end(&rig);
}
END_TEST

/* Cycles that come late, early and twice as late: it is the time between them that counts. */
static void unsteady(struct rig *rig)
{
    static const int32_t us[] = {1, 3333, 10007, 19999, 120000, 0, 7};
    static size_t i;
    rig->in.wall_dt_us = us[i++ % 7];
}

START_TEST(time_is_what_passed_between_cycles_and_parts_of_a_metre_are_kept)
{
    struct rig rig;
    int64_t passed_us = 0;
    set_up_by_speed(&rig);
    line_runs(&rig, true);
    rig.meddle = unsteady;
    rig.in.line_speed = 40000;
    for (int i = 0; i < 20000; i++) {
        rig_cycle(&rig);
        passed_us += rig.in.wall_dt_us;
    }
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), (uint32_t)(40000 * passed_us / 600000000));
    rig_end(&rig);
}
END_TEST

START_TEST(half_a_metre_before_a_stop_and_half_a_metre_after_it_are_one)
{
    struct rig rig;
    set_up_by_speed(&rig);
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 1);
    rig.in.line_speed = 100; /* 10 m/min */
    for (int i = 1; i <= 4; i++) {
        line_runs(&rig, true); /* 0.1 s of the line running */
        rig_run_ms(&rig, 2900);
        line_runs(&rig, false);
        rig_run_ms(&rig, 60000);
        ck_assert_uint_eq(metres(&rig, cuts), (uint32_t)i / 2);
    }
    ck_assert_uint_eq(rig.book.holder[0][cuts - 1].metres, 2);
    rig_end(&rig);
}
END_TEST

START_TEST(with_a_stale_heartbeat_or_an_open_guard_no_speed_counts)
{
    struct rig rig;
    set_up_by_speed(&rig);
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 1);
    rig.in.line_speed = 6000;
    rig_run_ms(&rig, 5000); /* the line is known to stand */
    ck_assert_uint_eq(metres(&rig, cuts), 0);
    line_runs(&rig, true);
    rig_run_ms(&rig, 4900);
    ck_assert_uint_eq(metres(&rig, cuts), 50);
    rig.heart_stopped = true;
    rig_run_ms(&rig, 60000);
    /* 3 s until the heartbeat is stale */
    ck_assert_uint_ge(metres(&rig, cuts), 70);
    ck_assert_uint_le(metres(&rig, cuts), 80);
    rig_end(&rig);
}
END_TEST

START_TEST(a_speed_that_no_line_runs_at_counts_nothing_and_is_told)
{
    struct rig rig;
    set_up_by_speed(&rig);
    line_runs(&rig, true);
    rig.in.line_speed = 40001;
    rig_run_ms(&rig, 60000);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 0);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_LINE_SPEED_IMPLAUSIBLE));
    rig.in.line_speed = 40000;
    rig_run_ms(&rig, 60000);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 4000);
    rig_end(&rig);
}
END_TEST

START_TEST(of_counter_and_speed_only_the_configured_one_counts)
{
    struct rig rig;
    set_up(&rig, 0);
    line_runs(&rig, true);
    rig.in.line_speed = 60000;
    run_metres(&rig, 30);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 30);
    rig_end(&rig);
    set_up_by_speed(&rig);
    line_runs(&rig, true);
    run_metres(&rig, 30);
    ck_assert_uint_eq(metres(&rig, rig_holder_of_cut(&rig, 1, 1)), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(at_its_limit_one_knife_a_rail_is_named_and_the_job_is_not_disturbed)
{
    struct rig rig;
    set_up(&rig, 300);
    line_runs(&rig, true);
    run_metres(&rig, 299);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_KNIFE_METRES));
    run_metres(&rig, 1);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_KNIFE_METRES);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 300);
    ck_assert(rig_line_status(&rig) & KR_LINE_MAY_RUN);
    run_metres(&rig, 300);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    line_runs(&rig, false);
    rig_set_up_again(&rig); /* a Start acknowledges notices; this one's cause stands */
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_KNIFE_METRES);
    rig_end(&rig);
}
END_TEST

START_TEST(when_the_named_knife_is_reground_the_next_one_is_named_by_the_reset)
{
    struct rig rig;
    set_up(&rig, 300);
    line_runs(&rig, true);
    run_metres(&rig, 300);
    uint16_t named = rig_first_alarm(&rig).item;
    line_runs(&rig, false);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_REGRIND, (struct edit_values){1, named, 1, -300, 0}), KR_OK);
    rig_to_idle(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_KNIFE_METRES);
    ck_assert_uint_ne(rig_first_alarm(&rig).item, named);
    rig_end(&rig);
}
END_TEST

START_TEST(a_regrind_or_a_swap_begins_the_metres_anew_and_an_offset_does_not)
{
    static const struct {
        enum kr_edit_kind kind;
        uint32_t left;
    } cases[] = {{KR_EDIT_OFFSET, 150}, {KR_EDIT_SIZE, 150}, {KR_EDIT_REGRIND, 0}, {KR_EDIT_SWAP, 0}};
    struct rig rig;
    set_up(&rig, 100);
    line_runs(&rig, true);
    run_metres(&rig, 150);
    uint16_t first = rig_holder_of_cut(&rig, 1, 1), second = rig_holder_of_cut(&rig, 1, 2);
    ck_assert_int_eq(rig_edit(&rig, cases[_i].kind, (struct edit_values){1, first, 1, -300, 0}), KR_OK);
    ck_assert_uint_eq(metres(&rig, first), cases[_i].left);
    ck_assert_uint_eq(metres(&rig, second), 150);
    rig_end(&rig);
}
END_TEST

/* ---- a line that runs and is said to stand --------------------------------------------------------------------- */

START_TEST(a_line_that_is_said_to_stand_and_shows_a_speed_starts_nothing_and_stops_what_moves)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig.config.metres_source = KR_METRES_SPEED;
    rig.config.line_stands_um_per_s = 20 * MM; /* 1.2 m/min */
    rig_begin(&rig);
    rig_stage(&rig, 1);
    rig.in.line_speed = 13;
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_LINE_RUNS);
    ck_assert_int_eq(rig_answer_value(&rig), 13);
    ck_assert_int_eq(rig_answer_limit(&rig), 12);
    rig.in.line_speed = 12;
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_run_ms(&rig, 500);
    rig.in.line_speed = 13;
    rig_until_state_within(&rig, KR_STATE_SUSPENDED, 3000);
    struct kr_alarm alarm = rig_first_alarm(&rig);
    ck_assert_int_eq(alarm.code, KR_ALARM_LINE_CONTRADICTS);
    ck_assert_int_eq(alarm.value, 13);
    ck_assert_int_eq(alarm.limit, 12);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_UNSUSPEND, 0), KR_LINE_RUNS);
    rig.in.line_speed = 0;
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(where_the_metres_are_counted_the_speed_is_not_read)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig_begin(&rig);
    rig_stage(&rig, 1);
    rig.in.line_speed = 60000;
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_OK);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("metres");
    TCase *metres_run = suite_case(suite, "metres");
    tcase_add_test(metres_run, metres_are_counted_to_the_knives_that_cut_and_to_no_other);
    tcase_add_test(metres_run, the_book_is_written_in_pieces_of_100_m_and_when_the_line_stops);
    tcase_add_test(metres_run, while_the_line_stands_or_nothing_is_verified_no_knife_cuts);
    tcase_add_test(metres_run, metres_count_whether_knives_raised_is_given_or_not);
    tcase_add_loop_test(metres_run, a_counter_that_jumps_or_begins_anew_counts_nothing_by_the_jump, 0, 5);
    tcase_add_test(metres_run, a_counter_with_its_words_in_the_wrong_order_counts_nothing_and_is_told);
    tcase_add_test(metres_run, no_counter_outruns_the_fastest_line);
    tcase_add_test(metres_run, a_counter_that_is_written_once_in_ten_seconds_counts_in_full);
    tcase_add_test(metres_run, metres_end_at_the_most_that_can_be_counted);
    tcase_add_test(metres_run, after_a_change_of_control_the_counter_is_a_new_one);
    tcase_add_test(metres_run, a_speed_that_no_line_runs_at_counts_nothing_and_is_told);
    tcase_add_test(metres_run, a_speed_is_summed_exactly_to_the_knives_that_cut_and_to_no_other);
    tcase_add_test(metres_run, time_is_what_passed_between_cycles_and_parts_of_a_metre_are_kept);
    tcase_add_test(metres_run, half_a_metre_before_a_stop_and_half_a_metre_after_it_are_one);
    tcase_add_test(metres_run, with_a_stale_heartbeat_or_an_open_guard_no_speed_counts);
    tcase_add_test(metres_run, of_counter_and_speed_only_the_configured_one_counts);
    tcase_add_test(metres_run, at_its_limit_one_knife_a_rail_is_named_and_the_job_is_not_disturbed);
    tcase_add_test(metres_run, when_the_named_knife_is_reground_the_next_one_is_named_by_the_reset);
    TCase *line = suite_case(suite, "line");
    tcase_add_test(line, a_line_that_is_said_to_stand_and_shows_a_speed_starts_nothing_and_stops_what_moves);
    tcase_add_test(line, where_the_metres_are_counted_the_speed_is_not_read);
    tcase_add_loop_test(metres_run, a_regrind_or_a_swap_begins_the_metres_anew_and_an_offset_does_not, 0, 4);
    return suite;
}
