#include "records.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- what is right in a file ----------------------------------------------------------------------------------- */

enum field_kind {
    FIELD_TEXT,
    FIELD_COUNT,  /* a whole number, 0 or more */
    FIELD_WHOLE,  /* a whole number */
    FIELD_NUMBER, /* any number that a JSON text can have */
    FIELD_TRUTH,
};
struct field {
    const char *name;
    enum field_kind kind;
    bool may_be_null;
};
#define MEMBERS(row) (sizeof(row) / sizeof(row)[0])

static const struct field head_fields[] = {
    {"station", FIELD_TEXT, false},        {"made_at", FIELD_TEXT, false}, {"length_unit", FIELD_TEXT, false},
    {"tolerance_um", FIELD_NUMBER, false}, {"sound", FIELD_TRUTH, false},
};
static const struct field changeover_fields[] = {
    {"ended_at", FIELD_TEXT, false},        {"job", FIELD_TEXT, true},          {"order_number", FIELD_COUNT, false},
    {"outcome", FIELD_TEXT, false},         {"planned_ms", FIELD_COUNT, false}, {"actual_ms", FIELD_COUNT, false},
    {"total_ms", FIELD_COUNT, false},       {"moves", FIELD_COUNT, true},       {"corrections", FIELD_COUNT, true},
    {"docking_retries", FIELD_COUNT, true}, {"worst_um", FIELD_WHOLE, true},    {"worst_pair_um", FIELD_WHOLE, true},
    {"worst_slit_um", FIELD_WHOLE, true},   {"cause", FIELD_TEXT, true},
};
static const struct field alarm_fields[] = {
    {"code", FIELD_COUNT, false},   {"alarm", FIELD_TEXT, false},        {"reaction", FIELD_TEXT, false},
    {"raised", FIELD_COUNT, false}, {"stood_min", FIELD_NUMBER, false},  {"most_on_rail", FIELD_COUNT, false},
    {"item", FIELD_COUNT, false},   {"times_there", FIELD_COUNT, false},
};
static const struct field holder_fields[] = {
    {"rail", FIELD_COUNT, false},     {"holder", FIELD_COUNT, false},      {"placements", FIELD_COUNT, false},
    {"mean_um", FIELD_NUMBER, false}, {"sd_um", FIELD_NUMBER, true},       {"cp", FIELD_NUMBER, true},
    {"cp_low", FIELD_NUMBER, true},   {"cp_high", FIELD_NUMBER, true},     {"cpk", FIELD_NUMBER, true},
    {"cpk_low", FIELD_NUMBER, true},  {"cpk_high", FIELD_NUMBER, true},    {"since_grind", FIELD_COUNT, false},
    {"drift_um", FIELD_NUMBER, true}, {"drift_sd_um", FIELD_NUMBER, true}, {"caution", FIELD_TEXT, false},
    {"trend", FIELD_TEXT, false},
};

__attribute__((format(printf, 2, 3))) static json_t *wrong(char error[RECORDS_ERROR_MAX], const char *format, ...)
{
    va_list values;
    va_start(values, format);
    vsnprintf(error, RECORDS_ERROR_MAX, format, values);
    va_end(values);
    return NULL;
}

static bool is_right(const struct field *field, const json_t *value)
{
    switch (field->kind) {
    case FIELD_TEXT: return json_is_string(value) && json_string_length(value) <= RECORDS_TEXT_MAX;
    case FIELD_COUNT: return json_is_integer(value) && json_integer_value(value) >= 0;
    case FIELD_WHOLE: return json_is_integer(value);
    case FIELD_NUMBER: return json_is_number(value);
    case FIELD_TRUTH: return json_is_boolean(value);
    }
    return false;
}

