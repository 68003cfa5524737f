/* A scan passes the proximity switch over every flag of a rail, and the drive latches both edges.
 *
 * A nearer flag widens the signal on both sides and leaves its middle in place. Hysteresis and delay shift the middle
 * along the travel, by half the hysteresis plus speed times delay. So a scan goes in both directions and takes the mean
 * of the two middles. If the bias is known and the config asks for it, a scan goes in one direction at one speed. The
 * first scan since the start always goes in both directions: it proves the bias, and learns how wide each flag looks.
 *
 * Between flags whose places are known the carriage may go faster (scan_pace.c). As soon as anything is not as it was
 * expected, the pass begins again at scan speed, so that only slow passes raise alarms. */
#include "scan.h"

#include "drive.h"
#include "gauge.h"
#include "knowledge.h"
#include "match.h"
#include "residual.h"
#include "scan_pace.h"
#include "scan_way.h"
#include "signals.h"
#include "trip.h"

#include <string.h>

/* ---- the switches ---------------------------------------------------------------------------------------------- */

static bool sees_flag(const struct kr_axis_in *in, enum kr_switch_of of)
{
    return in->inputs & (of == KR_SWITCH_OF_HOLDERS ? KR_DI_FLAG : KR_DI_REFERENCE);
}

static struct kr_probe_edges edges_of(const struct kr_axis_in *in, enum kr_switch_of of)
{
    if (of == KR_SWITCH_OF_REFERENCES)
        return in->second;
    return (struct kr_probe_edges){in->rise_count, in->fall_count, in->rise_um, in->fall_um};
}

static void trip_stuck(const struct rail *r, enum kr_switch_of of)
{
    carriage_trip(r, of == KR_SWITCH_OF_HOLDERS ? KR_ALARM_SWITCH_STUCK : KR_ALARM_REFERENCE_SWITCH_STUCK, 0, 0, 0);
}

static bool both_ways(const struct rail *r)
{
    return kr_scan_goes_both_ways(r->in->carriage, r->in->reduced);
}

uint16_t scan_probe(const struct kr_motion *m, const struct kr_carriage_config *carriage)
{
    bool two = scan_has_two_switches(carriage);
    bool armed = m->scan.step == KR_SCAN_STEP_ARMING || m->scan.step == KR_SCAN_STEP_PASS;
    bool scans = m->phase == KR_CARRIAGE_SCANNING && armed;
    if (!scans && m->phase != KR_CARRIAGE_FINDING)
        return 0;
    unsigned one = KR_PROBE_ENABLE | KR_PROBE_CONTINUOUS | KR_PROBE_RISING | KR_PROBE_FALLING;
    return (uint16_t)(two ? one | one << KR_PROBE_2 : one);
}

bool scan_is_armed(const struct rail *r)
{
    unsigned status = axis_of(r)->probe_status;
    bool second = scan_switches(r->in->carriage) == 1 || status >> KR_PROBE_2 & KR_PROBE_ENABLED;
    return status & KR_PROBE_ENABLED && second;
}

/* If only the second probe does not arm, the drive has no second probe. Then it may be another rail's drive. */
void scan_not_armed(const struct rail *r)
{
    bool second = scan_switches(r->in->carriage) > 1 && axis_of(r)->probe_status & KR_PROBE_ENABLED;
    if (second)
        carriage_trip(r, KR_ALARM_REFERENCE_SWITCH_DEAD, 0, 0, r->in->carriage->references.n);
    else
        carriage_trip(r, KR_ALARM_SCAN_UNTRUSTED, 0, 0, 0);
}

static int32_t pass_end_um(const struct rail *r, bool end)
{
    int32_t from_um, to_um;
    kr_scan_range(r->in->rail, r->in->carriage, &from_um, &to_um);
    return (r->m->scan.pass == 0) == end ? to_um : from_um;
}

static void step_enter(const struct rail *r, enum kr_scan_step step)
{
    carriage_enter(r, KR_CARRIAGE_SCANNING);
    r->m->scan.step = step;
}

