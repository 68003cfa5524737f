/* The mechanics of one rail: holders that slide on it, the carriage beside them with its pin, the brake of the
 * docked holder and the common clamp. The carriage itself passes holders freely as long as its pin is out. */
#ifndef KNIFERAIL_SIM_RAIL_H
#define KNIFERAIL_SIM_RAIL_H

#include "sim/config.h"

/* A device that travels from 0 (rest: pin out, brake or clamp closed) to SIM_TRAVEL. */
#define SIM_TRAVEL    1000000000
#define SIM_PIN_CLEAR 100000000 /* beyond it the pin's tip reaches a holder's body */
#define SIM_PIN_TOUCH 500000000 /* here its taper meets the socket, or strikes the holder's face */
#define SIM_FREEING   500000000 /* a brake or clamp opened so far holds no more */

#define SIM_NOBODY (-1)

/* A pin that isn't clear of the holders and is moved further than this has struck what it meets. */
#define SIM_SCRATCH_UM 500

#define SIM_CREEP_UM_PER_S 1000 /* of a holder whose brake doesn't hold; invented */

struct sim_holder {
    double at_um; /* true centre */
    int32_t body_um;
    int32_t blade_um; /* its blade sits so much further than its edge offset says */
    bool present, seized, jammed, flag_missing;
    int32_t creep_um;     /* brake doesn't hold: how far it creeps after each release; 0: it holds */
    double creep_left_um; /* signed, of the creep under way */
    uint16_t edges, releases, clampings; /* key the draws */
    int16_t left, right;                 /* the neighbours on the rail, SIM_NOBODY at its ends */
};

struct sim_carriage {
    double at_um;
    int32_t pin, brake, clamp; /* 0 to SIM_TRAVEL */
    int16_t docked;            /* holder that the pin has hold of, SIM_NOBODY if none */
    bool struck;               /* it has hold of it by its body, not by its socket */
    double offset_um;          /* carriage minus struck holder */
    double held_at_um;         /* where the carriage stood when the docked holder was held */
    double scratch_from_um;    /* where the pin left the clear */
};

/* What must never happen: the first of each kind is described, all are counted. */
struct sim_incident {
    uint32_t count;
    uint16_t rail_index, holder_index, other_index; /* of the first */
    int64_t at_us;
    int32_t gap_um; /* collision: less than 0, the overlap */
};

struct sim_incidents {
    struct sim_incident collision; /* bodies of holder and other overlapped */
    struct sim_incident dragged;   /* a holder was dragged by a pin that wasn't seated */
    double least_gap_um;           /* between two bodies, ever */
};

struct sim_rail {
    uint16_t n_holders;
    struct sim_holder holder[KR_HOLDERS_MAX];
    struct sim_carriage carriage;
    uint16_t n_creeping;
    bool clamp_was_free;
};

/* What acts on the mechanics in one sub-step. */
struct sim_forces {
    uint16_t outputs; /* KR_DO_... as they reach the valves */
    bool air;         /* without it the pin doesn't move, and the springs close brake and clamp */
    bool pin_cannot_go_in, pin_cannot_go_out, brake_cannot_open, clamp_fails;
};

/* Who asks: keys the draws, dates the incidents. */
struct sim_moment {
    uint64_t seed;
    uint16_t rail_index;
    int64_t now_us;
};

void sim_rail_init(struct sim_rail *rail, const struct sim_rail_config *config);

/* One sub-step of pin, brake and clamp. */
void sim_rail_actuate(struct sim_rail *rail, const struct sim_rail_config *config, struct sim_forces forces,
                      struct sim_moment moment, struct sim_incidents *incidents);

/* The motor would go to motor_um: moves carriage and docked holder as far as they can go, and returns where the
 * motor got to. */
double sim_rail_move(struct sim_rail *rail, const struct sim_rail_config *config, double motor_um,
                     struct sim_moment moment, struct sim_incidents *incidents);

/* Moves one holder; contact with a neighbour is a collision, and stops it there. Returns whether it got to the
 * place. */
bool sim_rail_push(struct sim_rail *rail, int16_t holder, double to_um, struct sim_moment moment,
                   struct sim_incidents *incidents);

/* As by a careful hand: no further than the neighbours, and no collision. */
void sim_rail_shift(struct sim_rail *rail, int16_t holder, double by_um, struct sim_incidents *incidents);

/* Whether anything but the pin holds the holder to the rail. */
bool sim_rail_held(const struct sim_rail *rail, const struct sim_rail_config *config, int16_t holder);

uint16_t sim_rail_inputs(const struct sim_rail *rail, const struct sim_rail_config *config);
double sim_rail_least_gap_um(const struct sim_rail *rail);

#endif
