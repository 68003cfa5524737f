#include "motion_rig.h"

#include <stdlib.h>
#include <string.h>

#define PERIOD_US (1000 * MOTION_RIG_PERIOD_MS)

/* ---- settings -------------------------------------------------------------------------------------------------- */

static void carriage_defaults(struct kr_carriage_config *c)
{
    *c = (struct kr_carriage_config){
        .clamping = KR_CLAMP_PER_HOLDER,
        .travel_min_um = -200 * MM,
        .travel_max_um = 800 * MM,
        .travel_margin_um = 5 * MM,
        .drift_um = 20 * MM,
        .park_um = -100 * MM,
        .park_window_um = 1 * MM,
        .scan_speed_um_per_s = 200 * MM,
        .setup_speed_um_per_s = 50 * MM,
        .passes_apart_um = 1 * MM,
        .flag_width_um = 8 * MM,
        .displaced_um = 3 * MM,
        .alike_um = 100,
        .jump_um = 2 * MM,
        .settle_ms = 100,
        .enable_limit_ms = 2000,
        .setpoint_limit_ms = 500,
        .pin_limit_ms = 1500,
        .brake_limit_ms = 1000,
        .clamp_limit_ms = 2000,
        .home_limit_ms = 60000,
        .answers_late_ms = 250,
        .move_margin_ms = 1500,
        .dock_tries = 3,
    };
}

static void geometry_defaults(struct kr_geometry *g)
{
    *g = (struct kr_geometry){
        .n_rails = 1,
        .n_sizes = 3,
        .size_spacing_um = {25400, 50800, 76200}, /* 1, 2, 3 in: common practice, no published source */
    };
    g->rail[0] = (struct kr_rail_geometry){
        .role = KR_UPPER,
        .n_holders = MOTION_RIG_HOLDERS,
        .min_um = 0,
        .max_um = 600 * MM,
        .empty = {1000 * MM, 1000 * MM},
        .drag = {500 * MM, 1000 * MM},
    };
}

static void machine_defaults(struct sim_config *config)
{
    struct sim_rail_config *rail = &config->rail[0];
    config->n_rails = 1;
    config->seed = 1;
    config->inputs = SIM_INPUTS_ALL;
    sim_rail_defaults(rail);
    rail->n_holders = MOTION_RIG_HOLDERS;
    for (int i = 0; i < MOTION_RIG_HOLDERS; i++)
        rail->holder[i] = (struct sim_holder_config){.start_um = 100 * MM * (i + 1), .body_um = 24 * MM};
    rail->carriage_um = -100 * MM;
    rail->stop_low_um = -250 * MM;
    rail->stop_high_um = 850 * MM;
}

void motion_rig_defaults(struct motion_rig *rig)
{
    memset(rig, 0, sizeof *rig);
    carriage_defaults(&rig->carriage);
    geometry_defaults(&rig->geometry);
    machine_defaults(&rig->sim_config);
    for (int i = 0; i < MOTION_RIG_HOLDERS; i++) {
        rig->holder[i] = (struct kr_rail_holder){.holder_size = 1, .state = KR_HOLDER_IN};
        rig->known.place[i] =
            (struct kr_place){.position_um = rig->sim_config.rail[0].holder[i].start_um, .known = KR_REMEMBERED};
    }
    rig->store_cycles = 2;
    rig->claim_um = 50;
    rig->mode = KR_MOTION_RUN;
    rig->n_axes = 1;
    rig->serial = 1;
}

/* ---- what is known, and storing it ----------------------------------------------------------------------------- */

static void begin_storing(struct motion_rig *rig)
{
    if (rig->storing != rig->stored || rig->seen.generation == rig->stored)
        return;
    rig->storing = rig->seen.generation;
    rig->book_next = rig->seen;
    rig->store_due = rig->store_cycles;
}

static void store(struct motion_rig *rig)
{
    if (rig->storing == rig->stored || rig->store_cycles < 0 || --rig->store_due > 0)
        return;
    rig->stored = rig->storing;
    rig->book = rig->book_next;
    begin_storing(rig);
}

