#include "running.h"

#define SIGNALS  (KR_LINE_MAY_START | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER)
#define BEGIN_US (1500 * 1000LL) /* until what may be claimed is claimed, and stored */
#define QUIET_US (8000 * 1000LL) /* until drives have started, and the PLC was heard more than twice */
#define HANDS_US (100 * 1000LL)  /* hands are no quicker behind a guard that is released */
#define HEARD    3               /* beats after which a PLC is heard for certain */

const char *running_meaning(enum running_event event)
{
    static const char *const meaning[] = {
#define X(NAME, what) what,
        RUNNING(X)
#undef X
    };
    return meaning[event];
}

static void must(struct running *r, const struct rig *rig, bool holds, const char *what)
{
    if (!holds)
        watch_say(r->watch, rig, what, r->storms->count, r->proven);
}

static bool goes_on(const struct running *r, enum running_event event)
{
    return r->until_us[event] != 0;
}

/* ---- the machine, the PLC and the people ----------------------------------------------------------------------- */

static void inputs_show(struct rig *rig, struct storms *s, enum sim_fault fault, uint16_t permissive, bool given)
{
    if (given) {
        (void)sim_machine_mend(&rig->machine, 0, fault, 0);
        s->wanted |= permissive;
    } else {
        (void)sim_machine_break(&rig->machine, 0, fault, 0, 0);
        s->wanted &= (uint16_t)~permissive;
    }
}

static void line_runs(struct running *r, struct rig *rig, bool runs)
{
    inputs_show(rig, r->storms, SIM_LINE_RUNS, KR_PERMIT_LINE_STOPPED, !runs);
    inputs_show(rig, r->storms, SIM_KNIVES_LOWERED, KR_PERMIT_KNIVES_RAISED, !runs);
}

void running_count(struct running *r)
{
    r->count = (uint16_t)(r->count % 65535 + 1);
    if (r->counts)
        r->storms->count = r->count;
}

/* What the PLC writes and the guards show follows from what goes on. */
static void plc_scans(struct running *r, struct rig *rig)
{
    bool open = goes_on(r, RUNNING_RELEASED) || goes_on(r, RUNNING_LOOKED_IN) || goes_on(r, RUNNING_SHOWS_OPEN);
    r->storms->silent = goes_on(r, RUNNING_PLC_SILENT) || goes_on(r, RUNNING_PLC_RESTARTS);
    r->storms->count = r->counts && !goes_on(r, RUNNING_NOT_SENT) ? r->count : 0;
    inputs_show(rig, r->storms, SIM_GUARDS_OPENED, KR_PERMIT_GUARDS_CLOSED, !open);
}

/* A PLC that is down can't count; its latch can. */
static void guard_is_released(struct running *r)
{
    if (goes_on(r, RUNNING_PLC_RESTARTS))
        r->released_unseen = true;
    else
        running_count(r);
}

static void hands_come(struct running *r, const struct rig *rig, uint16_t rail, bool by_hand)
{
    if (r->push.from_us == 0)
        r->push = (struct running_push){rig->time_us + HANDS_US, rail, by_hand};
}

static uint16_t holder_to_push(struct running *r, const struct rig *rig, uint16_t rail)
{
    const struct kr_plan_rail *plan = &kr_station_plan(rig->station)->rail[rail];
    uint16_t n = rig->config.geometry.rail[rail].n_holders;
    uint16_t first = (uint16_t)draw_between(&r->draw, 0, n - 1);
    for (uint16_t i = 0; i < n; i++)
        if (plan->holder[(first + i) % n].cut != 0)
            return (uint16_t)((first + i) % n);
    return first;
}

static bool has_no_power(const struct running *r, uint16_t rail)
{
    return (goes_on(r, RUNNING_LINK_LOST) && r->rail[RUNNING_LINK_LOST] == rail) ||
           (goes_on(r, RUNNING_DE_ENERGISED) && r->rail[RUNNING_DE_ENERGISED] == rail) || goes_on(r, RUNNING_POWER_CUT);
}

/* Nothing is moved before the gateway can know: hands come once it was told, or has missed the PLC for long enough; a
 * knife creeps while its drive is not seen to have power. */
static bool may_push(const struct running *r, const struct rig *rig)
{
    int64_t silent_us = rig->time_us - r->storms->wrote_us, limit_us = 1000LL * rig->config.heartbeat_limit_ms;
    bool told = r->storms->wrote_us > r->push.from_us - HANDS_US;
    if (rig->time_us < r->push.from_us)
        return false;
    return r->push.by_hand ? told || silent_us > limit_us + HANDS_US : has_no_power(r, r->push.rail);
}

