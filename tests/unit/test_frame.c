/* Tests of the frame: the conversion from a drive's position to a place of the machine and back, and a station whose
 * drives count differently from the machine's length. The tests compare with the true positions of the knives. */
#include <check.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../long/draw.h"
#include "kniferail/frame.h"
#include "rig.h"
#include "suite.h"

/* ---- the map --------------------------------------------------------------------------------------------------- */

START_TEST(without_a_frame_the_drives_position_is_the_place)
{
    static const struct kr_frame none;
    static const int32_t positions_um[] = {INT32_MIN, -20000000, -1, 0, 1, 123456, 20000000, INT32_MAX};
    for (size_t i = 0; i < sizeof positions_um / sizeof positions_um[0]; i++) {
        ck_assert_int_eq(kr_frame_place_um(&none, positions_um[i]), positions_um[i]);
        ck_assert_int_eq(kr_frame_position_um(&none, positions_um[i]), positions_um[i]);
    }
}
END_TEST

/* 500 ppm of 2 m are 1 mm. Between two points half way is half the error, beyond them it stays. */
START_TEST(offset_scale_and_table_add_up_as_the_formula_says)
{
    struct kr_frame frame = {.offset_um = 12345, .scale_ppb = 500000, .n_points = 2};
    ck_assert_int_eq(kr_frame_place_um(&frame, 0), 12345);
    ck_assert_int_eq(kr_frame_place_um(&frame, 2000 * MM), 2000 * MM + 1000 + 12345);
    ck_assert_int_eq(kr_frame_place_um(&frame, -2000 * MM), -2000 * MM - 1000 + 12345);
    frame = (struct kr_frame){.n_points = 2, .point = {{100 * MM, -20}, {300 * MM, 60}}};
    ck_assert_int_eq(kr_frame_place_um(&frame, -100 * MM), -100 * MM - 20);
    ck_assert_int_eq(kr_frame_place_um(&frame, 100 * MM), 100 * MM - 20);
    ck_assert_int_eq(kr_frame_place_um(&frame, 200 * MM), 200 * MM + 20);
    ck_assert_int_eq(kr_frame_place_um(&frame, 300 * MM), 300 * MM + 60);
    ck_assert_int_eq(kr_frame_place_um(&frame, 900 * MM), 900 * MM + 60);
}
END_TEST

/* Any frame that the limits allow, the steepest ones included. */
static struct kr_frame any_frame(struct draw *d)
{
    struct kr_frame frame = {
        .offset_um = draw_between(d, -KR_FRAME_OFFSET_MAX_UM, KR_FRAME_OFFSET_MAX_UM),
        .scale_ppb = draw_between(d, -KR_FRAME_SCALE_MAX_PPB, KR_FRAME_SCALE_MAX_PPB),
        .n_points = (uint16_t)draw_between(d, 0, KR_FRAME_POINTS_MAX),
    };
    int32_t at_um = draw_between(d, -1000 * MM, 500 * MM), error_um = draw_between(d, -500, 500);
    for (uint16_t i = 0; i < frame.n_points; i++) {
        frame.point[i] = (struct kr_frame_point){at_um, error_um};
        int32_t way_um = draw_chance(d, 20) ? draw_between(d, 1, 30) : draw_between(d, 1, 100 * MM);
        int32_t steep_um = way_um / KR_FRAME_STEEPEST;
        int32_t rise_um =
            draw_chance(d, 30) ? (draw_chance(d, 50) ? steep_um : -steep_um) : draw_between(d, -steep_um, steep_um);
        at_um += way_um;
        error_um += rise_um;
        if (abs(error_um) > KR_FRAME_ERROR_MAX_UM)
            error_um -= 2 * rise_um;
    }
    return frame;
}

static int32_t any_position_um(struct draw *d, const struct kr_frame *frame)
{
    if (frame->n_points > 0 && draw_chance(d, 60)) /* where it bends */
        return frame->point[draw_between(d, 0, frame->n_points - 1)].at_um + draw_between(d, -3, 3);
    return draw_between(d, -25000 * MM, 25000 * MM);
}

static bool is_nearest(const struct kr_frame *frame, int32_t place_um)
{
    int32_t position_um = kr_frame_position_um(frame, place_um);
    int32_t off_um = abs(kr_frame_place_um(frame, position_um) - place_um);
    return off_um <= abs(kr_frame_place_um(frame, position_um - 1) - place_um) &&
           off_um <= abs(kr_frame_place_um(frame, position_um + 1) - place_um);
}

/* _i: the seed. */
START_TEST(any_frame_grows_and_leads_back_to_within_a_micrometre)
{
    struct draw draw = {(uint64_t)_i};
    struct kr_frame frame = any_frame(&draw);
    ck_assert_uint_eq(kr_frame_bad_point(&frame), 0);
    for (int k = 0; k < 400; k++) {
        int32_t at_um = any_position_um(&draw, &frame), place_um = kr_frame_place_um(&frame, at_um);
        int32_t far_um = at_um + draw_between(&draw, 2, 2000);
        ck_assert_msg(kr_frame_place_um(&frame, at_um + 1) >= place_um, "seed %d: it falls behind %d", _i, at_um);
        ck_assert_msg(kr_frame_place_um(&frame, far_um) > place_um, "seed %d: it stands from %d to %d", _i, at_um,
                      far_um);
        int32_t back_um = kr_frame_position_um(&frame, place_um);
        ck_assert_msg(abs(back_um - at_um) <= 1, "seed %d: from %d back to %d", _i, at_um, back_um);
        int32_t again_um = kr_frame_place_um(&frame, kr_frame_position_um(&frame, at_um));
        ck_assert_msg(abs(again_um - at_um) <= 1, "seed %d: place %d back as %d", _i, at_um, again_um);
        ck_assert_msg(is_nearest(&frame, at_um), "seed %d: another position is nearer to place %d", _i, at_um);
    }
}
END_TEST

