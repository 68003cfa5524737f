/* The reference flags of a rail: a scan, then job 10 as after a lost datum. */
#include <stdio.h>

#include "commission_moves.h"
#include "kniferail/motion.h"

_Static_assert(KR_FLAGS_SEEN_MAX == KR_REFERENCES_MAX, "each reference of a rail is told");

/* Reads the alarm that stopped the job, and the notices of flags that were not used. */
static void read_alarms(const struct commission *c, uint16_t rail, struct kr_references_seen *seen)
{
    const struct kr_image *image = &c->client.image;
    for (uint16_t i = 0; i < kr_get_alarms(image); i++) {
        struct kr_alarm alarm = kr_get_alarm(image, i);
        if (alarm.code == seen->job.alarm_code && seen->alarm.code == 0)
            seen->alarm = alarm;
        if (alarm.code == KR_ALARM_REFERENCE_BAD && alarm.rail == rail + 1 && alarm.item >= 1 &&
            alarm.item <= KR_FLAGS_SEEN_MAX)
            seen->flag[alarm.item - 1].looks_um = alarm.value;
    }
}

static bool read_rows(struct commission *c, uint16_t rail, struct kr_references_seen *seen)
{
    static const enum kr_reg rows[] = {KR_REG_REFERENCES_GOOD, KR_REG_DATUM_CORRECTION, KR_REG_SWITCH_CORRECTION,
                                       KR_REG_SCALE_CORRECTION};
    const struct kr_image *image = &c->client.image;
    char text[512];
    (void)commission_alarm(c, text, sizeof text); /* this call reads the list */
    read_alarms(c, rail, seen);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (!kr_client_row(&c->client, rows[i], rail, 1)) {
            fprintf(stderr, "kniferail commission: %s\n", c->client.error);
            c->failed = true;
            return false;
        }
    for (uint16_t i = 0; i < seen->n_flags; i++)
        seen->flag[i].good = kr_get_u16(image, KR_REG_REFERENCES_GOOD, rail, 0) >> i & 1u;
    seen->datum_um = kr_get_um(image, KR_REG_DATUM_CORRECTION, rail, 0);
    seen->switch_um = kr_get_um(image, KR_REG_SWITCH_CORRECTION, rail, 0);
    seen->scale_ppb = kr_get_i32(image, KR_REG_SCALE_CORRECTION, rail, 0);
    return true;
}

static bool run(struct commission *c, uint16_t rail, enum kr_job which, const char *text,
                struct kr_references_seen *seen)
{
    const struct commission_job job = {.job = which, .rail_number = (uint16_t)(rail + 1)};
    seen->job_text = text;
    return commission_job_run(c, &job, &seen->job) && read_rows(c, rail, seen) && commission_stop(c);
}

bool commission_walk_REFERENCES(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    const struct kr_station_config *station = &c->station->station;
    const struct kr_references *told = &station->carriage[rail].references;
    struct kr_references_seen seen = {
        .rail_number = (uint16_t)(rail + 1), .n_flags = told->n, .tolerance_um = station->geometry.tolerance_um};
    for (uint16_t i = 0; i < told->n; i++)
        seen.flag[i] = (struct kr_flag_seen){.at_um = told->flag[i].at_um, .width_um = told->flag[i].width_um};
    if (told->n > 0) {
        if (!commission_ask_enter(c,
                                  "Carriage %u goes along its whole rail, to %u reference flags, at setup speed. "
                                  "Nobody is in the zone. Press Enter.",
                                  rail + 1u, told->n) ||
            !run(c, rail, KR_JOB_SCAN, "A scan", &seen))
            return false;
        if (seen.job.complete && kr_find_is_possible(&station->geometry, told)) {
            if (!run(c, rail, KR_JOB_FIND, "Job 10", &seen))
                return false;
            seen.found = seen.job.complete;
        }
    }
    kr_judge_references(&seen, verdict);
    return true;
}
