/* Every fault that the simulated machine knows and every storm (storms.h), in every phase of a changeover, on either
 * rail: motion stops in time, the first alarm names the cause, nothing collides, nothing is claimed that isn't so, and
 * once the cause is gone the changeover ends verified. Prints the cells that fail, and totals. matrix CELL: that cell
 * alone, step by step. matrix FIRST STEP: every STEPth cell from FIRST on. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "operators.h"
#include "storms.h"

/* ---- phases ---------------------------------------------------------------------------------------------------- */

struct moment {
    const char *name;
    enum kr_phase phase;
    enum kr_carriage_phase carriage;
    int8_t direction; /* of travel: 0 any */
    int32_t wait_ms;  /* in that phase, before it strikes */
    bool common_clamp;
};

static const struct moment moments[] = {
    {"enabling", KR_PHASE_SCAN, KR_CARRIAGE_ENABLING, 0, 20, false},
    {"scan out", KR_PHASE_SCAN, KR_CARRIAGE_SCANNING, 1, 1200, false},
    {"scan back", KR_PHASE_SCAN, KR_CARRIAGE_SCANNING, -1, 1200, false},
    {"unclamp", KR_PHASE_UNCLAMP, KR_CARRIAGE_READY, 0, 50, true},
    {"approach", KR_PHASE_MOVE, KR_CARRIAGE_TRAVELLING, 0, 250, false},
    {"approach, common clamp", KR_PHASE_MOVE, KR_CARRIAGE_TRAVELLING, 0, 250, true},
    {"dock", KR_PHASE_MOVE, KR_CARRIAGE_DOCKING, 0, 60, false},
    {"free", KR_PHASE_MOVE, KR_CARRIAGE_FREEING, 0, 40, false},
    {"drag", KR_PHASE_MOVE, KR_CARRIAGE_DRAGGING, 0, 200, false},
    {"drag, common clamp", KR_PHASE_MOVE, KR_CARRIAGE_DRAGGING, 0, 200, true},
    {"settle", KR_PHASE_MOVE, KR_CARRIAGE_SETTLING, 0, 30, false},
    {"brake", KR_PHASE_MOVE, KR_CARRIAGE_BRAKING, 0, 40, false},
    {"release", KR_PHASE_MOVE, KR_CARRIAGE_UNDOCKING, 0, 60, false},
    {"clamp", KR_PHASE_CLAMP, KR_CARRIAGE_READY, 0, 50, true},
    {"verify out", KR_PHASE_VERIFY, KR_CARRIAGE_SCANNING, 1, 1200, false},
    {"verify back", KR_PHASE_VERIFY, KR_CARRIAGE_SCANNING, -1, 1200, false},
    {"verify, common clamp", KR_PHASE_VERIFY, KR_CARRIAGE_SCANNING, 1, 1200, true},
    {"travel to rest", KR_PHASE_TRAVEL, KR_CARRIAGE_TRAVELLING, 0, 100, false},
};
#define N_MOMENTS (sizeof moments / sizeof moments[0])

/* ---- the PLC and the wire in a storm --------------------------------------------------------------------------- */

#define HEARTBEAT_LIMIT_MS 300
#define BEAT_MS            100
#define ANSWERS_LATE_MS    250
#define STORM_WATCHDOG_MS  400 /* longer than what stops motion, shorter than what loses the link */
#define LOST_MS            600

/* ---- what each fault has to be called -------------------------------------------------------------------------- */

#define CALLED_MOST 6

#define STORM_0     1000 /* enum storm counts from here */
#define STORM(NAME) (STORM_0 + STORM_##NAME)

struct expectation {
    int cause; /* enum sim_fault, or a storm */
    /* Of a storm: how late the answer is in ms, how far beyond the travel, how far it creeps in um. */
    int32_t value;
    bool at_once; /* in the cycles after it strikes, whatever goes on */
    /* A changeover may come through it unharmed, if nothing asks for what is broken any more. */
    bool may_pass;
    enum kr_alarm_code called[CALLED_MOST];
};

#define WIRE \
    { \
        KR_ALARM_LINK_LOST \
    }
