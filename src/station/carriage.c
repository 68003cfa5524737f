/* One carriage: the sequence of its tasks, each step waiting for proof under its own time limit and alarm. What
 * ends a task early is in wind_down.c; nothing here moves unless the mode is MODE_RUN. */
#include "state.h"

#include <string.h>

const struct kr_axis_in *axis_of(const struct kr_station *s, const struct carriage *c)
{
    return &s->in.axis[c->rail];
}

static const struct kr_carriage_config *config_of(const struct kr_station *s, const struct carriage *c)
{
    return &s->config.carriage[c->rail];
}

static const struct kr_rail_geometry *rail_of(const struct kr_station *s, const struct carriage *c)
{
    return &s->config.geometry.rail[c->rail];
}

/* Whether the input answers the output with which the present phase began. */
bool carriage_fresh(const struct kr_station *s, const struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    return in->link && (int32_t)(in->answers - c->proof) >= 0;
}

/* Whether all of `on` is there and none of `off`, whatever the age of the proof: for supervision. */
bool carriage_input(const struct kr_station *s, const struct carriage *c, uint16_t on, uint16_t off)
{
    const struct kr_axis_in *in = axis_of(s, c);
    return in->link && (in->inputs & on) == on && (in->inputs & off) == 0;
}

bool pin_is_out(const struct kr_station *s, const struct carriage *c)
{
    return carriage_input(s, c, KR_DI_PIN_OUT, KR_DI_PIN_IN);
}

bool pin_is_in(const struct kr_station *s, const struct carriage *c)
{
    return carriage_input(s, c, KR_DI_PIN_IN, KR_DI_PIN_OUT);
}

static bool proven(const struct kr_station *s, const struct carriage *c, uint16_t on, uint16_t off)
{
    return carriage_fresh(s, c) && carriage_input(s, c, on, off);
}

/* A drive whose position jumped still says that it is referenced; until it is homed it is not believed. */
bool carriage_has_datum(const struct kr_station *s, const struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    return in->link && in->referenced && !s->durable.datum_doubted[c->rail];
}

bool carriage_at_rest(const struct carriage *c)
{
    return c->phase == KR_CARRIAGE_OFF;
}

bool carriage_parked(const struct kr_station *s, const struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    int64_t off_um = (int64_t)in->position_um - config_of(s, c)->park_um;
    int32_t window_um = config_of(s, c)->park_window_um;
    return carriage_has_datum(s, c) && off_um >= -window_um && off_um <= window_um;
}

bool carriage_clamped(const struct kr_station *s, const struct carriage *c)
{
    if (config_of(s, c)->clamping == KR_CLAMP_PER_HOLDER)
        return true;
    return carriage_input(s, c, KR_DI_CLAMP_CLOSED, KR_DI_CLAMP_OPEN);
}

void carriage_enter(struct kr_station *s, struct carriage *c, enum kr_carriage_phase phase)
{
    c->phase = phase;
    c->since_ms = s->now_ms;
    c->proof = s->serial;
    c->motion.still_since_ms = s->now_ms;
}

void carriage_task(struct kr_station *s, struct carriage *c, enum task task)
{
    c->task = task;
    c->task_done = false;
    c->move = 0;
    c->tries = 0;
    if (c->phase == KR_CARRIAGE_READY)
        carriage_enter(s, c, KR_CARRIAGE_READY);
}

static void task_done(struct kr_station *s, struct carriage *c, enum kr_carriage_phase phase)
{
    c->task = TASK_NONE;
    c->task_done = true;
    carriage_enter(s, c, phase);
}

/* Names the cause; the unit answers with the alarm's reaction, which also stops this carriage. */
void carriage_trip(struct kr_station *s, struct carriage *c, enum kr_alarm_code code, uint16_t item,
                   int32_t value, int32_t limit)
{
    alarm_raise(s, (struct kr_alarm){(uint16_t)code, (uint16_t)(c->rail + 1), item, value, limit});
    c->drive.setpoint = SETPOINT_NONE;
    wind_down_begin(s, c);
}

static bool late(const struct kr_station *s, const struct carriage *c, int32_t limit_ms)
{
    return s->now_ms - c->since_ms >= limit_ms;
}