/* Copies the members of an object that the table names, and no others. */
static json_t *members(const json_t *from, const char *of, const struct field fields[], size_t n,
                       char error[RECORDS_ERROR_MAX])
{
    json_t *to = json_object();
    for (size_t i = 0; i < n; i++) {
        json_t *value = json_object_get(from, fields[i].name);
        bool good = is_right(&fields[i], value) || (fields[i].may_be_null && json_is_null(value));
        if (good && json_object_set(to, fields[i].name, value) == 0)
            continue;
        json_decref(to);
        return wrong(error, "%s: %s is missing or has a wrong value", of, fields[i].name);
    }
    return to;
}

/* Checks a placement: [index of the changeover, error in um, whether with the present knife]. */
static bool is_placement(const json_t *p, size_t n_changeovers)
{
    for (size_t i = 0; i < 3; i++)
        if (json_array_size(p) != 3 || !json_is_integer(json_array_get(p, i)))
            return false;
    json_int_t index = json_integer_value(json_array_get(p, 0)), since = json_integer_value(json_array_get(p, 2));
    return index >= 0 && (size_t)index < n_changeovers && (since == 0 || since == 1);
}

static json_t *placements(const json_t *from, size_t n_changeovers, char error[RECORDS_ERROR_MAX])
{
    size_t i, n = json_array_size(from);
    json_t *p;
    if (!json_is_array(from) || n > n_changeovers)
        return wrong(error, "holders: list is missing, or longer than the list of changeovers");
    json_array_foreach(from, i, p)
    {
        if (!is_placement(p, n_changeovers))
            return wrong(error, "holders: placement %zu belongs to none of the changeovers", i + 1);
    }
    return json_deep_copy(from);
}

static json_t *holder(const json_t *from, size_t n_changeovers, char error[RECORDS_ERROR_MAX])
{
    json_t *to = members(from, "holders", holder_fields, MEMBERS(holder_fields), error);
    if (to == NULL)
        return NULL;
    json_t *list = placements(json_object_get(from, "list"), n_changeovers, error);
    if (list != NULL && json_object_set_new(to, "list", list) == 0)
        return to;
    json_decref(to);
    return NULL;
}

struct list {
    const char *name;
    size_t most;
    const struct field *fields; /* NULL: holders */
    size_t n_fields;
};

static json_t *element(const struct list *list, const json_t *from, size_t n_changeovers, char error[RECORDS_ERROR_MAX])
{
    if (list->fields == NULL)
        return holder(from, n_changeovers, error);
    return members(from, list->name, list->fields, list->n_fields, error);
}

static json_t *elements(const struct list *list, const json_t *from, size_t n_changeovers,
                        char error[RECORDS_ERROR_MAX])
{
    size_t i;
    json_t *value, *all;
    if (!json_is_array(from) || json_array_size(from) > list->most)
        return wrong(error, "%s: a list of up to %zu is needed", list->name, list->most);
    all = json_array();
    json_array_foreach(from, i, value)
    {
        json_t *one = element(list, value, n_changeovers, error);
        if (one != NULL && json_array_append_new(all, one) == 0)
            continue;
        json_decref(all);
        return NULL;
    }
    return all;
}

static json_t *made_of(const json_t *from, char error[RECORDS_ERROR_MAX])
{
    static const struct list lists[] = {
        {"changeovers", RECORDS_CHANGEOVERS_MAX, changeover_fields, MEMBERS(changeover_fields)},
        {"alarms", RECORDS_ALARMS_MAX, alarm_fields, MEMBERS(alarm_fields)},
        {"holders", RECORDS_HOLDERS_MAX, NULL, 0}};
    json_t *to = members(from, "the file", head_fields, MEMBERS(head_fields), error);
    size_t n_changeovers = json_array_size(json_object_get(from, "changeovers"));
    for (size_t i = 0; to != NULL && i < MEMBERS(lists); i++) {
        json_t *all = elements(&lists[i], json_object_get(from, lists[i].name), n_changeovers, error);
        if (all != NULL && json_object_set_new(to, lists[i].name, all) == 0)
            continue;
        json_decref(to);
        to = NULL;
    }
    return to;
}

