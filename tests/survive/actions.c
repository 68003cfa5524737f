#include "actions.h"

static uint16_t after(uint16_t number)
{
    return (uint16_t)(number % 3 + 1); /* three numbers are as good as 65535: only 'the same as last time' matters */
}

static bool cycled(struct world *w)
{
    world_cycle(w);
    return true;
}

/* What comes from the pool or over the wire waits for the next cycle: several of them may meet in one. */

/* ---- time, disk and planner ------------------------------------------------------------------------------------ */

/* What a person would call the situation; time alone doesn't change it. */
static uint64_t situation(const struct world *w)
{
    const struct kr_station *s = &w->station;
    const struct kr_motion *c = &s->rails.motion[0];
    uint64_t key = (uint64_t)s->unit.state;
    key = key * 16 + (uint64_t)s->job.phase;
    key = key * 16 + (uint64_t)c->phase;
    key = key * 4 + (uint64_t)c->wind_down;
    key = key * 4 + (uint64_t)s->intake.step;
    key = key * 4 + w->toy.pin;
    key = key * 2 + (s->planning.ticket != 0);
    key = key * 2 + w->busy;
    key = key * 2 + s->permits.heartbeat_fresh;
    key = key * 16 + s->alarms.n;
    return key * 4096 + s->durable.serial % 4096;
}

static bool wait_for_change(struct world *w)
{
    uint64_t before = situation(w);
    for (int i = 0; i < 64 && w->broken == NULL && situation(w) == before; i++)
        world_cycle(w);
    return true;
}

static bool one_cycle(struct world *w)
{
    return cycled(w);
}

static bool commit_ends(struct world *w, bool well)
{
    if (!w->busy || w->answered)
        return false;
    w->answered = true;
    w->answered_well = well;
    return true;
}

static bool commit_succeeds(struct world *w)
{
    return commit_ends(w, true);
}

static bool commit_fails(struct world *w)
{
    return commit_ends(w, false);
}

static bool commit_is_tried_again(struct world *w)
{
    if (w->busy || !w->failed || w->retry)
        return false;
    w->retry = true;
    return true;
}

static bool plan_comes(struct world *w)
{
    if (!w->planning || w->plan_done)
        return false;
    w->plan_done = true;
    return true;
}

static bool cut(struct world *w)
{
    world_restart(w, WORLD_NOTHING_LANDS);
    return cycled(w);
}

static bool cut_behind_the_write(struct world *w)
{
    if (!w->busy || w->answered)
        return false;
    world_restart(w, WORLD_UNDER_WAY_LANDS);
    return cycled(w);
}

/* What was said to have failed is in the file all the same: a sync failed behind the write. */
static bool cut_behind_the_failure(struct world *w)
{
    if (!w->in_doubt)
        return false;
    world_restart(w, WORLD_FAILED_LANDED);
    return cycled(w);
}

/* ---- requests: while one is judged, or waits for the cycle, the face answers others itself --------------------- */

static bool busy(const struct world *w)
{
    return w->out.request_busy || w->in.request.present;
}

static bool request(struct world *w, enum kr_request_kind kind, enum world_order order)
{
    if (busy(w))
        return false;
    world_request(w, w->session, kind, order, after(w->plc.request_number));
    return true;
}

static bool stage_a(struct world *w)
{
    return request(w, KR_REQUEST_STAGE, ORDER_A);
}

static bool stage_b(struct world *w)
{
    return request(w, KR_REQUEST_STAGE, ORDER_B);
}

static bool stage_impossible(struct world *w)
{
    return request(w, KR_REQUEST_STAGE, ORDER_TOO_WIDE);
}

static bool check_b(struct world *w)
{
    return request(w, KR_REQUEST_CHECK, ORDER_B);
}

static bool cancel(struct world *w)
{
    return request(w, KR_REQUEST_CANCEL, ORDER_A);
}

/* As far as the PLC knows it: a queue of two behind the staged one is enough to be put out of order. */
static bool queue_b(struct world *w)
{
    return w->plc.told.n_queued < QUEUE_SEEN - 1 && request(w, KR_REQUEST_QUEUE, ORDER_B);
}

static bool clear_queue(struct world *w)
{
    return request(w, KR_REQUEST_CLEAR, ORDER_A);
}

/* ---- recipes: one number, and two orders to store under it ----------------------------------------------------- */

