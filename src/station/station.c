#include "kniferail/station.h"

#include <string.h>

#include "command.h"
#include "job_traits.h"
#include "metres.h"
#include "progress.h"
#include "proof.h"
#include "temperature.h"
#include "unit.h"

size_t kr_station_size(void)
{
    return sizeof(struct kr_station);
}

void kr_station_init(struct kr_station *s, const struct kr_station_config *config, uint16_t session,
                     const struct kr_durable *durable)
{
    memset(s, 0, sizeof *s);
    s->config = *config;
    s->session = session;
    durable_begin(&s->durable, durable);
    durable_seed_frames(&s->durable, config);
    durable_seed_switches(&s->durable, config);
    durable_seed_times(&s->durable, config);
    rails_told(&s->rails, &s->config, &s->durable);
    s->intake.published = durable->verdict;
    s->editing.published = durable->edit;
    s->unit.state = KR_STATE_STOPPED;
    if (proof_begin(&s->durable, &s->config, &s->hands))
        verify_set_aside(&s->placement);
    rails_init(s);
    edges_name(view_of_edges(s), false, &s->alarms);
    if (s->durable.in_force)
        s->planning.cuts_valid = kr_cuts_make(&config->geometry, &s->durable.order, &s->planning.cuts).code == KR_OK;
}

static bool same_holders(const struct kr_geometry *a, const struct kr_geometry *b)
{
    if (a->n_rails != b->n_rails)
        return false;
    for (uint16_t r = 0; r < a->n_rails; r++)
        if (a->rail[r].n_holders != b->rail[r].n_holders)
            return false;
    return true;
}

static void take_geometry(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_geometry_changed(&s->rails.motion[r], &in);
        rail_learned(s, r);
    }
    verify_forget(&s->placement);
    plan_order_changed(&s->planning, &s->config.geometry, &s->durable);
    durable_touch(&s->durable);
}

enum kr_change kr_station_takes(const struct kr_station *s)
{
    return unit_is_idle(s->unit.state) ? KR_CHANGE_GEOMETRY : KR_CHANGE_UNVERIFY;
}

bool kr_station_reconfigure(struct kr_station *s, const struct kr_station_config *config, enum kr_change strongest)
{
    if (strongest > kr_station_takes(s) || !same_holders(&config->geometry, &s->config.geometry) ||
        !frames_fit(config, &s->durable))
        return false;
    s->config = *config;
    rails_told(&s->rails, &s->config, &s->durable);
    wear_limits_changed(&s->wear);
    if (strongest == KR_CHANGE_GEOMETRY)
        take_geometry(s);
    else if (strongest == KR_CHANGE_UNVERIFY)
        verify_undo(&s->placement); /* it was judged with the old tolerances */
    return true;
}

/* ---- the cycle ------------------------------------------------------------------------------------------------- */

static struct kr_alarm silence(uint16_t code, int64_t us, int32_t limit_ms)
{
    int64_t ms = us / 1000;
    return (struct kr_alarm){.code = code, .value = (int32_t)(ms < INT32_MAX ? ms : INT32_MAX), .limit = limit_ms};
}

/* A heartbeat that is late only because of this program's own gap is not the PLC's fault. */
static struct kr_alarm why_suspended(const struct permits *permits, int64_t wall_us, int32_t limit_ms, uint16_t missing,
                                     uint16_t needed)
{
    if (permits->control_lost)
        return (struct kr_alarm){.code = KR_ALARM_CONTROL_CHANGED, .value = missing, .limit = needed};
    if (permits->heartbeat_fresh)
        return (struct kr_alarm){.code = KR_ALARM_PERMISSIVE_LOST, .value = missing, .limit = needed};
    if (permit_plc_silent_us(permits, wall_us) < 1000LL * limit_ms)
        return silence(KR_ALARM_STOOD_STILL, permits->own_gap_us, limit_ms);
    return silence(KR_ALARM_HEARTBEAT_STALE, permit_silent_us(permits, wall_us), limit_ms);
}

/* A gateway that stood still supervised nothing meanwhile. So it stops everything that it moves, whatever the inputs
 * show. */
