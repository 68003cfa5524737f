#include "book_ask.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "history_table.h"
#include "kniferail/config.h"
#include "kniferail/suggest.h"
#include "lengths.h"
#include "progress.h"

#define TOLERANCE_UM 203.2 /* 0.008 in: common practice, no published source */

/* ---- the command line ------------------------------------------------------------------------------------------ */

static int check_time(const struct book_ask *a, const char *option, const char *text)
{
    if (text == NULL || kr_history_time_is_good(text))
        return KR_RUN;
    return kr_usage(a->command, "%s: '%s' is not a time; write it as 2026-03-01 or 2026-03-01T06:30", option, text);
}

static int check_period(const struct book_ask *a)
{
    int answer = check_time(a, "--from", a->from);
    if (answer == KR_RUN)
        answer = check_time(a, "--to", a->to);
    if (answer != KR_RUN || a->from == NULL || a->to == NULL)
        return answer;
    if (strcmp(a->from, a->to) > 0 && strncmp(a->from, a->to, strlen(a->to)) != 0)
        return kr_usage(a->command, "--from %s is later than --to %s, so there is no time between them", a->from,
                        a->to);
    return KR_RUN;
}

static int take_part(struct book_ask *a)
{
    long rail = 0, holder = 0;
    if (a->holder != NULL && a->rail == NULL)
        return kr_usage(a->command, "--holder needs --rail");
    if ((a->rail != NULL && !kr_number(a->command, "--rail", a->rail, 1, KR_RAILS_MAX, &rail)) ||
        (a->holder != NULL && !kr_number(a->command, "--holder", a->holder, 1, KR_HOLDERS_MAX, &holder)))
        return KR_EXIT_USAGE;
    a->part = (struct kr_history_part){a->from, a->to, (uint16_t)rail, (uint16_t)holder, a->knife};
    return KR_RUN;
}

static int take_unit(struct book_ask *a)
{
    if (a->unit == NULL)
        return KR_RUN;
#define X(name, number, word, text) \
    if (strcmp(a->unit, word) == 0) { \
        a->length_unit = KR_LENGTH_##name; \
        return KR_RUN; \
    }
    KR_LENGTH_UNITS(X)
#undef X
    return kr_usage(a->command, "--unit: '%s'; allowed: mm, in", a->unit);
}

static int take_tolerance(struct book_ask *a)
{
    int64_t nm;
    if (a->tolerance == NULL)
        return KR_RUN;
    if (!length_read(a->command, "--tolerance", a->tolerance, KR_LENGTH_MM, &nm))
        return KR_EXIT_USAGE;
    if (nm <= 0)
        return kr_usage(a->command, "--tolerance: '%s'; allowed: a length above 0, as 0.2 or 0.008 in", a->tolerance);
    a->tolerance_um = (double)nm / KR_NM_PER_UM;
    return KR_RUN;
}

static int take_config(struct book_ask *a)
{
    static struct kr_config config;
    if (!kr_read_config(a->config, &config))
        return KR_EXIT_REFUSED;
    int index = kr_config_station_named(&config, a->station);
    if (index < 0)
        return kr_usage(a->command,
                        a->station ? "--station: '%s' is not in %s"
                                   : "%s%s has several stations: --station has to name one",
                        a->station ? a->station : "", a->config);
    if (config.book_path[0] == '\0') {
        fprintf(stderr, "kniferail %s: %s names no book: nothing is kept\n", a->command, a->config);
        return KR_EXIT_REFUSED;
    }
    a->book = config.book_path;
    a->planned = &config.station[index].station;
    a->station = config.station[index].station.name;
    a->tolerance_um = config.station[index].station.geometry.tolerance_um;
    a->length_unit = config.station[index].station.format.length_unit;
    return KR_RUN;
}

int book_ask_read(struct book_ask *a)
{
    int answer;
    if ((a->config == NULL) == (a->book == NULL))
        return kr_usage(a->command, "either --config or --book is needed");
    a->tolerance_um = TOLERANCE_UM;
    if ((answer = check_period(a)) != KR_RUN || (answer = take_part(a)) != KR_RUN)
        return answer;
    if (a->config != NULL && (answer = take_config(a)) != KR_RUN)
        return answer;
    if ((answer = take_unit(a)) != KR_RUN)
        return answer;
    return take_tolerance(a);
}

bool book_ask_word(const char *command, const char *option, const char *text, const char *const names[], int n,
                   int *value)
{
    for (int i = 0; i < n; i++) {
        if (strcmp(text, names[i]) != 0)
            continue;
        *value = i;
        return true;
    }
    kr_usage(command, "%s: '%s' is unknown", option, text);
    return false;
}

bool book_ask_format(const char *command, const char *name, enum book_format *format)
{
    static const char *const names[] = {[TEXT] = "text", [CSV] = "csv", [JSON] = "json"};
    int which = TEXT;
    if (name != NULL && !book_ask_word(command, "--format", name, names, sizeof names / sizeof names[0], &which))
        return false;
    *format = (enum book_format)which;
    return true;
}

