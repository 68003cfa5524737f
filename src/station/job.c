/* A job, phase by phase. Every job begins, and every interrupted one goes on, the same way: pins out, look where things
 * are if that is not known, plan from there. */
#include "state.h"

#include <string.h>

static void phase_enter(struct kr_station *s, enum kr_phase phase)
{
    s->job.phase = phase;
    s->job.phase_begun = false;
    s->job.phase_ms = s->now_ms;
}

struct job job_asked(const struct start *asked)
{
    return (struct job){.kind = asked->job,
                        .rail = asked->rail,
                        .holder = asked->holder,
                        .to_um = asked->position_um,
                        .reduced = asked->speed == KR_SPEED_REDUCED || asked->job == KR_JOB_JOG};
}

static void no_tasks(struct kr_station *s)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        kr_motion_take_back(&s->motion[r]);
}

void job_begin(struct kr_station *s, const struct start *asked)
{
    uint16_t kind = asked->job;
    s->job = job_asked(asked);
    s->job.began_ms = s->now_ms;
    if (kind == KR_JOB_CHANGEOVER)
        s->job.planned_us = 1000LL * s->in_force_ms;
    if (kind != KR_JOB_RELEASE && kind != KR_JOB_HOME && kind != KR_JOB_JOG)
        s->verified = false;
    record_begin(s);
    no_tasks(s);
    phase_enter(s, KR_PHASE_FREE);
}

void job_resume(struct kr_station *s)
{
    s->job.replanned = true;
    s->job.scanned = false;
    s->job.corrections = 0;
    if (s->plan_user == PLAN_FOR_JOB)
        plan_drop(s);
    no_tasks(s);
    phase_enter(s, KR_PHASE_FREE);
}

/* Speed of setting up, where the job was started so. */
struct kr_speed job_speed(const struct kr_station *s, uint16_t rail, struct kr_speed full)
{
    return kr_setup_speed(&s->config.carriage[rail], full, s->job.reduced);
}

/* Gives every rail of the mask the task, all at once or one after the other. True when all have done it. */
static bool task_on_rails(struct kr_station *s, enum kr_task task, uint16_t rails)
{
    if (!s->job.phase_begun) {
        no_tasks(s);
        s->job.phase_begun = true;
    }
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        if (!(rails & 1u << r) || kr_motion_done(&s->motion[r]))
            continue;
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_give(&s->motion[r], &in, task);
        if (!s->config.geometry.rails_together)
            return false;
    }
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (rails & 1u << r && !kr_motion_done(&s->motion[r]))
            return false;
    return true;
}

static uint16_t all_rails(const struct kr_station *s)
{
    return (uint16_t)((1u << s->config.geometry.n_rails) - 1);
}

static uint16_t wanted_rails(const struct kr_station *s)
{
    return s->job.rail ? (uint16_t)(1u << (s->job.rail - 1)) : all_rails(s);
}

static uint16_t rails_to_free(const struct kr_station *s)
{
    uint16_t rails = 0, of = s->job.kind == KR_JOB_RELEASE ? wanted_rails(s) : all_rails(s);
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        if (of & 1u << r &&
            (kr_motion_docked(&s->motion[r]) || !rail_pin_is_out(s, r) || !rail_clamped(s, r)))
            rails |= (uint16_t)(1u << r);
    }
    return rails;
}

static uint16_t rails_with_moves(const struct kr_station *s, bool common_clamp_only)
{
    uint16_t rails = 0;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (s->plan.rail[r].n_moves &&
            (!common_clamp_only || s->config.carriage[r].clamping == KR_CLAMP_COMMON))
            rails |= (uint16_t)(1u << r);
    return rails;
}

/* ---- phases ------------------------------------------------------------------------------------------------------------ */

static bool free_phase(struct kr_station *s)
{
    if (s->job.kind == KR_JOB_JOG) { /* its carriage only runs with the pin out: there is nothing to free */
        jog_begin(s);
        phase_enter(s, KR_PHASE_JOG);
        return false;
    }
    if (!s->job.phase_begun)
        s->job.rail_mask = rails_to_free(s);
    if (!task_on_rails(s, KR_TASK_FREE, s->job.rail_mask))
        return false;
    if (s->job.kind == KR_JOB_RELEASE)
        return true;
    bool always =
        s->config.scan_policy == KR_SCAN_ALWAYS && s->job.kind == KR_JOB_CHANGEOVER && !s->job.replanned;
    if (s->job.kind == KR_JOB_HOME)
        phase_enter(s, KR_PHASE_REFERENCE);
    else if (s->job.kind == KR_JOB_VERIFY)
        phase_enter(s, KR_PHASE_VERIFY);
    else
        phase_enter(s, scan_is_due(s) || always ? KR_PHASE_SCAN : KR_PHASE_PLAN);
    return false;
}

