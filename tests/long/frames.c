#include "frames.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define STRIKES_MOST   6
#define UNSEEN_UM      250 /* a rail may be so far off before a scan: neighbours have twice the room */
#define MEASURED_UM    40  /* what two scans of the same holder may differ by: scatter, play, and a common clamp */
#define SEEN_UM        100 /* a pin that is off by less touches nothing that stands beside its holder */
#define PERMISSIVES    0x1F
#define DIRT_PARTS     64 /* a reference that looks wider by less of its width is no other one: src/motion/match.c */
#define FIND_PERCENT   50
#define STRIPS_UM      20 /* how well a person measures a strip; common practice, no published source */
#define TEST_CUTS_MOST 4

const char *frame_fault_meaning(enum frame_fault fault)
{
    static const char *const meaning[] = {
#define X(NAME, what) what,
        FRAME_FAULTS(X)
#undef X
    };
    return meaning[fault];
}

static void say(struct frames *f, const struct rig *rig, const char *what, int64_t value, int64_t limit)
{
    if (f->what[0] == 0)
        snprintf(f->what, sizeof f->what, "at %.2f s: %s (%lld, limit %lld)", (double)rig->time_us / 1e6, what,
                 (long long)value, (long long)limit);
}

static int32_t either_way(struct draw *d, int32_t least, int32_t most)
{
    int32_t size = draw_between(d, least, most);
    return draw_chance(d, 50) ? size : -size;
}

