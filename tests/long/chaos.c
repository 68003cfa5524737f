/* Random changeovers, with or without random faults: chaos FIRST COUNT [plain|faults|frames|storms|lines] [HOLDERS]
 *
 * Story FIRST, FIRST + 1, ... each with its own station, machine and order, drawn from its number alone: a run can be
 * cut anywhere and gone on with. Prints every story that fails, and totals.
 *
 * With storms, half of the troubles are those of storms.h, and each story has a second changeover, before which a
 * holder may have crept.
 *
 * With lines, the PLC of a story with storms counts accesses, and between its changeovers the line runs (running.h).
 *
 * With frames the stations have references on the frame, or none, and what drives, switches and blades are counted from
 * changes (frames.h), besides the troubles; each story has three changeovers.
 *
 * With --replay behind all others each story is recorded, and its trace replayed bit for bit (traced.h); --replay=FILE
 * keeps the last trace there.
 *
 * With --digest LAYOUT before FIRST it prints the digest of the run, too (digest.h); --layout alone prints the layout
 * file of the present map. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "digest.h"
#include "frames.h"
#include "operators.h"
#include "running.h"
#include "stations.h"
#include "storms.h"
#include "traced.h"

#define LIMIT_MS      (60 * 60 * 1000) /* of machine time: longer, and something never ends */
#define TROUBLES_MOST 6                /* then a story is left in peace to end */
#define REFUSALS_MOST 20               /* so often without a plan: no other will come */

/* ---- trouble: what breaks, and what people do ------------------------------------------------------------------ */

/* Those before it: in here it would be one more reboot; and what places are counted from changes between changeovers
 * (tests/unit/test_alike.c). */
#define N_FAULTS SIM_FACTORY_SETTINGS

#define KINDS_MOST (N_FAULTS + 32)

struct trouble {
    struct draw draw;
    bool on;
    uint32_t n;
    int64_t struck_us, next_us, over_us;
    int fault; /* enum sim_fault, or one of these */
    uint16_t rail, item;
    struct storms *storms;   /* NULL: a story without */
    struct running *running; /* NULL: the line never runs */
    struct frames *frames;   /* NULL: a story without */
    uint16_t *permissives;   /* that the PLC gives */
    uint32_t counts[KINDS_MOST];
};

enum {
    T_PERMISSIVE = N_FAULTS,
    T_HEART,
    T_CONTROL,
    T_HOLD,
    T_SUSPEND,
    T_STOP,
    T_ABORT,
    T_RESTART,
    T_BOOK,
    T_HANDS,
    T_END,
    T_STORM = T_END, /* the first of them */
};

static int32_t value_of(struct draw *d, int fault, const struct rig *rig, uint16_t rail)
{
    int32_t max_um = rig->config.geometry.rail[rail].max_um;
    switch (fault) {
    case SIM_DRIVE_FAULT: return draw_between(d, 1, 65535);
    case SIM_POSITION_JUMP: return (draw_chance(d, 50) ? 1 : -1) * draw_between(d, 8000, 300000);
    case SIM_SLOW_ANSWERS: return draw_between(d, 1, 400);
    case SIM_BRAKE_SLIPS: return draw_between(d, 1, 600);
    case SIM_SWITCH_BOUNCES: return draw_between(d, 1, 8);
    case SIM_FOREIGN_FLAG: return draw_between(d, 0, max_um);
    case SIM_MOVED_BY_HAND: return draw_between(d, -60000, 60000);
    default: return 0;
    }
}

static bool is_mended_at_once(int fault)
{
    return fault >= T_CONTROL && fault != T_BOOK && fault != T_HANDS;
}

static void guards(struct trouble *t, struct rig *rig, bool closed)
{
    if (closed) {
        sim_machine_mend(&rig->machine, 0, SIM_GUARDS_OPENED, 0);
        *t->permissives |= KR_PERMIT_GUARDS_CLOSED;
    } else {
        if (t->running)
            running_count(t->running);
        sim_machine_break(&rig->machine, 0, SIM_GUARDS_OPENED, 0, 0);
        *t->permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    }
}

