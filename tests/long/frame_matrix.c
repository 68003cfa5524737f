/* Every fault of the frame in every moment of a changeover, on stations without references, with one and with two, seen
 * by the holders' switch and by a switch of their own. Judged as the random stories of frames.h are: no place, knife,
 * pair or slit is claimed that is not truly so, but for what config/pages/maintenance.md lists as not found; and by
 * what alarms and pages tell people to do, that changeover and the next one end verified. Prints the cells that fail,
 * and totals. frame_matrix CELL: that cell alone, step by step. frame_matrix FIRST STEP: every STEPth cell from FIRST
 * on. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "frames.h"
#include "storms.h"

/* ---- stations -------------------------------------------------------------------------------------------------- */

struct kind {
    const char *name;
    uint16_t n;
    bool own_switch;
    int32_t at_um[2][2]; /* of each rail */
};

static const struct kind kinds[] = {
    {"no references", 0, false, {{0}}},
    {"one reference", 1, false, {{-60 * MM}, {-70 * MM}}},
    {"two references", 2, false, {{-60 * MM, 540 * MM}, {-70 * MM, 590 * MM}}},
    {"one reference, own switch", 1, true, {{150 * MM}, {290 * MM}}},
    {"two references, own switch", 2, true, {{60 * MM, 470 * MM}, {75 * MM, 451 * MM}}},
};
#define N_KINDS (sizeof kinds / sizeof kinds[0])

#define REFERENCE_UM       (8 * MM)
#define OWN_OFFSET_UM      (-35 * MM)
#define NOTICED_AT_ONCE_UM (5 * MM) /* a position that jumps further in one answer */

static void give_references(struct rig *rig, uint16_t r, const struct kind *kind)
{
    struct kr_references *p = &rig->config.carriage[r].references;
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    *p = (struct kr_references){.n = kind->n, .window_um = 1000, .step_um = 300};
    p->n_low = kind->own_switch ? 0 : (uint16_t)(kind->n > 0);
    p->own_switch = m->reference_switch_own = kind->own_switch;
    p->switch_offset_um = m->reference_switch_offset_um = kind->own_switch ? OWN_OFFSET_UM : 0;
    m->n_references = kind->n;
    for (uint16_t i = 0; i < kind->n; i++) {
        p->flag[i] = (struct kr_reference){kind->at_um[r][i], REFERENCE_UM};
        m->reference[i] = (struct sim_reference_config){kind->at_um[r][i], REFERENCE_UM};
    }
}

/* ---- causes ---------------------------------------------------------------------------------------------------- */

enum cause {
    SHIFT_ON,       /* the datum shifts */
    SHIFT_OFF,      /* one that was there from the start goes */
    SHIFT_RESTART,  /* it shifts while the gateway restarts */
    SHIFT_AND_BACK, /* it has come back when the next scan begins */
    BUMP,
    BUMP_OF_REFERENCES,
    SCALE,
    WARMER,
    EXCHANGED,
    SLIPS, /* the brake of a holder, from its next release on */
    CREEP, /* a holder, while the unit rests */
    DIRTY,
    MISSING,
    BLADE,
    SWITCH_OFF, /* the references' own */
    SWITCH_ON,
};

/* What people do about it. */
enum remedy { LEFT, MENDED, CONFIRMED };

struct row {
    const char *name;
    enum cause cause;
    int32_t value;
    enum remedy remedy;
};