static void push(struct running *r, struct rig *rig)
{
    if (r->push.from_us == 0 || !may_push(r, rig))
        return;
    int32_t by_um = (draw_chance(&r->draw, 50) ? 1 : -1) * draw_between(&r->draw, 300, 9000);
    r->moved += rig_shove(rig, r->push.rail, holder_to_push(r, rig, r->push.rail), by_um);
    r->push.from_us = 0;
}

/* ---- what goes on ---------------------------------------------------------------------------------------------- */

static void sinks(struct running *r, struct rig *rig, uint16_t rail)
{
    (void)sim_machine_break(&rig->machine, rail, SIM_LINK_LOST, 0, 0);
    rig_sink_pin(rig, rail, SIM_TRAVEL / 3);
    r->unsure = true; /* an actuator may take it back before anybody sees it */
}

static void begins(struct running *r, struct rig *rig, enum running_event event, uint16_t rail)
{
    switch (event) {
    case RUNNING_RELEASED:
        guard_is_released(r);
        hands_come(r, rig, rail, true);
        break;
    case RUNNING_LOOKED_IN: guard_is_released(r); break;
    case RUNNING_PLC_RESTARTS: storms_let_go(r->storms, rig); break;
    case RUNNING_LINK_LOST: (void)sim_machine_break(&rig->machine, rail, SIM_LINK_LOST, 0, 0); break;
    case RUNNING_DE_ENERGISED: (void)sim_machine_break(&rig->machine, rail, SIM_ENABLE_LOST, 0, 0); break;
    case RUNNING_POWER_CUT: (void)sim_machine_break(&rig->machine, 0, SIM_POWER_CUT, 0, 0); break;
    case RUNNING_OTHERWISE: sinks(r, rig, rail); break;
    case RUNNING_REFUSED: r->storms->wire[rail].refused = true; break;
    case RUNNING_BOOK_FAILS: rig->book_broken = r->book_failed = true; break;
    default: break; /* the PLC's writes show it, or nobody writes */
    }
    if (has_no_power(r, rail) && !rig->config.brakes_hold && draw_chance(&r->draw, 50))
        hands_come(r, rig, rail, false);
}

/* At its own power-up a PLC counts, unless its latch shows that no guard was released meanwhile. */
static void plc_is_up(struct running *r)
{
    bool latch_kept = r->harmless || draw_chance(&r->draw, 50);
    if (r->released_unseen || !latch_kept)
        running_count(r);
    r->released_unseen = false;
}

static void ends(struct running *r, struct rig *rig, enum running_event event, uint16_t rail)
{
    r->until_us[event] = 0;
    switch (event) {
    case RUNNING_RELEASED: r->push.from_us = r->push.by_hand ? 0 : r->push.from_us; break;
    case RUNNING_PLC_RESTARTS: plc_is_up(r); break;
    case RUNNING_OTHERWISE:
    case RUNNING_LINK_LOST: (void)sim_machine_mend(&rig->machine, rail, SIM_LINK_LOST, 0); break;
    case RUNNING_DE_ENERGISED: (void)sim_machine_mend(&rig->machine, rail, SIM_ENABLE_LOST, 0); break;
    case RUNNING_POWER_CUT: (void)sim_machine_mend(&rig->machine, 0, SIM_POWER_CUT, 0); break;
    case RUNNING_REFUSED: r->storms->wire[rail].refused = false; break;
    case RUNNING_BOOK_FAILS: rig->book_broken = false; break;
    default: break;
    }
}

static void go_on(struct running *r, struct rig *rig)
{
    push(r, rig);
    for (int e = 0; e < N_RUNNING; e++)
        if (r->until_us[e] != 0 && rig->time_us >= r->until_us[e])
            ends(r, rig, (enum running_event)e, r->rail[e]);
    plc_scans(r, rig);
}

/* The machine, the people and the PLC go on. What the gateway had not stored is gone. */
static void gateway_is_down(struct running *r, struct rig *rig, int32_t for_ms)
{
    for (int64_t end_us = rig->time_us + 1000LL * for_ms; rig->time_us < end_us;) {
        rig->time_us += rig->period_us;
        sim_machine_run(&rig->machine, rig->period_us);
        go_on(r, rig);
    }
    rig_restart(rig);
    storms_gateway_began(r->storms);
    r->beats = 0;
    r->stays = false;
    r->fallen |= r->proven == 0 || !rig->config.brakes_hold;
    r->unsure |= r->book_failed;
}

