/* Acceptance: dockings and changeovers against the limits of the station file. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "kniferail/commission.h"
#include "kniferail/report.h"
#include "numbers.h"
#include "said.h"

/* Reports too many faults, and too few runs. */
static void judge_faults(const struct kr_acceptance *limits, const char *what, uint32_t asked, uint32_t done,
                         uint32_t faults, const struct kr_job_seen *first, struct kr_step_verdict *verdict)
{
    if (done < asked)
        kr_finding_add(verdict, "", "mend what stopped them, then let the step be made again",
                       "%s: %" PRIu32 " of %" PRIu32 " were made.", what, done, asked);
    if (faults > (uint32_t)limits->faults_most)
        kr_finding_add(verdict, "", "mend what the alarm names, then let the step be made again",
                       "%s: %" PRIu32 " faults; acceptance.faults_most allows %" PRId32 ". The first one: %s", what,
                       faults, limits->faults_most,
                       first->alarm[0] != '\0' ? first->alarm : "docking was tried again.");
}

static void tell_not_docked(const struct kr_dockings_seen *seen, struct kr_step_verdict *verdict)
{
    char numbers[NUMBERS_TEXT_MAX];
    if (seen->no_room.n > 0)
        kr_finding_add(verdict, "", "make room for them by hand, with drives and air locked out; then scan the rail",
                       "Not docked onto, because neither they nor a holder beside them has room to move: holders %s.",
                       numbers_text(seen->no_room.number, seen->no_room.n, numbers, sizeof numbers));
    if (seen->unmoved.n > 0)
        kr_finding_add(verdict, "", "let the step be made again; if it comes again, report it with a trace",
                       "The job ended Complete, and its record shows no move, so that nothing was docked: holders %s.",
                       numbers_text(seen->unmoved.number, seen->unmoved.n, numbers, sizeof numbers));
}

void kr_judge_dockings(const struct kr_acceptance *limits, const struct kr_dockings_seen *seen,
                       struct kr_step_verdict *verdict)
{
    judge_faults(limits, "Dockings", seen->asked, seen->done, seen->faults, &seen->first, verdict);
    tell_not_docked(seen, verdict);
    kr_figure_add(verdict, "dockings",
                  "%" PRIu32 " of %" PRIu32 " (%" PRId32 " of each of %u holders), %" PRIu32 " faults, at most %" PRId32
                  ", %" PRIu32 " of them tries that were repeated; %.1f s each",
                  seen->done, seen->asked, limits->dockings, seen->n_holders, seen->faults, limits->faults_most,
                  seen->retries, seen->done > 0 ? (double)seen->took_ms / 1000 / seen->done : 0.0);
    if (seen->aside > 0)
        kr_figure_add(verdict, "neighbours moved aside first, which counts as no docking", "%" PRIu32, seen->aside);
}

#define TIMES_IN_A_FIGURE 5

static void tell_times(const struct kr_changeovers_seen *seen, struct kr_step_verdict *verdict)
{
    for (uint32_t first = 0; seen->time != NULL && first < seen->done; first += TIMES_IN_A_FIGURE) {
        char name[64], text[400];
        uint32_t end = seen->done - first < TIMES_IN_A_FIGURE ? seen->done : first + TIMES_IN_A_FIGURE;
        size_t used = 0;
        for (uint32_t i = first; i < end && used < sizeof text; i++)
            used +=
                (size_t)snprintf(text + used, sizeof text - used, "%sorder %" PRIu32 ": planned %.1f s, taken %.1f s",
                                 i > first ? "; " : "", seen->time[i].order, seen->time[i].told_ms / 1000.0,
                                 seen->time[i].took_ms / 1000.0);
        snprintf(name, sizeof name, "changeovers %" PRIu32 " to %" PRIu32, first + 1, end);
        kr_figure_add(verdict, name, "%s", text);
    }
}

void kr_judge_changeovers(const struct kr_acceptance *limits, const struct kr_changeovers_seen *seen,
                          struct kr_step_verdict *verdict)
{
    double apart_milli =
        seen->told_ms > 0 ? 1000.0 * (double)(seen->took_ms - seen->told_ms) / (double)seen->told_ms : 0;
    judge_faults(limits, "Changeovers", seen->asked, seen->done, seen->faults, &seen->first, verdict);
    if (fabs(apart_milli) > limits->time_most_permille)
        kr_finding_add(
            verdict, "carriage.dock_ms",
            "what kniferail report --table times finds; at the station that runs: kniferail set times, likewise for "
            "undock_ms, setpoint_ms and rounding_ms; and look at enable_ms",
            "The changeovers took %+.1f %% against the time that was planned; acceptance.time_apart_most_permille "
            "allows %.1f %%.",
            apart_milli / 10, limits->time_most_permille / 10.0);
    kr_figure_add(verdict, "random changeovers at production speed",
                  "%" PRIu32 " of %" PRIu32 " (orders by seed %" PRIu32 "), %" PRIu32 " faults, at most %" PRId32
                  ", %" PRIu32 " of them dockings that were repeated",
                  seen->done, seen->asked, seen->seed, seen->faults, limits->faults_most, seen->retries);
    if (seen->done > 0)
        kr_figure_add(verdict, "time until verified",
                      "planned %.1f s, taken %.1f s in the mean, %+.1f %%, at most %.1f %% either way",
                      (double)seen->told_ms / 1000 / seen->done, (double)seen->took_ms / 1000 / seen->done,
                      apart_milli / 10, limits->time_most_permille / 10.0);
    tell_times(seen, verdict);
}

void kr_judge_placement(const struct kr_acceptance *limits, uint16_t rail_number, const double error_um[], size_t n,
                        double tolerance_um, struct kr_step_verdict *verdict)
{
    char name[40];
    struct kr_spread spread = kr_spread_of(error_um, n);
    double cpk = kr_capability_off_centre(&spread, tolerance_um), least = limits->cpk_least_permille / 1000.0;
    snprintf(name, sizeof name, "placement, rail %u", rail_number);
    if (n < 2 || spread.sd <= 0) {
        kr_figure_add(verdict, name, "%zu knives placed: too few for a capability", n);
        if (least > 0)
            kr_finding_add(verdict, "acceptance.changeovers", "more of them",
                           "%zu knives of rail %u were placed: no capability can be calculated from so few.", n,
                           rail_number);
        return;
    }
    struct kr_interval range = kr_capability_off_centre_interval(cpk, n);
    kr_figure_add(verdict, name,
                  "%zu knives, mean %s, standard deviation %s, from %s to %s; Cpk %.2f, 95 %% %.2f "
                  "to %.2f, at least %.2f",
                  n, LENGTH_SIGNED(verdict, 3, spread.mean / 1000), LENGTH(verdict, 3, spread.sd / 1000),
                  LENGTH_SHORT_SIGNED(verdict, 3, spread.least / 1000), LENGTH_SIGNED(verdict, 3, spread.most / 1000),
                  cpk, range.low, range.high, least);
    if (range.low < least)
        kr_finding_add(verdict, "",
                       "see kniferail report for the holder that scatters; or make more changeovers, if the interval "
                       "is wide only because they were few",
                       "Rail %u: Cpk lies between %.2f and %.2f with 95 %% confidence; acceptance.cpk_least_permille "
                       "asks for %.2f.",
                       rail_number, range.low, range.high, least);
}
