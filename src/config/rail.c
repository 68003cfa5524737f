#include <string.h>

#include "reading.h"

static const int8_t approach_of_word[] = {0, 1, -1}; /* either, growing, falling */

void kr_rail_lay(const struct rail_settings *settings, uint16_t rail, struct kr_config_station *out)
{
    struct kr_rail_geometry *geometry = &out->station.geometry.rail[rail];
    *geometry = settings->geometry;
    geometry->approach = approach_of_word[settings->approach_word];
    out->station.carriage[rail] = settings->carriage;
    out->blade[rail] = settings->blade;
}

void kr_rail_view(const struct kr_config_station *station, uint16_t rail, struct rail_settings *settings)
{
    memset(settings, 0, sizeof *settings);
    settings->geometry = station->station.geometry.rail[rail];
    settings->carriage = station->station.carriage[rail];
    settings->blade = station->blade[rail];
    while (approach_of_word[settings->approach_word] != settings->geometry.approach)
        settings->approach_word++;
}

void kr_holder_view(const struct kr_config_station *station, const struct kr_holder_data *holder,
                    struct holder_settings *settings)
{
    memset(settings, 0, sizeof *settings);
    if (holder->holder_size <= station->station.geometry.n_sizes)
        memcpy(settings->size, station->station.size_name[holder->holder_size - 1], sizeof settings->size);
    else /* the place may be in a book */
        snprintf(settings->size, sizeof settings->size, "%u, not listed", holder->holder_size);
    settings->data = *holder;
    settings->first_um = holder->known == KR_UNKNOWN ? INT32_MIN : holder->position_um;
    settings->pitch_um = INT32_MIN; /* the places of the other holders contain the pitch */
    settings->count = 1;
}

/* Makes the holders of one entry of the list: `count` equal holders, the first of them at first_mm. */
static void lay_down(struct station_reading *r, uint16_t rail, const struct holder_settings *entry,
                     struct kr_group *group)
{
    struct kr_rail_geometry *geometry = &r->rail[rail].settings.geometry;
    bool placed = kr_group_at(group, "first_mm") != NULL;
    for (int i = 0; i < entry->count; i++) {
        uint16_t index = geometry->n_holders++;
        struct kr_holder_data *holder = &r->out->holder[rail][index];
        *holder = entry->data;
        holder->known = placed ? KR_REMEMBERED : KR_UNKNOWN;
        holder->position_um = placed ? entry->first_um + i * entry->pitch_um : 0;
        r->rail[rail].holder_at[index] = group->home;
    }
}

static bool entry_good(const struct kr_group *group)
{
    for (size_t i = 0; i < group->table->n; i++)
        if (group->bad[i])
            return false;
    return true;
}

static void check_pitch(struct kr_group *group, const struct holder_settings *entry)
{
    bool first = kr_group_at(group, "first_mm"), pitch = kr_group_at(group, "pitch_mm");
    if (pitch && !first)
        kr_group_mistake(group, "pitch_mm", "first_mm is needed, too");
    else if (first && !pitch && entry->count > 1)
        kr_group_mistake(group, "first_mm", "%d holders need pitch_mm beside it", entry->count);
}

static void read_holder_entry(struct station_reading *r, uint16_t rail, const config_setting_t *at)
{
    struct rail_reading *reading = &r->rail[rail];
    struct holder_settings entry = {0};
    struct kr_group group;
    char path[KR_SETTING_PATH_MAX];
    kr_setting_path(at, NULL, path);
    if (!config_setting_is_group(at)) {
        kr_mistake(r->errors, at, path, "a holder is a group { }");
        reading->holders_good = false;
        return;
    }
    kr_group_read(&group, r->errors, &kr_holder_table, at, NULL, &entry);
    kr_group_require(&group);
    check_pitch(&group, &entry);
    bool size_good = kr_size_find(r, &group, entry.size, &entry.data.holder_size);
    int most = KR_HOLDERS_MAX - reading->settings.geometry.n_holders;
    if (kr_group_good(&group, "count") && entry.count > most) {
        kr_mistake(r->errors, at, path, "these are %d more holders; a rail has room for %d, of which %d are left",
                   entry.count, KR_HOLDERS_MAX, most);
        entry.count = (uint8_t)most;
        reading->holders_good = false;
    }
    reading->holders_good = reading->holders_good && size_good && entry_good(&group);
    lay_down(r, rail, &entry, &group);
}

