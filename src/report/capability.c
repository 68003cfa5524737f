#include <assert.h>
#include <math.h>

#include "kniferail/report.h"

/* Logarithm of the square root of pi, which is the gamma function of 1/2. */
#define LOG_ROOT_PI 0.5723649429247001
/* 95 % of a normal variable lie within this many standard deviations of the mean. */
#define Z_95 1.959963984540054

/* The logarithm of the gamma function of degrees / 2, by its recurrence from 1 or 1/2. (The C library's lgamma()
 * leaves the sign in a variable of its own.) */
static double log_gamma_of_half(uint32_t degrees)
{
    double sum = degrees % 2 ? LOG_ROOT_PI : 0;
    for (uint32_t twice = degrees % 2 ? 1 : 2; twice < degrees; twice += 2)
        sum += log(twice / 2.0);
    return sum;
}

/* Returns the probability that a gamma variable of shape a lies below x. A small x uses the power series; a large x
 * uses the continued fraction of the complement (Lentz's method): NIST Digital Library of Mathematical Functions, 8.7.1
 * and 8.9.2, numbers from memory. Both end when a term changes nothing any more. factor is common to both: x^a exp(-x)
 * / gamma(a). */
static double below_by_series(double a, double x, double factor)
{
    double term = 1 / a, sum = term;
    for (int i = 1; term > sum * 1e-17; i++) {
        term *= x / (a + i);
        sum += term;
    }
    return sum * factor;
}

static double above_by_fraction(double a, double x, double factor)
{
    double b = x + 1 - a, c = 1e300, d = 1 / b, product = d, step = 0;
    for (int i = 1; i < 10000 && fabs(step - 1) > 1e-16; i++) {
        double n = -i * (i - a);
        b += 2;
        d = 1 / (n * d + b);
        c = b + n / c;
        step = c * d;
        product *= step;
    }
    return product * factor;
}

static double below(double a, double x, double log_gamma)
{
    double factor = exp(a * log(x) - x - log_gamma);
    return x < a + 1 ? below_by_series(a, x, factor) : 1 - above_by_fraction(a, x, factor);
}

/* Solves by bisection: the probability grows with x, and any start will do. */
double kr_chi_square_quantile(double p, uint32_t degrees)
{
    assert(p > 0 && p < 1 && degrees > 0);
    double a = degrees / 2.0, log_gamma = log_gamma_of_half(degrees), low = 0, high = degrees;
    while (below(a, high / 2, log_gamma) < p)
        high *= 2;
    for (int i = 0; i < 200 && high - low > 1e-13 * high; i++) {
        double middle = low + (high - low) / 2;
        *(below(a, middle / 2, log_gamma) < p ? &low : &high) = middle;
    }
    return low + (high - low) / 2;
}

struct kr_interval kr_capability_interval(double cp, size_t n)
{
    double degrees = (double)n - 1;
    return (struct kr_interval){.low = cp * sqrt(kr_chi_square_quantile(0.025, (uint32_t)(n - 1)) / degrees),
                                .high = cp * sqrt(kr_chi_square_quantile(0.975, (uint32_t)(n - 1)) / degrees)};
}

struct kr_interval kr_capability_off_centre_interval(double cpk, size_t n)
{
    double half = Z_95 * sqrt(1 / (9.0 * (double)n) + cpk * cpk / (2 * ((double)n - 1)));
    return (struct kr_interval){cpk - half, cpk + half};
}
