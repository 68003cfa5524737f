/* kniferail book: copies and checks the gateway's book, and deletes old history. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "kniferail/care.h"
#include "kniferail/config.h"
#include "kniferail/history.h"

struct arguments {
    const char *what, *to, *config, *book, *before;
    bool replace, go_ahead;
    long most_mb;
};

/* ---- the command line ------------------------------------------------------------------------------------------ */

static int take_operands(struct arguments *a, int argc, char **argv, int first)
{
    if (first == argc)
        return kr_usage("book", "the first argument has to be backup, check or prune");
    a->what = argv[first];
    bool backup = strcmp(a->what, "backup") == 0, prune = strcmp(a->what, "prune") == 0;
    if (!backup && !prune && strcmp(a->what, "check") != 0)
        return kr_usage("book", "'%s' is unknown: the first argument has to be backup, check or prune", a->what);
    if (argc - first != (backup ? 2 : 1))
        return kr_usage("book", backup ? "backup needs the name of the file to be made" : "%s takes no argument",
                        a->what);
    if (backup)
        a->to = argv[first + 1];
    if (a->replace && !backup)
        return kr_usage("book", "--replace goes only with backup");
    if (!prune && (a->before != NULL || a->most_mb > 0 || a->go_ahead))
        return kr_usage("book", "--before, --most-mb and --go-ahead go only with prune");
    if (prune && a->before == NULL && a->most_mb == 0)
        return kr_usage("book", "prune needs --before, --most-mb, or both");
    return KR_RUN;
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const char *most = NULL;
    int first;
    const struct kr_option options[] = {{"config", &a->config, NULL},   {"book", &a->book, NULL},
                                        {"before", &a->before, NULL},   {"most-mb", &most, NULL},
                                        {"replace", NULL, &a->replace}, {"go-ahead", NULL, &a->go_ahead}};
    int answer = kr_read_options(argc, argv, options, sizeof options / sizeof options[0], &first);
    if (answer != KR_RUN)
        return answer;
    if (most != NULL && !kr_number("book", "--most-mb", most, 1, 1000000, &a->most_mb))
        return KR_EXIT_USAGE;
    if (a->before != NULL && !kr_history_time_is_good(a->before))
        return kr_usage("book", "--before: '%s' is not a time; write it as 2026-03-01 or 2026-03-01T06:30", a->before);
    if ((a->config == NULL) == (a->book == NULL))
        return kr_usage("book", "either --config or --book is needed");
    return take_operands(a, argc, argv, first);
}

static int take_config(struct arguments *a)
{
    static struct kr_config config; /* static, because it is large */
    if (a->config == NULL)
        return KR_RUN;
    if (!kr_read_config(a->config, &config))
        return KR_EXIT_REFUSED;
    a->book = config.book_path;
    if (a->book[0] != '\0')
        return KR_RUN;
    fprintf(stderr, "kniferail book: %s names no book: nothing is kept\n", a->config);
    return KR_EXIT_REFUSED;
}

static int refused(const struct kr_care_error *error)
{
    fprintf(stderr, "kniferail book: %s\n", error->text);
    return KR_EXIT_REFUSED;
}

static double mb(int64_t bytes)
{
    return (double)bytes / 1e6;
}

/* ---- backup ---------------------------------------------------------------------------------------------------- */

static int backup(const struct arguments *a)
{
    struct kr_care_error error;
    int64_t bytes;
    if (!kr_book_backup(a->book, a->to, a->replace, &bytes, &error))
        return refused(&error);
    printf("%s is a copy of %s: it has %.1f MB, is sound and on the disk\n", a->to, a->book, mb(bytes));
    return kr_flushed(KR_EXIT_OK);
}

/* ---- check ----------------------------------------------------------------------------------------------------- */

static void print_history(const struct kr_care_report *report)
{
    printf("history, which is kept unless somebody prunes it or the station file sets limits:\n");
    for (int t = 0; t < KR_CARE_TABLES; t++) {
        const struct kr_care_table *table = &report->table[t];
        printf("    %-18s %8" PRId64 " row%s%s%s\n", table->name, table->rows, table->rows == 1 ? "" : "s",
               table->oldest[0] != '\0' ? ", the oldest of " : "", table->oldest);
    }
}

static void print_rails(const struct kr_care_station *station)
{
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        if (station->in_motion[r] != 0)
            printf("    rail %d: holder %u was docked: its place is unknown until a scan\n", r + 1,
                   station->in_motion[r]);
        if (station->clamp_open[r])
            printf("    rail %d: the clamp was open: every place on it is unknown until a scan\n", r + 1);
        if (station->datum_doubted[r])
            printf("    rail %d: the carriage has to be homed\n", r + 1);
    }
}