static int32_t greater(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

/* ---- references on a station ----------------------------------------------------------------------------------- */

static const struct kr_references *references_of(const struct rig *rig, uint16_t r)
{
    return &rig->config.carriage[r].references;
}

/* As src/config/references.c has it: no holder's flag can be taken for one. */
static int32_t clear_um(const struct rig *rig, uint16_t r, int32_t width_um)
{
    const struct kr_carriage_config *c = &rig->config.carriage[r];
    int32_t dwell_um = (int32_t)(3LL * rig->period_us * c->scan_speed_um_per_s / 1000000);
    return (width_um + c->flag_width_um) / 2 + c->references.window_um + dwell_um + 1;
}

static void draw_end(struct draw *d, struct rig *rig, uint16_t r, int side, uint16_t n)
{
    struct kr_references *p = &rig->config.carriage[r].references;
    const struct kr_rail_geometry *rail = &rig->config.geometry.rail[r];
    struct kr_reference flag[KR_REFERENCES_MAX];
    int32_t at_um = side < 0 ? rail->min_um : rail->max_um;
    for (uint16_t i = 0; i < n; i++) {
        flag[i].width_um = draw_between(d, 8000, 14000);
        at_um += side * (i == 0 ? clear_um(rig, r, flag[i].width_um) + draw_between(d, 0, 20000)
                                : draw_between(d, 22000, 60000));
        flag[i].at_um = at_um;
    }
    for (uint16_t i = 0; i < n; i++)
        p->flag[p->n++] = flag[side < 0 ? n - 1 - i : i];
    p->n_low = side < 0 ? n : p->n_low;
}

static void draw_pattern(struct draw *d, struct rig *rig, uint16_t r)
{
    struct kr_references *p = &rig->config.carriage[r].references;
    int32_t percent = draw_between(d, 1, 100);
    *p = (struct kr_references){.window_um = 1000, .step_um = 300};
    if (percent <= 20)
        return;
    bool one_end = percent <= 50, low = draw_chance(d, 50);
    uint16_t several = percent <= 40 ? 1 : (uint16_t)draw_between(d, 2, 3);
    if (!one_end || low)
        draw_end(d, rig, r, -1, one_end ? several : (uint16_t)draw_between(d, 1, 3));
    if (!one_end || !low)
        draw_end(d, rig, r, 1, one_end ? several : (uint16_t)draw_between(d, 1, 4));
}

static bool is_told_apart(const struct rig *rig, uint16_t r)
{
    const struct kr_references *own = references_of(rig, r);
    bool apart = own->n <= 2 || !kr_patterns_alike(own, own, true);
    for (uint16_t i = 0; i < r; i++)
        apart = apart && !kr_patterns_alike(own, references_of(rig, i), false);
    return apart;
}

/* Anywhere along the rail: their switch sees no holder. */
static void spread(struct draw *d, struct rig *rig, uint16_t r, int32_t offset_um)
{
    struct kr_references *p = &rig->config.carriage[r].references;
    const struct kr_rail_geometry *rail = &rig->config.geometry.rail[r];
    int32_t way_um = rail->max_um - rail->min_um;
    uint16_t most = (uint16_t)(1 + way_um / 90000); /* the switch sees the gaps between them */
    p->n = p->n < most ? p->n : most;
    p->own_switch = true;
    p->switch_offset_um = offset_um;
    for (uint16_t i = 0; i < p->n; i++) {
        int32_t part_um = p->n > 1 ? way_um / (p->n - 1) * i : way_um / 2;
        p->flag[i].at_um = rail->min_um + part_um + draw_between(d, -15000, 15000);
    }
}

static bool has_own_switch(const struct rig *rig, uint16_t r)
{
    return references_of(rig, r)->n > 0 && references_of(rig, r)->own_switch;
}

static void draw_frame(struct draw *d, struct rig *rig, uint16_t r)
{
    struct kr_frame *frame = &rig->config.carriage[r].frame;
    if (!draw_chance(d, 40))
        return;
    frame->offset_um = draw_between(d, -500000, 500000);
    frame->scale_ppb = draw_between(d, -500000, 500000);
    rig->sim_config.rail[r].scale_ppb =
        (int32_t)(-(int64_t)frame->scale_ppb * 1000000000 / (1000000000 + frame->scale_ppb));
}

/* Own switches have all rails of a station, or none. */
static void draw_switch(struct frames *f, struct rig *rig, uint16_t r)
{
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    int32_t offset_um = draw_between(&f->second, -40000, 40000);
    if (f->own_switches && references_of(rig, r)->n > 0) {
        do
            spread(&f->second, rig, r, offset_um);
        while (!is_told_apart(rig, r));
        m->reference_switch_own = true;
        m->reference_switch_offset_um = offset_um;
    }
    if (f->jerks)
        m->jerk_um_per_s3 = 2 * m->accel_max_um_per_s2 * draw_between(&f->second, 1, 20);
}

static void draw_rail(struct frames *f, struct rig *rig, uint16_t r)
{
    struct draw *d = &f->draw;
    struct kr_carriage_config *c = &rig->config.carriage[r];
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    bool parks_low = c->park_um < rig->config.geometry.rail[r].max_um / 2;
    do
        draw_pattern(d, rig, r);
    while (!is_told_apart(rig, r));
    draw_switch(f, rig, r);
    draw_frame(d, rig, r);
    if (draw_chance(d, 50))
        c->jump_um = 5000; /* most of what shifts is seen by a scan alone */
    m->n_references = c->references.n;
    for (uint16_t i = 0; i < m->n_references; i++)
        m->reference[i] = (struct sim_reference_config){c->references.flag[i].at_um, c->references.flag[i].width_um};
    station_set_travel(rig, r, parks_low);
}

/* ---- what a rail's references can say -------------------------------------------------------------------------- */

/* Of those references that are not left out some stand at least half the rail apart. */
static bool stand_apart(const struct rig *rig, uint16_t r, uint8_t left_out)
{
    const struct kr_references *p = references_of(rig, r);
    int64_t low_um = INT32_MAX, high_um = INT32_MIN;
    for (uint16_t i = 0; i < p->n; i++)
        if (!(left_out >> i & 1u)) {
            low_um = p->flag[i].at_um < low_um ? p->flag[i].at_um : low_um;
            high_um = p->flag[i].at_um > high_um ? p->flag[i].at_um : high_um;
        }
    return high_um - low_um >= (rig->config.geometry.rail[r].max_um - rig->config.geometry.rail[r].min_um) / 2;
}

static bool has_both_ends(const struct frames *f, const struct rig *rig, uint16_t r)
{
    return stand_apart(rig, r, f->rail[r].missing | f->rail[r].dirty);
}

/* The references that the last scan has not used. A switch that failed for a while may have missed those of one end. */
static uint8_t unused_references(const struct rig *rig, uint16_t r)
{
    const struct kr_alarm *alarm;
    uint16_t n = kr_station_alarms(rig->station, &alarm);
    uint8_t unused = 0;
    for (uint16_t i = 0; i < n; i++)
        if (alarm[i].code == KR_ALARM_REFERENCE_BAD && alarm[i].rail == r + 1)
            unused |= (uint8_t)(1u << (alarm[i].item - 1));
    return unused;
}

/* By how much a scan finds a flag off that truly stands there, before anything is corrected. */
static double found_off_um(const struct rig *rig, uint16_t r, double place_um)
{
    const struct sim_axis *axis = &rig->machine.axis[r];
    const struct sim_rail_config *m = &rig->machine.config.rail[r];
    struct kr_carriage_config c = rig->config.carriage[r];
    double carriage_um = place_um - m->switch_offset_um - axis->sw.bumped_um;
    int32_t position_um = sim_drive_position_um(&axis->drive, m, carriage_um);
    return kr_frame_place_um(&c.frame, position_um) + c.switch_offset_um - place_um;
}

static int32_t off_since_um(const struct frames *f, const struct rig *rig, uint16_t r)
{
    const struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
    double low = found_off_um(rig, r, g->min_um) - f->rail[r].off_um[0],
           high = found_off_um(rig, r, g->max_um) - f->rail[r].off_um[1];
    return (int32_t)lround(fmax(fabs(low), fabs(high)));
}

/* ---- what is excused ------------------------------------------------------------------------------------------- */

static int32_t bound_um(const struct frames *f, const struct rig *rig, uint16_t r)
{
    const struct frames_rail *rail = &f->rail[r];
    const struct kr_references *p = references_of(rig, r);
    int32_t bound = 2 * rail->worst_pitch_um + rail->worst_dirt_um / 2 + rail->half_seen_um;
    if (p->n == 0 || (has_both_ends(f, rig, r) && !rail->loses_an_end))
        return bound;
    int64_t far_um = greater(abs(p->flag[p->n - 1].at_um - rig->config.geometry.rail[r].min_um),
                             abs(rig->config.geometry.rail[r].max_um - p->flag[0].at_um));
    return bound + (int32_t)(far_um * (rail->most_ppm - rail->least_ppm) / 1000000);
}

static bool is_measured(const struct kr_holder_data *h)
{
    return h->known == KR_MEASURED && h->state != KR_HOLDER_ABSENT;
}

/* A scan of this rail has counted in this cycle. */
static bool has_counted(const struct frames_rail *rail, const struct rig *rig, uint16_t r)
{
    const struct kr_holder_data *now = kr_station_durable(rig->station)->holder[r];
    bool news = false;
    for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++)
        news = news || (is_measured(&now[i]) &&
                        (!is_measured(&rail->before[i]) || rail->before[i].position_um != now[i].position_um));
    return news && sim_machine_entered(&rig->machine, r, SIM_PHASE_SCANNING) != rail->scans;
}

static int by_size(const void *a, const void *b)
{
    return *(const int32_t *)a - *(const int32_t *)b;
}

/* config/pages/maintenance.md: most of the holders that nobody moved since a scan, and at least two, are found off
 * alike by more than alike_mm. */