static void travel(struct kr_station *s, struct carriage *c, int32_t to_um)
{
    if (!pin_is_out(s, c)) { /* it would drag a holder into its neighbour */
        carriage_trip(s, c, KR_ALARM_PIN_UNPROVEN, c->docked, 0, 0);
        return;
    }
    drive_move(s, c, to_um, job_speed(s, c->rail, rail_of(s, c)->empty));
    carriage_enter(s, c, KR_CARRIAGE_TRAVELLING);
}

/* ---- moving holders ------------------------------------------------------------------------------------------ */

static const struct kr_move *move_of(const struct kr_station *s, const struct carriage *c)
{
    return &s->plan.rail[c->rail].move[c->move];
}

static bool needs_overtravel(const struct kr_station *s, const struct carriage *c)
{
    const struct kr_rail_geometry *rail = rail_of(s, c);
    const struct kr_move *move = move_of(s, c);
    if (rail->approach == 0 || rail->overtravel_um == 0)
        return false;
    return rail->approach > 0 ? move->to_um < move->from_um : move->to_um > move->from_um;
}

static int32_t overtravel_um(const struct kr_station *s, const struct carriage *c)
{
    const struct kr_rail_geometry *rail = rail_of(s, c);
    return move_of(s, c)->to_um - rail->approach * rail->overtravel_um;
}

/* The gap between the swept path and a neighbour as it stands now. The plan has taken care of it; the station looks
 * again before it docks, since a neighbour may not stand where the plan thought. Two holders that stay within their
 * deadbands may be that much nearer than their spacing, and a gap found too narrow may stay as it is. */
static bool path_is_clear(struct kr_station *s, struct carriage *c, int side)
{
    const struct kr_move *move = move_of(s, c);
    const struct kr_holder_data *row = s->durable.holder[c->rail];
    int32_t end_um = needs_overtravel(s, c) ? overtravel_um(s, c) : move->to_um;
    int32_t at_um = row[move->holder - 1].position_um;
    int32_t low_um = at_um < end_um ? at_um : end_um, high_um = at_um < end_um ? end_um : at_um;
    int n = rail_of(s, c)->n_holders, i = move->holder - 1 + side;
    if (needs_overtravel(s, c)) {
        low_um = low_um < move->to_um ? low_um : move->to_um;
        high_um = high_um > move->to_um ? high_um : move->to_um;
    }
    while (i >= 0 && i < n && !holder_present(&row[i]))
        i += side;
    if (i < 0 || i >= n)
        return true;
    int32_t need_um =
        kr_spacing_um(&s->config.geometry, row[move->holder - 1].holder_class, row[i].holder_class) -
        2 * s->config.deadband_um;
    int32_t now_um = side * (row[i].position_um - at_um);
    int32_t gap_um = side > 0 ? row[i].position_um - high_um : low_um - row[i].position_um;
    if (row[i].known != KR_UNKNOWN && gap_um >= (now_um < need_um ? now_um : need_um))
        return true;
    carriage_trip(s, c, KR_ALARM_PATH_BLOCKED, move->holder, row[i].known == KR_UNKNOWN ? 0 : gap_um,
                  need_um);
    return false;
}

static void move_begin(struct kr_station *s, struct carriage *c)
{
    const struct kr_move *move = move_of(s, c);
    if (!path_is_clear(s, c, -1) || !path_is_clear(s, c, 1))
        return;
    c->tries = 0;
    s->durable.docking[c->rail] = move->holder;
    durable_touch(s);
    c->docking_serial = s->durable.serial;
    travel(s, c, s->durable.holder[c->rail][move->holder - 1].position_um);
}

static void dock(struct kr_station *s, struct carriage *c)
{
    c->docked = move_of(s, c)->holder;
    c->tries++;
    carriage_enter(s, c, KR_CARRIAGE_DOCKING);
}

static void docking_step(struct kr_station *s, struct carriage *c)
{
    if (proven(s, c, KR_DI_PIN_IN, KR_DI_PIN_OUT)) {
        holder_set(s, c->rail, c->docked, s->durable.holder[c->rail][c->docked - 1].position_um, KR_UNKNOWN);
        c->brake_is_open = true; /* from here on it may be */
        carriage_enter(s, c, KR_CARRIAGE_FREEING);
    } else if (late(s, c, config_of(s, c)->pin_limit_ms)) {
        carriage_enter(s, c, KR_CARRIAGE_BACKING);
    }
}

