/* statistics: spread of measured values, and least squares. Pure; the caller brings the memory. Belongs to base: the
 * station proposes edge offsets with it, the command line looks for drift. */
#ifndef KNIFERAIL_STATISTICS_H
#define KNIFERAIL_STATISTICS_H

#include "kniferail/base.h"

/* ---- spread ------------------------------------------------------------------------------------------- */

struct kr_spread {
    size_t n;
    double mean;
    double sd; /* of the sample, n - 1 in the denominator; 0 for less than two values */
    double least, most;
    double autocorrelation; /* lag 1; 0 where nothing varies. Far from 0: the values drift */
};

/* All 0 for no value. */
struct kr_spread kr_spread_of(const double value[], size_t n);

/* Process capability for a centred tolerance +-tolerance, and for where the values really lie: Cp = tolerance / (3 sd),
 * Cpk = (tolerance - |mean|) / (3 sd). Infinite where nothing varies (negative, if the mean is outside). These are Cp =
 * (USL - LSL) / (6 sd) and Cpk = min(USL - mean, mean - LSL) / (3 sd) of the NIST/SEMATECH e-Handbook of Statistical
 * Methods, section 6.1.6 (www.itl.nist.gov/div898/handbook/pmc/section1/pmc16.htm), for limits at +-tolerance. */
double kr_capability(const struct kr_spread *spread, double tolerance);
double kr_capability_off_centre(const struct kr_spread *spread, double tolerance);

/* ---- least squares ------------------------------------------------------------------------------------- */

#define KR_UNKNOWNS_MAX KR_HOLDERS_MAX

/* The triangle of a QR decomposition that is built row by row with plane rotations (Gentleman 1973, J. Inst. Maths
 * Applics 12, 329-336): no row is kept, and no normal equations are formed, which would lose half the digits. About
 * 68 KB. Plain data. */
struct kr_least_squares {
    uint16_t n;      /* unknowns */
    uint32_t n_rows; /* added */
    double ss;       /* sum of the squared residuals of the best fit */
    double rhs[KR_UNKNOWNS_MAX];
    double r[KR_UNKNOWNS_MAX * (KR_UNKNOWNS_MAX + 1) / 2];
};

void kr_least_squares_begin(struct kr_least_squares *fit, uint16_t n); /* 1 to KR_UNKNOWNS_MAX */

/* One equation: sum of row[i] * x[i] = y. row has n entries. An equation that counts w times is given with row and y
 * times sqrt(w). */
void kr_least_squares_add(struct kr_least_squares *fit, const double row[], double y);

/* False, and x untouched, if the rows don't determine every unknown. */
bool kr_least_squares_solve(const struct kr_least_squares *fit, double x[]);

/* Standard deviations of the estimates, from the residuals of n_rows - n degrees of freedom, at least 1; false as
 * above. */
bool kr_least_squares_deviations(const struct kr_least_squares *fit, double sd[]);

#endif