static bool knows_all_widths(const struct rail *r)
{
    for (uint16_t i = 0; i < r->in->rail->n_holders; i++)
        if (is_on_rail(r, i) && knowledge_of(r)->place[i].flag_width_um == 0)
            return false;
    return true;
}

void scan_begin(const struct rail *r)
{
    if (!pin_is_out(r)) {
        carriage_trip(r, KR_ALARM_PIN_UNPROVEN, r->m->docked, 0, 0);
        return;
    }
    memset(&r->m->scan, 0, sizeof r->m->scan);
    bool gauges = r->m->task == KR_TASK_GAUGE;
    r->m->scan.n_passes = gauges || both_ways(r) || !knows_all_widths(r) ? 2 : 1;
    drive_move(r, pass_end_um(r, false), limited_speed(r, r->in->rail->empty));
    step_enter(r, KR_SCAN_STEP_TO_START);
}

static void count_from_here(struct kr_scan_switch *s, struct kr_probe_edges edges)
{
    s->rise_count = edges.rise_count;
    s->fall_count = edges.fall_count;
    s->rise_pending = false;
}

/* If the search begins on a flag, it begins in its middle. The width then shows that it is no whole flag. */
void scan_watch(const struct rail *r)
{
    struct kr_scan *scan = &r->m->scan;
    memset(scan, 0, sizeof *scan);
    for (uint16_t of = 0; of < scan_switches(r->in->carriage); of++) {
        count_from_here(&scan->of[of], edges_of(axis_of(r), of));
        scan->of[of].rise_pending = sees_flag(axis_of(r), of);
        scan->of[of].rise_um = carriage_place_um(r);
    }
}

static void pass_begin(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    for (uint16_t of = 0; of < scan_switches(r->in->carriage); of++) {
        if (sees_flag(in, of)) { /* a pass begins clear of every possible flag */
            trip_stuck(r, of);
            return;
        }
        count_from_here(&r->m->scan.of[of], edges_of(in, of));
    }
    step_enter(r, KR_SCAN_STEP_PASS);
    scan_pace_begin(r, pass_end_um(r, true));
}

static int64_t magnitude(int64_t value)
{
    return value < 0 ? -value : value;
}

static void width_trip(const struct rail *r, struct kr_hit hit, int32_t expected_um)
{
    carriage_trip(r, KR_ALARM_FLAG_WIDTH, 0, hit.at_um, expected_um);
}

/* An edge is the carriage's position when the drive latched it, so that it must lie within the carriage's travel. */
static bool edge_is_plausible(const struct rail *r, int32_t edge_um)
{
    const struct kr_carriage_config *config = r->in->carriage;
    /* During a search for the datum the position may have any value. */
    if (r->m->task == KR_TASK_FIND || within_travel(config, edge_um))
        return true;
    carriage_trip(r, KR_ALARM_POSITION_IMPLAUSIBLE, 0, edge_um,
                  edge_um < config->travel_min_um ? config->travel_min_um : config->travel_max_um);
    return false;
}

/* Tells whether a switch sees only the flags of holders. A reference may have another width than a holder's flag. If
 * one switch sees both kinds, they can be told apart only after all flags are seen. */
static bool sees_holders_alone(const struct rail *r, enum kr_switch_of of)
{
    const struct kr_references *references = &r->in->carriage->references;
    return of == KR_SWITCH_OF_HOLDERS && (references->n == 0 || references->own_switch);
}

/* Tells whether a flag is a reference, where one switch sees both kinds. The place decides, because no holder gets
 * there. */
static bool is_at_reference(const struct rail *r, struct kr_hit hit)
{
    const struct kr_references *references = &r->in->carriage->references;
    for (uint16_t i = 0; i < references->n && !references->own_switch; i++)
        if (magnitude((int64_t)hit.at_um - references->flag[i].at_um) <= references->flag[i].width_um)
            return true;
    return false;
}

static void count_width(const struct rail *r, struct kr_hit hit)
{
    struct kr_flag_widths *w = &r->m->scan.widths;
    if (is_at_reference(r, hit) || w->n == UINT16_MAX)
        return;
    if (w->n == 0 || hit.width_um < w->narrowest.width_um)
        w->narrowest = hit;
    if (w->n == 0 || hit.width_um > w->widest.width_um)
        w->widest = hit;
    w->sum_um += hit.width_um;
    w->n++;
}

