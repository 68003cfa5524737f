/* A scan passes the proximity switch over every flag of a rail; the drive latches both edges.
 *
 * A nearer flag widens the signal on both sides and leaves its middle in place. Hysteresis and delay shift the middle
 * along the travel, by half the hysteresis plus speed times delay. So a scan goes both ways and takes the mean of the
 * two middles; or, where the config gives that bias, one way at one speed. The first scan since the start goes
 * both ways all the same: it proves the bias, and learns how wide each flag looks. */
#include "state.h"

#include <string.h>

static const struct kr_carriage_config *config_of(const struct kr_station *s, const struct carriage *c)
{
    return &s->config.carriage[c->rail];
}

void kr_scan_range(const struct kr_station_config *config, uint16_t rail, int32_t *from_um, int32_t *to_um)
{
    const struct kr_rail_geometry *geometry = &config->geometry.rail[rail];
    const struct kr_carriage_config *carriage = &config->carriage[rail];
    int64_t v = carriage->scan_speed_um_per_s;
    int64_t run_up_um = v * v / (2LL * geometry->empty.a_um_per_s2) + 1;
    int64_t clear_um =
        run_up_um + carriage->flag_width_um; /* half a flag, and as much for the switch's hysteresis */
    *from_um = (int32_t)(geometry->min_um - carriage->switch_offset_um - clear_um);
    *to_um = (int32_t)(geometry->max_um - carriage->switch_offset_um + clear_um);
}

/* A bias is calibrated at one speed: at reduced speed the scan goes both ways and needs none. */
bool scan_both_ways(const struct kr_station *s, uint16_t rail)
{
    return s->config.carriage[rail].scan_bias_um == 0 || s->job.reduced;
}

static bool both_ways(const struct kr_station *s, const struct carriage *c)
{
    return scan_both_ways(s, c->rail);
}

uint16_t scan_probe(const struct carriage *c)
{
    if (c->phase != KR_CARRIAGE_SCANNING || (c->scan.step != SCAN_ARMING && c->scan.step != SCAN_PASS))
        return 0;
    return KR_PROBE_ENABLE | KR_PROBE_CONTINUOUS | KR_PROBE_RISING | KR_PROBE_FALLING;
}

static int32_t pass_end_um(const struct kr_station *s, const struct carriage *c, bool end)
{
    int32_t from_um, to_um;
    kr_scan_range(&s->config, c->rail, &from_um, &to_um);
    return (c->scan.pass == 0) == end ? to_um : from_um;
}

static void step_enter(struct kr_station *s, struct carriage *c, enum scan_step step)
{
    carriage_enter(s, c, KR_CARRIAGE_SCANNING);
    c->scan.step = step;
}

static bool knows_all_widths(const struct kr_station *s, const struct carriage *c)
{
    for (uint16_t i = 0; i < s->config.geometry.rail[c->rail].n_holders; i++)
        if (holder_present(&s->durable.holder[c->rail][i]) && s->flag_width_um[c->rail][i] == 0)
            return false;
    return true;
}

void scan_begin(struct kr_station *s, struct carriage *c)
{
    if (!pin_is_out(s, c)) {
        carriage_trip(s, c, KR_ALARM_PIN_UNPROVEN, c->docked, 0, 0);
        return;
    }
    memset(&c->scan, 0, sizeof c->scan);
    c->scan.n_passes = both_ways(s, c) || !knows_all_widths(s, c) ? 2 : 1;
    drive_move(s, c, pass_end_um(s, c, false), job_speed(s, c->rail, s->config.geometry.rail[c->rail].empty));
    step_enter(s, c, SCAN_TO_START);
}

static void pass_begin(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    if (in->inputs & KR_DI_FLAG) { /* it stands clear of every flag there can be */
        carriage_trip(s, c, KR_ALARM_SWITCH_STUCK, 0, 0, 0);
        return;
    }
    c->scan.rise_count = in->rise_count;
    c->scan.fall_count = in->fall_count;
    c->scan.rise_pending = false;
    struct kr_speed speed = s->config.geometry.rail[c->rail].empty;
    speed.v_um_per_s = config_of(s, c)->scan_speed_um_per_s;
    drive_move(s, c, pass_end_um(s, c, true), job_speed(s, c->rail, speed));
    step_enter(s, c, SCAN_PASS);
}

/* Half of what a flag seems too wide or too narrow by may be an error of its middle. A nearer flag looks a little wider
 * than it is, and so does one before a switch with more hysteresis: against the config's figure there is some room. One
 * and the same flag, seen twice, is as wide within what edges scatter by. */
#define FLAG_WIDTH_PARTS  8
#define FLAG_REPEAT_PARTS 64

static int32_t magnitude(int32_t value)
{
    return value < 0 ? -value : value;
}

bool widths_agree(int32_t a_um, int32_t b_um, int32_t flag_um)
{
    return magnitude(a_um - b_um) <= flag_um / FLAG_REPEAT_PARTS;
}

