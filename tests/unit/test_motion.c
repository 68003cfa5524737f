/* Tests of one rail with the simulated machine, without a station: moves, scans, jogs, and every way to stop. */
#include <stdlib.h>
#include <string.h>

#include "motion_rig.h"
#include "suite.h"

static void expect_at_rest(const struct motion_rig *rig)
{
    ck_assert(kr_motion_at_rest(&rig->motion));
    ck_assert_int_eq(sim_machine_speed_um_per_s(&rig->machine, 0), 0);
    ck_assert_int_ne(kr_drive_state_of(rig->axis_in[0].statusword), KR_DRIVE_OPERATION_ENABLED);
    ck_assert_uint_eq(rig->axis_out[0].outputs & (KR_DO_PIN_IN | KR_DO_BRAKE_OPEN | KR_DO_CLAMP_OPEN), 0);
}

/* After any stop: the drive forgets its fault, the pin is freed, a scan looks where the holders are. */
static void recover(struct motion_rig *rig)
{
    rig->mode = KR_MOTION_STOP;
    rig->resets_faults = true;
    motion_rig_run_ms(rig, 3000);
    rig->resets_faults = false;
    expect_at_rest(rig);
    rig->mode = KR_MOTION_RUN;
    motion_rig_forget_events(rig);
    motion_rig_do(rig, KR_TASK_FREE);
    motion_rig_do(rig, KR_TASK_SCAN);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        motion_rig_expect_measured(rig, h);
    ck_assert_uint_eq(motion_rig_alarms(rig), 0);
}

static void recover_and_make_the_moves(struct motion_rig *rig)
{
    recover(rig);
    motion_rig_three_moves(rig);
    motion_rig_do(rig, KR_TASK_MOVES);
    motion_rig_expect_moves_made(rig);
    ck_assert_uint_eq(motion_rig_alarms(rig), 0);
}

/* ---- moves ----------------------------------------------------------------------------------------------------- */

START_TEST(a_holder_is_docked_dragged_and_released_and_stands_truly_at_its_target)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_three_moves(&rig);
    motion_rig_do(&rig, KR_TASK_MOVES);
    motion_rig_expect_moves_made(&rig);
    motion_rig_expect_at(&rig, 2, 200 * MM);
    motion_rig_expect_at(&rig, 4, 400 * MM);
    ck_assert_uint_eq(sim_machine_entered(&rig.machine, 0, SIM_PHASE_DRAGGING), 3);
    for (uint16_t i = 0; i < rig.n_moves; i++)
        ck_assert_uint_eq(sim_machine_releases(&rig.machine, 0, (uint16_t)(rig.move[i].holder - 1)), 1);
}
END_TEST

START_TEST(each_move_is_an_event_in_the_order_of_the_list)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_three_moves(&rig);
    motion_rig_do(&rig, KR_TASK_MOVES);
    ck_assert_uint_eq(rig.n_events, 3);
    for (uint16_t i = 0; i < 3; i++) {
        ck_assert_int_eq(rig.event[i].kind, KR_EVENT_MOVED);
        ck_assert_uint_eq(rig.event[i].holder, rig.move[i].holder);
    }
}
END_TEST

START_TEST(a_list_without_moves_is_done_and_nothing_is_docked)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_do(&rig, KR_TASK_MOVES);
    ck_assert_uint_eq(sim_machine_setpoints(&rig.machine, 0), 0);
    ck_assert_uint_eq(rig.n_events, 0);
}
END_TEST

/* The carriage may go to the holder meanwhile; the rig looks at the pin in every cycle. */
START_TEST(a_holder_is_docked_only_when_that_it_may_move_is_stored)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    rig.store_cycles = -1;
    motion_rig_three_moves(&rig);
    motion_rig_give(&rig, KR_TASK_MOVES);
    motion_rig_run_ms(&rig, 10000);
    ck_assert_int_eq(kr_motion_phase(&rig.motion), KR_CARRIAGE_TRAVELLING);
    ck_assert_uint_eq(kr_motion_knowledge(&rig.motion)->docking, 5);
    ck_assert_uint_eq(sim_machine_entered(&rig.machine, 0, SIM_PHASE_DOCKING), 0);
    ck_assert_uint_eq(rig.n_events, 0);
    rig.store_cycles = 1;
    motion_rig_until_phase(&rig, KR_CARRIAGE_DOCKING, 100);
    motion_rig_until_done(&rig, 60000);
    motion_rig_expect_moves_made(&rig);
}
END_TEST

/* _i: storing takes five times as many cycles. */
START_TEST(however_long_storing_takes_the_holder_is_named_before_the_pin_goes_in)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    rig.store_cycles = 1 + 5 * _i;
    motion_rig_three_moves(&rig);
    motion_rig_do(&rig, KR_TASK_MOVES);
    motion_rig_expect_moves_made(&rig);
}
END_TEST