static const struct row rows[] = {
    {"datum shifts, less than a step", SHIFT_ON, 250, LEFT},
    {"datum shifts, less than a step", SHIFT_ON, -250, MENDED},
    {"datum shifts, mended", SHIFT_ON, 1500, MENDED},
    {"datum shifts, mended", SHIFT_ON, -1500, MENDED},
    {"datum shifts, mended", SHIFT_ON, -700, MENDED},
    {"datum shifts, confirmed", SHIFT_ON, 1200, CONFIRMED},
    {"datum shifts, confirmed", SHIFT_ON, -600, CONFIRMED},
    {"datum jumps", SHIFT_ON, -20000, MENDED},
    {"datum shifts back", SHIFT_OFF, 700, LEFT},
    {"datum shifts across a restart", SHIFT_RESTART, 250, LEFT},
    {"datum shifts across a restart, mended", SHIFT_RESTART, -1500, MENDED},
    {"datum shifts across a restart, confirmed", SHIFT_RESTART, 1500, CONFIRMED},
    {"datum shifts and comes back", SHIFT_AND_BACK, 1200, LEFT},
    {"datum shifts and comes back", SHIFT_AND_BACK, -600, LEFT},
    {"bracket bumped", BUMP, 250, LEFT},
    {"bracket bumped, mended", BUMP, -1200, MENDED},
    {"bracket bumped, mended", BUMP, 280, MENDED},
    {"bracket of the references bumped", BUMP_OF_REFERENCES, 250, MENDED},
    {"bracket of the references bumped", BUMP_OF_REFERENCES, -900, MENDED},
    {"scale", SCALE, 100, LEFT},
    {"scale, mended", SCALE, -800, MENDED},
    {"scale, confirmed", SCALE, 800, CONFIRMED},
    {"one rail warmer", WARMER, 250, LEFT},
    {"drives exchanged", EXCHANGED, 0, MENDED},
    {"brake slips", SLIPS, 450, MENDED},
    {"holder creeps", CREEP, 300, LEFT},
    {"holder creeps", CREEP, -6000, LEFT},
    {"reference a little dirty", DIRTY, 100, LEFT},
    {"reference dirty", DIRTY, 2500, MENDED},
    {"reference missing", MISSING, 0, MENDED},
    {"wrong offset of a blade", BLADE, 400, MENDED},
    {"reference switch dead", SWITCH_OFF, 0, MENDED},
    {"reference switch stuck", SWITCH_ON, 0, MENDED},
};
#define N_ROWS (sizeof rows / sizeof rows[0])

/* What needs people, or the unit at rest. */
static bool holds_first(const struct row *row)
{
    return row->cause == WARMER || row->cause == EXCHANGED || row->cause == CREEP;
}

/* Exchanged drives are told by the distance of two references. */
static bool can_be(const struct row *row, const struct kind *kind)
{
    switch (row->cause) {
    case DIRTY:
    case MISSING: return kind->n > 0;
    case EXCHANGED: return kind->n > 1;
    case BUMP_OF_REFERENCES:
    case SWITCH_OFF:
    case SWITCH_ON: return kind->own_switch;
    default: return row->remedy != CONFIRMED || kind->n > 0;
    }
}

/* ---- moments --------------------------------------------------------------------------------------------------- */

struct moment {
    const char *name;
    enum kr_phase phase;
    enum kr_carriage_phase carriage;
    int8_t direction; /* of travel: 0 any */
    int32_t wait_ms;  /* in that phase, before it strikes */
    bool scans_first; /* the guards were open: what was measured is no more */
};

/* The first two: between two changeovers. */
static const struct moment moments[] = {
    {"verified", 0, 0, 0, 0, false},
    {"idle", 0, 0, 0, 0, true},
    {"enabling", KR_PHASE_SCAN, KR_CARRIAGE_ENABLING, 0, 20, true},
    {"scan out", KR_PHASE_SCAN, KR_CARRIAGE_SCANNING, 1, 1200, true},
    {"scan back", KR_PHASE_SCAN, KR_CARRIAGE_SCANNING, -1, 1200, true},
    {"approach", KR_PHASE_MOVE, KR_CARRIAGE_TRAVELLING, 0, 250, false},
    {"approach after a scan", KR_PHASE_MOVE, KR_CARRIAGE_TRAVELLING, 0, 250, true},
    {"dock", KR_PHASE_MOVE, KR_CARRIAGE_DOCKING, 0, 60, false},
    {"drag", KR_PHASE_MOVE, KR_CARRIAGE_DRAGGING, 0, 200, false},
    {"settle", KR_PHASE_MOVE, KR_CARRIAGE_SETTLING, 0, 30, false},
    {"release", KR_PHASE_MOVE, KR_CARRIAGE_UNDOCKING, 0, 60, false},
    {"verify out", KR_PHASE_VERIFY, KR_CARRIAGE_SCANNING, 1, 1200, false},
    {"verify back", KR_PHASE_VERIFY, KR_CARRIAGE_SCANNING, -1, 1200, false},
    {"travel to rest", KR_PHASE_TRAVEL, KR_CARRIAGE_TRAVELLING, 0, 100, false},
};
#define N_MOMENTS (sizeof moments / sizeof moments[0])

