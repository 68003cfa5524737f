/* A table of history, kept until it is printed: its columns' widths are only known at the end. */
#ifndef KNIFERAIL_CLI_HISTORY_TABLE_H
#define KNIFERAIL_CLI_HISTORY_TABLE_H

#include <jansson.h>

#include "kniferail/history.h"

struct history_table {
    const char *title;
    int n_columns;
    char *name[KR_HISTORY_COLUMNS_MAX];
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

void history_table_print_text(const struct history_table *table);
void history_table_print_csv(const struct history_table *table); /* RFC 4180 */
json_t *history_table_json(const struct history_table *table);   /* list of objects; NULL: out of memory */

#endif