static void supervise_permission(const struct permits *permits, const struct kr_station_config *config,
                                 const struct clock *clock, const struct job *job, struct alarms *alarms)
{
    int32_t limit_ms = config->heartbeat_limit_ms;
    uint16_t needed = permit_needed(config, (enum kr_job)job->kind, job->phase);
    uint16_t missing = permit_missing(permits, needed);
    if (clock->gap_us >= 1000LL * limit_ms)
        alarm_raise(alarms, silence(KR_ALARM_STOOD_STILL, clock->gap_us, limit_ms));
    else if (missing || !permits->heartbeat_fresh) /* a change of control also ends its freshness */
        alarm_raise(alarms, why_suspended(permits, clock->wall_us, limit_ms, missing, needed));
}

static bool all_linked(const struct kr_axis_in axis[], uint16_t rails)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        if (rails >> r & 1 && !axis[r].link)
            return false;
    return true;
}

static void raise_no_link(const struct rails *rails, const struct kr_axis_in *axis, uint16_t r, struct alarms *alarms)
{
    struct kr_alarm alarm = kr_motion_no_link(axis, kr_motion_docked(&rails->motion[r]));
    alarm.rail = (uint16_t)(r + 1);
    alarm_raise(alarms, alarm);
}

/* A rail of the job must have a link even before its turn. Without the link its drive inputs are missing, too: only the
 * link is named, because it is the cause. */
static void supervise_links(const struct rails *rails, const struct kr_axis_in axis[], uint16_t of_job,
                            struct alarms *alarms)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        if (of_job >> r & 1 && !axis[r].link)
            raise_no_link(rails, &axis[r], r, alarms);
}

/* Without a link this can't be told, and LINK_LOST is raised. */
static bool jog_let_go(const struct kr_axis_in *axis)
{
    return axis->link && !kr_motion_jog_enabled(axis);
}

/* Checks the conditions for a running job, before anything moves in this cycle. */
static void supervise_job(struct kr_station *s)
{
    if (s->unit.state != KR_STATE_EXECUTE && s->unit.state != KR_STATE_STARTING)
        return;
    uint16_t of_job = job_rails(&s->job, &s->config);
    supervise_links(&s->rails, s->in.axis, of_job, &s->alarms);
    if (all_linked(s->in.axis, of_job))
        supervise_permission(&s->permits, &s->config, &s->clock, &s->job, &s->alarms);
    if (permit_line_contradicts(&s->permits, &s->config, s->in.line_speed))
        alarm_raise(&s->alarms, (struct kr_alarm){.code = KR_ALARM_LINE_CONTRADICTS,
                                                  .value = s->in.line_speed,
                                                  .limit = permit_standing_speed(&s->config)});
    if (job_traits(s->job.kind)->held_to_run && jog_let_go(&s->in.axis[s->job.rail - 1]))
        alarm_raise(&s->alarms, (struct kr_alarm){.code = KR_ALARM_JOG_ENABLE_LOST, .rail = s->job.rail});
}

static void outputs(const struct kr_station *s, struct kr_station_out *out)
{
    memset(out, 0, sizeof *out);
    out->at_rest =
        !unit_in_job(s->unit.state) && s->unit.state != KR_STATE_STOPPING && s->unit.state != KR_STATE_ABORTING;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        in.resets_faults = unit_resets_faults(&s->unit, s->clock.now_ms);
        kr_motion_outputs(&s->rails.motion[r], &in, &out->axis[r]);
        out->moving = out->moving || !kr_motion_at_rest(&s->rails.motion[r]);
    }
    out->at_rest = out->at_rest && !out->moving && durable_stored(&s->in, s->durable.serial);
    out->moving = out->moving || s->unit.state == KR_STATE_EXECUTE;
    out->plan_ticket = s->planning.ticket;
    out->knife_ticket = s->editing.step == EDIT_ASKING ? s->editing.ticket : 0;
    if (out->knife_ticket != 0)
        memcpy(out->knife_name, s->editing.knife.name, sizeof out->knife_name);
    out->request_busy = s->intake.step != INTAKE_FREE;
    out->edit_busy = s->editing.step != EDIT_FREE;
    out->halt = s->command.halt;
    out->drop_control = s->in.controlled && !s->permits.heartbeat_fresh &&
                        permit_plc_silent_us(&s->permits, s->clock.wall_us) >= 1000LL * s->config.control_limit_ms;
}

/* For a gateway that restarts while something moves: stops a drive that runs in its first answer. Drives over Modbus
 * answer when they are connected, each at its own time. */
