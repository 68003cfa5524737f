/* kniferail calibrate: takes readings that are typed in, target by target, in the sequence in which the carriage moves
 * to them. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "calibrate_cmd.h"
#include "kniferail/quantity.h"
#include "lengths.h"

#define LINE_MAX_LENGTH 80

struct typing {
    struct calibrate_job *job;
    const char *unit; /* the unit of a reading that is typed without one */
    bool is_terminal; /* a person sees the questions, and can answer again */
    unsigned long line;
};

/* A reading that is still to be taken: in each run, all targets from the lowest to the highest, then back. */
struct place {
    uint16_t run;
    uint8_t direction;
    int64_t target_nm;
};

static struct place place_at(const struct calibrate_targets *t, size_t index)
{
    size_t in_run = index % ((size_t)2 * t->n), n = t->n;
    bool rises = in_run < n;
    return (struct place){.run = (uint16_t)(index / (2 * n) + 1),
                          .direction = rises ? KR_RISING : KR_FALLING,
                          .target_nm = t->nm[rises ? in_run : 2 * n - 1 - in_run]};
}

static void ask(const struct typing *t, const struct place *p)
{
    if (!t->is_terminal)
        return;
    fprintf(stderr, "run %u, %s, target %.3f mm, reads (%s): ", p->run,
            p->direction == KR_RISING ? "rising" : "falling", (double)p->target_nm / 1e6, t->unit);
    fflush(stderr);
}

static bool tell(const struct typing *t, const char *text, const char *why)
{
    fprintf(stderr,
            "kniferail calibrate: typed line %lu: '%s'%s; a reading is 500.125 or 19 5/8, within 20000 mm, or with its "
            "unit behind it; an empty line leaves it out, back takes the last one once more\n",
            t->line, text, why);
    return false;
}

static bool take(const struct typing *t, const struct place *p, const char *text)
{
    char why[160] = "";
    int64_t nm = 0;
    enum kr_quantity_answer answer = kr_length_read(text, t->unit, &nm);
    if (answer != KR_QUANTITY_OK) {
        kr_quantity_why(answer, text, KR_DIM_LENGTH, why, sizeof why);
        return tell(t, text, why);
    }
    if (llabs(nm) > INT64_C(20000000000))
        return tell(t, text, " is too far");
    t->job->reading[t->job->n++] = (struct kr_reading){.target_mm = (double)p->target_nm / 1e6,
                                                       .reading_mm = (double)nm / 1e6,
                                                       .direction = p->direction,
                                                       .run = p->run};
    return true;
}

/* Tells whether this reading was the last one taken, so that `back` removes it. */
static bool was_taken(const struct calibrate_job *job, const struct place *p)
{
    const struct kr_reading *last = &job->reading[job->n - 1];
    return job->n > 0 && last->run == p->run && last->direction == p->direction &&
           last->target_mm == (double)p->target_nm / 1e6;
}

/* False: standard input is at its end. */
static bool next_line(struct typing *t, char line[LINE_MAX_LENGTH])
{
    if (fgets(line, LINE_MAX_LENGTH, stdin) == NULL)
        return false;
    t->line++;
    line[strcspn(line, "\r\n")] = '\0';
    return true;
}

bool calibrate_type_in(struct calibrate_job *job, const struct calibrate_targets *targets, const char *unit)
{
    struct typing t = {.job = job, .unit = unit, .is_terminal = isatty(STDIN_FILENO) != 0};
    char line[LINE_MAX_LENGTH];
    job->path = "typed in";
    for (size_t i = 0; i < (size_t)2 * targets->n * targets->runs;) {
        struct place place = place_at(targets, i);
        ask(&t, &place);
        if (!next_line(&t, line))
            break;
        if (strcmp(line, "back") == 0) {
            i -= i > 0;
            place = place_at(targets, i);
            job->n -= was_taken(job, &place);
        } else if (line[0] == '\0' || take(&t, &place, line)) {
            i++;
        } else if (!t.is_terminal) {
            return false;
        }
    }
    if (job->n == 0)
        fprintf(stderr, "kniferail calibrate: there are no readings\n");
    return job->n > 0;
}

bool calibrate_keep(const struct calibrate_job *job, const char *path)
{
    FILE *file = fopen(path, "wx"); /* "x": an existing file of readings is not overwritten */
    bool good = file != NULL && fprintf(file, "target_mm,reading_mm,direction,run\n") > 0;
    for (size_t i = 0; good && i < job->n; i++)
        good = fprintf(file, "%.6f,%.6f,%s,%u\n", job->reading[i].target_mm, job->reading[i].reading_mm,
                       job->reading[i].direction == KR_RISING ? "rising" : "falling", job->reading[i].run) > 0;
    if (file != NULL && fclose(file) != 0)
        good = false;
    if (!good)
        fprintf(stderr, "kniferail calibrate: %s: %s\n", path, strerror(errno));
    return good;
}
