/* The bias of a scan that goes one way: judges whether the bias in force is the measured one, and whether scans can be
 * made with this switch. A bias is judged also where scans go both ways for another reason: it counts as soon as the
 * station file says that they go one way. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "kniferail/commission.h"
#include "said.h"

/* Hysteresis and delay with which a scan still finds centres (config/pages/integrator.md, "What a scan finds"). */
#define HYSTERESIS_MOST_UM 820 /* of the switch 0.8 mm, and 0.02 mm play of the drive */
#define DELAY_MOST_US      1000
/* A bias is good enough if its uncertainty is at most this part of the tolerance. */
#define PART_OF_TOLERANCE 10

static bool was_measured(const struct kr_bias_seen *seen, struct kr_step_verdict *verdict)
{
    if (!seen->job.complete)
        kr_finding_add(verdict, "", "mend what the alarm names, then let the step be made again",
                       "The scans did not end Complete. %s", seen->job.alarm);
    else if (seen->n_readings == 0)
        kr_finding_add(verdict, "", "see that the rail has holders with flags, and let the step be made again",
                       "The scans gave no reading of the switch.");
    else
        return true;
    return false;
}

static void judge_switch(const struct kr_bias_seen *seen, struct kr_step_verdict *verdict)
{
    if (seen->hysteresis_um > HYSTERESIS_MOST_UM)
        kr_finding_add(
            verdict, "",
            "look at the switch's distance from the flags, at its bracket, and for play in the drive, with drives and "
            "air locked out",
            "Hysteresis of the switch and play of the drive are %s in sum; scans are good up to %s.",
            LENGTH(verdict, 3, seen->hysteresis_um / 1000.0), LENGTH(verdict, 3, HYSTERESIS_MOST_UM / 1000.0));
    if (seen->delay_us > DELAY_MOST_US)
        kr_finding_add(verdict, "", "take a faster switch, or take the filter off the drive's touch probe input",
                       "The switch is seen %" PRId32 " us late; scans are good up to %d us.", seen->delay_us,
                       DELAY_MOST_US);
    if (seen->uncertainty_um > seen->tolerance_um / PART_OF_TOLERANCE)
        kr_finding_add(verdict, "carriage.gauge_rounds",
                       "more rounds; but first look, with drives and air locked out, whether the switch is loose",
                       "The bias is known only to within %s; a tenth of placement.knife_mm is %s.",
                       LENGTH(verdict, 3, seen->uncertainty_um / 1000.0),
                       LENGTH(verdict, 3, seen->tolerance_um / 1000.0 / PART_OF_TOLERANCE));
}

static void judge_in_force(const struct kr_bias_seen *seen, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    int32_t off_um = seen->in_force_um - seen->found_um;
    int32_t allowed_um = seen->uncertainty_um + seen->tolerance_um / PART_OF_TOLERANCE;
    if (seen->refused[0] != '\0')
        kr_finding_add(verdict, "", "do what the reason says, and let the step be made again",
                       "The station refused the bias: %.180s.", seen->refused);
    if (seen->in_force_um == 0 || seen->always_both_ways || abs(off_um) <= allowed_um)
        return;
    snprintf(change, sizeof change, "%s; at the station that runs: kniferail set switch %u %s %s, or accept it here",
             SETTING(verdict, 3, seen->found_um / 1000.0), seen->rail_number,
             TYPED(verdict, 3, seen->offset_um / 1000.0), TYPED(verdict, 3, seen->found_um / 1000.0));
    kr_finding_add(verdict, "carriage.scan_bias_mm", change,
                   "A bias of %s is in force, and %s +- %s were measured: a scan that goes one way finds "
                   "each holder %s beside its place.",
                   LENGTH(verdict, 3, seen->in_force_um / 1000.0), LENGTH_SHORT(verdict, 3, seen->found_um / 1000.0),
                   LENGTH(verdict, 3, seen->uncertainty_um / 1000.0), LENGTH(verdict, 3, abs(off_um) / 1000.0));
}

static void tell_in_force(const struct kr_bias_seen *seen, struct kr_step_verdict *verdict)
{
    if (seen->always_both_ways)
        kr_figure_add(verdict, "scan bias in force",
                      "not used: with a second switch for the references scans go both ways");
    else if (seen->in_force_um == 0)
        kr_figure_add(verdict, "scan bias in force", "0: scans go both ways, and need none");
    else
        kr_figure_add(verdict, "scan bias in force", "%s, %s%s", LENGTH(verdict, 3, seen->in_force_um / 1000.0),
                      seen->accepted ? "accepted in this step" : "as it was before",
                      seen->one_way ? "" : "; not used as long as scan_ways is \"both\"");
}

void kr_judge_bias(const struct kr_bias_seen *seen, struct kr_step_verdict *verdict)
{
    if (!was_measured(seen, verdict))
        return;
    kr_figure_add(verdict, "scan bias measured", "%s +- %s (95.45 %%), %u readings",
                  LENGTH_SHORT(verdict, 3, seen->found_um / 1000.0), LENGTH(verdict, 3, seen->uncertainty_um / 1000.0),
                  seen->n_readings);
    kr_figure_add(verdict, "hysteresis of the switch and play of the drive", "%s in sum, delay %" PRId32 " us",
                  LENGTH(verdict, 3, seen->hysteresis_um / 1000.0), seen->delay_us);
    tell_in_force(seen, verdict);
    judge_switch(seen, verdict);
    judge_in_force(seen, verdict);
}
