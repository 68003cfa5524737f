/* The speed of a scan. An edge counts only at scan speed, since the delay of the switch moves it by speed times delay.
 * Between flags whose places are known the carriage may go faster:
 *
 *     speed
 *     fast            ______
 *                    /      \
 *     scan   _______/        \_____________________
 *              flag      brakes  zone | flag |
 *                                     earliest edge
 *
 * In a fast piece the drive gets a target that lies a little behind the beginning of the next flag's zone. So the drive
 * brakes by itself, and is at scan speed where the zone begins. While it brakes, it gets the command to go on at scan
 * speed to the end of the pass. If that command is late or lost, the carriage only becomes slower and stops. An edge
 * counts only behind the place where the carriage is at scan speed again.
 *
 * If answers come late, nothing goes fast any more in this scan.
 *
 * A pass proves what it expects: each flag is in its zone, and there is no other edge. The carriage leaves a flag
 * behind only after the switch has seen it. */
#include "scan_pace.h"

#include <math.h>

#include "drive.h"
#include "gauge.h"
#include "knowledge.h"
#include "match.h"
#include "scan_way.h"
#include "signals.h"

/* ---- the flags that a pass expects ----------------------------------------------------------------------------- */

struct flag {
    int32_t at_um, width_um;
};

static uint16_t references_seen_by(const struct kr_carriage_config *carriage, enum kr_switch_of of)
{
    bool sees = (of == KR_SWITCH_OF_REFERENCES) == carriage->references.own_switch;
    return sees ? carriage->references.n : 0;
}

static uint16_t holders_seen_by(const struct rail *r, enum kr_switch_of of)
{
    uint16_t n = 0;
    for (uint16_t i = 0; of == KR_SWITCH_OF_HOLDERS && i < r->in->rail->n_holders; i++)
        n = (uint16_t)(n + is_on_rail(r, i));
    return n;
}

static struct flag holder_flag(const struct rail *r, uint16_t nth)
{
    uint16_t i = 0;
    for (; !is_on_rail(r, i) || nth > 0; i++)
        nth = (uint16_t)(nth - is_on_rail(r, i));
    return (struct flag){knowledge_of(r)->place[i].position_um, r->in->carriage->flag_width_um};
}

/* Gets flag k of those that a switch sees, in growing order. If one switch sees all, references stand on both sides of
 * the holders. */
static bool flag_of(const struct rail *r, enum kr_switch_of of, uint16_t k, struct flag *flag)
{
    const struct kr_references *references = &r->in->carriage->references;
    uint16_t n_references = references_seen_by(r->in->carriage, of), n_holders = holders_seen_by(r, of);
    uint16_t n_low = n_holders > 0 && n_references > 0 ? references->n_low : n_references;
    if (k >= n_references + n_holders)
        return false;
    if (k >= n_low && k - n_low < n_holders) {
        *flag = holder_flag(r, (uint16_t)(k - n_low));
        return true;
    }
    const struct kr_reference *reference = &references->flag[k < n_low ? k : k - n_holders];
    *flag = (struct flag){reference->at_um, reference->width_um};
    return true;
}

static uint16_t flags_of(const struct rail *r, enum kr_switch_of of)
{
    return (uint16_t)(references_seen_by(r->in->carriage, of) + holders_seen_by(r, of));
}

/* Gets the next flag that the switch should meet in this pass. Returns false if it has met all. */
static bool next_flag(const struct rail *r, enum kr_switch_of of, struct flag *flag)
{
    const struct kr_scan *scan = &r->m->scan;
    uint16_t met = scan->of[of].n_hits[scan->pass], n = flags_of(r, of);
    if (met >= n)
        return false;
    return flag_of(r, of, scan->pass == 0 ? met : (uint16_t)(n - 1 - met), flag);
}

static int64_t magnitude(int64_t value)
{
    return value < 0 ? -value : value;
}

/* The greatest distance of a flag from its known place. Beyond displaced_um the flag would be reported as displaced;
 * passes_apart_um is how far one pass may see it from the place that both passes give. */
static int32_t reach_um(const struct kr_carriage_config *carriage)
{
    return carriage->displaced_um + carriage->passes_apart_um;
}

