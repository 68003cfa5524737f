/* statistics: spread of measured values, and least squares. Pure; the caller brings the memory. Belongs to base. The
 * station uses it to propose edge offsets, and the command line to look for drift. */
#ifndef KNIFERAIL_STATISTICS_H
#define KNIFERAIL_STATISTICS_H

#include "kniferail/base.h"

/* ---- spread ------------------------------------------------------------------------------------------- */

struct kr_spread {
    size_t n;
    double mean;
    /* Standard deviation of the sample, with n - 1 in the denominator; 0 for fewer than two values. */
    double sd;
    double least, most;
    /* Autocorrelation at lag 1; 0 if the values are equal. If it is far from 0, the values drift. */
    double autocorrelation;
};

/* Returns the spread; all fields are 0 if there is no value. */
struct kr_spread kr_spread_of(const double value[], size_t n);

/* These return the process capability for a tolerance of +-tolerance around 0: Cp = tolerance / (3 sd) ignores the
 * mean, and Cpk = (tolerance - |mean|) / (3 sd) includes it. They are infinite if the values are equal (negative, if
 * the mean is outside). These are Cp = (USL - LSL) / (6 sd) and Cpk = min(USL - mean, mean - LSL) / (3 sd) of the
 * NIST/SEMATECH e-Handbook of Statistical Methods, section 6.1.6
 * (www.itl.nist.gov/div898/handbook/pmc/section1/pmc16.htm), for limits at +-tolerance. */
double kr_capability(const struct kr_spread *spread, double tolerance);
double kr_capability_off_centre(const struct kr_spread *spread, double tolerance);

/* ---- least squares ------------------------------------------------------------------------------------- */

#define KR_UNKNOWNS_MAX KR_HOLDERS_MAX

/* The triangle of a QR decomposition that plane rotations build row by row (Gentleman 1973, J. Inst. Maths Applics 12,
 * 329-336). No row is kept, and no normal equations are formed, because they would lose half the digits. About 68 KB of
 * plain data. */
struct kr_least_squares {
    uint16_t n;      /* number of unknowns */
    uint32_t n_rows; /* number of rows that were added */
    double ss;       /* sum of the squared residuals of the best fit */
    double rhs[KR_UNKNOWNS_MAX];
    double r[KR_UNKNOWNS_MAX * (KR_UNKNOWNS_MAX + 1) / 2];
};

void kr_least_squares_begin(struct kr_least_squares *fit, uint16_t n); /* 1 to KR_UNKNOWNS_MAX */

/* Adds one equation: sum of row[i] * x[i] = y. row has n entries. For an equation with weight w, multiply row and y by
 * sqrt(w). */
void kr_least_squares_add(struct kr_least_squares *fit, const double row[], double y);

/* Solves for x. False: the rows don't determine every unknown, and x is untouched. */
bool kr_least_squares_solve(const struct kr_least_squares *fit, double x[]);

/* Computes the standard deviations of the estimates from the residuals. n_rows - n is the number of degrees of freedom,
 * and must be at least 1. False: as for kr_least_squares_solve(), or there are too few rows. */
bool kr_least_squares_deviations(const struct kr_least_squares *fit, double sd[]);

#endif
