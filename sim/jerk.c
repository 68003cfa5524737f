#include "sim/jerk.h"

void sim_jerk_begin(struct sim_jerk *jerk, uint16_t n, double at_um)
{
    jerk->n = n < SIM_JERK_STEPS_MAX ? n : SIM_JERK_STEPS_MAX;
    jerk->next = 0;
    jerk->sum_um = 0;
    jerk->rest_um = at_um;
    for (uint16_t i = 0; i < jerk->n; i++)
        jerk->at_um[i] = 0;
}

struct sim_motion sim_jerk_round(struct sim_jerk *jerk, struct sim_motion profile, double substep_s)
{
    if (jerk->n == 0)
        return profile;
    double at_um = profile.at_um - jerk->rest_um, oldest_um = jerk->at_um[jerk->next];
    jerk->at_um[jerk->next] = at_um;
    jerk->next = (uint16_t)((jerk->next + 1) % jerk->n);
    jerk->sum_um += at_um - oldest_um;
    return (struct sim_motion){jerk->rest_um + jerk->sum_um / jerk->n, (at_um - oldest_um) / (jerk->n * substep_s)};
}
