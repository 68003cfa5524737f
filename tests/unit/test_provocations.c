/* Every row of AT_SIMULATOR in provoke.def, in virtual time and on each kind of station that has what the row needs:
 * the fault raises the alarm, and the alarm is gone after the fault is taken back and the row's remedy is done. The
 * step REHEARSAL of `kniferail commission` does the same over the wire; tests/system/wire_guide_alarms.py walks it on
 * one kind of station. */
#include <stdlib.h>
#include <string.h>

#include "kniferail/commission.h"
#include "rig.h"
#include "suite.h"

#define FLAG_UM       (8 * MM)
#define OWN_OFFSET_UM (-35 * MM) /* from the pin to the references' own switch */
#define HOLDER        2          /* from 1; 90 mm from its neighbours */
#define GONE_UM       5000

enum kind { OWN_BRAKES, COMMON_CLAMP, REFERENCES, OWN_SWITCH, N_KINDS };

/* ---- the stations ---------------------------------------------------------------------------------------------- */

static void give_references(struct rig *rig, uint16_t r, bool own_switch)
{
    static const int32_t outside_mm[][4] = {{-60, -20, 520, 540}, {-70, -20, 520, 590}};
    static const int32_t among_mm[][4] = {{60, 150, 331, 470}, {75, 150, 290, 451}};
    struct kr_references *p = &rig->config.carriage[r].references;
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    *p = (struct kr_references){.n = 4, .window_um = 1 * MM, .step_um = 300};
    m->n_references = p->n;
    if (own_switch) {
        p->own_switch = m->reference_switch_own = true;
        p->switch_offset_um = m->reference_switch_offset_um = OWN_OFFSET_UM;
    } else {
        p->n_low = 2;
    }
    for (uint16_t i = 0; i < p->n; i++) {
        int32_t at_um = (own_switch ? among_mm[r][i] : outside_mm[r][i]) * MM;
        p->flag[i] = (struct kr_reference){at_um, FLAG_UM};
        m->reference[i] = (struct sim_reference_config){at_um, FLAG_UM};
    }
}

static void begin(struct rig *rig, enum kind kind)
{
    rig_small_ordinary(rig, 2);
    rig->config.drive_inputs = 0; /* the PLC gives the permissives */
    for (uint16_t r = 0; r < 2; r++) {
        rig->config.carriage[r].jump_um = 10 * MM;
        if (kind == COMMON_CLAMP)
            rig_common_clamp(rig, r);
        if (kind == REFERENCES || kind == OWN_SWITCH)
            give_references(rig, r, kind == OWN_SWITCH);
    }
    rig_begin(rig);
}

static bool has(enum kind kind, enum kr_provoke_needs needs)
{
    switch (needs) {
    case KR_PROVOKE_COMMON_CLAMP: return kind == COMMON_CLAMP;
    case KR_PROVOKE_OWN_BRAKES: return kind != COMMON_CLAMP;
    case KR_PROVOKE_TWO_PATTERNS:
    case KR_PROVOKE_REFERENCES: return kind == REFERENCES || kind == OWN_SWITCH;
    case KR_PROVOKE_NO_REFERENCES: return kind == OWN_BRAKES || kind == COMMON_CLAMP;
    case KR_PROVOKE_REFERENCE_SWITCH: return kind == OWN_SWITCH;
    case KR_PROVOKE_EXPECTED: return false; /* parameters are read over a wire alone */
    case KR_PROVOKE_ANYTHING:
    case KR_PROVOKE_TWO_PASSES:
    case KR_PROVOKE_DATUM_BIT:
    case KR_PROVOKE_HOMING_METHOD:
    case KR_PROVOKE_DRIFT: return true;
    }
    return false;
}

/* ---- a fault --------------------------------------------------------------------------------------------------- */

static enum sim_fault fault_of(const struct kr_provocation_simulated *p)
{
    for (int f = 0; f < SIM_N_FAULTS; f++)
        if (strcmp(sim_fault_info((enum sim_fault)f)->name, p->fault) == 0)
            return (enum sim_fault)f;
    ck_abort_msg("no fault %s", p->fault);
}

static int32_t value_of(const struct rig *rig, const struct kr_provocation_simulated *p)
{
    int32_t holder_um = sim_machine_holder_um(&rig->machine, 0, HOLDER - 1);
    const struct kr_carriage_config *carriage = &rig->config.carriage[0];
    switch (p->value) {
    case KR_PROVOKE_ROOM_UM: return holder_um + 45 * MM;
    case KR_PROVOKE_ASIDE_UM: return 5 * MM;
    case KR_PROVOKE_TOUCHING_UM: return holder_um + FLAG_UM / 2;
    case KR_PROVOKE_DRIFTED_UM: return carriage->drift_um + 20 * MM;
    case KR_PROVOKE_BEYOND_UM: return carriage->travel_min_um - sim_machine_carriage_um(&rig->machine, 0) - 20 * MM;
    default: return p->value;
    }
}

