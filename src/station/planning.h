#ifndef KR_STATION_PLANNING_H
#define KR_STATION_PLANNING_H

#include "kniferail/station.h"

enum plan_user { PLAN_FOR_NOBODY, PLAN_FOR_REQUEST, PLAN_FOR_JOB };

/* Plans by ticket, one at a time, for a request or for the job; and the plan in force. */
struct planning {
    uint32_t ticket, tickets; /* ticket is 0 if no plan is wanted */
    enum plan_user user;
    int64_t asked_us; /* wall time */
    struct kr_plan_request request;
    bool valid; /* the plan belongs to the order in force */
    struct kr_plan plan;
    bool cuts_valid;
    struct kr_cuts cuts;            /* cut lines of the order in force */
    struct kr_result refusal;       /* result of the job's last plan; shown while PLAN_REFUSED stands */
    int32_t staged_ms, in_force_ms; /* planned times of these orders when they were accepted; 0: unknown */
    uint16_t order_generation;
};

/* Asks for a plan. Returns NULL if another one is being made; else the request, cleared, which the caller fills. */
struct kr_plan_request *plan_ask(struct planning *planning, enum plan_user user, int64_t wall_us);

/* Returns the answer to this user's request; NULL: there is none yet. */
const struct kr_plan_answer *plan_answer(struct planning *planning, enum plan_user user,
                                         const struct kr_plan_answer *answer);
/* This user's request is not needed any more. */
void plan_drop(struct planning *planning, enum plan_user user);

/* Fills in the positions of a request. Holders whose positions are unknown are assumed to be evenly spread between
 * their neighbours. */
void plan_positions(struct kr_plan_request *request, const struct kr_station_config *config,
                    const struct kr_durable *durable, const struct kr_axis_in axis[]);

/* Call it when the plan in force is no longer true of a holder that cuts in it. */
void plan_outdated(struct planning *planning);

/* Call it when another order comes into force, or the same one on another geometry. It makes the cut lines, but not the
 * plan. */
void plan_order_changed(struct planning *planning, const struct kr_geometry *geometry,
                        const struct kr_durable *durable);

/* The holder cuts in the plan. */
bool plan_cuts(const struct planning *planning, uint16_t rail, uint16_t holder);

#endif
