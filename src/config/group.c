#include "group.h"

#include <assert.h>
#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/quantity.h"
#include "kniferail/suggest.h"
#include "source.h"

/* ---- fields --------------------------------------------------------------------------------------------------- */

static void store(void *field, size_t size, int64_t value)
{
    int8_t v1 = (int8_t)value;
    int16_t v2 = (int16_t)value;
    int32_t v4 = (int32_t)value;
    switch (size) { /* the row's limits make sure that the value fits */
    case 1: memcpy(field, &v1, size); break;
    case 2: memcpy(field, &v2, size); break;
    case 4: memcpy(field, &v4, size); break;
    default: memcpy(field, &value, sizeof value); break;
    }
}

static int64_t load(const void *field, size_t size, bool is_signed)
{
    uint8_t v1;
    uint16_t v2;
    uint32_t v4;
    int64_t v8;
    switch (size) {
    case 1: memcpy(&v1, field, size); return is_signed ? (int8_t)v1 : v1;
    case 2: memcpy(&v2, field, size); return is_signed ? (int16_t)v2 : v2;
    case 4: memcpy(&v4, field, size); return is_signed ? (int32_t)v4 : (int64_t)v4;
    default: memcpy(&v8, field, sizeof v8); return v8;
    }
}

static char *field_of(void *target, const struct kr_setting *row)
{
    return (char *)target + row->offset;
}

static void set_standard(const struct kr_setting *row, void *target)
{
    if (row->kind == KR_SETTING_GROUP || row->kind == KR_SETTING_LIST || row->kind == KR_SETTING_TEXTS ||
        row->standard == KR_MUST || row->standard == KR_OPTIONAL)
        return;
    if (row->kind == KR_SETTING_TEXT)
        *field_of(target, row) = '\0';
    else
        store(field_of(target, row), row->size, row->standard);
}

void kr_group_standards(const struct kr_table *table, void *target)
{
    for (size_t i = 0; i < table->n; i++)
        set_standard(&table->row[i], target);
}

/* ---- words ---------------------------------------------------------------------------------------------------- */

static bool is_word(const char *text, const char *word)
{
    while (*text && *text == tolower((unsigned char)*word))
        text++, word++;
    return *text == '\0' && *word == '\0';
}

static int word_index(const struct kr_setting *row, const char *text)
{
    for (int i = 0; row->words[i]; i++)
        if (is_word(text, row->words[i]))
            return i;
    return -1;
}

static void append(char *text, size_t size, const char *more)
{
    size_t n = strlen(text);
    snprintf(text + n, size - n, "%s", more);
}

static void append_lower(char *text, size_t size, const char *word)
{
    size_t n = strlen(text);
    for (; *word && n + 1 < size; word++)
        text[n++] = (char)tolower((unsigned char)*word);
    text[n] = '\0';
}

static void append_words(char *text, size_t size, const struct kr_setting *row, int64_t mask)
{
    bool first = true;
    for (int i = 0; row->words[i]; i++) {
        if (!(mask >> i & 1))
            continue;
        append(text, size, first ? "" : ", ");
        append_lower(text, size, row->words[i]);
        first = false;
    }
}

/* ---- texts ----------------------------------------------------------------------------------------------------- */

static void append_quantity(char *text, size_t size, const struct kr_setting *row, int64_t value)
{
    size_t n = strlen(text);
    kr_quantity_text(value, kr_scale_of(row->name), kr_scale_of(row->field), text + n, size - n);
}

static void range_text(const struct kr_setting *row, char *text, size_t size)
{
    const struct kr_scale *unit = kr_scale_of(row->name), *kept = kr_scale_of(row->field);
    char least[32];
    kr_quantity_text(row->least, unit, kept, least, sizeof least);
    size_t digits = strspn(least, "-.0123456789"); /* the unit is written once, at the end */
    snprintf(text, size, "%.*s to ", (int)digits, least);
    append_quantity(text, size, row, row->most);
}