START_TEST(at_the_ends_of_32_bits_it_stops_and_never_turns_over)
{
    static const int32_t ends_um[] = {INT32_MIN, INT32_MAX};
    struct kr_frame frame = {.offset_um = KR_FRAME_OFFSET_MAX_UM, .scale_ppb = KR_FRAME_SCALE_MAX_PPB};
    ck_assert_int_eq(kr_frame_place_um(&frame, INT32_MAX), INT32_MAX);
    ck_assert_int_lt(kr_frame_place_um(&frame, INT32_MIN), 0);
    for (size_t i = 0; i < 2; i++) {
        frame.offset_um = -frame.offset_um;
        ck_assert((kr_frame_position_um(&frame, ends_um[i]) < 0) == (ends_um[i] < 0));
        ck_assert((kr_frame_place_um(&frame, ends_um[i]) < 0) == (ends_um[i] < 0));
    }
}
END_TEST

START_TEST(a_table_that_does_not_grow_or_is_too_steep_is_told_by_its_point)
{
    struct kr_frame frame = {.n_points = 3, .point = {{0, 0}, {1000, 100}, {2000, 0}}};
    ck_assert_uint_eq(kr_frame_bad_point(&frame), 0);
    frame.point[2].error_um = -1;
    ck_assert_uint_eq(kr_frame_bad_point(&frame), 3);
    frame.point[1].at_um = 0;
    frame.point[1].error_um = 0;
    ck_assert_uint_eq(kr_frame_bad_point(&frame), 2);
}
END_TEST

/* ---- temperature ----------------------------------------------------------------------------------------------- */

/* Worked example: 11.5 parts of a million for each kelvin (steel, common practice, no published source), 8 C, 3200 mm
 * read: 3200 x 11.5e-6 x 12 = 0.4416 mm less. 20 C is the reference temperature of ISO 1. */
START_TEST(a_length_that_is_read_at_8_degrees_is_shorter_by_what_the_worked_example_says)
{
    int32_t expansion_ppb = kr_expansion_ppb(11500, 28115);
    ck_assert_int_eq(expansion_ppb, -138000);
    ck_assert_int_eq(kr_expanded_um(3200 * MM, expansion_ppb), 3200 * MM - 442);
    ck_assert_int_eq(kr_expanded_um(440 * MM, expansion_ppb), 440 * MM - 61);
    ck_assert_int_eq(kr_expanded_um(-3200 * MM, expansion_ppb), -3200 * MM + 442);
    ck_assert_int_eq(kr_expansion_ppb(11500, KR_TEMPERATURE_20_CK), 0);
    ck_assert_int_eq(kr_expansion_ppb(11500, 30315), 115000);
}
END_TEST

/* Within rounding of offset, scale and errors to what a frame holds. */
START_TEST(an_expanded_frame_is_the_frame_times_the_expansion_and_leads_back)
{
    struct draw draw = {(uint64_t)_i};
    struct kr_frame frame = any_frame(&draw);
    frame.scale_ppb = draw_between(&draw, -KR_FRAME_SCALE_MAX_PPB / 2, KR_FRAME_SCALE_MAX_PPB / 2);
    int32_t expansion_ppb = draw_between(&draw, -KR_EXPANSION_MAX_PPB, KR_EXPANSION_MAX_PPB);
    struct kr_frame warm = kr_frame_expanded(&frame, expansion_ppb);
    struct kr_frame back = kr_frame_expanded(&warm, kr_expansion_back_ppb(expansion_ppb));
    ck_assert_int_le(abs(back.offset_um - frame.offset_um), 1);
    ck_assert_int_le(abs(back.scale_ppb - frame.scale_ppb), 2);
    for (int k = 0; k < 100; k++) {
        int32_t at_um = draw_between(&draw, -5000 * MM, 5000 * MM);
        double should = kr_frame_place_um(&frame, at_um) * (1 + expansion_ppb / 1e9);
        ck_assert_msg(fabs(kr_frame_place_um(&warm, at_um) - should) <= 3, "seed %d at %d", _i, at_um);
    }
}
END_TEST

/* ---- from the drive to the blade, and back --------------------------------------------------------------------- */

