/* Judges the place of the proximity switch, measured with a holder that the pin has dragged. */
#include <stdio.h>
#include <stdlib.h>

#include "job.h"
#include "kniferail/commission.h"
#include "said.h"

#define OFF_PART       10 /* part of a knife's tolerance by which the offset may be off */
#define UNCERTAIN_PART 4  /* part of a knife's tolerance by which the offset may be uncertain */

static void tell_off(const struct kr_switch_seen *seen, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    snprintf(change, sizeof change,
             "%s (%s counts); then kniferail calibrate --measured --rail %u --apply sets it in the station's book, too",
             SETTING(verdict, 3, seen->found_um / 1e3), SETTING(verdict, 3, seen->counts_um / 1e3), seen->rail_number);
    kr_finding_add(verdict, "carriage.switch_offset_mm", change,
                   "The switch sits %s from the pin (+- %s), and %s counts: every holder of the rail "
                   "would be taken for %s off.",
                   LENGTH(verdict, 3, seen->found_um / 1e3), LENGTH(verdict, 3, seen->uncertainty_um / 1e3),
                   LENGTH(verdict, 3, seen->counts_um / 1e3),
                   LENGTH(verdict, 3, abs(seen->found_um - seen->counts_um) / 1e3));
}

void kr_judge_switch(const struct kr_switch_seen *seen, struct kr_step_verdict *verdict)
{
    char what[64];
    int32_t off_um = abs(seen->found_um - seen->counts_um), most_um = seen->tolerance_um / OFF_PART;
    int32_t uncertain_most_um = seen->tolerance_um / UNCERTAIN_PART;
    snprintf(what, sizeof what, "Dragging holder %u to and fro", seen->holder_number);
    if (!job_ended_well(&seen->job, what, verdict))
        return;
    kr_figure_add(verdict, "switch offset", "counts %s; measured %s +- %s (95 %%)",
                  LENGTH(verdict, 3, seen->counts_um / 1e3), LENGTH_SHORT(verdict, 3, seen->found_um / 1e3),
                  LENGTH(verdict, 3, seen->uncertainty_um / 1e3));
    kr_figure_add(verdict, "readings", "%u, of holder %u; play of the drive %s; %.1f s", seen->n_readings,
                  seen->holder_number, LENGTH(verdict, 3, seen->play_um / 1e3), seen->job.took_ms / 1e3);
    if (seen->n_readings == 0)
        kr_finding_add(verdict, "", "let the step be made again", "The job ended, and the station shows no reading.");
    else if (off_um > (most_um > seen->uncertainty_um ? most_um : seen->uncertainty_um))
        tell_off(seen, verdict);
    else if (seen->uncertainty_um > uncertain_most_um)
        kr_finding_add(verdict, "carriage.gauge_rounds",
                       "more rounds; but first look, with drives and air locked out, for play of the pin, the switch "
                       "and its bracket",
                       "The offset is uncertain by %s; %s, a quarter of a knife's tolerance, is allowed.",
                       LENGTH(verdict, 3, seen->uncertainty_um / 1e3), LENGTH(verdict, 3, uncertain_most_um / 1e3));
}