static void say_each(struct rig *rig, const struct kr_provocation_simulated *p, bool breaks, int32_t value)
{
    uint16_t first = 0, end = 1;
    if (p->item == KR_PROVOKE_HOLDER) {
        first = HOLDER - 1;
        end = HOLDER;
    } else if (p->item == KR_PROVOKE_HOLDERS) {
        end = SMALL_HOLDERS;
    } else if (p->item == KR_PROVOKE_MOST_REFERENCES) {
        end = (uint16_t)(rig->config.carriage[0].references.n - 1);
    }
    for (uint16_t i = first; i < end; i++) {
        if (breaks)
            rig_break(rig, 0, fault_of(p), i, value);
        else
            rig_mend(rig, 0, fault_of(p), i);
    }
}

static void say_at_moment(struct rig *rig, const struct kr_provocation_simulated *p, bool breaks, int32_t value)
{
    bool away = p->phase == KR_PROVOKE_AWAY;
    if (away) {
        rig_break(rig, 0, SIM_LINK_LOST, 0, 0);
        rig_run_ms(rig, 3000);
    }
    say_each(rig, p, breaks, value);
    if (away) {
        rig_mend(rig, 0, SIM_LINK_LOST, 0);
        rig_run_ms(rig, 1000);
    }
}

static void take_back(struct rig *rig, const struct kr_provocation_simulated *p, int32_t value)
{
    bool jumps = fault_of(p) == SIM_POSITION_JUMP;
    bool once =
        fault_of(p) == SIM_MOVED_BY_HAND || fault_of(p) == SIM_DATUM_FORGOTTEN || fault_of(p) == SIM_CARRIAGE_PUSHED;
    if (!once)
        say_at_moment(rig, p, jumps, jumps ? -value : 0);
}

/* ---- jobs ------------------------------------------------------------------------------------------------------ */

/* As `kniferail commission` does it: to Stopped, then to Idle, which acknowledges. */
static void acknowledge(struct rig *rig)
{
    bool stopped = false;
    for (int64_t end_us = rig->time_us + 20000000; rig->time_us < end_us;) {
        enum kr_unit_state state = rig_state(rig);
        stopped = stopped || state == KR_STATE_STOPPED;
        if (state == KR_STATE_IDLE && stopped)
            return;
        if (state == KR_STATE_ABORTED)
            rig_command(rig, KR_COMMAND_CLEAR, 0);
        else if (state == KR_STATE_STOPPED)
            rig_command(rig, KR_COMMAND_RESET, 0);
        else if (state == KR_STATE_IDLE || state == KR_STATE_EXECUTE || state == KR_STATE_HELD ||
                 state == KR_STATE_SUSPENDED || state == KR_STATE_COMPLETE)
            rig_command(rig, KR_COMMAND_STOP, 0);
        rig_run_ms(rig, 100);
    }
}

static void start(struct rig *rig, uint16_t job)
{
    struct start_values values = {.job = (enum kr_job)job, .rail = 1};
    if (job == KR_JOB_MOVE) {
        values.holder = HOLDER;
        values.position_um = sim_machine_holder_um(&rig->machine, 0, HOLDER - 1) + 30 * MM;
    }
    if (job == KR_JOB_CHANGEOVER) {
        rig_stage(rig, 1);
        rig_start_job(rig, KR_JOB_CHANGEOVER);
        return;
    }
    enum kr_code code = rig_command_start(rig, values);
    ck_assert_msg(code == KR_OK, "job %u is refused: %d; alarm %u", job, code, rig_alarm(rig));
    rig_until_state(rig, KR_STATE_EXECUTE);
}

static void whole_job(struct rig *rig, uint16_t job)
{
    start(rig, job);
    rig_until_complete(rig);
    acknowledge(rig);
}