/* Each figure by hand from the formulas of corrections.h. */
START_TEST(a_worked_example_has_each_correction_with_its_sign_and_in_its_order)
{
    struct kr_carriage_config told = {.frame = {.offset_um = 12345, .scale_ppb = 400000},
                                      .switch_offset_um = -30000,
                                      .scan_bias_um = 140},
                              is;
    struct kr_frame_correction found = {.datum_um = 200, .scale_ppb = 100000, .switch_um = 7};
    struct kr_off_line line = {.off_um = 25};
    kr_carriage_correct(&told, &found, &is);
    /* 999,800 + 200, and 500 ppm of it */
    ck_assert_int_eq(kr_frame_place_um(&is.frame, 999800), 12345 + 1000000 + 500);
    /* the switch stands 29,993 um before the pin; the flag is 8000 um wide */
    int32_t rise_um = kr_frame_place_um(&is.frame, 999800), fall_um = rise_um + 8000;
    int32_t growing_um = kr_flag_by_pass_um(rise_um, fall_um, is.switch_offset_um);
    ck_assert_int_eq(growing_um, 1012845 + 4000 - 29993);
    int32_t falling_um = growing_um - 280; /* twice the bias less */
    ck_assert_int_eq(kr_passes_apart_um(growing_um, falling_um, is.scan_bias_um), 0);
    ck_assert_int_eq(kr_flag_both_ways_um(growing_um, falling_um), 986852 - 140);
    ck_assert_int_eq(kr_flag_one_way_um(growing_um, is.scan_bias_um), 986852 - 140);
    int32_t holder_um = kr_flag_less_residual_um(986712, kr_off_line_um(&line, 986712));
    ck_assert_int_eq(holder_um, 986712 - 25);
    ck_assert_int_eq(kr_edge_um(holder_um, -1500), 985187);
    ck_assert_int_eq(kr_holder_um(985187, -1500), holder_um);
    /* the pin goes to the holder, and the switch above it 29,993 um further */
    ck_assert_int_eq(kr_frame_place_um(&is.frame, kr_frame_position_um(&is.frame, holder_um)), holder_um);
    ck_assert_int_eq(kr_frame_place_um(&is.frame, kr_switch_position_um(&is.frame, holder_um, is.switch_offset_um)),
                     holder_um + 29993);
    /* in a frame that is 138 ppm shorter than at 20 C: 1,012,845 um are 140 um less */
    found.expansion_ppb = -138000;
    kr_carriage_correct(&told, &found, &is);
    ck_assert_int_eq(kr_frame_place_um(&is.frame, 999800), 1012845 - 140);
}
END_TEST

static double error_by_formula_um(const struct kr_frame *frame, double at_um)
{
    uint16_t n = frame->n_points, right = 0;
    while (right < n && frame->point[right].at_um <= at_um)
        right++;
    if (n == 0 || right == 0 || right == n)
        return n == 0 ? 0 : frame->point[right == 0 ? 0 : n - 1].error_um;
    const struct kr_frame_point *a = &frame->point[right - 1], *b = &frame->point[right];
    return a->error_um + (double)(b->error_um - a->error_um) * (at_um - a->at_um) / (b->at_um - a->at_um);
}

/* As corrections.h and frame.h write it, in floating point. */
static double place_by_formula_um(const struct kr_frame *told, const struct kr_frame_correction *found,
                                  int32_t position_um)
{
    double p = (double)position_um + found->datum_um, scale = (told->scale_ppb + found->scale_ppb) / 1e9;
    return (1 + found->expansion_ppb / 1e9) * (told->offset_um + p + p * scale + error_by_formula_um(told, p));
}

static struct kr_frame_correction any_correction(struct draw *d)
{
    return (struct kr_frame_correction){.datum_um = draw_between(d, -3000, 3000),
                                        .scale_ppb = draw_between(d, -200000, 200000),
                                        .switch_um = draw_between(d, -2000, 2000),
                                        .expansion_ppb = draw_between(d, -400000, 400000)};
}

/* What the drive latches of a flag in one pass: the switch switches so much too late along its way. */
static int32_t flag_by_pass_um(const struct kr_carriage_config *c, int32_t flag_um, int32_t late_um)
{
    int32_t rise = kr_switch_position_um(&c->frame, flag_um + late_um - 4000, c->switch_offset_um);
    int32_t fall = kr_switch_position_um(&c->frame, flag_um + late_um + 4000, c->switch_offset_um);
    return kr_flag_by_pass_um(kr_frame_place_um(&c->frame, rise), kr_frame_place_um(&c->frame, fall),
                              c->switch_offset_um);
}

/* _i: the seed. */
START_TEST(all_corrections_go_forth_by_the_formula_and_back_to_where_they_began)
{
    struct draw draw = {(uint64_t)_i + 77};
    struct kr_carriage_config told = {.frame = any_frame(&draw)}, is;
    told.frame.scale_ppb /= 2;
    told.frame.offset_um /= 10;
    told.switch_offset_um = draw_between(&draw, -100 * MM, 100 * MM);
    told.scan_bias_um = draw_between(&draw, -800, 800);
    struct kr_frame_correction found = any_correction(&draw);
    kr_carriage_correct(&told, &found, &is);
    for (int k = 0; k < 100; k++) {
        int32_t position_um = draw_between(&draw, -3000 * MM, 3000 * MM);
        int32_t offset_um = draw_between(&draw, -100 * MM, 100 * MM);
        int32_t pin_um = kr_frame_place_um(&is.frame, position_um), edge_um = kr_edge_um(pin_um, offset_um);
        ck_assert_msg(fabs(pin_um - place_by_formula_um(&told.frame, &found, position_um)) <= 5,
                      "seed %d: position %d is place %d", _i, position_um, pin_um);
        int32_t back_um = kr_frame_position_um(&is.frame, kr_holder_um(edge_um, offset_um));
        ck_assert_msg(abs(back_um - position_um) <= 1, "seed %d: %d back to %d", _i, position_um, back_um);
        struct kr_off_line line = {draw_between(&draw, 0, 1000 * MM), draw_between(&draw, -500, 500),
                                   draw_between(&draw, -200000, 200000)};
        int32_t seen_um = pin_um + kr_off_line_um(&line, pin_um); /* its slope of the way is less than 1 um */
        int32_t there_um = flag_by_pass_um(&is, seen_um, is.scan_bias_um);
        int32_t then_um = flag_by_pass_um(&is, seen_um, -is.scan_bias_um);
        int32_t both_um = kr_flag_both_ways_um(there_um, then_um);
        ck_assert_int_le(llabs(kr_passes_apart_um(there_um, then_um, is.scan_bias_um)), 4);
        ck_assert_int_le(abs(both_um - kr_flag_one_way_um(there_um, is.scan_bias_um)), 4);
        int32_t holder_um = kr_flag_less_residual_um(both_um, kr_off_line_um(&line, both_um));
        ck_assert_msg(abs(holder_um - pin_um) <= 4, "seed %d: a flag at %d is found at %d", _i, pin_um, holder_um);
    }
}
END_TEST

