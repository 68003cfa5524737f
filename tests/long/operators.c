#include "operators.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define STUCK_MOST 8 /* as often as people look for an object under a switch before they doubt the datum */

/* ---- the operators --------------------------------------------------------------------------------------------- */

void operators_init(struct operators *operators, struct draw *draw)
{
    memset(operators, 0, sizeof *operators);
    operators->draw = draw;
    operators->wanted = KR_JOB_CHANGEOVER;
}

static enum kr_code command(struct operators *operators, struct rig *rig, enum kr_command command, enum kr_job job)
{
    rig_command(rig, command, job);
    operators->acted_us = rig->time_us;
    return rig_answer(rig);
}

/* True: they look for the references of a rail whose datum is lost, or doubted. */
static bool finds_datum(struct operators *operators, struct rig *rig)
{
    if (operators->find_percent == 0 || !draw_chance(operators->draw, operators->find_percent))
        return false;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        struct start_values find = {.job = KR_JOB_FIND, .rail = (uint16_t)(r + 1)};
        if (rig_u16(rig, KR_REG_RAIL_REFERENCED, r, 0) == 0 && rig_command_start(rig, find) == KR_OK) {
            operators->job = KR_JOB_FIND;
            operators->acted_us = rig->time_us;
            return true;
        }
    }
    return false;
}

static void start(struct operators *operators, struct rig *rig)
{
    if (operators->wanted == KR_JOB_HOME && finds_datum(operators, rig)) {
        operators->wanted = KR_JOB_CHANGEOVER;
        return;
    }
    operators->job = operators->wanted;
    switch (command(operators, rig, KR_COMMAND_START, operators->job)) {
    case KR_OK: operators->wanted = KR_JOB_CHANGEOVER; break;
    case KR_RELEASE_NEEDED: operators->wanted = KR_JOB_RELEASE; break;
    case KR_NOT_HOMED: operators->wanted = KR_JOB_HOME; break;
    case KR_ALARM_STANDS:
        if (rig_answer_value(rig) == KR_ALARM_POSITION_IMPLAUSIBLE) {
            operators->wanted = KR_JOB_HOME;
            break;
        }
        command(operators, rig, KR_COMMAND_STOP, 0);
        break;      /* from Stopped it can be acknowledged */
    default: break; /* again, later */
    }
}

/* A switch sees a flag at the end of its way, time and again, and there is no object: the datum may have shifted. */
static bool sees_no_object(struct operators *operators, const struct rig *rig)
{
    enum kr_alarm_code alarm = rig_alarm(rig);
    bool stuck = alarm == KR_ALARM_SWITCH_STUCK || alarm == KR_ALARM_REFERENCE_SWITCH_STUCK;
    operators->stuck = stuck ? operators->stuck + 1 : 0;
    return operators->stuck >= STUCK_MOST;
}

static void resume(struct operators *operators, struct rig *rig, enum kr_command how)
{
    if (sees_no_object(operators, rig)) {
        operators->stuck = 0;
        operators->wanted = KR_JOB_HOME;
        command(operators, rig, KR_COMMAND_STOP, 0);
        return;
    }
    enum kr_code code = operators->gives_up || draw_chance(operators->draw, 15) ? KR_NOT_IN_THIS_STATE
                                                                                : command(operators, rig, how, 0);
    operators->gives_up = false;
    if (code == KR_PERMISSIVE_MISSING)
        return;
    if (code != KR_OK)
        command(operators, rig, KR_COMMAND_STOP, 0);
}

void operators_confirm_shift(struct rig *rig, uint16_t rail, int32_t shift_um)
{
    (void)rig_edit(rig, KR_EDIT_SHIFT, (struct edit_values){.rail = (uint16_t)(rail + 1), .position_um = shift_um});
}

/* Maintenance looks where a rail's untouched holders were all found off alike. Where nothing in a story moves a datum,
 * the holders truly stand there, so the shift that is shown is confirmed. */
static void look_at_shifts(struct operators *operators, struct rig *rig)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        int32_t shift_um = rig_um(rig, KR_REG_RAIL_SHIFT, 0, r);
        if (shift_um != 0 && operators->on_shift)
            operators->on_shift(operators, rig, r, shift_um);
        else if (shift_um != 0)
            operators_confirm_shift(rig, r, shift_um);
    }
}

