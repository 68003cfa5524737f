/* What must hold all the time that a carriage works, whatever the step of its sequence. What does not trips it. */
#include "state.h"

/* Where a carriage was so long ago says nothing of where it is: at the fastest it has gone a quarter of a metre since. */
#define ANSWERS_LATE_MS 250

static bool docked_firmly(enum kr_carriage_phase phase)
{
    return phase == KR_CARRIAGE_FREEING || phase == KR_CARRIAGE_DRAGGING || phase == KR_CARRIAGE_SETTLING ||
           phase == KR_CARRIAGE_BRAKING;
}

static void supervise_drive(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    enum kr_drive_state state = kr_drive_state_of(in->statusword);
    bool fault = state == KR_DRIVE_FAULT || state == KR_DRIVE_FAULT_REACTION_ACTIVE;
    if (c->phase == KR_CARRIAGE_OFF || (c->phase == KR_CARRIAGE_STOPPING && !fault))
        return;
    if (fault)
        carriage_trip(s, c, KR_ALARM_DRIVE_FAULT, c->docked, in->error_code, 0);
    else if (c->phase != KR_CARRIAGE_ENABLING && c->task != TASK_FREE && carriage_fresh(s, c) &&
             state != KR_DRIVE_OPERATION_ENABLED)
        carriage_trip(s, c, KR_ALARM_DRIVE_DROPPED_OUT, c->docked, in->statusword, 0);
    else if (c->phase != KR_CARRIAGE_ENABLING && c->task != TASK_HOME && c->task != TASK_FREE &&
             c->task != TASK_NONE && !carriage_has_datum(s, c))
        carriage_trip(s, c, KR_ALARM_REFERENCE_LOST, c->docked, 0, 0);
}

static void supervise_docked(struct kr_station *s, struct carriage *c)
{
    if (!docked_firmly(c->phase))
        return;
    bool pin_lost = c->task != TASK_FREE && !pin_is_in(s, c);
    bool brake_lost = c->phase == KR_CARRIAGE_DRAGGING && !carriage_input(s, c, KR_DI_BRAKE_OPEN, 0);
    if (pin_lost)
        carriage_trip(s, c, KR_ALARM_PIN_LOST, c->docked, 0, 0);
    else if (brake_lost)
        carriage_trip(s, c, KR_ALARM_BRAKE_LOST, c->docked, 0, 0);
}

static bool passes_holders(enum kr_carriage_phase phase)
{
    return phase == KR_CARRIAGE_TRAVELLING || phase == KR_CARRIAGE_SCANNING || phase == KR_CARRIAGE_HOMING ||
           phase == KR_CARRIAGE_JOGGING;
}

/* An empty carriage set out with its pin proven out. If that is no longer so, it may have taken along whatever it met. */
static void supervise_empty(struct kr_station *s, struct carriage *c)
{
    if (!passes_holders(c->phase) || pin_is_out(s, c))
        return;
    holders_demote(s, c->rail, KR_UNKNOWN);
    carriage_trip(s, c, KR_ALARM_PIN_UNPROVEN, 0, 0, 0);
}

/* What a scan measures is where a closed clamp holds the holders. One that opens by itself may let them shift, at rest
 * just as well. */
static void supervise_clamp(struct kr_station *s, struct carriage *c)
{
    if (c->clamp_open || s->durable.clamp_open[c->rail] || carriage_clamped(s, c))
        return;
    if (c->phase == KR_CARRIAGE_SCANNING) {
        holders_demote(s, c->rail, KR_UNKNOWN);
        carriage_trip(s, c, KR_ALARM_CLAMP_LOST, 0, 0, 0);
    } else {
        holders_demote(s, c->rail, KR_REMEMBERED);
    }
}

static void supervise_age(struct kr_station *s, struct carriage *c)
{
    int32_t age_ms = axis_of(s, c)->age_ms;
    if (age_ms > ANSWERS_LATE_MS && c->phase != KR_CARRIAGE_OFF)
        carriage_trip(s, c, KR_ALARM_ANSWERS_LATE, c->docked, age_ms, ANSWERS_LATE_MS);
}

void carriage_supervise(struct kr_station *s, struct carriage *c)
{
    if (!axis_of(s, c)->link) {
        motion_forget(c);
        if (c->phase != KR_CARRIAGE_OFF)
            carriage_trip(s, c, KR_ALARM_LINK_LOST, c->docked, 0, 0);
        return;
    }
    motion_step(s, c);
    supervise_age(s, c);
    supervise_drive(s, c);
    supervise_docked(s, c);
    supervise_empty(s, c);
    supervise_clamp(s, c);
}
