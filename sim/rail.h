/* The mechanics of one rail: the holders that slide on it, the carriage beside them with its pin, the brake of the
 * docked holder, and the common clamp. The carriage passes holders freely while its pin is out. */
#ifndef KNIFERAIL_SIM_RAIL_H
#define KNIFERAIL_SIM_RAIL_H

#include "sim/config.h"

/* The stroke of a device goes from 0 (at rest: pin out, brake or clamp closed) to SIM_TRAVEL. */
#define SIM_TRAVEL     1000000000
#define SIM_PIN_CLEAR  100000000 /* beyond this, the pin's tip reaches a holder's body */
#define SIM_PIN_TOUCH  500000000 /* here its taper enters the socket, or strikes the holder's face */
#define SIM_PIN_BACKED 750000000 /* how far in a pin is that has backed out of its seat */
#define SIM_PIN_SAGGED 50000000  /* how far in a pin is that has sagged */
#define SIM_FREEING    500000000 /* a brake or clamp that is open this far does not hold any more */

#define SIM_NOBODY (-1)

/* If a pin that is not clear of the holders is moved further than this, it has struck a holder. */
#define SIM_SCRATCH_UM 500

#define SIM_CREEP_UM_PER_S 1000 /* speed of a holder whose brake does not hold; invented */

struct sim_holder {
    double at_um; /* true centre */
    int32_t body_um;
    int32_t blade_um; /* how far its blade sits from the position that its edge offset says */
    bool present, seized, jammed, flag_missing;
    int32_t creep_um;     /* how far it creeps after each release, because its brake does not hold; 0: it holds */
    double creep_left_um; /* signed: the rest of the creep under way */
    uint16_t edges, releases, clampings; /* counters for the random draws */
    int16_t left, right;                 /* its neighbours on the rail; SIM_NOBODY at the ends */
};

struct sim_carriage {
    double at_um;
    int32_t pin, brake, clamp; /* 0 to SIM_TRAVEL */
    int16_t docked;            /* the holder that the pin holds; SIM_NOBODY if there is none */
    bool struck;               /* the pin holds it by its body, not by its socket */
    double offset_um;          /* position of the carriage minus that of the struck holder */
    double held_at_um;         /* position of the carriage when the docked holder was held */
    double scratch_from_um;    /* where the pin was no longer clear of the holders */
};

/* Events that must never happen. The first of each kind is described, and all are counted. */
struct sim_incident {
    uint32_t count;
    uint16_t rail_index, holder_index, other_index; /* of the first event */
    int64_t at_us;
    int32_t gap_um; /* of a collision: the overlap, as a negative number */
};

struct sim_incidents {
    struct sim_incident collision; /* the bodies of two holders overlapped */
    struct sim_incident dragged;   /* a holder was dragged by a pin that was not seated */
    double least_gap_um;           /* the smallest gap between two bodies that there ever was */
};

struct sim_rail {
    uint16_t n_holders;
    struct sim_holder holder[KR_HOLDERS_MAX];
    struct sim_carriage carriage;
    uint16_t n_creeping;
    bool clamp_was_free;
};

/* Everything that acts on the mechanics in one sub-step. */
struct sim_forces {
    uint16_t outputs; /* KR_DO_..., as they arrive at the valves */
    bool air;         /* without air the pin does not move, and springs close brake and clamp */
    bool pin_cannot_go_in, pin_cannot_go_out, brake_cannot_open, clamp_fails;
    bool pin_backs_out, pin_sags, brake_cannot_close, clamp_cannot_close;
};

/* The context of a call: it determines the random draws and the time of incidents. */
struct sim_moment {
    uint64_t seed;
    uint16_t rail_index;
    int64_t now_us;
};

void sim_rail_init(struct sim_rail *rail, const struct sim_rail_config *config);

/* Makes one sub-step of pin, brake and clamp. */
void sim_rail_actuate(struct sim_rail *rail, const struct sim_rail_config *config, struct sim_forces forces,
                      struct sim_moment moment, struct sim_incidents *incidents);

/* Moves the carriage and the docked holder towards motor_um as far as they can go, and returns the position that the
 * motor has reached. */
double sim_rail_move(struct sim_rail *rail, const struct sim_rail_config *config, double motor_um,
                     struct sim_moment moment, struct sim_incidents *incidents);

/* Moves one holder. Contact with a neighbour is a collision, and stops the holder there. Returns whether it has reached
 * the position. */
bool sim_rail_push(struct sim_rail *rail, int16_t holder, double to_um, struct sim_moment moment,
                   struct sim_incidents *incidents);

/* Moves one holder as a careful hand would: not beyond its neighbours, and without a collision. */
void sim_rail_shift(struct sim_rail *rail, int16_t holder, double by_um, struct sim_incidents *incidents);

/* Tells whether anything except the pin holds the holder to the rail. */
bool sim_rail_held(const struct sim_rail *rail, const struct sim_rail_config *config, int16_t holder);

uint16_t sim_rail_inputs(const struct sim_rail *rail, const struct sim_rail_config *config);
double sim_rail_least_gap_um(const struct sim_rail *rail);

#endif