static bool rests(enum kr_unit_state state)
{
    return state == KR_STATE_STOPPED || state == KR_STATE_IDLE || state == KR_STATE_SUSPENDED ||
           state == KR_STATE_HELD || state == KR_STATE_ABORTED || state == KR_STATE_COMPLETE;
}

static void act(struct operators *operators, struct rig *rig)
{
    switch (rig_state(rig)) {
    case KR_STATE_ABORTED: command(operators, rig, KR_COMMAND_CLEAR, 0); break;
    case KR_STATE_STOPPED: command(operators, rig, KR_COMMAND_RESET, 0); break;
    case KR_STATE_IDLE: start(operators, rig); break;
    case KR_STATE_HELD: resume(operators, rig, KR_COMMAND_UNHOLD); break;
    case KR_STATE_SUSPENDED: resume(operators, rig, KR_COMMAND_UNSUSPEND); break;
    case KR_STATE_COMPLETE:
        command(operators, rig, KR_COMMAND_RESET,
                0); /* of another job, or access has undone the verification at once */
        break;
    default: break;
    }
}

void operators_step(struct operators *operators, struct rig *rig)
{
    enum kr_unit_state state = rig_state(rig);
    if (!rests(state)) {
        operators->act_us = 0;
        return;
    }
    if (state == KR_STATE_COMPLETE && operators->job == KR_JOB_CHANGEOVER && rig_status(rig) & KR_STATUS_VERIFIED) {
        operators->done = true;
        return;
    }
    if (operators->act_us == 0) { /* they come, mend, and act a moment later */
        operators->refusals += state == KR_STATE_HELD && rig_alarm(rig) == KR_ALARM_PLAN_REFUSED;
        operators->interruptions += state == KR_STATE_SUSPENDED || state == KR_STATE_HELD || state == KR_STATE_ABORTED;
        operators->act_us = rig->time_us + 1000LL * draw_between(operators->draw, 10, 2000);
        return;
    }
    if (rig->time_us < operators->act_us)
        return;
    if (operators->mend)
        operators->mend(operators, rig);
    look_at_shifts(operators, rig);
    act(operators, rig);
    operators->act_us = 0;
}

/* ---- the watch ------------------------------------------------------------------------------------------------- */

void watch_say(struct watch *w, const struct rig *rig, const char *what, int32_t value, int32_t limit)
{
    if (w->what[0] == 0)
        snprintf(w->what, sizeof w->what, "at %.2f s: %s (%d, limit %d)", (double)rig->time_us / 1e6, what, value,
                 limit);
}

/* The holder itself, or the next one to its left or right that is on the rail. */
static bool has_crept_beside(const struct rig *rig, int rail, int holder)
{
    const struct kr_holder_data *row = kr_station_durable(rig->station)->holder[rail];
    int n = rig->config.geometry.rail[rail].n_holders, left = holder - 1, right = holder + 1;
    while (left >= 0 && row[left].state == KR_HOLDER_ABSENT)
        left--;
    while (right < n && row[right].state == KR_HOLDER_ABSENT)
        right++;
    return rig->crept[rail][holder] || (left >= 0 && rig->crept[rail][left]) || (right < n && rig->crept[rail][right]);
}

static bool any_has_crept(const struct rig *rig)
{
    for (int r = 0; r < rig->config.geometry.n_rails; r++)
        for (int i = 0; i < rig->config.geometry.rail[r].n_holders; i++)
            if (rig->crept[r][i])
                return true;
    return false;
}

