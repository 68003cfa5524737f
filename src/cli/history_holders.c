#include "history_holders.h"

#include <stdlib.h>

#include "kniferail/statistics.h"

#define COLUMNS_ADDED 8

/* The errors of one holder, in the order of their changeovers. */
struct errors {
    size_t n, n_since; /* all; those with the present knife, which are the last ones */
    double *um, *day;
};

static int64_t number_at(const struct history_table *table, size_t row, const char *name)
{
    return history_table_cell(table, row, history_table_column(table, name))->number;
}

static double real_at(const struct history_table *table, size_t row, const char *name)
{
    const struct kr_cell *cell = history_table_cell(table, row, history_table_column(table, name));
    return cell->kind == KR_CELL_REAL ? cell->real : (double)cell->number;
}

static bool collect(const struct history_table *errors, int64_t rail, int64_t holder, struct errors *of)
{
    *of = (struct errors){0};
    if (errors->n_rows == 0)
        return true;
    of->um = calloc(errors->n_rows, sizeof of->um[0]);
    of->day = calloc(errors->n_rows, sizeof of->day[0]);
    if (of->um == NULL || of->day == NULL)
        return false;
    for (size_t r = 0; r < errors->n_rows; r++) {
        if (number_at(errors, r, "rail") != rail || number_at(errors, r, "holder") != holder)
            continue;
        of->um[of->n] = (double)number_at(errors, r, "error_um");
        of->day[of->n++] = real_at(errors, r, "day");
        if (number_at(errors, r, "since_regrind"))
            of->n_since++;
    }
    return true;
}

/* The straight line through the errors since the regrind; time runs from 0 to 1, so that its slope is the drift. */
static bool drift_of(const struct errors *of, double *drift_um, double *sd_um)
{
    static struct kr_least_squares fit;
    double x[2], sd[2];
    if (of->n_since < 3)
        return false;
    const double *um = &of->um[of->n - of->n_since], *day = &of->day[of->n - of->n_since];
    if (day[of->n_since - 1] <= day[0])
        return false;
    kr_least_squares_begin(&fit, 2);
    for (size_t i = 0; i < of->n_since; i++) {
        double row[2] = {1, (day[i] - day[0]) / (day[of->n_since - 1] - day[0])};
        kr_least_squares_add(&fit, row, um[i]);
    }
    if (!kr_least_squares_solve(&fit, x) || !kr_least_squares_deviations(&fit, sd))
        return false;
    *drift_um = x[1];
    *sd_um = sd[1];
    return true;
}

static void put(struct kr_history_row *row, const char *name, struct kr_cell cell)
{
    row->name[row->n] = name;
    row->cell[row->n++] = cell;
}

static struct kr_cell number(size_t n)
{
    return (struct kr_cell){.kind = KR_CELL_NUMBER, .number = (int64_t)n};
}

static struct kr_cell real_if(bool is, double value)
{
    return is ? (struct kr_cell){.kind = KR_CELL_REAL, .real = value}
              : (struct kr_cell){.kind = KR_CELL_NONE};
}

static void put_statistics(struct kr_history_row *row, const struct errors *of, double tolerance_um)
{
    struct kr_spread spread = kr_spread_of(of->um, of->n);
    double drift_um = 0, drift_sd_um = 0;
    bool spreads = spread.n >= 2 && spread.sd > 0, drifts = drift_of(of, &drift_um, &drift_sd_um);
    put(row, "placements", number(of->n));
    put(row, "mean_um", real_if(spread.n >= 1, spread.mean));
    put(row, "sd_um", real_if(spread.n >= 2, spread.sd));
    put(row, "cp", real_if(spreads, kr_capability(&spread, tolerance_um)));
    put(row, "cpk", real_if(spreads, kr_capability_off_centre(&spread, tolerance_um)));
    put(row, "since_regrind", number(of->n_since));
    put(row, "drift_um", real_if(drifts, drift_um));
    put(row, "drift_sd_um", real_if(drifts, drift_sd_um));
}

static bool add_holder(const struct history_table *holders, size_t r, const struct history_table *errors,
                       double tolerance_um, struct history_table *out)
{
    struct kr_history_row row = {0};
    struct errors of;
    bool ok = collect(errors, number_at(holders, r, "rail"), number_at(holders, r, "holder"), &of);
    for (int i = 0; i < holders->n_columns && i < KR_HISTORY_COLUMNS_MAX - COLUMNS_ADDED; i++)
        put(&row, holders->name[i], *history_table_cell(holders, r, i));
    if (ok) {
        put_statistics(&row, &of, tolerance_um);
        ok = history_table_add(out, &row);
    }
    free(of.um);
    free(of.day);
    return ok;
}

bool history_holders_add(const struct history_table *holders, const struct history_table *errors,
                         double tolerance_um, struct history_table *out)
{
    for (size_t r = 0; r < holders->n_rows; r++)
        if (!add_holder(holders, r, errors, tolerance_um, out))
            return false;
    return true;
}
