/* What the judges of commissioning write at a station in inches. An inch is 25.4 mm exactly (NIST Special Publication
 * 811, appendix B.8; stated from memory), so that the figures below are divisions that anybody can repeat. */
#include <ctype.h>
#include <string.h>

#include "kniferail/commission.h"
#include "suite.h"

static struct kr_step_verdict verdict;

static void begin(enum kr_length_unit unit)
{
    memset(&verdict, 0, sizeof verdict);
    verdict.length_unit = unit;
}

static const char *said(enum kr_length_unit unit, unsigned as, int decimals, double mm)
{
    static char text[KR_SAID_MAX];
    return kr_said(unit, as, decimals, mm, text);
}

/* ---- a length -------------------------------------------------------------------------------------------------- */

START_TEST(a_station_in_mm_reads_mm_alone)
{
    static const enum kr_length_unit mm = KR_LENGTH_MM;
    ck_assert_str_eq(said(mm, KR_SAID_LENGTH, 3, 25.4), "25.400 mm");
    ck_assert_str_eq(said(mm, KR_SAID_LENGTH, 0, 5), "5 mm");
    ck_assert_str_eq(said(mm, KR_SAID_LENGTH | KR_SAID_SIGNED, 3, 0.5), "+0.500 mm");
    ck_assert_str_eq(said(mm, KR_SAID_LENGTH | KR_SAID_SPEED, 1, 254), "254.0 mm/s");
    ck_assert_str_eq(said(mm, KR_SAID_SHORT, 1, -3), "-3.0");
    ck_assert_str_eq(said(mm, KR_SAID_SETTING, 3, 16), "16.000");
    ck_assert_str_eq(said(mm, KR_SAID_SETTING | KR_SAID_SPEED, 0, 10), "10");
    ck_assert_str_eq(said(mm, KR_SAID_CELL, 0, 75), "75");
    ck_assert_str_eq(said(mm, KR_SAID_TYPED, 3, -0.35), "-0.350");
}
END_TEST

START_TEST(a_station_in_inches_reads_inches_and_beside_them_mm)
{
    static const enum kr_length_unit inch = KR_LENGTH_INCH;
    ck_assert_str_eq(said(inch, KR_SAID_LENGTH, 3, 25.4), "1.0000 in (25.400 mm)");
    ck_assert_str_eq(said(inch, KR_SAID_LENGTH, 1, 1600), "62.992 in (1600.0 mm)");
    ck_assert_str_eq(said(inch, KR_SAID_LENGTH, 0, 5), "0.20 in (5 mm)");
    ck_assert_str_eq(said(inch, KR_SAID_LENGTH | KR_SAID_SIGNED, 4, -0.0123), "-0.00048 in (-0.0123 mm)");
    ck_assert_str_eq(said(inch, KR_SAID_LENGTH | KR_SAID_SIGNED, 3, 0.508), "+0.0200 in (+0.508 mm)");
    ck_assert_str_eq(said(inch, KR_SAID_LENGTH | KR_SAID_SPEED, 1, 254), "10.000 in/s (254.0 mm/s)");
    ck_assert_str_eq(said(inch, KR_SAID_SHORT, 3, 12.7), "0.5000 in (12.700 mm)");
    ck_assert_str_eq(said(inch, KR_SAID_SETTING, 3, 12.7), "12.700 mm [0.5000 in]");
    ck_assert_str_eq(said(inch, KR_SAID_SETTING | KR_SAID_SPEED, 0, 10), "10 mm/s [0.39 in/s]");
    ck_assert_str_eq(said(inch, KR_SAID_CELL, 0, 75), "75 [2.95 in]");
    ck_assert_str_eq(said(inch, KR_SAID_TYPED, 3, -0.35), "-0.0138in");
}
END_TEST

