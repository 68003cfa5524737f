#include <math.h>

#include "kniferail/report.h"

/* The residuals are summed around the line, so that no two large sums are subtracted from each other. */
static double residuals(const struct kr_report_count count[], size_t n, double each_ms)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        double off_ms = count[i].ms - each_ms * count[i].n;
        sum += count[i].n > 0 ? off_ms * off_ms : 0;
    }
    return sum;
}

struct kr_report_each kr_report_each_of(const struct kr_report_count count[], size_t n)
{
    struct kr_report_each each = {0};
    double squares = 0, products = 0;
    for (size_t i = 0; i < n; i++) {
        if (count[i].n <= 0)
            continue;
        each.changeovers++;
        each.n += count[i].n;
        squares += count[i].n * count[i].n;
        products += count[i].n * count[i].ms;
    }
    if (each.changeovers == 0)
        return each;
    each.is_known = true;
    each.each_ms = products / squares;
    if (each.changeovers < 2)
        return each;
    each.has_uncertainty = true;
    double variance = residuals(count, n, each.each_ms) / (double)(each.changeovers - 1);
    each.uncertainty_ms = sqrt(variance / squares);
    return each;
}
