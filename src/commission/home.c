/* Judges whether a homing ended where it should, and how fast it went. */
#include <stdlib.h>

#include "kniferail/commission.h"
#include "said.h"

/* Allows for overshoot at the end of a ramp, and for whole units of the drive's speed. */
#define FASTER_PERCENT 10
#define WAY_MS         250 /* a speed is the mean over at least this time */

/* Returns the mean speed of the way, by the longest time that may have passed. */
static int32_t slowest_um_per_s(const struct kr_place_seen *from, const struct kr_place_seen *to)
{
    int64_t longest_ms = (int64_t)(uint32_t)(to->at_ms - from->at_ms) + to->span_ms;
    int64_t um_per_s = 1000 * llabs((long long)to->at_um - from->at_um) / longest_ms;
    return um_per_s < INT32_MAX ? (int32_t)um_per_s : INT32_MAX;
}

void kr_speed_watch_step(struct kr_speed_watch *w, const struct kr_place_seen *place)
{
    if (!w->begun || place->referenced != w->from.referenced) {
        w->begun = true;
        w->doubtful_um_per_s = 0;
        w->from = *place;
        return;
    }
    if ((uint32_t)(place->at_ms - w->from.at_ms) < WAY_MS)
        return;
    if (w->doubtful_um_per_s > w->fastest_um_per_s)
        w->fastest_um_per_s = w->doubtful_um_per_s;
    w->doubtful_um_per_s = slowest_um_per_s(&w->from, place);
    w->from = *place;
}

static void judge_speed(const struct kr_drive *drive, const struct kr_home_seen *seen, struct kr_step_verdict *verdict)
{
    bool ours = drive->map.address[KR_OBJECT_HOMING_SPEED] != KR_NO_REGISTER;
    if (seen->fastest_um_per_s <= (int64_t)seen->setup_um_per_s * (100 + FASTER_PERCENT) / 100)
        return;
    kr_finding_add(verdict, ours ? "drive.speed_um_per_s" : "",
                   ours ? "how many micrometres a second speed_units are"
                        : "set the drive's own homing speed (6099h) to carriage.setup_speed_mm_per_s at most, or name "
                          "its register as drive.registers.homing_speed",
                   "The carriage went up to %s; setup speed is %s.", SPEED(verdict, 1, seen->fastest_um_per_s / 1e3),
                   SPEED(verdict, 1, seen->setup_um_per_s / 1e3));
}

void kr_judge_home(const struct kr_drive *drive, const struct kr_home_seen *seen, struct kr_step_verdict *verdict)
{
    kr_figure_add(verdict, "fastest speed", "%s; setup speed %s", SPEED(verdict, 1, seen->fastest_um_per_s / 1e3),
                  SPEED(verdict, 1, seen->setup_um_per_s / 1e3));
    kr_figure_add(verdict, "homing took", "%.1f s", seen->took_ms / 1e3);
    judge_speed(drive, seen, verdict);
    if (seen->alarm[0] != '\0')
        kr_finding_add(verdict, "", "do what the alarm's remedy says, and let the step be made again",
                       "Homing was stopped: %.180s", seen->alarm);
    else if (!seen->complete)
        kr_finding_add(verdict, "", "look at the unit state and the log, and let the step be made again",
                       "Homing did not come to its end.");
    else if (!seen->referenced)
        kr_finding_add(verdict, "drive.referenced_bit",
                       "the bit of the statusword that says that the position has its datum",
                       "Homing ended, and the drive does not show its datum.");
    else if (abs(seen->rest_um - seen->park_um) > seen->park_window_um)
        kr_finding_add(verdict, "carriage.park_mm", "a place that the carriage reaches",
                       "The carriage rests at %s, and should at %s.", LENGTH(verdict, 3, seen->rest_um / 1e3),
                       LENGTH(verdict, 3, seen->park_um / 1e3));
    else
        kr_figure_add(verdict, "place of rest", "%s, datum shown", LENGTH(verdict, 3, seen->rest_um / 1e3));
}