/* Foreign flags that overlap a holder's by less than can be told from its own width say nothing but a lie. */
static bool hides_in_a_flag(const struct rig *rig, uint16_t rail, int32_t at_um)
{
    for (uint16_t i = 0; i < rig->config.geometry.rail[rail].n_holders; i++)
        if (abs(at_um - sim_machine_holder_um(&rig->machine, rail, i)) < 1300)
            return true;
    return false;
}

static bool strike_machine(struct trouble *t, struct rig *rig)
{
    int32_t value = value_of(&t->draw, t->fault, rig, t->rail);
    if (t->fault == SIM_POSITION_JUMP && !rig->in.axis[t->rail].link)
        return false; /* behind a wire that is down it can't be told from a carriage that was pushed */
    if (t->fault == SIM_FOREIGN_FLAG && hides_in_a_flag(rig, t->rail, value))
        return false;
    return sim_machine_break(&rig->machine, t->rail, (enum sim_fault)t->fault, t->item, value);
}

static void stop_heart(struct trouble *t, struct rig *rig, bool stopped)
{
    if (t->storms)
        t->storms->silent = stopped;
    else
        rig->heart_stopped = stopped;
}

static bool strike(struct trouble *t, struct rig *rig)
{
    switch (t->fault) {
    case T_PERMISSIVE: *t->permissives &= (uint16_t) ~(1u << draw_between(&t->draw, 0, 4)); return true;
    case T_HEART: stop_heart(t, rig, true); return true;
    case T_CONTROL: rig->in.control_generation++; return true;
    case T_HOLD: rig_command(rig, KR_COMMAND_HOLD, 0); return true;
    case T_SUSPEND: rig_command(rig, KR_COMMAND_SUSPEND, 0); return true;
    case T_STOP: rig_command(rig, KR_COMMAND_STOP, 0); return true;
    case T_ABORT: rig_command(rig, KR_COMMAND_ABORT, 0); return true;
    case T_RESTART:
        rig_restart(rig);
        if (t->storms)
            storms_gateway_began(t->storms);
        *t->permissives = 0x1F;
        rig->in.controlled = true;
        rig->in.control_generation++;
        return true;
    case T_BOOK: rig->book_broken = true; return true;
    case SIM_MOVED_BY_HAND: return false; /* hands come with open guards only: */
    case T_HANDS: guards(t, rig, false); return true;
    default: return strike_machine(t, rig);
    }
}

static void mend(struct trouble *t, struct rig *rig)
{
    if (t->on && t->fault == T_HANDS && rig->time_us - t->struck_us < 100000)
        return; /* hands are no quicker than that through guards that are opened and closed again */
    *t->permissives = 0x1F;
    stop_heart(t, rig, false);
    rig->book_broken = false;
    if (t->storms && t->on)
        storms_mend(t->storms, rig, t->rail);
    if (t->on && t->fault < N_FAULTS)
        sim_machine_mend(&rig->machine, t->rail, (enum sim_fault)t->fault, t->item);
    if (t->on && t->fault == T_HANDS) {
        (void)rig_shove(rig, t->rail, t->item, value_of(&t->draw, SIM_MOVED_BY_HAND, rig, t->rail));
        guards(t, rig, true);
    }
    if (!t->on)
        return;
    t->on = false;
    t->next_us = rig->time_us + 1000LL * draw_between(&t->draw, 50, 30000);
}

/* That a drive has another word order or counts the other way people may find out only after they have gone on. */
static bool is_overlooked(struct trouble *t)
{
    if (!t->storms || !t->on)
        return false;
    const struct storm_wire *wire = &t->storms->wire[t->rail];
    return (wire->swapped || wire->reversed) && draw_chance(&t->draw, 60);
}

static void operators_mend(struct operators *operators, struct rig *rig)
{
    struct trouble *t = operators->of_mend;
    if (!is_overlooked(t))
        mend(t, rig);
    if (t->frames)
        frames_visit(t->frames, rig);
}

static void look_at_shift(struct operators *operators, struct rig *rig, uint16_t rail, int32_t shift_um)
{
    struct trouble *t = operators->of_mend;
    frames_look_at_shift(t->frames, rig, rail, shift_um);
}

static void employ(struct operators *operators, struct draw *d, struct trouble *t)
{
    operators_init(operators, d);
    operators->mend = operators_mend;
    operators->of_mend = t;
    operators->on_shift = t->frames ? look_at_shift : NULL;
    operators->find_percent = t->frames ? 50 : 0;
}

