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
static struct kr_calibration_seen readings_of(double offset_mm, double scale, double play_mm, double uncertain_mm)
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
                                         .reading_mm =
                                             at + offset_mm + scale * at + noise + (i < 9 ? play_mm / 2 : -play_mm / 2),
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
    ck_assert_uint_eq(verdict.n_figures, 6);
    ck_assert_str_eq(verdict.figure[1].name, "temperature");
    ck_assert_str_eq(verdict.figure[1].value, "instrument at 20 C: the readings count as they are");
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
    seen.is_corrected = true; /* the file has the readings as they were taken */
    seen.celsius = 26.5;
    seen.per_kelvin = 11.5e-6;
    begin();
    kr_judge_calibration(&seen, &verdict);
    ck_assert_ptr_nonnull(
        strstr(verdict.finding[0].change, "--rail 1, --temperature 26.5, --coefficient 11.5; scan the rail then"));
    /* 1000 mm x 11.5e-6 x 6.5 */
    ck_assert_str_eq(verdict.figure[1].value,
                     "instrument at 26.5 C, 11.50 ppm a kelvin: brought to 20 C, +0.075 mm a metre");
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

/* ---- references ------------------------------------------------------------------------------------------------ */

static struct kr_references_seen flags_seen(void)
{
    static const int32_t at_um[] = {-20000, 15000, 640000, 658000};
    struct kr_references_seen seen = {
        .rail_number = 1, .n_flags = 4, .job = {.complete = true}, .found = true, .tolerance_um = 203};
    for (int i = 0; i < 4; i++)
        seen.flag[i] = (struct kr_flag_seen){.at_um = at_um[i], .width_um = 8000, .good = true};
    return seen;
}

static void stopped_by(struct kr_references_seen *seen, uint16_t code, uint16_t item, int32_t value, int32_t limit)
{
    seen->job.complete = false;
    seen->job.alarm_code = code;
    seen->job_text = "A scan";
    strcpy(seen->job.alarm, "in words");
    seen->alarm = (struct kr_alarm){code, 1, item, value, limit};
    begin();
    kr_judge_references(seen, &verdict);
}

