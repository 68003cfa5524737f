/* A table of the history, kept in memory until it is printed, because the widths of its columns are only known then. */
#ifndef KNIFERAIL_CLI_HISTORY_TABLE_H
#define KNIFERAIL_CLI_HISTORY_TABLE_H

#include <jansson.h>

#include "kniferail/history.h"

struct history_table {
    const char *title;
    int n_columns;
    char *name[KR_HISTORY_COLUMNS_MAX];
    uint8_t decimals[KR_HISTORY_COLUMNS_MAX]; /* of a column that was converted to another unit; else 0 */
    size_t n_rows, room;
    struct kr_cell *cell; /* n_rows times n_columns; the table owns the texts */
    bool failed;          /* there was no memory, and rows are missing from then on */
};

void history_table_begin(struct history_table *table, const char *title);
void history_table_free(struct history_table *table);

/* A callback for kr_history_read(): copies the row. False: there is no memory. */
bool history_table_add(void *table, const struct kr_history_row *row);

/* Returns the column of that name, which must exist. */
int history_table_column(const struct history_table *table, const char *name);
const struct kr_cell *history_table_cell(const struct history_table *table, size_t row, int column);

/* Converts columns in micrometres ("..._um") to the unit that people read: millimetres with 0.001 mm ("..._mm") or
 * inches with 0.0001 in ("..._in"), with one more digit if the column has fractions of a micrometre. */
void history_table_convert(struct history_table *table, enum kr_length_unit unit);

/* Removes the column of that name, which must exist. */
void history_table_drop(struct history_table *table, const char *name);

void history_table_print_text(const struct history_table *table);
void history_table_print_csv(const struct history_table *table); /* RFC 4180 */

json_t *history_table_json(const struct history_table *table); /* a list of objects; NULL: there is no memory */

/* Prints an object with the station, the tolerance, and a list of objects for each of the n tables that was begun.
 * False: the object could not be made, which was printed with the command's name. */
bool history_tables_print_json(const char *command, const char *station, double tolerance_um,
                               const struct history_table table[], int n);

#endif
