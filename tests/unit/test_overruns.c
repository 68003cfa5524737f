/* Tests of late cycles: the log tells of them at once, then once a minute, with the longest delay and its time. The
 * tests have their own clocks and log. */
#include "overruns.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "clock.h"
#include "log.h"
#include "suite.h"

static int64_t now_us;
static char line[LOG_LINE_MAX];
static int lines;

int64_t clock_us(void)
{
    return now_us;
}

int64_t clock_utc_ms(void)
{
    return now_us / 1000;
}

void clock_text(int64_t utc_ms, char text[CLOCK_TEXT_MAX])
{
    snprintf(text, CLOCK_TEXT_MAX, "T%lldms", (long long)utc_ms);
}

void log_line(enum log_priority priority, const char *format, ...)
{
    va_list values;
    va_start(values, format);
    vsnprintf(line, sizeof line, format, values);
    va_end(values);
    ck_assert_int_eq(priority, LOG_WARNING);
    lines++;
}

static void beat(struct overruns *overruns, int64_t at_ms, uint32_t beats, int64_t late_us)
{
    now_us = at_ms * 1000;
    overruns_beat(overruns, beats, late_us);
}

static void begin(struct overruns *overruns)
{
    *overruns = (struct overruns){.count = 0};
    line[0] = '\0';
    lines = 0;
}

START_TEST(a_cycle_that_begins_within_its_period_is_none)
{
    struct overruns overruns;
    begin(&overruns);
    beat(&overruns, 1000, 1, 9999);
    ck_assert_uint_eq(overruns.count, 0);
    ck_assert_int_eq(lines, 0);
}
END_TEST

START_TEST(the_first_is_told_at_once_and_the_next_ones_once_a_minute_each_with_the_worst_and_when)
{
    struct overruns overruns;
    begin(&overruns);
    beat(&overruns, 1000, 3, 25500);
    ck_assert_str_eq(line, "2 cycles began late by more than a period, the worst by 25.5 ms at T1000ms; since the "
                           "start 2, the worst by 25.5 ms at T1000ms");
    beat(&overruns, 2000, 2, 10250);
    beat(&overruns, 3000, 2, 12500);
    beat(&overruns, 4000, 2, 11000);
    ck_assert_int_eq(lines, 1);
    beat(&overruns, 60999, 1, 0);
    ck_assert_int_eq(lines, 1);
    beat(&overruns, 61000, 1, 0);
    ck_assert_str_eq(line, "3 cycles began late by more than a period, the worst by 12.5 ms at T3000ms; since the "
                           "start 5, the worst by 25.5 ms at T1000ms");
    beat(&overruns, 200000, 1, 9000); /* within its period, and after a quiet minute */
    ck_assert_int_eq(lines, 2);
    beat(&overruns, 201000, 501, 5000000);
    ck_assert_str_eq(line,
                     "500 cycles began late by more than a period, the worst by 5000.0 ms at T201000ms; since the "
                     "start 505, the worst by 5000.0 ms at T201000ms");
    ck_assert_int_eq(lines, 3);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("overruns");
    TCase *tc = suite_case(suite, "lines");
    tcase_add_test(tc, a_cycle_that_begins_within_its_period_is_none);
    tcase_add_test(tc, the_first_is_told_at_once_and_the_next_ones_once_a_minute_each_with_the_worst_and_when);
    return suite;
}