#define PERMITTED \
    { \
        KR_ALARM_PERMISSIVE_LOST \
    }

/* An edge that the late answer hides is missed. */
#define ONE_LATE \
    { \
        KR_ALARM_EDGES_LOST, KR_ALARM_SCAN_UNTRUSTED, KR_ALARM_FLAG_WIDTH \
    }
#define CREPT \
    { \
        KR_ALARM_PIN_NOT_IN, KR_ALARM_FLAG_DISPLACED, KR_ALARM_OUT_OF_TOLERANCE \
    }

/* 0x2310: continuous over-current (tests/reference/data/cia402_error_codes.csv). */
static const struct expectation expectations[] = {
    {SIM_DRIVE_FAULT, 0x2310, true, false, {KR_ALARM_DRIVE_FAULT}},
    {SIM_DRIVE_REBOOT, 0, true, false, WIRE},
    {SIM_POSITION_JUMP, 15000, true, false, {KR_ALARM_POSITION_JUMPED}},
    {SIM_POSITION_JUMP, -4000, true, false, {KR_ALARM_POSITION_JUMPED}},
    {SIM_ENABLE_LOST, 0, true, false, PERMITTED},
    {SIM_LINK_LOST, 0, true, false, WIRE},
    {SIM_SLOW_ANSWERS, 400, false, false, {KR_ALARM_ANSWERS_LATE, KR_ALARM_DRIVE_FAULT}},
    {SIM_SLOW_ANSWERS, 120, false, true, {KR_ALARM_EDGES_LOST, KR_ALARM_SCAN_UNTRUSTED, KR_ALARM_FLAG_WIDTH}},
    {SIM_PIN_STUCK_OUT, 0, false, true, {KR_ALARM_PIN_NOT_IN}},
    {SIM_PIN_STUCK_IN, 0, false, true, {KR_ALARM_PIN_NOT_OUT}},
    {SIM_BRAKE_STUCK, 0, false, true, {KR_ALARM_BRAKE_NOT_OPEN}},
    {SIM_BRAKE_SLIPS, 450, false, true, {KR_ALARM_OUT_OF_TOLERANCE}},
    {SIM_CLAMP_LOST, 0, false, true, {KR_ALARM_CLAMP_LOST, KR_ALARM_CLAMP_NOT_OPEN}},
    {SIM_HOLDER_JAMMED, 0, false, true, {KR_ALARM_DRIVE_FAULT, KR_ALARM_MOVE_LATE}},
    {SIM_SWITCH_STUCK_ON, 0, false, true, {KR_ALARM_SWITCH_STUCK, KR_ALARM_FLAG_WIDTH, KR_ALARM_SCAN_UNTRUSTED}},
    {SIM_SWITCH_STUCK_OFF, 0, false, true, {KR_ALARM_FLAG_MISSING, KR_ALARM_FLAG_WIDTH, KR_ALARM_SCAN_UNTRUSTED}},
    {SIM_SWITCH_BOUNCES, 3, false, true, {KR_ALARM_EDGES_LOST, KR_ALARM_FLAG_WIDTH}},
    {SIM_FLAG_MISSING, 0, false, true, {KR_ALARM_FLAG_MISSING, KR_ALARM_SCAN_UNTRUSTED}},
    {SIM_FOREIGN_FLAG, 430000, false, true, {KR_ALARM_FLAG_EXTRA, KR_ALARM_SCAN_UNTRUSTED}},
    {SIM_POWER_CUT, 0, true, false, WIRE},
    {SIM_AIR_LOST, 0, true, false, PERMITTED},
    {SIM_GUARDS_OPENED, 0, true, false, PERMITTED},
    {SIM_LINE_RUNS, 0, true, false, PERMITTED},
    {SIM_KNIVES_LOWERED, 0, true, false, PERMITTED},
    {SIM_MOVED_BY_HAND, 12000, true, false, PERMITTED}, /* through open guards */
    {SIM_FACTORY_SETTINGS, 0, true, false, WIRE},       /* the parameters themselves only a wire shows */
    {SIM_PIN_BACKS_OUT, 0, false, true, {KR_ALARM_PIN_LOST, KR_ALARM_PIN_NOT_IN}},
    {SIM_PIN_SAGS, 0, false, true, {KR_ALARM_PIN_UNPROVEN, KR_ALARM_PIN_NOT_OUT}},
    {SIM_BRAKE_STUCK_OPEN, 0, false, true, {KR_ALARM_BRAKE_NOT_CLOSED}},
    {SIM_CLAMP_STUCK_OPEN, 0, false, true, {KR_ALARM_CLAMP_NOT_CLOSED}},
    {SIM_SETPOINTS_IGNORED, 0, false, true, {KR_ALARM_SETPOINT_NOT_TAKEN}},
    {SIM_NEVER_ARRIVES, 0, false, true, {KR_ALARM_MOVE_LATE}},
    {SIM_DATUM_FORGOTTEN, 0, false, true, {KR_ALARM_REFERENCE_LOST}},
    {STORM(SILENT), 0, false, true, {KR_ALARM_HEARTBEAT_STALE}},
    {STORM(SECOND_WRITER), 0, false, true, {KR_ALARM_HEARTBEAT_STALE}},
    {STORM(STRAY_COMMANDS), 0, false, true, {KR_ALARM_NONE}},
    {STORM(LATE_ANSWER), ANSWERS_LATE_MS - 50, false, true, ONE_LATE},
    {STORM(LATE_ANSWER), ANSWERS_LATE_MS + 100, false, true, {KR_ALARM_ANSWERS_LATE, KR_ALARM_EDGES_LOST}},
    {STORM(LATE_ANSWER), LOST_MS + 200, false, false, {KR_ALARM_ANSWERS_LATE, KR_ALARM_LINK_LOST}},
    {STORM(SWAPPED_WORDS), 0, true, false, WIRE},
    {STORM(REVERSED), 0, true, false, WIRE},
    {STORM(FAR_JUMP), 1000, true, false, {KR_ALARM_POSITION_JUMPED}},
    {STORM(FAR_JUMP), -200000, true, false, {KR_ALARM_POSITION_JUMPED}},
    {STORM(CREEP), 300, false, true, CREPT},
    {STORM(CREEP), -6000, false, true, CREPT},
    {STORM(CREEP), 9000, false, true, CREPT},
};
#define N_EXPECTATIONS (sizeof expectations / sizeof expectations[0])

