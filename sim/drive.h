/* The simulated servo drive: the CiA 402 state machine, profile position and homing mode, following error, and its own
 * communication watchdog. It does not know of holders: in each sub-step it asks for a motor position, and is told which
 * position the motor has reached. Positions inside are in the rail's true frame; sim_drive_position_um() converts them
 * to the drive's positions. */
#ifndef KNIFERAIL_SIM_DRIVE_H
#define KNIFERAIL_SIM_DRIVE_H

#include "sim/config.h"
#include "sim/draw.h"
#include "sim/jerk.h"
#include "sim/profile.h"

#define SIM_SUBSTEP_US 1000

/* Codes of 603Fh that the machine itself raises, as published (tests/reference/data/cia402_error_codes.csv). */
#define SIM_ERROR_PARAMETER 0x6320u /* parameter error */
#define SIM_ERROR_SILENCE   0x8130u /* life guard error or heartbeat error */
#define SIM_ERROR_FOLLOWING 0x8611u /* following error */

/* What the drive is supplied with from outside, anew in every sub-step. */
struct sim_supply {
    bool power;          /* mains and control voltage */
    bool enable;         /* the drive's enable input */
    uint16_t error_code; /* the cause of a fault that is present; 0: none */
};

struct sim_setpoint {
    double to_um;
    struct sim_limits limits;
};

enum sim_homing { SIM_HOMING_NOT_STARTED, SIM_HOMING_UNDER_WAY, SIM_HOMING_DONE, SIM_HOMING_FAILED };

/* Errors in the way in which the drive counts its position. */
struct sim_miscount {
    double shift_um;   /* it counts this much more at every place */
    double scale_ppm;  /* it counts this much more for each distance */
    double pitch_um;   /* amplitude of an error that repeats with each pitch */
    double warmer_ppm; /* the rack is longer by this much, so each count is a longer distance */
};

/* What the drive does wrong. */
struct sim_amiss {
    bool ignores_setpoints, never_arrives, fails_to_home, homes_here;
};

struct sim_drive {
    enum kr_drive_state state;
    uint16_t error_code;
    bool powered; /* the power stage drives the motor */
    bool referenced;
    bool booted;
    int64_t boot_us, power_up_us, silent_us; /* time spent in each */
    uint32_t homings;                        /* number of homings; the scatter depends on it */
    uint32_t setpoints;                      /* number of set-points taken, without homings */

    struct kr_axis_out command; /* the newest outputs that arrived */
    bool commanded;             /* outputs have arrived since the start: the watchdog is armed */
    bool silent;                /* the watchdog has tripped, and no outputs have come since */
    uint32_t taken_serial;      /* serial of the newest outputs that the drive has acted on */
    uint16_t controlword, controlword_before;
    int8_t mode;
    int64_t mode_us;

    struct sim_profile profile;
    int64_t profile_us; /* time since the profile began */
    struct sim_setpoint running, buffered;
    bool is_buffered, acknowledged, halted;
    enum sim_homing homing;

    struct sim_motion ramp; /* the motion by the profile alone */
    /* The demanded motion, with limited jerk if the drive limits it; the actual one. */
    struct sim_motion demand, actual;
    struct sim_jerk jerk;
    double datum_um; /* the drive's position at which its count is 0 */
    struct sim_miscount miscount;
    struct sim_amiss amiss;
    double lag_gain; /* the part of the following error that is corrected in one sub-step */
    int64_t outside_us, inside_us;
};

void sim_drive_init(struct sim_drive *drive, const struct sim_rail_config *config);

/* Hands the drive a new output image. */
void sim_drive_write(struct sim_drive *drive, const struct kr_axis_out *out);

/* Makes one sub-step of commands, state and profile, and returns the position that the motor would reach. Then call
 * sim_drive_moved() with the position that it has reached; the drive judges its following error by that. seed and rail
 * determine the scatter of homing. */
double sim_drive_step(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_supply supply);
void sim_drive_moved(struct sim_drive *drive, const struct sim_rail_config *config, double at_um, uint64_t seed,
                     uint32_t rail);

/* Brings the drive into fault reaction and then fault, with that error code. The first error code is kept. */
void sim_drive_trip(struct sim_drive *drive, const struct sim_rail_config *config, uint16_t error_code);

/* Cuts the power: state and commands are lost, and the reference, too, unless the encoder is absolute. */
void sim_drive_lose_power(struct sim_drive *drive, const struct sim_rail_config *config);

uint16_t sim_drive_statusword(const struct sim_drive *drive, const struct sim_rail_config *config,
                              struct sim_supply supply);
/* Converts a true motor position to the drive's position: whole encoder counts, rounded to micrometres. */
int32_t sim_drive_position_um(const struct sim_drive *drive, const struct sim_rail_config *config, double at_um);
/* Converts the drive's position to the true motor position. */
double sim_drive_true_um(const struct sim_drive *drive, const struct sim_rail_config *config, double position_um);
/* The homing method that the drive shows (6098h). */
int8_t sim_drive_homing_method(const struct sim_drive *drive, const struct sim_rail_config *config);
/* Pushes the carriage of a drive that does not hold it. */
void sim_drive_push(struct sim_drive *drive, double by_um);
/* Returns the outputs of the drive's I/O: none after the watchdog has stopped the drive. */
uint16_t sim_drive_outputs(const struct sim_drive *drive);

/* Shared by the drive's own files: drive.c calls drive_modes.c, and both call drive_motion.c. */
bool sim_drive_standing(const struct sim_drive *drive);
void sim_drive_start_profile(struct sim_drive *drive, const struct sim_profile *profile);
void sim_drive_stop(struct sim_drive *drive, struct sim_motion from, double decel_um_per_s2);
void sim_drive_limit_jerk(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_limits limits);
void sim_drive_quick_stop(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_motion from);
double sim_drive_count_um(const struct sim_drive *drive, const struct sim_rail_config *config, double at_um);
bool sim_drive_homes_here(const struct sim_drive *drive, const struct sim_rail_config *config);
void sim_drive_hold_here(struct sim_drive *drive);
void sim_drive_follow_commands(struct sim_drive *drive, const struct sim_rail_config *config);

#endif
