/* The proximity switch on the carriage, and the drive's touch probe at its output. The switch senses flags with
 * hysteresis, at an instant that is computed inside the sub-step. After a delay with jitter the edge reaches the probe
 * input, and the drive latches the motor position of that moment. */
#ifndef KNIFERAIL_SIM_FLAGSWITCH_H
#define KNIFERAIL_SIM_FLAGSWITCH_H

#include "sim/drive.h"
#include "sim/rail.h"

#define SIM_FOREIGN_MAX 4  /* objects on one rail that look like flags */
#define SIM_EDGES_MAX   64 /* edges between the sensing face and the probe input */
#define SIM_BOUNCES_MAX 8  /* extra pulses of one edge */

struct sim_edge {
    int64_t at_ns; /* when the edge reaches the probe input */
    bool level;
};

struct sim_switch {
    bool sees_holders, sees_references;
    double bumped_um; /* displacement of its bracket */
    /* The flag that it senses: a holder, then the foreign flags, then the references; or SIM_NOBODY. */
    int16_t seen;
    int16_t near;        /* the holder nearest to the sensing face, or SIM_NOBODY on an empty rail */
    double at_um;        /* position of the sensing face at the end of the last sub-step */
    int16_t travelling;  /* the holder that was docked then; no other flag moves */
    double holder_at_um; /* position of that holder then */
    uint16_t n_edges, first;
    struct sim_edge edge[SIM_EDGES_MAX]; /* a ring */
    bool sensed;                         /* the level after the delay */
    bool level;                          /* the level at the input: the same, unless the switch is stuck */
    uint16_t n_foreign;
    int32_t foreign_um[SIM_FOREIGN_MAX];
    uint16_t foreign_edges[SIM_FOREIGN_MAX];
    uint16_t references_missing;                   /* one bit for each reference */
    int32_t reference_dirt_um[SIM_REFERENCES_MAX]; /* by how much the flag looks wider, at its drive side */
    uint16_t reference_edges[SIM_REFERENCES_MAX];
};

struct sim_probe {
    uint16_t function; /* the function that is armed */
    bool rising_stored, falling_stored;
    uint16_t rise_count, fall_count;
    double rise_at_um, fall_at_um; /* true motor positions; they are converted to counts when they are read */
};

enum sim_stuck { SIM_SWITCH_WORKS, SIM_STUCK_OFF, SIM_STUCK_ON };

/* The flags that a switch sees. If the references have their own switch, only that one sees them. */
enum sim_switch_of { SIM_SWITCH_OF_HOLDERS, SIM_SWITCH_OF_REFERENCES };
void sim_switch_init(struct sim_switch *sw, enum sim_switch_of of, const struct sim_rail *rail,
                     const struct sim_rail_config *config);

/* Makes one sub-step after the carriage has moved. The motor has moved from motor_from_um to motor_to_um. */
void sim_switch_step(struct sim_switch *sw, struct sim_probe *probe, struct sim_rail *rail,
                     const struct sim_rail_config *config, double motor_from_um, double motor_to_um,
                     enum sim_stuck stuck, int32_t bounces, struct sim_moment moment);

/* Takes the master's probe function word. Like a real drive, it needs a 0 before it takes another function. */
void sim_probe_command(struct sim_probe *probe, uint16_t function);
uint16_t sim_probe_status(const struct sim_probe *probe);

#endif
