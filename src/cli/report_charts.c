#include "report_charts.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FIGURES 7
#define SIGMAS  3 /* a range of placement: so many standard deviations either way, as cp has it */

static double value_at(const struct history_table *table, size_t row, const char *name)
{
    const struct kr_cell *cell = history_table_cell(table, row, history_table_column(table, name));
    return cell->kind == KR_CELL_NUMBER ? (double)cell->number : cell->kind == KR_CELL_REAL ? cell->real : 0;
}

static const char *text_at(const struct history_table *table, size_t row, const char *name)
{
    const struct kr_cell *cell = history_table_cell(table, row, history_table_column(table, name));
    return cell->kind == KR_CELL_TEXT ? cell->text : "";
}

static void put_label(struct kr_figure_bar *bar, const char *text)
{
    snprintf(bar->label, sizeof bar->label, "%.*s", (int)sizeof bar->label - 1, text);
}

static void put_holder(struct kr_figure_bar *bar, const struct history_table *table, size_t row)
{
    snprintf(bar->label, sizeof bar->label, "%.0f/%.0f", value_at(table, row, "rail"), value_at(table, row, "holder"));
}

/* Makes room for a bar of each row except the last `without` rows; NULL: there is no memory. */
static struct kr_figure_bar *begin(struct kr_figure *figure, const struct history_table *table, size_t without)
{
    size_t n = table->n_rows > without ? table->n_rows - without : 0;
    struct kr_figure_bar *bar = calloc(n + 1, sizeof bar[0]);
    figure->n = bar != NULL ? n : 0;
    figure->bar = bar;
    return bar;
}

/* The last row is the sum of all others. */
static bool draw_spent(struct kr_figure *figure, const struct history_table *table)
{
    *figure = (struct kr_figure){.title = "Time of changeovers, minutes"};
    struct kr_figure_bar *bar = begin(figure, table, 1);
    for (size_t i = 0; bar != NULL && i < figure->n; i++) {
        put_label(&bar[i], text_at(table, i, "period"));
#define X(name, word, text) bar[i].part[KR_SPENT_##name] = value_at(table, i, #word "_min");
        KR_SPENT(X)
#undef X
        bar[i].part[KR_N_SPENT] = value_at(table, i, "uncounted_min");
    }
#define X(name, word, text) figure->part[KR_SPENT_##name] = #word;
    KR_SPENT(X)
#undef X
    figure->part[KR_N_SPENT] = "uncounted";
    figure->n_parts = KR_N_SPENT + 1;
    return bar != NULL;
}
_Static_assert(KR_N_SPENT + 1 <= KR_FIGURE_PARTS_MAX, "every part of the time has a pattern");

static bool draw_bars(struct kr_figure *figure, const struct history_table *table, const char *title, const char *label,
                      const char *value, size_t without)
{
    *figure = (struct kr_figure){.title = title, .n_parts = 1, .part = {value}};
    struct kr_figure_bar *bar = begin(figure, table, without);
    for (size_t i = 0; bar != NULL && i < figure->n; i++) {
        put_label(&bar[i], text_at(table, i, label));
        bar[i].part[0] = value_at(table, i, value);
    }
    return bar != NULL;
}

static bool draw_placement(struct kr_figure *figure, const struct history_table *table, double tolerance, double um)
{
    *figure = (struct kr_figure){.n_limits = 2, .limit = {-tolerance / um, tolerance / um}};
    struct kr_figure_bar *bar = begin(figure, table, 0);
    for (size_t i = 0; bar != NULL && i < figure->n; i++) {
        double mean = value_at(table, i, "mean_um"), sd = value_at(table, i, "sd_um");
        put_holder(&bar[i], table, i);
        bar[i].low = (mean - SIGMAS * sd) / um;
        bar[i].middle = mean / um;
        bar[i].high = (mean + SIGMAS * sd) / um;
        bar[i].stands_out = fabs(mean) + SIGMAS * sd > tolerance;
    }
    return bar != NULL;
}

