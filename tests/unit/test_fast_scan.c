/* Scans that go fast between flags whose places are known: they are as exact as slow ones, and slow wherever something
 * is not as it was expected. By the examples' station files on the embedded machine. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw.h"
#include "example_rig.h"
#include "suite.h"

#define SMALL_SHEAR  "config/small-shear.cfg"
#define FRAMED_SHEAR "config/framed-shear.cfg"
#define HOLDERS      12
#define SLOW_MM      200            /* scan_speed_mm_per_s of both files */
#define SLOW_MOST    (SLOW_MM + 10) /* a position has whole micrometres, and a speed that settles swings a little */
#define FAST_MM      1000

static void fast_defaults(struct rig *rig, const char *path, int32_t fast_mm)
{
    example_defaults(rig, path);
    for (uint16_t r = 0; r < 2; r++)
        rig->config.carriage[r].scan_fast_um_per_s = fast_mm * MM;
}

/* ---- how fast the carriages truly go --------------------------------------------------------------------------- */

struct watch {
    double at_um[KR_RAILS_MAX];
    bool passes[KR_RAILS_MAX]; /* the probe is armed: the carriage is in a pass */
    int32_t mm_per_s[KR_RAILS_MAX];
    int32_t fastest[KR_RAILS_MAX];         /* in this pass, or in the last one */
    int32_t fastest_on_flag[KR_RAILS_MAX]; /* the same, while the switch was on a flag */
    int32_t most_on_flag[KR_RAILS_MAX];    /* the same, in all passes */
};

static int32_t greater(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

static void watch_rail(const struct rig *rig, struct watch *w, uint16_t r)
{
    double at_um = sim_machine_carriage_um(&rig->machine, r);
    double mm_per_s = 1000 * (at_um - w->at_um[r]) / (double)rig->period_us;
    bool passes = rig->out.axis[r].probe_function != 0;
    w->at_um[r] = at_um;
    w->mm_per_s[r] = (int32_t)(mm_per_s < 0 ? -mm_per_s : mm_per_s);
    if (passes && !w->passes[r])
        w->fastest[r] = w->fastest_on_flag[r] = 0;
    w->passes[r] = passes;
    if (!passes)
        return;
    w->fastest[r] = greater(w->fastest[r], w->mm_per_s[r]);
    if (rig->in.axis[r].inputs & KR_DI_FLAG)
        w->fastest_on_flag[r] = greater(w->fastest_on_flag[r], w->mm_per_s[r]);
    w->most_on_flag[r] = greater(w->most_on_flag[r], w->fastest_on_flag[r]);
}

static void watch(const struct rig *rig, void *of_witness)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        watch_rail(rig, of_witness, r);
}

static void begin(struct rig *rig, struct watch *w)
{
    memset(w, 0, sizeof *w);
    rig->witness = watch;
    rig->of_witness = w;
    rig_begin(rig);
}

/* Until the rail's carriage ends its scan, or the unit its job. */
static void until_scanned(struct rig *rig, uint16_t r)
{
    rig_until_carriage(rig, r, KR_CARRIAGE_SCANNING);
    while (rig_carriage_phase(rig, r) == KR_CARRIAGE_SCANNING)
        rig_cycle(rig);
}

static void expect_all_measured(const struct rig *rig)
{
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < HOLDERS; i++) {
            ck_assert_int_eq(rig_known(rig, r, i), KR_MEASURED);
            ck_assert_int_le(
                abs(rig_um(rig, KR_REG_HOLDER_POSITION, r, i) - sim_machine_holder_um(&rig->machine, r, i)), 20);
        }
}

/* ---- accuracy -------------------------------------------------------------------------------------------------- */

struct run {
    int64_t off_um, ms; /* sum of what places are off, and the time of the scan */
    int32_t worst_um;
    struct watch watch;
};

