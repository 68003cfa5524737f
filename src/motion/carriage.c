/* One carriage: the sequences of its tasks. Each step waits for proof under its own time limit and alarm. wind_down.c
 * ends a task early. Nothing here moves unless the mode is KR_MOTION_RUN. */
#include "carriage.h"

#include <string.h>

#include "clamp.h"
#include "datum.h"
#include "drive.h"
#include "find.h"
#include "gauge.h"
#include "jog.h"
#include "knowledge.h"
#include "scan.h"
#include "signals.h"
#include "supervise.h"
#include "timing.h"
#include "trip.h"
#include "try.h"
#include "wind_down.h"

static void task_done(const struct rail *r, enum kr_carriage_phase phase)
{
    r->m->task = KR_TASK_NONE;
    r->m->task_done = true;
    carriage_enter(r, phase);
}

static void travel(const struct rail *r, int32_t to_um)
{
    if (!pin_is_out(r)) { /* it could drag a holder into its neighbour */
        carriage_trip(r, KR_ALARM_PIN_UNPROVEN, r->m->docked, 0, 0);
        return;
    }
    drive_move(r, position_for_um(r, to_um), limited_speed(r, r->in->rail->empty));
    carriage_enter(r, KR_CARRIAGE_TRAVELLING);
}

/* ---- moving holders ------------------------------------------------------------------------------------------ */

static const struct kr_move *move_of(const struct rail *r)
{
    return &r->in->move[r->m->move];
}

static bool needs_overtravel(const struct rail *r)
{
    const struct kr_rail_geometry *rail = r->in->rail;
    const struct kr_move *move = move_of(r);
    if (rail->approach == 0 || rail->overtravel_um == 0 || r->in->drags_straight)
        return false;
    return rail->approach > 0 ? move->to_um < move->from_um : move->to_um > move->from_um;
}

static int32_t overtravel_um(const struct rail *r)
{
    const struct kr_rail_geometry *rail = r->in->rail;
    return move_of(r)->to_um - rail->approach * rail->overtravel_um;
}

/* Checks the gap between the swept path and a neighbour's present position. The plan has already checked it, but the
 * neighbour may not stand where the plan assumed, so the carriage checks again before it docks. Two holders that stay
 * within their deadbands may be nearer than their spacing by two deadbands, and a gap that was already too narrow may
 * stay as it is. */
static bool path_is_clear(const struct rail *r, int side)
{
    const struct kr_move *move = move_of(r);
    const struct kr_place *row = knowledge_of(r)->place;
    int32_t end_um = needs_overtravel(r) ? overtravel_um(r) : move->to_um;
    int32_t at_um = row[move->holder - 1].position_um;
    int32_t low_um = at_um < end_um ? at_um : end_um, high_um = at_um < end_um ? end_um : at_um;
    int n = r->in->rail->n_holders, i = move->holder - 1 + side;
    if (needs_overtravel(r)) {
        low_um = low_um < move->to_um ? low_um : move->to_um;
        high_um = high_um > move->to_um ? high_um : move->to_um;
    }
    while (i >= 0 && i < n && !is_on_rail(r, (uint16_t)i))
        i += side;
    if (i < 0 || i >= n)
        return true;
    int32_t need_um =
        kr_spacing_um(r->in->geometry, r->in->holder[move->holder - 1].holder_size, r->in->holder[i].holder_size) -
        2 * r->in->deadband_um;
    int32_t now_um = side * (row[i].position_um - at_um);
    int32_t gap_um = side > 0 ? row[i].position_um - high_um : low_um - row[i].position_um;
    if (row[i].known != KR_UNKNOWN && gap_um >= (now_um < need_um ? now_um : need_um))
        return true;
    carriage_trip(r, KR_ALARM_PATH_BLOCKED, move->holder, row[i].known == KR_UNKNOWN ? 0 : gap_um, need_um);
    return false;
}