/* Half of the troubles are storms, in stories that have them. */
static bool strike_storm(struct trouble *t, struct rig *rig)
{
    int32_t for_ms;
    enum storm storm = (enum storm)draw_between(&t->draw, 0, N_STORMS - 1);
    t->fault = T_STORM + (int)storm;
    if (!storms_strike(t->storms, rig, storm, t->rail, t->item, &for_ms))
        return false;
    t->n++;
    t->struck_us = rig->time_us;
    t->counts[t->fault]++;
    t->on = for_ms > 0;
    t->over_us = rig->time_us + 1000LL * for_ms;
    if (!t->on)
        t->next_us = rig->time_us + 1000LL * draw_between(&t->draw, 50, 30000);
    return true;
}

static void trouble_step(struct trouble *t, struct rig *rig)
{
    if (t->on && rig->time_us >= t->over_us)
        mend(t, rig);
    if (t->on || t->n >= TROUBLES_MOST || rig->time_us < t->next_us)
        return;
    t->fault = draw_between(&t->draw, 0, T_END - 1);
    t->rail = (uint16_t)draw_between(&t->draw, 0, rig->config.geometry.n_rails - 1);
    t->item = (uint16_t)draw_between(&t->draw, 0, rig->config.geometry.rail[t->rail].n_holders - 1);
    if (t->storms && draw_chance(&t->draw, 50)) {
        (void)strike_storm(t, rig);
        return;
    }
    if (!strike(t, rig))
        return;
    t->n++;
    t->struck_us = rig->time_us;
    t->counts[t->fault]++;
    t->on = !is_mended_at_once(t->fault);
    t->over_us = rig->time_us + 1000LL * draw_between(&t->draw, 30, 6000);
    if (!t->on)
        t->next_us = rig->time_us + 1000LL * draw_between(&t->draw, 50, 30000);
}

/* ---- one story ------------------------------------------------------------------------------------------------- */

struct totals {
    uint64_t stories, no_order, interruptions, troubles, failed, moves, corrections;
    double machine_s;
    int32_t worst_um, worst_pair_um, worst_slit_um;
    uint32_t counts[KINDS_MOST];
    uint64_t crept_apart, pushed_apart;
    struct {
        uint64_t lines, not_started, moved, for_good, returned, of[N_RUNNING];
    } running;
    uint64_t frame_faults[N_FRAME_FAULTS], by_references[3], test_cuts, stated, falsely, may_run, confirmed;
    unsigned long long own_switches, jerks;
};

static int32_t greater(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

static void add_up(struct totals *totals, const struct rig *rig, const struct operators *operators,
                   const struct trouble *t)
{
    const struct kr_record *record = &kr_station_durable(rig->station)->record;
    totals->interruptions += operators->interruptions;
    totals->troubles += t->n;
    totals->machine_s += (double)rig->time_us / 1e6;
    for (size_t i = 0; i < sizeof t->counts / sizeof t->counts[0]; i++)
        totals->counts[i] += t->counts[i];
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        totals->moves += record->rail[r].moves;
        totals->corrections += record->rail[r].corrections;
    }
    if (!operators->done || !rig_status_has(rig, KR_STATUS_VERIFIED))
        return;
    totals->worst_um = greater(totals->worst_um, rig_worst_edge_um(rig));
    totals->worst_pair_um = greater(totals->worst_pair_um, rig_worst_pair_um(rig));
    totals->worst_slit_um = greater(totals->worst_slit_um, rig_worst_slit_um(rig));
}

static void add_lines(struct totals *totals, const struct running *r)
{
    totals->running.lines += r->lines;
    totals->running.not_started += r->not_started;
    totals->running.moved += r->moved;
    totals->running.for_good += r->for_good;
    totals->running.returned += r->returned;
    for (int e = 0; e < N_RUNNING; e++)
        totals->running.of[e] += r->counts_of[e];
}

