/* Begins and ends faults. */
#include <math.h>

#include "axis.h"

static const struct sim_fault_info infos[] = {
#define F(NAME, name, item, value, least, most, what) {name, SIM_ITEM_##item, SIM_VALUE_##value, least, most, what},
#include "sim/faults.def"
};
_Static_assert(SIM_N_FAULTS <= 8 * sizeof((struct sim_axis *)0)->broken,
               "struct sim_axis keeps what stands in one word");

const struct sim_fault_info *sim_fault_info(enum sim_fault fault)
{
    return (unsigned)fault < SIM_N_FAULTS ? &infos[fault] : NULL;
}

const char *sim_value_word(enum sim_value value)
{
    static const char *const words[] = {
#define X(NAME, word) word,
        SIM_VALUES(X)
#undef X
    };
    return words[value];
}

const char *sim_item_word(enum sim_item item)
{
    return item == SIM_ITEM_HOLDER ? "HOLDER" : item == SIM_ITEM_REFERENCE ? "REFERENCE" : "";
}

static const char *const phase_names[] = {
#define X(NAME, name, what) name,
    SIM_PHASES(X)
#undef X
};

const char *sim_phase_name(enum sim_phase phase)
{
    return (unsigned)phase < SIM_N_PHASES ? phase_names[phase] : NULL;
}

static bool fits(const struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item)
{
    const struct sim_fault_info *info = sim_fault_info(fault);
    if (!info || rail >= m->config.n_rails)
        return false;
    if (info->item == SIM_ITEM_REFERENCE)
        return item < m->config.rail[rail].n_references;
    return info->item != SIM_ITEM_HOLDER || item < m->config.rail[rail].n_holders;
}

static void lose_power(struct sim_machine *m, uint16_t rail)
{
    sim_drive_lose_power(&m->axis[rail].drive, &m->config.rail[rail]);
    sim_probe_command(&m->axis[rail].probe, 0);
    sim_probe_command(&m->axis[rail].probe_2, 0);
}

static bool push_by_hand(struct sim_machine *m, uint16_t rail, uint16_t item, int32_t by_um)
{
    struct sim_rail *r = &m->axis[rail].rail;
    const struct sim_holder *h = &r->holder[item];
    if (!h->present || h->seized || h->jammed || r->carriage.docked == item)
        return false;
    sim_rail_shift(r, (int16_t)item, by_um, &m->incidents);
    return true;
}

static bool push_carriage(struct sim_axis *a, const struct sim_rail_config *config, int32_t by_um)
{
    struct sim_carriage *c = &a->rail.carriage;
    double to_um = fmax(config->stop_low_um, fmin(c->at_um + by_um, config->stop_high_um));
    if (a->drive.powered || c->pin != 0)
        return false;
    sim_drive_push(&a->drive, to_um - c->at_um);
    c->at_um = to_um;
    return true;
}

/* The holders move with the rail; a carriage at rest stays at its tooth of the rack. */
static void warm(struct sim_axis *a, double ppm)
{
    double longer = (1 + ppm * 1e-6) / (1 + a->drive.miscount.warmer_ppm * 1e-6);
    for (uint16_t i = 0; i < a->rail.n_holders; i++)
        a->rail.holder[i].at_um *= longer;
    a->drive.miscount.warmer_ppm = ppm;
}

static bool add_foreign_flag(struct sim_switch *sw, int32_t at_um)
{
    if (sw->n_foreign == SIM_FOREIGN_MAX)
        return false;
    sw->foreign_edges[sw->n_foreign] = 0;
    sw->foreign_um[sw->n_foreign++] = at_um;
    return true;
}

static bool is_missing(const struct sim_switch *sw, uint16_t reference)
{
    return sw->references_missing >> reference & 1u;
}

/* It does not matter which switch sees the references. */
static void spoil_reference(struct sim_axis *a, uint16_t item, bool missing, int32_t dirt_um)
{
    struct sim_switch *sw[] = {&a->sw, &a->reference_sw};
    for (size_t i = 0; i < sizeof sw / sizeof sw[0]; i++) {
        sw[i]->references_missing &= (uint16_t) ~(1u << item);
        sw[i]->references_missing |= (uint16_t)((missing ? 1u : 0u) << item);
        sw[i]->reference_dirt_um[item] = dirt_um;
    }
}

/* Carries out the effect that a fault has on one rail when it begins. False: it is not possible. */
static bool strike(struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item, int32_t value)
{
    struct sim_axis *a = &m->axis[rail];
    switch ((int)fault) {
    case SIM_DRIVE_REBOOT:
    case SIM_FACTORY_SETTINGS:
    case SIM_POWER_CUT: lose_power(m, rail); return true;
    case SIM_POSITION_JUMP: a->drive.datum_um += value; return true;
    case SIM_FOREIGN_FLAG: return add_foreign_flag(&a->sw, value);
    case SIM_MOVED_BY_HAND: return push_by_hand(m, rail, item, value);
    case SIM_BRAKE_SLIPS: a->rail.holder[item].creep_um = value; return true;
    case SIM_HOLDER_JAMMED: a->rail.holder[item].jammed = true; return true;
    case SIM_FLAG_MISSING: a->rail.holder[item].flag_missing = true; return true;
    case SIM_DATUM_SHIFTED: a->drive.miscount.shift_um = value; return true;
    case SIM_SCALE_OFF: a->drive.miscount.scale_ppm = value; return true;
    case SIM_PITCH_ERROR: a->drive.miscount.pitch_um = value; return true;
    case SIM_BRACKET_BUMPED: a->sw.bumped_um = value; return true;
    case SIM_REFERENCE_BRACKET_BUMPED: a->reference_sw.bumped_um = value; return true;
    case SIM_REFERENCE_MISSING: spoil_reference(a, item, true, a->sw.reference_dirt_um[item]); return true;
    case SIM_REFERENCE_DIRTY: spoil_reference(a, item, is_missing(&a->sw, item), value); return true;
    case SIM_RAIL_WARMER: warm(a, value); return true;
    case SIM_BLADE_OFF: a->rail.holder[item].blade_um = value; return true;
    case SIM_SETPOINTS_IGNORED: a->drive.amiss.ignores_setpoints = true; return true;
    case SIM_NEVER_ARRIVES: a->drive.amiss.never_arrives = true; return true;
    case SIM_HOMING_FAILS: a->drive.amiss.fails_to_home = true; return true;
    case SIM_DATUM_FORGOTTEN: a->drive.referenced = false; return true;
    case SIM_HOMES_HERE: a->drive.amiss.homes_here = true; return true;
    case SIM_CARRIAGE_PUSHED: return push_carriage(a, &m->config.rail[rail], value);
    default: return true; /* all other faults are checked while they last */
    }
}

