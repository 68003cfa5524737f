#include "table.h"

#include <string.h>

#define DIGIT 0.64 /* width of a digit of DejaVu Sans, in its size */
#define SLIM  0.85 /* letters of a table are that narrow */
#define LEAD  1.25 /* from line to line */
#define GAP   5.0  /* between columns */
#define APART 14.0 /* between blocks */

static double column_width(const struct table *t, int column, double size)
{
    size_t most = 0;
    for (int line = 0; line < 2; line++) {
        size_t n = strlen(t->name[column][line]);
        most = n > most ? n : most;
    }
    for (int row = 0; row < t->n_rows; row++) {
        size_t n = strlen(t->cell[row][column]);
        most = n > most ? n : most;
    }
    return (double)most * DIGIT * SLIM * size + GAP * size / 8;
}

static double block_width(const struct table *t, double size)
{
    double width = 0;
    for (int c = 0; c < t->n_columns; c++)
        width += column_width(t, c, size);
    return width;
}

static int blocks(const struct table *t, double size, double width)
{
    double block = block_width(t, size), apart = APART * size / 8;
    int n = block <= width ? (int)((width + apart) / (block + apart)) : 0;
    return n > t->n_rows ? t->n_rows : n;
}

static int rows_of_block(const struct table *t, int n)
{
    return (t->n_rows + n - 1) / n;
}

double table_height(const struct table *table, double size, double left, double right)
{
    if (table->n_rows == 0)
        return 0;
    int n = blocks(table, size, right - left);
    return n > 0 ? (rows_of_block(table, n) + 4.6) * size * LEAD : -1;
}

/* Writes narrow letters that end at x. */
static void cell(const struct pen *pen, double x, double y, double size, const char *text)
{
    cairo_save(pen->cr);
    cairo_translate(pen->cr, x, y);
    cairo_scale(pen->cr, SLIM, 1);
    pen_text(pen, 0, 0, size, PEN_RIGHT, text);
    cairo_restore(pen->cr);
}

static void block(const struct pen *pen, const struct table *t, double size, double x, double y, int first, int n)
{
    double line = size * LEAD, at = x;
    for (int c = 0; c < t->n_columns; c++) {
        at += column_width(t, c, size);
        pen_bold(pen, true);
        cell(pen, at, y + line, size * 0.9, t->name[c][0]);
        cell(pen, at, y + 2 * line, size * 0.9, t->name[c][1]);
        pen_bold(pen, false);
        for (int row = 0; row < n && first + row < t->n_rows; row++)
            cell(pen, at, y + (3.2 + row) * line, size, t->cell[first + row][c]);
    }
    pen_line(pen, x, y + 2 * line + size * 0.3, at, y + 2 * line + size * 0.3, 0.4);
}

void table_draw(const struct pen *pen, const struct table *table, double size, double left, double right, double y)
{
    int n = table->n_rows > 0 ? blocks(table, size, right - left) : 0;
    if (n == 0)
        return;
    int rows = rows_of_block(table, n);
    pen_ink(pen, PEN_BLACK);
    pen_bold(pen, true);
    pen_text(pen, left, y + size, size, PEN_LEFT, table->title);
    pen_bold(pen, false);
    for (int b = 0; b * rows < table->n_rows; b++)
        block(pen, table, size, left + b * (block_width(table, size) + APART * size / 8), y + size * LEAD * 0.8,
              b * rows, rows);
}
