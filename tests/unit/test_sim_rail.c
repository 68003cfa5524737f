/* Tests of docking, dragging and releasing, and of mistakes of the carriage; it must not matter how time is divided. */
#include <stdlib.h>
#include <string.h>

#include "sim_rig.h"
#include "suite.h"

/* The carriage enabled and standing off_um beside holder 1 (true centre 600 mm). */
static void rig_beside(struct sim_rig *r, int32_t off_um)
{
    sim_rig_start(r);
    ck_assert(sim_rig_enable(r, 0, KR_MODE_PROFILE_POSITION));
    ck_assert(sim_rig_move(r, 0, 600000 + off_um));
}

static struct sim_rig rig_docked(void)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    rig_beside(&r, 0);
    ck_assert(sim_rig_dock(&r, 0));
    return r;
}

/* ---- docking ------------------------------------------------------------------------------------------- */

START_TEST(a_holder_is_dragged_to_its_target_and_stays_there)
{
    struct sim_rig r = rig_docked();
    ck_assert(sim_rig_move(&r, 0, 650000));
    ck_assert(sim_rig_undock(&r, 0));
    ck_assert(sim_rig_move(&r, 0, 300000));
    ck_assert_int_eq(sim_rig_holder_um(&r, 1), 650000);
    ck_assert_int_eq(sim_rig_holder_um(&r, 0), 500000);
    ck_assert_int_eq(sim_rig_holder_um(&r, 2), 700000);
    ck_assert_ptr_null(sim_machine_collision(&r.m));
    ck_assert_ptr_null(sim_machine_dragged(&r.m));
    ck_assert_int_eq(sim_machine_least_gap_um(&r.m), 30000); /* 50 mm apart, bodies of 20 mm */
}
END_TEST

START_TEST(the_pin_seats_at_the_edge_of_its_capture_range_and_not_beyond)
{
    struct sim_rig r;
    for (int32_t off_um = 1500; off_um <= 1501; off_um++) {
        sim_rig_defaults(&r, 1, 3);
        rig_beside(&r, off_um);
        r.out[0].outputs = KR_DO_PIN_IN;
        ck_assert_int_eq(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_IN, 1000), off_um == 1500);
        ck_assert_uint_eq(r.in[0].inputs & KR_DI_PIN_OUT, 0);
    }
}
END_TEST

START_TEST(a_pin_that_struck_comes_out_again_and_a_second_try_nearer_by_seats)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    rig_beside(&r, 3000);
    r.out[0].outputs = KR_DO_PIN_IN;
    ck_assert(!sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_IN, 1000));
    r.out[0].outputs = KR_DO_PIN_OUT;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_OUT, 1000));
    ck_assert(sim_rig_move(&r, 0, 600000));
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert_ptr_null(sim_machine_dragged(&r.m));
}
END_TEST

START_TEST(pin_brake_and_clamp_take_their_time)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].clamp_common = 1;
    rig_beside(&r, 0);
    r.period_us = 1000;
    const struct sim_rail_config *c = &r.config.rail[0];
    const struct {
        uint16_t outputs, inputs;
        int32_t ms;
    } row[] = {
        {KR_DO_PIN_IN, KR_DI_PIN_IN, c->pin_in_ms},
        {KR_DO_PIN_IN | KR_DO_BRAKE_OPEN, KR_DI_BRAKE_OPEN, c->brake_open_ms},
        {KR_DO_PIN_IN | KR_DO_BRAKE_OPEN | KR_DO_CLAMP_OPEN, KR_DI_CLAMP_OPEN, c->clamp_open_ms},
        {KR_DO_PIN_IN | KR_DO_BRAKE_OPEN, KR_DI_CLAMP_CLOSED, c->clamp_close_ms},
        {KR_DO_PIN_IN, KR_DI_BRAKE_CLOSED, c->brake_close_ms},
        {KR_DO_PIN_OUT, KR_DI_PIN_OUT, c->pin_out_ms},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        r.out[0].outputs = row[i].outputs;
        sim_rig_run_ms(&r, row[i].ms - 1);
        ck_assert_msg((r.in[0].inputs & row[i].inputs) == 0, "row %zu too early", i);
        sim_rig_cycle(&r);
        ck_assert_msg((r.in[0].inputs & row[i].inputs) != 0, "row %zu too late", i);
    }
}
END_TEST