static bool is_within_a_scan(const struct moment *moment)
{
    return moment->carriage == KR_CARRIAGE_SCANNING;
}

/* An offset is written down between two changeovers. */
static bool can_come(const struct row *row, const struct moment *moment)
{
    if (row->cause == SHIFT_AND_BACK)
        return !is_within_a_scan(moment);
    return row->cause != BLADE || moment->phase == 0;
}

/* ---- one cell -------------------------------------------------------------------------------------------------- */

struct cell {
    size_t number;
    const struct row *row;
    const struct kind *kind;
    const struct moment *moment;
    uint16_t rail, holder; /* from 0 */
    struct rig rig;
    struct frames frames;
    struct watch watch;
    struct operators operators;
    struct draw draw;
    int64_t in_phase_us;
    int32_t last_um;
    bool waits; /* for the moment */
    bool held, struck, mended, came;
    int visits;
};

static void fail(struct cell *c, const char *what, int64_t value)
{
    if (c->watch.what[0] == 0)
        snprintf(c->watch.what, sizeof c->watch.what, "%s: %lld", what, (long long)value);
}

static bool is_the_moment(struct cell *c)
{
    const struct rig *rig = &c->rig;
    int32_t at_um = sim_machine_carriage_um(&rig->machine, c->rail), moved_um = at_um - c->last_um;
    c->last_um = at_um;
    bool here = rig_phase(rig) == c->moment->phase && rig_carriage_phase(rig, c->rail) == c->moment->carriage &&
                (c->moment->direction == 0 || c->moment->direction * moved_um > 0);
    if (!here)
        c->in_phase_us = rig->time_us;
    return rig->time_us - c->in_phase_us >= 1000LL * c->moment->wait_ms;
}

/* The holder that is being moved, or one that this order moves. */
static uint16_t a_holder(const struct cell *c)
{
    uint16_t docked = rig_docked(&c->rig, c->rail);
    return docked > 0 && docked <= SMALL_HOLDERS ? (uint16_t)(docked - 1) : 1;
}

static void machine_breaks(struct cell *c, enum sim_fault fault, uint16_t item, int32_t value)
{
    if (!sim_machine_break(&c->rig.machine, c->rail, fault, item, value))
        fail(c, "the machine can't have this fault", (int64_t)fault);
}

static void guards(struct cell *c, bool closed)
{
    frames_guards(&c->rig, &c->rig.in.permissives, closed);
}

static void becomes_warmer(struct cell *c, struct frames_rail *rail)
{
    guards(c, false);
    rail->warmer_ppm = c->row->value;
    frames_lay(&c->frames, &c->rig, c->rail);
    guards(c, true);
}

static void are_exchanged(struct cell *c)
{
    guards(c, false);
    (void)frames_exchange(&c->frames, &c->rig, true);
    guards(c, true);
}

/* By less than a step; else the two ways of the scan are too far apart. */
static void comes_within_a_scan(struct cell *c)
{
    const struct row *row = c->row;
    int32_t step_um = c->rig.config.carriage[c->rail].references.step_um;
    int32_t way_um = c->rig.config.geometry.rail[c->rail].max_um;
    int64_t by_um = row->cause == SCALE ? (int64_t)way_um * row->value / 1000000 : row->value;
    if (is_within_a_scan(c->moment))
        frames_half_seen(&c->frames, &c->rig, c->rail, (int32_t)(llabs(by_um) > step_um ? step_um : by_um));
}

