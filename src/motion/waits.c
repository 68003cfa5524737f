/* Tells what a rail waits for, from its state, for stories. Nothing is decided by it. Each limit is the one that the
 * file of the step uses. */
#include "carriage.h"
#include "clamp.h"
#include "signals.h"
#include "wind_down.h"

const char *kr_wait_text(int kind)
{
    switch (kind) {
#define X(name, number, text) \
    case number: return text;
        KR_WAITS(X)
#undef X
    default: return NULL;
    }
}

static struct kr_wait of_phase(const struct kr_motion *m, enum kr_wait_kind kind, int32_t limit_ms)
{
    return (struct kr_wait){.kind = kind, .since_ms = m->since_ms, .limit_ms = limit_ms};
}

static struct kr_wait of_setpoint(const struct kr_motion *m)
{
    struct kr_wait wait = {.since_ms = m->drive.since_ms, .limit_ms = (int32_t)m->drive.limit_ms};
    switch (m->drive.setpoint) {
    case KR_SETPOINT_CLEARING: wait.kind = KR_WAIT_SETPOINT_FREE; break;
    case KR_SETPOINT_OFFERED: wait.kind = KR_WAIT_SETPOINT_TAKEN; break;
    case KR_SETPOINT_TAKEN: wait.kind = KR_WAIT_SETPOINT_BEGUN; break;
    case KR_SETPOINT_RUNNING: wait.kind = m->drive.homing ? KR_WAIT_HOMED : KR_WAIT_TARGET; break;
    case KR_SETPOINT_NONE:
    case KR_SETPOINT_REACHED: wait = (struct kr_wait){.since_ms = m->drive.since_ms}; break;
    }
    return wait;
}

/* The carriage is at the holder, and it is not stored yet that the holder may move. */
static struct kr_wait of_travel(const struct kr_motion *m)
{
    bool there = m->drive.setpoint == KR_SETPOINT_REACHED && m->task == KR_TASK_MOVES;
    return there ? (struct kr_wait){.kind = KR_WAIT_STORED, .since_ms = m->drive.since_ms} : of_setpoint(m);
}

static struct kr_wait of_scan(const struct kr_motion *m, const struct kr_carriage_config *carriage)
{
    if (m->scan.step == KR_SCAN_STEP_ARMING)
        return of_phase(m, KR_WAIT_PROBE, carriage->setpoint_limit_ms);
    return of_setpoint(m);
}

/* Before a guided release drives a pin out, the common clamp must hold the holder, too. */
static struct kr_wait of_braking(const struct kr_motion *m, const struct kr_motion_in *in)
{
    struct rail r = {NULL, in, NULL};
    if (m->task == KR_TASK_FREE && carriage_input(&r, KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_OPEN))
        return of_phase(m, KR_WAIT_CLAMP_CLOSED, in->carriage->clamp_limit_ms);
    return of_phase(m, KR_WAIT_BRAKE_CLOSED, in->carriage->brake_limit_ms);
}

static struct kr_wait of_stop(const struct kr_motion *m, const struct kr_carriage_config *carriage)
{
    switch (m->wind_down) {
    case KR_WIND_DECELERATE: return of_phase(m, KR_WAIT_STANDSTILL, WIND_DOWN_STANDSTILL_LIMIT_MS);
    case KR_WIND_BRAKE: return of_phase(m, KR_WAIT_BRAKE_CLOSED, carriage->brake_limit_ms);
    case KR_WIND_OFF: return of_phase(m, KR_WAIT_DRIVE_OFF, carriage->enable_limit_ms);
    case KR_WIND_UNDOCK: return of_phase(m, KR_WAIT_PIN_OUT, carriage->pin_limit_ms);
    }
    return of_phase(m, KR_WAIT_NOTHING, 0);
}

static struct kr_wait of_carriage(const struct kr_motion *m, const struct kr_motion_in *in)
{
    const struct kr_carriage_config *c = in->carriage;
    switch (m->phase) {
    case KR_CARRIAGE_ENABLING: return of_phase(m, KR_WAIT_ENABLED, c->enable_limit_ms);
    case KR_CARRIAGE_TRAVELLING: return of_travel(m);
    case KR_CARRIAGE_DOCKING: return of_phase(m, KR_WAIT_PIN_IN, c->pin_limit_ms);
    case KR_CARRIAGE_BACKING:
    case KR_CARRIAGE_UNDOCKING: return of_phase(m, KR_WAIT_PIN_OUT, c->pin_limit_ms);
    case KR_CARRIAGE_FREEING: return of_phase(m, KR_WAIT_BRAKE_OPEN, c->brake_limit_ms);
    case KR_CARRIAGE_FINDING:
        if (m->find == KR_FIND_ARMING)
            return of_phase(m, KR_WAIT_PROBE, c->setpoint_limit_ms);
        if (m->find == KR_FIND_HALTING)
            return of_phase(m, KR_WAIT_STANDSTILL, WIND_DOWN_STANDSTILL_LIMIT_MS);
        return of_setpoint(m);
    case KR_CARRIAGE_HOMING:
    case KR_CARRIAGE_DRAGGING: return of_setpoint(m);
    case KR_CARRIAGE_SETTLING: return of_phase(m, KR_WAIT_SETTLED, c->settle_ms);
    case KR_CARRIAGE_BRAKING: return of_braking(m, in);
    case KR_CARRIAGE_SCANNING: return of_scan(m, c);
    case KR_CARRIAGE_STOPPING: return of_stop(m, c);
    case KR_CARRIAGE_JOGGING:
    case KR_CARRIAGE_TRYING: return of_phase(m, KR_WAIT_PERSON, 0);
    case KR_CARRIAGE_OFF:
    case KR_CARRIAGE_READY: break;
    }
    return of_phase(m, KR_WAIT_NOTHING, 0);
}

/* A carriage waits for the clamp if it stands and the clamp is not in the wanted position yet. */
static bool waits_for_clamp(const struct kr_motion *m, const struct kr_motion_in *in)
{
    struct rail r = {NULL, in, NULL};
    uint16_t on = m->clamp_open ? KR_DI_CLAMP_OPEN : KR_DI_CLAMP_CLOSED;
    uint16_t off = m->clamp_open ? KR_DI_CLAMP_CLOSED : KR_DI_CLAMP_OPEN;
    bool stands = m->phase == KR_CARRIAGE_OFF || m->phase == KR_CARRIAGE_READY;
    return stands && m->knowledge.clamp_open && !carriage_input(&r, on, off);
}

struct kr_wait kr_motion_wait(const struct kr_motion *m, const struct kr_motion_in *in)
{
    struct kr_wait wait = of_carriage(m, in);
    if (waits_for_clamp(m, in))
        wait = (struct kr_wait){.kind = m->clamp_open ? KR_WAIT_CLAMP_OPEN : KR_WAIT_CLAMP_CLOSED,
                                .since_ms = m->clamp_since_ms,
                                .limit_ms = in->carriage->clamp_limit_ms};
    wait.holder = m->docked != 0 ? m->docked : m->knowledge.docking;
    return wait;
}