static void stop_what_runs(struct kr_station *s)
{
    bool aborts = s->unit.state == KR_STATE_ABORTING || s->unit.state == KR_STATE_ABORTED;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        if (kr_motion_meet(&s->rails.motion[r], &in))
            unit_enter(s, aborts ? KR_STATE_ABORTING : KR_STATE_STOPPING);
    }
}

/* A plan is large and rare, so that it is not copied without a ticket. */
static void take_images(struct kr_station_in *is, const struct kr_station_in *in)
{
    if (in->plan.ticket != 0)
        is->plan = in->plan;
    memcpy(is, in, offsetof(struct kr_station_in, plan));
    is->plan.ticket = in->plan.ticket;
}

static void clock_step(struct clock *clock, const struct kr_station_in *in)
{
    clock->now_us += in->dt_us;
    clock->now_ms = clock->now_us / 1000;
    clock->wall_us += in->wall_dt_us;
    clock->gap_us = in->wall_dt_us;
    if (clock->gap_us > clock->own_gap_us) {
        clock->own_gap_us = clock->gap_us;
        clock->own_gap_at_us = clock->wall_us;
    }
    clock->serial++;
}

/* Where hands may have been, a measured position becomes remembered, and nothing is verified. */
static void take_doubt(struct kr_station *s, uint16_t r, enum hands_verdict verdict)
{
    static const enum rail_doubt doubt[] = {
        [HANDS_SET_ASIDE] = DOUBT_FOR_NOW, [HANDS_OVER] = DOUBT_IS_OVER, [HANDS_THERE] = DOUBT_TO_STAY};
    bool may_return = verdict != HANDS_THERE && verify_may_return(&s->placement);
    if (verdict == HANDS_NO_NEWS)
        return;
    rail_doubt(s, r, doubt[verdict]);
    if (may_return)
        verify_set_aside(&s->placement);
    else if (verify_may_return(&s->placement))
        verify_forget(&s->placement);
}

/* There is no doubt any more: the proof that was set aside counts again if it still holds. */
static void believe_again(struct placement *placement, struct planning *planning,
                          const struct kr_station_config *config, const struct kr_durable *durable)
{
    proof_plan(planning, config, durable);
    verify_again(placement, config, durable, planning);
}

static void doubt_step(struct kr_station *s)
{
    struct hands_view view = {.config = &s->config,
                              .permits = &s->permits,
                              .rails = &s->rails,
                              .axis = s->in.axis,
                              .durable = &s->durable,
                              .access_count = s->in.access_count,
                              .now_ms = s->clock.now_ms,
                              .gap_us = s->clock.gap_us,
                              .in_job = unit_in_job(s->unit.state)};
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_alarm alarm;
        view.may_return = verify_may_return(&s->placement);
        take_doubt(s, r, hands_step(&s->hands, &view, r, &alarm));
        if (alarm.code != 0)
            alarm_raise(&s->alarms, alarm);
    }
    hands_sum_up(&s->hands, &view);
    if (s->permits.heartbeat_fresh)
        durable_count_access(&s->durable, s->config.geometry.n_rails, s->hands.count);
    if (s->placement.set_aside && !hands_aside(&s->hands)) {
        believe_again(&s->placement, &s->planning, &s->config, &s->durable);
        edges_name(view_of_edges(s), s->placement.verified, &s->alarms);
    }
}

/* The alarm is raised also at rest, so that somebody learns of it before the next order. At rest it ends with its
 * cause, because it interrupted nothing; in a job somebody must acknowledge it. */
static void book_alarm(struct alarms *alarms, bool in_job, struct kr_alarm alarm, bool stands)
{
    if (stands)
        alarm_raise(alarms, alarm);
    else if (!in_job)
        alarm_end(alarms, (enum kr_alarm_code)alarm.code);
}

static void book_step(struct kr_station *s)
{
    static const struct kr_alarm gone = {.code = KR_ALARM_BOOK_GONE}, failed = {.code = KR_ALARM_BOOK_FAILED},
                                 full = {.code = KR_ALARM_BOOK_DISK_FULL, .limit = KR_BOOK_FREE_KB};
    bool in_job = unit_in_job(s->unit.state);
    book_alarm(&s->alarms, in_job, gone, s->in.book_gone);
    book_alarm(&s->alarms, in_job, full, s->in.book_disk_full);
    book_alarm(&s->alarms, in_job, failed, s->in.book_failed);
    int64_t waited_ms = durable_waits_ms(&s->storing, &s->durable, &s->in, s->clock.wall_us);
    if (waited_ms >= KR_BOOK_LATE_MS)
        alarm_raise(&s->alarms, (struct kr_alarm){KR_ALARM_BOOK_LATE, 0, 0, (int32_t)waited_ms, KR_BOOK_LATE_MS});
}