static void scan_phase(struct kr_station *s)
{
    if (!task_on_rails(s, KR_TASK_SCAN, all_rails(s)))
        return;
    s->job.scanned = true;
    phase_enter(s, KR_PHASE_PLAN);
}

static void ask(struct kr_station *s)
{
    if (!plan_ask(s, PLAN_FOR_JOB))
        return;
    struct kr_plan_request *request = &s->plan_request;
    memset(request, 0, sizeof *request);
    request->geometry = s->config.geometry;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_rail_geometry *rail = &request->geometry.rail[r];
        rail->empty = job_speed(s, r, rail->empty);
        rail->drag = job_speed(s, r, rail->drag);
    }
    request->deadband_um = s->config.deadband_um;
    if (s->job.kind == KR_JOB_VERIFY) /* it only says who cuts; what is in tolerance is where it belongs */
        request->deadband_um = order_tolerance_um(s);
    request->park = s->job.kind == KR_JOB_PARK;
    if (s->durable.in_force) {
        request->order = s->durable.order;
    } else {
        request->order.web_width_nm =
            s->config.geometry.web_max_nm; /* a park without an order: the widest web */
    }
    if (s->durable.staged && !request->park) {
        request->next_known = true;
        request->next = s->durable.staged_order;
    }
    plan_positions(s, request);
    s->job.phase_begun = true;
}

static void judge(struct kr_station *s);

static void plan_taken(struct kr_station *s, const struct kr_plan *plan)
{
    s->plan = *plan;
    bool park = s->job.kind == KR_JOB_PARK || s->job.kind == KR_JOB_MOVE; /* of no order */
    s->plan_valid = !park;
    if (s->plan_valid)
        s->cuts = plan->cuts;
    s->order_generation++;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        s->moves_done[r] = 0;
    if (!s->job.correcting && !s->job.replanned) {
        s->job.planned_us = plan->time_us;
        s->record.planned_ms = (int32_t)((plan->time_us + 500) / 1000);
    }
    bool still = rails_with_moves(s, false) == 0;
    if (s->job.kind == KR_JOB_VERIFY || (still && s->job.scanned && !park))
        judge(s); /* a verification's plan only says who cuts where */
    else if (!still)
        phase_enter(s, KR_PHASE_UNCLAMP);
    else
        phase_enter(s, park ? KR_PHASE_TRAVEL : KR_PHASE_VERIFY);
}

static void refused(struct kr_station *s, struct kr_result result)
{
    const struct kr_code_info *info = kr_code_info((int)result.code);
    uint16_t holder = info != NULL && info->item == KR_ITEM_HOLDER ? result.item : 0;
    s->refusal = result; /* has the slit or cut, too */
    alarm_raise(s, (struct kr_alarm){KR_ALARM_PLAN_REFUSED, result.rail, holder, (int32_t)result.code, 0});
}

static void plan_single(struct kr_station *s)
{
    struct kr_result result = single_judge(s, &s->job);
    if (result.code != KR_OK) {
        refused(s, result);
        return;
    }
    single_plan(s, &s->plan);
    plan_taken(s, &s->plan);
}

/* The job's own plan, or a request's that it waits behind. */
static void plan_watch(struct kr_station *s)
{
    int64_t waited_ms = (s->wall_us - s->plan_asked_us) / 1000;
    if (waited_ms >= s->config.plan_limit_ms)
        alarm_raise(s,
                    (struct kr_alarm){KR_ALARM_PLAN_LATE, 0, 0, (int32_t)waited_ms, s->config.plan_limit_ms});
}

static void plan_phase(struct kr_station *s)
{
    if (s->job.kind == KR_JOB_MOVE) {
        plan_single(s);
        return;
    }
    if (!s->job.phase_begun) {
        ask(s);
        plan_watch(s);
        return;
    }
    const struct kr_plan_answer *answer = plan_answer(s, PLAN_FOR_JOB);
    if (answer == NULL) {
        plan_watch(s);
    } else if (answer->result.code != KR_OK) {
        refused(s, answer->result);
    } else {
        plan_taken(s, &answer->plan);
    }
}

