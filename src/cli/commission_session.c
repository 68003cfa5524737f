/* The session of kniferail commission: which steps were walked, when, by whom, with what result, and with which
 * settings. It is one file of JSON, which is written whole after each step. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "commission.h"

#define FORMAT 1 /* format of the file */

static bool fail(const char *path, const char *why)
{
    fprintf(stderr, "kniferail commission: %s: %s\n", path, why);
    return false;
}

void commission_time_text(char text[32])
{
    time_t seconds = time(NULL);
    struct tm utc;
    strftime(text, 32, "%Y-%m-%d %H:%M UTC", gmtime_r(&seconds, &utc));
}

/* ---- the file -------------------------------------------------------------------------------------------------- */

static bool write_into(int fd, const char *text)
{
    size_t left = strlen(text);
    while (left > 0) {
        ssize_t n = write(fd, text, left);
        if (n < 0 && errno != EINTR)
            break;
        text += n > 0 ? n : 0;
        left -= n > 0 ? (size_t)n : 0;
    }
    return (close(fd) == 0 || errno == EINTR) && left == 0;
}

static bool sync_and_write(int fd, const char *text)
{
    int copy = dup(fd);
    bool written = write_into(fd, text);
    bool synced = copy >= 0 && fsync(copy) == 0;
    return (copy < 0 || close(copy) == 0) && written && synced;
}

bool commission_write_file(const char *path, const char *text)
{
    char beside[KR_CONFIG_PATH_MAX + 8];
    snprintf(beside, sizeof beside, "%s.XXXXXX", path);
    int fd = mkstemp(beside);
    mode_t mask = umask(0);
    umask(mask);
    if (fd < 0)
        return fail(path, strerror(errno));
    bool may_read = fchmod(fd, 0644 & ~mask) == 0;
    if (sync_and_write(fd, text) && may_read && rename(beside, path) == 0)
        return true;
    int error = errno;
    unlink(beside);
    return fail(path, strerror(error));
}

static bool store(const struct commission *c)
{
    char *text = json_dumps(c->session, JSON_INDENT(1));
    bool stored = text != NULL && commission_write_file(c->path, text);
    free(text);
    return stored;
}

/* ---- the settings ---------------------------------------------------------------------------------------------- */

static void keep_setting(void *self, const struct kr_config_difference *setting)
{
    json_object_set_new(self, setting->where, json_string(setting->is));
}

static void settings_read(struct commission *c)
{
    c->settings = json_object();
    kr_config_tell_settings(c->station, (struct kr_config_listener){keep_setting, c->settings});
}

/* Returns those of all settings, or of all values of the book, on which a step stands. */
static json_t *those_of(json_t *all, const struct kr_step *step, uint16_t rail_number)
{
    json_t *of_step = json_object(), *value;
    const char *name;
    json_object_foreach(all, name, value)
    {
        if (kr_step_stands_on(step, rail_number, name))
            json_object_set(of_step, name, value);
    }
    return of_step;
}

/* Finds the first setting of `a` that is different in `b` or missing there; "(not there)" stands for a missing
 * value. */
static bool differs(const json_t *a, const json_t *b, bool a_is_before, char *why, size_t size)
{
    const char *name;
    json_t *value;
    json_object_foreach((json_t *)a, name, value)
    {
        const json_t *other = json_object_get(b, name);
        if (other != NULL && json_equal(value, other))
            continue;
        const char *mine = json_string_value(value), *others = json_string_value(other);
        mine = mine ? mine : "(not there)";
        others = others ? others : "(not there)";
        snprintf(why, size, "%s was %s and is %s", name, a_is_before ? mine : others, a_is_before ? others : mine);
        return true;
    }
    return false;
}

/* What a person said that makes a record doubtful; commission_doubt_rail() puts it there. */
static bool was_doubted(const json_t *record, char *why, size_t size)
{
    const char *doubt = json_string_value(json_object_get(record, "doubt"));
    if (doubt != NULL)
        snprintf(why, size, "%s", doubt);
    return doubt != NULL;
}

/* Settings and values of the book are kept in mm, so that they can be compared. */
static void say_lengths(const struct commission *c, char *why, size_t size)
{
    char kept[400];
    snprintf(kept, sizeof kept, "%s", why);
    kr_said_text(c->station->station.format.length_unit, kept, why, size);
}

bool commission_doubtful(const struct commission *c, const struct kr_step *step, uint16_t rail_number, char *why,
                         size_t size)
{
    const json_t *record = commission_record(c, step, rail_number), *before = json_object_get(record, "settings");
    if (was_doubted(record, why, size))
        return true;
    json_t *now = those_of(c->settings, step, rail_number);
    bool doubtful = differs(before, now, true, why, size) || differs(now, before, false, why, size) ||
                    commission_book_differs(c, record, step, rail_number, why, size);
    json_decref(now);
    if (doubtful)
        say_lengths(c, why, size);
    return doubtful;
}

/* ---- records --------------------------------------------------------------------------------------------------- */

static void step_key(const struct kr_step *step, char key[32])
{
    size_t i = 0;
    for (; step->name[i] != '\0' && i < 31; i++)
        key[i] = (char)(step->name[i] >= 'A' && step->name[i] <= 'Z' ? step->name[i] - 'A' + 'a' : step->name[i]);
    key[i] = '\0';
}

