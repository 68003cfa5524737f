#include "kniferail/calibration.h"

#include <math.h>
#include <string.h>

#include "kniferail/statistics.h"

#define REFERENCE_CELSIUS 20.0
#define RESOLUTION_MM     1e-6 /* a smaller remainder is rounding, and counts as no remainder */
_Static_assert(KR_CALIBRATION_READINGS_MAX == KR_CALIBRATION_TARGETS_MAX * KR_CALIBRATION_RUNS_MAX * 2,
               "all runs both ways to all targets");

const char *kr_calibration_model_word(enum kr_calibration_model model)
{
    static const char *const words[] = {
#define X(name, word, text) word,
        KR_CALIBRATION_MODELS(X)
#undef X
    };
    return words[model];
}

const char *kr_calibration_model_text(enum kr_calibration_model model)
{
    static const char *const texts[] = {
#define X(name, word, text) text,
        KR_CALIBRATION_MODELS(X)
#undef X
    };
    return texts[model];
}

double kr_length_at_20_mm(double read_mm, double per_kelvin, double celsius)
{
    return read_mm * (1 + per_kelvin * (celsius - REFERENCE_CELSIUS));
}

/* ---- targets --------------------------------------------------------------------------------------------------- */

/* The index of a target in a growing list, or the index at which it has to be inserted. */
static uint16_t place_of(const struct kr_calibration *c, double target_mm)
{
    uint16_t i = 0;
    while (i < c->n_targets && c->target[i].target_mm < target_mm)
        i++;
    return i;
}

static bool count_target(struct kr_calibration *c, double target_mm)
{
    uint16_t i = place_of(c, target_mm);
    if (i < c->n_targets && c->target[i].target_mm == target_mm) {
        c->target[i].n++;
        return true;
    }
    if (c->n_targets == KR_CALIBRATION_TARGETS_MAX)
        return false;
    memmove(&c->target[i + 1], &c->target[i], (size_t)(c->n_targets - i) * sizeof c->target[0]);
    c->target[i] = (struct kr_calibration_target){.target_mm = target_mm, .n = 1};
    c->n_targets++;
    return true;
}

static bool begin(const struct kr_reading reading[], size_t n, struct kr_calibration *c)
{
    bool ways[2] = {false, false};
    memset(c, 0, sizeof *c);
    if (n < 1 || n > KR_CALIBRATION_READINGS_MAX)
        return false;
    c->n_readings = (uint16_t)n;
    for (size_t i = 0; i < n; i++) {
        ways[reading[i].direction] = true;
        if (!count_target(c, reading[i].target_mm))
            return false;
    }
    c->both_ways = ways[KR_RISING] && ways[KR_FALLING];
    return true;
}

/* ---- fits ------------------------------------------------------------------------------------------------------ */

static double deviation(const struct kr_reading *r)
{
    return r->reading_mm - r->target_mm;
}

static double half_way(const struct kr_reading *r)
{
    return r->direction == KR_RISING ? 0.5 : -0.5;
}

/* The columns of a model's unknowns; -1: the model does not have this unknown. */
struct columns {
    int n, offset, scale, reversal;
};

static struct columns columns_of(const struct kr_calibration *c, enum kr_calibration_model model)
{
    struct columns k = {0, -1, -1, -1};
    if (model >= KR_MODEL_OFFSET)
        k.offset = k.n++;
    if (model >= KR_MODEL_SCALE)
        k.scale = k.n++;
    if (c->both_ways)
        k.reversal = k.n++;
    return k;
}

static double of(const double x[], int column)
{
    return column < 0 ? 0 : x[column];
}

/* The remainder of a reading after everything that the frame corrects, and after the play, is subtracted. */
static double left_by(const struct kr_calibration_fit *fit, const struct kr_reading *r, double error_mm)
{
    return deviation(r) - fit->offset_mm - fit->scale * r->target_mm - error_mm;
}

static double error_of(const struct kr_calibration *c, enum kr_calibration_model model, double target_mm)
{
    return model == KR_MODEL_TABLE ? c->target[place_of(c, target_mm)].residual_mm : 0;
}

static void judge(struct kr_calibration *c, enum kr_calibration_model model, const struct kr_reading reading[])
{
    struct kr_calibration_fit *fit = &c->fit[model];
    double sum = 0, scatter = 0;
    for (uint16_t i = 0; i < c->n_readings; i++) {
        double left_mm = left_by(fit, &reading[i], error_of(c, model, reading[i].target_mm));
        double noise_mm = left_mm - fit->reversal_mm * half_way(&reading[i]);
        sum += left_mm * left_mm;
        scatter += noise_mm * noise_mm;
        fit->largest_mm = fmax(fit->largest_mm, fabs(left_mm));
    }
    double n = c->n_readings, least = RESOLUTION_MM * RESOLUTION_MM;
    fit->rms_mm = sqrt(sum / n);
    fit->sd_mm = n > fit->unknowns ? sqrt(scatter / (n - fit->unknowns)) : 0;
    fit->criterion = n * log(fmax(scatter / n, least)) + fit->unknowns * log(n);
}