/* Knives that were in a crash must be inspected, and their positions are unknown. */
static void crash_step(struct kr_station *s)
{
    if (!edges_new_crash(&s->edges, s->in.crash, s->in.crash_cut))
        return;
    uint16_t rails = edges_strike(view_of_edges(s), &s->edges, &s->durable);
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (rails >> r & 1)
            rail_doubt(s, r, DOUBT_TO_STAY);
    verify_forget(&s->placement);
    test_cuts_order_changed(&s->test_cuts);
    edges_name(view_of_edges(s), false, &s->alarms);
    alarms_react(&s->alarms, KR_ALARM_KNIFE_STRUCK);
}

static void rails_step(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        struct kr_motion_out out;
        in.mode = unit_mode(s);
        in.resets_faults = unit_resets_faults(&s->unit, s->clock.now_ms);
        out.n_events = 0;
        kr_motion_step(&s->rails.motion[r], &in, &out);
        rail_events(s, r, &out);
    }
}

static void signals_step(struct kr_station *s)
{
    struct line_view view = {.config = &s->config,
                             .rails = &s->rails,
                             .axis = s->in.axis,
                             .placement = &s->placement,
                             .permits = &s->permits,
                             .alarms = &s->alarms,
                             .hands = &s->hands,
                             .edges = view_of_edges(s),
                             .state = s->unit.state,
                             .book_failed = s->in.book_failed};
    line_step(&s->line, &view);
    proof_step(&s->durable, &s->config, &s->hands, &s->planning.plan, s->line.status & KR_LINE_MAY_START,
               verify_may_return(&s->placement));
}

void kr_station_step(struct kr_station *s, const struct kr_station_in *in, struct kr_station_out *out)
{
    take_images(&s->in, in);
    clock_step(&s->clock, in);
    stop_what_runs(s);
    permit_step(&s->permits, &s->config, &s->in, s->clock.wall_us);
    doubt_step(s);
    temperature_watch(&s->config.carriage[0], &s->in, s->durable.references[0].correction.expansion_ppb,
                      s->permits.heartbeat_fresh, unit_in_job(s->unit.state), &s->alarms);
    book_step(s);
    jog_watch(&s->jog, in->jog_refresh, s->clock.wall_us);
    metres_step(s);
    wear_step(&s->wear, &s->config, &s->durable, edit_is_waiting(&s->editing), &s->alarms);
    crash_step(s);
    supervise_job(s);
    unit_react(s);
    command_step(s);
    intake_step(s);
    edit_step(s);
    unit_step(s);
    rails_step(s);
    unit_react(s);
    job_progress(s);
    signals_step(s);
    alarm_times_step(&s->alarm_times, &s->alarms, s->clock.wall_us);
    state_times_step(&s->state_times, s->unit.state, in->wall_dt_us);
    outputs(s, out);
}

/* ---- for those around it --------------------------------------------------------------------------------------- */

const struct kr_plan_request *kr_station_plan_request(const struct kr_station *s)
{
    return &s->planning.request;
}

const struct kr_durable *kr_station_durable(const struct kr_station *s)
{
    return &s->durable;
}

enum kr_unit_state kr_station_state(const struct kr_station *s)
{
    return s->unit.state;
}

uint16_t kr_station_alarms(const struct kr_station *s, const struct kr_alarm **alarm)
{
    *alarm = s->alarms.at;
    return s->alarms.n;
}

const struct kr_result *kr_station_refusal(const struct kr_station *s)
{
    return alarm_stands(&s->alarms, KR_ALARM_PLAN_REFUSED, OF_ANY_RAIL) ? &s->planning.refusal : NULL;
}

const struct kr_plan *kr_station_plan(const struct kr_station *s)
{
    return &s->planning.plan;
}

bool kr_station_plan_valid(const struct kr_station *s)
{
    return s->planning.valid;
}
