/* kniferail report: shows from the book whether a station is getting worse: changeovers, set-up time of shifts, alarms,
 * and how well each holder is placed. */
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "book_ask.h"
#include "progress.h"
#include "report_charts.h"
#include "report_tables.h"

enum table { CHANGEOVERS, SHIFTS, ALARMS, HOLDERS, REFERENCES, TIMES, N_TABLES };
static const char *const table_names[N_TABLES] = {"changeovers", "shifts", "alarms", "holders", "references", "times"};

struct arguments {
    struct book_ask ask;
    int table; /* -1: all */
    enum book_format format;
    struct kr_picture_options picture;
    size_t alike; /* changeovers whose times have this many equal characters are in one row */
    size_t n_shifts;
    struct kr_report_shift shift[KR_SHIFTS_MAX];
};

/* ---- the command line ------------------------------------------------------------------------------------------ */

/* "06:00" */
static bool read_time(const char *text, size_t length, int32_t *minute)
{
    for (size_t i = 0; i < 5; i++)
        if (length != 5 || (i == 2 ? text[i] != ':' : !isdigit((unsigned char)text[i])))
            return false;
    int hour = (text[0] - '0') * 10 + text[1] - '0', min = (text[3] - '0') * 10 + text[4] - '0';
    *minute = hour * 60 + min;
    return hour < 24 && min < 60;
}

static bool read_shifts(struct arguments *a, const char *text)
{
    for (const char *p = text;; p++) {
        size_t length = strcspn(p, ",");
        struct kr_report_shift *shift = &a->shift[a->n_shifts];
        bool good = a->n_shifts < KR_SHIFTS_MAX && read_time(p, length, &shift->begin_min) &&
                    (a->n_shifts == 0 || shift->begin_min > shift[-1].begin_min);
        if (!good) {
            kr_usage("report",
                     "--shifts: '%s'; up to %d times of day in growing order are possible, as 06:00,14:00,22:00", text,
                     KR_SHIFTS_MAX);
            return false;
        }
        a->n_shifts++;
        p += length;
        if (*p == '\0')
            return true;
    }
}

static bool read_by(struct arguments *a, const char *by)
{
    bool days = by != NULL && strcmp(by, "day") == 0;
    if (by != NULL && !days && strcmp(by, "month") != 0) {
        kr_usage("report", "--by: '%s'; allowed: month, day", by);
        return false;
    }
    a->alike = days ? REPORT_DAYS : REPORT_MONTHS;
    return true;
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const char *table = NULL, *format = NULL, *by = NULL, *shifts = NULL;
    const struct kr_option options[] = {
#define X(name) {#name, &a->ask.name, NULL},
        BOOK_ASK_OPTIONS(X)
#undef X
            KR_PICTURE_OPTIONS(a->picture),
        {"table", &table, NULL},
        {"format", &format, NULL},
        {"by", &by, NULL},
        {"shifts", &shifts, NULL}};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer != KR_RUN)
        return answer;
    if ((table && !book_ask_word("report", "--table", table, table_names, N_TABLES, &a->table)) ||
        !book_ask_format("report", format, &a->format) || !read_by(a, by) ||
        !read_shifts(a, shifts ? shifts : "06:00,14:00,22:00"))
        return KR_EXIT_USAGE;
    if (a->format == CSV && a->table < 0)
        return kr_usage("report", "csv has only one table: --table has to name it");
    if (kr_picture_wanted(&a->picture) && a->table >= 0)
        return kr_usage("report", "charts show all tables: leave out --table");
    return book_ask_read(&a->ask);
}

/* ---- the tables ------------------------------------------------------------------------------------------------ */

static bool wanted(const struct arguments *a, int table)
{
    return a->table < 0 || a->table == table;
}

static bool make_table(struct arguments *a, const struct report_data *data, int which, struct history_table *table)
{
    history_table_begin(table, table_names[which]);
    bool ok = false;
    switch (which) {
    case CHANGEOVERS: ok = report_add_changeovers(data, a->alike, table); break;
    case SHIFTS: ok = report_add_shifts(data, a->shift, a->n_shifts, table); break;
    case ALARMS: ok = report_add_alarms(data, table); break;
    case TIMES: ok = report_add_timing(data, a->ask.planned, table); break;
    case REFERENCES: ok = report_add_references(data, a->alike, table); break;
    default: ok = report_add_holders(data, a->ask.tolerance_um, table); break;
    }
    return ok;
}

static bool make_tables(struct arguments *a, const struct report_data *data, struct history_table tables[])
{
    bool ok = true;
    for (int t = 0; ok && t < N_TABLES; t++)
        ok = !wanted(a, t) || make_table(a, data, t, &tables[t]);
    if (!ok)
        fprintf(stderr, "kniferail report: out of memory\n");
    return ok;
}

static int print_json(const struct kr_history *history, const struct arguments *a, const struct history_table tables[])
{
    bool ok = history_tables_print_json("report", kr_history_station(history), a->ask.tolerance_um, tables, N_TABLES);
    return ok ? KR_EXIT_OK : KR_EXIT_REFUSED;
}

static void print_notes(int table, const struct history_table *rows)
{
    if (table == TIMES)
        report_print_acceptance(rows);
    if (table == HOLDERS)
        printf("cp and cpk of fewer than about 50 placements (few) say little: go by cp_low and cpk_low, above which "
               "they\nlie with 97.5 %% confidence, if the errors neither drift nor come in lumps\n");
}

static bool draw_charts(const struct kr_history *history, const struct arguments *a,
                        const struct history_table tables[])
{
    struct report_charts charts = {&tables[CHANGEOVERS], &tables[SHIFTS], &tables[ALARMS], &tables[HOLDERS],
                                   &tables[REFERENCES]};
    return !kr_picture_wanted(&a->picture) ||
           report_charts_write(&a->picture, &charts, &a->ask, kr_history_station(history));
}

static void convert_tables(const struct arguments *a, struct history_table tables[])
{
    for (int t = 0; t < N_TABLES; t++)
        if (wanted(a, t) && (a->format == TEXT || a->ask.unit != NULL))
            history_table_convert(&tables[t], a->ask.length_unit);
}

static int print_tables(const struct kr_history *history, const struct arguments *a, struct history_table tables[])
{
    convert_tables(a, tables);
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
        if (a->format == TEXT)
            print_notes(t, &tables[t]);
    }
    return KR_EXIT_OK;
}

static int tell(struct arguments *a, struct kr_history *history)
{
    struct history_table tables[N_TABLES] = {0};
    struct report_data data;
    int status = KR_EXIT_REFUSED;
    bool read = report_data_read(&data, history, &a->ask.part);
    kr_progress_hide();
    if (!read)
        fprintf(stderr, "kniferail report: %s\n", data.failed ? "out of memory" : kr_history_error(history));
    else if (make_tables(a, &data, tables) && draw_charts(history, a, tables))
        status = print_tables(history, a, tables);
    for (int t = 0; t < N_TABLES; t++)
        history_table_free(&tables[t]);
    report_data_free(&data);
    return status;
}

int kr_cmd_report(int argc, char **argv)
{
    struct arguments arguments = {.ask.command = "report", .table = -1};
    int answer = read_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    struct kr_history *history = book_ask_open(&arguments.ask);
    if (history == NULL)
        return KR_EXIT_REFUSED;
    int status = tell(&arguments, history);
    if (!book_ask_is_sound(&arguments.ask, history))
        status = KR_EXIT_REFUSED;
    kr_history_close(history);
    return kr_flushed(status);
}