static void add_up_frames(struct totals *totals, const struct frames *f)
{
    for (int i = 0; i < N_FRAME_FAULTS; i++)
        totals->frame_faults[i] += f->counts[i];
    for (int i = 0; i < 3; i++)
        totals->by_references[i] += f->by_references[i];
    totals->own_switches += f->own_switches;
    totals->jerks += f->jerks;
    totals->test_cuts += f->test_cuts;
    totals->stated += f->stated;
    totals->falsely += f->falsely;
    totals->may_run += f->may_run;
    totals->confirmed += f->confirmed;
}

static bool verbose;
static struct traced *traced; /* NULL: nobody asked for it */

/* What each rail is counted from, what was found of it, and what is truly wrong with it. */
static void tell_frame(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        const struct kr_references *p = &rig->config.carriage[r].references;
        const struct kr_reference_knowledge *known = &kr_station_durable(rig->station)->references[r];
        const struct sim_axis *axis = &rig->machine.axis[r];
        const struct sim_miscount *wrong = &axis->drive.miscount;
        printf("  rail %d: shifted %.0f, bumped %.0f um, scale %.0f, warmer %.0f ppm, pitch %.0f um; found "
               "datum %d, "
               "switch %d um, scale %d ppb; references, good %x:",
               r + 1, wrong->shift_um, axis->sw.bumped_um, wrong->scale_ppm, wrong->warmer_ppm, wrong->pitch_um,
               known->correction.datum_um, known->correction.switch_um, known->correction.scale_ppb,
               (unsigned)known->good);
        for (uint16_t i = 0; i < p->n; i++)
            printf(" %d%s", p->flag[i].at_um, axis->sw.references_missing >> i & 1u ? " missing" : "");
        printf("; excused %d\n", rig->excuse[r].bound_um);
    }
}

static void tell(uint64_t number, const struct rig *rig, const char *what)
{
    const struct kr_alarm *alarm;
    uint16_t n = kr_station_alarms(rig->station, &alarm);
    printf("story %llu fails %s\n  state %d phase %d, last result %d\n", (unsigned long long)number, what,
           (int)rig_state(rig), rig_u16(rig, KR_REG_PHASE, 0, 0), (int)rig_answer(rig));
    for (uint16_t i = 0; i < n; i++) {
        char text[200];
        kr_alarm_text(&alarm[i], KR_LENGTH_MM, text, sizeof text);
        printf("  rail %d: %s\n", alarm[i].rail, text);
    }
    if (!verbose)
        return;
    tell_frame(rig);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++) {
            const struct kr_holder_data *h = &kr_station_durable(rig->station)->holder[r][i];
            printf("  rail %d holder %d size %d state %d known %d at %d, truly %d\n", r + 1, i + 1, h->holder_size,
                   h->state, h->known, h->position_um, sim_machine_holder_um(&rig->machine, r, i));
        }
}

static void follow(const struct rig *rig, const struct trouble *t)
{
    static int state, phase, carriage[KR_RAILS_MAX], n_alarms, fault_on, line;
    int now = (int)rig_state(rig), p = rig_u16(rig, KR_REG_PHASE, 0, 0);
    bool news = now != state || p != phase || rig_alarm_count(rig) != n_alarms || fault_on != (int)(t->n * 2 + t->on);
    news = news || line != rig_line_status(rig);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        news = news || carriage[r] != (int)rig_carriage_phase(rig, r);
        carriage[r] = (int)rig_carriage_phase(rig, r);
    }
    if (!news)
        return;
    state = now;
    phase = p;
    n_alarms = rig_alarm_count(rig);
    fault_on = (int)(t->n * 2 + t->on);
    line = rig_line_status(rig);
    printf("%8.2f state %d phase %d result %d", (double)rig->time_us / 1e6, state, phase, rig_answer(rig));
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        printf("  %d:%d/%d %d ", r + 1, carriage[r], rig_docked(rig, r), rig_um(rig, KR_REG_CARRIAGE_POSITION, r, 0));
        for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++)
            printf("%d", rig_known(rig, r, i));
    }
    for (uint16_t i = 0; i < n_alarms; i++)
        printf(" A%d.%d.%d", rig_u16(rig, KR_REG_ALARM_CODES, 0, i), rig_u16(rig, KR_REG_ALARM_RAILS, 0, i),
               rig_u16(rig, KR_REG_ALARM_ITEMS, 0, i));
    if (t->on)
        printf(" FAULT %s rail %d item %d",
               t->fault < N_FAULTS ? sim_fault_info((enum sim_fault)t->fault)->name : "people", t->rail + 1,
               t->item + 1);
    else
        printf(" (%d)", t->fault);
    printf(" line %02x", (unsigned)line);
    if (t->running && t->running->on && t->running->last >= 0)
        printf(" count %u, last: %s", t->storms->count, running_meaning((enum running_event)t->running->last));
    printf("\n");
}