/* ---- the machine ----------------------------------------------------------------------------------------------- */

#define N_HOLDERS       5
#define SPEED_UM_PER_S  500000
#define ACCEL_UM_PER_S2 1000000
#define COAST_UM_PER_S2 2000000
#define WATCHDOG_MS     200
#define TOLERATED_MS    80 /* cycles, the drive's lag, and what it takes to call it standing */

static void place(struct rig *rig, uint16_t r)
{
    for (uint16_t i = 0; i < N_HOLDERS; i++) {
        int32_t at_um = 60000 + 90000 * i;
        rig->book.holder[r][i].position_um = at_um;
        rig->sim_config.rail[r].holder[i].start_um = at_um;
    }
}

static void build_rail(struct rig *rig, uint16_t r, bool common_clamp)
{
    struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
    struct kr_carriage_config *c = &rig->config.carriage[r];
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    g->max_um = 500000;
    g->empty = (struct kr_speed){SPEED_UM_PER_S, ACCEL_UM_PER_S2};
    g->drag = (struct kr_speed){SPEED_UM_PER_S / 2, ACCEL_UM_PER_S2};
    c->park_um = -60000;
    c->clamping = common_clamp ? KR_CLAMP_COMMON : KR_CLAMP_PER_HOLDER;
    m->clamp_common = common_clamp;
    m->clamp_open_ms = m->clamp_close_ms = 300;
    m->carriage_um = -60000;
    m->home_um = m->home_offset_um = -100000;
    m->coast_um_per_s2 = COAST_UM_PER_S2;
    m->watchdog_ms = WATCHDOG_MS;
    m->pin_in_ms = m->pin_out_ms = 150;
    m->brake_open_ms = m->brake_close_ms = 100;
    place(rig, r);
}

