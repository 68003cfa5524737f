/* Writes the steps of the station into one flat struct, for stories of what it did. Nothing is decided by it. */
#include <string.h>

#include "state.h"

static void rail_steps(const struct kr_motion *motion, const struct kr_motion_in *in, struct kr_rail_steps *steps)
{
    struct kr_wait wait = kr_motion_wait(motion, in);
    steps->wait_since_ms = wait.since_ms;
    steps->wait_limit_ms = wait.limit_ms;
    steps->target_um = kr_motion_target_um(motion);
    steps->phase = (uint16_t)kr_motion_phase(motion);
    steps->wait = (uint16_t)wait.kind;
    steps->holder = wait.holder;
    steps->move = wait.holder != 0 ? (uint16_t)(motion->move + 1) : 0;
}

/* The fields are copied one by one, so that the padding stays 0. */
static void add(struct kr_station_steps *steps, const struct kr_alarm *alarm)
{
    struct kr_alarm *place = &steps->alarm[steps->n_alarms++];
    place->code = alarm->code;
    place->rail = alarm->rail;
    place->item = alarm->item;
    place->value = alarm->value;
    place->limit = alarm->limit;
}

/* Alarms that stop something come first, so that notices, such as one for each of many knives, hide none of them. */
static void alarms(const struct alarms *alarms, struct kr_station_steps *steps)
{
    for (int notices = 0; notices <= 1; notices++)
        for (uint16_t i = 0; i < alarms->n && steps->n_alarms < KR_STEPS_ALARMS_MAX; i++)
            if ((kr_alarm_info(alarms->at[i].code)->reaction == KR_REACT_NONE) == (notices == 1))
                add(steps, &alarms->at[i]);
}

void kr_station_steps(const struct kr_station *s, struct kr_station_steps *steps)
{
    memset(steps, 0, sizeof *steps);
    steps->now_ms = s->clock.now_ms;
    steps->order_number = s->durable.in_force ? s->durable.order.order_number : 0;
    steps->unit_state = (uint16_t)s->unit.state;
    steps->job = s->job.kind;
    steps->phase = (uint16_t)s->job.phase;
    steps->command_number = s->command.number;
    steps->command_code = (uint16_t)s->command.result.code;
    steps->verdict_number = s->intake.published.number;
    steps->verdict_code = (uint16_t)s->intake.published.result.code;
    steps->edit_number = s->editing.published.number;
    steps->edit_code = (uint16_t)s->editing.published.result.code;
    alarms(&s->alarms, steps);
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        rail_steps(&s->rails.motion[r], &in, &steps->rail[r]);
    }
}
