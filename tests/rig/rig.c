#include "rig.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <check.h>

#define PERIOD_US (1000 * RIG_PERIOD_MS)

struct rig_image {
    int64_t at_us; /* time of the cycle that it shows */
    struct kr_image image;
};

static void carriage_defaults(struct kr_carriage_config *c)
{
    *c = (struct kr_carriage_config){
        .clamping = KR_CLAMP_PER_HOLDER,
        .travel_min_um = -200000,
        .travel_max_um = 3200000,
        .travel_margin_um = 5000,
        .drift_um = 20000,
        .park_um = -100000,
        .park_window_um = 1000,
        .switch_offset_um = 0,
        .scan_speed_um_per_s = 200000,
        .setup_speed_um_per_s = 50000,
        .homing_creep_um_per_s = 5000,
        .torque_permille = 1000,
        .setup_torque_permille = 500,
        .gauge_rounds = 5,
        .passes_apart_um = 1000,
        .flag_width_um = 8000,
        .displaced_um = 3000,
        .alike_um = 100,
        .jump_um = 2000,
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
        .retries_notice = 20,
    };
}

static void rail_defaults(struct kr_rail_geometry *g, enum kr_role role, uint16_t n)
{
    *g = (struct kr_rail_geometry){
        .role = role,
        .n_holders = n,
        .min_um = 0,
        .max_um = 3000000,
        .cut_side_um = role == KR_UPPER ? 100 : 0,
        .empty = {1000000, 1000000},
        .drag = {500000, 1000000},
        .dock_us = 1100000,
        .undock_us = 1100000,
    };
}

static void machine_defaults(struct sim_rail_config *m, uint16_t n, int32_t spacing_um)
{
    sim_rail_defaults(m);
    m->n_holders = n;
    for (uint16_t i = 0; i < n; i++)
        m->holder[i] = (struct sim_holder_config){.start_um = (int32_t)(200000 + 2600000LL * i / (n > 1 ? n - 1 : 1)),
                                                  .body_um = spacing_um - 1000};
    m->carriage_um = -100000;
    m->stop_low_um = -250000;
    m->stop_high_um = 3250000;
    m->pin_in_ms = 600;
    m->pin_out_ms = 600;
    m->brake_open_ms = 200;
    m->brake_close_ms = 200;
}

void rig_defaults(struct rig *rig, uint16_t n_rails, uint16_t n_holders, uint8_t holder_size)
{
    memset(rig, 0, sizeof *rig);
    struct kr_station_config *c = &rig->config;
    snprintf(c->name, sizeof c->name, "rig");
    c->period_us = PERIOD_US;
    c->deadband_um = 50;
    c->pair_window_um = 300;
    c->slit_tolerance_um = 300;
    c->offset_step_um = 1000;
    c->corrections_max = 2;
    c->heartbeat_limit_ms = c->control_limit_ms = 3000;
    c->plan_limit_ms = 5000;
    c->need_scan = c->need_drag = c->need_home = 0x1F;
    c->need_jog = KR_PERMIT_LINE_STOPPED | KR_PERMIT_KNIVES_RAISED | KR_PERMIT_ENABLE;
    c->access = KR_PERMIT_GUARDS_CLOSED;
    c->geometry = (struct kr_geometry){
        .n_rails = n_rails,
        .rails_together = true,
        .n_sizes = 3,
        .size_spacing_um = {25400, 50800, 76200}, /* 1, 2, 3 in: common practice, no published source */
        .web_centre_um = 1500000,
        .web_max_nm = 2800000000,
        .trim_min_nm = 5000000,
        .trim_max_nm = 300000000,
        .shift_max_um = 50000,
        .compensation_max_ppm = 20000,
        .tolerance_um = 203, /* 0.008 in: common practice, no published source */
        .tolerance_max_um = 1000,
        .idle_policy = KR_IDLE_ANYWHERE,
        .idle_clearance_um = 10000,
    };
    rig->sim_config.n_rails = n_rails;
    rig->sim_config.seed = 1;
    rig->sim_config.inputs = SIM_INPUTS_ALL;
    for (uint16_t r = 0; r < n_rails; r++) {
        carriage_defaults(&c->carriage[r]);
        rail_defaults(&c->geometry.rail[r], r % 2 ? KR_LOWER : KR_UPPER, n_holders);
        machine_defaults(&rig->sim_config.rail[r], n_holders, c->geometry.size_spacing_um[holder_size - 1]);
        for (uint16_t i = 0; i < n_holders; i++)
            rig->book.holder[r][i] = (struct kr_holder_data){
                .position_um = rig->sim_config.rail[r].holder[i].start_um,
                .edge_offset_um = 100 * (i % 7) - 300,
                .known = KR_REMEMBERED,
                .holder_size = holder_size,
                .state = KR_HOLDER_IN,
            };
    }
    rig->session = 1;
    rig->period_us = PERIOD_US;
    rig->plan_cycles = 3;
    rig->book_cycles = 2;
    rig->claim_um = 50;
}