START_TEST(flags_that_stand_where_the_file_has_them_pass_and_each_is_a_figure)
{
    struct kr_references_seen seen = flags_seen();
    begin();
    seen.datum_um = -203; /* within the tolerance of a knife */
    kr_judge_references(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 6);
    ck_assert_str_eq(verdict.figure[0].value, "by the file at -20.000 mm; found at -19.797 mm");
    begin();
    seen.n_flags = 0; /* a rail without any */
    kr_judge_references(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
}
END_TEST

START_TEST(flags_that_stand_elsewhere_are_told_with_their_places)
{
    struct kr_references_seen seen = flags_seen();
    begin();
    seen.datum_um = -704;
    seen.switch_um = 4;
    kr_judge_references(&seen, &verdict);
    found("frame.references.at_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "-19.300, 15.700, 640.700, 658.700, if the frame"));
    begin();
    seen.datum_um = seen.switch_um = 0;
    seen.scale_ppb = 400000; /* at 658 mm it is 263 um */
    kr_judge_references(&seen, &verdict);
    found("frame.references.at_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "-0.263 mm"));
}
END_TEST

START_TEST(a_flag_that_was_not_used_is_told_by_its_width_or_its_place)
{
    struct kr_references_seen seen = flags_seen();
    seen.flag[1] = (struct kr_flag_seen){15000, 8000, false, 10200};
    begin();
    kr_judge_references(&seen, &verdict);
    found("frame.references.width_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "10.200 for flag 2"));
    seen.flag[1].looks_um = 8010;
    begin();
    kr_judge_references(&seen, &verdict);
    found("frame.references.at_mm");
    seen.flag[1].looks_um = 0;
    begin();
    kr_judge_references(&seen, &verdict);
    found("");
}
END_TEST

START_TEST(what_stops_a_scan_of_references_names_the_setting)
{
    struct kr_references_seen seen = flags_seen();
    stopped_by(&seen, KR_ALARM_REFERENCES_EXCHANGED, 2, 0, 0);
    found("drive.address");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "those of rail 2: the rails are exchanged"));
    stopped_by(&seen, KR_ALARM_REFERENCES_EXCHANGED, 0, 0, 0);
    found("frame.references.at_mm");
    stopped_by(&seen, KR_ALARM_REFERENCES_MIRRORED, 0, 4, 4);
    found("drive.counts_towards");
    stopped_by(&seen, KR_ALARM_REFERENCES_SHIFTED, 0, 2500, 1000);
    found("frame.references.at_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "each place +2.500 mm"));
    stopped_by(&seen, KR_ALARM_REFERENCES_UNSEEN, 0, 1, 4);
    found("frame.references.at_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "Of 4 flags of the file 1 were found"));
    stopped_by(&seen, KR_ALARM_POSITION_IMPLAUSIBLE, 0, 760000,
               720000); /* as fast as it runs on behind the last flag */
    found("carriage.setup_speed_mm_per_s");
    stopped_by(&seen, KR_ALARM_SWITCH_STUCK, 0, 0, 0);
    found("");
}
END_TEST

/* ---- the bias -------------------------------------------------------------------------------------------------- */

static struct kr_bias_seen measured_bias(int32_t in_force_um)
{
    return (struct kr_bias_seen){.rail_number = 1,
                                 .job = {.complete = true},
                                 .n_readings = 20,
                                 .found_um = 150,
                                 .uncertainty_um = 5,
                                 .hysteresis_um = 220,
                                 .delay_us = 200,
                                 .in_force_um = in_force_um,
                                 .offset_um = 400,
                                 .tolerance_um = 203};
}

START_TEST(a_bias_in_force_that_was_measured_passes_and_so_do_scans_both_ways)
{
    struct kr_bias_seen seen = measured_bias(175); /* within 5 um and a tenth of the tolerance */
    begin();
    kr_judge_bias(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 3);
    ck_assert_str_eq(verdict.figure[0].value, "0.150 +- 0.005 mm (95.45 %), 20 readings");
    seen = measured_bias(0);
    kr_judge_bias(&seen, &verdict);
    seen = measured_bias(600);
    seen.always_both_ways = true;
    kr_judge_bias(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
}
END_TEST

START_TEST(another_bias_than_was_measured_is_told_with_its_value)
{
    struct kr_bias_seen seen = measured_bias(176);
    begin();
    kr_judge_bias(&seen, &verdict);
    found("carriage.scan_bias_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "kniferail set switch 1 0.400 0.150"));
    seen = measured_bias(0);
    strcpy(seen.refused, "a job runs");
    begin();
    kr_judge_bias(&seen, &verdict);
    found("");
}
END_TEST

START_TEST(a_bias_that_no_scan_uses_is_not_said_to_be_used)
{
    struct kr_bias_seen seen = measured_bias(600);
    begin();
    kr_judge_bias(&seen, &verdict);
    found("carriage.scan_bias_mm");
    ck_assert_str_eq(verdict.finding[0].seen,
                     "A bias of 0.600 mm is in force, and 0.150 +- 0.005 mm were measured: a scan "
                     "that goes one way finds each holder 0.450 mm beside its place.");
    ck_assert_str_eq(verdict.figure[2].value, "0.600 mm, as it was before; not used as long as scan_ways is \"both\"");
    seen.one_way = true;
    begin();
    kr_judge_bias(&seen, &verdict);
    ck_assert_str_eq(verdict.figure[2].value, "0.600 mm, as it was before");
}
END_TEST

START_TEST(a_switch_with_which_no_scan_is_good_is_found_at_the_machine)
{
    struct kr_bias_seen seen = measured_bias(0);
    seen.hysteresis_um = 821;
    begin();
    kr_judge_bias(&seen, &verdict);
    found("");
    seen = measured_bias(0);
    seen.delay_us = 1001;
    begin();
    kr_judge_bias(&seen, &verdict);
    found("");
    seen = measured_bias(0);
    seen.uncertainty_um = 21;
    begin();
    kr_judge_bias(&seen, &verdict);
    found("carriage.gauge_rounds");
    seen = measured_bias(0);
    seen.n_readings = 0;
    begin();
    kr_judge_bias(&seen, &verdict);
    found("");
    seen.job.complete = false;
    begin();
    kr_judge_bias(&seen, &verdict);
    found("");
}
END_TEST

/* ---- blades ---------------------------------------------------------------------------------------------------- */

/* Blades that stand 0.5 mm on the drive side, three of them, each off by so much. */
static struct kr_clearance_seen blades_of(int32_t first_um, int32_t second_um, int32_t third_um)
{
    const int32_t off_um[] = {first_um, second_um, third_um};
    struct kr_clearance_seen seen = {.rail_number = 1,
                                     .lower_number = 2,
                                     .told_um = 500,
                                     .window_um = 300,
                                     .run_out_um = 50,
                                     .hand = 1,
                                     .uncertain_um = 50,
                                     .n_pairs = 3};
    for (uint16_t i = 0; i < 3; i++)
        seen.pair[i] = (struct kr_pair_seen){
            (uint16_t)(i + 1), (uint16_t)(i + 1), (uint16_t)(i + 2), 500 + off_um[i], 10000, -10000};
    return seen;
}

START_TEST(blades_at_their_clearance_pass_and_each_pair_is_a_figure)
{
    struct kr_clearance_seen seen = blades_of(350, 0, -350); /* the window and what a reading may be off */
    begin();
    kr_judge_clearance(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 4);
    ck_assert_str_eq(verdict.figure[1].name, "cut 1: holder 1 of rail 1 beside holder 2 of rail 2");
    seen.seen_run_out_um = seen.seen_stroke_um = 0;
    seen.unmeasured = (struct kr_holders_seen){4, {4, 5, 6, 8}};
    begin();
    kr_judge_clearance(&seen, &verdict);
    ck_assert_ptr_nonnull(strstr(verdict.figure[0].value, "side stroke not measured, run-out not measured"));
    ck_assert_str_eq(verdict.figure[4].name, "pairs of rail 1, not measured");
    ck_assert_str_eq(verdict.figure[4].value, "4 of 7: cuts 4 to 6, 8");
}
END_TEST

START_TEST(blades_on_the_wrong_side_are_the_sign_of_the_clearance)
{
    struct kr_clearance_seen seen = blades_of(0, 0, 0);
    seen.hand = -1;
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("side_clearance_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "-0.500, if"));
    seen = blades_of(-500, -500, -500);
    seen.told_um = 0; /* on no side at all */
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("side_clearance_mm");
}
END_TEST

START_TEST(a_stroke_that_does_not_reach_and_a_blade_that_runs_out_are_told_with_the_setting)
{
    struct kr_clearance_seen seen = blades_of(0, 0, 0);
    seen.seen_stroke_um = 799; /* less 0.3 mm it is not 0.5 mm */
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("side_clearance_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "0.499 at most"));
    seen.seen_stroke_um = 1000;
    seen.stroke_um = 1200;
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("side_stroke_mm");
    seen = blades_of(0, 0, 0);
    seen.seen_run_out_um = 120;
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("blade_run_out_mm");
    seen.seen_run_out_um = 250; /* and nearer than that beside pair_mm */
    begin();
    kr_judge_clearance(&seen, &verdict);
    ck_assert_uint_eq(verdict.n_findings, 2);
    ck_assert_str_eq(verdict.finding[1].setting, "side_clearance_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[1].change, "0.550 at least"));
}
END_TEST

START_TEST(one_pair_that_is_off_is_one_of_two_edges_and_all_alike_are_a_rail)
{
    struct kr_clearance_seen seen = blades_of(0, 600, 0);
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("holders.edge_offset_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "10.600 for holder 1/2, or -10.600 for 2/3"));
    seen = blades_of(600, 610, 590);
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("holders.edge_offset_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "+0.600 on rail 1, or -0.600 on rail 2"));
}
END_TEST

START_TEST(no_reading_or_a_bad_one_proves_no_clearance)
{
    struct kr_clearance_seen seen = blades_of(0, 0, 0);
    seen.n_pairs = 0;
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("");
    seen.n_pairs = 3;
    seen.uncertain_um = 301;
    begin();
    kr_judge_clearance(&seen, &verdict);
    found("");
}
END_TEST

/* ---- edges ----------------------------------------------------------------------------------------------------- */

static struct kr_edge_seen three_edges[3];

static struct kr_edges_seen edges_of(uint16_t first, uint16_t second, uint16_t third)
{
    const uint16_t edge[] = {first, second, third};
    for (uint16_t i = 0; i < 3; i++)
        three_edges[i] = (struct kr_edge_seen){.rail_number = i < 1 ? 1 : 2,
                                               .holder_number = (uint16_t)(i + 1),
                                               .edge = edge[i],
                                               .offset_um = -10000,
                                               .was_um = -10000};
    return (struct kr_edges_seen){
        .job = {.complete = true}, .n_rails = 2, .n_test_cuts = 1, .n = 3, .edge = three_edges, .tolerance_um = 203};
}

START_TEST(edges_that_are_all_proven_pass_and_it_is_told_how)
{
    struct kr_edges_seen seen = edges_of(KR_EDGE_FEELER, KR_EDGE_TEST_CUT, KR_EDGE_TEST_CUT);
    static const struct kr_strip_seen strip[] = {{1, 1, 120010, 120000}, {1, 2, 0, 80500}};
    three_edges[2].offset_um = -9400;
    three_edges[0].by = "A. Fitter, feeler gauge 12";
    seen.n_strips = 2;
    seen.strip = strip;
    begin();
    kr_judge_edges(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 4 + 3 + 2);
    ck_assert_str_eq(verdict.figure[4].name, "edge of holder 1/1");
    ck_assert_str_eq(verdict.figure[4].value, "offset -10.000 mm, measured in place, A. Fitter, feeler gauge 12");
    ck_assert_str_eq(verdict.figure[6].value, "offset -9.400 mm, proven by a test cut");
    ck_assert_str_eq(verdict.figure[7].name, "test cut 1, strip 1");
    ck_assert_str_eq(verdict.figure[7].value, "measured 120.010 mm; its cut lines are 120.000 mm apart");
    ck_assert_str_eq(verdict.figure[8].value, "not measured; its cut lines are 80.500 mm apart");
    ck_assert_str_eq(verdict.figure[2].name, "edges of rail 2, proven by a test cut");
    ck_assert_str_eq(verdict.figure[2].value, "holders 2, 3");
    ck_assert_str_eq(verdict.figure[3].value, "was -10.000 mm, set to -9.400 mm by the strips of a test cut");
    seen.n_strips_lost = 3; /* the record is not whole, and so the step does not pass */
    begin();
    kr_judge_edges(&seen, &verdict);
    ck_assert_uint_eq(verdict.lost, 3);
    ck_assert(!kr_step_passes(&verdict));
}
END_TEST

/* 100 holders of a rail: each way of proof names all that it is true of. */
START_TEST(many_edges_are_named_by_ranges_and_none_is_cut_off)
{
    static struct kr_edge_seen e[KR_HOLDERS_MAX];
    struct kr_edges_seen seen = {.job = {.complete = true}, .n_rails = 1, .n = 100, .edge = e, .tolerance_um = 203};
    for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++)
        e[i] = (struct kr_edge_seen){.rail_number = 1, .holder_number = (uint16_t)(i + 1), .edge = KR_EDGE_UNPROVEN};
    begin();
    kr_judge_edges(&seen, &verdict);
    ck_assert_str_eq(verdict.figure[1].value, "holders 1 to 100");
    ck_assert_str_eq(verdict.finding[0].seen, "Rail 1: the edges of holders 1 to 100 are not proven.");
    seen.n = KR_HOLDERS_MAX;
    for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++) /* the longest list: two of three */
        e[i].edge = i % 3 == 2 ? KR_EDGE_BENCH : KR_EDGE_UNPROVEN;
    begin();
    kr_judge_edges(&seen, &verdict);
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "holders 1, 2, 4, 5, 7"));
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, ", 127, 128 are not proven."));
    ck_assert_ptr_nonnull(strstr(verdict.figure[2].value, ", 127, 128"));
}
END_TEST

START_TEST(edges_that_are_not_proven_are_named_and_so_is_what_strips_say_of_them)
{
    struct kr_edges_seen seen = edges_of(KR_EDGE_BENCH, KR_EDGE_UNPROVEN, KR_EDGE_BENCH);
    begin();
    kr_judge_edges(&seen, &verdict);
    found("");
    ck_assert_str_eq(verdict.finding[0].seen, "Rail 2: the edges of holders 2 are not proven.");
    three_edges[1].proposed = three_edges[2].proposed = true;
    three_edges[1].proposed_um = -9400;
    three_edges[2].proposed_um = -9400; /* it is proven: strips tell no rail as a whole */
    begin();
    kr_judge_edges(&seen, &verdict);
    ck_assert_uint_eq(verdict.n_findings, 2);
    ck_assert_str_eq(verdict.finding[0].setting, "holders.edge_offset_mm");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "-9.400 for holder 2/2 (it is -10.000)"));
    seen = edges_of(KR_EDGE_STRUCK, KR_EDGE_BENCH, KR_EDGE_BENCH);
    begin();
    kr_judge_edges(&seen, &verdict);
    found("");
    seen.job.complete = false;
    begin();
    kr_judge_edges(&seen, &verdict);
    found("");
}
END_TEST

/* A web from 100 mm on, 400 mm wide, with these cut lines, as the block CUTS has it. */
static const struct kr_image *web_with(int32_t trim_operator_um, uint16_t n, const int32_t line_um[])
{
    static struct kr_image image; /* large */
    kr_image_clear(&image, (struct kr_format){.length_unit = KR_LENGTH_MM});
    kr_image_set_um(&image, KR_REG_TRIM_OPERATOR, 0, 0, trim_operator_um);
    kr_image_set_um(&image, KR_REG_WEB_OPERATOR, 0, 0, 100000);
    kr_image_set_um(&image, KR_REG_WEB_DRIVE, 0, 0, 500000);
    kr_image_set_u16(&image, KR_REG_CUT_COUNT, 0, 0, n);
    for (uint16_t i = 0; i < n; i++)
        kr_image_set_um(&image, KR_REG_CUT_LINE, 0, i, line_um[i]);
    return &image;
}

static void has_strip_edges(const struct kr_image *image, uint16_t n, const int32_t edge_um[])
{
    for (uint16_t i = 0; i < n; i++)
        ck_assert_msg(kr_strip_edge_um(image, i) == edge_um[i], "edge %u: %d um instead of %d um", i,
                      (int)kr_strip_edge_um(image, i), (int)edge_um[i]);
}

START_TEST(strips_lie_between_cut_lines_and_at_an_untrimmed_edge_of_the_web_beside_that_edge)
{
    has_strip_edges(web_with(0, 2, (const int32_t[]){220000, 350000}), 4,
                    (const int32_t[]){100000, 220000, 350000, 500000}); /* neither edge is trimmed */
    has_strip_edges(web_with(10000, 3, (const int32_t[]){110000, 220000, 490000}), 3,
                    (const int32_t[]){110000, 220000, 490000}); /* both are */
    has_strip_edges(web_with(0, 3, (const int32_t[]){220000, 350000, 490000}), 4,
                    (const int32_t[]){100000, 220000, 350000, 490000}); /* that at the drive side is */
    has_strip_edges(web_with(10000, 2, (const int32_t[]){110000, 350000}), 3,
                    (const int32_t[]){110000, 350000, 500000}); /* that at the operator side is */
    has_strip_edges(web_with(0, 2, (const int32_t[]){100000, 350000}), 3,
                    (const int32_t[]){100000, 350000, 500000}); /* it is, with a trim of 0 */
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
    tcase_add_test(all, flags_that_stand_where_the_file_has_them_pass_and_each_is_a_figure);
    tcase_add_test(all, flags_that_stand_elsewhere_are_told_with_their_places);
    tcase_add_test(all, a_flag_that_was_not_used_is_told_by_its_width_or_its_place);
    tcase_add_test(all, what_stops_a_scan_of_references_names_the_setting);
    tcase_add_test(all, a_bias_in_force_that_was_measured_passes_and_so_do_scans_both_ways);
    tcase_add_test(all, another_bias_than_was_measured_is_told_with_its_value);
    tcase_add_test(all, a_bias_that_no_scan_uses_is_not_said_to_be_used);
    tcase_add_test(all, a_switch_with_which_no_scan_is_good_is_found_at_the_machine);
    tcase_add_test(all, blades_at_their_clearance_pass_and_each_pair_is_a_figure);
    tcase_add_test(all, blades_on_the_wrong_side_are_the_sign_of_the_clearance);
    tcase_add_test(all, a_stroke_that_does_not_reach_and_a_blade_that_runs_out_are_told_with_the_setting);
    tcase_add_test(all, one_pair_that_is_off_is_one_of_two_edges_and_all_alike_are_a_rail);
    tcase_add_test(all, no_reading_or_a_bad_one_proves_no_clearance);
    tcase_add_test(all, edges_that_are_all_proven_pass_and_it_is_told_how);
    tcase_add_test(all, many_edges_are_named_by_ranges_and_none_is_cut_off);
    tcase_add_test(all, edges_that_are_not_proven_are_named_and_so_is_what_strips_say_of_them);
    tcase_add_test(all, strips_lie_between_cut_lines_and_at_an_untrimmed_edge_of_the_web_beside_that_edge);
    return suite;
}
