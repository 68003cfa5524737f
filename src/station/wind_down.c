/* A carriage on its way to rest, whatever it was doing: decelerate, close the brake, take the drive off, drive the pin
 * out if that is allowed. Where a holder is left is recorded only with proof; else it is unknown. */
#include "state.h"

/* Without a link or with a dead encoder standstill can't be proven; the drive's own watchdog must stop it. After this
 * long the station no longer waits. Longer than any stop from full speed: v/a at the least sensible figures. */
#define STANDSTILL_LIMIT_MS 5000

#define STANDS_FREE_UM 100 /* following error at rest; a drive's position window is a tenth of it */

static void wind_enter(struct kr_station *s, struct carriage *c, enum wind_down step)
{
    carriage_enter(s, c, KR_CARRIAGE_STOPPING);
    c->wind_down = step;
}

static void off(struct kr_station *s, struct carriage *c)
{
    if (c->docked == 0 && s->durable.docking[c->rail]) { /* it was on its way to that holder, no further */
        s->durable.docking[c->rail] = 0;
        durable_touch(s);
    }
    c->drive.on = c->drive.halt = c->drive.quick_stop = c->drive.homing = false;
    wind_enter(s, c, WIND_OFF);
}

void wind_down_begin(struct kr_station *s, struct carriage *c)
{
    if (c->phase == KR_CARRIAGE_OFF || c->phase == KR_CARRIAGE_STOPPING)
        return;
    c->task = TASK_NONE;
    c->task_done = false;
    c->drive.halt = true;
    c->drive.setpoint = SETPOINT_NONE;
    if (c->phase == KR_CARRIAGE_ENABLING)
        off(s, c); /* a drive that is coming on must not come on any further */
    else if (c->phase == KR_CARRIAGE_BRAKING)
        wind_enter(s, c, WIND_BRAKE); /* it stands, and the brake must not open again */
    else
        wind_enter(s, c, WIND_DECELERATE);
}

/* A drive that is on in its first answer, though nobody here has switched it on, is stopped. A brake that is open stays so until then. */
bool wind_down_found_running(struct kr_station *s, struct carriage *c)
{
    enum kr_drive_state state = kr_drive_state_of(axis_of(s, c)->statusword);
    bool runs = state == KR_DRIVE_OPERATION_ENABLED || state == KR_DRIVE_QUICK_STOP_ACTIVE;
    if (!runs)
        return false;
    c->brake_is_open = carriage_input(s, c, KR_DI_BRAKE_OPEN, KR_DI_BRAKE_CLOSED);
    c->drive.on = false;
    c->drive.quick_stop = true;
    wind_enter(s, c, WIND_DECELERATE);
    return true;
}

static void decelerated(struct kr_station *s, struct carriage *c, enum run_mode mode)
{
    if (mode != MODE_QUICK_STOP && c->docked && c->brake_is_open)
        wind_enter(s, c, WIND_BRAKE);
    else
        off(s,
            c); /* in a quick stop outputs go off with it: the brake closes by its spring; the holder stays unknown */
}

/* A carriage that stands against something, its drive pushing, is not where its holder is. */
static bool stands_free(const struct kr_station *s, const struct carriage *c)
{
    int32_t error_um = axis_of(s, c)->following_error_um;
    return error_um >= -STANDS_FREE_UM && error_um <= STANDS_FREE_UM;
}

static void brake_step(struct kr_station *s, struct carriage *c)
{
    int32_t limit_ms = s->config.carriage[c->rail].brake_limit_ms;
    bool brake_holds =
        s->config.carriage[c->rail].clamping == KR_CLAMP_PER_HOLDER; /* else the clamp, and it shifts */
    if (carriage_fresh(s, c) && carriage_input(s, c, KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_OPEN)) {
        c->brake_is_open = false;
        if (brake_holds && pin_is_in(s, c) && carriage_has_datum(s, c) && stands_free(s, c))
            holder_set(s, c->rail, c->docked, axis_of(s, c)->position_um, KR_PLACED);
        off(s, c);
    } else if (s->now_ms - c->since_ms >= limit_ms) {
        alarm_raise(
            s, (struct kr_alarm){KR_ALARM_BRAKE_NOT_CLOSED, (uint16_t)(c->rail + 1), c->docked, limit_ms, 0});
        off(s, c);
    }
}

/* The pin comes out when the drive no longer pushes: else the carriage would leap as soon as it is free, and a pin half
 * out would take the holder along. */
static void off_step(struct kr_station *s, struct carriage *c, enum run_mode mode)
{
    enum kr_drive_state state = kr_drive_state_of(axis_of(s, c)->statusword);
    bool is_off =
        carriage_fresh(s, c) && state != KR_DRIVE_OPERATION_ENABLED && state != KR_DRIVE_QUICK_STOP_ACTIVE;
    if (is_off && c->docked && !c->brake_is_open && mode == MODE_STOP_AND_UNDOCK)
        wind_enter(s, c, WIND_UNDOCK);
    else if (is_off || s->now_ms - c->since_ms >= s->config.carriage[c->rail].enable_limit_ms)
        carriage_enter(s, c, KR_CARRIAGE_OFF);
}

static void undock_step(struct kr_station *s, struct carriage *c, enum run_mode mode)
{
    int32_t limit_ms = s->config.carriage[c->rail].pin_limit_ms;
    if (carriage_fresh(s, c) && pin_is_out(s, c)) {
        c->docked = 0;
        s->durable.docking[c->rail] = 0;
        durable_touch(s);
        carriage_enter(s, c, KR_CARRIAGE_OFF);
    } else if (mode != MODE_STOP_AND_UNDOCK) { /* what allowed it is gone */
        carriage_enter(s, c, KR_CARRIAGE_OFF);
    } else if (s->now_ms - c->since_ms >= limit_ms) {
        alarm_raise(s,
                    (struct kr_alarm){KR_ALARM_PIN_NOT_OUT, (uint16_t)(c->rail + 1), c->docked, limit_ms, 0});
        carriage_enter(s, c, KR_CARRIAGE_OFF);
    }
}

/* The rail's clamp closes as soon as nothing moves. Holders that were free of it may have shifted by then. */
void clamp_again(struct kr_station *s, struct carriage *c)
{
    if (!c->clamp_open && !s->durable.clamp_open[c->rail])
        return;
    c->clamp_open = false;
    s->durable.clamp_open[c->rail] = 0;
    holders_demote(s, c->rail, KR_UNKNOWN);
    durable_touch(s);
}

void wind_down_step(struct kr_station *s, struct carriage *c, enum run_mode mode)
{
    if (mode == MODE_QUICK_STOP && (c->wind_down == WIND_DECELERATE || c->wind_down == WIND_BRAKE))
        c->drive.quick_stop = true;
    switch (c->wind_down) {
    case WIND_DECELERATE:
        if (carriage_still(s, c) || s->now_ms - c->since_ms >= STANDSTILL_LIMIT_MS) {
            clamp_again(s, c);
            decelerated(s, c, mode);
        }
        break;
    case WIND_BRAKE:
        if (mode == MODE_QUICK_STOP)
            off(s, c);
        else
            brake_step(s, c);
        break;
    case WIND_OFF: off_step(s, c, mode); break;
    case WIND_UNDOCK: undock_step(s, c, mode); break;
    }
}
