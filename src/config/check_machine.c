/* Reports contradictions among a rail's holders, and between the station's settings and the simulated machine's. */
#include <stdio.h>

#include "reading.h"

/* ---- holders --------------------------------------------------------------------------------------------------- */

static void tell_holder(struct station_reading *r, uint16_t rail, uint16_t index, int32_t seen_um, const char *bound,
                        int64_t limit_um, const char *why)
{
    char path[KR_SETTING_PATH_MAX], seen[32], limit[32];
    const config_setting_t *at = r->rail[rail].holder_at[index];
    kr_setting_path(at, NULL, path);
    kr_length_text(seen_um, KR_LENGTH_MM, seen, sizeof seen);
    kr_length_text((int32_t)limit_um, KR_LENGTH_MM, limit, sizeof limit);
    kr_mistake(r->errors, at, path, "holder %u would stand at %s; %s %s: %s", index + 1u, seen, bound, limit, why);
}

static bool check_place(struct station_reading *r, uint16_t rail, uint16_t index)
{
    const struct kr_rail_geometry *geometry = &r->rail[rail].settings.geometry;
    int32_t at_um = r->out->holder[rail][index].position_um;
    if (!kr_group_good(&r->rail[rail].group, "least_mm") || !kr_group_good(&r->rail[rail].group, "most_mm"))
        return true;
    if (at_um < geometry->min_um)
        tell_holder(r, rail, index, at_um, "at least", geometry->min_um, "the rail's least_mm");
    if (at_um > geometry->max_um)
        tell_holder(r, rail, index, at_um, "at most", geometry->max_um, "the rail's most_mm");
    return at_um >= geometry->min_um && at_um <= geometry->max_um;
}

static bool check_spacing(struct station_reading *r, uint16_t rail, uint16_t index, const struct kr_holder_data *left)
{
    const struct kr_holder_data *holder = &r->out->holder[rail][index];
    if (left == NULL)
        return true;
    int64_t least_um =
        (int64_t)left->position_um + kr_spacing_um(&r->out->station.geometry, left->holder_size, holder->holder_size);
    if (holder->position_um >= least_um)
        return true;
    tell_holder(r, rail, index, holder->position_um, "at least", least_um, "its neighbour's place and their spacing");
    return false;
}

/* Holders keep their sequence for ever, so each place must be greater than that of the neighbour by their spacing. One
 * entry of the file makes many holders: a mistake in its pitch or count is reported once, for the first holder that it
 * concerns. */
static void check_places(struct station_reading *r, uint16_t rail)
{
    const struct kr_holder_data *holder = r->out->holder[rail], *left = NULL;
    const config_setting_t *told = NULL;
    for (uint16_t i = 0; i < r->rail[rail].settings.geometry.n_holders; i++) {
        if (holder[i].state == KR_HOLDER_ABSENT)
            continue;
        if (holder[i].known == KR_UNKNOWN) {
            left = NULL;
            continue;
        }
        const config_setting_t *entry = r->rail[rail].holder_at[i];
        if (entry != told && (!check_place(r, rail, i) || !check_spacing(r, rail, i, left)))
            told = entry;
        left = &holder[i];
    }
}

static void check_room(struct station_reading *r, uint16_t rail)
{
    const struct kr_rail_geometry *geometry = &r->rail[rail].settings.geometry;
    const struct kr_holder_data *holder = r->out->holder[rail], *left = NULL;
    int64_t needed_um = 0;
    for (uint16_t i = 0; i < geometry->n_holders; i++) {
        if (holder[i].state == KR_HOLDER_ABSENT)
            continue;
        if (left)
            needed_um += kr_spacing_um(&r->out->station.geometry, left->holder_size, holder[i].holder_size);
        left = &holder[i];
    }
    if (kr_group_good(&r->rail[rail].group, "least_mm") && kr_group_good(&r->rail[rail].group, "most_mm") &&
        geometry->max_um > geometry->min_um && needed_um > (int64_t)geometry->max_um - geometry->min_um)
        kr_group_at_least(&r->rail[rail].group, "most_mm", geometry->min_um + needed_um,
                          "the holders, side by side, need that much room");
}

