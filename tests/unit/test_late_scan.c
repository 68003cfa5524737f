/* Scans whose drives answer late, but not so late that motion stops. By the station file of the wired example, and with
 * a wire in front of the simulated machine on which single exchanges take long. In virtual time. */
#include <math.h>
#include <stdio.h>

#include "draw.h"
#include "example_rig.h"
#include "suite.h"

#define WIRED_SHEAR "config/wired-shear.cfg"
#define HOLDERS     12
#define SLOW_MM     200 /* scan_speed_mm_per_s of the file */
#define SLOW_MOST   (SLOW_MM + 10)
#define FAST_MM     1000
#define MOST_MS     430 /* motion stops when an answer is older than 450 ms: stop_ms of the file */
#define FLAG_MM     8
#define NEAR        5 /* 60 mm behind this holder stands the next one, so that at scan speed the gap takes 260 ms */

/* ---- the wire -------------------------------------------------------------------------------------------------- */

/* One exchange at a time. While a late one runs, the station sees the image of the exchange before, and what it wants
 * to send waits. Either the request is late, so that the drive obeys what it was sent before; or the answer is. */
struct exchange {
    int64_t image_us, until_us; /* when the drive took the image that the station has; when the late exchange ends */
    struct kr_axis_in in;
    struct kr_axis_out out; /* what the drive obeys */
};

struct wire {
    struct rig *rig;
    struct draw draw;
    int32_t late_least_ms, late_most_ms; /* of the late exchanges; 0: none is late */
    int32_t every_ms;                    /* from the end of one to the next, in the mean */
    int64_t next_us[KR_RAILS_MAX];
    struct exchange exchange[KR_RAILS_MAX];
    uint32_t n_late;
    double at_um; /* of the first rail's carriage */
    int32_t mm_per_s, fastest;
};

static bool is_under_way(const struct wire *w, uint16_t r)
{
    return w->rig->time_us < w->exchange[r].until_us;
}

/* Called before the station's step. */
static void answers(struct rig *rig)
{
    struct wire *w = rig->of_meddle;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        struct exchange *e = &w->exchange[r];
        if (!is_under_way(w, r)) {
            e->in = rig->in.axis[r];
            e->image_us = rig->time_us;
        }
        rig->in.axis[r] = e->in;
        rig->in.axis[r].age_ms = (int32_t)((rig->time_us - e->image_us) / 1000);
    }
}

static bool passes(const struct rig *rig, uint16_t r)
{
    return rig->out.axis[r].probe_function != 0;
}

/* Makes the exchange late that now begins. */
static void delay(struct wire *w, uint16_t r, int32_t late_ms, bool request)
{
    struct exchange *e = &w->exchange[r];
    e->until_us = w->rig->time_us + 1000LL * late_ms;
    if (!request)
        e->out = w->rig->out.axis[r];
    w->n_late++;
}

static void delay_by_chance(struct wire *w, uint16_t r)
{
    if (w->late_most_ms == 0 || !passes(w->rig, r) || w->rig->time_us < w->next_us[r])
        return;
    int32_t late_ms = draw_between(&w->draw, w->late_least_ms, w->late_most_ms);
    delay(w, r, late_ms, draw_chance(&w->draw, 50));
    w->next_us[r] = w->exchange[r].until_us + 1000LL * draw_between(&w->draw, w->every_ms / 2, w->every_ms * 3 / 2);
}

static void look(struct wire *w)
{
    double at_um = sim_machine_carriage_um(&w->rig->machine, 0);
    w->mm_per_s = (int32_t)(1000 * fabs(at_um - w->at_um) / (double)w->rig->period_us);
    w->fastest = w->mm_per_s > w->fastest ? w->mm_per_s : w->fastest;
    w->at_um = at_um;
}

/* Called behind the station's step. */
static void requests(const struct rig *rig, void *of_witness)
{
    struct wire *w = of_witness;
    look(w);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        if (!is_under_way(w, r)) {
            delay_by_chance(w, r);
            if (!is_under_way(w, r))
                w->exchange[r].out = rig->out.axis[r];
        }
        w->rig->out.axis[r] = w->exchange[r].out;
    }
}

static void defaults(struct rig *rig, struct wire *w, int32_t fast_mm, int seed)
{
    example_defaults(rig, WIRED_SHEAR);
    for (uint16_t r = 0; r < 2; r++)
        rig->config.carriage[r].scan_fast_um_per_s = fast_mm * MM;
    *w = (struct wire){.rig = rig, .draw = {(uint64_t)seed}};
    rig->meddle = answers;
    rig->of_meddle = w;
    rig->witness = requests;
    rig->of_witness = w;
}

static void begin(struct rig *rig, struct wire *w, int32_t fast_mm, bool counted)
{
    defaults(rig, w, fast_mm, 1);
    struct sim_holder_config *holder = rig->sim_config.rail[0].holder;
    holder[NEAR + 1].start_um = holder[NEAR].start_um + 60 * MM;
    rig->book.holder[0][NEAR + 1].position_um = holder[NEAR + 1].start_um;
    rig->config.carriage[0].edges_counted[KR_SWITCH_OF_HOLDERS] &= counted;
    rig_begin(rig);
}

