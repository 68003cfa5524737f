/* Tests of scans: where flags are found, and what is reported if they are at other places, or their number is wrong. */
#include <math.h>
#include <stdlib.h>

#include "kniferail/corrections.h"
#include "rig.h"
#include "suite.h"

#define WITHIN_UM 20

/* ---- accuracy -------------------------------------------------------------------------------------------------- */

struct physics {
    int32_t speed_um_per_s, hysteresis_um, latency_us, jitter_us, backlash_um, encoder_nm;
    bool one_way;
};

/* The corners, and between them by chance. Hysteresis to a tenth of the flag, delay and its scatter: data sheets of
 * inductive proximity switches and of fast digital inputs; common practice, no published source. */
static const struct physics corners[] = {
    {200000, 200, 200, 5, 0, 1000, false},    {200000, 50, 0, 0, 0, 1000, false},
    {100000, 600, 1000, 20, 20, 1000, false}, {200000, 600, 1000, 20, 0, 1000, false},
    {50000, 800, 500, 20, 20, 1000, false},   {200000, 200, 200, 5, 20, 1000, true},
    {100000, 600, 1000, 20, 0, 1000, true},
};
#define N_CORNERS ((int)(sizeof corners / sizeof corners[0]))

static int32_t draw(uint32_t *seed, int32_t least, int32_t most)
{
    *seed = *seed * 1664525u + 1013904223u; /* Numerical Recipes' */
    return least + (int32_t)((*seed >> 8) % (uint32_t)(most - least + 1));
}

static struct physics by_chance(uint32_t *seed, bool one_way)
{
    struct physics p;
    p.speed_um_per_s = draw(seed, 20 * MM, 200 * MM);
    p.hysteresis_um = draw(seed, 20, 800);
    p.latency_us = draw(seed, 0, 1000);
    p.jitter_us = draw(seed, 0, 20);
    p.backlash_um = draw(seed, 0, 20);
    p.encoder_nm = draw(seed, 500, 5000);
    p.one_way = one_way;
    return p;
}

/* A rail that is scanned one way has the bias that a calibration would find. */
static void with_physics(struct rig *rig, uint16_t rail, const struct physics *p)
{
    struct kr_carriage_config *c = &rig->config.carriage[rail];
    struct sim_rail_config *m = &rig->sim_config.rail[rail];
    c->scan_speed_um_per_s = p->speed_um_per_s;
    c->passes_apart_um = 1500; /* the widest switch, at the greatest speed and delay */
    m->hysteresis_um = p->hysteresis_um;
    m->latency_us = p->latency_us;
    m->jitter_us = p->jitter_us;
    m->backlash_um = p->backlash_um;
    m->encoder_nm = p->encoder_nm;
    c->scan_ways = p->one_way ? KR_SCAN_ONE_WAY : KR_SCAN_BOTH_WAYS;
    if (p->one_way)
        c->scan_bias_um =
            p->hysteresis_um / 2 + p->backlash_um / 2 + (int32_t)((int64_t)p->speed_um_per_s * p->latency_us / 1000000);
}

static void expect_measured(const struct rig *rig, uint16_t rail, int which)
{
    for (uint16_t i = 0; i < SMALL_HOLDERS; i++) {
        int32_t off_um = rig_um(rig, KR_REG_HOLDER_POSITION, rail, i) - sim_machine_holder_um(&rig->machine, rail, i);
        ck_assert_int_eq(rig_known(rig, rail, i), KR_MEASURED);
        ck_assert_msg(abs(off_um) <= WITHIN_UM, "%d: rail %d holder %d is off by %d um", which, rail + 1, i + 1,
                      (int)off_um);
    }
}

/* _i: the corner, or the seed of a draw. The holders stand where the machine has them, some of them pushed a little. */
START_TEST(centres_are_found_within_20_um_over_the_spread_of_switches_and_speeds)
{
    struct rig rig;
    uint32_t seed = 977u * (uint32_t)(_i + 1);
    rig_small_ordinary(&rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        struct physics p = _i < N_CORNERS ? corners[_i] : by_chance(&seed, _i % 2 == 1);
        with_physics(&rig, r, &p);
    }
    rig.claim_um = WITHIN_UM;
    rig_start(&rig);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < SMALL_HOLDERS; i++)
            rig_break(&rig, r, SIM_MOVED_BY_HAND, i, draw(&seed, -2500, 2500));
    rig_to_idle(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_PLAN);
    for (uint16_t r = 0; r < 2; r++)
        expect_measured(&rig, r, _i);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

/* A switch beside the pin: its offset, on either side, belongs to every centre that is found. */
START_TEST(the_switch_may_stand_beside_the_pin_on_either_side)
{
    static const int32_t offsets_um[] = {35 * MM, -35 * MM};
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        rig.config.carriage[r].switch_offset_um = rig.sim_config.rail[r].switch_offset_um = offsets_um[_i];
        rig.config.carriage[r].park_um = rig.sim_config.rail[r].carriage_um = -100 * MM;
    }
    rig.claim_um = WITHIN_UM + 20; /* placed ones are verified with what the pin took along, too */
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void held_by(struct rig *rig, enum kr_alarm_code code)
{
    rig_ms_until_alarm(rig, code);
    rig_until_state(rig, KR_STATE_HELD);
    ck_assert(!rig->false_measured);
}