static bool store_recipe(struct world *w)
{
    return request(w, KR_REQUEST_STORE_RECIPE, w->plc.told.recipe == ORDER_A ? ORDER_B : ORDER_A);
}

/* Under the number of what the PLC has stored there: it says of this run what else the order says. */
static bool recall(struct world *w, enum kr_request_kind kind)
{
    enum world_order stored = (enum world_order)w->plc.told.recipe;
    return request(w, kind, stored == ORDER_NONE ? ORDER_A : stored);
}

static bool stage_recipe(struct world *w)
{
    return recall(w, KR_REQUEST_STAGE_RECIPE);
}

static bool queue_recipe(struct world *w)
{
    return w->plc.told.n_queued < QUEUE_SEEN - 1 && recall(w, KR_REQUEST_QUEUE_RECIPE);
}

static bool drop_recipe(struct world *w)
{
    return request(w, KR_REQUEST_DROP_RECIPE, ORDER_A);
}

static bool repeat_request(struct world *w)
{
    if (busy(w) || !w->station.intake.last.present)
        return false;
    world_repeat_request(w);
    return true;
}

static bool reuse_number(struct world *w)
{
    if (busy(w) || w->plc.request_number == 0)
        return false;
    world_request(w, w->session, KR_REQUEST_STAGE, ORDER_B, w->plc.request_number);
    return true;
}

static bool stage_of_older_session(struct world *w)
{
    if (busy(w))
        return false;
    world_request(w, (uint16_t)(w->session - 1), KR_REQUEST_STAGE, ORDER_A, after(w->plc.request_number));
    return true;
}

/* ---- commands -------------------------------------------------------------------------------------------------- */

static bool command(struct world *w, enum kr_command command, enum kr_job job)
{
    world_command(w, w->session, command, job, after(w->plc.command_number));
    return cycled(w);
}

static bool reset(struct world *w)
{
    return command(w, KR_COMMAND_RESET, 0);
}

static bool start(struct world *w)
{
    return command(w, KR_COMMAND_START, KR_JOB_CHANGEOVER);
}

static bool stop(struct world *w)
{
    return command(w, KR_COMMAND_STOP, 0);
}

static bool resume(struct world *w)
{
    bool held = w->station.unit.state == KR_STATE_HELD;
    return command(w, held ? KR_COMMAND_UNHOLD : KR_COMMAND_UNSUSPEND, 0);
}

static bool hold(struct world *w)
{
    return command(w, KR_COMMAND_HOLD, 0);
}

static bool abort_job(struct world *w)
{
    return command(w, KR_COMMAND_ABORT, 0);
}

static bool clear(struct world *w)
{
    return command(w, KR_COMMAND_CLEAR, 0);
}

static bool release(struct world *w)
{
    return command(w, KR_COMMAND_START, KR_JOB_RELEASE);
}

static bool repeat_command(struct world *w)
{
    if (!w->station.command.last.present)
        return false;
    world_repeat_command(w);
    return cycled(w);
}

static bool start_of_older_session(struct world *w)
{
    world_command(w, (uint16_t)(w->session - 1), KR_COMMAND_START, KR_JOB_CHANGEOVER, after(w->plc.command_number));
    return cycled(w);
}

/* ---- halts: of whoever may control, beside what the PLC commands ----------------------------------------------- */

static bool halt(struct world *w, enum kr_command command)
{
    w->in.halt = (uint16_t)command;
    return cycled(w);
}

static bool halt_stop(struct world *w)
{
    return halt(w, KR_COMMAND_STOP);
}

static bool halt_hold(struct world *w)
{
    return halt(w, KR_COMMAND_HOLD);
}

static bool halt_suspend(struct world *w)
{
    return halt(w, KR_COMMAND_SUSPEND);
}

static bool halt_abort(struct world *w)
{
    return halt(w, KR_COMMAND_ABORT);
}

/* A command waits for its turn, and a HALT comes before it: which one, the unit's state says. */
static bool halt_over_command(struct world *w)
{
    enum kr_unit_state state = w->station.unit.state;
    enum kr_command waiting = state == KR_STATE_HELD        ? KR_COMMAND_UNHOLD
                              : state == KR_STATE_SUSPENDED ? KR_COMMAND_UNSUSPEND
                              : state == KR_STATE_IDLE      ? KR_COMMAND_START
                                                            : KR_COMMAND_RESET;
    world_command(w, w->session, waiting, KR_JOB_CHANGEOVER, after(w->plc.command_number));
    w->in.command.overtaken = true;
    return halt(w, KR_COMMAND_SUSPEND);
}

