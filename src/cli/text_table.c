#include "text_table.h"

#include <assert.h>
#include <string.h>

#define NAME_LINES 4 /* words of a column's name that get a line of their own */

struct layout {
    bool is_below[TEXT_TABLE_COLUMNS_MAX];
    int width[TEXT_TABLE_COLUMNS_MAX];
};

static int wider(int width, size_t length)
{
    return (int)length > width ? (int)length : width;
}

/* Finds the part of a column's name for a line, which is counted from the lowest. Returns its length, 0 if there is
 * none. */
static int name_part(const char *name, int line, const char **part)
{
    const char *end = name + strlen(name);
    for (int i = 0;; i++, end = *part - 1) {
        *part = end;
        while (*part > name && ((*part)[-1] != '_' || i == NAME_LINES - 1))
            --*part;
        if (i == line)
            return (int)(end - *part);
        if (*part == name)
            return 0;
    }
}

static int width_of(const struct text_table *table, int column)
{
    char room[TEXT_TABLE_CELL_MAX];
    const char *part;
    int width = 0;
    for (int line = 0; line < NAME_LINES; line++)
        width = wider(width, (size_t)name_part(table->name[column], line, &part));
    for (size_t r = 0; r < table->n_rows; r++)
        width = wider(width, strlen(table->cell(table->data, r, column, room)));
    return width;
}

static void lay_out(const struct text_table *table, struct layout *layout)
{
    int total = -1;
    for (int i = 0; i < table->n_columns; i++) {
        layout->is_below[i] = false;
        layout->width[i] = width_of(table, i);
        total += layout->width[i] + 1;
    }
    for (int i = table->n_columns - 1; i > 0 && total > table->width; i--) {
        layout->is_below[i] = true;
        total -= layout->width[i] + 1;
    }
}

/* Writes length bytes of text at their place in the line. *at is the length of the line, *due the place where the
 * column begins. */
static void put(const struct text_table *table, const struct layout *layout, int column, const char *text, int length,
                int *at, int *due, FILE *to)
{
    int from = *due + (table->is_words[column] ? 0 : layout->width[column] - length);
    if (length > 0) /* a line must not end with blanks */
        *at += fprintf(to, "%*s%.*s", from - *at, "", length, text);
    *due += layout->width[column] + 1;
}

static void print_names(const struct text_table *table, const struct layout *layout, FILE *to)
{
    const char *part = "";
    for (int line = NAME_LINES - 1; line >= 0; line--) {
        int at = 0, due = 0;
        for (int i = 0; i < table->n_columns; i++) {
            int length = layout->is_below[i] ? 0 : name_part(table->name[i], line, &part);
            if (!layout->is_below[i])
                put(table, layout, i, part, length, &at, &due, to);
        }
        if (at > 0)
            fputc('\n', to);
    }
}

static void print_row(const struct text_table *table, const struct layout *layout, size_t row, FILE *to)
{
    char room[TEXT_TABLE_CELL_MAX];
    int at = 0, due = 0;
    for (int i = 0; i < table->n_columns; i++) {
        const char *text = table->cell(table->data, row, i, room);
        if (!layout->is_below[i])
            put(table, layout, i, text, (int)strlen(text), &at, &due, to);
    }
    fputc('\n', to);
}

/* "    worst_pair_um 16, worst_slit_um -17"; words on lines of their own. */
static void print_below(const struct text_table *table, const struct layout *layout, size_t row, FILE *to)
{
    char room[TEXT_TABLE_CELL_MAX];
    const char *before = "    ", *end = "";
    for (int i = 0; i < table->n_columns; i++) {
        const char *text = table->cell(table->data, row, i, room);
        if (!layout->is_below[i] || text[0] == '\0')
            continue;
        if (table->is_words[i])
            fprintf(to, "%s%s", before, text);
        else
            fprintf(to, "%s%s %s", before, table->name[i], text);
        before = table->is_words[i] ? "\n    " : ", ";
        end = "\n";
    }
    fputs(end, to);
}

void text_table_print(const struct text_table *table, FILE *to)
{
    struct layout layout;
    assert(table->n_columns >= 1 && table->n_columns <= TEXT_TABLE_COLUMNS_MAX);
    lay_out(table, &layout);
    print_names(table, &layout, to);
    for (size_t r = 0; r < table->n_rows; r++) {
        print_row(table, &layout, r, to);
        print_below(table, &layout, r, to);
    }
}
