#include <math.h>

#include "kniferail/report.h"

/* 95 % of a normal variable lie within this many standard deviations of the mean. */
#define Z_95 1.959963984540054

struct kr_forecast kr_forecast_of(const double metres[], size_t n, double left)
{
    struct kr_forecast f = {.spread = kr_spread_of(metres, n), .few = n < KR_FORECAST_FEW};
    double mean = f.spread.mean, sd = f.spread.sd;
    f.has_orders = n >= 2 && mean > 0;
    if (!f.has_orders || left <= 0)
        return f;
    double off_mean = left * sd / (mean * mean);
    f.orders = left / mean;
    f.orders_sd = sqrt(f.orders * (sd / mean) * (sd / mean) + off_mean * off_mean / (double)n);
    f.orders_95.low = fmax(0, f.orders - Z_95 * f.orders_sd);
    f.orders_95.high = f.orders + Z_95 * f.orders_sd;
    return f;
}