static bool fit_line(struct kr_calibration *c, enum kr_calibration_model model, const struct kr_reading reading[],
                     struct kr_instrument instrument)
{
    struct columns k = columns_of(c, model);
    struct kr_calibration_fit *fit = &c->fit[model];
    struct kr_least_squares squares;
    double x[3] = {0}, sd[3] = {0};
    kr_least_squares_begin(&squares, (uint16_t)(k.n > 0 ? k.n : 1));
    for (uint16_t i = 0; i < c->n_readings && k.n > 0; i++) {
        double row[3] = {0};
        if (k.offset >= 0)
            row[k.offset] = 1;
        if (k.scale >= 0)
            row[k.scale] = reading[i].target_mm;
        if (k.reversal >= 0)
            row[k.reversal] = half_way(&reading[i]);
        kr_least_squares_add(&squares, row, deviation(&reading[i]));
    }
    if (k.n > 0 &&
        (c->n_readings <= k.n || !kr_least_squares_solve(&squares, x) || !kr_least_squares_deviations(&squares, sd)))
        return false;
    *fit = (struct kr_calibration_fit){.determined = true,
                                       .unknowns = (uint16_t)k.n,
                                       .offset_mm = of(x, k.offset),
                                       .scale = of(x, k.scale),
                                       .reversal_mm = of(x, k.reversal),
                                       .u_reversal_mm = of(sd, k.reversal)};
    fit->u_offset_mm = k.offset < 0 ? 0 : hypot(of(sd, k.offset), instrument.constant_mm);
    fit->u_scale = k.scale < 0 ? 0 : hypot(of(sd, k.scale), instrument.per_mm);
    judge(c, model, reading);
    return true;
}

/* If the numbers of readings in the two directions differ, the reversal is subtracted first. */
static bool fit_table(struct kr_calibration *c, const struct kr_reading reading[])
{
    struct kr_calibration_fit *fit = &c->fit[KR_MODEL_TABLE];
    const struct kr_calibration_fit *line = &c->fit[KR_MODEL_SCALE];
    uint16_t unknowns = (uint16_t)(c->n_targets + c->both_ways);
    if (!line->determined || c->n_targets < 3 || c->n_readings <= unknowns)
        return false;
    for (uint16_t i = 0; i < c->n_readings; i++) {
        struct kr_calibration_target *t = &c->target[place_of(c, reading[i].target_mm)];
        t->residual_mm += (left_by(line, &reading[i], 0) - line->reversal_mm * half_way(&reading[i])) / t->n;
    }
    *fit = *line;
    fit->unknowns = unknowns;
    fit->largest_mm = 0;
    judge(c, KR_MODEL_TABLE, reading);
    for (uint16_t i = 0; i < c->n_targets; i++)
        c->target[i].u_mm = fit->sd_mm / sqrt(c->target[i].n);
    return true;
}

/* ---- the verdict ----------------------------------------------------------------------------------------------- */

/* An improvement smaller than the instrument's uncertainty does not justify a setting. */
static bool is_better(const struct kr_calibration *c, enum kr_calibration_model model, enum kr_calibration_model than,
                      struct kr_instrument instrument)
{
    const struct kr_calibration_fit *fit = &c->fit[model], *other = &c->fit[than];
    if (!fit->determined || fit->criterion >= other->criterion)
        return false;
    double span_mm = c->target[c->n_targets - 1].target_mm - c->target[0].target_mm;
    double instrument_mm = hypot(instrument.constant_mm, instrument.per_mm * span_mm);
    return sqrt(fmax(0, other->rms_mm * other->rms_mm - fit->rms_mm * fit->rms_mm)) > instrument_mm;
}

bool kr_calibrate(const struct kr_reading reading[], size_t n, struct kr_instrument instrument,
                  struct kr_calibration *c)
{
    if (!begin(reading, n, c))
        return false;
    for (int m = KR_MODEL_AS_IS; m <= KR_MODEL_SCALE; m++)
        (void)fit_line(c, (enum kr_calibration_model)m, reading, instrument);
    (void)fit_table(c, reading);
    c->taken = KR_MODEL_AS_IS;
    for (int m = KR_MODEL_OFFSET; m < KR_N_MODELS; m++)
        if (is_better(c, (enum kr_calibration_model)m, c->taken, instrument))
            c->taken = (enum kr_calibration_model)m;
    return true;
}

/* ---- by the formulas of ISO 230-2 -------------------------------------------------------------------------------
 * The numbers are those of the clauses of its edition of 2006, read in a public script that follows them
 * (github.com/mas-n-code/BIRR, art_rot.m, commit 1f20679). */

static size_t deviations_at(const struct kr_reading reading[], size_t n, double target_mm, int direction,
                            double deviation_mm[KR_CALIBRATION_RUNS_MAX])
{
    size_t found = 0;
    for (size_t i = 0; i < n && found < KR_CALIBRATION_RUNS_MAX; i++)
        if (reading[i].target_mm == target_mm && reading[i].direction == direction)
            deviation_mm[found++] = deviation(&reading[i]);
    return found;
}

