/* The charts of kniferail calibrate: how each target was reached, by the formulas of ISO 230-2. */
#include <stdio.h>

#include "calibrate_cmd.h"
#include "picture.h"

static void put(struct kr_figure_bar *bar, const struct kr_iso_position *p, int direction)
{
    snprintf(bar->label, sizeof bar->label, "%.1f %s", p->target_mm, direction == KR_RISING ? "rising" : "falling");
    bar->low = p->mean_mm[direction] - 2 * p->s_mm[direction];
    bar->middle = p->mean_mm[direction];
    bar->high = p->mean_mm[direction] + 2 * p->s_mm[direction];
    bar->stands_out = direction == KR_FALLING; /* its mark is filled */
}

/* The first chart shows the mean of each target and direction with two standard deviations in both directions, from
 * which R and A are calculated. The second chart shows the values of which B is the greatest. */
static bool draw(const void *what, enum kr_drawing_form form, const char *path, char error[KR_DRAWING_ERROR_MAX])
{
    static struct kr_figure_bar bar[2 * KR_CALIBRATION_TARGETS_MAX], reversal[KR_CALIBRATION_TARGETS_MAX];
    const struct calibrate_job *job = what;
    const struct kr_iso_axis *a = &job->iso;
    char subtitle[200];
    for (size_t i = 0; i < a->n; i++) {
        put(&bar[2 * i], &a->position[i], KR_RISING);
        put(&bar[2 * i + 1], &a->position[i], KR_FALLING);
        reversal[i] = (struct kr_figure_bar){.low = 0, .middle = a->position[i].reversal_mm};
        snprintf(reversal[i].label, sizeof reversal[i].label, "%.1f", a->position[i].target_mm);
        *(a->position[i].reversal_mm < 0 ? &reversal[i].low : &reversal[i].high) = a->position[i].reversal_mm;
    }
    const struct kr_figure figure[] = {
        {.title = "Deviation at each target, mm: mean and 2 standard deviations; filled: falling",
         .n = 2 * (size_t)a->n,
         .bar = bar},
        {.title = "Reversal at each target, mm: rising less falling", .n = a->n, .bar = reversal}};
    snprintf(subtitle, sizeof subtitle,
             "By the formulas of ISO 230-2, mm, both ways: A %.4f, E %.4f, R %.4f, B %.4f, M %.4f; of the readings as "
             "they are.",
             a->accuracy_both_mm, a->systematic_both_mm, a->repeatability_both_mm, a->reversal_mm, a->mean_range_mm);
    const struct kr_figures page = {"Accuracy and repeatability of a carriage", subtitle, 2, figure};
    return kr_drawing_figures(&page, form, path, error);
}

bool calibrate_draw(const struct calibrate_job *job, const struct kr_picture_options *options)
{
    if (!kr_picture_wanted(options))
        return true;
    if (job->iso_lack == KR_ISO_LACKS_NOTHING)
        return kr_picture_write_with("calibrate", options, draw, job);
    fprintf(
        stderr, "kniferail calibrate: there is no chart: there are %u %s, and at least %u are needed\n", job->iso_has,
        job->iso_lack == KR_ISO_LACKS_RUNS ? "runs each way at some target" : "targets in this length", job->iso_needs);
    return false;
}
