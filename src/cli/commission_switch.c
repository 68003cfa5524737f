/* The proximity switch: the width with which it sees the flags, and its distance from the pin, measured with a dragged
 * holder. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission_moves.h"

#define SWITCH_WORDS 40 /* length of the block SWITCH_1 */

static bool read_block(struct commission *c, uint16_t rail)
{
    if (kr_client_row(&c->client, KR_REG_SWITCH_ORIGIN, rail, SWITCH_WORDS) &&
        kr_client_row(&c->client, KR_REG_SWITCH_CORRECTION, rail, 1))
        return true;
    fprintf(stderr, "kniferail commission: %s\n", c->client.error);
    c->failed = true;
    return false;
}

/* ---- the flags ------------------------------------------------------------------------------------------------- */

static struct kr_width_seen flag(const struct commission *c, uint16_t rail, enum kr_reg width, enum kr_reg at)
{
    return (struct kr_width_seen){kr_get_um(&c->client.image, width, rail, 0),
                                  kr_get_um(&c->client.image, at, rail, 0)};
}

bool commission_walk_FLAG(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    const struct commission_job job = {.job = KR_JOB_SCAN, .rail_number = (uint16_t)(rail + 1)};
    struct kr_widths_seen seen = {.setting_um = c->station->station.carriage[rail].flag_width_um};
    if (!commission_ask_enter(c, "Rail %u is scanned next, at setup speed. Nobody is in the zone. Press Enter.",
                              rail + 1u) ||
        !commission_job_run(c, &job, &seen.job) || !read_block(c, rail))
        return false;
    seen.n = kr_get_u16(&c->client.image, KR_REG_FLAGS_SEEN, rail, 0);
    seen.mean_um = kr_get_um(&c->client.image, KR_REG_FLAG_MEAN, rail, 0);
    seen.narrowest = flag(c, rail, KR_REG_FLAG_NARROWEST, KR_REG_FLAG_NARROWEST_AT);
    seen.widest = flag(c, rail, KR_REG_FLAG_WIDEST, KR_REG_FLAG_WIDEST_AT);
    kr_judge_widths(&seen, verdict);
    return commission_stop(c);
}

/* ---- the offset ------------------------------------------------------------------------------------------------ */

static bool ask_holder(struct commission *c, uint16_t rail, uint16_t *holder_number)
{
    char answer[COMMISSION_LINE_MAX], *end;
    uint16_t n = c->station->station.geometry.rail[rail].n_holders;
    long number = 0;
    do {
        if (!commission_ask_text(c, answer,
                                 "Which holder of rail %u has %s of room at both sides? Type its number, 1 to %u; 1 "
                                 "is the first from the operator side.",
                                 rail + 1u, COMMISSION_SAID(c, KR_SAID_LENGTH, 0, 5), n))
            return false;
        number = strtol(answer, &end, 10);
    } while (*end != '\0' || number < 1 || number > n);
    *holder_number = (uint16_t)number;
    return true;
}

static bool jog(struct commission *c, uint16_t rail, int8_t direction, struct kr_step_verdict *verdict)
{
    struct kr_jog_seen seen = {.direction = direction};
    int32_t way_um;
    if (!commission_ask_um(c, &way_um, "How far?"))
        return false;
    if (way_um == 0)
        return true;
    if (!commission_press(c, rail, abs(way_um), &seen))
        return false;
    if (seen.alarm != 0)
        kr_judge_direction(&c->station->drive[rail], &seen, verdict);
    return true;
}

/* Jogs until the person sees the pin above the socket, or an alarm ends a jog. */
static bool jog_above(struct commission *c, uint16_t rail, uint16_t holder_number, struct kr_step_verdict *verdict)
{
    char answer[COMMISSION_LINE_MAX], at[COMMISSION_LENGTH_MAX];
    while (kr_step_passes(verdict)) {
        if (!commission_look(c) ||
            !commission_ask_text(
                c, answer,
                "Carriage %u is shown at %s. Type drive or operator to jog it towards that side. The last "
                "millimetres are pushed by hand, at the carriage or at the holder, with drives and air locked out. "
                "Type above once the pin is above the socket of holder %u and nobody is in the zone.",
                rail + 1u, commission_length(c, commission_place_um(c, rail), at), holder_number))
            return false;
        if (strcmp(answer, "above") == 0)
            return true;
        int8_t direction = (int8_t)(strcmp(answer, "drive") == 0 ? 1 : strcmp(answer, "operator") == 0 ? -1 : 0);
        if (direction != 0 && !jog(c, rail, direction, verdict))
            return false;
    }
    return true;
}

static bool read_switch(struct commission *c, uint16_t rail, struct kr_switch_seen *seen)
{
    const struct kr_image *image = &c->client.image;
    if (!read_block(c, rail))
        return false;
    seen->n_readings = kr_get_u16(image, KR_REG_SWITCH_READINGS, rail, 0);
    seen->counts_um =
        kr_get_um(image, KR_REG_SWITCH_OFFSET, rail, 0) + kr_get_um(image, KR_REG_SWITCH_CORRECTION, rail, 0);
    seen->found_um = kr_get_um(image, KR_REG_SWITCH_FOUND, rail, 0);
    seen->uncertainty_um = kr_get_um(image, KR_REG_SWITCH_UNCERTAINTY, rail, 0);
    seen->play_um = kr_get_um(image, KR_REG_PLAY_FOUND, rail, 0);
    return true;
}

bool commission_walk_SWITCH(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    struct kr_switch_seen seen = {.rail_number = (uint16_t)(rail + 1),
                                  .tolerance_um = c->station->station.geometry.tolerance_um};
    if (!ask_holder(c, rail, &seen.holder_number) || !jog_above(c, rail, seen.holder_number, verdict))
        return false;
    if (!kr_step_passes(verdict))
        return true;
    const struct commission_job job = {.job = KR_JOB_SWITCH_OFFSET,
                                       .rail_number = seen.rail_number,
                                       .holder_number = seen.holder_number,
                                       .position_um = commission_place_um(c, rail)};
    if (!commission_ask_enter(
            c, "Carriage %u drags holder %u to and fro next, at reduced speed. Nobody is in the zone. Press Enter.",
            rail + 1u, seen.holder_number) ||
        !commission_job_run(c, &job, &seen.job) || !read_switch(c, rail, &seen))
        return false;
    kr_judge_switch(&seen, verdict);
    return commission_stop(c);
}