static void must_have_been_noticed(struct frames *f, const struct rig *rig, uint16_t r, int32_t grown_um)
{
    int32_t limit_um = rig->config.carriage[r].alike_um + grown_um;
    const struct frames_rail *rail = &f->rail[r];
    const struct kr_holder_data *now = kr_station_durable(rig->station)->holder[r];
    int32_t off_um[KR_HOLDERS_MAX];
    uint16_t n = 0, alike = 0;
    for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++) {
        const struct kr_holder_data *was = &rail->before[i];
        if (was->origin == KR_ORIGIN_SCANNED && was->known != KR_UNKNOWN && was->state != KR_HOLDER_ABSENT)
            off_um[n++] = now[i].position_um - was->position_um;
    }
    if (n < 2)
        return;
    qsort(off_um, n, sizeof off_um[0], by_size);
    int32_t middle_um = off_um[(n - 1) / 2];
    for (uint16_t i = 0; i < n; i++)
        alike = (uint16_t)(alike + (abs(off_um[i] - middle_um) <= MEASURED_UM));
    if (2 * alike > n && alike >= 2 && abs(middle_um) > limit_um + MEASURED_UM)
        say(f, rig, "a rail that is off is not noticed, though most of its holders are found off by", middle_um,
            limit_um);
}

/* How much of a common shift is the scale's: what the drive counts otherwise than before, or what the references found
 * of it only now, since one end of them could be seen again. Their own switch leaves that to the references. */
static int32_t grown_um(const struct frames *f, const struct rig *rig, uint16_t r, int32_t low_um, int32_t high_um)
{
    const struct frames_rail *rail = &f->rail[r];
    const struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
    int64_t found_ppb = (int64_t)kr_station_durable(rig->station)->references[r].correction.scale_ppb - rail->scale_ppb;
    int32_t counts_um = abs(high_um - rail->off_um[1] - low_um + rail->off_um[0]);
    int32_t found_um = (int32_t)(llabs((int64_t)(g->max_um - g->min_um) * found_ppb) / 1000000000);
    return rail->half_seen_um + (has_own_switch(rig, r) ? greater(counts_um, found_um) : 0);
}

static void take_scan(struct frames *f, struct rig *rig, uint16_t r)
{
    struct frames_rail *rail = &f->rail[r];
    const struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
    bool none = references_of(rig, r)->n == 0, own = has_own_switch(rig, r);
    int32_t low_um = (int32_t)lround(found_off_um(rig, r, g->min_um));
    int32_t high_um = (int32_t)lround(found_off_um(rig, r, g->max_um));
    if ((none || own) && rail->scanned && !rail->confirmed)
        must_have_been_noticed(f, rig, r, grown_um(f, rig, r, low_um, high_um));
    if (sim_machine_entered(&rig->machine, r, SIM_PHASE_SCANNING) - rail->half_passes >= 2)
        rail->half_seen_um = 0; /* both its ways came after that */
    rail->loses_an_end = rail->loses_an_end || !stand_apart(rig, r, unused_references(rig, r));
    rail->scanned = true;
    rail->confirmed = false;
    rail->scans = sim_machine_entered(&rig->machine, r, SIM_PHASE_SCANNING);
    rail->off_um[0] = low_um;
    rail->off_um[1] = high_um;
    rail->scale_ppb = kr_station_durable(rig->station)->references[r].correction.scale_ppb;
    const struct sim_axis *axis = &rig->machine.axis[r];
    for (uint16_t i = 0; i < g->n_holders && none; i++)
        rig->excuse[r].place_um[i] = (int32_t)lround(found_off_um(rig, r, sim_machine_holder_um(&rig->machine, r, i)));
    for (uint16_t i = 0; i < g->n_holders && own; i++)
        rig->excuse[r].place_um[i] = (int32_t)lround(axis->reference_sw.bumped_um - axis->sw.bumped_um);
}

/* Without references a datum that shifts while most holders are dragged is found by no scan. Once it comes back, the
 * places of that scan are off. */
static bool holder_is_off(const struct rig *rig, uint16_t r)
{
    const struct kr_holder_data *row = kr_station_durable(rig->station)->holder[r];
    for (uint16_t i = 0; references_of(rig, r)->n == 0 && i < rig->config.geometry.rail[r].n_holders; i++)
        if (row[i].known != KR_UNKNOWN && row[i].state != KR_HOLDER_ABSENT &&
            abs(row[i].position_um - sim_machine_holder_um(&rig->machine, r, i)) > SEEN_UM)
            return true;
    return false;
}

/* Before a scan could say so, the pin is beside where the station takes it to be, or beside the holder that a scan has
 * found: then it draws that holder along as it goes in. */
static bool pin_is_off(const struct rig *rig, uint16_t r)
{
    const struct sim_axis *axis = &rig->machine.axis[r];
    const struct sim_rail_config *m = &rig->machine.config.rail[r];
    double at_um = axis->rail.carriage.at_um, switch_um = m->switch_offset_um + axis->sw.bumped_um;
    struct kr_carriage_config c;
    kr_carriage_correct(&rig->config.carriage[r], &kr_station_durable(rig->station)->references[r].correction, &c);
    int32_t pin_um = kr_frame_place_um(&c.frame, sim_drive_position_um(&axis->drive, m, at_um));
    int32_t scan_um =
        kr_frame_place_um(&c.frame, sim_drive_position_um(&axis->drive, m, at_um - switch_um)) + c.switch_offset_um;
    /* A pin that goes in draws its holder along by so little only against one that hands have pushed up to it. */
    int32_t beside_um = sim_machine_phase(&rig->machine, r) == SIM_PHASE_DOCKING ? SCAN_ERROR_UM : SEEN_UM;
    return fabs(pin_um - at_um) > SEEN_UM || abs(scan_um - pin_um) > beside_um || holder_is_off(rig, r);
}

static void excuse(struct rig *rig, void *of_excuse)
{
    struct frames *f = of_excuse;
    const struct sim_incident *collision = sim_machine_collision(&rig->machine);
    if (collision)
        rig->excuse[collision->rail_index].pin_is_off = pin_is_off(rig, collision->rail_index);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        struct frames_rail *rail = &f->rail[r];
        if (has_counted(rail, rig, r))
            take_scan(f, rig, r);
        memcpy(rail->before, kr_station_durable(rig->station)->holder[r],
               rig->config.geometry.rail[r].n_holders * sizeof rail->before[0]);
        rig->excuse[r].bound_um = bound_um(f, rig, r);
    }
}

