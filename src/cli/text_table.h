/* A table for a terminal: words stand left, numbers right, names of columns above, a line for each of their words. */
#ifndef KNIFERAIL_CLI_TEXT_TABLE_H
#define KNIFERAIL_CLI_TEXT_TABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#define TEXT_TABLE_COLUMNS_MAX 32
#define TEXT_TABLE_CELL_MAX    32 /* of a cell that is written into `room`, with its closing 0 */

struct text_table {
    int n_columns; /* at most TEXT_TABLE_COLUMNS_MAX */
    size_t n_rows;
    const char *const *name; /* of each column: "planned_ms" stands as "planned" over "ms" */
    const bool *is_words;    /* of each column */
    int width;               /* what a line has room for, if at all possible */
    /* The text of a cell: its own, which stays, or written into room. */
    const char *(*cell)(const void *data, size_t row, int column, char room[TEXT_TABLE_CELL_MAX]);
    const void *data;
};

/* Columns for which a line has no room, from the right, are told below each row: words as they are, numbers with their
 * column's name. */
void text_table_print(const struct text_table *table, FILE *to);

#endif
