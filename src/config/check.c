/* Reports values that are each allowed, but not together. Nothing is concluded from a value that was already
 * refused. */
#include <stdio.h>

#include "kniferail/map.h"
#include "reading.h"

/* The cycles for which the switch must stay on each flag, and between two flags: at most one edge in a cycle, with a
 * margin. */
#define SWITCH_CYCLES 3

static int64_t magnitude(int64_t v)
{
    return v < 0 ? -v : v;
}

static bool good_limits(const struct rail_reading *rail)
{
    return kr_group_good(&rail->group, "least_mm") && kr_group_good(&rail->group, "most_mm") &&
           rail->settings.geometry.min_um < rail->settings.geometry.max_um;
}

static bool all_good(const struct kr_group *group, const char *const names[])
{
    for (; *names; names++)
        if (!kr_group_good(group, *names))
            return false;
    return true;
}

/* ---- the station ----------------------------------------------------------------------------------------------- */

static void check_deadband(struct station_reading *r)
{
    static const char *const rows[] = {"knife_mm", "pair_mm", "slit_mm"};
    const struct kr_station_config *station = &r->out->station;
    const int32_t tolerance_um[] = {station->geometry.tolerance_um, station->pair_window_um,
                                    station->slit_tolerance_um};
    for (int i = 0; i < 3; i++) {
        char why[96];
        snprintf(why, sizeof why, "half of %s, so that what fails the check is also moved", rows[i]);
        if (kr_group_good(&r->placement, "deadband_mm") && kr_group_good(&r->placement, rows[i]) &&
            station->deadband_um > tolerance_um[i] / 2)
            kr_group_at_most(&r->placement, "deadband_mm", tolerance_um[i] / 2, why);
    }
}

/* Two knives that are each within their tolerance are at most twice this tolerance apart, so a wider window would never
 * say anything. */
static void check_windows(struct station_reading *r)
{
    const struct kr_station_config *station = &r->out->station;
    const char *why = "twice knife_most_mm; a wider one can never be exceeded";
    int32_t most_um = 2 * station->geometry.tolerance_max_um;
    if (!kr_group_good(&r->placement, "knife_most_mm"))
        return;
    if (kr_group_good(&r->placement, "knife_mm") && station->geometry.tolerance_um > station->geometry.tolerance_max_um)
        kr_group_at_most(&r->placement, "knife_mm", station->geometry.tolerance_max_um, "knife_most_mm");
    if (kr_group_good(&r->placement, "pair_mm") && station->pair_window_um > most_um)
        kr_group_at_most(&r->placement, "pair_mm", most_um, why);
    if (kr_group_good(&r->placement, "slit_mm") && station->slit_tolerance_um > most_um)
        kr_group_at_most(&r->placement, "slit_mm", most_um, why);
}

static void check_web(struct station_reading *r)
{
    const struct kr_geometry *geometry = &r->out->station.geometry;
    if (!kr_group_good(&r->web, "trim_least_mm") || !kr_group_good(&r->web, "trim_most_mm"))
        return;
    if (geometry->trim_min_nm > geometry->trim_max_nm)
        kr_group_at_most(&r->web, "trim_least_mm", geometry->trim_max_nm, "trim_most_mm");
    if (kr_group_good(&r->web, "widest_mm") && 2 * geometry->trim_min_nm >= geometry->web_max_nm)
        kr_group_at_most(&r->web, "trim_least_mm", (geometry->web_max_nm - 1) / 2,
                         "two of them and a slit take part of the widest web");
}

static void need(struct station_reading *r, const char *name, uint16_t has, uint16_t needed, const char *why)
{
    static const char *const words[] = {"line_stopped", "knives_raised", "guards_closed", "air", "enable"};
    uint16_t missing = needed & (uint16_t)~has;
    for (int i = 0; i < 5; i++)
        if (missing >> i & 1 && kr_group_good(&r->permissives, name))
            kr_group_mistake(&r->permissives, name, "%s must be among them: %s", words[i], why);
}

/* The permissives that are at least needed to keep a healthy machine orderly. They are no safety function, and no
 * substitute for one. */
