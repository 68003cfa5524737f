/* What a report reckons: capability intervals against published tables and closed forms, the drift against NIST's
 * certified line, shifts and alarms against days that can be worked by hand. */
#include "kniferail/gauge.h"
#include "kniferail/report.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/map.h"
#include "suite.h"

#define VALUES_MAX 300
#define HOUR_MS    INT64_C(3600000)
#define DAY_MS     (24 * HOUR_MS)

static void expect(const char *what, double found, double wanted, double within)
{
    ck_assert_msg(fabs(found - wanted) <= within * fabs(wanted), "%s is %.17g, not %.17g", what, found, wanted);
}

/* ---- chi-square ------------------------------------------------------------------------------------------------ */

/* Critical values of the chi-square distribution: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.4
 * (www.itl.nist.gov/div898/handbook/eda/section3/eda3674.htm), to its three decimals; figures from memory. */
static const struct {
    double p;
    uint32_t degrees;
    double value;
} table[] = {{0.90, 1, 2.706},    {0.95, 1, 3.841},    {0.975, 1, 5.024},     {0.99, 1, 6.635},
             {0.95, 2, 5.991},    {0.95, 5, 11.070},   {0.975, 5, 12.833},    {0.025, 5, 0.831},
             {0.95, 10, 18.307},  {0.975, 10, 20.483}, {0.025, 10, 3.247},    {0.05, 10, 3.940},
             {0.975, 20, 34.170}, {0.025, 20, 9.591},  {0.975, 30, 46.979},   {0.025, 30, 16.791},
             {0.975, 50, 71.420}, {0.025, 50, 32.357}, {0.975, 100, 129.561}, {0.025, 100, 74.222}};

START_TEST(the_quantiles_of_chi_square_are_those_of_the_published_table)
{
    double found = kr_chi_square_quantile(table[_i].p, table[_i].degrees);
    ck_assert_msg(fabs(found - table[_i].value) <= 0.0005001, "p %g, %u degrees: %.6f, not %.3f", table[_i].p,
                  table[_i].degrees, found, table[_i].value);
}
END_TEST

/* For an even number of degrees what lies above x is a finite sum, exp(-x / 2) times the beginning of its series. */
static double above(double x, int degrees)
{
    double term = exp(-x / 2), sum = term;
    for (int k = 1; k < degrees / 2; k++)
        sum += term *= x / 2 / k;
    return sum;
}

START_TEST(the_quantiles_of_chi_square_leave_the_share_above_them_that_they_should)
{
    static const double p[] = {0.001, 0.025, 0.5, 0.9, 0.975, 0.999};
    for (int degrees = 2; degrees <= 600; degrees += degrees < 20 ? 2 : 58)
        for (size_t i = 0; i < sizeof p / sizeof p[0]; i++)
            expect("what lies above", above(kr_chi_square_quantile(p[i], (uint32_t)degrees), degrees), 1 - p[i], 1e-9);
    /* one degree: the square of a normal variable */
    expect("one degree", erf(sqrt(kr_chi_square_quantile(0.975, 1) / 2)), 0.975, 1e-12);
}
END_TEST

START_TEST(a_capability_of_few_values_has_a_wide_interval_and_of_many_a_narrow_one)
{
    struct kr_interval of_11 = kr_capability_interval(1.5, 11), of_101 = kr_capability_interval(1.5, 101);
    expect("low of 11", of_11.low, 1.5 * sqrt(3.247 / 10), 1e-3); /* with the table's figures */
    expect("high of 11", of_11.high, 1.5 * sqrt(20.483 / 10), 1e-3);
    expect("low of 101", of_101.low, 1.5 * sqrt(74.222 / 100), 1e-3);
    expect("high of 101", of_101.high, 1.5 * sqrt(129.561 / 100), 1e-3);
    struct kr_interval cpk = kr_capability_off_centre_interval(1.2, 51);
    double half = 1.959963984540054 * sqrt(1 / 459.0 + 1.44 / 100); /* the formula's terms, written out */
    expect("low of cpk", cpk.low, 1.2 - half, 1e-12);
    expect("high of cpk", cpk.high, 1.2 + half, 1e-12);
}
END_TEST