bool scan_pace_hit_fits(const struct rail *r, enum kr_switch_of of, struct kr_hit hit)
{
    struct flag flag;
    return next_flag(r, of, &flag) && magnitude((int64_t)hit.at_um - flag.at_um) <= reach_um(r->in->carriage) &&
           looks_as_wide(hit.width_um, flag.width_um);
}

bool scan_pace_met_all(const struct rail *r)
{
    struct flag flag;
    for (uint16_t of = 0; of < scan_switches(r->in->carriage); of++)
        if (next_flag(r, of, &flag))
            return false;
    return true;
}

/* ---- speeds and ways of a carriage, real and calculated -------------------------------------------------------- */

struct pace {
    int64_t slow, fast; /* micrometres a second */
    int64_t accel_um_per_s2;
    int64_t handover_us; /* time to hand over a set-point */
    int64_t settle_um;   /* a drive that limits its jerk reaches its speed later by this way */
};

static struct pace pace_of(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage)
{
    int64_t slow = carriage->scan_speed_um_per_s, fast = carriage->scan_fast_um_per_s;
    return (struct pace){slow, fast < rail->empty.v_um_per_s ? fast : rail->empty.v_um_per_s, rail->empty.a_um_per_s2,
                         rail->setpoint_us, slow * rail->rounding_us / 1000000};
}

/* Returns the way in which the carriage changes from one speed to another. */
static int64_t ramp_um(const struct pace *p, int64_t from, int64_t to)
{
    return magnitude(to * to - from * from) / (2 * p->accel_um_per_s2);
}

/* Returns the greatest speed on a way that begins and ends at the given speeds. */
static int64_t top_speed(const struct pace *p, int64_t way_um, int64_t from, int64_t to)
{
    int64_t top = (int64_t)sqrt((double)(from * from + to * to) / 2 + (double)p->accel_um_per_s2 * (double)way_um);
    return top < p->fast ? top : p->fast;
}

/* Tells whether a fast piece is worth its two set-points: the drive must brake for at least twice the time that it
 * takes to hand one over. */
static bool is_worthwhile(const struct pace *p, int64_t way_um)
{
    int64_t least = p->slow + p->accel_um_per_s2 / 1000 * 2 * p->handover_us / 1000;
    int64_t least_um = 2 * ramp_um(p, p->slow, least < p->fast ? least : p->fast);
    return p->fast > p->slow && way_um > least_um + p->slow * p->handover_us / 1000000;
}

/* Returns the distance before the zone at which the drive gets the command to go at scan speed. */
static int64_t brakes_before_um(const struct pace *p, int64_t way_um, int64_t from)
{
    int64_t top = top_speed(p, way_um, from, p->slow);
    int64_t ramp = ramp_um(p, top, p->slow), handover = top * 2 * p->handover_us / 1000000;
    return ramp > handover ? ramp : handover;
}

/* Returns the distance before the flag's middle at which the carriage has to be at scan speed. */
static int64_t zone_before_um(const struct pace *p, const struct kr_carriage_config *carriage, int32_t width_um)
{
    return width_um / 2 + width_um / 8 + reach_um(carriage) + p->settle_um;
}

/* ---- a pass ---------------------------------------------------------------------------------------------------- */

bool kr_motion_flags_known(const struct kr_motion *motion, const struct kr_motion_in *in)
{
    const struct kr_rail_knowledge *known = &motion->knowledge;
    uint16_t n = in->carriage->references.n;
    if (known->datum_doubted || known->shift_um != 0 || known->settings_changed)
        return false;
    if (n > 0 && (!known->references.seen || known->references.good != (1u << n) - 1))
        return false;
    for (uint16_t i = 0; i < in->rail->n_holders; i++)
        if (kr_holder_on_rail(in->holder[i].state) && known->place[i].known < KR_PLACED)
            return false;
    return true;
}

/* Tells whether the drive's image is older than the hand-over of a set-point takes. The command to go at scan speed may
 * then be late, too. The drive stops before the flag by itself, but the pass is spoilt. */
static bool is_late(const struct rail *r)
{
    return 1000LL * axis_of(r)->age_ms > r->in->rail->setpoint_us;
}

