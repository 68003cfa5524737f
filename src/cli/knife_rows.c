#include "knife_rows.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "csv.h"
#include "kniferail/map.h"

#define TOLD_MAX 20 /* of the other mistakes it is told how many there are */

struct list_file {
    struct csv_reader csv;
    const char *name;
    FILE *tell;
    /* The field of a record that belongs to the column; -1: the list does not have the column. */
    int at[KR_N_KNIFE_COLUMNS];
    unsigned long line; /* the record's number */
    unsigned bad;
    struct knife_rows *rows;
};

/* ---- mistakes -------------------------------------------------------------------------------------------------- */

static bool may_tell(struct list_file *f)
{
    return ++f->bad <= TOLD_MAX && f->tell != NULL;
}

__attribute__((format(printf, 2, 3))) static bool mistake(struct list_file *f, const char *format, ...)
{
    va_list values;
    if (!may_tell(f))
        return false;
    fprintf(f->tell, "%s: row %lu: ", f->name, f->line);
    va_start(values, format);
    vfprintf(f->tell, format, values);
    va_end(values);
    fputc('\n', f->tell);
    return false;
}

static const char *text_of(const struct list_file *f, enum kr_knife_column column)
{
    return f->at[column] >= 0 ? f->csv.field[f->at[column]] : "";
}

/* Prints the value in a column of the row, and why it is not possible. */
__attribute__((format(printf, 3, 4))) static bool wrong(struct list_file *f, enum kr_knife_column column,
                                                        const char *format, ...)
{
    va_list values;
    if (!may_tell(f))
        return false;
    fprintf(f->tell, "%s: row %lu, column %s: '%s'; ", f->name, f->line, kr_knife_column_name(column),
            text_of(f, column));
    va_start(values, format);
    vfprintf(f->tell, format, values);
    va_end(values);
    fputc('\n', f->tell);
    return false;
}

void knife_row_tell(const struct kr_knife_row *row, enum kr_knife_column column, const char *why, const char *list,
                    FILE *tell)
{
    char number[8];
    snprintf(number, sizeof number, "%u", column == KR_COLUMN_RAIL ? row->rail : row->holder);
    fprintf(tell, "%s: row %lu, column %s: '%s'; %s\n", list, row->line, kr_knife_column_name(column),
            column == KR_COLUMN_NAME ? row->name : number, why);
}

/* ---- the head -------------------------------------------------------------------------------------------------- */

static bool take_name(struct list_file *f, int field)
{
    for (int c = 0; c < KR_N_KNIFE_COLUMNS; c++) {
        const char *name = kr_knife_column_name((enum kr_knife_column)c);
        if (strcmp(name, f->csv.field[field]) != 0)
            continue;
        if (f->at[c] >= 0)
            return mistake(f, "the column %s is there twice", name);
        f->at[c] = field;
        return true;
    }
    return mistake(f, "'%s' is not a column; `kniferail knives export` writes all columns", f->csv.field[field]);
}

static bool read_head(struct list_file *f)
{
    static const enum kr_knife_column must[] = {KR_COLUMN_NAME, KR_COLUMN_KIND, KR_COLUMN_PLACE};
    f->line = 1;
    for (int c = 0; c < KR_N_KNIFE_COLUMNS; c++)
        f->at[c] = -1;
    if (csv_next(&f->csv) != CSV_RECORD)
        return mistake(f, "%s", f->csv.error ? f->csv.error : "the list is empty");
    for (int i = 0; i < f->csv.n; i++)
        if (!take_name(f, i))
            return false;
    for (size_t i = 0; i < sizeof must / sizeof must[0]; i++)
        if (f->at[must[i]] < 0)
            return mistake(f, "the column %s is missing", kr_knife_column_name(must[i]));
    return true;
}

/* ---- one field ------------------------------------------------------------------------------------------------- */

/* The rules for a column: in which kinds of row it may have a value and must have one (one bit each), and the limits of
 * a number. */
