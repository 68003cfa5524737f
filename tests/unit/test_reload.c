/* Tests of a configuration that is read again while the gateway runs: which settings are taken over, and when. */
#include <stdlib.h>

#include "rig.h"
#include "suite.h"

START_TEST(geometry_is_taken_in_stopped_and_idle_only)
{
    struct rig rig;
    rig_begin_small(&rig);
    struct kr_station_config other = rig.config;
    other.geometry.web_centre_um += 5 * MM;
    ck_assert(kr_station_reconfigure(rig.station, &other, KR_CHANGE_GEOMETRY));
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    ck_assert(!kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_GEOMETRY));
    rig_until_complete(&rig);
    ck_assert(!kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_GEOMETRY));
    ck_assert_int_eq(rig_i32(&rig, KR_REG_CUT_LINE, 0, 0), 105 * MM); /* of the other centre */
    rig_reset(&rig);
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_GEOMETRY));
    rig_cycle(&rig);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_CUT_LINE, 0, 0), 100 * MM);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_REMEMBERED);
    rig_end(&rig);
}
END_TEST

START_TEST(other_numbers_of_rails_or_holders_are_not_taken)
{
    struct rig rig;
    rig_begin_small(&rig);
    struct kr_station_config other = rig.config;
    other.geometry.n_rails = 3;
    ck_assert(!kr_station_reconfigure(rig.station, &other, KR_CHANGE_GEOMETRY));
    other = rig.config;
    other.geometry.rail[1].n_holders = 6;
    ck_assert(!kr_station_reconfigure(rig.station, &other, KR_CHANGE_GEOMETRY));
    rig_cycle(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_COUNT, 0, 0), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_HOLDERS, 1, 0), 5);
    rig_end(&rig);
}
END_TEST

/* The times of a move are settings that a carriage in motion is driven by: another one is not another geometry. */
START_TEST(a_live_setting_is_taken_in_complete_and_costs_no_verification)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig.config.carriage[0].settle_ms += 10;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    rig_cycle(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    rig_reset(&rig);
    rig.config.carriage[0].settle_ms += 10;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    rig_cycle(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_int_ne(rig_known(&rig, 0, 0), KR_REMEMBERED);
    rig_end(&rig);
}
END_TEST

START_TEST(a_stronger_change_than_the_state_allows_changes_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(kr_station_takes(rig.station), KR_CHANGE_GEOMETRY);
    ck_assert(!kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_RESTART));
    ck_assert(!kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_SEED));
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    ck_assert_int_eq(kr_station_takes(rig.station), KR_CHANGE_UNVERIFY);
    struct kr_station_config other = rig.config;
    other.carriage[0].park_um = 300 * MM;
    ck_assert(!kr_station_reconfigure(rig.station, &other, KR_CHANGE_GEOMETRY));
    other = rig.config;
    other.heartbeat_limit_ms = 2500;
    ck_assert(kr_station_reconfigure(rig.station, &other, KR_CHANGE_UNVERIFY));
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(sim_machine_carriage_um(&rig.machine, 0) + 60 * MM), 1000);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("reload");
    TCase *tc = suite_case(suite, "reload");
    tcase_add_test(tc, geometry_is_taken_in_stopped_and_idle_only);
    tcase_add_test(tc, other_numbers_of_rails_or_holders_are_not_taken);
    tcase_add_test(tc, a_live_setting_is_taken_in_complete_and_costs_no_verification);
    tcase_add_test(tc, a_stronger_change_than_the_state_allows_changes_nothing);
    return suite;
}
