/* Direction and scale: short ways by the hold-to-run jog, each begun by a person. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission.h"

#define TRY_UM    10000 /* a way that a person can see */
#define PRESS_UM  25000 /* the way of one press, which is possible without a datum, too */
#define PRESS_MS  8000  /* longest time of one press */
#define STANDS_MS 300
#define MET_MS    2000
#define HEARD_MS  40 /* time from letting go until the drive receives it */

/* Returns how far the carriage goes on after it is let go: until the gateway has received that, and along its ramp.
 * Speed is estimated from the way since the last look. */
static int64_t runs_on_um(const struct commission *c, uint16_t rail, int64_t way_um, int64_t ms)
{
    const struct kr_station_config *station = &c->station->station;
    struct kr_speed speed = kr_setup_speed(&station->carriage[rail], station->geometry.rail[rail].empty, true);
    int64_t v = ms > 0 ? 1000 * way_um / ms : 0;
    v = v < speed.v_um_per_s ? v : speed.v_um_per_s;
    return v * HEARD_MS / 1000 + v * v / (2LL * speed.a_um_per_s2);
}

/* Way and time since the last look, on the gateway's clock. */
struct jogged {
    int32_t at_um;
    uint32_t at_ms;
};

static bool is_near(const struct commission *c, uint16_t rail, int32_t from_um, int32_t way_um, struct jogged *last)
{
    struct jogged now = {commission_place_um(c, rail),
                         (uint32_t)kr_get_i32(&c->client.image, KR_REG_CARRIAGE_TIME, rail, 0)};
    int64_t left_um = way_um - llabs((long long)now.at_um - from_um);
    int64_t on_um =
        runs_on_um(c, rail, llabs((long long)now.at_um - last->at_um), (int64_t)(uint32_t)(now.at_ms - last->at_ms));
    if (now.at_ms != last->at_ms)
        *last = now;
    return left_um <= on_um;
}

/* Tells whether the carriage has stood for MET_MS although the jog was held. The end of the travel stops a jog, too. */
static bool has_met_an_end(const struct commission *c, uint16_t rail, int32_t *last_um, int64_t *since_ms)
{
    int32_t at_um = commission_place_um(c, rail);
    if (at_um != *last_um)
        *since_ms = commission_now_ms();
    *last_um = at_um;
    return commission_now_ms() - *since_ms >= MET_MS;
}

/* Holds the jog until the carriage has gone or will go way_um, the carriage stands, the job ends, or PRESS_MS have
 * passed. */
static bool hold_way(struct commission *c, uint16_t rail, int direction, int32_t way_um)
{
    int32_t from_um = commission_place_um(c, rail), stood_um = from_um;
    int64_t since_ms = commission_now_ms();
    struct jogged last = {from_um, (uint32_t)kr_get_i32(&c->client.image, KR_REG_CARRIAGE_TIME, rail, 0)};
    for (int64_t until = commission_now_ms() + PRESS_MS; commission_now_ms() < until;) {
        if (!commission_hold(c, direction) || !commission_look_again(c))
            return false;
        if (commission_unit_state(c) != KR_STATE_EXECUTE || is_near(c, rail, from_um, way_um, &last) ||
            has_met_an_end(c, rail, &stood_um, &since_ms))
            break;
    }
    return commission_hold(c, 0);
}

/* Waits until the place has not changed for STANDS_MS. */
static bool wait_standstill(struct commission *c, uint16_t rail)
{
    int32_t last_um = commission_place_um(c, rail);
    int64_t since = commission_now_ms();
    for (int64_t until = since + PRESS_MS; commission_now_ms() < until;) {
        if (!commission_look_again(c))
            return false;
        if (commission_place_um(c, rail) != last_um)
            since = commission_now_ms();
        last_um = commission_place_um(c, rail);
        if (commission_now_ms() - since >= STANDS_MS)
            break;
    }
    return true;
}

/* What the alarm of an ended jog says, before it is acknowledged. */
static void keep_alarm(struct commission *c, struct kr_jog_seen *seen)
{
    char text[512];
    seen->alarm = 0;
    if (commission_unit_state(c) == KR_STATE_EXECUTE || (seen->alarm = commission_alarm(c, text, sizeof text)) == 0)
        return;
    for (uint16_t i = 0; i < kr_get_alarms(&c->client.image); i++) {
        struct kr_alarm alarm = kr_get_alarm(&c->client.image, i);
        if (alarm.code != seen->alarm)
            continue;
        seen->alarm_value = alarm.value;
        seen->alarm_limit = alarm.limit;
        break;
    }
    snprintf(seen->alarm_text, sizeof seen->alarm_text, "%s", text);
    commission_say("  %s", text);
}

bool commission_press(struct commission *c, uint16_t rail, int32_t way_um, struct kr_jog_seen *seen)
{
    const struct commission_job job = {.job = KR_JOB_JOG, .rail_number = (uint16_t)(rail + 1)};
    if (!commission_wait_pressed(c, rail) || !commission_start(c, &job) || !commission_look(c))
        return false;
    int32_t from_um = commission_place_um(c, rail);
    if (!hold_way(c, rail, seen->direction, way_um) || !wait_standstill(c, rail))
        return false;
    seen->shown_um = commission_place_um(c, rail) - from_um;
    keep_alarm(c, seen);
    return commission_stop(c);
}

