/* Judges the first moves of holders: one holder, then whole changeovers. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "job.h"
#include "kniferail/commission.h"
#include "said.h"

/* The remedy of the alarm says what to do at the machine. */
void kr_judge_holder(const struct kr_holder_seen *seen, struct kr_step_verdict *verdict)
{
    char what[64], others[48] = "no other holder moved";
    int32_t off_um = seen->scanned_um - seen->target_um;
    if (seen->holder_number == 0)
        snprintf(what, sizeof what, "The scan before the move");
    else
        snprintf(what, sizeof what, "Moving holder %u", seen->holder_number);
    if (!job_ended_well(&seen->job, what, verdict))
        return;
    if (!seen->person_saw)
        kr_finding_add(verdict, "",
                       "look whose pin, brake and carriage moved; then at drive.outputs, and at the rails' addresses",
                       "%s: a person saw something else move.", what);
    if (seen->n_others > 0)
        kr_finding_add(verdict, "",
                       "with drives and air locked out, look at their brakes, and whether a pin dragged them along",
                       "%s: a scan found %u other holders moved, the first of them holder %u.", what, seen->n_others,
                       seen->other_number);
    if (abs(off_um) > seen->tolerance_um)
        kr_finding_add(
            verdict, "",
            "with drives and air locked out, look at the brake and at the play of the pin; then at carriage.settle_ms",
            "%s: a scan found it %s off its target; %s are allowed.", what, LENGTH(verdict, 3, off_um / 1000.0),
            LENGTH(verdict, 3, seen->tolerance_um / 1000.0));
    if (seen->n_others > 0)
        snprintf(others, sizeof others, "%u other holders moved", seen->n_others);
    kr_figure_add(verdict, what,
                  "scanned %s off its target, at most %s; by the scan %s, and by a person's word %s; %" PRId32 " ms",
                  LENGTH(verdict, 3, off_um / 1000.0), LENGTH_SHORT(verdict, 3, seen->tolerance_um / 1000.0), others,
                  seen->person_saw ? "nothing else moved" : "something else moved", seen->job.took_ms);
}

void kr_judge_changeover(const struct kr_changeover_seen *seen, struct kr_step_verdict *verdict)
{
    char what[64];
    snprintf(what, sizeof what, "A changeover at %s speed", seen->production ? "production" : "reduced");
    if (!job_ended_well(&seen->job, what, verdict))
        return;
    if (!seen->verified)
        kr_finding_add(verdict, "", "see kniferail status for what stands in the way", "%s: the order is not verified.",
                       what);
    if (!seen->person_saw)
        kr_finding_add(verdict, "", "look at carriages, guards and cables with drives and air locked out",
                       "%s: a person saw or heard something that should not be.", what);
    if (seen->worst_um > seen->tolerance_um)
        kr_finding_add(verdict, "", "look at the holder that kniferail status --holders shows furthest off",
                       "%s: a knife is %s off its place; %s are allowed.", what,
                       LENGTH(verdict, 3, seen->worst_um / 1000.0), LENGTH(verdict, 3, seen->tolerance_um / 1000.0));
    kr_figure_add(verdict, what, "%s; worst knife %s off, at most %s; planned %.1f s, took %.1f s; %u holders moved",
                  seen->verified ? "verified" : "not verified", LENGTH(verdict, 3, seen->worst_um / 1000.0),
                  LENGTH_SHORT(verdict, 3, seen->tolerance_um / 1000.0), seen->told_ms / 1000.0,
                  seen->job.took_ms / 1000.0, seen->n_moves);
    if (seen->order != 0)
        kr_figure_add(verdict, "the order", "number %" PRIu32 ", by seed %" PRIu32, seen->order, seen->seed);
}