static bool draw_drift(struct kr_figure *figure, const struct history_table *table, double um)
{
    *figure = (struct kr_figure){0};
    struct kr_figure_bar *bar = begin(figure, table, 0);
    for (size_t i = 0; bar != NULL && i < figure->n; i++) {
        double drift = value_at(table, i, "drift_um"), sd = value_at(table, i, "drift_sd_um");
        put_holder(&bar[i], table, i);
        bar[i].low = (drift - SIGMAS * sd) / um;
        bar[i].middle = drift / um;
        bar[i].high = (drift + SIGMAS * sd) / um;
        bar[i].stands_out = text_at(table, i, "trend")[0] != '\0';
    }
    return bar != NULL;
}

static bool draw_references(struct kr_figure *figure, const struct history_table *table, double um)
{
    *figure = (struct kr_figure){0};
    struct kr_figure_bar *bar = begin(figure, table, 0);
    for (size_t i = 0; bar != NULL && i < figure->n; i++) {
        snprintf(bar[i].label, sizeof bar[i].label, "%.0f: %.12s", value_at(table, i, "rail"),
                 text_at(table, i, "period"));
        bar[i].low = value_at(table, i, "least_um") / um;
        bar[i].middle = value_at(table, i, "mean_um") / um;
        bar[i].high = value_at(table, i, "most_um") / um;
    }
    return bar != NULL;
}

static bool draw_all(struct kr_figure figure[FIGURES], const struct report_charts *c, const struct book_ask *ask)
{
    bool inches = ask->length_unit == KR_LENGTH_INCH;
    double um = inches ? KR_NM_PER_INCH / 1000.0 : 1000.0;
    bool ok =
        draw_spent(&figure[0], c->changeovers) &&
        draw_bars(&figure[1], c->changeovers, "Moves: time taken to time planned", "period", "actual_to_planned", 1) &&
        draw_bars(&figure[2], c->shifts, "Mean set-up time of the shifts that had any, minutes", "shift", "mean_min",
                  0) &&
        draw_bars(&figure[3], c->alarms, "Alarms, by how often each was raised", "alarm", "raised", 0) &&
        draw_placement(&figure[4], c->holders, ask->tolerance_um, um) && draw_drift(&figure[5], c->holders, um) &&
        draw_references(&figure[6], c->references, um);
    if (!ok)
        return false;
    figure[4].title = inches
                          ? "Placement of each rail/holder: mean and 3 standard deviations, inches; dashed: tolerance"
                          : "Placement of each rail/holder: mean and 3 standard deviations, mm; dashed: tolerance";
    figure[6].title =
        inches ? "References of each rail: deviation since they were taught, least, mean and greatest, inches"
               : "References of each rail: deviation since they were taught, least, mean and greatest, mm";
    figure[5].title =
        inches ? "Drift since the last grind, with 3 of its standard deviations, inches; filled: more than chance"
               : "Drift since the last grind, with 3 of its standard deviations, mm; filled: more than chance";
    return true;
}

static bool write_page(const void *page, enum kr_drawing_form form, const char *path, char error[KR_DRAWING_ERROR_MAX])
{
    return kr_drawing_figures(page, form, path, error);
}

bool report_charts_write(const struct kr_picture_options *options, const struct report_charts *charts,
                         const struct book_ask *ask, const char *station)
{
    struct kr_figure figure[FIGURES] = {{0}};
    char title[KR_NAME_MAX + 32], subtitle[160];
    snprintf(title, sizeof title, "%s: is it getting worse", station);
    snprintf(subtitle, sizeof subtitle, "From %.40s to %.40s, UTC; shifts in the time zone of this computer.",
             ask->from ? ask->from : "the book's beginning", ask->to ? ask->to : "its end");
    struct kr_figures page = {title, subtitle, FIGURES, figure};
    bool ok = draw_all(figure, charts, ask);
    if (!ok)
        fprintf(stderr, "kniferail report: out of memory\n");
    ok = ok && kr_picture_write_with("report", options, write_page, &page);
    for (int i = 0; i < FIGURES; i++)
        free((struct kr_figure_bar *)figure[i].bar); /* made by begin() */
    return ok;
}