static void move_begin(const struct rail *r)
{
    const struct kr_move *move = move_of(r);
    if (!path_is_clear(r, -1) || !path_is_clear(r, 1))
        return;
    r->m->tries = 0;
    knowledge_of(r)->docking = move->holder;
    knowledge_touch(r);
    r->m->docking_generation = knowledge_of(r)->generation;
    travel(r, knowledge_of(r)->place[move->holder - 1].position_um);
}

static void dock(const struct rail *r)
{
    r->m->docked = move_of(r)->holder;
    r->m->tries++;
    if (r->m->tries == 1)
        timing_step_begins(r);
    carriage_enter(r, KR_CARRIAGE_DOCKING);
}

static void docking_step(const struct rail *r)
{
    if (input_proven(r, KR_DI_PIN_IN, KR_DI_PIN_OUT)) {
        place_set(r, r->m->docked, knowledge_of(r)->place[r->m->docked - 1].position_um, KR_UNKNOWN);
        r->m->brake_is_open = true; /* from now on the brake may be open */
        carriage_enter(r, KR_CARRIAGE_FREEING);
    } else if (phase_is_late(r, r->in->carriage->pin_limit_ms)) {
        timing_step_fails(r);
        carriage_enter(r, KR_CARRIAGE_BACKING);
    }
}

static void backing_step(const struct rail *r)
{
    if (input_proven(r, KR_DI_PIN_OUT, KR_DI_PIN_IN)) {
        uint16_t holder = r->m->docked;
        rail_event(r, KR_EVENT_RETRY, holder);
        if (r->m->tries < r->in->carriage->dock_tries) {
            dock(r);
            return;
        }
        r->m->docked = 0;
        /* The holder is not there. */
        place_set(r, holder, knowledge_of(r)->place[holder - 1].position_um, KR_UNKNOWN);
        carriage_trip(r, KR_ALARM_PIN_NOT_IN, holder, r->m->tries, 0);
    } else if (phase_is_late(r, r->in->carriage->pin_limit_ms)) {
        carriage_trip(r, KR_ALARM_PIN_NOT_OUT, r->m->docked, r->in->carriage->pin_limit_ms, 0);
    }
}

static void drag(const struct rail *r, uint8_t leg)
{
    r->m->leg = leg;
    bool over = leg == 0 && needs_overtravel(r);
    int32_t to_um = over ? overtravel_um(r) : move_of(r)->to_um;
    drive_move(r, position_for_um(r, to_um), limited_speed(r, r->in->rail->drag));
    carriage_enter(r, KR_CARRIAGE_DRAGGING);
}

static void freeing_step(const struct rail *r)
{
    if (input_proven(r, KR_DI_BRAKE_OPEN, KR_DI_BRAKE_CLOSED)) {
        timing_docked(r);
        drag(r, 0);
    } else if (phase_is_late(r, r->in->carriage->brake_limit_ms)) {
        carriage_trip(r, KR_ALARM_BRAKE_NOT_OPEN, r->m->docked, r->in->carriage->brake_limit_ms, 0);
    }
}

static void dragging_step(const struct rail *r)
{
    if (r->m->drive.setpoint != KR_SETPOINT_REACHED)
        return;
    if (r->m->leg == 0 && needs_overtravel(r)) {
        drag(r, 1);
    } else {
        timing_step_begins(r);
        carriage_enter(r, KR_CARRIAGE_SETTLING);
    }
}

/* Before a pin is driven out, the brake and the clamp that hold the holder must be proven closed. The position of the
 * holder keeps its grade. */
static void free_braking_step(const struct rail *r)
{
    const struct kr_carriage_config *config = r->in->carriage;
    bool braked = input_proven(r, KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_OPEN);
    if (braked && carriage_clamped(r)) {
        r->m->brake_is_open = false;
        carriage_enter(r, KR_CARRIAGE_UNDOCKING);
    } else if (!braked && phase_is_late(r, config->brake_limit_ms)) {
        carriage_trip(r, KR_ALARM_BRAKE_NOT_CLOSED, r->m->docked, config->brake_limit_ms, 0);
    } else if (braked && phase_is_late(r, config->clamp_limit_ms)) {
        carriage_trip(r, KR_ALARM_CLAMP_NOT_CLOSED, 0, config->clamp_limit_ms, 0);
    }
}

