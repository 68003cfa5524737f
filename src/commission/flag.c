/* Judges the width with which the switch sees the holders' flags. */
#include <stdio.h>
#include <stdlib.h>

#include "job.h"
#include "kniferail/alarm.h"
#include "kniferail/commission.h"
#include "said.h"

#define OFF_PARTS 16 /* half of the deviation with which a scan still takes a flag for one of that width */

static bool is_off(const struct kr_widths_seen *seen, int32_t width_um)
{
    return abs(width_um - seen->setting_um) > seen->setting_um / OFF_PARTS;
}

/* Tells whether all flags are wider, or all are narrower, than the setting. */
static bool is_wrong_setting(const struct kr_widths_seen *seen)
{
    return is_off(seen, seen->narrowest.width_um) && is_off(seen, seen->widest.width_um) &&
           (seen->narrowest.width_um > seen->setting_um) == (seen->widest.width_um > seen->setting_um);
}

static void tell_setting(const struct kr_widths_seen *seen, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    snprintf(change, sizeof change, "%s (it is %s)%s", SETTING(verdict, 1, seen->mean_um / 1e3),
             SETTING(verdict, 3, seen->setting_um / 1e3),
             seen->n > 1 ? "" : "; measure this flag by hand first, with drives and air locked out: no other was seen");
    kr_finding_add(verdict, "carriage.flag_width_mm", change,
                   "The switch sees the flags %s to %s wide, and the station file says %s.",
                   LENGTH_SHORT(verdict, 3, seen->narrowest.width_um / 1e3),
                   LENGTH(verdict, 3, seen->widest.width_um / 1e3), LENGTH(verdict, 3, seen->setting_um / 1e3));
}

static void tell_odd_one(const struct kr_widths_seen *seen, struct kr_step_verdict *verdict)
{
    bool wide = abs(seen->widest.width_um - seen->setting_um) > abs(seen->narrowest.width_um - seen->setting_um);
    const struct kr_width_seen *odd = wide ? &seen->widest : &seen->narrowest;
    kr_finding_add(verdict, "",
                   "lock out drives and air, look at this flag for chips, tape or a dent, and at the switch's distance",
                   "The flag at %s is %s wide, and the others are as wide as the station file says, %s.",
                   LENGTH(verdict, 1, odd->at_um / 1e3), LENGTH(verdict, 3, odd->width_um / 1e3),
                   LENGTH(verdict, 3, seen->setting_um / 1e3));
}

void kr_judge_widths(const struct kr_widths_seen *seen, struct kr_step_verdict *verdict)
{
    bool by_width = !seen->job.complete && seen->job.alarm_code == KR_ALARM_FLAG_WIDTH;
    if (!by_width && !job_ended_well(&seen->job, "A scan", verdict))
        return;
    if (seen->n == 0) {
        kr_finding_add(verdict, "drive.inputs.flag",
                       "the bit of the switch; then look at the touch probe of the drive (drive.registers.probe_*)",
                       "A scan of the whole rail took the width of no flag.");
        return;
    }
    kr_figure_add(verdict, "flags, as the switch sees them", "%s in the mean of %u, %s to %s; the station file says %s",
                  LENGTH(verdict, 3, seen->mean_um / 1e3), seen->n,
                  LENGTH_SHORT(verdict, 3, seen->narrowest.width_um / 1e3),
                  LENGTH_SHORT(verdict, 3, seen->widest.width_um / 1e3), LENGTH(verdict, 3, seen->setting_um / 1e3));
    if (is_wrong_setting(seen))
        tell_setting(seen, verdict);
    else if (by_width)
        tell_odd_one(seen, verdict);
}
