/* The ends of travel: a jog to each end. The step of the inputs has tried the limit switches before. */
#include <stdio.h>
#include <stdlib.h>

#include "commission.h"

#define AT_END_UM   1000
#define FRAME_WORDS 12     /* of the block FRAME_1 */
#define BEYOND_UM   100000 /* the jog is asked for more way than there is: the end of travel stops it */
#define PROGRESS_UM 2000   /* a press that goes less has met something */

static const char *side_text(int8_t side)
{
    return side > 0 ? "drive" : "operator";
}

/* As many presses as the way needs. */
static bool jog_to_end(struct commission *c, uint16_t rail, struct kr_end_seen *seen)
{
    struct kr_jog_seen jog = {.direction = seen->side};
    int32_t left_um;
    do {
        left_um = abs(seen->setting_um - commission_place_um(c, rail));
        if (!commission_press(c, rail, left_um + BEYOND_UM, &jog))
            return false;
        seen->stood_um = commission_place_um(c, rail);
    } while (jog.alarm == 0 && abs(seen->setting_um - seen->stood_um) > AT_END_UM &&
             left_um - abs(seen->setting_um - seen->stood_um) > PROGRESS_UM);
    seen->alarm = jog.alarm;
    seen->at_end = commission_inputs(c, rail) & commission_wired_inputs(c, rail) & (KR_DI_LIMIT_LOW | KR_DI_LIMIT_HIGH);
    snprintf(seen->alarm_text, sizeof seen->alarm_text, "%s", jog.alarm_text);
    return true;
}

/* The place of an end, by the frame that counts; what its table of errors adds is less than AT_END_UM. */
static bool place_of_end(struct commission *c, uint16_t rail, int8_t side, int32_t *place_um)
{
    const struct kr_carriage_config *carriage = &c->station->station.carriage[rail];
    struct kr_frame frame = {.offset_um = 0};
    if (!kr_client_row(&c->client, KR_REG_FRAME_ORIGIN, rail, FRAME_WORDS)) {
        fprintf(stderr, "kniferail commission: %s\n", c->client.error);
        c->failed = true;
        return false;
    }
    frame.offset_um = kr_get_um(&c->client.image, KR_REG_FRAME_OFFSET, rail, 0);
    frame.scale_ppb = kr_get_i32(&c->client.image, KR_REG_FRAME_SCALE, rail, 0);
    *place_um = kr_frame_place_um(&frame, side > 0 ? carriage->travel_max_um : carriage->travel_min_um);
    return true;
}

static bool try_end(struct commission *c, uint16_t rail, int8_t side, struct kr_step_verdict *verdict)
{
    const struct kr_carriage_config *carriage = &c->station->station.carriage[rail];
    char to[COMMISSION_LENGTH_MAX];
    struct kr_end_seen seen = {.side = side, .margin_um = carriage->travel_margin_um};
    if (!place_of_end(c, rail, side, &seen.setting_um) ||
        !commission_ask_enter(
            c,
            "Carriage %u goes towards the %s side, to %s, while the hold-to-run device is "
            "pressed. Nobody is in the zone. Let go of the device before it meets a stop. Press Enter.",
            rail + 1u, side_text(side), commission_length(c, seen.setting_um, to)) ||
        !commission_look(c) || !jog_to_end(c, rail, &seen))
        return false;
    if (seen.alarm == 0 && abs(seen.setting_um - seen.stood_um) <= AT_END_UM &&
        !commission_ask_um(c, &seen.room_um,
                           "Lock out and tag out drives and air before hands come near. How far could the carriage "
                           "still go, to its hard stop or to its limit switch, whichever comes first?"))
        return false;
    kr_judge_end(&seen, verdict);
    return true;
}

bool commission_walk_LIMITS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    if (!try_end(c, rail, 1, verdict))
        return false;
    return !kr_step_passes(verdict) || try_end(c, rail, -1, verdict);
}
