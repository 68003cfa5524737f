/* kniferail knives: prints, exports and imports the ledger of knives in the gateway's book. */
#include <stdio.h>
#include <string.h>

#include "book_ask.h"
#include "cli.h"
#include "history_table.h"
#include "knives_due.h"
#include "knives_import.h"

struct arguments {
    struct book_ask ask;
    enum book_format format;
    enum action { LIST, LIFE, DUE, EXPORT, IMPORT } action;
    const char *knife; /* NULL: all */
    const char *list;  /* for IMPORT: the file */
    long orders;       /* for DUE: how many of the last orders count */
};

/* ---- the command line ------------------------------------------------------------------------------------------ */

static int take_operand(const char *operand, struct arguments *a)
{
    if (a->action == LIFE)
        a->knife = operand;
    else if (a->action == IMPORT)
        a->list = operand;
    else
        return kr_usage("knives", "the argument '%s' is not needed", operand);
    return KR_RUN;
}

/* A list is exported and imported as a whole, in one format. */
static int check_options(const struct arguments *a, const char *format, const char *orders)
{
    bool whole = a->action == EXPORT || a->action == IMPORT;
    if ((a->ask.from || a->ask.to) && a->action != LIFE)
        return kr_usage("knives", "--from and --to go only with life: a list shows the present state");
    if (orders != NULL && a->action != DUE)
        return kr_usage("knives", "--orders goes only with due");
    if (a->action == DUE && a->ask.config == NULL)
        return kr_usage("knives", "due needs --config: the station file has the limits (knife_kinds)");
    if (whole && (format != NULL || a->ask.unit != NULL))
        return kr_usage("knives", "--format and --unit go only with list and life");
    if (whole && a->ask.rail != NULL)
        return kr_usage("knives", "--rail and --holder go only with list and life");
    return KR_RUN;
}

static int take_action(int argc, char **argv, int i, struct arguments *a)
{
    static const char *const actions[] = {
        [LIST] = "list", [LIFE] = "life", [DUE] = "due", [EXPORT] = "export", [IMPORT] = "import"};
    int answer = KR_RUN, action = 0;
    if (i == argc)
        return kr_usage("knives", "the first argument has to be list, life, due, export or import");
    while (action <= IMPORT && strcmp(argv[i], actions[action]) != 0)
        action++;
    if (action > IMPORT)
        return kr_usage("knives", "'%s' is unknown: the first argument has to be list, life, due, export or import",
                        argv[i]);
    a->action = (enum action)action;
    if (argc - i > 2)
        return kr_usage("knives", "the argument '%s' is not needed", argv[argc - 1]);
    if (argc - i == 2)
        answer = take_operand(argv[i + 1], a);
    if (answer == KR_RUN && a->action == IMPORT && a->list == NULL)
        return kr_usage("knives", "import needs the name of a list, or - for standard input");
    return answer;
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    struct book_ask *ask = &a->ask;
    const char *format = NULL, *orders = NULL;
    const struct kr_option options[] = {{"config", &ask->config, NULL},   {"book", &ask->book, NULL},
                                        {"station", &ask->station, NULL}, {"from", &ask->from, NULL},
                                        {"to", &ask->to, NULL},           {"unit", &ask->unit, NULL},
                                        {"rail", &ask->rail, NULL},       {"holder", &ask->holder, NULL},
                                        {"format", &format, NULL},        {"orders", &orders, NULL}};
    int i, answer = kr_read_options(argc, argv, options, sizeof options / sizeof options[0], &i);
    if (answer == KR_RUN)
        answer = take_action(argc, argv, i, a);
    if (answer == KR_RUN)
        answer = check_options(a, format, orders);
    a->orders = KNIVES_DUE_ORDERS;
    if (answer == KR_RUN && orders != NULL &&
        !kr_number("knives", "--orders", orders, 2, KNIVES_DUE_ORDERS_MAX, &a->orders))
        answer = KR_EXIT_USAGE;
    if (answer == KR_RUN && !book_ask_format("knives", format, &a->format))
        answer = KR_EXIT_USAGE;
    return answer == KR_RUN ? book_ask_read(ask) : answer;
}

