/* kniferail history: what the book tells of a period, for people and for programs. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "history_holders.h"
#include "kniferail/config.h"
#include "lengths.h"

#define TOLERANCE_UM 203.2 /* 0.008 in: common practice, no published source */

const char kr_history_help[] =
    "Reads the gateway's book, also while the gateway runs, and prints of a period:\n"
    "  changeovers   planned and actual time, moves, corrections, docking retries, worst deviations, what "
    "ended it\n"
    "  edits         what maintenance asked for, from where, and the verdict\n"
    "  alarms        raised and gone\n"
    "  holders       as they are now, and of their placement errors in the period: mean, standard "
    "deviation,\n"
    "                capability against the tolerance (cp; cpk off its centre), and the drift since the last "
    "regrind:\n"
    "                the change of the error along the straight line through them, with its standard "
    "deviation\n"
    "Times are UTC. A deviation or an error is measured less wanted, positive towards the drive side.\n"
    "\n"
    "  --config FILE      the station file: it names the book, and has the tolerance\n"
    "  --book FILE        the book itself\n"
    "  --station NAME     which one, if there are several\n"
    "  --from T, --to T   2026, 2026-03, 2026-03-01, 2026-03-01T06:30 ...; both belong to the period\n"
    "  --table TABLE      one of them only: changeovers, edits, alarms, holders\n"
    "  --format FORMAT    text, csv (of one table) or json (text)\n"
    "  --tolerance L      tolerance of a knife's place, either way (the station's, else 0.203 mm)\n"
    "\n"
    "Exit status: 0, 1 the book can't be read or is not what was stored, 2 wrong usage.\n";

enum table { CHANGEOVERS, EDITS, ALARMS, HOLDERS, N_TABLES };
static const char *const table_names[N_TABLES] = {"changeovers", "edits", "alarms", "holders"};

enum format { TEXT, CSV, JSON, N_FORMATS };
static const char *const format_names[N_FORMATS] = {"text", "csv", "json"};

struct arguments {
    const char *config, *book, *station, *from, *to, *tolerance;
    int table; /* -1: all */
    int format;
    double tolerance_um;
};

/* ---- the command line ------------------------------------------------------------------------------------------ */

static bool take_word(const char *option, const char *text, const char *const names[], int n, int *value)
{
    for (int i = 0; i < n; i++) {
        if (strcmp(text, names[i]) != 0)
            continue;
        *value = i;
        return true;
    }
    kr_usage("history", "%s: unknown '%s'", option, text);
    return false;
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const char *table = NULL, *format = NULL;
    const struct kr_option options[] = {{"config", &a->config, NULL},   {"book", &a->book, NULL},
                                        {"station", &a->station, NULL}, {"from", &a->from, NULL},
                                        {"to", &a->to, NULL},           {"tolerance", &a->tolerance, NULL},
                                        {"table", &table, NULL},        {"format", &format, NULL}};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer == KR_RUN && ((table && !take_word("--table", table, table_names, N_TABLES, &a->table)) ||
                             (format && !take_word("--format", format, format_names, N_FORMATS, &a->format))))
        return KR_EXIT_USAGE;
    return answer;
}

static int check(const struct arguments *a)
{
    if ((a->config == NULL) == (a->book == NULL))
        return kr_usage("history", "either --config or --book, please");
    if (a->format == CSV && a->table < 0)
        return kr_usage("history", "csv is of one table: --table");
    if (a->from && !kr_history_time_is_good(a->from))
        return kr_usage("history", "--from: '%s' is no time; as 2026-03-01 or 2026-03-01T06:30", a->from);
    if (a->to && !kr_history_time_is_good(a->to))
        return kr_usage("history", "--to: '%s' is no time; as 2026-03-01 or 2026-03-01T06:30", a->to);
    if (a->from && a->to && strcmp(a->from, a->to) > 0 && strncmp(a->from, a->to, strlen(a->to)) != 0)
        return kr_usage("history", "--from %s lies after --to %s: no time is between", a->from, a->to);
    return 0;
}

/* ---- the station ----------------------------------------------------------------------------------------------- */

static int take_config(struct arguments *a)
{
    static struct kr_config config;
    if (!kr_read_config(a->config, &config))
        return KR_EXIT_REFUSED;
    int index = kr_config_station_named(&config, a->station);
    if (index < 0)
        return kr_usage("history", a->station ? "--station: '%s' is not in %s" : "%s%s: which --station?",
                        a->station ? a->station : "", a->config);
    if (config.book_path[0] == '\0') {
        fprintf(stderr, "kniferail history: %s names no book: nothing is kept\n", a->config);
        return KR_EXIT_REFUSED;
    }
    a->book = config.book_path;
    a->station = config.station[index].station.name;
    a->tolerance_um = config.station[index].station.geometry.tolerance_um;
    return KR_EXIT_OK;
}

static int take_tolerance(struct arguments *a)
{
    int64_t nm;
    if (a->tolerance == NULL)
        return KR_EXIT_OK;
    if (!length_read("history", "--tolerance", a->tolerance, KR_LENGTH_MM, &nm))
        return KR_EXIT_USAGE;
    if (nm <= 0)
        return kr_usage("history", "--tolerance: '%s'; a length above 0, as 0.2 or 0.008 in", a->tolerance);
    a->tolerance_um = (double)nm / KR_NM_PER_UM;
    return KR_EXIT_OK;
}

/* ---- the tables ------------------------------------------------------------------------------------------------ */