static void expect_all_measured(const struct rig *rig)
{
    ck_assert_uint_eq(rig_alarm_count(rig), 0);
    ck_assert(!rig->false_measured);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < HOLDERS; i++)
            ck_assert_int_eq(rig_known(rig, r, i), KR_MEASURED);
}

/* Runs until the first rail's carriage goes through a place in the growing pass. */
static void until_at(struct rig *rig, int32_t at_um)
{
    rig_start_job(rig, KR_JOB_SCAN);
    rig_until_carriage(rig, 0, KR_CARRIAGE_SCANNING);
    while (!passes(rig, 0) || sim_machine_carriage_um(&rig->machine, 0) < at_um)
        rig_cycle(rig);
}

/* Where the flag of the holder NEAR begins. */
static int32_t flag_um(const struct rig *rig)
{
    return sim_machine_holder_um(&rig->machine, 0, NEAR) - FLAG_MM * MM / 2;
}

static void held_by_lost_edges(struct rig *rig)
{
    rig_until_state(rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_first_alarm(rig).code, KR_ALARM_EDGES_LOST);
    ck_assert_uint_eq(rig_first_alarm(rig).rail, 1);
    ck_assert(!rig->false_measured);
}

/* ---- one answer that is late ----------------------------------------------------------------------------------- */

/* At scan speed a flag takes 40 ms. From the flag's beginning: where the late exchange begins, and how long it takes.
 * Its answer brings: both edges of the flag; its end and the beginning of the next one. */
static const struct {
    int32_t behind_um, late_ms;
} two_edges[] = {{-2 * MM, 100}, {2 * MM, 310}};

/* _i: which two edges, and whether the scan goes fast between flags; the answer is late, or the request */
START_TEST(two_edges_that_one_late_answer_brings_are_both_taken)
{
    struct rig rig;
    struct wire w;
    begin(&rig, &w, _i & 2 ? FAST_MM : 0, true);
    rig_scan_ms(&rig);
    until_at(&rig, flag_um(&rig) + two_edges[_i & 1].behind_um);
    delay(&w, 0, two_edges[_i & 1].late_ms, _i & 4);
    rig_until_complete(&rig);
    ck_assert_uint_eq(w.n_late, 1);
    expect_all_measured(&rig);
    rig_end(&rig);
}
END_TEST

/* _i: whether the scan goes fast between flags. Two flags are over before the answer comes: the drive holds the edges
 * of the second one alone. A slow pass says so; before it, a fast one is repeated. */
