#include "history_table.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CELL_TEXT_MAX 32

void history_table_begin(struct history_table *table, const char *title)
{
    *table = (struct history_table){.title = title};
}

void history_table_free(struct history_table *table)
{
    for (size_t i = 0; i < table->n_rows * (size_t)table->n_columns; i++)
        free((char *)table->cell[i].text); /* a copy of our own */
    for (int i = 0; i < table->n_columns; i++)
        free(table->name[i]);
    free(table->cell);
    *table = (struct history_table){.title = table->title};
}

static bool make_room(struct history_table *table)
{
    if (table->n_rows < table->room)
        return true;
    size_t room = table->room ? 2 * table->room : 64;
    struct kr_cell *cell = realloc(table->cell, room * (size_t)table->n_columns * sizeof cell[0]);
    if (cell == NULL)
        return false;
    table->cell = cell;
    table->room = room;
    return true;
}

static bool name_columns(struct history_table *table, const struct kr_history_row *row)
{
    for (; table->n_columns < row->n; table->n_columns++) {
        table->name[table->n_columns] = strdup(row->name[table->n_columns]);
        if (table->name[table->n_columns] == NULL)
            return false;
    }
    return true;
}

static bool copy_cells(struct history_table *table, const struct kr_history_row *row)
{
    struct kr_cell *to = &table->cell[table->n_rows++ * (size_t)table->n_columns];
    bool ok = true;
    for (int i = 0; i < table->n_columns; i++) {
        to[i] = row->cell[i];
        to[i].text = to[i].kind == KR_CELL_TEXT ? strdup(row->cell[i].text) : NULL;
        ok = ok && (to[i].kind != KR_CELL_TEXT || to[i].text != NULL);
    }
    return ok;
}

bool history_table_add(void *arg, const struct kr_history_row *row)
{
    struct history_table *table = arg;
    bool ok = name_columns(table, row) && (row->is_heading || (make_room(table) && copy_cells(table, row)));
    if (!ok)
        table->failed = true;
    return !table->failed;
}

int history_table_column(const struct history_table *table, const char *name)
{
    int i = 0;
    while (i < table->n_columns - 1 && strcmp(table->name[i], name) != 0)
        i++;
    assert(i < table->n_columns && strcmp(table->name[i], name) == 0);
    return i;
}

const struct kr_cell *history_table_cell(const struct history_table *table, size_t row, int column)
{
    return &table->cell[row * (size_t)table->n_columns + (size_t)column];
}

/* ---- printing -------------------------------------------------------------------------------------------------------- */

/* A text is given back as it is; anything else is written into room. */
static const char *text_of(const struct kr_cell *cell, char room[CELL_TEXT_MAX])
{
    room[0] = '\0';
    if (cell->kind == KR_CELL_TEXT)
        return cell->text ? cell->text : "";
    if (cell->kind == KR_CELL_NUMBER)
        snprintf(room, CELL_TEXT_MAX, "%" PRId64, cell->number);
    if (cell->kind == KR_CELL_REAL)
        snprintf(room, CELL_TEXT_MAX, "%.2f", cell->real);
    return room;
}

static int width_of(const struct history_table *table, int column)
{
    char room[CELL_TEXT_MAX];
    size_t width = strlen(table->name[column]);
    for (size_t r = 0; r < table->n_rows; r++) {
        size_t length = strlen(text_of(history_table_cell(table, r, column), room));
        width = length > width ? length : width;
    }
    return (int)width;
}

static bool is_text(const struct history_table *table, int column)
{
    return table->n_rows > 0 && history_table_cell(table, 0, column)->kind == KR_CELL_TEXT;
}

/* Words stand left, numbers right; no blanks at the end of a line. */
static void print_line(const struct history_table *table, const char *const text[], const int width[])
{
    int last = table->n_columns - 1;
    while (last > 0 && text[last][0] == '\0')
        last--;
    for (int i = 0; i < last; i++)
        printf(is_text(table, i) ? "%-*s  " : "%*s  ", width[i], text[i]);
    if (is_text(table, last))
        printf("%s\n", text[last]);
    else
        printf("%*s\n", width[last], text[last]);
}

void history_table_print_text(const struct history_table *table)
{
    int width[KR_HISTORY_COLUMNS_MAX];
    char room[KR_HISTORY_COLUMNS_MAX][CELL_TEXT_MAX];
    const char *text[KR_HISTORY_COLUMNS_MAX];
    if (table->n_rows == 0) {
        printf("%s: none\n\n", table->title);
        return;
    }
    assert(table->n_columns >= 1 && table->n_columns <= KR_HISTORY_COLUMNS_MAX);
    printf("%s\n", table->title);
    for (int i = 0; i < table->n_columns; i++) {
        width[i] = width_of(table, i);
        text[i] = table->name[i];
    }
    print_line(table, text, width);
    for (size_t r = 0; r < table->n_rows; r++) {
        for (int i = 0; i < table->n_columns; i++)
            text[i] = text_of(history_table_cell(table, r, i), room[i]);
        print_line(table, text, width);
    }
    printf("\n");
}

static void print_csv_field(const char *text)
{
    if (strpbrk(text, ",\"\r\n") == NULL) {
        printf("%s", text);
        return;
    }
    putchar('"');
    for (; *text; text++)
        printf(*text == '"' ? "\"\"" : "%c", *text);
    putchar('"');
}

void history_table_print_csv(const struct history_table *table)
{
    char room[CELL_TEXT_MAX];
    for (int i = 0; i < table->n_columns; i++)
        printf("%s%s", i ? "," : "", table->name[i]);
    printf("\r\n");
    for (size_t r = 0; r < table->n_rows; r++) {
        for (int i = 0; i < table->n_columns; i++) {
            if (i)
                putchar(',');
            print_csv_field(text_of(history_table_cell(table, r, i), room));
        }
        printf("\r\n");
    }
}

/* JSON knows no infinity: where nothing varies, a capability is none. */
static json_t *json_of(const struct kr_cell *cell)
{
    switch (cell->kind) {
    case KR_CELL_NUMBER: return json_integer(cell->number);
    case KR_CELL_REAL: return isfinite(cell->real) ? json_real(cell->real) : json_null();
    case KR_CELL_TEXT: return json_string(cell->text);
    case KR_CELL_NONE: break;
    }
    return json_null();
}

json_t *history_table_json(const struct history_table *table)
{
    json_t *list = json_array();
    for (size_t r = 0; list && r < table->n_rows; r++) {
        json_t *object = json_object();
        int failed = json_array_append_new(list, object);
        for (int i = 0; failed == 0 && i < table->n_columns; i++)
            failed = json_object_set_new(object, table->name[i], json_of(history_table_cell(table, r, i)));
        if (failed != 0) {
            json_decref(list);
            return NULL;
        }
    }
    return list;
}