/* ---- the tables ------------------------------------------------------------------------------------------------ */

/* Keeps only the rows of one knife. */
struct wanted {
    struct history_table *table;
    const char *knife; /* NULL: all */
    int column;        /* the column of the knife's name */
};

static bool is_wanted(const struct wanted *wanted, const struct kr_history_row *row)
{
    const struct kr_cell *name = &row->cell[wanted->column];
    return wanted->knife == NULL || (name->kind == KR_CELL_TEXT && strcmp(name->text, wanted->knife) == 0);
}

static bool add(void *arg, const struct kr_history_row *row)
{
    struct wanted *wanted = arg;
    for (int i = 0; row->is_heading && i < row->n; i++)
        if (strcmp(row->name[i], "name") == 0)
            wanted->column = i;
    if (!row->is_heading && !is_wanted(wanted, row))
        return true;
    return history_table_add(wanted->table, row);
}

static bool read_table(struct kr_history *history, const struct arguments *a, struct history_table *table)
{
    struct wanted wanted = {.table = table, .knife = a->knife};
    static const enum kr_history_table tables[] = {
        [LIST] = KR_HISTORY_KNIVES, [LIFE] = KR_HISTORY_KNIFE_EVENTS, [EXPORT] = KR_HISTORY_KNIFE_LIST};
    history_table_begin(table, a->action == LIFE ? "life" : "knives");
    if (a->action == DUE)
        return knives_due(&a->ask, history, (size_t)a->orders, table);
    if (!kr_history_read(history, tables[a->action], &a->ask.part, add, &wanted)) {
        fprintf(stderr, "kniferail knives: %s\n", kr_history_error(history));
        return false;
    }
    if (a->action != EXPORT && (a->format == TEXT || a->ask.unit != NULL))
        history_table_convert(table, a->ask.length_unit);
    if (table->failed)
        fprintf(stderr, "kniferail knives: out of memory\n");
    return !table->failed;
}

static int print(const struct kr_history *history, const struct arguments *a, const struct history_table *table)
{
    if (a->knife != NULL && table->n_rows == 0) {
        fprintf(stderr, "kniferail knives: the ledger has nothing about '%s'\n", a->knife);
        return KR_EXIT_REFUSED;
    }
    if (a->format == JSON)
        return history_tables_print_json("knives", kr_history_station(history), a->ask.tolerance_um, table, 1)
                   ? KR_EXIT_OK
                   : KR_EXIT_REFUSED;
    if (a->format == CSV || a->action == EXPORT)
        history_table_print_csv(table);
    else
        history_table_print_text(table);
    if (a->action == DUE && a->format == TEXT)
        knives_due_explain(table);
    return KR_EXIT_OK;
}

static int show(const struct arguments *a, struct kr_history *history)
{
    struct history_table table;
    int status = read_table(history, a, &table) ? print(history, a, &table) : KR_EXIT_REFUSED;
    if (status == KR_EXIT_OK && !book_ask_is_sound(&a->ask, history))
        status = KR_EXIT_REFUSED;
    history_table_free(&table);
    return status;
}

int kr_cmd_knives(int argc, char **argv)
{
    struct arguments a = {.ask = {.command = "knives"}};
    char station[KR_NAME_MAX];
    int status = read_arguments(argc, argv, &a);
    if (status != KR_RUN)
        return status;
    struct kr_history *history = book_ask_open(&a.ask);
    if (history == NULL)
        return KR_EXIT_REFUSED;
    snprintf(station, sizeof station, "%s", kr_history_station(history));
    status = a.action == IMPORT ? KR_EXIT_OK : show(&a, history);
    kr_history_close(history);
    if (a.action == IMPORT)
        return knives_import(a.ask.book, station, a.list);
    return kr_flushed(status);
}