static void *allocated(size_t size)
{
    void *memory = malloc(size);
    if (memory == NULL)
        abort();
    return memory;
}

void rig_start(struct rig *rig)
{
    struct sim_mistake mistake = sim_machine_init(&rig->machine, &rig->sim_config);
    if (mistake.what != NULL)
        ck_abort_msg("simulated machine: %s", mistake.what);
    rig->station = allocated(kr_station_size());
    rig->workspace = allocated(kr_plan_workspace_size());
    rig->image = allocated(sizeof *rig->image);
    rig->image->at_us = -1;
    kr_station_init(rig->station, &rig->config, rig->session, &rig->book);
    rig->in.committed_serial = rig->book.serial;
    if (rig->trace)
        kr_trace_ring_begin(rig->trace, rig->station, rig->time_us / 1000);
}

static void run_machine(struct rig *rig)
{
    if (rig->out.axis[0].serial != 0) { /* 0: a gateway that has just started has sent nothing yet */
        sim_machine_step(&rig->machine, rig->out.axis, rig->period_us, rig->in.axis);
        return;
    }
    sim_machine_run(&rig->machine, rig->period_us);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        sim_machine_read(&rig->machine, r, &rig->in.axis[r]);
}

void rig_restart(struct rig *rig)
{
    rig->session++;
    kr_station_init(rig->station, &rig->config, rig->session, &rig->book);
    memset(&rig->in, 0, sizeof rig->in);
    memset(&rig->out, 0, sizeof rig->out);
    rig->in.committed_serial = rig->book.serial;
    rig->ticket_running = 0;
    rig->book_due = 0;
    if (rig->trace)
        kr_trace_ring_begin(rig->trace, rig->station, rig->time_us / 1000);
}

void rig_end(struct rig *rig)
{
    free(rig->station);
    free(rig->workspace);
    free(rig->image);
}

/* ---- the daemon's part ----------------------------------------------------------------------------------------- */

static void serve_plan(struct rig *rig)
{
    rig->in.plan.ticket = 0;
    if (rig->out.plan_ticket != rig->ticket_running) {
        rig->ticket_running = rig->out.plan_ticket;
        rig->plan_due = rig->plan_cycles;
    }
    if (rig->ticket_running == 0 || rig->plan_due < 0 || rig->plan_due-- > 0)
        return;
    rig->in.plan.ticket = rig->ticket_running;
    rig->in.plan.result = kr_plan_make(kr_station_plan_request(rig->station), rig->workspace, &rig->in.plan.plan);
}

static void serve_ledger(struct rig *rig)
{
    uint32_t ticket = rig->out.knife_ticket;
    if (ticket == 0 || ticket == rig->in.knife.ticket)
        return;
    rig->in.knife = rig->ledger ? rig->ledger(rig, rig->out.knife_name) : (struct kr_knife_answer){.ticket = 0};
    rig->in.knife.ticket = ticket;
}

static void serve_book(struct rig *rig)
{
    const struct kr_durable *durable = kr_station_durable(rig->station);
    if (rig->book_due > 0 && --rig->book_due == 0) {
        if (rig->book_broken || rig->book_failures > 0) {
            if (rig->book_failures > 0)
                rig->book_failures--;
            rig->in.book_failed = true;
            return; /* it is tried again once the station knows, as in src/daemon/committer.c */
        } else {
            rig->book = rig->book_next;
            if (rig->on_stored)
                rig->on_stored(rig, &rig->book);
            rig->in.committed_serial = rig->book.serial;
            rig->in.book_failed = false;
        }
    }
    if (rig->book_due == 0 && durable->serial != rig->in.committed_serial && rig->book_cycles >= 0) {
        rig->book_next = *durable;
        rig->book_due = rig->book_cycles + 1;
    }
}

/* 'Measured' is a claim about the machine, so it is compared with the machine in every cycle. */
static void check_claim(struct rig *rig, uint16_t r, uint16_t i)
{
    const struct kr_holder_data *holder = &kr_station_durable(rig->station)->holder[r][i];
    bool *crept = &rig->crept[r][i];
    if (*crept)
        *crept = rig_docked(rig, r) == i + 1 ||
                 ((holder->known >= KR_PLACED || holder->position_um == rig->crept_claim_um[r][i]) &&
                  abs(holder->position_um - sim_machine_holder_um(&rig->machine, r, i)) > rig->claim_um);
    if (*crept || holder->known != KR_MEASURED || holder->state == KR_HOLDER_ABSENT || rig->false_measured)
        return;
    int32_t true_um = sim_machine_holder_um(&rig->machine, r, i);
    const struct rig_excuse *excuse = &rig->excuse[r];
    if (rig->excuse_claims &&
        (kr_station_durable(rig->station)->docking[r] == i + 1 || sim_machine_docked(&rig->machine, r) == i))
        return; /* a pin that entered beside the socket has moved it; it is the next one to be moved */
    if (abs(holder->position_um - true_um - excuse->place_um[i]) <= rig->claim_um + excuse->bound_um)
        return;
    rig->false_measured = true;
    rig->false_claim =
        (struct rig_claim){(uint16_t)(r + 1), (uint16_t)(i + 1), holder->position_um, true_um, rig->time_us};
}