static bool read_into(struct kr_history *history, const struct arguments *a, enum kr_history_table which,
                      struct history_table *table)
{
    if (!kr_history_read(history, which, a->from, a->to, history_table_add, table)) {
        fprintf(stderr, "kniferail history: %s\n", kr_history_error(history));
        return false;
    }
    if (table->failed)
        fprintf(stderr, "kniferail history: out of memory\n");
    return !table->failed;
}

static bool read_holders(struct kr_history *history, const struct arguments *a, struct history_table *table)
{
    struct history_table holders, errors;
    history_table_begin(&holders, "");
    history_table_begin(&errors, "");
    bool ok = read_into(history, a, KR_HISTORY_HOLDERS, &holders) &&
              read_into(history, a, KR_HISTORY_ERRORS, &errors);
    if (ok && !history_holders_add(&holders, &errors, a->tolerance_um, table)) {
        fprintf(stderr, "kniferail history: out of memory\n");
        ok = false;
    }
    history_table_free(&errors);
    history_table_free(&holders);
    return ok;
}

static bool read_table(struct kr_history *history, const struct arguments *a, int which,
                       struct history_table *table)
{
    static const enum kr_history_table of[] = {
        [CHANGEOVERS] = KR_HISTORY_CHANGEOVERS, [EDITS] = KR_HISTORY_EDITS, [ALARMS] = KR_HISTORY_ALARMS};
    history_table_begin(table, table_names[which]);
    return which == HOLDERS ? read_holders(history, a, table) : read_into(history, a, of[which], table);
}

static bool wanted(const struct arguments *a, int table)
{
    return a->table < 0 || a->table == table;
}

static int print_json(const struct kr_history *history, const struct arguments *a,
                      const struct history_table tables[])
{
    json_t *all =
        json_pack("{s:s, s:f}", "station", kr_history_station(history), "tolerance_um", a->tolerance_um);
    for (int t = 0; all && t < N_TABLES; t++)
        if (wanted(a, t) && json_object_set_new(all, table_names[t], history_table_json(&tables[t])) != 0) {
            json_decref(all);
            all = NULL;
        }
    int failed = all == NULL || json_dumpf(all, stdout, JSON_INDENT(2)) != 0;
    json_decref(all);
    printf("\n");
    if (failed)
        fprintf(stderr, "kniferail history: the output could not be made\n");
    return failed ? KR_EXIT_REFUSED : KR_EXIT_OK;
}

static int print_tables(const struct kr_history *history, const struct arguments *a,
                        const struct history_table tables[])
{
    if (a->format == JSON)
        return print_json(history, a, tables);
    if (a->format == TEXT)
        printf("station %s, tolerance %.3f mm either way\n\n", kr_history_station(history),
               a->tolerance_um / 1000);
    for (int t = 0; t < N_TABLES; t++) {
        if (!wanted(a, t))
            continue;
        if (a->format == CSV)
            history_table_print_csv(&tables[t]);
        else
            history_table_print_text(&tables[t]);
        if (a->format == TEXT && t == HOLDERS)
            printf("cp and cpk of fewer than about 50 placements say little (NIST/SEMATECH e-Handbook, "
                   "6.1.6)\n");
    }
    return KR_EXIT_OK;
}

static void tell_damage(void *arg, const char *table, int64_t rows, int64_t first)
{
    bool *sound = arg;
    bool by_id = strncmp(table, "changeover_", strlen("changeover_")) != 0;
    fprintf(stderr,
            "kniferail history: table %s: %" PRId64 " row%s not what was stored, the first %s %" PRId64
            ": the file was damaged or changed by hand\n",
            table, rows, rows == 1 ? " is" : "s are", by_id ? "with id" : "of changeover", first);
    *sound = false;
}

/* What is printed may be wrong then; it is printed nonetheless, and the exit status tells. */
static bool is_sound(struct kr_history *history)
{
    bool sound = true;
    if (kr_history_check(history, tell_damage, &sound))
        return sound;
    fprintf(stderr, "kniferail history: %s\n", kr_history_error(history));
    return false;
}

static int tell(const struct arguments *a)
{
    struct history_table tables[N_TABLES] = {0};
    char error[KR_BOOK_TEXT_MAX];
    struct kr_history *history = kr_history_open(a->book, a->station, error, sizeof error);
    if (history == NULL) {
        fprintf(stderr, "kniferail history: %s: %s\n", a->book, error);
        return KR_EXIT_REFUSED;
    }
    bool ok = true;
    for (int t = 0; ok && t < N_TABLES; t++)
        ok = !wanted(a, t) || read_table(history, a, t, &tables[t]);
    int status = ok ? print_tables(history, a, tables) : KR_EXIT_REFUSED;
    if (ok && !is_sound(history))
        status = KR_EXIT_REFUSED;
    for (int t = 0; t < N_TABLES; t++)
        history_table_free(&tables[t]);
    kr_history_close(history);
    return kr_flushed(status);
}

int kr_cmd_history(int argc, char **argv)
{
    struct arguments arguments = {.table = -1, .tolerance_um = TOLERANCE_UM};
    int status;
    if ((status = read_arguments(argc, argv, &arguments)) != KR_RUN)
        return status;
    if ((status = check(&arguments)) != 0)
        return status;
    if (arguments.config && (status = take_config(&arguments)) != 0)
        return status;
    if ((status = take_tolerance(&arguments)) != 0)
        return status;
    return tell(&arguments);
}
