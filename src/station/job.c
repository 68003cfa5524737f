/* Runs a job, phase by phase. Every job begins, and every interrupted job continues, in the same way: pins out, scan if
 * positions are not known, plan from there. */
#include "job.h"

#include <string.h>

#include "job_traits.h"
#include "record.h"
#include "single.h"
#include "state.h"
#include "temperature.h"

static void phase_enter(struct job *job, enum kr_phase phase, int64_t now_ms)
{
    job->phase = phase;
    job->phase_begun = false;
    job->phase_ms = now_ms;
}

/* A carriage that is operated by hand, or whose position is unknown, never moves at full speed. */
static bool sets_up(const struct job_traits *traits)
{
    return traits->held_to_run || traits->first == KR_PHASE_FIND || traits->plan == JOB_PLAN_DRAG;
}

struct job job_asked(const struct start *asked)
{
    return (struct job){.kind = asked->job,
                        .rail = asked->rail,
                        .holder = asked->holder,
                        .output = asked->output,
                        .to_um = asked->position_um,
                        .from_um = asked->position_um,
                        .reduced = asked->speed == KR_SPEED_REDUCED || sets_up(job_traits(asked->job))};
}

/* A job that measures starts its measurements from zero. */
static void gauge_begin(const struct job *job, uint16_t rails, struct kr_motion motion[])
{
    const struct job_traits *traits = job_traits(job->kind);
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        if (rails & 1u << r && traits->first == KR_PHASE_GAUGE)
            kr_motion_gauge_begin(&motion[r], 0);
        else if (rails & 1u << r && traits->plan == JOB_PLAN_DRAG)
            kr_motion_gauge_begin(&motion[r], job->holder);
    }
}

void job_begin(struct kr_station *s, const struct start *asked)
{
    const struct job_traits *traits = job_traits(asked->job);
    s->job = job_asked(asked);
    s->job.began_ms = s->clock.now_ms;
    if (traits->order == JOB_ORDER_STAGED)
        s->job.planned_us = 1000LL * s->planning.in_force_ms;
    if (!traits->keeps_verified)
        verify_undo(&s->placement);
    record_begin(&s->record, &s->job, &s->durable);
    s->job.known = rails_flags_known(s);
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        int32_t now_ppb = s->durable.references[r].correction.expansion_ppb;
        kr_motion_time_begin(&s->rails.motion[r]);
        if (!traits->keeps_verified &&
            kr_motion_expand(&s->rails.motion[r], &in, temperature_expansion(in.carriage, &s->in, now_ppb)))
            rail_learned(s, r);
    }
    gauge_begin(&s->job, job_rails(&s->job, &s->config), s->rails.motion);
    rails_take_back(&s->rails);
    phase_enter(&s->job, KR_PHASE_FREE, s->clock.now_ms);
}

void job_resume(struct kr_station *s)
{
    s->job.replanned = true;
    s->job.scanned = false;
    s->job.corrections = 0;
    s->job.in_tolerance = false;
    plan_drop(&s->planning, PLAN_FOR_JOB);
    rails_take_back(&s->rails);
    phase_enter(&s->job, KR_PHASE_FREE, s->clock.now_ms);
}

/* Gives every rail of the mask the task, all at once or one after the other. True: all have done it. */
static bool task_on_rails(struct kr_station *s, enum kr_task task, uint16_t rails)
{
    if (!s->job.phase_begun) {
        rails_take_back(&s->rails);
        s->job.phase_begun = true;
    }
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        if (!(rails & 1u << r) || kr_motion_done(&s->rails.motion[r]))
            continue;
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_give(&s->rails.motion[r], &in, task);
        if (!s->config.geometry.rails_together)
            return false;
    }
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (rails & 1u << r && !kr_motion_done(&s->rails.motion[r]))
            return false;
    return true;
}

static uint16_t all_rails(const struct kr_station_config *config)
{
    return (uint16_t)((1u << config->geometry.n_rails) - 1);
}

static uint16_t rails_of(enum job_rails which, const struct job *job, const struct kr_station_config *config)
{
    if (which == JOB_RAILS_NONE)
        return 0;
    return which == JOB_RAILS_ASKED && job->rail ? (uint16_t)(1u << (job->rail - 1)) : all_rails(config);
}

uint16_t job_rails(const struct job *job, const struct kr_station_config *config)
{
    return rails_of(job_traits(job->kind)->rails, job, config);
}

