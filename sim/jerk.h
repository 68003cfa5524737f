/* Computes what a drive with limited jerk (6086h is 3, 60A4h) makes of a trapezoidal profile: the mean of the profile
 * over the last a/j seconds. The ramps of the speed become S-curves, whose acceleration changes by at most j in a
 * second. The final position is the same, and is reached a/j later. Such a moving average is one of the usual ways to
 * round a profile, and it continues without a jump if the set-point changes during the move. */
#ifndef KNIFERAIL_SIM_JERK_H
#define KNIFERAIL_SIM_JERK_H

#include <stdint.h>

#include "sim/profile.h"

#define SIM_JERK_STEPS_MAX 500 /* the greatest number of sub-steps of 1 ms in the mean */

struct sim_jerk {
    uint16_t n;             /* number of sub-steps in the mean; 0: the jerk is not limited */
    uint16_t next;          /* index of the oldest position */
    double sum_um, rest_um; /* the positions are relative to rest_um, so that the sum stays exact */
    double at_um[SIM_JERK_STEPS_MAX];
};

/* Begins at rest at that position, with n sub-steps in the mean. */
void sim_jerk_begin(struct sim_jerk *jerk, uint16_t n, double at_um);
/* Returns the drive's motion in a sub-step, made from the motion by the profile. */
struct sim_motion sim_jerk_round(struct sim_jerk *jerk, struct sim_motion profile, double substep_s);

#endif