/* _i: how wrong the bias is: 0 not, 1 by less than the passes may lie apart, 2 by more */
START_TEST(the_first_scan_of_a_one_way_rail_proves_its_bias_and_the_next_goes_one_way)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.carriage[0].scan_ways = KR_SCAN_ONE_WAY;
    rig.config.carriage[0].scan_bias_um = 140 + (_i == 0 ? 0 : _i == 1 ? 45 : 55); /* hysteresis and delay make 140 */
    rig.config.carriage[0].passes_apart_um = 100;
    rig.claim_um = 60;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    if (_i == 2) {
        held_by(&rig, KR_ALARM_PASSES_APART);
    } else {
        rig_until_complete(&rig);
        ck_assert(!rig.false_measured);
        rig_reset(&rig);
        rig_start_job(&rig, KR_JOB_VERIFY);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_READY);
        ck_assert_int_gt(sim_machine_carriage_um(&rig.machine, 0), 500 * MM); /* it ended where it went */
    }
    rig_end(&rig);
}
END_TEST

START_TEST(a_scan_fits_a_travel_that_is_just_long_enough)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        int32_t from_um, to_um;
        kr_scan_range(&rig.config.geometry.rail[r], &rig.config.carriage[r], &from_um, &to_um);
        rig.config.carriage[r].travel_min_um = from_um;
        rig.config.carriage[r].travel_max_um = to_um;
        rig.config.carriage[r].park_um = from_um;
        rig.sim_config.rail[r].carriage_um = from_um;
        rig.sim_config.rail[r].stop_low_um = from_um;
        rig.sim_config.rail[r].stop_high_um = to_um;
        rig.sim_config.rail[r].holder[0].start_um = rig.book.holder[r][0].position_um = 0; /* at the rail's very ends */
        rig.sim_config.rail[r].holder[4].start_um = rig.book.holder[r][4].position_um = 500 * MM;
    }
    rig_begin(&rig);
    rig_set_up_small(&rig);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

/* ---- flags ----------------------------------------------------------------------------------------------------- */

/* A scan that ends with an alarm measures nothing; what it saw is where the next one begins. */
static void expect_seen(const struct rig *rig, uint16_t rail, uint16_t i)
{
    int32_t off_um = rig_um(rig, KR_REG_HOLDER_POSITION, rail, i) - sim_machine_holder_um(&rig->machine, rail, i);
    ck_assert_int_eq(rig_known(rig, rail, i), KR_REMEMBERED);
    ck_assert_int_le(abs(off_um), WITHIN_UM);
}

static void goes_on_and_ends_verified(struct rig *rig)
{
    rig_command(rig, KR_COMMAND_UNHOLD, 0);
    rig_ends_verified(rig);
}

START_TEST(one_missing_flag_is_named_and_the_others_are_remembered_where_they_were_seen)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_break(&rig, 1, SIM_FLAG_MISSING, 2, 0);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_FLAG_MISSING);
    ck_assert_uint_eq(rig_first_alarm(&rig).rail, 2);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 3);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 4);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, 5);
    ck_assert_int_eq(rig_known(&rig, 1, 2), KR_UNKNOWN);
    expect_seen(&rig, 1, 1);
    expect_seen(&rig, 1, 3);
    rig_mend(&rig, 1, SIM_FLAG_MISSING, 2);
    goes_on_and_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(an_extra_flag_is_named_by_its_place_and_the_holder_on_its_left)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_break(&rig, 0, SIM_FOREIGN_FLAG, 0, 275 * MM);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_FLAG_EXTRA);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 3); /* at 240 mm */
    ck_assert_int_le(abs(rig_first_alarm(&rig).value - 275 * MM), 20);
    for (uint16_t i = 0; i < 5; i++)
        expect_seen(&rig, 0, i);
    rig_mend(&rig, 0, SIM_FOREIGN_FLAG, 0);
    goes_on_and_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_displaced_holder_is_named_measured_and_no_reason_to_stop)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_push_by_hand(&rig, 0, 2, 30 * MM);
    rig_start_changeover(&rig);
    rig_ms_until_alarm(&rig, KR_ALARM_FLAG_DISPLACED);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 3);
    ck_assert_int_le(abs(rig_first_alarm(&rig).value - 30 * MM), 20);
    ck_assert_int_eq(rig_known(&rig, 0, 2), KR_MEASURED);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_missing_flag_among_unknown_holders_is_counted_and_none_is_guessed)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    for (uint16_t i = 1; i < 4; i++)
        rig.book.holder[0][i].known = KR_UNKNOWN;
    rig_begin(&rig);
    rig_break(&rig, 0, SIM_FLAG_MISSING, 2, 0);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_FLAG_MISSING);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 0);
    expect_seen(&rig, 0, 0);
    expect_seen(&rig, 0, 4);
    for (uint16_t i = 1; i < 4; i++)
        ck_assert_int_eq(rig_known(&rig, 0, i), KR_UNKNOWN);
    rig_mend(&rig, 0, SIM_FLAG_MISSING, 2);
    goes_on_and_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(one_missing_and_one_extra_are_not_taken_for_a_full_count)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_break(&rig, 0, SIM_FLAG_MISSING, 1, 0);
    rig_break(&rig, 0, SIM_FOREIGN_FLAG, 0, 375 * MM);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_FLAG_MISSING);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 2);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_FLAG_EXTRA));
    expect_seen(&rig, 0, 0); /* where both readings say the same */
    ck_assert_int_eq(rig_known(&rig, 0, 1), KR_UNKNOWN);
    ck_assert_int_eq(rig_known(&rig, 0, 2), KR_UNKNOWN);
    rig_end(&rig);
}
END_TEST

