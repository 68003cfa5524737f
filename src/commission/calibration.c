/* Judges the frame in force by the readings of an instrument: whether the remaining error is significant, whether it is
 * within the tolerance of a knife's place, and what is to be set. */
#include <math.h>
#include <stdio.h>

#include "kniferail/commission.h"
#include "said.h"

#define TARGETS_LEAST 3
#define COVERAGE      2   /* factor of an expanded uncertainty (JCGM 100, 6.2) */
#define NOTHING_PART  0.1 /* part of the tolerance; a smaller error needs no other frame */
#define SET_TEXT      ((size_t)KR_CHANGE_MAX)
#define GROWTH_TEXT   64

static double square(double x)
{
    return x * x;
}

static double mean_target_mm(const struct kr_calibration *c)
{
    double sum = 0;
    for (uint16_t i = 0; i < c->n_targets; i++)
        sum += c->target[i].target_mm * c->target[i].n;
    return sum / c->n_readings;
}

/* Returns the error of the frame in force at a target, by the model that is taken. */
static double error_mm(const struct kr_calibration *c, uint16_t i)
{
    const struct kr_calibration_fit *fit = &c->fit[c->taken];
    double table_mm = c->taken == KR_MODEL_TABLE ? c->target[i].residual_mm : 0;
    return fit->offset_mm + fit->scale * c->target[i].target_mm + table_mm;
}

/* Returns the expanded uncertainty of this error: of mean and slope by the readings' scatter, and of the instrument. */
static double uncertainty_mm(const struct kr_calibration_seen *seen, uint16_t i)
{
    const struct kr_calibration *c = &seen->left;
    const struct kr_calibration_fit *fit = &c->fit[c->taken];
    double at_mm = c->target[i].target_mm;
    double slope2 = fmax(0, square(fit->u_scale) - square(seen->instrument.per_mm));
    double sum = square(fit->sd_mm) / c->n_readings + slope2 * square(at_mm - mean_target_mm(c)) +
                 square(seen->instrument.constant_mm) + square(seen->instrument.per_mm * at_mm);
    if (c->taken == KR_MODEL_TABLE)
        sum += square(c->target[i].u_mm);
    return COVERAGE * sqrt(sum);
}

struct worst {
    double at_mm, error_mm, uncertainty_mm, sum_mm;
};

/* Finds the target at which the sum of error and uncertainty is greatest. */
static struct worst worst_of(const struct kr_calibration_seen *seen)
{
    struct worst worst = {.sum_mm = -1};
    for (uint16_t i = 0; i < seen->left.n_targets; i++) {
        struct worst w = {.at_mm = seen->left.target[i].target_mm,
                          .error_mm = error_mm(&seen->left, i),
                          .uncertainty_mm = uncertainty_mm(seen, i)};
        w.sum_mm = fabs(w.error_mm) + w.uncertainty_mm;
        if (w.sum_mm > worst.sum_mm)
            worst = w;
    }
    return worst;
}

static bool is_enough(const struct kr_calibration_seen *seen, struct kr_step_verdict *verdict)
{
    const struct kr_calibration *c = &seen->left;
    double span_mm = c->n_targets ? c->target[c->n_targets - 1].target_mm - c->target[0].target_mm : 0;
    double needed_mm = (seen->most_um - seen->least_um) / 2000.0;
    if (c->n_targets >= TARGETS_LEAST && span_mm >= needed_mm && c->fit[KR_MODEL_SCALE].determined)
        return true;
    kr_finding_add(verdict, "", "take readings at more places, some near each end of the rail",
                   "%u readings at %u places over %s: at least %d places over %s tell a frame, half of where "
                   "the holders stand.",
                   c->n_readings, c->n_targets, LENGTH(verdict, 0, span_mm), TARGETS_LEAST,
                   LENGTH(verdict, 0, needed_mm));
    return false;
}

/* Writes by how much the correction changes a length, for a metre of it, and at a station in inches for a foot, too. */
static const char *growth_text(const struct kr_step_verdict *verdict, double mm_a_metre, char text[GROWTH_TEXT])
{
    if (verdict->length_unit == KR_LENGTH_INCH)
        snprintf(text, GROWTH_TEXT, "%+.5f in a foot (%+.3f mm a metre)", mm_a_metre * 12 / 1000, mm_a_metre);
    else
        snprintf(text, GROWTH_TEXT, "%+.3f mm a metre", mm_a_metre);
    return text;
}

