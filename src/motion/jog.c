/* Hold-to-run: the empty carriage of one rail runs at reduced speed while it is wanted
 * and while the hold-to-run device (a drive input) is pressed, which no register can give.
 *
 * The drive is never sent further than it would get in JOG_LEAD_MS: whatever happens to this program, that is where
 * the carriage stops by itself. While it is held, the target is moved on before it is reached. Let go, the carriage is
 * halted, which works at once whatever set-point is under way; then the place where it came to stand is made the
 * target, so that the rest of the old one is not run when the halt is taken away.
 *
 * Direction and scale are tried before the first homing, when there is no datum. Without one the ends of travel mean
 * nothing: such a run is blind, and therefore slow, short, and held against what it was told. */
#include "jog.h"

#include "drive.h"
#include "signals.h"
#include "track.h"
#include "trip.h"

#define JOG_LEAD_MS 600

#define PLAY_UM 1000 /* that a position may be off a blind run: backlash, following error, a late answer */

static struct kr_speed speed_of(const struct rail *r)
{
    struct kr_speed speed = kr_setup_speed(r->in->carriage, r->in->rail->empty, true);
    if (r->m->jog_blind && speed.v_um_per_s > KR_JOG_BLIND_UM_PER_S)
        speed.v_um_per_s = KR_JOG_BLIND_UM_PER_S;
    return speed;
}

/* Way run in so long, and to stop after it. */
static int64_t way_um(struct kr_speed speed, int64_t ms)
{
    int64_t v = speed.v_um_per_s;
    return v * ms / 1000 + v * v / (2LL * speed.a_um_per_s2);
}

static int32_t saturated(int64_t value)
{
    return (int32_t)(value > INT32_MAX ? INT32_MAX : value < INT32_MIN ? INT32_MIN : value);
}

/* How far the present run can go: to the end of travel, or, where nobody knows where that is, as far as one press
 * goes. */
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

/* A blind run goes the asked way and no faster than it was told, whatever the position counts from. One that does not
 * shows a wrong word order, scale or direction before the carriage has gone far. */
static bool is_astray(const struct rail *r)
{
    int64_t gone_um = r->m->jog_direction * ((int64_t)axis_of(r)->position_um - r->m->jog_from_um);
    int64_t could_um = way_um(speed_of(r), now_ms(r) - r->m->jog_from_ms);
    could_um = could_um < KR_JOG_BLIND_WAY_UM ? could_um : KR_JOG_BLIND_WAY_UM;
    if (!r->m->jog_blind || r->m->jog == KR_JOG_STANDING ||
        (gone_um >= -PLAY_UM && gone_um <= could_um + PLAY_UM))
        return false;
    carriage_trip(r, KR_ALARM_JOG_ASTRAY, 0, saturated(gone_um), (int32_t)could_um);
    return true;
}

static void halt(const struct rail *r)
{
    r->m->drive.halt = true;
    r->m->drive.setpoint = KR_SETPOINT_NONE;
    r->m->jog = KR_JOG_HALTING;
    carriage_enter(r, KR_CARRIAGE_JOGGING); /* standstill is proven from here on */
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

/* The drive has taken the place where it stands as its target: the halt may go. */
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