/* ---- maintenance requests -------------------------------------------------------------------------------------- */

static bool edit(struct world *w, uint16_t session, struct asked asked)
{
    if (w->out.edit_busy || w->in.edit.present)
        return false;
    world_edit(w, session, asked, after(w->plc.edit_number));
    return true;
}

static bool set_offset(struct world *w)
{
    int32_t offset_um = w->plc.set.offset_um[0] == 0 ? 1000 : 0;
    return edit(w, w->session, (struct asked){KR_EDIT_OFFSET, .holder = 1, .offset_um = offset_um});
}

static bool out_or_in(struct world *w)
{
    bool in = w->plc.set.state[1] == KR_HOLDER_IN;
    return edit(w, w->session, (struct asked){in ? KR_EDIT_OUT : KR_EDIT_IN, .holder = 2});
}

static bool repeat_edit(struct world *w)
{
    if (w->out.edit_busy || w->in.edit.present || !w->station.editing.last.present)
        return false;
    w->in.edit = w->station.editing.last;
    return true;
}

static bool edit_of_older_session(struct world *w)
{
    return edit(w, (uint16_t)(w->session - 1), (struct asked){KR_EDIT_OFFSET, .holder = 1, .offset_um = 5000});
}

/* All edges of the only rail. */
static bool confirm_edges(struct world *w)
{
    return edit(w, w->session, (struct asked){KR_EDIT_BENCH, .holder = 0});
}

/* ---- hands, which work where the guards are open --------------------------------------------------------------- */

#define GRINDERS 3 /* the holder that goes there, from 1 */

static bool swap(struct world *w)
{
    int32_t offset_um = w->plc.set.offset_um[0] == 0 ? -2000 : 0;
    return edit(w, w->session, (struct asked){KR_EDIT_SWAP, .holder = 1, .offset_um = offset_um});
}

/* Where hands come, a guard was released: a PLC that counts counts that, and tells it with its next heartbeat. One
 * that is silent, and not yet known to be so, can't have told: stopping the line for a guard is the safety system's
 * task. Few accesses: a count that wraps meanwhile would be another world. */
static bool access_is_counted(struct world *w)
{
    bool tells = w->plc.beats || !w->station.permits.heartbeat_fresh;
    if (w->plc.accesses == 0)
        return true;
    w->plc.accesses++;
    return tells && w->plc.accesses <= 4;
}

static bool take_off_or_put_on(struct world *w)
{
    bool off = w->toy.off[GRINDERS - 1];
    return !w->plc.all_permitted && access_is_counted(w) &&
           (off ? toy_put_on(&w->toy, GRINDERS - 1) : toy_take_off(&w->toy, GRINDERS - 1)) && cycled(w);
}

/* As it is: nobody declares absent what he sees on the rail. */
static bool absent_or_insert(struct world *w)
{
    bool absent = w->plc.set.state[GRINDERS - 1] == KR_HOLDER_ABSENT;
    if (w->toy.off[GRINDERS - 1] == absent)
        return false;
    return edit(w, w->session,
                (struct asked){absent ? KR_EDIT_INSERT : KR_EDIT_ABSENT, .holder = GRINDERS,
                               .position_um = w->toy.holder_um[GRINDERS - 1]});
}

/* ---- knives of the ledger, on the first holder or on none ------------------------------------------------------- */

static bool enter_knife(struct world *w)
{
    return edit(w, w->session, (struct asked){KR_EDIT_ENTER, .knife = 2});
}

static bool mount(struct world *w, uint8_t knife)
{
    return edit(w, w->session, (struct asked){KR_EDIT_MOUNT, .holder = 1, .knife = knife});
}

static bool mount_a(struct world *w)
{
    return mount(w, 1);
}

static bool mount_b(struct world *w)
{
    return mount(w, 2);
}

static bool dismount(struct world *w)
{
    return edit(w, w->session, (struct asked){KR_EDIT_DISMOUNT, .holder = 1});
}

static bool reground(struct world *w)
{
    int32_t offset_um = w->plc.set.offset_um[0] == 500 ? 700 : 500;
    return edit(w, w->session, (struct asked){KR_EDIT_REGROUND, .holder = 1, .offset_um = offset_um});
}

static bool broken(struct world *w)
{
    return edit(w, w->session, (struct asked){KR_EDIT_BROKEN, .holder = 1});
}