/* ---- a station with frames ------------------------------------------------------------------------------------- */

/* The upper drive counts from 12.3 mm off and 0.5 % less than it goes, the lower one the other way. */
static const struct kr_frame frames[] = {{.offset_um = 12300, .scale_ppb = 5000000},
                                         {.offset_um = -7700, .scale_ppb = -5000000}};

static void count_otherwise(struct rig *rig)
{
    rig_small_ordinary(rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        struct sim_rail_config *m = &rig->sim_config.rail[r];
        m->scale_ppb = (int32_t)(-frames[r].scale_ppb * INT64_C(1000000000) / (1000000000 + frames[r].scale_ppb));
        m->home_offset_um = kr_frame_position_um(&frames[r], m->home_um);
    }
}

/* The station file says so. */
static void begin_with_frames(struct rig *rig)
{
    count_otherwise(rig);
    for (uint16_t r = 0; r < 2; r++)
        rig->config.carriage[r].frame = frames[r];
    rig_begin(rig);
}

START_TEST(a_changeover_ends_with_the_knives_truly_at_their_places_whatever_the_drives_count)
{
    struct rig rig;
    begin_with_frames(&rig);
    rig_set_up_small(&rig);
    rig_is_honest(&rig);
    for (uint16_t r = 0; r < 2; r++) {
        int32_t shown_um = rig_um(&rig, KR_REG_CARRIAGE_POSITION, r, 0);
        ck_assert_int_le(abs(shown_um - rig.config.carriage[r].park_um), rig.config.carriage[r].park_window_um);
        ck_assert_int_le(abs(shown_um - sim_machine_carriage_um(&rig.machine, r)), 20);
        ck_assert_int_gt(abs(shown_um - rig.in.axis[r].position_um), 5 * MM);
    }
    ck_assert(rig_status_has(&rig, KR_STATUS_PARKED));
    rig_end(&rig);
}
END_TEST

static void stop_in_a_drag(struct rig *rig)
{
    rig_start_changeover(rig);
    rig_until_step(rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
    rig_run_ms(rig, 100);
    rig_command(rig, KR_COMMAND_HOLD, 0);
    rig_until_state(rig, KR_STATE_HELD);
}

START_TEST(a_holder_that_a_stop_leaves_on_its_way_is_known_where_it_truly_is)
{
    struct rig rig;
    begin_with_frames(&rig);
    stop_in_a_drag(&rig);
    rig_is_honest(&rig);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- a frame that a person sets -------------------------------------------------------------------------------- */

static void frame_is(const struct rig *rig, uint16_t r, const struct kr_frame *frame, enum kr_frame_origin origin)
{
    ck_assert_int_eq(rig_u16(rig, KR_REG_FRAME_ORIGIN, r, 0), origin);
    ck_assert_int_eq(rig_um(rig, KR_REG_FRAME_OFFSET, r, 0), frame->offset_um);
    ck_assert_int_eq(rig_i32(rig, KR_REG_FRAME_SCALE, r, 0), frame->scale_ppb);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_FRAME_POINTS, r, 0), frame->n_points);
    for (uint16_t i = 0; i < frame->n_points; i++) {
        ck_assert_int_eq(rig_um(rig, KR_REG_FRAME_TABLE, r, (uint16_t)(2 * i)), frame->point[i].at_um);
        ck_assert_int_eq(rig_um(rig, KR_REG_FRAME_TABLE, r, (uint16_t)(2 * i + 1)), frame->point[i].error_um);
    }
}

static enum kr_code take_back(struct rig *rig, uint16_t rail)
{
    return rig_edit(rig, KR_EDIT_FRAME_BACK, (struct edit_values){.rail = rail});
}

static void set_both(struct rig *rig)
{
    count_otherwise(rig);
    rig_begin(rig);
    for (uint16_t r = 0; r < 2; r++)
        ck_assert_int_eq(rig_frame(rig, (uint16_t)(r + 1), &frames[r]), KR_OK);
}

START_TEST(what_a_person_sets_counts_from_then_on_and_the_knives_are_truly_at_their_places)
{
    struct rig rig;
    set_both(&rig);
    for (uint16_t r = 0; r < 2; r++)
        frame_is(&rig, r, &frames[r], KR_FRAME_FROM_PERSON);
    rig_set_up_small(&rig);
    rig_is_honest(&rig);
    ck_assert_int_gt(abs(rig_um(&rig, KR_REG_CARRIAGE_POSITION, 0, 0) - rig.in.axis[0].position_um), 5 * MM);
    rig_end(&rig);
}
END_TEST

