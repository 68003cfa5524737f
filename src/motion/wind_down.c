/* Brings a carriage to rest, whatever it was doing: decelerate, close the brake, switch the drive off, and drive the
 * pin out if that is allowed. A holder's final position is recorded only with proof; otherwise it is unknown. */
#include "wind_down.h"

#include "clamp.h"
#include "knowledge.h"
#include "signals.h"
#include "track.h"
#include "trip.h"

/* Limit for the following error at rest; the position window of a drive is a tenth of it. */
#define STANDS_FREE_UM 100

/* A drive that is on, although this program has not switched it on, is stopped. A brake that is open stays open until
 * then. */
bool wind_down_found_running(const struct rail *r)
{
    enum kr_drive_state state = kr_drive_state_of(axis_of(r)->statusword);
    bool runs = state == KR_DRIVE_OPERATION_ENABLED || state == KR_DRIVE_QUICK_STOP_ACTIVE;
    /* An image from before the link was lost, or from before the drive was told to be off, tells nothing about the
     * present. */
    if (!runs || !carriage_fresh(r))
        return false;
    r->m->brake_is_open = carriage_input(r, KR_DI_BRAKE_OPEN, KR_DI_BRAKE_CLOSED);
    r->m->drive.on = false;
    r->m->drive.quick_stop = true;
    wind_down_enter(r, KR_WIND_DECELERATE);
    return true;
}

static void decelerated(const struct rail *r)
{
    if (r->in->mode != KR_MOTION_QUICK_STOP && r->m->docked && r->m->brake_is_open)
        wind_down_enter(r, KR_WIND_BRAKE);
    else
        /* In a quick stop the outputs go off, too: the brake closes by its spring, and the holder's position stays
         * unknown. */
        wind_down_drive_off(r);
}

/* If a carriage stands against an obstacle with its drive pushing, its position is not that of the holder. */
static bool stands_free(const struct rail *r)
{
    int32_t error_um = axis_of(r)->following_error_um;
    return error_um >= -STANDS_FREE_UM && error_um <= STANDS_FREE_UM;
}

static void brake_step(const struct rail *r)
{
    int32_t limit_ms = r->in->carriage->brake_limit_ms;
    /* Otherwise the clamp holds the holder, and its closing shifts it. */
    bool brake_holds = r->in->carriage->clamping == KR_CLAMP_PER_HOLDER;
    if (input_proven(r, KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_OPEN)) {
        r->m->brake_is_open = false;
        if (brake_holds && pin_is_in(r) && carriage_has_datum(r) && stands_free(r))
            place_released(r, r->m->docked, carriage_place_um(r));
        wind_down_drive_off(r);
    } else if (phase_is_late(r, limit_ms)) {
        rail_alarm(r, (struct kr_alarm){KR_ALARM_BRAKE_NOT_CLOSED, 0, r->m->docked, limit_ms, 0});
        wind_down_drive_off(r);
    }
}

/* The pin comes out only when the drive no longer pushes. Otherwise the carriage would leap when the pin releases it,
 * and a pin that is half out would take the holder along. */
static void off_step(const struct rail *r)
{
    enum kr_drive_state state = kr_drive_state_of(axis_of(r)->statusword);
    bool is_off = carriage_fresh(r) && state != KR_DRIVE_OPERATION_ENABLED && state != KR_DRIVE_QUICK_STOP_ACTIVE;
    if (is_off && r->m->docked && !r->m->brake_is_open && r->in->mode == KR_MOTION_UNDOCK)
        wind_down_enter(r, KR_WIND_UNDOCK);
    else if (is_off || phase_is_late(r, r->in->carriage->enable_limit_ms))
        carriage_enter(r, KR_CARRIAGE_OFF);
}

static void undock_step(const struct rail *r)
{
    int32_t limit_ms = r->in->carriage->pin_limit_ms;
    if (input_proven(r, KR_DI_PIN_OUT, KR_DI_PIN_IN)) {
        r->m->docked = 0;
        docking_over(r);
        carriage_enter(r, KR_CARRIAGE_OFF);
    } else if (r->in->mode != KR_MOTION_UNDOCK) { /* the permission is gone */
        carriage_enter(r, KR_CARRIAGE_OFF);
    } else if (phase_is_late(r, limit_ms)) {
        rail_alarm(r, (struct kr_alarm){KR_ALARM_PIN_NOT_OUT, 0, r->m->docked, limit_ms, 0});
        carriage_enter(r, KR_CARRIAGE_OFF);
    }
}

void wind_down_step(const struct rail *r)
{
    if (r->in->mode == KR_MOTION_QUICK_STOP &&
        (r->m->wind_down == KR_WIND_DECELERATE || r->m->wind_down == KR_WIND_BRAKE))
        r->m->drive.quick_stop = true;
    switch (r->m->wind_down) {
    case KR_WIND_DECELERATE:
        if (carriage_still(r) || phase_is_late(r, WIND_DOWN_STANDSTILL_LIMIT_MS)) {
            clamp_again(r);
            decelerated(r);
        }
        break;
    case KR_WIND_BRAKE:
        if (r->in->mode == KR_MOTION_QUICK_STOP)
            wind_down_drive_off(r);
        else
            brake_step(r);
        break;
    case KR_WIND_OFF: off_step(r); break;
    case KR_WIND_UNDOCK: undock_step(r); break;
    }
}
