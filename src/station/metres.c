#include "metres.h"

#include "state.h"

#define PIECE_M     100
#define PARTS_PER_M 600000000 /* 0.1 m/min times microseconds */
/* 4000 m/min, faster than any slitting line: common practice, no published source. */
#define MOST_TENTHS 40000
#define SAVED_US    60000000 /* the longest time for which a counter that is rarely written may catch up */

/* The knives are in the web while the order in force is verified, or while a running line may go on, unless the line is
 * known to stand. */
static bool knives_cut(const struct permits *permits, bool line_may_run, const struct placement *placement,
                       const struct planning *planning, bool in_force, enum kr_unit_state state)
{
    return permits->heartbeat_fresh && (placement->verified || line_may_run) && planning->valid && in_force &&
           !unit_in_job(state) && !(permits->given & KR_PERMIT_LINE_STOPPED);
}

static int32_t metres_i32(uint32_t metres)
{
    return metres < INT32_MAX ? (int32_t)metres : INT32_MAX;
}

/* There is one notice for each rail, for the knife that has cut most: a hundred of them would displace alarms that stop
 * a job. */
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
    alarm_raise(alarms, (struct kr_alarm){KR_ALARM_KNIFE_METRES, rail, worst, metres_i32(most), metres_i32(limit)});
}

void metres_notices(const struct kr_station_config *config, const struct kr_durable *durable, struct alarms *alarms)
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        notice(config, durable, r, alarms);
}

bool metres_over(const struct kr_station_config *config, const struct kr_durable *durable, const struct kr_alarm *alarm)
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

static void told(struct alarms *alarms, enum kr_alarm_code code, uint32_t value, int64_t limit)
{
    if (!alarm_stands(alarms, code, 0))
        alarm_raise(alarms,
                    (struct kr_alarm){.code = (uint16_t)code, .value = metres_i32(value), .limit = (int32_t)limit});
}

/* No line is faster. The allowed step of the counter grows with the time, and shrinks by each step. */
static void allow(struct metres *m, int32_t wall_dt_us)
{
    m->allowed += (int64_t)MOST_TENTHS * wall_dt_us;
    if (m->allowed > (int64_t)MOST_TENTHS * SAVED_US)
        m->allowed = (int64_t)MOST_TENTHS * SAVED_US;
}

/* A counter that goes back, or continues from 0, begins again; a wrap is a small step. Any other step that no line can
 * have run is reported, because words in the wrong sequence look like that: each metre counts 65536. */
static bool steps_plausibly(struct metres *m, uint32_t counter, struct alarms *alarms)
{
    uint32_t step = counter - m->counter;
    int64_t most_m = m->allowed / PARTS_PER_M;
    if (step <= most_m) {
        m->allowed -= (int64_t)step * PARTS_PER_M;
        return true;
    }
    if (counter > m->counter && m->counter != 0)
        told(alarms, KR_ALARM_METRES_IMPLAUSIBLE, step, most_m);
    return false;
}

static uint32_t run_by_counter(struct metres *m, uint32_t counter, bool fresh, struct alarms *alarms)
{
    uint32_t step = counter - m->counter;
    bool counts = m->seen && fresh && steps_plausibly(m, counter, alarms);
    m->counter = counter;
    m->seen = fresh; /* without it, the block may have been zeroed */
    return counts ? step : 0;
}

/* The sum is exact: the rest of a metre is kept for the next cycle. It uses wall time, because the web runs by the
 * clock, however fast a simulated machine runs. */
static uint32_t run_by_speed(struct metres *m, const struct kr_station_in *in, struct alarms *alarms)
{
    if (in->line_speed > MOST_TENTHS) {
        told(alarms, KR_ALARM_LINE_SPEED_IMPLAUSIBLE, in->line_speed / 10u, MOST_TENTHS / 10);
        return 0;
    }
    m->part += (int64_t)in->line_speed * in->wall_dt_us;
    uint32_t run = (uint32_t)(m->part / PARTS_PER_M);
    m->part %= PARTS_PER_M;
    return run;
}

static uint32_t run_in_cycle(struct metres *m, const struct kr_station_in *in, enum kr_metres_source source, bool fresh,
                             bool cut, struct alarms *alarms)
{
    allow(m, in->wall_dt_us);
    if (source == KR_METRES_SPEED)
        return cut ? run_by_speed(m, in, alarms) : 0;
    uint32_t run = run_by_counter(m, in->line_metres, fresh, alarms);
    return cut ? run : 0;
}

void metres_note_verified(const struct metres *m, struct kr_durable *durable, bool verified, uint32_t line_metres)
{
    if (verified && !durable->was_verified)
        durable_verified(durable);
    else if (!verified && durable->was_verified && m->written)
        durable_fell(durable, line_metres);
}

/* It comes first in the cycle, when the plan is still the one with which the line ran. */
void metres_step(struct kr_station *s)
{
    bool cut = knives_cut(&s->permits, s->line.status & KR_LINE_MAY_RUN, &s->placement, &s->planning,
                          s->durable.in_force, s->unit.state);
    s->metres.written |= s->permits.heartbeat_fresh;
    metres_note_verified(&s->metres, &s->durable, s->placement.verified, s->in.line_metres);
    s->metres.pending +=
        run_in_cycle(&s->metres, &s->in, s->config.metres_source, s->permits.heartbeat_fresh, cut, &s->alarms);
    if (s->metres.pending >= PIECE_M || !cut)
        metres_give(s);
}

uint32_t metres_pending(const struct metres *metres, const struct planning *planning, uint16_t rail, uint16_t holder)
{
    return planning->plan.rail[rail].holder[holder].cut != 0 ? metres->pending : 0;
}
