#include "history_holders.h"

#include <stdlib.h>

#include "kniferail/report.h"

#define COLUMNS_ADDED 8

/* The errors of one holder, in the sequence of their changeovers. */
struct errors {
    size_t n, n_since; /* all errors; those with the present knife, which are the last ones */
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
    return is ? (struct kr_cell){.kind = KR_CELL_REAL, .real = value} : (struct kr_cell){.kind = KR_CELL_NONE};
}

static void put_statistics(struct kr_history_row *row, const struct errors *of, double tolerance_um)
{
    struct kr_placement p = kr_placement_of(of->um, of->day, of->n, of->n_since, tolerance_um);
    put(row, "placements", number(of->n));
    put(row, "mean_um", real_if(of->n >= 1, p.spread.mean));
    put(row, "sd_um", real_if(of->n >= 2, p.spread.sd));
    put(row, "cp", real_if(p.has_capability, p.cp));
    put(row, "cpk", real_if(p.has_capability, p.cpk));
    put(row, "since_regrind", number(of->n_since));
    put(row, "drift_um", real_if(p.has_drift, p.drift));
    put(row, "drift_sd_um", real_if(p.has_drift, p.drift_sd));
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

bool history_holders_add(const struct history_table *holders, const struct history_table *errors, double tolerance_um,
                         struct history_table *out)
{
    for (size_t r = 0; r < holders->n_rows; r++)
        if (!add_holder(holders, r, errors, tolerance_um, out))
            return false;
    return true;
}