START_TEST(a_holder_in_motion_is_unknown_and_placed_once_it_is_released)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_add_move(&rig, 3, 331 * MM);
    motion_rig_give(&rig, KR_TASK_MOVES);
    motion_rig_until_phase(&rig, KR_CARRIAGE_FREEING, 10000);
    while (kr_motion_phase(&rig.motion) != KR_CARRIAGE_UNDOCKING) {
        ck_assert_int_eq(motion_rig_known(&rig, 3), KR_UNKNOWN);
        ck_assert_uint_eq(kr_motion_docked(&rig.motion), 3);
        motion_rig_cycle(&rig);
    }
    ck_assert_int_eq(motion_rig_known(&rig, 3), KR_PLACED);
    ck_assert_int_eq(motion_rig_known(&rig, 2), KR_REMEMBERED);
    motion_rig_until_done(&rig, 10000);
    ck_assert_uint_eq(kr_motion_docked(&rig.motion), 0);
    ck_assert_uint_eq(kr_motion_knowledge(&rig.motion)->docking, 0);
}
END_TEST

/* The final approach takes up backlash: growing, here. */
START_TEST(a_holder_that_would_arrive_the_other_way_is_dragged_past_its_target_and_back)
{
    struct motion_rig rig;
    int32_t least_um = INT32_MAX;
    motion_rig_defaults(&rig);
    rig.geometry.rail[0].approach = 1;
    rig.geometry.rail[0].overtravel_um = 5 * MM;
    motion_rig_start(&rig);
    motion_rig_add_move(&rig, 3, 270 * MM);
    motion_rig_give(&rig, KR_TASK_MOVES);
    while (!kr_motion_done(&rig.motion)) {
        motion_rig_cycle(&rig);
        if (motion_rig_true_um(&rig, 3) < least_um)
            least_um = motion_rig_true_um(&rig, 3);
    }
    ck_assert_int_le(abs(least_um - 265 * MM), rig.claim_um);
    motion_rig_expect_moves_made(&rig);
}
END_TEST

static void expect_blocked(struct motion_rig *rig, uint16_t holder, int32_t value)
{
    motion_rig_give(rig, KR_TASK_MOVES);
    motion_rig_until_phase(rig, KR_CARRIAGE_STOPPING, 10000);
    const struct kr_alarm *alarm = motion_rig_first_alarm(rig);
    ck_assert_uint_eq(alarm->code, KR_ALARM_PATH_BLOCKED);
    ck_assert_uint_eq(alarm->item, holder);
    ck_assert_int_eq(alarm->value, value);
    motion_rig_until_rest(rig, 10000);
    ck_assert_uint_eq(sim_machine_entered(&rig->machine, 0, SIM_PHASE_DOCKING), 0);
}

START_TEST(a_way_that_ends_too_near_to_a_neighbour_is_blocked)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_add_move(&rig, 3, 380 * MM);
    expect_blocked(&rig, 3, 20 * MM);
}
END_TEST

START_TEST(a_way_beside_a_neighbour_that_may_stand_anywhere_is_blocked)
{
    struct motion_rig rig;
    motion_rig_defaults(&rig);
    rig.known.place[1].known = KR_UNKNOWN;
    motion_rig_start(&rig);
    motion_rig_add_move(&rig, 3, 331 * MM);
    expect_blocked(&rig, 3, 0);
}
END_TEST

START_TEST(a_pin_that_does_not_go_in_is_tried_again_and_each_retry_is_an_event)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_add_move(&rig, 3, 331 * MM);
    motion_rig_break(&rig, SIM_PIN_STUCK_OUT, 0, 0);
    motion_rig_give(&rig, KR_TASK_MOVES);
    motion_rig_until_phase(&rig, KR_CARRIAGE_BACKING, 10000);
    motion_rig_mend(&rig, SIM_PIN_STUCK_OUT);
    motion_rig_until_done(&rig, 20000);
    ck_assert_uint_eq(rig.n_events, 2);
    ck_assert_int_eq(rig.event[0].kind, KR_EVENT_RETRY);
    ck_assert_uint_eq(rig.event[0].holder, 3);
    ck_assert_int_eq(rig.event[1].kind, KR_EVENT_MOVED);
    motion_rig_expect_moves_made(&rig);
}
END_TEST

START_TEST(a_pin_that_never_goes_in_is_an_alarm_after_all_tries_and_the_holder_is_not_known_to_be_there)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_add_move(&rig, 3, 331 * MM);
    motion_rig_break(&rig, SIM_PIN_STUCK_OUT, 0, 0);
    motion_rig_give(&rig, KR_TASK_MOVES);
    motion_rig_until_phase(&rig, KR_CARRIAGE_STOPPING, 30000);
    motion_rig_until_rest(&rig, 10000);
    ck_assert_uint_eq(rig.n_events, 4);
    for (uint16_t i = 0; i < 3; i++)
        ck_assert_int_eq(rig.event[i].kind, KR_EVENT_RETRY);
    ck_assert_uint_eq(rig.event[3].alarm.code, KR_ALARM_PIN_NOT_IN);
    ck_assert_uint_eq(rig.event[3].alarm.item, 3);
    ck_assert_int_eq(rig.event[3].alarm.value, 3);
    ck_assert_uint_eq(rig.event[3].alarm.rail, 0); /* a rail does not know its number */
    ck_assert_int_eq(motion_rig_known(&rig, 3), KR_UNKNOWN);
    ck_assert_uint_eq(kr_motion_knowledge(&rig.motion)->docking, 0);
}
END_TEST

