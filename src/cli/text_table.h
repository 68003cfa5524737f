/* A table for a terminal. Words are aligned left and numbers right; each word of a column's name has its own line above
 * the column. */
#ifndef KNIFERAIL_CLI_TEXT_TABLE_H
#define KNIFERAIL_CLI_TEXT_TABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#define TEXT_TABLE_COLUMNS_MAX 32
#define TEXT_TABLE_CELL_MAX    32 /* bytes of a cell that is written into `room`, with the final 0 */

struct text_table {
    int n_columns; /* at most TEXT_TABLE_COLUMNS_MAX */
    size_t n_rows;
    const char *const *name; /* of each column: "planned_ms" is printed as "planned" over "ms" */
    const bool *is_words;    /* of each column */
    int width;               /* the width of a line, which is kept if possible */
    /* Returns the text of a cell: a text that stays valid, or one that it has written into room. */
    const char *(*cell)(const void *data, size_t row, int column, char room[TEXT_TABLE_CELL_MAX]);
    const void *data;
};

/* If a line has no room for all columns, the rightmost ones are printed below each row: words alone, numbers with their
 * column's name. */
void text_table_print(const struct text_table *table, FILE *to);

#endif
