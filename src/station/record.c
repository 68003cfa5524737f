#include "record.h"

#include <string.h>

#include "job_traits.h"

void record_begin(struct kr_record *record, const struct job *job, const struct kr_durable *durable)
{
    memset(record, 0, sizeof *record);
    if (!job_traits(job->kind)->has_record)
        return;
    record->job = job->kind;
    record->order_number = durable->in_force ? durable->order.order_number : 0;
}

void record_ended_by(struct kr_record *record, enum kr_alarm_code who)
{
    if (record->cause.code == KR_ALARM_NONE)
        record->cause.code = (uint16_t)who;
}

/* An alarm explains more than the command that came after it. */
static struct kr_alarm cause_of(const struct kr_record *record, const struct alarms *alarms)
{
    struct kr_alarm cause = record->cause;
    if (!alarm_stops(alarms, &cause) && cause.code != KR_ALARM_NONE)
        alarm_reacts(alarms, KR_REACT_SUSPEND, &cause);
    return cause;
}

static void take_timing(struct kr_record_rail *rail, const struct kr_timing *t)
{
    rail->docks = t->docks;
    rail->undocks = t->undocks;
    rail->ways = t->ways;
    rail->dock_ms = kr_ms_from_us(t->dock_us);
    rail->undock_ms = kr_ms_from_us(t->undock_us);
    rail->setpoint_ms = kr_ms_from_us(t->setpoint_us);
    rail->rounding_ms = kr_ms_from_us(t->rounding_us);
}

void record_end(struct kr_station *s, enum kr_outcome outcome)
{
    if (s->record.job == 0)
        return; /* there was no job */
    struct kr_alarm cause = cause_of(&s->record, &s->alarms);
    if (cause.code == KR_ALARM_NONE && outcome != KR_OUTCOME_VERIFIED)
        cause.code = KR_ALARM_NOT_VERIFIED;
    s->record.outcome = (uint16_t)outcome;
    s->record.actual_ms = kr_ms_from_us(s->job.moving_us);
    s->record.total_ms = kr_ms_from_us(1000 * (s->clock.now_ms - s->job.began_ms));
    s->record.cause = cause;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        take_timing(&s->record.rail[r], kr_motion_timing(&s->rails.motion[r]));
    s->record.number = (uint16_t)(s->durable.record.number + 1);
    if (s->record.number == 0)
        s->record.number = 1;
    durable_set_record(&s->durable, &s->record);
    s->record.job = 0;
}