/* The interval is to hold the true capability 95 times of 100: 4,000 samples of 12 normal values, drawn from a fixed
 * seed. Of so many the share found differs from 0.95 by 0.011 once in a thousand trials. */
static uint64_t seed;

static double drawn(void)
{
    seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
    return ((double)(seed >> 11) + 0.5) / 9007199254740992.0;
}

static double drawn_normal(void)
{
    double radius = sqrt(-2 * log(drawn()));
    return radius * cos(6.283185307179586 * drawn());
}

START_TEST(the_interval_holds_the_true_capability_as_often_as_it_says)
{
    int held_cp = 0, held_cpk = 0;
    seed = 7;
    for (int sample = 0; sample < 4000; sample++) {
        double value[12];
        for (int i = 0; i < 12; i++)
            value[i] = 1 + 2 * drawn_normal();
        struct kr_spread spread = kr_spread_of(value, 12);
        double cp = kr_capability(&spread, 9), cpk = kr_capability_off_centre(&spread, 9);
        struct kr_interval a = kr_capability_interval(cp, 12), b = kr_capability_off_centre_interval(cpk, 12);
        held_cp += a.low <= 1.5 && 1.5 <= a.high;
        held_cpk += b.low <= 8 / 6.0 && 8 / 6.0 <= b.high;
    }
    ck_assert_int_ge(held_cp, 4000 * 939 / 1000);
    ck_assert_int_le(held_cp, 4000 * 961 / 1000);
    ck_assert_int_ge(held_cpk, 4000 * 92 / 100); /* an approximation, and so few values */
    ck_assert_int_le(held_cpk, 4000 * 98 / 100);
}
END_TEST

/* ---- placement ------------------------------------------------------------------------------------------------- */

static size_t read_norris(double y[], double x[])
{
    char line[80], *end;
    size_t n = 0;
    FILE *file = fopen("tests/reference/data/nist_norris.csv", "r");
    ck_assert_ptr_nonnull(file);
    ck_assert_ptr_nonnull(fgets(line, sizeof line, file));
    for (; fgets(line, sizeof line, file) != NULL; n++) {
        y[n] = strtod(line, &end);
        x[n] = strtod(end + 1, NULL);
    }
    fclose(file);
    return n;
}

/* NIST's data set Norris (data/nist.md), in the order of x: its certified slope times the span. */
static void sort_by_x(double y[], double x[], size_t n)
{
    for (size_t i = 1; i < n; i++)
        for (size_t k = i; k > 0 && x[k - 1] > x[k]; k--) {
            double a = x[k], b = y[k];
            x[k] = x[k - 1];
            y[k] = y[k - 1];
            x[k - 1] = a;
            y[k - 1] = b;
        }
}

START_TEST(the_drift_is_the_certified_slope_of_norris_over_the_whole_time)
{
    double y[VALUES_MAX], x[VALUES_MAX];
    size_t n = read_norris(y, x);
    ck_assert_uint_eq(n, 36);
    sort_by_x(y, x, n);
    double span = x[n - 1] - x[0];
    struct kr_placement p = kr_placement_of(y, x, n, n, 1000);
    ck_assert(p.has_drift && kr_placement_trend(&p, 1000) == KR_TREND_DRIFTS);
    expect("slope", p.drift / span, 1.00211681802045, 1e-13);
    expect("its standard deviation", p.drift_sd / span, 0.429796848199937E-03, 1e-11);
}
END_TEST

START_TEST(a_drift_is_of_the_present_knife_alone_and_of_three_placements_at_least)
{
    const double um[] = {50, 60, 70, 1, 3, 5.1, 7, 9}, day[] = {0, 1, 2, 3, 4, 5, 6, 7};
    struct kr_placement p = kr_placement_of(um, day, 8, 5, 100);
    ck_assert(p.has_drift && kr_placement_trend(&p, 1) == KR_TREND_DRIFTS);
    expect("drift", p.drift, 8, 0.01);
    ck_assert_uint_eq(p.n_since, 5);
    ck_assert(!kr_placement_of(um, day, 8, 2, 100).has_drift);
    ck_assert(!kr_placement_of(um, day, 8, 0, 100).has_drift);
    ck_assert(kr_placement_of(um, day, 8, 0, 100).few);
}
END_TEST