/* Returns the rails of the mask with a pin that may be in a holder, or with a clamp that may be open. */
static uint16_t rails_to_free(uint16_t of, const struct rails *rails, const struct kr_station_config *config,
                              const struct kr_axis_in axis_of[])
{
    uint16_t to_free = 0;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        bool free = kr_motion_docked(&rails->motion[r]) == 0 && kr_motion_pin_is_out(&axis_of[r]) &&
                    kr_motion_clamped(&config->carriage[r], &axis_of[r]);
        if (of & 1u << r && !free)
            to_free |= (uint16_t)(1u << r);
    }
    return to_free;
}

static uint16_t rails_with_moves(const struct kr_station_config *config, const struct kr_plan *plan,
                                 bool common_clamp_only)
{
    uint16_t rails = 0;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        if (plan->rail[r].n_moves && (!common_clamp_only || config->carriage[r].clamping == KR_CLAMP_COMMON))
            rails |= (uint16_t)(1u << r);
    return rails;
}

/* ---- phases ---------------------------------------------------------------------------------------------------- */

/* A plan needs measured positions, so that a scan comes before it if one is due. */
static bool scans_first(const struct job *job, const struct kr_station_config *config, const struct kr_durable *durable)
{
    const struct job_traits *traits = job_traits(job->kind);
    bool always = config->scan_policy == KR_SCAN_ALWAYS && traits->plan == JOB_PLAN_ORDER && !job->replanned;
    return traits->first == KR_PHASE_PLAN && (always || scan_is_due(config, durable, job_rails(job, config)));
}

static bool free_phase(struct kr_station *s)
{
    const struct job_traits *traits = job_traits(s->job.kind);
    if (!s->job.phase_begun)
        s->job.rail_mask =
            rails_to_free(rails_of(traits->frees, &s->job, &s->config), &s->rails, &s->config, s->in.axis);
    if (!task_on_rails(s, KR_TASK_FREE, s->job.rail_mask))
        return false;
    if (traits->first == KR_PHASE_NONE)
        return true;
    if (traits->held_to_run)
        jog_begin(&s->jog);
    phase_enter(&s->job, scans_first(&s->job, &s->config, &s->durable) ? KR_PHASE_SCAN : traits->first,
                s->clock.now_ms);
    return false;
}

static void scan_phase(struct kr_station *s)
{
    if (!task_on_rails(s, KR_TASK_SCAN, job_rails(&s->job, &s->config)))
        return;
    s->job.scanned = true;
    bool plans = job_traits(s->job.kind)->plan != JOB_PLAN_NONE;
    phase_enter(&s->job, plans ? KR_PHASE_PLAN : KR_PHASE_TRAVEL, s->clock.now_ms);
}

/* Fills in the geometry with the speeds of the job, and the present positions. */
static void lay_out(struct kr_plan_request *request, const struct kr_station_config *config,
                    const struct kr_durable *durable, const struct kr_axis_in axis[], bool reduced)
{
    request->geometry = config->geometry;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        struct kr_rail_geometry *rail = &request->geometry.rail[r];
        rail->empty = kr_setup_speed(&config->carriage[r], rail->empty, reduced);
        rail->drag = kr_setup_speed(&config->carriage[r], rail->drag, reduced);
    }
    plan_positions(request, config, durable, axis);
}

static void ask(struct kr_station *s)
{
    struct kr_plan_request *request = plan_ask(&s->planning, PLAN_FOR_JOB, s->clock.wall_us);
    if (request == NULL)
        return;
    enum job_plan plan = job_traits(s->job.kind)->plan;
    lay_out(request, &s->config, &s->durable, s->in.axis, s->job.reduced);
    request->deadband_um = s->job.in_tolerance ? stay_um(&s->config, &s->durable.order) : s->config.deadband_um;
    /* The plan only says which holders cut, and a holder within tolerance counts as in its place. */
    if (plan == JOB_PLAN_CUTS)
        request->deadband_um = order_tolerance_um(&s->config, &s->durable);
    request->park = plan == JOB_PLAN_PARK;
    if (s->durable.in_force) {
        request->order = s->durable.order;
    } else {
        /* For a park without an order: the widest web. */
        request->order.web_width_nm = s->config.geometry.web_max_nm;
    }
    if (s->durable.staged && !request->park && !s->job.again) {
        request->next_known = true;
        request->next = s->durable.staged_order;
    }
    s->job.phase_begun = true;
}