START_TEST(an_absent_holder_has_no_flag_and_one_that_shows_up_is_extra)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.book.holder[0][2].state = KR_HOLDER_ABSENT;
    rig.sim_config.rail[0].holder[2].absent = true;
    rig_begin(&rig);
    rig_break(&rig, 0, SIM_FOREIGN_FLAG, 0, 240 * MM); /* somebody has put it on again */
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_FLAG_EXTRA);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 2);
    rig_mend(&rig, 0, SIM_FOREIGN_FLAG, 0);
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    rig_ends_verified(&rig); /* four holders make four cuts */
    rig_end(&rig);
}
END_TEST

START_TEST(something_beside_a_flag_makes_it_too_wide_to_measure_by)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_break(&rig, 0, SIM_FOREIGN_FLAG, 0, 240 * MM + 3 * MM);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_FLAG_WIDTH);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, rig.config.carriage[0].flag_width_um);
    ck_assert_int_gt(rig_um(&rig, KR_REG_FLAG_WIDEST, 0, 0), rig.config.carriage[0].flag_width_um * 9 / 8);
    rig_mend(&rig, 0, SIM_FOREIGN_FLAG, 0);
    goes_on_and_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(the_widths_of_flags_are_shown_as_the_switch_sees_them_each_pass_for_itself)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_FLAGS_SEEN, 0, 0), 0);
    rig_command_start(&rig, (struct start_values){.job = KR_JOB_SCAN, .rail = 1});
    rig_until_complete(&rig);
    int32_t mean_um = rig_um(&rig, KR_REG_FLAG_MEAN, 0, 0),
            true_um = rig.sim_config.rail[0].flag_width_um + rig.sim_config.rail[0].hysteresis_um;
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_FLAGS_SEEN, 0, 0), 2 * SMALL_HOLDERS);
    ck_assert_int_le(abs(mean_um - true_um), 20);
    ck_assert_int_le(rig_um(&rig, KR_REG_FLAG_NARROWEST, 0, 0), mean_um);
    ck_assert_int_ge(rig_um(&rig, KR_REG_FLAG_WIDEST, 0, 0), mean_um);
    ck_assert_int_ge(rig_um(&rig, KR_REG_FLAG_NARROWEST_AT, 0, 0), 60 * MM - 1000);
    ck_assert_int_le(rig_um(&rig, KR_REG_FLAG_WIDEST_AT, 0, 0), 420 * MM + 1000);
    rig_end(&rig);
}
END_TEST

START_TEST(a_flag_that_looks_a_little_wider_than_last_time_is_looked_at_once)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    int32_t at_um = sim_machine_holder_um(&rig.machine, 0, 0);
    rig_break(&rig, 0, SIM_FOREIGN_FLAG, 0, at_um + 600); /* half a millimetre: less than any config knows */
    rig.claim_um = 350;
    rig_start_job(&rig, KR_JOB_VERIFY);
    held_by(&rig, KR_ALARM_FLAG_WIDTH);
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_UNKNOWN);
    rig_end(&rig);
}
END_TEST

static bool is_on_its_way_back;

/* On the way back the switch lets go of the flag around 240 mm a little early. */
static void cuts_a_flag_short(struct rig *rig)
{
    static int32_t last_um;
    is_on_its_way_back = rig->in.axis[0].position_um < last_um;
    last_um = rig->in.axis[0].position_um;
    if (is_on_its_way_back && abs(rig->in.axis[0].fall_um - 236 * MM) < 3 * MM)
        rig->in.axis[0].fall_um += 300;
}

START_TEST(a_flag_that_the_two_passes_see_differently_wide_is_not_measured_by)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig.meddle = cuts_a_flag_short;
    rig_start_changeover(&rig);
    rig_ms_until_alarm(&rig, KR_ALARM_FLAG_WIDTH);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