/* NIST Technical Note 1297, appendix B, table B.1: the distance from 0 within which 95 %, 99 % and 99.73 % of Student's
 * t distribution lie, to the last digit that it prints. */
static const struct {
    uint32_t degrees;
    double t_95, t_99, t_9973, half_a_digit;
} table_b1[] = {{1, 12.71, 63.66, 235.80, 0.005}, {2, 4.30, 9.92, 19.21, 0.005},     {3, 3.18, 5.84, 9.22, 0.005},
                {4, 2.78, 4.60, 6.62, 0.005},     {5, 2.57, 4.03, 5.51, 0.005},      {6, 2.45, 3.71, 4.90, 0.005},
                {7, 2.36, 3.50, 4.53, 0.005},     {8, 2.31, 3.36, 4.28, 0.005},      {9, 2.26, 3.25, 4.09, 0.005},
                {10, 2.23, 3.17, 3.96, 0.005},    {15, 2.13, 2.95, 3.59, 0.005},     {20, 2.09, 2.85, 3.42, 0.005},
                {50, 2.01, 2.68, 3.16, 0.005},    {100, 1.984, 2.626, 3.077, 0.0005}};
#define N_TABLE_B1 ((int)(sizeof table_b1 / sizeof table_b1[0]))

static void expect_between(double t, double half_a_digit, uint32_t degrees, double beyond)
{
    double nearer = kr_student_beyond(t - half_a_digit, degrees),
           further = kr_student_beyond(t + half_a_digit, degrees);
    ck_assert_msg(further <= beyond && beyond <= nearer, "%u degrees, t %g: from %.9g to %.9g, not %g", degrees, t,
                  further, nearer, beyond);
}

START_TEST(students_t_is_that_of_nist_s_table)
{
    uint32_t degrees = table_b1[_i].degrees;
    double half = table_b1[_i].half_a_digit;
    expect_between(table_b1[_i].t_95, half, degrees, 0.05);
    expect_between(table_b1[_i].t_99, half, degrees, 0.01);
    expect_between(table_b1[_i].t_9973, half, degrees, 0.0026997960632602); /* of a normal one, beyond 3 deviations */
    ck_assert(kr_student_beyond(-2, degrees) == kr_student_beyond(2, degrees));
    ck_assert(kr_student_beyond(0, degrees) == 1 && kr_student_beyond(1e9, degrees) < 1e-8);
}
END_TEST

/* JCGM 100, table G.2: the factors for 95.45 %. They were written down from memory, to two digits behind the point. */
START_TEST(the_factors_of_an_expanded_uncertainty_are_students_t)
{
    static const uint32_t listed[] = {1,  2,  3,  4,  5,  6,  7,  8,  9,  10, 11, 12, 13,
                                      14, 15, 16, 17, 18, 19, 20, 25, 30, 35, 40, 50, 100};
    for (size_t i = 0; i < sizeof listed / sizeof listed[0]; i++)
        expect_between(kr_gauge_factor(listed[i]), 0.0051, listed[i], 0.0455002638963584);
    for (uint32_t degrees = 1; degrees < 3000; degrees++) /* and between them it is never too small */
        ck_assert_msg(kr_student_beyond(kr_gauge_factor(degrees) + 0.0051, degrees) <= 0.0455002638963584, "%u degrees",
                      degrees);
}
END_TEST

/* Of so many placements each, and of reports of so many holders. */
static const struct {
    int n, holders;
} scattering[] = {{3, 1}, {4, 1}, {5, 1}, {10, 1}, {40, 1}, {3, 20}, {12, 20}};
#define N_SCATTERING ((int)(sizeof scattering / sizeof scattering[0]))

