/* Statistics and least squares against NIST's certified values (data/nist.md). */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/statistics.h"
#include "suite.h"

#define VALUES_MAX 5000

struct columns {
    size_t n;
    double y[VALUES_MAX], x[VALUES_MAX];
};

static void read_csv(const char *name, struct columns *c)
{
    char path[160], line[160];
    snprintf(path, sizeof path, "tests/reference/data/%s", name);
    FILE *file = fopen(path, "r");
    ck_assert_msg(file != NULL, "%s", path);
    ck_assert(fgets(line, sizeof line, file) != NULL); /* the names of the columns */
    for (c->n = 0; fgets(line, sizeof line, file) != NULL; c->n++) {
        ck_assert_uint_lt(c->n, VALUES_MAX);
        char *end;
        c->y[c->n] = strtod(line, &end);
        c->x[c->n] = *end == ',' ? strtod(end + 1, NULL) : 0;
    }
    fclose(file);
}

static void read_digits(const char *name, struct columns *c)
{
    char path[160];
    snprintf(path, sizeof path, "tests/reference/data/%s", name);
    FILE *file = fopen(path, "r");
    ck_assert_msg(file != NULL, "%s", path);
    c->n = 0;
    for (int digit; (digit = fgetc(file)) != EOF;)
        if (digit >= '0' && digit <= '9')
            c->y[c->n++] = digit - '0';
    fclose(file);
}

static void make_numacc(double middle, struct columns *c)
{
    c->n = 1001;
    c->y[0] = middle;
    for (size_t i = 1; i < c->n; i++)
        c->y[i] = i % 2 ? middle - 0.1 : middle + 0.1;
}

/* Relative; the certified digits themselves end at about 1e-15. */
static void expect(const char *what, double found, double certified, double within)
{
    double off = fabs(found - certified) / fabs(certified);
    ck_assert_msg(off <= within, "%s is %.17g, certified %.17g: off by %g, at most %g", what, found, certified, off,
                  within);
}

/* ---- univariate ------------------------------------------------------------------------------------------------ */

static const struct {
    const char *name;
    size_t n;
    double mean, sd, autocorrelation;
    double mean_within, sd_within, autocorrelation_within;
} univariate[] = {
    {"nist_numacc1.csv", 3, 10000002, 1, -0.5, 0, 0, 0},
    {"nist_pidigits.txt", 5000, 4.53480000000000, 2.86733906028871, -0.00355099287237972, 1e-14, 1e-14, 1e-11},
    {"nist_lottery.csv", 218, 518.958715596330, 291.699727470969, -0.120948622967393, 1e-14, 1e-14, 1e-13},
    {"nist_lew.csv", 200, -177.435000000000, 277.332168044316, -0.307304800605679, 1e-14, 1e-14, 1e-13},
    {"nist_mavro.csv", 50, 2.00185600000000, 0.000429123454003053, 0.937989183438248, 1e-14, 1e-12, 1e-12},
    {"nist_michelso.csv", 100, 299.852400000000, 0.0790105478190518, 0.535199668621283, 1e-14, 1e-12, 1e-12},
    /* 0.1 is no binary fraction: what double precision can hold of these sets is no better (see GSL's own limits) */
    {"NumAcc2", 1001, 1.2, 0.1, -0.999, 1e-14, 1e-13, 1e-13},
    {"NumAcc3", 1001, 1000000.2, 0.1, -0.999, 1e-15, 1e-9, 1e-10},
    {"NumAcc4", 1001, 10000000.2, 0.1, -0.999, 1e-15, 1e-7, 1e-10},
};
#define N_UNIVARIATE ((int)(sizeof univariate / sizeof univariate[0]))

START_TEST(mean_standard_deviation_and_autocorrelation_are_the_certified_ones)
{
    static struct columns c;
    const char *name = univariate[_i].name;
    if (strcmp(name, "nist_pidigits.txt") == 0)
        read_digits(name, &c);
    else if (strncmp(name, "NumAcc", 6) == 0)
        make_numacc(univariate[_i].mean, &c);
    else
        read_csv(name, &c);
    ck_assert_uint_eq(c.n, univariate[_i].n);
    struct kr_spread spread = kr_spread_of(c.y, c.n);
    expect(name, spread.mean, univariate[_i].mean, univariate[_i].mean_within);
    expect(name, spread.sd, univariate[_i].sd, univariate[_i].sd_within);
    expect(name, spread.autocorrelation, univariate[_i].autocorrelation, univariate[_i].autocorrelation_within);
}
END_TEST

/* ---- regression ------------------------------------------------------------------------------------------------ */

static struct kr_least_squares fit;

static void fit_polynomial(const struct columns *c, uint16_t n)
{
    kr_least_squares_begin(&fit, n);
    for (size_t i = 0; i < c->n; i++) {
        double row[3] = {1, c->x[i], c->x[i] * c->x[i]};
        kr_least_squares_add(&fit, row, c->y[i]);
    }
}

START_TEST(the_straight_line_of_norris_is_the_certified_one)
{
    static struct columns c;
    double x[2], sd[2];
    read_csv("nist_norris.csv", &c);
    ck_assert_uint_eq(c.n, 36);
    fit_polynomial(&c, 2);
    ck_assert(kr_least_squares_solve(&fit, x));
    ck_assert(kr_least_squares_deviations(&fit, sd));
    expect("B0", x[0], -0.262323073774029, 1e-12);
    expect("B1", x[1], 1.00211681802045, 1e-14);
    expect("sd of B0", sd[0], 0.232818234301152, 1e-13);
    expect("sd of B1", sd[1], 0.429796848199937E-03, 1e-13);
    expect("residual sum of squares", fit.ss, 26.6173985294224, 1e-12);
    expect("residual sd", sqrt(fit.ss / 34), 0.884796396144373, 1e-12);
    struct kr_spread spread = kr_spread_of(c.y, c.n);
    double total = spread.sd * spread.sd * 35;
    expect("R squared", 1 - fit.ss / total, 0.999993745883712, 1e-14);
    expect("regression sum of squares", total - fit.ss, 4255954.13232369, 1e-14);
}
END_TEST