START_TEST(a_pin_without_a_command_stays_where_it_is)
{
    struct sim_rig r = rig_docked();
    r.out[0].outputs = KR_DO_BRAKE_OPEN;
    sim_rig_run_ms(&r, 1000);
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_PIN_IN, KR_DI_PIN_IN);
}
END_TEST

START_TEST(misalignment_stays_until_the_brake_opens_and_is_then_taken_up)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    rig_beside(&r, 1000);
    r.out[0].outputs = KR_DO_PIN_IN;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_IN, 1000));
    ck_assert_int_eq(sim_rig_holder_um(&r, 1), 600000);
    r.out[0].outputs |= KR_DO_BRAKE_OPEN;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_BRAKE_OPEN, 1000));
    ck_assert_int_eq(sim_rig_holder_um(&r, 1), 601000);
}
END_TEST

START_TEST(a_release_shifts_the_holder_within_its_slip_and_each_release_by_its_own_draw)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].slip_um = 50;
    rig_beside(&r, 0);
    int32_t shift_um[8], different = 0;
    for (int i = 0; i < 8; i++) {
        ck_assert(sim_rig_dock(&r, 0));
        ck_assert_int_eq(sim_rig_holder_um(&r, 1), 600000); /* the free holder is on the pin again */
        ck_assert(sim_rig_undock(&r, 0));
        shift_um[i] = sim_rig_holder_um(&r, 1) - 600000;
        ck_assert_int_le(abs(shift_um[i]), 50);
        different += shift_um[i] != shift_um[0];
    }
    ck_assert_int_ge(different, 4);
}
END_TEST

/* ---- a holder that is held ----------------------------------------------------------------------------- */

START_TEST(a_braked_holder_stops_the_carriage_and_the_drive_trips)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    rig_beside(&r, 0);
    r.out[0].outputs = KR_DO_PIN_IN;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_IN, 1000));
    ck_assert(sim_rig_setpoint(&r, 0, 650000));
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_FAULT, 1000));
    ck_assert_uint_eq(r.in[0].error_code, SIM_ERROR_FOLLOWING);
    ck_assert_int_eq(sim_rig_holder_um(&r, 1), 600000);
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 600000 + r.config.rail[0].pin_give_um);
}
END_TEST

START_TEST(a_seized_holder_does_not_come_free_with_its_brake)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].holder[1].seized = true;
    rig_beside(&r, 0);
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_rig_setpoint(&r, 0, 650000));
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_FAULT, 1000));
    ck_assert_int_eq(sim_rig_holder_um(&r, 1), 600000);
}
END_TEST

START_TEST(a_brake_that_closes_on_the_way_holds_the_holder_and_trips_the_drive)
{
    struct sim_rig r = rig_docked();
    ck_assert(sim_rig_setpoint(&r, 0, 650000));
    sim_rig_run_ms(&r, 150);
    r.out[0].outputs = KR_DO_PIN_IN;
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_FAULT, 1000));
    int32_t held_um = sim_rig_holder_um(&r, 1);
    ck_assert_int_gt(held_um, 600000);
    ck_assert_int_lt(held_um, 650000);
    ck_assert_int_le(abs(sim_machine_carriage_um(&r.m, 0) - held_um), r.config.rail[0].pin_give_um);
}
END_TEST