void frames_watch(struct frames *f, uint64_t number, struct rig *rig)
{
    *f = (struct frames){.draw = {number * UINT64_C(0x9E6C63D0876A9A47) + 3},
                         .second = {number * UINT64_C(0x9E6C63D0876A9A47) + 5}};
    rig->excuse_claims = excuse;
    rig->of_excuse = f;
}

void frames_draw(struct frames *f, uint64_t number, struct rig *rig)
{
    frames_watch(f, number, rig);
    f->own_switches = draw_chance(&f->second, 30);
    f->jerks = draw_chance(&f->second, 30);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        draw_rail(f, rig, r);
        f->by_references[references_of(rig, r)->n == 0 ? 0 : has_both_ends(f, rig, r) ? 2 : 1]++;
    }
    f->by_test_cut = draw_chance(&f->draw, 50);
    rig->edges_confirmed = f->by_test_cut; /* nobody confirms them at the start */
}

/* ---- how it strikes -------------------------------------------------------------------------------------------- */

static bool machine_has(struct rig *rig, uint16_t r, enum sim_fault fault, int32_t value)
{
    return value == 0 ? sim_machine_mend(&rig->machine, r, fault, 0)
                      : sim_machine_break(&rig->machine, r, fault, 0, value);
}

/* So much of its shift does the drive count as its datum since it was homed. */
static int32_t taken_in_um(const struct frames_rail *rail, const struct rig *rig, uint16_t r)
{
    const struct sim_drive *drive = &rig->machine.axis[r].drive;
    return rail->homings == drive->homings ? rail->taken_in_um : (int32_t)drive->miscount.shift_um;
}

void frames_lay(struct frames *f, struct rig *rig, uint16_t r)
{
    struct frames_rail *rail = &f->rail[r];
    int32_t slope_ppm = rail->scale_ppm - rail->warmer_ppm;
    if (rig->machine.axis[r].drive.miscount.shift_um != rail->shift_um) {
        rail->taken_in_um = taken_in_um(rail, rig, r);
        rail->homings = rig->machine.axis[r].drive.homings;
    }
    machine_has(rig, r, SIM_DATUM_SHIFTED, rail->shift_um);
    machine_has(rig, r, SIM_BRACKET_BUMPED, rail->bump_um);
    machine_has(rig, r, SIM_REFERENCE_BRACKET_BUMPED, rail->bump_2_um);
    machine_has(rig, r, SIM_SCALE_OFF, rail->scale_ppm);
    machine_has(rig, r, SIM_RAIL_WARMER, rail->warmer_ppm);
    machine_has(rig, r, SIM_PITCH_ERROR, rail->pitch_um);
    rail->least_ppm = slope_ppm < rail->least_ppm ? slope_ppm : rail->least_ppm;
    rail->most_ppm = greater(slope_ppm, rail->most_ppm);
    rail->worst_pitch_um = greater(rail->pitch_um, rail->worst_pitch_um);
}

void frames_half_seen(struct frames *f, struct rig *rig, uint16_t r, int32_t by_um)
{
    bool halved = references_of(rig, r)->n > 0 && !has_own_switch(rig, r); /* they are off by half, too */
    f->rail[r].half_seen_um = halved ? abs(by_um) / 2 : abs(by_um);
    f->rail[r].half_passes = sim_machine_entered(&rig->machine, r, SIM_PHASE_SCANNING);
}

void frames_clean(struct frames *f, struct rig *rig, uint16_t r)
{
    for (uint16_t i = 0; i < references_of(rig, r)->n; i++) {
        (void)sim_machine_mend(&rig->machine, r, SIM_REFERENCE_MISSING, i);
        (void)sim_machine_mend(&rig->machine, r, SIM_REFERENCE_DIRTY, i);
    }
    f->rail[r].missing = f->rail[r].dirty = 0;
}

static bool is_shifted(const struct frames_rail *rail, const struct rig *rig, uint16_t r)
{
    return rail->shift_um != taken_in_um(rail, rig, r);
}

void frames_mend_rail(struct frames *f, struct rig *rig, uint16_t r)
{
    struct frames_rail *rail = &f->rail[r];
    rail->shift_um = taken_in_um(rail, rig, r);
    rail->bump_um = rail->bump_2_um = rail->scale_ppm = rail->pitch_um = 0; /* warmth nobody mends */
    frames_lay(f, rig, r);
    frames_clean(f, rig, r);
}

void frames_spoil(struct frames *f, struct rig *rig, uint16_t r, uint16_t reference, int32_t dirt_um)
{
    struct frames_rail *rail = &f->rail[r];
    int32_t unseen_um = references_of(rig, r)->flag[reference].width_um / DIRT_PARTS;
    bool dirty = dirt_um > 0;
    (void)sim_machine_break(&rig->machine, r, dirty ? SIM_REFERENCE_DIRTY : SIM_REFERENCE_MISSING, reference, dirt_um);
    if (dirty)
        rail->worst_dirt_um = greater(dirt_um < unseen_um ? dirt_um : unseen_um, rail->worst_dirt_um);
    if (dirty && dirt_um > unseen_um / 2)
        rail->dirty |= (uint8_t)(1u << reference);
    else if (!dirty)
        rail->missing |= (uint8_t)(1u << reference);
    rail->loses_an_end = rail->loses_an_end || !has_both_ends(f, rig, r);
}

static bool spoil_any(struct frames *f, struct rig *rig, uint16_t r, bool dirty)
{
    const struct kr_references *p = references_of(rig, r);
    if (p->n == 0 || !f->rail[r].scanned)
        return false;
    uint16_t i = (uint16_t)draw_between(&f->draw, 0, p->n - 1);
    int32_t dirt_um = draw_between(&f->draw, 20, 3000);
    frames_spoil(f, rig, r, i, dirty ? dirt_um : 0);
    return true;
}