START_TEST(two_flags_that_one_late_answer_hides_are_lost_edges)
{
    struct rig rig;
    struct wire w;
    begin(&rig, &w, _i ? FAST_MM : 0, true);
    rig_scan_ms(&rig);
    for (int pass = 0; pass <= _i; pass++) {
        if (pass == 0)
            rig_start_job(&rig, KR_JOB_SCAN);
        while (!passes(&rig, 0) || w.mm_per_s > SLOW_MOST ||
               sim_machine_carriage_um(&rig.machine, 0) < flag_um(&rig) - 2 * MM ||
               sim_machine_carriage_um(&rig.machine, 0) > flag_um(&rig))
            rig_cycle(&rig);
        delay(&w, 0, 400, false);
        rig_run_ms(&rig, 500);
        ck_assert_int_eq(kr_station_state(rig.station) != KR_STATE_EXECUTE, pass == _i);
    }
    held_by_lost_edges(&rig);
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    rig_until_complete(&rig);
    expect_all_measured(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(of_a_drive_that_does_not_count_edges_two_in_one_answer_are_lost_edges)
{
    struct rig rig;
    struct wire w;
    begin(&rig, &w, 0, false);
    rig_scan_ms(&rig);
    until_at(&rig, flag_um(&rig) + two_edges[_i].behind_um);
    delay(&w, 0, two_edges[_i].late_ms, false);
    held_by_lost_edges(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- a switch that bounces ------------------------------------------------------------------------------------- */

/* _i: bounces at each edge, from 1 */
START_TEST(a_switch_that_bounces_loses_edges_as_ever)
{
    struct rig rig;
    struct wire w;
    begin(&rig, &w, 0, true);
    rig_scan_ms(&rig);
    rig_break(&rig, 0, SIM_SWITCH_BOUNCES, 0, _i);
    rig_start_job(&rig, KR_JOB_SCAN);
    held_by_lost_edges(&rig);
    rig_end(&rig);
}
END_TEST

struct pulse {
    int32_t from_um, width_um; /* width: from the first to the second edge, in the direction of travel */
    bool rise_first;
    bool seen;
};

static struct pulse pulse;

/* The drive has counted one edge more of each kind. */
static void pulses(struct rig *rig)
{
    struct kr_axis_in *in = &rig->in.axis[0];
    if (!pulse.seen && (!passes(rig, 0) || in->position_um < pulse.from_um))
        return;
    if (!pulse.seen) {
        in->rise_um = in->position_um - (pulse.rise_first ? pulse.width_um : 0);
        in->fall_um = in->position_um - (pulse.rise_first ? 0 : pulse.width_um);
    }
    pulse.seen = true;
    in->rise_count++;
    in->fall_count++;
}

/* _i: a pulse that is narrower or wider than a flag, one that ends before it begins; a dip on a flag */
START_TEST(two_edges_in_one_answer_that_are_no_flag_and_no_gap_are_lost_edges)
{
    static const struct pulse wrong[] = {
        {.from_um = -20 * MM, .width_um = 2 * MM, .rise_first = true},
        {.from_um = -20 * MM, .width_um = 14 * MM, .rise_first = true},
        {.from_um = -20 * MM, .width_um = -8 * MM, .rise_first = true},
        {.from_um = 4 * MM, .width_um = 2 * MM, .rise_first = false},
        {.from_um = 4 * MM, .width_um = -2 * MM, .rise_first = false},
    };
    struct rig rig;
    struct wire w;
    begin(&rig, &w, 0, true);
    rig_scan_ms(&rig);
    pulse = wrong[_i];
    pulse.from_um += flag_um(&rig);
    rig.meddle = pulses;
    rig_start_job(&rig, KR_JOB_SCAN);
    held_by_lost_edges(&rig);
    ck_assert(pulse.seen);
    rig_end(&rig);
}
END_TEST

/* ---- many answers that are late -------------------------------------------------------------------------------- */

struct sum {
    int64_t ms;
    uint32_t n_late;
};

enum { SEEDS = 20 };

/* Scans of which late_most_ms is the latest answer; about one in a second is late. */
static struct sum late_scans(int32_t fast_mm, int32_t late_most_ms)
{
    struct sum sum = {0, 0};
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct rig rig;
        struct wire w;
        defaults(&rig, &w, fast_mm, seed);
        rig_begin(&rig);
        rig_scan_ms(&rig);
        w.late_least_ms = 20;
        w.late_most_ms = late_most_ms;
        w.every_ms = 1000;
        sum.ms += rig_scan_ms(&rig);
        expect_all_measured(&rig);
        sum.n_late += w.n_late;
        rig_end(&rig);
    }
    return sum;
}

/* Where answers come late, a scan that may go fast takes a little longer than one that does not: what it has begun fast
 * is gone over once more. Where they come in time, and where only short delays are, it is much quicker. */
START_TEST(late_answers_lose_no_edge_and_cost_a_fast_scan_little)
{
    static const struct {
        int32_t late_ms, most_percent;
    } rows[] = {{25, 80}, {50, 80}, {100, 105}, {200, 110}, {MOST_MS, 115}};
    struct sum one = late_scans(0, rows[_i].late_ms), fast = late_scans(FAST_MM, rows[_i].late_ms);
    printf("answers up to %d ms late: %u and %u of them in %d scans; at one speed %.1f s, fast %.1f s\n",
           (int)rows[_i].late_ms, one.n_late, fast.n_late, SEEDS, (double)one.ms / SEEDS / 1e3,
           (double)fast.ms / SEEDS / 1e3);
    ck_assert_uint_gt(fast.n_late, 10 * SEEDS);
    ck_assert_int_le(100 * fast.ms, rows[_i].most_percent * one.ms);
}
END_TEST

/* The carriage is fast, and an answer is late: it brakes, and the rest of the scan is slow. */
START_TEST(after_a_late_answer_the_rest_of_a_fast_scan_is_slow)
{
    struct rig rig;
    struct wire w;
    begin(&rig, &w, FAST_MM, true);
    rig_scan_ms(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    while (!passes(&rig, 0) || w.mm_per_s < SLOW_MM * 3 / 2)
        rig_cycle(&rig);
    delay(&w, 0, 100, false);
    rig_run_ms(&rig, 800); /* the delay, the hand-over of a set-point, and v/a */
    w.fastest = 0;
    while (passes(&rig, 0))
        rig_cycle(&rig);
    ck_assert_int_le(w.fastest, SLOW_MOST);
    rig_until_complete(&rig);
    expect_all_measured(&rig);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("late scan");
    TCase *tc = suite_case(suite, "one late answer");
    tcase_add_loop_test(tc, two_edges_that_one_late_answer_brings_are_both_taken, 0, 8);
    tcase_add_loop_test(tc, two_flags_that_one_late_answer_hides_are_lost_edges, 0, 2);
    tcase_add_loop_test(tc, of_a_drive_that_does_not_count_edges_two_in_one_answer_are_lost_edges, 0, 2);
    tcase_add_test(tc, after_a_late_answer_the_rest_of_a_fast_scan_is_slow);
    tc = suite_case(suite, "bounces");
    tcase_add_loop_test(tc, a_switch_that_bounces_loses_edges_as_ever, 1, 4);
    tcase_add_loop_test(tc, two_edges_in_one_answer_that_are_no_flag_and_no_gap_are_lost_edges, 0, 5);
    tc = suite_case(suite, "many late answers");
    tcase_add_loop_test(tc, late_answers_lose_no_edge_and_cost_a_fast_scan_little, 0, 5);
    return suite;
}