static void check_permissives(struct station_reading *r)
{
    const struct kr_station_config *station = &r->out->station;
    need(r, "drag", station->need_drag, KR_PERMIT_LINE_STOPPED | KR_PERMIT_KNIVES_RAISED,
         "a lowered knife is not dragged, nor through a moving web");
    need(r, "drag", station->need_drag, KR_PERMIT_ENABLE, "the positioner has to be enabled to move");
    need(r, "scan", station->need_scan, KR_PERMIT_ENABLE, "the positioner has to be enabled to move");
    need(r, "home", station->need_home, KR_PERMIT_ENABLE, "the positioner has to be enabled to move");
    if (!station->setup_mode_enforced && kr_group_good(&r->permissives, "setup_mode"))
        need(r, "jog", station->need_jog, KR_PERMIT_GUARDS_CLOSED,
             "or setup_mode states that the safety system enforces a mode for it");
    if (kr_group_good(&r->permissives, "access") && station->access == 0 && kr_group_good(&r->group, "scan_before") &&
        station->scan_policy == KR_SCAN_AFTER_ACCESS)
        kr_group_mistake(&r->permissives, "access",
                         "with scan_before = after_access it must be told when hands may have moved holders");
}

/* A PLC that is being programmed is silent for longer than motion may go on. */
static void check_heartbeat(struct station_reading *r)
{
    struct kr_station_config *station = &r->out->station;
    if (!kr_group_good(&r->group, "heartbeat_limit_ms") || !kr_group_good(&r->group, "control_limit_ms") ||
        station->control_limit_ms >= station->heartbeat_limit_ms)
        return;
    if (kr_group_at(&r->group, "control_limit_ms"))
        kr_group_at_least(&r->group, "control_limit_ms", station->heartbeat_limit_ms, "heartbeat_limit_ms");
    station->control_limit_ms = station->heartbeat_limit_ms;
}

/* Returns how many rails have this role; -1: not known. */
static int rails_of(const struct station_reading *r, enum kr_role role)
{
    int n = 0;
    for (uint16_t i = 0; i < r->n_rails; i++) {
        if (!kr_group_good(&r->rail[i].group, "role"))
            return -1;
        n += r->rail[i].settings.geometry.role == role;
    }
    return n;
}

static void check_roles(struct station_reading *r)
{
    int lower = rails_of(r, KR_LOWER);
    if (rails_of(r, KR_UPPER) == 0)
        kr_group_mistake(&r->rail[0].group, "role", "a station has at least one upper rail");
    if (lower < 0 || !kr_group_at(&r->group, "cut") || !kr_group_good(&r->group, "cut"))
        return;
    if (r->out->cut == KR_CUT_SHEAR && lower == 0)
        kr_group_mistake(&r->group, "cut", "a shear has a lower rail");
    if (r->out->cut == KR_CUT_SCORE && lower > 0)
        kr_group_mistake(&r->group, "cut", "the knives are pressed against a plain roll: there is no lower rail");
}

static bool is_shear(const struct station_reading *r)
{
    return kr_group_good(&r->group, "cut") && r->out->cut == KR_CUT_SHEAR && rails_of(r, KR_LOWER) > 0;
}

/* Returns how far the outermost cut that this rail's knives reach can be from the web's centre line. */
static int64_t reach_um(const struct station_reading *r, uint16_t index)
{
    const struct kr_rail_geometry *g = &r->rail[index].settings.geometry;
    int64_t centre_um = r->out->station.geometry.web_centre_um, offset_um = 0;
    for (uint16_t i = 0; i < g->n_holders; i++) {
        int64_t of_this_um = magnitude(r->out->holder[index][i].edge_offset_um);
        offset_um = of_this_um > offset_um ? of_this_um : offset_um;
    }
    int64_t left_um = centre_um - g->min_um, right_um = g->max_um - centre_um;
    return (left_um < right_um ? left_um : right_um) + offset_um;
}

/* The outermost cuts of the widest web are inside of its edges by the narrowest trims. Every rail of a station makes
 * these cuts. */
static void check_web_fits(struct station_reading *r)
{
    static const char *const needed[] = {"centre_mm", "widest_mm", "trim_least_mm", NULL};
    const struct kr_geometry *g = &r->out->station.geometry;
    r->web_fits = true;
    for (uint16_t i = 0; i < r->n_rails && r->web_fits && all_good(&r->web, needed); i++) {
        const struct kr_rail_geometry *rail = &r->rail[i].settings.geometry;
        bool centred = g->web_centre_um >= rail->min_um && g->web_centre_um <= rail->max_um;
        int64_t most_nm = 2000 * reach_um(r, i) + 2 * g->trim_min_nm;
        char why[128];
        if (!good_limits(&r->rail[i]) || !r->rail[i].holders_good || !centred || g->web_max_nm <= most_nm)
            continue;
        snprintf(why, sizeof why,
                 "the web is wider than rail %u: its knives reach that far on both sides of centre_mm, and two of "
                 "trim_least_mm",
                 i + 1u);
        kr_group_at_most(&r->web, "widest_mm", most_nm, why);
        r->web_fits = false;
    }
}