static bool has_two(const struct rig *rig, uint16_t r)
{
    return references_of(rig, r)->n >= 2;
}

bool frames_exchange(struct frames *f, struct rig *rig, bool on)
{
    if (on && (rig->config.geometry.n_rails < 2 || !has_two(rig, 0) || !has_two(rig, 1)))
        return false;
    (void)sim_machine_break(&rig->machine, 0, SIM_POWER_CUT, 0, 0);
    rig_run_ms(rig, 200);
    machine_has(rig, 0, SIM_DRIVES_EXCHANGED, on);
    (void)sim_machine_mend(&rig->machine, 0, SIM_POWER_CUT, 0);
    rig_run_ms(rig, 3000);
    f->exchanged = on;
    return true;
}

static int32_t bounded(int32_t value, int32_t most)
{
    return value > most ? most : value < -most ? -most : value;
}

/* What it changes, and whether it can. */
static bool change(struct frames *f, struct rig *rig, uint16_t r, enum frame_fault fault)
{
    struct frames_rail *rail = &f->rail[r];
    struct draw *d = &f->draw;
    switch (fault) {
    case FRAME_SHIFT: rail->shift_um += either_way(d, 10, UNSEEN_UM); break;
    case FRAME_FAR_SHIFT: rail->shift_um += either_way(d, 300, draw_chance(d, 70) ? 2000 : 20000); break;
    case FRAME_BUMP:
        if (has_own_switch(rig, r) && draw_chance(&f->second, 50)) {
            rail->bump_2_um = bounded(rail->bump_2_um + either_way(d, 10, 250), 1200);
            break;
        }
        rail->bump_um = bounded(rail->bump_um + either_way(d, 10, draw_chance(d, 70) ? 250 : 1200), 1200);
        break;
    case FRAME_SCALE:
        rail->scale_ppm = bounded(rail->scale_ppm + either_way(d, 5, draw_chance(d, 70) ? 100 : 500), 1000);
        break;
    case FRAME_WARMER: rail->warmer_ppm = bounded(rail->warmer_ppm + either_way(d, 5, 250), 500); break;
    case FRAME_PITCH: rail->pitch_um = draw_between(d, 5, 40); break;
    case FRAME_DIRTY: return spoil_any(f, rig, r, true);
    case FRAME_MISSING: return spoil_any(f, rig, r, false);
    case FRAME_EXCHANGED: return frames_exchange(f, rig, true);
    case FRAME_MENDED: frames_mend_rail(f, rig, r); return true;
    case FRAME_BLADE:
    case N_FRAME_FAULTS: return false;
    }
    frames_lay(f, rig, r);
    return true;
}

void frames_guards(struct rig *rig, uint16_t *permissives, bool closed)
{
    if (closed)
        (void)sim_machine_mend(&rig->machine, 0, SIM_GUARDS_OPENED, 0);
    else
        (void)sim_machine_break(&rig->machine, 0, SIM_GUARDS_OPENED, 0, 0);
    *permissives = closed ? PERMISSIVES : (uint16_t)(*permissives & ~KR_PERMIT_GUARDS_CLOSED);
    rig_run_ms(rig, 200);
}

static bool wants_access(enum frame_fault fault)
{
    return fault == FRAME_FAR_SHIFT || fault == FRAME_WARMER || fault == FRAME_EXCHANGED;
}

static bool anything_docked(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        if (sim_machine_docked(&rig->machine, r) != SIM_NOBODY)
            return true;
    return false;
}

static bool is_off_too_far(const struct frames *f, const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        if (off_since_um(f, rig, r) > UNSEEN_UM)
            return true;
    return false;
}

static enum frame_fault draw_fault(struct draw *d)
{
    static const uint8_t percent[N_FRAME_FAULTS] = {
        [FRAME_SHIFT] = 25, [FRAME_FAR_SHIFT] = 13, [FRAME_BUMP] = 15,   [FRAME_SCALE] = 10,    [FRAME_WARMER] = 10,
        [FRAME_PITCH] = 3,  [FRAME_DIRTY] = 8,      [FRAME_MISSING] = 6, [FRAME_EXCHANGED] = 3, [FRAME_MENDED] = 7};
    int32_t of = draw_between(d, 1, 100);
    enum frame_fault fault = FRAME_SHIFT;
    while (of > percent[fault]) {
        of -= percent[fault];
        fault = (enum frame_fault)(fault + 1);
    }
    return fault;
}

void frames_restart(struct rig *rig, uint16_t *permissives)
{
    rig_restart(rig);
    *permissives = PERMISSIVES;
    rig->in.controlled = true;
    rig->in.control_generation++;
    rig_run_ms(rig, 200);
}

/* At rest. Where hands, tools or warmth were at work the guards have been open. */
static void strike(struct frames *f, struct rig *rig, uint16_t *permissives)
{
    uint16_t r = (uint16_t)draw_between(&f->draw, 0, rig->config.geometry.n_rails - 1);
    enum frame_fault fault = draw_fault(&f->draw);
    bool access = wants_access(fault);
    if (f->exchanged || (anything_docked(rig) && fault != FRAME_SHIFT))
        return;
    if (access)
        frames_guards(rig, permissives, false);
    bool struck = change(f, rig, r, fault);
    if (!access && is_off_too_far(f, rig)) {
        access = true;
        frames_guards(rig, permissives, false);
    }
    if (access)
        frames_guards(rig, permissives, true);
    f->n += struck;
    f->counts[fault] += struck;
    if (draw_chance(&f->draw, 15))
        frames_restart(rig, permissives);
}

static bool rests(enum kr_unit_state state)
{
    return state == KR_STATE_STOPPED || state == KR_STATE_IDLE || state == KR_STATE_SUSPENDED || state == KR_STATE_HELD;
}

