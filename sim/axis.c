#include "axis.h"

#include <math.h>

void sim_axis_init(struct sim_axis *a, const struct sim_rail_config *config)
{
    *a = (struct sim_axis){.phase = SIM_PHASE_STANDING};
    sim_drive_init(&a->drive, config);
    sim_rail_init(&a->rail, config);
    sim_switch_init(&a->sw, SIM_SWITCH_OF_HOLDERS, &a->rail, config);
    sim_switch_init(&a->reference_sw, SIM_SWITCH_OF_REFERENCES, &a->rail, config);
}

/* ---- what reaches it from outside ---------------------------------------------------------------------- */

/* Returns the drive inputs, with the changes that faults make. */
static uint16_t wired(const struct sim_axis *a, uint16_t inputs)
{
    static const struct {
        enum sim_fault fault;
        uint16_t takes;
    } row[] = {{SIM_ENABLE_LOST, KR_DI_ENABLE},
               {SIM_AIR_LOST, KR_DI_AIR},
               {SIM_GUARDS_OPENED, KR_DI_GUARDS_CLOSED},
               {SIM_LINE_RUNS, KR_DI_LINE_STOPPED},
               {SIM_KNIVES_LOWERED, KR_DI_KNIVES_RAISED}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        if (sim_axis_broken(a, row[i].fault))
            inputs &= (uint16_t)~row[i].takes;
    return inputs;
}

static struct sim_supply supply_of(const struct sim_axis *a, uint16_t inputs)
{
    bool power = !sim_axis_broken(a, SIM_POWER_CUT);
    uint16_t code = 0;
    if (sim_axis_broken(a, SIM_DRIVE_FAULT))
        code = (uint16_t)a->value[SIM_DRIVE_FAULT];
    return (struct sim_supply){power, power && wired(a, inputs) & KR_DI_ENABLE, code};
}

static struct sim_forces forces_on(const struct sim_axis *a, uint16_t inputs)
{
    return (struct sim_forces){
        .outputs = sim_drive_outputs(&a->drive),
        .air = (wired(a, inputs) & KR_DI_AIR) != 0,
        .pin_cannot_go_in = sim_axis_broken(a, SIM_PIN_STUCK_OUT),
        .pin_cannot_go_out = sim_axis_broken(a, SIM_PIN_STUCK_IN),
        .brake_cannot_open = sim_axis_broken(a, SIM_BRAKE_STUCK),
        .clamp_fails = sim_axis_broken(a, SIM_CLAMP_LOST),
        .pin_backs_out = sim_axis_broken(a, SIM_PIN_BACKS_OUT),
        .pin_sags = sim_axis_broken(a, SIM_PIN_SAGS),
        .brake_cannot_close = sim_axis_broken(a, SIM_BRAKE_STUCK_OPEN),
        .clamp_cannot_close = sim_axis_broken(a, SIM_CLAMP_STUCK_OPEN),
    };
}

static enum sim_stuck stuck(const struct sim_axis *a, enum sim_fault on, enum sim_fault off)
{
    if (sim_axis_broken(a, on))
        return SIM_STUCK_ON;
    return sim_axis_broken(a, off) ? SIM_STUCK_OFF : SIM_SWITCH_WORKS;
}

/* ---- the wire ------------------------------------------------------------------------------------------ */

static bool linked(const struct sim_axis *a)
{
    return a->drive.booted && !sim_axis_broken(a, SIM_LINK_LOST) && !sim_axis_broken(a, SIM_POWER_CUT);
}

static void take(struct sim_axis *a, const struct kr_axis_out *out)
{
    sim_drive_write(&a->drive, out);
    sim_probe_command(&a->probe, out->probe_function & 0xFFu);
    sim_probe_command(&a->probe_2, (uint16_t)(out->probe_function >> KR_PROBE_2));
}

void sim_axis_write(struct sim_axis *a, const struct kr_axis_out *out)
{
    if (linked(a))
        take(a, out);
}

/* With slow answers, only one exchange is under way at a time. Outputs that are written meanwhile never reach the
 * drive. */
void sim_axis_ask(struct sim_axis *a, int64_t now_us, const struct kr_axis_out *out)
{
    struct sim_wire *w = &a->wire;
    bool slow = sim_axis_broken(a, SIM_SLOW_ANSWERS);
    if (!linked(a) || (slow && w->waiting))
        return;
    if (slow) {
        w->waiting = true;
        w->sampled = false;
        w->due_us = now_us + (int64_t)a->value[SIM_SLOW_ANSWERS] * 1000;
    }
    take(a, out);
}

static void second_switch_says(const struct sim_axis *a, const struct sim_rail_config *config, struct kr_axis_in *in)
{
    const struct sim_probe *p = &a->probe_2;
    in->probe_status |= (uint16_t)(sim_probe_status(p) << KR_PROBE_2);
    in->second = (struct kr_probe_edges){
        p->rise_count, p->fall_count, p->rising_stored ? sim_drive_position_um(&a->drive, config, p->rise_at_um) : 0,
        p->falling_stored ? sim_drive_position_um(&a->drive, config, p->fall_at_um) : 0};
    if (a->reference_sw.level)
        in->inputs |= KR_DI_REFERENCE;
}

/* Fills in the inputs that the drive itself would send now. */
static void drive_says(const struct sim_axis *a, const struct sim_rail_config *config, uint16_t inputs,
                       struct kr_axis_in *in)
{
    const struct sim_drive *d = &a->drive;
    *in = (struct kr_axis_in){.link = true, .answers = d->taken_serial, .mode = d->mode};
    in->statusword = sim_drive_statusword(d, config, supply_of(a, inputs));
    in->error_code = d->error_code;
    in->referenced = d->referenced;
    in->homing_method = sim_drive_homing_method(d, config);
    in->position_um = sim_drive_position_um(d, config, d->actual.at_um);
    in->following_error_um = (int32_t)(d->demand.at_um - d->actual.at_um);
    in->probe_status = sim_probe_status(&a->probe);
    in->rise_count = a->probe.rise_count;
    in->fall_count = a->probe.fall_count;
    in->rise_um = a->probe.rising_stored ? sim_drive_position_um(d, config, a->probe.rise_at_um) : 0;
    in->fall_um = a->probe.falling_stored ? sim_drive_position_um(d, config, a->probe.fall_at_um) : 0;
    in->inputs = wired(a, inputs) | sim_rail_inputs(&a->rail, config);
    if (a->sw.level)
        in->inputs |= KR_DI_FLAG;
    if (config->reference_switch_own)
        second_switch_says(a, config, in);
}

static void run_wire(struct sim_axis *a, const struct sim_rail_config *config, uint16_t inputs, int64_t now_us)
{
    struct sim_wire *w = &a->wire;
    if (!linked(a)) {
        w->waiting = w->delivered = false;
        return;
    }
    w->last_good_us = now_us;
    if (!w->waiting)
        return;
    if (!w->sampled) {
        w->sampled = true;
        w->sampled_us = now_us;
        drive_says(a, config, inputs, &w->sample);
    }
    if (now_us < w->due_us)
        return;
    w->waiting = false;
    w->delivered = true;
    w->image = w->sample;
    w->delivered_us = w->sampled_us;
}

static int32_t age_ms(int64_t now_us, int64_t since_us)
{
    int64_t ms = (now_us - since_us) / 1000;
    return ms < INT32_MAX ? (int32_t)ms : INT32_MAX;
}

void sim_axis_read(const struct sim_axis *a, const struct sim_rail_config *config, uint16_t inputs, int64_t now_us,
                   struct kr_axis_in *in)
{
    if (linked(a))
        drive_says(a, config, inputs, in);
    else
        *in = (struct kr_axis_in){.age_ms = age_ms(now_us, a->wire.last_good_us)};
}

void sim_axis_hear(const struct sim_axis *a, const struct sim_rail_config *config, uint16_t inputs, int64_t now_us,
                   struct kr_axis_in *in)
{
    const struct sim_wire *w = &a->wire;
    if (!sim_axis_broken(a, SIM_SLOW_ANSWERS) || !linked(a)) {
        sim_axis_read(a, config, inputs, now_us, in);
        return;
    }
    *in = w->delivered ? w->image : (struct kr_axis_in){0};
    in->age_ms = age_ms(now_us, w->delivered ? w->delivered_us : w->last_good_us);
}

/* ---- phases -------------------------------------------------------------------------------------------- */

static bool moves(const struct sim_axis *a)
{
    return !sim_drive_standing(&a->drive) || fabs(a->drive.actual.speed_um_per_s) > 100;
}

/* Returns the phase while the pin is not out. Once the brake was open and closes, or the pin is pulled, the phase is
 * releasing, and stays that. */
static enum sim_phase phase_with_pin(const struct sim_axis *a, uint16_t outputs)
{
    const struct sim_carriage *c = &a->rail.carriage;
    bool was_docked = a->phase == SIM_PHASE_DOCKED || a->phase == SIM_PHASE_DRAGGING;
    bool lets_go = (was_docked && !(outputs & KR_DO_BRAKE_OPEN)) || outputs & KR_DO_PIN_OUT;
    if (lets_go || a->phase == SIM_PHASE_RELEASING)
        return SIM_PHASE_RELEASING;
    if (c->pin < SIM_TRAVEL || c->brake < SIM_TRAVEL)
        return was_docked ? a->phase : SIM_PHASE_DOCKING;
    return moves(a) ? SIM_PHASE_DRAGGING : SIM_PHASE_DOCKED;
}

static enum sim_phase phase_of(const struct sim_axis *a)
{
    uint16_t outputs = sim_drive_outputs(&a->drive);
    if (sim_axis_broken(a, SIM_POWER_CUT) || !a->drive.booted)
        return SIM_PHASE_OFF;
    if (a->drive.homing == SIM_HOMING_UNDER_WAY)
        return SIM_PHASE_HOMING;
    if (a->rail.carriage.pin > 0)
        return phase_with_pin(a, outputs);
    if (!moves(a))
        return SIM_PHASE_STANDING;
    return a->probe.function & KR_PROBE_ENABLE ? SIM_PHASE_SCANNING : SIM_PHASE_TRAVELLING;
}

static void note_phase(struct sim_axis *a)
{
    enum sim_phase phase = phase_of(a);
    if (phase == a->phase)
        return;
    a->phase = phase;
    a->entered[phase]++;
}

/* ---- one sub-step -------------------------------------------------------------------------------------- */

void sim_axis_step(struct sim_axis *a, const struct sim_rail_config *config, uint16_t inputs, struct sim_moment moment,
                   struct sim_incidents *incidents)
{
    uint32_t collisions = incidents->collision.count;
    double from_um = a->drive.actual.at_um;
    double to_um = sim_drive_step(&a->drive, config, supply_of(a, inputs));
    sim_rail_actuate(&a->rail, config, forces_on(a, inputs), moment, incidents);
    to_um = sim_rail_move(&a->rail, config, to_um, moment, incidents);
    sim_drive_moved(&a->drive, config, to_um, moment.seed, moment.rail_index);
    if (incidents->collision.count != collisions) /* a crash: the drive notices it as a following error */
        sim_drive_trip(&a->drive, config, SIM_ERROR_FOLLOWING);
    int32_t bounces = sim_axis_broken(a, SIM_SWITCH_BOUNCES) ? a->value[SIM_SWITCH_BOUNCES] : 0;
    sim_switch_step(&a->sw, &a->probe, &a->rail, config, from_um, to_um,
                    stuck(a, SIM_SWITCH_STUCK_ON, SIM_SWITCH_STUCK_OFF), bounces, moment);
    if (config->reference_switch_own)
        sim_switch_step(&a->reference_sw, &a->probe_2, &a->rail, config, from_um, to_um,
                        stuck(a, SIM_REFERENCE_SWITCH_STUCK_ON, SIM_REFERENCE_SWITCH_STUCK_OFF), 0, moment);
    run_wire(a, config, inputs, moment.now_us);
    note_phase(a);
}
