#include <math.h>

#include "kniferail/report.h"

/* Sums about the means, in two passes: the textbook's sums of squares would lose every digit of a small slope. Draper
 * and Smith, Applied Regression Analysis, chapter 1, from memory; the test holds it against NIST's certified line. */
static bool line_of(const double y[], const double x[], size_t n, double *slope, double *slope_sd)
{
    double mean_x = kr_spread_of(x, n).mean, mean_y = kr_spread_of(y, n).mean, xx = 0, xy = 0, rest = 0;
    for (size_t i = 0; i < n; i++) {
        xx += (x[i] - mean_x) * (x[i] - mean_x);
        xy += (x[i] - mean_x) * (y[i] - mean_y);
    }
    if (n < 3 || !(xx > 0))
        return false;
    *slope = xy / xx;
    for (size_t i = 0; i < n; i++) {
        double off = y[i] - mean_y - *slope * (x[i] - mean_x);
        rest += off * off;
    }
    *slope_sd = sqrt(rest / (double)(n - 2) / xx);
    return true;
}

static void take_capability(struct kr_placement *p, double tolerance)
{
    p->has_capability = p->spread.n >= 2 && p->spread.sd > 0;
    p->few = p->spread.n < KR_REPORT_FEW;
    if (!p->has_capability)
        return;
    p->cp = kr_capability(&p->spread, tolerance);
    p->cpk = kr_capability_off_centre(&p->spread, tolerance);
    p->cp_95 = kr_capability_interval(p->cp, p->spread.n);
    p->cpk_95 = kr_capability_off_centre_interval(p->cpk, p->spread.n);
}

static void take_drift(struct kr_placement *p, const double error[], const double when[])
{
    double slope, slope_sd, span = p->n_since > 0 ? when[p->n_since - 1] - when[0] : 0;
    p->has_drift = span > 0 && line_of(error, when, p->n_since, &slope, &slope_sd);
    if (!p->has_drift)
        return;
    p->drift = slope * span;
    p->drift_sd = slope_sd * span;
    p->drifts = fabs(p->drift) > KR_REPORT_DRIFT_SDS * p->drift_sd;
}

struct kr_placement kr_placement_of(const double error[], const double when[], size_t n, size_t n_since,
                                    double tolerance)
{
    struct kr_placement p = {.spread = kr_spread_of(error, n), .n_since = n_since};
    take_capability(&p, tolerance);
    if (n_since > 0)
        take_drift(&p, error + (n - n_since), when + (n - n_since));
    return p;
}