START_TEST(at_reduced_speed_nothing_runs_faster_than_the_setup_speed)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    rig.reduced = true;
    motion_rig_add_move(&rig, 1, 60 * MM);
    motion_rig_give(&rig, KR_TASK_MOVES);
    for (int64_t t = 0; t < 60000 && !kr_motion_done(&rig.motion); t += MOTION_RIG_PERIOD_MS) {
        motion_rig_cycle(&rig);
        ck_assert_int_le(abs(sim_machine_speed_um_per_s(&rig.machine, 0)), rig.carriage.setup_speed_um_per_s + 100);
    }
    ck_assert(kr_motion_done(&rig.motion));
    motion_rig_expect_moves_made(&rig);
}
END_TEST

START_TEST(the_empty_carriage_goes_to_its_park_position)
{
    struct motion_rig rig;
    motion_rig_defaults(&rig);
    rig.sim_config.rail[0].carriage_um = 450 * MM;
    motion_rig_start(&rig);
    motion_rig_cycle(&rig);
    ck_assert(!kr_motion_parked(&rig.motion, &rig.carriage, rig.axis_in));
    motion_rig_do(&rig, KR_TASK_TRAVEL);
    ck_assert(kr_motion_parked(&rig.motion, &rig.carriage, rig.axis_in));
    ck_assert_int_le(abs(sim_machine_carriage_um(&rig.machine, 0) - rig.carriage.park_um), rig.claim_um);
}
END_TEST

/* ---- scans ----------------------------------------------------------------------------------------------------- */

/* _i draws how far hands have pushed each holder before. */
START_TEST(a_scan_measures_every_holder_within_20_um_of_the_truth)
{
    struct motion_rig rig;
    uint32_t seed = 977u * (uint32_t)(_i + 1);
    motion_rig_defaults(&rig);
    rig.claim_um = MOTION_RIG_SCAN_UM;
    rig.sim_config.seed = seed;
    motion_rig_start(&rig);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++) {
        seed = seed * 1664525u + 1013904223u; /* Numerical Recipes' */
        motion_rig_break(&rig, SIM_MOVED_BY_HAND, h, (int32_t)(seed >> 8) % 5001 - 2500);
    }
    motion_rig_do(&rig, KR_TASK_SCAN);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        motion_rig_expect_measured(&rig, h);
    ck_assert_uint_eq(rig.n_events, 0);
}
END_TEST

static void expect_seen_not_measured(const struct motion_rig *rig, uint16_t holder, int32_t within_um)
{
    ck_assert_int_eq(motion_rig_known(rig, holder), KR_REMEMBERED);
    ck_assert_int_le(abs(motion_rig_place_um(rig, holder) - motion_rig_true_um(rig, holder)), within_um);
}

static void expect_missing(const struct motion_rig *rig, uint16_t item, int32_t n_found)
{
    ck_assert_uint_eq(rig->n_events, 1);
    ck_assert_uint_eq(motion_rig_first_alarm(rig)->code, KR_ALARM_FLAG_MISSING);
    ck_assert_uint_eq(motion_rig_first_alarm(rig)->item, item);
    ck_assert_int_eq(motion_rig_first_alarm(rig)->value, n_found);
    ck_assert(!kr_motion_done(&rig->motion));
}

START_TEST(a_flag_that_is_missing_is_named_and_the_other_holders_are_remembered_where_they_were_seen)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_break(&rig, SIM_FLAG_MISSING, 3, 0);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        motion_rig_break(&rig, SIM_MOVED_BY_HAND, h, 1000 + 100 * h);
    motion_rig_give(&rig, KR_TASK_SCAN);
    motion_rig_until_phase(&rig, KR_CARRIAGE_STOPPING, 30000);
    expect_missing(&rig, 3, 4);
    ck_assert_int_eq(motion_rig_known(&rig, 3), KR_UNKNOWN);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        if (h != 3)
            expect_seen_not_measured(&rig, h, MOTION_RIG_SCAN_UM);
    motion_rig_until_rest(&rig, 10000);
}
END_TEST

START_TEST(without_the_holder_that_was_missing_the_others_are_moved_from_where_they_were_seen)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_break(&rig, SIM_FLAG_MISSING, 2, 0);
    motion_rig_break(&rig, SIM_MOVED_BY_HAND, 5, 2 * MM);
    motion_rig_give(&rig, KR_TASK_SCAN);
    motion_rig_until_phase(&rig, KR_CARRIAGE_STOPPING, 30000);
    motion_rig_until_rest(&rig, 10000);
    motion_rig_forget_events(&rig);
    rig.holder[1].state = KR_HOLDER_ABSENT; /* a person says so */
    motion_rig_three_moves(&rig);
    motion_rig_do(&rig, KR_TASK_MOVES);
    motion_rig_expect_moves_made(&rig);
    ck_assert_uint_eq(motion_rig_alarms(&rig), 0);
}
END_TEST

