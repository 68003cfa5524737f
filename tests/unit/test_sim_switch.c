/* Tests of what a scan sees: both edges of every flag, how far they are off, and why. */
#include <math.h>
#include <stdlib.h>

#include "sim_rig.h"
#include "suite.h"

#define SCAN (KR_PROBE_ENABLE | KR_PROBE_CONTINUOUS | KR_PROBE_RISING | KR_PROBE_FALLING)

struct edges {
    int n_rises, n_falls;
    int32_t rise_um[64], fall_um[64];
};

/* Moves at one speed and collects every edge that the drive latches. */
static struct edges scan(struct sim_rig *r, int32_t speed_um_per_s, int32_t to_um)
{
    struct edges e = {0};
    uint16_t rises = 0, falls = 0;
    r->out[0].probe_function = 0;
    sim_rig_cycle(r);
    r->out[0].probe_function = SCAN;
    sim_rig_cycle(r);
    r->out[0].speed_um_per_s = speed_um_per_s;
    r->out[0].target_um = to_um;
    r->out[0].controlword |= KR_CW_NEW_SETPOINT;
    bool moving = true;
    for (int i = 0; moving; i++) {
        sim_rig_cycle(r);
        if (r->in[0].rise_count != rises)
            e.rise_um[e.n_rises++ % 64] = r->in[0].rise_um;
        if (r->in[0].fall_count != falls)
            e.fall_um[e.n_falls++ % 64] = r->in[0].fall_um;
        rises = r->in[0].rise_count;
        falls = r->in[0].fall_count;
        if (i == 5)
            r->out[0].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
        moving = i < 10 || !(r->in[0].statusword & KR_SW_TARGET_REACHED);
    }
    return e;
}

static int32_t middle(const struct edges *e, int i)
{
    return (e->rise_um[i] + e->fall_um[i]) / 2;
}

static void begin(struct sim_rig *r)
{
    r->period_us = 1000;
    sim_rig_start(r);
    ck_assert(sim_rig_enable(r, 0, KR_MODE_PROFILE_POSITION));
}

START_TEST(every_flag_has_two_edges_its_width_apart)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].hysteresis_um = 1;
    r.config.rail[0].latency_us = 0;
    r.config.rail[0].lag_us = 0;
    begin(&r);
    struct edges e = scan(&r, 200000, 1000000);
    ck_assert_int_eq(e.n_rises, 3);
    ck_assert_int_eq(e.n_falls, 3);
    for (int i = 0; i < 3; i++) {
        ck_assert_int_le(abs(e.rise_um[i] - (496000 + 100000 * i)), 1);
        ck_assert_int_le(abs(e.fall_um[i] - (504001 + 100000 * i)), 1);
    }
}
END_TEST

/* Two references, one of another width than a holder's flag; missing, dirty at their drive sides, and mended. */
START_TEST(references_are_seen_beside_the_holders_unless_they_are_missing_or_dirty)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    struct sim_rail_config *rail = &r.config.rail[0];
    rail->hysteresis_um = 1;
    rail->latency_us = rail->lag_us = 0;
    rail->n_references = 2;
    rail->reference[0] = (struct sim_reference_config){400000, 12000};
    rail->reference[1] = (struct sim_reference_config){800000, 8000};
    begin(&r);
    ck_assert(sim_machine_break(&r.m, 0, SIM_REFERENCE_DIRTY, 1, 3000));
    struct edges e = scan(&r, 200000, 1000000);
    ck_assert_int_eq(e.n_rises, 5);
    ck_assert_int_le(abs(e.rise_um[0] - 394000), 1);
    ck_assert_int_le(abs(e.fall_um[0] - 406001), 1);
    ck_assert_int_le(abs(e.rise_um[4] - 796000), 1);
    ck_assert_int_le(abs(e.fall_um[4] - 807001), 1);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_REFERENCE_DIRTY, 1));
    ck_assert(sim_machine_break(&r.m, 0, SIM_REFERENCE_MISSING, 0, 0));
    ck_assert(!sim_machine_break(&r.m, 0, SIM_REFERENCE_MISSING, 2, 0));
    e = scan(&r, 200000, 300000);
    ck_assert_int_eq(e.n_rises, 4);
    ck_assert_int_le(abs(middle(&e, 0) - 800000), 2);
}
END_TEST

