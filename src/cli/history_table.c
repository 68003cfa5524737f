#include "history_table.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "csv.h"
#include "text_table.h"

#define CELL_TEXT_MAX TEXT_TABLE_CELL_MAX

_Static_assert(KR_HISTORY_COLUMNS_MAX <= TEXT_TABLE_COLUMNS_MAX, "every table of history can be printed");

void history_table_begin(struct history_table *table, const char *title)
{
    *table = (struct history_table){.title = title};
}

void history_table_free(struct history_table *table)
{
    for (size_t i = 0; i < table->n_rows * (size_t)table->n_columns; i++)
        free((char *)table->cell[i].text); /* the table owns this copy */
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

static bool ends_with(const char *text, const char *end)
{
    size_t length = strlen(text), n = strlen(end);
    return length >= n && strcmp(text + length - n, end) == 0;
}

/* ---- units ----------------------------------------------------------------------------------------------------- */

static void convert_column(struct history_table *table, int column, double um_of_one)
{
    for (size_t r = 0; r < table->n_rows; r++) {
        struct kr_cell *cell = &table->cell[r * (size_t)table->n_columns + (size_t)column];
        if (cell->kind == KR_CELL_REAL)
            table->decimals[column] = um_of_one > 1000 ? 5 : 4;
        if (cell->kind == KR_CELL_NUMBER)
            cell->real = (double)cell->number;
        if (cell->kind == KR_CELL_NUMBER || cell->kind == KR_CELL_REAL)
            *cell = (struct kr_cell){.kind = KR_CELL_REAL, .real = cell->real / um_of_one};
    }
}

void history_table_convert(struct history_table *table, enum kr_length_unit unit)
{
    for (int i = 0; i < table->n_columns; i++) {
        if (!ends_with(table->name[i], "_um"))
            continue;
        table->decimals[i] = unit == KR_LENGTH_INCH ? 4 : 3;
        convert_column(table, i, unit == KR_LENGTH_INCH ? KR_NM_PER_INCH / 1000.0 : 1000.0);
        memcpy(strrchr(table->name[i], '_'), unit == KR_LENGTH_INCH ? "_in" : "_mm", sizeof "_mm");
    }
}

void history_table_drop(struct history_table *table, const char *name)
{
    int dropped = history_table_column(table, name), n = table->n_columns;
    size_t to = 0;
    for (size_t from = 0; from < table->n_rows * (size_t)n; from++) {
        if (from % (size_t)n != (size_t)dropped)
            table->cell[to++] = table->cell[from];
        else
            free((char *)table->cell[from].text);
    }
    free(table->name[dropped]);
    for (int i = dropped; i + 1 < n; i++) {
        table->name[i] = table->name[i + 1];
        table->decimals[i] = table->decimals[i + 1];
    }
    table->n_columns--;
    table->room = table->n_rows;
}

/* ---- printing -------------------------------------------------------------------------------------------------- */

/* Returns a text unchanged; any other value is written into room. */
static const char *text_of(const struct kr_cell *cell, int decimals, char room[CELL_TEXT_MAX])
{
    room[0] = '\0';
    if (cell->kind == KR_CELL_TEXT)
        return cell->text ? cell->text : "";
    if (cell->kind == KR_CELL_NUMBER)
        snprintf(room, CELL_TEXT_MAX, "%" PRId64, cell->number);
    if (cell->kind == KR_CELL_REAL)
        snprintf(room, CELL_TEXT_MAX, "%.*f", decimals > 0 ? decimals : 2, cell->real);
    bool is_zero = cell->kind == KR_CELL_REAL && room[0] == '-' && strspn(room + 1, "0.") == strlen(room + 1);
    return is_zero ? room + 1 : room; /* a value that is rounded to 0 has no sign */
}

/* ---- as text --------------------------------------------------------------------------------------------------- */

#define WIDTH       100
#define TIME_LENGTH 19 /* 2026-03-01T06:30:00 */

static bool is_time(const char *name)
{
    return strcmp(name, "at") == 0 || ends_with(name, "_at");
}

/* Times are printed with full seconds; the other formats have more digits. */
static const char *shown(const void *data, size_t row, int column, char room[CELL_TEXT_MAX])
{
    const struct history_table *table = data;
    const struct kr_cell *cell = history_table_cell(table, row, column);
    const char *text = text_of(cell, table->decimals[column], room), *name = table->name[column];
    if (cell->kind != KR_CELL_TEXT || strlen(text) < TIME_LENGTH || !is_time(name))
        return text;
    snprintf(room, CELL_TEXT_MAX, "%.*sZ", TIME_LENGTH, text);
    return room;
}

void history_table_print_text(const struct history_table *table)
{
    bool is_words[KR_HISTORY_COLUMNS_MAX];
    if (table->n_rows == 0) {
        printf("%s: none\n\n", table->title);
        return;
    }
    for (int i = 0; i < table->n_columns; i++)
        is_words[i] = history_table_cell(table, 0, i)->kind == KR_CELL_TEXT;
    printf("%s\n", table->title);
    text_table_print(&(struct text_table){.n_columns = table->n_columns,
                                          .n_rows = table->n_rows,
                                          .name = (const char *const *)table->name,
                                          .is_words = is_words,
                                          .width = WIDTH,
                                          .cell = shown,
                                          .data = table},
                     stdout);
    printf("\n");
}

/* ---- as CSV and JSON ------------------------------------------------------------------------------------------- */

void history_table_print_csv(const struct history_table *table)
{
    struct csv_writer writer = {stdout, false};
    char room[CELL_TEXT_MAX];
    for (int i = 0; i < table->n_columns; i++)
        csv_put(&writer, table->name[i]);
    csv_end_record(&writer);
    for (size_t r = 0; r < table->n_rows; r++) {
        for (int i = 0; i < table->n_columns; i++)
            csv_put(&writer, text_of(history_table_cell(table, r, i), table->decimals[i], room));
        csv_end_record(&writer);
    }
}

/* JSON has no infinity, so a capability without any variation is null. */
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

bool history_tables_print_json(const char *command, const char *station, double tolerance_um,
                               const struct history_table table[], int n)
{
    json_t *all = json_pack("{s:s, s:f}", "station", station, "tolerance_um", tolerance_um);
    for (int t = 0; all && t < n; t++)
        if (table[t].title && json_object_set_new(all, table[t].title, history_table_json(&table[t])) != 0) {
            json_decref(all);
            all = NULL;
        }
    bool ok = all != NULL && json_dumpf(all, stdout, JSON_INDENT(2)) == 0;
    json_decref(all);
    printf("\n");
    if (!ok)
        fprintf(stderr, "kniferail %s: the output could not be made\n", command);
    return ok;
}
