/* The motion profile: up to four sections of constant acceleration. They are computed once when a move starts and then
 * evaluated in closed form, so errors do not add up, and it does not matter how time is divided.
 *
 *      speed   ______          A move from the present speed to a target. If the present speed points
 *             /      \         away from the target or is too fast to stop in time, the motor first
 *          __/        \__      comes to rest. Then follows the trapezoid or triangle of any textbook. */
#ifndef KNIFERAIL_SIM_PROFILE_H
#define KNIFERAIL_SIM_PROFILE_H

#include <stdint.h>

#define SIM_PROFILE_PIECES 4

struct sim_profile {
    double from_um, from_speed_um_per_s;
    double to_um; /* reached at the time length_s, and held at rest from then on */
    double length_s;
    uint32_t n;
    struct {
        double length_s, accel_um_per_s2;
    } piece[SIM_PROFILE_PIECES];
};

struct sim_motion {
    double at_um, speed_um_per_s;
};

struct sim_limits {
    double speed_um_per_s, accel_um_per_s2, decel_um_per_s2; /* all > 0 */
};

void sim_profile_rest(struct sim_profile *profile, double at_um);
void sim_profile_move(struct sim_profile *profile, struct sim_motion from, double to_um, struct sim_limits limits);
void sim_profile_stop(struct sim_profile *profile, struct sim_motion from, double decel_um_per_s2);

/* Returns the motion at the time t_s >= 0 after the start of the profile. */
struct sim_motion sim_profile_at(const struct sim_profile *profile, double t_s);

#endif