START_TEST(one_way_the_middle_is_off_by_half_the_hysteresis_and_the_delay_along_the_travel)
{
    static const int32_t speeds_um_per_s[] = {50000, 100000, 200000, 400000};
    for (size_t k = 0; k < 4; k++) {
        struct sim_rig r;
        sim_rig_defaults(&r, 1, 3);
        r.config.rail[0].hysteresis_um = 300;
        r.config.rail[0].latency_us = 700;
        begin(&r);
        int32_t bias_um = 150 + speeds_um_per_s[k] / 1000 * 700 / 1000;
        struct edges up = scan(&r, speeds_um_per_s[k], 1200000);
        struct edges down = scan(&r, speeds_um_per_s[k], 0);
        ck_assert_int_eq(up.n_falls, 3);
        ck_assert_int_eq(down.n_falls, 3);
        for (int i = 0; i < 3; i++) {
            int32_t true_um = sim_rig_holder_um(&r, (uint16_t)i);
            ck_assert_int_le(abs(middle(&up, i) - true_um - bias_um), 2);
            ck_assert_int_le(abs(middle(&down, 2 - i) - true_um + bias_um), 2);
            ck_assert_int_le(abs((middle(&up, i) + middle(&down, 2 - i)) / 2 - true_um), 2);
        }
    }
}
END_TEST

START_TEST(jitter_is_drawn_for_each_edge_and_stays_within_speed_times_its_limit)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 20);
    r.config.rail[0].jitter_us = 100;
    r.config.rail[0].stop_high_um = 4000000;
    begin(&r);
    struct edges e = scan(&r, 200000, 3000000);
    ck_assert_int_eq(e.n_rises, 20);
    int late = 0;
    for (int i = 0; i < 20; i++) {
        double off_um = e.rise_um[i] - (496000.0 + 100000 * i + 0.2 * r.config.rail[0].latency_us);
        ck_assert_msg(fabs(off_um) <= 21, "edge %d is %g um off", i, off_um);
        late += off_um > 0;
    }
    ck_assert_int_gt(late, 3);
    ck_assert_int_lt(late, 17);
}
END_TEST

START_TEST(the_switch_sits_beside_the_pin_by_its_offset)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 1);
    r.config.rail[0].switch_offset_um = -30000;
    begin(&r);
    struct edges up = scan(&r, 100000, 1000000);
    struct edges down = scan(&r, 100000, 0);
    ck_assert_int_le(abs((middle(&up, 0) + middle(&down, 0)) / 2 - 530000), 2);
}
END_TEST

START_TEST(backlash_moves_both_edges_of_a_pass_the_same_way)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 1);
    r.config.rail[0].backlash_um = 60;
    r.config.rail[0].hysteresis_um = 1;
    r.config.rail[0].latency_us = 0;
    begin(&r);
    struct edges up = scan(&r, 100000, 1000000);
    struct edges down = scan(&r, 100000, 0);
    ck_assert_int_le(abs(middle(&up, 0) - 500030), 2);
    ck_assert_int_le(abs(middle(&down, 0) - 499970), 2);
}
END_TEST

START_TEST(the_flag_input_shows_what_the_switch_sees)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 1);
    begin(&r);
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_FLAG, 0);
    ck_assert(sim_rig_move(&r, 0, 503900));
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_FLAG, KR_DI_FLAG);
    ck_assert(sim_rig_move(&r, 0, 504100)); /* past the edge, within the hysteresis */
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_FLAG, KR_DI_FLAG);
    ck_assert(sim_rig_move(&r, 0, 504300));
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_FLAG, 0);
    ck_assert(sim_rig_move(&r, 0, 504100)); /* coming back, the edge itself counts */
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_FLAG, 0);
}
END_TEST

