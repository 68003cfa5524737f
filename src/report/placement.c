#include <math.h>

#include "kniferail/report.h"

struct line {
    double mean_x, mean_y, slope, slope_sd;
};

/* The errors over time. With a line, the absolute distances of the errors from that line. */
struct points {
    const double *x, *y;
    size_t n;
    const struct line *line; /* NULL: the errors */
};

static double off_line(const struct line *line, double x, double y)
{
    return y - line->mean_y - line->slope * (x - line->mean_x);
}

static double y_of(const struct points *p, size_t i)
{
    return p->line == NULL ? p->y[i] : fabs(off_line(p->line, p->x[i], p->y[i]));
}

static double mean_y_of(const struct points *p)
{
    double sum = 0, rest = 0;
    for (size_t i = 0; i < p->n; i++)
        sum += y_of(p, i);
    double mean = sum / (double)p->n;
    for (size_t i = 0; i < p->n; i++)
        rest += y_of(p, i) - mean;
    return mean + rest / (double)p->n;
}

/* Sums around the means, in two passes: the textbook's sums of squares would lose every digit of a small slope. Draper
 * and Smith, Applied Regression Analysis, chapter 1, from memory; the test compares it with NIST's certified line. */
static bool line_of(const struct points *p, struct line *line)
{
    double xx = 0, xy = 0, rest = 0;
    *line = (struct line){.mean_x = kr_spread_of(p->x, p->n).mean, .mean_y = mean_y_of(p)};
    for (size_t i = 0; i < p->n; i++) {
        xx += (p->x[i] - line->mean_x) * (p->x[i] - line->mean_x);
        xy += (p->x[i] - line->mean_x) * (y_of(p, i) - line->mean_y);
    }
    if (p->n < 3 || !(xx > 0))
        return false;
    line->slope = xy / xx;
    for (size_t i = 0; i < p->n; i++) {
        double off = off_line(line, p->x[i], y_of(p, i));
        rest += off * off;
    }
    line->slope_sd = sqrt(rest / (double)(p->n - 2) / xx);
    return true;
}

/* Returns the probability that values which only scatter have such a slope or a steeper one. It is 1 for a slope of 0,
 * and 0 for any other slope without scatter. */
static double by_chance(const struct line *line, size_t n)
{
    if (line->slope == 0)
        return 1;
    return line->slope_sd > 0 ? kr_student_beyond(line->slope / line->slope_sd, (uint32_t)(n - 2)) : 0;
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

/* Distances from the line, over time: Glejser 1969, Journal of the American Statistical Association 64, 316-323, from
 * memory. The test measures how rarely chance alone looks like a growing scatter. */
static void take_scatter(struct kr_placement *p, const struct points *errors, const struct line *drift)
{
    struct points distances = *errors;
    struct line line;
    distances.line = drift;
    if (p->n_since < KR_REPORT_SCATTER_LEAST || !line_of(&distances, &line) || line.slope <= 0)
        return;
    p->scatter_by_chance = by_chance(&line, p->n_since);
}

static void take_drift(struct kr_placement *p, const double error[], const double when[])
{
    double span = p->n_since > 0 ? when[p->n_since - 1] - when[0] : 0;
    struct points errors = {.x = when, .y = error, .n = p->n_since};
    struct line line;
    p->has_drift = span > 0 && line_of(&errors, &line);
    if (!p->has_drift)
        return;
    p->drift = line.slope * span;
    p->drift_sd = line.slope_sd * span;
    p->drift_by_chance = by_chance(&line, p->n_since);
    take_scatter(p, &errors, &line);
}

struct kr_placement kr_placement_of(const double error[], const double when[], size_t n, size_t n_since,
                                    double tolerance)
{
    struct kr_placement p = {
        .spread = kr_spread_of(error, n), .n_since = n_since, .drift_by_chance = 1, .scatter_by_chance = 1};
    take_capability(&p, tolerance);
    if (n_since > 0)
        take_drift(&p, error + (n - n_since), when + (n - n_since));
    return p;
}

enum kr_report_trend kr_placement_trend(const struct kr_placement *p, size_t n_holders)
{
    double rare = KR_REPORT_CHANCE / (double)(n_holders > 0 ? n_holders : 1);
    if (p->drift_by_chance < rare)
        return KR_TREND_DRIFTS;
    return p->scatter_by_chance < rare ? KR_TREND_SCATTERS : KR_TREND_NONE;
}