/* One pass that sees some 0.04 mm in a cycle. */
static void begin_slow_one_way(struct motion_rig *rig)
{
    motion_rig_defaults(rig);
    const struct sim_rail_config *sim = &rig->sim_config.rail[0];
    rig->carriage.scan_speed_um_per_s = 4 * MM;
    rig->carriage.scan_ways = KR_SCAN_ONE_WAY;
    rig->carriage.scan_bias_um = sim->hysteresis_um / 2 + sim->backlash_um / 2 + 4 * sim->latency_us / 1000;
    rig->claim_um = MOTION_RIG_SCAN_UM;
    motion_rig_start(rig);
    motion_rig_give(rig, KR_TASK_SCAN);
    motion_rig_until_done(rig, 600000);
    motion_rig_expect_all(rig, KR_MEASURED);
}

static void until_the_flag_is_cut_short(struct motion_rig *rig, uint16_t holder, int32_t by_um)
{
    int32_t edge_um = motion_rig_true_um(rig, holder) - rig->carriage.flag_width_um / 2;
    motion_rig_until_phase(rig, KR_CARRIAGE_SCANNING, 1000);
    while (sim_machine_speed_um_per_s(&rig->machine, 0) <= 0 || /* it still goes to where the pass begins */
           sim_machine_carriage_um(&rig->machine, 0) < edge_um + by_um)
        motion_rig_cycle(rig);
}

/* Within flag width / 64 = 0.125 mm a flag's width is as good as before; half of that is its middle's error, which is
 * more than a measured place may be off. What betrays the switch are the flags before it. */
START_TEST(a_switch_that_comes_back_in_the_middle_of_a_flag_leaves_nothing_measured)
{
    struct motion_rig rig;
    begin_slow_one_way(&rig);
    int32_t width_um = kr_motion_knowledge(&rig.motion)->place[2].flag_width_um;
    motion_rig_break(&rig, SIM_SWITCH_STUCK_OFF, 3, 0);
    motion_rig_give(&rig, KR_TASK_SCAN);
    until_the_flag_is_cut_short(&rig, 3, 65);
    motion_rig_mend(&rig, SIM_SWITCH_STUCK_OFF);
    motion_rig_until_phase(&rig, KR_CARRIAGE_STOPPING, 300000);
    expect_missing(&rig, 0, 3);
    ck_assert_int_gt(motion_rig_place_um(&rig, 3) - motion_rig_true_um(&rig, 3), rig.claim_um);
    for (uint16_t h = 3; h <= MOTION_RIG_HOLDERS; h++)
        expect_seen_not_measured(&rig, h, rig.carriage.flag_width_um / 128 + MOTION_RIG_SCAN_UM);
    ck_assert_int_eq(kr_motion_knowledge(&rig.motion)->place[2].flag_width_um, width_um);
    motion_rig_until_rest(&rig, 10000);
}
END_TEST

#define DIRT_UM 100 /* of each layer: less than flag width / 64 */

static struct {
    uint16_t holder;
    int layers;
} dirt;

/* It stands on the left side of the holder's flag, and the switch takes it for a part of the flag. */
static void soils(struct motion_rig *rig)
{
    int32_t left_um =
        motion_rig_true_um(rig, dirt.holder) - rig->carriage.switch_offset_um - rig->carriage.flag_width_um / 2;
    int32_t *edges[] = {&rig->axis_in[0].rise_um, &rig->axis_in[0].fall_um};
    for (int i = 0; i < 2; i++)
        if (abs(*edges[i] - left_um) < 2 * MM)
            *edges[i] -= dirt.layers * DIRT_UM;
}

/* The rig looks at every place that is said to be measured. */
START_TEST(dirt_that_grows_on_a_flag_from_scan_to_scan_is_seen_before_the_place_is_off_by_a_128th_of_the_flag)
{
    struct motion_rig rig;
    motion_rig_defaults(&rig);
    rig.claim_um = rig.carriage.flag_width_um / 128 + MOTION_RIG_SCAN_UM;
    motion_rig_start(&rig);
    motion_rig_do(&rig, KR_TASK_SCAN);
    rig.meddle = soils;
    dirt.holder = 3;
    dirt.layers = 1;
    motion_rig_do(&rig, KR_TASK_SCAN);
    motion_rig_expect_all(&rig, KR_MEASURED);
    dirt.layers = 2;
    motion_rig_give(&rig, KR_TASK_SCAN);
    motion_rig_until_phase(&rig, KR_CARRIAGE_STOPPING, 60000);
    ck_assert_uint_eq(motion_rig_first_alarm(&rig)->code, KR_ALARM_FLAG_WIDTH);
    ck_assert_int_eq(motion_rig_known(&rig, 3), KR_UNKNOWN);
    motion_rig_until_rest(&rig, 10000);
    rig.claim_um = 2 * DIRT_UM; /* somebody has looked, and left it as it is */
    motion_rig_do(&rig, KR_TASK_SCAN);
    motion_rig_expect_all(&rig, KR_MEASURED);
}
END_TEST

