/* Compares the duration that is told for a changeover with the duration that it takes, for the stations of the examples
 * on the embedded machine. The limit, 2 % over 100 random changeovers, is common practice, no published source. */
#include <stdio.h>
#include <stdlib.h>

#include "draw.h"
#include "example_rig.h"
#include "suite.h"

/* A random order that the station accepts, staged. */
static void stage(struct rig *rig, struct draw *d, uint32_t number)
{
    int32_t widths_um[KR_SLITS_MAX], widest_um = (int32_t)(rig->config.geometry.web_max_nm / 1000);
    int32_t trim_um = (int32_t)((rig->config.geometry.trim_min_nm + rig->config.geometry.trim_max_nm) / 2000);
    for (int tries = 0; tries < 1000; tries++) {
        uint16_t most = rig->config.geometry.rail[0].n_holders - 1, n = (uint16_t)draw_between(d, 1, most);
        int32_t each_um = (widest_um * draw_between(d, 40, 100) / 100 - 2 * trim_um) / n, sum_um = 0;
        for (uint16_t i = 0; i < n; i++)
            sum_um += widths_um[i] = each_um * draw_between(d, 60, 100) / 100;
        rig_order(rig, number, sum_um + 2 * trim_um, widths_um, n);
        if (rig_request(rig, KR_REQUEST_STAGE) == KR_OK)
            return;
    }
    ck_abort_msg("order %u: none of 1000 is accepted", (unsigned)number);
}

struct sums {
    int64_t told_ms, recorded_ms, actual_ms; /* at the verdict; with the record */
};

static void change_over(struct rig *rig, struct sums *sums)
{
    sums->told_ms += rig_i32(rig, KR_REG_VERDICT_VERIFIED, 0, 0);
    rig_start_job(rig, KR_JOB_CHANGEOVER);
    rig_until_complete(rig);
    ck_assert(rig_status_has(rig, KR_STATUS_VERIFIED));
    sums->recorded_ms += rig_i32(rig, KR_REG_RECORD_TOLD, 0, 0);
    sums->actual_ms += rig_i32(rig, KR_REG_RECORD_TOTAL, 0, 0);
    rig_reset(rig);
}

static void assert_within_2_percent(const char *what, int64_t told_ms, int64_t actual_ms)
{
    ck_assert_msg(llabs(told_ms - actual_ms) * 100 <= 2 * actual_ms, "%s: %lld ms were told, and it took %lld", what,
                  (long long)told_ms, (long long)actual_ms);
}

static const struct {
    const char *path;
    int changeovers;
} examples[] = {{"config/small-shear.cfg", 100},
                {"config/razor.cfg", 100},
                {"config/score.cfg", 100},
                {"config/wide-shear.cfg", 20}};

START_TEST(over_100_random_changeovers_what_is_told_until_verified_is_within_2_percent_of_what_it_takes)
{
    struct rig rig;
    struct draw d = {(uint64_t)_i + 1};
    struct sums sums = {0};
    example_defaults(&rig, examples[_i].path);
    rig_begin(&rig);
    for (int k = 0; k < examples[_i].changeovers; k++) {
        stage(&rig, &d, (uint32_t)k + 1);
        change_over(&rig, &sums);
    }
    int n = examples[_i].changeovers;
    printf("%s: %d changeovers, told %lld ms in the mean, with the first plan %lld, took %lld\n", examples[_i].path, n,
           (long long)sums.told_ms / n, (long long)sums.recorded_ms / n, (long long)sums.actual_ms / n);
    assert_within_2_percent("at the verdict", sums.told_ms, sums.actual_ms);
    assert_within_2_percent("with the first plan", sums.recorded_ms, sums.actual_ms);
    rig_end(&rig);
}
END_TEST

/* 10 m/s3: at 1 m/s2 each way takes 100 ms more, of which the file says nothing until the record was read. */
#define JERK_UM_PER_S3 10000000

static void learn_rounding(struct rig *rig)
{
    const struct kr_record *record = &kr_station_durable(rig->station)->record;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        rig->config.geometry.rail[r].rounding_us = record->rail[r].rounding_ms * 1000 / record->rail[r].ways;
}

