#include "kniferail/config.h"

#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "reading.h"
#include "source.h"

/* ---- all stations together ------------------------------------------------------------------------------------- */

static void tell_twice(struct station_reading *second, const char *name, const config_setting_t *first)
{
    assert(first);
    kr_group_mistake(&second->group, name, "the station in line %u already has it", config_setting_source_line(first));
}

static void check_apart(struct station_reading *readings, uint16_t n)
{
    for (uint16_t i = 1; i < n; i++) {
        struct station_reading *a = &readings[i];
        for (uint16_t k = 0; k < i; k++) {
            struct station_reading *b = &readings[k];
            if (a->out->unit_id == b->out->unit_id && a->out->unit_id)
                tell_twice(a, "unit_id", b->group.home);
            if (strcmp(a->out->station.name, b->out->station.name) == 0 && a->out->station.name[0])
                tell_twice(a, "name", b->group.home);
            kr_drives_apart(a, b);
        }
    }
}

/* Returns the number of stations; 0 if it is not possible. */
static uint16_t read_stations(struct kr_group *daemon, struct kr_config *config, struct station_reading *readings)
{
    const config_setting_t *list = kr_group_at(daemon, "stations");
    if (!list || !kr_group_good(daemon, "stations"))
        return 0;
    int n = config_setting_length(list);
    if (n < 1 || n > KR_STATIONS_MAX) {
        kr_mistake(daemon->errors, list, "stations", "there are %d stations; 1 to %d are possible", n, KR_STATIONS_MAX);
        return 0;
    }
    for (int i = 0; i < n; i++) {
        const config_setting_t *at = config_setting_get_elem(list, (unsigned)i);
        struct station_reading *reading = &readings[i];
        reading->period_us = 1000 * config->period_ms;
        reading->period_good = kr_group_good(daemon, "period_ms");
        reading->out = &config->station[i];
        if (config_setting_is_group(at)) {
            kr_station_read(reading, daemon->errors, at, &config->station[i]);
            continue;
        }
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(at, NULL, path);
        kr_mistake(daemon->errors, at, path, "a station is a group { }");
    }
    check_apart(readings, (uint16_t)n);
    return (uint16_t)n;
}

static void find_default(struct kr_group *face, const struct face_settings *settings, struct kr_config *config)
{
    config->face.default_station = config->n_stations;
    if (!kr_group_at(face, "default_station") || !kr_group_good(face, "default_station"))
        return;
    int index = kr_config_station_named(config, settings->default_station);
    if (index >= 0)
        config->face.default_station = (uint16_t)index;
    else
        kr_group_mistake(face, "default_station", "no station has this name");
}

static void find_stations_of_rules(struct kr_config_errors *errors, const struct face_settings *settings,
                                   struct kr_config *config)
{
    for (uint16_t i = 0; i < config->face.n_rules; i++) {
        const config_setting_t *at = settings->rule_at[i];
        int index = at ? kr_config_station_named(config, settings->rule_station[i]) : -1;
        config->face.rule[i].station_number = (uint16_t)(index + 1);
        if (!at || index >= 0)
            continue;
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(at, NULL, path);
        kr_mistake(errors, at, path, "\"%s\"; no station has this name", settings->rule_station[i]);
    }
}

static void read_root(const config_setting_t *root, struct kr_config *config, struct kr_config_errors *errors,
                      struct station_reading *readings)
{
    struct kr_group daemon, face;
    struct face_settings settings;
    memset(&settings, 0, sizeof settings);
    kr_group_read(&daemon, errors, &kr_daemon_table, root, NULL, config);
    kr_face_read(&face, errors, root, &settings);
    kr_group_require(&daemon);
    config->face = settings.face;
    config->n_stations = read_stations(&daemon, config, readings);
    if (config->n_stations == 0)
        return;
    find_default(&face, &settings, config);
    find_stations_of_rules(errors, &settings, config);
}

/* ---- the file -------------------------------------------------------------------------------------------------- */

/* Included files are looked for in the folder of the file itself. */
static bool folder_of(const char *path, char *folder, size_t size)
{
    const char *slash = strrchr(path, '/');
    int n = slash ? snprintf(folder, size, "%.*s", slash == path ? 1 : (int)(slash - path), path)
                  : snprintf(folder, size, ".");
    return n >= 0 && (size_t)n < size;
}

