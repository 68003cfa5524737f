#include "kniferail/statistics.h"

#include <assert.h>
#include <math.h>
#include <string.h>

/* ---- spread ----------------------------------------------------------------------------------------------- */

/* Two passes; each corrects the rounding of the pass before (Chan, Golub and LeVeque 1983, The American Statistician
 * 37, 242-247). The formula "sum of squares less square of the sum" would lose every digit of a small spread around a
 * large mean. */
static double mean_of(const double value[], size_t n)
{
    double sum = 0, rest = 0;
    for (size_t i = 0; i < n; i++)
        sum += value[i];
    double mean = sum / (double)n;
    for (size_t i = 0; i < n; i++)
        rest += value[i] - mean;
    return mean + rest / (double)n;
}

static double sum_of_squares(const double value[], size_t n, double mean)
{
    double squares = 0, rest = 0;
    for (size_t i = 0; i < n; i++) {
        double off = value[i] - mean;
        squares += off * off;
        rest += off;
    }
    return squares - rest * rest / (double)n;
}

static double lag_product(const double value[], size_t n, double mean)
{
    double product = 0;
    for (size_t i = 0; i + 1 < n; i++)
        product += (value[i] - mean) * (value[i + 1] - mean);
    return product;
}

struct kr_spread kr_spread_of(const double value[], size_t n)
{
    struct kr_spread spread = {.n = n};
    if (n == 0)
        return spread;
    spread.mean = mean_of(value, n);
    spread.least = spread.most = value[0];
    for (size_t i = 1; i < n; i++) {
        spread.least = fmin(spread.least, value[i]);
        spread.most = fmax(spread.most, value[i]);
    }
    double squares = sum_of_squares(value, n, spread.mean);
    if (n < 2 || squares <= 0)
        return spread;
    spread.sd = sqrt(squares / (double)(n - 1));
    spread.autocorrelation = lag_product(value, n, spread.mean) / squares;
    return spread;
}

static double in_sigmas(double room, double sd)
{
    if (sd > 0)
        return room / (3 * sd);
    return room < 0 ? -INFINITY : INFINITY;
}

double kr_capability(const struct kr_spread *spread, double tolerance)
{
    return in_sigmas(tolerance, spread->sd);
}

double kr_capability_off_centre(const struct kr_spread *spread, double tolerance)
{
    return in_sigmas(tolerance - fabs(spread->mean), spread->sd);
}

/* ---- least squares ---------------------------------------------------------------------------------------- */

/* Row i of the triangular matrix holds columns i to n - 1. */
static int at(const struct kr_least_squares *fit, int i, int j)
{
    return i * fit->n - i * (i - 1) / 2 + (j - i);
}

void kr_least_squares_begin(struct kr_least_squares *fit, uint16_t n)
{
    assert(n >= 1 && n <= KR_UNKNOWNS_MAX);
    memset(fit, 0, sizeof *fit);
    fit->n = n;
}

/* Rotates row and row i of the triangular matrix so that row[i] becomes 0 (a Givens rotation). */
static void rotate(struct kr_least_squares *fit, int i, double row[], double *y)
{
    double *r = &fit->r[at(fit, i, i)];
    double length = hypot(r[0], row[i]), c = r[0] / length, s = row[i] / length;
    for (int j = i; j < fit->n; j++) {
        double kept = r[j - i];
        r[j - i] = c * kept + s * row[j];
        row[j] = c * row[j] - s * kept;
    }
    double kept = fit->rhs[i];
    fit->rhs[i] = c * kept + s * *y;
    *y = c * *y - s * kept;
}

void kr_least_squares_add(struct kr_least_squares *fit, const double row[], double y)
{
    double rest[KR_UNKNOWNS_MAX];
    memcpy(rest, row, fit->n * sizeof rest[0]);
    for (int i = 0; i < fit->n; i++)
        if (rest[i] != 0)
            rotate(fit, i, rest, &y);
    fit->ss += y * y;
    fit->n_rows++;
}

/* If a diagonal element is only rounding in comparison with its column, no row determines its unknown by itself. */
static bool determined(const struct kr_least_squares *fit)
{
    for (int j = 0; j < fit->n; j++) {
        double column = 0;
        for (int i = 0; i <= j; i++)
            column = hypot(column, fit->r[at(fit, i, j)]);
        if (fabs(fit->r[at(fit, j, j)]) <= 1e-13 * fit->n * column)
            return false;
    }
    return true;
}

bool kr_least_squares_solve(const struct kr_least_squares *fit, double x[])
{
    if (!determined(fit))
        return false;
    for (int i = fit->n - 1; i >= 0; i--) {
        double sum = fit->rhs[i];
        for (int j = i + 1; j < fit->n; j++)
            sum -= fit->r[at(fit, i, j)] * x[j];
        x[i] = sum / fit->r[at(fit, i, i)];
    }
    return true;
}

/* Column k of the inverse of the triangular matrix: the k-th unit vector, solved backwards. It ends at the diagonal. */
static void inverse_column(const struct kr_least_squares *fit, int k, double column[])
{
    for (int i = k; i >= 0; i--) {
        double sum = i == k;
        for (int j = i + 1; j <= k; j++)
            sum -= fit->r[at(fit, i, j)] * column[j];
        column[i] = sum / fit->r[at(fit, i, i)];
    }
}

bool kr_least_squares_deviations(const struct kr_least_squares *fit, double sd[])
{
    double column[KR_UNKNOWNS_MAX];
    if (fit->n_rows <= fit->n || !determined(fit))
        return false;
    double sigma = sqrt(fit->ss / (fit->n_rows - fit->n));
    memset(sd, 0, fit->n * sizeof sd[0]);
    for (int k = 0; k < fit->n; k++) {
        inverse_column(fit, k, column);
        for (int i = 0; i <= k; i++)
            sd[i] = hypot(sd[i], column[i]);
    }
    for (int i = 0; i < fit->n; i++)
        sd[i] *= sigma;
    return true;
}