static void strike(struct cell *c)
{
    struct frames_rail *rail = &c->frames.rail[c->rail];
    c->holder = a_holder(c);
    c->struck = true;
    switch (c->row->cause) {
    case SHIFT_OFF: rail->shift_um = 0; break;
    case SHIFT_RESTART: frames_restart(&c->rig, &c->rig.in.permissives); /* fallthrough */
    case SHIFT_ON:
    case SHIFT_AND_BACK: rail->shift_um = c->row->value; break;
    case BUMP: rail->bump_um = c->row->value; break;
    case BUMP_OF_REFERENCES: rail->bump_2_um = c->row->value; break;
    case SCALE: rail->scale_ppm = c->row->value; break;
    case WARMER: becomes_warmer(c, rail); return;
    case EXCHANGED: are_exchanged(c); return;
    case SLIPS: machine_breaks(c, SIM_BRAKE_SLIPS, c->holder, c->row->value); return;
    case CREEP: (void)storms_creep(&c->rig, c->rail, c->holder, c->row->value); return;
    case DIRTY:
    case MISSING: frames_spoil(&c->frames, &c->rig, c->rail, 0, c->row->value); return;
    case BLADE: (void)frames_mistype_offset(&c->frames, &c->rig, c->rail, c->holder, c->row->value); return;
    case SWITCH_OFF: machine_breaks(c, SIM_REFERENCE_SWITCH_STUCK_OFF, 0, 0); return;
    case SWITCH_ON: machine_breaks(c, SIM_REFERENCE_SWITCH_STUCK_ON, 0, 0); return;
    }
    frames_lay(&c->frames, &c->rig, c->rail);
    comes_within_a_scan(c);
}

static void strike_at_the_moment(struct cell *c)
{
    struct rig *rig = &c->rig;
    if (!c->waits)
        return;
    if (c->held && rig_state(rig) == KR_STATE_HELD) {
        strike(c);
        c->waits = false;
    } else if (!c->held && is_the_moment(c)) {
        if (!holds_first(c->row))
            strike(c);
        else if (rig_command(rig, KR_COMMAND_HOLD, 0) == KR_OK)
            c->held = true;
        c->waits = !c->struck;
    }
}

static void comes_back(struct cell *c)
{
    enum kr_phase phase = rig_phase(&c->rig);
    bool scans = phase == KR_PHASE_SCAN || phase == KR_PHASE_VERIFY;
    if (c->row->cause != SHIFT_AND_BACK || !c->struck || c->mended || !scans)
        return;
    c->mended = true;
    c->frames.rail[c->rail].shift_um = 0;
    frames_lay(&c->frames, &c->rig, c->rail);
}

/* ---- people ---------------------------------------------------------------------------------------------------- */

#define FIND_OUT_VISITS 4 /* so often people go on before they look at what no alarm names */

static void mend(struct cell *c)
{
    struct rig *rig = &c->rig;
    c->mended = true;
    if (c->frames.exchanged)
        (void)frames_exchange(&c->frames, rig, false);
    frames_mend_rail(&c->frames, rig, c->rail);
    (void)sim_machine_mend(&rig->machine, c->rail, SIM_BRAKE_SLIPS, c->holder);
    (void)sim_machine_mend(&rig->machine, c->rail, SIM_REFERENCE_SWITCH_STUCK_OFF, 0);
    (void)sim_machine_mend(&rig->machine, c->rail, SIM_REFERENCE_SWITCH_STUCK_ON, 0);
}

static bool an_alarm_stops(const struct rig *rig)
{
    const struct kr_alarm *alarm;
    uint16_t n = kr_station_alarms(rig->station, &alarm);
    for (uint16_t i = 0; i < n; i++)
        if (kr_alarm_info(alarm[i].code)->reaction != KR_REACT_NONE)
            return true;
    return false;
}

