#ifndef KR_STATION_PLANNING_H
#define KR_STATION_PLANNING_H

#include "kniferail/station.h"

enum plan_user { PLAN_FOR_NOBODY, PLAN_FOR_REQUEST, PLAN_FOR_JOB };

/* Plans by ticket: one at a time, for a request or for the job; and the plan in force. */
struct planning {
    uint32_t ticket, tickets; /* 0: no plan is wanted */
    enum plan_user user;
    int64_t asked_us; /* wall time */
    struct kr_plan_request request;
    bool valid; /* plan belongs to the order in force */
    struct kr_plan plan;
    bool cuts_valid;
    struct kr_cuts cuts;            /* of the order in force */
    struct kr_result refusal;       /* of the job's last plan; told while PLAN_REFUSED stands */
    int32_t staged_ms, in_force_ms; /* planned for these orders when they were accepted; 0: not known */
    uint16_t order_generation;
};

/* Asks for a plan. Returns NULL if one is being made already; else the request, cleared, which the caller fills. */
struct kr_plan_request *plan_ask(struct planning *planning, enum plan_user user, int64_t wall_us);

/* The answer to what this user asked for; NULL: there is none yet. */
const struct kr_plan_answer *plan_answer(struct planning *planning, enum plan_user user,
                                         const struct kr_plan_answer *answer);
void plan_drop(struct planning *planning,
               enum plan_user user); /* what this user asked for is not wanted any more */

/* Where things are, for a request. A holder whose place is unknown is assumed evenly spread between its neighbours. */
void plan_positions(struct kr_plan_request *request, const struct kr_station_config *config,
                    const struct kr_durable *durable, const struct kr_axis_in axis[]);

/* The plan in force no longer tells the truth about a holder that cuts in it. */
void plan_outdated(struct planning *planning);

/* Another order is in force, or the same one on another geometry: its cut lines are made, its plan is not. */
void plan_order_changed(struct planning *planning, const struct kr_geometry *geometry,
                        const struct kr_durable *durable);

bool plan_cuts(const struct planning *planning, uint16_t rail, uint16_t holder); /* it cuts in the plan */

#endif