static bool names_one(int n, int holders)
{
    bool named = false;
    for (int h = 0; h < holders; h++) {
        double um[40], day[40];
        for (int i = 0; i < n; i++) {
            um[i] = 5 * drawn_normal();
            day[i] = i;
        }
        struct kr_placement p = kr_placement_of(um, day, (size_t)n, (size_t)n, 100);
        named = named || kr_placement_trend(&p, (size_t)holders) != KR_TREND_NONE;
    }
    return named;
}

/* Three standard deviations would name one of five holders that were placed three times. Expected of 4,000: 4 that
 * drift and at most 4 that scatter more and more; more than 20 come about once in 5,000. */
START_TEST(of_errors_that_only_scatter_a_report_names_a_holder_once_in_a_thousand_times)
{
    int found = 0;
    seed = 11;
    for (int report = 0; report < 4000; report++)
        found += names_one(scattering[_i].n, scattering[_i].holders);
    ck_assert_msg(found <= 20, "%d placements of %d holders: %d of 4,000", scattering[_i].n, scattering[_i].holders,
                  found);
}
END_TEST

/* A holder that loosens by 2 um a changeover, with a scatter of 5 um, stands out long before 0.203 mm are used up:
 * whether it slips to one side always, or to either. */
START_TEST(a_holder_that_loosens_stands_out_before_it_is_out_of_tolerance)
{
    double um[101], day[101];
    enum kr_report_trend trend = KR_TREND_NONE;
    int n = 0;
    seed = 3;
    while (trend == KR_TREND_NONE && n < 101) {
        um[n] = (_i == 1 && drawn_normal() < 0 ? -2.0 : 2.0) * n + 5 * drawn_normal();
        day[n] = n / 5.0;
        n++;
        struct kr_placement p = kr_placement_of(um, day, (size_t)n, (size_t)n, 203.2);
        trend = kr_placement_trend(&p, 200);
    }
    ck_assert_int_eq(trend, _i == 1 ? KR_TREND_SCATTERS : KR_TREND_DRIFTS);
    ck_assert_int_le(n, 35); /* 70 um of 203 */
}
END_TEST

START_TEST(without_placements_or_without_spread_there_is_no_capability)
{
    const double um[] = {4, 4, 4}, day[] = {1, 2, 3};
    ck_assert(!kr_placement_of(NULL, NULL, 0, 0, 100).has_capability);
    ck_assert(!kr_placement_of(um, day, 1, 1, 100).has_capability);
    struct kr_placement p = kr_placement_of(um, day, 3, 3, 100);
    ck_assert(!p.has_capability && p.has_drift && kr_placement_trend(&p, 1) == KR_TREND_NONE && p.drift == 0);
}
END_TEST

/* ---- times ----------------------------------------------------------------------------------------------------- */

/* NIST's statistical reference data, linear regression through the origin: NoInt1 and NoInt2. Data and certified values
 * from memory; recomputed in exact rational arithmetic, they agree to all their digits. */
START_TEST(what_each_takes_is_the_line_through_the_origin_as_certified)
{
    struct kr_report_count one[11];
    for (int i = 0; i < 11; i++)
        one[i] = (struct kr_report_count){60 + i, 130 + i};
    struct kr_report_each each = kr_report_each_of(one, 11);
    ck_assert_uint_eq(each.changeovers, 11);
    expect("NoInt1", each.each_ms, 2.07438016528926, 1e-13);
    expect("NoInt1's standard deviation", each.uncertainty_ms, 0.0165289256198347, 1e-12);
    const struct kr_report_count two[] = {{4, 3}, {0, 99}, {5, 4}, {6, 4}}; /* one in which there was none */
    each = kr_report_each_of(two, 4);
    ck_assert_uint_eq(each.changeovers, 3);
    expect("NoInt2", each.each_ms, 0.727272727272727, 1e-13);
    expect("NoInt2's standard deviation", each.uncertainty_ms, 0.0420827318078432, 1e-12);
}
END_TEST