START_TEST(the_common_clamp_frees_all_holders_and_shifts_them_when_it_closes)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].clamp_common = 1;
    r.config.rail[0].clamp_shift_um = 100;
    rig_beside(&r, 0);
    r.out[0].outputs = KR_DO_CLAMP_OPEN;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_CLAMP_OPEN, 1000));
    for (uint16_t i = 0; i < 3; i++)
        ck_assert_int_eq(sim_rig_holder_um(&r, i), 500000 + 100000 * i);
    r.out[0].outputs = 0;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_CLAMP_CLOSED, 1000));
    for (uint16_t i = 0; i < 3; i++) {
        ck_assert_int_ne(sim_rig_holder_um(&r, i), 500000 + 100000 * i);
        ck_assert_int_le(abs(sim_rig_holder_um(&r, i) - 500000 - 100000 * i), 100);
    }
}
END_TEST

/* ---- what must never happen ---------------------------------------------------------------------------- */

START_TEST(a_holder_dragged_into_its_neighbour_is_a_collision_named_by_place_and_time)
{
    struct sim_rig r = rig_docked();
    ck_assert(sim_rig_setpoint(&r, 0, 690000)); /* contact is at 680 mm */
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_FAULT, 2000));
    const struct sim_incident *c = sim_machine_collision(&r.m);
    ck_assert_ptr_nonnull(c);
    ck_assert_uint_eq(c->rail_index, 0);
    ck_assert_uint_eq(c->holder_index, 1);
    ck_assert_uint_eq(c->other_index, 2);
    ck_assert_int_lt(c->gap_um, 0);
    ck_assert_int_gt(c->at_us, 0);
    ck_assert_int_le(c->at_us, sim_machine_now_us(&r.m));
    ck_assert_int_eq(sim_rig_holder_um(&r, 1), 680000);
    ck_assert_int_eq(sim_rig_holder_um(&r, 2), 700000);
    ck_assert_int_lt(sim_machine_least_gap_um(&r.m), 0);
    ck_assert_uint_eq(r.in[0].error_code, SIM_ERROR_FOLLOWING);
}
END_TEST

START_TEST(bodies_may_touch_but_not_overlap)
{
    struct sim_rig r = rig_docked();
    ck_assert(sim_rig_move(&r, 0, 680000));
    ck_assert_ptr_null(sim_machine_collision(&r.m));
    ck_assert_int_eq(sim_machine_least_gap_um(&r.m), 0);
}
END_TEST

START_TEST(the_carriage_passes_holders_freely_with_its_pin_out)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    rig_beside(&r, 0);
    ck_assert(sim_rig_move(&r, 0, 1000000));
    ck_assert(sim_rig_move(&r, 0, 0));
    ck_assert_ptr_null(sim_machine_collision(&r.m));
    ck_assert_ptr_null(sim_machine_dragged(&r.m));
    for (uint16_t i = 0; i < 3; i++)
        ck_assert_int_eq(sim_rig_holder_um(&r, i), 500000 + 100000 * i);
}
END_TEST

START_TEST(a_limit_input_is_on_from_its_switch_to_the_hard_stop)
{
    static const struct {
        int32_t at_um;
        uint16_t on;
    } row[] = {{-41000, KR_DI_LIMIT_LOW}, {-39000, 0}, {1000000, 0}, {3039000, 0}, {3041000, KR_DI_LIMIT_HIGH}};
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].backlash_um = 0;
    rig_beside(&r, 0);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        ck_assert(sim_rig_move(&r, 0, row[i].at_um));
        ck_assert_uint_eq(r.in[0].inputs & (KR_DI_LIMIT_LOW | KR_DI_LIMIT_HIGH), row[i].on);
    }
}
END_TEST