static void watch_machine(struct watch *w, struct rig *rig)
{
    const struct sim_incident *collision = sim_machine_collision(&rig->machine);
    const struct sim_incident *dragged = sim_machine_dragged(&rig->machine);
    if (collision)
        w->crept_apart = has_crept_beside(rig, collision->rail_index, collision->holder_index) ||
                         rig->excuse[collision->rail_index].pin_is_off;
    if (collision && !w->crept_apart)
        watch_say(w, rig, "a collision on rail", collision->rail_index + 1, collision->holder_index + 1);
    if (dragged)
        watch_say(w, rig, "an unseated pin dragged a holder of rail", dragged->rail_index + 1,
                  dragged->holder_index + 1);
    if (rig->record_without_cause)
        watch_say(w, rig, "a job ended and its record does not say why: number, result",
                  kr_station_durable(rig->station)->record.number, kr_station_durable(rig->station)->record.outcome);
    if (rig->false_measured) {
        char text[100];
        snprintf(text, sizeof text, "rail %d holder %d is claimed measured at %d, but is at", rig->false_claim.rail,
                 rig->false_claim.holder, rig->false_claim.claimed_um);
        watch_say(w, rig, text, rig->false_claim.true_um, rig->claim_um);
    }
}

/* A state of rest has been reached with the drives off, or by a limit where a link is lost: then the drive's own
 * watchdog has long stopped it. */
static void watch_rest(struct watch *w, struct rig *rig)
{
    enum kr_unit_state state = rig_state(rig);
    if (state != w->state)
        w->rest_since_us = rig->time_us;
    w->state = state;
    if (!rests(state) || rig->time_us - w->rest_since_us < 20000)
        return;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        if (abs(sim_machine_speed_um_per_s(&rig->machine, r)) > 500)
            watch_say(w, rig, "a carriage moves in a state of rest", sim_machine_speed_um_per_s(&rig->machine, r),
                      (int32_t)state);
}

/* By what is stored, whatever the station shows. */
static bool an_edge_is_unproven(const struct rig *rig)
{
    const struct kr_plan *plan = kr_station_plan(rig->station);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t h = 0; h < rig->config.geometry.rail[r].n_holders; h++)
            if (plan->rail[r].holder[h].cut != 0 &&
                (rig->book.holder[r][h].edge == KR_EDGE_UNPROVEN || rig->book.holder[r][h].edge == KR_EDGE_STRUCK))
                return true;
    return false;
}

/* So far a knife may truly be beside where it is claimed, beyond its tolerance. */
static int32_t excused_um(const struct rig *rig)
{
    int32_t most_um = 0;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        most_um = rig->excuse[r].bound_um > most_um ? rig->excuse[r].bound_um : most_um;
    return most_um;
}

void watch_knives(struct watch *w, const struct rig *rig)
{
    int32_t more_um = SCAN_ERROR_UM + excused_um(rig);
    int32_t tolerance_um = rig->config.geometry.tolerance_um + more_um;
    if (rig_worst_edge_um(rig) > tolerance_um)
        watch_say(w, rig, "verified with a knife out of tolerance", rig_worst_edge_um(rig), tolerance_um);
    if (rig_worst_pair_um(rig) > rig->config.pair_window_um + 2 * more_um)
        watch_say(w, rig, "verified with a pair out of its window", rig_worst_pair_um(rig), rig->config.pair_window_um);
    if (rig_worst_slit_um(rig) > rig->config.slit_tolerance_um + 2 * more_um)
        watch_say(w, rig, "verified with a slit out of tolerance", rig_worst_slit_um(rig),
                  rig->config.slit_tolerance_um);
}

static void watch_claims(struct watch *w, struct rig *rig)
{
    bool complete = rig_state(rig) == KR_STATE_COMPLETE;
    if (!complete &&
        rig->in.cycles % 32 != 0) /* reading all registers in every cycle would take longer than the rest */
        return;
    uint16_t line = rig_line_status(rig);
    bool may_run = line & (KR_LINE_MAY_START | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER);
    if (!may_run && !(complete && rig_status(rig) & KR_STATUS_VERIFIED))
        return;
    if (may_run && !(line & KR_LINE_TEST_CUT) && an_edge_is_unproven(rig))
        watch_say(w, rig, "the line may run with an edge that nobody has proven", 0, 0);
    if (any_has_crept(rig) && !complete)
        return; /* between changeovers: nothing has looked at it yet */
    if (any_has_crept(rig))
        watch_say(w, rig, "verified, and a holder that had crept is not found", 0, 0);
    watch_knives(w, rig);
}

void watch_step(struct watch *watch, struct rig *rig)
{
    watch_machine(watch, rig);
    watch_rest(watch, rig);
    watch_claims(watch, rig);
}