START_TEST(a_holder_far_from_its_known_place_is_named_and_no_reason_to_stop)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_break(&rig, SIM_MOVED_BY_HAND, 2, 8 * MM);
    motion_rig_do(&rig, KR_TASK_SCAN);
    ck_assert_uint_eq(rig.n_events, 1);
    ck_assert_uint_eq(rig.event[0].alarm.code, KR_ALARM_FLAG_DISPLACED);
    ck_assert_uint_eq(rig.event[0].alarm.item, 2);
    ck_assert_int_le(abs(rig.event[0].alarm.value - 8 * MM), MOTION_RIG_SCAN_UM);
    motion_rig_expect_measured(&rig, 2);
}
END_TEST

START_TEST(a_holder_that_is_absent_is_not_expected_and_not_measured)
{
    struct motion_rig rig;
    motion_rig_defaults(&rig);
    rig.holder[3].state = KR_HOLDER_ABSENT;
    rig.sim_config.rail[0].holder[3].absent = true;
    motion_rig_start(&rig);
    motion_rig_do(&rig, KR_TASK_SCAN);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        ck_assert_int_eq(motion_rig_known(&rig, h), h == 4 ? KR_REMEMBERED : KR_MEASURED);
    ck_assert_uint_eq(rig.n_events, 0);
}
END_TEST

/* ---- stops ----------------------------------------------------------------------------------------------------- */

static void begin_drag(struct motion_rig *rig)
{
    motion_rig_begin(rig);
    motion_rig_three_moves(rig);
    motion_rig_give(rig, KR_TASK_MOVES);
    motion_rig_until_phase(rig, KR_CARRIAGE_DRAGGING, 10000);
    motion_rig_run_ms(rig, 200);
    ck_assert_int_ne(sim_machine_speed_um_per_s(&rig->machine, 0), 0);
}

START_TEST(a_link_lost_in_a_drag_stops_everything_and_later_the_moves_are_made_all_the_same)
{
    struct motion_rig rig;
    begin_drag(&rig);
    motion_rig_break(&rig, SIM_LINK_LOST, 0, 0);
    motion_rig_cycle(&rig);
    ck_assert_uint_eq(motion_rig_first_alarm(&rig)->code, KR_ALARM_LINK_LOST);
    ck_assert_uint_eq(motion_rig_first_alarm(&rig)->item, 5);
    ck_assert_int_eq(kr_motion_phase(&rig.motion), KR_CARRIAGE_STOPPING);
    motion_rig_until_rest(&rig, 15000);
    ck_assert_int_eq(sim_machine_speed_um_per_s(&rig.machine, 0), 0);
    ck_assert_int_eq(motion_rig_known(&rig, 5), KR_UNKNOWN);
    ck_assert_int_eq(motion_rig_known(&rig, 4), KR_REMEMBERED);
    ck_assert(!kr_motion_done(&rig.motion));
    motion_rig_mend(&rig, SIM_LINK_LOST);
    recover_and_make_the_moves(&rig);
}
END_TEST

START_TEST(a_stop_in_a_drag_leaves_the_pin_in_and_the_holder_placed)
{
    struct motion_rig rig;
    begin_drag(&rig);
    rig.mode = KR_MOTION_STOP;
    motion_rig_until_rest(&rig, 10000);
    expect_at_rest(&rig);
    ck_assert(motion_rig_pin_is_in(&rig));
    ck_assert_uint_eq(kr_motion_docked(&rig.motion), 5);
    ck_assert_int_eq(motion_rig_known(&rig, 5), KR_PLACED);
    ck_assert_int_gt(motion_rig_true_um(&rig, 5), 510 * MM);
    ck_assert_uint_eq(rig.n_events, 0);
    recover_and_make_the_moves(&rig);
}
END_TEST

START_TEST(a_stop_with_undocking_drives_the_pin_out_in_the_end)
{
    struct motion_rig rig;
    begin_drag(&rig);
    rig.mode = KR_MOTION_UNDOCK;
    motion_rig_until_rest(&rig, 10000);
    expect_at_rest(&rig);
    ck_assert(!motion_rig_pin_is_in(&rig));
    ck_assert_uint_eq(kr_motion_docked(&rig.motion), 0);
    ck_assert_uint_eq(kr_motion_knowledge(&rig.motion)->docking, 0);
    ck_assert_int_eq(motion_rig_known(&rig, 5), KR_PLACED);
    ck_assert_uint_eq(rig.n_events, 0);
    recover_and_make_the_moves(&rig);
}
END_TEST

