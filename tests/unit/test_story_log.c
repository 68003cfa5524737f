/* Tests of the story in the log: it is the same as that of a trace, it has its own log level, and it is limited when
 * there are too many lines. */
#include "story_log.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "log.h"
#include "rig.h"
#include "suite.h"

#define TEXT_MAX (1 << 20)

/* ---- in place of the daemon's clocks and of its log ------------------------------------------------------------ */

static int64_t now_us;
static char logged[TEXT_MAX], told[TEXT_MAX]; /* by the log; by a story of its own */
static int n_logged, n_other;

int64_t clock_us(void)
{
    return now_us;
}

int64_t clock_utc_ms(void)
{
    return now_us / 1000;
}

static void add(char text[TEXT_MAX], const char *line)
{
    size_t used = strlen(text);
    ck_assert_uint_lt(used + strlen(line) + 2, TEXT_MAX);
    snprintf(text + used, TEXT_MAX - used, "%s\n", line);
}

void log_line(enum log_priority priority, const char *format, ...)
{
    char line[LOG_LINE_MAX];
    va_list values;
    va_start(values, format);
    vsnprintf(line, sizeof line, format, values);
    va_end(values);
    add(logged, line);
    n_logged += priority == LOG_STEP;
    n_other += priority != LOG_STEP;
}

/* ---- a rig that is watched by both ----------------------------------------------------------------------------- */

static struct story_log story_log;
static struct kr_story story;

static void tell(void *arg, int64_t utc_ms, uint16_t rail, bool important, const char *line)
{
    char text[LOG_LINE_MAX], of[16] = "";
    (void)arg;
    (void)utc_ms;
    if (rail != 0)
        snprintf(of, sizeof of, "rail %u ", rail);
    snprintf(text, sizeof text, "small: %s%s%s", important ? "! " : "", of, line);
    add(told, text);
}

static void watch(const struct rig *rig, void *arg)
{
    struct kr_station_steps steps;
    (void)arg;
    now_us = rig->time_us;
    kr_station_steps(rig->station, &steps);
    story_log_step(&story_log, &rig->in, &steps);
    kr_story_cycle(&story, rig->time_us / 1000, &rig->in, &steps);
}

static void begin(struct rig *rig)
{
    logged[0] = told[0] = '\0';
    n_logged = n_other = 0;
    rig_small_ideal(rig, 2);
    snprintf(rig->config.name, sizeof rig->config.name, "small");
    rig->witness = watch;
    story_log_open(&story_log, &rig->config);
    kr_story_begin(&story, 2, rig->config.format.length_unit, (struct kr_story_teller){tell, NULL});
}

static void must_say(const char *text)
{
    size_t length = strlen(logged);
    ck_assert_msg(strstr(logged, text) != NULL, "'%s' is not in what ends with:\n%s", text,
                  logged + (length > 3000 ? length - 3000 : 0));
}

START_TEST(the_log_has_each_line_of_the_story_at_its_own_level)
{
    struct rig rig;
    begin(&rig);
    story_log_switch(&story_log, true);
    rig_begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_gt(n_logged, 50);
    ck_assert_int_eq(n_other, 0);
    ck_assert_str_eq(logged, told);
    must_say(" docking, holder 1, move ");
    must_say(", start changeover: accepted");
    must_say(" for the pin to be in; then ");
    rig_end(&rig);
}
END_TEST

START_TEST(nothing_is_told_before_it_is_switched_on_and_what_is_waited_for_when_it_is_switched_off)
{
    struct rig rig;
    begin(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    ck_assert_str_eq(logged, "");
    story_log_switch(&story_log, true);
    rig_run_ms(&rig, 100);
    story_log_switch(&story_log, true); /* it is on already */
    rig_run_ms(&rig, 100);
    story_log_switch(&story_log, false);
    must_say("small: rail 1 dragging, holder ");
    must_say(", and waits on");
    size_t length = strlen(logged);
    rig_run_ms(&rig, 2000);
    ck_assert_uint_eq(strlen(logged), length);
    rig_end(&rig);
}
END_TEST

/* A thousand times as fast as the clock: the time of the log stands nearly still. */
static void watch_a_flood(const struct rig *rig, void *arg)
{
    struct kr_station_steps steps;
    (void)arg;
    now_us += 1;
    kr_station_steps(rig->station, &steps);
    story_log_step(&story_log, &rig->in, &steps);
}

START_TEST(a_flood_of_steps_ends_in_a_count_and_hides_no_cause)
{
    struct rig rig;
    begin(&rig);
    rig.witness = watch_a_flood;
    story_log_switch(&story_log, true);
    rig_begin(&rig);
    rig_set_up_small(&rig);
    while (n_logged < 500) /* of which some are causes */
        rig_set_up_again(&rig);
    for (int i = 0; i < 5; i++)
        rig_set_up_again(&rig);
    ck_assert_int_le(n_logged, 500 + 200);
    int before = n_logged;
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_ABORT, 0), KR_OK);
    rig_until_state(&rig, KR_STATE_ABORTED);
    must_say("small: ! command ");
    must_say(" abort: accepted");
    ck_assert_int_gt(n_logged, before);
    ck_assert_int_eq(n_other, 0);
    now_us += 1000 * (KR_BUCKET_TELL_MS + 1);
    rig_cycle(&rig);
    ck_assert_int_eq(n_other, 1);
    must_say(" lines about steps were left out");
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("story_log");
    TCase *tc = suite_case(suite, "lines");
    tcase_add_test(tc, the_log_has_each_line_of_the_story_at_its_own_level);
    tcase_add_test(tc, nothing_is_told_before_it_is_switched_on_and_what_is_waited_for_when_it_is_switched_off);
    tcase_add_test(tc, a_flood_of_steps_ends_in_a_count_and_hides_no_cause);
    return suite;
}
