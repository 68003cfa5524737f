/* Judges the reference flags: to which rail they belong, and whether they stand where the station file has them. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "kniferail/alarm.h"
#include "kniferail/commission.h"
#include "said.h"

#define PPB INT64_C(1000000000)

/* Returns where the last scan found a flag, less its place in the file. The corrections of the rail are the same value
 * with the other sign. The drive's position is taken for the place, because a frame's scale of some ppm changes it by
 * less than matters. */
static int32_t off_um(const struct kr_references_seen *seen, uint16_t i)
{
    int64_t at_um = seen->flag[i].at_um;
    return (int32_t) - (seen->datum_um + seen->switch_um + at_um * seen->scale_ppb / PPB);
}

/* Writes the places at which all flags were found, as "-19.300, 15.700". */
static void places_text(const struct kr_references_seen *seen, const struct kr_step_verdict *verdict, char *text,
                        size_t size)
{
    size_t n = 0;
    text[0] = '\0';
    for (uint16_t i = 0; i < seen->n_flags && n < size; i++)
        n += (size_t)snprintf(text + n, size - n, "%s%s", i ? ", " : "",
                              SETTING(verdict, 3, (seen->flag[i].at_um + off_um(seen, i)) / 1000.0));
}

/* ---- a scan that did not count --------------------------------------------------------------------------------- */

static void tell_exchanged(const struct kr_references_seen *seen, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    snprintf(change, sizeof change,
             "that of rail %u's drive, and the other way round (port and unit_id likewise); or exchange the cables, "
             "with drives locked out",
             seen->alarm.item);
    if (seen->alarm.item != 0)
        kr_finding_add(verdict, "drive.address", change,
                       "The flags that rail %u's drive passes are those of rail %u: the rails are exchanged.",
                       seen->rail_number, seen->alarm.item);
    else
        kr_finding_add(verdict, "frame.references.at_mm",
                       "the places of the flags, measured anew with drives and air locked out",
                       "All flags were seen, and their distances are those of no rail of this station.");
}

static void tell_alarm(const struct kr_references_seen *seen, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    switch (seen->job.alarm_code) {
    case KR_ALARM_REFERENCES_EXCHANGED: tell_exchanged(seen, verdict); break;
    case KR_ALARM_REFERENCES_MIRRORED:
        kr_finding_add(verdict, "drive.counts_towards", "the other side",
                       "The flags were found in mirrored order: the drive counts the wrong way.");
        break;
    case KR_ALARM_REFERENCES_SHIFTED:
        snprintf(change, sizeof change,
                 "each place %s, if the flags were measured from another 0; else walk the step of the frame again",
                 LENGTH_SIGNED(verdict, 3, seen->alarm.value / 1000.0));
        kr_finding_add(verdict, "frame.references.at_mm", change,
                       "The flags were found %s off the places of the file; %s are allowed.",
                       LENGTH_SIGNED(verdict, 3, seen->alarm.value / 1000.0),
                       LENGTH(verdict, 3, seen->alarm.limit / 1000.0));
        break;
    case KR_ALARM_REFERENCES_UNSEEN:
        kr_finding_add(
            verdict, "frame.references.at_mm",
            "the places of the flags, measured anew with drives and air locked out; look also whether they are clean, "
            "straight, and within the travel",
            "Of %" PRId32 " flags of the file %" PRId32 " were found with their distances.", seen->alarm.limit,
            seen->alarm.value);
        break;
    case KR_ALARM_POSITION_IMPLAUSIBLE:
        kr_finding_add(verdict, "carriage.setup_speed_mm_per_s",
                       "less, or give the carriage more travel behind the last flag (carriage.travel_most_mm): job 10 "
                       "stops there",
                       "%s brought the carriage to %s, and its travel ends at %s.", seen->job_text,
                       LENGTH(verdict, 3, seen->alarm.value / 1000.0), LENGTH(verdict, 3, seen->alarm.limit / 1000.0));
        break;
    default:
        kr_finding_add(verdict, "", "mend what the alarm names, then let the step be made again",
                       "%s did not end Complete. %.180s", seen->job_text, seen->job.alarm);
    }
}

