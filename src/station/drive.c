/* One drive, walked by its statusword as CiA 402 (IEC 61800-7-201) has it: coming on takes three commands, each
 * after the state before is seen; a set-point is offered, acknowledged and taken back before 'target reached'
 * means anything. A proof counts only from an input image that answers the output that asked for it. */
#include "state.h"

/* Beside the drive's own window: a drive that says 'reached' elsewhere is not believed. */
#define REACHED_WINDOW_UM 500

static bool fresh(const struct kr_station *s, const struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    return in->link && (int32_t)(in->answers - c->drive.proof) >= 0;
}

static void setpoint_enter(struct kr_station *s, struct carriage *c, enum setpoint step, int64_t limit_ms)
{
    c->drive.setpoint = step;
    c->drive.proof = s->serial;
    c->drive.since_ms = s->now_ms;
    c->drive.limit_ms = limit_ms;
}

void drive_move(struct kr_station *s, struct carriage *c, int32_t target_um, struct kr_speed speed)
{
    c->drive.homing = false;
    c->drive.target_um = target_um;
    c->drive.speed = speed;
    setpoint_enter(s, c, SETPOINT_CLEARING, s->config.carriage[c->rail].setpoint_limit_ms);
}

void drive_home(struct kr_station *s, struct carriage *c)
{
    c->drive.homing = true;
    setpoint_enter(s, c, SETPOINT_CLEARING, s->config.carriage[c->rail].setpoint_limit_ms);
}

static int64_t move_limit_ms(const struct kr_station *s, const struct carriage *c)
{
    int64_t distance_um = (int64_t)c->drive.target_um - axis_of(s, c)->position_um;
    int64_t time_us = kr_move_time_us(distance_um < 0 ? -distance_um : distance_um, c->drive.speed);
    return time_us / 1000 + s->config.carriage[c->rail].move_margin_ms;
}

static bool is_at_target(const struct kr_station *s, const struct carriage *c)
{
    int64_t off_um = (int64_t)axis_of(s, c)->position_um - c->drive.target_um;
    return off_um >= -REACHED_WINDOW_UM && off_um <= REACHED_WINDOW_UM;
}

static void late(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    if (c->drive.homing)
        carriage_trip(s, c, KR_ALARM_HOMING_FAILED, 0, in->statusword, 0);
    else if (c->drive.setpoint == SETPOINT_RUNNING)
        carriage_trip(s, c, KR_ALARM_MOVE_LATE, c->docked, in->position_um, c->drive.target_um);
    else
        carriage_trip(s, c, KR_ALARM_SETPOINT_NOT_TAKEN, 0, c->drive.target_um, 0);
}

static void position_setpoint_step(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    bool acknowledged = in->statusword & KR_SW_SETPOINT_ACK;
    int64_t limit_ms = s->config.carriage[c->rail].setpoint_limit_ms;
    switch (c->drive.setpoint) {
    case SETPOINT_CLEARING:
        if (!acknowledged && in->mode == KR_MODE_PROFILE_POSITION)
            setpoint_enter(s, c, SETPOINT_OFFERED, limit_ms);
        break;
    case SETPOINT_OFFERED:
        if (acknowledged)
            setpoint_enter(s, c, SETPOINT_TAKEN, limit_ms);
        break;
    case SETPOINT_TAKEN:
        if (!acknowledged)
            setpoint_enter(s, c, SETPOINT_RUNNING, move_limit_ms(s, c));
        break;
    case SETPOINT_RUNNING:
        if (in->statusword & KR_SW_TARGET_REACHED && is_at_target(s, c))
            c->drive.setpoint = SETPOINT_REACHED;
        break;
    case SETPOINT_NONE:
    case SETPOINT_REACHED: break;
    }
}

static void homing_step(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    if (c->drive.setpoint == SETPOINT_CLEARING) {
        if (in->mode == KR_MODE_HOMING)
            setpoint_enter(s, c, SETPOINT_RUNNING, s->config.carriage[c->rail].home_limit_ms);
    } else if (c->drive.setpoint == SETPOINT_RUNNING) {
        if (in->statusword & KR_SW_FOLLOWING_ERROR)
            late(s, c);
        else if (in->statusword & KR_SW_SETPOINT_ACK && in->statusword & KR_SW_TARGET_REACHED &&
                 in->referenced)
            c->drive.setpoint = SETPOINT_REACHED;
    }
}

void drive_step(struct kr_station *s, struct carriage *c)
{
    struct drive *d = &c->drive;
    if (d->setpoint == SETPOINT_NONE || d->setpoint == SETPOINT_REACHED)
        return;
    if (fresh(s, c) && d->homing)
        homing_step(s, c);
    else if (fresh(s, c))
        position_setpoint_step(s, c);
    if (d->setpoint != SETPOINT_REACHED && s->now_ms - d->since_ms >= d->limit_ms)
        late(s, c);
}

/* The next word on the way to 'operation enabled', or away from it. */
static uint16_t walk(const struct drive *d, enum kr_drive_state state, bool resets_faults)
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
    case KR_DRIVE_UNKNOWN: return d->on ? KR_CW_ENABLE_VOLTAGE : 0; /* unseen: in every state this stops it */
    case KR_DRIVE_QUICK_STOP_ACTIVE:
    case KR_DRIVE_FAULT_REACTION_ACTIVE: break;
    }
    return 0;
}

void drive_outputs(const struct kr_station *s, const struct carriage *c, struct kr_axis_out *out)
{
    const struct drive *d = &c->drive;
    const struct kr_axis_in *in = axis_of(s, c);
    enum kr_drive_state state = in->link ? kr_drive_state_of(in->statusword) : KR_DRIVE_UNKNOWN;
    uint16_t word = walk(d, state, unit_resets_faults(s));
    if (d->quick_stop && state == KR_DRIVE_OPERATION_ENABLED)
        word = KR_CW_ENABLE_VOLTAGE | KR_CW_SWITCH_ON | KR_CW_ENABLE_OPERATION; /* bit 2 is 0: quick stop */
    if (d->quick_stop && state == KR_DRIVE_QUICK_STOP_ACTIVE)
        word = KR_CW_ENABLE_VOLTAGE; /* stays until standstill, then the carriage takes the drive off */
    if (word & KR_CW_ENABLE_OPERATION && !d->quick_stop) {
        if (d->setpoint == SETPOINT_OFFERED || (d->homing && d->setpoint == SETPOINT_RUNNING))
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
}