/* Until the first slow answer comes, the master has the last quick one. */
static void keep_last_image(struct sim_machine *m, uint16_t rail)
{
    struct sim_wire *w = &m->axis[rail].wire;
    sim_axis_read(&m->axis[rail], &m->config.rail[rail], m->inputs, m->now_us, &w->image);
    w->waiting = false;
    w->delivered = w->image.link;
    w->delivered_us = m->now_us;
}

static bool happens_once(enum sim_fault fault)
{
    return fault == SIM_DRIVE_REBOOT || fault == SIM_POSITION_JUMP || fault == SIM_MOVED_BY_HAND ||
           fault == SIM_DATUM_FORGOTTEN || fault == SIM_CARRIAGE_PUSHED;
}

static bool break_rail(struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item, int32_t value)
{
    struct sim_axis *a = &m->axis[rail];
    if (!strike(m, rail, fault, item, value))
        return false;
    if (happens_once(fault))
        return true;
    if (fault == SIM_SLOW_ANSWERS && !sim_axis_broken(a, fault))
        keep_last_image(m, rail);
    a->broken |= UINT64_C(1) << fault;
    a->value[fault] = value;
    return true;
}

bool sim_machine_break(struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item, int32_t value)
{
    if (!fits(m, rail, fault, item))
        return false;
    const struct sim_fault_info *info = sim_fault_info(fault);
    if (info->value != SIM_VALUE_NONE && (value < info->least || value > info->most))
        return false;
    if (info->item != SIM_ITEM_MACHINE)
        return break_rail(m, rail, fault, item, value);
    for (uint16_t r = 0; r < m->config.n_rails; r++)
        (void)break_rail(m, r, fault, item, value); /* a fault of the whole machine can't be refused */
    return true;
}

static void mend_drive(struct sim_amiss *amiss, enum sim_fault fault)
{
    if (fault == SIM_SETPOINTS_IGNORED)
        amiss->ignores_setpoints = false;
    else if (fault == SIM_NEVER_ARRIVES)
        amiss->never_arrives = false;
    else if (fault == SIM_HOMING_FAILS)
        amiss->fails_to_home = false;
    else if (fault == SIM_HOMES_HERE)
        amiss->homes_here = false;
}

static void mend_rail(struct sim_axis *a, enum sim_fault fault, uint16_t item)
{
    a->broken &= ~(UINT64_C(1) << fault);
    if (fault == SIM_FOREIGN_FLAG)
        a->sw.n_foreign = 0;
    else if (fault == SIM_BRAKE_SLIPS)
        a->rail.holder[item].creep_um = 0;
    else if (fault == SIM_HOLDER_JAMMED)
        a->rail.holder[item].jammed = false;
    else if (fault == SIM_FLAG_MISSING)
        a->rail.holder[item].flag_missing = false;
    else if (fault == SIM_DATUM_SHIFTED)
        a->drive.miscount.shift_um = 0;
    else if (fault == SIM_SCALE_OFF)
        a->drive.miscount.scale_ppm = 0;
    else if (fault == SIM_PITCH_ERROR)
        a->drive.miscount.pitch_um = 0;
    else if (fault == SIM_BRACKET_BUMPED)
        a->sw.bumped_um = 0;
    else if (fault == SIM_REFERENCE_BRACKET_BUMPED)
        a->reference_sw.bumped_um = 0;
    else if (fault == SIM_REFERENCE_MISSING)
        spoil_reference(a, item, false, a->sw.reference_dirt_um[item]);
    else if (fault == SIM_REFERENCE_DIRTY)
        spoil_reference(a, item, is_missing(&a->sw, item), 0);
    else if (fault == SIM_RAIL_WARMER)
        warm(a, 0);
    else if (fault == SIM_BLADE_OFF)
        a->rail.holder[item].blade_um = 0;
    else
        mend_drive(&a->drive.amiss, fault);
}

bool sim_machine_mend(struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item)
{
    if (!fits(m, rail, fault, item))
        return false;
    if (sim_fault_info(fault)->item != SIM_ITEM_MACHINE) {
        mend_rail(&m->axis[rail], fault, item);
        return true;
    }
    for (uint16_t r = 0; r < m->config.n_rails; r++)
        mend_rail(&m->axis[r], fault, item);
    return true;
}

bool sim_machine_broken(const struct sim_machine *m, uint16_t rail, enum sim_fault fault)
{
    return fits(m, rail, fault, 0) && sim_axis_broken(&m->axis[rail], fault);
}