static void judge(struct kr_station *s);

/* Calculates the time from Start on, with the scan that has already been made. The carriages came from their park
 * positions, where a job leaves them. */
static int32_t told_ms(const struct kr_station_config *config, const struct planning *planning, const struct job *job,
                       const struct job_traits *traits)
{
    struct kr_telling how = {.from_park = job->scanned,
                             .scans_first = job->scanned,
                             .moves = traits->plan != JOB_PLAN_CUTS,
                             .verifies = job_verifies(traits),
                             .reduced = job->reduced,
                             .known = job->known};
    return kr_ms_from_us(kr_station_tell(config, &planning->request, &planning->plan, how).verified_us);
}

static void plan_taken(struct kr_station *s, const struct kr_plan *plan)
{
    s->planning.plan = *plan;
    const struct job_traits *traits = job_traits(s->job.kind);
    s->planning.valid = !job_plans_no_order(traits);
    if (s->planning.valid)
        s->planning.cuts = plan->cuts;
    s->planning.order_generation++;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        s->rails.moves_done[r] = 0;
    if (!s->job.correcting && !s->job.replanned) {
        s->job.planned_us = plan->time_us;
        s->record.planned_ms = kr_ms_from_us(plan->time_us);
        s->record.told_ms = told_ms(&s->config, &s->planning, &s->job, traits);
    }
    bool still = rails_with_moves(&s->config, &s->planning.plan, false) == 0;
    if (traits->plan == JOB_PLAN_CUTS || (still && s->job.scanned && s->planning.valid))
        judge(s); /* the plan of a verification only says which holders cut where */
    else if (!still)
        phase_enter(&s->job, KR_PHASE_UNCLAMP, s->clock.now_ms);
    else
        phase_enter(&s->job, s->planning.valid ? KR_PHASE_VERIFY : KR_PHASE_TRAVEL, s->clock.now_ms);
}

static void refused(struct planning *planning, struct alarms *alarms, struct kr_result result)
{
    const struct kr_code_info *info = kr_code_info((int)result.code);
    uint16_t holder = info != NULL && info->item == KR_ITEM_HOLDER ? result.item : 0;
    planning->refusal = result; /* also names the slit or cut */
    alarm_raise(alarms, (struct kr_alarm){KR_ALARM_PLAN_REFUSED, result.rail, holder, (int32_t)result.code, 0});
}

static void plan_single(struct kr_station *s)
{
    bool drags = job_traits(s->job.kind)->plan == JOB_PLAN_DRAG;
    int32_t met_um = drags && s->job.way == 0 ? s->job.from_um : 0;
    struct kr_result result =
        drags ? single_judge_drag(&s->config, &s->durable, &s->job) : single_judge(&s->config, &s->durable, &s->job);
    if (result.code != KR_OK) {
        refused(&s->planning, &s->alarms, result);
        return;
    }
    if (met_um != 0) /* a person has seen the pin meet the holder there */
        rail_told(s, (uint16_t)(s->job.rail - 1), s->job.holder, met_um, KR_REMEMBERED);
    lay_out(&s->planning.request, &s->config, &s->durable, s->in.axis, s->job.reduced);
    single_plan(s, &s->planning.plan);
    plan_taken(s, &s->planning.plan);
}

/* Watches the wait for the job's own plan, or for a request's plan that comes first. */
static void plan_watch(const struct planning *planning, int64_t wall_us, int32_t limit_ms, struct alarms *alarms)
{
    int64_t waited_ms = (wall_us - planning->asked_us) / 1000;
    if (waited_ms >= limit_ms)
        alarm_raise(alarms, (struct kr_alarm){KR_ALARM_PLAN_LATE, 0, 0, (int32_t)waited_ms, limit_ms});
}

static bool may_stay_in_tolerance(const struct job *job, const struct kr_station_config *config,
                                  const struct kr_order *order)
{
    return job_traits(job->kind)->plan == JOB_PLAN_ORDER && !job->in_tolerance &&
           stay_um(config, order) > config->deadband_um;
}

/* The first refusal is the one to be told: its limits are those of the deadband. */
static void plan_impossible(struct job *job, struct planning *planning, struct alarms *alarms, bool again,
                            struct kr_result result)
{
    if (!job->in_tolerance)
        job->refusal = result;
    job->in_tolerance = again;
    if (again)
        job->phase_begun = false;
    else
        refused(planning, alarms, job->refusal);
}