static void witness(const struct rig *rig, void *digest)
{
    digest_cycle(digest, rig);
}

/* Plans the order in force from where the holders truly stand, whatever the station has measured; or as measured. */
static bool is_possible(const struct rig *rig, bool as_measured)
{
    static struct kr_plan_request request;
    static struct kr_plan plan;
    const struct kr_durable *durable = kr_station_durable(rig->station);
    int32_t half_um = rig->config.pair_window_um < rig->config.slit_tolerance_um ? rig->config.pair_window_um / 2
                                                                                 : rig->config.slit_tolerance_um / 2;
    memset(&request, 0, sizeof request);
    request.geometry = rig->config.geometry;
    request.order = durable->order;
    request.deadband_um = half_um < request.geometry.tolerance_um ? half_um : request.geometry.tolerance_um;
    for (uint16_t r = 0; r < request.geometry.n_rails; r++) {
        request.rail[r].carriage_um = rig->config.carriage[r].park_um;
        for (uint16_t i = 0; i < request.geometry.rail[r].n_holders; i++) {
            const struct kr_holder_data *row = &durable->holder[r][i];
            int32_t at_um = as_measured ? row->position_um : sim_machine_holder_um(&rig->machine, r, i);
            request.rail[r].holder[i] = (struct kr_holder){at_um, row->edge_offset_um, row->holder_size, row->state};
        }
    }
    return kr_plan_make(&request, rig->workspace, &plan).code == KR_OK;
}

/* Some holder stands so far beside where it was measured that it takes more than the scatter of scans. */
static bool differs(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++)
            if (abs(kr_station_durable(rig->station)->holder[r][i].position_um -
                    sim_machine_holder_um(&rig->machine, r, i)) > SCAN_ERROR_UM)
                return true;
    return false;
}

/* An order that fits its machine need not be possible from where hands have pushed the holders: four idle ones that
 * fill the room beside the web, and have nowhere to overtravel, for instance. The alarm says so, and people would
 * have to push them once more. Likewise where an edge offset was written down after its holder had been placed, and
 * where the order was accepted while the datum was off by more than a step, and a fixed holder stands elsewhere. A rail
 * that shifts by less, or gets warmer, leaves holders out of tolerance in slits so narrow that the way back has no room
 * to overtravel. Each is so only if no plan is possible from where the holders truly stand; or from where they were
 * measured, if something that nobody can find has let that differ. */
static bool is_pushed_apart(const struct rig *rig, const struct operators *operators, const struct trouble *t)
{
    const uint32_t *frame = t->frames ? t->frames->counts : NULL;
    bool has_cause = t->counts[T_HANDS] > 0;
    for (int fault = 0; frame && fault < N_FRAME_FAULTS; fault++)
        has_cause |= frame[fault] > 0;
    if (operators->refusals < REFUSALS_MOST || !has_cause)
        return false;
    return !is_possible(rig, false) || (differs(rig) && !is_possible(rig, true));
}

static void creep_between(struct draw *d, struct rig *rig, struct trouble *t)
{
    int32_t for_ms;
    for (int i = draw_between(d, 0, 2); i > 0; i--) {
        uint16_t rail = (uint16_t)draw_between(d, 0, rig->config.geometry.n_rails - 1);
        uint16_t holder = (uint16_t)draw_between(d, 0, rig->config.geometry.rail[rail].n_holders - 1);
        t->counts[T_STORM + STORM_CREEP] += storms_strike(t->storms, rig, STORM_CREEP, rail, holder, &for_ms);
    }
}