START_TEST(one_changeover_tells_a_time_without_an_uncertainty_and_none_tells_nothing)
{
    const struct kr_report_count one[] = {{5, 4000}};
    struct kr_report_each each = kr_report_each_of(one, 1);
    ck_assert(each.is_known && !each.has_uncertainty);
    expect("each", each.each_ms, 800, 1e-9);
    ck_assert(!kr_report_each_of(one, 0).is_known);
}
END_TEST

/* ---- changeovers and shifts ------------------------------------------------------------------------------------ */

static const struct kr_report_changeover two[] = {
    {10 * HOUR_MS,
     KR_OUTCOME_VERIFIED,
     60000,
     66000,
     90000,
     true,
     {[KR_SPENT_HELD] = 30000, [KR_SPENT_SCANNING] = 60000}},
    {12 * HOUR_MS, KR_OUTCOME_ABORTED, 50000, 45000, 70000, false, {0}},
};

START_TEST(changeovers_add_up_and_those_of_an_older_program_are_told_apart)
{
    double room[2];
    struct kr_report_sum sum = kr_report_sum_of(two, 2, room);
    ck_assert_uint_eq(sum.n, 2);
    ck_assert_uint_eq(sum.verified, 1);
    ck_assert_uint_eq(sum.told, 1);
    ck_assert_int_eq(sum.planned_ms, 110000);
    ck_assert_int_eq(sum.total_ms, 160000);
    ck_assert_int_eq(sum.told_ms, 90000);
    ck_assert_int_eq(sum.longest_ms, 90000);
    ck_assert_int_eq(sum.spent_ms[KR_SPENT_HELD], 30000);
    expect("ratio", sum.ratio.mean, (1.1 + 0.9) / 2, 1e-12);
    ck_assert_uint_eq(kr_report_sum_of(two, 0, room).n, 0);
}
END_TEST

static struct kr_report_changeover lasting(int64_t ended_ms, int32_t total_ms)
{
    return (struct kr_report_changeover){.ended_ms = ended_ms, .total_ms = total_ms};
}

/* Shifts from 6, 14 and 22 o'clock. On day 100: one from 13:50 to 14:10; one from 23:30 to 0:30; one from 5:00 to 5:30
 * of day 101, which is the same night. */
START_TEST(a_changeover_is_shared_out_over_the_shifts_that_it_lies_in)
{
    const int64_t day = 100 * DAY_MS;
    struct kr_report_shift shift[] = {{.begin_min = 360}, {.begin_min = 840}, {.begin_min = 1320}};
    const struct kr_report_changeover c[] = {lasting(day + 14 * HOUR_MS + HOUR_MS / 6, HOUR_MS / 3),
                                             lasting(day + DAY_MS + HOUR_MS / 2, HOUR_MS),
                                             lasting(day + DAY_MS + 5 * HOUR_MS + HOUR_MS / 2, HOUR_MS / 2)};
    kr_report_share_out(c, 3, shift, 3);
    ck_assert_int_eq(shift[0].setup_ms, HOUR_MS / 6);
    ck_assert_uint_eq(shift[0].changeovers, 1);
    ck_assert_int_eq(shift[1].setup_ms, HOUR_MS / 6);
    ck_assert_uint_eq(shift[1].changeovers, 0);
    ck_assert_uint_eq(shift[1].times, 1);
    ck_assert_int_eq(shift[2].setup_ms, HOUR_MS + HOUR_MS / 2);
    ck_assert_uint_eq(shift[2].changeovers, 2);
    ck_assert_uint_eq(shift[2].times, 1); /* one night */
    ck_assert_int_eq(shift[2].most_ms, HOUR_MS + HOUR_MS / 2);
}
END_TEST