static void plan_phase(struct kr_station *s)
{
    enum job_plan plan = job_traits(s->job.kind)->plan;
    if (plan == JOB_PLAN_MOVE || plan == JOB_PLAN_DRAG) {
        plan_single(s);
        return;
    }
    if (!s->job.phase_begun) {
        ask(s);
        plan_watch(&s->planning, s->clock.wall_us, s->config.plan_limit_ms, &s->alarms);
        return;
    }
    const struct kr_plan_answer *answer = plan_answer(&s->planning, PLAN_FOR_JOB, &s->in.plan);
    if (answer == NULL) {
        plan_watch(&s->planning, s->clock.wall_us, s->config.plan_limit_ms, &s->alarms);
    } else if (answer->result.code != KR_OK) {
        plan_impossible(&s->job, &s->planning, &s->alarms,
                        may_stay_in_tolerance(&s->job, &s->config, &s->durable.order), answer->result);
    } else {
        s->job.in_tolerance = false;
        plan_taken(s, &answer->plan);
    }
}

/* Opens or closes all common clamps of rails that move something. They are commanded in the first cycle of the phase,
 * and proven in a later one. */
static bool clamps_are(struct kr_station *s, bool open)
{
    uint16_t rails = rails_with_moves(&s->config, &s->planning.plan, true);
    bool done = s->job.phase_begun || rails == 0;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        struct kr_motion_out out;
        out.n_events = 0;
        if (!(rails & 1u << r))
            continue;
        if (s->job.phase_begun)
            done = kr_motion_clamp_proven(&s->rails.motion[r], &in, &out) && done;
        else if (!kr_motion_clamp(&s->rails.motion[r], &in, open))
            return false;
        rail_events(s, r, &out);
    }
    s->job.phase_begun = true;
    return done;
}

/* The fact that a clamp may release its holders is stored before it does. */
static void unclamp_phase(struct kr_station *s)
{
    uint16_t rails = rails_with_moves(&s->config, &s->planning.plan, true);
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        if (!(rails & 1u << r) || s->durable.clamp_open[r])
            continue;
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_unclamp_due(&s->rails.motion[r], &in);
        rail_learned(s, r);
        s->job.stored_serial = s->durable.serial;
    }
    if (rails == 0 || (durable_stored(&s->in, s->job.stored_serial) && clamps_are(s, true)))
        phase_enter(&s->job, KR_PHASE_MOVE, s->clock.now_ms);
}

static void supervise_clamps(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        struct kr_motion_out out;
        out.n_events = 0;
        kr_motion_clamp_watch(&s->rails.motion[r], &in, &out);
        rail_events(s, r, &out);
    }
}

static void move_phase(struct kr_station *s)
{
    supervise_clamps(s);
    if (!s->job.correcting)
        s->job.moving_us += s->in.dt_us;
    int64_t taken_ms = s->clock.now_ms - s->job.phase_ms;
    if (!task_on_rails(s, KR_TASK_MOVES, rails_with_moves(&s->config, &s->planning.plan, false))) {
        int64_t planned_ms = s->planning.plan.time_us / 1000, percent = s->config.job_late_percent;
        if (percent && !s->job.late && taken_ms > planned_ms * percent / 100) {
            s->job.late = true;
            alarm_raise(&s->alarms, (struct kr_alarm){KR_ALARM_JOB_LATE, 0, 0, (int32_t)taken_ms, (int32_t)planned_ms});
        }
        return;
    }
    s->job.scanned = false;
    phase_enter(&s->job, KR_PHASE_CLAMP, s->clock.now_ms);
}

static void clamp_phase(struct kr_station *s)
{
    if (!clamps_are(s, false))
        return;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        if (!(rails_with_moves(&s->config, &s->planning.plan, true) & 1u << r))
            continue;
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_clamped_again(&s->rails.motion[r], &in);
        rail_learned(s, r);
    }
    bool drags = job_traits(s->job.kind)->plan == JOB_PLAN_DRAG;
    phase_enter(&s->job,
                s->planning.valid ? KR_PHASE_VERIFY
                : drags           ? KR_PHASE_GAUGE
                                  : KR_PHASE_TRAVEL,
                s->clock.now_ms);
}