/* First as the file says, then with what the record of one changeover says of the rounding. */
START_TEST(of_drives_that_limit_their_jerk_the_record_gives_the_constant_that_was_missing)
{
    struct rig rig;
    for (int learned = 0; learned < 2; learned++) {
        struct draw d = {5};
        struct sums sums = {0};
        int32_t rounding_us[KR_RAILS_MAX] = {0};
        for (uint16_t r = 0; learned && r < KR_RAILS_MAX; r++)
            rounding_us[r] = rig.config.geometry.rail[r].rounding_us;
        if (learned)
            rig_end(&rig);
        example_defaults(&rig, examples[0].path);
        for (uint16_t r = 0; r < rig.config.geometry.n_rails; r++) {
            rig.sim_config.rail[r].jerk_um_per_s3 = JERK_UM_PER_S3;
            if (learned)
                rig.config.geometry.rail[r].rounding_us = rounding_us[r];
        }
        rig_begin(&rig);
        for (int k = 0; k < (learned ? 30 : 1); k++) {
            stage(&rig, &d, (uint32_t)k + 1);
            change_over(&rig, &sums);
        }
        printf("a drive of %d um/s3: told %lld ms, took %lld\n", JERK_UM_PER_S3, (long long)sums.told_ms,
               (long long)sums.actual_ms);
        if (learned) {
            assert_within_2_percent("at the verdict", sums.told_ms, sums.actual_ms);
            assert_within_2_percent("with the first plan", sums.recorded_ms, sums.actual_ms);
        } else {
            ck_assert_int_gt((sums.actual_ms - sums.told_ms) * 100, 2 * sums.actual_ms);
            learn_rounding(&rig);
        }
    }
    rig_end(&rig);
}
END_TEST

START_TEST(a_scan_that_is_due_before_the_moves_is_told)
{
    struct rig rig;
    struct draw d = {7};
    struct sums sums = {0};
    example_defaults(&rig, examples[0].path);
    rig_begin(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_SCAN_DUE));
    stage(&rig, &d, 1);
    int32_t both_ms = rig_i32(&rig, KR_REG_VERDICT_SCANS, 0, 0);
    change_over(&rig, &sums);
    assert_within_2_percent("with a scan first", sums.told_ms, sums.actual_ms);
    assert_within_2_percent("with the first plan", sums.recorded_ms, sums.actual_ms);
    stage(&rig, &d, 2);
    int32_t one_ms = rig_i32(&rig, KR_REG_VERDICT_SCANS, 0, 0);
    ck_assert_int_gt(one_ms, both_ms / 2 - 1500);
    ck_assert_int_lt(one_ms, both_ms / 2 + 1500);
    rig_end(&rig);
}
END_TEST

START_TEST(where_no_scan_and_no_move_is_told_only_the_drives_and_the_way_to_park_are_left)
{
    struct rig rig;
    static struct kr_plan_request request;
    static struct kr_plan plan;
    example_defaults(&rig, examples[0].path);
    request.geometry = rig.config.geometry;
    for (uint16_t r = 0; r < 2; r++)
        request.rail[r].carriage_um = rig.config.carriage[r].park_um;
    struct kr_told told = kr_station_tell(&rig.config, &request, &plan, (struct kr_telling){.moves = true});
    ck_assert_int_eq(told.verified_us, 1000LL * rig.config.carriage[0].enable_ms);
    ck_assert_int_eq(told.scans_us, 0);
    request.rail[1].carriage_um += 500 * MM;
    const struct kr_rail_geometry *rail = &rig.config.geometry.rail[1];
    int64_t back_us = kr_way_time_us(rail, 500 * MM, rail->empty);
    ck_assert_int_eq(kr_station_tell(&rig.config, &request, &plan, (struct kr_telling){.moves = true}).verified_us,
                     told.verified_us + back_us);
    ck_assert_int_eq(
        kr_station_tell(&rig.config, &request, &plan, (struct kr_telling){.from_park = true, .moves = true})
            .verified_us,
        told.verified_us);
}
END_TEST

