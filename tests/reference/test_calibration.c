/* Calibration: NIST's certified line (data/nist.md), the formulas of ISO 230-2 (data/iso230_2.md), and whether what was
 * put into made-up readings comes out of them within the uncertainty that is stated. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/calibration.h"
#include "suite.h"

#define TARGETS 17
#define RUNS    5
#define CASES   1000

static struct kr_reading reading[KR_CALIBRATION_READINGS_MAX];
static struct kr_calibration result;
static const struct kr_instrument ideal;

static void expect(const char *what, double found, double right, double within)
{
    ck_assert_msg(fabs(found - right) <= within, "%s is %.17g, not %.17g", what, found, right);
}

static FILE *open_data(const char *name)
{
    char path[160], line[200];
    snprintf(path, sizeof path, "tests/reference/data/%s", name);
    FILE *file = fopen(path, "r");
    ck_assert_msg(file != NULL, "%s", path);
    ck_assert(fgets(line, sizeof line, file) != NULL); /* the names of the columns */
    return file;
}

/* ---- against published figures --------------------------------------------------------------------------------- */

/* y = B0 + B1 x: the reading is y, the target x, and the scale B1 - 1. */
START_TEST(offset_and_scale_of_norris_are_the_certified_ones)
{
    char line[200];
    size_t n = 0;
    FILE *file = open_data("nist_norris.csv");
    for (char *end; fgets(line, sizeof line, file); n++) {
        reading[n] = (struct kr_reading){.reading_mm = strtod(line, &end), .run = 1};
        reading[n].target_mm = strtod(end + 1, NULL);
    }
    fclose(file);
    ck_assert_uint_eq(n, 36);
    ck_assert(kr_calibrate(reading, n, ideal, &result));
    const struct kr_calibration_fit *fit = &result.fit[KR_MODEL_SCALE];
    ck_assert(fit->determined);
    expect("B0", fit->offset_mm, -0.262323073774029, 1e-12);
    expect("B1", 1 + fit->scale, 1.00211681802045, 1e-14);
    expect("sd of B0", fit->u_offset_mm, 0.232818234301152, 1e-12);
    expect("sd of B1", fit->u_scale, 0.429796848199937E-03, 1e-15);
    expect("residual sd", fit->sd_mm, 0.884796396144373, 1e-11);
}
END_TEST

static size_t read_runs(const char *name, bool are_deviations)
{
    char line[200];
    size_t n = 0;
    FILE *file = open_data(name);
    while (fgets(line, sizeof line, file)) {
        char *at = strchr(line, ',') + 1;
        uint8_t direction = strncmp(at, "fwd", 3) == 0 ? KR_RISING : KR_FALLING;
        double target_mm = strtod(strchr(at, ',') + 1, &at);
        for (uint16_t run = 1; run <= RUNS; run++) {
            double value = strtod(at + 1, &at);
            reading[n++] =
                (struct kr_reading){target_mm, are_deviations ? target_mm + value / 1000 : value, direction, run};
        }
    }
    fclose(file);
    return n;
}