static void braking_step(const struct rail *r)
{
    if (r->m->task == KR_TASK_FREE) {
        free_braking_step(r);
    } else if (input_proven(r, KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_OPEN)) {
        r->m->brake_is_open = false;
        place_released(r, r->m->docked, carriage_place_um(r));
        carriage_enter(r, KR_CARRIAGE_UNDOCKING);
    } else if (phase_is_late(r, r->in->carriage->brake_limit_ms)) {
        carriage_trip(r, KR_ALARM_BRAKE_NOT_CLOSED, r->m->docked, r->in->carriage->brake_limit_ms, 0);
    }
}

static void undocking_step(const struct rail *r)
{
    if (input_proven(r, KR_DI_PIN_OUT, KR_DI_PIN_IN)) {
        uint16_t holder = r->m->docked;
        r->m->docked = 0;
        docking_over(r);
        if (r->m->task == KR_TASK_FREE) {
            task_done(r, KR_CARRIAGE_OFF);
            return;
        }
        rail_event(r, KR_EVENT_MOVED, holder);
        r->m->move++;
        carriage_enter(r, KR_CARRIAGE_READY);
    } else if (phase_is_late(r, r->in->carriage->pin_limit_ms)) {
        carriage_trip(r, KR_ALARM_PIN_NOT_OUT, r->m->docked, r->in->carriage->pin_limit_ms, 0);
    }
}

/* ---- tasks ----------------------------------------------------------------------------------------------------- */

static void ready_step(const struct rail *r)
{
    switch (r->m->task) {
    case KR_TASK_MOVES:
        timing_undocked(r);
        if (r->m->move < r->in->n_moves)
            move_begin(r);
        else
            task_done(r, KR_CARRIAGE_READY);
        break;
    case KR_TASK_TRAVEL: travel(r, r->in->carriage->park_um); break;
    case KR_TASK_GAUGE:
        gauge_enter(r);
        scan_begin(r);
        break;
    case KR_TASK_SCAN: scan_begin(r); break;
    case KR_TASK_FIND: find_begin(r); break;
    case KR_TASK_JOG: carriage_enter(r, KR_CARRIAGE_JOGGING); break;
    case KR_TASK_HOME:
        if (pin_is_out(r)) {
            /* Jumps can't be seen during homing, and if homing is interrupted, the old datum may be gone. */
            datum_given_up(r);
            drive_home(r);
            carriage_enter(r, KR_CARRIAGE_HOMING);
        } else {
            carriage_trip(r, KR_ALARM_PIN_UNPROVEN, r->m->docked, 0, 0);
        }
        break;
    case KR_TASK_TRY:
    case KR_TASK_FREE: /* for a drive that is off */
    case KR_TASK_NONE: break;
    }
}

static void travelling_step(const struct rail *r)
{
    if (r->m->drive.setpoint != KR_SETPOINT_REACHED)
        return;
    if (r->m->task == KR_TASK_TRAVEL)
        task_done(r, KR_CARRIAGE_READY);
    else if (r->m->task != KR_TASK_MOVES) /* taken back during the travel: no holder is to be docked */
        carriage_enter(r, KR_CARRIAGE_READY);
    else if ((int32_t)(r->in->stored - r->m->docking_generation) >=
             0) /* It is stored that this holder may be in motion. */
        dock(r);
}

static void homing_step(const struct rail *r)
{
    if (r->m->drive.setpoint != KR_SETPOINT_REACHED)
        return;
    r->m->drive.homing = false;
    /* The position has the new datum, but the speed between the two positions means nothing. */
    r->m->track.n_samples = 1;
    datum_found(r);
    if (r->m->phase != KR_CARRIAGE_STOPPING)
        task_done(r, KR_CARRIAGE_READY);
}

