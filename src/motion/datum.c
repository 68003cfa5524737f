/* Whether the carriage's datum can be believed. A wrong word order, scale or direction, and a datum that was lost without
 * a word, all show in a position that the carriage can't have. */
#include "datum.h"

#include "signals.h"
#include "trip.h"

bool datum_is_needed(const struct rail *r)
{
    switch (r->m->task) {
    case KR_TASK_SCAN:
    case KR_TASK_MOVES:
    case KR_TASK_TRAVEL: return true;
    case KR_TASK_JOG: return r->m->jog != KR_JOG_STANDING && !r->m->jog_blind;
    case KR_TASK_NONE:
    case KR_TASK_FREE:
    case KR_TASK_HOME: break;
    }
    return false;
}

static struct kr_alarm implausible(const struct rail *r)
{
    const struct kr_carriage_config *config = r->in->carriage;
    int32_t at_um = axis_of(r)->position_um;
    int32_t limit_um = at_um < config->travel_min_um ? config->travel_min_um : config->travel_max_um;
    return (struct kr_alarm){KR_ALARM_POSITION_IMPLAUSIBLE, 0, r->m->docked, at_um, limit_um};
}

static bool is_implausible(const struct rail *r)
{
    return kr_motion_is_implausible(r->m, r->in->carriage, r->in->axis);
}

bool datum_permits(const struct rail *r)
{
    if (!datum_is_needed(r) || !is_implausible(r))
        return true;
    rail_alarm(r, implausible(r));
    return false;
}

void datum_step(const struct rail *r)
{
    bool rests = r->m->phase == KR_CARRIAGE_OFF || r->m->phase == KR_CARRIAGE_STOPPING;
    if (!is_implausible(r))
        return;
    struct kr_alarm alarm = implausible(r);
    if (rests)
        rail_stands(r, alarm);
    else if (datum_is_needed(r))
        carriage_trip(r, KR_ALARM_POSITION_IMPLAUSIBLE, alarm.item, alarm.value, alarm.limit);
}