/* A changeover further: before it a holder may creep, in stories with storms, or the frame may change. */
static bool begin_next(struct draw *d, struct rig *rig, struct operators *operators, struct trouble *t, uint32_t number)
{
    mend(t, rig);
    rig_command(rig, KR_COMMAND_RESET, 0);
    if (!rig_run_until_state(rig, KR_STATE_IDLE, 10000) || !station_order(d, rig, number))
        return false;
    if (t->storms)
        creep_between(d, rig, t);
    if (t->frames)
        frames_between(t->frames, rig, t->permissives);
    uint32_t interruptions = operators->interruptions;
    employ(operators, d, t);
    operators->interruptions = interruptions;
    return true;
}

enum kind { PLAIN, FAULTS, FRAMES_TOO, STORMS_TOO, LINES_TOO };

/* What is left of a story once its changeover is complete. */
struct rest {
    bool runs;
    uint32_t changeovers;
};

/* True: the story goes on. */
static bool goes_further(struct rest *rest, struct draw *d, struct rig *rig, struct operators *operators,
                         struct trouble *t, uint32_t number)
{
    if (rest->runs) {
        mend(t, rig);
        rest->runs = t->on; /* hands are still behind the guard */
        if (!t->on)
            running_begin(t->running, rig);
        return true;
    }
    return rest->changeovers > 0 && begin_next(d, rig, operators, t, number + 1000000 * --rest->changeovers);
}

static void story_begin(uint64_t number, enum kind kind, struct rig *rig, struct trouble *t, struct storms *storms,
                        struct running *running, struct watch *watch)
{
    if (kind < STORMS_TOO)
        return;
    storms_draw(storms, &t->draw, rig);
    t->storms = storms;
    t->permissives = &storms->wanted;
    if (kind < LINES_TOO)
        return;
    running_draw(running, number * UINT64_C(0x9FB21C651E98DF25) + 1, storms, watch, rig);
    t->running = running;
}

/* digest: NULL, nobody asked for one. */
static bool run(uint64_t number, enum kind kind, uint16_t n_holders, struct totals *totals, struct digest *digest)
{
    static struct rig rig;
    struct draw d = {number * UINT64_C(0x2545F4914F6CDD1D) + 1};
    struct trouble t = {.draw = {draw_bits(&d)}, .fault = -1, .permissives = &rig.in.permissives};
    struct operators operators;
    struct watch watch = {.what = ""};
    struct storms storms;
    struct running running = {.on = false};
    static struct frames frames;
    struct rest rest = {.runs = kind == LINES_TOO, .changeovers = kind == FRAMES_TOO ? 2 : kind >= STORMS_TOO ? 1 : 0};
    if (kind == PLAIN && n_holders == 0)
        n_holders = (uint16_t)draw_between(&d, 3, 40);
    station_draw(&d, &rig, n_holders);
    story_begin(number, kind, &rig, &t, &storms, &running, &watch);
    if (kind == FRAMES_TOO) {
        frames_draw(&frames, number, &rig);
        t.frames = &frames;
    }
    if (digest != NULL) {
        digest_story_begin(digest, number);
        rig.witness = witness;
        rig.of_witness = digest;
    }
    if (traced)
        traced_begin(traced, &rig);
    rig_begin(&rig);
    if (t.frames)
        frames_begin(&frames, &rig);
    employ(&operators, &d, &t);
    t.next_us = kind == PLAIN ? INT64_MAX : rig.time_us + 1000LL * draw_between(&t.draw, 0, 30000);
    bool has_order = station_order(&d, &rig, (uint32_t)number % 1000000 + 1);
    int64_t end_us = rig.time_us + 1000LL * LIMIT_MS;
    while (has_order && !operators.done && watch.what[0] == 0 && !watch.crept_apart && rig.time_us < end_us &&
           !is_pushed_apart(&rig, &operators, &t)) {
        bool ran = running.on;
        rig_cycle(&rig);
        if (running.on)
            running_step(&running, &rig);
        else
            trouble_step(&t, &rig);
        if (t.storms)
            storms_step(&storms, &rig);
        if (t.frames && !t.on)
            frames_step(&frames, &rig, t.permissives);
        if (!ran)
            operators_step(&operators, &rig);
        if (t.frames && operators.done) {
            mend(&t, &rig);
            frames_prove_edges(&frames, &rig);
        }
        watch_step(&watch, &rig);
        if (traced)
            traced_step(traced, &rig);
        if (t.storms && watch.what[0] == 0)
            snprintf(watch.what, sizeof watch.what, "%s", storms.what);
        if (t.frames && watch.what[0] == 0)
            snprintf(watch.what, sizeof watch.what, "%s", frames.what);
        if (verbose)
            follow(&rig, &t);
        if ((operators.done || (ran && !running.on)) && watch.what[0] == 0)
            operators.done = !goes_further(&rest, &d, &rig, &operators, &t, (uint32_t)number % 1000000 + 1000001);
    }
    if (has_order && !operators.done && watch.what[0] == 0 && !watch.crept_apart &&
        !is_pushed_apart(&rig, &operators, &t))
        snprintf(watch.what, sizeof watch.what, "it never ends");
    if (traced && !traced_end(traced, &rig) && watch.what[0] == 0)
        snprintf(watch.what, sizeof watch.what, "%.*s", (int)sizeof watch.what - 1, traced->what);
    totals->stories++;
    totals->no_order += !has_order;
    totals->failed += watch.what[0] != 0;
    totals->crept_apart += watch.crept_apart;
    totals->pushed_apart += is_pushed_apart(&rig, &operators, &t);
    add_lines(totals, &running);
    if (watch.what[0])
        tell(number, &rig, watch.what);
    else if (has_order)
        add_up(totals, &rig, &operators, &t);
    if (t.frames)
        add_up_frames(totals, &frames);
    if (digest != NULL)
        digest_story_end(digest);
    rig_end(&rig);
    return watch.what[0] == 0;
}