/* The library's message for a syntax error is short, so the most frequent cause is added. */
static const char *hint(const char *text)
{
    if (strcmp(text, "syntax error") == 0)
        return "; often a ';' or a closing bracket is missing in the line before";
    if (strcmp(text, "mismatched element type in array") == 0)
        return "; all elements of [ ] have to be of one type: 51.0 beside 25.4, or a list ( )";
    if (strcmp(text, "duplicate setting name") == 0)
        return "; it stands in this group already";
    return "";
}

/* The library stops at the first syntax error, so this is the only message then. */
static bool parse(config_t *file, const char *path, const struct kr_source *source, struct kr_config_errors *errors)
{
    if (config_read_file(file, path) != CONFIG_TRUE) {
        const char *where = config_error_file(file);
        kr_mistake_in(errors, where ? where : path, config_error_line(file), "%s%s", config_error_text(file),
                      hint(config_error_text(file)));
        return false;
    }
    if (!kr_source_attach(source, config_root_setting(file))) {
        kr_mistake_in(errors, path, 0, "the file was changed while it was read; try again");
        return false;
    }
    return true;
}

static bool read_file(const char *path, const char *folder, struct kr_source *source, struct kr_config *config,
                      struct kr_config_errors *errors)
{
    struct kr_source_trouble trouble;
    struct station_reading *readings = calloc(KR_STATIONS_MAX, sizeof *readings);
    config_t file;
    config_init(&file);
    config_set_include_dir(&file, folder);
    if (!readings)
        kr_mistake_in(errors, path, 0, "out of memory");
    else if (!kr_source_read(source, path, folder, &trouble))
        kr_mistake_in(errors, trouble.file, trouble.line, "%s", trouble.text);
    else if (parse(&file, path, source, errors))
        read_root(config_root_setting(&file), config, errors, readings);
    config->digest = source->digest;
    kr_source_free(source);
    config_destroy(&file);
    free(readings);
    return errors->count == 0;
}

bool kr_config_read(const char *path, struct kr_config *config, struct kr_config_errors *errors)
{
    char folder[KR_CONFIG_PATH_MAX];
    struct kr_source source = {0};
    memset(config, 0, sizeof *config);
    memset(errors, 0, sizeof *errors);
    int n = snprintf(config->path, sizeof config->path, "%s", path);
    if (n < 0 || (size_t)n >= sizeof config->path || !folder_of(path, folder, sizeof folder)) {
        kr_mistake_in(errors, "config", 0, "the path is longer than %zu characters", sizeof config->path - 1);
        return false;
    }
    return read_file(path, folder, &source, config, errors);
}

/* ---- what it is good for --------------------------------------------------------------------------------------- */

void kr_config_durable(const struct kr_config_station *station, struct kr_durable *durable)
{
    memset(durable, 0, sizeof *durable);
    durable->serial = 1;
    memcpy(durable->holder, station->holder, sizeof durable->holder);
}

int kr_config_station_named(const struct kr_config *config, const char *name)
{
    if (!name)
        return config->n_stations == 1 ? 0 : -1;
    for (int i = 0; i < config->n_stations; i++)
        if (strcmp(config->station[i].station.name, name) == 0)
            return i;
    return -1;
}

bool kr_config_row_at(size_t index, struct kr_config_row *row)
{
    static const struct kr_table *const tables[] = {
        &kr_daemon_table,    &kr_face_table,        &kr_listen_table,     &kr_rule_table,     &kr_group_table,
        &kr_station_table,   &kr_size_table,        &kr_knife_kind_table, &kr_web_table,      &kr_placement_table,
        &kr_idle_table,      &kr_permissives_table, &kr_acceptance_table, &kr_carriage_table, &kr_rail_table,
        &kr_frame_table,     &kr_point_table,       &kr_reference_table,  &kr_holder_table,   &kr_drive_table,
        &kr_registers_table, &kr_outputs_table,     &kr_inputs_table,     &kr_expected_table, &kr_simulated_table};
    for (size_t t = 0; t < sizeof tables / sizeof tables[0]; t++) {
        if (index >= tables[t]->n) {
            index -= tables[t]->n;
            continue;
        }
        const struct kr_setting *setting = &tables[t]->row[index];
        *row = (struct kr_config_row){
            .group = tables[t]->group, .name = setting->name, .meaning = setting->meaning, .change = setting->change};
        kr_setting_allowed(setting, row->allowed, sizeof row->allowed);
        kr_setting_standard(setting, row->standard, sizeof row->standard);
        return true;
    }
    return false;
}