START_TEST(a_quick_stop_in_a_drag_makes_what_moved_unknown)
{
    struct motion_rig rig;
    begin_drag(&rig);
    rig.mode = KR_MOTION_QUICK_STOP;
    motion_rig_until_rest(&rig, 10000);
    expect_at_rest(&rig);
    ck_assert(motion_rig_pin_is_in(&rig));
    ck_assert_int_eq(motion_rig_known(&rig, 5), KR_UNKNOWN);
    for (uint16_t h = 1; h < 5; h++)
        ck_assert_int_eq(motion_rig_known(&rig, h), KR_REMEMBERED);
    recover_and_make_the_moves(&rig);
}
END_TEST

static int64_t way_to_standstill_um(enum kr_motion_mode mode)
{
    struct motion_rig rig;
    begin_drag(&rig);
    int32_t from_um = sim_machine_carriage_um(&rig.machine, 0);
    rig.mode = mode;
    motion_rig_until_rest(&rig, 10000);
    return abs(sim_machine_carriage_um(&rig.machine, 0) - from_um);
}

START_TEST(a_quick_stop_takes_a_shorter_way_than_a_stop)
{
    ck_assert_int_lt(way_to_standstill_um(KR_MOTION_QUICK_STOP), way_to_standstill_um(KR_MOTION_STOP));
}
END_TEST

START_TEST(a_rail_that_is_stopping_takes_no_task)
{
    struct motion_rig rig;
    begin_drag(&rig);
    rig.mode = KR_MOTION_STOP;
    motion_rig_cycle(&rig);
    motion_rig_give(&rig, KR_TASK_SCAN);
    rig.mode = KR_MOTION_RUN;
    motion_rig_until_rest(&rig, 10000);
    motion_rig_run_ms(&rig, 1000);
    expect_at_rest(&rig);
    ck_assert_uint_eq(rig.n_events, 0); /* with the pin in, a scan would trip */
    ck_assert(!kr_motion_done(&rig.motion));
}
END_TEST

#define STORY_STEP_MS 230
#define STORY_STEPS   80 /* a scan and three moves, to their end */

/* The story: a scan, then the moves. */
static void play_ms(struct motion_rig *rig, int64_t ms)
{
    bool scanned = false;
    motion_rig_give(rig, KR_TASK_SCAN);
    for (int64_t t = 0; t < ms; t += MOTION_RIG_PERIOD_MS) {
        motion_rig_cycle(rig);
        if (kr_motion_done(&rig->motion) && !scanned) {
            scanned = true;
            motion_rig_three_moves(rig);
            motion_rig_give(rig, KR_TASK_MOVES);
        }
    }
}

/* _i: the moment. That no holder is said to be known where it is not is the rig's to see. */
START_TEST(whatever_stops_it_and_whenever_it_comes_to_rest_and_the_moves_can_be_made_after_it)
{
    static const enum kr_motion_mode modes[] = {KR_MOTION_STOP, KR_MOTION_UNDOCK, KR_MOTION_QUICK_STOP};
    for (int what = 0; what < 4; what++) {
        struct motion_rig rig;
        motion_rig_begin(&rig);
        play_ms(&rig, STORY_STEP_MS * _i);
        if (what < 3)
            rig.mode = modes[what];
        else
            motion_rig_break(&rig, SIM_LINK_LOST, 0, 0);
        motion_rig_run_ms(&rig, 10000);
        ck_assert(kr_motion_at_rest(&rig.motion));
        ck_assert_int_eq(sim_machine_speed_um_per_s(&rig.machine, 0), 0);
        motion_rig_mend(&rig, SIM_LINK_LOST);
        recover_and_make_the_moves(&rig);
    }
}
END_TEST

/* _i: the moment. */
START_TEST(a_program_that_starts_again_at_any_moment_stops_what_runs_and_finds_all_holders)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    play_ms(&rig, STORY_STEP_MS * _i);
    bool runs = kr_drive_state_of(rig.axis_in[0].statusword) == KR_DRIVE_OPERATION_ENABLED;
    motion_rig_restart(&rig);
    rig.mode = KR_MOTION_STOP;
    motion_rig_cycle(&rig);
    ck_assert_int_eq(rig.met_running, runs);
    rig.met_running = false;
    motion_rig_run_ms(&rig, 10000);
    ck_assert(!rig.met_running); /* that is said once */
    expect_at_rest(&rig);
    recover_and_make_the_moves(&rig);
}
END_TEST

/* ---- jog ------------------------------------------------------------------------------------------------------- */

static void begin_jog(struct motion_rig *rig, int32_t from_um)
{
    motion_rig_defaults(rig);
    rig->sim_config.rail[0].carriage_um = from_um;
    rig->sim_config.rail[0].watchdog_ms = 0;
    motion_rig_start(rig);
    motion_rig_give(rig, KR_TASK_JOG);
    motion_rig_until_phase(rig, KR_CARRIAGE_JOGGING, 5000);
}

static int32_t run_um(struct motion_rig *rig, int64_t ms)
{
    int32_t from_um = sim_machine_carriage_um(&rig->machine, 0);
    motion_rig_run_ms(rig, ms);
    return sim_machine_carriage_um(&rig->machine, 0) - from_um;
}