static void read_holders(struct station_reading *r, uint16_t rail)
{
    struct rail_reading *reading = &r->rail[rail];
    const config_setting_t *list = kr_group_at(&reading->group, "holders");
    reading->holders_good = list && kr_group_good(&reading->group, "holders");
    if (!reading->holders_good)
        return;
    char path[KR_SETTING_PATH_MAX];
    kr_setting_path(list, NULL, path);
    if (config_setting_length(list) == 0) {
        kr_mistake(r->errors, list, path, "there are no holders; 1 to %d are possible", KR_HOLDERS_MAX);
        reading->holders_good = false;
    }
    for (int i = 0; i < config_setting_length(list); i++)
        read_holder_entry(r, rail, config_setting_get_elem(list, (unsigned)i));
}

static bool read_point(struct station_reading *r, const config_setting_t *at, struct kr_frame_point *point)
{
    struct kr_group group;
    char path[KR_SETTING_PATH_MAX];
    if (!config_setting_is_group(at)) {
        kr_setting_path(at, NULL, path);
        kr_mistake(r->errors, at, path, "a point is a group { }");
        return false;
    }
    kr_group_read(&group, r->errors, &kr_point_table, at, NULL, point);
    kr_group_require(&group);
    return entry_good(&group);
}

/* If the map from positions to places falls, or nearly falls, it can't be inverted. */
static void check_table(struct station_reading *r, const config_setting_t *list, const struct kr_frame *frame)
{
    char path[KR_SETTING_PATH_MAX];
    uint16_t bad = kr_frame_bad_point(frame);
    if (bad == 0)
        return;
    const config_setting_t *at = config_setting_get_elem(list, bad - 1u);
    kr_setting_path(at, NULL, path);
    kr_mistake(r->errors, at, path,
               "at_mm has to grow from point to point, and error_mm to change by at most a tenth of that way");
}

static void read_table(struct station_reading *r, struct rail_reading *reading)
{
    struct kr_frame *frame = &reading->settings.carriage.frame;
    const config_setting_t *list = kr_group_at(&reading->frame, "table");
    if (!list || !kr_group_good(&reading->frame, "table"))
        return;
    int n = config_setting_length(list);
    bool good = n <= KR_FRAME_POINTS_MAX;
    if (!good) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(list, NULL, path);
        kr_mistake(r->errors, list, path, "there are %d points; up to %d are possible", n, KR_FRAME_POINTS_MAX);
    }
    for (int i = 0; i < n && i < KR_FRAME_POINTS_MAX; i++)
        good = read_point(r, config_setting_get_elem(list, (unsigned)i), &frame->point[frame->n_points++]) && good;
    if (good)
        check_table(r, list, frame);
}

/* The station's group `carriage` applies to every rail; the rail's own group overrides it. */
static void read_layers(struct station_reading *r, struct rail_reading *reading, const config_setting_t *at)
{
    kr_group_read(&reading->carriage, r->errors, &kr_carriage_table, at, "carriage", &reading->settings);
    kr_group_inherit(&reading->carriage, &r->carriage);
    kr_group_require(&reading->carriage);
    kr_group_read(&reading->simulated, r->errors, &kr_physics_table, at, "simulated", &reading->machine);
    kr_group_inherit(&reading->simulated, &r->simulated);
    kr_drive_read(&reading->drive, r->errors, at, &r->drive);
}

void kr_rail_read(struct station_reading *r, uint16_t rail, const config_setting_t *at)
{
    struct rail_reading *reading = &r->rail[rail];
    if (!config_setting_is_group(at)) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(at, NULL, path);
        kr_mistake(r->errors, at, path, "a rail is a group { }");
        r->rails_good = false;
        return;
    }
    memset(&reading->settings, 0, sizeof reading->settings);
    kr_group_read(&reading->group, r->errors, &kr_rail_table, at, NULL, &reading->settings);
    kr_group_require(&reading->group);
    read_layers(r, reading, at);
    kr_group_read(&reading->frame, r->errors, &kr_frame_table, at, "frame", &reading->settings);
    read_table(r, reading);
    kr_references_read(r, reading);
    read_holders(r, rail);
    kr_rail_lay(&reading->settings, rail, r->out);
    reading->settings.geometry = r->out->station.geometry.rail[rail];
}
