/* Tells the changes of a drive, and what its carriage waited for. */
#include <stdio.h>
#include <string.h>

#include "kniferail/drive_error.h"
#include "telling.h"

/* Older images are reported. This age is far above the normal time of a wire, and far below every limit. */
#define LATE_MS 100

/* ---- the drive ------------------------------------------------------------------------------------------------- */

static const char *silent_one(const struct kr_axis_in *axis, char text[TELLING_WORD_MAX])
{
    switch (axis->silent) {
    case KR_SILENT_DRIVE: return "the drive is silent";
    case KR_SILENT_NETWORK: return "the network is silent";
    case KR_SILENT_SELF: return "the gateway asked for nothing";
    default: break;
    }
    snprintf(text, TELLING_WORD_MAX, "the line waits for the drive of rail %u", axis->silent_rail);
    return text;
}

static void tell_age(struct kr_story *story, uint16_t rail, const struct kr_axis_in *axis)
{
    char text[TELLING_WORD_MAX];
    int32_t *oldest_ms = &story->oldest_ms[rail];
    uint16_t number = (uint16_t)(rail + 1);
    if (axis->link && axis->age_ms >= LATE_MS) {
        if (*oldest_ms == 0)
            tell_line(story, number, true, "the newest image of the drive is %d ms old: %s", axis->age_ms,
                      silent_one(axis, text));
        *oldest_ms = axis->age_ms > *oldest_ms ? axis->age_ms : *oldest_ms;
    } else if (*oldest_ms > 0) {
        tell_line(story, number, true,
                  axis->link ? "the drive answers again after up to %d ms"
                             : "the last image of the drive was %d ms old",
                  *oldest_ms);
        *oldest_ms = 0;
    }
}

static void tell_link(const struct kr_story *story, uint16_t rail, const struct kr_axis_in *axis)
{
    const struct kr_axis_in *was = &story->axis[rail];
    char text[TELLING_WORD_MAX];
    if (axis->link == was->link)
        return;
    if (axis->link)
        tell_line(story, (uint16_t)(rail + 1), false, "the drive is linked");
    else
        tell_line(story, (uint16_t)(rail + 1), true, "the link to the drive is lost: %s", silent_one(axis, text));
}

static void tell_fault(const struct kr_story *story, uint16_t rail, const struct kr_axis_in *axis)
{
    const struct kr_axis_in *was = &story->axis[rail];
    bool shows = axis->link && axis->statusword & KR_SW_FAULT;
    bool showed = was->link && was->statusword & KR_SW_FAULT;
    const char *text = kr_drive_error_text(axis->error_code);
    if (shows && (!showed || axis->error_code != was->error_code))
        tell_line(story, (uint16_t)(rail + 1), true, "the drive shows a fault, error code %04Xh%s%s", axis->error_code,
                  text != NULL ? ": " : "", text != NULL ? text : "");
    else if (!shows && showed && axis->link)
        tell_line(story, (uint16_t)(rail + 1), false, "the drive shows its fault no more");
}

void tell_drive(struct kr_story *story, uint16_t rail, const struct kr_axis_in *axis)
{
    tell_age(story, rail, axis);
    tell_link(story, rail, axis);
    tell_fault(story, rail, axis);
}

/* ---- the carriage ---------------------------------------------------------------------------------------------- */

static bool of_setpoint(uint16_t wait)
{
    return wait == KR_WAIT_SETPOINT_FREE || wait == KR_WAIT_SETPOINT_TAKEN || wait == KR_WAIT_SETPOINT_BEGUN;
}

/* A successful handshake is part of the way to the target. Only a failed one is told. */
static bool is_told(const struct kr_rail_steps *was, const struct kr_rail_steps *is)
{
    bool goes_on = is != NULL && was->phase == is->phase &&
                   (of_setpoint(is->wait) || is->wait == KR_WAIT_TARGET || is->wait == KR_WAIT_HOMED);
    return was->wait != KR_WAIT_NOTHING && !(of_setpoint(was->wait) && goes_on);
}

/* For instance "docking, holder 3, move 2: waited 0.140 s of at most 3.000 s for the pin to be in". */
static void wait_text(const struct kr_rail_steps *rail, int64_t now_ms, enum kr_length_unit unit, char *text,
                      size_t size)
{
    char phase[TELLING_WORD_MAX], target[TELLING_WORD_MAX];
    const char *what = kr_wait_text(rail->wait);
    int n = snprintf(text, size, "%s", word_of("CARRIAGE_PHASE", rail->phase, phase));
    if (rail->holder != 0)
        n += snprintf(text + n, size - (size_t)n, ", holder %u, move %u", rail->holder, rail->move);
    n += snprintf(text + n, size - (size_t)n, ": waited %.3f s", (double)(now_ms - rail->wait_since_ms) / 1000);
    if (rail->wait_limit_ms > 0)
        n += snprintf(text + n, size - (size_t)n, " of at most %.3f s", (double)rail->wait_limit_ms / 1000);
    n += snprintf(text + n, size - (size_t)n, " for %s", what != NULL ? what : "?");
    if (rail->wait != KR_WAIT_TARGET)
        return;
    kr_length_text(rail->target_um, unit, target, sizeof target);
    snprintf(text + n, size - (size_t)n, " at %s", target);
}

void tell_rail(const struct kr_story *story, uint16_t rail, const struct kr_station_steps *steps)
{
    const struct kr_rail_steps *was = &story->steps.rail[rail], *is = &steps->rail[rail];
    char text[KR_STORY_LINE_MAX - 64], next[TELLING_WORD_MAX];
    bool same = was->phase == is->phase && was->wait == is->wait && was->wait_since_ms == is->wait_since_ms;
    if (same || !is_told(was, is))
        return;
    wait_text(was, steps->now_ms, story->length_unit, text, sizeof text);
    bool stopped = is->phase == KR_CARRIAGE_STOPPING && was->phase != KR_CARRIAGE_STOPPING;
    if (is->phase == was->phase)
        tell_line(story, (uint16_t)(rail + 1), stopped, "%s", text);
    else
        tell_line(story, (uint16_t)(rail + 1), stopped, "%s; then %s", text,
                  word_of("CARRIAGE_PHASE", is->phase, next));
}

void tell_unfinished(const struct kr_story *story, uint16_t rail)
{
    const struct kr_rail_steps *is = &story->steps.rail[rail];
    char text[KR_STORY_LINE_MAX - 64];
    if (!is_told(is, NULL))
        return;
    wait_text(is, story->steps.now_ms, story->length_unit, text, sizeof text);
    tell_line(story, (uint16_t)(rail + 1), false, "%s, and waits on", text);
}
