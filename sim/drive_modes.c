/* Profile position and homing mode: the effects of the mode specific bits of the controlword. */
#include "sim/drive.h"

#include <math.h>

/* While the drive is halted, it takes a set-point, but does not move. */
static void begin_move(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_setpoint setpoint)
{
    drive->running = setpoint;
    if (drive->halted)
        return;
    struct sim_profile profile;
    sim_drive_limit_jerk(drive, config, setpoint.limits);
    sim_profile_move(&profile, drive->ramp, setpoint.to_um, setpoint.limits);
    sim_drive_start_profile(drive, &profile);
}

static bool rising(const struct sim_drive *drive, uint16_t bit)
{
    return drive->controlword & bit && !(drive->controlword_before & bit);
}

/* ---- profile position ---------------------------------------------------------------------------------- */

static bool setpoint_of(const struct sim_drive *drive, const struct sim_rail_config *config,
                        struct sim_setpoint *setpoint)
{
    const struct kr_axis_out *c = &drive->command;
    if (c->speed_um_per_s <= 0 || c->accel_um_per_s2 <= 0 || c->decel_um_per_s2 <= 0)
        return false;
    setpoint->to_um = sim_drive_true_um(drive, config, c->target_um);
    setpoint->limits.speed_um_per_s = fmin(c->speed_um_per_s, config->speed_max_um_per_s);
    setpoint->limits.accel_um_per_s2 = fmin(c->accel_um_per_s2, config->accel_max_um_per_s2);
    setpoint->limits.decel_um_per_s2 = fmin(c->decel_um_per_s2, config->accel_max_um_per_s2);
    return true;
}

/* The handshake: a set-point is taken on the rising edge of bit 4. It is acknowledged until bit 4 is cleared and there
 * is room for the next one. */
static void take_setpoint(struct sim_drive *drive, const struct sim_rail_config *config)
{
    if (rising(drive, KR_CW_NEW_SETPOINT) && !drive->acknowledged && !drive->amiss.ignores_setpoints) {
        struct sim_setpoint setpoint;
        if (!setpoint_of(drive, config, &setpoint)) {
            sim_drive_trip(drive, config, SIM_ERROR_PARAMETER);
            return;
        }
        drive->acknowledged = true;
        drive->setpoints++;
        drive->is_buffered = !(drive->controlword & KR_CW_IMMEDIATELY) && !sim_drive_standing(drive);
        if (drive->is_buffered)
            drive->buffered = setpoint;
        else
            begin_move(drive, config, setpoint);
    }
    if (drive->is_buffered && !drive->halted && sim_drive_standing(drive)) {
        drive->is_buffered = false;
        begin_move(drive, config, drive->buffered);
    }
    if (!(drive->controlword & KR_CW_NEW_SETPOINT) && !drive->is_buffered)
        drive->acknowledged = false;
}

/* Halt stops with the present deceleration (605Dh = 1); when it is cleared, the move to the present set-point
 * continues. */
static void heed_halt(struct sim_drive *drive, const struct sim_rail_config *config)
{
    bool halt = drive->controlword & KR_CW_HALT;
    if (halt == drive->halted)
        return;
    drive->halted = halt;
    if (halt) {
        double decel = drive->running.limits.decel_um_per_s2;
        if (!sim_drive_standing(drive))
            sim_drive_stop(drive, drive->ramp, decel);
    } else if (drive->running.to_um != drive->ramp.at_um) {
        begin_move(drive, config, drive->running);
    }
}

/* ---- homing -------------------------------------------------------------------------------------------- */

/* The carriage moves to the home mark, and the drive assigns the home offset to that place. With methods 35 and 37, it
 * assigns it to the present place. */
static void run_homing(struct sim_drive *drive, const struct sim_rail_config *config)
{
    double accel = config->homing_accel_um_per_s2, told = drive->command.homing_speed_um_per_s;
    /* A drive without 6099h uses its own speed. */
    double speed = told > 0 ? told : config->homing_speed_um_per_s;
    if (rising(drive, KR_CW_NEW_SETPOINT)) {
        struct sim_setpoint to_mark = {.to_um =
                                           sim_drive_homes_here(drive, config) ? drive->actual.at_um : config->home_um,
                                       .limits = {speed, accel, accel}};
        drive->homing = drive->amiss.fails_to_home ? SIM_HOMING_FAILED : SIM_HOMING_UNDER_WAY;
        drive->referenced = false;
        if (drive->amiss.fails_to_home)
            return;
        begin_move(drive, config, to_mark);
        return;
    }
    bool wanted = drive->controlword & KR_CW_NEW_SETPOINT;
    if (drive->homing == SIM_HOMING_UNDER_WAY && !wanted) {
        drive->homing = SIM_HOMING_NOT_STARTED;
        sim_drive_stop(drive, drive->ramp, accel);
    }
}

/* ---- which mode ---------------------------------------------------------------------------------------- */

/* The display of the mode follows when the axis stands and a moment has passed. */
static void follow_mode(struct sim_drive *drive, const struct sim_rail_config *config)
{
    if (drive->command.mode == drive->mode || !sim_drive_standing(drive)) {
        drive->mode_us = 0;
        return;
    }
    drive->mode_us += SIM_SUBSTEP_US;
    if (drive->mode_us <= (int64_t)config->mode_ms * 1000)
        return;
    drive->mode = drive->command.mode;
    drive->homing = SIM_HOMING_NOT_STARTED;
    sim_drive_hold_here(drive);
}

void sim_drive_follow_commands(struct sim_drive *drive, const struct sim_rail_config *config)
{
    follow_mode(drive, config);
    if (drive->state != KR_DRIVE_OPERATION_ENABLED)
        return;
    if (drive->mode == KR_MODE_NONE)
        return;
    heed_halt(drive, config);
    if (drive->mode == KR_MODE_HOMING)
        run_homing(drive, config);
    else if (drive->mode == KR_MODE_PROFILE_POSITION)
        take_setpoint(drive, config);
}