/* ---- the switch ------------------------------------------------------------------------------------------------ */

/* _i: bounces at each edge, from 1 */
START_TEST(a_switch_that_bounces_loses_edges_and_is_told_so)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_break(&rig, 0, SIM_SWITCH_BOUNCES, 0, _i);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_EDGES_LOST);
    rig_mend(&rig, 0, SIM_SWITCH_BOUNCES, 0);
    goes_on_and_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_switch_that_is_on_where_no_flag_can_be_is_stuck)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_break(&rig, 1, SIM_SWITCH_STUCK_ON, 0, 0);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_SWITCH_STUCK);
    ck_assert_uint_eq(rig_first_alarm(&rig).rail, 2);
    rig_end(&rig);
}
END_TEST

START_TEST(a_switch_that_never_sees_anything_misses_all_flags)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_break(&rig, 0, SIM_SWITCH_STUCK_OFF, 0, 0);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_FLAG_MISSING);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 0);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 0);
    for (uint16_t i = 0; i < 5; i++)
        ck_assert_int_eq(rig_known(&rig, 0, i), KR_UNKNOWN);
    rig_end(&rig);
}
END_TEST

static void scanning(struct rig *rig, uint16_t rail)
{
    rig_start_changeover(rig);
    rig_until_carriage(rig, rail, KR_CARRIAGE_SCANNING);
}

START_TEST(passes_that_count_differently_are_not_trusted)
{
    struct rig rig;
    rig_begin_small(&rig);
    scanning(&rig, 0);
    while (!(sim_machine_carriage_um(&rig.machine, 0) > 500 * MM))
        rig_cycle(&rig);
    rig_break(&rig, 0, SIM_FLAG_MISSING, 2, 0); /* lost between the passes */
    held_by(&rig, KR_ALARM_SCAN_UNTRUSTED);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 5);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, 4);
    rig_end(&rig);
}
END_TEST

/* _i: 0 just within the limit, 1 just beyond */
START_TEST(passes_that_lie_too_far_apart_are_named)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    int32_t apart_um = 600 + 2 * 200 * 1000 / 1000 * 1; /* hysteresis, and twice 0.2 m/s in 1 ms */
    rig.sim_config.rail[0].hysteresis_um = 600;
    rig.sim_config.rail[0].latency_us = 1000;
    rig.config.carriage[0].passes_apart_um = _i == 0 ? apart_um + 5 : apart_um - 5;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    if (_i == 0) {
        rig_until_phase(&rig, KR_PHASE_PLAN);
        ck_assert(!rig.false_measured);
    } else {
        held_by(&rig, KR_ALARM_PASSES_APART);
        ck_assert_int_le(abs(rig_first_alarm(&rig).value - apart_um), 5);
    }
    rig_end(&rig);
}
END_TEST

START_TEST(a_scan_too_fast_for_the_cycle_says_so)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.period_us = rig.config.period_us = 80000; /* 8 mm of flag take 40 ms: both edges may fall into one cycle */
    rig_begin(&rig);
    rig_start_changeover(&rig);
    held_by(&rig, KR_ALARM_EDGES_LOST);
    rig_end(&rig);
}
END_TEST

static void add_accuracy(Suite *suite)
{
    TCase *tc = suite_case(suite, "accuracy");
    tcase_add_loop_test(tc, centres_are_found_within_20_um_over_the_spread_of_switches_and_speeds, 0, N_CORNERS + 60);
    tcase_add_loop_test(tc, the_switch_may_stand_beside_the_pin_on_either_side, 0, 2);
    tcase_add_loop_test(tc, the_first_scan_of_a_one_way_rail_proves_its_bias_and_the_next_goes_one_way, 0, 3);
    tcase_add_test(tc, a_scan_fits_a_travel_that_is_just_long_enough);
}

static void add_flags(Suite *suite)
{
    TCase *tc = suite_case(suite, "flags");
    tcase_add_test(tc, one_missing_flag_is_named_and_the_others_are_remembered_where_they_were_seen);
    tcase_add_test(tc, an_extra_flag_is_named_by_its_place_and_the_holder_on_its_left);
    tcase_add_test(tc, a_displaced_holder_is_named_measured_and_no_reason_to_stop);
    tcase_add_test(tc, a_missing_flag_among_unknown_holders_is_counted_and_none_is_guessed);
    tcase_add_test(tc, one_missing_and_one_extra_are_not_taken_for_a_full_count);
    tcase_add_test(tc, an_absent_holder_has_no_flag_and_one_that_shows_up_is_extra);
    tcase_add_test(tc, something_beside_a_flag_makes_it_too_wide_to_measure_by);
    tcase_add_test(tc, the_widths_of_flags_are_shown_as_the_switch_sees_them_each_pass_for_itself);
    tcase_add_test(tc, a_flag_that_looks_a_little_wider_than_last_time_is_looked_at_once);
    tcase_add_test(tc, a_flag_that_the_two_passes_see_differently_wide_is_not_measured_by);
}