/* _i: rails move together, or one after the other */
START_TEST(the_slowest_rail_counts_and_the_sum_where_rails_move_one_after_the_other)
{
    struct rig rig;
    static struct kr_plan_request request;
    static struct kr_plan plan;
    example_defaults(&rig, examples[0].path);
    rig.config.geometry.rails_together = _i == 0;
    rig.config.carriage[1].enable_ms = rig.config.carriage[0].enable_ms + 400;
    request.geometry = rig.config.geometry;
    struct kr_telling scan = {.from_park = true, .scans_first = true, .verifies = true};
    struct kr_told told = kr_station_tell(&rig.config, &request, &plan, scan);
    int32_t at_um = rig.config.carriage[0].park_um;
    int64_t scan_us = kr_scan_time_us(&rig.config.geometry.rail[0], &rig.config.carriage[0], false, NULL, &at_um);
    const struct kr_rail_geometry *rail = &rig.config.geometry.rail[0];
    int64_t back_us = kr_way_time_us(rail, at_um - rig.config.carriage[0].park_um, rail->empty);
    int64_t enable_us = 1000LL * rig.config.carriage[0].enable_ms;
    ck_assert_int_eq(told.scans_us, (_i + 1) * scan_us); /* both rails are as long */
    ck_assert_int_eq(told.verified_us, (_i + 1) * (scan_us + back_us) + (_i == 0 ? 0 : enable_us) + enable_us + 400000);
}
END_TEST

/* By hand, at 1 m/s and 1 m/s2: 1 m just reaches the speed, d/v + v/a; a quarter of it does not, 2 sqrt(d/a). */
START_TEST(a_way_takes_its_profile_its_set_point_and_what_rounds_it_off)
{
    struct kr_rail_geometry rail = {.empty = {1000000, 1000000}, .setpoint_us = 30000, .rounding_us = 45000};
    ck_assert_int_eq(kr_way_time_us(&rail, 1000000, rail.empty), 2000000 + 75000);
    ck_assert_int_eq(kr_way_time_us(&rail, -1000000, rail.empty), 2000000 + 75000);
    ck_assert_int_eq(kr_way_time_us(&rail, 250000, rail.empty), 1000000 + 75000); /* 2 sqrt(0.25) s */
}
END_TEST

/* The machine of that example takes what its file says. _i is 1: a docking that needs a second try does not count. */
START_TEST(the_record_has_what_dockings_and_ways_took)
{
    struct rig rig;
    struct draw d = {11};
    example_defaults(&rig, examples[0].path);
    rig_begin(&rig);
    stage(&rig, &d, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    if (_i == 1) {
        rig_until_carriage(&rig, 0, KR_CARRIAGE_TRAVELLING);
        rig_break(&rig, 0, SIM_PIN_STUCK_OUT, 0, 0);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_BACKING);
        rig_mend(&rig, 0, SIM_PIN_STUCK_OUT, 0);
    }
    rig_until_complete(&rig);
    for (uint16_t r = 0; r < 2; r++) {
        const struct kr_record_rail *rail = &kr_station_durable(rig.station)->record.rail[r];
        ck_assert_int_eq(rail->docks, rail->moves - (_i == 1 && r == 0 ? 1 : 0));
        ck_assert_uint_eq(rail->undocks, rail->moves);
        ck_assert_int_ge(rail->ways, 2 * rail->moves + 5); /* two scans there and back, and the way to park */
        ck_assert_int_eq(rail->dock_ms, 800 * rail->docks);
        ck_assert_int_eq(rail->undock_ms, 800 * rail->undocks);
        ck_assert_int_eq(rail->setpoint_ms, 20 * rail->ways);
        ck_assert_int_le(abs(rail->rounding_ms - 15 * rail->ways), 2 * rail->ways); /* seen in whole cycles */
    }
    rig_end(&rig);
}
END_TEST

/* ---- times that a person accepts ------------------------------------------------------------------------------- */

