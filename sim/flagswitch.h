/* The proximity switch on the carriage and the drive's touch probe that it feeds. The switch senses flags, with
 * hysteresis, at an instant found inside the sub-step; a moment later (delay and jitter) the edge is at the
 * probe input, and the drive latches where the motor is then. */
#ifndef KNIFERAIL_SIM_FLAGSWITCH_H
#define KNIFERAIL_SIM_FLAGSWITCH_H

#include "sim/drive.h"
#include "sim/rail.h"

#define SIM_FOREIGN_MAX 4  /* things on one rail that look like flags */
#define SIM_EDGES_MAX   64 /* on their way from the sensing face to the probe input */
#define SIM_BOUNCES_MAX 8  /* extra pulses of one edge */

struct sim_edge {
    int64_t at_ns; /* when it reaches the probe input */
    bool level;
};

struct sim_switch {
    bool sees_holders, sees_references;
    double bumped_um; /* its bracket sits so much off */
    /* The flag that it senses: a holder, then the foreign flags, then the references; or SIM_NOBODY. */
    int16_t seen;
    int16_t near;        /* holder nearest to the face, or SIM_NOBODY on an empty rail */
    double at_um;        /* the sensing face at the end of the last sub-step */
    int16_t travelling;  /* the holder that was docked then: the only flag that travels */
    double holder_at_um; /* and where it was */
    uint16_t n_edges, first;
    struct sim_edge edge[SIM_EDGES_MAX]; /* a ring */
    bool sensed;                         /* level behind the delay */
    bool level;                          /* what the input shows: the same, unless it is stuck */
    uint16_t n_foreign;
    int32_t foreign_um[SIM_FOREIGN_MAX];
    uint16_t foreign_edges[SIM_FOREIGN_MAX];
    uint16_t references_missing;                   /* a bit each */
    int32_t reference_dirt_um[SIM_REFERENCES_MAX]; /* the flag looks so much wider, at its drive side */
    uint16_t reference_edges[SIM_REFERENCES_MAX];
};

struct sim_probe {
    uint16_t function; /* as armed */
    bool rising_stored, falling_stored;
    uint16_t rise_count, fall_count;
    double rise_at_um, fall_at_um; /* true motor position; the drive counts it when it is read */
};

enum sim_stuck { SIM_SWITCH_WORKS, SIM_STUCK_OFF, SIM_STUCK_ON };

/* Which flags it sees: with a switch of their own the references are seen by that alone. */
enum sim_switch_of { SIM_SWITCH_OF_HOLDERS, SIM_SWITCH_OF_REFERENCES };
void sim_switch_init(struct sim_switch *sw, enum sim_switch_of of, const struct sim_rail *rail,
                     const struct sim_rail_config *config);

/* One sub-step after the carriage has moved; motor_from and motor_to are where the motor was and is. */
void sim_switch_step(struct sim_switch *sw, struct sim_probe *probe, struct sim_rail *rail,
                     const struct sim_rail_config *config, double motor_from_um, double motor_to_um,
                     enum sim_stuck stuck, int32_t bounces, struct sim_moment moment);

/* The master's probe function word. A real drive wants 0 before it takes another one; so does this one. */
void sim_probe_command(struct sim_probe *probe, uint16_t function);
uint16_t sim_probe_status(const struct sim_probe *probe);

#endif
