/* kniferail calibrate: reads the file of readings. */
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calibrate_cmd.h"
#include "csv.h"
#include "kniferail/quantity.h"

#define MOST_MM  20000 /* a frame's largest offset */
#define TOLD_MAX 20    /* bad rows that are told; of the others how many there are */

enum column { TARGET, READING, DIRECTION, RUN, N_COLUMNS };

struct reading_file {
    struct calibrate_job *job;
    struct csv_reader csv;
    const char *name[N_COLUMNS], *unit[N_COLUMNS]; /* as in the first line */
    int at[N_COLUMNS];                             /* the field of a record that belongs to the column */
    unsigned bad;
};

__attribute__((format(printf, 3, 4))) static bool mistake(struct reading_file *f, const char *column,
                                                          const char *format, ...);

static bool mistake(struct reading_file *f, const char *column, const char *format, ...)
{
    va_list values;
    if (++f->bad > TOLD_MAX)
        return false;
    fprintf(stderr, "%s:%lu: %s%s", f->job->path, f->csv.line, column, column[0] ? ": " : "");
    va_start(values, format);
    vfprintf(stderr, format, values);
    va_end(values);
    fputc('\n', stderr);
    return false;
}

/* ---- the head -------------------------------------------------------------------------------------------------- */

static const struct {
    const char *name, *unit;
    enum column column;
} names[] = {
    {"target_mm", "mm", TARGET},   {"target_in", "in", TARGET},    {"reading_mm", "mm", READING},
    {"reading_in", "in", READING}, {"direction", NULL, DIRECTION}, {"run", NULL, RUN},
};
static const char *const meant[] = {"target_mm or target_in", "reading_mm or reading_in", "direction", "run"};

static bool take_name(struct reading_file *f, int field)
{
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (strcmp(names[i].name, f->csv.field[field]) != 0)
            continue;
        if (f->at[names[i].column] >= 0)
            return mistake(f, names[i].name, "the line has this column twice");
        f->at[names[i].column] = field;
        f->name[names[i].column] = names[i].name;
        f->unit[names[i].column] = names[i].unit;
        return true;
    }
    return mistake(
        f, "", "'%s' is not a column; the columns are target_mm or target_in, reading_mm or reading_in, direction, run",
        f->csv.field[field]);
}

static bool read_head(struct reading_file *f)
{
    if (csv_next(&f->csv) != CSV_RECORD)
        return mistake(f, "", "%s", f->csv.error ? f->csv.error : "the file is empty");
    for (int c = 0; c < N_COLUMNS; c++)
        f->at[c] = -1;
    for (int i = 0; i < f->csv.n; i++)
        if (!take_name(f, i))
            return false;
    for (int c = 0; c < N_COLUMNS; c++)
        if (f->at[c] < 0)
            return mistake(f, "", "the column %s is missing", meant[c]);
    return true;
}

/* ---- rows ------------------------------------------------------------------------------------------------------ */

static const char *text_of(const struct reading_file *f, enum column column)
{
    return f->csv.field[f->at[column]];
}

static bool read_length(struct reading_file *f, enum column column, double *mm)
{
    const char *text = text_of(f, column), *name = f->name[column];
    char why[160];
    int64_t nm = 0;
    enum kr_quantity_answer answer = kr_length_read(text, f->unit[column], &nm);
    if (answer != KR_QUANTITY_OK) {
        kr_quantity_why(answer, text, KR_DIM_LENGTH, why, sizeof why);
        return mistake(f, name, "'%s'%s; allowed: %s, or with its unit behind it", text, why, f->unit[column]);
    }
    *mm = (double)nm / 1e6;
    return (*mm >= -MOST_MM && *mm <= MOST_MM) ||
           mistake(f, name, "'%s'; allowed: %d to %d mm", text, -MOST_MM, MOST_MM);
}

static bool read_direction(struct reading_file *f, uint8_t *direction)
{
    const char *text = text_of(f, DIRECTION);
    bool rises = strcmp(text, "rising") == 0, falls = strcmp(text, "falling") == 0;
    *direction = rises ? KR_RISING : KR_FALLING;
    return rises || falls || mistake(f, "direction", "'%s'; allowed: rising or falling", text);
}

static bool read_run(struct reading_file *f, uint16_t *run)
{
    const char *text = text_of(f, RUN);
    char *end;
    errno = 0;
    long value = strtol(text, &end, 10);
    bool good = errno == 0 && end != text && *end == '\0' && value >= 1 && value <= KR_CALIBRATION_RUNS_MAX;
    *run = (uint16_t)(good ? value : 0);
    return good || mistake(f, "run", "'%s'; allowed: 1 to %d", text, KR_CALIBRATION_RUNS_MAX);
}

static bool check_new(struct reading_file *f, const struct kr_reading *r)
{
    const struct calibrate_job *job = f->job;
    uint16_t targets = 0;
    bool known = false;
    for (size_t i = 0; i < job->n; i++) {
        const struct kr_reading *other = &job->reading[i];
        bool first = true;
        if (other->target_mm == r->target_mm && other->direction == r->direction && other->run == r->run)
            return mistake(f, "run", "%u; this target already has a reading of that run and direction",
                           (unsigned)r->run);
        for (size_t k = 0; k < i && first; k++)
            first = job->reading[k].target_mm != other->target_mm;
        targets = (uint16_t)(targets + first);
        known = known || other->target_mm == r->target_mm;
    }
    return known || targets < KR_CALIBRATION_TARGETS_MAX ||
           mistake(f, f->name[TARGET], "'%s'; at most %d targets are possible", text_of(f, TARGET),
                   KR_CALIBRATION_TARGETS_MAX);
}

static void read_row(struct reading_file *f)
{
    struct kr_reading r = {0};
    if (f->csv.n != N_COLUMNS) {
        mistake(f, "", "the line has %d fields, and the first line names %d", f->csv.n, N_COLUMNS);
        return;
    }
    bool target = read_length(f, TARGET, &r.target_mm), reading = read_length(f, READING, &r.reading_mm);
    bool direction = read_direction(f, &r.direction), run = read_run(f, &r.run);
    if (target && reading && direction && run && check_new(f, &r))
        f->job->reading[f->job->n++] = r;
}

static bool has_room(struct reading_file *f)
{
    return f->job->n < KR_CALIBRATION_READINGS_MAX ||
           mistake(f, "", "at most %d readings are possible", KR_CALIBRATION_READINGS_MAX);
}

static bool read_rows(struct reading_file *f)
{
    enum csv_answer answer;
    while ((answer = csv_next(&f->csv)) == CSV_RECORD && has_room(f))
        if (f->csv.n > 1 || f->csv.field[0][0] != '\0')
            read_row(f);
    if (answer == CSV_WRONG)
        mistake(f, "", "%s", f->csv.error);
    if (f->bad == 0 && f->job->n == 0)
        mistake(f, "", "there are no readings");
    if (f->bad > TOLD_MAX)
        fprintf(stderr, "%u mistakes, the first %d are shown\n", f->bad, TOLD_MAX);
    return f->bad == 0;
}

bool calibrate_read(struct calibrate_job *job)
{
    struct reading_file f = {.job = job};
    FILE *file = fopen(job->path, "r");
    if (!file) {
        fprintf(stderr, "kniferail calibrate: %s: %s\n", job->path, strerror(errno));
        return false;
    }
    csv_read_from(&f.csv, file);
    bool good = read_head(&f) && read_rows(&f);
    fclose(file);
    return good;
}