static void print_station(const struct kr_care_station *station)
{
    printf("station %s, as stored at %s:\n", station->name,
           station->changed_at[0] != '\0' ? station->changed_at : "no time yet");
    if (station->unsealed)
        printf("    its seal was removed by hand, so its data is taken unchecked\n");
    if (station->in_force)
        printf("    order %" PRIu32 " in force\n", station->order);
    if (station->staged)
        printf("    order %" PRIu32 " staged\n", station->staged_order);
    if (station->n_queued > 0)
        printf("    %u queued\n", station->n_queued);
    print_rails(station);
}

static void print_run(const struct kr_care_report *report)
{
    printf("last start: session %u, %s\n", report->session, report->session_at);
    if (report->ended != KR_RUN_UNKNOWN)
        printf("last end: %s; %s\n", report->ended_at, kr_named("LAST_RUN_END", (int)report->ended)->text);
    else if (!report->in_use)
        printf("last end: that run noted nothing, because it was killed or the power was lost\n");
}

static int print_report(const struct kr_care_report *report, const char *path)
{
    printf("book %s: schema version %" PRId64 ", %.1f MB%s\n", path, report->schema_version, mb(report->bytes),
           report->in_use ? "; a gateway uses it" : "");
    if (report->wal_bytes > 0 && !report->in_use)
        printf("its -wal file holds %.1f MB: the gateway was killed, or the power was lost; the two files belong "
               "together\n",
               mb(report->wal_bytes));
    if (report->session != 0)
        print_run(report);
    for (uint16_t s = 0; s < report->n_stations; s++)
        print_station(&report->station[s]);
    print_history(report);
    for (uint16_t f = 0; f < report->n_findings; f++)
        fprintf(stderr, "kniferail book: %s: %s\n", path, report->finding[f]);
    if (report->n_findings == 0)
        printf("the book is sound: every page, reference and seal is as it was stored\n");
    return kr_flushed(report->n_findings == 0 ? KR_EXIT_OK : KR_EXIT_REFUSED);
}

static int check(const struct arguments *a)
{
    static struct kr_care_report report; /* static, because it is large */
    struct kr_care_error error;
    return kr_book_check(a->book, &report, &error) ? print_report(&report, a->book) : refused(&error);
}

/* ---- prune ----------------------------------------------------------------------------------------------------- */

static void print_pruned(const struct kr_care_pruned *pruned, bool done)
{
    int64_t all = pruned->sessions;
    printf("%s, because they are older than %s:\n", done ? "these rows were deleted" : "these rows would be deleted",
           pruned->until[0] != '\0' ? pruned->until : "the limits (there are none)");
    for (int t = 0; t < KR_CARE_TABLES; t++) {
        printf("    %-18s %8" PRId64 " row%s\n", kr_care_table_name(t), pruned->rows[t],
               pruned->rows[t] == 1 ? "" : "s");
        all += pruned->rows[t];
    }
    printf("    %-18s %8" PRId64 " row%s\n", "session", pruned->sessions, pruned->sessions == 1 ? "" : "s");
    if (done)
        printf("the book had %.1f MB and has %.1f MB now\n", mb(pruned->bytes_before), mb(pruned->bytes_after));
    else if (all > 0)
        printf("nothing is changed yet: make a copy with `kniferail book backup`, then repeat this command with "
               "--go-ahead\n");
}

static int prune(const struct arguments *a)
{
    struct kr_care_limits limits = {.before = a->before, .most_bytes = (int64_t)a->most_mb * 1000000};
    struct kr_care_pruned pruned;
    struct kr_care_error error;
    if (!kr_book_prune(a->book, &limits, a->go_ahead, &pruned, &error))
        return refused(&error);
    print_pruned(&pruned, a->go_ahead);
    if (pruned.too_large)
        fprintf(stderr, "kniferail book: the rows that must be kept need more than %ld MB\n", a->most_mb);
    if (pruned.not_shrunk)
        fprintf(stderr, "kniferail book: %s\n", error.text);
    return kr_flushed(pruned.too_large || pruned.not_shrunk ? KR_EXIT_REFUSED : KR_EXIT_OK);
}

int kr_cmd_book(int argc, char **argv)
{
    struct arguments arguments = {0};
    int status = read_arguments(argc, argv, &arguments);
    if (status == KR_RUN)
        status = take_config(&arguments);
    if (status != KR_RUN)
        return status;
    if (arguments.to != NULL)
        return backup(&arguments);
    return strcmp(arguments.what, "check") == 0 ? check(&arguments) : prune(&arguments);
}
