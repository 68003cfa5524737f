/* The unit: the PackML state model (ISA-TR88.00.02 by way of OPC 30050). All motion happens in Execute; the other acting
 * states only wind down, check and acknowledge. */
#include "state.h"

#define RESET_PULSE_MS 500  /* fault reset is on so long */
#define RESET_LIMIT_MS 2000 /* then what still stands, stands */

void unit_enter(struct kr_station *s, enum kr_unit_state state)
{
    s->state = state;
    s->state_ms = s->now_ms;
}

bool unit_in_job(const struct kr_station *s)
{
    switch (s->state) {
    case KR_STATE_STARTING:
    case KR_STATE_EXECUTE:
    case KR_STATE_COMPLETING:
    case KR_STATE_HOLDING:
    case KR_STATE_HELD:
    case KR_STATE_UNHOLDING:
    case KR_STATE_SUSPENDING:
    case KR_STATE_SUSPENDED:
    case KR_STATE_UNSUSPENDING: return true;
    case KR_STATE_CLEARING:
    case KR_STATE_STOPPED:
    case KR_STATE_IDLE:
    case KR_STATE_STOPPING:
    case KR_STATE_ABORTING:
    case KR_STATE_ABORTED:
    case KR_STATE_RESETTING:
    case KR_STATE_COMPLETE: break;
    }
    return false;
}

static bool at_rest(const struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (!kr_motion_at_rest(&s->motion[r]))
            return false;
    return true;
}

enum kr_motion_mode unit_mode(const struct kr_station *s)
{
    if (s->state == KR_STATE_EXECUTE)
        return KR_MOTION_RUN;
    if (s->state == KR_STATE_ABORTING)
        return KR_MOTION_QUICK_STOP;
    /* the pin moves only where people are known to be away */
    return permit_missing(s, s->config.need_scan) == 0 ? KR_MOTION_UNDOCK : KR_MOTION_STOP;
}

/* ---- commands -------------------------------------------------------------------------------------------------------- */

static struct kr_result no(enum kr_code code, uint16_t rail, int32_t value, int32_t limit)
{
    return (struct kr_result){.code = code, .rail = rail, .value = value, .limit = limit};
}

/* What resumes begins by driving pins out itself; what starts is told to have them released first. */
static struct kr_result check_rails(const struct kr_station *s, uint16_t job, uint16_t only, bool resumes)
{
    bool one_rail = job == KR_JOB_HOME || job == KR_JOB_RELEASE || job == KR_JOB_JOG;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        uint16_t rail = (uint16_t)(r + 1);
        if (one_rail && only != 0 && only != rail)
            continue;
        if (!s->in.axis[r].link)
            return no(KR_ALARM_STANDS, rail, KR_ALARM_LINK_LOST, 0);
        if (job != KR_JOB_RELEASE && !resumes && !rail_pin_is_out(s, r))
            return no(KR_RELEASE_NEEDED, rail, 0, 0);
        if (job != KR_JOB_HOME && job != KR_JOB_RELEASE && !rail_has_datum(s, r))
            return no(KR_NOT_HOMED, rail, 0, 0);
        if (job == KR_JOB_JOG && !jog_enabled(s, rail))
            return no(KR_JOG_NOT_ENABLED, rail, 0, 0);
    }
    return no(KR_OK, 0, 0, 0);
}

/* Permissives, and where all of them are hard-wired the heartbeat for itself. */
static struct kr_result check_permission(const struct kr_station *s, uint16_t job)
{
    uint16_t needed = permit_needed(s, (enum kr_job)job, KR_PHASE_NONE);
    if (permit_missing(s, needed))
        return no(KR_PERMISSIVE_MISSING, 0, permit_missing(s, needed), needed);
    if (!s->heartbeat_fresh)
        return no(KR_ALARM_STANDS, 0, KR_ALARM_HEARTBEAT_STALE, 0);
    return no(KR_OK, 0, 0, 0);
}

static struct kr_result check_asked(const struct kr_station *s, const struct start *asked)
{
    uint16_t n_rails = s->config.geometry.n_rails;
    if (asked->job < KR_JOB_CHANGEOVER || asked->job > KR_JOB_LAST)
        return no(KR_UNKNOWN_JOB, 0, asked->job, KR_JOB_LAST);
    if (asked->rail > n_rails)
        return no(KR_UNKNOWN_RAIL, 0, asked->rail, n_rails);
    if (asked->rail == 0 && (asked->job == KR_JOB_JOG || asked->job == KR_JOB_MOVE))
        return no(KR_RAIL_NEEDED, 0, 0, n_rails);
    if (asked->speed > KR_SPEED_REDUCED)
        return no(KR_UNKNOWN_SPEED, 0, asked->speed, KR_SPEED_REDUCED);
    struct job job = job_asked(asked);
    return asked->job == KR_JOB_MOVE ? single_judge(s, &job) : no(KR_OK, 0, 0, 0);
}