/* Until the carriage has gone a little in the phase; in a scan's second pass, back from the highest place. */
static void until_moment(struct rig *rig, const struct kr_provocation_simulated *p)
{
    bool back = p->phase == KR_PROVOKE_SECOND_PASS;
    enum kr_carriage_phase phase = back ? KR_CARRIAGE_SCANNING : (enum kr_carriage_phase)p->phase;
    rig_until_carriage(rig, 0, phase);
    int32_t from_um = sim_machine_carriage_um(&rig->machine, 0), most_um = from_um, gone_um = 0;
    for (int64_t end_us = rig->time_us + 60000000; rig->time_us < end_us && gone_um < GONE_UM;) {
        rig_cycle(rig);
        int32_t at_um = sim_machine_carriage_um(&rig->machine, 0);
        most_um = at_um > most_um ? at_um : most_um;
        gone_um = back ? (most_um > 500 * MM ? most_um - at_um : 0) : abs(at_um - from_um);
    }
    ck_assert_int_ge(gone_um, GONE_UM);
}

static bool is_awaited(struct rig *rig, uint16_t code)
{
    for (int64_t end_us = rig->time_us + 300000000; rig->time_us < end_us;) {
        if (rig_has_alarm(rig, (enum kr_alarm_code)code))
            return true;
        rig_cycle(rig);
        enum kr_unit_state state = rig_state(rig);
        if (state == KR_STATE_COMPLETE || state == KR_STATE_HELD || state == KR_STATE_ABORTED ||
            state == KR_STATE_SUSPENDED)
            break;
    }
    rig_run_ms(rig, 2000);
    return rig_has_alarm(rig, (enum kr_alarm_code)code);
}

static void remedy(struct rig *rig, const struct kr_provocation_simulated *p)
{
    rig_run_ms(rig, 3000);
    if (p->remedy == KR_PROVOKE_SCAN_ON && rig_state(rig) == KR_STATE_HELD) {
        rig_resume(rig, KR_COMMAND_UNHOLD);
        rig_until_complete(rig);
    }
    if (p->remedy == KR_PROVOKE_HOME) {
        acknowledge(rig);
        whole_job(rig, KR_JOB_HOME);
    }
}

/* ---- the rows -------------------------------------------------------------------------------------------------- */

static size_t n_rows(void)
{
    size_t n = 0;
    while (kr_provocation_simulated(n) != NULL)
        n++;
    return n;
}

/* In the rig a link is lost from one cycle to the next, and answers do not get late first. */
static bool needs_a_wire(const struct kr_provocation_simulated *p)
{
    return p->alarm_code == KR_ALARM_ANSWERS_LATE;
}

/* _i: which row, on which kind of station */
START_TEST(the_fault_raises_the_alarm_and_what_the_row_says_ends_it)
{
    const struct kr_provocation_simulated *p = kr_provocation_simulated((size_t)_i / N_KINDS);
    enum kind kind = (enum kind)(_i % N_KINDS);
    const char *name = kr_alarm_info(p->alarm_code)->name;
    bool before = p->phase == KR_PROVOKE_BEFORE || p->phase == KR_PROVOKE_AWAY;
    struct rig rig;
    if (!has(kind, p->needs) || needs_a_wire(p))
        return;
    begin(&rig, kind);
    whole_job(&rig, KR_JOB_SCAN);
    int32_t value = value_of(&rig, p);
    rig.crept[0][HOLDER - 1] = fault_of(p) == SIM_MOVED_BY_HAND; /* unseen until the scan */
    if (before)
        say_at_moment(&rig, p, true, value);
    if (p->phase == KR_PROVOKE_AWAY && p->job != 0)
        acknowledge(&rig);
    if (p->job != 0)
        start(&rig, p->job);
    if (!before) {
        until_moment(&rig, p);
        say_each(&rig, p, true, value);
    }
    bool raised = is_awaited(&rig, p->alarm_code);
    ck_assert_msg(raised, "%s, on station %d: not raised by %s, but alarm %u", name, kind, p->fault, rig_alarm(&rig));
    take_back(&rig, p, value);
    remedy(&rig, p);
    acknowledge(&rig);
    ck_assert_msg(!rig_has_alarm(&rig, (enum kr_alarm_code)p->alarm_code), "%s, on station %d: it stays", name, kind);
    if (p->remedy == KR_PROVOKE_RELEASE)
        whole_job(&rig, KR_JOB_RELEASE);
    rig_is_sound(&rig);
    if (rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0) == 0)
        whole_job(&rig, KR_JOB_HOME);
    whole_job(&rig, KR_JOB_SCAN); /* the next row finds the station as this one did */
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("alarms against the simulated machine");
    TCase *tc = suite_case(suite, "rows");
    tcase_add_loop_test(tc, the_fault_raises_the_alarm_and_what_the_row_says_ends_it, 0, (int)n_rows() * N_KINDS);
    return suite;
}
