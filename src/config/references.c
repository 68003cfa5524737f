/* Reads a rail's reference flags, and checks that a scan can pass them and distinguish them. */
#include <stdarg.h>
#include <stdio.h>

#include "reading.h"

/* The cycles for which the switch must stay on each flag, and between two flags, as with holders. */
#define SWITCH_CYCLES 3

#define SETUP_SPEED_LEAST_UM_PER_S 1000 /* no lower one is allowed */

static bool read_reference(struct station_reading *r, const config_setting_t *at, struct kr_reference *reference)
{
    struct kr_group group;
    char path[KR_SETTING_PATH_MAX];
    if (!config_setting_is_group(at)) {
        kr_setting_path(at, NULL, path);
        kr_mistake(r->errors, at, path, "a reference is a group { }");
        return false;
    }
    kr_group_read(&group, r->errors, &kr_reference_table, at, NULL, reference);
    kr_group_require(&group);
    return kr_group_good(&group, "at_mm") && kr_group_good(&group, "width_mm");
}

void kr_references_read(struct station_reading *r, struct rail_reading *rail)
{
    struct kr_references *references = &rail->settings.carriage.references;
    const struct kr_rail_geometry *geometry = &rail->settings.geometry;
    const config_setting_t *list = kr_group_at(&rail->frame, "references");
    rail->references_good = list && kr_group_good(&rail->frame, "references");
    if (!rail->references_good)
        return;
    int n = config_setting_length(list);
    if (n > KR_REFERENCES_MAX) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(list, NULL, path);
        kr_mistake(r->errors, list, path, "there are %d references; up to %d are possible", n, KR_REFERENCES_MAX);
        rail->references_good = false;
    }
    for (int i = 0; i < n && i < KR_REFERENCES_MAX; i++) {
        struct kr_reference *reference = &references->flag[references->n++];
        rail->references_good =
            read_reference(r, config_setting_get_elem(list, (unsigned)i), reference) && rail->references_good;
        references->n_low = (uint16_t)(references->n_low + (reference->at_um < geometry->min_um));
    }
}

/* ---- what a scan can tell apart -------------------------------------------------------------------------------- */

__attribute__((format(printf, 3, 4))) static void refuse(struct station_reading *r, const struct rail_reading *rail,
                                                         const char *format, ...)
{
    const config_setting_t *list = kr_group_at(&rail->frame, "references");
    char path[KR_SETTING_PATH_MAX], text[300];
    va_list arg;
    va_start(arg, format);
    vsnprintf(text, sizeof text, format, arg);
    va_end(arg);
    kr_setting_path(list, NULL, path);
    kr_mistake(r->errors, list, path, "%s", text);
}

/* Returns the distance that the switch travels in these cycles. */
static int32_t dwell_um(const struct station_reading *r, const struct rail_reading *rail)
{
    return (int32_t)((int64_t)SWITCH_CYCLES * r->period_us * rail->settings.carriage.scan_speed_um_per_s / 1000000);
}

/* Even with the greatest shift that is still corrected, a holder's flag must not be where a reference is expected. */
static bool is_clear(struct station_reading *r, const struct rail_reading *rail, const struct kr_reference *flag)
{
    const struct kr_carriage_config *carriage = &rail->settings.carriage;
    const struct kr_rail_geometry *geometry = &rail->settings.geometry;
    int32_t clear_um =
        (flag->width_um + carriage->flag_width_um) / 2 + carriage->references.window_um + dwell_um(r, rail);
    int32_t low_um = geometry->min_um - clear_um, high_um = geometry->max_um + clear_um;
    char text[3][32];
    if (carriage->references.own_switch || flag->at_um <= low_um || flag->at_um >= high_um)
        return true;
    kr_length_text(flag->at_um, KR_LENGTH_MM, text[0], sizeof text[0]);
    kr_length_text(low_um, KR_LENGTH_MM, text[1], sizeof text[1]);
    kr_length_text(high_um, KR_LENGTH_MM, text[2], sizeof text[2]);
    refuse(r, rail,
           "a reference at %s; at most %s or at least %s: beyond the holders (least_mm, most_mm), so far that no "
           "holder's flag can be taken for it; or with a switch of their own (reference_switch)",
           text[0], text[1], text[2]);
    return false;
}