void kr_check_holders(struct station_reading *r, uint16_t rail)
{
    if (!r->rail[rail].holders_good)
        return;
    check_room(r, rail);
    check_places(r, rail);
}

/* ---- the simulated machine ------------------------------------------------------------------------------------- */

static bool good(const struct kr_group *group, const char *const names[])
{
    for (; *names; names++)
        if (!kr_group_good(group, *names))
            return false;
    return true;
}

/* If only some holders have given places, the machine can't know where to put the others. */
static void check_all_or_none(struct station_reading *r, uint16_t rail)
{
    const struct rail_reading *reading = &r->rail[rail];
    if (!reading->holders_good)
        return;
    int first_unknown = KR_HOLDERS_MAX, known = 0;
    for (uint16_t i = 0; i < reading->settings.geometry.n_holders; i++) {
        const struct kr_holder_data *h = &r->out->holder[rail][i];
        if (h->state == KR_HOLDER_ABSENT)
            continue;
        known += h->known != KR_UNKNOWN;
        if (h->known == KR_UNKNOWN && first_unknown == KR_HOLDERS_MAX)
            first_unknown = i;
    }
    if (known == 0 || first_unknown == KR_HOLDERS_MAX)
        return;
    char path[KR_SETTING_PATH_MAX];
    const config_setting_t *at = reading->holder_at[first_unknown];
    kr_setting_path(at, NULL, path);
    kr_mistake(r->errors, at, path, "first_mm is missing; a simulated rail needs it of all its holders, or of none");
}

/* The planned docking must not be faster than the machine's. */
static void check_docking(struct rail_reading *rail)
{
    static const char *const carriage[] = {"dock_ms", "undock_ms", "settle_ms", NULL};
    static const char *const machine[] = {"pin_in_ms", "pin_out_ms", "brake_open_ms", "brake_close_ms", NULL};
    const struct sim_rail_config *m = &rail->machine.rail;
    if (!good(&rail->carriage, carriage) || !good(&rail->simulated, machine))
        return;
    int64_t dock_us = 1000LL * (m->pin_in_ms + m->brake_open_ms);
    int64_t undock_us = 1000LL * (rail->settings.carriage.settle_ms + m->brake_close_ms + m->pin_out_ms);
    if (rail->settings.geometry.dock_us < dock_us)
        kr_group_at_least(&rail->carriage, "dock_ms", dock_us,
                          "the simulated machine takes that long: pin_in_ms and brake_open_ms");
    if (rail->settings.geometry.undock_us < undock_us)
        kr_group_at_least(&rail->carriage, "undock_ms", undock_us,
                          "settle_ms, and of the simulated machine brake_close_ms and pin_out_ms");
}

