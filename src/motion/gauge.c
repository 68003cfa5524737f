/* Measures the proximity switch by scans in both directions. No holder's position is learned, and no setting is
 * changed. Rounds at scan speed and rounds at half of it alternate, so that warming affects both alike. */
#include "gauge.h"

#include <string.h>

#include "knowledge.h"
#include "match.h"
#include "trip.h"

void gauge_enter(const struct rail *r)
{
    r->m->gauge.round = 0;
}

static bool of_holder(const struct rail *r)
{
    return r->in->gauge_holder != 0;
}

static bool is_slow(const struct rail *r)
{
    return !of_holder(r) && r->m->gauge.round % 2 == 1;
}

static uint16_t rounds_of(const struct rail *r)
{
    return of_holder(r) ? 1 : (uint16_t)(2 * r->in->carriage->gauge_rounds);
}

int32_t gauge_speed_um_per_s(const struct rail *r)
{
    int32_t full = r->in->carriage->scan_speed_um_per_s;
    return r->m->task == KR_TASK_GAUGE && is_slow(r) ? full / 2 : full;
}

static struct kr_hit falling(const struct kr_scan *scan, uint16_t n, uint16_t i)
{
    return scan->hit[1][n - 1 - i];
}

/* Tells whether both passes have seen the same flag: its widths agree, and its two places differ by at most half of its
 * width. */
static bool is_one_flag(const struct rail *r, struct kr_hit there, struct kr_hit back, uint16_t item)
{
    int32_t flag_um = r->in->carriage->flag_width_um;
    int64_t apart_um = kr_passes_apart_um(there.at_um, back.at_um, 0);
    if (!widths_agree(there.width_um, back.width_um, flag_um))
        carriage_trip(r, KR_ALARM_FLAG_WIDTH, 0, back.at_um, there.width_um);
    else if (apart_um > flag_um / 2 || apart_um < -flag_um / 2)
        carriage_trip(r, KR_ALARM_PASSES_APART, item, (int32_t)(apart_um < 0 ? -apart_um : apart_um), flag_um / 2);
    else
        return true;
    return false;
}

static bool are_pairs(const struct rail *r, uint16_t n)
{
    const struct kr_scan *scan = &r->m->scan;
    for (uint16_t i = 0; i < n; i++)
        if (!is_one_flag(r, scan->hit[0][i], falling(scan, n, i), (uint16_t)(i + 1)))
            return false;
    return true;
}

static void take_bias(const struct rail *r, uint16_t n)
{
    const struct kr_scan *scan = &r->m->scan;
    struct kr_gauge_sum *sum = is_slow(r) ? &r->m->gauge.slow : &r->m->gauge.fast;
    for (uint16_t i = 0; i < n; i++)
        kr_gauge_add(sum, (int32_t)kr_passes_apart_um(scan->hit[0][i].at_um, falling(scan, n, i).at_um, 0));
}

/* The sequence alone tells which flag is the holder's, because the offset may be far off. */
static uint16_t flags_before(const struct rail *r, uint16_t holder_number)
{
    uint16_t n = 0;
    for (uint16_t i = 0; i + 1 < holder_number; i++)
        n = (uint16_t)(n + is_on_rail(r, i));
    return n;
}

static void take_offset(const struct rail *r, uint16_t n)
{
    const struct kr_carriage_config *carriage = r->in->carriage;
    uint16_t holder = r->in->gauge_holder;
    bool sees_references = !carriage->references.own_switch;
    uint16_t all = (uint16_t)(flags_before(r, (uint16_t)(r->in->rail->n_holders + 1)) +
                              (sees_references ? carriage->references.n : 0));
    if (n != all) {
        carriage_trip(r, KR_ALARM_FLAGS_UNCLEAR, 0, n, all);
        return;
    }
    uint16_t i = (uint16_t)((sees_references ? carriage->references.n_low : 0) + flags_before(r, holder));
    int64_t flag_um = kr_flag_both_ways_um(r->m->scan.hit[0][i].at_um, falling(&r->m->scan, n, i).at_um);
    int64_t pin_um = knowledge_of(r)->place[holder - 1].position_um;
    kr_gauge_add(r->in->gauge_way > 0 ? &r->m->gauge.up : &r->m->gauge.down,
                 (int32_t)(pin_um - (flag_um - carriage->switch_offset_um)));
}

bool gauge_take(const struct rail *r, uint16_t n)
{
    if (!are_pairs(r, n))
        return false;
    if (of_holder(r))
        take_offset(r, n);
    else
        take_bias(r, n);
    return ++r->m->gauge.round < rounds_of(r);
}

/* ---- for the station ------------------------------------------------------------------------------------------- */

void kr_motion_gauge_begin(struct kr_motion *motion, uint16_t holder_number)
{
    static const struct kr_gauge_sum none;
    if (holder_number == 0) {
        motion->gauge.fast = motion->gauge.slow = none;
        return;
    }
    motion->gauge.holder = holder_number;
    motion->gauge.up = motion->gauge.down = none;
}

struct kr_gauge_bias kr_motion_gauge_bias(const struct kr_motion *motion, const struct kr_carriage_config *carriage)
{
    int32_t v = carriage->scan_speed_um_per_s;
    return kr_gauge_bias(&motion->gauge.fast, v, &motion->gauge.slow, v / 2);
}

struct kr_gauge_offset kr_motion_gauge_offset(const struct kr_motion *motion)
{
    return kr_gauge_offset(&motion->gauge.up, &motion->gauge.down);
}

uint16_t kr_motion_gauge_holder(const struct kr_motion *motion)
{
    return motion->gauge.holder;
}
