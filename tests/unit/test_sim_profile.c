/* Tests of the motion profile by the textbook's relations, and by what must be true of every move. */
#include "sim/jerk.h"
#include "sim/profile.h"

#include <inttypes.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sim/draw.h"
#include "sim_rig.h"
#include "suite.h"

#define DATA "tests/reference/data/trapezoid_vectors.csv"

static double numbers_of(const char *line, double number[9])
{
    char *at = strchr(line, ',');
    ck_assert_ptr_nonnull(at);
    int n = 0;
    for (; n < 9 && *at == ','; n++)
        number[n] = strtod(at + 1, &at);
    return n;
}

START_TEST(the_textbook_s_trapezoids_come_out_piece_by_piece)
{
    FILE *f = fopen(DATA, "r");
    ck_assert_msg(f != NULL, "cannot open %s", DATA);
    char line[256];
    int rows = 0;
    while (fgets(line, sizeof line, f)) {
        double n[9];
        if (strncmp(line, "trap-", 5) != 0)
            continue;
        ck_assert_double_eq(numbers_of(line, n), 9);
        rows++;
        struct sim_profile p;
        sim_profile_move(&p, (struct sim_motion){0}, n[0] * 1e3,
                         (struct sim_limits){n[1] * 1e3, n[2] * 1e3, n[3] * 1e3});
        ck_assert_double_eq_tol(p.length_s, n[8], 1e-9);
        struct sim_motion peak = sim_profile_at(&p, n[5]);
        ck_assert_double_eq_tol(peak.speed_um_per_s, n[4] * 1e3, 1e-3);
        struct sim_motion braking = sim_profile_at(&p, n[8] - n[7] / 2);
        ck_assert_double_eq_tol(braking.speed_um_per_s, n[4] * 1e3 / 2, 1e-3);
        ck_assert_double_eq_tol(braking.at_um, n[0] * 1e3 - n[3] * 1e3 * n[7] * n[7] / 8, 1e-3);
        ck_assert_double_eq(sim_profile_at(&p, n[8] + 1).at_um, n[0] * 1e3);
    }
    fclose(f);
    ck_assert_int_eq(rows, 6);
}
END_TEST

START_TEST(a_target_behind_is_reached_by_stopping_first)
{
    struct sim_profile p;
    struct sim_motion from = {1000, 100000};
    sim_profile_move(&p, from, 0, (struct sim_limits){200000, 1e6, 1e6});
    /* 100 mm/s at 1000 mm/s2: 0.1 s and 5 mm on; then 6 mm back, a triangle of 2 sqrt(0.006) s. */
    ck_assert_double_eq_tol(sim_profile_at(&p, 0.1).at_um, 6000, 1e-6);
    ck_assert_double_eq_tol(p.length_s, 0.1 + 2 * sqrt(0.006), 1e-9);
    ck_assert_double_eq(sim_profile_at(&p, p.length_s).at_um, 0);
}
END_TEST

START_TEST(a_target_too_near_to_stop_at_is_overrun_and_come_back_to)
{
    struct sim_profile p;
    sim_profile_move(&p, (struct sim_motion){0, 100000}, 4000, (struct sim_limits){200000, 1e6, 1e6});
    ck_assert_double_eq_tol(sim_profile_at(&p, 0.1).at_um, 5000, 1e-6);
    ck_assert_double_eq(sim_profile_at(&p, p.length_s).at_um, 4000);
}
END_TEST

START_TEST(a_lower_speed_limit_slows_a_running_move_down_first)
{
    struct sim_profile p;
    sim_profile_move(&p, (struct sim_motion){0, 400000}, 1000000, (struct sim_limits){100000, 1e6, 1e6});
    ck_assert_double_eq_tol(sim_profile_at(&p, 0.3).speed_um_per_s, 100000, 1e-6);
    ck_assert_double_eq_tol(sim_profile_at(&p, 1.0).speed_um_per_s, 100000, 1e-6);
    ck_assert_double_eq(sim_profile_at(&p, p.length_s).at_um, 1000000);
}
END_TEST

START_TEST(a_stop_takes_v_over_d_and_v_squared_over_2d)
{
    struct sim_profile p;
    sim_profile_stop(&p, (struct sim_motion){0, -300000}, 2e6);
    ck_assert_double_eq_tol(p.length_s, 0.15, 1e-12);
    ck_assert_double_eq_tol(p.to_um, -22500, 1e-6);
}
END_TEST