START_TEST(a_flag_that_travels_with_the_carriage_gives_no_edge)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 2);
    r.config.rail[0].holder[1].start_um = 900000;
    begin(&r);
    ck_assert(sim_rig_move(&r, 0, 500000));
    ck_assert(sim_rig_dock(&r, 0));
    struct edges e = scan(&r, 200000, 800000);
    ck_assert_int_eq(e.n_rises + e.n_falls, 0);
    ck_assert_int_eq(sim_rig_holder_um(&r, 0), 800000);
}
END_TEST

/* ---- the probe's own modes ----------------------------------------------------------------------------- */

START_TEST(without_continuous_mode_the_first_edge_of_each_kind_is_kept)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    begin(&r);
    r.out[0].probe_function = KR_PROBE_ENABLE | KR_PROBE_RISING | KR_PROBE_FALLING;
    ck_assert(sim_rig_move(&r, 0, 1000000));
    ck_assert_uint_eq(r.in[0].rise_count, 1);
    ck_assert_uint_eq(r.in[0].fall_count, 1);
    ck_assert_int_lt(r.in[0].rise_um, 500000);
    ck_assert_int_gt(r.in[0].fall_um, 500000);
    ck_assert_uint_eq(r.in[0].probe_status, KR_PROBE_ENABLED | KR_PROBE_RISING_STORED | KR_PROBE_FALLING_STORED);
}
END_TEST

START_TEST(only_the_edges_asked_for_are_latched)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    begin(&r);
    r.out[0].probe_function = KR_PROBE_ENABLE | KR_PROBE_CONTINUOUS | KR_PROBE_FALLING;
    ck_assert(sim_rig_move(&r, 0, 1000000));
    ck_assert_uint_eq(r.in[0].rise_count, 0);
    ck_assert_uint_eq(r.in[0].fall_count, 3);
    ck_assert_uint_eq(r.in[0].probe_status, KR_PROBE_ENABLED | KR_PROBE_FALLING_STORED);
}
END_TEST

START_TEST(function_0_forgets_and_only_then_another_function_is_taken)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    begin(&r);
    r.out[0].probe_function = KR_PROBE_ENABLE | KR_PROBE_RISING;
    sim_rig_cycle(&r);
    r.out[0].probe_function = SCAN; /* without 0 between: refused */
    ck_assert(sim_rig_move(&r, 0, 1000000));
    ck_assert_uint_eq(r.in[0].rise_count, 1);
    ck_assert_uint_eq(r.in[0].fall_count, 0);
    r.out[0].probe_function = 0;
    sim_rig_cycle(&r);
    ck_assert_uint_eq(r.in[0].probe_status, 0);
    ck_assert_uint_eq(r.in[0].rise_count, 0);
    r.out[0].probe_function = SCAN;
    ck_assert(sim_rig_move(&r, 0, 0));
    ck_assert_uint_eq(r.in[0].rise_count, 3);
    ck_assert_uint_eq(r.in[0].fall_count, 3);
}
END_TEST

/* ---- faults of the switch ------------------------------------------------------------------------------ */

START_TEST(a_missing_flag_is_passed_unseen)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    begin(&r);
    ck_assert(sim_machine_break(&r.m, 0, SIM_FLAG_MISSING, 1, 0));
    struct edges e = scan(&r, 200000, 1000000);
    ck_assert_int_eq(e.n_rises, 2);
    ck_assert_int_gt(e.rise_um[1], 690000);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_FLAG_MISSING, 1));
    ck_assert_int_eq(scan(&r, 200000, 0).n_rises, 3);
}
END_TEST

