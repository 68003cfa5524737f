#include "planning.h"

#include <string.h>

#include "durable.h"

struct kr_plan_request *plan_ask(struct planning *planning, enum plan_user user, int64_t wall_us)
{
    if (planning->user != PLAN_FOR_NOBODY)
        return NULL;
    planning->user = user;
    planning->ticket = ++planning->tickets ? planning->tickets : ++planning->tickets; /* 0 is none */
    planning->asked_us = wall_us;
    memset(&planning->request, 0, sizeof planning->request);
    return &planning->request;
}

void plan_drop(struct planning *planning, enum plan_user user)
{
    if (planning->user != user)
        return;
    planning->user = PLAN_FOR_NOBODY;
    planning->ticket = 0;
}

const struct kr_plan_answer *plan_answer(struct planning *planning, enum plan_user user,
                                         const struct kr_plan_answer *answer)
{
    if (planning->user != user || answer->ticket != planning->ticket)
        return NULL;
    plan_drop(planning, user);
    return answer;
}

/* Holders with unknown positions are assumed to be evenly spread between their known neighbours. The time in a verdict
 * is then an estimate; the plan that moves is made after the scan. */
static void spread_unknown(const struct kr_rail_geometry *rail, const struct kr_holder_data row[],
                           struct kr_holder holder[])
{
    int64_t left_um = rail->min_um;
    uint16_t i = 0;
    while (i < rail->n_holders) {
        uint16_t end = i;
        while (end < rail->n_holders && (!holder_present(&row[end]) || row[end].known == KR_UNKNOWN))
            end++;
        int64_t right_um = end < rail->n_holders ? row[end].position_um : rail->max_um;
        for (uint16_t k = i; k < end; k++)
            holder[k].position_um = (int32_t)(left_um + (right_um - left_um) * (k - i + 1) / (end - i + 1));
        left_um = right_um;
        i = (uint16_t)(end + 1);
    }
}

/* Returns the carriage's place. It is limited to the travel, whatever the drive reports. */
static int32_t carriage_um(const struct kr_carriage_config *carriage, const struct kr_axis_in *axis)
{
    int32_t position_um = axis->position_um;
    if (!axis->link || !axis->referenced)
        return carriage->park_um;
    if (position_um < carriage->travel_min_um)
        position_um = carriage->travel_min_um;
    if (position_um > carriage->travel_max_um)
        position_um = carriage->travel_max_um;
    return kr_frame_place_um(&carriage->frame, position_um);
}

void plan_positions(struct kr_plan_request *request, const struct kr_station_config *config,
                    const struct kr_durable *durable, const struct kr_axis_in axis[])
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        const struct kr_rail_geometry *rail = &config->geometry.rail[r];
        const struct kr_holder_data *row = durable->holder[r];
        request->rail[r].carriage_um = carriage_um(&config->carriage[r], &axis[r]);
        for (uint16_t i = 0; i < rail->n_holders; i++)
            request->rail[r].holder[i] =
                (struct kr_holder){row[i].position_um, row[i].edge_offset_um, row[i].holder_size, row[i].state};
        spread_unknown(rail, row, request->rail[r].holder);
    }
}

void plan_outdated(struct planning *planning)
{
    planning->valid = false;
    planning->order_generation++;
}

void plan_order_changed(struct planning *planning, const struct kr_geometry *geometry, const struct kr_durable *durable)
{
    planning->valid = false;
    planning->cuts_valid = durable->in_force && kr_cuts_make(geometry, &durable->order, &planning->cuts).code == KR_OK;
    planning->order_generation++;
}

bool plan_cuts(const struct planning *planning, uint16_t rail, uint16_t holder)
{
    return planning->valid && planning->plan.rail[rail].holder[holder].cut != 0;
}