static double draw_between(uint32_t item, uint32_t nth, double least, double most)
{
    struct sim_draw d = {.seed = 20, .what = SIM_DRAW_SLIP, .item = item, .nth = nth};
    return least + (most - least) * sim_draw_unit(d);
}

/* Speed and place are continuous, no limit is ever passed, and the end is the target at rest. */
static void check_smooth(const struct sim_profile *p, struct sim_motion from, struct sim_limits lim, uint32_t nth)
{
    const double h = fmax(1e-3, p->length_s / 2000);
    double steepest = fmax(lim.accel_um_per_s2, lim.decel_um_per_s2) * h * (1 + 1e-9) + 1e-6;
    double fastest = fmax(lim.speed_um_per_s, fabs(from.speed_um_per_s)) * (1 + 1e-9) + 1e-6;
    struct sim_motion before = sim_profile_at(p, 0);
    ck_assert_double_eq(before.at_um, from.at_um);
    for (double t = h; t <= p->length_s + h; t += h) {
        struct sim_motion now = sim_profile_at(p, t);
        bool smooth = fabs(now.speed_um_per_s - before.speed_um_per_s) <= steepest &&
                      fabs(now.speed_um_per_s) <= fastest && fabs(now.at_um - before.at_um) <= fastest * h;
        if (!smooth) /* an assertion for each step would take Check minutes */
            ck_abort_msg("move %" PRIu32 " at %g s: %g um, %g um/s after %g um, %g um/s", nth, t, now.at_um,
                         now.speed_um_per_s, before.at_um, before.speed_um_per_s);
        before = now;
    }
    ck_assert_double_eq(before.at_um, p->to_um);
    ck_assert_double_eq(before.speed_um_per_s, 0);
}

START_TEST(any_move_from_any_speed_keeps_its_limits_and_ends_at_rest_on_target)
{
    for (uint32_t i = 0; i < 2000; i++) {
        struct sim_limits lim = {draw_between(1, i, 1e3, 1e6), draw_between(2, i, 1e5, 1e7),
                                 draw_between(3, i, 1e5, 1e7)};
        struct sim_motion from = {draw_between(4, i, -1e6, 1e6), draw_between(5, i, -1e6, 1e6)};
        if (i % 3 == 0)
            from.speed_um_per_s = 0;
        double to_um = i % 5 == 0 ? from.at_um + draw_between(6, i, -10, 10) : draw_between(7, i, -1e6, 1e6);
        struct sim_profile p;
        sim_profile_move(&p, from, to_um, lim);
        ck_assert_double_eq(p.to_um, to_um);
        check_smooth(&p, from, lim, i);
    }
}
END_TEST

#define STEP_S  1e-3
#define JERK_MS 80 /* acceleration / jerk */

struct rounded {
    double end_s, worst_accel, worst_jerk; /* um/s2, um/s3 */
    struct sim_motion last;
};

/* Until it stands at the target. At change_s > 0 another target is given on the way. */
static struct rounded run_rounded(double to_um, struct sim_limits lim, double change_s, double then_um)
{
    struct sim_profile p;
    struct sim_jerk jerk;
    struct sim_motion ramp = {0};
    struct rounded r = {0};
    double begun_s = 0, accel = 0, fastest = 0;
    sim_profile_move(&p, ramp, to_um, lim);
    sim_jerk_begin(&jerk, JERK_MS, 0);
    for (int i = 1; i < 100000 && (r.last.at_um != p.to_um || i * STEP_S < change_s); i++) {
        ramp = sim_profile_at(&p, i * STEP_S - begun_s);
        struct sim_motion now = sim_jerk_round(&jerk, ramp, STEP_S);
        double accel_now = (now.speed_um_per_s - r.last.speed_um_per_s) / STEP_S;
        r.worst_accel = fmax(r.worst_accel, fabs(accel_now));
        r.worst_jerk = fmax(r.worst_jerk, fabs(accel_now - accel) / STEP_S);
        fastest = fmax(fastest, fabs(now.speed_um_per_s));
        accel = accel_now;
        r.last = now;
        r.end_s = i * STEP_S;
        if (change_s > 0 && begun_s == 0 && r.end_s >= change_s) {
            begun_s = r.end_s;
            sim_profile_move(&p, ramp, then_um, lim);
        }
        if (fabs(now.at_um - p.to_um) < 1e-6)
            r.last.at_um = p.to_um;
    }
    ck_assert_double_le(fastest, lim.speed_um_per_s * (1 + 1e-9));
    return r;
}