void kr_setting_allowed(const struct kr_setting *row, char *text, size_t size)
{
    text[0] = '\0';
    switch (row->kind) {
    case KR_SETTING_NUMBER: range_text(row, text, size); break;
    case KR_SETTING_WORD:
        append(text, size, "one of ");
        append_words(text, size, row, -1);
        break;
    case KR_SETTING_WORDS:
        append(text, size, "a list [ ] of ");
        append_words(text, size, row, -1);
        break;
    case KR_SETTING_TEXT:
        snprintf(text, size, "a string of %d to %zu printable ASCII characters", (int)row->least, row->size - 1);
        break;
    case KR_SETTING_GROUP: append(text, size, "a group { }"); break;
    case KR_SETTING_LIST: append(text, size, "a list ( ) of groups { }"); break;
    case KR_SETTING_TEXTS: append(text, size, "a list [ ] of strings"); break;
    }
}

void kr_setting_standard(const struct kr_setting *row, char *text, size_t size)
{
    text[0] = '\0';
    if (row->standard == KR_MUST) {
        append(text, size, "must be given");
    } else if (row->standard == KR_OPTIONAL) {
        append(text, size, "as said above");
    } else if (row->kind == KR_SETTING_WORD) {
        append_lower(text, size, row->words[row->standard]);
    } else if (row->kind == KR_SETTING_WORDS) {
        append(text, size, row->standard ? "" : "none");
        append_words(text, size, row, row->standard);
    } else if (row->kind != KR_SETTING_NUMBER) {
        append(text, size, row->kind == KR_SETTING_TEXT ? "none" : "may be left out");
    } else {
        append_quantity(text, size, row, row->standard);
    }
}

void kr_setting_seen(const config_setting_t *setting, char seen[KR_SEEN_MAX])
{
    switch (config_setting_type(setting)) {
    case CONFIG_TYPE_INT:
    case CONFIG_TYPE_INT64:
    case CONFIG_TYPE_FLOAT: snprintf(seen, KR_SEEN_MAX, "%s", kr_source_digits(setting)); break;
    case CONFIG_TYPE_STRING: {
        const char *text = config_setting_get_string(setting);
        int n = snprintf(seen, KR_SEEN_MAX, "\"%s\"", text ? text : "");
        if (n >= KR_SEEN_MAX)
            snprintf(seen + KR_SEEN_MAX - 5, 5, "...\"");
        break;
    }
    case CONFIG_TYPE_BOOL: snprintf(seen, KR_SEEN_MAX, config_setting_get_bool(setting) ? "true" : "false"); break;
    case CONFIG_TYPE_GROUP: snprintf(seen, KR_SEEN_MAX, "a group { }"); break;
    case CONFIG_TYPE_ARRAY: snprintf(seen, KR_SEEN_MAX, "an array [ ]"); break;
    default: snprintf(seen, KR_SEEN_MAX, "a list ( )"); break;
    }
}

/* ---- mistakes -------------------------------------------------------------------------------------------------- */

static void refuse(struct kr_group *group, const struct kr_setting *row, const config_setting_t *at, const char *why)
{
    char path[KR_SETTING_PATH_MAX], seen[KR_SEEN_MAX], allowed[200];
    kr_setting_path(at, NULL, path);
    kr_setting_seen(at, seen);
    kr_setting_allowed(row, allowed, sizeof allowed);
    kr_mistake(group->errors, at, path, "%s%s; allowed: %s", seen, why, allowed);
}

static void group_path(const struct kr_group *group, const char *name, char path[KR_SETTING_PATH_MAX])
{
    char member[KR_SETTING_PATH_MAX];
    snprintf(member, sizeof member, "%s%s%s", group->member ? group->member : "", group->member && name ? "." : "",
             name ? name : "");
    kr_setting_path(group->home, member[0] ? member : NULL, path);
}

static size_t row_index(const struct kr_group *group, const char *name)
{
    size_t i = 0;
    while (i < group->table->n && strcmp(group->table->row[i].name, name) != 0)
        i++;
    assert(i < group->table->n);
    return i;
}

bool kr_group_good(const struct kr_group *group, const char *name)
{
    return !group->bad[row_index(group, name)];
}

const config_setting_t *kr_group_at(const struct kr_group *group, const char *name)
{
    return group->at[row_index(group, name)];
}

static bool is_signed(const struct kr_setting *row)
{
    return row->least < 0;
}

void kr_setting_value(const struct kr_setting *row, const void *target, char *text, size_t size)
{
    const char *field = (const char *)target + row->offset;
    text[0] = '\0';
    if (row->kind == KR_SETTING_NUMBER)
        append_quantity(text, size, row, load(field, row->size, is_signed(row)));
    else if (row->kind == KR_SETTING_WORD)
        append_lower(text, size, row->words[load(field, row->size, false)]);
    else if (row->kind == KR_SETTING_WORDS)
        append_words(text, size, row, load(field, row->size, false));
    else if (row->kind == KR_SETTING_TEXT)
        snprintf(text, size, "\"%s\"", field);
    if (!text[0])
        append(text, size, "none");
}