/* Travel ends where the rail does, so that a position that can't be is soon one beyond it. */
static void draw_in_travel(struct rig *rig, uint16_t r)
{
    struct kr_carriage_config *c = &rig->config.carriage[r];
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    c->travel_min_um = -70000;
    c->travel_max_um = 570000;
    m->home_um = m->home_offset_um = -65000;
}

/* Permissives from the PLC's register: else a silent one would take nothing away. */
static void build_for_storms(struct rig *rig, struct storms *storms, struct draw *draw)
{
    rig->config.drive_inputs = 0;
    rig->config.heartbeat_limit_ms = HEARTBEAT_LIMIT_MS;
    for (uint16_t r = 0; r < 2; r++) {
        rig->config.carriage[r].answers_late_ms = ANSWERS_LATE_MS;
        rig->sim_config.rail[r].watchdog_ms = STORM_WATCHDOG_MS;
        draw_in_travel(rig, r);
    }
    storms_init(storms, draw, rig, BEAT_MS, LOST_MS);
}

static void build(struct rig *rig, bool common_clamp)
{
    rig_defaults(rig, 2, N_HOLDERS, 2);
    for (uint16_t r = 0; r < 2; r++)
        build_rail(rig, r, common_clamp);
    rig->config.geometry.web_centre_um = 250000;
    rig->config.geometry.trim_max_nm = 200000000;
    rig->config.drive_inputs = 0x1F;
}

static void begin(struct rig *rig)
{
    static const int32_t widths_um[] = {90000, 110000, 100000};
    rig_begin(rig);
    rig_order(rig, 1, 360000, widths_um, 3);
    rig_request(rig, KR_REQUEST_STAGE);
}

/* ---- one cell -------------------------------------------------------------------------------------------------- */

struct cell {
    size_t number;
    const struct moment *moment;
    const struct expectation *expected;
    uint16_t rail, holder; /* from 0 */
    struct rig rig;
    struct watch watch;
    struct operators operators;
    struct draw draw;
    struct storms storms;
    int64_t in_phase_us, struck_us, stopped_us, impossible_us;
    int32_t last_um;
    bool held; /* the moment has come; it strikes once the unit is Held */
    bool struck, without_effect, has_stood, mended;
    int visits;       /* of people, since it struck */
    bool was_doubted; /* an alarm said that the positions can't be */
    enum kr_alarm_code first;
};

static bool is_storm(const struct expectation *e)
{
    return e->cause >= STORM_0;
}

static enum storm storm_of(const struct expectation *e)
{
    return (enum storm)(e->cause - STORM_0);
}

static bool is_wrong_drive(const struct expectation *e)
{
    return e->cause == STORM(SWAPPED_WORDS) || e->cause == STORM(REVERSED);
}

/* What can happen only while the unit rests. */
static bool holds_first(const struct expectation *e)
{
    return e->cause == STORM(STRAY_COMMANDS) || e->cause == STORM(CREEP);
}

static const char *cause_name(const struct expectation *e)
{
    return is_storm(e) ? storm_meaning(storm_of(e)) : sim_fault_info((enum sim_fault)e->cause)->name;
}

static void fail(struct cell *c, const char *what, int64_t value, int64_t limit)
{
    if (c->watch.what[0] == 0)
        snprintf(c->watch.what, sizeof c->watch.what, "%s: %lld, limit %lld", what, (long long)value, (long long)limit);
}

static bool is_the_moment(struct cell *c)
{
    struct rig *rig = &c->rig;
    int32_t at_um = sim_machine_carriage_um(&rig->machine, c->rail), moved_um = at_um - c->last_um;
    c->last_um = at_um;
    bool here = rig_u16(rig, KR_REG_PHASE, 0, 0) == (uint16_t)c->moment->phase &&
                rig_u16(rig, KR_REG_CARRIAGE_PHASE, c->rail, 0) == (uint16_t)c->moment->carriage &&
                (c->moment->direction == 0 || c->moment->direction * moved_um > 0);
    if (!here)
        c->in_phase_us = rig->time_us;
    return rig->time_us - c->in_phase_us >= 1000LL * c->moment->wait_ms;
}