const struct kr_flag_widths *kr_motion_flag_widths(const struct kr_motion *motion)
{
    return &motion->scan.widths;
}

static void take_hit(const struct rail *r, enum kr_switch_of of, int32_t fall_um)
{
    struct kr_scan *scan = &r->m->scan;
    struct kr_scan_switch *s = &scan->of[of];
    int32_t flag_um = r->in->carriage->flag_width_um;
    uint16_t most = of == KR_SWITCH_OF_HOLDERS ? KR_HITS_MAX : KR_REFERENCE_HITS_MAX;
    struct kr_hit hit = {.width_um = (int32_t)magnitude(fall_um - s->rise_um)};
    hit.at_um = kr_flag_by_pass_um(s->rise_um, fall_um, scan_switch_offset_um(r->in->carriage, of));
    s->rise_pending = false;
    if (scan->predicted && !scan_pace_hit_fits(r, of, hit)) {
        scan->astray = true;
        return;
    }
    if (of == KR_SWITCH_OF_HOLDERS)
        count_width(r, hit);
    if (sees_holders_alone(r, of) && !looks_as_wide(hit.width_um, flag_um))
        width_trip(r, hit, flag_um);
    else if (s->n_hits[scan->pass] < most)
        scan_hits(scan, of, scan->pass)[s->n_hits[scan->pass]++] = hit;
}

/* Tells whether a width is that of a flag which the switch may meet. */
static bool is_width_of_a_flag(const struct rail *r, enum kr_switch_of of, int64_t width_um)
{
    const struct kr_carriage_config *carriage = r->in->carriage;
    if (width_um <= 0 || width_um > INT32_MAX)
        return false;
    if (of == KR_SWITCH_OF_HOLDERS && looks_as_wide((int32_t)width_um, carriage->flag_width_um))
        return true;
    for (uint16_t i = 0; i < carriage->references.n && of == scan_references_switch(carriage); i++)
        if (looks_as_wide((int32_t)width_um, carriage->references.flag[i].width_um))
            return true;
    return false;
}

/* A late image may have two edges: both edges of a flag, or the second edge of a flag and the first one of the next.
 * Nothing is lost if the drive has counted one of each kind, because it holds the newest position of each. A switch
 * that bounces shows itself by a distance between the two that no flag and no gap has. */
static bool are_neighbours(const struct rail *r, enum kr_switch_of of, struct kr_probe_edges now)
{
    int64_t way = r->m->scan.pass == 0 ? 1 : -1;
    int64_t fall_behind_rise_um = way * ((int64_t)now.fall_um - now.rise_um);
    if (!r->in->carriage->edges_counted[of])
        return false;
    if (r->m->scan.of[of].rise_pending)
        return -fall_behind_rise_um >= r->in->carriage->flag_width_um;
    return is_width_of_a_flag(r, of, fall_behind_rise_um);
}

static bool has_lost_edges(const struct rail *r, enum kr_switch_of of, struct kr_probe_edges now, uint16_t rises,
                           uint16_t falls)
{
    bool on_flag = r->m->scan.of[of].rise_pending;
    if (rises + falls > 1)
        return rises != 1 || falls != 1 || !are_neighbours(r, of, now);
    return on_flag ? rises > 0 : falls > 0;
}

static void take_rise(const struct rail *r, enum kr_switch_of of, int32_t rise_um)
{
    if (!edge_is_plausible(r, rise_um))
        return;
    r->m->scan.of[of].rise_um = place_by_um(r, rise_um);
    r->m->scan.of[of].rise_pending = true;
}

static void take_fall(const struct rail *r, enum kr_switch_of of, int32_t fall_um)
{
    if (edge_is_plausible(r, fall_um))
        take_hit(r, of, place_by_um(r, fall_um));
}

