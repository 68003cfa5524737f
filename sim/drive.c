#include "sim/drive.h"

#include <math.h>

/* The transitions that the controlword commands, with their numbers in IEC 61800-7-201. The masks include bit 7, so
 * that no command counts while fault reset is set. */
static const struct transition {
    enum kr_drive_state from, to;
    uint16_t mask, value;
} transitions[] = {
    {KR_DRIVE_SWITCH_ON_DISABLED, KR_DRIVE_READY_TO_SWITCH_ON, 0x0087, 0x0006}, /* 2 */
    {KR_DRIVE_READY_TO_SWITCH_ON, KR_DRIVE_SWITCHED_ON, 0x008F, 0x0007},        /* 3 */
    {KR_DRIVE_SWITCHED_ON, KR_DRIVE_OPERATION_ENABLED, 0x008F, 0x000F},         /* 4 */
    {KR_DRIVE_OPERATION_ENABLED, KR_DRIVE_SWITCHED_ON, 0x008F, 0x0007},         /* 5 */
    {KR_DRIVE_SWITCHED_ON, KR_DRIVE_READY_TO_SWITCH_ON, 0x0087, 0x0006},        /* 6 */
    {KR_DRIVE_READY_TO_SWITCH_ON, KR_DRIVE_SWITCH_ON_DISABLED, 0x0082, 0x0000}, /* 7 */
    {KR_DRIVE_READY_TO_SWITCH_ON, KR_DRIVE_SWITCH_ON_DISABLED, 0x0086, 0x0002}, /* 7 */
    {KR_DRIVE_OPERATION_ENABLED, KR_DRIVE_READY_TO_SWITCH_ON, 0x0087, 0x0006},  /* 8 */
    {KR_DRIVE_OPERATION_ENABLED, KR_DRIVE_SWITCH_ON_DISABLED, 0x0082, 0x0000},  /* 9 */
    {KR_DRIVE_SWITCHED_ON, KR_DRIVE_SWITCH_ON_DISABLED, 0x0082, 0x0000},        /* 10 */
    {KR_DRIVE_SWITCHED_ON, KR_DRIVE_SWITCH_ON_DISABLED, 0x0086, 0x0002},        /* 10 */
    {KR_DRIVE_OPERATION_ENABLED, KR_DRIVE_QUICK_STOP_ACTIVE, 0x0086, 0x0002},   /* 11 */
    {KR_DRIVE_QUICK_STOP_ACTIVE, KR_DRIVE_SWITCH_ON_DISABLED, 0x0082, 0x0000},  /* 12 */
    {KR_DRIVE_QUICK_STOP_ACTIVE, KR_DRIVE_OPERATION_ENABLED, 0x008F, 0x000F},   /* 16 */
};
#define N_TRANSITIONS (sizeof transitions / sizeof transitions[0])

#define STANDSTILL_UM_PER_S 100 /* below this speed, the drive counts as standing; invented */

static int64_t ms(int32_t value_ms)
{
    return (int64_t)value_ms * 1000;
}

void sim_drive_init(struct sim_drive *drive, const struct sim_rail_config *config)
{
    *drive = (struct sim_drive){.state = KR_DRIVE_SWITCH_ON_DISABLED, .booted = true};
    drive->actual.at_um = config->carriage_um;
    drive->referenced = config->absolute_encoder != 0;
    /* An incremental encoder counts from the place where it was switched on; an absolute one keeps its adjustment. */
    drive->datum_um = drive->referenced ? config->home_offset_um - sim_drive_count_um(drive, config, config->home_um)
                                        : -sim_drive_count_um(drive, config, config->carriage_um);
    drive->lag_gain = 1;
    if (config->lag_us > 0)
        drive->lag_gain = 1 - exp(-(double)SIM_SUBSTEP_US / config->lag_us);
    sim_drive_hold_here(drive);
}

void sim_drive_write(struct sim_drive *drive, const struct kr_axis_out *out)
{
    if (!drive->booted)
        return;
    drive->command = *out;
    drive->commanded = true;
    drive->silent = false;
    drive->silent_us = 0;
}

uint16_t sim_drive_outputs(const struct sim_drive *drive)
{
    return drive->silent && sim_drive_standing(drive) ? 0 : drive->command.outputs;
}