static void add_switch(Suite *suite)
{
    TCase *tc = suite_case(suite, "switch");
    tcase_add_loop_test(tc, a_switch_that_bounces_loses_edges_and_is_told_so, 1, 9);
    tcase_add_test(tc, a_switch_that_is_on_where_no_flag_can_be_is_stuck);
    tcase_add_test(tc, a_switch_that_never_sees_anything_misses_all_flags);
    tcase_add_test(tc, passes_that_count_differently_are_not_trusted);
    tcase_add_loop_test(tc, passes_that_lie_too_far_apart_are_named, 0, 2);
    tcase_add_test(tc, a_scan_too_fast_for_the_cycle_says_so);
}

/* ---- a switch that a person sets ------------------------------------------------------------------------------- */

static void switch_is(const struct rig *rig, struct kr_switch is, struct kr_switch before, enum kr_frame_origin origin)
{
    ck_assert_int_eq(rig_u16(rig, KR_REG_SWITCH_ORIGIN, 0, 0), origin);
    ck_assert_int_eq(rig_um(rig, KR_REG_SWITCH_OFFSET, 0, 0), is.offset_um);
    ck_assert_int_eq(rig_um(rig, KR_REG_SCAN_BIAS, 0, 0), is.bias_um);
    ck_assert_int_eq(rig_um(rig, KR_REG_SWITCH_OFFSET_BEFORE, 0, 0), before.offset_um);
    ck_assert_int_eq(rig_um(rig, KR_REG_SCAN_BIAS_BEFORE, 0, 0), before.bias_um);
}

static const struct kr_switch no_switch;
#define TRUE_BIAS_UM 140 /* half of 200 um of hysteresis, and 200 us at 200 mm/s */

/* The machine's switch stands 30 mm beside the pin; the file says nothing of it. */
static void begin_with_a_switch_beside(struct rig *rig)
{
    rig_small_ordinary(rig, 2);
    rig->sim_config.rail[0].switch_offset_um = -30 * MM;
    for (uint16_t r = 0; r < 2; r++)
        rig->config.carriage[r].park_um = rig->sim_config.rail[r].carriage_um = -100 * MM;
    rig->claim_um = WITHIN_UM + 20;
    rig_begin(rig);
}

static enum kr_code switch_back(struct rig *rig, uint16_t rail)
{
    return rig_edit(rig, KR_EDIT_SWITCH_BACK, (struct edit_values){.rail = rail});
}

START_TEST(the_book_keeps_the_switch_that_a_person_sets_and_scans_go_by_it)
{
    static const struct kr_switch is = {-30 * MM, TRUE_BIAS_UM};
    struct rig rig;
    begin_with_a_switch_beside(&rig);
    rig.config.carriage[0].scan_ways = KR_SCAN_ONE_WAY; /* from the next start on */
    switch_is(&rig, no_switch, no_switch, KR_FRAME_FROM_FILE);
    ck_assert_int_eq(rig_switch(&rig, 1, is), KR_OK);
    switch_is(&rig, is, no_switch, KR_FRAME_FROM_PERSON);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_SWITCH_ORIGIN, 1, 0), KR_FRAME_FROM_FILE);
    rig.config.carriage[0].switch_offset_um = 5 * MM; /* another file has no say */
    rig_restart(&rig);
    rig_to_idle(&rig);
    switch_is(&rig, is, no_switch, KR_FRAME_FROM_PERSON);
    rig_start_changeover(&rig);
    rig_ends_verified(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_READY);
    ck_assert_int_gt(sim_machine_carriage_um(&rig.machine, 0), 500 * MM); /* it went one way */
    rig_end(&rig);
}
END_TEST

START_TEST(what_a_switch_was_before_comes_back_and_places_are_remembered)
{
    static const struct kr_switch first = {-30 * MM, 0}, then = {-30 * MM + 50, TRUE_BIAS_UM};
    struct rig rig;
    begin_with_a_switch_beside(&rig);
    ck_assert_int_eq(switch_back(&rig, 1), KR_NO_SWITCH_BEFORE);
    ck_assert_int_eq(rig_switch(&rig, 1, first), KR_OK);
    rig_start_changeover(&rig);
    rig_ends_verified(&rig);
    ck_assert_int_eq(rig_switch(&rig, 1, then), KR_NOT_IN_THIS_STATE); /* Complete */
    rig_reset(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_switch(&rig, 1, then), KR_OK);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++)
        ck_assert_int_eq(rig_known(&rig, 0, h), KR_REMEMBERED);
    switch_is(&rig, then, first, KR_FRAME_FROM_PERSON);
    ck_assert_int_eq(switch_back(&rig, 1), KR_OK);
    switch_is(&rig, first, then, KR_FRAME_FROM_PERSON);
    ck_assert_int_eq(switch_back(&rig, 1), KR_OK);
    switch_is(&rig, then, first, KR_FRAME_FROM_PERSON);
    rig_end(&rig);
}
END_TEST