START_TEST(the_parabola_of_pontius_is_the_certified_one)
{
    static struct columns c;
    double x[3], sd[3];
    read_csv("nist_pontius.csv", &c);
    ck_assert_uint_eq(c.n, 40);
    fit_polynomial(&c, 3);
    ck_assert(kr_least_squares_solve(&fit, x));
    ck_assert(kr_least_squares_deviations(&fit, sd));
    expect("B0", x[0], 0.673565789473684E-03, 1e-11);
    expect("B1", x[1], 0.732059160401003E-06, 1e-14);
    expect("B2", x[2], -0.316081871345029E-14, 1e-11);
    expect("sd of B0", sd[0], 0.107938612033077E-03, 1e-12);
    expect("sd of B1", sd[1], 0.157817399981659E-09, 1e-12);
    expect("sd of B2", sd[2], 0.486652849992036E-16, 1e-12);
    expect("residual sum of squares", fit.ss, 0.155761768796992E-05, 1e-12);
    expect("residual sd", sqrt(fit.ss / 37), 0.205177424076185E-03, 1e-12);
}
END_TEST

/* ---- at the edges ---------------------------------------------------------------------------------------------- */

START_TEST(one_value_has_no_spread_and_none_has_nothing)
{
    double value = 7;
    struct kr_spread one = kr_spread_of(&value, 1), none = kr_spread_of(NULL, 0);
    ck_assert(one.mean == 7 && one.sd == 0 && one.autocorrelation == 0 && one.least == 7 && one.most == 7);
    ck_assert(none.n == 0 && none.mean == 0 && none.sd == 0);
    ck_assert(isinf(kr_capability(&one, 1)));
    ck_assert(kr_capability_off_centre(&one, 1) < 0);
}
END_TEST

/* Cp and Cpk as section 6.1.6 of the NIST/SEMATECH e-Handbook of Statistical Methods defines them (see statistics.h);
 * the figures are worked by hand. */
START_TEST(capability_is_the_tolerance_in_three_standard_deviations)
{
    double value[] = {-1, 0, 1, 0.5, -0.5}; /* sd = sqrt(2.5 / 4) */
    struct kr_spread spread = kr_spread_of(value, 5);
    expect("Cp", kr_capability(&spread, 3), 3 / (3 * sqrt(0.625)), 1e-15);
    for (int i = 0; i < 5; i++)
        value[i] += 1;
    spread = kr_spread_of(value, 5);
    expect("Cpk", kr_capability_off_centre(&spread, 3), 2 / (3 * sqrt(0.625)), 1e-15);
}
END_TEST

START_TEST(unknowns_that_the_rows_do_not_determine_are_not_solved)
{
    double x[3] = {1, 2, 3}, sd[3];
    kr_least_squares_begin(&fit, 3);
    kr_least_squares_add(&fit, (double[]){1, -1, 0}, 5);
    kr_least_squares_add(&fit, (double[]){0, 1, -1}, 6);
    kr_least_squares_add(&fit, (double[]){1, 0, -1}, 11.5);
    ck_assert(!kr_least_squares_solve(&fit, x) && !kr_least_squares_deviations(&fit, sd));
    ck_assert(x[0] == 1 && x[1] == 2 && x[2] == 3);
    kr_least_squares_add(&fit, (double[]){1, 1, 1}, 0);
    ck_assert(kr_least_squares_solve(&fit, x));
    expect("ss", fit.ss, 0.25 / 3, 1e-12); /* the half is shared out over a loop of three */
}
END_TEST

/* As often as an equation counts, so often it may be given. */
START_TEST(an_equation_of_weight_w_is_w_equations)
{
    double once[2], often[2];
    kr_least_squares_begin(&fit, 2);
    for (int i = 0; i < 3; i++)
        kr_least_squares_add(&fit, (double[]){1, 1}, 3);
    kr_least_squares_add(&fit, (double[]){1, 1}, 4);
    kr_least_squares_add(&fit, (double[]){1, 0}, 1);
    ck_assert(kr_least_squares_solve(&fit, often));
    kr_least_squares_begin(&fit, 2);
    kr_least_squares_add(&fit, (double[]){sqrt(3), sqrt(3)}, 3 * sqrt(3));
    kr_least_squares_add(&fit, (double[]){1, 1}, 4);
    kr_least_squares_add(&fit, (double[]){1, 0}, 1);
    ck_assert(kr_least_squares_solve(&fit, once));
    expect("x1", once[1], often[1], 1e-14);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("statistics");
    TCase *certified = suite_case(suite, "certified"), *edges = suite_case(suite, "edges");
    tcase_add_loop_test(certified, mean_standard_deviation_and_autocorrelation_are_the_certified_ones, 0, N_UNIVARIATE);
    tcase_add_test(certified, the_straight_line_of_norris_is_the_certified_one);
    tcase_add_test(certified, the_parabola_of_pontius_is_the_certified_one);
    tcase_add_test(edges, one_value_has_no_spread_and_none_has_nothing);
    tcase_add_test(edges, capability_is_the_tolerance_in_three_standard_deviations);
    tcase_add_test(edges, unknowns_that_the_rows_do_not_determine_are_not_solved);
    tcase_add_test(edges, an_equation_of_weight_w_is_w_equations);
    return suite;
}