/* A coupling slips while it moves, but not in the middle of a scan. */
static void slip(struct frames *f, struct rig *rig)
{
    uint16_t r = (uint16_t)draw_between(&f->draw, 0, rig->config.geometry.n_rails - 1);
    f->next_us = rig->time_us + 1000LL * draw_between(&f->draw, 3000, 60000);
    if (f->exchanged || rig_state(rig) != KR_STATE_EXECUTE || rig_phase(rig) != KR_PHASE_MOVE ||
        sim_machine_phase(&rig->machine, r) == SIM_PHASE_SCANNING || off_since_um(f, rig, r) > UNSEEN_UM / 2)
        return;
    f->rail[r].shift_um += either_way(&f->draw, 10, UNSEEN_UM / 2);
    frames_lay(f, rig, r);
    f->n++;
    f->counts[FRAME_SHIFT]++;
}

void frames_step(struct frames *f, struct rig *rig, uint16_t *permissives)
{
    enum kr_unit_state state = kr_station_state(rig->station);
    bool comes_to_rest = rests(state) && !rests(f->state);
    f->state = state;
    if (f->n >= STRIKES_MOST)
        return;
    if (comes_to_rest && draw_chance(&f->draw, 35))
        strike(f, rig, permissives);
    else if (rig->time_us >= f->next_us)
        slip(f, rig);
}

/* ---- people ---------------------------------------------------------------------------------------------------- */

static bool stands(const struct frames_rail *rail, const struct rig *rig, uint16_t r)
{
    return is_shifted(rail, rig, r) || rail->bump_um != 0 || rail->bump_2_um != 0 || rail->scale_ppm != 0 ||
           rail->pitch_um != 0;
}

/* References stand where they were taught; so do holders, if nothing is wrong with the rail any more. A bracket that
 * is bent as far as the pin no longer finds its holders has to be straightened. */
void frames_look_at_shift(struct frames *f, struct rig *rig, uint16_t r, int32_t shift_um)
{
    struct frames_rail *rail = &f->rail[r];
    int32_t bent_um = has_own_switch(rig, r) ? 0 : 300;
    bool may_confirm = references_of(rig, r)->n > 0 && abs(rail->bump_um) <= bent_um &&
                       abs(rail->bump_2_um) <= bent_um && rail->pitch_um == 0;
    if (f->exchanged)
        (void)frames_exchange(f, rig, false);
    else if (stands(rail, rig, r) && !(may_confirm && draw_chance(&f->draw, 60)))
        frames_mend_rail(f, rig, r);
    else {
        operators_confirm_shift(rig, r, shift_um);
        rail->confirmed = true;
        f->confirmed++;
    }
}

static bool is_of_references(const struct kr_alarm *alarm)
{
    return alarm->code == KR_ALARM_REFERENCES_UNSEEN || alarm->code == KR_ALARM_REFERENCE_BAD ||
           alarm->code == KR_ALARM_REFERENCE_SWITCH_DEAD || /* whose only flag may be gone */
           alarm->code == KR_ALARM_SWITCH_STUCK ||          /* an object under it may be dirt on a reference */
           alarm->code == KR_ALARM_REFERENCE_SWITCH_STUCK;
}

/* What an alarm names is looked at; where it names nothing of the frame, people find out after a while. */
void frames_visit(struct frames *f, struct rig *rig)
{
    const struct kr_alarm *alarm;
    uint16_t n = kr_station_alarms(rig->station, &alarm);
    if (f->exchanged && draw_chance(&f->draw, 50)) {
        (void)frames_exchange(f, rig, false);
        return;
    }
    for (uint16_t i = 0; i < n; i++) {
        uint16_t r = (uint16_t)(alarm[i].rail - 1);
        if (alarm[i].rail == 0)
            continue;
        if (is_of_references(&alarm[i]))
            frames_clean(f, rig, r);
        else if (stands(&f->rail[r], rig, r) && kr_alarm_info(alarm[i].code)->reaction != KR_REACT_NONE &&
                 draw_chance(&f->draw, 25))
            frames_mend_rail(f, rig, r);
    }
}

/* ---- edges ----------------------------------------------------------------------------------------------------- */

static void set_blade(struct rig *rig, uint16_t r, uint16_t h, int32_t blade_um)
{
    if (blade_um == 0) {
        (void)sim_machine_mend(&rig->machine, r, SIM_BLADE_OFF, h);
        rig->excuse[r].blade_um[h] = 0; /* nobody has to excuse it any more */
    }
    if (blade_um != 0)
        (void)sim_machine_break(&rig->machine, r, SIM_BLADE_OFF, h, bounded(blade_um, 10000));
}

/* From now on it is claimed, and nobody can know better. */
static void excuse_blade(struct rig *rig, uint16_t r, uint16_t h)
{
    rig->excuse[r].blade_um[h] = sim_machine_blade_um(&rig->machine, r, h);
}

static void draw_blades(struct frames *f, struct rig *rig)
{
    if (!draw_chance(&f->draw, f->by_test_cut ? 50 : 15))
        return;
    uint16_t r = (uint16_t)draw_between(&f->draw, 0, rig->config.geometry.n_rails - 1);
    uint16_t h = (uint16_t)draw_between(&f->draw, 0, rig->config.geometry.rail[r].n_holders - 1);
    set_blade(rig, r, h, either_way(&f->draw, 50, 3000));
    if (!f->by_test_cut)
        excuse_blade(rig, r, h); /* a wrong offset that somebody has confirmed */
    f->counts[FRAME_BLADE]++;
}

void frames_begin(struct frames *f, struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        if (draw_chance(&f->draw, 25))
            f->rail[r].shift_um = either_way(&f->draw, 50, 700);
        if (draw_chance(&f->draw, 10))
            f->rail[r].bump_um = either_way(&f->draw, 50, 250);
        frames_lay(f, rig, r);
    }
    draw_blades(f, rig);
    f->state = kr_station_state(rig->station);
    f->next_us = rig->time_us + 1000LL * draw_between(&f->draw, 3000, 60000);
}