START_TEST(a_switch_that_cannot_be_is_refused_with_value_and_limit)
{
    struct rig rig;
    begin_with_a_switch_beside(&rig);
    ck_assert_int_eq(rig_switch(&rig, 3, no_switch), KR_UNKNOWN_RAIL);
    ck_assert_int_eq(rig_switch(&rig, 1, (struct kr_switch){KR_SWITCH_OFFSET_MAX_UM + 1, 0}), KR_SWITCH_OFFSET);
    ck_assert_int_eq(rig_um(&rig, KR_REG_EDITED_LIMIT, 0, 0), KR_SWITCH_OFFSET_MAX_UM);
    ck_assert_int_eq(rig_switch(&rig, 1, (struct kr_switch){0, -KR_SCAN_BIAS_MAX_UM - 1}), KR_SCAN_BIAS);
    ck_assert_int_eq(rig_um(&rig, KR_REG_EDITED_LIMIT, 0, 0), -KR_SCAN_BIAS_MAX_UM);
    ck_assert_int_eq(rig_switch(&rig, 1, (struct kr_switch){900 * MM, 0}), KR_FRAME_TRAVEL);
    switch_is(&rig, no_switch, no_switch, KR_FRAME_FROM_FILE);
    rig_end(&rig);
}
END_TEST

START_TEST(a_switch_that_the_book_cannot_store_is_not_set)
{
    static const struct kr_switch is = {40, 15};
    struct rig rig;
    rig_begin_small(&rig);
    rig.book_cycles = 20;
    rig.book_failures = 1;
    ck_assert_int_eq(rig_switch(&rig, 1, is), KR_NOT_STORED);
    switch_is(&rig, no_switch, no_switch, KR_FRAME_FROM_FILE);
    ck_assert_int_eq(rig.book.of_switch[0].offset_um, 0);
    ck_assert_int_eq(rig_switch(&rig, 1, is), KR_OK);
    ck_assert_int_eq(rig.book.of_switch[0].offset_um, 40);
    rig_end(&rig);
}
END_TEST

/* ---- the switch is measured ------------------------------------------------------------------------------------ */

static void run_job(struct rig *rig, struct start_values values)
{
    ck_assert_int_eq(rig_command_start(rig, values), KR_OK);
    rig_until_complete(rig);
    rig_reset(rig);
}

static void measure_bias(struct rig *rig)
{
    run_job(rig, (struct start_values){.job = KR_JOB_SCAN_BIAS, .rail = 1});
}

static void measure_offset(struct rig *rig, uint16_t holder, int32_t position_um)
{
    run_job(rig, (struct start_values){
                     .job = KR_JOB_SWITCH_OFFSET, .rail = 1, .holder = holder, .position_um = position_um});
}

static struct physics with_chance(struct rig *rig, int seed)
{
    uint32_t state = 31u * (uint32_t)(seed + 1);
    rig_small_ordinary(rig, 2);
    struct physics p = by_chance(&state, false);
    with_physics(rig, 0, &p);
    rig->sim_config.seed = (uint64_t)seed;
    return p;
}

#define SEEDS 20

/* Half the hysteresis, half the play, and the delay's way: the planted truth. */
START_TEST(job_11_finds_the_planted_bias_within_its_stated_uncertainty)
{
    int within = 0;
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct rig rig;
        struct physics p = with_chance(&rig, seed);
        rig_begin(&rig);
        measure_bias(&rig);
        double true_um = p.hysteresis_um / 2.0 + p.backlash_um / 2.0 + (double)p.speed_um_per_s * p.latency_us / 1e6;
        int32_t u_um = rig_um(&rig, KR_REG_BIAS_UNCERTAINTY, 0, 0);
        double off_um = rig_um(&rig, KR_REG_BIAS_FOUND, 0, 0) - true_um;
        double hysteresis_off_um = rig_um(&rig, KR_REG_HYSTERESIS_FOUND, 0, 0) - (p.hysteresis_um + p.backlash_um);
        double delay_off_um = (rig_i32(&rig, KR_REG_DELAY_FOUND, 0, 0) - p.latency_us) * (double)p.speed_um_per_s / 1e6;
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_BIAS_READINGS, 0, 0), 5 * SMALL_HOLDERS);
        ck_assert_msg(u_um >= 1 && u_um <= 10, "seed %d: uncertainty %d um", seed, u_um);
        ck_assert_msg(fabs(off_um) <= 2 * u_um, "seed %d: bias off by %.1f, stated %d um", seed, off_um, u_um);
        ck_assert_msg(fabs(hysteresis_off_um) <= 6 * u_um, "seed %d: hysteresis off by %.1f um, stated %d", seed,
                      hysteresis_off_um, u_um);
        ck_assert_msg(fabs(delay_off_um) <= 4 * u_um, "seed %d: delay off by %.1f um of way, stated %d", seed,
                      delay_off_um, u_um);
        within += fabs(off_um) <= u_um;
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_SWITCH_ORIGIN, 0, 0), KR_FRAME_FROM_FILE); /* nothing is set */
        ck_assert_int_eq(rig_um(&rig, KR_REG_SCAN_BIAS, 0, 0), 0);
        rig_end(&rig);
    }
    ck_assert_msg(within >= SEEDS * 9 / 10, "of seeds 1 to %d only %d are within", SEEDS, within);
}
END_TEST