static void count_retry(struct kr_station *s, struct carriage *c)
{
    struct kr_holder_data *holder = &s->durable.holder[c->rail][c->docked - 1];
    uint16_t notice = config_of(s, c)->retries_notice;
    if (holder->dock_retries < UINT16_MAX)
        holder->dock_retries++;
    s->record.rail[c->rail].retries++;
    durable_touch(s);
    if (notice && holder->dock_retries == notice)
        alarm_raise(
            s, (struct kr_alarm){KR_ALARM_MANY_RETRIES, (uint16_t)(c->rail + 1), c->docked, notice, notice});
}

static void backing_step(struct kr_station *s, struct carriage *c)
{
    if (proven(s, c, KR_DI_PIN_OUT, KR_DI_PIN_IN)) {
        uint16_t holder = c->docked;
        count_retry(s, c);
        if (c->tries < config_of(s, c)->dock_tries) {
            dock(s, c);
            return;
        }
        c->docked = 0;
        carriage_trip(s, c, KR_ALARM_PIN_NOT_IN, holder, c->tries, 0);
    } else if (late(s, c, config_of(s, c)->pin_limit_ms)) {
        carriage_trip(s, c, KR_ALARM_PIN_NOT_OUT, c->docked, config_of(s, c)->pin_limit_ms, 0);
    }
}

static void drag(struct kr_station *s, struct carriage *c, uint8_t leg)
{
    c->leg = leg;
    bool over = leg == 0 && needs_overtravel(s, c);
    drive_move(s, c, over ? overtravel_um(s, c) : move_of(s, c)->to_um,
               job_speed(s, c->rail, rail_of(s, c)->drag));
    carriage_enter(s, c, KR_CARRIAGE_DRAGGING);
}

static void freeing_step(struct kr_station *s, struct carriage *c)
{
    if (proven(s, c, KR_DI_BRAKE_OPEN, KR_DI_BRAKE_CLOSED))
        drag(s, c, 0);
    else if (late(s, c, config_of(s, c)->brake_limit_ms))
        carriage_trip(s, c, KR_ALARM_BRAKE_NOT_OPEN, c->docked, config_of(s, c)->brake_limit_ms, 0);
}

static void dragging_step(struct kr_station *s, struct carriage *c)
{
    if (c->drive.setpoint != SETPOINT_REACHED)
        return;
    if (c->leg == 0 && needs_overtravel(s, c))
        drag(s, c, 1);
    else
        carriage_enter(s, c, KR_CARRIAGE_SETTLING);
}

/* Before a pin is driven out, what holds the holder has to be proven; the holder stays as known, or unknown, as it
 * was left. */
static void free_braking_step(struct kr_station *s, struct carriage *c)
{
    const struct kr_carriage_config *config = config_of(s, c);
    bool braked = proven(s, c, KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_OPEN);
    if (braked && carriage_clamped(s, c)) {
        c->brake_is_open = false;
        carriage_enter(s, c, KR_CARRIAGE_UNDOCKING);
    } else if (!braked && late(s, c, config->brake_limit_ms)) {
        carriage_trip(s, c, KR_ALARM_BRAKE_NOT_CLOSED, c->docked, config->brake_limit_ms, 0);
    } else if (braked && late(s, c, config->clamp_limit_ms)) {
        carriage_trip(s, c, KR_ALARM_CLAMP_NOT_CLOSED, 0, config->clamp_limit_ms, 0);
    }
}

static void braking_step(struct kr_station *s, struct carriage *c)
{
    if (c->task == TASK_FREE) {
        free_braking_step(s, c);
    } else if (proven(s, c, KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_OPEN)) {
        c->brake_is_open = false;
        holder_set(s, c->rail, c->docked, axis_of(s, c)->position_um, KR_PLACED);
        carriage_enter(s, c, KR_CARRIAGE_UNDOCKING);
    } else if (late(s, c, config_of(s, c)->brake_limit_ms)) {
        carriage_trip(s, c, KR_ALARM_BRAKE_NOT_CLOSED, c->docked, config_of(s, c)->brake_limit_ms, 0);
    }
}