#define KNIVES (1u << KR_RECORD_KNIFE)
#define GRINDS (1u << KR_RECORD_GRIND)
#define BREAKS (1u << KR_RECORD_BREAK)
#define ALL    (KNIVES | GRINDS | BREAKS)
static const struct rule {
    unsigned may, must;
    int64_t least, most;
} rules[] = {
    [KR_COLUMN_RECORD] = {ALL, 0, 0, 0},
    [KR_COLUMN_NAME] = {ALL, ALL, 1, KR_KNIFE_NAME_MAX - 1},
    [KR_COLUMN_KIND] = {KNIVES, KNIVES, 1, KR_KNIFE_KIND_MAX - 1},
    [KR_COLUMN_PLACE] = {KNIVES, KNIVES, 0, 0},
    [KR_COLUMN_RAIL] = {ALL, 0, 1, KR_RAILS_MAX},
    [KR_COLUMN_HOLDER] = {ALL, 0, 1, KR_HOLDERS_MAX},
    [KR_COLUMN_DIAMETER] = {ALL, 0, 1, KR_KNIFE_DIMENSION_MAX},
    [KR_COLUMN_THICKNESS] = {ALL, 0, 1, KR_KNIFE_DIMENSION_MAX},
    [KR_COLUMN_EDGE] = {ALL, 0, -KR_EDGE_OFFSET_MAX_UM, KR_EDGE_OFFSET_MAX_UM},
    [KR_COLUMN_METRES] = {ALL, 0, 0, UINT32_MAX},
    [KR_COLUMN_EARLIER_METRES] = {KNIVES, 0, 0, KR_KNIFE_EARLIER_MAX},
    [KR_COLUMN_GRINDS] = {KNIVES, 0, 0, KR_KNIFE_LIST_GRINDS_MAX},
    [KR_COLUMN_AT] = {ALL, GRINDS | BREAKS, 0, 0},
    [KR_COLUMN_DIAMETER_BEFORE] = {GRINDS, 0, 1, KR_KNIFE_DIMENSION_MAX},
    [KR_COLUMN_THICKNESS_BEFORE] = {GRINDS, 0, 1, KR_KNIFE_DIMENSION_MAX},
    [KR_COLUMN_CAUSE] = {BREAKS, BREAKS, 0, 0},
    [KR_COLUMN_FRAGMENTS] = {BREAKS, BREAKS, 0, 0},
    [KR_COLUMN_FELL_METRES] = {BREAKS, 0, 0, UINT32_MAX},
};
_Static_assert(sizeof rules / sizeof rules[0] == KR_N_KNIFE_COLUMNS, "a rule for each column");

static bool take_number(struct list_file *f, enum kr_knife_column c, int64_t *number)
{
    const char *text = text_of(f, c), *digits = text + (text[0] == '-');
    errno = 0;
    *number = strtoll(text, NULL, 10);
    bool good = digits[0] != '\0' && digits[strspn(digits, "0123456789")] == '\0' && errno == 0 &&
                *number >= rules[c].least && *number <= rules[c].most;
    return good ||
           wrong(f, c, "a whole number from %" PRId64 " to %" PRId64 " is possible", rules[c].least, rules[c].most);
}

static bool take_text(struct list_file *f, enum kr_knife_column c, char *to)
{
    const char *text = text_of(f, c);
    size_t n = strlen(text), most = (size_t)rules[c].most;
    bool good = n >= 1 && n <= most && text[0] != ' ' && text[n - 1] != ' ';
    for (size_t i = 0; i < n; i++)
        good = good && text[i] >= ' ' && text[i] <= '~';
    if (good)
        memcpy(to, text, n + 1);
    return good || wrong(f, c, "1 to %zu printable ASCII characters, without a space at either end", most);
}

/* Reads a word of one of the map's lists, as in the book. */
struct word {
    const char *word;
    uint16_t number;
};
#define X(name, number, word, text) {word, number},
static const struct word records[] = {KR_KNIFE_RECORDS(X)}, places[] = {KR_KNIFE_PLACES(X)},
                         causes[] = {KR_KNIFE_CAUSES(X)}, fragments[] = {KR_KNIFE_FRAGMENTS(X)};
#undef X
#define N(words) (sizeof(words) / sizeof(words)[0])

