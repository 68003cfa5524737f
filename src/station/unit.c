#include "unit.h"

#include "acknowledge.h"
#include "intake.h"
#include "job_traits.h"
#include "record.h"
#include "single.h"

#define RESET_PULSE_MS 500  /* length of the fault reset */
#define RESET_LIMIT_MS 2000 /* after this time, a fault that still exists stays an alarm */

void unit_enter(struct kr_station *s, enum kr_unit_state state)
{
    s->unit.state = state;
    s->unit.state_ms = s->clock.now_ms;
}

enum kr_motion_mode unit_mode(const struct kr_station *s)
{
    if (s->unit.state == KR_STATE_EXECUTE)
        return KR_MOTION_RUN;
    if (s->unit.state == KR_STATE_ABORTING)
        return KR_MOTION_QUICK_STOP;
    /* the pin moves only if people are known to be away */
    return permit_missing(&s->permits, s->config.need_scan) == 0 ? KR_MOTION_UNDOCK : KR_MOTION_STOP;
}

/* ---- commands -------------------------------------------------------------------------------------------------- */

static struct kr_result no(enum kr_code code, uint16_t rail, int32_t value, int32_t limit)
{
    return (struct kr_result){.code = code, .rail = rail, .value = value, .limit = limit};
}

static struct kr_result check_datum(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                                    const struct kr_axis_in *axis, uint16_t rail)
{
    if (kr_motion_is_implausible(motion, carriage, axis))
        return no(KR_ALARM_STANDS, rail, KR_ALARM_POSITION_IMPLAUSIBLE, 0);
    return no(kr_motion_has_datum(motion, carriage, axis) ? KR_OK : KR_NOT_HOMED, rail, 0, 0);
}

/* A resumed job first drives pins out itself. A job that starts with a pin in is refused, and pins must be released
 * first. */
static struct kr_result check_rails(const struct kr_station *s, uint16_t job, uint16_t only, bool resumes)
{
    const struct job_traits *traits = job_traits(job);
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        uint16_t rail = (uint16_t)(r + 1);
        if (traits->rails == JOB_RAILS_ASKED && only != 0 && only != rail)
            continue;
        if (!s->in.axis[r].link)
            return no(KR_ALARM_STANDS, rail, kr_motion_no_link(&s->in.axis[r], 0).code, 0);
        if (traits->needs_pins_out && !resumes && !kr_motion_pin_is_out(&s->in.axis[r]))
            return no(KR_RELEASE_NEEDED, rail, 0, 0);
        struct kr_result datum = check_datum(&s->rails.motion[r], &s->config.carriage[r], &s->in.axis[r], rail);
        if (traits->needs_datum && datum.code != KR_OK)
            return datum;
        if (traits->held_to_run && !kr_motion_jog_enabled(&s->in.axis[r]))
            return no(KR_JOG_NOT_ENABLED, rail, 0, 0);
    }
    return no(KR_OK, 0, 0, 0);
}

/* Checks the permissives, and if all of them are drive inputs, also the heartbeat. */
static struct kr_result check_permission(const struct permits *permits, const struct kr_station_config *config,
                                         uint16_t line_speed, uint16_t job)
{
    if (permit_line_contradicts(permits, config, line_speed))
        return no(KR_LINE_RUNS, 0, line_speed, permit_standing_speed(config));
    uint16_t needed = permit_needed(config, (enum kr_job)job, KR_PHASE_NONE);
    if (permit_missing(permits, needed))
        return no(KR_PERMISSIVE_MISSING, 0, permit_missing(permits, needed), needed);
    if (!permits->heartbeat_fresh)
        return no(KR_ALARM_STANDS, 0, KR_ALARM_HEARTBEAT_STALE, 0);
    return no(KR_OK, 0, 0, 0);
}

static uint16_t outputs_to_try(const struct kr_carriage_config *carriage)
{
    unsigned clamp = carriage->clamping == KR_CLAMP_COMMON ? KR_DO_CLAMP_OPEN : 0;
    return (uint16_t)(KR_DO_PIN_IN | KR_DO_PIN_OUT | KR_DO_BRAKE_OPEN | clamp);
}

static bool can_be_tried(const struct kr_carriage_config *carriage, uint16_t output)
{
    bool is_one = output != 0 && (output & (output - 1)) == 0;
    return is_one && (output & outputs_to_try(carriage)) != 0;
}

