#include "single.h"

#include <string.h>

#include "rails.h"

static struct kr_result no(enum kr_code code, const struct job *job, int32_t value, int32_t limit)
{
    return (struct kr_result){code, job->rail, job->holder, value, limit};
}

/* Returns the end of the sweep on one side, for a move from at to to with the final approach. */
static int32_t swept_um(const struct kr_rail_geometry *rail, int32_t at_um, int32_t to_um, int side)
{
    int32_t far_um = side * to_um > side * at_um ? to_um : at_um;
    bool arrives_well = rail->approach == 0 || (rail->approach > 0 ? to_um >= at_um : to_um <= at_um);
    if (!arrives_well && -rail->approach == side)
        far_um =
            side * (to_um + side * rail->overtravel_um) > side * far_um ? to_um + side * rail->overtravel_um : far_um;
    return far_um;
}

static struct kr_result judge_side(const struct kr_station_config *config, const struct kr_durable *durable,
                                   const struct job *job, int side)
{
    const struct kr_rail_geometry *rail = &config->geometry.rail[job->rail - 1];
    const struct kr_holder_data *row = durable->holder[job->rail - 1];
    const struct kr_holder_data *holder = &row[job->holder - 1];
    int32_t far_um = swept_um(rail, holder->position_um, job->to_um, side);
    int i = job->holder - 1 + side;
    while (i >= 0 && i < rail->n_holders && !holder_present(&row[i]))
        i += side;
    if (i < 0 || i >= rail->n_holders)
        return (struct kr_result){.code = KR_OK};
    int32_t need_um = kr_spacing_um(&config->geometry, holder->holder_size, row[i].holder_size);
    int32_t now_um = side * (row[i].position_um - holder->position_um);
    int32_t gap_um = side * (row[i].position_um - far_um);
    bool no_worse = gap_um >= now_um;
    return gap_um < need_um && !no_worse ? no(KR_SPACING, job, gap_um, need_um) : (struct kr_result){.code = KR_OK};
}

struct kr_result single_judge(const struct kr_station_config *config, const struct kr_durable *durable,
                              const struct job *job)
{
    const struct kr_rail_geometry *rail = &config->geometry.rail[job->rail - 1];
    if (job->holder < 1 || job->holder > rail->n_holders)
        return (struct kr_result){
            .code = KR_UNKNOWN_HOLDER, .rail = job->rail, .value = job->holder, .limit = rail->n_holders};
    const struct kr_holder_data *holder = &durable->holder[job->rail - 1][job->holder - 1];
    if (!holder_present(holder))
        return no(KR_NOT_ON_RAIL, job, 0, 0);
    if (holder->state == KR_HOLDER_FIXED)
        return no(KR_SEIZED, job, 0, 0);
    if (job->to_um < rail->min_um)
        return no(KR_HOLDER_OFF_RAIL, job, job->to_um, rail->min_um);
    if (job->to_um > rail->max_um)
        return no(KR_HOLDER_OFF_RAIL, job, job->to_um, rail->max_um);
    if (scan_is_due(config, durable, (uint16_t)(1u << (job->rail - 1))))
        return (struct kr_result){.code = KR_OK}; /* it is judged again after the scan */
    struct kr_result left = judge_side(config, durable, job, -1);
    return left.code == KR_OK ? judge_side(config, durable, job, 1) : left;
}

#define DRAG_UM 5000
/* Each drag is shorter than the one before by this distance at either end. So errors that repeat from place to place,
 * such as those of an encoder's counts, scatter and become part of the uncertainty. */
#define SHORTER_UM 97

/* Drags towards the drive side if there is room, else towards the other side. */
static struct kr_result judge_room(const struct kr_station_config *config, const struct kr_durable *durable,
                                   struct job *job)
{
    struct kr_result result = {.code = KR_OK};
    for (int side = 1; side >= -1; side -= 2) {
        int64_t far_um = job->from_um + (int64_t)side * DRAG_UM;
        job->to_um = job->far_um = (int32_t)(far_um > INT32_MAX ? INT32_MAX : far_um < INT32_MIN ? INT32_MIN : far_um);
        result = single_judge(config, durable, job);
        if (result.code != KR_SPACING && result.code != KR_HOLDER_OFF_RAIL)
            return result;
    }
    result.code = KR_NO_ROOM_TO_DRAG;
    return result;
}

/* After an interruption the holder may be at either place, or between them. */
struct kr_result single_judge_drag(const struct kr_station_config *config, const struct kr_durable *durable,
                                   struct job *job)
{
    bool is_first = job->way == 0;
    uint16_t n = config->geometry.rail[job->rail - 1].n_holders;
    int32_t at_um =
        job->holder >= 1 && job->holder <= n ? durable->holder[job->rail - 1][job->holder - 1].position_um : 0;
    if (is_first && job->from_um == 0)
        job->from_um = at_um;
    struct kr_result result = is_first ? judge_room(config, durable, job) : (struct kr_result){.code = KR_OK};
    int64_t from_um = (int64_t)at_um - job->from_um, far_um = (int64_t)at_um - job->far_um;
    bool goes_back = !is_first && far_um * far_um < from_um * from_um;
    int32_t side = job->far_um > job->from_um ? 1 : -1, shorter_um = side * SHORTER_UM * (job->drags / 2);
    job->to_um = goes_back ? job->from_um + shorter_um : job->far_um - shorter_um;
    job->way = (int8_t)(goes_back ? -side : side);
    return result;
}

void single_plan(const struct kr_station *s, struct kr_plan *plan)
{
    uint16_t r = (uint16_t)(s->job.rail - 1);
    const struct kr_rail_geometry *rail = &s->config.geometry.rail[r];
    const struct kr_carriage_config *carriage = &s->config.carriage[r];
    int32_t at_um = s->durable.holder[r][s->job.holder - 1].position_um;
    memset(plan, 0, sizeof *plan);
    for (uint16_t k = 0; k < s->config.geometry.n_rails; k++)
        for (uint16_t h = 0; h < s->config.geometry.rail[k].n_holders; h++)
            plan->rail[k].holder[h].target_um = s->durable.holder[k][h].position_um;
    if (at_um == s->job.to_um)
        return;
    int64_t empty_um = (int64_t)at_um - kr_frame_place_um(&carriage->frame, s->in.axis[r].position_um);
    int64_t time_us =
        kr_way_time_us(rail, empty_um, kr_setup_speed(carriage, rail->empty, s->job.reduced)) + rail->dock_us +
        kr_way_time_us(rail, (int64_t)s->job.to_um - at_um, kr_setup_speed(carriage, rail->drag, s->job.reduced)) +
        rail->undock_us;
    plan->rail[r].n_moves = 1;
    plan->rail[r].move[0] =
        (struct kr_move){.holder = s->job.holder, .from_um = at_um, .to_um = s->job.to_um, .end_us = time_us};
    plan->rail[r].holder[s->job.holder - 1] =
        (struct kr_plan_holder){.moved = 1, .reason = KR_WHY_ROOM, .target_um = s->job.to_um};
    plan->rail[r].time_us = plan->time_us = time_us;
}
