/* Motion functions of the drive's state machine and its modes: profiles, stops, and the reaction to a fault. */
#include "sim/drive.h"

#include <math.h>

/* A wave with one period in each turn: two arcs of a parabola, which differ from a sine by at most 0.06, and are the
 * same on every computer. */
static double swing(double turns)
{
    double part = turns - floor(turns), arc = part < 0.5 ? part : part - 0.5;
    return (part < 0.5 ? 16 : -16) * arc * (0.5 - arc);
}

/* Converts a true position to the drive's count, from the true 0. */
double sim_drive_count_um(const struct sim_drive *drive, const struct sim_rail_config *config, double at_um)
{
    const struct sim_miscount *wrong = &drive->miscount;
    double scale = 1 + config->scale_ppb * 1e-9 + wrong->scale_ppm * 1e-6, swing_um = 0;
    if (wrong->pitch_um != 0)
        swing_um = wrong->pitch_um * swing(at_um / config->pitch_um);
    return at_um * scale / (1 + wrong->warmer_ppm * 1e-6) + swing_um + wrong->shift_um;
}

/* Iterates, because the count nearly equals the position: each round reduces the error to a thousandth. */
double sim_drive_true_um(const struct sim_drive *drive, const struct sim_rail_config *config, double position_um)
{
    double count_um = position_um - drive->datum_um, at_um = count_um;
    if (sim_drive_count_um(drive, config, at_um) == count_um)
        return at_um;
    for (int i = 0; i < 8; i++)
        at_um += count_um - sim_drive_count_um(drive, config, at_um);
    return at_um;
}

int8_t sim_drive_homing_method(const struct sim_drive *drive, const struct sim_rail_config *config)
{
    return (int8_t)(drive->amiss.homes_here ? KR_HOMING_HERE_OLD : config->homing_method);
}

bool sim_drive_homes_here(const struct sim_drive *drive, const struct sim_rail_config *config)
{
    int8_t method = sim_drive_homing_method(drive, config);
    return method == KR_HOMING_HERE || method == KR_HOMING_HERE_OLD;
}

void sim_drive_push(struct sim_drive *drive, double by_um)
{
    drive->actual = (struct sim_motion){.at_um = drive->actual.at_um + by_um};
    sim_drive_hold_here(drive);
}

bool sim_drive_standing(const struct sim_drive *drive)
{
    int64_t rounded_us = (int64_t)drive->jerk.n * SIM_SUBSTEP_US;
    return (double)(drive->profile_us - rounded_us) * 1e-6 >= drive->profile.length_s;
}

void sim_drive_start_profile(struct sim_drive *drive, const struct sim_profile *profile)
{
    drive->profile = *profile;
    drive->profile_us = 0;
    drive->inside_us = 0;
}

/* Sets the time that the acceleration of this ramp needs with the drive's jerk. A motion under way keeps the longer
 * time. */
void sim_drive_limit_jerk(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_limits limits)
{
    if (config->jerk_um_per_s3 == 0 || !sim_drive_standing(drive))
        return;
    double accel = fmax(limits.accel_um_per_s2, limits.decel_um_per_s2);
    double steps = accel / config->jerk_um_per_s3 * (1e6 / SIM_SUBSTEP_US);
    sim_jerk_begin(&drive->jerk, (uint16_t)fmin(ceil(steps), SIM_JERK_STEPS_MAX), drive->demand.at_um);
}

void sim_drive_stop(struct sim_drive *drive, struct sim_motion from, double decel_um_per_s2)
{
    struct sim_profile profile;
    sim_profile_stop(&profile, from, decel_um_per_s2);
    sim_drive_start_profile(drive, &profile);
}

/* There is no set-point: the drive holds its present position. */
void sim_drive_hold_here(struct sim_drive *drive)
{
    sim_profile_rest(&drive->profile, drive->actual.at_um);
    drive->demand = drive->ramp = (struct sim_motion){.at_um = drive->actual.at_um};
    sim_jerk_begin(&drive->jerk, 0, drive->actual.at_um);
    drive->running.to_um = drive->actual.at_um;
    drive->profile_us = 0;
    drive->is_buffered = false;
    drive->acknowledged = false;
    drive->halted = false;
    drive->inside_us = 0;
    drive->outside_us = 0;
}

void sim_drive_quick_stop(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_motion from)
{
    drive->is_buffered = false;
    drive->halted = false;
    /* Without a jerk limit, because 6085h demands the quickest stop. */
    sim_jerk_begin(&drive->jerk, 0, from.at_um);
    sim_drive_stop(drive, from, config->quick_stop_um_per_s2);
}

void sim_drive_trip(struct sim_drive *drive, const struct sim_rail_config *config, uint16_t error_code)
{
    if (drive->state == KR_DRIVE_FAULT || drive->state == KR_DRIVE_FAULT_REACTION_ACTIVE)
        return;
    drive->error_code = error_code;
    drive->state = KR_DRIVE_FAULT_REACTION_ACTIVE;
    if (drive->homing == SIM_HOMING_UNDER_WAY)
        drive->homing = SIM_HOMING_FAILED;
    if (drive->powered)
        sim_drive_quick_stop(drive, config, drive->actual);
}