/* The station file seeds a frame, then the book counts: after a restart with another file, too. */
START_TEST(it_survives_a_restart_and_another_station_file)
{
    static const struct kr_frame other = {.offset_um = 3 * MM};
    struct rig rig;
    set_both(&rig);
    rig.config.carriage[0].frame = other;
    rig_restart(&rig);
    rig_to_idle(&rig);
    frame_is(&rig, 0, &frames[0], KR_FRAME_FROM_PERSON);
    rig_set_up_small(&rig);
    rig_is_honest(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_frame_that_the_file_has_seeded_is_not_changed_by_another_file)
{
    struct rig rig;
    begin_with_frames(&rig);
    struct kr_station_config other = rig.config;
    other.carriage[0].frame.offset_um += 100;
    ck_assert(kr_station_reconfigure(rig.station, &other, KR_CHANGE_GEOMETRY));
    rig_cycle(&rig);
    frame_is(&rig, 0, &frames[0], KR_FRAME_FROM_FILE);
    rig.config.carriage[0].frame.offset_um += 100;
    rig_restart(&rig);
    rig_cycle(&rig);
    frame_is(&rig, 0, &frames[0], KR_FRAME_FROM_FILE);
    rig_end(&rig);
}
END_TEST

START_TEST(nothing_moves_by_it_and_what_was_measured_on_that_rail_is_remembered)
{
    struct rig rig;
    begin_with_frames(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    int32_t carriage_um = sim_machine_carriage_um(&rig.machine, 0);
    struct kr_frame other = frames[0];
    other.offset_um += 200;
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_frame(&rig, 1, &other), KR_OK);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert(rig_status_has(&rig, KR_STATUS_SCAN_DUE));
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++) {
        ck_assert_int_eq(rig_known(&rig, 0, h), KR_REMEMBERED);
        ck_assert_int_ne(rig_known(&rig, 1, h), KR_REMEMBERED);
    }
    rig_run_ms(&rig, 2000);
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), carriage_um);
    ck_assert(!rig_status_has(&rig, KR_STATUS_MOVING));
    rig_end(&rig);
}
END_TEST

START_TEST(it_can_be_taken_back_and_that_can_be_taken_back_too)
{
    static const struct kr_frame table = {
        .offset_um = -150, .scale_ppb = 40000, .n_points = 3, .point = {{0, -30}, {200 * MM, 25}, {400 * MM, 10}}};
    static const struct kr_frame none;
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig_begin(&rig);
    ck_assert_int_eq(take_back(&rig, 1), KR_NO_FRAME_BEFORE);
    ck_assert_int_eq(rig_frame(&rig, 1, &table), KR_OK);
    frame_is(&rig, 0, &table, KR_FRAME_FROM_PERSON);
    frame_is(&rig, 1, &none, KR_FRAME_FROM_FILE);
    ck_assert_int_eq(rig_um(&rig, KR_REG_FRAME_OFFSET_BEFORE, 0, 0), 0);
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(take_back(&rig, 1), KR_OK);
    frame_is(&rig, 0, &none, KR_FRAME_FROM_PERSON);
    ck_assert_int_eq(rig_um(&rig, KR_REG_FRAME_OFFSET_BEFORE, 0, 0), -150);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_FRAME_SCALE_BEFORE, 0, 0), 40000);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_FRAME_POINTS_BEFORE, 0, 0), 3);
    ck_assert_int_eq(take_back(&rig, 1), KR_OK);
    frame_is(&rig, 0, &table, KR_FRAME_FROM_PERSON);
    rig_end(&rig);
}
END_TEST

static const struct {
    uint16_t rail;
    struct kr_frame frame;
    enum kr_code code;
    int32_t value, limit;
} impossible[] = {
    {3, {0}, KR_UNKNOWN_RAIL, 3, 2},
    {1, {.offset_um = KR_FRAME_OFFSET_MAX_UM + 1}, KR_FRAME_OFFSET, KR_FRAME_OFFSET_MAX_UM + 1, KR_FRAME_OFFSET_MAX_UM},
    {2,
     {.offset_um = -KR_FRAME_OFFSET_MAX_UM - 1},
     KR_FRAME_OFFSET,
     -KR_FRAME_OFFSET_MAX_UM - 1,
     -KR_FRAME_OFFSET_MAX_UM},
    {1, {.scale_ppb = KR_FRAME_SCALE_MAX_PPB + 1}, KR_FRAME_SCALE, KR_FRAME_SCALE_MAX_PPB + 1, KR_FRAME_SCALE_MAX_PPB},
    {1, {.scale_ppb = INT32_MIN}, KR_FRAME_SCALE, INT32_MIN, -KR_FRAME_SCALE_MAX_PPB},
    {1, {.n_points = 65}, KR_FRAME_POINTS, 65, 64},
    {1, {.n_points = 2, .point = {{1000, 0}, {1000, 0}}}, KR_FRAME_POINT, 2, 0},
    {1, {.n_points = 3, .point = {{0, 0}, {1000, 100}, {2000, -1}}}, KR_FRAME_POINT, 3, 0},
    {1, {.n_points = 1, .point = {{0, KR_FRAME_ERROR_MAX_UM + 1}}}, KR_FRAME_POINT, 1, 0},
    {1, {.n_points = 1, .point = {{0, INT32_MIN}}}, KR_FRAME_POINT, 1, 0},
};

START_TEST(what_cannot_be_is_refused_with_value_and_limit_and_nothing_is_changed)
{
    static const struct kr_frame none;
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig_begin(&rig);
    ck_assert_int_eq(rig_frame(&rig, impossible[_i].rail, &impossible[_i].frame), impossible[_i].code);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_VALUE, 0, 0), impossible[_i].value);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_LIMIT, 0, 0), impossible[_i].limit);
    frame_is(&rig, 0, &none, KR_FRAME_FROM_FILE);
    frame_is(&rig, 1, &none, KR_FRAME_FROM_FILE);
    rig_end(&rig);
}
END_TEST