static bool differs(const struct kr_rail_knowledge *a, const struct kr_rail_knowledge *b)
{
    for (int i = 0; i < KR_HOLDERS_MAX; i++)
        if (a->place[i].position_um != b->place[i].position_um || a->place[i].known != b->place[i].known ||
            a->place[i].was_known != b->place[i].was_known)
            return true;
    return a->docking != b->docking || a->clamp_open != b->clamp_open || a->datum_doubted != b->datum_doubted ||
           a->shift_um != b->shift_um || a->rests != b->rests || (a->rests && a->rest_um != b->rest_um);
}

/* An alarm whose cause lasts is reported in every cycle, but counts only once here. */
static bool is_told_again(const struct motion_rig *rig, const struct kr_motion_event *event)
{
    const struct kr_motion_event *last = rig->n_events ? &rig->event[rig->n_events - 1] : NULL;
    return event->kind == KR_EVENT_ALARM && last != NULL && last->kind == KR_EVENT_ALARM &&
           last->alarm.code == event->alarm.code && last->alarm.item == event->alarm.item;
}

static void take_events(struct motion_rig *rig, const struct kr_motion_out *out)
{
    for (uint16_t i = 0; i < out->n_events; i++) {
        if (is_told_again(rig, &out->event[i])) {
            rig->n_repeated++;
            continue;
        }
        ck_assert_uint_lt(rig->n_events, MOTION_RIG_EVENTS);
        rig->event[rig->n_events++] = out->event[i];
    }
}

bool motion_rig_after(struct motion_rig *rig, const struct kr_motion_out *out)
{
    const struct kr_rail_knowledge *now = kr_motion_knowledge(&rig->motion);
    bool changed = differs(now, &rig->seen);
    if (out != NULL)
        take_events(rig, out);
    if (changed || now->generation != rig->seen.generation)
        ck_assert_uint_eq(now->generation, rig->change);
    if (now->generation == rig->change)
        rig->change++;
    rig->seen = *now;
    begin_storing(rig);
    return changed;
}

/* ---- a cycle --------------------------------------------------------------------------------------------------- */

struct kr_motion_in motion_rig_in(const struct motion_rig *rig)
{
    return (struct kr_motion_in){
        .geometry = &rig->geometry,
        .rail = &rig->geometry.rail[0],
        .carriage = &rig->carriage,
        .holder = rig->holder,
        .deadband_um = 50,
        .axis = rig->axis_in,
        .n_axes = rig->n_axes,
        .now_us = rig->now_us,
        .serial = rig->serial,
        .change = rig->change,
        .stored = rig->stored,
        .mode = rig->mode,
        .reduced = rig->reduced,
        .guarded = true,
        .resets_faults = rig->resets_faults,
        .jog_wanted = rig->jog_wanted,
        .move = rig->move,
        .n_moves = rig->n_moves,
    };
}

static void begin(struct motion_rig *rig, const struct kr_rail_knowledge *stored)
{
    rig->met_running = rig->has_outputs = false;
    memset(rig->axis_in, 0, sizeof rig->axis_in);
    memset(rig->axis_out, 0, sizeof rig->axis_out);
    rig->stored = rig->storing = stored->generation;
    rig->book = *stored;
    rig->change = stored->generation + 1;
    struct kr_motion_in in = motion_rig_in(rig);
    kr_motion_init(&rig->motion, &in, stored);
    rig->seen = *kr_motion_knowledge(&rig->motion);
    ck_assert_uint_eq(rig->seen.generation, rig->change);
    rig->change++;
    begin_storing(rig);
}

void motion_rig_start(struct motion_rig *rig)
{
    struct sim_mistake mistake = sim_machine_init(&rig->machine, &rig->sim_config);
    if (mistake.what != NULL)
        ck_abort_msg("simulated machine: %s", mistake.what);
    begin(rig, &rig->known);
}

void motion_rig_restart(struct motion_rig *rig)
{
    struct kr_rail_knowledge stored = rig->book;
    begin(rig, &stored);
}

static void run_machine(struct motion_rig *rig)
{
    if (rig->has_outputs) {
        sim_machine_step(&rig->machine, rig->axis_out, PERIOD_US, rig->axis_in);
        return;
    }
    sim_machine_run(&rig->machine, PERIOD_US);
    sim_machine_read(&rig->machine, 0, &rig->axis_in[0]);
}

