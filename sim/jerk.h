/* What a drive with limited jerk (6086h is 3, 60A4h) makes of a trapezoidal profile: the mean of the profile over the
 * last a/j seconds. The ramps of the speed become S-curves, whose acceleration changes by at most j in a second; the
 * end is the same, and comes a/j later. Such a moving average is one of the usual ways to round a profile, and goes on
 * without a step when the set-point changes on the way. */
#ifndef KNIFERAIL_SIM_JERK_H
#define KNIFERAIL_SIM_JERK_H

#include <stdint.h>

#include "sim/profile.h"

#define SIM_JERK_STEPS_MAX 500 /* sub-steps of 1 ms that the mean goes over, at most */

struct sim_jerk {
    uint16_t n;             /* sub-steps that the mean goes over; 0: jerk is not limited */
    uint16_t next;          /* the oldest place */
    double sum_um, rest_um; /* the places are from rest_um, so that the sum stays exact */
    double at_um[SIM_JERK_STEPS_MAX];
};

/* At rest at that place, with a mean over so many sub-steps. */
void sim_jerk_begin(struct sim_jerk *jerk, uint16_t n, double at_um);
/* The sub-step's motion by the profile becomes that of the drive. */
struct sim_motion sim_jerk_round(struct sim_jerk *jerk, struct sim_motion profile, double substep_s);

#endif