/* 2 m at 1 m/s, 1 m/s2: d/v + v/a + a/j, the double S of the textbooks (Biagiotti and Melchiorri 2008, Trajectory
 * Planning for Automatic Machines and Robots, 3.4; from memory), here with a/j = 80 ms. */
START_TEST(a_drive_with_limited_jerk_takes_a_j_more_and_keeps_its_limits)
{
    struct sim_limits lim = {1e6, 1e6, 1e6};
    double jerk = lim.accel_um_per_s2 / (JERK_MS * 1e-3);
    struct rounded r = run_rounded(2e6, lim, 0, 0);
    ck_assert_double_eq_tol(r.end_s, 2 + 1 + JERK_MS * 1e-3, 2 * STEP_S);
    ck_assert_double_le(r.worst_accel, lim.accel_um_per_s2 * (1 + 1e-6));
    ck_assert_double_le(r.worst_jerk, jerk * 1.01);
    ck_assert_double_ge(r.worst_jerk, jerk * 0.95); /* and is used */
}
END_TEST

/* Back, where that stops it first; and on. Straight ramps would change the acceleration at once. */
START_TEST(another_set_point_on_the_way_makes_no_step_of_the_acceleration)
{
    struct sim_limits lim = {1e6, 1e6, 1e6};
    double jerk = lim.accel_um_per_s2 / (JERK_MS * 1e-3);
    for (int i = 0; i < 100; i++) {
        double then_um = draw_between(8, (uint32_t)i, -1e6, 3e6);
        struct rounded r = run_rounded(2e6, lim, draw_between(9, (uint32_t)i, 0.01, 2.9), then_um);
        ck_assert_double_eq(r.last.at_um, then_um);
        ck_assert_double_le(r.worst_jerk, 2 * jerk * 1.01); /* from full acceleration to full braking */
    }
}
END_TEST

START_TEST(an_event_draws_its_own_value_and_no_other_s)
{
    struct sim_draw d = {.seed = 7, .what = SIM_DRAW_SLIP, .rail = 1, .item = 3, .nth = 2};
    uint64_t value = sim_draw_bits(d);
    ck_assert_uint_eq(sim_draw_bits(d), value);
    struct sim_draw other[5] = {d, d, d, d, d};
    other[0].seed++;
    other[1].what = SIM_DRAW_CREEP;
    other[2].rail--;
    other[3].item++;
    other[4].nth++;
    for (int i = 0; i < 5; i++)
        ck_assert_uint_ne(sim_draw_bits(other[i]), value);
}
END_TEST

START_TEST(draws_fill_their_range_evenly)
{
    int bin[10] = {0};
    for (uint32_t i = 0; i < 100000; i++) {
        double x = sim_draw_unit((struct sim_draw){.seed = 3, .what = SIM_DRAW_HOME, .nth = i});
        if (!(x >= 0 && x < 1))
            ck_abort_msg("draw %" PRIu32 " is %g", i, x);
        bin[(int)(x * 10)]++;
    }
    for (int i = 0; i < 10; i++)
        ck_assert_msg(abs(bin[i] - 10000) < 500, "bin %d holds %d of 100000", i, bin[i]);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("simulated motion profile");
    TCase *tc = suite_case(suite, "simulated motion profile");
    tcase_add_test(tc, the_textbook_s_trapezoids_come_out_piece_by_piece);
    tcase_add_test(tc, a_target_behind_is_reached_by_stopping_first);
    tcase_add_test(tc, a_target_too_near_to_stop_at_is_overrun_and_come_back_to);
    tcase_add_test(tc, a_lower_speed_limit_slows_a_running_move_down_first);
    tcase_add_test(tc, a_stop_takes_v_over_d_and_v_squared_over_2d);
    tcase_add_test(tc, any_move_from_any_speed_keeps_its_limits_and_ends_at_rest_on_target);
    tcase_add_test(tc, a_drive_with_limited_jerk_takes_a_j_more_and_keeps_its_limits);
    tcase_add_test(tc, another_set_point_on_the_way_makes_no_step_of_the_acceleration);
    tcase_add_test(tc, an_event_draws_its_own_value_and_no_other_s);
    tcase_add_test(tc, draws_fill_their_range_evenly);
    return suite;
}
