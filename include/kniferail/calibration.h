/* calibration: computes a rail's frame (frame.h) from the readings of an instrument (tape, laser, bar): its offset, its
 * scale and its table of errors. It also computes how well a carriage repeats a position, by the formulas of ISO 230-2.
 * Pure; the caller brings the memory. Belongs to base.
 *
 * All lengths are millimetres. The target is the drive's position to which the carriage was sent. The reading is the
 * place that the instrument shows. A deviation is reading minus target, as ISO 230-2 counts a deviation and frame.h an
 * error:
 *
 *     reading - target = offset + target x scale + error(target) + or - reversal / 2 */
#ifndef KNIFERAIL_CALIBRATION_H
#define KNIFERAIL_CALIBRATION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define KR_CALIBRATION_TARGETS_MAX  64   /* as many points as the table of a frame has */
#define KR_CALIBRATION_RUNS_MAX     20   /* runs in each direction */
#define KR_CALIBRATION_READINGS_MAX 2560 /* all runs in both directions to all targets */

enum { KR_RISING, KR_FALLING }; /* the carriage came to the target from below it, or from above it */

struct kr_reading {
    double target_mm, reading_mm;
    uint8_t direction;
    uint16_t run; /* from 1 */
};

/* The uncertainty of the instrument, as standard uncertainties. These are half of what a certificate states with a
 * coverage factor of 2. Both are common to all readings of one set, so that more readings do not make them smaller. */
struct kr_instrument {
    double constant_mm; /* uncertainty of its zero point */
    double per_mm;      /* uncertainty of its length, in millimetres per millimetre */
};

/* Returns the length at 20 C, the reference temperature of ISO 1, for a length that was read at another temperature on
 * something that expands by per_kelvin for each kelvin: read (1 + a (T - 20)). */
double kr_length_at_20_mm(double read_mm, double per_kelvin, double celsius);

/* ---- models of the frame ------------------------------------------------------------------------------- */

#define KR_CALIBRATION_MODELS(X) /* name, word, text */ \
    X(AS_IS, "as_is", "as it is") \
    X(OFFSET, "offset", "offset") \
    X(SCALE, "offset_and_scale", "offset and scale") \
    X(TABLE, "table", "offset, scale and table")
enum kr_calibration_model {
#define X(name, word, text) KR_MODEL_##name,
    KR_CALIBRATION_MODELS(X)
#undef X
        KR_N_MODELS
};

const char *kr_calibration_model_word(enum kr_calibration_model model); /* for programs: "offset_and_scale" */
const char *kr_calibration_model_text(enum kr_calibration_model model); /* for people: "offset and scale" */

/* The readings of one target in both directions. */
struct kr_calibration_target {
    double target_mm;
    uint16_t n;
    double residual_mm; /* mean deviation that remains after offset and scale: the error for the table */
    double u_mm;        /* its standard uncertainty, from the scatter of all readings */
};

struct kr_calibration_fit {
    bool determined; /* there are enough readings for this model; false: no other field counts */
    /* Number of unknowns; the reversal is one of them if there are readings in both directions. */
    uint16_t unknowns;
    double offset_mm, scale;                    /* 0 if the model has none */
    double reversal_mm;                         /* rising minus falling; 0 if all readings have the same direction */
    double u_offset_mm, u_scale, u_reversal_mm; /* standard uncertainties, which include the instrument's */
    double rms_mm, largest_mm;                  /* residuals of the model, which include half of the reversal */
    double sd_mm;                               /* standard deviation of the readings around the model */
    /* Bayesian information criterion: the model with the least value is best (Schwarz 1978, Ann. Statist. 6, 461). */
    double criterion;
};

struct kr_calibration {
    uint16_t n_readings, n_targets;
    bool both_ways;
    struct kr_calibration_target target[KR_CALIBRATION_TARGETS_MAX]; /* growing */
    struct kr_calibration_fit fit[KR_N_MODELS];
    /* The chosen model. A model with more unknowns is chosen only if its criterion is better and it improves the
     * residuals by more than the instrument's uncertainty. */
    enum kr_calibration_model taken;
};

/* Fits all models. Returns false unless there are 1 to KR_CALIBRATION_READINGS_MAX readings of at most
 * KR_CALIBRATION_TARGETS_MAX targets. */
bool kr_calibrate(const struct kr_reading reading[], size_t n, struct kr_instrument instrument,
                  struct kr_calibration *result);

/* ---- accuracy and repeatability by the formulas of ISO 230-2 ------------------------------------------- */

#define KR_ISO_RUNS_LEAST    5
#define KR_ISO_TARGETS_LEAST 5 /* a metre, and in all */

struct kr_iso_position {
    double target_mm;
    /* For each direction: mean deviation, estimator of its standard uncertainty. */
    double mean_mm[2], s_mm[2];
    double mean_both_mm, reversal_mm;
    double repeatability_mm[2], repeatability_both_mm;
};

/* Values with [KR_RISING] and [KR_FALLING] are unidirectional; the others are bidirectional. */
struct kr_iso_axis {
    uint16_t n;
    struct kr_iso_position position[KR_CALIBRATION_TARGETS_MAX];
    double reversal_mm, mean_reversal_mm;              /* B, and the mean of B over all positions */
    double repeatability_mm[2], repeatability_both_mm; /* R */
    double systematic_mm[2], systematic_both_mm;       /* E */
    double mean_range_mm;                              /* M */
    double accuracy_mm[2], accuracy_both_mm;           /* A */
};

/* Evaluates the axis. False: a target has fewer than two readings in one direction, so that their scatter is unknown.
 * The call does not check the number of targets and runs that the standard asks for: kr_iso_lacks() does. */
bool kr_iso_evaluate(const struct kr_reading reading[], size_t n, struct kr_iso_axis *axis);

/* Tells what the readings lack for ISO 230-2, which asks for at least KR_ISO_RUNS_LEAST runs in each direction at each
 * target, and for at least KR_ISO_TARGETS_LEAST targets for each metre and in total. *has and *needs are the number of
 * runs at the target that has the fewest, or the number of targets, and the number that is needed. */
enum kr_iso_lack { KR_ISO_LACKS_NOTHING, KR_ISO_LACKS_RUNS, KR_ISO_LACKS_TARGETS };
enum kr_iso_lack kr_iso_lacks(const struct kr_reading reading[], size_t n, unsigned *has, unsigned *needs);

#endif