int32_t sim_drive_position_um(const struct sim_drive *drive, const struct sim_rail_config *config, double at_um)
{
    double count_um = config->encoder_nm / 1000.0;
    double position_um = sim_drive_count_um(drive, config, at_um) + drive->datum_um;
    return (int32_t)lround(round(position_um / count_um) * count_um);
}

void sim_drive_lose_power(struct sim_drive *drive, const struct sim_rail_config *config)
{
    struct sim_drive before = *drive;
    *drive = (struct sim_drive){.state = KR_DRIVE_NOT_READY};
    drive->actual = before.actual;
    drive->lag_gain = before.lag_gain;
    drive->homings = before.homings;
    drive->setpoints = before.setpoints;
    drive->miscount = before.miscount;
    drive->amiss = before.amiss;
    drive->referenced = config->absolute_encoder != 0;
    drive->datum_um = drive->referenced ? before.datum_um : -sim_drive_count_um(drive, config, before.actual.at_um);
    sim_drive_hold_here(drive);
    sim_drive_stop(drive, drive->actual, config->coast_um_per_s2);
}

/* The power stage is switched off: the carriage coasts from its actual position. */
static void coast(struct sim_drive *drive, const struct sim_rail_config *config)
{
    struct sim_motion from = drive->actual;
    drive->powered = false;
    sim_drive_hold_here(drive);
    sim_drive_stop(drive, from, config->coast_um_per_s2);
}

/* Tells whether the ramp is over and the motor has followed it. */
static bool at_rest(const struct sim_drive *drive)
{
    return sim_drive_standing(drive) && fabs(drive->actual.speed_um_per_s) < STANDSTILL_UM_PER_S;
}

/* ---- the state machine --------------------------------------------------------------------------------- */

static void enter(struct sim_drive *drive, const struct sim_rail_config *config, enum kr_drive_state to)
{
    bool was_powered = drive->powered;
    drive->state = to;
    drive->power_up_us = 0;
    switch (to) {
    case KR_DRIVE_OPERATION_ENABLED:
        drive->powered = true;
        drive->homing = SIM_HOMING_NOT_STARTED;
        sim_drive_hold_here(drive);
        break;
    case KR_DRIVE_QUICK_STOP_ACTIVE: sim_drive_quick_stop(drive, config, drive->demand); break;
    case KR_DRIVE_SWITCHED_ON:
    case KR_DRIVE_READY_TO_SWITCH_ON:
    case KR_DRIVE_SWITCH_ON_DISABLED:
    case KR_DRIVE_NOT_READY:
    case KR_DRIVE_FAULT:
        if (was_powered)
            coast(drive, config);
        break;
    case KR_DRIVE_FAULT_REACTION_ACTIVE:
    case KR_DRIVE_UNKNOWN: break;
    }
}

/* Before operation is enabled, the power stage needs time, and the motor has to stand. */
static bool may_enter(struct sim_drive *drive, const struct sim_rail_config *config, enum kr_drive_state to)
{
    if (to != KR_DRIVE_OPERATION_ENABLED)
        return true;
    if (!sim_drive_standing(drive))
        return false;
    if (drive->state == KR_DRIVE_QUICK_STOP_ACTIVE)
        return config->quick_stop_stays;
    drive->power_up_us += SIM_SUBSTEP_US;
    return drive->power_up_us > ms(config->power_up_ms);
}

static void obey_controlword(struct sim_drive *drive, const struct sim_rail_config *config)
{
    for (size_t i = 0; i < N_TRANSITIONS; i++) {
        const struct transition *t = &transitions[i];
        if (t->from != drive->state || (drive->controlword & t->mask) != t->value)
            continue;
        if (may_enter(drive, config, t->to))
            enter(drive, config, t->to);
        return;
    }
    drive->power_up_us = 0;
}

static void finish_reactions(struct sim_drive *drive, const struct sim_rail_config *config)
{
    if (!at_rest(drive))
        return;
    if (drive->state == KR_DRIVE_FAULT_REACTION_ACTIVE)
        enter(drive, config, KR_DRIVE_FAULT);
    else if (drive->state == KR_DRIVE_QUICK_STOP_ACTIVE && !config->quick_stop_stays)
        enter(drive, config, KR_DRIVE_SWITCH_ON_DISABLED);
}

