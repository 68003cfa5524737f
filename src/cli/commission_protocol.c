/* The protocol of a session, in Markdown: what was walked, when, by whom, every figure, and lines to be signed. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "commission.h"

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));
    return text ? text : "";
}

/* A bar would end a cell of a table. */
static void put_cell(FILE *to, const char *text)
{
    for (; *text != '\0'; text++) {
        if (*text == '|')
            fputc('\\', to);
        fputc(*text == '\n' ? ' ' : *text, to);
    }
}

static void put_figures(FILE *to, const json_t *record)
{
    const json_t *figures = json_object_get(record, "figures"), *figure;
    size_t i;
    if (json_array_size(figures) == 0)
        return;
    fprintf(to, "\n| figure | value |\n| --- | --- |\n");
    json_array_foreach(figures, i, figure)
    {
        fprintf(to, "| ");
        put_cell(to, text_of(figure, "name"));
        fprintf(to, " | ");
        put_cell(to, text_of(figure, "value"));
        fprintf(to, " |\n");
    }
}

static void put_findings(FILE *to, const json_t *record)
{
    const json_t *findings = json_object_get(record, "findings"), *finding;
    size_t i;
    if (json_array_size(findings) > 0)
        fputc('\n', to);
    json_array_foreach(findings, i, finding)
    {
        const char *setting = text_of(finding, "setting");
        fprintf(to, "- %s ", text_of(finding, "seen"));
        if (setting[0] != '\0')
            fprintf(to, "Change `%s` to: %s.\n", setting, text_of(finding, "change"));
        else
            fprintf(to, "To do: %s.\n", text_of(finding, "change"));
    }
}

/* The step of such a record has not passed. */
static void put_lost(FILE *to, const json_t *record)
{
    int lost = (int)json_integer_value(json_object_get(record, "lost"));
    if (lost > 0)
        fprintf(to,
                "\n%d further figures or findings had no room in this record: it is not whole, and does not pass.\n",
                lost);
}

static void put_record(FILE *to, const json_t *record)
{
    fprintf(to, "\n**%s**, %s, led by %s; build %s, station file %s.\n",
            json_is_true(json_object_get(record, "passed")) ? "Passed" : "Not passed", text_of(record, "when"),
            text_of(record, "who"), text_of(record, "build"), text_of(record, "station_file"));
    put_figures(to, record);
    put_findings(to, record);
    put_lost(to, record);
}

/* Whether a record is of the step for that rail. */
static bool is_of(const json_t *record, const struct kr_step *step, uint16_t rail_number)
{
    const char *name = text_of(record, "step");
    size_t i = 0;
    for (; step->name[i] != '\0'; i++)
        if ((step->name[i] | 0x20) != (name[i] | 0x20))
            return false;
    return name[i] == '\0' && json_integer_value(json_object_get(record, "rail")) == rail_number;
}

/* All tries, the first one first. */
static void put_step(FILE *to, const struct commission *c, const struct kr_step *step, uint16_t rail_number)
{
    const json_t *records = json_object_get(c->session, "records"), *record;
    char what[KR_STEP_WHAT_MAX];
    size_t i;
    if (commission_record(c, step, rail_number) == NULL)
        return;
    fprintf(to, "\n## %s", step->title);
    if (rail_number > 0)
        fprintf(to, ", rail %u", rail_number);
    fprintf(to, "\n\n%s\n", commission_what(c, step, what));
    json_array_foreach(records, i, record) if (is_of(record, step, rail_number)) put_record(to, record);
}

static const char *state_of(const struct commission *c, const struct kr_step *step, uint16_t rail_number)
{
    char why[256];
    if (commission_record(c, step, rail_number) == NULL)
        return "open";
    if (!commission_passed(c, step, rail_number))
        return "not passed";
    if (!commission_doubtful(c, step, rail_number, why, sizeof why))
        return "passed";
    /* A person has said what was touched. */
    bool said = json_object_get(commission_record(c, step, rail_number), "doubt") != NULL;
    return said ? "doubtful" : "doubtful: a setting or a value changed";
}

static uint16_t first_rail(const struct kr_step *step)
{
    return step->scope == KR_STEP_RAIL ? 1 : 0;
}

static uint16_t last_rail(const struct commission *c, const struct kr_step *step)
{
    return step->scope == KR_STEP_RAIL ? c->station->station.geometry.n_rails : 0;
}