static double figure(const struct kr_iso_axis *a, const char *name, const char *index)
{
    bool of_axis = strcmp(index, "axis") == 0;
    const struct kr_iso_position *p = &a->position[of_axis ? 0 : strtol(index, NULL, 10) - 1];
    const struct {
        const char *name;
        double of_position, of_axis;
    } row[] = {
        {"x_fwd", p->mean_mm[0], 0},
        {"x_bwd", p->mean_mm[1], 0},
        {"s_fwd", p->s_mm[0], 0},
        {"s_bwd", p->s_mm[1], 0},
        {"x_mean", p->mean_both_mm, 0},
        {"B", p->reversal_mm, a->reversal_mm},
        {"Bmean", 0, a->mean_reversal_mm},
        {"R_fwd", p->repeatability_mm[0], a->repeatability_mm[0]},
        {"R_bwd", p->repeatability_mm[1], a->repeatability_mm[1]},
        {"R", p->repeatability_both_mm, a->repeatability_both_mm},
        {"E_fwd", 0, a->systematic_mm[0]},
        {"E_bwd", 0, a->systematic_mm[1]},
        {"E", 0, a->systematic_both_mm},
        {"M", 0, a->mean_range_mm},
        {"A_fwd", 0, a->accuracy_mm[0]},
        {"A_bwd", 0, a->accuracy_mm[1]},
        {"A", 0, a->accuracy_both_mm},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        if (strcmp(row[i].name, name) == 0)
            return of_axis ? row[i].of_axis : row[i].of_position;
    ck_abort_msg("%s is no figure", name);
}

START_TEST(every_figure_of_a_measured_axis_is_the_one_of_the_formulas)
{
    struct kr_iso_axis axis;
    char line[200];
    unsigned figures = 0;
    size_t n = read_runs("iso230_2_measured.csv", false);
    ck_assert_uint_eq(n, 50);
    ck_assert(kr_iso_evaluate(reading, n, &axis));
    FILE *file = open_data("iso230_2_expected.csv");
    for (; fgets(line, sizeof line, file); figures++) {
        char *name = strtok(line, ","), *index = strtok(NULL, ","), *value = strtok(NULL, ",");
        expect(name, figure(&axis, name, index), strtod(value, NULL), 1e-10);
    }
    fclose(file);
    ck_assert_uint_eq(figures, 57);
}
END_TEST

START_TEST(the_figures_that_are_exact_by_hand)
{
    struct kr_iso_axis a;
    size_t n = read_runs("iso230_2_hand.csv", true);
    const double root8 = 2 * sqrt(2);
    ck_assert(kr_iso_evaluate(reading, n, &a));
    expect("B", 1000 * a.reversal_mm, 4, 1e-9);
    expect("mean B", 1000 * a.mean_reversal_mm, 3, 1e-9);
    expect("M", 1000 * a.mean_range_mm, 6.5, 1e-9);
    expect("E", 1000 * a.systematic_both_mm, 9, 1e-9);
    expect("E rising", 1000 * a.systematic_mm[KR_RISING], 6, 1e-9);
    expect("E falling", 1000 * a.systematic_mm[KR_FALLING], 7, 1e-9);
    expect("R", 1000 * a.repeatability_both_mm, 4 + root8, 1e-9);
    expect("A", 1000 * a.accuracy_both_mm, 9 + root8, 1e-9);
    expect("A rising", 1000 * a.accuracy_mm[KR_RISING], 6 + root8, 1e-9);
}
END_TEST

/* A steel tape of 11.5 ppm a kelvin in a hall of 8 C: what it shows as 3200 mm is 0.44 mm less. */
START_TEST(a_length_read_in_the_cold_is_brought_to_20_degrees)
{
    expect("the length", kr_length_at_20_mm(3200, 11.5e-6, 8), 3200 - 0.4416, 1e-9);
    expect("at 20 C", kr_length_at_20_mm(3200, 11.5e-6, 20), 3200, 0);
}
END_TEST

/* ---- made-up readings ------------------------------------------------------------------------------------------ */

/* splitmix64 (Steele, Lea, Flood 2014), and a normal distribution by the polar form of Box and Muller. */
static uint64_t state;

static double uniform(void)
{
    uint64_t z = state += 0x9E3779B97F4A7C15u;
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9u;
    z = (z ^ z >> 27) * 0x94D049BB133111EBu;
    return (double)((z ^ z >> 31) >> 11) / 9007199254740992.0;
}

static double normal(void)
{
    double u, v, s;
    do {
        u = 2 * uniform() - 1;
        v = 2 * uniform() - 1;
        s = u * u + v * v;
    } while (s >= 1 || s == 0);
    return u * sqrt(-2 * log(s) / s);
}

struct truth {
    double offset_mm, scale, wave_mm, reversal_mm, noise_mm;
    double zero_mm, length; /* what the instrument itself is off by */
};

static double error_mm(const struct truth *t, double target_mm)
{
    return t->wave_mm * sin(target_mm * 3.14159265358979 / 400);
}

static size_t make(const struct truth *t)
{
    size_t n = 0;
    for (int i = 0; i < TARGETS; i++)
        for (uint16_t run = 1; run <= RUNS; run++)
            for (uint8_t d = 0; d < 2; d++) {
                double at_mm = 100.0 * i;
                double place_mm = at_mm + t->offset_mm + t->scale * at_mm + error_mm(t, at_mm) +
                                  (d == KR_RISING ? 0.5 : -0.5) * t->reversal_mm;
                reading[n++] = (struct kr_reading){
                    at_mm, place_mm + t->zero_mm + t->length * at_mm + t->noise_mm * normal(), d, run};
            }
    return n;
}

static void expect_rate(const char *what, unsigned within, unsigned of)
{
    double rate = (double)within / of;
    ck_assert_msg(rate > 0.93 && rate < 0.975, "%s: %u of %u lie within twice the stated uncertainty", what, within,
                  of);
}

/* Twice the standard uncertainty holds 95 of 100. */
START_TEST(of_1000_noisy_cases_as_many_lie_within_the_stated_uncertainty_as_should)
{
    const struct kr_instrument instrument = {.constant_mm = 0.004, .per_mm = 6e-6};
    unsigned offsets = 0, scales = 0, reversals = 0, places = 0;
    for (uint64_t i = 1; i <= CASES; i++) {
        state = i;
        struct truth t = {20 * uniform() - 10,
                          (uniform() - 0.5) * 2e-3,
                          0.05 * uniform(),
                          0.1 * uniform(),
                          0.02,
                          instrument.constant_mm * normal(),
                          instrument.per_mm * normal()};
        double wave_mm = t.wave_mm;
        t.wave_mm = 0;
        ck_assert(kr_calibrate(reading, make(&t), instrument, &result));
        const struct kr_calibration_fit *fit = &result.fit[KR_MODEL_SCALE];
        offsets += fabs(fit->offset_mm - t.offset_mm) <= 2 * fit->u_offset_mm;
        scales += fabs(fit->scale - t.scale) <= 2 * fit->u_scale;
        reversals += fabs(fit->reversal_mm - t.reversal_mm) <= 2 * fit->u_reversal_mm;
        t.wave_mm = wave_mm;
        t.zero_mm = t.length = 0;
        ck_assert(kr_calibrate(reading, make(&t), ideal, &result));
        for (int k = 0; k < TARGETS; k++) {
            const struct kr_calibration_target *target = &result.target[k];
            double at_mm = target->target_mm, told_mm = result.fit[KR_MODEL_TABLE].offset_mm +
                                                        result.fit[KR_MODEL_TABLE].scale * at_mm + target->residual_mm;
            double true_mm = t.offset_mm + t.scale * at_mm + error_mm(&t, at_mm);
            places += fabs(told_mm - true_mm) <= 2 * target->u_mm;
        }
    }
    expect_rate("offset", offsets, CASES);
    expect_rate("scale", scales, CASES);
    expect_rate("reversal", reversals, CASES);
    expect_rate("places of the table", places, CASES * TARGETS);
}
END_TEST

static const struct {
    struct truth truth;
    enum kr_calibration_model model;
} shapes[] = {
    {{.noise_mm = 0.02, .reversal_mm = 0.05}, KR_MODEL_AS_IS},
    {{.noise_mm = 0.02, .offset_mm = 0.3}, KR_MODEL_OFFSET},
    {{.noise_mm = 0.02, .offset_mm = 0.3, .scale = 100e-6}, KR_MODEL_SCALE},
    {{.noise_mm = 0.02, .scale = 100e-6, .reversal_mm = 0.05}, KR_MODEL_SCALE},
    {{.noise_mm = 0.02, .offset_mm = 0.3, .scale = 100e-6, .wave_mm = 0.05}, KR_MODEL_TABLE},
};

START_TEST(the_verdict_is_the_model_that_the_readings_were_made_by)
{
    unsigned right = 0;
    for (uint64_t i = 1; i <= CASES; i++) {
        state = i;
        ck_assert(kr_calibrate(reading, make(&shapes[_i].truth), ideal, &result));
        right += result.taken == shapes[_i].model;
    }
    ck_assert_msg(right >= CASES * 95 / 100, "%u of %u", right, CASES);
}
END_TEST

START_TEST(what_the_instrument_cannot_tell_is_not_taken)
{
    struct truth t = {.noise_mm = 0.005, .offset_mm = 0.03};
    state = 1;
    size_t n = make(&t);
    ck_assert(kr_calibrate(reading, n, (struct kr_instrument){.constant_mm = 0.02}, &result));
    ck_assert_int_eq(result.taken, KR_MODEL_OFFSET);
    ck_assert(kr_calibrate(reading, n, (struct kr_instrument){.constant_mm = 0.05}, &result));
    ck_assert_int_eq(result.taken, KR_MODEL_AS_IS);
}
END_TEST

/* ---- too little ------------------------------------------------------------------------------------------------ */

START_TEST(a_model_with_too_few_readings_is_not_determined)
{
    const struct kr_reading one[] = {{100, 100.5, KR_RISING, 1}, {100, 100.4, KR_RISING, 2}};
    ck_assert(!kr_calibrate(one, 0, ideal, &result));
    ck_assert(kr_calibrate(one, 1, ideal, &result));
    ck_assert(!result.fit[KR_MODEL_OFFSET].determined);
    ck_assert_int_eq(result.taken, KR_MODEL_AS_IS);
    ck_assert(kr_calibrate(one, 2, ideal, &result));
    ck_assert(result.fit[KR_MODEL_OFFSET].determined);
    expect("offset", result.fit[KR_MODEL_OFFSET].offset_mm, 0.45, 1e-12);
    ck_assert(!result.fit[KR_MODEL_SCALE].determined); /* one target has no length */
    ck_assert(!result.fit[KR_MODEL_TABLE].determined);
}
END_TEST

START_TEST(more_targets_than_a_table_has_points_are_refused)
{
    for (int i = 0; i <= KR_CALIBRATION_TARGETS_MAX; i++)
        reading[i] = (struct kr_reading){10.0 * i, 10.0 * i, KR_RISING, 1};
    ck_assert(kr_calibrate(reading, KR_CALIBRATION_TARGETS_MAX, ideal, &result));
    ck_assert(!kr_calibrate(reading, KR_CALIBRATION_TARGETS_MAX + 1, ideal, &result));
}
END_TEST

START_TEST(what_is_missing_for_the_figures_of_the_standard_is_named)
{
    struct truth t = {.noise_mm = 0.01};
    unsigned has, needs;
    state = 1;
    size_t n = make(&t);
    ck_assert_int_eq(kr_iso_lacks(reading, n, &has, &needs), KR_ISO_LACKS_NOTHING);
    ck_assert_int_eq(kr_iso_lacks(reading, n - 1, &has, &needs), KR_ISO_LACKS_RUNS);
    ck_assert_uint_eq(has, 4);
    ck_assert_uint_eq(needs, 5);
    ck_assert_int_eq(kr_iso_lacks(reading, 40, &has, &needs), KR_ISO_LACKS_TARGETS);
    ck_assert_uint_eq(has, 4);
    ck_assert_uint_eq(needs, 5);
    for (size_t i = 0; i < n; i++)
        reading[i].target_mm *= 3; /* 17 targets in 4.8 m */
    ck_assert_int_eq(kr_iso_lacks(reading, n, &has, &needs), KR_ISO_LACKS_TARGETS);
    ck_assert_uint_eq(has, 17);
    ck_assert_uint_eq(needs, 24);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("calibration");
    TCase *tc = suite_case(suite, "calibration");
    tcase_add_test(tc, offset_and_scale_of_norris_are_the_certified_ones);
    tcase_add_test(tc, every_figure_of_a_measured_axis_is_the_one_of_the_formulas);
    tcase_add_test(tc, the_figures_that_are_exact_by_hand);
    tcase_add_test(tc, a_length_read_in_the_cold_is_brought_to_20_degrees);
    tcase_add_test(tc, of_1000_noisy_cases_as_many_lie_within_the_stated_uncertainty_as_should);
    tcase_add_loop_test(tc, the_verdict_is_the_model_that_the_readings_were_made_by, 0,
                        (int)(sizeof shapes / sizeof shapes[0]));
    tcase_add_test(tc, what_the_instrument_cannot_tell_is_not_taken);
    tcase_add_test(tc, a_model_with_too_few_readings_is_not_determined);
    tcase_add_test(tc, more_targets_than_a_table_has_points_are_refused);
    tcase_add_test(tc, what_is_missing_for_the_figures_of_the_standard_is_named);
    return suite;
}
