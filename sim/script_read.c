#include "sim/script_read.h"

#include <libconfig.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define DAY_MS 86400000

struct reading {
    const char *name;
    const struct sim_config *config;
    char *error;
    size_t size;
};

__attribute__((format(printf, 3, 4))) static bool wrong(const struct reading *r, int line, const char *format, ...)
{
    char text[200];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (line > 0)
        snprintf(r->error, r->size, "%s:%d: %s", r->name, line, text);
    else
        snprintf(r->error, r->size, "%s: %s", r->name, text);
    return false;
}

static bool known_name(const char *name)
{
    static const char *const names[] = {"fault", "rail", "holder",   "reference", "value",
                                        "phase", "nth",  "after_ms", "for_ms"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strcmp(names[i], name) == 0)
            return true;
    return false;
}

static bool check_names(const struct reading *r, const config_setting_t *at)
{
    for (unsigned i = 0; i < (unsigned)config_setting_length(at); i++) {
        const config_setting_t *s = config_setting_get_elem(at, i);
        if (!known_name(config_setting_name(s)))
            return wrong(r, (int)config_setting_source_line(s), "%s: no such setting of a fault",
                         config_setting_name(s));
    }
    return true;
}

/* If the setting is absent, *number is unchanged. */
static bool read_number(const struct reading *r, const config_setting_t *at, const char *name, int least, int most,
                        int *number)
{
    const config_setting_t *s = config_setting_get_member(at, name);
    if (!s)
        return true;
    if (config_setting_type(s) != CONFIG_TYPE_INT)
        return wrong(r, (int)config_setting_source_line(s), "%s: a whole number from %d to %d is allowed", name, least,
                     most);
    *number = config_setting_get_int(s);
    if (*number < least || *number > most)
        return wrong(r, (int)config_setting_source_line(s), "%s: %d; %d to %d is allowed", name, *number, least, most);
    return true;
}

static bool read_fault(const struct reading *r, const config_setting_t *at, enum sim_fault *fault)
{
    const config_setting_t *s = config_setting_get_member(at, "fault");
    const char *name = s ? config_setting_get_string(s) : NULL;
    if (!name)
        return wrong(r, (int)config_setting_source_line(at), "fault: must be given, as a name");
    for (int f = 0; f < SIM_N_FAULTS; f++)
        if (strcmp(sim_fault_info((enum sim_fault)f)->name, name) == 0) {
            *fault = (enum sim_fault)f;
            return true;
        }
    return wrong(r, (int)config_setting_source_line(s), "fault: \"%.60s\" is not a fault", name);
}

static bool read_phase(const struct reading *r, const config_setting_t *at, struct sim_script_row *row)
{
    const config_setting_t *s = config_setting_get_member(at, "phase");
    if (!s)
        return true;
    const char *name = config_setting_get_string(s);
    for (int p = 0; name && p < SIM_N_PHASES; p++)
        if (strcmp(sim_phase_name((enum sim_phase)p), name) == 0) {
            row->phase = (enum sim_phase)p;
            row->by_phase = true;
            return true;
        }
    return wrong(r, (int)config_setting_source_line(s), "phase: \"%.60s\" is not a phase", name ? name : "");
}

/* The value must be given if the fault has one, and only then. */
static bool read_value(const struct reading *r, const config_setting_t *at, struct sim_script_row *row)
{
    const struct sim_fault_info *info = sim_fault_info(row->fault);
    bool given = config_setting_get_member(at, "value") != NULL;
    if (given != (info->value != SIM_VALUE_NONE))
        return wrong(r, (int)config_setting_source_line(at), "value: %s %s", info->name,
                     given ? "has none" : "needs one");
    return read_number(r, at, "value", info->least, info->most, &row->value);
}

static bool read_row(const struct reading *r, const config_setting_t *at, struct sim_script_row *row)
{
    int rail = 1, holder = 0, reference = 1, nth = 1, after_ms = 0, for_ms = -1;
    *row = (struct sim_script_row){.for_us = SIM_FOR_EVER};
    if (!config_setting_is_group(at))
        return wrong(r, (int)config_setting_source_line(at), "a fault is a group { }");
    if (!check_names(r, at) || !read_fault(r, at, &row->fault) || !read_phase(r, at, row))
        return false;
    if (!read_number(r, at, "rail", 1, r->config->n_rails, &rail) || !read_value(r, at, row))
        return false;
    if (!read_number(r, at, "holder", 0, r->config->rail[rail - 1].n_holders, &holder) ||
        !read_number(r, at, "reference", 1, SIM_REFERENCES_MAX, &reference) ||
        !read_number(r, at, "nth", 1, 1000000, &nth) || !read_number(r, at, "after_ms", 0, DAY_MS, &after_ms) ||
        !read_number(r, at, "for_ms", 0, DAY_MS, &for_ms))
        return false;
    row->rail_index = (uint16_t)(rail - 1);
    row->holder_index = holder == 0 ? SIM_DOCKED_HOLDER : holder - 1;
    row->reference_index = (uint16_t)(reference - 1);
    row->nth = (uint32_t)nth;
    row->after_us = (int64_t)after_ms * 1000;
    if (for_ms >= 0)
        row->for_us = (int64_t)for_ms * 1000;
    return true;
}

static bool read_all(const struct reading *r, const config_t *file, struct sim_script *script)
{
    const config_setting_t *root = config_root_setting(file);
    const config_setting_t *list = config_lookup(file, "faults");
    for (unsigned i = 0; i < (unsigned)config_setting_length(root); i++) {
        const config_setting_t *s = config_setting_get_elem(root, i);
        if (s != list)
            return wrong(r, (int)config_setting_source_line(s), "%s: no such setting of a script",
                         config_setting_name(s));
    }
    if (!list || !config_setting_is_list(list))
        return wrong(r, list ? (int)config_setting_source_line(list) : 0, "faults: must be given, as a list ( )");
    int n = config_setting_length(list);
    if (n > SIM_SCRIPT_MAX)
        return wrong(r, (int)config_setting_source_line(list), "faults: %d; at most %d are possible", n,
                     SIM_SCRIPT_MAX);
    struct sim_script read = {.n = (uint16_t)n};
    for (uint16_t i = 0; i < read.n; i++)
        if (!read_row(r, config_setting_get_elem(list, i), &read.row[i]))
            return false;
    *script = read;
    return true;
}

static bool finish(const struct reading *r, config_t *file, int parsed, struct sim_script *script)
{
    bool good = parsed == CONFIG_TRUE;
    if (good)
        good = read_all(r, file, script);
    else
        wrong(r, config_error_line(file), "%s", config_error_text(file));
    config_destroy(file);
    return good;
}

bool sim_script_read(const char *path, const struct sim_config *config, struct sim_script *script, char *error,
                     size_t size)
{
    config_t file;
    config_init(&file);
    struct reading r = {path, config, error, size};
    return finish(&r, &file, config_read_file(&file, path), script);
}

bool sim_script_parse(const char *text, const char *name, const struct sim_config *config, struct sim_script *script,
                      char *error, size_t size)
{
    config_t file;
    config_init(&file);
    struct reading r = {name, config, error, size};
    return finish(&r, &file, config_read_string(&file, text), script);
}