static void print_lines(const struct totals *t)
{
    if (t->running.lines == 0)
        return;
    printf("%llu lines ran, %llu could not be started; %llu knives were moved behind guards or without "
           "power; the "
           "signals fell for good %llu times, and stood again at the end %llu times\n",
           (unsigned long long)t->running.lines, (unsigned long long)t->running.not_started,
           (unsigned long long)t->running.moved, (unsigned long long)t->running.for_good,
           (unsigned long long)t->running.returned);
    for (int e = 0; e < N_RUNNING; e++)
        printf("%llu times: %s\n", (unsigned long long)t->running.of[e], running_meaning((enum running_event)e));
}

static void print_totals(const struct totals *t)
{
    printf("%llu stories (%llu without an order that fits), %llu failed; %llu moves, %llu corrections, %.0f "
           "h of machine time\n",
           (unsigned long long)t->stories, (unsigned long long)t->no_order, (unsigned long long)t->failed,
           (unsigned long long)t->moves, (unsigned long long)t->corrections, t->machine_s / 3600);
    printf("%llu troubles, %llu interruptions; at the end the worst knife was %.3f mm off, pair %.3f mm, "
           "slit %.3f mm\n",
           (unsigned long long)t->troubles, (unsigned long long)t->interruptions, t->worst_um / 1e3,
           t->worst_pair_um / 1e3, t->worst_slit_um / 1e3);
    for (int i = 0; i < N_FAULTS && t->troubles; i++)
        printf("%s %u%s", sim_fault_info((enum sim_fault)i)->name, (unsigned)t->counts[i],
               i + 1 < N_FAULTS ? ", " : "\n");
    for (int i = 0; i < N_STORMS && t->troubles; i++)
        if (t->counts[T_STORM + i] > 0)
            printf("%u times: %s\n", (unsigned)t->counts[T_STORM + i], storm_meaning((enum storm)i));
    if (t->crept_apart > 0)
        printf("%llu stories ended where a holder that had crept, or beside which the pin was off, was in "
               "the way "
               "before anything could find it\n",
               (unsigned long long)t->crept_apart);
}

static void print_frames(const struct totals *t)
{
    printf("rails: %llu without references, %llu with some at one end, %llu at both; %llu test cuts, %llu "
           "shifts "
           "confirmed, %llu changeovers after which the line may run\n",
           (unsigned long long)t->by_references[0], (unsigned long long)t->by_references[1],
           (unsigned long long)t->by_references[2], (unsigned long long)t->test_cuts, (unsigned long long)t->confirmed,
           (unsigned long long)t->may_run);
    printf("with %llu of these test cuts somebody stated that each pair was looked at; %llu edges were proven so whose "
           "pair nobody had looked at and was off\n",
           (unsigned long long)t->stated, (unsigned long long)t->falsely);
    printf("stations: %llu whose references have a switch of their own, %llu whose drives limit their jerk\n",
           t->own_switches, t->jerks);
    for (int i = 0; i < N_FRAME_FAULTS; i++)
        printf("%llu times: %s\n", (unsigned long long)t->frame_faults[i], frame_fault_meaning((enum frame_fault)i));
}

