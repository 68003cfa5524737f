/* kniferail plan: reads the file of positions. */
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "csv.h"
#include "kniferail/quantity.h"
#include "plan_cmd.h"

#define MOST_UM (INT32_MAX / 2)

struct reading {
    const char *path;
    struct csv_reader csv;
    struct plan_job *job;
    bool seen[KR_RAILS_MAX][KR_HOLDERS_MAX + 1];
};

const char *plan_rail_name(const struct kr_geometry *g, uint16_t rail)
{
    static char name[KR_RAILS_MAX][KR_SCENE_NAME_MAX];
    enum kr_role role[KR_RAILS_MAX];
    for (uint16_t i = 0; i < g->n_rails; i++)
        role[i] = g->rail[i].role;
    kr_scene_rail_name(name[rail], role, rail);
    return name[rail];
}

__attribute__((format(printf, 2, 3))) static bool mistake(const struct reading *r, const char *format, ...);

static bool mistake(const struct reading *r, const char *format, ...)
{
    va_list values;
    fprintf(stderr, "%s:%lu: ", r->path, r->csv.line);
    va_start(values, format);
    vfprintf(stderr, format, values);
    va_end(values);
    fputc('\n', stderr);
    return false;
}

static int rail_named(const struct kr_geometry *g, const char *name)
{
    for (uint16_t i = 0; i < g->n_rails; i++) {
        if (strcmp(plan_rail_name(g, i), name) == 0 || (name[0] == (char)('1' + i) && name[1] == '\0'))
            return i;
    }
    return -1;
}

static bool read_whole(const char *text, long least, long most, long *value)
{
    char *end;
    errno = 0;
    *value = strtol(text, &end, 10);
    return errno == 0 && end != text && *end == '\0' && *value >= least && *value <= most;
}

/* Numbers without a unit are in the unit in the column's name. */
static bool read_position(const struct reading *r, const char *text, int32_t *um)
{
    char why[160];
    int64_t nm;
    enum kr_quantity_answer answer = kr_length_read(text, "um", &nm);
    if (answer == KR_QUANTITY_OK) {
        *um = kr_um_from_nm(nm);
        return (*um > -MOST_UM && *um < MOST_UM) ||
               mistake(r, "position '%s'; allowed: less than %d um from 0", text, MOST_UM);
    }
    kr_quantity_why(answer, text, KR_DIM_LENGTH, why, sizeof why);
    return mistake(r, "position '%s'%s; allowed: micrometres, or with its unit behind it", text, why);
}

static int state_named(const char *name)
{
    static const char *const names[] = {
#define X(name, number, setting, word, text) [number] = (setting),
        KR_HOLDER_STATES(X)
#undef X
    };
    for (int i = 0; i < (int)(sizeof names / sizeof names[0]); i++) {
        if (strcmp(names[i], name) == 0)
            return i;
    }
    return -1;
}

static char *trimmed(char *p)
{
    while (*p == ' ')
        p++;
    for (char *end = p + strlen(p); end > p && end[-1] == ' ';)
        *--end = '\0';
    return p;
}

static bool on_rail(const struct reading *r, const char *what, int32_t um, int32_t least_um, int32_t most_um)
{
    char at[32], least[32], most[32];
    if (um >= least_um && um <= most_um)
        return true;
    kr_length_text(um, r->job->length_unit, at, sizeof at);
    kr_length_text(least_um, r->job->length_unit, least, sizeof least);
    kr_length_text(most_um, r->job->length_unit, most, sizeof most);
    return mistake(r, "position %s is off %s: %s to %s", at, what, least, most);
}

static bool take_holder(struct reading *r, int rail, long holder, char *word[], int n)
{
    struct kr_rail_now *now = &r->job->request.rail[rail];
    struct kr_holder *h = holder > 0 ? &now->holder[holder - 1] : NULL;
    int32_t position_um = 0;
    int state = n > 3 && word[3][0] != '\0' ? state_named(word[3]) : -2;
    if (state == -1)
        return mistake(r, "state '%s'; allowed: in, out, fixed, absent", word[3]);
    if (state >= 0 && h == NULL)
        return mistake(r, "state '%s'; holder 0 is the carriage, which has no state", word[3]);
    if (state == KR_HOLDER_ABSENT && word[2][0] == '\0')
        position_um = h->position_um;
    else if (!read_position(r, word[2], &position_um))
        return false;
    if (h == NULL) {
        const struct kr_carriage_config *carriage = &r->job->station->station.carriage[rail];
        now->carriage_um = position_um;
        return on_rail(r, "the carriage's travel", kr_frame_position_um(&carriage->frame, position_um),
                       carriage->travel_min_um, carriage->travel_max_um);
    }
    h->position_um = position_um;
    if (state >= 0)
        h->state = (uint8_t)state;
    const struct kr_rail_geometry *g = &r->job->request.geometry.rail[rail];
    return h->state == KR_HOLDER_ABSENT || on_rail(r, "the rail", position_um, g->min_um, g->max_um);
}