static void width_trip(struct kr_station *s, struct carriage *c, struct hit hit, int32_t expected_um)
{
    carriage_trip(s, c, KR_ALARM_FLAG_WIDTH, 0, hit.at_um, expected_um);
}

static void take_hit(struct kr_station *s, struct carriage *c, int32_t fall_um)
{
    struct scan *scan = &c->scan;
    int32_t flag_um = config_of(s, c)->flag_width_um;
    struct hit hit = {.width_um = magnitude(fall_um - scan->rise_um)};
    hit.at_um = scan->rise_um + (fall_um - scan->rise_um) / 2 + config_of(s, c)->switch_offset_um;
    scan->rise_pending = false;
    if (magnitude(hit.width_um - flag_um) > flag_um / FLAG_WIDTH_PARTS)
        width_trip(s, c, hit, flag_um);
    else if (scan->n_hits[scan->pass] < HITS_MAX)
        scan->hit[scan->pass][scan->n_hits[scan->pass]++] = hit;
}

/* At most one edge a cycle: the config sees to it that the switch dwells on and between flags for several. */
static void edges(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    struct scan *scan = &c->scan;
    uint16_t rises = (uint16_t)(in->rise_count - scan->rise_count);
    uint16_t falls = (uint16_t)(in->fall_count - scan->fall_count);
    scan->rise_count = in->rise_count;
    scan->fall_count = in->fall_count;
    if (rises + falls > 1 || (rises && scan->rise_pending) || (falls && !scan->rise_pending)) {
        carriage_trip(s, c, KR_ALARM_EDGES_LOST, 0, rises + falls, 1);
        return;
    }
    if (rises) {
        scan->rise_um = in->rise_um;
        scan->rise_pending = true;
    }
    if (falls)
        take_hit(s, c, in->fall_um);
}

/* What the two passes make of one flag. Where one pass is to be enough, they lie apart by twice its bias, at the speed
 * at which that was calibrated. */
static bool agree(struct kr_station *s, struct carriage *c, struct hit there, struct hit back, uint16_t item)
{
    const struct kr_carriage_config *config = config_of(s, c);
    int32_t bias_um = both_ways(s, c) ? 0 : config->scan_bias_um;
    int32_t apart_um = magnitude(there.at_um - back.at_um - 2 * bias_um);
    if (apart_um > config->passes_apart_um)
        carriage_trip(s, c, KR_ALARM_PASSES_APART, item, apart_um, config->passes_apart_um);
    else if (!widths_agree(there.width_um, back.width_um, config->flag_width_um))
        width_trip(s, c, back, there.width_um);
    else
        return true;
    return false;
}

static void finish(struct kr_station *s, struct carriage *c)
{
    struct scan *scan = &c->scan;
    uint16_t n = scan->n_hits[0];
    if (scan->n_passes == 2 && scan->n_hits[1] != n) {
        carriage_trip(s, c, KR_ALARM_SCAN_UNTRUSTED, 0, n, scan->n_hits[1]);
        return;
    }
    for (uint16_t i = 0; i < n; i++) {
        struct hit *there = &scan->hit[0][i], back = scan->hit[1][n - 1 - i];
        if (scan->n_passes == 2 && !agree(s, c, *there, back, (uint16_t)(i + 1)))
            return;
        there->at_um += both_ways(s, c) ? (back.at_um - there->at_um) / 2 : -config_of(s, c)->scan_bias_um;
    }
    if (match_hits(s, c, scan->hit[0], n))
        scan->step = SCAN_DONE;
}

static void pass_step(struct kr_station *s, struct carriage *c)
{
    edges(s, c);
    if (c->phase != KR_CARRIAGE_SCANNING || c->drive.setpoint != SETPOINT_REACHED)
        return;
    if (c->scan.rise_pending) {
        carriage_trip(s, c, KR_ALARM_SWITCH_STUCK, 0, 0, 0);
    } else if (c->scan.pass + 1 < c->scan.n_passes) {
        c->scan.pass = 1;
        step_enter(s, c, SCAN_TO_START);
    } else {
        finish(s, c);
    }
}

void scan_step(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    switch (c->scan.step) {
    case SCAN_TO_START: /* the probe is off: some drives want that before it is armed anew */
        if (c->drive.setpoint == SETPOINT_REACHED && carriage_fresh(s, c))
            step_enter(s, c, SCAN_ARMING);
        break;
    case SCAN_ARMING:
        if (carriage_fresh(s, c) && in->probe_status & KR_PROBE_ENABLED)
            pass_begin(s, c);
        else if (s->now_ms - c->since_ms >= config_of(s, c)->setpoint_limit_ms)
            carriage_trip(s, c, KR_ALARM_SCAN_UNTRUSTED, 0, 0, 0);
        break;
    case SCAN_PASS: pass_step(s, c); break;
    case SCAN_DONE: break;
    }
}