static bool write_offset(struct rig *rig, uint16_t r, uint16_t h, int32_t by_um)
{
    struct edit_values values = {.rail = (uint16_t)(r + 1), .holder = (uint16_t)(h + 1)};
    values.edge_offset_um = rig_holder(rig, values.rail, values.holder)->edge_offset_um + by_um;
    if (rig_edit(rig, KR_EDIT_OFFSET, values) != KR_OK)
        return false;
    rig->excuse[r].blade_um[h] = 0;
    return true;
}

static void stays_as_it_was(struct frames *f, struct rig *rig, uint16_t r, uint16_t h, int32_t by_um)
{
    set_blade(rig, r, h, sim_machine_blade_um(&rig->machine, r, h) - by_um);
    f->counts[FRAME_BLADE]++;
}

bool frames_mistype_offset(struct frames *f, struct rig *rig, uint16_t r, uint16_t h, int32_t by_um)
{
    bool written = write_offset(rig, r, h, by_um);
    if (written)
        stays_as_it_was(f, rig, r, h, by_um);
    return written;
}

/* A regrind, its new offset right or mistyped. */
static void write_offsets(struct frames *f, struct rig *rig)
{
    if (!draw_chance(&f->draw, 35))
        return;
    uint16_t r = (uint16_t)draw_between(&f->draw, 0, rig->config.geometry.n_rails - 1);
    uint16_t h = (uint16_t)draw_between(&f->draw, 0, rig->config.geometry.rail[r].n_holders - 1);
    int32_t by_um = either_way(&f->draw, 50, 900);
    if (!write_offset(rig, r, h, by_um))
        return;
    if (draw_chance(&f->draw, 50))
        stays_as_it_was(f, rig, r, h, by_um);
    struct edit_values confirmed = {.rail = (uint16_t)(r + 1), .holder = (uint16_t)(h + 1)};
    if (!f->by_test_cut && rig_edit(rig, KR_EDIT_FEELER, confirmed) == KR_OK)
        excuse_blade(rig, r, h);
}

/* ---- test cuts ------------------------------------------------------------------------------------------------- */

static uint16_t slitting(const struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        if (rig->config.geometry.rail[r].role == KR_LOWER)
            return r;
    return 0;
}

static uint16_t cut_of(const struct rig *rig, uint16_t r, uint16_t h)
{
    return kr_station_plan(rig->station)->rail[r].holder[h].cut;
}

/* Where each cut truly is, less where it should be. */
static void true_off(const struct rig *rig, uint16_t r, int32_t off_um[KR_CUTS_MAX])
{
    const struct kr_cuts *cuts = &kr_station_plan(rig->station)->cuts;
    const struct kr_holder_data *row = kr_station_durable(rig->station)->holder[r];
    for (uint16_t h = 0; h < rig->config.geometry.rail[r].n_holders; h++) {
        uint16_t cut = cut_of(rig, r, h);
        if (cut != 0)
            off_um[cut - 1] = sim_machine_holder_um(&rig->machine, r, h) + row[h].edge_offset_um +
                              sim_machine_blade_um(&rig->machine, r, h) - rig->config.geometry.rail[r].cut_side_um -
                              cuts->cut_um[cut - 1];
    }
}

/* The blade of the cut, on each rail, is where its offset says: somebody has measured it anew. */
static void mend_blades_of(struct rig *rig, uint16_t cut)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t h = 0; h < rig->config.geometry.rail[r].n_holders; h++)
            if (cut_of(rig, r, h) == cut)
                set_blade(rig, r, h, 0);
}

/* How far each pair of a rail's blades with those that slit is off the side clearance. */
static void pairs_off(const struct rig *rig, uint16_t r, int32_t off_um[KR_CUTS_MAX])
{
    int32_t low_um[KR_CUTS_MAX] = {0};
    true_off(rig, slitting(rig), low_um);
    true_off(rig, r, off_um);
    for (uint16_t k = 0; k < kr_station_plan(rig->station)->cuts.n_cuts; k++)
        off_um[k] -= low_um[k];
}

/* Returns the number of pairs that whoever looks at them sees off: an upper blade that lands on its ring, or stands
 * clear of it. Mends their blades, if that is asked for. */
static uint16_t see_pairs(struct rig *rig, bool mend)
{
    uint16_t n = 0;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        int32_t off_um[KR_CUTS_MAX] = {0};
        pairs_off(rig, r, off_um);
        for (uint16_t k = 0; k < kr_station_plan(rig->station)->cuts.n_cuts; k++) {
            if (abs(off_um[k]) <= rig->config.pair_window_um)
                continue;
            n++;
            if (mend)
                mend_blades_of(rig, (uint16_t)(k + 1));
        }
    }
    return n;
}

/* What a person says of the pairs when the strips are entered: the truth after a look, nothing, or what nobody has
 * looked at. */
enum statement { SAYS_WHAT_WAS_SEEN, SAYS_NOTHING, SAYS_WITHOUT_A_LOOK };

static enum statement draw_statement(struct frames *f)
{
    int32_t drawn = draw_between(&f->draw, 0, 99);
    return drawn < 60 ? SAYS_WHAT_WAS_SEEN : drawn < 85 ? SAYS_NOTHING : SAYS_WITHOUT_A_LOOK;
}

/* A pair that stays off when its blades are mended is off by something else: nobody who looks then states that it is
 * right. */
static bool states_pairs(struct rig *rig, enum statement statement)
{
    if (statement == SAYS_WHAT_WAS_SEEN)
        return see_pairs(rig, true) == 0 || see_pairs(rig, false) == 0;
    return statement == SAYS_WITHOUT_A_LOOK;
}

