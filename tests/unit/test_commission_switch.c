/* The judges of commissioning that hold ends of travel, flags and the proximity switch against the station file. */
#include <string.h>

#include "kniferail/alarm.h"
#include "kniferail/commission.h"
#include "suite.h"

static struct kr_step_verdict verdict;

static void begin(void)
{
    memset(&verdict, 0, sizeof verdict);
}

/* The only finding names this setting; "" for one at the machine. */
static void found(const char *setting)
{
    ck_assert(!kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_findings, 1);
    ck_assert_str_eq(verdict.finding[0].setting, setting);
}

/* ---- the ends of travel ---------------------------------------------------------------------------------------- */

static struct kr_end_seen went_to_end(int8_t side, int32_t setting_um, int32_t stood_um, int32_t room_um)
{
    return (struct kr_end_seen){
        .side = side, .setting_um = setting_um, .stood_um = stood_um, .room_um = room_um, .margin_um = 5000};
}

START_TEST(an_end_with_room_behind_it_passes)
{
    struct kr_end_seen seen = went_to_end(1, 1600000, 1599990, 5000);
    begin();
    kr_judge_end(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 1);
    ck_assert_str_eq(verdict.figure[0].value, "1600.0 mm, stopped at 1600.0; room behind it 5.0 mm, at least 5.0");
}
END_TEST