static struct kr_result check_asked(const struct kr_station_config *config, const struct kr_durable *durable,
                                    const struct start *asked)
{
    uint16_t n_rails = config->geometry.n_rails;
    if (asked->job < KR_JOB_CHANGEOVER || asked->job > KR_JOB_LAST)
        return no(KR_UNKNOWN_JOB, 0, asked->job, KR_JOB_LAST);
    if (asked->rail > n_rails)
        return no(KR_UNKNOWN_RAIL, 0, asked->rail, n_rails);
    const struct job_traits *traits = job_traits(asked->job);
    if (asked->rail == 0 && traits->must_name_rail)
        return no(KR_RAIL_NEEDED, 0, 0, n_rails);
    if (asked->speed > KR_SPEED_REDUCED)
        return no(KR_UNKNOWN_SPEED, 0, asked->speed, KR_SPEED_REDUCED);
    if (traits->first == KR_PHASE_TRY && !can_be_tried(&config->carriage[asked->rail - 1], asked->output))
        return no(KR_UNKNOWN_OUTPUT, asked->rail, asked->output, outputs_to_try(&config->carriage[asked->rail - 1]));
    if (traits->first == KR_PHASE_FIND &&
        !kr_find_is_possible(&config->geometry, &config->carriage[asked->rail - 1].references))
        return no(KR_NO_REFERENCE_PAIR, asked->rail, 0, 0);
    struct job job = job_asked(asked);
    if (traits->plan == JOB_PLAN_DRAG)
        return single_judge_drag(config, durable, &job);
    /* A bias belongs to the scan speed. */
    if (traits->first == KR_PHASE_GAUGE && asked->speed == KR_SPEED_REDUCED)
        return no(KR_PRODUCTION_SPEED, asked->rail, 0, 0);
    return traits->plan == JOB_PLAN_MOVE ? single_judge(config, durable, &job) : no(KR_OK, 0, 0, 0);
}

/* Returns the order that a Start would set up: the staged one, unless the Start names only the number of the one in
 * force. */
static bool means_staged(const struct kr_durable *durable, uint32_t order_number)
{
    return durable->staged && (order_number == 0 || order_number == durable->staged_order.order_number);
}

static bool means_in_force(const struct kr_durable *durable, uint32_t order_number)
{
    return durable->in_force && (order_number == 0 || order_number == durable->order.order_number);
}

static struct kr_result check_order(const struct kr_durable *durable, enum job_order order, uint32_t order_number)
{
    bool may_stage = order == JOB_ORDER_STAGED;
    if (order == JOB_ORDER_NONE || means_in_force(durable, order_number) ||
        (may_stage && means_staged(durable, order_number)))
        return no(KR_OK, 0, 0, 0);
    uint32_t other = may_stage && durable->staged ? durable->staged_order.order_number
                     : durable->in_force          ? durable->order.order_number
                                                  : 0;
    return other == 0 ? no(KR_NO_ORDER, 0, 0, 0) : no(KR_OTHER_ORDER, 0, (int32_t)order_number, (int32_t)other);
}

static struct kr_result check_start(const struct kr_station *s, const struct start *asked)
{
    enum job_order order = job_traits(asked->job)->order;
    struct kr_alarm alarm;
    if (s->in.book_failed)
        return no(KR_NOT_STORED, 0, 0, 0);
    if (alarm_hinders(&s->alarms, &alarm))
        return no(KR_ALARM_STANDS, alarm.rail, alarm.code, 0);
    struct kr_result result = check_order(&s->durable, order, asked->order_number);
    if (result.code != KR_OK)
        return result;
    if (order == JOB_ORDER_STAGED && (intake_is_storing(&s->intake) || s->starting.storing))
        return no(KR_BUSY, 0, 0, 0); /* the staged order, or the one in force, is not stored yet */
    result = check_permission(&s->permits, &s->config, s->in.line_speed, asked->job);
    return result.code == KR_OK ? check_rails(s, asked->job, asked->rail, false) : result;
}

