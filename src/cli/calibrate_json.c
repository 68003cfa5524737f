/* kniferail calibrate --json */
#include "calibrate_cmd.h"

static json_t *fit_json(const struct calibrate_job *job, enum kr_calibration_model model)
{
    const struct kr_calibration_fit *fit = &job->result.fit[model];
    if (!fit->determined)
        return json_pack("{s:s, s:b}", "model", kr_calibration_model_word(model), "determined", 0);
    return json_pack("{s:s, s:b, s:i, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f}", "model",
                     kr_calibration_model_word(model), "determined", 1, "unknowns", (int)fit->unknowns, "offset_mm",
                     fit->offset_mm, "u_offset_mm", fit->u_offset_mm, "scale_ppm", 1e6 * fit->scale, "u_scale_ppm",
                     1e6 * fit->u_scale, "reversal_mm", fit->reversal_mm, "u_reversal_mm", fit->u_reversal_mm, "rms_mm",
                     fit->rms_mm, "largest_mm", fit->largest_mm, "sd_mm", fit->sd_mm, "criterion", fit->criterion);
}

static json_t *targets_json(const struct kr_calibration *c)
{
    json_t *targets = json_array();
    for (uint16_t i = 0; i < c->n_targets; i++)
        json_array_append_new(targets, json_pack("{s:f, s:i, s:f, s:f}", "target_mm", c->target[i].target_mm,
                                                 "readings", (int)c->target[i].n, "residual_mm",
                                                 c->target[i].residual_mm, "u_mm", c->target[i].u_mm));
    return targets;
}

static json_t *both(const double value[2], double together)
{
    return json_pack("{s:f, s:f, s:f}", "both_ways", together, "rising", value[KR_RISING], "falling",
                     value[KR_FALLING]);
}

static json_t *iso_json(const struct calibrate_job *job)
{
    const struct kr_iso_axis *a = &job->iso;
    if (job->iso_lack != KR_ISO_LACKS_NOTHING)
        return json_pack("{s:b, s:s, s:i, s:i}", "reckoned", 0, "lacks",
                         job->iso_lack == KR_ISO_LACKS_RUNS ? "runs" : "targets", "has", (int)job->iso_has, "needs",
                         (int)job->iso_needs);
    return json_pack("{s:b, s:s, s:o, s:o, s:o, s:f, s:f}", "reckoned", 1, "by", "the formulas of ISO 230-2", "A_mm",
                     both(a->accuracy_mm, a->accuracy_both_mm), "E_mm", both(a->systematic_mm, a->systematic_both_mm),
                     "R_mm", both(a->repeatability_mm, a->repeatability_both_mm), "B_mm", a->reversal_mm, "M_mm",
                     a->mean_range_mm);
}

static json_t *frame_json(const struct calibrate_job *job)
{
    json_t *table = json_array();
    if (job->bad_point)
        return json_pack("{s:o, s:i}", "table", table, "bad_point", (int)job->bad_point);
    for (uint16_t i = 0; i < job->frame.n_points; i++)
        json_array_append_new(table, json_pack("{s:f, s:f}", "at_mm", job->frame.point[i].at_um / 1000.0, "error_mm",
                                               job->frame.point[i].error_um / 1000.0));
    return json_pack("{s:f, s:f, s:o}", "offset_mm", job->frame.offset_um / 1000.0, "scale_ppm",
                     job->frame.scale_ppb / 1000.0, "table", table);
}

json_t *calibrate_json(const struct calibrate_job *job)
{
    json_t *fits = json_array();
    for (int m = 0; m < KR_N_MODELS; m++)
        json_array_append_new(fits, fit_json(job, (enum kr_calibration_model)m));
    return json_pack("{s:i, s:i, s:b, s:o, s:s, s:s, s:o, s:o, s:o}", "readings", (int)job->result.n_readings,
                     "targets", (int)job->result.n_targets, "both_ways", (int)job->result.both_ways, "models", fits,
                     "verdict", kr_calibration_model_word(job->result.taken), "printed",
                     kr_calibration_model_word(job->model), "errors", targets_json(&job->result), "iso_230_2",
                     iso_json(job), "frame", frame_json(job));
}