static bool may_go_fast(const struct rail *r)
{
    const struct kr_carriage_config *carriage = r->in->carriage;
    return !r->m->scan.slow && r->m->task == KR_TASK_SCAN && !r->in->reduced && r->in->guarded && !is_late(r) &&
           carriage->scan_fast_um_per_s > carriage->scan_speed_um_per_s && kr_motion_flags_known(r->m, r->in);
}

static int way_of(const struct rail *r)
{
    return r->m->scan.pass == 0 ? 1 : -1;
}

static void go_slow(const struct rail *r, int32_t end_um, enum kr_scan_pace pace)
{
    struct kr_speed speed = r->in->rail->empty;
    speed.v_um_per_s = gauge_speed_um_per_s(r);
    drive_move(r, end_um, limited_speed(r, speed));
    r->m->scan.pace = pace;
}

/* Returns where the next zone begins, which is the zone of the nearest flag that a switch has not yet met; or the end
 * of the pass. */
static int64_t zone_um(const struct rail *r, const struct pace *p, int32_t end_um)
{
    const struct kr_carriage_config *carriage = r->in->carriage;
    int64_t nearest_um = end_um, way = way_of(r);
    struct flag flag;
    for (uint16_t of = 0; of < scan_switches(carriage); of++) {
        if (!next_flag(r, of, &flag))
            continue;
        int64_t from_um = scan_position_um(carriage, of, flag.at_um) - way * zone_before_um(p, carriage, flag.width_um);
        nearest_um = way * (from_um - nearest_um) < 0 ? from_um : nearest_um;
    }
    return nearest_um;
}

/* Returns false if the way to the next zone is too short. */
static bool go_fast(const struct rail *r, int32_t end_um, bool from_rest)
{
    struct kr_scan *scan = &r->m->scan;
    struct pace p = pace_of(r->in->rail, r->in->carriage);
    int64_t way = way_of(r), zone = zone_um(r, &p, end_um);
    if (!is_worthwhile(&p, way * (zone - axis_of(r)->position_um)))
        return false;
    scan->zone_um = (int32_t)zone;
    int64_t target_um = zone == end_um ? end_um : zone + way * ramp_um(&p, p.slow, 0);
    struct kr_speed speed = {(int32_t)p.fast, r->in->rail->empty.a_um_per_s2};
    drive_move(r, (int32_t)(way * (target_um - end_um) > 0 ? end_um : target_um), speed);
    scan->pace = KR_SCAN_FAST;
    scan->from_rest = from_rest;
    scan->brakes_known = false;
    return true;
}

void scan_pace_begin(const struct rail *r, int32_t end_um)
{
    struct kr_scan *scan = &r->m->scan;
    scan->slow = !may_go_fast(r);
    scan->predicted = !scan->slow;
    scan->astray = false;
    scan->pace = KR_SCAN_SLOW;
    scan->measures_from_um = axis_of(r)->position_um;
    if (scan->slow || !go_fast(r, end_um, true))
        go_slow(r, end_um, KR_SCAN_SLOW);
}

static bool is_taken(const struct rail *r)
{
    enum kr_setpoint setpoint = r->m->drive.setpoint;
    return setpoint == KR_SETPOINT_TAKEN || setpoint == KR_SETPOINT_RUNNING || setpoint == KR_SETPOINT_REACHED;
}

static void fast_step(const struct rail *r, int32_t end_um)
{
    struct kr_scan *scan = &r->m->scan;
    struct pace p = pace_of(r->in->rail, r->in->carriage);
    int64_t at_um = axis_of(r)->position_um, way = way_of(r);
    if (!is_taken(r) || scan->zone_um == end_um)
        return;
    if (!scan->brakes_known) {
        int64_t before_um = brakes_before_um(&p, way * (scan->zone_um - at_um), scan->from_rest ? 0 : p.slow);
        scan->brakes_at_um = (int32_t)(scan->zone_um - way * before_um);
        scan->brakes_known = true;
    }
    if (way * (at_um - scan->brakes_at_um) >= 0)
        go_slow(r, end_um, KR_SCAN_BRAKES);
}