START_TEST(an_end_without_room_names_the_travel_that_leaves_it)
{
    struct kr_end_seen seen = went_to_end(1, 1600000, 1600000, 2000);
    begin();
    kr_judge_end(&seen, &verdict);
    found("carriage.travel_most_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "1597.0 at most (it is 1600.0)"));
    begin();
    seen = went_to_end(-1, 0, 0, 1000);
    kr_judge_end(&seen, &verdict);
    found("carriage.travel_least_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "4.0 at least (it is 0.0)"));
}
END_TEST

/* Which limit inputs the program read as on at the end. */
static void read_at_end(int8_t side, uint16_t at_end)
{
    struct kr_end_seen seen = went_to_end(side, side > 0 ? 1600000 : 0, side > 0 ? 1600000 : 0, 40000);
    seen.at_end = at_end;
    begin();
    kr_judge_end(&seen, &verdict);
}

START_TEST(a_limit_switch_that_is_on_at_the_end_of_travel_is_found)
{
    read_at_end(1, KR_DI_LIMIT_HIGH);
    found("carriage.travel_most_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "1595.0 at most"));
    read_at_end(-1, KR_DI_LIMIT_LOW);
    found("carriage.travel_least_mm");
    read_at_end(1, KR_DI_LIMIT_LOW);
    found("drive.inputs.limit_low");
}
END_TEST

START_TEST(a_device_that_is_let_go_before_the_end_names_where_the_travel_has_to_end)
{
    struct kr_end_seen seen = went_to_end(1, 1600000, 1540000, 0);
    begin();
    seen.alarm = KR_ALARM_JOG_ENABLE_LOST;
    kr_judge_end(&seen, &verdict);
    found("carriage.travel_most_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "1535.0 at most"));
    begin();
    seen = went_to_end(-1, 0, 40000, 0);
    seen.alarm = KR_ALARM_JOG_ENABLE_LOST;
    kr_judge_end(&seen, &verdict);
    found("carriage.travel_least_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "45.0 at least"));
    begin();
    seen.alarm = KR_ALARM_DRIVE_FAULT;
    strcpy(seen.alarm_text, "DRIVE_FAULT");
    kr_judge_end(&seen, &verdict);
    found("");
    begin();
    seen.alarm = 0; /* the drive's own limit, or something in the way */
    kr_judge_end(&seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "607Dh"));
}
END_TEST

/* ---- the flags ------------------------------------------------------------------------------------------------- */

static struct kr_widths_seen scanned(int32_t setting_um, uint16_t n, int32_t narrowest_um, int32_t widest_um)
{
    return (struct kr_widths_seen){.job = {.complete = true, .took_ms = 9000},
                                   .setting_um = setting_um,
                                   .n = n,
                                   .mean_um = (narrowest_um + widest_um) / 2,
                                   .narrowest = {narrowest_um, 60000},
                                   .widest = {widest_um, 240000}};
}

static void stop_by_width(struct kr_widths_seen *seen)
{
    seen->job = (struct kr_job_seen){.alarm_code = KR_ALARM_FLAG_WIDTH, .alarm = "FLAG_WIDTH: ..."};
}

START_TEST(flags_within_a_sixteenth_of_the_setting_pass)
{
    struct kr_widths_seen seen = scanned(8000, 8, 8190, 8500);
    begin();
    kr_judge_widths(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_str_eq(verdict.figure[0].value,
                     "8.345 mm in the mean of 8, 8.190 to 8.500; the station file says 8.000 mm");
    seen = scanned(8000, 8, 8501, 8600);
    kr_judge_widths(&seen, &verdict);
    found("carriage.flag_width_mm");
    ck_assert_str_eq(verdict.finding[0].change, "8.6 (it is 8.000)");
}
END_TEST

START_TEST(a_scan_that_ends_at_its_first_flag_names_the_width_that_it_saw)
{
    struct kr_widths_seen seen = scanned(16000, 1, 12204, 12204);
    begin();
    stop_by_width(&seen);
    kr_judge_widths(&seen, &verdict);
    found("carriage.flag_width_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "12.2 (it is 16.000); measure this flag by hand first"));
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "12.204 to 12.204 mm wide"));
}
END_TEST

START_TEST(one_odd_flag_among_good_ones_is_looked_at_and_is_no_setting)
{
    struct kr_widths_seen seen = scanned(8000, 5, 8190, 9400);
    begin();
    stop_by_width(&seen);
    kr_judge_widths(&seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "The flag at 240.0 mm is 9.400 mm wide"));
    begin();
    seen = scanned(8000, 5, 6100, 8190);
    stop_by_width(&seen);
    kr_judge_widths(&seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "The flag at 60.0 mm is 6.100 mm wide"));
}
END_TEST

START_TEST(a_scan_that_ends_otherwise_or_sees_nothing_tells_no_width)
{
    struct kr_widths_seen seen = scanned(8000, 0, 0, 0);
    begin();
    kr_judge_widths(&seen, &verdict);
    found("drive.inputs.flag");
    begin();
    seen = scanned(8000, 5, 6100, 8190);
    seen.job = (struct kr_job_seen){.alarm_code = KR_ALARM_EDGES_LOST, .alarm = "EDGES_LOST: ..."};
    kr_judge_widths(&seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "EDGES_LOST"));
}
END_TEST

/* ---- the offset ------------------------------------------------------------------------------------------------ */

static struct kr_switch_seen dragged(int32_t counts_um, int32_t found_um, int32_t uncertainty_um)
{
    return (struct kr_switch_seen){.rail_number = 2,
                                   .holder_number = 3,
                                   .job = {.complete = true, .took_ms = 65000},
                                   .n_readings = 10,
                                   .counts_um = counts_um,
                                   .found_um = found_um,
                                   .uncertainty_um = uncertainty_um,
                                   .play_um = 20,
                                   .tolerance_um = 203};
}

START_TEST(an_offset_that_is_found_as_it_counts_passes_and_was_and_becomes_are_figures)
{
    struct kr_switch_seen seen = dragged(400, 412, 6);
    begin();
    kr_judge_switch(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_str_eq(verdict.figure[0].name, "switch offset");
    ck_assert_str_eq(verdict.figure[0].value, "counts 0.400 mm; measured 0.412 +- 0.006 mm (95 %)");
    ck_assert_str_eq(verdict.figure[1].value, "10, of holder 3; play of the drive 0.020 mm; 65.0 s");
}
END_TEST

/* A tenth of the tolerance of a knife, or the uncertainty where that is more. */
START_TEST(an_offset_that_is_off_names_setting_value_and_how_it_is_set)
{
    struct kr_switch_seen seen = dragged(0, 20, 6);
    begin();
    kr_judge_switch(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    seen = dragged(0, 21, 6);
    kr_judge_switch(&seen, &verdict);
    found("carriage.switch_offset_mm");
    begin();
    seen = dragged(0, -30, 30);
    kr_judge_switch(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    begin();
    seen = dragged(0, -7004, 6);
    kr_judge_switch(&seen, &verdict);
    found("carriage.switch_offset_mm");
    ck_assert_str_eq(verdict.finding[0].change,
                     "-7.004 (0.000 counts); then kniferail calibrate --measured --rail 2 --apply sets it in the "
                     "station's book, too");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "taken for 7.004 mm off"));
}
END_TEST

START_TEST(an_offset_that_is_too_uncertain_or_was_not_measured_is_no_offset)
{
    struct kr_switch_seen seen = dragged(0, 0, 51);
    begin();
    kr_judge_switch(&seen, &verdict);
    found("carriage.gauge_rounds");
    begin();
    seen.found_um = 7000; /* that is wrong, however uncertain */
    kr_judge_switch(&seen, &verdict);
    found("carriage.switch_offset_mm");
    begin();
    seen.n_readings = 0;
    kr_judge_switch(&seen, &verdict);
    found("");
    begin();
    seen.job = (struct kr_job_seen){.alarm = "PIN_NOT_IN: the pin did not go in"};
    kr_judge_switch(&seen, &verdict);
    found("");
    ck_assert_str_eq(verdict.finding[0].seen,
                     "Dragging holder 3 to and fro did not end Complete. PIN_NOT_IN: the pin did not go in");
    ck_assert_uint_eq(verdict.n_figures, 0);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission_switch");
    TCase *all = suite_case(suite, "judges");
    tcase_add_test(all, an_end_with_room_behind_it_passes);
    tcase_add_test(all, an_end_without_room_names_the_travel_that_leaves_it);
    tcase_add_test(all, a_limit_switch_that_is_on_at_the_end_of_travel_is_found);
    tcase_add_test(all, a_device_that_is_let_go_before_the_end_names_where_the_travel_has_to_end);
    tcase_add_test(all, flags_within_a_sixteenth_of_the_setting_pass);
    tcase_add_test(all, a_scan_that_ends_at_its_first_flag_names_the_width_that_it_saw);
    tcase_add_test(all, one_odd_flag_among_good_ones_is_looked_at_and_is_no_setting);
    tcase_add_test(all, a_scan_that_ends_otherwise_or_sees_nothing_tells_no_width);
    tcase_add_test(all, an_offset_that_is_found_as_it_counts_passes_and_was_and_becomes_are_figures);
    tcase_add_test(all, an_offset_that_is_off_names_setting_value_and_how_it_is_set);
    tcase_add_test(all, an_offset_that_is_too_uncertain_or_was_not_measured_is_no_offset);
    return suite;
}