static bool take_word(struct list_file *f, enum kr_knife_column c, const struct word words[], size_t n,
                      uint16_t *number)
{
    char all[128] = "";
    for (size_t i = 0; i < n; i++) {
        if (strcmp(words[i].word, text_of(f, c)) == 0) {
            *number = words[i].number;
            return true;
        }
        size_t end = strlen(all);
        snprintf(all + end, sizeof all - end, "%s%s", i > 0 ? ", " : "", words[i].word);
    }
    return wrong(f, c, "one of %s is possible", all);
}

static int two_digits(const char *text)
{
    return (text[0] - '0') * 10 + text[1] - '0';
}

static bool is_date(const char *text)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    int year = two_digits(text) * 100 + two_digits(text + 2), month = two_digits(text + 5), day = two_digits(text + 8);
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return month >= 1 && month <= 12 && day >= 1 && day <= days[month - 1] + (leap && month == 2);
}

static bool is_time(const char *text)
{
    return two_digits(text) < 24 && two_digits(text + 3) < 60 && two_digits(text + 6) < 60;
}

static bool take_time(struct list_file *f, char to[KR_BOOK_TIME_MAX])
{
    static const char form[] = "0000-00-00T00:00:00.000Z";
    const char *text = text_of(f, KR_COLUMN_AT);
    size_t n = strlen(text);
    bool good = n == sizeof "0000-00-00" - 1 || n == sizeof form - 1;
    for (size_t i = 0; good && i < n; i++)
        good = form[i] == '0' ? isdigit((unsigned char)text[i]) != 0 : text[i] == form[i];
    good = good && is_date(text) && (n < sizeof form - 1 || is_time(text + sizeof "0000-00-00T" - 1));
    if (good)
        memcpy(to, text, n + 1);
    return good || wrong(f, KR_COLUMN_AT, "a UTC time as 2026-03-01 or 2026-03-01T06:30:00.000Z is possible");
}

static bool take_length(struct list_file *f, enum kr_knife_column c, int32_t *um)
{
    int64_t number;
    bool good = take_number(f, c, &number);
    *um = good ? (int32_t)number : 0;
    return good;
}

static bool take_metres(struct list_file *f, enum kr_knife_column c, uint32_t *metres)
{
    int64_t number;
    bool good = take_number(f, c, &number);
    *metres = good ? (uint32_t)number : 0;
    return good;
}

static bool take_small(struct list_file *f, enum kr_knife_column c, uint16_t *to)
{
    int64_t number;
    bool good = take_number(f, c, &number);
    *to = good ? (uint16_t)number : 0;
    return good;
}

/* Tells whether the column has a value. */
static bool take(struct list_file *f, enum kr_knife_column c, struct kr_knife_row *row)
{
    uint16_t number = 0;
    switch (c) {
    case KR_COLUMN_NAME: return take_text(f, c, row->name);
    case KR_COLUMN_KIND: return take_text(f, c, row->kind);
    /* An empty field is not accepted. */
    case KR_COLUMN_PLACE: return take_word(f, c, places + 1, N(places) - 1, &row->place);
    case KR_COLUMN_RAIL: return take_small(f, c, &row->rail);
    case KR_COLUMN_HOLDER: return take_small(f, c, &row->holder);
    case KR_COLUMN_DIAMETER: return take_length(f, c, &row->diameter_um);
    case KR_COLUMN_THICKNESS: return take_length(f, c, &row->thickness_um);
    case KR_COLUMN_EDGE: return row->edge_known = take_length(f, c, &row->edge_um);
    case KR_COLUMN_METRES: return take_metres(f, c, &row->metres);
    case KR_COLUMN_EARLIER_METRES: return take_number(f, c, &row->earlier_metres);
    case KR_COLUMN_GRINDS: return take_metres(f, c, &row->grinds);
    case KR_COLUMN_AT: return take_time(f, row->at);
    case KR_COLUMN_DIAMETER_BEFORE: return take_length(f, c, &row->diameter_before_um);
    case KR_COLUMN_THICKNESS_BEFORE: return take_length(f, c, &row->thickness_before_um);
    case KR_COLUMN_CAUSE: return take_word(f, c, causes, N(causes), &row->cause);
    case KR_COLUMN_FRAGMENTS: return take_word(f, c, fragments, N(fragments), &row->fragments);
    case KR_COLUMN_FELL_METRES: return row->fell_known = take_metres(f, c, &row->fell_metres);
    case KR_COLUMN_RECORD:
        if (!take_word(f, c, records, N(records), &number))
            return false;
        row->record = (enum kr_knife_record)number;
        return true;
    case KR_N_KNIFE_COLUMNS: break;
    }
    return false;
}

