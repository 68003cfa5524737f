/* Whether the carriage has room at the ends of the travel that the station file gives it. */
#include <stdio.h>
#include <stdlib.h>

#include "kniferail/alarm.h"
#include "kniferail/commission.h"
#include "said.h"
#include "signals.h"

#define AT_END_UM 1000 /* from the end: following error, and a drive that settles */

static const char *setting_of(const struct kr_end_seen *seen)
{
    return seen->side > 0 ? "carriage.travel_most_mm" : "carriage.travel_least_mm";
}

static const char *side_text(const struct kr_end_seen *seen)
{
    return seen->side > 0 ? "drive side" : "operator side";
}

/* The end has to lie so much further inside. */
static void tell_setting(const struct kr_end_seen *seen, int32_t end_um, struct kr_step_verdict *verdict,
                         const char *why)
{
    char change[KR_CHANGE_MAX];
    snprintf(change, sizeof change, "%s at %s (it is %s); the drive's own position limits likewise",
             SETTING(verdict, 1, end_um / 1e3), seen->side > 0 ? "most" : "least",
             SETTING(verdict, 1, seen->setting_um / 1e3));
    kr_finding_add(verdict, setting_of(seen), change, "%s", why);
}

/* A limit switch stops the drive wherever it is: at the end of travel none may be reached yet. */
static void judge_at_end(const struct kr_end_seen *seen, struct kr_step_verdict *verdict)
{
    char names[48], why[240];
    uint16_t own = seen->side > 0 ? KR_DI_LIMIT_HIGH : KR_DI_LIMIT_LOW;
    if (seen->at_end == 0)
        return;
    snprintf(why, sizeof why, "At %s, towards the %s, this was on: %s.", LENGTH(verdict, 1, seen->stood_um / 1e3),
             side_text(seen), inputs_text(seen->at_end, names, sizeof names));
    if (seen->at_end & own)
        tell_setting(seen, seen->stood_um - seen->side * seen->margin_um, verdict, why);
    else
        kr_finding_add(verdict, seen->side > 0 ? "drive.inputs.limit_low" : "drive.inputs.limit_high",
                       "the bit of the switch at the other side; or, with drives and air locked out, look at that "
                       "switch, which stays struck",
                       "%s", why);
}

/* The jog did not get to the end. */
static void judge_short(const struct kr_end_seen *seen, struct kr_step_verdict *verdict)
{
    char why[240];
    if (seen->alarm == KR_ALARM_JOG_ENABLE_LOST) {
        snprintf(why, sizeof why, "The device was let go at %s, before the end of travel at the %s, %s.",
                 LENGTH(verdict, 1, seen->stood_um / 1e3), side_text(seen), LENGTH(verdict, 1, seen->setting_um / 1e3));
        tell_setting(seen, seen->stood_um - seen->side * seen->margin_um, verdict, why);
    } else if (seen->alarm != 0) {
        kr_finding_add(verdict, "", "do what the alarm's remedy says, and let the step be made again",
                       "The jog towards the %s ended at %s: %.230s", side_text(seen),
                       LENGTH(verdict, 1, seen->stood_um / 1e3), seen->alarm_text);
    } else {
        kr_finding_add(verdict, "",
                       "look at the drive's own position limits (607Dh) and limit inputs, and at what the "
                       "carriage meets",
                       "The carriage stopped at %s, and its travel ends at %s at the %s.",
                       LENGTH(verdict, 1, seen->stood_um / 1e3), LENGTH(verdict, 1, seen->setting_um / 1e3),
                       side_text(seen));
    }
}

void kr_judge_end(const struct kr_end_seen *seen, struct kr_step_verdict *verdict)
{
    char name[80], why[240];
    judge_at_end(seen, verdict);
    if (abs(seen->stood_um - seen->setting_um) > AT_END_UM) {
        judge_short(seen, verdict);
        return;
    }
    snprintf(name, sizeof name, "end of travel at the %s", side_text(seen));
    kr_figure_add(verdict, name, "%s, stopped at %s; room behind it %s, at least %s",
                  LENGTH(verdict, 1, seen->setting_um / 1e3), LENGTH_SHORT(verdict, 1, seen->stood_um / 1e3),
                  LENGTH(verdict, 1, seen->room_um / 1e3), LENGTH_SHORT(verdict, 1, seen->margin_um / 1e3));
    if (seen->room_um >= seen->margin_um)
        return;
    snprintf(why, sizeof why, "Behind the end of travel at the %s there are %s of room; travel_margin_mm asks for %s.",
             side_text(seen), LENGTH(verdict, 1, seen->room_um / 1e3), LENGTH_SHORT(verdict, 1, seen->margin_um / 1e3));
    tell_setting(seen, seen->setting_um - seen->side * (seen->margin_um - seen->room_um), verdict, why);
}