static struct kr_result check_start(const struct kr_station *s, uint16_t job, uint16_t rail)
{
    struct kr_alarm alarm;
    if (s->in.book_failed)
        return no(KR_NOT_STORED, 0, 0, 0);
    if (alarm_stops(s, &alarm))
        return no(KR_ALARM_STANDS, alarm.rail, alarm.code, 0);
    if (job == KR_JOB_CHANGEOVER && !s->durable.staged && !s->durable.in_force)
        return no(KR_NO_ORDER, 0, 0, 0);
    if (job == KR_JOB_VERIFY && !s->durable.in_force)
        return no(KR_NO_ORDER, 0, 0, 0);
    if (job == KR_JOB_CHANGEOVER && (s->intake.step == INTAKE_STORING || s->start_storing))
        return no(KR_BUSY, 0, 0, 0); /* what is staged, or in force, is not a fact yet */
    struct kr_result result = check_permission(s, job);
    return result.code == KR_OK ? check_rails(s, job, rail, false) : result;
}

static struct kr_result start(struct kr_station *s, const struct start *asked)
{
    uint16_t job = asked->job;
    struct kr_result result = check_asked(s, asked);
    if (result.code != KR_OK)
        return result;
    alarms_acknowledge(s); /* notices of the last job, and what Reset still found standing and is over now */
    result = check_start(s, job, asked->rail);
    if (result.code != KR_OK)
        return result;
    if (job == KR_JOB_CHANGEOVER)
        queue_start(s);
    s->start_serial = s->durable.serial;
    job_begin(s, asked);
    unit_enter(s, KR_STATE_STARTING);
    return result;
}

/* What resumes has to find everything that it was stopped for. */
static struct kr_result resume(struct kr_station *s, enum kr_unit_state next)
{
    struct kr_result result = check_permission(s, s->job.kind);
    if (result.code == KR_OK)
        result = check_rails(s, s->job.kind, s->job.rail, true);
    if (result.code == KR_OK)
        unit_enter(s, next);
    return result;
}

static bool can_stop(enum kr_unit_state state)
{
    return state != KR_STATE_STOPPED && state != KR_STATE_STOPPING && state != KR_STATE_ABORTING &&
           state != KR_STATE_ABORTED && state != KR_STATE_CLEARING;
}

/* The state in which a command is taken; Stop and Abort are taken in many. */
static bool possible(enum kr_unit_state state, enum kr_command command)
{
    switch (command) {
    case KR_COMMAND_RESET: return state == KR_STATE_STOPPED || state == KR_STATE_COMPLETE;
    case KR_COMMAND_START: return state == KR_STATE_IDLE;
    case KR_COMMAND_STOP: return can_stop(state);
    case KR_COMMAND_HOLD:
    case KR_COMMAND_SUSPEND: return state == KR_STATE_EXECUTE;
    case KR_COMMAND_UNHOLD: return state == KR_STATE_HELD;
    case KR_COMMAND_UNSUSPEND: return state == KR_STATE_SUSPENDED;
    case KR_COMMAND_ABORT: return state != KR_STATE_ABORTING && state != KR_STATE_ABORTED;
    case KR_COMMAND_CLEAR: return state == KR_STATE_ABORTED;
    }
    return false;
}

struct kr_result unit_command(struct kr_station *s, enum kr_command command, const struct start *asked)
{
    if (!possible(s->state, command) || (s->in.shut_down && command != KR_COMMAND_ABORT))
        return no(KR_NOT_IN_THIS_STATE, 0, (int32_t)s->state, 0);
    switch (command) {
    case KR_COMMAND_START: return start(s, asked);
    case KR_COMMAND_UNHOLD: return resume(s, KR_STATE_UNHOLDING);
    case KR_COMMAND_UNSUSPEND: return resume(s, KR_STATE_UNSUSPENDING);
    case KR_COMMAND_RESET: unit_enter(s, KR_STATE_RESETTING); break;
    case KR_COMMAND_STOP: unit_enter(s, KR_STATE_STOPPING); break;
    case KR_COMMAND_HOLD: unit_enter(s, KR_STATE_HOLDING); break;
    case KR_COMMAND_SUSPEND: unit_enter(s, KR_STATE_SUSPENDING); break;
    case KR_COMMAND_ABORT: unit_enter(s, KR_STATE_ABORTING); break;
    case KR_COMMAND_CLEAR: unit_enter(s, KR_STATE_CLEARING); break;
    }
    return no(KR_OK, 0, 0, 0);
}

/* ---- states --------------------------------------------------------------------------------------------------------------- */