START_TEST(a_bias_that_was_measured_and_accepted_lets_scans_go_one_way_and_find_centres)
{
    struct rig rig;
    (void)with_chance(&rig, 7);
    rig.claim_um = WITHIN_UM + 20;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    measure_bias(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED)); /* it has moved no holder */
    struct kr_switch is = {.bias_um = rig_um(&rig, KR_REG_BIAS_FOUND, 0, 0)};
    ck_assert_int_eq(rig_switch(&rig, 1, is), KR_OK);
    ck_assert_int_eq(rig_um(&rig, KR_REG_BIAS_FOUND, 0, 0), is.bias_um); /* it is still shown */
    for (int k = 0; k < 2; k++) {                                        /* the first one goes both ways */
        rig_start_job(&rig, KR_JOB_VERIFY);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    expect_measured(&rig, 0, 0);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

/* The switch stands 30 mm beside the pin, and up to 1 mm elsewhere than the file says. */
static int32_t offset_by_chance(struct rig *rig, int seed)
{
    uint32_t state = 77u * (uint32_t)seed;
    int32_t off_um = draw(&state, -1000, 1000);
    for (uint16_t r = 0; r < 2; r++) {
        struct kr_carriage_config *c = &rig->config.carriage[r];
        struct sim_rail_config *m = &rig->sim_config.rail[r];
        c->switch_offset_um = -30 * MM;
        m->switch_offset_um = -30 * MM + (r == 0 ? off_um : 0);
        c->park_um = m->carriage_um = -100 * MM;
    }
    rig->claim_um = 1200;
    return off_um;
}

START_TEST(job_12_finds_the_planted_switch_offset_within_its_stated_uncertainty)
{
    int within = 0;
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct rig rig;
        struct physics p = with_chance(&rig, seed);
        int32_t off_um = offset_by_chance(&rig, seed);
        rig.config.geometry.rail[0].approach = (int8_t)(seed % 3 - 1); /* drags go straight nonetheless */
        rig.config.geometry.rail[0].overtravel_um = 2 * MM;
        rig_begin(&rig);
        uint16_t holder = (uint16_t)(1 + seed % SMALL_HOLDERS);
        measure_offset(&rig, holder, 0);
        int32_t u_um = rig_um(&rig, KR_REG_SWITCH_UNCERTAINTY, 0, 0);
        int32_t wrong_um = rig_um(&rig, KR_REG_SWITCH_FOUND, 0, 0) - (-30 * MM + off_um);
        int32_t play_um = rig_um(&rig, KR_REG_PLAY_FOUND, 0, 0) - p.backlash_um;
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_SWITCH_READINGS, 0, 0), 10);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_SWITCH_HOLDER, 0, 0), holder);
        ck_assert_msg(u_um >= 1 && u_um <= 20, "seed %d: uncertainty %d um", seed, u_um);
        ck_assert_msg(abs(wrong_um) <= 2 * u_um, "seed %d: off by %d um, stated %d", seed, wrong_um, u_um);
        ck_assert_msg(abs(play_um) <= 4 * u_um, "seed %d: play off by %d um, stated %d", seed, play_um, u_um);
        within += abs(wrong_um) <= u_um;
        ck_assert_int_eq(rig_um(&rig, KR_REG_SWITCH_OFFSET, 0, 0), -30 * MM); /* nothing is set */
        rig_end(&rig);
    }
    ck_assert_msg(within >= SEEDS * 9 / 10, "of seeds 1 to %d only %d are within", SEEDS, within);
}
END_TEST