START_TEST(a_single_shift_lasts_a_day_and_a_long_stop_goes_over_all_of_them)
{
    struct kr_report_shift whole[] = {{.begin_min = 0}}, shift[] = {{.begin_min = 360}, {.begin_min = 1080}};
    const struct kr_report_changeover c[] = {lasting(1000 * DAY_MS + 12 * HOUR_MS, 48 * HOUR_MS)};
    kr_report_share_out(c, 1, whole, 1);
    ck_assert_int_eq(whole[0].setup_ms, 48 * HOUR_MS);
    ck_assert_uint_eq(whole[0].times, 3);
    ck_assert_int_eq(whole[0].most_ms, DAY_MS);
    kr_report_share_out(c, 1, shift, 2);
    ck_assert_int_eq(shift[0].setup_ms, DAY_MS);
    ck_assert_int_eq(shift[1].setup_ms, DAY_MS);
    ck_assert_int_eq(shift[1].most_ms, 12 * HOUR_MS);
}
END_TEST

/* ---- alarms ---------------------------------------------------------------------------------------------------- */

START_TEST(alarms_are_counted_by_cause_with_how_long_they_stood_and_where)
{
    static struct kr_report_cause cause[KR_REPORT_CAUSES_MAX];
    const struct kr_report_alarm alarm[] = {
        {1000, true, 20, 1, 7},  {1500, true, 11, 2, 0}, {4000, false, 20, 1, 7}, {5000, true, 20, 2, 7},
        {5500, false, 11, 2, 0}, {6000, true, 20, 1, 7}, {6500, true, 20, 1, 7}, /* the gateway had ended */
        {7500, false, 20, 1, 7},
    };
    ck_assert_uint_eq(kr_report_causes(alarm, 8, cause), 2);
    ck_assert_uint_eq(cause[0].code, 20);
    ck_assert_uint_eq(cause[0].raised, 4);
    ck_assert_int_eq(cause[0].stood_ms, 3000 + 1000);
    ck_assert_uint_eq(cause[0].rail, 1);
    ck_assert_uint_eq(cause[0].item, 7);
    ck_assert_uint_eq(cause[0].times_there, 3);
    ck_assert_uint_eq(cause[1].code, 11);
    ck_assert_int_eq(cause[1].stood_ms, 4000);
    ck_assert_uint_eq(kr_report_causes(alarm, 0, cause), 0);
}
END_TEST

/* ---- for how many orders a knife will do ----------------------------------------------------------------------- */

#define ORDERS_MAX 4000

/* Every second order cuts with the knife, 2000 m each. As a coin would have it, the number of orders until it has cut
 * k of them has the negative binomial distribution: mean k / p and variance k (1 - p) / p^2, here 2 k and 2 k
 * (NIST/SEMATECH e-Handbook of Statistical Methods has the binomial; the negative one from memory). */
START_TEST(orders_that_toss_a_coin_are_counted_as_the_negative_binomial_distribution_has_it)
{
    static double metres[ORDERS_MAX];
    for (int i = 0; i < ORDERS_MAX; i++)
        metres[i] = i % 2 ? 2000 : 0;
    for (int k = 1; k <= 20; k++) {
        struct kr_forecast f = kr_forecast_of(metres, ORDERS_MAX, 2000.0 * k);
        expect("orders", f.orders, 2.0 * k, 1e-12);
        expect("their variance", f.orders_sd * f.orders_sd, 2.0 * k,
               0.02); /* so many orders leave the mean uncertain */
    }
}
END_TEST

/* Of orders whose metres are exponential, the number until a length is a Poisson process: variance and mean are the
 * same. */
static double drawn_exponential(double mean)
{
    return -mean * log(drawn());
}

START_TEST(the_knife_is_due_within_the_interval_as_often_as_it_says)
{
    enum { TRIALS = 4000, SEEN = 60 };
    int within = 0;
    seed = 21;
    for (int t = 0; t < TRIALS; t++) {
        double metres[SEEN], left = 40000, orders = 0;
        for (int i = 0; i < SEEN; i++)
            metres[i] = drawn_exponential(1000);
        struct kr_forecast f = kr_forecast_of(metres, SEEN, left);
        for (; left > 0; orders++)
            left -= drawn_exponential(1000);
        within += orders >= f.orders_95.low && orders <= f.orders_95.high;
    }
    ck_assert_msg(within > 0.93 * TRIALS && within < 0.97 * TRIALS, "%d of %d", within, (int)TRIALS);
}
END_TEST

