#include "kniferail/gauge.h"

#include <math.h>
#include <stddef.h>

void kr_gauge_add(struct kr_gauge_sum *sum, int32_t reading_um)
{
    sum->n++;
    sum->sum_um += reading_um;
    sum->squares_um2 += (int64_t)reading_um * reading_um;
}

static double mean_um(const struct kr_gauge_sum *s)
{
    return (double)s->sum_um / s->n;
}

/* The variance of an estimate, and the sum of (variance of a part)^2 / (its degrees of freedom), from which the degrees
 * of freedom of the estimate follow. */
struct variance {
    double um2, um4_per_degree;
};

/* Adds half the mean of these readings. The variance of their mean is s^2 / n (JCGM 100, 4.2.3), with n - 1 degrees of
 * freedom. For a single reading only the resolution is known. */
static void add_half_mean(struct variance *to, const struct kr_gauge_sum *s)
{
    double mean = mean_um(s), squares = (double)s->squares_um2 - mean * mean * s->n;
    if (s->n < 2 || squares <= 0)
        return;
    double of_half = squares / (s->n - 1) / s->n / 4;
    to->um2 += of_half;
    to->um4_per_degree += of_half * of_half / (s->n - 1);
}

/* How many standard deviations on each side of the mean hold 95.45 % of Student's t distribution: JCGM 100, table G.2.
 * The numbers are from memory; tests/reference/test_report.c computes them again. */
static const struct {
    uint32_t degrees;
    double factor;
} table_g2[] = {
    {1, 13.97}, {2, 4.53},  {3, 3.31},  {4, 2.87},  {5, 2.65},  {6, 2.52},  {7, 2.43},  {8, 2.37},    {9, 2.32},
    {10, 2.28}, {11, 2.25}, {12, 2.23}, {13, 2.21}, {14, 2.20}, {15, 2.18}, {16, 2.17}, {17, 2.16},   {18, 2.15},
    {19, 2.14}, {20, 2.13}, {25, 2.11}, {30, 2.09}, {35, 2.07}, {40, 2.06}, {50, 2.05}, {100, 2.025},
};
#define N_TABLE_G2       (sizeof table_g2 / sizeof table_g2[0])
#define DEGREES_OF_2     1000 /* from here on the factor is 2.00 to three digits */
#define FACTOR_OF_NORMAL 2.0

double kr_gauge_factor(double degrees)
{
    double factor = table_g2[0].factor;
    if (degrees >= DEGREES_OF_2)
        return FACTOR_OF_NORMAL;
    for (size_t i = 0; i < N_TABLE_G2 && table_g2[i].degrees <= degrees; i++)
        factor = table_g2[i].factor;
    return factor;
}

#define RESOLUTION_VARIANCE (1.0 / 12) /* of a micrometre; rectangular, with infinite degrees of freedom */

/* The degrees of freedom are those of Welch and Satterthwaite (JCGM 100, G.4.1). */
static int32_t expanded_um(const struct variance *readings)
{
    double um2 = readings->um2 + RESOLUTION_VARIANCE;
    double degrees = readings->um4_per_degree > 0 ? um2 * um2 / readings->um4_per_degree : DEGREES_OF_2;
    return (int32_t)ceil(kr_gauge_factor(degrees) * sqrt(um2));
}

struct kr_gauge_bias kr_gauge_bias(const struct kr_gauge_sum *fast, int32_t fast_um_per_s,
                                   const struct kr_gauge_sum *slow, int32_t slow_um_per_s)
{
    struct kr_gauge_bias is = {.n = fast->n};
    if (fast->n == 0 || slow->n == 0 || fast_um_per_s <= slow_um_per_s)
        return (struct kr_gauge_bias){.n = 0};
    double bias_um = mean_um(fast) / 2;
    double delay_s = (bias_um - mean_um(slow) / 2) / ((double)fast_um_per_s - slow_um_per_s);
    is.bias_um = (int32_t)lround(bias_um);
    struct variance variance = {0, 0};
    add_half_mean(&variance, fast);
    is.uncertainty_um = expanded_um(&variance);
    is.hysteresis_um = (int32_t)lround(2 * (bias_um - delay_s * fast_um_per_s));
    is.delay_us = (int32_t)lround(1e6 * delay_s);
    return is;
}

struct kr_gauge_offset kr_gauge_offset(const struct kr_gauge_sum *up, const struct kr_gauge_sum *down)
{
    if (up->n == 0 || down->n == 0)
        return (struct kr_gauge_offset){.n = 0};
    struct variance variance = {0, 0};
    add_half_mean(&variance, up);
    add_half_mean(&variance, down);
    return (struct kr_gauge_offset){
        .n = up->n + down->n,
        .offset_um = (int32_t)lround((mean_um(up) + mean_um(down)) / 2),
        .uncertainty_um = expanded_um(&variance),
        .play_um = (int32_t)lround(mean_um(up) - mean_um(down)),
    };
}