static void undocking_step(struct kr_station *s, struct carriage *c)
{
    if (proven(s, c, KR_DI_PIN_OUT, KR_DI_PIN_IN)) {
        c->docked = 0;
        s->durable.docking[c->rail] = 0;
        durable_touch(s);
        if (c->task == TASK_FREE) {
            task_done(s, c, KR_CARRIAGE_OFF);
            return;
        }
        struct kr_record_rail *record = &s->record.rail[c->rail];
        if (s->job.correcting)
            record->corrections++;
        else
            record->moves++;
        c->move++;
        c->moves_done++;
        carriage_enter(s, c, KR_CARRIAGE_READY);
    } else if (late(s, c, config_of(s, c)->pin_limit_ms)) {
        carriage_trip(s, c, KR_ALARM_PIN_NOT_OUT, c->docked, config_of(s, c)->pin_limit_ms, 0);
    }
}

/* ---- tasks ----------------------------------------------------------------------------------------------------- */

/* Until homing is done: jumps can't be seen meanwhile, and if it is broken off the old datum may be none any more. */
static void give_datum_up(struct kr_station *s, struct carriage *c)
{
    s->durable.datum_doubted[c->rail] = 1;
    durable_touch(s);
}

static void ready_step(struct kr_station *s, struct carriage *c)
{
    switch (c->task) {
    case TASK_MOVES:
        if (c->move < s->plan.rail[c->rail].n_moves)
            move_begin(s, c);
        else
            task_done(s, c, KR_CARRIAGE_READY);
        break;
    case TASK_TRAVEL: travel(s, c, config_of(s, c)->park_um); break;
    case TASK_SCAN: scan_begin(s, c); break;
    case TASK_JOG: carriage_enter(s, c, KR_CARRIAGE_JOGGING); break;
    case TASK_HOME:
        if (pin_is_out(s, c)) {
            give_datum_up(s, c);
            drive_home(s, c);
            carriage_enter(s, c, KR_CARRIAGE_HOMING);
        } else {
            carriage_trip(s, c, KR_ALARM_PIN_UNPROVEN, c->docked, 0, 0);
        }
        break;
    case TASK_FREE: /* is for a drive that is off */
    case TASK_NONE: break;
    }
}

static void travelling_step(struct kr_station *s, struct carriage *c)
{
    if (c->drive.setpoint != SETPOINT_REACHED)
        return;
    if (c->task == TASK_TRAVEL)
        task_done(s, c, KR_CARRIAGE_READY);
    else if (durable_committed(s, c->docking_serial)) /* that this holder may be in motion is stored */
        dock(s, c);
}

static void homing_step(struct kr_station *s, struct carriage *c)
{
    if (c->drive.setpoint != SETPOINT_REACHED)
        return;
    c->drive.homing = false;
    c->motion.n_samples = 1; /* the position is of the new datum, the speed between two of them is not */
    s->durable.datum_doubted[c->rail] = 0;
    holders_demote(s, c->rail, KR_REMEMBERED); /* they were measured from another datum */
    durable_touch(s);
    task_done(s, c, KR_CARRIAGE_READY);
}

static void enabling_step(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    if (carriage_fresh(s, c) && kr_drive_state_of(in->statusword) == KR_DRIVE_OPERATION_ENABLED)
        carriage_enter(s, c, KR_CARRIAGE_READY);
    else if (late(s, c, config_of(s, c)->enable_limit_ms))
        carriage_trip(s, c, KR_ALARM_DRIVE_NOT_ENABLED, 0, in->statusword, 0);
}

static void off_step(struct kr_station *s, struct carriage *c)
{
    if (c->task == TASK_NONE)
        return;
    if (c->task == TASK_FREE) {
        c->tries = 0;
        carriage_enter(s, c, KR_CARRIAGE_BRAKING);
        return;
    }
    memset(&c->drive, 0, sizeof c->drive);
    c->drive.on = true;
    c->drive.target_um = axis_of(s, c)->position_um; /* none was offered: to stay is all that it could mean */
    carriage_enter(s, c, KR_CARRIAGE_ENABLING);
}

