/* Reads the list `sizes` of a station, and finds the sizes that holders name. */
#include <stdio.h>
#include <string.h>

#include "kniferail/suggest.h"
#include "reading.h"

/* A simulated body is narrower than its spacing by this, unless its width is given. */
#define BODY_LESS_UM 400

void kr_size_view(const struct kr_config_station *station, uint16_t index, struct size_settings *settings)
{
    memset(settings, 0, sizeof *settings);
    memcpy(settings->name, station->station.size_name[index], sizeof settings->name);
    settings->spacing_um = station->station.geometry.size_spacing_um[index];
    settings->body_um = station->body_um[index];
}

void kr_size_lay(const struct size_settings *settings, uint16_t index, struct kr_config_station *station)
{
    memcpy(station->station.size_name[index], settings->name, sizeof settings->name);
    station->station.geometry.size_spacing_um[index] = settings->spacing_um;
    station->body_um[index] = settings->body_um;
}

uint16_t kr_config_size_named(const struct kr_config_station *station, const char *name)
{
    for (uint16_t i = 0; i < station->station.geometry.n_sizes; i++)
        if (strcmp(station->station.size_name[i], name) == 0)
            return (uint16_t)(i + 1);
    return 0;
}

/* Commands that ask for a size accept its number, so a name of digits alone would be taken for a number. */
static bool check_name(struct kr_group *group, const struct kr_config_station *station, const char *name)
{
    if (!kr_group_good(group, "name"))
        return false;
    bool digits = name[strspn(name, "0123456789")] == '\0', twice = kr_config_size_named(station, name) > 0;
    if (digits)
        kr_group_mistake(group, "name", "it needs more than digits: digits alone are the size's number in the list");
    else if (twice)
        kr_group_mistake(group, "name", "another size of this station already has this name");
    return !digits && !twice;
}

static bool check_body(struct kr_group *group, struct size_settings *size)
{
    if (!kr_group_good(group, "spacing_mm") || !kr_group_good(group, "body_mm"))
        return false;
    if (!kr_group_at(group, "body_mm"))
        size->body_um = size->spacing_um - BODY_LESS_UM;
    if (size->body_um < size->spacing_um)
        return true;
    kr_group_at_most(group, "body_mm", size->spacing_um - 1, "less than its spacing_mm");
    return false;
}

static bool read_size(struct station_reading *r, uint16_t index, const config_setting_t *at)
{
    struct kr_group group;
    struct size_settings size = {.body_um = 0};
    if (!config_setting_is_group(at)) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(at, NULL, path);
        kr_mistake(r->errors, at, path, "a size is a group { }");
        return false;
    }
    kr_group_read(&group, r->errors, &kr_size_table, at, NULL, &size);
    kr_group_require(&group);
    bool name_good = check_name(&group, r->out, size.name);
    bool body_good = check_body(&group, &size);
    kr_size_lay(&size, index, r->out);
    r->out->station.geometry.n_sizes = (uint16_t)(index + 1);
    return name_good && body_good;
}

void kr_sizes_read(struct station_reading *r)
{
    const config_setting_t *list = kr_group_at(&r->group, "sizes");
    if (!list || !kr_group_good(&r->group, "sizes"))
        return;
    int n = config_setting_length(list);
    r->sizes_good = n >= 1 && n <= KR_SIZES_MAX;
    if (!r->sizes_good) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(list, NULL, path);
        kr_mistake(r->errors, list, path, "there are %d sizes; 1 to %d are possible", n, KR_SIZES_MAX);
    }
    for (int i = 0; i < n && i < KR_SIZES_MAX; i++)
        if (!read_size(r, (uint16_t)i, config_setting_get_elem(list, (unsigned)i)))
            r->sizes_good = false;
}

static void tell_unknown(const struct station_reading *r, struct kr_group *group, const char *name)
{
    const char *names[KR_SIZES_MAX];
    char all[KR_SIZES_MAX * (KR_SIZE_NAME_MAX + 4)] = "";
    uint16_t n = r->out->station.geometry.n_sizes;
    for (uint16_t i = 0; i < n; i++) {
        names[i] = r->out->station.size_name[i];
        size_t end = strlen(all);
        snprintf(all + end, sizeof all - end, "%s\"%s\"", i ? ", " : "", names[i]);
    }
    const char *near = kr_suggest(name, names, n);
    if (near)
        kr_group_mistake(group, "size", "the station's sizes have no such name; did you mean \"%s\"?", near);
    else
        kr_group_mistake(group, "size", "the station's sizes have no such name; they are %s", all);
}

bool kr_size_find(const struct station_reading *r, struct kr_group *group, const char *name, uint8_t *size)
{
    uint16_t number = kr_config_size_named(r->out, name);
    *size = (uint8_t)(number > 0 ? number : 1);
    if (!r->sizes_good || !kr_group_good(group, "size"))
        return false;
    if (number == 0)
        tell_unknown(r, group, name);
    return number > 0;
}
