/* Decides whether the carriage's datum can be believed. A wrong word order, scale or direction, and a datum that was
 * lost silently, all show in a position that the carriage can't have. The datum is also doubted if the drive reports a
 * fault of its encoder, or if the carriage is found away from its rest position. Such a doubt ends with homing, with
 * KR_TASK_FIND, or once a person has confirmed the datum. */
#include "datum.h"

#include "knowledge.h"
#include "residual.h"
#include "signals.h"
#include "trip.h"

bool datum_is_needed(const struct rail *r)
{
    switch (r->m->task) {
    case KR_TASK_SCAN:
    case KR_TASK_GAUGE:
    case KR_TASK_MOVES:
    case KR_TASK_TRAVEL: return true;
    case KR_TASK_JOG: return r->m->jog != KR_JOG_STANDING && !r->m->jog_blind;
    case KR_TASK_NONE:
    case KR_TASK_FREE:
    case KR_TASK_TRY:
    case KR_TASK_FIND:
    case KR_TASK_HOME: break;
    }
    return false;
}

static struct kr_alarm implausible(const struct rail *r)
{
    const struct kr_carriage_config *config = r->in->carriage;
    int32_t at_um = axis_of(r)->position_um;
    int32_t limit_um = at_um < config->travel_min_um ? config->travel_min_um : config->travel_max_um;
    return (struct kr_alarm){KR_ALARM_POSITION_IMPLAUSIBLE, 0, r->m->docked, at_um, limit_um};
}

static bool is_implausible(const struct rail *r)
{
    return kr_motion_is_implausible(r->m, r->in->carriage, r->in->axis);
}

bool datum_permits(const struct rail *r)
{
    if (!datum_is_needed(r) || !is_implausible(r))
        return true;
    rail_alarm(r, implausible(r));
    return false;
}

static void doubt(const struct rail *r, struct kr_alarm alarm)
{
    places_demote(r, KR_REMEMBERED);
    knowledge_of(r)->datum_doubted = true;
    r->m->homed_here = false;
    knowledge_touch(r);
    if (r->m->phase == KR_CARRIAGE_OFF || r->m->phase == KR_CARRIAGE_STOPPING)
        rail_stands(r, alarm);
    else
        carriage_trip(r, (enum kr_alarm_code)alarm.code, alarm.item, alarm.value, alarm.limit);
}

/* ---- the drive's reports about its encoder ----------------------------------------------------------------------- */

/* Error codes 73xxh mean sensors (CiA 402, IEC 61800-7-201, as in tests/reference/data). */
#define SENSOR_CODES    0x7300u
#define SENSOR_CODES_OF 0xFF00u

static bool blames_encoder(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    enum kr_drive_state state = kr_drive_state_of(in->statusword);
    bool says =
        state == KR_DRIVE_FAULT || state == KR_DRIVE_FAULT_REACTION_ACTIVE || (in->statusword & KR_SW_WARNING) != 0;
    bool of_battery = r->in->carriage->battery_code != 0 && in->error_code == r->in->carriage->battery_code;
    return says && ((in->error_code & SENSOR_CODES_OF) == SENSOR_CODES || of_battery);
}

/* A warning may stand for weeks. The datum is doubted when the warning comes, and when the drive connects with it. */
static void encoder_step(const struct rail *r)
{
    bool before = r->m->encoder_blamed;
    r->m->encoder_blamed = blames_encoder(r);
    if (r->m->encoder_blamed && !before && axis_of(r)->referenced && !knowledge_of(r)->datum_doubted)
        doubt(r, (struct kr_alarm){KR_ALARM_ENCODER_BLAMED, 0, r->m->docked, axis_of(r)->error_code, 0});
}

/* ---- the rest position ------------------------------------------------------------------------------------------- */

static void rests_at(const struct rail *r, bool rests, int32_t at_um)
{
    knowledge_of(r)->rests = rests;
    knowledge_of(r)->rest_um = at_um;
    knowledge_touch(r);
}

/* Compares once after each connecting: the position then, and the last known position at rest. */
static void rest_compare(const struct rail *r, int64_t off_um)
{
    int32_t drift_um = r->in->carriage->drift_um;
    r->m->rest_compared = true;
    if (knowledge_of(r)->rests && drift_um != 0 && (off_um > drift_um || off_um < -drift_um))
        doubt(r, (struct kr_alarm){KR_ALARM_CARRIAGE_DRIFTED, 0, 0,
                                   (int32_t)(off_um > INT32_MAX   ? INT32_MAX
                                             : off_um < INT32_MIN ? INT32_MIN
                                                                  : off_um),
                                   drift_um});
}

static void rest_step(const struct rail *r)
{
    struct kr_rail_knowledge *known = knowledge_of(r);
    int64_t off_um = (int64_t)axis_of(r)->position_um - known->rest_um;
    if (!carriage_has_datum(r))
        return;
    if (!r->m->rest_compared)
        rest_compare(r, off_um);
    int32_t shift_um = r->in->carriage->drift_um / 2;
    bool has_shifted = off_um > shift_um || off_um < -shift_um;
    if (r->m->phase == KR_CARRIAGE_OFF && !known->datum_doubted && carriage_fresh(r) && (!known->rests || has_shifted))
        rests_at(r, true, axis_of(r)->position_um);
}

void datum_forget(const struct rail *r)
{
    r->m->rest_compared = r->m->encoder_blamed = false;
}

void datum_leaves_rest(const struct rail *r)
{
    if (knowledge_of(r)->rests)
        rests_at(r, false, knowledge_of(r)->rest_um);
}

/* ---- homing ---------------------------------------------------------------------------------------------------- */

void datum_given_up(const struct rail *r)
{
    knowledge_of(r)->datum_doubted = true;
    r->m->homed_here = false;
    knowledge_touch(r);
}

void datum_found(const struct rail *r)
{
    int8_t method = axis_of(r)->homing_method;
    r->m->homed_here = method == KR_HOMING_HERE || method == KR_HOMING_HERE_OLD;
    if (!r->m->homed_here)
        knowledge_of(r)->datum_doubted = false;
    residual_forget_datum(r);
    places_demote(r, KR_REMEMBERED); /* they were measured from another datum */
    knowledge_touch(r);
    if (r->m->homed_here)
        carriage_trip(r, KR_ALARM_DATUM_DECLARED, 0, method, 0);
}

bool kr_motion_awaits_datum(const struct kr_motion *motion)
{
    return motion->homed_here && motion->knowledge.datum_doubted;
}

void kr_motion_confirm_datum(struct kr_motion *motion, const struct kr_motion_in *in, bool is_right)
{
    struct rail r = {motion, in, NULL};
    knowledge_of(&r)->datum_doubted = !is_right;
    residual_forget_datum(&r);
    places_demote(&r, KR_REMEMBERED);
    knowledge_touch(&r);
}

/* ---- a cycle --------------------------------------------------------------------------------------------------- */

static void plausible_step(const struct rail *r)
{
    bool rests = r->m->phase == KR_CARRIAGE_OFF || r->m->phase == KR_CARRIAGE_STOPPING;
    if (!is_implausible(r))
        return;
    struct kr_alarm alarm = implausible(r);
    if (rests)
        rail_stands(r, alarm);
    else if (datum_is_needed(r))
        carriage_trip(r, KR_ALARM_POSITION_IMPLAUSIBLE, alarm.item, alarm.value, alarm.limit);
}

void datum_step(const struct rail *r)
{
    encoder_step(r);
    rest_step(r);
    plausible_step(r);
}
