/* Begins every stop, and reports its cause. All other files of the sequences may call it, and it calls none of them. */
#include "trip.h"

#include "knowledge.h"
#include "timing.h"

void carriage_enter(const struct rail *r, enum kr_carriage_phase phase)
{
    r->m->phase = phase;
    r->m->since_ms = now_ms(r);
    r->m->proof = r->in->serial;
    r->m->track.still_since_ms = now_ms(r);
}

static void tell(const struct rail *r, struct kr_motion_event event)
{
    if (r->out->n_events < KR_MOTION_EVENTS_MAX)
        r->out->event[r->out->n_events++] = event;
}

void rail_alarm(const struct rail *r, struct kr_alarm alarm)
{
    tell(r, (struct kr_motion_event){.kind = KR_EVENT_ALARM, .holder = alarm.item, .alarm = alarm});
}

void rail_stands(const struct rail *r, struct kr_alarm alarm)
{
    tell(r, (struct kr_motion_event){.kind = KR_EVENT_STANDS, .holder = alarm.item, .alarm = alarm});
}

void rail_event(const struct rail *r, enum kr_motion_event_kind kind, uint16_t holder)
{
    tell(r, (struct kr_motion_event){.kind = kind, .holder = holder});
}

void wind_down_enter(const struct rail *r, enum kr_wind_down step)
{
    carriage_enter(r, KR_CARRIAGE_STOPPING);
    r->m->wind_down = step;
}

void wind_down_drive_off(const struct rail *r)
{
    /* The carriage was on its way to that holder, and no further. */
    if (r->m->docked == 0 && knowledge_of(r)->docking)
        docking_over(r);
    struct kr_drive_control *drive = &r->m->drive;
    drive->on = drive->halt = drive->quick_stop = drive->homing = false;
    wind_down_enter(r, KR_WIND_OFF);
}

void wind_down_begin(const struct rail *r)
{
    if (r->m->phase == KR_CARRIAGE_OFF || r->m->phase == KR_CARRIAGE_STOPPING)
        return;
    timing_step_fails(r);
    r->m->task = KR_TASK_NONE;
    r->m->task_done = false;
    r->m->drive.halt = true;
    r->m->drive.setpoint = KR_SETPOINT_NONE;
    if (r->m->phase == KR_CARRIAGE_ENABLING || r->m->phase == KR_CARRIAGE_TRYING)
        wind_down_drive_off(r); /* the drive must not come on any further, or it is already off */
    else if (r->m->phase == KR_CARRIAGE_BRAKING)
        wind_down_enter(r, KR_WIND_BRAKE); /* the carriage stands, and the brake must not open again */
    else
        wind_down_enter(r, KR_WIND_DECELERATE);
}

void carriage_trip(const struct rail *r, enum kr_alarm_code code, uint16_t item, int32_t value, int32_t limit)
{
    rail_alarm(r, (struct kr_alarm){(uint16_t)code, 0, item, value, limit});
    r->m->drive.setpoint = KR_SETPOINT_NONE;
    wind_down_begin(r);
}
