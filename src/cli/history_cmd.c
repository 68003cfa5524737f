/* kniferail history: prints the history of a period from the book, for people and for programs. */
#include <stdio.h>
#include <string.h>

#include "book_ask.h"
#include "history_holders.h"
#include "progress.h"

enum table { CHANGEOVERS, EDITS, ALARMS, HOLDERS, AUDIT, STAYS, TEST_CUTS, N_TABLES };
static const char *const table_names[N_TABLES] = {"changeovers", "edits", "alarms",   "holders",
                                                  "audit",       "stays", "test-cuts"};

struct arguments {
    struct book_ask ask;
    int table; /* -1: all */
    enum book_format format;
};

/* ---- the command line ------------------------------------------------------------------------------------------ */

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const char *table = NULL, *format = NULL;
    const struct kr_option options[] = {
#define X(name) {#name, &a->ask.name, NULL},
        BOOK_ASK_OPTIONS(X)
#undef X
            {"knife", &a->ask.knife, NULL},
        {"table", &table, NULL},
        {"format", &format, NULL}};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer != KR_RUN)
        return answer;
    if ((table && !book_ask_word("history", "--table", table, table_names, N_TABLES, &a->table)) ||
        !book_ask_format("history", format, &a->format))
        return KR_EXIT_USAGE;
    if (a->format == CSV && a->table < 0)
        return kr_usage("history", "csv has only one table: --table has to name it");
    return book_ask_read(&a->ask);
}

/* ---- the tables ------------------------------------------------------------------------------------------------ */

static bool read_into(struct kr_history *history, const struct arguments *a, enum kr_history_table which,
                      struct history_table *table)
{
    if (!kr_history_read(history, which, &a->ask.part, history_table_add, table)) {
        kr_progress_hide();
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
    bool ok = read_into(history, a, KR_HISTORY_HOLDERS, &holders) && read_into(history, a, KR_HISTORY_ERRORS, &errors);
    if (ok && !history_holders_add(&holders, &errors, a->ask.tolerance_um, table)) {
        fprintf(stderr, "kniferail history: out of memory\n");
        ok = false;
    }
    history_table_free(&errors);
    history_table_free(&holders);
    return ok;
}

static bool read_table(struct kr_history *history, const struct arguments *a, int which, struct history_table *table)
{
    static const enum kr_history_table of[] = {[CHANGEOVERS] = KR_HISTORY_CHANGEOVERS,
                                               [EDITS] = KR_HISTORY_EDITS,
                                               [ALARMS] = KR_HISTORY_ALARMS,
                                               [AUDIT] = KR_HISTORY_AUDIT,
                                               [STAYS] = KR_HISTORY_STAYS,
                                               [TEST_CUTS] = KR_HISTORY_TEST_CUTS};
    bool of_holder = which == CHANGEOVERS && (a->ask.part.holder != 0 || a->ask.part.knife != NULL);
    history_table_begin(table, table_names[which]);
    bool ok = which == HOLDERS ? read_holders(history, a, table)
                               : read_into(history, a, of_holder ? KR_HISTORY_MOVED : of[which], table);
    /* The sentence contains both columns, in the station's unit. */
    if (ok && a->format == TEXT && which == ALARMS) {
        history_table_drop(table, "value");
        history_table_drop(table, "limit");
    }
    if (ok && (a->format == TEXT || a->ask.unit != NULL))
        history_table_convert(table, a->ask.length_unit);
    return ok;
}

static bool wanted(const struct arguments *a, int table)
{
    return a->table < 0 || a->table == table;
}

static int print_json(const struct kr_history *history, const struct arguments *a, const struct history_table tables[])
{
    bool ok = history_tables_print_json("history", kr_history_station(history), a->ask.tolerance_um, tables, N_TABLES);
    return ok ? KR_EXIT_OK : KR_EXIT_REFUSED;
}

static int print_tables(const struct kr_history *history, const struct arguments *a,
                        const struct history_table tables[])
{
    if (a->format == JSON)
        return print_json(history, a, tables);
    if (a->format == TEXT)
        book_ask_print_heading(&a->ask, kr_history_station(history));
    for (int t = 0; t < N_TABLES; t++) {
        if (!wanted(a, t))
            continue;
        if (a->format == CSV)
            history_table_print_csv(&tables[t]);
        else
            history_table_print_text(&tables[t]);
        if (a->format == TEXT && t == HOLDERS)
            printf("cp and cpk of fewer than about 50 placements say little (NIST/SEMATECH e-Handbook, 6.1.6)\n");
    }
    return KR_EXIT_OK;
}

static int tell(struct arguments *a)
{
    struct history_table tables[N_TABLES] = {0};
    struct kr_history *history = book_ask_open(&a->ask);
    if (history == NULL)
        return KR_EXIT_REFUSED;
    bool ok = true;
    for (int t = 0; ok && t < N_TABLES; t++)
        ok = !wanted(a, t) || read_table(history, a, t, &tables[t]);
    kr_progress_hide();
    int status = ok ? print_tables(history, a, tables) : KR_EXIT_REFUSED;
    if (ok && !book_ask_is_sound(&a->ask, history))
        status = KR_EXIT_REFUSED;
    for (int t = 0; t < N_TABLES; t++)
        history_table_free(&tables[t]);
    kr_history_close(history);
    return kr_flushed(status);
}

int kr_cmd_history(int argc, char **argv)
{
    struct arguments arguments = {.ask.command = "history", .table = -1};
    int answer = read_arguments(argc, argv, &arguments);
    return answer == KR_RUN ? tell(&arguments) : answer;
}