/* The number of drags in each direction is that of the rail's rounds. */
static enum kr_phase after_gauge(struct job *job, const struct kr_station_config *config)
{
    bool drags = job_traits(job->kind)->plan == JOB_PLAN_DRAG;
    return drags && ++job->drags < 2 * config->carriage[job->rail - 1].gauge_rounds ? KR_PHASE_PLAN : KR_PHASE_TRAVEL;
}

static void verify_phase(struct kr_station *s)
{
    if (!task_on_rails(s, KR_TASK_SCAN, all_rails(&s->config)))
        return;
    s->job.scanned = true;
    if (s->planning.valid)
        judge(s);
    else
        phase_enter(&s->job, KR_PHASE_PLAN, s->clock.now_ms);
}

/* Judges the placement of the order in force. names: each deviation raises an alarm. */
static bool placed(struct kr_station *s, bool names)
{
    struct judgement judgement = {
        .config = &s->config,
        .durable = &s->durable,
        .planning = &s->planning,
        .record = &s->record,
        .alarms = &s->alarms,
        .names = names,
        /* Each placement is judged once without alarms. */
        .counts_slips = !names && job_traits(s->job.kind)->corrects,
    };
    return verify_placement(&s->placement, &judgement);
}

static void judge(struct kr_station *s)
{
    /* Somebody had access, or the power failed, since the scan. */
    if (!verify_can_judge(&s->config, &s->durable, &s->planning)) {
        alarm_raise(&s->alarms, (struct kr_alarm){.code = KR_ALARM_SCAN_UNTRUSTED});
    } else if (placed(s, false)) {
        test_cuts_placed(&s->test_cuts, &s->config, &s->durable, &s->planning);
        edges_name(view_of_edges(s), s->placement.verified, &s->alarms);
        phase_enter(&s->job, KR_PHASE_TRAVEL, s->clock.now_ms);
    } else if (job_traits(s->job.kind)->corrects && s->job.corrections < s->config.corrections_max) {
        s->job.corrections++;
        s->job.correcting = true;
        phase_enter(&s->job, KR_PHASE_PLAN, s->clock.now_ms);
    } else {
        placed(s, true);
    }
}

static bool travel_phase(struct kr_station *s)
{
    if (!s->job.phase_begun) {
        s->job.rail_mask = 0;
        for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
            if (!kr_motion_parked(&s->rails.motion[r], &s->config.carriage[r], &s->in.axis[r]) &&
                job_rails(&s->job, &s->config) & 1u << r)
                s->job.rail_mask |= (uint16_t)(1u << r);
    }
    return task_on_rails(s, KR_TASK_TRAVEL, s->job.rail_mask);
}

bool job_step(struct kr_station *s)
{
    switch (s->job.phase) {
    case KR_PHASE_FREE: return free_phase(s);
    case KR_PHASE_SCAN: scan_phase(s); break;
    case KR_PHASE_PLAN: plan_phase(s); break;
    case KR_PHASE_UNCLAMP: unclamp_phase(s); break;
    case KR_PHASE_MOVE: move_phase(s); break;
    case KR_PHASE_CLAMP: clamp_phase(s); break;
    case KR_PHASE_VERIFY: verify_phase(s); break;
    case KR_PHASE_TRAVEL: return travel_phase(s);
    case KR_PHASE_REFERENCE:
        if (task_on_rails(s, KR_TASK_HOME, job_rails(&s->job, &s->config)))
            phase_enter(&s->job, KR_PHASE_TRAVEL, s->clock.now_ms);
        break;
    case KR_PHASE_FIND:
        if (task_on_rails(s, KR_TASK_FIND, job_rails(&s->job, &s->config)))
            phase_enter(&s->job, KR_PHASE_SCAN, s->clock.now_ms);
        break;
    case KR_PHASE_GAUGE:
        if (task_on_rails(s, KR_TASK_GAUGE, job_rails(&s->job, &s->config)))
            phase_enter(&s->job, after_gauge(&s->job, &s->config), s->clock.now_ms);
        break;
    case KR_PHASE_JOG: (void)task_on_rails(s, KR_TASK_JOG, job_rails(&s->job, &s->config)); break; /* a Stop ends it */
    case KR_PHASE_TRY: (void)task_on_rails(s, KR_TASK_TRY, job_rails(&s->job, &s->config)); break;
    case KR_PHASE_NONE: break;
    }
    return false;
}