void kr_check_station(struct station_reading *r)
{
    check_deadband(r);
    check_windows(r);
    check_web(r);
    check_web_fits(r);
    check_permissives(r);
    check_heartbeat(r);
    check_roles(r);
}

/* ---- a rail ---------------------------------------------------------------------------------------------------- */

static void check_limits(struct station_reading *r, struct rail_reading *rail)
{
    const struct kr_rail_geometry *geometry = &rail->settings.geometry;
    if (!kr_group_good(&rail->group, "least_mm") || !kr_group_good(&rail->group, "most_mm"))
        return;
    if (geometry->min_um >= geometry->max_um) {
        kr_group_at_least(&rail->group, "most_mm", (int64_t)geometry->min_um + 1, "more than least_mm");
        return;
    }
    int32_t centre_um = r->out->station.geometry.web_centre_um;
    if (kr_group_good(&r->web, "centre_mm") && (centre_um < geometry->min_um || centre_um > geometry->max_um))
        kr_group_mistake(&r->web, "centre_mm", "it must lie within every rail's least_mm and most_mm");
}

/* A blade is lowered beside its counter-knife, which may be nearer or further by pair_mm, and is then closed by its
 * side stroke. */
static void check_clearance(struct station_reading *r, struct rail_reading *rail)
{
    static const char *const needed[] = {"side_clearance_mm", "blade_run_out_mm", "side_stroke_mm", NULL};
    int64_t pair_um = r->out->station.pair_window_um, clearance_um = magnitude(rail->settings.geometry.cut_side_um);
    int64_t least_um = pair_um + rail->settings.blade.run_out_um;
    int64_t most_um = rail->settings.blade.side_stroke_um - pair_um;
    char limit[32];
    if (!all_good(&rail->group, needed) || !kr_group_good(&r->placement, "pair_mm"))
        return;
    kr_length_text((int32_t)least_um, KR_LENGTH_MM, limit, sizeof limit);
    if (clearance_um < least_um)
        kr_group_mistake(&rail->group, "side_clearance_mm",
                         "at least %s either way: pair_mm and blade_run_out_mm; nearer, a blade may be lowered onto "
                         "its counter-knife",
                         limit);
    kr_length_text((int32_t)most_um, KR_LENGTH_MM, limit, sizeof limit);
    if (kr_group_at(&rail->group, "side_stroke_mm") && clearance_um > most_um)
        kr_group_mistake(
            &rail->group, "side_clearance_mm",
            "at most %s either way: side_stroke_mm less pair_mm; further, a blade may not reach its counter-knife",
            limit);
}

/* If no blade is closed by a side stroke, a side clearance is not meaningful. */
static void check_blades(struct station_reading *r, struct rail_reading *rail)
{
    static const char *const rows[] = {"side_clearance_mm", "blade_run_out_mm", "side_stroke_mm"};
    bool upper = rail->settings.geometry.role == KR_UPPER, shear = is_shear(r);
    if (!kr_group_good(&rail->group, "role") || rails_of(r, KR_LOWER) < 0)
        return;
    if (upper && shear)
        check_clearance(r, rail);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        bool given = kr_group_at(&rail->group, rows[i]) && kr_group_good(&rail->group, rows[i]);
        if (given && !upper)
            kr_group_mistake(&rail->group, rows[i], "it belongs to the upper rail");
        else if (given && !shear && kr_group_good(&r->group, "cut"))
            kr_group_mistake(&rail->group, rows[i], "it belongs to a shear, which has a lower rail");
    }
}

/* The plan's lower bound assumes that a carriage alone is at least as fast as one that drags a holder. */
static void check_drag(struct rail_reading *rail)
{
    const struct kr_rail_geometry *g = &rail->settings.geometry;
    const char *why = "a carriage alone is at least as quick as one that drags a holder";
    if (kr_group_good(&rail->carriage, "empty_speed_mm_per_s") &&
        kr_group_good(&rail->carriage, "drag_speed_mm_per_s") && g->drag.v_um_per_s > g->empty.v_um_per_s)
        kr_group_at_most(&rail->carriage, "drag_speed_mm_per_s", g->empty.v_um_per_s, why);
    if (kr_group_good(&rail->carriage, "empty_accel_mm_per_s2") &&
        kr_group_good(&rail->carriage, "drag_accel_mm_per_s2") && g->drag.a_um_per_s2 > g->empty.a_um_per_s2)
        kr_group_at_most(&rail->carriage, "drag_accel_mm_per_s2", g->empty.a_um_per_s2, why);
}