static void visit(struct operators *operators, struct rig *rig)
{
    struct cell *c = operators->of_mend;
    rig->in.permissives = 0x1F;
    if (!c->struck || c->mended || !an_alarm_stops(rig))
        return;
    c->came = true;
    c->visits++;
    if (c->row->remedy == MENDED || c->visits >= FIND_OUT_VISITS)
        mend(c);
}

static void look_at_shift(struct operators *operators, struct rig *rig, uint16_t r, int32_t shift_um)
{
    struct cell *c = operators->of_mend;
    bool mends = c->struck && !c->mended && r == c->rail && c->row->remedy != CONFIRMED;
    c->came = true;
    if (mends) {
        mend(c);
        return;
    }
    operators_confirm_shift(rig, r, shift_um);
    c->frames.rail[r].confirmed = true;
}

static void employ(struct cell *c)
{
    operators_init(&c->operators, &c->draw);
    c->operators.mend = visit;
    c->operators.of_mend = c;
    c->operators.on_shift = look_at_shift;
    c->operators.find_percent = 50;
}

/* ---- its three changeovers ------------------------------------------------------------------------------------- */

#define LIMIT_US (15LL * 60 * 1000000) /* for each */

static void follow(const struct cell *c)
{
    static int last[8];
    const struct rig *rig = &c->rig;
    int now[8] = {
        (int)rig_state(rig),  (int)rig_phase(rig),  (int)rig_carriage_phase(rig, 0), (int)rig_carriage_phase(rig, 1),
        rig_alarm_count(rig), c->struck + c->mended};
    if (memcmp(now, last, sizeof now) == 0)
        return;
    memcpy(last, now, sizeof now);
    printf("%8.2f state %d phase %d carriages %d %d, docked %d %d, result %d, datum %d switch %d um %s",
           (double)rig->time_us / 1e6, now[0], now[1], now[2], now[3], rig_docked(rig, 0), rig_docked(rig, 1),
           rig_answer(rig), rig_um(rig, KR_REG_DATUM_CORRECTION, c->rail, 0),
           rig_um(rig, KR_REG_SWITCH_CORRECTION, c->rail, 0),
           c->mended   ? "mended"
           : c->struck ? "STRUCK"
                       : "");
    const struct kr_alarm *alarm;
    uint16_t n = kr_station_alarms(rig->station, &alarm);
    for (uint16_t i = 0; i < n; i++)
        printf(" A%d.%d.%d %d", (int)alarm[i].code, alarm[i].rail, alarm[i].item, alarm[i].value);
    printf("\n");
}

static void cycle(struct cell *c, bool verbose)
{
    struct rig *rig = &c->rig;
    rig_cycle(rig);
    strike_at_the_moment(c);
    comes_back(c);
    operators_step(&c->operators, rig);
    if (c->operators.done)
        frames_prove_edges(&c->frames, rig);
    watch_step(&c->watch, rig);
    if (c->watch.what[0] == 0)
        snprintf(c->watch.what, sizeof c->watch.what, "%s", c->frames.what);
    if (verbose)
        follow(c);
}

static bool goes_on(const struct cell *c)
{
    return c->watch.what[0] == 0 && !c->watch.crept_apart;
}

static void stage(struct cell *c, uint32_t number)
{
    static const int32_t widths_um[2][3] = {{90 * MM, 110 * MM, 100 * MM}, {70 * MM, 90 * MM, 130 * MM}};
    rig_order(&c->rig, number, 360 * MM, widths_um[number % 2], 3);
    if (rig_request(&c->rig, KR_REQUEST_STAGE) != KR_OK)
        fail(c, "an order is refused", (int64_t)rig_verdict(&c->rig));
}

static void change_over(struct cell *c, uint32_t number, bool verbose)
{
    struct rig *rig = &c->rig;
    int64_t end_us = rig->time_us + LIMIT_US;
    employ(c);
    stage(c, number);
    while (!c->operators.done && goes_on(c) && rig->time_us < end_us)
        cycle(c, verbose);
    if (goes_on(c) && !c->operators.done)
        fail(c, "it never ends, state", (int64_t)rig_state(rig));
}