/* The holder that is being moved, or one that this order moves. */
static uint16_t a_holder(const struct cell *c)
{
    uint16_t docked = rig_u16(&c->rig, KR_REG_DOCKED_HOLDER, c->rail, 0);
    return docked > 0 && docked <= N_HOLDERS ? (uint16_t)(docked - 1) : 1;
}

static void storm_strikes(struct cell *c)
{
    struct rig *rig = &c->rig;
    int32_t value = c->expected->value;
    switch (storm_of(c->expected)) {
    case STORM_SECOND_WRITER: c->storms.second = true; /* fallthrough */
    case STORM_SILENT: c->storms.silent = true; break;
    case STORM_STRAY_COMMANDS: c->without_effect = !storms_stray(&c->storms, rig); break;
    case STORM_LATE_ANSWER: c->without_effect = !storms_answer_late(&c->storms, rig, c->rail, value); break;
    case STORM_SWAPPED_WORDS: c->without_effect = !storms_restart(&c->storms, rig, c->rail, true); break;
    case STORM_REVERSED: c->without_effect = !storms_restart(&c->storms, rig, c->rail, false); break;
    case STORM_FAR_JUMP: c->without_effect = !storms_jump_far(rig, c->rail, value); break;
    case STORM_CREEP: c->without_effect = !storms_creep(rig, c->rail, c->holder, value); break;
    case N_STORMS: break;
    }
    if (c->without_effect && !holds_first(c->expected))
        fail(c, "the machine can't have this storm", value, 0);
}

static void machine_breaks(struct cell *c)
{
    struct rig *rig = &c->rig;
    const struct expectation *e = c->expected;
    if (e->cause == SIM_MOVED_BY_HAND)
        sim_machine_break(&rig->machine, 0, SIM_GUARDS_OPENED, 0, 0);
    else if (!sim_machine_break(&rig->machine, c->rail, (enum sim_fault)e->cause, c->holder, e->value))
        fail(c, "the machine can't have this fault", (int64_t)e->cause, 0);
}

static void strike(struct cell *c)
{
    c->holder = a_holder(c);
    c->struck = true;
    c->struck_us = c->rig.time_us;
    if (is_storm(c->expected))
        storm_strikes(c);
    else
        machine_breaks(c);
}

static void strike_at_the_moment(struct cell *c)
{
    struct rig *rig = &c->rig;
    if (c->struck)
        return;
    if (c->held && rig_state(rig) == KR_STATE_HELD) {
        strike(c);
    } else if (!c->held && is_the_moment(c)) {
        if (!holds_first(c->expected))
            strike(c);
        else if (rig_command(rig, KR_COMMAND_HOLD, 0) == KR_OK)
            c->held = true;
    }
}

#define VISITS_BLIND 4 /* that a drive was set up wrongly people find out only when they have tried to go on */

static void mend(struct operators *operators, struct rig *rig)
{
    struct cell *c = operators->of_mend;
    if (c->mended || !c->struck)
        return;
    if (is_wrong_drive(c->expected) && c->visits++ < VISITS_BLIND)
        return;
    c->mended = true;
    if (is_storm(c->expected)) {
        storms_mend(&c->storms, rig, c->rail);
    } else if (c->expected->cause == SIM_MOVED_BY_HAND) {
        sim_machine_break(&rig->machine, c->rail, SIM_MOVED_BY_HAND, (uint16_t)((c->holder + 1) % N_HOLDERS),
                          c->expected->value);
        sim_machine_mend(&rig->machine, 0, SIM_GUARDS_OPENED, 0);
    } else {
        sim_machine_mend(&rig->machine, c->rail, (enum sim_fault)c->expected->cause, c->holder);
    }
}

static bool was_called_right(const struct cell *c)
{
    for (int i = 0; i < CALLED_MOST; i++)
        if (c->first != KR_ALARM_NONE && c->expected->called[i] == c->first)
            return true;
    return false;
}

/* The drive learns of it so late. */
static int64_t late_ms(const struct cell *c)
{
    if (c->expected->cause == SIM_SLOW_ANSWERS)
        return 2LL * c->expected->value + WATCHDOG_MS;
    if (c->expected->cause == STORM(LATE_ANSWER))
        return c->expected->value;
    return c->first == KR_ALARM_LINK_LOST ? c->rig.sim_config.rail[c->rail].watchdog_ms : 0;
}