void kr_group_mistake(struct kr_group *group, const char *name, const char *format, ...)
{
    size_t i = row_index(group, name);
    char path[KR_SETTING_PATH_MAX], value[200], text[KR_CONFIG_MESSAGE_MAX];
    va_list values;
    va_start(values, format);
    vsnprintf(text, sizeof text, format, values);
    va_end(values);
    if (group->at[i])
        kr_setting_path(group->at[i], NULL, path);
    else
        group_path(group, name, path);
    kr_setting_value(&group->table->row[i], group->target, value, sizeof value);
    kr_mistake(group->errors, group->at[i] ? group->at[i] : group->home, path, "%s%s; %s", value,
               group->at[i] ? "" : " (default)", text);
}

static void tell_limit(struct kr_group *group, const char *name, const char *bound, int64_t limit, const char *why)
{
    char text[32] = "";
    append_quantity(text, sizeof text, &group->table->row[row_index(group, name)], limit);
    kr_group_mistake(group, name, "%s %s: %s", bound, text, why);
}

void kr_group_at_least(struct kr_group *group, const char *name, int64_t limit, const char *why)
{
    tell_limit(group, name, "at least", limit, why);
}

void kr_group_at_most(struct kr_group *group, const char *name, int64_t limit, const char *why)
{
    tell_limit(group, name, "at most", limit, why);
}

/* ---- values ---------------------------------------------------------------------------------------------------- */

/* Reads a plain number, or a string with a unit. False: it was refused. */
static bool take_number(struct kr_group *group, const struct kr_setting *row, const config_setting_t *at)
{
    bool plain = config_setting_is_number(at);
    if (!plain && config_setting_type(at) != CONFIG_TYPE_STRING) {
        refuse(group, row, at, "");
        return false;
    }
    const struct kr_scale *written = kr_scale_of(row->name);
    const char *text = plain ? kr_source_digits(at) : config_setting_get_string(at);
    if (!plain && written->dimension == KR_DIM_NUMBER) {
        refuse(group, row, at, " is a string");
        return false;
    }
    int64_t value = 0;
    enum kr_quantity_answer answer = kr_quantity_read(text, plain, written, kr_scale_of(row->field), &value);
    char why[160];
    kr_quantity_why(answer, text, written->dimension, why, sizeof why);
    if (answer != KR_QUANTITY_OK || value < row->least || value > row->most) {
        refuse(group, row, at, why);
        return false;
    }
    store(field_of(group->target, row), row->size, value);
    return true;
}

static bool take_word(struct kr_group *group, const struct kr_setting *row, const config_setting_t *at)
{
    const char *text = config_setting_get_string(at); /* NULL if it is not a string */
    int i = text ? word_index(row, text) : -1;
    if (i < 0)
        refuse(group, row, at, "");
    else
        store(field_of(group->target, row), row->size, i);
    return i >= 0;
}

static bool take_words(struct kr_group *group, const struct kr_setting *row, const config_setting_t *at)
{
    bool good = config_setting_is_array(at) || config_setting_is_list(at);
    if (!good)
        refuse(group, row, at, "");
    int64_t mask = 0;
    for (int k = 0; good && k < config_setting_length(at); k++) {
        const config_setting_t *element = config_setting_get_elem(at, (unsigned)k);
        const char *text = config_setting_get_string(element);
        int i = text ? word_index(row, text) : -1;
        if (i < 0) {
            refuse(group, row, element, "");
            return false;
        }
        mask |= (int64_t)1 << i;
    }
    store(field_of(group->target, row), row->size, mask);
    return good;
}

static bool take_text(struct kr_group *group, const struct kr_setting *row, const config_setting_t *at)
{
    const char *text = config_setting_get_string(at);
    size_t n = text ? strlen(text) : 0;
    bool good = text && n >= (size_t)row->least && n < row->size;
    for (size_t i = 0; good && i < n; i++)
        good = text[i] >= ' ' && text[i] <= '~';
    if (!good)
        refuse(group, row, at, "");
    else
        memcpy(field_of(group->target, row), text, n + 1);
    return good;
}

