/* calibration: what readings of an instrument (tape, laser, bar) say of a rail's frame (frame.h): its offset, its scale
 * and a table of errors; and how well a carriage comes back, by the formulas of ISO 230-2. Pure; the caller brings the
 * memory. Belongs to base.
 *
 * All lengths are millimetres. target: the position by the drive to which the carriage was sent; reading: the place
 * that the instrument shows. What they differ by is reached less told, as ISO 230-2 counts a deviation and frame.h an
 * error:
 *
 *     reading - target = offset + target x scale + error(target) + or - reversal / 2
 */
#ifndef KNIFERAIL_CALIBRATION_H
#define KNIFERAIL_CALIBRATION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define KR_CALIBRATION_TARGETS_MAX  64   /* as many points as a frame's table has */
#define KR_CALIBRATION_RUNS_MAX     20   /* each way */
#define KR_CALIBRATION_READINGS_MAX 2560 /* all runs both ways to all targets */

enum { KR_RISING, KR_FALLING }; /* how the carriage came to the target: from below it, from above it */

struct kr_reading {
    double target_mm, reading_mm;
    uint8_t direction;
    uint16_t run; /* from 1 */
};

/* What is known of the instrument. Standard uncertainties: half of what a certificate states with a coverage factor of
 * 2. What both leave is the same for all readings of one set, so more readings do not make it smaller. */
struct kr_instrument {
    double constant_mm; /* standard uncertainty of where its zero is */
    double per_mm;      /* and of its length, in millimetres for each */
};

/* A length read on something that expands by so much for each kelvin, at that temperature: read (1 + a (T - 20)). 20 C
 * is the reference temperature of ISO 1. */
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

/* Readings of one target, both ways. */
struct kr_calibration_target {
    double target_mm;
    uint16_t n;
    double residual_mm; /* mean of what offset and scale leave: the table's error */
    double u_mm;        /* its standard uncertainty, by the scatter of all readings */
};

struct kr_calibration_fit {
    bool determined;                            /* there are enough readings for it; else nothing below */
    uint16_t unknowns;                          /* the reversal counts, where there are readings both ways */
    double offset_mm, scale;                    /* 0 where the model has none */
    double reversal_mm;                         /* rising less falling; 0 where all came one way */
    double u_offset_mm, u_scale, u_reversal_mm; /* standard uncertainties, the instrument's included */
    double rms_mm, largest_mm;                  /* of what the model leaves, the reversal's half included */
    double sd_mm;                               /* standard deviation of the readings about the model */
    /* Bayesian information criterion: the least is best (Schwarz 1978, Ann. Statist. 6, 461). */
    double criterion;
};

struct kr_calibration {
    uint16_t n_readings, n_targets;
    bool both_ways;
    struct kr_calibration_target target[KR_CALIBRATION_TARGETS_MAX]; /* growing */
    struct kr_calibration_fit fit[KR_N_MODELS];
    /* The verdict: the simplest model beside which no other one is better by the criterion and takes away more than the
     * instrument's own uncertainty. */
    enum kr_calibration_model taken;
};

/* n: 1 to KR_CALIBRATION_READINGS_MAX readings of at most KR_CALIBRATION_TARGETS_MAX targets, else false. */
bool kr_calibrate(const struct kr_reading reading[], size_t n, struct kr_instrument instrument,
                  struct kr_calibration *result);

/* ---- accuracy and repeatability by the formulas of ISO 230-2 ------------------------------------------- */

#define KR_ISO_RUNS_LEAST    5
#define KR_ISO_TARGETS_LEAST 5 /* a metre, and in all */

struct kr_iso_position {
    double target_mm;
    double mean_mm[2], s_mm[2]; /* of each direction: mean deviation, estimator of its standard uncertainty */
    double mean_both_mm, reversal_mm;
    double repeatability_mm[2], repeatability_both_mm;
};

/* [KR_RISING], [KR_FALLING]: unidirectional; without: bidirectional. */
struct kr_iso_axis {
    uint16_t n;
    struct kr_iso_position position[KR_CALIBRATION_TARGETS_MAX];
    double reversal_mm, mean_reversal_mm;              /* B, mean of B at each position */
    double repeatability_mm[2], repeatability_both_mm; /* R */
    double systematic_mm[2], systematic_both_mm;       /* E */
    double mean_range_mm;                              /* M */
    double accuracy_mm[2], accuracy_both_mm;           /* A */
};

/* False if a target has less than two readings either way: nothing can be told of their scatter. Whether there are as
 * many targets and runs as the standard asks for is the caller's question (kr_iso_lacks). */
bool kr_iso_evaluate(const struct kr_reading reading[], size_t n, struct kr_iso_axis *axis);

/* What the readings lack for that: at least KR_ISO_RUNS_LEAST runs each way at each target, and KR_ISO_TARGETS_LEAST
 * targets a metre, and in all. 0: nothing; else how many runs there are at the target that has least, or how many
 * targets are needed. */
enum kr_iso_lack { KR_ISO_LACKS_NOTHING, KR_ISO_LACKS_RUNS, KR_ISO_LACKS_TARGETS };
enum kr_iso_lack kr_iso_lacks(const struct kr_reading reading[], size_t n, unsigned *has, unsigned *needs);

#endif