START_TEST(a_text_with_lengths_in_mm_has_them_in_both_units)
{
    static const char text[] = "It goes by 5 mm (at most 200 mm), was -0.350 mm and is 2.5 mm; at 254 mm/s, by x_5 mm";
    char out[KR_STEP_WHAT_MAX];
    ck_assert_str_eq(kr_said_text(KR_LENGTH_MM, text, out, sizeof out), text);
    ck_assert_str_eq(kr_said_text(KR_LENGTH_INCH, text, out, sizeof out),
                     "It goes by 0.20 in (5 mm) (at most 7.87 in (200 mm)), was -0.0138 in (-0.350 mm) and is "
                     "0.098 in (2.5 mm); at 10.00 in/s (254 mm/s), by x_5 mm");
    ck_assert_str_eq(kr_said_text(KR_LENGTH_INCH, "set placement.knife_mm: 3 mm", out, 12), "set placeme");
    ck_assert_str_eq(kr_said_text(KR_LENGTH_INCH, "", out, sizeof out), "");
}
END_TEST

START_TEST(what_each_step_does_has_room_in_both_units)
{
    char mm[KR_STEP_WHAT_MAX], inches[KR_STEP_WHAT_MAX];
    for (size_t i = 0; kr_step(i) != NULL; i++) {
        ck_assert_str_eq(kr_said_text(KR_LENGTH_MM, kr_step(i)->what, mm, sizeof mm), kr_step(i)->what);
        kr_said_text(KR_LENGTH_INCH, kr_step(i)->what, inches, sizeof inches);
        ck_assert_uint_lt(strlen(inches), sizeof inches - 1);
    }
    kr_said_text(KR_LENGTH_INCH, kr_step(KR_STEP_SWITCH)->what, inches, sizeof inches);
    ck_assert_ptr_nonnull(strstr(inches, "by at most 0.20 in (5 mm) to and fro"));
}
END_TEST

/* ---- a verdict ------------------------------------------------------------------------------------------------- */

/* A number of mm at a station in inches stands in the round brackets behind inches, or before square ones with them. */
static void read_in_inches(const char *text)
{
    static const char mm[] = " mm";
    for (const char *at = strstr(text, mm); at != NULL; at = strstr(at + 1, mm)) {
        const char *number = at, *behind = at + strlen(mm);
        if (strncmp(behind, "/s", 2) == 0)
            behind += 2;
        while (number > text && strchr("+-.0123456789", number[-1]) != NULL)
            number--;
        if (number == at)
            continue;
        bool is_second =
            number - text > 5 && (strncmp(number - 5, " in (", 5) == 0 || strncmp(number - 5, "n/s (", 5) == 0);
        bool is_setting = strncmp(behind, " [", 2) == 0;
        ck_assert_msg(is_second || is_setting, "mm alone in: %s", text);
    }
    ck_assert_msg(strlen(text) == 0 || !isspace((unsigned char)text[strlen(text) - 1]), "cut: %s", text);
}

static void all_read_in_inches(void)
{
    ck_assert_uint_eq(verdict.lost, 0);
    ck_assert_uint_gt(verdict.n_figures + verdict.n_findings, 0);
    for (uint16_t i = 0; i < verdict.n_figures; i++)
        read_in_inches(verdict.figure[i].value);
    for (uint16_t i = 0; i < verdict.n_findings; i++) {
        read_in_inches(verdict.finding[i].seen);
        read_in_inches(verdict.finding[i].change);
        ck_assert_uint_lt(strlen(verdict.finding[i].change), sizeof verdict.finding[i].change - 1);
    }
}

START_TEST(an_offset_of_the_switch_is_told_in_inches_and_set_in_mm)
{
    const struct kr_switch_seen seen = {.rail_number = 2,
                                        .holder_number = 3,
                                        .job = {.complete = true, .took_ms = 65000},
                                        .n_readings = 10,
                                        .found_um = -7004,
                                        .uncertainty_um = 6,
                                        .play_um = 20,
                                        .tolerance_um = 203};
    begin(KR_LENGTH_INCH);
    kr_judge_switch(&seen, &verdict);
    ck_assert_str_eq(verdict.figure[0].value,
                     "counts 0.0000 in (0.000 mm); measured -0.2757 in (-7.004 mm) +- 0.0002 in "
                     "(0.006 mm) (95 %)");
    ck_assert_uint_eq(verdict.n_findings, 1);
    ck_assert_str_eq(verdict.finding[0].setting, "carriage.switch_offset_mm");
    ck_assert_str_eq(verdict.finding[0].change,
                     "-7.004 mm [-0.2757 in] (0.000 mm [0.0000 in] counts); then kniferail calibrate --measured --rail "
                     "2 --apply sets it in the station's book, too");
    all_read_in_inches();
}
END_TEST