/* Switches, delays, play, encoders and drives by chance, as in test_scan; holders where chance puts them. */
static void draw_machine(struct rig *rig, struct draw *d, bool one_way)
{
    for (uint16_t r = 0; r < 2; r++) {
        struct sim_rail_config *m = &rig->sim_config.rail[r];
        struct kr_carriage_config *c = &rig->config.carriage[r];
        m->hysteresis_um = draw_between(d, 20, 800);
        m->latency_us = draw_between(d, 0, 1000);
        m->jitter_us = draw_between(d, 0, 20);
        m->backlash_um = draw_between(d, 0, 20);
        m->encoder_nm = draw_between(d, 500, 5000);
        m->lag_us = draw_between(d, 0, 4000);
        c->passes_apart_um = 1500;
        if (draw_chance(d, 50)) { /* the drive limits its jerk: a/j more for each way, at 1 m/s2 */
            m->jerk_um_per_s3 = 20000000;
            rig->config.geometry.rail[r].rounding_us += 50000;
        }
        c->scan_ways = one_way ? KR_SCAN_ONE_WAY : KR_SCAN_BOTH_WAYS;
        c->scan_bias_um = one_way ? m->hysteresis_um / 2 + m->backlash_um / 2 + SLOW_MM * m->latency_us / 1000 : 0;
        for (uint16_t i = 0; i < HOLDERS; i++) {
            rig->sim_config.rail[r].holder[i].start_um += draw_between(d, -20 * MM, 20 * MM);
            rig->book.holder[r][i].position_um = rig->sim_config.rail[r].holder[i].start_um;
        }
    }
}

static void second_scan(const char *path, int seed, int32_t fast_mm, bool one_way, struct run *run)
{
    struct rig rig;
    struct draw d = {(uint64_t)seed};
    fast_defaults(&rig, path, fast_mm);
    draw_machine(&rig, &d, one_way);
    begin(&rig, &run->watch);
    rig_scan_ms(&rig);
    run->ms = rig_scan_ms(&rig);
    run->off_um = run->worst_um = 0;
    expect_all_measured(&rig);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < HOLDERS; i++) {
            int32_t off_um =
                abs(rig_um(&rig, KR_REG_HOLDER_POSITION, r, i) - sim_machine_holder_um(&rig.machine, r, i));
            run->off_um += off_um;
            run->worst_um = off_um > run->worst_um ? off_um : run->worst_um;
        }
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}

/* _i: 0 both ways, 1 one way, 2 both ways with references. Bounds: the simulator draws each edge's jitter anew, up to
 * 4 um at scan speed, so two scans of one holder differ by that. */
START_TEST(fast_scans_are_as_exact_as_slow_ones_and_take_less_time)
{
    const char *path = _i == 2 ? FRAMED_SHEAR : SMALL_SHEAR;
    struct run slow, fast;
    int64_t slow_off_um = 0, fast_off_um = 0, slow_ms = 0, fast_ms = 0;
    int32_t slow_worst_um = 0, fast_worst_um = 0;
    enum { SEEDS = 25 };
    for (int seed = 1; seed <= SEEDS; seed++) {
        second_scan(path, seed, 0, _i == 1, &slow);
        second_scan(path, seed, FAST_MM, _i == 1, &fast);
        slow_off_um += slow.off_um;
        fast_off_um += fast.off_um;
        slow_ms += slow.ms;
        fast_ms += fast.ms;
        slow_worst_um = slow.worst_um > slow_worst_um ? slow.worst_um : slow_worst_um;
        fast_worst_um = fast.worst_um > fast_worst_um ? fast.worst_um : fast_worst_um;
        ck_assert_msg(fast.ms < slow.ms, "seed %d: fast %lld ms, slow %lld", seed, (long long)fast.ms,
                      (long long)slow.ms);
        for (uint16_t r = 0; r < 2; r++)
            ck_assert_msg(fast.watch.most_on_flag[r] <= SLOW_MOST, "seed %d: %d mm/s over a flag", seed,
                          (int)fast.watch.most_on_flag[r]);
    }
    int64_t n = SEEDS * 2 * HOLDERS;
    printf("%s%s: slow off by %.2f um in the mean, at most %d, %lld ms; fast %.2f, %d, %lld ms\n", path,
           _i == 1 ? ", one way" : "", (double)slow_off_um / (double)n, (int)slow_worst_um, (long long)slow_ms / SEEDS,
           (double)fast_off_um / (double)n, (int)fast_worst_um, (long long)fast_ms / SEEDS);
    ck_assert_int_le(fast_worst_um, slow_worst_um + 2);
    ck_assert_int_le(100 * fast_off_um, 105 * slow_off_um);
    ck_assert_int_le(100 * fast_ms, 90 * slow_ms);
}
END_TEST