/* For the first moments of those states that acknowledge: drives want a rising edge, and one that they can see. */
bool unit_resets_faults(const struct kr_station *s)
{
    bool acknowledges = s->state == KR_STATE_RESETTING || s->state == KR_STATE_CLEARING ||
                        s->state == KR_STATE_UNHOLDING || s->state == KR_STATE_UNSUSPENDING;
    return acknowledges && s->now_ms - s->state_ms < RESET_PULSE_MS;
}

static bool any_fault(const struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (s->in.axis[r].link && kr_drive_state_of(s->in.axis[r].statusword) == KR_DRIVE_FAULT)
            return true;
    return false;
}

/* Resets drives' faults, then forgets the alarms whose cause is gone. True when that is done. */
static bool acknowledged(struct kr_station *s)
{
    if (unit_resets_faults(s) || (any_fault(s) && s->now_ms - s->state_ms < RESET_LIMIT_MS))
        return false;
    alarms_acknowledge(s);
    return true;
}

static void resuming(struct kr_station *s, enum kr_unit_state back)
{
    if (!acknowledged(s))
        return;
    if (alarm_stops(s, NULL) || check_permission(s, s->job.kind).code != KR_OK) {
        unit_enter(s, back);
        return;
    }
    job_resume(s);
    unit_enter(s, KR_STATE_EXECUTE);
}

static void ended(struct kr_station *s, enum kr_unit_state next, enum kr_outcome outcome)
{
    if (!at_rest(s))
        return;
    s->job.phase = KR_PHASE_NONE;
    if (s->plan_user == PLAN_FOR_JOB)
        plan_drop(s);
    record_end(s, outcome);
    unit_enter(s, next);
}

static void start_stored(struct kr_station *s)
{
    if (!s->start_storing || !durable_committed(s, s->start_serial))
        return;
    s->start_storing = false;
    s->order_generation++;
}

static void starting(struct kr_station *s)
{
    if (durable_committed(s, s->start_serial))
        unit_enter(s, KR_STATE_EXECUTE);
}

void unit_step(struct kr_station *s)
{
    start_stored(s);
    if (s->in.shut_down && can_stop(s->state))
        unit_enter(s, KR_STATE_STOPPING);
    switch (s->state) {
    case KR_STATE_STARTING: starting(s); break;
    case KR_STATE_EXECUTE:
        if (job_step(s))
            unit_enter(s, KR_STATE_COMPLETING);
        break;
    case KR_STATE_COMPLETING:
        ended(s, KR_STATE_COMPLETE, s->verified ? KR_OUTCOME_VERIFIED : KR_OUTCOME_ENDED);
        break;
    case KR_STATE_STOPPING: ended(s, KR_STATE_STOPPED, KR_OUTCOME_ENDED); break;
    case KR_STATE_ABORTING: ended(s, KR_STATE_ABORTED, KR_OUTCOME_ABORTED); break;
    case KR_STATE_HOLDING:
        if (at_rest(s))
            unit_enter(s, KR_STATE_HELD);
        break;
    case KR_STATE_SUSPENDING:
        if (at_rest(s))
            unit_enter(s, KR_STATE_SUSPENDED);
        break;
    case KR_STATE_UNHOLDING: resuming(s, KR_STATE_HOLDING); break;
    case KR_STATE_UNSUSPENDING: resuming(s, KR_STATE_SUSPENDING); break;
    case KR_STATE_RESETTING:
        if (acknowledged(s))
            unit_enter(s, KR_STATE_IDLE);
        break;
    case KR_STATE_CLEARING:
        if (acknowledged(s))
            unit_enter(s, KR_STATE_STOPPED);
        break;
    case KR_STATE_STOPPED:
    case KR_STATE_IDLE:
    case KR_STATE_SUSPENDED:
    case KR_STATE_ABORTED:
    case KR_STATE_HELD:
    case KR_STATE_COMPLETE: break;
    }
}

/* Answers the strongest alarm that this cycle raised. */
void unit_react(struct kr_station *s)
{
    enum kr_reaction reaction = s->reaction;
    s->reaction = KR_REACT_NONE;
    bool running = s->state == KR_STATE_EXECUTE || s->state == KR_STATE_STARTING;
    bool aborted = s->state == KR_STATE_ABORTING || s->state == KR_STATE_ABORTED;
    if (reaction == KR_REACT_ABORT && !aborted && !(at_rest(s) && !unit_in_job(s)))
        unit_enter(s, KR_STATE_ABORTING);
    else if (reaction == KR_REACT_HOLD && running)
        unit_enter(s, KR_STATE_HOLDING);
    else if (reaction == KR_REACT_SUSPEND && running)
        unit_enter(s, KR_STATE_SUSPENDING);
}