static void check_approach(struct rail_reading *rail)
{
    const struct kr_rail_geometry *geometry = &rail->settings.geometry;
    if (!kr_group_good(&rail->carriage, "approach") || !kr_group_good(&rail->carriage, "overtravel_mm"))
        return;
    if (geometry->approach == 0 && geometry->overtravel_um > 0)
        kr_group_at_most(&rail->carriage, "overtravel_mm", 0, "approach is either way");
    if (geometry->approach != 0 && geometry->overtravel_um == 0)
        kr_group_at_least(&rail->carriage, "overtravel_mm", 1, "the approach from one side takes up backlash with it");
    if (good_limits(rail) && geometry->overtravel_um > (geometry->max_um - geometry->min_um) / 4)
        kr_group_at_most(&rail->carriage, "overtravel_mm", (geometry->max_um - geometry->min_um) / 4,
                         "a quarter of the rail");
}

/* A frame that has an expansion coefficient moves a little against the drive's positions. */
static void check_expansion(struct rail_reading *rail)
{
    const struct kr_carriage_config *carriage = &rail->settings.carriage;
    int32_t position_um, limit_um;
    if (carriage->expansion_ppb == 0 || !kr_group_good(&rail->carriage, "frame_expansion_ppm") ||
        !kr_group_good(&rail->carriage, "park_mm") ||
        kr_carriage_reaches(&rail->settings.geometry, carriage, &position_um, &limit_um))
        return;
    const char *why = "the carriage has to get there while the frame is at -20 to 60 C (frame_expansion_ppm)";
    if (limit_um == carriage->travel_min_um)
        kr_group_at_most(&rail->carriage, "travel_least_mm", position_um, why);
    else
        kr_group_at_least(&rail->carriage, "travel_most_mm", position_um, why);
}

/* A station has one frame, and so one coefficient. Upper and lower knives that were counted by different ones would be
 * set up apart from each other. */
static void check_one_coefficient(struct station_reading *r, uint16_t index)
{
    struct rail_reading *first = &r->rail[0], *rail = &r->rail[index];
    if (!kr_group_good(&first->carriage, "frame_expansion_ppm") ||
        !kr_group_good(&rail->carriage, "frame_expansion_ppm"))
        return;
    if (rail->settings.carriage.expansion_ppb != first->settings.carriage.expansion_ppb)
        kr_group_mistake(&rail->carriage, "frame_expansion_ppm",
                         "rail 1 has another one; all rails of a station stand on one frame, so give it once, in the "
                         "station's group carriage");
}

/* The carriage must reach every holder. In a scan, it must carry the switch past every flag, including the run-up. */
static void check_travel(struct station_reading *r, uint16_t index)
{
    static const char *const needed[] = {
        "travel_least_mm",     "travel_most_mm",        "switch_offset_mm", "flag_width_mm",
        "scan_speed_mm_per_s", "empty_accel_mm_per_s2", "overtravel_mm",    NULL};
    struct rail_reading *rail = &r->rail[index];
    const struct kr_rail_geometry *geometry = &rail->settings.geometry;
    const struct kr_carriage_config *carriage = &rail->settings.carriage;
    if (!good_limits(rail) || !all_good(&rail->carriage, needed))
        return;
    int32_t from_um, to_um;
    int32_t least_um = kr_frame_position_um(&carriage->frame, geometry->min_um - geometry->overtravel_um);
    int32_t most_um = kr_frame_position_um(&carriage->frame, geometry->max_um + geometry->overtravel_um);
    kr_scan_range(&r->out->station.geometry.rail[index], &r->out->station.carriage[index], &from_um, &to_um);
    if (carriage->travel_min_um > least_um)
        kr_group_at_most(&rail->carriage, "travel_least_mm", least_um,
                         "the pin has to reach the rail's least_mm, less the overtravel");
    if (carriage->travel_max_um < most_um)
        kr_group_at_least(&rail->carriage, "travel_most_mm", most_um,
                          "the pin has to reach the rail's most_mm, and the overtravel");
    if (carriage->travel_min_um > from_um)
        kr_group_at_most(&rail->carriage, "travel_least_mm", from_um,
                         "a scan starts there: switch offset, flag and run-up");
    if (carriage->travel_max_um < to_um)
        kr_group_at_least(&rail->carriage, "travel_most_mm", to_um,
                          "a scan ends there: switch offset, flag and run-up");
    if (carriage->travel_min_um <= from_um && carriage->travel_max_um >= to_um)
        check_expansion(rail);
}