static enum kr_code enter_strips(struct frames *f, struct rig *rig, bool stated)
{
    const struct kr_order *order = &kr_station_durable(rig->station)->order;
    const struct kr_cuts *cuts = &kr_station_plan(rig->station)->cuts;
    int32_t off_um[KR_CUTS_MAX] = {0}, width_um[KR_SLITS_MAX];
    true_off(rig, slitting(rig), off_um);
    for (uint16_t i = 0; i < order->n_slits; i++) {
        int left = i - cuts->first_slit_edge, right = left + 1;
        bool between = left >= 0 && right < cuts->n_cuts;
        int64_t cut_nm = order->width_nm[i] + 1000LL * (between ? off_um[right] - off_um[left] : 0);
        width_um[i] = between ? (int32_t)(cut_nm / 1000) + draw_between(&f->draw, -STRIPS_UM, STRIPS_UM) : 0;
    }
    f->test_cuts++;
    f->stated += stated;
    return rig_test_cut_stating(rig, KR_EDIT_TEST_CUT, width_um, order->n_slits,
                                stated ? (uint16_t)(rig->edit_number + 1) : 0);
}

/* Of those that cut; names the first. */
static bool is_unproven(const struct rig *rig, uint16_t *rail, uint16_t *holder)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t h = 0; h < rig->config.geometry.rail[r].n_holders; h++)
            if (cut_of(rig, r, h) != 0 && kr_station_durable(rig->station)->holder[r][h].edge == KR_EDGE_UNPROVEN) {
                *rail = r;
                *holder = h;
                return true;
            }
    return false;
}

struct edges {
    uint8_t of[KR_RAILS_MAX][KR_HOLDERS_MAX];
};

static void look_at_edges(const struct rig *rig, struct edges *edges)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
            edges->of[r][h] = kr_station_durable(rig->station)->holder[r][h].edge;
}

static bool is_now_proven(const struct rig *rig, const struct edges *before, uint16_t r, uint16_t h)
{
    uint8_t edge = kr_station_durable(rig->station)->holder[r][h].edge;
    return cut_of(rig, r, h) != 0 && edge == KR_EDGE_TEST_CUT && before->of[r][h] != KR_EDGE_TEST_CUT;
}

/* An edge of another rail than the one that slits is proven only by a statement, and if somebody has looked, its pair
 * is truly right. */
static void judge_pair(struct frames *f, struct rig *rig, uint16_t r, uint16_t h, enum statement statement, bool stated)
{
    int32_t off_um[KR_CUTS_MAX] = {0};
    pairs_off(rig, r, off_um);
    int32_t is_um = abs(off_um[cut_of(rig, r, h) - 1]);
    if (!stated)
        say(f, rig, "strips alone have proven an edge of another rail, whose pair is off by", is_um, 0);
    else if (is_um > rig->config.pair_window_um && statement == SAYS_WHAT_WAS_SEEN)
        say(f, rig, "an edge is proven whose pair was looked at and is off by", is_um, rig->config.pair_window_um);
    f->falsely += stated && is_um > rig->config.pair_window_um;
}

/* An edge that these strips have proven has a true slit on either side. What they leave is claimed from now on, and so
 * is a wrong offset that somebody has confirmed without a look. */
static void judge_test_cut(struct frames *f, struct rig *rig, const struct edges *before, enum statement statement,
                           bool stated)
{
    int32_t limit_um = rig->config.slit_tolerance_um + STRIPS_UM + 2, off_um[KR_CUTS_MAX] = {0};
    uint16_t n_cuts = kr_station_plan(rig->station)->cuts.n_cuts, lower = slitting(rig);
    true_off(rig, lower, off_um);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t h = 0; h < rig->config.geometry.rail[r].n_holders; h++) {
            if (!is_now_proven(rig, before, r, h))
                continue;
            int k = cut_of(rig, r, h) - 1;
            int32_t left_um = k > 0 ? off_um[k] - off_um[k - 1] : 0;
            int32_t right_um = k + 1 < n_cuts ? off_um[k + 1] - off_um[k] : 0;
            if (greater(abs(left_um), abs(right_um)) > limit_um)
                say(f, rig, "a test cut has proven an edge beside a slit that is off by",
                    greater(abs(left_um), abs(right_um)), limit_um);
            if (r != lower)
                judge_pair(f, rig, r, h, statement, stated);
            excuse_blade(rig, r, h);
        }
}

/* Whoever measures an edge because it is not proven finds its blade; what strips have proven stays as they left it. */
static void mend_unproven(struct rig *rig)
{
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        for (uint16_t h = 0; h < rig->config.geometry.rail[r].n_holders; h++)
            if (cut_of(rig, r, h) != 0 && kr_station_durable(rig->station)->holder[r][h].edge == KR_EDGE_UNPROVEN)
                set_blade(rig, r, h, 0);
}

/* False: what is left has to be measured by a person. */
static bool make_test_cut(struct frames *f, struct rig *rig)
{
    struct edges before;
    if (rig_edit(rig, KR_EDIT_TRIAL, (struct edit_values){.rail = 1}) != KR_OK)
        return false;
    enum statement statement = draw_statement(f);
    bool stated = states_pairs(rig, statement);
    look_at_edges(rig, &before);
    if (enter_strips(f, rig, stated) != KR_OK)
        return false;
    judge_test_cut(f, rig, &before, statement, stated);
    mend_unproven(rig);
    return true;
}

void frames_prove_edges(struct frames *f, struct rig *rig)
{
    uint16_t r, h;
    for (int tries = 0; tries < TEST_CUTS_MOST && is_unproven(rig, &r, &h) && make_test_cut(f, rig); tries++)
        ;
    mend_unproven(rig);
    while (is_unproven(rig, &r, &h)) {
        struct edit_values values = {.rail = (uint16_t)(r + 1), .holder = (uint16_t)(h + 1)};
        if (rig_edit(rig, KR_EDIT_FEELER, values) != KR_OK)
            return;
    }
    for (int i = 0; i < 50; i++)
        rig_cycle(rig);
    f->may_run += (rig_line_status(rig) & KR_LINE_MAY_RUN) != 0;
}

/* Between two changeovers, at rest. */
void frames_between(struct frames *f, struct rig *rig, uint16_t *permissives)
{
    f->n = 0;
    write_offsets(f, rig);
    for (int i = draw_between(&f->draw, 0, 2); i > 0; i--)
        strike(f, rig, permissives);
}
