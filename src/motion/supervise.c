/* Checks the conditions that must hold in every step of a working carriage. A violated condition trips the rail. */
#include "supervise.h"

#include "datum.h"
#include "knowledge.h"
#include "signals.h"
#include "track.h"
#include "trip.h"

static bool docked_firmly(enum kr_carriage_phase phase)
{
    return phase == KR_CARRIAGE_FREEING || phase == KR_CARRIAGE_DRAGGING || phase == KR_CARRIAGE_SETTLING ||
           phase == KR_CARRIAGE_BRAKING;
}

static void supervise_drive(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    enum kr_drive_state state = kr_drive_state_of(in->statusword);
    bool fault = state == KR_DRIVE_FAULT || state == KR_DRIVE_FAULT_REACTION_ACTIVE;
    if (r->m->phase == KR_CARRIAGE_OFF || (r->m->phase == KR_CARRIAGE_STOPPING && !fault))
        return;
    if (fault)
        carriage_trip(r, KR_ALARM_DRIVE_FAULT, r->m->docked, in->error_code, 0);
    else if (r->m->phase != KR_CARRIAGE_ENABLING && r->m->task != KR_TASK_FREE && r->m->task != KR_TASK_TRY &&
             carriage_fresh(r) && state != KR_DRIVE_OPERATION_ENABLED)
        carriage_trip(r, KR_ALARM_DRIVE_DROPPED_OUT, r->m->docked, in->statusword, 0);
    else if (r->m->phase != KR_CARRIAGE_ENABLING && datum_is_needed(r) && !carriage_has_datum(r))
        carriage_trip(r, KR_ALARM_REFERENCE_LOST, r->m->docked, 0, 0);
}

static void supervise_docked(const struct rail *r)
{
    if (!docked_firmly(r->m->phase))
        return;
    bool pin_lost = r->m->task != KR_TASK_FREE && !pin_is_in(r);
    bool brake_lost = r->m->phase == KR_CARRIAGE_DRAGGING && !carriage_input(r, KR_DI_BRAKE_OPEN, 0);
    if (pin_lost)
        carriage_trip(r, KR_ALARM_PIN_LOST, r->m->docked, 0, 0);
    else if (brake_lost)
        carriage_trip(r, KR_ALARM_BRAKE_LOST, r->m->docked, 0, 0);
}

static bool passes_holders(enum kr_carriage_phase phase)
{
    return phase == KR_CARRIAGE_TRAVELLING || phase == KR_CARRIAGE_SCANNING || phase == KR_CARRIAGE_HOMING ||
           phase == KR_CARRIAGE_FINDING || phase == KR_CARRIAGE_JOGGING;
}

/* An empty carriage begins its way with its pin proven out. If that is no longer so, it may have dragged every holder
 * that it met. */
static void supervise_empty(const struct rail *r)
{
    if (!passes_holders(r->m->phase) || pin_is_out(r))
        return;
    places_demote(r, KR_UNKNOWN);
    carriage_trip(r, KR_ALARM_PIN_UNPROVEN, 0, 0, 0);
}

/* A scan measures the positions in which a closed clamp holds the holders. A clamp that opens by itself may let them
 * shift, also at rest. */
static void supervise_clamp(const struct rail *r)
{
    if (r->m->clamp_open || knowledge_of(r)->clamp_open || carriage_clamped(r))
        return;
    if (r->m->phase == KR_CARRIAGE_SCANNING) {
        places_demote(r, KR_UNKNOWN);
        carriage_trip(r, KR_ALARM_CLAMP_LOST, 0, 0, 0);
    } else {
        places_demote(r, KR_REMEMBERED);
    }
}

/* An old position tells nothing about the present one. The stop is controlled: the drive is told to halt, and does so
 * when it reads that. Until then its own watchdog limits the way. The alarm names the silent device. */
static void supervise_age(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    int32_t limit_ms = r->in->carriage->answers_late_ms;
    if (in->age_ms <= limit_ms || r->m->phase == KR_CARRIAGE_OFF || r->m->phase == KR_CARRIAGE_STOPPING)
        return;
    switch ((enum kr_silent)in->silent) {
    case KR_SILENT_SELF: carriage_trip(r, KR_ALARM_STOOD_STILL, 0, in->age_ms, limit_ms); break;
    case KR_SILENT_LINE: carriage_trip(r, KR_ALARM_LINE_WAITS, in->silent_rail, in->age_ms, limit_ms); break;
    case KR_SILENT_NETWORK: carriage_trip(r, KR_ALARM_NETWORK_SILENT, r->m->docked, in->age_ms, limit_ms); break;
    case KR_SILENT_DRIVE: carriage_trip(r, KR_ALARM_ANSWERS_LATE, r->m->docked, in->age_ms, limit_ms); break;
    }
}

struct kr_alarm kr_motion_no_link(const struct kr_axis_in *axis, uint16_t docked)
{
    const struct kr_drive_refusal *refusal = &axis->refusal;
    switch ((enum kr_refused)refusal->why) {
    case KR_REFUSED_PARAMETER:
        return (struct kr_alarm){KR_ALARM_DRIVE_PARAMETER, 0, refusal->item, refusal->seen, refusal->expected};
    case KR_REFUSED_OTHER_GATEWAY:
        return (struct kr_alarm){KR_ALARM_OTHER_GATEWAY, 0, 0, refusal->seen, refusal->expected};
    case KR_REFUSED_NOT: break;
    }
    return (struct kr_alarm){KR_ALARM_LINK_LOST, 0, docked, 0, 0};
}

/* A drive that is only silent at rest raises no alarm: the next start is refused. */
static void supervise_no_link(const struct rail *r)
{
    struct kr_alarm alarm = kr_motion_no_link(axis_of(r), r->m->docked);
    track_forget(r);
    datum_forget(r);
    if (r->m->phase != KR_CARRIAGE_OFF)
        carriage_trip(r, (enum kr_alarm_code)alarm.code, alarm.item, alarm.value, alarm.limit);
    else if (axis_of(r)->refusal.why != KR_REFUSED_NOT)
        rail_stands(r, alarm);
}

void supervise_step(const struct rail *r)
{
    if (!axis_of(r)->link) {
        supervise_no_link(r);
        return;
    }
    track_step(r);
    datum_step(r);
    supervise_age(r);
    supervise_drive(r);
    supervise_docked(r);
    supervise_empty(r);
    supervise_clamp(r);
}