static void times_are(const struct rig *rig, uint16_t r, struct kr_rail_times is, struct kr_rail_times before,
                      enum kr_frame_origin origin)
{
    ck_assert_int_eq(rig_u16(rig, KR_REG_TIMES_ORIGIN, 0, r), origin);
    ck_assert_int_eq(rig_i32(rig, KR_REG_DOCK_TIME, 0, r), is.dock_us);
    ck_assert_int_eq(rig_i32(rig, KR_REG_UNDOCK_TIME, 0, r), is.undock_us);
    ck_assert_int_eq(rig_i32(rig, KR_REG_SETPOINT_TIME, 0, r), is.setpoint_us);
    ck_assert_int_eq(rig_i32(rig, KR_REG_ROUNDING_TIME, 0, r), is.rounding_us);
    ck_assert_int_eq(rig_i32(rig, KR_REG_DOCK_TIME_BEFORE, 0, r), before.dock_us);
    ck_assert_int_eq(rig_i32(rig, KR_REG_UNDOCK_TIME_BEFORE, 0, r), before.undock_us);
    ck_assert_int_eq(rig_i32(rig, KR_REG_SETPOINT_TIME_BEFORE, 0, r), before.setpoint_us);
    ck_assert_int_eq(rig_i32(rig, KR_REG_ROUNDING_TIME_BEFORE, 0, r), before.rounding_us);
}

static struct kr_rail_times of_file(const struct rig *rig, uint16_t r)
{
    const struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
    return (struct kr_rail_times){g->dock_us, g->undock_us, g->setpoint_us, g->rounding_us};
}

static enum kr_code times_back(struct rig *rig, uint16_t rail)
{
    return rig_edit(rig, KR_EDIT_TIMES_BACK, (struct edit_values){.rail = rail});
}

static const struct kr_rail_times none;

START_TEST(the_file_seeds_planned_times_then_the_book_counts_and_they_can_be_taken_back)
{
    static const struct kr_rail_times first = {900100, 910200, 25300, 16400}, then = {1000, 60000000, 0, 10000000};
    struct rig rig;
    rig_begin_small(&rig);
    struct kr_rail_times seeded = of_file(&rig, 0), other = of_file(&rig, 1);
    times_are(&rig, 0, seeded, none, KR_FRAME_FROM_FILE);
    ck_assert_int_eq(times_back(&rig, 1), KR_NO_TIMES_BEFORE);
    ck_assert_int_eq(rig_times(&rig, 1, first), KR_OK);
    times_are(&rig, 0, first, seeded, KR_FRAME_FROM_PERSON);
    times_are(&rig, 1, other, none, KR_FRAME_FROM_FILE);
    rig.config.geometry.rail[0].dock_us += 5000; /* another file has no say, by a restart or by a reload */
    rig_restart(&rig);
    rig_to_idle(&rig);
    times_are(&rig, 0, first, seeded, KR_FRAME_FROM_PERSON);
    ck_assert_int_eq(rig_times(&rig, 1, then), KR_OK);
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    rig_run_ms(&rig, 100);
    times_are(&rig, 0, then, first, KR_FRAME_FROM_PERSON);
    ck_assert_int_eq(times_back(&rig, 1), KR_OK);
    times_are(&rig, 0, first, then, KR_FRAME_FROM_PERSON);
    ck_assert_int_eq(times_back(&rig, 1), KR_OK);
    times_are(&rig, 0, then, first, KR_FRAME_FROM_PERSON);
    ck_assert_int_eq(times_back(&rig, 2), KR_NO_TIMES_BEFORE);
    rig_end(&rig);
}
END_TEST