static void expect_to_stand(struct motion_rig *rig)
{
    ck_assert_int_le(abs(run_um(rig, 3000)), MOTION_RIG_SCAN_UM);
}

/* _i: the direction. v^2 / 2a to stop, and some cycles until the drive has been told. */
START_TEST(a_jog_runs_only_while_it_is_wanted_and_stands_afterwards)
{
    struct motion_rig rig;
    begin_jog(&rig, 300 * MM);
    expect_to_stand(&rig);
    rig.jog_wanted = (int8_t)_i;
    run_um(&rig, 500);
    int32_t way_um = run_um(&rig, 1000);
    ck_assert_int_le(abs(way_um - _i * rig.carriage.setup_speed_um_per_s), 2 * MM);
    rig.jog_wanted = 0;
    ck_assert_int_le(abs(run_um(&rig, 500)), 4 * MM);
    expect_to_stand(&rig);
    ck_assert_int_eq(kr_motion_phase(&rig.motion), KR_CARRIAGE_JOGGING);
    rig.jog_wanted = (int8_t)-_i;
    ck_assert_int_lt(_i * run_um(&rig, 1500), -20 * MM);
    ck_assert_uint_eq(rig.n_events, 0);
}
END_TEST

/* It was never sent further than it gets in 0.6 s. */
START_TEST(a_jog_whose_link_is_cut_stops_by_itself_without_the_watchdog_of_the_drive)
{
    struct motion_rig rig;
    begin_jog(&rig, 100 * MM);
    rig.jog_wanted = 1;
    motion_rig_run_ms(&rig, 1500 + 50 * _i);
    motion_rig_break(&rig, SIM_LINK_LOST, 0, 0);
    ck_assert_int_le(run_um(&rig, 2000), 32 * MM);
    ck_assert_int_eq(sim_machine_speed_um_per_s(&rig.machine, 0), 0);
    ck_assert_uint_eq(motion_rig_first_alarm(&rig)->code, KR_ALARM_LINK_LOST);
}
END_TEST

START_TEST(a_jog_ends_at_the_end_of_travel)
{
    struct motion_rig rig;
    begin_jog(&rig, -150 * MM);
    rig.jog_wanted = -1;
    motion_rig_run_ms(&rig, 3000);
    ck_assert_int_le(abs(sim_machine_carriage_um(&rig.machine, 0) - rig.carriage.travel_min_um), MOTION_RIG_SCAN_UM);
    expect_to_stand(&rig);
    ck_assert_uint_eq(rig.n_events, 0);
}
END_TEST

START_TEST(the_mode_ends_a_jog)
{
    struct motion_rig rig;
    begin_jog(&rig, 100 * MM);
    rig.jog_wanted = 1;
    motion_rig_run_ms(&rig, 1000);
    rig.mode = KR_MOTION_STOP;
    motion_rig_until_rest(&rig, 5000);
    expect_at_rest(&rig);
    expect_to_stand(&rig);
}
END_TEST

/* ---- axes, and the state as a value ---------------------------------------------------------------------------- */

/* The rig looks at the outputs of the second axis in every cycle. */
START_TEST(an_axis_beyond_the_first_one_stays_silent)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    rig.n_axes = 2;
    rig.axis_in[1].link = true;
    play_ms(&rig, STORY_STEP_MS * STORY_STEPS);
    motion_rig_expect_moves_made(&rig);
    rig.mode = KR_MOTION_QUICK_STOP;
    motion_rig_until_rest(&rig, 10000);
}
END_TEST

START_TEST(outputs_are_made_for_so_many_axes_and_no_more)
{
    struct motion_rig rig;
    struct kr_axis_out beyond;
    motion_rig_begin(&rig);
    memset(&rig.axis_out[1], 0xA5, sizeof rig.axis_out[1]);
    memset(&beyond, 0xA5, sizeof beyond);
    play_ms(&rig, 3000);
    ck_assert_mem_eq(&rig.axis_out[1], &beyond, sizeof beyond);
}
END_TEST

#define TWIN_CYCLES 400

/* _i: the moment of the copy. The copy is stepped after the original has gone on: nothing may be kept elsewhere. */
START_TEST(a_copy_that_is_stepped_with_the_same_inputs_gives_the_same_outputs_byte_for_byte)
{
    static struct kr_axis_out said[TWIN_CYCLES];
    static struct motion_rig rig, twin;
    motion_rig_begin(&rig);
    play_ms(&rig, 4 * STORY_STEP_MS * _i);
    twin = rig;
    for (int i = 0; i < TWIN_CYCLES; i++) {
        motion_rig_cycle(&rig);
        said[i] = rig.axis_out[0];
    }
    for (int i = 0; i < TWIN_CYCLES; i++) {
        motion_rig_cycle(&twin);
        ck_assert_mem_eq(&twin.axis_out[0], &said[i], sizeof said[i]);
    }
    ck_assert_uint_eq(twin.n_events, rig.n_events);
    ck_assert_mem_eq(&twin.seen, &rig.seen, sizeof rig.seen);
}
END_TEST

