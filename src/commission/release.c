/* Judges the guided release of a pin that was not proven out. */
#include <inttypes.h>
#include <stdio.h>

#include "job.h"
#include "kniferail/commission.h"

static const char *where_text(uint16_t docked, char text[48])
{
    if (docked == KR_DOCKED_SOMEWHERE)
        snprintf(text, 48, "it may be in a holder");
    else
        snprintf(text, 48, "it may be in holder %u", docked);
    return text;
}

void kr_judge_release(const struct kr_release_seen *seen, struct kr_step_verdict *verdict)
{
    char name[48], where[48];
    snprintf(name, sizeof name, "guided release, rail %u", seen->rail_number);
    if (!seen->wanted) {
        kr_finding_add(verdict, "",
                       "look why, with drives and air locked out; then let the guided release (job 5) be given",
                       "The pin of carriage %u is not proven out: %s. Nothing travels on this rail before it is.",
                       seen->rail_number, where_text(seen->docked, where));
        return;
    }
    if (!job_ended_well(&seen->job, "The guided release", verdict))
        return;
    if (seen->docked_after != 0) {
        kr_finding_add(verdict, "", "lock out drives and air, and look whether the pin is stuck and its inputs work",
                       "After the guided release the pin of carriage %u is still not proven out: %s.",
                       seen->rail_number, where_text(seen->docked_after, where));
        return;
    }
    kr_figure_add(verdict, name, "the pin was not proven out, %s; after job 5 it is proven out; %" PRId32 " ms",
                  where_text(seen->docked, where), seen->job.took_ms);
}