/* Takes the new edges of one switch in their sequence. While answers come in time, there is at most one edge in a
 * cycle: the config makes sure that the switch stays on a flag, and between flags, for several cycles. */
static void switch_edges(const struct rail *r, enum kr_switch_of of)
{
    struct kr_probe_edges now = edges_of(axis_of(r), of);
    struct kr_scan_switch *s = &r->m->scan.of[of];
    enum kr_carriage_phase phase = r->m->phase;
    uint16_t rises = (uint16_t)(now.rise_count - s->rise_count);
    uint16_t falls = (uint16_t)(now.fall_count - s->fall_count);
    s->rise_count = now.rise_count;
    s->fall_count = now.fall_count;
    bool lost = has_lost_edges(r, of, now, rises, falls), fall_first = s->rise_pending;
    bool fits = (!rises || scan_pace_edge_fits(r, now.rise_um)) && (!falls || scan_pace_edge_fits(r, now.fall_um));
    if (r->m->scan.predicted && (lost || !fits)) {
        r->m->scan.astray = true;
        return;
    }
    if (lost) {
        carriage_trip(r, KR_ALARM_EDGES_LOST, 0, rises + falls, 1);
        return;
    }
    if (falls && fall_first)
        take_fall(r, of, now.fall_um);
    if (rises && r->m->phase == phase)
        take_rise(r, of, now.rise_um);
    if (falls && !fall_first && r->m->phase == phase)
        take_fall(r, of, now.fall_um);
}

void scan_edges(const struct rail *r)
{
    enum kr_carriage_phase phase = r->m->phase;
    for (uint16_t of = 0; of < scan_switches(r->in->carriage) && r->m->phase == phase; of++)
        switch_edges(r, of);
}

/* Compares the two passes over one flag, and trips the rail if they differ. If one pass is meant to suffice, the passes
 * differ by twice its bias, at the speed at which the bias was measured. */
static bool agree(const struct rail *r, struct kr_hit there, struct kr_hit back, uint16_t item)
{
    const struct kr_carriage_config *config = r->in->carriage;
    int32_t bias_um = both_ways(r) ? 0 : config->scan_bias_um;
    int64_t apart_um = magnitude(kr_passes_apart_um(there.at_um, back.at_um, bias_um));
    if (apart_um > config->passes_apart_um)
        carriage_trip(r, KR_ALARM_PASSES_APART, item, (int32_t)apart_um, config->passes_apart_um);
    else if (!widths_agree(there.width_um, back.width_um, config->flag_width_um))
        width_trip(r, back, there.width_um);
    else
        return true;
    return false;
}

static void look(const struct rail *r)
{
    struct kr_scan *scan = &r->m->scan;
    uint16_t n = scan->of[KR_SWITCH_OF_HOLDERS].n_hits[0];
    struct residual residual;
    struct released released;
    if (!residual_take(r, scan->hit[0], &n, &residual) ||
        !match_hits(r, scan->hit[0], n, residual_refers(r, &residual), &released))
        return;
    residual_keep(r, &residual, &released);
    scan->step = KR_SCAN_STEP_DONE;
}

/* Only the holders' switch is measured. */
static void finish_round(const struct rail *r)
{
    struct kr_scan *scan = &r->m->scan;
    bool again = gauge_take(r, scan->of[KR_SWITCH_OF_HOLDERS].n_hits[0]);
    if (r->m->phase != KR_CARRIAGE_SCANNING)
        return;
    if (!again) {
        scan->step = KR_SCAN_STEP_DONE;
        return;
    }
    scan->pass = 0;
    for (enum kr_switch_of of = 0; of < KR_SWITCHES; of++)
        scan->of[of].n_hits[0] = scan->of[of].n_hits[1] = 0;
    step_enter(r, KR_SCAN_STEP_TO_START); /* at the end of the falling pass */
}

static bool as_many_back(const struct rail *r, enum kr_switch_of of)
{
    const struct kr_scan_switch *s = &r->m->scan.of[of];
    if (r->m->scan.n_passes == 1 || s->n_hits[1] == s->n_hits[0])
        return true;
    carriage_trip(r, KR_ALARM_SCAN_UNTRUSTED, 0, s->n_hits[0], s->n_hits[1]);
    return false;
}