START_TEST(an_end_of_travel_is_told_in_inches_and_set_in_mm)
{
    const struct kr_end_seen seen = {
        .side = 1, .setting_um = 1600000, .stood_um = 1600000, .room_um = 2000, .margin_um = 5000};
    begin(KR_LENGTH_INCH);
    kr_judge_end(&seen, &verdict);
    ck_assert_str_eq(verdict.figure[0].value, "62.992 in (1600.0 mm), stopped at 62.992 in (1600.0 mm); room behind it "
                                              "0.079 in (2.0 mm), at least 0.197 in (5.0 mm)");
    ck_assert_str_eq(verdict.finding[0].change, "1597.0 mm [62.874 in] at most (it is 1600.0 mm [62.992 in]); the "
                                                "drive's own position limits likewise");
    all_read_in_inches();
}
END_TEST

/* A bare number is in inches for the command there, and would be 25.4 times as much. */
START_TEST(a_command_that_is_proposed_has_its_lengths_with_their_unit)
{
    struct kr_bias_seen bias = {.rail_number = 1,
                                .job = {.complete = true},
                                .n_readings = 8,
                                .found_um = 150,
                                .uncertainty_um = 4,
                                .in_force_um = 600,
                                .offset_um = 2540,
                                .tolerance_um = 203};
    begin(KR_LENGTH_INCH);
    kr_judge_bias(&bias, &verdict);
    ck_assert_uint_eq(verdict.n_findings, 1);
    ck_assert_str_eq(verdict.finding[0].change,
                     "0.150 mm [0.0059 in]; at the station that runs: kniferail set switch 1 "
                     "0.1000in 0.0059in, or accept it here");
    all_read_in_inches();
    begin(KR_LENGTH_MM);
    kr_judge_bias(&bias, &verdict);
    ck_assert_str_eq(verdict.finding[0].change,
                     "0.150; at the station that runs: kniferail set switch 1 2.540 0.150, or accept it here");
}
END_TEST

static struct kr_calibration_seen readings_of(double offset_mm)
{
    static struct kr_reading reading[18];
    struct kr_calibration_seen seen = {.rail_number = 1,
                                       .file = "r.csv",
                                       .instrument = {0.005, 0},
                                       .is_corrected = true,
                                       .celsius = 30,
                                       .per_kelvin = 11.5e-6,
                                       .to_set = {.offset_um = -350, .scale_ppb = -100000},
                                       .least_um = 40000,
                                       .most_um = 1560000,
                                       .tolerance_um = 203};
    for (int i = 0; i < 18; i++) {
        double at = 100.0 * (i % 9 + 1);
        reading[i] = (struct kr_reading){.target_mm = at,
                                         .reading_mm = at + offset_mm + (i % 3 - 1) * 0.002,
                                         .direction = i < 9 ? KR_RISING : KR_FALLING,
                                         .run = 1};
    }
    ck_assert(kr_calibrate(reading, 18, seen.instrument, &seen.left));
    return seen;
}

START_TEST(a_frame_is_told_in_inches_and_its_command_has_the_unit)
{
    struct kr_calibration_seen seen = readings_of(0.35);
    begin(KR_LENGTH_INCH);
    kr_judge_calibration(&seen, &verdict);
    ck_assert_str_eq(verdict.figure[1].value,
                     "instrument at 30.0 C, 11.50 ppm a kelvin: brought to 20 C, +0.00138 in a "
                     "foot (+0.115 mm a metre)");
    ck_assert_str_eq(verdict.figure[2].value, "offset 0.0000 in (0.000 mm), scale 0.000 ppm, 0 points");
    ck_assert_str_eq(verdict.finding[0].change, "offset_mm = -0.350 [-0.0138 in], scale_ppm = -100.000: kniferail set "
                                                "frame 1 -0.0138in -100.000; scan the rail then");
    seen.impossible = true;
    kr_judge_calibration(&seen, &verdict);
    for (uint16_t i = 0; i < verdict.n_findings; i++)
        read_in_inches(verdict.finding[i].seen);
}
END_TEST