void book_ask_print_heading(const struct book_ask *a, const char *station)
{
    char tolerance[32];
    (void)kr_length_text((int32_t)lround(a->tolerance_um), a->length_unit, tolerance, sizeof tolerance);
    printf("station %s, tolerance %s either way", station, tolerance);
    if (a->part.rail != 0)
        printf("; rail %u", a->part.rail);
    if (a->part.holder != 0)
        printf(", holder %u", a->part.holder);
    if (a->part.knife != NULL)
        printf("; knife %s", a->part.knife);
    printf("\n\n");
}

/* ---- the book -------------------------------------------------------------------------------------------------- */

static bool see_one(void *arg, const struct kr_history_row *row)
{
    bool *seen = arg;
    *seen = !row->is_heading;
    return row->is_heading;
}

static bool has_part(const struct book_ask *a, struct kr_history *history)
{
    bool seen = false;
    if (a->rail == NULL)
        return true;
    if (!kr_history_read(history, KR_HISTORY_HOLDERS, &a->part, see_one, &seen))
        fprintf(stderr, "kniferail %s: %s\n", a->command, kr_history_error(history));
    else if (!seen)
        fprintf(stderr, "kniferail %s: %s: station %s has no %s%s on rail %s\n", a->command, a->book,
                kr_history_station(history), a->holder ? "holder " : "holders", a->holder ? a->holder : "", a->rail);
    return seen;
}

/* Tells whether the ledger has a knife of this name. If not, prints it, with the name that may have been meant. */
static bool is_in_ledger(const struct book_ask *a, const char *station, const char *const names[], size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(names[i], a->knife) == 0)
            return true;
    const char *near = kr_suggest(a->knife, names, n);
    fprintf(stderr, "kniferail %s: %s: the ledger of station %s has no knife '%s'%s%s%s\n", a->command, a->book,
            station, a->knife, near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
    return false;
}

static bool has_knife(const struct book_ask *a, struct kr_history *history)
{
    struct history_table knives;
    bool has = false;
    if (a->knife == NULL)
        return true;
    history_table_begin(&knives, "");
    bool is_read = kr_history_read(history, KR_HISTORY_KNIVES, NULL, history_table_add, &knives);
    const char **names = calloc(knives.n_rows + 1, sizeof names[0]);
    if (!is_read)
        fprintf(stderr, "kniferail %s: %s\n", a->command, kr_history_error(history));
    else if (names == NULL || knives.failed)
        fprintf(stderr, "kniferail %s: out of memory\n", a->command);
    for (size_t i = 0; is_read && names != NULL && i < knives.n_rows; i++)
        names[i] = history_table_cell(&knives, i, history_table_column(&knives, "name"))->text;
    if (is_read && names != NULL && !knives.failed)
        has = is_in_ledger(a, kr_history_station(history), names, knives.n_rows);
    free(names);
    history_table_free(&knives);
    return has;
}

static void step(void *arg)
{
    (void)arg;
    kr_progress_step(0, NULL);
}

struct kr_history *book_ask_open(struct book_ask *a)
{
    char error[KR_BOOK_TEXT_MAX];
    struct kr_history *history = kr_history_open(a->book, a->station, error, sizeof error);
    if (history == NULL) {
        fprintf(stderr, "kniferail %s: %s: %s\n", a->command, a->book, error);
        return NULL;
    }
    kr_progress_begin(a->command, "reading the book");
    kr_history_watch(history, step, NULL);
    if (a->config == NULL && a->unit == NULL)
        (void)kr_history_length_unit(history, &a->length_unit);
    if (has_part(a, history) && has_knife(a, history))
        return history;
    kr_history_close(history);
    return NULL;
}

struct soundness {
    const struct book_ask *ask;
    bool sound;
};

static void tell_damage(void *arg, const char *table, int64_t rows, int64_t first)
{
    struct soundness *s = arg;
    kr_progress_hide();
    bool by_id = strncmp(table, "changeover_", strlen("changeover_")) != 0;
    fprintf(stderr,
            "kniferail %s: table %s: %" PRId64 " row%s, the first %s %" PRId64
            ": the file was damaged or changed by hand\n",
            s->ask->command, table, rows,
            rows == 1 ? " does not agree with its seal" : "s do not agree with their seals",
            by_id ? "with id" : "of changeover", first);
    s->sound = false;
}

bool book_ask_is_sound(const struct book_ask *a, struct kr_history *history)
{
    struct soundness s = {a, true};
    fflush(stdout); /* the findings have to stand above the line about the check */
    kr_progress_begin(a->command, "checking the book");
    bool checked = kr_history_check(history, tell_damage, &s);
    kr_progress_hide();
    if (checked)
        return s.sound;
    fprintf(stderr, "kniferail %s: %s\n", a->command, kr_history_error(history));
    return false;
}