static bool dwells(struct station_reading *r, const struct rail_reading *rail, uint16_t i)
{
    const struct kr_reference *flag = &rail->settings.carriage.references.flag[i];
    int32_t least_um = dwell_um(r, rail);
    if (flag->width_um < least_um) {
        refuse(r, rail, "reference %u is %d um wide; the switch must dwell on it for 3 cycles: %d um", i + 1u,
               (int)flag->width_um, (int)least_um);
        return false;
    }
    int64_t gap_um =
        i == 0 ? INT32_MAX : (int64_t)flag->at_um - flag->width_um / 2 - flag[-1].at_um - flag[-1].width_um / 2;
    if (gap_um >= least_um + 1)
        return true;
    refuse(r, rail,
           "reference %u: places have to grow, and the switch must see the gap before it for 3 cycles: %d um, here "
           "%lld um",
           i + 1u, (int)least_um + 1, (long long)gap_um);
    return false;
}

static bool all_read(const struct station_reading *r, const struct rail_reading *rail)
{
    static const char *const needed[] = {"switch_offset_mm", "flag_width_mm", "scan_speed_mm_per_s"};
    bool good = rail->references_good && r->period_good && kr_group_good(&rail->group, "least_mm") &&
                kr_group_good(&rail->group, "most_mm") && kr_group_good(&rail->frame, "reference_window_mm");
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        good = good && kr_group_good(&rail->carriage, needed[i]);
    return good;
}

/* Job 10 comes to a stand behind the last reference, within the travel. */
static void check_find(struct station_reading *r, struct rail_reading *rail)
{
    static const char *const needed[] = {"travel_most_mm", "empty_speed_mm_per_s", "empty_accel_mm_per_s2",
                                         "setup_speed_mm_per_s"};
    const struct kr_carriage_config *carriage = &rail->settings.carriage;
    const struct kr_rail_geometry *geometry = &rail->settings.geometry;
    bool good = r->sizes_good && kr_find_is_possible(&r->out->station.geometry, &carriage->references);
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        good = good && kr_group_good(&rail->carriage, needed[i]);
    if (!good ||
        kr_find_way_um(geometry, carriage, r->period_us, carriage->setup_speed_um_per_s) <= carriage->travel_max_um)
        return;
    int32_t most = 0;
    for (int32_t step = 1 << 30; step > 0; step /= 2)
        if (most <= carriage->setup_speed_um_per_s - step &&
            kr_find_way_um(geometry, carriage, r->period_us, most + step) <= carriage->travel_max_um)
            most += step;
    if (most >= SETUP_SPEED_LEAST_UM_PER_S)
        kr_group_at_most(&rail->carriage, "setup_speed_mm_per_s", most,
                         "job 10 has to stop behind the last reference, within travel_most_mm");
    else
        kr_group_at_least(&rail->carriage, "travel_most_mm",
                          kr_find_way_um(geometry, carriage, r->period_us, carriage->setup_speed_um_per_s),
                          "job 10 stops there behind the last reference, from setup_speed_mm_per_s");
}

void kr_check_references(struct station_reading *r, uint16_t index)
{
    struct rail_reading *rail = &r->rail[index];
    const struct kr_references *own = &rail->settings.carriage.references;
    bool good = all_read(r, rail);
    if (kr_group_good(&rail->frame, "reference_step_mm") && kr_group_good(&rail->frame, "reference_window_mm") &&
        own->step_um > own->window_um)
        kr_group_at_most(&rail->frame, "reference_step_mm", own->window_um, "reference_window_mm");
    for (uint16_t i = 0; good && i < own->n; i++)
        good = is_clear(r, rail, &own->flag[i]) && dwells(r, rail, i);
    if (good)
        check_find(r, rail);
    /* Two references always have the same distance; their places distinguish them. */
    if (good && own->n > 2 && kr_patterns_alike(own, own, true))
        refuse(r, rail,
               "their distances are the same from either end: a reversed axis would not be noticed; they have to "
               "differ by more than 1.5 mm");
    for (uint16_t i = 0; good && i < index; i++)
        if (r->rail[i].references_good && kr_patterns_alike(own, &r->rail[i].settings.carriage.references, false))
            refuse(r, rail,
                   "their distances are those of rail %u: exchanged drives would not be noticed; they have to differ "
                   "by more than 1.5 mm",
                   i + 1u);
}