static void between(struct cell *c, bool strikes)
{
    struct rig *rig = &c->rig;
    if (!goes_on(c))
        return;
    if (strikes && c->moment->phase == 0 && !c->moment->scans_first)
        strike(c);
    rig_run_ms(rig, 500);
    (void)rig_command(rig, KR_COMMAND_RESET, 0);
    (void)rig_run_until_state(rig, KR_STATE_IDLE, 10000);
    if (strikes && c->moment->scans_first)
        rig_open_and_close_guards(rig);
    rig->in.permissives = 0x1F;
    if (strikes && c->moment->phase == 0 && c->moment->scans_first)
        strike(c);
    c->waits = strikes && !c->struck;
}

static void begin(struct cell *c)
{
    struct rig *rig = &c->rig;
    rig_small_ordinary(rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        rig->config.carriage[r].jump_um = NOTICED_AT_ONCE_UM;
        give_references(rig, r, c->kind);
    }
    frames_watch(&c->frames, c->number, rig);
    rig_begin(rig);
    if (c->row->cause == SHIFT_OFF) {
        c->frames.rail[c->rail].shift_um = c->row->value;
        frames_lay(&c->frames, rig, c->rail);
    }
}

/* True if it passes. */
static bool run(struct cell *c, bool verbose)
{
    c->draw.state = c->number;
    begin(c);
    change_over(c, 1, verbose);
    between(c, true);
    if (goes_on(c))
        change_over(c, 2, verbose);
    if (goes_on(c) && !c->struck)
        fail(c, "the moment never came", 0);
    between(c, false);
    if (goes_on(c))
        change_over(c, 3, verbose);
    rig_end(&c->rig);
    return c->watch.what[0] == 0;
}

struct totals {
    size_t tried, failed, came, apart;
};

#define N_CELLS (N_KINDS * N_MOMENTS * N_ROWS)

static bool run_cell(size_t number, bool verbose, struct totals *totals)
{
    static struct cell c;
    memset(&c, 0, sizeof c);
    c.number = number;
    c.kind = &kinds[number % N_KINDS];
    c.moment = &moments[number / N_KINDS % N_MOMENTS];
    c.row = &rows[number / N_KINDS / N_MOMENTS];
    c.rail = (uint16_t)(number / N_KINDS % 2);
    if (!can_be(c.row, c.kind) || !can_come(c.row, c.moment))
        return true;
    bool good = run(&c, verbose);
    totals->tried++;
    totals->failed += !good;
    totals->came += c.came;
    totals->apart += c.watch.crept_apart;
    if (!good)
        printf("cell %zu: %s (%d) at %s, rail %d, %s: %s\n", number, c.row->name, c.row->value, c.moment->name,
               c.rail + 1, c.kind->name, c.watch.what);
    return good;
}

int main(int argc, char **argv)
{
    struct totals totals = {0};
    size_t first = argc > 1 ? strtoul(argv[1], NULL, 10) : 0, step = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    if (argc > 3 || first >= N_CELLS || step == 0) {
        fprintf(stderr, "usage: %s [CELL | FIRST STEP]; cells are 0 to %zu, STEP is at least 1\n", argv[0],
                (size_t)N_CELLS - 1);
        return 2;
    }
    if (argc == 2)
        return run_cell(first, true, &totals) ? 0 : 1;
    for (size_t i = first; i < N_CELLS; i += step)
        (void)run_cell(i, false, &totals);
    printf("%zu faults of the frame in %zu moments, on %zu kinds of stations: %zu cells, %zu in which people "
           "were "
           "called, %zu that ended where the pin was off beside a holder, %zu failed\n",
           N_ROWS, N_MOMENTS, N_KINDS, totals.tried, totals.came, totals.apart, totals.failed);
    return totals.failed == 0 && totals.tried > 0 ? 0 : 1;
}
