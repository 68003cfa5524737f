#include "csv.h"

#include <assert.h>
#include <errno.h>
#include <stdarg.h>
#include <string.h>

/* ---- reading --------------------------------------------------------------------------------------------------- */

void csv_read_from(struct csv_reader *reader, FILE *file)
{
    *reader = (struct csv_reader){.file = file};
}

static bool fail(struct csv_reader *r, const char *error)
{
    r->error = error;
    return false;
}

static int take(struct csv_reader *r)
{
    int c = getc(r->file);
    r->lines_read += c == '\n';
    return c;
}

static bool append(struct csv_reader *r, int c)
{
    if (r->used == sizeof r->text)
        return fail(r, "the record is too long");
    r->text[r->used++] = (char)c;
    return true;
}

/* Reads the text after an opening quotation mark. *c is the character after the closing one. */
static bool read_quoted(struct csv_reader *r, int *c)
{
    for (;;) {
        *c = take(r);
        if (*c == '"' && (*c = take(r)) != '"')
            return true;
        if (*c == EOF)
            return fail(r, "a quotation mark is not closed");
        if (*c == '\0')
            return fail(r, "the text has a character 0");
        if (!append(r, *c))
            return false;
    }
}

static bool read_plain(struct csv_reader *r, int *c)
{
    for (; *c != ',' && *c != '\r' && *c != '\n' && *c != EOF; *c = take(r)) {
        if (*c == '"')
            return fail(r, "a quotation mark stands inside a field that does not begin with one");
        if (*c == '\0')
            return fail(r, "the text has a character 0");
        if (!append(r, *c))
            return false;
    }
    return true;
}

/* *c is the field's first character; afterwards it is the character that ended the field: a comma, '\n' or EOF. */
static bool read_field(struct csv_reader *r, int *c)
{
    if (r->n == CSV_FIELDS_MAX)
        return fail(r, "there are too many fields");
    r->field[r->n++] = &r->text[r->used];
    if (!(*c == '"' ? read_quoted(r, c) : read_plain(r, c)) || !append(r, '\0'))
        return false;
    if (*c == '\r' && (*c = take(r)) != '\n' && *c != EOF)
        return fail(r, "a carriage return has no line feed behind it");
    return *c == ',' || *c == '\n' || *c == EOF || fail(r, "there is text behind a closing quotation mark");
}

static int first_character(struct csv_reader *r)
{
    static const int mark[] = {0xEF, 0xBB, 0xBF}; /* UTF-8's byte order mark */
    int c = take(r);
    for (int i = 0; r->line == 0 && i < 3 && c == mark[i]; i++)
        c = take(r);
    return c;
}

enum csv_answer csv_next(struct csv_reader *r)
{
    int c = first_character(r);
    r->n = 0;
    r->used = 0;
    r->error = NULL;
    if (c != EOF)
        r->line = r->lines_read + (c != '\n');
    for (bool more = c != EOF; more; c = more ? take(r) : c) {
        if (!read_field(r, &c))
            return CSV_WRONG;
        more = c == ',';
    }
    if (ferror(r->file)) {
        fail(r, strerror(errno));
        return CSV_WRONG;
    }
    return r->n > 0 ? CSV_RECORD : CSV_END;
}

/* ---- writing --------------------------------------------------------------------------------------------------- */

void csv_put(struct csv_writer *w, const char *text)
{
    bool quoted = strpbrk(text, ",\"\r\n") != NULL;
    if (w->in_record)
        putc(',', w->to);
    w->in_record = true;
    if (quoted)
        putc('"', w->to);
    for (const char *p = text; *p; p++) {
        if (*p == '"')
            putc('"', w->to);
        putc(*p, w->to);
    }
    if (quoted)
        putc('"', w->to);
}

void csv_put_format(struct csv_writer *w, const char *format, ...)
{
    char text[160];
    va_list values;
    va_start(values, format);
    int n = vsnprintf(text, sizeof text, format, values);
    va_end(values);
    assert(n >= 0 && (size_t)n < sizeof text);
    (void)n;
    csv_put(w, text);
}

void csv_end_record(struct csv_writer *w)
{
    fputs("\r\n", w->to);
    w->in_record = false;
}