static bool is_harmless(enum running_event event)
{
    static const bool harms[N_RUNNING] = {[RUNNING_RELEASED] = true,
                                          [RUNNING_LOOKED_IN] = true,
                                          [RUNNING_NOT_SENT] = true,
                                          [RUNNING_OTHERWISE] = true,
                                          [RUNNING_REFUSED] = true};
    return !harms[event];
}

static void strike(struct running *r, struct rig *rig)
{
    enum running_event event = (enum running_event)draw_between(&r->draw, 0, N_RUNNING - 1);
    int32_t for_ms = draw_chance(&r->draw, 40) ? draw_between(&r->draw, 20, 300) : draw_between(&r->draw, 300, 6000);
    uint16_t rail = (uint16_t)draw_between(&r->draw, 0, rig->config.geometry.n_rails - 1);
    r->next_us = rig->time_us + 1000LL * draw_between(&r->draw, 20, 4000);
    if (goes_on(r, event) || (r->harmless && !is_harmless(event)))
        return;
    r->left--;
    r->counts_of[event]++;
    r->last = (int)event;
    if (event == RUNNING_GATEWAY_RESTARTS) {
        gateway_is_down(r, rig, for_ms);
        return;
    }
    r->rail[event] = rail;
    r->until_us[event] = rig->time_us + 1000LL * for_ms;
    begins(r, rig, event, rail);
    plc_scans(r, rig);
}

/* ---- what may be claimed --------------------------------------------------------------------------------------- */

/* By what the station was shown in this cycle. */
static bool access_shows_open(const struct rig *rig)
{
    uint16_t by_drives = rig->config.drive_inputs, inputs = 0x1F;
    for (uint16_t i = 0; i < rig->config.geometry.n_rails; i++)
        inputs &= rig->in.axis[i].link ? (uint16_t)(rig->in.axis[i].inputs / KR_DI_LINE_STOPPED) : 0;
    uint16_t given = (uint16_t)((rig->in.permissives & ~by_drives) | (inputs & by_drives));
    return (rig->config.access & ~given) != 0;
}

/* Guards that the drives' inputs show are known though the PLC is silent. */
static bool plc_tells_of_access(const struct rig *rig)
{
    return (rig->config.access & ~rig->config.drive_inputs) != 0;
}

static bool a_drive_is_unseen(const struct rig *rig)
{
    for (uint16_t i = 0; i < rig->config.geometry.n_rails; i++)
        if (!rig->in.axis[i].link || !(rig->in.axis[i].statusword & KR_SW_VOLTAGE_ENABLED))
            return true;
    return false;
}

static bool a_drive_is_refused(const struct rig *rig)
{
    for (uint16_t i = 0; i < rig->config.geometry.n_rails; i++)
        if (rig->in.axis[i].refusal.why != KR_REFUSED_NOT)
            return true;
    return false;
}

/* A drive that has no absolute encoder comes back without its datum. */
static bool a_datum_is_lost(const struct running *r, const struct rig *rig)
{
    bool lost = false;
    for (uint16_t i = 0; i < rig->config.geometry.n_rails; i++)
        lost = lost || !rig->sim_config.rail[i].absolute_encoder;
    return lost && goes_on(r, RUNNING_POWER_CUT);
}

static void count_beats(struct running *r, const struct rig *rig)
{
    if (rig->time_us - r->storms->wrote_us > 1000LL * rig->config.heartbeat_limit_ms || !rig->in.controlled)
        r->beats = 0;
    else if (r->beat_us != r->storms->wrote_us)
        r->beats += r->beats < 1000;
    r->beat_us = r->storms->wrote_us;
}

/* The table of config/pages/plc-programmer.md, row by row, of what was sent and shown. A silence is due at the limit,
 * give or take two cycles. */
static void conclude(struct running *r, const struct rig *rig, bool silent)
{
    bool open = access_shows_open(rig), unseen = a_drive_is_unseen(rig), heard = r->beats >= HEARD;
    int64_t silent_us = rig->time_us - r->storms->wrote_us;
    bool counted = r->proven != 0 && rig->in.access_count != r->proven;
    r->fallen |= heard && counted;
    r->unsure |= !heard && counted && rig->in.controlled; /* it is not said which of the first writes counts */
    r->fallen |= r->proven == 0 && (open || (silent && plc_tells_of_access(rig)));
    r->fallen |= unseen && !rig->config.brakes_hold;
    r->fallen |= a_drive_is_refused(rig);
    r->unsure |= a_datum_is_lost(r, rig);
    if (silent_us >= 1000LL * rig->config.heartbeat_limit_ms - 2 * rig->period_us || !rig->in.controlled ||
        rig->in.access_count != r->proven)
        r->stays = false;
    r->stays = r->stays && !r->fallen && !r->unsure;
}