/* Compares each time limit with the time that a healthy machine takes. */
static void check_limits(struct station_reading *r, struct rail_reading *rail)
{
    const struct sim_rail_config *m = &rail->machine.rail;
    const struct kr_carriage_config *c = &rail->settings.carriage;
    int32_t span_ms = m->homing_speed_um_per_s > 0
                          ? (int32_t)(((int64_t)c->travel_max_um - c->travel_min_um) * 1000 / m->homing_speed_um_per_s)
                          : 0;
    const struct {
        const char *limit, *takes;
        int32_t limit_ms, takes_ms;
    } row[] = {
        {"enable_limit_ms", "power_up_ms", c->enable_limit_ms, m->power_up_ms},
        {"pin_limit_ms", "pin_in_ms", c->pin_limit_ms, m->pin_in_ms},
        {"pin_limit_ms", "pin_out_ms", c->pin_limit_ms, m->pin_out_ms},
        {"brake_limit_ms", "brake_open_ms", c->brake_limit_ms, m->brake_open_ms},
        {"brake_limit_ms", "brake_close_ms", c->brake_limit_ms, m->brake_close_ms},
        {"clamp_limit_ms", "clamp_open_ms", c->clamp_limit_ms, c->clamping == KR_CLAMP_COMMON ? m->clamp_open_ms : 0},
        {"clamp_limit_ms", "clamp_close_ms", c->clamp_limit_ms, c->clamping == KR_CLAMP_COMMON ? m->clamp_close_ms : 0},
        {"home_limit_ms", "homing_speed_um_per_s", c->home_limit_ms, span_ms},
    };
    for (size_t i = 0; r->period_good && i < sizeof row / sizeof row[0]; i++) {
        int32_t least_ms = row[i].takes_ms + 4 * r->period_us / 1000;
        char why[96];
        snprintf(why, sizeof why, "the simulated machine takes that long when it is healthy (%s), and 4 cycles",
                 row[i].takes);
        if (kr_group_good(&rail->carriage, row[i].limit) && kr_group_good(&rail->simulated, row[i].takes) &&
            row[i].limit_ms < least_ms)
            kr_group_at_least(&rail->carriage, row[i].limit, least_ms, why);
    }
}

static void check_speeds(struct rail_reading *rail)
{
    const struct sim_rail_config *m = &rail->machine.rail;
    const struct kr_rail_geometry *g = &rail->settings.geometry;
    const struct {
        const char *row, *limit;
        int32_t value, most;
    } pair[] = {
        {"empty_speed_mm_per_s", "speed_max_um_per_s", g->empty.v_um_per_s, m->speed_max_um_per_s},
        {"drag_speed_mm_per_s", "speed_max_um_per_s", g->drag.v_um_per_s, m->speed_max_um_per_s},
        {"empty_accel_mm_per_s2", "accel_max_um_per_s2", g->empty.a_um_per_s2, m->accel_max_um_per_s2},
        {"drag_accel_mm_per_s2", "accel_max_um_per_s2", g->drag.a_um_per_s2, m->accel_max_um_per_s2},
    };
    for (size_t i = 0; i < sizeof pair / sizeof pair[0]; i++) {
        char why[80];
        snprintf(why, sizeof why, "the simulated drive's own limit, %s", pair[i].limit);
        if (kr_group_good(&rail->carriage, pair[i].row) && kr_group_good(&rail->simulated, pair[i].limit) &&
            pair[i].value > pair[i].most)
            kr_group_at_most(&rail->carriage, pair[i].row, pair[i].most, why);
    }
}

/* The middles of a flag in both passes differ by the hysteresis, and by twice the product of speed and delay, because
 * the two passes shift it in opposite directions. */
static void check_passes(struct rail_reading *rail)
{
    static const char *const carriage[] = {"passes_apart_mm", "scan_speed_mm_per_s", "scan_bias_mm", "scan_ways", NULL};
    static const char *const machine[] = {"hysteresis_um", "latency_us", "jitter_us", "backlash_um", NULL};
    const struct sim_rail_config *m = &rail->machine.rail;
    const struct kr_carriage_config *c = &rail->settings.carriage;
    if (!good(&rail->carriage, carriage) || !good(&rail->simulated, machine) || !kr_scan_goes_both_ways(c, false))
        return;
    int64_t delay_um = 2LL * c->scan_speed_um_per_s * (m->latency_us + m->jitter_us) / 1000000;
    int64_t least_um = m->hysteresis_um + delay_um + m->backlash_um;
    if (c->passes_apart_um < least_um)
        kr_group_at_least(&rail->carriage, "passes_apart_mm", least_um,
                          "the simulated switch's hysteresis_um, latency_us at the scan's speed, and backlash_um");
}

void kr_check_simulated(struct station_reading *r, uint16_t rail)
{
    struct rail_reading *reading = &r->rail[rail];
    check_all_or_none(r, rail);
    check_docking(reading);
    check_limits(r, reading);
    check_speeds(reading);
    check_passes(reading);
}