static void reset_fault(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_supply supply)
{
    bool rising = drive->controlword & KR_CW_FAULT_RESET && !(drive->controlword_before & KR_CW_FAULT_RESET);
    if (drive->state != KR_DRIVE_FAULT || !rising || supply.error_code)
        return;
    drive->error_code = 0;
    enter(drive, config, KR_DRIVE_SWITCH_ON_DISABLED);
}

static void watch_silence(struct sim_drive *drive, const struct sim_rail_config *config)
{
    if (!drive->commanded || config->watchdog_ms == 0)
        return;
    drive->silent_us += SIM_SUBSTEP_US;
    if (drive->silent_us <= ms(config->watchdog_ms))
        return;
    drive->commanded = false; /* the next outputs arm the watchdog again */
    drive->silent = true;
    drive->command.controlword = 0;
    sim_drive_trip(drive, config, SIM_ERROR_SILENCE);
}

static bool watch_enable(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_supply supply)
{
    if (supply.enable)
        return true;
    bool live = drive->state != KR_DRIVE_FAULT && drive->state != KR_DRIVE_FAULT_REACTION_ACTIVE;
    if (live && drive->state != KR_DRIVE_SWITCH_ON_DISABLED)
        enter(drive, config, KR_DRIVE_SWITCH_ON_DISABLED);
    else if (!live && drive->powered)
        coast(drive, config);
    return false;
}

static void run_states(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_supply supply)
{
    watch_silence(drive, config);
    if (supply.error_code)
        sim_drive_trip(drive, config, supply.error_code);
    finish_reactions(drive, config);
    reset_fault(drive, config, supply);
    if (watch_enable(drive, config, supply))
        obey_controlword(drive, config);
}

double sim_drive_step(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_supply supply)
{
    if (!drive->booted && supply.power) {
        drive->boot_us += SIM_SUBSTEP_US;
        drive->booted = drive->boot_us >= ms(config->boot_ms);
        if (drive->booted)
            drive->state = KR_DRIVE_SWITCH_ON_DISABLED;
    }
    if (drive->booted) {
        drive->controlword_before = drive->controlword;
        drive->controlword = drive->command.controlword;
        drive->taken_serial = drive->command.serial;
        run_states(drive, config, supply);
        sim_drive_follow_commands(drive, config);
    }
    drive->profile_us += SIM_SUBSTEP_US;
    drive->ramp = sim_profile_at(&drive->profile, (double)drive->profile_us * 1e-6);
    drive->demand = sim_jerk_round(&drive->jerk, drive->ramp, SIM_SUBSTEP_US * 1e-6);
    if (sim_drive_standing(drive))
        drive->demand = drive->ramp;
    if (!drive->powered)
        return drive->demand.at_um;
    double behind_um = drive->demand.at_um - drive->actual.at_um;
    if (fabs(behind_um) < 1e-3 && sim_drive_standing(drive))
        return drive->demand.at_um; /* less than a nanometre: the control loop is at rest */
    return drive->actual.at_um + behind_um * drive->lag_gain;
}

/* ---- what became of it --------------------------------------------------------------------------------- */

static void watch_following(struct sim_drive *drive, const struct sim_rail_config *config)
{
    double error_um = fabs(drive->demand.at_um - drive->actual.at_um);
    drive->outside_us = error_um > config->following_window_um ? drive->outside_us + SIM_SUBSTEP_US : 0;
    if (drive->outside_us > ms(config->following_ms))
        sim_drive_trip(drive, config, SIM_ERROR_FOLLOWING);
}

static void watch_target(struct sim_drive *drive, const struct sim_rail_config *config)
{
    double off_um = fabs(drive->profile.to_um - drive->actual.at_um);
    bool inside = sim_drive_standing(drive) && off_um <= config->position_window_um;
    if (!inside)
        drive->inside_us = 0;
    else if (drive->inside_us <= ms(config->position_window_ms))
        drive->inside_us += SIM_SUBSTEP_US;
}