START_TEST(a_pin_half_out_drags_the_next_holder_along_and_that_is_recorded)
{
    struct sim_rig r = rig_docked();
    ck_assert(sim_rig_undock(&r, 0));
    r.out[0].outputs = KR_DO_PIN_IN; /* a little of its way back in: no more proof of either */
    sim_rig_run_ms(&r, 60);
    r.out[0].outputs = 0;
    ck_assert_uint_eq(r.in[0].inputs & (KR_DI_PIN_IN | KR_DI_PIN_OUT), 0);
    ck_assert(sim_rig_setpoint(&r, 0, 620000));
    sim_rig_run_ms(&r, 1000);
    const struct sim_incident *d = sim_machine_dragged(&r.m);
    ck_assert_ptr_nonnull(d);
    ck_assert_uint_eq(d->holder_index, 1);
    ck_assert_int_gt(sim_rig_holder_um(&r, 1), 615000);
}
END_TEST

START_TEST(an_absent_holder_takes_no_room_and_cannot_be_docked)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].holder[1].absent = true;
    rig_beside(&r, 0);
    r.out[0].outputs = KR_DO_PIN_IN;
    ck_assert(!sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_IN, 1000));
    r.out[0].outputs = KR_DO_PIN_OUT;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_OUT, 1000));
    ck_assert(sim_rig_move(&r, 0, 500000));
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_rig_move(&r, 0, 670000)); /* through where the absent one would stand */
    ck_assert_ptr_null(sim_machine_collision(&r.m));
}
END_TEST

/* ---- backlash ------------------------------------------------------------------------------------------ */

START_TEST(backlash_shows_as_half_its_width_behind_the_travel)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 0);
    r.config.rail[0].backlash_um = 40;
    sim_rig_start(&r);
    ck_assert(sim_rig_enable(&r, 0, KR_MODE_PROFILE_POSITION));
    ck_assert(sim_rig_move(&r, 0, 500000));
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 499980);
    ck_assert(sim_rig_move(&r, 0, 600000));
    ck_assert(sim_rig_move(&r, 0, 500000));
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 500020);
    ck_assert_int_eq(r.in[0].position_um, 500000);
}
END_TEST

/* ---- time ---------------------------------------------------------------------------------------------- */

/* A script of outputs that scans, docks, drags and releases with every error switched on; it changes on multiples
 * of 100 ms only, so that any slicing that divides 100 ms can play it. */
static void play(struct sim_rig *r, int32_t period_us)
{
    sim_rig_defaults(r, 2, 4);
    for (int i = 0; i < 2; i++) {
        struct sim_rail_config *c = &r->config.rail[i];
        struct sim_rail_config d;
        sim_rail_defaults(&d);
        c->backlash_um = d.backlash_um;
        c->slip_um = d.slip_um;
        c->jitter_us = d.jitter_us;
        c->carriage_um = 590000;
    }
    r->period_us = period_us;
    sim_rig_start(r);
    static const struct {
        uint16_t controlword, outputs;
        int32_t target_um;
    } step[] = {
        {0x06, 0, 0},
        {0x07, 0, 0},
        {0x0F, 0, 0},
        {0x1F, KR_DO_PIN_OUT, 600000},
        {0x0F, KR_DO_PIN_OUT, 600000},
        {0x0F, KR_DO_PIN_IN, 600000},
        {0x0F, KR_DO_PIN_IN, 600000},
        {0x0F, KR_DO_PIN_IN | KR_DO_BRAKE_OPEN, 600000},
        {0x1F, KR_DO_PIN_IN | KR_DO_BRAKE_OPEN, 655000},
        {0x0F, KR_DO_PIN_IN | KR_DO_BRAKE_OPEN, 655000},
        {0x0F, KR_DO_PIN_IN | KR_DO_BRAKE_OPEN, 655000},
        {0x0F, KR_DO_PIN_IN | KR_DO_BRAKE_OPEN, 655000},
        {0x0F, KR_DO_PIN_IN, 655000},
        {0x0F, KR_DO_PIN_OUT, 655000},
        {0x0F, KR_DO_PIN_OUT, 655000},
        {0x1F, KR_DO_PIN_OUT, 300000},
        {0x0F, KR_DO_PIN_OUT, 300000},
    };
    for (size_t i = 0; i < sizeof step / sizeof step[0]; i++) {
        for (int rail = 0; rail < 2; rail++) {
            r->out[rail].controlword = step[i].controlword;
            r->out[rail].outputs = step[i].outputs;
            r->out[rail].target_um = step[i].target_um + rail * 5000;
            r->out[rail].mode = KR_MODE_PROFILE_POSITION;
            r->out[rail].probe_function = KR_PROBE_ENABLE | KR_PROBE_CONTINUOUS | KR_PROBE_RISING | KR_PROBE_FALLING;
        }
        sim_rig_run_ms(r, 100);
    }
    sim_rig_run_ms(r, 1500); /* back over holder 0 */
}