static int32_t worst_off_um(const struct rig *rig)
{
    int32_t worst_um = 0;
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < HOLDERS; i++)
            worst_um = greater(
                worst_um, abs(rig_um(rig, KR_REG_HOLDER_POSITION, r, i) - sim_machine_holder_um(&rig->machine, r, i)));
    return worst_um;
}

/* The scan alone, without the ways to and from park: 77 % both ways, 44 % one way were reckoned beforehand. What places
 * may be off more is the jitter of the edges, as above. */
START_TEST(small_shears_scan_takes_four_fifths_both_ways_and_less_than_half_one_way)
{
    struct rig rig;
    struct watch w;
    int64_t us[4];
    int32_t off_um[4];
    for (int k = 0; k < 4; k++) {
        fast_defaults(&rig, SMALL_SHEAR, k & 1 ? FAST_MM : 0);
        for (uint16_t r = 0; r < 2; r++)
            rig.config.carriage[r].scan_ways = k & 2 ? KR_SCAN_ONE_WAY : KR_SCAN_BOTH_WAYS;
        begin(&rig, &w);
        for (uint16_t r = 1; k & 2 && r <= 2; r++) /* a person accepts what job 11 measures */
            ck_assert_int_eq(rig_switch(&rig, r, (struct kr_switch){0, 150}), KR_OK);
        rig_scan_ms(&rig);
        rig_start_job(&rig, KR_JOB_SCAN);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
        us[k] = -rig.time_us;
        while (rig_carriage_phase(&rig, 0) == KR_CARRIAGE_SCANNING)
            rig_cycle(&rig);
        us[k] += rig.time_us;
        ck_assert(!rig.false_measured);
        rig_until_complete(&rig);
        expect_all_measured(&rig);
        off_um[k] = worst_off_um(&rig);
        rig_end(&rig);
    }
    printf("small-shear's scan: %.2f s; fast %.2f s; one way %.2f s; one way and fast %.2f s\n", (double)us[0] / 1e6,
           (double)us[1] / 1e6, (double)us[2] / 1e6, (double)us[3] / 1e6);
    printf("the worst place is off by %d um; fast %d um; one way %d um; one way and fast %d um\n", (int)off_um[0],
           (int)off_um[1], (int)off_um[2], (int)off_um[3]);
    ck_assert_int_le(100 * us[1], 80 * us[0]);
    ck_assert_int_le(100 * us[3], 50 * us[0]);
    for (int k = 1; k < 4; k++)
        ck_assert_int_le(off_um[k], off_um[0] + 2);
}
END_TEST

/* _i: 0 the file asks for one way, and the bias is not known; 1 the bias is known, and the file does not ask */
START_TEST(a_scan_goes_one_way_only_where_the_bias_was_accepted_and_the_file_asks_for_it)
{
    struct kr_carriage_config carriage = {.scan_ways = _i == 0 ? KR_SCAN_ONE_WAY : KR_SCAN_BOTH_WAYS,
                                          .scan_bias_um = _i == 0 ? 0 : 150};
    ck_assert(kr_scan_goes_both_ways(&carriage, false));
    carriage.scan_ways = KR_SCAN_ONE_WAY;
    carriage.scan_bias_um = 150;
    ck_assert(!kr_scan_goes_both_ways(&carriage, false));
    ck_assert(kr_scan_goes_both_ways(&carriage, true));
}
END_TEST

