/* Homing at setup speed. */
#include <stdio.h>
#include <stdlib.h>

#include "commission.h"

#define WINDOW_MS 250    /* over which a speed is the mean */
#define HOMING_MS 600000 /* the longest that the program waits for a homing */

/* The speed between two looks. A datum that is found moves the position at once, which is no speed: a window counts
 * once the next one has ended without such a change. */
struct speed_watch {
    int64_t from_ms;
    int32_t from_um, doubtful_um_per_s, fastest_um_per_s;
    bool referenced;
};

static void watch_begin(struct speed_watch *w, int64_t now_ms, int32_t at_um)
{
    w->from_ms = now_ms;
    w->from_um = at_um;
}

static void watch_speed(struct speed_watch *w, int64_t now_ms, int32_t at_um, bool referenced)
{
    if (referenced != w->referenced) {
        w->referenced = referenced;
        w->doubtful_um_per_s = 0;
        watch_begin(w, now_ms, at_um);
    }
    if (now_ms - w->from_ms < WINDOW_MS)
        return;
    if (w->doubtful_um_per_s > w->fastest_um_per_s)
        w->fastest_um_per_s = w->doubtful_um_per_s;
    w->doubtful_um_per_s = (int32_t)(1000 * llabs((long long)at_um - w->from_um) / (now_ms - w->from_ms));
    watch_begin(w, now_ms, at_um);
}

static bool is_referenced(const struct commission *c, uint16_t rail)
{
    return kr_get_u16(&c->client.image, KR_REG_RAIL_REFERENCED, rail, 0) != 0;
}

static bool is_over(uint16_t state)
{
    return state == KR_STATE_COMPLETE || state == KR_STATE_STOPPED || state == KR_STATE_ABORTED ||
           state == KR_STATE_HELD || state == KR_STATE_SUSPENDED;
}

static bool watch_job(struct commission *c, uint16_t rail, struct kr_home_seen *seen)
{
    int64_t began = commission_now_ms(), now = began;
    struct speed_watch w = {.referenced = is_referenced(c, rail)};
    char line[COMMISSION_LINE_MAX];
    watch_begin(&w, began, commission_place_um(c, rail));
    while (now - began < HOMING_MS && !is_over(commission_unit_state(c))) {
        if (!commission_look_again(c))
            return false;
        now = commission_now_ms();
        watch_speed(&w, now, commission_place_um(c, rail), is_referenced(c, rail));
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
            "Carriage %u is homed next, and then goes to its place of rest. Press Enter to start; "
            "Enter once more stops it, which is no emergency stop.",
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