/* From the first sign of it (the alarm, or the strike if that is seen at once) to standstill on both rails. */
static int64_t stop_limit_ms(const struct cell *c)
{
    bool aborts = kr_alarm_info((int)c->first)->reaction == KR_REACT_ABORT;
    int64_t decel = aborts ? COAST_UM_PER_S2 : ACCEL_UM_PER_S2;
    return 1000LL * SPEED_UM_PER_S / decel + late_ms(c) + TOLERATED_MS;
}

static void watch_stop(struct cell *c)
{
    struct rig *rig = &c->rig;
    if (!c->struck || c->mended || c->has_stood)
        return;
    if (c->first == KR_ALARM_NONE) {
        c->first = rig_alarm(rig);
        if (c->first == KR_ALARM_NONE) {
            if (c->expected->at_once && rig->time_us - c->struck_us > 50000)
                fail(c, "no alarm at once", (rig->time_us - c->struck_us) / 1000, 50);
            return;
        }
        c->stopped_us = rig->time_us;
        if (!was_called_right(c))
            fail(c, "called by another name, alarm", (int64_t)c->first, (int64_t)c->expected->called[0]);
    }
    bool moves = false;
    for (uint16_t r = 0; r < 2; r++)
        moves = moves || abs(sim_machine_speed_um_per_s(&rig->machine, r)) > 1000;
    if (moves && rig->time_us - c->stopped_us > 1000 * stop_limit_ms(c))
        fail(c, "still moving after ms", (rig->time_us - c->stopped_us) / 1000, stop_limit_ms(c));
    c->has_stood = !moves && is_wrong_drive(c->expected); /* then people home it, without mending it */
}

#define DOUBTED_MS 200

static bool has_alarm(const struct rig *rig, enum kr_alarm_code code)
{
    return rig_alarm(rig) == code || rig_has_alarm(rig, code);
}

static void watch_storm(struct cell *c)
{
    struct rig *rig = &c->rig;
    storms_step(&c->storms, rig);
    if (c->watch.what[0] == 0)
        snprintf(c->watch.what, sizeof c->watch.what, "%s", c->storms.what);
    if (c->mended || !c->struck || !is_wrong_drive(c->expected))
        return;
    c->was_doubted =
        c->was_doubted || has_alarm(rig, KR_ALARM_POSITION_IMPLAUSIBLE) || has_alarm(rig, KR_ALARM_CARRIAGE_DRIFTED);
    if (c->was_doubted || !storms_shows_impossible(rig, c->rail))
        c->impossible_us = rig->time_us;
    else if (rig->time_us - c->impossible_us > 1000 * DOUBTED_MS)
        fail(c, "a position that can't be is doubted after ms", (rig->time_us - c->impossible_us) / 1000, DOUBTED_MS);
}

static void follow(struct cell *c)
{
    static int last[8];
    struct rig *rig = &c->rig;
    int now[8] = {(int)rig_state(rig),
                  rig_u16(rig, KR_REG_PHASE, 0, 0),
                  (int)rig_carriage_phase(rig, 0),
                  (int)rig_carriage_phase(rig, 1),
                  rig_alarm_count(rig),
                  c->struck + c->mended};
    if (memcmp(now, last, sizeof now) == 0)
        return;
    memcpy(last, now, sizeof now);
    printf("%8.2f state %d phase %d carriages %d %d at %d %d, docked %d %d, first alarm %d of %d, result %d "
           "%s\n",
           (double)rig->time_us / 1e6, now[0], now[1], now[2], now[3], rig_i32(rig, KR_REG_CARRIAGE_POSITION, 0, 0),
           rig_i32(rig, KR_REG_CARRIAGE_POSITION, 1, 0), rig_docked(rig, 0), rig_docked(rig, 1), rig_alarm(rig), now[4],
           rig_answer(rig),
           c->mended   ? "mended"
           : c->struck ? "STRUCK"
                       : "");
}

#define LIMIT_US (10LL * 60 * 1000000)