/* By an offset of o the carriage would have to go o less far to where it begins a scan, and to its place of rest. */
START_TEST(a_frame_by_which_the_carriage_would_leave_its_travel_is_refused_and_one_at_the_end_is_not)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig_begin(&rig);
    const struct kr_carriage_config *c = &rig.config.carriage[0];
    int32_t from_um, to_um;
    kr_scan_range(&rig.config.geometry.rail[0], c, &from_um, &to_um);
    int32_t least_um = from_um < c->park_um ? from_um : c->park_um;
    struct kr_frame frame = {.offset_um = least_um - c->travel_min_um + 1};
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_FRAME_TRAVEL);
    ck_assert_int_eq(rig_um(&rig, KR_REG_EDITED_VALUE, 0, 0), c->travel_min_um - 1);
    ck_assert_int_eq(rig_um(&rig, KR_REG_EDITED_LIMIT, 0, 0), c->travel_min_um);
    frame.offset_um--;
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_OK);
    frame = (struct kr_frame){.offset_um = to_um - c->travel_max_um - 1};
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_FRAME_TRAVEL);
    frame.offset_um++;
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_OK);
    struct kr_station_config other = rig.config; /* the file's own frame reaches, the one that counts does not */
    other.carriage[0].travel_max_um--;
    ck_assert(!kr_station_reconfigure(rig.station, &other, KR_CHANGE_GEOMETRY));
    rig_end(&rig);
}
END_TEST

START_TEST(it_is_set_and_taken_back_only_while_the_unit_is_stopped_or_idle)
{
    static const struct kr_frame frame = {.offset_um = 50};
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_OK);
    rig_set_up_small(&rig); /* Complete */
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_NOT_IN_THIS_STATE);
    ck_assert_int_eq(take_back(&rig, 1), KR_NOT_IN_THIS_STATE);
    rig_reset(&rig);
    ck_assert_int_eq(take_back(&rig, 1), KR_OK);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_OK);
    rig_end(&rig);
}
END_TEST

static void age_image(struct rig *rig)
{
    rig->in.axis[0].age_ms = 37;
    rig->in.axis[0].span_us = 12345;
}

START_TEST(a_position_is_shown_with_the_time_at_which_the_carriage_was_there)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_cycle(&rig);
    int32_t before_ms = rig_i32(&rig, KR_REG_CARRIAGE_TIME, 0, 0);
    rig.meddle = age_image;
    rig_run_ms(&rig, 50 * RIG_PERIOD_MS);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_CARRIAGE_TIME, 0, 0), before_ms + 50 * RIG_PERIOD_MS - 37);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_CARRIAGE_SPAN, 0, 0), 13); /* of whole milliseconds, none too few */
    rig_end(&rig);
}
END_TEST

START_TEST(what_was_counts_and_is_shown_until_it_is_stored_and_again_if_it_can_not_be)
{
    static const struct kr_frame frame = {.offset_um = 50, .n_points = 1, .point = {{0, 7}}};
    static const struct kr_frame none;
    struct rig rig;
    rig_begin_small(&rig);
    rig.book_cycles = 20;
    memset(&rig.in.edit, 0, sizeof rig.in.edit);
    rig.book_failures = 1;
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_NOT_STORED);
    frame_is(&rig, 0, &none, KR_FRAME_FROM_FILE);
    ck_assert_int_eq(rig_um(&rig, KR_REG_CARRIAGE_POSITION, 0, 0), rig.in.axis[0].position_um);
    ck_assert_int_eq(rig.book.frame[0].offset_um, 0);
    ck_assert_int_eq(rig.book.edit.result.code, KR_NOT_STORED);
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_OK);
    ck_assert_int_eq(rig.book.frame[0].offset_um, 50);
    rig_edit_hand_over(&rig, KR_EDIT_FRAME_BACK, 9000, (struct edit_values){.rail = 1});
    while (rig.out.edit_busy) {
        frame_is(&rig, 0, &frame, KR_FRAME_FROM_PERSON);
        rig_cycle(&rig);
    }
    frame_is(&rig, 0, &none, KR_FRAME_FROM_PERSON);
    rig_end(&rig);
}
END_TEST

/* A restart between the commit and the answer: the frame is stored with the request, or neither is. */
START_TEST(killed_at_any_moment_the_book_has_the_frame_and_the_request_or_neither)
{
    static const struct kr_frame frame = {.offset_um = 50};
    struct rig rig;
    rig_begin_small(&rig);
    rig.book_cycles = 5;
    rig_run_ms(&rig, 500);
    struct kr_snapshot *block = &rig.in.edit;
    uint16_t first = kr_block_info(KR_BLOCK_EDIT)->first;
    memset(block, 0, sizeof *block);
    block->word[kr_reg_address(KR_REG_EDIT_SESSION, 0, 0) - first] = rig.session;
    block->word[kr_reg_address(KR_REG_EDIT_KIND, 0, 0) - first] = KR_EDIT_FRAME;
    block->word[kr_reg_address(KR_REG_EDIT_NUMBER, 0, 0) - first] = 9000;
    block->word[kr_reg_address(KR_REG_EDIT_RAIL, 0, 0) - first] = 1;
    block->word[kr_reg_address(KR_REG_EDIT_FRAME_OFFSET, 0, 0) - first + 1] = 50;
    block->present = true;
    for (int i = 0; i < _i; i++)
        rig_cycle(&rig);
    bool told = rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0) == 9000;
    rig_restart(&rig);
    rig_cycle(&rig);
    bool kept = rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0) == 9000;
    ck_assert(kept || !told);
    frame_is(&rig, 0, kept ? &frame : &(struct kr_frame){0}, kept ? KR_FRAME_FROM_PERSON : KR_FRAME_FROM_FILE);
    rig_end(&rig);
}
END_TEST

/* ---- a frame with a temperature --------------------------------------------------------------------------------- */

#define AT_8_C 28115

static void begin_with_coefficient(struct rig *rig)
{
    rig_small_ideal(rig, 2);
    for (uint16_t r = 0; r < 2; r++)
        rig->config.carriage[r].expansion_ppb = 11500;
    rig->claim_um = 1000; /* the machine's truth is what the cold frame reads */
    rig_begin(rig);
}