static void check_record(struct rig *rig)
{
    const struct kr_record *record = &kr_station_durable(rig->station)->record;
    bool must_say_why = record->outcome == KR_OUTCOME_ENDED || record->outcome == KR_OUTCOME_ABORTED;
    rig->record_without_cause |= must_say_why && kr_alarm_info(record->cause.code) == NULL;
}

static void check_claims(struct rig *rig)
{
    check_record(rig);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++)
            check_claim(rig, r, i);
}

static void beat(struct rig *rig)
{
    if (!rig->heart_stopped && rig->time_us - rig->heart_us >= 500000) {
        rig->heart_us = rig->time_us;
        rig->in.plc_heartbeat++;
    }
}

/* Notes an alarm in the file that KR_RIG_ALARMS names, so that tests/unit/provoked.py knows which test raises which
 * alarm. */
static void note_alarm(uint16_t code)
{
    static bool asked, noted[1000];
    static const char *path;
    if (!asked)
        path = getenv("KR_RIG_ALARMS");
    asked = true;
    if (path == NULL || code == 0 || code >= sizeof noted / sizeof noted[0] || noted[code])
        return;
    noted[code] = true;
    FILE *file = fopen(path, "a");
    ck_assert_ptr_nonnull(file);
    fprintf(file, "%u\n", code);
    ck_assert_int_eq(fclose(file), 0);
}

/* Notes what stands, and what a job's record names as the cause of its end. */
static void note_alarms(const struct rig *rig)
{
    const struct kr_alarm *alarm;
    uint16_t n = kr_station_alarms(rig->station, &alarm);
    for (uint16_t i = 0; i < n; i++)
        note_alarm(alarm[i].code);
    note_alarm(kr_station_durable(rig->station)->record.cause.code);
}

void rig_cycle(struct rig *rig)
{
    rig->time_us += rig->period_us;
    rig->in.dt_us = rig->in.wall_dt_us = rig->period_us;
    rig->in.cycles++;
    beat(rig);
    run_machine(rig);
    serve_plan(rig);
    serve_ledger(rig);
    serve_book(rig);
    if (rig->meddle)
        rig->meddle(rig);
    kr_station_step(rig->station, &rig->in, &rig->out);
    note_alarms(rig);
    if (rig->trace)
        kr_trace_ring_step(rig->trace, rig->station, &rig->in, &rig->out, rig->time_us / 1000);
    rig->image->at_us = -1; /* it may have been read in this cycle, before the step */
    if (rig->excuse_claims)
        rig->excuse_claims(rig, rig->of_excuse);
    check_claims(rig);
    if (rig->witness)
        rig->witness(rig, rig->of_witness);
    rig->in.request.present = rig->in.command.present = rig->in.edit.present = false;
    rig->in.halt = 0;
}

void rig_run_ms(struct rig *rig, int64_t ms)
{
    for (int64_t end_us = rig->time_us + 1000 * ms; rig->time_us < end_us;)
        rig_cycle(rig);
}

bool rig_run_until_state(struct rig *rig, enum kr_unit_state state, int64_t limit_ms)
{
    for (int64_t end_us = rig->time_us + 1000 * limit_ms; rig->time_us < end_us;) {
        if (kr_station_state(rig->station) == state)
            return true;
        rig_cycle(rig);
    }
    return kr_station_state(rig->station) == state;
}

bool rig_run_while(struct rig *rig, bool (*holds)(struct rig *), int64_t limit_ms)
{
    for (int64_t end_us = rig->time_us + 1000 * limit_ms; rig->time_us < end_us;) {
        if (!holds(rig))
            return true;
        rig_cycle(rig);
    }
    return !holds(rig);
}

/* ---- the machine ----------------------------------------------------------------------------------------------- */

void rig_break(struct rig *rig, uint16_t rail, enum sim_fault fault, uint16_t item, int32_t value)
{
    if (!sim_machine_break(&rig->machine, rail, fault, item, value))
        ck_abort_msg("the simulated machine can't have fault %d of item %u, value %d", (int)fault, item, value);
}

void rig_mend(struct rig *rig, uint16_t rail, enum sim_fault fault, uint16_t item)
{
    if (!sim_machine_mend(&rig->machine, rail, fault, item))
        ck_abort_msg("the simulated machine has no fault %d of item %u to mend", (int)fault, item);
}

/* ---- the image ------------------------------------------------------------------------------------------------- */

const struct kr_image *rig_image(const struct rig *rig)
{
    if (rig->image->at_us != rig->time_us)
        kr_station_image(rig->station, &rig->image->image);
    rig->image->at_us = rig->time_us;
    return &rig->image->image;
}
