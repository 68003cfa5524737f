/* The text output of kniferail calibrate. */
#include <math.h>
#include <stdio.h>

#include "calibrate_cmd.h"

static uint16_t most_runs(const struct calibrate_job *job)
{
    uint16_t most = 0;
    for (size_t i = 0; i < job->n; i++)
        most = job->reading[i].run > most ? job->reading[i].run : most;
    return most;
}

static void print_readings(const struct calibrate_job *job)
{
    const struct kr_calibration *c = &job->result;
    printf("%s: %u readings, %u target%s from %.3f to %.3f mm, up to %u run%s, %s\n", job->path, c->n_readings,
           c->n_targets, c->n_targets == 1 ? "" : "s", c->target[0].target_mm, c->target[c->n_targets - 1].target_mm,
           most_runs(job), most_runs(job) == 1 ? "" : "s", c->both_ways ? "both ways" : "one way");
    printf("instrument: standard uncertainty %.4f mm and %.2f ppm", job->instrument.constant_mm,
           1e6 * job->instrument.per_mm);
    if (job->is_corrected)
        printf("; read at %.1f C, brought to 20 C by %.2f ppm a kelvin", job->celsius, 1e6 * job->per_kelvin);
    printf("\n\n");
}

static void print_models(const struct calibrate_job *job)
{
    printf("%-24s %10s %10s %10s\n", "model", "rms", "largest", "scatter");
    for (int m = 0; m < KR_N_MODELS; m++) {
        const struct kr_calibration_fit *fit = &job->result.fit[m];
        const char *text = kr_calibration_model_text((enum kr_calibration_model)m);
        if (fit->determined)
            printf("%-24s %10.4f %10.4f %10.4f  mm left\n", text, fit->rms_mm, fit->largest_mm, fit->sd_mm);
        else
            printf("%-24s too few readings\n", text);
    }
    if (job->result.both_ways)
        printf("scatter: standard deviation about the model, the reversal taken out; no frame corrects that\n");
}

static void print_verdict(const struct calibrate_job *job)
{
    enum kr_calibration_model taken = job->result.taken;
    printf("\nverdict: take \"%s\":\n", kr_calibration_model_text(taken));
    if (taken == KR_N_MODELS - 1)
        printf("    each part of it removes more than chance and the instrument's uncertainty would explain\n");
    else
        printf("    a larger model would remove no more than chance or the instrument's uncertainty explains\n");
    if (job->model != taken)
        printf("asked for: \"%s\"\n", kr_calibration_model_text(job->model));
}

static void print_values(const struct calibrate_job *job)
{
    const struct kr_calibration *c = &job->result;
    const struct kr_calibration_fit *fit = &c->fit[job->model];
    if (job->model >= KR_MODEL_OFFSET)
        printf("    offset    %12.4f mm   standard uncertainty %.4f mm\n", fit->offset_mm, fit->u_offset_mm);
    if (job->model >= KR_MODEL_SCALE)
        printf("    scale     %12.3f ppm  standard uncertainty %.3f ppm\n", 1e6 * fit->scale, 1e6 * fit->u_scale);
    if (c->both_ways)
        printf("    reversal  %12.4f mm   standard uncertainty %.4f mm (rising less falling)\n", fit->reversal_mm,
               fit->u_reversal_mm);
    for (uint16_t i = 0; job->model == KR_MODEL_TABLE && i < c->n_targets; i++)
        printf("    error at  %12.3f mm   %.4f mm, standard uncertainty %.4f mm (%u readings)\n",
               c->target[i].target_mm, c->target[i].residual_mm, c->target[i].u_mm, c->target[i].n);
}

static void print_iso(const struct calibrate_job *job)
{
    const struct kr_iso_axis *a = &job->iso;
    printf("\naccuracy and repeatability by the formulas of ISO 230-2: ");
    if (job->iso_lack != KR_ISO_LACKS_NOTHING) {
        printf("not calculated: there are %u %s, and at least %u are needed\n", job->iso_has,
               job->iso_lack == KR_ISO_LACKS_RUNS ? "runs each way at some target" : "targets in this length",
               job->iso_needs);
        return;
    }
    printf("mm, of the readings as they are\n%-34s %10s %10s %10s\n", "", "both ways", "rising", "falling");
    printf("%-34s %10.4f %10.4f %10.4f\n", "A  accuracy", a->accuracy_both_mm, a->accuracy_mm[KR_RISING],
           a->accuracy_mm[KR_FALLING]);
    printf("%-34s %10.4f %10.4f %10.4f\n", "E  systematic deviation", a->systematic_both_mm,
           a->systematic_mm[KR_RISING], a->systematic_mm[KR_FALLING]);
    printf("%-34s %10.4f %10.4f %10.4f\n", "R  repeatability", a->repeatability_both_mm, a->repeatability_mm[KR_RISING],
           a->repeatability_mm[KR_FALLING]);
    printf("%-34s %10.4f\n%-34s %10.4f\n", "B  reversal value", a->reversal_mm, "M  mean bidirectional deviation",
           a->mean_range_mm);
}

static void print_table(const struct kr_frame *f)
{
    printf(" table = (");
    for (uint16_t i = 0; i < f->n_points; i++)
        printf("%s\n        { at_mm = %.3f; error_mm = %.3f; }", i ? "," : "", f->point[i].at_um / 1000.0,
               f->point[i].error_um / 1000.0);
    printf(" );");
}

static void print_settings(const struct calibrate_job *job)
{
    const struct kr_frame *f = &job->frame;
    if (job->bad_point) {
        printf("\nthere is nothing for the station file: point %u of the table differs from the one before it by more "
               "than\n"
               "a tenth of the distance between them. Look at that reading, or lock out drives\n"
               "and air and look for loose parts there.\n",
               (unsigned)job->bad_point);
        return;
    }
    printf("\nWrite this for the rail in the station file, in place of what it has there:\n\n"
           "    frame: { offset_mm = %.3f; scale_ppm = %.3f;",
           f->offset_um / 1000.0, f->scale_ppb / 1000.0);
    if (f->n_points > 0)
        print_table(f);
    printf(" };\n\n");
    if (!job->applies)
        printf("The file only fills a new book; after that the book counts. --apply, or kniferail set frame, gives the "
               "frame to\n"
               "the station that runs. ");
    printf("Then scan the rail, and compare the places with the instrument once more.\n");
}

void calibrate_print(const struct calibrate_job *job)
{
    print_readings(job);
    print_models(job);
    print_verdict(job);
    print_values(job);
    print_iso(job);
    print_settings(job);
}