static bool evaluate_position(const struct kr_reading reading[], size_t n, struct kr_iso_position *p)
{
    double x[KR_CALIBRATION_RUNS_MAX];
    for (int d = 0; d < 2; d++) {
        struct kr_spread spread = kr_spread_of(x, deviations_at(reading, n, p->target_mm, d, x));
        if (spread.n < 2)
            return false;
        p->mean_mm[d] = spread.mean;             /* 2.10 */
        p->s_mm[d] = spread.sd;                  /* 2.15 */
        p->repeatability_mm[d] = 4 * p->s_mm[d]; /* 2.16 */
    }
    p->mean_both_mm = (p->mean_mm[KR_RISING] + p->mean_mm[KR_FALLING]) / 2; /* 2.11 */
    p->reversal_mm = p->mean_mm[KR_RISING] - p->mean_mm[KR_FALLING];        /* 2.12 */
    p->repeatability_both_mm =                                              /* 2.17 */
        fmax(2 * p->s_mm[KR_RISING] + 2 * p->s_mm[KR_FALLING] + fabs(p->reversal_mm),
             fmax(p->repeatability_mm[KR_RISING], p->repeatability_mm[KR_FALLING]));
    return true;
}

struct range {
    double least, most;
};

static void widen(struct range *r, double least, double most)
{
    r->least = fmin(r->least, least);
    r->most = fmax(r->most, most);
}

static double width(struct range r)
{
    return r.most - r.least;
}

static void evaluate_axis(struct kr_iso_axis *a)
{
    const struct range none = {INFINITY, -INFINITY};
    struct range mean[2] = {none, none}, all[2] = {none, none}, both = none;
    for (uint16_t i = 0; i < a->n; i++) {
        const struct kr_iso_position *p = &a->position[i];
        a->reversal_mm = fmax(a->reversal_mm, fabs(p->reversal_mm));                         /* 2.13 */
        a->mean_reversal_mm += p->reversal_mm / a->n;                                        /* 2.14 */
        a->repeatability_both_mm = fmax(a->repeatability_both_mm, p->repeatability_both_mm); /* 2.19 */
        widen(&both, p->mean_both_mm, p->mean_both_mm);
        for (int d = 0; d < 2; d++) {
            a->repeatability_mm[d] = fmax(a->repeatability_mm[d], p->repeatability_mm[d]); /* 2.18 */
            widen(&mean[d], p->mean_mm[d], p->mean_mm[d]);
            widen(&all[d], p->mean_mm[d] - 2 * p->s_mm[d], p->mean_mm[d] + 2 * p->s_mm[d]);
        }
    }
    for (int d = 0; d < 2; d++) {
        a->systematic_mm[d] = width(mean[d]); /* 2.20 */
        a->accuracy_mm[d] = width(all[d]);    /* 2.23 */
    }
    a->mean_range_mm = width(both); /* 2.22 */
    widen(&mean[0], mean[1].least, mean[1].most);
    widen(&all[0], all[1].least, all[1].most);
    a->systematic_both_mm = width(mean[0]); /* 2.21 */
    a->accuracy_both_mm = width(all[0]);    /* 2.24 */
}

bool kr_iso_evaluate(const struct kr_reading reading[], size_t n, struct kr_iso_axis *axis)
{
    struct kr_calibration c;
    memset(axis, 0, sizeof *axis);
    if (!begin(reading, n, &c))
        return false;
    axis->n = c.n_targets;
    for (uint16_t i = 0; i < axis->n; i++) {
        axis->position[i].target_mm = c.target[i].target_mm;
        if (!evaluate_position(reading, n, &axis->position[i]))
            return false;
    }
    evaluate_axis(axis);
    return true;
}

enum kr_iso_lack kr_iso_lacks(const struct kr_reading reading[], size_t n, unsigned *has, unsigned *needs)
{
    struct kr_calibration c;
    double x[KR_CALIBRATION_RUNS_MAX];
    *has = *needs = 0;
    if (!begin(reading, n, &c))
        return KR_ISO_LACKS_TARGETS;
    double span_mm = c.target[c.n_targets - 1].target_mm - c.target[0].target_mm;
    double wanted = fmax(KR_ISO_TARGETS_LEAST, ceil(KR_ISO_TARGETS_LEAST * span_mm / 1000 - 1e-9));
    *has = c.n_targets;
    *needs = (unsigned)wanted;
    if (c.n_targets < wanted)
        return KR_ISO_LACKS_TARGETS;
    *has = KR_CALIBRATION_RUNS_MAX;
    *needs = KR_ISO_RUNS_LEAST;
    for (uint16_t i = 0; i < c.n_targets; i++)
        for (int d = 0; d < 2; d++) {
            unsigned runs = (unsigned)deviations_at(reading, n, c.target[i].target_mm, d, x);
            *has = runs < *has ? runs : *has;
        }
    return *has < KR_ISO_RUNS_LEAST ? KR_ISO_LACKS_RUNS : KR_ISO_LACKS_NOTHING;
}