/* If the carriage passed the beginning of the zone while it was slower than scan speed, edges count only behind twice
 * that way: it needs the same way again to reach its speed. */
static void brakes_step(const struct rail *r)
{
    struct kr_scan *scan = &r->m->scan;
    int64_t over_um = way_of(r) * ((int64_t)axis_of(r)->position_um - scan->zone_um);
    if (!is_taken(r))
        return;
    scan->measures_from_um = (int32_t)(scan->zone_um + way_of(r) * (over_um > 0 ? 2 * over_um : 0));
    scan->pace = KR_SCAN_SLOW;
}

/* Tells whether a flag that the switch should have met lies behind it. */
static bool has_missed_one(const struct rail *r)
{
    const struct kr_carriage_config *carriage = r->in->carriage;
    struct flag flag;
    for (uint16_t of = 0; of < scan_switches(carriage); of++) {
        if (!next_flag(r, of, &flag))
            continue;
        int64_t behind_um = way_of(r) * ((int64_t)axis_of(r)->position_um - scan_position_um(carriage, of, flag.at_um));
        if (behind_um > flag.width_um / 2 + flag.width_um + reach_um(carriage))
            return true;
    }
    return false;
}

void scan_pace_step(const struct rail *r, int32_t end_um, bool on_flag)
{
    struct kr_scan *scan = &r->m->scan;
    if (!scan->predicted)
        return;
    scan->slow = !may_go_fast(r);
    switch (scan->pace) {
    case KR_SCAN_SLOW:
        if (!on_flag && has_missed_one(r))
            scan->astray = true;
        else if (!on_flag && !scan->slow && is_taken(r))
            go_fast(r, end_um, false);
        break;
    case KR_SCAN_FAST:
        if (scan->slow)
            go_slow(r, end_um, KR_SCAN_BRAKES);
        else
            fast_step(r, end_um);
        break;
    case KR_SCAN_BRAKES: brakes_step(r); break;
    }
}

/* The measured speed may exceed scan speed by this part of it. Two images of the drive can't tell more exactly, because
 * one of them may come from the time when the drive still braked. */
#define SPEED_PARTS 8

bool scan_pace_edge_fits(const struct rail *r, int32_t position_um)
{
    const struct kr_scan *scan = &r->m->scan;
    const struct kr_track *track = &r->m->track;
    int64_t slowest = magnitude(track->slowest_um_per_s), other = magnitude(track->fastest_um_per_s);
    int64_t speed = r->in->carriage->scan_speed_um_per_s;
    slowest = other < slowest ? other : slowest;
    bool is_slow = scan->pace == KR_SCAN_SLOW && way_of(r) * ((int64_t)position_um - scan->measures_from_um) >= 0;
    return is_slow && (track->n_samples < 2 || slowest <= speed + speed / SPEED_PARTS);
}

/* ---- the time of a scan ---------------------------------------------------------------------------------------- */

struct zone {
    int64_t from_um, to_um;
};

struct zones {
    uint16_t n;
    struct zone zone[KR_HOLDERS_MAX + KR_REFERENCES_MAX];
};

/* Inserts a zone in growing order. */
static void insert(struct zones *zones, struct zone zone)
{
    uint16_t i = zones->n++;
    for (; i > 0 && zones->zone[i - 1].from_um > zone.from_um; i--)
        zones->zone[i] = zones->zone[i - 1];
    zones->zone[i] = zone;
}

static void add_zone(struct zones *zones, const struct pace *p, const struct kr_carriage_config *carriage,
                     enum kr_switch_of of, struct flag flag)
{
    int64_t at_um = scan_position_um(carriage, of, flag.at_um);
    insert(zones, (struct zone){at_um - zone_before_um(p, carriage, flag.width_um), at_um + flag.width_um / 2});
}

static void zones_of(struct zones *zones, const struct pace *p, const struct kr_carriage_config *carriage,
                     const struct kr_scan_flags *flags)
{
    enum kr_switch_of of = scan_has_two_switches(carriage) ? KR_SWITCH_OF_REFERENCES : KR_SWITCH_OF_HOLDERS;
    zones->n = 0;
    for (uint16_t i = 0; i < flags->n; i++)
        add_zone(zones, p, carriage, KR_SWITCH_OF_HOLDERS, (struct flag){flags->at_um[i], carriage->flag_width_um});
    for (uint16_t i = 0; i < carriage->references.n; i++)
        add_zone(zones, p, carriage, of,
                 (struct flag){carriage->references.flag[i].at_um, carriage->references.flag[i].width_um});
}