static bool take_inner(struct kr_group *group, const struct kr_setting *row, const config_setting_t *at)
{
    bool list = config_setting_is_list(at) || (config_setting_is_array(at) && config_setting_length(at) == 0);
    bool good = row->kind == KR_SETTING_GROUP  ? config_setting_is_group(at)
                : row->kind == KR_SETTING_LIST ? list
                                               : list || config_setting_is_array(at);
    if (!good)
        refuse(group, row, at, "");
    return good;
}

static bool take(struct kr_group *group, const struct kr_setting *row, const config_setting_t *at)
{
    switch (row->kind) {
    case KR_SETTING_NUMBER: return take_number(group, row, at);
    case KR_SETTING_WORD: return take_word(group, row, at);
    case KR_SETTING_WORDS: return take_words(group, row, at);
    case KR_SETTING_TEXT: return take_text(group, row, at);
    case KR_SETTING_GROUP:
    case KR_SETTING_LIST:
    case KR_SETTING_TEXTS: return take_inner(group, row, at);
    }
    return false;
}

/* ---- groups ---------------------------------------------------------------------------------------------------- */

static void tell_unknown(struct kr_group *group, const config_setting_t *at)
{
    const struct kr_table *table = group->table;
    const char *name = config_setting_name(at), *names[KR_ROWS_MAX];
    char path[KR_SETTING_PATH_MAX], known[KR_CONFIG_MESSAGE_MAX] = "";
    for (size_t i = 0; i < table->n; i++) {
        names[i] = table->row[i].name;
        append(known, sizeof known, i ? ", " : "");
        append(known, sizeof known, names[i]);
    }
    kr_setting_path(at, NULL, path);
    const char *near = kr_suggest(name, names, table->n);
    if (near)
        kr_mistake(group->errors, at, path, "unknown setting; did you mean %s?", near);
    else
        kr_mistake(group->errors, at, path, "unknown setting; allowed here: %s", known);
}

static void take_members(struct kr_group *group)
{
    for (int k = 0; k < config_setting_length(group->home); k++) {
        const config_setting_t *at = config_setting_get_elem(group->home, (unsigned)k);
        size_t i = 0;
        while (i < group->table->n && strcmp(group->table->row[i].name, config_setting_name(at)) != 0)
            i++;
        if (i == group->table->n) {
            tell_unknown(group, at);
            continue;
        }
        group->at[i] = at;
        group->bad[i] = !take(group, &group->table->row[i], at);
    }
}

void kr_group_read(struct kr_group *group, struct kr_config_errors *errors, const struct kr_table *table,
                   const config_setting_t *parent, const char *name, void *target)
{
    assert(table->n <= KR_ROWS_MAX);
    *group = (struct kr_group){.errors = errors, .table = table, .home = parent, .member = name, .target = target};
    kr_group_standards(table, target);
    const config_setting_t *inner = name ? config_setting_get_member(parent, name) : parent;
    if (!inner)
        return;
    if (!config_setting_is_group(inner)) { /* already reported by the row in the table around it */
        kr_group_spoil(group);
        return;
    }
    group->home = inner;
    group->member = NULL;
    take_members(group);
}

void kr_group_spoil(struct kr_group *group)
{
    for (size_t i = 0; i < group->table->n; i++)
        group->bad[i] = true;
}

void kr_group_inherit(struct kr_group *group, const struct kr_group *base)
{
    group->inherits = true;
    for (size_t i = 0; i < group->table->n; i++) {
        const struct kr_setting *row = &group->table->row[i];
        if (group->at[i] || (!base->at[i] && !base->bad[i]))
            continue;
        memcpy(field_of(group->target, row), (char *)base->target + row->offset, row->size);
        group->at[i] = base->at[i];
        group->bad[i] = base->bad[i];
    }
}

void kr_group_require(struct kr_group *group)
{
    for (size_t i = 0; i < group->table->n; i++) {
        const struct kr_setting *row = &group->table->row[i];
        if (group->at[i] || group->bad[i] || row->standard != KR_MUST)
            continue;
        char path[KR_SETTING_PATH_MAX], allowed[200];
        group_path(group, row->name, path);
        kr_setting_allowed(row, allowed, sizeof allowed);
        kr_mistake(group->errors, group->home, path, "missing; it must be given%s, allowed: %s",
                   group->inherits ? " here or in the station's own group" : "", allowed);
        group->bad[i] = true;
    }
}