/* The parking position must be clear of the widest web, with every shift. */
static void check_park(struct station_reading *r, struct rail_reading *rail)
{
    static const char *const needed[] = {"park_mm", "park_window_mm", "travel_least_mm", "travel_most_mm", NULL};
    const struct kr_geometry *geometry = &r->out->station.geometry;
    const struct kr_carriage_config *carriage = &rail->settings.carriage;
    if (!all_good(&rail->carriage, needed))
        return;
    int32_t least_um = kr_frame_place_um(&carriage->frame, carriage->travel_min_um);
    int32_t most_um = kr_frame_place_um(&carriage->frame, carriage->travel_max_um);
    if (carriage->park_um < least_um)
        kr_group_at_least(&rail->carriage, "park_mm", least_um, "travel_least_mm");
    if (carriage->park_um > most_um)
        kr_group_at_most(&rail->carriage, "park_mm", most_um, "travel_most_mm");
    if (!r->web_fits || !kr_group_good(&r->web, "centre_mm") || !kr_group_good(&r->web, "widest_mm") ||
        !kr_group_good(&r->web, "shift_most_mm"))
        return;
    int64_t half_um = geometry->web_max_nm / 2000 + geometry->shift_max_um + carriage->park_window_um;
    if (magnitude((int64_t)carriage->park_um - geometry->web_centre_um) >= half_um)
        return;
    char text[2][32];
    kr_length_text((int32_t)(geometry->web_centre_um - half_um), KR_LENGTH_MM, text[0], sizeof text[0]);
    kr_length_text((int32_t)(geometry->web_centre_um + half_um), KR_LENGTH_MM, text[1], sizeof text[1]);
    kr_group_mistake(&rail->carriage, "park_mm",
                     "at most %s or at least %s: clear of the widest web by park_window_mm, its shift included",
                     text[0], text[1]);
}

/* The fast speed of a scan is higher than its slow speed, and not higher than that of the empty carriage. The station
 * works out from setpoint_ms when it must ask for the slow speed again. Nothing goes fast while the drive's image is
 * older than that, and over a wire its age may be more than one cycle. */
static void check_fast_scan(const struct station_reading *r, struct rail_reading *rail)
{
    const struct kr_carriage_config *carriage = &rail->settings.carriage;
    const struct kr_rail_geometry *geometry = &rail->settings.geometry;
    int32_t fast = carriage->scan_fast_um_per_s, least_us = 2 * r->period_us;
    if (fast == 0 || !kr_group_good(&rail->carriage, "scan_fast_mm_per_s"))
        return;
    if (fast <= carriage->scan_speed_um_per_s)
        kr_group_at_least(&rail->carriage, "scan_fast_mm_per_s", carriage->scan_speed_um_per_s + 1,
                          "faster than scan_speed_mm_per_s; or 0: a scan has one speed");
    if (kr_group_good(&rail->carriage, "empty_speed_mm_per_s") && fast > geometry->empty.v_um_per_s)
        kr_group_at_most(&rail->carriage, "scan_fast_mm_per_s", geometry->empty.v_um_per_s, "empty_speed_mm_per_s");
    if (r->period_good && kr_group_good(&rail->carriage, "setpoint_ms") && geometry->setpoint_us < least_us)
        kr_group_at_least(
            &rail->carriage, "setpoint_ms", least_us,
            "two cycles (period_ms): by it a fast scan is told in time to go slowly again (scan_fast_mm_per_s)");
}

/* While answers come in time, the station gets at most one edge of a flag in a cycle: the switch must stay on every
 * flag, and between two flags, for long enough. */
