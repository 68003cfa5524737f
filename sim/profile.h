/* The motion profile: up to four pieces of constant acceleration, solved once when a move starts and then
 * evaluated in closed form, so that no error adds up and the slicing of time can't be seen in it.
 *
 *      speed   ______          from a present speed towards a target: first, if the present speed points
 *             /      \         away or is too fast to stop in time, down to rest; then the trapezoid
 *          __/        \__      (or the triangle) of any motion textbook
 */
#ifndef KNIFERAIL_SIM_PROFILE_H
#define KNIFERAIL_SIM_PROFILE_H

#include <stdint.h>

#define SIM_PROFILE_PIECES 4

struct sim_profile {
    double from_um, from_speed_um_per_s;
    double to_um; /* reached, at rest, at length_s and ever after */
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
void sim_profile_move(struct sim_profile *profile, struct sim_motion from, double to_um,
                      struct sim_limits limits);
void sim_profile_stop(struct sim_profile *profile, struct sim_motion from, double decel_um_per_s2);

/* Where it is at t_s >= 0 after its start. */
struct sim_motion sim_profile_at(const struct sim_profile *profile, double t_s);

#endif
