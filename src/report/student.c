#include <assert.h>
#include <math.h>

#include "kniferail/report.h"

#define PI 3.14159265358979323846

/* Returns the probability that a variable of Student's t distribution lies between -t and t, by the closed forms for
 * whole degrees of freedom: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 (odd) and 26.7.4 (even),
 * numbers from memory. The test compares it with a table of NIST. The angle in these forms has the tangent t /
 * sqrt(degrees). */
static double within(double t, uint32_t degrees)
{
    double c = sqrt(degrees / (degrees + t * t)), s = t / sqrt(degrees + t * t);
    double term = degrees % 2 ? c : 1, sum = degrees > 1 ? term : 0;
    for (uint32_t n = degrees % 2 ? 2 : 1; n + 1 < degrees; n += 2) {
        term *= c * c * n / (n + 1);
        sum += term;
    }
    return degrees % 2 ? 2 / PI * (atan(t / sqrt(degrees)) + s * sum) : s * sum;
}

double kr_student_beyond(double t, uint32_t degrees)
{
    assert(degrees > 0);
    double beyond = 1 - within(fabs(t), degrees);
    return beyond > 0 ? beyond : 0;
}