/* What a reader wants to know first: whether it is finished. */
static void put_count(FILE *to, const struct commission *c)
{
    unsigned all = 0, passed = 0, failed = 0, doubtful = 0;
    for (size_t i = 0; kr_step(i) != NULL; i++)
        for (uint16_t rail = first_rail(kr_step(i)); rail <= last_rail(c, kr_step(i)); rail++) {
            const char *state = state_of(c, kr_step(i), rail);
            all++;
            passed += strcmp(state, "passed") == 0;
            failed += strcmp(state, "not passed") == 0;
            doubtful += strncmp(state, "doubtful", 8) == 0;
        }
    fprintf(to,
            "\n**%u of %u steps have passed**; %u have not passed, %u are doubtful because a setting of "
            "the station file or a value of the book changed, or because of what was touched at the machine, and %u "
            "are open. A step of a rail counts once for each rail.\n",
            passed, all, failed, doubtful, all - passed - failed - doubtful);
}

static void put_summary(FILE *to, const struct commission *c)
{
    fprintf(to, "\n| step | rail | state | last walked | led by |\n| --- | --- | --- | --- | --- |\n");
    for (size_t i = 0; kr_step(i) != NULL; i++) {
        const struct kr_step *step = kr_step(i);
        for (uint16_t rail = first_rail(step); rail <= last_rail(c, step); rail++) {
            const json_t *record = commission_record(c, step, rail);
            char why[256] = "";
            const char *state = state_of(c, step, rail);
            if (strncmp(state, "doubtful", 8) == 0)
                (void)commission_doubtful(c, step, rail, why, sizeof why);
            fprintf(to, "| %s | %.0u | %s%s", step->title, rail, state, why[0] != '\0' ? ": " : "");
            put_cell(to, why);
            fprintf(to, " | %s | ", text_of(record, "when"));
            put_cell(to, text_of(record, "who"));
            fprintf(to, " |\n");
        }
    }
}

/* The limits by which the machine is accepted: the group `acceptance` of the station file. */
static void put_acceptance(FILE *to, const struct commission *c)
{
    const struct kr_acceptance *a = &c->station->acceptance;
    fprintf(to,
            "\n## Accepted by\n\nThe group `acceptance` of the station file has these limits.\n\n| figure | value |\n| "
            "--- | --- |\n"
            "| dockings of each holder in service | %d |\n| changeovers to random orders | %d |\n"
            "| faults | at most %d |\n| Cpk of each rail, lower end of its 95 %% interval | at least %.2f |\n"
            "| time taken against time planned | at most %.1f %% either way |\n| alarms provoked at the machine | ",
            (int)a->dockings, (int)a->changeovers, (int)a->faults_most, a->cpk_least_permille / 1000.0,
            a->time_most_permille / 10.0);
    bool any = false;
    for (unsigned i = 0; i < KR_N_BY_HAND; i++)
        if (a->alarms >> i & 1u) {
            fprintf(to, "%s%s", any ? ", " : "", kr_alarm_info(kr_provocation_by_hand(i)->alarm_code)->name);
            any = true;
        }
    fprintf(to, "%s |\n", any ? "" : "none");
}

static void put_head(FILE *to, const struct commission *c)
{
    char when[32];
    commission_time_text(when);
    fprintf(to, "# Commissioning of station %s\n\n", c->station->station.name);
    fprintf(to,
            "Written by kniferail %s on %s. Session begun %s. Station file %s, digest %08X; unit identifier "
            "%u.\n\n",
            KR_VERSION, when, text_of(c->session, "begun"), c->config.path, (unsigned)c->config.digest,
            c->station->unit_id);
    fprintf(to, "The gateway is no safety function, and nothing here says that the machine is safe. This protocol "
                "says what was seen, by whom, and with which station file.\n");
}

/* Who led last was typed in; the other names are written by those who sign. */
static void put_lines(FILE *to, const struct commission *c)
{
    const json_t *records = json_object_get(c->session, "records");
    size_t n = json_array_size(records);
    fprintf(to, "\n## Signed\n\n| as | name | date | signature |\n| --- | --- | --- | --- |\n"
                "| who led the commissioning | ");
    put_cell(to, n > 0 ? text_of(json_array_get(records, n - 1), "who") : "");
    fprintf(to, " | | |\n"
                "| who is responsible for the machine | | | |\n"
                "| who is qualified for its safety system | | | |\n");
}

static void put_all(FILE *to, const struct commission *c)
{
    put_head(to, c);
    put_count(to, c);
    put_summary(to, c);
    put_acceptance(to, c);
    for (size_t i = 0; kr_step(i) != NULL; i++)
        for (uint16_t rail = first_rail(kr_step(i)); rail <= last_rail(c, kr_step(i)); rail++)
            put_step(to, c, kr_step(i), rail);
    put_lines(to, c);
}

bool commission_write_protocol(const struct commission *c)
{
    char path[KR_CONFIG_PATH_MAX + 16], *text = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&text, &size);
    if (to == NULL)
        return false;
    put_all(to, c);
    bool whole = !ferror(to);
    whole = fclose(to) == 0 && whole;
    snprintf(path, sizeof path, "%s.md", c->stem);
    whole = whole && commission_write_file(path, text);
    free(text);
    return whole;
}
