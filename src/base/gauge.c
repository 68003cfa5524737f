#include "kniferail/gauge.h"

#include <math.h>

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

/* The square of the standard uncertainty of the mean; of a single reading nothing is known but its resolution. */
static double variance_of_mean(const struct kr_gauge_sum *s)
{
    double mean = mean_um(s), squares = (double)s->squares_um2 - mean * mean * s->n;
    return s->n > 1 && squares > 0 ? squares / (s->n - 1) / s->n : 0;
}

#define RESOLUTION_VARIANCE (1.0 / 12) /* of a micrometre, rectangular */

/* Of half the sum, or difference, of two means; or of half of one of them. */
static int32_t expanded_um(double variance_of_sum)
{
    return (int32_t)ceil(2 * sqrt(variance_of_sum / 4 + RESOLUTION_VARIANCE));
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
    is.uncertainty_um = expanded_um(variance_of_mean(fast));
    is.hysteresis_um = (int32_t)lround(2 * (bias_um - delay_s * fast_um_per_s));
    is.delay_us = (int32_t)lround(1e6 * delay_s);
    return is;
}

struct kr_gauge_offset kr_gauge_offset(const struct kr_gauge_sum *up, const struct kr_gauge_sum *down)
{
    if (up->n == 0 || down->n == 0)
        return (struct kr_gauge_offset){.n = 0};
    return (struct kr_gauge_offset){
        .n = up->n + down->n,
        .offset_um = (int32_t)lround((mean_um(up) + mean_um(down)) / 2),
        .uncertainty_um = expanded_um(variance_of_mean(up) + variance_of_mean(down)),
        .play_um = (int32_t)lround(mean_um(up) - mean_um(down)),
    };
}
