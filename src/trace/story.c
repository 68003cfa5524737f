/* Tells the story in words: the changes from one cycle to the next. The cause comes before its consequences: drives,
 * then people, then alarms, then the carriages. */
#include <string.h>

#include "telling.h"

void kr_story_begin(struct kr_story *story, uint16_t n_rails, enum kr_length_unit unit, struct kr_story_teller teller)
{
    memset(story, 0, sizeof *story);
    story->teller = teller;
    story->n_rails = n_rails;
    story->length_unit = unit;
}

/* ---- alarms ---------------------------------------------------------------------------------------------------- */

static bool stands(const struct kr_alarm *alarm, const struct kr_station_steps *steps)
{
    for (uint16_t i = 0; i < steps->n_alarms; i++)
        if (steps->alarm[i].code == alarm->code && steps->alarm[i].rail == alarm->rail &&
            steps->alarm[i].item == alarm->item)
            return true;
    return false;
}

static void tell_alarm(const struct kr_story *story, const struct kr_alarm *alarm, bool raised)
{
    char text[KR_STORY_LINE_MAX - 64];
    kr_alarm_text(alarm, story->length_unit, text, sizeof text);
    tell_line(story, alarm->rail, raised, "alarm %u %s: %s", alarm->code, raised ? "stands" : "is gone", text);
}

static void tell_alarms(const struct kr_story *story, const struct kr_station_steps *steps)
{
    for (uint16_t i = 0; i < story->steps.n_alarms; i++)
        if (!stands(&story->steps.alarm[i], steps))
            tell_alarm(story, &story->steps.alarm[i], false);
    for (uint16_t i = 0; i < steps->n_alarms; i++)
        if (!stands(&steps->alarm[i], &story->steps))
            tell_alarm(story, &steps->alarm[i], true);
}

/* ---- the unit -------------------------------------------------------------------------------------------------- */

/* A unit that has nothing to wait for passes through Holding, for instance, within one cycle, so that only Held is
 * seen. */
static bool stops(int from, int to)
{
    switch (to) {
    case KR_STATE_ABORTING:
    case KR_STATE_HOLDING:
    case KR_STATE_SUSPENDING:
    case KR_STATE_STOPPING: return true;
    case KR_STATE_ABORTED: return from != KR_STATE_ABORTING;
    case KR_STATE_HELD: return from != KR_STATE_HOLDING;
    case KR_STATE_SUSPENDED: return from != KR_STATE_SUSPENDING;
    case KR_STATE_STOPPED: return from != KR_STATE_STOPPING && from != KR_STATE_CLEARING;
    default: return false;
    }
}

static void tell_unit(const struct kr_story *story, const struct kr_station_steps *steps)
{
    const struct kr_station_steps *was = &story->steps;
    char from[TELLING_WORD_MAX], to[TELLING_WORD_MAX];
    if (steps->unit_state != was->unit_state)
        tell_line(story, 0, stops(was->unit_state, steps->unit_state), "unit state %s -> %s",
                  word_of("UNIT_STATE", was->unit_state, from), word_of("UNIT_STATE", steps->unit_state, to));
    if (steps->phase != was->phase && steps->phase != KR_PHASE_NONE)
        tell_line(story, 0, false, "job %s: phase %s", word_of("COMMAND_JOB", steps->job, from),
                  word_of("PHASE", steps->phase, to));
}

/* ---- a cycle --------------------------------------------------------------------------------------------------- */

static void note(struct kr_story *story, const struct kr_station_in *in, const struct kr_station_steps *steps)
{
    story->begun = true;
    story->steps = *steps;
    memcpy(story->axis, in->axis, sizeof story->axis);
    story->permissives = in->permissives;
    story->controlled = in->controlled;
}

void kr_story_cycle(struct kr_story *story, int64_t utc_ms, const struct kr_station_in *in,
                    const struct kr_station_steps *steps)
{
    story->utc_ms = utc_ms;
    if (story->begun && steps->now_ms < story->steps.now_ms) {
        story->begun = false; /* after a new start nothing is compared with the cycle before */
        tell_line(story, 0, true, "the gateway was started again");
    }
    if (!story->begun) {
        note(story, in, steps);
        return;
    }
    for (uint16_t r = 0; r < story->n_rails; r++)
        tell_drive(story, r, &in->axis[r]);
    tell_people(story, in, steps);
    tell_alarms(story, steps);
    for (uint16_t r = 0; r < story->n_rails; r++)
        tell_rail(story, r, steps);
    tell_unit(story, steps);
    note(story, in, steps);
}

void kr_story_end(struct kr_story *story)
{
    for (uint16_t r = 0; story->begun && r < story->n_rails; r++)
        tell_unfinished(story, r);
}