static void add_figures(const struct kr_calibration_seen *seen, struct worst w, struct kr_step_verdict *verdict)
{
    const struct kr_calibration *c = &seen->left;
    const struct kr_calibration_fit *line = &c->fit[KR_MODEL_SCALE], *fit = &c->fit[c->taken];
    char growth[GROWTH_TEXT];
    kr_figure_add(verdict, "readings", "%u at %u places, %s; standard uncertainty %s and %.1f ppm; %s", c->n_readings,
                  c->n_targets, c->both_ways ? "both ways" : "one way",
                  LENGTH(verdict, 4, seen->instrument.constant_mm), 1e6 * seen->instrument.per_mm, seen->file);
    if (seen->is_corrected)
        kr_figure_add(verdict, "temperature", "instrument at %.1f C, %.2f ppm a kelvin: brought to 20 C, %s",
                      seen->celsius, 1e6 * seen->per_kelvin,
                      growth_text(verdict, kr_length_at_20_mm(1000, seen->per_kelvin, seen->celsius) - 1000, growth));
    else
        kr_figure_add(verdict, "temperature", "instrument at 20 C: the readings count as they are");
    kr_figure_add(verdict, "frame in force", "offset %s, scale %.3f ppm, %u points",
                  LENGTH(verdict, 3, seen->in_force.offset_um / 1000.0), seen->in_force.scale_ppb / 1000.0,
                  seen->in_force.n_points);
    kr_figure_add(verdict, "it leaves, by a line", "offset %s +- %s, scale %+.2f +- %.2f ppm (factor 2)",
                  LENGTH_SHORT_SIGNED(verdict, 4, line->offset_mm), LENGTH(verdict, 4, COVERAGE * line->u_offset_mm),
                  1e6 * line->scale, 1e6 * COVERAGE * line->u_scale);
    kr_figure_add(verdict, "most that it is off", "%s +- %s at %s, by the model \"%s\"; tolerance %s",
                  LENGTH_SHORT_SIGNED(verdict, 4, w.error_mm), LENGTH(verdict, 4, w.uncertainty_mm),
                  LENGTH(verdict, 1, w.at_mm), kr_calibration_model_text(c->taken),
                  LENGTH_SHORT(verdict, 3, seen->tolerance_um / 1000.0));
    kr_figure_add(verdict, "residual", "rms %s, largest %s, scatter %s, reversal %s", LENGTH(verdict, 4, fit->rms_mm),
                  LENGTH(verdict, 4, fit->largest_mm), LENGTH(verdict, 4, fit->sd_mm),
                  LENGTH_SIGNED(verdict, 4, fit->reversal_mm));
}

/* Writes the change. If the frame has a table, the command that has the readings sets it, because nobody types its
 * points. */
static void set_text(const struct kr_calibration_seen *seen, const struct kr_step_verdict *verdict, char text[SET_TEXT])
{
    const struct kr_frame *f = &seen->to_set;
    char warm[64] = "";
    int n = 0;
    if (seen->is_corrected)
        snprintf(warm, sizeof warm, ", --temperature %.6g, --coefficient %.6g", seen->celsius, 1e6 * seen->per_kelvin);
    if (f->n_points == 0)
        n = snprintf(text, SET_TEXT,
                     "offset_mm = %s, scale_ppm = %.3f: kniferail set frame %u %s %.3f; scan the rail then",
                     SAID(verdict, KR_SAID_CELL, 3, f->offset_um / 1000.0), f->scale_ppb / 1000.0, seen->rail_number,
                     TYPED(verdict, 3, f->offset_um / 1000.0), f->scale_ppb / 1000.0);
    if (f->n_points > 0 || n >= (int)SET_TEXT)
        snprintf(text, SET_TEXT,
                 "its table of %u points: kniferail calibrate with the file, --apply, --rail %u%s; scan the rail then",
                 f->n_points, seen->rail_number, warm);
}

static void judge_frame(const struct kr_calibration_seen *seen, struct worst w, struct kr_step_verdict *verdict)
{
    double tolerance_mm = seen->tolerance_um / 1000.0;
    char change[SET_TEXT];
    bool is_off = fabs(w.error_mm) > w.uncertainty_mm && fabs(w.error_mm) > NOTHING_PART * tolerance_mm;
    if (is_off && seen->bad_point != 0) {
        kr_finding_add(
            verdict, "",
            "look at the reading there, and, with drives and air locked out, for loose parts and dirt on rail and rack",
            "The places jump by more than a tenth of the way at point %u of the table of errors.", seen->bad_point);
    } else if (is_off) {
        set_text(seen, verdict, change);
        kr_finding_add(verdict, "frame", change,
                       "The places are %s off at %s, and the readings are good to %s: the frame in "
                       "force is not the rail's.",
                       LENGTH_SIGNED(verdict, 3, w.error_mm), LENGTH(verdict, 1, w.at_mm),
                       LENGTH(verdict, 3, w.uncertainty_mm));
    } else if (w.sum_mm > tolerance_mm) {
        kr_finding_add(verdict, "", "take more readings, or a better instrument",
                       "The readings are good to %s, and show the places %s off: in sum that is more than "
                       "the %s of placement.knife_mm.",
                       LENGTH(verdict, 3, w.uncertainty_mm), LENGTH_SIGNED(verdict, 3, w.error_mm),
                       LENGTH(verdict, 3, tolerance_mm));
    }
}

void kr_judge_calibration(const struct kr_calibration_seen *seen, struct kr_step_verdict *verdict)
{
    double tolerance_mm = seen->tolerance_um / 1000.0;
    if (!is_enough(seen, verdict))
        return;
    struct worst w = worst_of(seen);
    add_figures(seen, w, verdict);
    if (seen->impossible)
        kr_finding_add(verdict, "drive.position_um",
                       "what the drive counts: see the step of the scale; or the datum, by the homing's mark",
                       "The places are %s off at %s: no frame may be so large.", LENGTH_SIGNED(verdict, 3, w.error_mm),
                       LENGTH(verdict, 1, w.at_mm));
    else
        judge_frame(seen, w, verdict);
    double half_play_mm = fabs(seen->left.fit[seen->left.taken].reversal_mm) / 2;
    if (half_play_mm > tolerance_mm)
        kr_finding_add(verdict, "", "take the play out of rack, pinion and coupling, with drives and air locked out",
                       "A place is %s off by the side from which the carriage comes; tolerance %s. No frame "
                       "corrects that.",
                       LENGTH(verdict, 3, half_play_mm), LENGTH(verdict, 3, tolerance_mm));
}