START_TEST(the_places_of_all_flags_have_room_in_both_units)
{
    struct kr_references_seen seen = {.rail_number = 1,
                                      .n_flags = KR_FLAGS_SEEN_MAX,
                                      .job = {.complete = true},
                                      .datum_um = 900,
                                      .tolerance_um = 203};
    for (uint16_t i = 0; i < seen.n_flags; i++)
        seen.flag[i] = (struct kr_flag_seen){.at_um = -1200000 - 300000 * i, .width_um = 8000, .good = i != 2};
    begin(KR_LENGTH_INCH);
    kr_judge_references(&seen, &verdict);
    ck_assert_uint_eq(verdict.n_findings, 2);
    ck_assert_ptr_nonnull(
        strstr(verdict.finding[1].change, "-1200.900 mm [-47.2795 in], -1500.900 mm [-59.0906 in], "));
    ck_assert_ptr_nonnull(strstr(verdict.finding[1].change, "-3300.900 mm [-129.9567 in], if the frame is the rail's; "
                                                            "else walk the step of the frame again"));
    all_read_in_inches();
}
END_TEST

START_TEST(blades_and_edges_are_told_in_inches)
{
    struct kr_clearance_seen blades = {.rail_number = 1,
                                       .lower_number = 2,
                                       .told_um = -300,
                                       .window_um = 50,
                                       .stroke_um = 3000,
                                       .run_out_um = 10,
                                       .hand = 1,
                                       .seen_stroke_um = 250,
                                       .seen_run_out_um = 300,
                                       .uncertain_um = 10,
                                       .n_pairs = 2,
                                       .pair = {{.cut = 1, .upper_number = 1, .lower_number = 1, .gap_um = -100},
                                                {.cut = 2, .upper_number = 2, .lower_number = 2, .gap_um = -300}}};
    const struct kr_edge_seen edge = {.rail_number = 2,
                                      .holder_number = 3,
                                      .edge = KR_EDGE_UNPROVEN,
                                      .offset_um = 12700,
                                      .was_um = 12000,
                                      .proposed = true,
                                      .proposed_um = 13208};
    const struct kr_strip_seen strip = {1, 2, 92075, 92100};
    const struct kr_edges_seen edges = {.job = {.complete = true},
                                        .n_rails = 2,
                                        .n_test_cuts = 1,
                                        .n = 1,
                                        .edge = &edge,
                                        .n_strips = 1,
                                        .strip = &strip,
                                        .tolerance_um = 203};
    begin(KR_LENGTH_INCH);
    kr_judge_clearance(&blades, &verdict);
    ck_assert_str_eq(verdict.finding[0].change, "0.300 mm [0.0118 in], if the blades are mounted as they have to be");
    ck_assert_uint_ge(verdict.n_findings, 5);
    all_read_in_inches();
    begin(KR_LENGTH_INCH);
    kr_judge_edges(&edges, &verdict);
    ck_assert_str_eq(verdict.finding[0].change,
                     "13.208 mm [0.5200 in] for holder 2/3 (it is 12.700 mm [0.5000 in]); kniferail set apply sets it, "
                     "then set the order up again, and cut again");
    ck_assert_str_eq(verdict.finding[0].seen,
                     "By the strips of a test cut the edge of holder 2/3 is +0.0200 in (+0.508 "
                     "mm) off its offset.");
    all_read_in_inches();
}
END_TEST

