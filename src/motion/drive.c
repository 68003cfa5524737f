/* Controls one drive by its statusword as CiA 402 (IEC 61800-7-201) defines it. Switching on takes three commands, each
 * after the previous state is seen. A set-point is offered, acknowledged and taken back before 'target reached' has a
 * meaning. A proof counts only from an input image that answers the output that asked for it. */
#include "drive.h"

#include "timing.h"
#include "trip.h"

/* In addition to the drive's own window: a drive that reports 'reached' elsewhere is not believed. */
#define REACHED_WINDOW_UM 500

static bool fresh(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    return in->link && (int32_t)(in->answers - r->m->drive.proof) >= 0;
}

static void setpoint_enter(const struct rail *r, enum kr_setpoint step, int64_t limit_ms)
{
    r->m->drive.setpoint = step;
    r->m->drive.proof = r->in->serial;
    r->m->drive.since_ms = now_ms(r);
    r->m->drive.limit_ms = limit_ms;
}

void drive_move(const struct rail *r, int32_t target_um, struct kr_speed speed)
{
    r->m->drive.homing = false;
    r->m->drive.target_um = target_um;
    r->m->drive.speed = speed;
    timing_way_given(r);
    setpoint_enter(r, KR_SETPOINT_CLEARING, r->in->carriage->setpoint_limit_ms);
}

void drive_home(const struct rail *r)
{
    r->m->drive.homing = true;
    setpoint_enter(r, KR_SETPOINT_CLEARING, r->in->carriage->setpoint_limit_ms);
}

static int64_t move_limit_ms(const struct rail *r)
{
    int64_t distance_um = (int64_t)r->m->drive.target_um - axis_of(r)->position_um;
    int64_t time_us = kr_move_time_us(distance_um < 0 ? -distance_um : distance_um, r->m->drive.speed);
    return time_us / 1000 + r->in->carriage->move_margin_ms;
}

static bool is_at_target(const struct rail *r)
{
    int64_t off_um = (int64_t)axis_of(r)->position_um - r->m->drive.target_um;
    return off_um >= -REACHED_WINDOW_UM && off_um <= REACHED_WINDOW_UM;
}

static void late_trip(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    if (r->m->drive.homing)
        carriage_trip(r, KR_ALARM_HOMING_FAILED, 0, in->statusword, 0);
    else if (r->m->drive.setpoint == KR_SETPOINT_RUNNING)
        carriage_trip(r, KR_ALARM_MOVE_LATE, r->m->docked, carriage_place_um(r), place_by_um(r, r->m->drive.target_um));
    else
        carriage_trip(r, KR_ALARM_SETPOINT_NOT_TAKEN, 0, r->m->drive.target_um, 0);
}

static void position_setpoint_step(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    bool acknowledged = in->statusword & KR_SW_SETPOINT_ACK;
    int64_t limit_ms = r->in->carriage->setpoint_limit_ms;
    switch (r->m->drive.setpoint) {
    case KR_SETPOINT_CLEARING:
        if (!acknowledged && in->mode == KR_MODE_PROFILE_POSITION)
            setpoint_enter(r, KR_SETPOINT_OFFERED, limit_ms);
        break;
    case KR_SETPOINT_OFFERED:
        if (acknowledged) {
            setpoint_enter(r, KR_SETPOINT_TAKEN, limit_ms);
            timing_way_taken(r);
        }
        break;
    case KR_SETPOINT_TAKEN:
        if (!acknowledged)
            setpoint_enter(r, KR_SETPOINT_RUNNING, move_limit_ms(r));
        break;
    case KR_SETPOINT_RUNNING:
        if (in->statusword & KR_SW_TARGET_REACHED && is_at_target(r)) {
            r->m->drive.setpoint = KR_SETPOINT_REACHED;
            timing_way_gone(r);
        }
        break;
    case KR_SETPOINT_NONE:
    case KR_SETPOINT_REACHED: break;
    }
}

static void homing_step(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    if (r->m->drive.setpoint == KR_SETPOINT_CLEARING) {
        if (in->mode == KR_MODE_HOMING)
            setpoint_enter(r, KR_SETPOINT_RUNNING, r->in->carriage->home_limit_ms);
    } else if (r->m->drive.setpoint == KR_SETPOINT_RUNNING) {
        if (in->statusword & KR_SW_FOLLOWING_ERROR)
            late_trip(r);
        else if (in->statusword & KR_SW_SETPOINT_ACK && in->statusword & KR_SW_TARGET_REACHED && in->referenced)
            r->m->drive.setpoint = KR_SETPOINT_REACHED;
    }
}