const json_t *commission_record(const struct commission *c, const struct kr_step *step, uint16_t rail_number)
{
    const json_t *records = json_object_get(c->session, "records");
    char key[32];
    step_key(step, key);
    for (size_t i = json_array_size(records); i-- > 0;) {
        const json_t *record = json_array_get(records, i);
        const char *name = json_string_value(json_object_get(record, "step"));
        if (name != NULL && strcmp(name, key) == 0 &&
            json_integer_value(json_object_get(record, "rail")) == rail_number)
            return record;
    }
    return NULL;
}

bool commission_passed(const struct commission *c, const struct kr_step *step, uint16_t rail_number)
{
    return json_is_true(json_object_get(commission_record(c, step, rail_number), "passed"));
}

bool commission_doubt_rail(struct commission *c, enum kr_step_id first, uint16_t rail_number, const char *why)
{
    for (size_t id = first; kr_step(id) != NULL; id++) {
        json_t *record = (json_t *)commission_record(c, kr_step(id), rail_number);
        if (record != NULL && json_object_set_new(record, "doubt", json_string(why)) != 0)
            return fail(c->path, "there is no memory");
    }
    return store(c);
}

static json_t *figures_of(const struct kr_step_verdict *verdict)
{
    json_t *figures = json_array();
    for (uint16_t i = 0; i < verdict->n_figures; i++)
        json_array_append_new(
            figures, json_pack("{ss, ss}", "name", verdict->figure[i].name, "value", verdict->figure[i].value));
    return figures;
}

static json_t *findings_of(const struct kr_step_verdict *verdict)
{
    json_t *findings = json_array();
    for (uint16_t i = 0; i < verdict->n_findings; i++) {
        const struct kr_finding *f = &verdict->finding[i];
        json_array_append_new(findings,
                              json_pack("{ss, ss, ss}", "seen", f->seen, "setting", f->setting, "change", f->change));
    }
    return findings;
}

bool commission_record_add(struct commission *c, const struct kr_step *step, uint16_t rail_number,
                           const struct kr_step_verdict *verdict)
{
    char key[32], when[32], build[16], digest[16];
    step_key(step, key);
    commission_time_text(when);
    snprintf(build, sizeof build, "%08x", (unsigned)(uint32_t)kr_get_i32(&c->client.image, KR_REG_BUILD_ID, 0, 0));
    snprintf(digest, sizeof digest, "%08X", (unsigned)c->config.digest);
    json_t *record = json_pack(
        "{ss, si, sb, ss, ss, ss, ss, si, so, so, so, so, sO*}", "step", key, "rail", (int)rail_number, "passed",
        kr_step_passes(verdict), "when", when, "who", c->who, "build", build, "station_file", digest, "lost",
        (int)verdict->lost, "figures", figures_of(verdict), "findings", findings_of(verdict), "settings",
        those_of(c->settings, step, rail_number), "book", those_of(c->book, step, rail_number), "carried", c->carried);
    if (record == NULL || json_array_append_new(json_object_get(c->session, "records"), record) != 0)
        return fail(c->path, "what was typed in is no text in UTF-8, or there is no memory");
    return store(c);
}

/* ---- a session ------------------------------------------------------------------------------------------------- */

static bool session_begin(struct commission *c)
{
    char when[32];
    commission_time_text(when);
    c->session = json_pack("{si, ss, si, ss, s[]}", "commissioning", FORMAT, "station", c->station->station.name,
                           "unit_id", (int)c->station->unit_id, "begun", when, "records");
    return c->session != NULL || fail(c->path, "there is no memory");
}

/* Tells whether the session is of this station. It belongs to one name and one unit identifier. */
static bool session_is_mine(const struct commission *c)
{
    char why[240];
    const char *name = json_string_value(json_object_get(c->session, "station"));
    if (json_integer_value(json_object_get(c->session, "commissioning")) != FORMAT || name == NULL ||
        !json_is_array(json_object_get(c->session, "records")))
        return fail(c->path, "this is no session of kniferail commission that this program knows");
    if (strcmp(name, c->station->station.name) == 0 &&
        json_integer_value(json_object_get(c->session, "unit_id")) == c->station->unit_id)
        return true;
    snprintf(why, sizeof why, "it is the session of station \"%s\", unit identifier %d, and not of \"%s\", %u", name,
             (int)json_integer_value(json_object_get(c->session, "unit_id")), c->station->station.name,
             c->station->unit_id);
    return fail(c->path, why);
}

bool commission_session_open(struct commission *c)
{
    json_error_t error;
    settings_read(c);
    if (access(c->path, F_OK) != 0 && errno == ENOENT)
        return session_begin(c);
    c->session = json_load_file(c->path, JSON_REJECT_DUPLICATES, &error);
    return c->session != NULL ? session_is_mine(c) : fail(c->path, error.text);
}

void commission_session_close(struct commission *c)
{
    json_decref(c->session);
    json_decref(c->settings);
    json_decref(c->book);
    json_decref(c->carried);
    c->session = c->settings = c->book = c->carried = NULL;
}