static bool same_axis(const struct sim_axis *a, const struct sim_axis *b)
{
    struct sim_axis x = *a, y = *b;
    /* how often outputs came, and their serials, depend on the slicing; nothing else may */
    x.drive.taken_serial = y.drive.taken_serial = 0;
    x.drive.command.serial = y.drive.command.serial = 0;
    x.drive.silent_us = y.drive.silent_us = 0;
    return memcmp(&x, &y, sizeof x) == 0;
}

START_TEST(the_same_outputs_give_the_same_machine_bit_for_bit_however_time_is_sliced)
{
    static struct sim_rig reference, other;
    static const int32_t period_us[] = {1000, 2000, 5000, 20000, 50000, 100000};
    play(&reference, 10000);
    ck_assert_int_gt(sim_rig_holder_um(&reference, 1), 650000); /* the script did drag it */
    ck_assert_uint_ge(reference.in[0].rise_count, 2);
    for (size_t i = 0; i < sizeof period_us / sizeof period_us[0]; i++) {
        play(&other, period_us[i]);
        for (int rail = 0; rail < 2; rail++)
            ck_assert_msg(same_axis(&reference.m.axis[rail], &other.m.axis[rail]), "rail %d differs with %d us", rail,
                          period_us[i]);
        ck_assert_int_eq(reference.in[1].rise_um, other.in[1].rise_um);
        ck_assert_int_eq(reference.in[1].position_um, other.in[1].position_um);
    }
}
END_TEST

START_TEST(time_that_makes_no_whole_substep_is_kept_for_the_next)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 0);
    sim_rig_start(&r);
    sim_machine_run(&r.m, 999);
    ck_assert_int_eq(r.m.now_us, 0);
    sim_machine_run(&r.m, 1);
    ck_assert_int_eq(r.m.now_us, 1000);
    ck_assert_int_eq(sim_machine_now_us(&r.m), 1000);
}
END_TEST

START_TEST(a_copy_of_the_machine_is_a_checkpoint)
{
    struct sim_rig r = rig_docked();
    ck_assert(sim_rig_setpoint(&r, 0, 650000));
    struct sim_rig copy = r;
    sim_rig_run_ms(&r, 500);
    sim_rig_run_ms(&copy, 500);
    ck_assert_int_eq(memcmp(&r.m, &copy.m, sizeof r.m), 0);
}
END_TEST

/* ---- the config ---------------------------------------------------------------------------------------- */

START_TEST(an_impossible_config_is_refused_by_name_and_limit)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    ck_assert_ptr_null(sim_config_check(&r.config).what);
    r.config.rail[0].holder[2].start_um = 619999;
    struct sim_mistake m = sim_config_check(&r.config);
    ck_assert_str_eq(m.what, "start_um");
    ck_assert_uint_eq(m.rail, 1);
    ck_assert_uint_eq(m.holder, 3);
    ck_assert_int_eq(m.value, 619999);
    ck_assert_int_eq(m.least, 620000);
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].jerk_um_per_s3 = 2 * r.config.rail[0].accel_max_um_per_s2; /* 500 ms in all */
    ck_assert_ptr_null(sim_config_check(&r.config).what);
    r.config.rail[0].jerk_um_per_s3--;
    m = sim_config_check(&r.config);
    ck_assert_str_eq(m.what, "jerk_um_per_s3");
    ck_assert_int_eq(m.least, 2 * r.config.rail[0].accel_max_um_per_s2);
}
END_TEST