static void scan_all(struct rig *rig)
{
    rig_start_job(rig, KR_JOB_SCAN);
    rig_until_complete(rig);
    rig_reset(rig);
}

START_TEST(places_are_lengths_at_20_degrees_from_the_next_job_on_and_not_before)
{
    struct rig rig;
    begin_with_coefficient(&rig);
    rig.in.frame_temperature_ck = KR_TEMPERATURE_20_CK;
    scan_all(&rig);
    int32_t warm_um[SMALL_HOLDERS];
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++)
        warm_um[h] = rig_um(&rig, KR_REG_HOLDER_POSITION, 0, h);
    rig.in.frame_temperature_ck = AT_8_C;
    rig_run_ms(&rig, 1000);
    ck_assert_int_eq(rig_um(&rig, KR_REG_HOLDER_POSITION, 0, 4), warm_um[4]);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0), KR_TEMPERATURE_20_CK);
    scan_all(&rig);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_FRAME_EXPANSION, 0, 0), -138000);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0), AT_8_C);
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++) {
        int32_t cold_um = kr_expanded_um(warm_um[h], -138000);
        ck_assert_int_le(abs(rig_um(&rig, KR_REG_HOLDER_POSITION, 0, h) - cold_um), 2);
        ck_assert_int_eq(rig_known(&rig, 0, h), KR_MEASURED);
    }
    ck_assert_int_le(rig_um(&rig, KR_REG_HOLDER_POSITION, 0, 4), warm_um[4] - 50);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_COUNT, 0, 0), 0); /* and no scan finds anything off by it */
    rig_end(&rig);
}
END_TEST

/* The expansion is rounded to parts of 1,000,000,000, and the temperature that counts is derived from it. */
START_TEST(the_temperature_that_counts_is_shown_as_the_plc_wrote_it)
{
    static const int32_t coefficients_ppb[] = {11500, 11540, 11549, 1351, 49999};
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig.config.carriage[0].expansion_ppb = coefficients_ppb[_i];
    rig.claim_um = 1000;
    rig_begin(&rig);
    for (int32_t off_ck = -12; off_ck <= 12; off_ck++) {
        rig.in.frame_temperature_ck = (uint16_t)(KR_TEMPERATURE_20_CK + off_ck);
        rig_start_job(&rig, KR_JOB_SCAN);
        rig_until_complete(&rig);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0), rig.in.frame_temperature_ck);
        rig_reset(&rig);
    }
    rig_end(&rig);
}
END_TEST

START_TEST(what_was_verified_stays_so_while_the_hall_cools_down_and_a_restart_keeps_what_counts)
{
    struct rig rig;
    begin_with_coefficient(&rig);
    rig.in.frame_temperature_ck = AT_8_C;
    rig_set_up_small(&rig);
    rig.in.frame_temperature_ck = 30315;
    rig_run_ms(&rig, 2000);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_u16(&rig, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0), AT_8_C);
    int32_t at_um = rig_um(&rig, KR_REG_HOLDER_POSITION, 0, 4);
    rig_restart(&rig);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0), AT_8_C);
    ck_assert_int_eq(rig_um(&rig, KR_REG_HOLDER_POSITION, 0, 4), at_um);
    rig_end(&rig);
}
END_TEST

/* Nothing is sent, and what no hall is. */
START_TEST(a_temperature_that_is_lost_or_can_not_be_leaves_the_last_one_and_is_told)
{
    static const uint16_t no_temperature_ck[] = {0, KR_TEMPERATURE_LEAST_CK - 1, KR_TEMPERATURE_MOST_CK + 1, 2000};
    struct rig rig;
    begin_with_coefficient(&rig);
    rig.in.frame_temperature_ck = AT_8_C;
    scan_all(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_TEMPERATURE_LOST));
    rig.in.frame_temperature_ck = no_temperature_ck[_i];
    rig_run_ms(&rig, 100);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_TEMPERATURE_LOST));
    scan_all(&rig);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0), AT_8_C);
    rig_cycle(&rig); /* Reset has acknowledged it, and it still stands */
    ck_assert(rig_has_alarm(&rig, KR_ALARM_TEMPERATURE_LOST));
    rig.in.frame_temperature_ck = _i % 2 ? KR_TEMPERATURE_LEAST_CK : KR_TEMPERATURE_MOST_CK;
    rig_run_ms(&rig, 100);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_TEMPERATURE_LOST));
    rig_end(&rig);
}
END_TEST

/* At 8 C rail, rack, holders and flags are 138 ppm shorter than at 20 C, so that the drive counts so much more of each
 * true length. What is verified is compared with the true lengths. */
START_TEST(a_cold_machine_is_set_up_to_true_lengths_at_20_degrees)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        rig.config.carriage[r].expansion_ppb = 11500;
        rig.sim_config.rail[r].scale_ppb = 138000;
    }
    rig.in.frame_temperature_ck = AT_8_C;
    rig_begin(&rig);
    rig.in.frame_temperature_ck = AT_8_C;
    rig_set_up_small(&rig);
    rig_is_honest(&rig);
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++) {
        int32_t at_um = rig_um(&rig, KR_REG_HOLDER_POSITION, 0, h);
        int32_t truly_um = sim_machine_holder_um(&rig.machine, 0, h);
        ck_assert_msg(abs(at_um - truly_um) <= 25, "holder %d: %d, truly %d", h, at_um, truly_um);
    }
    rig_end(&rig);
}
END_TEST

/* A pitch of 160 mm counts by up to 150 um wrong. The table has a point every 20 mm, as readings of a laser would give
 * it; between two points a parabola of this height is up to 10 um off a straight line. */