/* Joins the two passes of one switch into one. Returns false if they disagree. */
static bool join_passes(const struct rail *r, enum kr_switch_of of)
{
    struct kr_scan *scan = &r->m->scan;
    uint16_t n = scan->of[of].n_hits[0];
    struct kr_hit *hit = scan_hits(scan, of, 0), *hit_back = scan_hits(scan, of, 1);
    for (uint16_t i = 0; i < n; i++) {
        struct kr_hit *there = &hit[i], back = hit_back[n - 1 - i];
        if (scan->n_passes == 2 && !agree(r, *there, back, (uint16_t)(i + 1)))
            return false;
        there->at_um = both_ways(r) ? kr_flag_both_ways_um(there->at_um, back.at_um)
                                    : kr_flag_one_way_um(there->at_um, r->in->carriage->scan_bias_um);
    }
    return true;
}

static void finish(const struct rail *r)
{
    bool gauges = r->m->task == KR_TASK_GAUGE;
    for (enum kr_switch_of of = 0; of < (gauges ? 1 : scan_switches(r->in->carriage)); of++)
        if (!as_many_back(r, of) || (!gauges && !join_passes(r, of)))
            return;
    if (gauges)
        finish_round(r);
    else
        look(r);
}

static bool rise_is_pending(const struct rail *r)
{
    for (uint16_t of = 0; of < scan_switches(r->in->carriage); of++)
        if (r->m->scan.of[of].rise_pending)
            return true;
    return false;
}

/* The carriage goes back to the beginning of the pass, and makes the rest of the scan at scan speed. If anything is
 * wrong, the slow pass reports it. */
static void pass_again_slowly(const struct rail *r)
{
    struct kr_scan *scan = &r->m->scan;
    for (enum kr_switch_of of = 0; of < KR_SWITCHES; of++)
        scan->of[of].n_hits[scan->pass] = 0;
    scan->slow = true;
    scan->predicted = scan->astray = false;
    drive_move(r, pass_end_um(r, false), limited_speed(r, r->in->rail->empty));
    step_enter(r, KR_SCAN_STEP_TO_START);
}

static void pass_step(const struct rail *r)
{
    struct kr_scan *scan = &r->m->scan;
    int32_t end_um = pass_end_um(r, true);
    scan_edges(r);
    if (r->m->phase != KR_CARRIAGE_SCANNING)
        return;
    bool over = r->m->drive.setpoint == KR_SETPOINT_REACHED && r->m->drive.target_um == end_um;
    if (scan->predicted && over && (rise_is_pending(r) || !scan_pace_met_all(r)))
        scan->astray = true;
    if (scan->predicted && scan->astray) {
        pass_again_slowly(r);
        return;
    }
    if (!over) {
        scan_pace_step(r, end_um, rise_is_pending(r));
        return;
    }
    for (uint16_t of = 0; of < scan_switches(r->in->carriage); of++)
        if (r->m->scan.of[of].rise_pending) {
            trip_stuck(r, of);
            return;
        }
    scan->predicted = false;
    if (scan->pass + 1 < scan->n_passes) {
        scan->pass = 1;
        step_enter(r, KR_SCAN_STEP_TO_START);
    } else {
        finish(r);
    }
}

void scan_step(const struct rail *r)
{
    switch (r->m->scan.step) {
    case KR_SCAN_STEP_TO_START: /* the probe is off: some drives need that before it is armed again */
        if (r->m->drive.setpoint == KR_SETPOINT_REACHED && carriage_fresh(r))
            step_enter(r, KR_SCAN_STEP_ARMING);
        break;
    case KR_SCAN_STEP_ARMING:
        if (carriage_fresh(r) && scan_is_armed(r))
            pass_begin(r);
        else if (phase_is_late(r, r->in->carriage->setpoint_limit_ms))
            scan_not_armed(r);
        break;
    case KR_SCAN_STEP_PASS: pass_step(r); break;
    case KR_SCAN_STEP_DONE: break;
    }
}