void drive_step(const struct rail *r)
{
    struct kr_drive_control *d = &r->m->drive;
    if (d->setpoint == KR_SETPOINT_NONE || d->setpoint == KR_SETPOINT_REACHED)
        return;
    if (fresh(r) && d->homing)
        homing_step(r);
    else if (fresh(r))
        position_setpoint_step(r);
    if (d->setpoint != KR_SETPOINT_REACHED && now_ms(r) - d->since_ms >= d->limit_ms)
        late_trip(r);
}

/* Returns the next controlword on the way to 'operation enabled', or away from it. */
static uint16_t walk(const struct kr_drive_control *d, enum kr_drive_state state, bool resets_faults)
{
    const uint16_t shut_down = KR_CW_ENABLE_VOLTAGE | KR_CW_NO_QUICK_STOP;
    const uint16_t switch_on = shut_down | KR_CW_SWITCH_ON;
    switch (state) {
    case KR_DRIVE_SWITCH_ON_DISABLED: return d->on ? shut_down : 0;
    case KR_DRIVE_READY_TO_SWITCH_ON: return d->on ? switch_on : 0;
    case KR_DRIVE_SWITCHED_ON:
    case KR_DRIVE_OPERATION_ENABLED: return d->on ? switch_on | KR_CW_ENABLE_OPERATION : 0;
    case KR_DRIVE_FAULT: return resets_faults ? KR_CW_FAULT_RESET : 0;
    case KR_DRIVE_NOT_READY:
    /* The state is unknown; this word stops the drive in every state. */
    case KR_DRIVE_UNKNOWN: return d->on ? KR_CW_ENABLE_VOLTAGE : 0;
    case KR_DRIVE_QUICK_STOP_ACTIVE:
    case KR_DRIVE_FAULT_REACTION_ACTIVE: break;
    }
    return 0;
}

/* During homing the position is unknown, so that it is never faster than setting up. */
static void limits(const struct kr_motion *m, const struct kr_motion_in *in, struct kr_axis_out *out)
{
    const struct kr_carriage_config *c = in->carriage;
    bool sets_up = in->reduced || m->task == KR_TASK_HOME || m->task == KR_TASK_FIND || m->task == KR_TASK_JOG;
    bool creeps = c->homing_creep_um_per_s < c->setup_speed_um_per_s;
    out->homing_speed_um_per_s = c->setup_speed_um_per_s;
    out->homing_creep_um_per_s = creeps ? c->homing_creep_um_per_s : c->setup_speed_um_per_s;
    out->torque_permille = sets_up ? c->setup_torque_permille : c->torque_permille;
}

void drive_outputs(const struct kr_motion *m, const struct kr_motion_in *motion_in, struct kr_axis_out *out)
{
    const struct kr_drive_control *d = &m->drive;
    const struct kr_axis_in *in = &motion_in->axis[0];
    enum kr_drive_state state = in->link ? kr_drive_state_of(in->statusword) : KR_DRIVE_UNKNOWN;
    uint16_t word = walk(d, state, motion_in->resets_faults);
    if (d->quick_stop && state == KR_DRIVE_OPERATION_ENABLED)
        word = KR_CW_ENABLE_VOLTAGE | KR_CW_SWITCH_ON | KR_CW_ENABLE_OPERATION; /* bit 2 is 0: quick stop */
    if (d->quick_stop && state == KR_DRIVE_QUICK_STOP_ACTIVE)
        /* This state stays until standstill, and then the carriage switches the drive off. */
        word = KR_CW_ENABLE_VOLTAGE;
    if (word & KR_CW_ENABLE_OPERATION && !d->quick_stop) {
        if (d->setpoint == KR_SETPOINT_OFFERED || (d->homing && d->setpoint == KR_SETPOINT_RUNNING))
            word |= KR_CW_NEW_SETPOINT;
        if (!d->homing)
            word |= KR_CW_IMMEDIATELY;
        if (d->halt)
            word |= KR_CW_HALT;
    }
    out->controlword = word;
    out->mode = d->homing ? KR_MODE_HOMING : KR_MODE_PROFILE_POSITION;
    out->target_um = d->target_um;
    out->speed_um_per_s = d->speed.v_um_per_s;
    out->accel_um_per_s2 = d->speed.a_um_per_s2;
    out->decel_um_per_s2 = d->speed.a_um_per_s2;
    limits(m, motion_in, out);
}