START_TEST(an_offset_that_was_measured_and_accepted_brings_knives_truly_to_their_places)
{
    struct rig rig;
    (void)with_chance(&rig, 3);
    (void)offset_by_chance(&rig, 3);
    rig_begin(&rig);
    measure_offset(&rig, 2, 0);
    struct kr_switch is = {.offset_um = rig_um(&rig, KR_REG_SWITCH_FOUND, 0, 0)};
    ck_assert_int_eq(rig_switch(&rig, 1, is), KR_OK);
    rig.claim_um = WITHIN_UM + 25;
    rig.false_measured = false;
    rig_start_changeover(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* The file is 12 mm off: no scanned place is one that the pin could meet. A person has jogged it above holder 3. */
START_TEST(job_12_begins_where_a_person_has_seen_the_pin_meet_the_holder)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[0].switch_offset_um = 12 * MM;
    rig.claim_um = 13 * MM;
    rig_begin(&rig);
    int32_t met_um = sim_machine_holder_um(&rig.machine, 0, 2);
    measure_offset(&rig, 3, met_um);
    ck_assert_int_le(abs(rig_um(&rig, KR_REG_SWITCH_FOUND, 0, 0) - 12 * MM), 2);
    ck_assert_int_le(abs(sim_machine_holder_um(&rig.machine, 0, 2) - met_um), MM); /* back, nearly */
    rig_end(&rig);
}
END_TEST

START_TEST(job_12_that_is_held_goes_on_and_measures_as_well)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[0].switch_offset_um = 400;
    rig.claim_um = 500;
    rig_begin(&rig);
    struct start_values job = {.job = KR_JOB_SWITCH_OFFSET, .rail = 1, .holder = 2};
    ck_assert_int_eq(rig_command_start(&rig, job), KR_OK);
    for (int k = 0; k < 3; k++) {
        rig_until_carriage(&rig, 0, k == 1 ? KR_CARRIAGE_SCANNING : KR_CARRIAGE_DRAGGING);
        rig_run_ms(&rig, 20);
        rig_command(&rig, KR_COMMAND_HOLD, 0);
        rig_until_state(&rig, KR_STATE_HELD);
        rig_resume(&rig, KR_COMMAND_UNHOLD);
    }
    rig_until_complete(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_SWITCH_READINGS, 0, 0), 10);
    ck_assert_int_le(abs(rig_um(&rig, KR_REG_SWITCH_FOUND, 0, 0) - 400), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(what_cannot_be_measured_is_refused_and_a_missing_flag_is_no_guess)
{
    struct rig rig;
    rig_begin_small(&rig);
    struct start_values bias = {.job = KR_JOB_SCAN_BIAS, .rail = 1, .speed = KR_SPEED_REDUCED};
    struct start_values offset = {.job = KR_JOB_SWITCH_OFFSET, .rail = 1, .holder = SMALL_HOLDERS + 1};
    ck_assert_int_eq(rig_command_start(&rig, bias), KR_PRODUCTION_SPEED);
    ck_assert_int_eq(rig_command_start(&rig, offset), KR_UNKNOWN_HOLDER);
    offset.rail = 0;
    ck_assert_int_eq(rig_command_start(&rig, offset), KR_RAIL_NEEDED);
    offset = (struct start_values){.job = KR_JOB_SWITCH_OFFSET, .rail = 1, .holder = 2};
    rig_set_up_small(&rig);
    rig_reset(&rig);
    offset.position_um = INT32_MAX; /* no sum of it may overflow, which the sanitizer sees */
    ck_assert_int_eq(rig_command_start(&rig, offset), KR_NO_ROOM_TO_DRAG);
    offset.position_um = INT32_MIN;
    ck_assert_int_eq(rig_command_start(&rig, offset), KR_NO_ROOM_TO_DRAG);
    offset.position_um = 0;
    rig_break(&rig, 0, SIM_FLAG_MISSING, 3, 1);
    ck_assert_int_eq(rig_command_start(&rig, offset), KR_OK);
    held_by(&rig, KR_ALARM_FLAGS_UNCLEAR);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_SWITCH_READINGS, 0, 0), 0);
    rig_end(&rig);
}
END_TEST

static void add_measuring(Suite *suite)
{
    TCase *tc = suite_case(suite, "the switch is measured");
    tcase_add_test(tc, job_11_finds_the_planted_bias_within_its_stated_uncertainty);
    tcase_add_test(tc, a_bias_that_was_measured_and_accepted_lets_scans_go_one_way_and_find_centres);
    tcase_add_test(tc, job_12_finds_the_planted_switch_offset_within_its_stated_uncertainty);
    tcase_add_test(tc, an_offset_that_was_measured_and_accepted_brings_knives_truly_to_their_places);
    tcase_add_test(tc, job_12_begins_where_a_person_has_seen_the_pin_meet_the_holder);
    tcase_add_test(tc, job_12_that_is_held_goes_on_and_measures_as_well);
    tcase_add_test(tc, what_cannot_be_measured_is_refused_and_a_missing_flag_is_no_guess);
}

static void add_requests(Suite *suite)
{
    TCase *tc = suite_case(suite, "a switch that a person sets");
    tcase_add_test(tc, the_book_keeps_the_switch_that_a_person_sets_and_scans_go_by_it);
    tcase_add_test(tc, what_a_switch_was_before_comes_back_and_places_are_remembered);
    tcase_add_test(tc, a_switch_that_cannot_be_is_refused_with_value_and_limit);
    tcase_add_test(tc, a_switch_that_the_book_cannot_store_is_not_set);
}

Suite *make_suite(void)
{
    Suite *suite = suite_create("scan");
    add_accuracy(suite);
    add_flags(suite);
    add_switch(suite);
    add_requests(suite);
    add_measuring(suite);
    return suite;
}