json_t *records_of_bytes(const char *bytes, size_t size, char error[RECORDS_ERROR_MAX])
{
    json_error_t place;
    snprintf(error, RECORDS_ERROR_MAX, "no memory");
    json_t *from = json_loadb(bytes, size, JSON_REJECT_DUPLICATES, &place);
    if (from == NULL)
        return wrong(error, "line %d: %.120s", place.line, place.text);
    json_t *to = made_of(from, error);
    json_decref(from);
    return to;
}

/* ---- the file -------------------------------------------------------------------------------------------------- */

struct records {
    const char *path;
    struct stat seen; /* st_ino 0: none yet */
    struct shared *text;
    char station[RECORDS_TEXT_MAX + 1];
    char error[RECORDS_ERROR_MAX]; /* what is wrong with the file that was read last; empty: nothing */
};

struct records *records_new(const char *path)
{
    struct records *records = calloc(1, sizeof *records);
    if (records != NULL)
        records->path = path;
    return records;
}

void records_free(struct records *records)
{
    if (records == NULL)
        return;
    shared_release(records->text);
    free(records);
}

/* A file is either replaced as a whole, or its time changes. */
static bool is_same(const struct stat *a, const struct stat *b)
{
    return a->st_ino == b->st_ino && a->st_dev == b->st_dev && a->st_size == b->st_size &&
           a->st_mtim.tv_sec == b->st_mtim.tv_sec && a->st_mtim.tv_nsec == b->st_mtim.tv_nsec;
}

static bool read_whole(int fd, char *bytes, size_t size)
{
    size_t got = 0;
    while (got < size) {
        ssize_t n = read(fd, bytes + got, size - got);
        if (n <= 0)
            return false;
        got += (size_t)n;
    }
    return true;
}

static void take(struct records *r, const char *bytes, size_t size)
{
    json_t *json = records_of_bytes(bytes, size, r->error);
    shared_release(r->text);
    r->text = NULL;
    if (json == NULL)
        return;
    snprintf(r->station, sizeof r->station, "%s", json_string_value(json_object_get(json, "station")));
    r->text = shared_from(json);
    snprintf(r->error, sizeof r->error, "%s", r->text == NULL ? "no memory" : "");
}

static void read_file(struct records *r, int fd)
{
    size_t size = (size_t)r->seen.st_size;
    char *bytes = malloc(size + 1);
    if (bytes != NULL && read_whole(fd, bytes, size))
        take(r, bytes, size);
    else
        snprintf(r->error, sizeof r->error, "it can't be read as a whole");
    free(bytes);
}

/* Opening anything but a regular file must not block. */
static void look(struct records *r, int fd)
{
    struct stat now;
    if (fstat(fd, &now) != 0 || !S_ISREG(now.st_mode)) {
        r->seen = (struct stat){0};
        snprintf(r->error, sizeof r->error, "it is not a regular file");
        return;
    }
    if (is_same(&now, &r->seen))
        return;
    r->seen = now;
    if (now.st_size > RECORDS_BYTES_MAX)
        snprintf(r->error, sizeof r->error, "it has %" PRIdMAX " bytes; up to %d are read", (intmax_t)now.st_size,
                 RECORDS_BYTES_MAX);
    else
        read_file(r, fd);
}

static struct shared *error_text(const char *format, const char *what)
{
    char text[2 * RECORDS_ERROR_MAX + RECORDS_TEXT_MAX];
    snprintf(text, sizeof text, format, what);
    return shared_from(json_pack("{s:s}", "error", text));
}

struct shared *records_look(struct records *records, const char *station, bool *good)
{
    *good = false;
    int fd = open(records->path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (fd < 0)
        return error_text("the file of records can't be opened: %s", strerror(errno));
    look(records, fd);
    close(fd);
    if (records->error[0] != '\0')
        return error_text("the file of records is not what 'kniferail records' writes: %s", records->error);
    if (station != NULL && strcmp(station, records->station) != 0)
        return error_text("the file of records is that of another station, %s", records->station);
    *good = true;
    return shared_hold(records->text);
}
