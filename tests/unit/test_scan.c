/* What a scan makes of the flags, over the whole spread of switches and speeds that the config allows for. */
#include <check.h>
#include <stdlib.h>

#include "rig.h"

#define WITHIN_UM 20

static int32_t draw(uint32_t *seed, int32_t least, int32_t most)
{
    *seed = *seed * 1664525u + 1013904223u; /* Numerical Recipes' */
    return least + (int32_t)((*seed >> 8) % (uint32_t)(most - least + 1));
}

/* Hysteresis to a tenth of the flag, delays and scatter of proximity switches behind a drive's fast input: common practice,
 * no published source. */
static void spread(struct rig *rig, uint32_t *seed, bool one_way)
{
    for (uint16_t r = 0; r < 2; r++) {
        struct kr_carriage_config *c = &rig->config.carriage[r];
        struct sim_rail_config *m = &rig->sim_config.rail[r];
        c->scan_speed_um_per_s = draw(seed, 20 * MM, 200 * MM);
        c->passes_apart_um = 1500; /* the widest switch, at the greatest speed and delay */
        m->hysteresis_um = draw(seed, 20, 800);
        m->latency_us = draw(seed, 0, 1000);
        m->jitter_us = draw(seed, 0, 20);
        m->backlash_um = draw(seed, 0, 20);
        m->encoder_nm = draw(seed, 500, 5000);
        if (one_way)
            c->scan_bias_um = m->hysteresis_um / 2 + m->backlash_um / 2 +
                              (int32_t)((int64_t)c->scan_speed_um_per_s * m->latency_us / 1000000);
    }
}

/* _i: the seed; odd ones go one way, with the bias that a calibration would find. The holders stand where the machine
 * has them, some of them pushed a little. */
START_TEST(centres_are_found_within_20_um_over_the_spread_of_switches_and_speeds)
{
    struct rig rig;
    uint32_t seed = 977u * (uint32_t)(_i + 1);
    rig_small_ordinary(&rig, 2);
    spread(&rig, &seed, _i % 2 == 1);
    rig.claim_um = WITHIN_UM;
    rig_start(&rig);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < SMALL_HOLDERS; i++)
            rig_break(&rig, r, SIM_MOVED_BY_HAND, i, draw(&seed, -2500, 2500));
    rig_to_idle(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_PLAN);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < SMALL_HOLDERS; i++) {
            int32_t off_um =
                rig_um(&rig, KR_REG_HOLDER_POSITION, r, i) - sim_machine_holder_um(&rig.machine, r, i);
            ck_assert_uint_eq(rig_known(&rig, r, i), KR_MEASURED);
            ck_assert_msg(abs(off_um) <= WITHIN_UM, "seed %u: rail %d holder %d is off by %d um",
                          977u * (unsigned)(_i + 1), r + 1, i + 1, (int)off_um);
        }
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
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

int main(void)
{
    Suite *suite = suite_create("scan");
    TCase *tc = tcase_create("accuracy");
    tcase_set_timeout(tc, 60);
    tcase_add_loop_test(tc, centres_are_found_within_20_um_over_the_spread_of_switches_and_speeds, 0, 60);
    tcase_add_loop_test(tc, the_switch_may_stand_beside_the_pin_on_either_side, 0, 2);
    suite_add_tcase(suite, tc);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