static void print_pushed_apart(const struct totals *t)
{
    if (t->pushed_apart > 0)
        printf("%llu stories ended where no plan was possible from where hands, an edge offset or a rail had left the "
               "holders\n",
               (unsigned long long)t->pushed_apart);
}

static void print_digest(const struct digest *digest)
{
    if (digest != NULL)
        printf("digest %016llx\n", (unsigned long long)digest->sum);
}

static void print_traced(void)
{
    if (traced)
        printf("%llu cycles were recorded and replayed from %llu traces, with %llu checkpoints compared whole\n",
               (unsigned long long)traced->cycles, (unsigned long long)traced->traces,
               (unsigned long long)traced->checkpoints);
}

static const struct {
    const char *name, *meaning;
} kinds[] = {[PLAIN] = {"plain", "without faults"},
             [FAULTS] = {"faults", "with faults"},
             [FRAMES_TOO] = {"frames", "with faults, and faults of the frame"},
             [STORMS_TOO] = {"storms", "with faults and storms"},
             [LINES_TOO] = {"lines", "with faults, storms and a line that runs"}};

static enum kind kind_named(const char *name)
{
    int kind = LINES_TOO;
    while (kind > PLAIN && strcmp(name, kinds[kind].name) != 0)
        kind--;
    return (enum kind)kind;
}

static int run_stories(int argc, char **argv, struct digest *digest)
{
    uint64_t first = strtoull(argv[1], NULL, 10), count = strtoull(argv[2], NULL, 10);
    enum kind kind = kind_named(argc > 3 ? argv[3] : "");
    uint16_t n_holders = argc > 4 ? (uint16_t)strtoul(argv[4], NULL, 10) : 0;
    verbose = argc > 5;
    struct totals totals = {0};
    printf("stories %llu to %llu, %s\n", (unsigned long long)first, (unsigned long long)(first + count - 1),
           kinds[kind].meaning);
    for (uint64_t i = 0; i < count; i++) {
        run(first + i, kind, n_holders, &totals, digest);
        if ((i + 1) % 10000 == 0 && i + 1 < count) { /* a run that is cut goes on from here */
            printf("up to story %llu: ", (unsigned long long)(first + i));
            print_totals(&totals);
            fflush(stdout);
        }
    }
    print_totals(&totals);
    print_lines(&totals);
    print_pushed_apart(&totals);
    if (kind == FRAMES_TOO)
        print_frames(&totals);
    print_traced();
    print_digest(digest);
    return totals.failed == 0 ? 0 : 1;
}

int main(int argc, char **argv)
{
    static struct digest digest;
    if (argc == 2 && strcmp(argv[1], "--layout") == 0) {
        digest_print_layout();
        return 0;
    }
    bool digests = argc > 2 && strcmp(argv[1], "--digest") == 0;
    if (digests && !digest_open(&digest, argv[2]))
        return 2;
    int skip = digests ? 2 : 0;
    static struct traced of_all;
    if (strncmp(argv[argc - 1], "--replay", 8) == 0) {
        argc--;
        traced = &of_all;
        traced_open(traced, argv[argc][8] == '=' ? argv[argc] + 9 : NULL);
    }
    bool storms_replayed =
        traced && argc - skip > 3 && kind_named(argv[skip + 3]) >= STORMS_TOO; /* what goes to the drives differs */
    if (argc - skip < 3 || storms_replayed) {
        fprintf(stderr,
                "usage: %s [--digest LAYOUT] FIRST COUNT [plain|faults|frames|storms|lines] [HOLDERS] "
                "[--replay[=FILE]]\n"
                "       %s --layout; --replay is for plain and faults\n",
                argv[0], argv[0]);
        return 2;
    }
    int status = run_stories(argc - skip, argv + skip, digests ? &digest : NULL);
    if (traced)
        traced_close(traced);
    return status;
}