static bool take_column(struct list_file *f, enum kr_knife_column c, struct kr_knife_row *row)
{
    unsigned is = 1u << row->record;
    if (text_of(f, c)[0] == '\0')
        return !(rules[c].must & is) || wrong(f, c, "it must be given");
    if (!(rules[c].may & is))
        return wrong(f, c, "a row '%s' has no value in this column", records[row->record].word);
    return take(f, c, row);
}

/* ---- one row --------------------------------------------------------------------------------------------------- */

static bool judge_place(struct list_file *f, const struct kr_knife_row *row)
{
    bool on_holder = row->place == KR_KNIFE_HOLDER;
    if (row->record != KR_RECORD_KNIFE)
        return (row->rail == 0) == (row->holder == 0) ||
               wrong(f, row->rail == 0 ? KR_COLUMN_RAIL : KR_COLUMN_HOLDER, "give both rail and holder, or neither");
    if ((row->rail != 0) != on_holder)
        return wrong(f, KR_COLUMN_RAIL, "a knife on a holder has 1 to %d, any other knife nothing", KR_RAILS_MAX);
    if ((row->holder != 0) != on_holder)
        return wrong(f, KR_COLUMN_HOLDER, "a knife on a holder has 1 to %d, any other knife nothing", KR_HOLDERS_MAX);
    return !on_holder || row->edge_known ||
           wrong(f, KR_COLUMN_EDGE, "a knife on a holder needs it: it is the holder's edge offset");
}

static bool judge_alone(struct list_file *f, const struct kr_knife_row *row)
{
    if (!judge_place(f, row))
        return false;
    return row->record != KR_RECORD_KNIFE || row->grinds > 0 || row->earlier_metres == 0 ||
           wrong(f, KR_COLUMN_EARLIER_METRES, "only 0 is possible for a knife that was never ground (column grinds)");
}

/* ---- a row and those before it --------------------------------------------------------------------------------- */

/* Returns the row of the knife of that name, or the number of rows if there is none. */
static size_t find(const struct knife_rows *rows, const char *name)
{
    size_t i = rows->n;
    while (i-- > 0)
        if (rows->row[i].record == KR_RECORD_KNIFE && strcmp(rows->row[i].name, name) == 0)
            return i;
    return rows->n;
}

static bool judge_grind(struct list_file *f, const struct kr_knife_row *row, size_t of)
{
    const struct kr_knife_row *knife = &f->rows->row[of];
    int64_t metres = 0;
    uint32_t grinds = 1;
    for (size_t i = of + 1; i < f->rows->n; i++) {
        const struct kr_knife_row *other = &f->rows->row[i];
        if (other->record != KR_RECORD_GRIND || strcmp(other->name, row->name) != 0)
            continue;
        metres += other->metres;
        grinds++;
    }
    if (grinds > knife->grinds)
        return wrong(f, KR_COLUMN_RECORD, "row %lu says that the knife was ground %" PRIu32 " times", knife->line,
                     knife->grinds);
    return metres + row->metres <= knife->earlier_metres ||
           wrong(f, KR_COLUMN_METRES, "at most %" PRId64 " is possible: row %lu has %" PRId64 " before the last grind",
                 knife->earlier_metres - metres, knife->line, knife->earlier_metres);
}

static bool judge_break(struct list_file *f, const struct kr_knife_row *row, size_t of)
{
    const struct kr_knife_row *knife = &f->rows->row[of];
    if (knife->place != KR_KNIFE_BROKEN && knife->place != KR_KNIFE_SCRAPPED)
        return wrong(f, KR_COLUMN_RECORD, "row %lu says that the knife is not broken", knife->line);
    for (size_t i = of + 1; i < f->rows->n; i++)
        if (f->rows->row[i].record == KR_RECORD_BREAK && strcmp(f->rows->row[i].name, row->name) == 0)
            return wrong(f, KR_COLUMN_RECORD, "row %lu already says how the knife broke", f->rows->row[i].line);
    return true;
}