START_TEST(what_cannot_be_foretold_is_not)
{
    const double metres[] = {0, 3000, 0, 1000}, idle[] = {0, 0, 0};
    ck_assert(!kr_forecast_of(metres, 0, 100).has_orders);
    ck_assert(!kr_forecast_of(metres, 1, 100).has_orders);
    ck_assert(!kr_forecast_of(idle, 3, 100).has_orders);
    struct kr_forecast f = kr_forecast_of(metres, 4, 9000);
    ck_assert(f.has_orders && f.few);
    expect("orders", f.orders, 9, 1e-12);
    f = kr_forecast_of(metres, 4, -5); /* it is due already */
    ck_assert(f.has_orders && f.orders == 0 && f.orders_sd == 0 && f.orders_95.high == 0);
    f = kr_forecast_of(metres, 4, 1); /* not below none */
    ck_assert(f.orders_95.low == 0 && f.orders_95.high > 0);
}
END_TEST

START_TEST(orders_that_are_all_alike_leave_no_doubt)
{
    double metres[KR_FORECAST_FEW];
    for (int i = 0; i < KR_FORECAST_FEW; i++)
        metres[i] = 850;
    struct kr_forecast f = kr_forecast_of(metres, KR_FORECAST_FEW, 8500);
    ck_assert(f.has_orders && !f.few && f.orders == 10 && f.orders_sd == 0);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("report");
    TCase *due = suite_case(suite, "due");
    tcase_add_test(due, orders_that_toss_a_coin_are_counted_as_the_negative_binomial_distribution_has_it);
    tcase_add_test(due, the_knife_is_due_within_the_interval_as_often_as_it_says);
    tcase_add_test(due, what_cannot_be_foretold_is_not);
    tcase_add_test(due, orders_that_are_all_alike_leave_no_doubt);
    TCase *chi = suite_case(suite, "chi-square"), *placement = suite_case(suite, "placement");
    TCase *times = suite_case(suite, "times");
    tcase_add_loop_test(chi, the_quantiles_of_chi_square_are_those_of_the_published_table, 0,
                        (int)(sizeof table / sizeof table[0]));
    tcase_add_test(chi, the_quantiles_of_chi_square_leave_the_share_above_them_that_they_should);
    tcase_add_test(chi, a_capability_of_few_values_has_a_wide_interval_and_of_many_a_narrow_one);
    tcase_add_test(chi, the_interval_holds_the_true_capability_as_often_as_it_says);
    tcase_add_test(placement, the_drift_is_the_certified_slope_of_norris_over_the_whole_time);
    tcase_add_test(placement, a_drift_is_of_the_present_knife_alone_and_of_three_placements_at_least);
    tcase_add_loop_test(placement, of_errors_that_only_scatter_a_report_names_a_holder_once_in_a_thousand_times, 0,
                        N_SCATTERING);
    tcase_add_loop_test(placement, a_holder_that_loosens_stands_out_before_it_is_out_of_tolerance, 0, 2);
    tcase_add_loop_test(chi, students_t_is_that_of_nist_s_table, 0, N_TABLE_B1);
    tcase_add_test(chi, the_factors_of_an_expanded_uncertainty_are_students_t);
    tcase_add_test(placement, without_placements_or_without_spread_there_is_no_capability);
    tcase_add_test(times, what_each_takes_is_the_line_through_the_origin_as_certified);
    tcase_add_test(times, one_changeover_tells_a_time_without_an_uncertainty_and_none_tells_nothing);
    tcase_add_test(times, changeovers_add_up_and_those_of_an_older_program_are_told_apart);
    tcase_add_test(times, a_changeover_is_shared_out_over_the_shifts_that_it_lies_in);
    tcase_add_test(times, a_single_shift_lasts_a_day_and_a_long_stop_goes_over_all_of_them);
    tcase_add_test(times, alarms_are_counted_by_cause_with_how_long_they_stood_and_where);
    return suite;
}
