/* A table on paper that is as large as the room for it allows: in several blocks side by side, and in smaller letters,
 * if it has many rows. Private to src/drawing. */
#ifndef DRAWING_TABLE_H
#define DRAWING_TABLE_H

#include "pen.h"

#define TABLE_COLUMNS_MAX 20
#define TABLE_CELL_MAX    20 /* with the closing 0 */

struct table {
    const char *title;
    int n_columns, n_rows;
    char name[TABLE_COLUMNS_MAX][2][TABLE_CELL_MAX]; /* in two lines */
    char (*cell)[TABLE_COLUMNS_MAX][TABLE_CELL_MAX]; /* n_rows rows, the caller's */
};

/* Returns how high the table is with letters of that size; less than 0: a block is wider than the page. */
double table_height(const struct table *table, double size, double left, double right);
void table_draw(const struct pen *pen, const struct table *table, double size, double left, double right, double y);

#endif
