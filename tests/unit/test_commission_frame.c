/* The judges of commissioning that hold a rail's frame, its switch and its edges against what was measured. */
#include <string.h>

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

/* ---- the frame ------------------------------------------------------------------------------------------------- */

/* Readings each 100 mm from 100 to 900 mm, both ways, of a carriage that stands beside what is shown. */
static struct kr_calibration_seen readings_of(double offset_mm, double scale, double play_mm,
                                              double uncertain_mm)
{
    static struct kr_reading reading[18];
    struct kr_calibration_seen seen = {.rail_number = 1,
                                       .file = "r.csv",
                                       .instrument = {uncertain_mm, 0},
                                       .to_set = {.offset_um = -350, .scale_ppb = -100000},
                                       .least_um = 40000,
                                       .most_um = 1560000,
                                       .tolerance_um = 203};
    for (int i = 0; i < 18; i++) {
        double at = 100.0 * (i % 9 + 1), noise = (i % 3 - 1) * 0.002;
        reading[i] = (struct kr_reading){.target_mm = at,
                                         .reading_mm = at + offset_mm + scale * at + noise +
                                                       (i < 9 ? play_mm / 2 : -play_mm / 2),
                                         .direction = i < 9 ? KR_RISING : KR_FALLING,
                                         .run = 1};
    }
    ck_assert(kr_calibrate(reading, 18, seen.instrument, &seen.left));
    return seen;
}

START_TEST(a_frame_that_readings_agree_with_passes_and_every_figure_is_told)
{
    struct kr_calibration_seen seen = readings_of(0, 0, 0.02, 0.005);
    begin();
    kr_judge_calibration(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 5);
    seen = readings_of(0.015, 0, 0.02, 0.001); /* it can be told, and is less than a tenth of the tolerance */
    begin();
    kr_judge_calibration(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
}
END_TEST

START_TEST(a_frame_that_is_off_is_told_with_what_is_to_be_set)
{
    struct kr_calibration_seen seen = readings_of(-0.35, -100e-6, 0.02, 0.005);
    begin();
    kr_judge_calibration(&seen, &verdict);
    found("frame");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "kniferail set frame 1 -0.350 -100.000; scan"));
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, " mm off at 900.0 mm"));
    seen.to_set.n_points = 12;
    begin();
    kr_judge_calibration(&seen, &verdict);
    found("frame");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "--apply, --rail 1; scan"));
    seen.bad_point = 3;
    begin();
    kr_judge_calibration(&seen, &verdict);
    found("");
    seen.impossible = true;
    begin();
    kr_judge_calibration(&seen, &verdict);
    found("drive.position_um");
}
END_TEST

START_TEST(readings_that_are_not_good_enough_prove_nothing)
{
    struct kr_calibration_seen seen = readings_of(0.05, 0, 0, 0.11); /* good to 0.22 mm */
    begin();
    kr_judge_calibration(&seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "a better instrument"));
}
END_TEST

START_TEST(readings_over_a_short_way_or_at_two_places_tell_no_frame)
{
    struct kr_calibration_seen seen = readings_of(0, 0, 0, 0.005);
    begin();
    seen.most_um = 40000 + 1600001; /* half of it is more than the 800 mm of the readings */
    kr_judge_calibration(&seen, &verdict);
    found("");
    ck_assert_uint_eq(verdict.n_figures, 0);
    begin();
    memset(&seen.left, 0, sizeof seen.left); /* none at all */
    kr_judge_calibration(&seen, &verdict);
    found("");
}
END_TEST

START_TEST(play_that_no_frame_corrects_is_found_at_the_machine)
{
    struct kr_calibration_seen seen = readings_of(0, 0, 0.41, 0.005);
    begin();
    kr_judge_calibration(&seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "play out of rack"));
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission_frame");
    TCase *all = suite_case(suite, "judges");
    tcase_add_test(all, a_frame_that_readings_agree_with_passes_and_every_figure_is_told);
    tcase_add_test(all, a_frame_that_is_off_is_told_with_what_is_to_be_set);
    tcase_add_test(all, readings_that_are_not_good_enough_prove_nothing);
    tcase_add_test(all, readings_over_a_short_way_or_at_two_places_tell_no_frame);
    tcase_add_test(all, play_that_no_frame_corrects_is_found_at_the_machine);
    return suite;
}