/* ---- the suite ------------------------------------------------------------------------------------------------- */

static void add_moves(Suite *suite)
{
    TCase *tc = suite_case(suite, "moves");
    tcase_add_test(tc, a_holder_is_docked_dragged_and_released_and_stands_truly_at_its_target);
    tcase_add_test(tc, each_move_is_an_event_in_the_order_of_the_list);
    tcase_add_test(tc, a_list_without_moves_is_done_and_nothing_is_docked);
    tcase_add_test(tc, a_holder_is_docked_only_when_that_it_may_move_is_stored);
    tcase_add_loop_test(tc, however_long_storing_takes_the_holder_is_named_before_the_pin_goes_in, 0, 40);
    tcase_add_test(tc, a_holder_in_motion_is_unknown_and_placed_once_it_is_released);
    tcase_add_test(tc, a_holder_that_would_arrive_the_other_way_is_dragged_past_its_target_and_back);
    tcase_add_test(tc, a_way_that_ends_too_near_to_a_neighbour_is_blocked);
    tcase_add_test(tc, a_way_beside_a_neighbour_that_may_stand_anywhere_is_blocked);
    tcase_add_test(tc, a_pin_that_does_not_go_in_is_tried_again_and_each_retry_is_an_event);
    tcase_add_test(tc, a_pin_that_never_goes_in_is_an_alarm_after_all_tries_and_the_holder_is_not_known_to_be_there);
    tcase_add_test(tc, at_reduced_speed_nothing_runs_faster_than_the_setup_speed);
    tcase_add_test(tc, the_empty_carriage_goes_to_its_park_position);
}

static void add_scans(Suite *suite)
{
    TCase *tc = suite_case(suite, "scans");
    tcase_add_loop_test(tc, a_scan_measures_every_holder_within_20_um_of_the_truth, 0, 50);
    tcase_add_test(tc, a_flag_that_is_missing_is_named_and_the_other_holders_are_remembered_where_they_were_seen);
    tcase_add_test(tc, without_the_holder_that_was_missing_the_others_are_moved_from_where_they_were_seen);
    tcase_add_test(tc, a_switch_that_comes_back_in_the_middle_of_a_flag_leaves_nothing_measured);
    tcase_add_test(tc,
                   dirt_that_grows_on_a_flag_from_scan_to_scan_is_seen_before_the_place_is_off_by_a_128th_of_the_flag);
    tcase_add_test(tc, a_holder_far_from_its_known_place_is_named_and_no_reason_to_stop);
    tcase_add_test(tc, a_holder_that_is_absent_is_not_expected_and_not_measured);
}

static void add_stops(Suite *suite)
{
    TCase *tc = suite_case(suite, "stops");
    tcase_add_test(tc, a_link_lost_in_a_drag_stops_everything_and_later_the_moves_are_made_all_the_same);
    tcase_add_test(tc, a_stop_in_a_drag_leaves_the_pin_in_and_the_holder_placed);
    tcase_add_test(tc, a_stop_with_undocking_drives_the_pin_out_in_the_end);
    tcase_add_test(tc, a_quick_stop_in_a_drag_makes_what_moved_unknown);
    tcase_add_test(tc, a_quick_stop_takes_a_shorter_way_than_a_stop);
    tcase_add_test(tc, a_rail_that_is_stopping_takes_no_task);
    tcase_add_loop_test(tc, whatever_stops_it_and_whenever_it_comes_to_rest_and_the_moves_can_be_made_after_it, 0,
                        STORY_STEPS);
    tcase_add_loop_test(tc, a_program_that_starts_again_at_any_moment_stops_what_runs_and_finds_all_holders, 0,
                        STORY_STEPS);
}

static void add_jog(Suite *suite)
{
    TCase *tc = suite_case(suite, "jog");
    for (int direction = -1; direction <= 1; direction += 2)
        tcase_add_loop_test(tc, a_jog_runs_only_while_it_is_wanted_and_stands_afterwards, direction, direction + 1);
    tcase_add_loop_test(tc, a_jog_whose_link_is_cut_stops_by_itself_without_the_watchdog_of_the_drive, 0, 20);
    tcase_add_test(tc, a_jog_ends_at_the_end_of_travel);
    tcase_add_test(tc, the_mode_ends_a_jog);
}

static void add_value(Suite *suite)
{
    TCase *tc = suite_case(suite, "value");
    tcase_add_test(tc, an_axis_beyond_the_first_one_stays_silent);
    tcase_add_test(tc, outputs_are_made_for_so_many_axes_and_no_more);
    tcase_add_loop_test(tc, a_copy_that_is_stepped_with_the_same_inputs_gives_the_same_outputs_byte_for_byte, 0, 24);
}

Suite *make_suite(void)
{
    Suite *suite = suite_create("motion");
    add_moves(suite);
    add_scans(suite);
    add_stops(suite);
    add_jog(suite);
    add_value(suite);
    return suite;
}
