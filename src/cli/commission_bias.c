/* The scan bias of a rail: job 11 measures it, and a person decides whether it counts. */
#include <stdio.h>

#include "commission_edit.h"
#include "commission_moves.h"
#include "set_switch.h"

static bool read_rows(struct commission *c, uint16_t rail)
{
    static const enum kr_reg rows[] = {KR_REG_SWITCH_OFFSET,    KR_REG_SCAN_BIAS,  KR_REG_SWITCH_CORRECTION,
                                       KR_REG_BIAS_READINGS,    KR_REG_BIAS_FOUND, KR_REG_BIAS_UNCERTAINTY,
                                       KR_REG_HYSTERESIS_FOUND, KR_REG_DELAY_FOUND};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (!kr_client_row(&c->client, rows[i], rail, 1)) {
            fprintf(stderr, "kniferail commission: %s\n", c->client.error);
            c->failed = true;
            return false;
        }
    return true;
}

static bool read_bias(struct commission *c, uint16_t rail, struct kr_bias_seen *seen)
{
    const struct kr_image *image = &c->client.image;
    if (!read_rows(c, rail))
        return false;
    seen->n_readings = kr_get_u16(image, KR_REG_BIAS_READINGS, rail, 0);
    seen->found_um = kr_get_um(image, KR_REG_BIAS_FOUND, rail, 0);
    seen->uncertainty_um = kr_get_um(image, KR_REG_BIAS_UNCERTAINTY, rail, 0);
    seen->hysteresis_um = kr_get_um(image, KR_REG_HYSTERESIS_FOUND, rail, 0);
    seen->delay_us = kr_get_i32(image, KR_REG_DELAY_FOUND, rail, 0);
    seen->in_force_um = kr_get_um(image, KR_REG_SCAN_BIAS, rail, 0);
    seen->offset_um =
        kr_get_um(image, KR_REG_SWITCH_OFFSET, rail, 0) + kr_get_um(image, KR_REG_SWITCH_CORRECTION, rail, 0);
    return true;
}

/* Sets the bias. The offset keeps its present value, with the corrections that references have found: what counts is
 * the same before and after. */
static bool set_bias(struct commission *c, uint16_t rail, struct kr_bias_seen *seen)
{
    static struct edit_block block;
    const struct kr_switch is = {.offset_um = seen->offset_um, .bias_um = seen->found_um};
    int32_t told_um = kr_get_um(&c->client.image, KR_REG_SWITCH_OFFSET, rail, 0);
    enum kr_code code;
    commission_edit_begin(c, &block, KR_EDIT_SWITCH, (uint16_t)(rail + 1), 0);
    set_switch_fill(&block, &is);
    if (!commission_edit(c, &block, &code, seen->refused, sizeof seen->refused))
        return false;
    seen->accepted = code == KR_OK;
    if (!read_rows(c, rail))
        return false;
    if (seen->accepted)
        commission_book_carry_offset(c, rail, told_um, kr_get_um(&c->client.image, KR_REG_SWITCH_OFFSET, rail, 0));
    return true;
}

/* Says what a bias that is accepted changes. */
static const char *consequence(const struct kr_bias_seen *seen)
{
    return seen->one_way
               ? "Scans then go one way, and the bias is subtracted."
               : "The station file has scan_ways = \"both\": scans go on going both ways and need no bias, until "
                 "the file says \"one\".";
}

static bool ask_whether_it_counts(struct commission *c, uint16_t rail, struct kr_bias_seen *seen)
{
    bool yes;
    commission_say("Measured: %s +- %s. In force: %s%s.", COMMISSION_SAID(c, KR_SAID_SHORT, 3, seen->found_um / 1000.0),
                   COMMISSION_SAID(c, KR_SAID_LENGTH, 3, seen->uncertainty_um / 1000.0),
                   COMMISSION_SAID(c, KR_SAID_LENGTH, 3, seen->in_force_um / 1000.0),
                   seen->in_force_um == 0 ? ", so that scans go both ways and need none" : "");
    if (!commission_ask_yes(c, &yes,
                            "%s `kniferail set switch-back %u` takes the bias back. Is the bias that was measured to "
                            "count from now on?",
                            consequence(seen), rail + 1u))
        return false;
    if (yes && !set_bias(c, rail, seen))
        return false;
    seen->in_force_um = kr_get_um(&c->client.image, KR_REG_SCAN_BIAS, rail, 0);
    return true;
}

/* Job 11 has no reduced speed, because the bias is that of the scan speed. */
bool commission_walk_BIAS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    const struct kr_station_config *station = &c->station->station;
    const struct commission_job job = {
        .job = KR_JOB_SCAN_BIAS, .rail_number = (uint16_t)(rail + 1), .production = true};
    struct kr_bias_seen seen = {.rail_number = (uint16_t)(rail + 1),
                                .always_both_ways = station->carriage[rail].references.own_switch,
                                .one_way = station->carriage[rail].scan_ways == KR_SCAN_ONE_WAY,
                                .tolerance_um = station->geometry.tolerance_um};
    if (!commission_ask_enter(
            c, "Carriage %u scans %d times both ways at up to %s. Nobody is in the zone. Press Enter.", rail + 1u,
            2 * (int)station->carriage[rail].gauge_rounds,
            COMMISSION_SAID(c, KR_SAID_LENGTH | KR_SAID_SPEED, 0, station->carriage[rail].scan_speed_um_per_s / 1e3)) ||
        !commission_job_run(c, &job, &seen.job) || !commission_stop(c) || !read_bias(c, rail, &seen))
        return false;
    if (seen.job.complete && seen.n_readings > 0 && !seen.always_both_ways && !ask_whether_it_counts(c, rail, &seen))
        return false;
    kr_judge_bias(&seen, verdict);
    return true;
}