struct going {
    int64_t at_um, speed, us;
};

/* Returns microseconds; 0 without a speed, which check_fast_scan() and the settings' limits leave out. */
static int64_t at_speed_us(int64_t way_um, int64_t speed)
{
    return speed > 0 ? way_um * 1000000 / speed : 0;
}

/* Adds the time for a fast piece, which ends at to_um with the speed to_speed. */
static void reckon_fast(struct going *g, const struct pace *p, int64_t to_um, int64_t to_speed)
{
    int64_t handover_um = g->speed * p->handover_us / 1000000, way_um = to_um - g->at_um - handover_um;
    int64_t top = top_speed(p, way_um, g->speed, to_speed);
    int64_t even_um = way_um - ramp_um(p, g->speed, top) - ramp_um(p, top, to_speed);
    g->us += g->speed > 0 ? p->handover_us : 0;
    g->us += (2 * top - g->speed - to_speed) * 1000000 / p->accel_um_per_s2;
    g->us += even_um > 0 ? at_speed_us(even_um, top) : 0;
    g->at_um = to_um;
    g->speed = to_speed;
}

static void reckon_slow(struct going *g, const struct pace *p, int64_t to_um)
{
    if (to_um <= g->at_um)
        return;
    if (g->speed == 0) {
        g->us += p->slow * 1000000 / p->accel_um_per_s2;
        g->at_um += ramp_um(p, 0, p->slow);
        g->speed = p->slow;
    }
    g->us += to_um > g->at_um ? at_speed_us(to_um - g->at_um, p->slow) : 0;
    g->at_um = to_um > g->at_um ? to_um : g->at_um;
}

static int64_t paced_us(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                        const struct kr_scan_flags *flags, struct zone way)
{
    struct pace p = pace_of(rail, carriage);
    struct going g = {.at_um = way.from_um};
    struct zones zones;
    zones_of(&zones, &p, carriage, flags);
    for (uint16_t i = 0; i < zones.n; i++) {
        if (is_worthwhile(&p, zones.zone[i].from_um - g.at_um))
            reckon_fast(&g, &p, zones.zone[i].from_um, p.slow);
        reckon_slow(&g, &p, zones.zone[i].to_um);
    }
    if (is_worthwhile(&p, way.to_um - g.at_um)) {
        reckon_fast(&g, &p, way.to_um, 0);
    } else {
        reckon_slow(&g, &p, way.to_um - ramp_um(&p, p.slow, 0));
        g.us += p.slow * 1000000 / p.accel_um_per_s2;
    }
    return g.us + rail->setpoint_us + rail->rounding_us;
}

/* Between two passes the carriage gets a set-point at its present place, which takes time but no travel. */
int64_t kr_scan_time_us(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage, bool reduced,
                        const struct kr_scan_flags *flags, int32_t *from_um)
{
    struct kr_speed full = {carriage->scan_speed_um_per_s, rail->empty.a_um_per_s2};
    bool back = kr_scan_goes_both_ways(carriage, reduced);
    bool fast = flags && flags->known && !reduced && carriage->scan_fast_um_per_s > carriage->scan_speed_um_per_s;
    int32_t low_um, high_um, at_um = kr_frame_position_um(&carriage->frame, *from_um);
    kr_scan_range(rail, carriage, &low_um, &high_um);
    int64_t pass_us = fast ? paced_us(rail, carriage, flags, (struct zone){low_um, high_um})
                           : kr_way_time_us(rail, (int64_t)high_um - low_um, kr_setup_speed(carriage, full, reduced));
    *from_um = kr_frame_place_um(&carriage->frame, back ? low_um : high_um);
    return kr_way_time_us(rail, (int64_t)low_um - at_um, kr_setup_speed(carriage, rail->empty, reduced)) + pass_us +
           (back ? rail->setpoint_us + pass_us : 0);
}