static const struct kr_rail_times good_times = {800000, 800000, 20000, 15000};
static const struct {
    struct kr_rail_times asked;
    enum kr_code code;
    int32_t value, limit;
} beyond[] = {
    {{KR_DOCK_MIN_US - 1, 800000, 20000, 15000}, KR_DOCK_TIME, KR_DOCK_MIN_US - 1, KR_DOCK_MIN_US},
    {{KR_DOCK_MAX_US + 1, 800000, 20000, 15000}, KR_DOCK_TIME, KR_DOCK_MAX_US + 1, KR_DOCK_MAX_US},
    {{800000, 0, 20000, 15000}, KR_UNDOCK_TIME, 0, KR_DOCK_MIN_US},
    {{800000, INT32_MAX, 20000, 15000}, KR_UNDOCK_TIME, INT32_MAX, KR_DOCK_MAX_US},
    {{800000, 800000, -1, 15000}, KR_SETPOINT_TIME, -1, 0},
    {{800000, 800000, KR_TRAVEL_MAX_US + 1, 15000}, KR_SETPOINT_TIME, KR_TRAVEL_MAX_US + 1, KR_TRAVEL_MAX_US},
    {{800000, 800000, 20000, INT32_MIN}, KR_ROUNDING_TIME, INT32_MIN, 0},
    {{800000, 800000, 20000, KR_TRAVEL_MAX_US + 1}, KR_ROUNDING_TIME, KR_TRAVEL_MAX_US + 1, KR_TRAVEL_MAX_US},
};

/* _i: the row of beyond[] */
START_TEST(a_planned_time_that_cannot_be_is_refused_with_its_name_value_and_limit)
{
    struct rig rig;
    rig_begin_small(&rig);
    struct kr_rail_times seeded = of_file(&rig, 0);
    ck_assert_int_eq(rig_times(&rig, 1, beyond[_i].asked), beyond[_i].code);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_VALUE, 0, 0), beyond[_i].value);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_LIMIT, 0, 0), beyond[_i].limit);
    ck_assert_int_eq(rig_times(&rig, 3, good_times), KR_UNKNOWN_RAIL);
    times_are(&rig, 0, seeded, none, KR_FRAME_FROM_FILE);
    rig_end(&rig);
}
END_TEST

START_TEST(where_a_scan_goes_fast_the_set_point_takes_at_least_two_cycles)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    rig.config.carriage[0].scan_fast_um_per_s = rig.config.carriage[0].scan_speed_um_per_s + 1000;
    rig_begin(&rig);
    struct kr_rail_times is = good_times;
    is.setpoint_us = 2 * rig.config.period_us - 1;
    ck_assert_int_eq(rig_times(&rig, 1, is), KR_SETPOINT_TIME);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_LIMIT, 0, 0), 2 * rig.config.period_us);
    ck_assert_int_eq(rig_times(&rig, 2, is), KR_OK);
    is.setpoint_us = 2 * rig.config.period_us;
    ck_assert_int_eq(rig_times(&rig, 1, is), KR_OK);
    rig_end(&rig);
}
END_TEST

START_TEST(planned_times_that_the_book_cannot_store_are_not_set)
{
    struct rig rig;
    struct draw d = {5};
    example_defaults(&rig, examples[0].path);
    rig_begin(&rig);
    struct kr_rail_times seeded = of_file(&rig, 0), slower = seeded;
    slower.dock_us += 2000000;
    stage(&rig, &d, 1);
    int32_t told_ms = rig_i32(&rig, KR_REG_VERDICT_VERIFIED, 0, 0);
    rig.book_cycles = 20;
    rig.book_failures = 1;
    ck_assert_int_eq(rig_times(&rig, 1, slower), KR_NOT_STORED);
    times_are(&rig, 0, seeded, none, KR_FRAME_FROM_FILE);
    ck_assert_int_eq(rig.book.times[0].dock_us, seeded.dock_us);
    d = (struct draw){5};
    stage(&rig, &d, 2); /* the same order is told the same time */
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VERIFIED, 0, 0), told_ms);
    ck_assert_int_eq(rig_times(&rig, 1, slower), KR_OK);
    d = (struct draw){5};
    stage(&rig, &d, 3);
    ck_assert_int_gt(rig_i32(&rig, KR_REG_VERDICT_VERIFIED, 0, 0), told_ms + 1999);
    rig_end(&rig);
}
END_TEST

START_TEST(planned_times_are_set_outside_jobs_only_and_undo_no_verification)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    ck_assert_int_eq(rig_times(&rig, 1, good_times), KR_NOT_IN_THIS_STATE);
    rig_ends_verified(&rig);
    rig_reset(&rig);
    ck_assert_int_eq(rig_times(&rig, 1, good_times), KR_OK);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_MEASURED);
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_DOCK_TIME, 0, 0), good_times.dock_us);
    rig_end(&rig);
}
END_TEST