static bool scrap_a(struct world *w)
{
    return edit(w, w->session, (struct asked){KR_EDIT_SCRAP, .knife = 1});
}

static bool answer_of_ledger(struct world *w, bool fails)
{
    if (!w->knife_waits || w->ledger_answers || w->busy)
        return false;
    w->ledger_answers = true;
    w->ledger_fails = fails;
    return true;
}

static bool ledger_answers(struct world *w)
{
    return answer_of_ledger(w, false);
}

static bool ledger_fails(struct world *w)
{
    return answer_of_ledger(w, true);
}

/* ---- test cuts ------------------------------------------------------------------------------------------------- */

static bool test_cut(struct world *w)
{
    int32_t width_um = world_slit_um((enum world_order)w->plc.told.in_force) + WORLD_STRIP_OFF_UM;
    return edit(w, w->session, (struct asked){KR_EDIT_TEST_CUT, .width_um = width_um});
}

static bool apply_offsets(struct world *w)
{
    return edit(w, w->session, (struct asked){KR_EDIT_APPLY, .holder = 0});
}

/* ---- hold-to-run ----------------------------------------------------------------------------------------------- */

static bool start_jog(struct world *w)
{
    return command(w, KR_COMMAND_START, KR_JOB_JOG);
}

static bool refresh_jog(struct world *w)
{
    world_refresh_jog(w);
    return cycled(w);
}

static bool jog_device(struct world *w)
{
    w->toy.jog_device = !w->toy.jog_device;
    return cycled(w);
}

/* ---- what stops motion ----------------------------------------------------------------------------------------- */

static bool guards(struct world *w)
{
    w->plc.all_permitted = !w->plc.all_permitted;
    return cycled(w);
}

static bool plc_counts(struct world *w)
{
    if (w->plc.accesses != 0)
        return false;
    w->plc.accesses = 1;
    return cycled(w);
}

static int holder_that_cuts(const struct world *w)
{
    for (int i = 0; i < TOY_HOLDERS; i++)
        if (w->station.planning.valid && w->station.planning.plan.rail[0].holder[i].cut == 1)
            return i;
    return 0;
}

static bool knife_is_moved(struct world *w)
{
    int holder = holder_that_cuts(w);
    return w->plc.accesses != 0 && access_is_counted(w) && toy_take_off(&w->toy, holder) &&
           toy_put_on(&w->toy, holder) && cycled(w);
}

static bool heartbeat(struct world *w)
{
    w->plc.beats = !w->plc.beats;
    return cycled(w);
}

static bool control_changes(struct world *w)
{
    w->in.control_generation++;
    return cycled(w);
}

static bool link(struct world *w)
{
    w->toy.link = !w->toy.link;
    w->toy.late = false;
    return cycled(w);
}

/* ---- storms ---------------------------------------------------------------------------------------------------- */

static bool second_writer(struct world *w)
{
    w->plc.second_beats = !w->plc.second_beats;
    return cycled(w);
}

static bool answer_is_late(struct world *w)
{
    if (!w->toy.link)
        return false;
    w->toy.late = !w->toy.late;
    return cycled(w);
}

static bool word_order(struct world *w)
{
    if (w->toy.link)
        return false;
    w->toy.swapped = !w->toy.swapped;
    w->toy.link = true;
    return cycled(w);
}

/* Once the knives are verified nothing looks at them any more before the next changeover. */
static bool holder_creeps(struct world *w)
{
    bool verified =
        w->station.placement.verified || w->station.placement.set_aside || w->station.job.phase == KR_PHASE_VERIFY;
    return !verified && toy_creep(&w->toy, 0) && cycled(w);
}

