/* The frame: from a drive's position to a place of the machine and back; and a station whose drives count otherwise
 * than the machine is long, judged by where the knives truly are. */
#include <check.h>
#include <inttypes.h>
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
        int32_t rise_um = draw_chance(d, 30) ? (draw_chance(d, 50) ? steep_um : -steep_um)
                                             : draw_between(d, -steep_um, steep_um);
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

/* _i: the seed. */
START_TEST(any_frame_grows_and_leads_back_to_within_a_micrometre)
{
    struct draw draw = {(uint64_t)_i};
    struct kr_frame frame = any_frame(&draw);
    ck_assert_uint_eq(kr_frame_bad_point(&frame), 0);
    for (int k = 0; k < 400; k++) {
        int32_t at_um = any_position_um(&draw, &frame), place_um = kr_frame_place_um(&frame, at_um);
        int32_t far_um = at_um + draw_between(&draw, 2, 2000);
        ck_assert_msg(kr_frame_place_um(&frame, at_um + 1) >= place_um, "seed %d: it falls behind %d", _i,
                      at_um);
        ck_assert_msg(kr_frame_place_um(&frame, far_um) > place_um, "seed %d: it stands from %d to %d", _i,
                      at_um, far_um);
        int32_t back_um = kr_frame_position_um(&frame, place_um);
        ck_assert_msg(abs(back_um - at_um) <= 1, "seed %d: from %d back to %d", _i, at_um, back_um);
        int32_t again_um = kr_frame_place_um(&frame, kr_frame_position_um(&frame, at_um));
        ck_assert_msg(abs(again_um - at_um) <= 1, "seed %d: place %d back as %d", _i, at_um, again_um);
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

/* ---- a station with frames ------------------------------------------------------------------------------------- */

/* The upper drive counts from 12.3 mm off and 0.5 % less than it goes, the lower one the other way; the frames say
 * so. */
static void begin_with_frames(struct rig *rig)
{
    static const struct kr_frame frames[] = {{.offset_um = 12300, .scale_ppb = 5000000},
                                             {.offset_um = -7700, .scale_ppb = -5000000}};
    rig_small_ordinary(rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        struct sim_rail_config *m = &rig->sim_config.rail[r];
        rig->config.carriage[r].frame = frames[r];
        m->scale_ppb =
            (int32_t)(-frames[r].scale_ppb * INT64_C(1000000000) / (1000000000 + frames[r].scale_ppb));
        m->home_offset_um = kr_frame_position_um(&frames[r], m->home_um);
    }
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
        ck_assert_int_le(abs(shown_um - rig.config.carriage[r].park_um),
                         rig.config.carriage[r].park_window_um);
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

Suite *make_suite(void)
{
    Suite *suite = suite_create("frame");
    TCase *tc = suite_case(suite, "the map");
    tcase_add_test(tc, without_a_frame_the_drives_position_is_the_place);
    tcase_add_test(tc, offset_scale_and_table_add_up_as_the_formula_says);
    tcase_add_loop_test(tc, any_frame_grows_and_leads_back_to_within_a_micrometre, 1, 301);
    tcase_add_test(tc, at_the_ends_of_32_bits_it_stops_and_never_turns_over);
    tcase_add_test(tc, a_table_that_does_not_grow_or_is_too_steep_is_told_by_its_point);
    tc = suite_case(suite, "a station with frames");
    tcase_add_test(tc, a_changeover_ends_with_the_knives_truly_at_their_places_whatever_the_drives_count);
    tcase_add_test(tc, a_holder_that_a_stop_leaves_on_its_way_is_known_where_it_truly_is);
    return suite;
}