/* The staged order comes into force, the next one moves up. */
static void start_order(struct kr_station *s)
{
    s->starting.before = orders_shown(&s->starting, &s->intake, &s->durable);
    s->starting.storing = true;
    s->planning.in_force_ms = s->planning.staged_ms;
    s->planning.staged_ms = 0; /* the next order's time was planned from other positions */
    durable_start_staged(&s->durable);
    verify_forget(&s->placement);
    plan_order_changed(&s->planning, &s->config.geometry, &s->durable);
    test_cuts_order_changed(&s->test_cuts);
    edges_end_trials(&s->edges);
}

static struct kr_result start(struct kr_station *s, const struct start *asked)
{
    struct kr_result result = check_asked(&s->config, &s->durable, asked);
    if (result.code != KR_OK)
        return result;
    /* Notices of the last job, and alarms that Reset left standing and that are over now. */
    alarms_acknowledge(s);
    result = check_start(s, asked);
    if (result.code != KR_OK)
        return result;
    bool is_new = job_traits(asked->job)->order == JOB_ORDER_STAGED && means_staged(&s->durable, asked->order_number);
    if (is_new)
        start_order(s);
    s->starting.serial = s->durable.serial;
    job_begin(s, asked);
    s->job.again = !is_new;
    /* The reasons against the last placement are over. */
    edges_name(view_of_edges(s), s->placement.verified, &s->alarms);
    unit_enter(s, KR_STATE_STARTING);
    return result;
}

