/* Homing at setup speed. */
#include <stdio.h>
#include <stdlib.h>

#include "commission.h"

#define HOMING_MS 600000 /* the longest that the program waits for a homing */

static bool is_referenced(const struct commission *c, uint16_t rail)
{
    return kr_get_u16(&c->client.image, KR_REG_RAIL_REFERENCED, rail, 0) != 0;
}

/* Watches the place while the drive has a link. Without a link the registers show no place. */
static void watch_place(const struct commission *c, uint16_t rail, struct kr_speed_watch *watch)
{
    const struct kr_image *image = &c->client.image;
    if (kr_get_u16(image, KR_REG_RAIL_LINK, rail, 0) == 0)
        return;
    const struct kr_place_seen place = {.at_um = commission_place_um(c, rail),
                                        .at_ms = (uint32_t)kr_get_i32(image, KR_REG_CARRIAGE_TIME, rail, 0),
                                        .span_ms = kr_get_u16(image, KR_REG_CARRIAGE_SPAN, rail, 0),
                                        .referenced = is_referenced(c, rail)};
    kr_speed_watch_step(watch, &place);
}

static bool is_over(uint16_t state)
{
    return state == KR_STATE_COMPLETE || state == KR_STATE_STOPPED || state == KR_STATE_ABORTED ||
           state == KR_STATE_HELD || state == KR_STATE_SUSPENDED;
}

static bool watch_job(struct commission *c, uint16_t rail, struct kr_home_seen *seen)
{
    int64_t began = commission_now_ms(), now = began;
    struct kr_speed_watch w = {.begun = false};
    char line[COMMISSION_LINE_MAX];
    watch_place(c, rail, &w);
    while (now - began < HOMING_MS && !is_over(commission_unit_state(c))) {
        if (!commission_look_again(c))
            return false;
        now = commission_now_ms();
        watch_place(c, rail, &w);
        if (commission_typed(c, line)) {
            enum kr_code code;
            if (!commission_command(c, KR_COMMAND_STOP, &code))
                return false;
        }
        if (c->left)
            return false;
    }
    seen->took_ms = (int32_t)(now - began);
    seen->fastest_um_per_s = w.fastest_um_per_s;
    return true;
}

bool commission_walk_HOME(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    const struct kr_carriage_config *carriage = &c->station->station.carriage[rail];
    const struct commission_job job = {.job = KR_JOB_HOME, .rail_number = (uint16_t)(rail + 1)};
    struct kr_home_seen seen = {.setup_um_per_s = carriage->setup_speed_um_per_s,
                                .park_um = carriage->park_um,
                                .park_window_um = carriage->park_window_um};
    if (!commission_ask_enter(
            c,
            "Carriage %u is homed next, and then goes to its place of rest. Nobody is in the zone. Press "
            "Enter to start; Enter once more stops it, which is no emergency stop.",
            rail + 1u) ||
        !commission_start(c, &job) || !commission_look(c) || !watch_job(c, rail, &seen))
        return false;
    seen.complete = commission_unit_state(c) == KR_STATE_COMPLETE;
    seen.referenced = is_referenced(c, rail);
    seen.rest_um = commission_place_um(c, rail);
    if (!seen.complete)
        commission_alarm(c, seen.alarm, sizeof seen.alarm);
    kr_judge_home(&c->station->drive[rail], &seen, verdict);
    return commission_stop(c);
}
