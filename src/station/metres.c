#include "metres.h"

#include "state.h"

#define PIECE_M     100
#define PARTS_PER_M 600000000 /* 0.1 m/min times microseconds */
#define PLAUSIBLE_M 10000     /* between two cycles: more is another counter, a reset, or half of a value */

/* The knives are in the web while the order in force is verified and the line isn't known to stand. */
static bool knives_cut(const struct permits *permits, const struct placement *placement,
                       const struct planning *planning, bool in_force, enum kr_unit_state state)
{
    return permits->heartbeat_fresh && placement->verified && planning->valid && in_force &&
           !unit_in_job(state) && !(permits->given & KR_PERMIT_LINE_STOPPED);
}

static int32_t metres_i32(uint32_t metres)
{
    return metres < INT32_MAX ? (int32_t)metres : INT32_MAX;
}

/* One notice a rail, for the knife that has cut most: a hundred of them would push out alarms that stop a job. */
static void notice(const struct kr_station_config *config, const struct kr_durable *durable, uint16_t r,
                   struct alarms *alarms)
{
    uint32_t limit = config->carriage[r].metres_notice, most = 0;
    uint16_t worst = 0, rail = (uint16_t)(r + 1);
    for (uint16_t h = 0; h < config->geometry.rail[r].n_holders; h++) {
        const struct kr_holder_data *data = &durable->holder[r][h];
        if (!holder_present(data) || data->metres <= most)
            continue;
        most = data->metres;
        worst = (uint16_t)(h + 1);
    }
    if (limit == 0 || most < limit || alarm_stands(alarms, KR_ALARM_KNIFE_METRES, rail))
        return;
    alarm_raise(alarms,
                (struct kr_alarm){KR_ALARM_KNIFE_METRES, rail, worst, metres_i32(most), metres_i32(limit)});
}

void metres_notices(const struct kr_station_config *config, const struct kr_durable *durable,
                    struct alarms *alarms)
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        notice(config, durable, r, alarms);
}

bool metres_over(const struct kr_station_config *config, const struct kr_durable *durable,
                 const struct kr_alarm *alarm)
{
    uint32_t limit = config->carriage[alarm->rail - 1].metres_notice;
    return limit != 0 && durable->holder[alarm->rail - 1][alarm->item - 1].metres >= limit;
}

void metres_give(struct kr_station *s)
{
    if (s->metres.pending == 0)
        return;
    durable_add_metres(&s->durable, &s->config.geometry, &s->planning.plan, s->metres.pending);
    s->metres.pending = 0;
    metres_notices(&s->config, &s->durable, &s->alarms);
}

static uint32_t run_by_counter(struct metres *m, uint32_t counter, bool fresh, bool cut)
{
    uint32_t run = counter - m->counter;
    bool counts = m->seen && fresh && run <= PLAUSIBLE_M;
    m->counter = counter;
    m->seen = fresh; /* while it isn't, the block may have been zeroed */
    return counts && cut ? run : 0;
}

/* Exactly: what is left of a metre is kept for the next cycle. Wall time: the web runs by the clock, however fast a
 * simulated machine does. */
static uint32_t run_by_speed(struct metres *m, const struct kr_station_in *in, bool cut)
{
    if (cut)
        m->part += (int64_t)in->line_speed * in->wall_dt_us;
    uint32_t run = (uint32_t)(m->part / PARTS_PER_M);
    m->part %= PARTS_PER_M;
    return run;
}

/* Before anything else in the cycle: the plan is still the one that the line ran by. */
void metres_step(struct kr_station *s)
{
    bool by_speed = s->config.metres_source == KR_METRES_SPEED,
         cut = knives_cut(&s->permits, &s->placement, &s->planning, s->durable.in_force, s->unit.state);
    uint32_t counted = run_by_counter(&s->metres, s->in.line_metres, s->permits.heartbeat_fresh, cut);
    s->metres.pending += by_speed ? run_by_speed(&s->metres, &s->in, cut) : counted;
    if (s->metres.pending >= PIECE_M || !cut)
        metres_give(s);
}

uint32_t metres_pending(const struct metres *metres, const struct planning *planning, uint16_t rail,
                        uint16_t holder)
{
    return planning->plan.rail[rail].holder[holder].cut != 0 ? metres->pending : 0;
}