static bool judge_holder(struct list_file *f, const struct kr_knife_row *row)
{
    for (size_t i = 0; row->place == KR_KNIFE_HOLDER && i < f->rows->n; i++) {
        const struct kr_knife_row *other = &f->rows->row[i];
        if (other->place == KR_KNIFE_HOLDER && other->rail == row->rail && other->holder == row->holder)
            return wrong(f, KR_COLUMN_HOLDER, "row %lu already has a knife on this holder", other->line);
    }
    return true;
}

static bool judge(struct list_file *f, const struct kr_knife_row *row)
{
    size_t of = find(f->rows, row->name);
    if (row->record == KR_RECORD_KNIFE)
        return of == f->rows->n ? judge_holder(f, row)
                                : wrong(f, KR_COLUMN_NAME, "row %lu has a knife of this name", f->rows->row[of].line);
    if (of == f->rows->n)
        return wrong(f, KR_COLUMN_NAME, "no row before this one has a knife of this name");
    return row->record == KR_RECORD_GRIND ? judge_grind(f, row, of) : judge_break(f, row, of);
}

/* ---- the list -------------------------------------------------------------------------------------------------- */

static bool keep(struct list_file *f, const struct kr_knife_row *row)
{
    struct knife_rows *rows = f->rows;
    if (rows->n == KR_KNIFE_ROWS_MAX)
        return mistake(f, "a list has at most %d rows", KR_KNIFE_ROWS_MAX);
    if (rows->n == rows->room) {
        size_t room = rows->room > 0 ? 2 * rows->room : 64;
        struct kr_knife_row *more = realloc(rows->row, room * sizeof more[0]);
        if (more == NULL)
            return mistake(f, "out of memory");
        rows->row = more;
        rows->room = room;
    }
    rows->row[rows->n++] = *row;
    return true;
}

/* False: the rest of the list can't be read. */
static bool read_row(struct list_file *f, int n_columns)
{
    struct kr_knife_row row;
    memset(&row, 0, sizeof row);
    row.line = f->line;
    if (f->csv.n != n_columns) {
        mistake(f, "the row has %d fields, and the first row names %d", f->csv.n, n_columns);
        return true;
    }
    bool good = true;
    for (int c = 0; c < KR_N_KNIFE_COLUMNS; c++)
        good = take_column(f, (enum kr_knife_column)c, &row) && good;
    if (!good || !judge_alone(f, &row) || !judge(f, &row))
        return true;
    return keep(f, &row);
}

static void read_rows(struct list_file *f)
{
    enum csv_answer answer = CSV_END;
    int n_columns = f->csv.n;
    bool go_on = true;
    while (go_on && (answer = csv_next(&f->csv)) == CSV_RECORD) {
        f->line++;
        if (f->csv.n > 1 || f->csv.field[0][0] != '\0')
            go_on = read_row(f, n_columns);
    }
    f->line++;
    if (go_on && answer == CSV_WRONG)
        mistake(f, "%s", f->csv.error);
    else if (go_on && f->bad == 0 && f->rows->n == 0)
        mistake(f, "there are no knives in the list");
}

bool knife_rows_read(FILE *file, const char *list, FILE *tell, struct knife_rows *rows)
{
    struct list_file f = {.name = list, .tell = tell, .rows = rows};
    *rows = (struct knife_rows){NULL, 0, 0};
    csv_read_from(&f.csv, file);
    if (read_head(&f))
        read_rows(&f);
    if (f.bad > TOLD_MAX && tell != NULL)
        fprintf(tell, "%s: %u mistakes, the first %d are shown\n", list, f.bad, TOLD_MAX);
    return f.bad == 0;
}

void knife_rows_free(struct knife_rows *rows)
{
    free(rows->row);
    *rows = (struct knife_rows){NULL, 0, 0};
}