/* ---- direction ------------------------------------------------------------------------------------------------- */

static bool ask_side(struct commission *c, enum kr_side_seen *side)
{
    char answer[COMMISSION_LINE_MAX];
    for (;;) {
        if (!commission_ask_text(c, answer,
                                 "To which side did this rail's carriage go? Type drive, operator or nowhere."))
            return false;
        *side = strcmp(answer, "drive") == 0      ? KR_SEEN_DRIVE_SIDE
                : strcmp(answer, "operator") == 0 ? KR_SEEN_OPERATOR_SIDE
                                                  : KR_SEEN_NOWHERE;
        if (*side != KR_SEEN_NOWHERE || strcmp(answer, "nowhere") == 0)
            return true;
    }
}

static bool try_direction(struct commission *c, uint16_t rail, int direction, struct kr_step_verdict *verdict)
{
    struct kr_jog_seen seen = {.direction = (int8_t)direction};
    if (!commission_ask_enter(c,
                              "Carriage %u goes about %s towards the %s side next, while the hold-to-run device is "
                              "pressed. Nobody is in the zone, and there is room. Press Enter.",
                              rail + 1u, COMMISSION_SAID(c, KR_SAID_LENGTH, 0, TRY_UM / 1e3),
                              direction > 0 ? "drive" : "operator") ||
        !commission_press(c, rail, TRY_UM, &seen))
        return false;
    if (seen.alarm == 0 && !ask_side(c, &seen.side))
        return false;
    kr_judge_direction(&c->station->drive[rail], &seen, verdict);
    return true;
}

bool commission_walk_DIRECTION(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    kr_judge_first_jog(&c->station->drive[rail], c->station->station.carriage[rail].setup_speed_um_per_s, verdict);
    if (!kr_step_passes(verdict))
        return true;
    if (!try_direction(c, rail, 1, verdict))
        return false;
    return !kr_step_passes(verdict) || try_direction(c, rail, -1, verdict);
}

/* ---- scale ----------------------------------------------------------------------------------------------------- */

/* Makes further presses until the person reads the tape. */
static bool go_along_tape(struct commission *c, uint16_t rail, struct kr_jog_seen *seen)
{
    char answer[COMMISSION_LINE_MAX], so_far[COMMISSION_LENGTH_MAX], press[COMMISSION_LENGTH_MAX];
    int32_t from_um = commission_place_um(c, rail);
    for (;;) {
        if (!commission_ask_text(c, answer,
                                 "The registers show %s so far. Type go for a press of up to %s; nobody is in the "
                                 "zone then. Type read when the way is long enough and drives and air are locked out.",
                                 commission_length(c, commission_place_um(c, rail) - from_um, so_far),
                                 commission_length(c, PRESS_UM, press)))
            return false;
        if (strcmp(answer, "read") == 0)
            break;
        if (strcmp(answer, "go") != 0)
            continue;
        if (!commission_press(c, rail, PRESS_UM, seen))
            return false;
        if (seen->alarm != 0)
            break;
    }
    seen->shown_um = commission_place_um(c, rail) - from_um;
    return true;
}

static bool ask_direction(struct commission *c, int8_t *direction)
{
    char answer[COMMISSION_LINE_MAX];
    *direction = 0;
    while (*direction == 0) {
        if (!commission_ask_text(c, answer, "To which side is there more room? Type drive or operator."))
            return false;
        *direction = (int8_t)(strcmp(answer, "drive") == 0 ? 1 : strcmp(answer, "operator") == 0 ? -1 : 0);
    }
    return true;
}

bool commission_walk_SCALE(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    struct kr_jog_seen jog = {.direction = 1};
    struct kr_tape_seen tape;
    int32_t read_um, uncertain_um;
    bool linked;
    if (!ask_direction(c, &jog.direction) ||
        !commission_ask_enter(c,
                              "Lock out drives and air, and mark where carriage %u stands on the tape. See that hands "
                              "and tools are out and nobody is in the zone, and only then take the locks off. Press "
                              "Enter.",
                              rail + 1u) ||
        !commission_wait_link(c, rail, &linked))
        return false;
    if (!linked) {
        kr_finding_add(verdict, "", "give the drive its power back, and let the step be made again",
                       "The drive does not answer, so that it shows no place from which a way could be read.");
        return true;
    }
    if (!go_along_tape(c, rail, &jog))
        return false;
    if (jog.alarm != 0) {
        kr_judge_direction(&c->station->drive[rail], &jog, verdict);
        return true;
    }
    if (!commission_ask_um(c, &read_um, "How far did the carriage go by the tape?") ||
        !commission_ask_um(c, &uncertain_um, "How far may this reading be off?"))
        return false;
    tape = (struct kr_tape_seen){
        .shown_um = jog.shown_um, .tape_um = jog.direction * abs(read_um), .uncertain_um = abs(uncertain_um)};
    kr_judge_scale(&c->station->drive[rail], &tape, verdict);
    return true;
}
