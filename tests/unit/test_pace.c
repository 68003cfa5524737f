/* Tests of the age of an image on the caller's time, while the caller is late, stands still, or loses time. */
#include "pace.h"

#include <stdbool.h>

#include "sim/draw.h"
#include "suite.h"

#define PERIOD_US   10000
#define CYCLES      5000
#define WARM        150   /* cycles until the origin is as near as it gets */
#define NEAR_US     1000  /* what a punctual call is late by, at most */
#define LATE_MAX_US 20000 /* a call that is later than that shifts the origin */

/* A program with a cycle of 10 ms in front of a drive that is asked right after each cycle, on one clock. */
struct story {
    uint64_t seed;
    struct pace pace;
    int64_t called_us, dt_taken_us; /* the last call; the clock when its cycle began */
    /* Of the newest image: the question, and when the drive looked at its position. */
    int64_t asked_us, taken_us;
    int32_t span_us;
    int64_t before_sample_us, before_taken_us, before_span_us; /* of the image before it */
    int32_t n_shifted;                                         /* calls that were too late to be taken for punctual */
    int64_t younger_us;                                        /* an image may seem by so much, and by no more */
    bool loses_time; /* each cycle stands for its period, however late it is */
};

static int32_t drawn(const struct story *s, uint32_t cycle, uint32_t item, int32_t least, int32_t most)
{
    struct sim_draw draw = {.seed = s->seed, .what = SIM_DRAW_BOUNCE, .item = item, .nth = cycle};
    return least + (int32_t)(sim_draw_bits(draw) % (uint64_t)(most - least + 1));
}

/* One cycle in ten is late, one in fifty stands still in its middle: the clock has been read, the drives not yet. */
static int64_t late_us(const struct story *s, uint32_t cycle)
{
    return drawn(s, cycle, 1, 0, 9) == 0 ? drawn(s, cycle, 2, 0, 60000) : drawn(s, cycle, 2, 0, 300);
}

static int64_t stands_us(const struct story *s, uint32_t cycle)
{
    return drawn(s, cycle, 3, 0, 49) == 0 ? drawn(s, cycle, 4, 1000, 60000) : drawn(s, cycle, 4, 0, 300);
}

static void call(struct story *s, uint32_t cycle)
{
    int64_t due_us = (s->called_us / PERIOD_US + 1) * PERIOD_US;
    int64_t began_us = due_us + late_us(s, cycle), dt_us = s->loses_time ? PERIOD_US : began_us - s->dt_taken_us;
    s->dt_taken_us = began_us;
    s->called_us = began_us + stands_us(s, cycle);
    int64_t origin_us = s->pace.origin_us;
    pace_step(&s->pace, s->called_us, dt_us);
    s->n_shifted += s->pace.origin_us > origin_us;
}

/* What the rail makes of two images is the time between them: it lies within what their spans leave open. */
static void judge(struct story *s, uint32_t cycle)
{
    int32_t span_us = s->span_us, age_ms = pace_age_ms(&s->pace, s->asked_us, &span_us);
    int64_t sample_us = s->pace.machine_us - 1000LL * age_ms, between_us = sample_us - s->before_sample_us;
    int64_t truly_us = s->taken_us - s->before_taken_us;
    if (cycle > WARM) {
        ck_assert_int_ge(truly_us, between_us - s->before_span_us - NEAR_US);
        ck_assert_int_le(truly_us, between_us + span_us + NEAR_US);
        ck_assert_int_ge(1000LL * age_ms, s->dt_taken_us - s->asked_us - s->younger_us);
    }
    s->before_sample_us = sample_us;
    s->before_taken_us = s->taken_us;
    s->before_span_us = span_us;
}

static void ask(struct story *s, uint32_t cycle)
{
    s->asked_us = s->called_us + drawn(s, cycle, 5, 10, 200);
    s->span_us = drawn(s, cycle, 6, 100, 3000);
    s->taken_us = s->asked_us + drawn(s, cycle, 7, 0, s->span_us);
}