static void judge_outputs(const struct motion_rig *rig)
{
    static const struct kr_axis_out silent;
    const struct kr_axis_out first = rig->axis_out[0];
    ck_assert_uint_eq(first.serial, rig->serial);
    for (uint16_t a = 1; a < rig->n_axes; a++)
        ck_assert_mem_eq(&rig->axis_out[a], &silent, sizeof silent);
    if (first.outputs & KR_DO_PIN_IN) {
        ck_assert_uint_ne(kr_motion_docked(&rig->motion), 0);
        ck_assert_uint_eq(rig->book.docking, kr_motion_docked(&rig->motion));
    }
}

static void judge_claims(const struct motion_rig *rig)
{
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++) {
        int32_t off_um = motion_rig_place_um(rig, h) - motion_rig_true_um(rig, h);
        if (motion_rig_known(rig, h) >= KR_PLACED && abs(off_um) > rig->claim_um)
            ck_abort_msg("at %lld ms holder %d is said to be known (%d) and is %d um off",
                         (long long)(rig->now_us / 1000), h, (int)motion_rig_known(rig, h), (int)off_um);
    }
    ck_assert_ptr_null(sim_machine_collision(&rig->machine));
    ck_assert_ptr_null(sim_machine_dragged(&rig->machine));
}

void motion_rig_cycle(struct motion_rig *rig)
{
    struct kr_motion_out out = {.n_events = 0};
    run_machine(rig);
    if (rig->meddle != NULL)
        rig->meddle(rig);
    store(rig);
    rig->now_us += PERIOD_US;
    struct kr_motion_in in = motion_rig_in(rig);
    if (kr_motion_meet(&rig->motion, &in))
        rig->met_running = true;
    kr_motion_step(&rig->motion, &in, &out);
    motion_rig_after(rig, &out);
    /* Outputs that are not written would be noticed */
    memset(rig->axis_out, 0xFF, rig->n_axes * sizeof rig->axis_out[0]);
    kr_motion_outputs(&rig->motion, &in, rig->axis_out);
    rig->has_outputs = true;
    judge_outputs(rig);
    judge_claims(rig);
    rig->serial++;
}

void motion_rig_run_ms(struct motion_rig *rig, int64_t ms)
{
    for (int64_t t = 0; t < ms; t += MOTION_RIG_PERIOD_MS)
        motion_rig_cycle(rig);
}

/* ---- tasks ----------------------------------------------------------------------------------------------------- */

void motion_rig_add_move(struct motion_rig *rig, uint16_t holder, int32_t to_um)
{
    rig->move[rig->n_moves++] =
        (struct kr_move){.holder = holder, .from_um = motion_rig_place_um(rig, holder), .to_um = to_um};
}

void motion_rig_give(struct motion_rig *rig, enum kr_task task)
{
    struct kr_motion_in in = motion_rig_in(rig);
    kr_motion_take_back(&rig->motion);
    kr_motion_give(&rig->motion, &in, task);
}

static void never_came(const struct motion_rig *rig, const char *what)
{
    int alarm = 0;
    for (uint16_t i = 0; i < rig->n_events && alarm == 0; i++)
        alarm = rig->event[i].alarm.code;
    ck_abort_msg("%s; phase %d, first alarm %d", what, (int)kr_motion_phase(&rig->motion), alarm);
}

void motion_rig_until_done(struct motion_rig *rig, int64_t limit_ms)
{
    for (int64_t t = 0; !kr_motion_done(&rig->motion); t += MOTION_RIG_PERIOD_MS) {
        if (t >= limit_ms)
            never_came(rig, "the task is not done");
        motion_rig_cycle(rig);
    }
}

void motion_rig_until_phase(struct motion_rig *rig, enum kr_carriage_phase phase, int64_t limit_ms)
{
    for (int64_t t = 0; kr_motion_phase(&rig->motion) != phase; t += MOTION_RIG_PERIOD_MS) {
        if (t >= limit_ms)
            never_came(rig, "the phase is not reached");
        motion_rig_cycle(rig);
    }
}