static void check_scan(struct station_reading *r, struct rail_reading *rail, int32_t nearest_um)
{
    const struct kr_carriage_config *carriage = &rail->settings.carriage;
    const struct kr_rail_geometry *geometry = &rail->settings.geometry;
    if (!kr_group_good(&rail->carriage, "flag_width_mm") || !kr_group_good(&rail->carriage, "scan_speed_mm_per_s"))
        return;
    if (kr_group_good(&rail->carriage, "empty_speed_mm_per_s") &&
        carriage->scan_speed_um_per_s > geometry->empty.v_um_per_s)
        kr_group_at_most(&rail->carriage, "scan_speed_mm_per_s", geometry->empty.v_um_per_s, "empty_speed_mm_per_s");
    check_fast_scan(r, rail);
    if (!r->period_good)
        return;
    int64_t span_us = (int64_t)SWITCH_CYCLES * r->period_us;
    int64_t flag_limit = carriage->flag_width_um * (int64_t)1000000 / span_us;
    if (carriage->scan_speed_um_per_s > flag_limit)
        kr_group_at_most(&rail->carriage, "scan_speed_mm_per_s", flag_limit,
                         "the switch must dwell on a flag for 3 cycles (flag_width_mm, period_ms)");
    if (nearest_um == 0) /* there is only one holder, or the spacing is not known */
        return;
    int64_t gap_limit = (nearest_um - carriage->flag_width_um) * (int64_t)1000000 / span_us;
    if (nearest_um <= carriage->flag_width_um)
        kr_group_at_most(&rail->carriage, "flag_width_mm", nearest_um - 1,
                         "less than the nearest spacing on this rail");
    else if (carriage->scan_speed_um_per_s > gap_limit)
        kr_group_at_most(&rail->carriage, "scan_speed_mm_per_s", gap_limit,
                         "the switch must see the gap between two flags for 3 cycles (the sizes' spacing_mm, "
                         "flag_width_mm, period_ms)");
}

static void check_displaced(struct rail_reading *rail, int32_t nearest_um)
{
    if (nearest_um > 0 && kr_group_good(&rail->carriage, "displaced_mm") &&
        rail->settings.carriage.displaced_um > nearest_um / 2)
        kr_group_at_most(&rail->carriage, "displaced_mm", nearest_um / 2,
                         "half of the nearest spacing on this rail, so that a holder is not taken for its neighbour");
}

/* A time limit must include the cycles that are needed to see the proof. */
static void check_time_limits(struct station_reading *r, struct rail_reading *rail)
{
    static const char *const rows[] = {"enable_limit_ms", "setpoint_limit_ms", "pin_limit_ms",  "brake_limit_ms",
                                       "clamp_limit_ms",  "home_limit_ms",     "move_margin_ms"};
    const struct kr_carriage_config *c = &rail->settings.carriage;
    const int32_t limit_ms[] = {c->enable_limit_ms, c->setpoint_limit_ms, c->pin_limit_ms,  c->brake_limit_ms,
                                c->clamp_limit_ms,  c->home_limit_ms,     c->move_margin_ms};
    int32_t least_ms = 5 * r->period_us / 1000;
    for (size_t i = 0; r->period_good && i < sizeof rows / sizeof rows[0]; i++)
        if (kr_group_good(&rail->carriage, rows[i]) && limit_ms[i] < least_ms)
            kr_group_at_least(&rail->carriage, rows[i], least_ms, "five cycles (period_ms)");
}

/* Returns the smallest spacing of two neighbours on this rail; 0: there are fewer than two holders, or it is not
 * known. */
static int32_t nearest_spacing_um(const struct station_reading *r, uint16_t index)
{
    const struct rail_reading *rail = &r->rail[index];
    int32_t nearest_um = 0;
    if (!rail->holders_good)
        return 0;
    for (uint16_t i = 1; i < rail->settings.geometry.n_holders; i++) {
        const struct kr_holder_data *h = &r->out->holder[index][i];
        int32_t spacing_um = kr_spacing_um(&r->out->station.geometry, h[-1].holder_size, h->holder_size);
        if (nearest_um == 0 || spacing_um < nearest_um)
            nearest_um = spacing_um;
    }
    return nearest_um;
}

void kr_check_rail(struct station_reading *r, uint16_t index)
{
    struct rail_reading *rail = &r->rail[index];
    int32_t nearest_um = nearest_spacing_um(r, index);
    check_limits(r, rail);
    check_blades(r, rail);
    check_drag(rail);
    check_approach(rail);
    check_one_coefficient(r, index);
    check_travel(r, index);
    check_park(r, rail);
    check_scan(r, rail, nearest_um);
    check_displaced(rail, nearest_um);
    check_time_limits(r, rail);
}