static void play(struct story *s)
{
    ask(s, 0);
    for (uint32_t cycle = 1; cycle < CYCLES; cycle++) {
        call(s, cycle);
        judge(s, cycle);
        ask(s, cycle);
    }
    ck_assert_int_gt(s->n_shifted, CYCLES / 200);
}

START_TEST(the_time_between_two_images_is_known_within_their_spans_however_late_a_cycle_is)
{
    struct story s = {.seed = (uint64_t)_i, .younger_us = NEAR_US};
    play(&s);
}
END_TEST

START_TEST(the_same_holds_for_a_caller_that_loses_time_for_good)
{
    struct story s = {.seed = (uint64_t)_i, .younger_us = LATE_MAX_US, .loses_time = true};
    play(&s);
}
END_TEST

static void be_punctual(struct pace *pace, int64_t *now_us, int cycles)
{
    for (int i = 0; i < cycles; i++)
        pace_step(pace, *now_us += PERIOD_US, PERIOD_US);
}

/* The figures of one stall: 38 ms from cycle to cycle, and 21 ms between its clock and the drives. */
START_TEST(a_cycle_that_stands_still_in_its_middle_says_so_in_the_span_of_its_image_alone)
{
    struct pace pace = {.origin_us = 0};
    int64_t now_us = 0;
    be_punctual(&pace, &now_us, 200);
    int32_t span_us = 500;
    ck_assert_int_eq(pace_age_ms(&pace, now_us - 9000, &span_us), 9);
    ck_assert_int_eq(span_us, 500);
    pace_step(&pace, now_us + 38000 + 21000, 38000);
    ck_assert_int_eq(pace_age_ms(&pace, now_us + 1000, &span_us), 58);
    ck_assert_int_eq(span_us, 21500);
    span_us = 500;
    pace_step(&pace, now_us + 60000, 22000); /* the next one makes up for it */
    ck_assert_int_eq(pace_age_ms(&pace, now_us + 59100, &span_us), 1);
    ck_assert_int_eq(span_us, 600);
}
END_TEST

START_TEST(time_that_was_lost_for_good_is_settled_after_a_hundred_calls)
{
    struct pace pace = {.origin_us = 0};
    int64_t now_us = 0;
    be_punctual(&pace, &now_us, 200);
    now_us += 500000;
    be_punctual(&pace, &now_us, 100);
    int32_t span_us = 0;
    ck_assert_int_eq(pace_age_ms(&pace, now_us - 2000, &span_us), 2);
    ck_assert_int_eq(span_us, 500000);
    be_punctual(&pace, &now_us, 1);
    span_us = 0;
    ck_assert_int_eq(pace_age_ms(&pace, now_us - 2000, &span_us), 2);
    ck_assert_int_eq(span_us, 0);
}
END_TEST

START_TEST(ages_and_spans_stop_at_the_ends_of_their_range)
{
    struct pace pace = {.origin_us = 0};
    int32_t span_us = INT32_MAX;
    pace_step(&pace, INT64_C(3000000000000000), 0);
    ck_assert_int_eq(pace_age_ms(&pace, 0, &span_us), INT32_MAX);
    ck_assert_int_eq(span_us, INT32_MAX);
    span_us = 7;
    ck_assert_int_eq(pace_age_ms(&pace, INT64_C(3000000000000000) + 10, &span_us), 0);
    ck_assert_int_eq(span_us, INT32_MAX);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("the caller's time and the clock");
    TCase *tc = suite_case(suite, "the caller's time and the clock");
    tcase_add_loop_test(tc, the_time_between_two_images_is_known_within_their_spans_however_late_a_cycle_is, 0, 20);
    tcase_add_loop_test(tc, the_same_holds_for_a_caller_that_loses_time_for_good, 0, 20);
    tcase_add_test(tc, a_cycle_that_stands_still_in_its_middle_says_so_in_the_span_of_its_image_alone);
    tcase_add_test(tc, time_that_was_lost_for_good_is_settled_after_a_hundred_calls);
    tcase_add_test(tc, ages_and_spans_stop_at_the_ends_of_their_range);
    return suite;
}