static void judge(struct running *r, const struct rig *rig)
{
    bool silent = rig->time_us - r->storms->wrote_us > 1000LL * rig->config.heartbeat_limit_ms + 2 * rig->period_us;
    uint16_t line = rig_line_status(rig) & SIGNALS;
    bool verified = rig_status_has(rig, KR_STATUS_VERIFIED);
    count_beats(r, rig);
    conclude(r, rig, silent);
    if (line != 0)
        watch_knives(r->watch, rig);
    must(r, rig, line == 0 || !r->fallen, "a line signal returns by itself after a doubt that only a job ends");
    must(r, rig, line == 0 || !silent, "a line signal while the PLC is silent");
    bool places =
        !access_shows_open(rig) && !a_drive_is_unseen(rig) && !(silent && plc_tells_of_access(rig)) && !r->fallen;
    bool now = places && !silent;
    must(r, rig, now || !(line & (KR_LINE_MAY_START | KR_LINE_MAY_LOWER)), "may start while something is in doubt");
    must(r, rig, places || !verified, "verified while something is in doubt");
    must(r, rig, !r->stays || line & KR_LINE_MAY_RUN, "may run falls, and nothing has happened by which it may");
    if (line == SIGNALS)
        r->stays = !r->unsure;
}

/* ---- a line that runs ------------------------------------------------------------------------------------------ */

void running_draw(struct running *r, uint64_t seed, struct storms *storms, struct watch *watch, struct rig *rig)
{
    *r = (struct running){.draw = {seed}, .storms = storms, .watch = watch, .last = -1};
    rig->config.brakes_hold = draw_chance(&r->draw, 75);
    rig->config.access = KR_PERMIT_GUARDS_CLOSED;
    if (draw_chance(&r->draw, 40))
        rig->config.access |= KR_PERMIT_ENABLE;
    r->counts = draw_chance(&r->draw, 80);
    r->count = (uint16_t)draw_between(&r->draw, 65530, 65535 + 5) % 65536u;
    running_count(r);
}

void running_begin(struct running *r, struct rig *rig)
{
    r->on = true;
    r->harmless = draw_chance(&r->draw, 50);
    r->left = draw_between(&r->draw, 2, 8);
    r->next_us = r->quiet_us = rig->time_us + BEGIN_US;
    r->begun = r->fallen = r->unsure = r->stays = r->book_failed = false;
    r->proven = 0;
    r->lines++;
    line_runs(r, rig, true);
}

static void is_over(struct running *r, struct rig *rig)
{
    r->on = false;
    r->push.from_us = 0;
    line_runs(r, rig, false);
}

/* All signals stand, by the count that is sent: now something may happen. Where an alarm still holds the line is not
 * started. */
static void start_line(struct running *r, struct rig *rig)
{
    if (rig->time_us < r->quiet_us)
        return;
    r->begun = r->stays = (rig_line_status(rig) & SIGNALS) == SIGNALS;
    r->proven = rig->in.access_count;
    r->not_started += !r->begun;
    if (!r->begun)
        is_over(r, rig);
}

/* All is as it was, and has been for long enough. */
static void settle(struct running *r, struct rig *rig)
{
    bool all = (rig_line_status(rig) & SIGNALS) == SIGNALS;
    must(r, rig, all || r->fallen || r->unsure, "nothing has moved a knife, and the line signals do not return");
    r->for_good += r->fallen;
    r->returned += all;
    is_over(r, rig);
}

static bool anything_goes_on(const struct running *r)
{
    for (int e = 0; e < N_RUNNING; e++)
        if (r->until_us[e] != 0)
            return true;
    return false;
}

void running_step(struct running *r, struct rig *rig)
{
    if (!r->begun) {
        start_line(r, rig);
        return;
    }
    judge(r, rig);
    go_on(r, rig);
    if (r->left > 0 && rig->time_us >= r->next_us)
        strike(r, rig);
    if (r->left > 0 || anything_goes_on(r))
        r->quiet_us = rig->time_us;
    else if (rig->time_us - r->quiet_us >= QUIET_US)
        settle(r, rig);
}