START_TEST(a_foreign_object_looks_like_one_more_flag)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    begin(&r);
    ck_assert(sim_machine_break(&r.m, 0, SIM_FOREIGN_FLAG, 0, 650000));
    struct edges e = scan(&r, 200000, 1000000);
    ck_assert_int_eq(e.n_rises, 4);
    ck_assert_int_le(abs(e.rise_um[2] - 646000), 200);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_FOREIGN_FLAG, 0));
    ck_assert_int_eq(scan(&r, 200000, 0).n_rises, 3);
}
END_TEST

START_TEST(two_flags_that_overlap_look_like_one_wide_one)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 1);
    begin(&r);
    ck_assert(sim_machine_break(&r.m, 0, SIM_FOREIGN_FLAG, 0, 505000));
    struct edges e = scan(&r, 200000, 1000000);
    ck_assert_int_eq(e.n_rises, 1);
    ck_assert_int_eq(e.n_falls, 1);
    ck_assert_int_gt(e.fall_um[0] - e.rise_um[0], 12900);
}
END_TEST

START_TEST(a_stuck_switch_gives_one_edge_at_most)
{
    static const enum sim_fault fault[] = {SIM_SWITCH_STUCK_ON, SIM_SWITCH_STUCK_OFF};
    for (int i = 0; i < 2; i++) {
        struct sim_rig r;
        sim_rig_defaults(&r, 1, 3);
        begin(&r);
        ck_assert(sim_machine_break(&r.m, 0, fault[i], 0, 0));
        sim_rig_run_ms(&r, 10);
        struct edges e = scan(&r, 200000, 1000000);
        ck_assert_int_eq(e.n_rises + e.n_falls, 0);
        ck_assert_uint_eq(r.in[0].inputs & KR_DI_FLAG, i == 0 ? KR_DI_FLAG : 0);
    }
}
END_TEST

START_TEST(a_bouncing_switch_gives_so_many_edges_more)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 1);
    begin(&r);
    ck_assert(sim_machine_break(&r.m, 0, SIM_SWITCH_BOUNCES, 0, 3));
    scan(&r, 200000, 1000000);
    ck_assert_uint_eq(r.in[0].rise_count, 1 + 2 * 3);
    ck_assert_uint_eq(r.in[0].fall_count, 1 + 2 * 3);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("simulated switch");
    TCase *tc = suite_case(suite, "simulated switch");
    tcase_add_test(tc, every_flag_has_two_edges_its_width_apart);
    tcase_add_test(tc, references_are_seen_beside_the_holders_unless_they_are_missing_or_dirty);
    tcase_add_test(tc, one_way_the_middle_is_off_by_half_the_hysteresis_and_the_delay_along_the_travel);
    tcase_add_test(tc, jitter_is_drawn_for_each_edge_and_stays_within_speed_times_its_limit);
    tcase_add_test(tc, the_switch_sits_beside_the_pin_by_its_offset);
    tcase_add_test(tc, backlash_moves_both_edges_of_a_pass_the_same_way);
    tcase_add_test(tc, the_flag_input_shows_what_the_switch_sees);
    tcase_add_test(tc, a_flag_that_travels_with_the_carriage_gives_no_edge);
    tcase_add_test(tc, without_continuous_mode_the_first_edge_of_each_kind_is_kept);
    tcase_add_test(tc, only_the_edges_asked_for_are_latched);
    tcase_add_test(tc, function_0_forgets_and_only_then_another_function_is_taken);
    tcase_add_test(tc, a_missing_flag_is_passed_unseen);
    tcase_add_test(tc, a_foreign_object_looks_like_one_more_flag);
    tcase_add_test(tc, two_flags_that_overlap_look_like_one_wide_one);
    tcase_add_test(tc, a_stuck_switch_gives_one_edge_at_most);
    tcase_add_test(tc, a_bouncing_switch_gives_so_many_edges_more);
    return suite;
}
