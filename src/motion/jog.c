/* Hold-to-run: the empty carriage of one rail runs at reduced speed while the client asks for it and while the
 * hold-to-run device (a drive input) is pressed. No register can stand in for that device.
 *
 * The drive never gets a target further ahead than its way in JOG_LEAD_MS. Whatever happens to this program, the
 * carriage stops there by itself. While the device is held, the target moves on before it is reached. When the device
 * is released, the carriage is halted, which works at once whatever set-point is active. Then the place where it has
 * stopped becomes the target, so that the carriage does not run the rest of the old way when the halt ends.
 *
 * Direction and scale are tried before the first homing, when there is no datum. Without a datum the ends of the travel
 * have no meaning. Such a run is called blind. It is slow and short, and its way is compared with the expected one. */
#include "jog.h"

#include "drive.h"
#include "signals.h"
#include "track.h"
#include "trip.h"

#define JOG_LEAD_MS 600

#define PLAY_UM 1000 /* tolerance of a position in a blind run: backlash, following error, a late answer */

static struct kr_speed speed_of(const struct rail *r)
{
    struct kr_speed speed = kr_setup_speed(r->in->carriage, r->in->rail->empty, true);
    if (r->m->jog_blind && speed.v_um_per_s > KR_JOG_BLIND_UM_PER_S)
        speed.v_um_per_s = KR_JOG_BLIND_UM_PER_S;
    return speed;
}

/* Returns the way in this time, plus the way to stop after it. */
static int64_t way_um(struct kr_speed speed, int64_t ms)
{
    int64_t v = speed.v_um_per_s;
    return v * ms / 1000 + v * v / (2LL * speed.a_um_per_s2);
}

static int32_t saturated(int64_t value)
{
    return (int32_t)(value > INT32_MAX ? INT32_MAX : value < INT32_MIN ? INT32_MIN : value);
}

/* Returns the end of the present run: the end of travel or, without a datum, the longest way of one press. */
static int32_t end_um(const struct rail *r)
{
    if (r->m->jog_blind)
        return saturated(r->m->jog_from_um + (int64_t)r->m->jog_direction * KR_JOG_BLIND_WAY_UM);
    return r->m->jog_direction > 0 ? r->in->carriage->travel_max_um : r->in->carriage->travel_min_um;
}

static void lead(const struct rail *r)
{
    struct kr_speed speed = speed_of(r);
    int64_t to_um = axis_of(r)->position_um + r->m->jog_direction * way_um(speed, JOG_LEAD_MS);
    if (r->m->jog_direction > 0 ? to_um > end_um(r) : to_um < end_um(r))
        to_um = end_um(r);
    drive_move(r, (int32_t)to_um, speed);
}

static void run(const struct rail *r, int8_t direction)
{
    r->m->jog_direction = direction;
    r->m->jog = KR_JOG_RUNNING;
    r->m->jog_blind = !carriage_has_datum(r);
    r->m->jog_from_um = axis_of(r)->position_um;
    r->m->jog_from_ms = now_ms(r);
    lead(r);
}

/* A blind run goes in the requested direction and no faster than requested, whatever the datum is. Otherwise the word
 * order, the scale or the direction is wrong, and this shows before the carriage has gone far. */
static bool is_astray(const struct rail *r)
{
    int64_t gone_um = r->m->jog_direction * ((int64_t)axis_of(r)->position_um - r->m->jog_from_um);
    int64_t could_um = way_um(speed_of(r), now_ms(r) - r->m->jog_from_ms);
    could_um = could_um < KR_JOG_BLIND_WAY_UM ? could_um : KR_JOG_BLIND_WAY_UM;
    if (!r->m->jog_blind || r->m->jog == KR_JOG_STANDING || (gone_um >= -PLAY_UM && gone_um <= could_um + PLAY_UM))
        return false;
    carriage_trip(r, KR_ALARM_JOG_ASTRAY, 0, saturated(gone_um), (int32_t)could_um);
    return true;
}

static void halt(const struct rail *r)
{
    r->m->drive.halt = true;
    r->m->drive.setpoint = KR_SETPOINT_NONE;
    r->m->jog = KR_JOG_HALTING;
    carriage_enter(r, KR_CARRIAGE_JOGGING); /* standstill must be proven from this moment on */
}

static void running(const struct rail *r)
{
    bool taken = r->m->drive.setpoint == KR_SETPOINT_RUNNING || r->m->drive.setpoint == KR_SETPOINT_REACHED;
    int64_t left_um = r->m->jog_direction * ((int64_t)r->m->drive.target_um - axis_of(r)->position_um);
    if (r->in->jog_wanted != r->m->jog_direction)
        halt(r);
    else if (taken && r->m->drive.target_um != end_um(r) && left_um < way_um(speed_of(r), JOG_LEAD_MS / 2))
        lead(r);
}

static void settle(const struct rail *r)
{
    drive_move(r, axis_of(r)->position_um, speed_of(r));
    r->m->jog = KR_JOG_SETTLING;
}

/* The drive has accepted the place where it stands as its target, so that the halt can end. */
static void settled(const struct rail *r)
{
    if (r->m->drive.setpoint == KR_SETPOINT_RUNNING)
        r->m->drive.halt = false;
    if (r->m->drive.setpoint == KR_SETPOINT_REACHED)
        r->m->jog = KR_JOG_STANDING;
}

void jog_step(const struct rail *r)
{
    if (!pin_is_out(r)) {
        carriage_trip(r, KR_ALARM_PIN_UNPROVEN, r->m->docked, 0, 0);
        return;
    }
    if (is_astray(r))
        return;
    switch (r->m->jog) {
    case KR_JOG_STANDING:
        if (r->in->jog_wanted != 0)
            run(r, r->in->jog_wanted);
        break;
    case KR_JOG_RUNNING: running(r); break;
    case KR_JOG_HALTING:
        if (carriage_still(r))
            settle(r);
        break;
    case KR_JOG_SETTLING: settled(r); break;
    }
}