/* What the machine of the example takes to dock and undock, 150 ms and 120 ms more than its file says. */
static void slow_machine(struct rig *rig)
{
    example_defaults(rig, examples[0].path);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        rig->sim_config.rail[r].pin_in_ms += 150;
        rig->sim_config.rail[r].pin_out_ms += 120;
    }
}

/* As a person does who reads the report of this changeover. */
static void accept_what_it_took(struct rig *rig)
{
    const struct kr_record *record = &kr_station_durable(rig->station)->record;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        const struct kr_record_rail *took = &record->rail[r];
        ck_assert_int_eq(rig_times(rig, (uint16_t)(r + 1),
                                   (struct kr_rail_times){
                                       took->dock_ms * 1000 / took->docks, took->undock_ms * 1000 / took->undocks,
                                       took->setpoint_ms * 1000 / took->ways, took->rounding_ms * 1000 / took->ways}),
                         KR_OK);
    }
}

START_TEST(orders_after_acceptance_are_told_what_the_machine_truly_takes)
{
    struct rig rig;
    struct draw d = {9};
    struct sums as_the_file = {0}, accepted = {0}, after_restart = {0};
    slow_machine(&rig);
    rig_begin(&rig);
    stage(&rig, &d, 1);
    change_over(&rig, &as_the_file);
    ck_assert_int_gt((as_the_file.actual_ms - as_the_file.told_ms) * 100, 2 * as_the_file.actual_ms);
    accept_what_it_took(&rig);
    for (int k = 0; k < 10; k++) {
        stage(&rig, &d, (uint32_t)k + 2);
        change_over(&rig, &accepted);
    }
    assert_within_2_percent("at the verdict", accepted.told_ms, accepted.actual_ms);
    assert_within_2_percent("with the first plan", accepted.recorded_ms, accepted.actual_ms);
    rig_restart(&rig);
    rig_to_idle(&rig);
    stage(&rig, &d, 20);
    change_over(&rig, &after_restart);
    assert_within_2_percent("after a restart", after_restart.told_ms, after_restart.actual_ms);
    rig_end(&rig);
}
END_TEST

static void add_accepted(Suite *suite)
{
    TCase *tc = suite_case(suite, "times that a person accepts");
    tcase_add_test(tc, the_file_seeds_planned_times_then_the_book_counts_and_they_can_be_taken_back);
    tcase_add_loop_test(tc, a_planned_time_that_cannot_be_is_refused_with_its_name_value_and_limit, 0,
                        (int)(sizeof beyond / sizeof beyond[0]));
    tcase_add_test(tc, where_a_scan_goes_fast_the_set_point_takes_at_least_two_cycles);
    tcase_add_test(tc, planned_times_that_the_book_cannot_store_are_not_set);
    tcase_add_test(tc, planned_times_are_set_outside_jobs_only_and_undo_no_verification);
    tcase_add_test(tc, orders_after_acceptance_are_told_what_the_machine_truly_takes);
}

Suite *make_suite(void)
{
    Suite *suite = suite_create("told");
    TCase *tc = suite_case(suite, "told");
    tcase_add_loop_test(tc,
                        over_100_random_changeovers_what_is_told_until_verified_is_within_2_percent_of_what_it_takes, 0,
                        (int)(sizeof examples / sizeof examples[0]));
    tcase_add_test(tc, of_drives_that_limit_their_jerk_the_record_gives_the_constant_that_was_missing);
    tcase_add_test(tc, a_scan_that_is_due_before_the_moves_is_told);
    tcase_add_test(tc, where_no_scan_and_no_move_is_told_only_the_drives_and_the_way_to_park_are_left);
    tcase_add_loop_test(tc, the_slowest_rail_counts_and_the_sum_where_rails_move_one_after_the_other, 0, 2);
    tcase_add_loop_test(tc, the_record_has_what_dockings_and_ways_took, 0, 2);
    tcase_add_test(tc, a_way_takes_its_profile_its_set_point_and_what_rounds_it_off);
    add_accepted(suite);
    return suite;
}