static void finish_homing(struct sim_drive *drive, const struct sim_rail_config *config, struct sim_draw draw)
{
    if (drive->homing != SIM_HOMING_UNDER_WAY || drive->halted || drive->inside_us <= ms(config->position_window_ms))
        return;
    draw.nth = drive->homings++;
    double scatter_um = sim_draw_either_way(draw) * config->home_scatter_um;
    double mark_um = sim_drive_homes_here(drive, config) ? drive->actual.at_um : config->home_um;
    drive->datum_um = config->home_offset_um - sim_drive_count_um(drive, config, mark_um) + scatter_um;
    drive->referenced = true;
    drive->homing = SIM_HOMING_DONE;
}

void sim_drive_moved(struct sim_drive *drive, const struct sim_rail_config *config, double at_um, uint64_t seed,
                     uint32_t rail)
{
    drive->actual.speed_um_per_s = (at_um - drive->actual.at_um) * (1e6 / SIM_SUBSTEP_US);
    drive->actual.at_um = at_um;
    if (!drive->powered) {
        if (at_um != drive->demand.at_um) /* it has coasted against an obstacle, and stands there */
            sim_drive_hold_here(drive);
        return;
    }
    watch_target(drive, config);
    if (drive->state == KR_DRIVE_OPERATION_ENABLED || drive->state == KR_DRIVE_QUICK_STOP_ACTIVE)
        watch_following(drive, config);
    finish_homing(drive, config, (struct sim_draw){.seed = seed, .what = SIM_DRAW_HOME, .rail = rail});
}

/* ---- the statusword ------------------------------------------------------------------------------------ */

static uint16_t state_bits(enum kr_drive_state state)
{
    switch (state) {
    case KR_DRIVE_UNKNOWN:
    case KR_DRIVE_NOT_READY: return 0x0000;
    case KR_DRIVE_SWITCH_ON_DISABLED: return 0x0040;
    case KR_DRIVE_READY_TO_SWITCH_ON: return 0x0021;
    case KR_DRIVE_SWITCHED_ON: return 0x0023;
    case KR_DRIVE_OPERATION_ENABLED: return 0x0027;
    case KR_DRIVE_QUICK_STOP_ACTIVE: return 0x0007;
    case KR_DRIVE_FAULT_REACTION_ACTIVE: return 0x000F;
    case KR_DRIVE_FAULT: return 0x0008;
    }
    return 0;
}

static bool target_reached(const struct sim_drive *drive, const struct sim_rail_config *config)
{
    if (drive->state != KR_DRIVE_OPERATION_ENABLED || drive->amiss.never_arrives)
        return false;
    if (drive->halted)
        return at_rest(drive);
    return drive->inside_us > ms(config->position_window_ms);
}

static uint16_t homing_bits(const struct sim_drive *drive)
{
    bool standing = sim_drive_standing(drive);
    switch (drive->homing) {
    case SIM_HOMING_NOT_STARTED: return standing ? KR_SW_TARGET_REACHED : 0;
    case SIM_HOMING_UNDER_WAY: return 0;
    case SIM_HOMING_DONE: return KR_SW_SETPOINT_ACK | KR_SW_TARGET_REACHED;
    case SIM_HOMING_FAILED: return KR_SW_FOLLOWING_ERROR | (standing ? KR_SW_TARGET_REACHED : 0);
    }
    return 0;
}

static uint16_t position_bits(const struct sim_drive *drive, const struct sim_rail_config *config)
{
    uint16_t bits = 0;
    if (target_reached(drive, config))
        bits |= KR_SW_TARGET_REACHED;
    if (drive->acknowledged)
        bits |= KR_SW_SETPOINT_ACK;
    if (fabs(drive->demand.at_um - drive->actual.at_um) > config->following_window_um ||
        drive->error_code == SIM_ERROR_FOLLOWING)
        bits |= KR_SW_FOLLOWING_ERROR;
    return bits;
}

uint16_t sim_drive_statusword(const struct sim_drive *drive, const struct sim_rail_config *config,
                              struct sim_supply supply)
{
    uint16_t word = state_bits(drive->state) | KR_SW_REMOTE;
    if (supply.power && supply.enable)
        word |= KR_SW_VOLTAGE_ENABLED;
    if (drive->mode == KR_MODE_HOMING)
        word |= homing_bits(drive);
    else
        word |= position_bits(drive, config);
    return word;
}
