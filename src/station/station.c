#include "state.h"

#include <string.h>

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
    s->durable = *durable;
    s->verdict = durable->verdict;
    s->edited = durable->edit;
    s->state = KR_STATE_STOPPED;
    rails_init(s);
    if (s->durable.in_force)
        s->cuts_valid = kr_cuts_make(&config->geometry, &s->durable.order, &s->cuts).code == KR_OK;
    durable_touch(s);
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

/* What is measured from, or by, may not change under a carriage. */
static void keep_machine(struct kr_station_config *config, const struct kr_station_config *was)
{
    struct kr_geometry now = config->geometry;
    config->format = was->format;
    config->geometry = was->geometry;
    config->geometry.tolerance_um = now.tolerance_um;
    config->geometry.tolerance_max_um = now.tolerance_max_um;
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        struct kr_carriage_config *c = &config->carriage[r];
        const struct kr_carriage_config *is = &was->carriage[r];
        c->clamping = is->clamping;
        c->travel_min_um = is->travel_min_um;
        c->travel_max_um = is->travel_max_um;
        c->park_um = is->park_um;
        c->switch_offset_um = is->switch_offset_um;
        c->scan_speed_um_per_s = is->scan_speed_um_per_s;
        c->scan_bias_um = is->scan_bias_um;
        c->flag_width_um = is->flag_width_um;
    }
}

static void take_geometry(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_geometry_changed(&s->motion[r], &in);
        rail_learned(s, r);
    }
    s->verified = s->slits_measured = s->plan_valid = false;
    s->cuts_valid =
        s->durable.in_force && kr_cuts_make(&s->config.geometry, &s->durable.order, &s->cuts).code == KR_OK;
    s->order_generation++;
    durable_touch(s);
}

static bool same_tolerances(const struct kr_station_config *a, const struct kr_station_config *b)
{
    return a->geometry.tolerance_um == b->geometry.tolerance_um && a->pair_window_um == b->pair_window_um &&
           a->slit_tolerance_um == b->slit_tolerance_um;
}

bool kr_station_reconfigure(struct kr_station *s, const struct kr_station_config *config, bool geometry)
{
    bool idle = s->state == KR_STATE_STOPPED || s->state == KR_STATE_IDLE;
    struct kr_station_config was = s->config;
    if (geometry && (!idle || !same_holders(&config->geometry, &was.geometry)))
        return false;
    s->config = *config;
    if (geometry)
        take_geometry(s);
    else
        keep_machine(&s->config, &was);
    if (!same_tolerances(&s->config, &was))
        s->verified = false; /* it was judged by the old ones */
    return true;
}

/* ---- the cycle ------------------------------------------------------------------------------------------------------------ */

static enum kr_alarm_code why_suspended(const struct kr_station *s)
{
    if (s->control_lost)
        return KR_ALARM_CONTROL_CHANGED;
    return s->heartbeat_fresh ? KR_ALARM_PERMISSIVE_LOST : KR_ALARM_HEARTBEAT_STALE;
}

static bool all_linked(const struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (!s->in.axis[r].link)
            return false;
    return true;
}

/* A rail whose turn has not come yet has to answer, too. Its hard-wired permissives are gone with it: the link is the
 * cause, and is named alone. */
static void supervise_links(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (!s->in.axis[r].link)
            alarm_raise(s, (struct kr_alarm){KR_ALARM_LINK_LOST, (uint16_t)(r + 1),
                                             kr_motion_docked(&s->motion[r]), 0, 0});
}

/* What must hold while the job runs; looked at before anything moves in this cycle. */
static void supervise_job(struct kr_station *s)
{
    if (s->state != KR_STATE_EXECUTE && s->state != KR_STATE_STARTING)
        return;
    supervise_links(s);
    uint16_t needed = permit_needed(s, (enum kr_job)s->job.kind, s->job.phase);
    uint16_t missing = permit_missing(s, needed);
    if (all_linked(s) && (missing || !s->heartbeat_fresh)) { /* which a change of control ends, too */
        struct kr_alarm alarm = {.code = (uint16_t)why_suspended(s), .value = missing, .limit = needed};
        if (alarm.code == KR_ALARM_HEARTBEAT_STALE) {
            alarm.value = (int32_t)((s->wall_us - s->heartbeat_us) / 1000);
            alarm.limit = s->config.heartbeat_limit_ms;
        }
        alarm_raise(s, alarm);
    }
    if (s->job.kind == KR_JOB_JOG && !jog_enabled(s, s->job.rail))
        alarm_raise(s, (struct kr_alarm){.code = KR_ALARM_JOG_ENABLE_LOST, .rail = s->job.rail});
    if (s->in.book_failed)
        alarm_raise(s, (struct kr_alarm){.code = KR_ALARM_BOOK_FAILED});
}