void motion_rig_until_rest(struct motion_rig *rig, int64_t limit_ms)
{
    for (int64_t t = 0; !kr_motion_at_rest(&rig->motion); t += MOTION_RIG_PERIOD_MS) {
        if (t >= limit_ms)
            never_came(rig, "the rail is not at rest");
        motion_rig_cycle(rig);
    }
}

void motion_rig_do(struct motion_rig *rig, enum kr_task task)
{
    motion_rig_give(rig, task);
    motion_rig_until_done(rig, 60000);
}

/* ---- faults, events, truth ------------------------------------------------------------------------------------- */

static uint16_t index_of(uint16_t holder)
{
    return (uint16_t)(holder ? holder - 1 : 0);
}

void motion_rig_break(struct motion_rig *rig, enum sim_fault fault, uint16_t holder, int32_t value)
{
    ck_assert(sim_machine_break(&rig->machine, 0, fault, index_of(holder), value));
}

void motion_rig_mend(struct motion_rig *rig, enum sim_fault fault)
{
    ck_assert(sim_machine_mend(&rig->machine, 0, fault, 0));
}

void motion_rig_forget_events(struct motion_rig *rig)
{
    rig->n_events = rig->n_repeated = 0;
}

uint16_t motion_rig_alarms(const struct motion_rig *rig)
{
    uint16_t n = 0;
    for (uint16_t i = 0; i < rig->n_events; i++)
        n = (uint16_t)(n + (rig->event[i].kind == KR_EVENT_ALARM));
    return n;
}

const struct kr_alarm *motion_rig_first_alarm(const struct motion_rig *rig)
{
    static const struct kr_alarm none;
    for (uint16_t i = 0; i < rig->n_events; i++)
        if (rig->event[i].kind == KR_EVENT_ALARM)
            return &rig->event[i].alarm;
    ck_abort_msg("there was no alarm");
    return &none;
}

enum kr_known motion_rig_known(const struct motion_rig *rig, uint16_t holder)
{
    return (enum kr_known)kr_motion_knowledge(&rig->motion)->place[holder - 1].known;
}

int32_t motion_rig_place_um(const struct motion_rig *rig, uint16_t holder)
{
    return kr_motion_knowledge(&rig->motion)->place[holder - 1].position_um;
}

int32_t motion_rig_true_um(const struct motion_rig *rig, uint16_t holder)
{
    return sim_machine_holder_um(&rig->machine, 0, index_of(holder));
}

bool motion_rig_pin_is_in(const struct motion_rig *rig)
{
    return sim_machine_docked(&rig->machine, 0) != SIM_NOBODY;
}

/* ---- what several tests begin and end with --------------------------------------------------------------------- */

void motion_rig_begin(struct motion_rig *rig)
{
    motion_rig_defaults(rig);
    motion_rig_start(rig);
}

void motion_rig_three_moves(struct motion_rig *rig)
{
    rig->n_moves = 0;
    motion_rig_add_move(rig, 5, 560 * MM);
    motion_rig_add_move(rig, 1, 60 * MM);
    motion_rig_add_move(rig, 3, 331 * MM);
}

void motion_rig_expect_all(const struct motion_rig *rig, enum kr_known how)
{
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        ck_assert_int_eq(motion_rig_known(rig, h), how);
}

void motion_rig_expect_measured(const struct motion_rig *rig, uint16_t holder)
{
    int32_t off_um = motion_rig_place_um(rig, holder) - motion_rig_true_um(rig, holder);
    ck_assert_int_eq(motion_rig_known(rig, holder), KR_MEASURED);
    ck_assert_int_le(abs(off_um), MOTION_RIG_SCAN_UM);
}

void motion_rig_expect_at(const struct motion_rig *rig, uint16_t holder, int32_t at_um)
{
    ck_assert_int_le(abs(motion_rig_true_um(rig, holder) - at_um), rig->claim_um);
}

void motion_rig_expect_moves_made(const struct motion_rig *rig)
{
    for (uint16_t i = 0; i < rig->n_moves; i++)
        motion_rig_expect_at(rig, rig->move[i].holder, rig->move[i].to_um);
    ck_assert(!motion_rig_pin_is_in(rig));
}