static void set_up(struct cell *c)
{
    struct rig *rig = &c->rig;
    c->draw.state = c->number;
    build(rig, c->moment->common_clamp);
    if (is_storm(c->expected))
        build_for_storms(rig, &c->storms, &c->draw);
    begin(rig);
    operators_init(&c->operators, &c->draw);
    c->operators.mend = mend;
    c->operators.of_mend = c;
}

static void judge_end(struct cell *c)
{
    if (c->watch.crept_apart)
        return; /* a holder that crept was in the way before anything could find it */
    if (!c->struck)
        fail(c, "the moment never came", 0, 0);
    if (!c->operators.done)
        fail(c, "it never ends, state", (int64_t)rig_state(&c->rig), 0);
    if (c->first == KR_ALARM_NONE && !c->expected->may_pass)
        fail(c, "nobody noticed", 0, 0);
}

/* True if it passes; *came is whether there was an alarm. */
static bool run(struct cell *c, bool verbose, bool *came)
{
    struct rig *rig = &c->rig;
    set_up(c);
    while (!c->operators.done && c->watch.what[0] == 0 && !c->watch.crept_apart && rig->time_us < LIMIT_US) {
        rig_cycle(rig);
        watch_stop(c);
        strike_at_the_moment(c);
        if (is_storm(c->expected))
            watch_storm(c);
        operators_step(&c->operators, rig);
        watch_step(&c->watch, rig);
        if (verbose)
            follow(c);
    }
    judge_end(c);
    *came = c->first != KR_ALARM_NONE;
    rig_end(rig);
    return c->watch.what[0] == 0;
}

static bool run_cell(size_t number, bool verbose, bool *came)
{
    static struct cell c;
    memset(&c, 0, sizeof c);
    c.number = number;
    c.rail = (uint16_t)(number % 2);
    c.moment = &moments[number / 2 % N_MOMENTS];
    c.expected = &expectations[number / 2 / N_MOMENTS];
    bool good = run(&c, verbose, came);
    if (!good)
        printf("cell %zu: %s (%d) in %s, rail %d: %s\n", number, cause_name(c.expected), c.expected->value,
               c.moment->name, c.rail + 1, c.watch.what);
    return good;
}

static bool is_expected(int cause)
{
    for (size_t i = 0; i < N_EXPECTATIONS; i++)
        if (expectations[i].cause == cause)
            return true;
    printf("%s: nothing says what the station has to call it\n", cause_name(&(struct expectation){.cause = cause}));
    return false;
}

/* Those of the frame are last in the list, and change between changeovers: tests/unit/test_alike.c. */
static bool everything_is_expected(void)
{
    bool all = true;
    for (int f = 0; f < SIM_DATUM_SHIFTED; f++)
        all = is_expected(f) && all;
    for (int i = 0; i < N_STORMS; i++)
        all = is_expected(STORM_0 + i) && all;
    return all;
}

#define N_CELLS (2 * N_MOMENTS * N_EXPECTATIONS)

static int run_cells(size_t first, size_t step)
{
    size_t tried = 0, failed = 0, noticed = 0;
    bool came = false;
    for (size_t i = first; i < N_CELLS; i += step, tried++) {
        failed += !run_cell(i, false, &came);
        noticed += came;
    }
    printf("%zu faults and values in %zu moments on 2 rails: %zu cells, %zu with an alarm, %zu came through "
           "unharmed, %zu failed\n",
           N_EXPECTATIONS, N_MOMENTS, tried, noticed, tried - noticed, failed);
    return failed == 0 ? 0 : 1;
}

int main(int argc, char **argv)
{
    bool came = false;
    size_t first = argc > 1 ? strtoul(argv[1], NULL, 10) : 0, step = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    if (argc > 3 || first >= N_CELLS || step == 0) {
        fprintf(stderr, "usage: %s [CELL | FIRST STEP]; cells are 0 to %zu, STEP is at least 1\n", argv[0],
                N_CELLS - 1);
        return 2;
    }
    if (argc == 2)
        return run_cell(first, true, &came) ? 0 : 1;
    return everything_is_expected() ? run_cells(first, step) : 1;
}
