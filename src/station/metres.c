/* Metres that each knife has cut, while the line runs with the order in force verified: by the line's own counter, or by
 * its speed. They are added up and given to the holders that cut in whole pieces, so that the book isn't written every
 * metre; what is not given yet is given when the line stops. A power cut in between loses less than one piece. */
#include "state.h"

#define PIECE_M     100
#define PARTS_PER_M 600000000 /* 0.1 m/min times microseconds */
#define PLAUSIBLE_M 10000     /* between two cycles: more is another counter, a reset, or half of a value */

/* The knives are in the web while the order in force is verified and the line isn't known to stand. */
static bool knives_cut(const struct kr_station *s)
{
    return s->heartbeat_fresh && s->verified && s->plan_valid && s->durable.in_force && !unit_in_job(s) &&
           !(s->permissives & KR_PERMIT_LINE_STOPPED);
}

static bool cuts_here(const struct kr_station *s, uint16_t rail, uint16_t h)
{
    return s->plan.rail[rail].holder[h].cut != 0;
}

static bool notice_stands(const struct kr_station *s, uint16_t rail)
{
    for (uint16_t i = 0; i < s->n_alarms; i++)
        if (s->alarm[i].code == KR_ALARM_KNIFE_METRES && s->alarm[i].rail == rail)
            return true;
    return false;
}

static int32_t metres_i32(uint32_t metres)
{
    return metres < INT32_MAX ? (int32_t)metres : INT32_MAX;
}

/* One notice a rail, for the knife that has cut most: a hundred of them would push out alarms that stop a job. */
static void notice(struct kr_station *s, uint16_t r)
{
    uint32_t limit = s->config.carriage[r].metres_notice, most = 0;
    uint16_t worst = 0;
    for (uint16_t h = 0; h < s->config.geometry.rail[r].n_holders; h++) {
        const struct kr_holder_data *data = &s->durable.holder[r][h];
        if (!holder_present(data) || data->metres <= most)
            continue;
        most = data->metres;
        worst = (uint16_t)(h + 1);
    }
    if (limit == 0 || most < limit || notice_stands(s, (uint16_t)(r + 1)))
        return;
    alarm_raise(s, (struct kr_alarm){KR_ALARM_KNIFE_METRES, (uint16_t)(r + 1), worst, metres_i32(most),
                                     metres_i32(limit)});
}

void metres_notices(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        notice(s, r);
}

bool metres_over(const struct kr_station *s, const struct kr_alarm *alarm)
{
    uint32_t limit = s->config.carriage[alarm->rail - 1].metres_notice;
    return limit != 0 && s->durable.holder[alarm->rail - 1][alarm->item - 1].metres >= limit;
}

void metres_give(struct kr_station *s)
{
    if (s->metres.pending == 0)
        return;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        for (uint16_t h = 0; h < s->config.geometry.rail[r].n_holders; h++)
            if (cuts_here(s, r, h))
                s->durable.holder[r][h].metres += s->metres.pending;
    s->metres.pending = 0;
    durable_touch(s);
    metres_notices(s);
}

static uint32_t run_by_counter(struct kr_station *s)
{
    struct metres *m = &s->metres;
    uint32_t run = s->in.line_metres - m->counter;
    bool counts = m->seen && s->heartbeat_fresh && run <= PLAUSIBLE_M;
    m->counter = s->in.line_metres;
    m->seen = s->heartbeat_fresh; /* while it isn't, the block may have been zeroed */
    return counts && knives_cut(s) ? run : 0;
}

/* Exactly: what is left of a metre is kept for the next cycle. Wall time: the web runs by the clock, however fast a
 * simulated machine does. */
static uint32_t run_by_speed(struct kr_station *s)
{
    struct metres *m = &s->metres;
    if (knives_cut(s))
        m->part += (int64_t)s->in.line_speed * s->in.wall_dt_us;
    uint32_t run = (uint32_t)(m->part / PARTS_PER_M);
    m->part %= PARTS_PER_M;
    return run;
}

/* Before anything else in the cycle: the plan is still the one that the line ran by. */
void metres_step(struct kr_station *s)
{
    bool by_speed = s->config.metres_source == KR_METRES_SPEED;
    uint32_t counted = run_by_counter(s);
    s->metres.pending += by_speed ? run_by_speed(s) : counted;
    if (s->metres.pending >= PIECE_M || !knives_cut(s))
        metres_give(s);
}

uint32_t metres_pending(const struct kr_station *s, uint16_t rail, uint16_t h)
{
    return cuts_here(s, rail, h) ? s->metres.pending : 0;
}