/* A job resumes only if every condition that stopped it is met again. */
static struct kr_result resume(struct kr_station *s, enum kr_unit_state next)
{
    struct kr_result result = check_permission(&s->permits, &s->config, s->in.line_speed, s->job.kind);
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

/* Returns the state in which a command is accepted; Stop and Abort are accepted in many. */
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

static void end_job(struct kr_station *s, enum kr_unit_state next, enum kr_alarm_code why)
{
    record_ended_by(&s->record, why);
    unit_enter(s, next);
}

struct kr_result unit_command(struct kr_station *s, enum kr_command command, const struct start *asked)
{
    if (!possible(s->unit.state, command) || (s->in.shut_down && command != KR_COMMAND_ABORT))
        return no(KR_NOT_IN_THIS_STATE, 0, (int32_t)s->unit.state, 0);
    switch (command) {
    case KR_COMMAND_START: return start(s, asked);
    case KR_COMMAND_UNHOLD: return resume(s, KR_STATE_UNHOLDING);
    case KR_COMMAND_UNSUSPEND: return resume(s, KR_STATE_UNSUSPENDING);
    case KR_COMMAND_RESET: unit_enter(s, KR_STATE_RESETTING); break;
    case KR_COMMAND_STOP: end_job(s, KR_STATE_STOPPING, KR_ALARM_STOP_COMMANDED); break;
    case KR_COMMAND_HOLD: unit_enter(s, KR_STATE_HOLDING); break;
    case KR_COMMAND_SUSPEND: unit_enter(s, KR_STATE_SUSPENDING); break;
    case KR_COMMAND_ABORT: end_job(s, KR_STATE_ABORTING, KR_ALARM_ABORT_COMMANDED); break;
    case KR_COMMAND_CLEAR: unit_enter(s, KR_STATE_CLEARING); break;
    }
    return no(KR_OK, 0, 0, 0);
}

static bool about_to_run(enum kr_unit_state state)
{
    return state == KR_STATE_STARTING || state == KR_STATE_UNHOLDING || state == KR_STATE_UNSUSPENDING;
}

struct kr_result unit_halt(struct kr_station *s, uint16_t halt)
{
    bool held = s->unit.state == KR_STATE_UNHOLDING; /* a unit that was Held is Held again */
    if (kr_halt_strength(halt) == 0)
        return no(KR_UNKNOWN_COMMAND, 0, halt, 0);
    if ((halt != KR_COMMAND_HOLD && halt != KR_COMMAND_SUSPEND) || !about_to_run(s->unit.state))
        return unit_command(s, (enum kr_command)halt, &(struct start){0}); /* a halt starts nothing */
    unit_enter(s, halt == KR_COMMAND_HOLD || held ? KR_STATE_HOLDING : KR_STATE_SUSPENDING);
    return no(KR_OK, 0, 0, 0);
}

/* ---- states ---------------------------------------------------------------------------------------------------- */

bool unit_resets_faults(const struct unit *unit, int64_t now_ms)
{
    bool acknowledges = unit->state == KR_STATE_RESETTING || unit->state == KR_STATE_CLEARING ||
                        unit->state == KR_STATE_UNHOLDING || unit->state == KR_STATE_UNSUSPENDING;
    return acknowledges && now_ms - unit->state_ms < RESET_PULSE_MS;
}

static bool any_fault(const struct kr_axis_in axis[], uint16_t n_rails)
{
    for (uint16_t r = 0; r < n_rails; r++)
        if (axis[r].link && kr_drive_state_of(axis[r].statusword) == KR_DRIVE_FAULT)
            return true;
    return false;
}

/* Resets the drives' faults, and then deletes the alarms whose cause is gone. True: that is done. */
static bool acknowledged(struct kr_station *s)
{
    if (unit_resets_faults(&s->unit, s->clock.now_ms) ||
        (any_fault(s->in.axis, s->config.geometry.n_rails) && s->clock.now_ms - s->unit.state_ms < RESET_LIMIT_MS))
        return false;
    alarms_acknowledge(s);
    return true;
}

static void resuming(struct kr_station *s, enum kr_unit_state back)
{
    if (!acknowledged(s))
        return;
    if (alarm_hinders(&s->alarms, NULL) ||
        check_permission(&s->permits, &s->config, s->in.line_speed, s->job.kind).code != KR_OK) {
        unit_enter(s, back);
        return;
    }
    job_resume(s);
    unit_enter(s, KR_STATE_EXECUTE);
}

static void ended(struct kr_station *s, enum kr_unit_state next, enum kr_outcome outcome)
{
    if (!rails_at_rest(&s->rails, s->config.geometry.n_rails))
        return;
    s->job.phase = KR_PHASE_NONE;
    plan_drop(&s->planning, PLAN_FOR_JOB);
    record_end(s, outcome);
    unit_enter(s, next);
}

static void start_stored(struct starting *starting, const struct kr_station_in *in, struct planning *planning)
{
    if (!starting->storing || !durable_stored(in, starting->serial))
        return;
    starting->storing = false;
    planning->order_generation++;
}

static void starting(struct kr_station *s)
{
    if (durable_stored(&s->in, s->starting.serial))
        unit_enter(s, KR_STATE_EXECUTE);
}

void unit_step(struct kr_station *s)
{
    start_stored(&s->starting, &s->in, &s->planning);
    if (s->in.shut_down && can_stop(s->unit.state))
        end_job(s, KR_STATE_STOPPING, KR_ALARM_GATEWAY_ENDED);
    switch (s->unit.state) {
    case KR_STATE_STARTING: starting(s); break;
    case KR_STATE_EXECUTE:
        if (job_step(s))
            unit_enter(s, KR_STATE_COMPLETING);
        break;
    case KR_STATE_COMPLETING:
        ended(s, KR_STATE_COMPLETE, s->placement.verified ? KR_OUTCOME_VERIFIED : KR_OUTCOME_ENDED);
        break;
    case KR_STATE_STOPPING: ended(s, KR_STATE_STOPPED, KR_OUTCOME_ENDED); break;
    case KR_STATE_ABORTING: ended(s, KR_STATE_ABORTED, KR_OUTCOME_ABORTED); break;
    case KR_STATE_HOLDING:
        if (rails_at_rest(&s->rails, s->config.geometry.n_rails))
            unit_enter(s, KR_STATE_HELD);
        break;
    case KR_STATE_SUSPENDING:
        if (rails_at_rest(&s->rails, s->config.geometry.n_rails))
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

void unit_react(struct kr_station *s)
{
    enum kr_reaction reaction = s->alarms.reaction;
    s->alarms.reaction = KR_REACT_NONE;
    bool running = s->unit.state == KR_STATE_EXECUTE || s->unit.state == KR_STATE_STARTING;
    bool aborted = s->unit.state == KR_STATE_ABORTING || s->unit.state == KR_STATE_ABORTED;
    if (reaction == KR_REACT_ABORT && !aborted &&
        !(rails_at_rest(&s->rails, s->config.geometry.n_rails) && !unit_in_job(s->unit.state)))
        unit_enter(s, KR_STATE_ABORTING);
    else if (reaction == KR_REACT_HOLD && running)
        unit_enter(s, KR_STATE_HOLDING);
    else if (reaction == KR_REACT_SUSPEND && running)
        unit_enter(s, KR_STATE_SUSPENDING);
}
