/* A table of history, kept until it is printed: its columns' widths are only known at the end. */
#ifndef KNIFERAIL_CLI_HISTORY_TABLE_H
#define KNIFERAIL_CLI_HISTORY_TABLE_H

#include <jansson.h>

#include "kniferail/history.h"

struct history_table {
    const char *title;
    int n_columns;
    char *name[KR_HISTORY_COLUMNS_MAX];
    uint8_t decimals[KR_HISTORY_COLUMNS_MAX]; /* of a column that was brought to another unit; else 0 */
    size_t n_rows, room;
    struct kr_cell *cell; /* n_rows times n_columns; texts are owned */
    bool failed;          /* out of memory: what follows is not kept */
};

void history_table_begin(struct history_table *table, const char *title);
void history_table_free(struct history_table *table);

/* For kr_history_read: copies the row. False when memory is out. */
bool history_table_add(void *table, const struct kr_history_row *row);

/* The column of that name; it must be there. */
int history_table_column(const struct history_table *table, const char *name);
const struct kr_cell *history_table_cell(const struct history_table *table, size_t row, int column);

/* Brings columns of micrometres ("..._um") to a unit of people's: millimetres to 0.001 ("..._mm") or inches to 0.0001
 * ("..._in"), with one digit more where the column has fractions of a micrometre. */
void history_table_convert(struct history_table *table, enum kr_length_unit unit);

void history_table_drop(struct history_table *table,
                        const char *name); /* the column of that name, which must be there */

void history_table_print_text(const struct history_table *table);
void history_table_print_csv(const struct history_table *table); /* RFC 4180 */

json_t *history_table_json(const struct history_table *table); /* a list of objects; NULL without memory */

/* Prints an object with the station, the tolerance and a list of objects for each of the n tables that was begun. False
 * after telling, in the name of the command, that it could not be made. */
bool history_tables_print_json(const char *command, const char *station, double tolerance_um,
                               const struct history_table table[], int n);

#endif