static bool take_row(struct reading *r)
{
    const struct kr_geometry *g = &r->job->request.geometry;
    char *word[CSV_FIELDS_MAX];
    long holder;
    int n = r->csv.n;
    for (int i = 0; i < n; i++)
        word[i] = trimmed(r->csv.field[i]);
    if (n == 1 && word[0][0] == '\0')
        return true;
    if (n < 3 || n > 4)
        return mistake(r, "the line has %d fields; rail,holder,position_um and perhaps state are needed", n);
    int rail = rail_named(g, word[0]);
    if (rail < 0)
        return mistake(r, "rail '%s'; allowed: upper, lower, ... or 1 to %u", word[0], g->n_rails);
    if (!read_whole(word[1], 0, g->rail[rail].n_holders, &holder))
        return mistake(r, "holder '%s'; allowed: 0 (the carriage) to %u", word[1], g->rail[rail].n_holders);
    if (r->seen[rail][holder])
        return mistake(r, "rail %s, holder %ld has a line already", word[0], holder);
    r->seen[rail][holder] = true;
    return take_holder(r, rail, holder, word, n);
}

static bool is_heading(const struct csv_reader *csv)
{
    static const char *const names[] = {"rail", "holder", "position_um", "state"};
    for (int i = 0; i < csv->n && i < 4; i++)
        if (strcmp(trimmed(csv->field[i]), names[i]) != 0)
            return false;
    return csv->n == 3 || csv->n == 4;
}

static bool read_rows(struct reading *r, FILE *file)
{
    enum csv_answer answer;
    csv_read_from(&r->csv, file);
    for (bool first = true; (answer = csv_next(&r->csv)) == CSV_RECORD; first = false) {
        if (first && !is_heading(&r->csv))
            return mistake(r, "the first line has to be rail,holder,position_um,state");
        if (!first && !take_row(r))
            return false;
    }
    if (answer == CSV_WRONG)
        return mistake(r, "%s", r->csv.error);
    return r->csv.line > 0 || mistake(r, "the file is empty; the first line has to be rail,holder,position_um,state");
}

/* Positions that are not in the file must be in the config. */
static bool fill_rest(const struct reading *r)
{
    struct plan_job *job = r->job;
    for (uint16_t i = 0; i < job->request.geometry.n_rails; i++) {
        for (uint16_t k = 0; k < job->request.geometry.rail[i].n_holders; k++) {
            bool known = job->station->holder[i][k].known != KR_UNKNOWN;
            bool absent = job->request.rail[i].holder[k].state == KR_HOLDER_ABSENT;
            if (!r->seen[i][k + 1] && !known && !absent) {
                fprintf(stderr, "%s: rail %s, holder %u has no position; --positions can give it\n", r->path,
                        plan_rail_name(&job->request.geometry, i), k + 1u);
                return false;
            }
        }
    }
    return true;
}

static void take_config(struct plan_job *job)
{
    for (uint16_t i = 0; i < job->request.geometry.n_rails; i++) {
        job->request.rail[i].carriage_um = job->station->station.carriage[i].park_um;
        for (uint16_t k = 0; k < job->request.geometry.rail[i].n_holders; k++) {
            const struct kr_holder_data *h = &job->station->holder[i][k];
            job->request.rail[i].holder[k] = (struct kr_holder){.position_um = h->position_um,
                                                                .edge_offset_um = h->edge_offset_um,
                                                                .holder_size = h->holder_size,
                                                                .state = h->state};
        }
    }
}

bool plan_read_positions(const char *path, const char *config, struct plan_job *job)
{
    struct reading r = {.path = path ? path : config, .job = job};
    take_config(job);
    if (path == NULL)
        return fill_rest(&r);
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        fprintf(stderr, "%s: %s\n", path, strerror(errno));
        return false;
    }
    bool good = read_rows(&r, file);
    fclose(file);
    return good && fill_rest(&r);
}