START_TEST(every_parameter_is_refused_outside_its_limits_and_taken_at_them)
{
    struct sim_rig r;
    for (size_t i = 0; sim_parameter_at(i); i++) {
        const struct sim_parameter *p = sim_parameter_at(i);
        ck_assert_ptr_eq(sim_parameter_named(p->name), p);
        for (int side = 0; side < 2; side++) {
            sim_rig_defaults(&r, 1, 0);
            sim_parameter_set(p, &r.config.rail[0], side == 0 ? p->least - 1 : p->most + 1);
            const char *what = sim_config_check(&r.config).what;
            ck_assert_msg(what && strcmp(what, p->name) == 0, "%s was not refused beyond its limit", p->name);
        }
        sim_rig_defaults(&r, 1, 0);
        ck_assert_int_eq(sim_parameter_get(p, &r.config.rail[0]) >= p->least, 1);
        ck_assert(p->meaning[0] != 0);
        ck_assert(p->source[0] != 0);
    }
    ck_assert_ptr_null(sim_parameter_named("no_such_parameter"));
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("simulated rail");
    TCase *tc = suite_case(suite, "simulated rail");
    tcase_add_test(tc, a_holder_is_dragged_to_its_target_and_stays_there);
    tcase_add_test(tc, the_pin_seats_at_the_edge_of_its_capture_range_and_not_beyond);
    tcase_add_test(tc, a_pin_that_struck_comes_out_again_and_a_second_try_nearer_by_seats);
    tcase_add_test(tc, pin_brake_and_clamp_take_their_time);
    tcase_add_test(tc, a_pin_without_a_command_stays_where_it_is);
    tcase_add_test(tc, misalignment_stays_until_the_brake_opens_and_is_then_taken_up);
    tcase_add_test(tc, a_release_shifts_the_holder_within_its_slip_and_each_release_by_its_own_draw);
    tcase_add_test(tc, a_braked_holder_stops_the_carriage_and_the_drive_trips);
    tcase_add_test(tc, a_seized_holder_does_not_come_free_with_its_brake);
    tcase_add_test(tc, a_brake_that_closes_on_the_way_holds_the_holder_and_trips_the_drive);
    tcase_add_test(tc, the_common_clamp_frees_all_holders_and_shifts_them_when_it_closes);
    tcase_add_test(tc, a_holder_dragged_into_its_neighbour_is_a_collision_named_by_place_and_time);
    tcase_add_test(tc, bodies_may_touch_but_not_overlap);
    tcase_add_test(tc, the_carriage_passes_holders_freely_with_its_pin_out);
    tcase_add_test(tc, a_limit_input_is_on_from_its_switch_to_the_hard_stop);
    tcase_add_test(tc, a_pin_half_out_drags_the_next_holder_along_and_that_is_recorded);
    tcase_add_test(tc, an_absent_holder_takes_no_room_and_cannot_be_docked);
    tcase_add_test(tc, backlash_shows_as_half_its_width_behind_the_travel);
    tcase_add_test(tc, the_same_outputs_give_the_same_machine_bit_for_bit_however_time_is_sliced);
    tcase_add_test(tc, time_that_makes_no_whole_substep_is_kept_for_the_next);
    tcase_add_test(tc, a_copy_of_the_machine_is_a_checkpoint);
    tcase_add_test(tc, an_impossible_config_is_refused_by_name_and_limit);
    tcase_add_test(tc, every_parameter_is_refused_outside_its_limits_and_taken_at_them);
    return suite;
}