const struct action actions[] = {
    {"wait until something changes", GROUP_ALWAYS, wait_for_change},
    {"one cycle", GROUP_ALWAYS, one_cycle},
    {"the commit succeeds", GROUP_ALWAYS, commit_succeeds},
    {"the plan comes", GROUP_ALWAYS, plan_comes},
    {"the commit fails", GROUP_FAILURES, commit_fails},
    {"the commit is tried again", GROUP_FAILURES, commit_is_tried_again},
    {"power cut", GROUP_CUTS, cut},
    {"power cut behind the write", GROUP_CUTS, cut_behind_the_write},
    {"power cut, and the commit that failed is there", GROUP_CUTS, cut_behind_the_failure},
    {"stage A", GROUP_ORDERS, stage_a},
    {"stage B", GROUP_ORDERS, stage_b},
    {"cancel", GROUP_HANDSHAKE, cancel},
    {"queue B", GROUP_HANDSHAKE, queue_b},
    {"clear the queue", GROUP_HANDSHAKE, clear_queue},
    {"check B", GROUP_HANDSHAKE, check_b},
    {"stage what is impossible", GROUP_HANDSHAKE, stage_impossible},
    {"the same request again", GROUP_HANDSHAKE, repeat_request},
    {"another order under the same number", GROUP_HANDSHAKE, reuse_number},
    {"stage A, older session", GROUP_HANDSHAKE, stage_of_older_session},
    {"Reset", GROUP_JOB, reset},
    {"Start changeover", GROUP_JOB, start},
    {"Stop", GROUP_JOB, stop},
    {"resume", GROUP_JOB, resume},
    {"Hold", GROUP_COMMANDS, hold},
    {"Abort", GROUP_COMMANDS, abort_job},
    {"Clear", GROUP_COMMANDS, clear},
    {"Start release", GROUP_COMMANDS, release},
    {"the same command again", GROUP_COMMANDS, repeat_command},
    {"Start changeover, older session", GROUP_COMMANDS, start_of_older_session},
    {"HALT Stop", GROUP_HALTS, halt_stop},
    {"HALT Hold", GROUP_HALTS, halt_hold},
    {"HALT Suspend", GROUP_HALTS, halt_suspend},
    {"HALT Abort", GROUP_HALTS, halt_abort},
    {"HALT Suspend over a command that waits", GROUP_HALTS, halt_over_command},
    {"set an edge offset", GROUP_EDITS, set_offset},
    {"a holder out of service or back", GROUP_EDITS, out_or_in},
    {"confirm the edges of the rail", GROUP_EDITS | GROUP_HANDS | GROUP_TEST_CUTS, confirm_edges},
    {"the same maintenance request again", GROUP_EDITS | GROUP_KNIVES, repeat_edit},
    {"set an edge offset, older session", GROUP_EDITS, edit_of_older_session},
    {"store A or B as recipe", GROUP_RECIPES, store_recipe},
    {"stage the recipe", GROUP_RECIPES, stage_recipe},
    {"queue the recipe", GROUP_RECIPES, queue_recipe},
    {"drop the recipe", GROUP_RECIPES, drop_recipe},
    {"swap a knife", GROUP_HANDS, swap},
    {"a holder is taken off the rail or put on", GROUP_HANDS, take_off_or_put_on},
    {"it is declared absent or inserted", GROUP_HANDS, absent_or_insert},
    {"enter knife B", GROUP_KNIVES, enter_knife},
    {"mount knife A", GROUP_KNIVES, mount_a},
    {"mount knife B", GROUP_KNIVES, mount_b},
    {"dismount the knife", GROUP_KNIVES, dismount},
    {"the knife is reground", GROUP_KNIVES, reground},
    {"the knife is broken", GROUP_KNIVES, broken},
    {"scrap knife A, which is on no holder", GROUP_KNIVES, scrap_a},
    {"the ledger answers", GROUP_KNIVES, ledger_answers},
    {"the ledger can't be read", GROUP_KNIVES, ledger_fails},
    {"test cut", GROUP_TEST_CUTS, test_cut},
    {"apply what is proposed", GROUP_TEST_CUTS, apply_offsets},
    {"Start jog", GROUP_JOG, start_jog},
    {"jog refresh", GROUP_JOG, refresh_jog},
    {"the hold-to-run device is let go or pressed", GROUP_JOG, jog_device},
    {"guards open or close", GROUP_MACHINE | GROUP_HANDS, guards},
    {"the PLC counts accesses", GROUP_SIGNALS, plc_counts},
    {"a guard is released, and a knife moved", GROUP_SIGNALS, knife_is_moved},
    {"heartbeat stops or goes on", GROUP_MACHINE, heartbeat},
    {"control changes hands", GROUP_MACHINE, control_changes},
    {"the drive's link is lost or back", GROUP_MACHINE, link},
    {"a second client writes the heartbeat alone or ends", GROUP_STORMS, second_writer},
    {"the drive's answer is late or comes", GROUP_STORMS, answer_is_late},
    {"the drive comes back with the other word order", GROUP_STORMS, word_order},
    {"a holder creeps", GROUP_STORMS, holder_creeps},
};
const int n_actions = sizeof actions / sizeof actions[0];