static void enabling_step(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    if (carriage_fresh(r) && kr_drive_state_of(in->statusword) == KR_DRIVE_OPERATION_ENABLED)
        carriage_enter(r, KR_CARRIAGE_READY);
    else if (phase_is_late(r, r->in->carriage->enable_limit_ms))
        carriage_trip(r, KR_ALARM_DRIVE_NOT_ENABLED, 0, in->statusword, 0);
}

static void off_step(const struct rail *r)
{
    if (r->m->task == KR_TASK_NONE)
        return;
    if (r->m->task == KR_TASK_FREE) {
        r->m->tries = 0;
        carriage_enter(r, KR_CARRIAGE_BRAKING);
        return;
    }
    if (r->m->task == KR_TASK_TRY) {
        try_begin(r);
        return;
    }
    if (!datum_permits(r))
        return;
    datum_leaves_rest(r);
    memset(&r->m->drive, 0, sizeof r->m->drive);
    r->m->drive.on = true;
    /* No set-point was offered yet, so the target is the present position. */
    r->m->drive.target_um = axis_of(r)->position_um;
    carriage_enter(r, KR_CARRIAGE_ENABLING);
}

static void run_step(const struct rail *r)
{
    switch (r->m->phase) {
    case KR_CARRIAGE_OFF: off_step(r); break;
    case KR_CARRIAGE_ENABLING: enabling_step(r); break;
    case KR_CARRIAGE_READY: ready_step(r); break;
    case KR_CARRIAGE_TRAVELLING: travelling_step(r); break;
    case KR_CARRIAGE_DOCKING: docking_step(r); break;
    case KR_CARRIAGE_BACKING: backing_step(r); break;
    case KR_CARRIAGE_FREEING: freeing_step(r); break;
    case KR_CARRIAGE_DRAGGING: dragging_step(r); break;
    case KR_CARRIAGE_SETTLING:
        if (phase_is_late(r, r->in->carriage->settle_ms))
            carriage_enter(r, KR_CARRIAGE_BRAKING);
        break;
    case KR_CARRIAGE_BRAKING: braking_step(r); break;
    case KR_CARRIAGE_UNDOCKING: undocking_step(r); break;
    case KR_CARRIAGE_SCANNING:
        scan_step(r);
        if (r->m->phase == KR_CARRIAGE_SCANNING && r->m->scan.step == KR_SCAN_STEP_DONE)
            task_done(r, KR_CARRIAGE_READY);
        break;
    case KR_CARRIAGE_HOMING: homing_step(r); break;
    case KR_CARRIAGE_FINDING:
        find_step(r);
        if (r->m->phase == KR_CARRIAGE_FINDING && r->m->find == KR_FIND_DONE)
            task_done(r, KR_CARRIAGE_READY);
        break;
    case KR_CARRIAGE_JOGGING: jog_step(r); break;
    case KR_CARRIAGE_TRYING: try_step(r); break;
    case KR_CARRIAGE_STOPPING: break; /* wind_down.c */
    }
}

/* At rest no clamp stays open. A drive that is on nevertheless, for instance after a restart of the gateway during a
 * motion, is stopped. A pin that is proven out has released its holder, whatever the cause. */
static void rest_step(const struct rail *r)
{
    clamp_again(r);
    if (wind_down_found_running(r))
        return;
    if (knowledge_of(r)->docking == 0 || !pin_is_out(r))
        return;
    r->m->docked = 0;
    docking_over(r);
}

void carriage_step(const struct rail *r)
{
    supervise_step(r);
    if (r->in->mode != KR_MOTION_RUN && r->m->phase != KR_CARRIAGE_OFF && r->m->phase != KR_CARRIAGE_STOPPING)
        wind_down_begin(r);
    if (r->m->phase == KR_CARRIAGE_STOPPING) {
        wind_down_step(r);
        return;
    }
    if (r->in->mode != KR_MOTION_RUN) {
        rest_step(r);
        return;
    }
    drive_step(r);
    if (r->m->phase != KR_CARRIAGE_STOPPING)
        run_step(r);
}