static struct kr_frame table_of_pitch(const struct rig *rig)
{
    static const struct sim_drive truth;
    struct sim_drive wrong = truth;
    struct kr_frame frame = {.n_points = 0};
    wrong.miscount.pitch_um = 150;
    for (int32_t at_um = 0; at_um <= 520 * MM; at_um += 20 * MM) {
        int32_t count_um = (int32_t)lround(sim_drive_count_um(&wrong, &rig->sim_config.rail[0], at_um));
        frame.point[frame.n_points++] = (struct kr_frame_point){count_um, at_um - count_um};
    }
    return frame;
}

/* _i: 0, without the table, so that knives are truly off; 1, with it. */
START_TEST(an_error_of_pitch_is_corrected_by_a_table_of_errors)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[0].pitch_um = 160 * MM;
    rig.claim_um = 1000;
    if (_i)
        rig.config.carriage[0].frame = table_of_pitch(&rig);
    rig_begin(&rig);
    rig_break(&rig, 0, SIM_PITCH_ERROR, 0, 150);
    rig_set_up_small(&rig);
    int32_t worst_um = 0;
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++) {
        int32_t off_um = abs(rig_um(&rig, KR_REG_HOLDER_POSITION, 0, h) - sim_machine_holder_um(&rig.machine, 0, h));
        worst_um = off_um > worst_um ? off_um : worst_um;
    }
    if (_i)
        ck_assert_int_le(worst_um, 25);
    else
        ck_assert_int_ge(worst_um, 100);
    rig_end(&rig);
}
END_TEST

START_TEST(without_a_coefficient_no_temperature_matters)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig.in.frame_temperature_ck = AT_8_C;
    scan_all(&rig);
    int32_t at_um = rig_um(&rig, KR_REG_HOLDER_POSITION, 0, 4);
    rig.in.frame_temperature_ck = 0;
    scan_all(&rig);
    ck_assert_int_eq(rig_um(&rig, KR_REG_HOLDER_POSITION, 0, 4), at_um);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_TEMPERATURE_LOST));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0), 0);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("frame");
    TCase *tc = suite_case(suite, "the map");
    tcase_add_test(tc, without_a_frame_the_drives_position_is_the_place);
    tcase_add_test(tc, offset_scale_and_table_add_up_as_the_formula_says);
    tcase_add_loop_test(tc, any_frame_grows_and_leads_back_to_within_a_micrometre, 1, 301);
    tcase_add_test(tc, at_the_ends_of_32_bits_it_stops_and_never_turns_over);
    tcase_add_test(tc, a_table_that_does_not_grow_or_is_too_steep_is_told_by_its_point);
    tcase_add_test(tc, a_length_that_is_read_at_8_degrees_is_shorter_by_what_the_worked_example_says);
    tcase_add_loop_test(tc, an_expanded_frame_is_the_frame_times_the_expansion_and_leads_back, 1, 101);
    tc = suite_case(suite, "from the drive to the blade, and back");
    tcase_add_test(tc, a_worked_example_has_each_correction_with_its_sign_and_in_its_order);
    tcase_add_loop_test(tc, all_corrections_go_forth_by_the_formula_and_back_to_where_they_began, 0, 100);
    tc = suite_case(suite, "a station with frames");
    tcase_add_test(tc, a_changeover_ends_with_the_knives_truly_at_their_places_whatever_the_drives_count);
    tcase_add_test(tc, a_holder_that_a_stop_leaves_on_its_way_is_known_where_it_truly_is);
    tc = suite_case(suite, "a frame that a person sets");
    tcase_add_test(tc, what_a_person_sets_counts_from_then_on_and_the_knives_are_truly_at_their_places);
    tcase_add_test(tc, it_survives_a_restart_and_another_station_file);
    tcase_add_test(tc, a_frame_that_the_file_has_seeded_is_not_changed_by_another_file);
    tcase_add_test(tc, nothing_moves_by_it_and_what_was_measured_on_that_rail_is_remembered);
    tcase_add_test(tc, it_can_be_taken_back_and_that_can_be_taken_back_too);
    tcase_add_loop_test(tc, what_cannot_be_is_refused_with_value_and_limit_and_nothing_is_changed, 0,
                        sizeof impossible / sizeof impossible[0]);
    tcase_add_test(tc, a_frame_by_which_the_carriage_would_leave_its_travel_is_refused_and_one_at_the_end_is_not);
    tcase_add_test(tc, it_is_set_and_taken_back_only_while_the_unit_is_stopped_or_idle);
    tcase_add_test(tc, a_position_is_shown_with_the_time_at_which_the_carriage_was_there);
    tcase_add_test(tc, what_was_counts_and_is_shown_until_it_is_stored_and_again_if_it_can_not_be);
    tcase_add_loop_test(tc, killed_at_any_moment_the_book_has_the_frame_and_the_request_or_neither, 0, 25);
    tc = suite_case(suite, "a frame with a temperature");
    tcase_add_loop_test(tc, the_temperature_that_counts_is_shown_as_the_plc_wrote_it, 0, 5);
    tcase_add_test(tc, places_are_lengths_at_20_degrees_from_the_next_job_on_and_not_before);
    tcase_add_test(tc, what_was_verified_stays_so_while_the_hall_cools_down_and_a_restart_keeps_what_counts);
    tcase_add_loop_test(tc, a_temperature_that_is_lost_or_can_not_be_leaves_the_last_one_and_is_told, 0, 4);
    tcase_add_test(tc, a_cold_machine_is_set_up_to_true_lengths_at_20_degrees);
    tcase_add_loop_test(tc, an_error_of_pitch_is_corrected_by_a_table_of_errors, 0, 2);
    tcase_add_test(tc, without_a_coefficient_no_temperature_matters);
    return suite;
}