/* ---- a scan that counted --------------------------------------------------------------------------------------- */

static void judge_bad(const struct kr_references_seen *seen, uint16_t i, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    int32_t looks_um = seen->flag[i].looks_um, told_um = seen->flag[i].width_um;
    if (looks_um == 0) {
        kr_finding_add(
            verdict, "",
            "clean it and set it straight, with drives and air locked out; or take it out of frame.references",
            "Reference flag %u at %s was not seen.", i + 1u, LENGTH(verdict, 3, seen->flag[i].at_um / 1000.0));
    } else if (abs(looks_um - told_um) * 10 > told_um) {
        snprintf(change, sizeof change, "%s for flag %u, if it is clean (it is %s)",
                 SETTING(verdict, 3, looks_um / 1000.0), i + 1u, SETTING(verdict, 3, told_um / 1000.0));
        kr_finding_add(verdict, "frame.references.width_mm", change,
                       "Reference flag %u looks %s wide, and should be %s.", i + 1u,
                       LENGTH(verdict, 3, looks_um / 1000.0), LENGTH_SHORT(verdict, 3, told_um / 1000.0));
    } else {
        snprintf(change, sizeof change,
                 "the place of flag %u, measured anew with drives and air locked out (it is %s); or set it straight",
                 i + 1u, SETTING(verdict, 3, seen->flag[i].at_um / 1000.0));
        kr_finding_add(verdict, "frame.references.at_mm", change,
                       "Reference flag %u stands beside the line of the others.", i + 1u);
    }
}

static void judge_flags(const struct kr_references_seen *seen, struct kr_step_verdict *verdict)
{
    char name[32];
    for (uint16_t i = 0; i < seen->n_flags; i++) {
        bool good = seen->flag[i].good;
        snprintf(name, sizeof name, "reference flag %u", i + 1u);
        kr_figure_add(verdict, name, "by the file at %s; %s %s", LENGTH(verdict, 3, seen->flag[i].at_um / 1000.0),
                      good ? "found at" : "not used; the others' line is there at",
                      LENGTH(verdict, 3, (seen->flag[i].at_um + off_um(seen, i)) / 1000.0));
        if (!good)
            judge_bad(seen, i, verdict);
    }
}

static void judge_places(const struct kr_references_seen *seen, struct kr_step_verdict *verdict)
{
    char places[KR_FLAGS_SEEN_MAX * 32], change[KR_CHANGE_MAX];
    int32_t most_um = 0;
    for (uint16_t i = 0; i < seen->n_flags; i++)
        if (abs(off_um(seen, i)) > abs(most_um))
            most_um = off_um(seen, i);
    if (abs(most_um) <= seen->tolerance_um)
        return;
    places_text(seen, verdict, places, sizeof places);
    snprintf(change, sizeof change, "%s, if the frame is the rail's; else walk the step of the frame again", places);
    kr_finding_add(verdict, "frame.references.at_mm", change,
                   "By homing and frame the flags stand %s beside the places of the file; placement.knife_mm is %s.",
                   LENGTH_SIGNED(verdict, 3, most_um / 1000.0), LENGTH(verdict, 3, seen->tolerance_um / 1000.0));
}

void kr_judge_references(const struct kr_references_seen *seen, struct kr_step_verdict *verdict)
{
    if (seen->n_flags == 0) {
        kr_figure_add(verdict, "reference flags", "this rail has none");
        return;
    }
    if (!seen->job.complete) {
        tell_alarm(seen, verdict);
        return;
    }
    judge_flags(seen, verdict);
    kr_figure_add(verdict, "what corrects the rail", "datum %s, switch %s, scale %+.3f ppm",
                  LENGTH_SIGNED(verdict, 3, seen->datum_um / 1000.0),
                  LENGTH_SIGNED(verdict, 3, seen->switch_um / 1000.0), seen->scale_ppb / 1000.0);
    kr_figure_add(verdict, "job 10, find the references", "%s",
                  seen->found ? "it took the datum from two of them, at setup speed"
                              : "not tried: no two flags at the drive side have a distance of their own");
    judge_places(seen, verdict);
}