/* All common clamps of rails that move something: wanted so in the first cycle of the phase, proven in a later one. */
static bool clamps_are(struct kr_station *s, bool open)
{
    uint16_t rails = rails_with_moves(s, true);
    bool done = s->job.phase_begun || rails == 0;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        struct kr_motion_out out;
        out.n_events = 0;
        if (!(rails & 1u << r))
            continue;
        if (s->job.phase_begun)
            done = kr_motion_clamp_proven(&s->motion[r], &in, &out) && done;
        else
            kr_motion_clamp(&s->motion[r], &in, open);
        rail_events(s, r, &out);
    }
    s->job.phase_begun = true;
    return done;
}

/* That a rail's holders may be free of it is stored before they are. */
static void unclamp_phase(struct kr_station *s)
{
    uint16_t rails = rails_with_moves(s, true);
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        if (!(rails & 1u << r) || s->durable.clamp_open[r])
            continue;
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_unclamp_due(&s->motion[r], &in);
        rail_learned(s, r);
        s->job.stored_serial = s->durable.serial;
    }
    if (rails == 0 || (durable_committed(s, s->job.stored_serial) && clamps_are(s, true)))
        phase_enter(s, KR_PHASE_MOVE);
}

static void supervise_clamps(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        struct kr_motion_out out;
        out.n_events = 0;
        kr_motion_clamp_watch(&s->motion[r], &in, &out);
        rail_events(s, r, &out);
    }
}

static void move_phase(struct kr_station *s)
{
    supervise_clamps(s);
    if (!s->job.correcting)
        s->job.moving_us += s->in.dt_us;
    int64_t taken_ms = s->now_ms - s->job.phase_ms;
    if (!task_on_rails(s, KR_TASK_MOVES, rails_with_moves(s, false))) {
        int64_t planned_ms = s->plan.time_us / 1000, percent = s->config.job_late_percent;
        if (percent && !s->job.late && taken_ms > planned_ms * percent / 100) {
            s->job.late = true;
            alarm_raise(s,
                        (struct kr_alarm){KR_ALARM_JOB_LATE, 0, 0, (int32_t)taken_ms, (int32_t)planned_ms});
        }
        return;
    }
    s->job.scanned = false;
    phase_enter(s, KR_PHASE_CLAMP);
}

static void clamp_phase(struct kr_station *s)
{
    if (!clamps_are(s, false))
        return;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        if (!(rails_with_moves(s, true) & 1u << r))
            continue;
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_clamped_again(&s->motion[r], &in);
        rail_learned(s, r);
    }
    phase_enter(s, s->plan_valid ? KR_PHASE_VERIFY : KR_PHASE_TRAVEL);
}

static void verify_phase(struct kr_station *s)
{
    if (!task_on_rails(s, KR_TASK_SCAN, all_rails(s)))
        return;
    s->job.scanned = true;
    if (s->plan_valid)
        judge(s);
    else
        phase_enter(s, KR_PHASE_PLAN);
}

static void judge(struct kr_station *s)
{
    if (!verify_can_judge(s)) { /* access, or a drive without power, since the scan */
        alarm_raise(s, (struct kr_alarm){.code = KR_ALARM_SCAN_UNTRUSTED});
    } else if (verify_placement(s, false)) {
        s->verified = true;
        offsets_placed(s);
        phase_enter(s, KR_PHASE_TRAVEL);
    } else if (s->job.kind == KR_JOB_CHANGEOVER && s->job.corrections < s->config.corrections_max) {
        s->job.corrections++;
        s->job.correcting = true;
        phase_enter(s, KR_PHASE_PLAN);
    } else {
        verify_placement(s, true);
    }
}

static bool travel_phase(struct kr_station *s)
{
    if (!s->job.phase_begun) {
        s->job.rail_mask = 0;
        for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
            if (!rail_parked(s, r) && (s->job.kind != KR_JOB_HOME || wanted_rails(s) & 1u << r))
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
        if (task_on_rails(s, KR_TASK_HOME, wanted_rails(s)))
            phase_enter(s, KR_PHASE_TRAVEL);
        break;
    case KR_PHASE_JOG: (void)task_on_rails(s, KR_TASK_JOG, wanted_rails(s)); break; /* until a Stop ends it */
    case KR_PHASE_NONE: break;
    }
    return false;
}
