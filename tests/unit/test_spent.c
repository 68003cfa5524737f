/* Tests of what the time of a changeover is spent on: the recorder counts every cycle once, and the sum is the time of
 * the record. */
#include "record.h"

#include <stdlib.h>

#include "rig/rig.h"
#include "suite.h"

static struct recorder recorder;        /* large */
static struct kr_image image;           /* large */
static struct kr_book_changeover ended; /* the last one */
static int n_ended;

static void watch(const struct rig *rig, void *arg)
{
    (void)arg;
    const struct kr_book_changeover *c =
        recorder_step(&recorder, rig->station, &rig->config.geometry, &image, rig->in.dt_us);
    if (c == NULL)
        return;
    ended = *c;
    n_ended++;
}

static void begin(struct rig *rig)
{
    rig_begin_small(rig);
    recorder_open(&recorder, rig->station);
    n_ended = 0;
    rig->witness = watch;
    rig_start_changeover(rig);
}

/* The record counts from the cycle of the Start, the recorder from the cycle behind it. */
static void assert_whole(void)
{
    int64_t sum_ms = 0;
    ck_assert_int_eq(n_ended, 1);
    for (int i = 0; i < KR_N_SPENT; i++) {
        ck_assert_int_ge(ended.spent_ms[i], 0);
        sum_ms += ended.spent_ms[i];
    }
    ck_assert_msg(llabs(sum_ms - ended.record.total_ms) <= 3 * RIG_PERIOD_MS, "%lld ms are counted of %d",
                  (long long)sum_ms, ended.record.total_ms);
}

START_TEST(a_changeover_scans_docks_drags_and_travels_and_nothing_is_counted_twice)
{
    struct rig rig;
    begin(&rig);
    rig_ends_verified(&rig);
    assert_whole();
    ck_assert_int_gt(ended.spent_ms[KR_SPENT_SCANNING], 1000);
    ck_assert_int_gt(ended.spent_ms[KR_SPENT_DOCKING], 100);
    ck_assert_int_gt(ended.spent_ms[KR_SPENT_DRAGGING], 100);
    ck_assert_int_gt(ended.spent_ms[KR_SPENT_TRAVELLING], 100);
    ck_assert_int_eq(ended.spent_ms[KR_SPENT_HELD], 0);
    ck_assert_int_eq(ended.spent_ms[KR_SPENT_CORRECTING], 0);
    ck_assert_int_le(ended.spent_ms[KR_SPENT_DOCKING] + ended.spent_ms[KR_SPENT_DRAGGING],
                     ended.record.actual_ms + 2 * RIG_PERIOD_MS);
    rig_end(&rig);
}
END_TEST

START_TEST(what_a_hold_takes_is_counted_as_held)
{
    struct rig rig;
    begin(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_HOLD, 0), KR_OK);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_run_ms(&rig, 7000);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    assert_whole();
    ck_assert_int_ge(ended.spent_ms[KR_SPENT_HELD], 7000);
    ck_assert_int_le(ended.spent_ms[KR_SPENT_HELD], 9000);
    ck_assert_int_eq(ended.spent_ms[KR_SPENT_CORRECTING], 0); /* it looks and plans anew: no correction */
    rig_end(&rig);
}
END_TEST

START_TEST(a_knife_that_slips_off_its_place_costs_a_correction)
{
    struct rig rig;
    begin(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    uint16_t holder;
    do {
        rig_until_carriage(&rig, 0, KR_CARRIAGE_READY);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_BRAKING);
        holder = (uint16_t)(rig_docked(&rig, 0) - 1);
    } while (rig_u16(&rig, KR_REG_HOLDER_CUT, 0, holder) == 0);
    rig_break(&rig, 0, SIM_BRAKE_SLIPS, holder, 700);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_READY);
    rig_run_ms(&rig, 1000);
    rig_mend(&rig, 0, SIM_BRAKE_SLIPS, holder);
    rig_ends_verified(&rig);
    assert_whole();
    ck_assert_uint_eq(ended.record.rail[0].corrections, 1);
    /* a move, and a scan that is as long as the first one */
    ck_assert_int_gt(ended.spent_ms[KR_SPENT_CORRECTING], 1000);
    ck_assert_int_gt(ended.spent_ms[KR_SPENT_SCANNING], 1000);
    rig_end(&rig);
}
END_TEST

START_TEST(each_changeover_counts_its_own_time)
{
    struct rig rig;
    begin(&rig);
    rig_ends_verified(&rig);
    int32_t first_ms = ended.record.total_ms;
    rig_run_ms(&rig, 60000); /* Complete, then Idle: nobody's */
    n_ended = 0;
    rig_set_up_again(&rig);
    assert_whole();
    ck_assert_int_lt(ended.record.total_ms, first_ms);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("spent");
    TCase *tc = suite_case(suite, "times");
    tcase_add_test(tc, a_changeover_scans_docks_drags_and_travels_and_nothing_is_counted_twice);
    tcase_add_test(tc, what_a_hold_takes_is_counted_as_held);
    tcase_add_test(tc, a_knife_that_slips_off_its_place_costs_a_correction);
    tcase_add_test(tc, each_changeover_counts_its_own_time);
    return suite;
}