/* ---- what makes a scan slow ------------------------------------------------------------------------------------ */

START_TEST(while_places_are_only_remembered_a_scan_is_slow)
{
    struct rig rig;
    struct watch w;
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    begin(&rig, &w);
    for (int k = 0; k < 2; k++) {
        rig_start_job(&rig, KR_JOB_SCAN);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
        while (sim_machine_carriage_um(&rig.machine, 0) < 1500 * MM)
            rig_cycle(&rig);
        if (k == 0)
            ck_assert_int_le(w.fastest[0], SLOW_MOST);
        else
            ck_assert_int_gt(w.fastest[0], SLOW_MM * 3 / 2);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    rig_end(&rig);
}
END_TEST

/* A changeover's scan that verifies comes behind moves: placed is known, too. */
START_TEST(the_scan_that_verifies_a_changeover_is_fast)
{
    struct rig rig;
    struct watch w;
    int32_t widths_um[] = {200 * MM, 150 * MM, 250 * MM, 100 * MM};
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    begin(&rig, &w);
    rig_order(&rig, 1, 740 * MM, widths_um, 4);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, KR_PHASE_VERIFY);
    until_scanned(&rig, 0);
    rig_ends_verified(&rig);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

/* A scan of both rails, known before, up to the alarm that a slow pass raises: the pass that said so was slow. */
static void held_by_a_slow_pass(struct rig *rig, const struct watch *w, enum kr_alarm_code code, uint16_t item)
{
    rig_start_job(rig, KR_JOB_SCAN);
    rig_ms_until_alarm(rig, code);
    ck_assert_uint_eq(rig_first_alarm(rig).rail, 1);
    ck_assert_uint_eq(rig_first_alarm(rig).item, item);
    ck_assert_int_le(w->fastest_on_flag[0], SLOW_MOST);
    rig_until_state(rig, KR_STATE_HELD);
    ck_assert(!rig->false_measured);
}

START_TEST(a_missing_flag_is_named_by_a_slow_pass_as_ever)
{
    struct rig rig;
    struct watch w;
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    begin(&rig, &w);
    rig_scan_ms(&rig);
    static const uint16_t holders[] = {0, 5, HOLDERS - 1};
    rig_break(&rig, 0, SIM_FLAG_MISSING, holders[_i], 0);
    held_by_a_slow_pass(&rig, &w, KR_ALARM_FLAG_MISSING, (uint16_t)(holders[_i] + 1));
    ck_assert_int_le(w.fastest[0], SLOW_MOST);
    rig_mend(&rig, 0, SIM_FLAG_MISSING, holders[_i]);
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    rig_until_complete(&rig);
    expect_all_measured(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_flag_that_is_lost_between_the_passes_makes_the_second_one_slow)
{
    struct rig rig;
    struct watch w;
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    begin(&rig, &w);
    rig_scan_ms(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    while (sim_machine_carriage_um(&rig.machine, 0) < 1500 * MM)
        rig_cycle(&rig);
    rig_break(&rig, 0, SIM_FLAG_MISSING, 7, 0);
    rig_ms_until_alarm(&rig, KR_ALARM_SCAN_UNTRUSTED);
    ck_assert_int_eq(rig_first_alarm(&rig).value, HOLDERS);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, HOLDERS - 1);
    ck_assert_int_le(w.fastest[0], SLOW_MOST);
    rig_end(&rig);
}
END_TEST

/* _i: which way it is moved: towards the carriage, which meets it while it is fast, or away from it */
START_TEST(a_holder_that_was_moved_by_30_mm_behind_the_gateways_back_is_named_and_measured)
{
    struct rig rig;
    struct watch w;
    int32_t by_um = _i == 0 ? -30 * MM : 30 * MM;
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    begin(&rig, &w);
    rig_scan_ms(&rig);
    rig.claim_um = 31 * MM; /* until the scan has seen it, nobody can know */
    rig_break(&rig, 0, SIM_MOVED_BY_HAND, 5, by_um);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_ms_until_alarm(&rig, KR_ALARM_FLAG_DISPLACED);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, 6);
    ck_assert_int_le(abs(rig_first_alarm(&rig).value - by_um), 20);
    ck_assert_int_le(w.fastest_on_flag[0], SLOW_MOST);
    ck_assert_int_le(w.fastest[0], SLOW_MOST);
    rig_until_complete(&rig);
    expect_all_measured(&rig);
    rig_end(&rig);
}
END_TEST

/* _i: where: between two flags, in a flag's zone, before the first flag and behind the last one */
START_TEST(a_foreign_flag_is_named_by_a_slow_pass_as_ever)
{
    static const int32_t at_mm[] = {60 + 5 * 120 + 60, 60 + 5 * 120 - 12, 40, 1540};
    static const uint16_t left_of_it[] = {6, 5, 0, HOLDERS};
    struct rig rig;
    struct watch w;
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    begin(&rig, &w);
    rig_scan_ms(&rig);
    rig_break(&rig, 0, SIM_FOREIGN_FLAG, 0, at_mm[_i] * MM);
    held_by_a_slow_pass(&rig, &w, KR_ALARM_FLAG_EXTRA, left_of_it[_i]);
    ck_assert_int_le(abs(rig_first_alarm(&rig).value - at_mm[_i] * MM), 20);
    rig_mend(&rig, 0, SIM_FOREIGN_FLAG, 0);
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    rig_until_complete(&rig);
    expect_all_measured(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_reference_that_is_missing_makes_scans_slow_until_it_is_seen_again)
{
    struct rig rig;
    struct watch w;
    fast_defaults(&rig, FRAMED_SHEAR, FAST_MM);
    begin(&rig, &w);
    rig_scan_ms(&rig);
    int64_t fast_ms = rig_scan_ms(&rig);
    rig_break(&rig, 0, SIM_REFERENCE_MISSING, 1, 0);
    int64_t again_ms = rig_scan_ms(&rig),
            missing_ms = rig_scan_ms(&rig); /* the first one goes back to where it began */
    ck_assert_int_gt(missing_ms, fast_ms + 2000);
    ck_assert_int_gt(again_ms, missing_ms + 1000);
    expect_all_measured(&rig);
    rig_mend(&rig, 0, SIM_REFERENCE_MISSING, 1);
    rig_scan_ms(&rig);
    ck_assert_int_lt(llabs(rig_scan_ms(&rig) - fast_ms), 200);
    rig_end(&rig);
}
END_TEST

static void guards(struct rig *rig, bool closed)
{
    if (closed)
        rig->in.permissives |= KR_PERMIT_GUARDS_CLOSED;
    else
        rig->in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
}

/* On a machine whose scans are allowed behind open guards. _i: 0 open before the scan, 1 in a fast piece */
START_TEST(behind_open_guards_a_scan_is_slow)
{
    struct rig rig;
    struct watch w;
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    rig.config.need_scan &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    begin(&rig, &w);
    rig_scan_ms(&rig);
    if (_i == 0)
        guards(&rig, false);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    while (sim_machine_carriage_um(&rig.machine, 0) < 700 * MM || (_i == 1 && w.mm_per_s[0] < SLOW_MM * 3 / 2))
        rig_cycle(&rig);
    guards(&rig, false);
    rig_run_ms(&rig, 400); /* the hand-over of a set-point, and v/a */
    if (_i == 1)
        w.fastest[0] = 0;
    while (sim_machine_carriage_um(&rig.machine, 0) < 1500 * MM)
        rig_cycle(&rig);
    ck_assert_int_le(w.fastest[0], SLOW_MOST);
    rig_until_complete(&rig);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

START_TEST(at_reduced_speed_a_scan_is_never_faster_than_that)
{
    struct rig rig;
    struct watch w;
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    begin(&rig, &w);
    rig_scan_ms(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_SCAN, 0, 0, KR_SPEED_REDUCED, 0}), KR_OK);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    while (sim_machine_carriage_um(&rig.machine, 0) < 1500 * MM)
        rig_cycle(&rig);
    ck_assert_int_le(w.fastest[0], rig.config.carriage[0].setup_speed_um_per_s / MM + 5);
    rig_end(&rig);
}
END_TEST

/* ---- a set-point that comes late ------------------------------------------------------------------------------- */

static int64_t late_until_us;
static struct rig *late_rig;

/* From when the carriage is fast, for 300 ms, once. */
static bool is_late(const struct rig *rig)
{
    static int32_t last_um;
    int32_t by_um = rig->in.axis[0].position_um - last_um;
    last_um = rig->in.axis[0].position_um;
    if (abs(by_um) > 3 * MM && rig->in.axis[0].position_um > 700 * MM && late_until_us == 0)
        late_until_us = rig->time_us + 300000;
    return rig->time_us < late_until_us;
}

/* The drive's acknowledgement is not heard. */
static void hides_acknowledgement(struct rig *rig)
{
    if (is_late(rig))
        rig->in.axis[0].statusword &= (uint16_t)~KR_SW_SETPOINT_ACK;
}

/* The drive does not hear the set-point: behind the station's step. */
static void watch_and_withhold(const struct rig *rig, void *of_witness)
{
    watch(rig, of_witness);
    if (is_late(rig))
        late_rig->out.axis[0].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
}

/* _i: 0 the answer is late, 1 the command is */
START_TEST(a_late_set_point_leaves_no_flag_to_be_passed_fast_and_no_place_wrong)
{
    struct rig rig;
    struct watch w;
    fast_defaults(&rig, SMALL_SHEAR, FAST_MM);
    begin(&rig, &w);
    rig_scan_ms(&rig);
    late_until_us = 0;
    late_rig = &rig;
    if (_i == 0)
        rig.meddle = hides_acknowledgement;
    else
        rig.witness = watch_and_withhold;
    rig_start_job(&rig, KR_JOB_SCAN);
    until_scanned(&rig, 0);
    ck_assert_int_ne(late_until_us, 0);
    ck_assert_int_le(w.fastest_on_flag[0], SLOW_MOST);
    rig_until_complete(&rig);
    expect_all_measured(&rig);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("fast scan");
    TCase *tc = suite_case(suite, "fast scan");
    tcase_add_loop_test(tc, fast_scans_are_as_exact_as_slow_ones_and_take_less_time, 0, 3);
    tcase_add_test(tc, small_shears_scan_takes_four_fifths_both_ways_and_less_than_half_one_way);
    tcase_add_loop_test(tc, a_scan_goes_one_way_only_where_the_bias_was_accepted_and_the_file_asks_for_it, 0, 2);
    tc = suite_case(suite, "slow");
    tcase_add_test(tc, while_places_are_only_remembered_a_scan_is_slow);
    tcase_add_test(tc, the_scan_that_verifies_a_changeover_is_fast);
    tcase_add_loop_test(tc, a_missing_flag_is_named_by_a_slow_pass_as_ever, 0, 3);
    tcase_add_test(tc, a_flag_that_is_lost_between_the_passes_makes_the_second_one_slow);
    tcase_add_loop_test(tc, a_holder_that_was_moved_by_30_mm_behind_the_gateways_back_is_named_and_measured, 0, 2);
    tcase_add_loop_test(tc, a_foreign_flag_is_named_by_a_slow_pass_as_ever, 0, 4);
    tcase_add_test(tc, a_reference_that_is_missing_makes_scans_slow_until_it_is_seen_again);
    tcase_add_loop_test(tc, behind_open_guards_a_scan_is_slow, 0, 2);
    tcase_add_test(tc, at_reduced_speed_a_scan_is_never_faster_than_that);
    tcase_add_loop_test(tc, a_late_set_point_leaves_no_flag_to_be_passed_fast_and_no_place_wrong, 0, 2);
    return suite;
}
