/* The simulated servo drive: CiA 402 state machine, profile position and homing mode, following error, its own
 * communication watchdog. It knows no holders: it asks for a motor position each sub-step and is told where the motor
 * really got to. Positions inside are the rail's true frame; sim_drive_position_um() turns them into the drive's. */
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

/* What the drive meets from outside, fresh every sub-step. */
struct sim_supply {
    bool power;          /* mains and control voltage */
    bool enable;         /* the drive's enable input */
    uint16_t error_code; /* a cause of fault that stands, 0 if none */
};

struct sim_setpoint {
    double to_um;
    struct sim_limits limits;
};

enum sim_homing { SIM_HOMING_NOT_STARTED, SIM_HOMING_UNDER_WAY, SIM_HOMING_DONE, SIM_HOMING_FAILED };

/* What is wrong with the way in which the drive counts. */
struct sim_miscount {
    double shift_um;   /* so much more everywhere */
    double scale_ppm;  /* so much more of each way */
    double pitch_um;   /* it swings by that, once in each pitch */
    double warmer_ppm; /* the rack is so much longer: a count goes so much further */
};

struct sim_drive {
    enum kr_drive_state state;
    uint16_t error_code;
    bool powered; /* the power stage drives the motor */
    bool referenced;
    bool booted;
    int64_t boot_us, power_up_us, silent_us; /* time spent in each */
    uint32_t homings;                        /* how often homed: keys the scatter */
    uint32_t setpoints;                      /* how many were taken, homings not counted */

    struct kr_axis_out command; /* the newest that arrived */
    bool commanded;             /* one has arrived since boot: the watchdog is armed */
    bool silent;                /* the watchdog has struck, and no command has come since */
    uint32_t taken_serial;      /* of the newest that the drive has acted on */
    uint16_t controlword, controlword_before;
    int8_t mode;
    int64_t mode_us;

    struct sim_profile profile;
    int64_t profile_us; /* time since its start */
    struct sim_setpoint running, buffered;
    bool is_buffered, acknowledged, halted;
    enum sim_homing homing;

    struct sim_motion ramp;           /* by the profile alone; */
    struct sim_motion demand, actual; /* and rounded off where the drive limits its jerk */
    struct sim_jerk jerk;
    double datum_um; /* the drive's position where its count is 0 */
    struct sim_miscount miscount;
    double lag_gain; /* part of the following error made good in one sub-step */
    int64_t outside_us, inside_us;
};

void sim_drive_init(struct sim_drive *drive, const struct sim_rail_config *config);

/* A new output image has arrived. */
void sim_drive_write(struct sim_drive *drive, const struct kr_axis_out *out);

/* One sub-step: commands, state, profile; returns where the motor would go. Then sim_drive_moved() tells where
 * it got to, and the drive judges its following error. seed and rail key the homing scatter. */
double sim_drive_step(struct sim_drive *drive, const struct sim_rail_config *config,
                      struct sim_supply supply);
void sim_drive_moved(struct sim_drive *drive, const struct sim_rail_config *config, double at_um,
                     uint64_t seed, uint32_t rail);

/* Into fault reaction, then fault, with that error code; the first one is kept. */
void sim_drive_trip(struct sim_drive *drive, const struct sim_rail_config *config, uint16_t error_code);

/* Power is gone: state, commands and, without an absolute encoder, the reference are lost. */
void sim_drive_lose_power(struct sim_drive *drive, const struct sim_rail_config *config);

uint16_t sim_drive_statusword(const struct sim_drive *drive, const struct sim_rail_config *config,
                              struct sim_supply supply);
/* A true motor position as the drive counts it, in whole encoder counts, rounded to micrometres. */
int32_t sim_drive_position_um(const struct sim_drive *drive, const struct sim_rail_config *config,
                              double at_um);
/* The way back: where the motor truly is when the drive says that. */
double sim_drive_true_um(const struct sim_drive *drive, const struct sim_rail_config *config,
                         double position_um);
/* The outputs that the drive's I/O holds: none after it has stopped in silence. */
uint16_t sim_drive_outputs(const struct sim_drive *drive);

/* For the drive's own files: drive.c stands on drive_modes.c, and both stand on drive_motion.c. */
bool sim_drive_standing(const struct sim_drive *drive);
void sim_drive_start_profile(struct sim_drive *drive, const struct sim_profile *profile);
void sim_drive_stop(struct sim_drive *drive, struct sim_motion from, double decel_um_per_s2);
void sim_drive_limit_jerk(struct sim_drive *drive, const struct sim_rail_config *config,
                          struct sim_limits limits);
void sim_drive_quick_stop(struct sim_drive *drive, const struct sim_rail_config *config,
                          struct sim_motion from);
double sim_drive_count_um(const struct sim_drive *drive, const struct sim_rail_config *config, double at_um);
bool sim_drive_homes_here(const struct sim_rail_config *config);
void sim_drive_hold_here(struct sim_drive *drive);
void sim_drive_follow_commands(struct sim_drive *drive, const struct sim_rail_config *config);

#endif