static void run_step(struct kr_station *s, struct carriage *c)
{
    switch (c->phase) {
    case KR_CARRIAGE_OFF: off_step(s, c); break;
    case KR_CARRIAGE_ENABLING: enabling_step(s, c); break;
    case KR_CARRIAGE_READY: ready_step(s, c); break;
    case KR_CARRIAGE_TRAVELLING: travelling_step(s, c); break;
    case KR_CARRIAGE_DOCKING: docking_step(s, c); break;
    case KR_CARRIAGE_BACKING: backing_step(s, c); break;
    case KR_CARRIAGE_FREEING: freeing_step(s, c); break;
    case KR_CARRIAGE_DRAGGING: dragging_step(s, c); break;
    case KR_CARRIAGE_SETTLING:
        if (late(s, c, config_of(s, c)->settle_ms))
            carriage_enter(s, c, KR_CARRIAGE_BRAKING);
        break;
    case KR_CARRIAGE_BRAKING: braking_step(s, c); break;
    case KR_CARRIAGE_UNDOCKING: undocking_step(s, c); break;
    case KR_CARRIAGE_SCANNING:
        scan_step(s, c);
        if (c->phase == KR_CARRIAGE_SCANNING && c->scan.step == SCAN_DONE)
            task_done(s, c, KR_CARRIAGE_READY);
        break;
    case KR_CARRIAGE_HOMING: homing_step(s, c); break;
    case KR_CARRIAGE_JOGGING: jog_step(s, c); break;
    case KR_CARRIAGE_STOPPING: break; /* wind_down.c */
    }
}

/* At rest: nothing keeps a clamp open; a drive that is on all the same, as after a restart of the gateway in mid-motion,
 * is stopped; a pin that is proven out has let its holder go, however that came about. */
static void rest_step(struct kr_station *s, struct carriage *c)
{
    clamp_again(s, c);
    if (wind_down_found_running(s, c))
        return;
    if (s->durable.docking[c->rail] == 0 || !pin_is_out(s, c))
        return;
    c->docked = 0;
    s->durable.docking[c->rail] = 0;
    durable_touch(s);
}

void carriage_step(struct kr_station *s, struct carriage *c, enum run_mode mode)
{
    carriage_supervise(s, c);
    if (mode != MODE_RUN && c->phase != KR_CARRIAGE_OFF && c->phase != KR_CARRIAGE_STOPPING)
        wind_down_begin(s, c);
    if (c->phase == KR_CARRIAGE_STOPPING) {
        wind_down_step(s, c, mode);
        return;
    }
    if (mode != MODE_RUN) {
        rest_step(s, c);
        return;
    }
    drive_step(s, c);
    if (c->phase != KR_CARRIAGE_STOPPING)
        run_step(s, c);
}

/* ---- outputs: from the state alone ------------------------------------------------------------------------------- */

static unsigned device_outputs(const struct carriage *c)
{
    switch (c->phase) {
    case KR_CARRIAGE_DOCKING: return KR_DO_PIN_IN;
    case KR_CARRIAGE_FREEING:
    case KR_CARRIAGE_DRAGGING:
    case KR_CARRIAGE_SETTLING: return KR_DO_PIN_IN | KR_DO_BRAKE_OPEN;
    case KR_CARRIAGE_BRAKING: return c->task == TASK_FREE ? 0u : KR_DO_PIN_IN;
    case KR_CARRIAGE_UNDOCKING:
    case KR_CARRIAGE_BACKING:
    case KR_CARRIAGE_ENABLING:
    case KR_CARRIAGE_READY:
    case KR_CARRIAGE_TRAVELLING:
    case KR_CARRIAGE_SCANNING:
    case KR_CARRIAGE_JOGGING:
    case KR_CARRIAGE_HOMING: return KR_DO_PIN_OUT;
    case KR_CARRIAGE_STOPPING:
        if (c->wind_down == WIND_DECELERATE && c->docked)
            return c->brake_is_open ? KR_DO_PIN_IN | KR_DO_BRAKE_OPEN : 0u;
        return c->wind_down == WIND_UNDOCK ? KR_DO_PIN_OUT : 0u;
    case KR_CARRIAGE_OFF: break;
    }
    return 0;
}

void carriage_outputs(const struct kr_station *s, const struct carriage *c, struct kr_axis_out *out)
{
    memset(out, 0, sizeof *out);
    out->serial = s->serial;
    drive_outputs(s, c, out);
    out->outputs = (uint16_t)(device_outputs(c) | (c->clamp_open ? KR_DO_CLAMP_OPEN : 0u));
    out->probe_function = scan_probe(c);
}