START_TEST(motion_is_told_in_inches)
{
    static const struct kr_drive drive = {.map = {.referenced_bit = KR_NO_BIT, .position = {1, 1}}};
    const struct kr_home_seen home = {.complete = true,
                                      .referenced = true,
                                      .fastest_um_per_s = 254000,
                                      .setup_um_per_s = 127000,
                                      .rest_um = 50800,
                                      .park_um = 25400,
                                      .park_window_um = 100};
    const struct kr_tape_seen tape = {.shown_um = 254000, .tape_um = 508000, .uncertain_um = 254};
    const struct kr_jog_seen jog = {.direction = 1, .shown_um = 10160, .side = KR_SEEN_NOWHERE};
    const struct kr_widths_seen widths = {.job = {.complete = true},
                                          .setting_um = 8000,
                                          .n = 4,
                                          .mean_um = 12700,
                                          .narrowest = {12600, 100000},
                                          .widest = {12800, 200000}};
    const struct kr_holder_seen holder = {
        .holder_number = 1, .job = {.complete = true}, .person_saw = true, .scanned_um = 508, .tolerance_um = 203};
    const struct kr_changeover_seen changeover = {
        .job = {.complete = true}, .verified = true, .person_saw = true, .worst_um = 508, .tolerance_um = 203};
    begin(KR_LENGTH_INCH);
    kr_judge_home(&drive, &home, &verdict);
    kr_judge_first_jog(&drive, 127000, &verdict);
    kr_judge_scale(&drive, &tape, &verdict);
    kr_judge_direction(&drive, &jog, &verdict);
    kr_judge_widths(&widths, &verdict);
    kr_judge_holder(&holder, &verdict);
    kr_judge_changeover(&changeover, &verdict);
    ck_assert_str_eq(verdict.figure[0].value, "10.000 in/s (254.0 mm/s); setup speed 5.000 in/s (127.0 mm/s)");
    ck_assert_str_eq(verdict.finding[2].change, "10 mm/s [0.39 in/s] for this step, and back to what it was once "
                                                "direction and scale have passed");
    ck_assert_uint_eq(verdict.n_findings, 8);
    all_read_in_inches();
}
END_TEST

START_TEST(silence_and_placement_are_told_in_inches)
{
    struct kr_silence_seen silence = {.how = KR_SILENCE_CABLE,
                                      .direction = 1,
                                      .speed = {300000, 1000000},
                                      .limit_ms = 900,
                                      .cycles_ms = 30,
                                      .moved = true,
                                      .sent_um = 700000,
                                      .stood_um = 254000,
                                      .time_ms = 700};
    const struct kr_acceptance limits = {.changeovers = 1};
    const double error_um[] = {-10, 12, 5, 25.4, -25.4, 3};
    char why[400];
    begin(KR_LENGTH_INCH);
    kr_judge_silence(&silence, &verdict);
    ck_assert_ptr_nonnull(strstr(verdict.figure[0].value, "10.000 in (254.0 mm), at most 12.756 in (324.0 mm); time"));
    kr_judge_placement(&limits, 1, error_um, 6, 203, &verdict);
    ck_assert_ptr_nonnull(
        strstr(verdict.figure[1].value, "from -0.0010 in (-0.025 mm) to +0.0010 in (+0.025 mm); Cpk"));
    all_read_in_inches();
    silence.sent_um = silence.stood_um;
    ck_assert(!kr_silence_shows(&silence, KR_LENGTH_INCH, why, sizeof why));
    ck_assert_ptr_nonnull(strstr(why, "only 10.000 in (254.0 mm) were left"));
    read_in_inches(why);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission_inches");
    TCase *lengths = suite_case(suite, "lengths"), *verdicts = suite_case(suite, "verdicts");
    tcase_add_test(lengths, a_station_in_mm_reads_mm_alone);
    tcase_add_test(lengths, a_station_in_inches_reads_inches_and_beside_them_mm);
    tcase_add_test(lengths, a_text_with_lengths_in_mm_has_them_in_both_units);
    tcase_add_test(lengths, what_each_step_does_has_room_in_both_units);
    tcase_add_test(verdicts, an_offset_of_the_switch_is_told_in_inches_and_set_in_mm);
    tcase_add_test(verdicts, an_end_of_travel_is_told_in_inches_and_set_in_mm);
    tcase_add_test(verdicts, a_command_that_is_proposed_has_its_lengths_with_their_unit);
    tcase_add_test(verdicts, a_frame_is_told_in_inches_and_its_command_has_the_unit);
    tcase_add_test(verdicts, the_places_of_all_flags_have_room_in_both_units);
    tcase_add_test(verdicts, blades_and_edges_are_told_in_inches);
    tcase_add_test(verdicts, motion_is_told_in_inches);
    tcase_add_test(verdicts, silence_and_placement_are_told_in_inches);
    return suite;
}