static void outputs(const struct kr_station *s, struct kr_station_out *out)
{
    memset(out, 0, sizeof *out);
    out->at_rest = !unit_in_job(s) && s->state != KR_STATE_STOPPING && s->state != KR_STATE_ABORTING;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        in.resets_faults = unit_resets_faults(s);
        kr_motion_outputs(&s->motion[r], &in, &out->axis[r]);
        out->moving = out->moving || !kr_motion_at_rest(&s->motion[r]);
    }
    out->at_rest = out->at_rest && !out->moving && durable_committed(s, s->durable.serial);
    out->moving = out->moving || s->state == KR_STATE_EXECUTE;
    out->plan_ticket = s->plan_ticket;
    out->request_busy = s->intake.step != INTAKE_FREE;
    out->edit_busy = s->editing.storing;
    out->drop_control = s->in.controlled && !s->heartbeat_fresh &&
                        s->wall_us - s->heartbeat_us >= 1000LL * s->config.heartbeat_limit_ms;
}

/* The gateway restarts while something moves: what a drive's first answer shows. Drives at the end of a wire answer when
 * they are connected, each at its own time. */
static void stop_what_runs(struct kr_station *s)
{
    bool aborts = s->state == KR_STATE_ABORTING || s->state == KR_STATE_ABORTED;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        if (kr_motion_meet(&s->motion[r], &in))
            unit_enter(s, aborts ? KR_STATE_ABORTING : KR_STATE_STOPPING);
    }
}

/* A plan is large, and comes once in a while: without a ticket it is left where it is. */
static void take_images(struct kr_station *s, const struct kr_station_in *in)
{
    if (in->plan.ticket != 0)
        s->in.plan = in->plan;
    memcpy(&s->in, in, offsetof(struct kr_station_in, plan));
    s->in.plan.ticket = in->plan.ticket;
}

void kr_station_step(struct kr_station *s, const struct kr_station_in *in, struct kr_station_out *out)
{
    take_images(s, in);
    s->now_us += in->dt_us;
    s->now_ms = s->now_us / 1000;
    s->wall_us += in->wall_dt_us;
    s->serial++;
    stop_what_runs(s);
    permit_step(s);
    durable_watch(s);
    jog_watch(s);
    metres_step(s);
    supervise_job(s);
    unit_react(s);
    command_step(s);
    intake_step(s);
    edit_step(s);
    unit_step(s);
    rails_step(s, unit_mode(s), unit_resets_faults(s));
    unit_react(s);
    job_progress(s);
    outputs(s, out);
}

/* ---- to the line: 0 in any doubt --------------------------------------------------------------------------------------------- */

static bool all_clear(const struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        if (!kr_motion_at_rest(&s->motion[r]) || !rail_pin_is_out(s, r) || !rail_clamped(s, r) ||
            !rail_parked(s, r))
            return false;
    }
    return true;
}

uint16_t line_status(const struct kr_station *s)
{
    bool in_job = unit_in_job(s);
    bool placed = s->verified && s->plan_valid && s->durable.in_force && !in_job && all_clear(s);
    bool good = placed && s->heartbeat_fresh && !s->in.book_failed && !alarm_stops(s, NULL) &&
                s->state != KR_STATE_ABORTED && s->state != KR_STATE_ABORTING;
    uint16_t status = in_job ? KR_LINE_RAISE : 0;
    return good ? (uint16_t)(status | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER) : status;
}

/* ---- for those around it --------------------------------------------------------------------------------------------------------- */

const struct kr_plan_request *kr_station_plan_request(const struct kr_station *s)
{
    return &s->plan_request;
}

const struct kr_durable *kr_station_durable(const struct kr_station *s)
{
    return &s->durable;
}

enum kr_unit_state kr_station_state(const struct kr_station *s)
{
    return s->state;
}

uint16_t kr_station_alarms(const struct kr_station *s, const struct kr_alarm **alarm)
{
    *alarm = s->alarm;
    return s->n_alarms;
}

const struct kr_result *kr_station_refusal(const struct kr_station *s)
{
    for (uint16_t i = 0; i < s->n_alarms; i++)
        if (s->alarm[i].code == KR_ALARM_PLAN_REFUSED)
            return &s->refusal;
    return NULL;
}

const struct kr_plan *kr_station_plan(const struct kr_station *s)
{
    return &s->plan;
}

bool kr_station_plan_valid(const struct kr_station *s)
{
    return s->plan_valid;
}
