/* Judges the blades of a shear beside their counter-knives: they have to stand on the side that their stroke closes,
 * and as far away as the station file says. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "kniferail/commission.h"
#include "numbers.h"
#include "said.h"

static const char *side_text(int32_t um)
{
    return um > 0 ? "drive" : "operator";
}

/* ---- hand, stroke and run-out ---------------------------------------------------------------------------------- */

static void judge_hand(const struct kr_clearance_seen *s, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    if (s->hand * s->told_um > 0)
        return;
    snprintf(change, sizeof change, "%s, if the blades are mounted as they have to be",
             SETTING(verdict, 3, -s->told_um / 1000.0));
    kr_finding_add(verdict, "side_clearance_mm", change,
                   "The blades of rail %u have to stand on the %s side of their counter-knives, and side_clearance_mm "
                   "puts them on the %s side: their stroke would lead them away.",
                   s->rail_number, side_text(s->hand), side_text(s->told_um));
}

/* Returns a clearance of that size on the side on which the blades have to stand. */
static double of_hand_mm(const struct kr_clearance_seen *s, int32_t um)
{
    return (s->hand < 0 ? -um : um) / 1000.0;
}

static void judge_stroke(const struct kr_clearance_seen *s, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    int32_t most_um = s->seen_stroke_um - s->window_um;
    if (s->seen_stroke_um == 0)
        return;
    if (s->stroke_um != 0 && abs(s->stroke_um - s->seen_stroke_um) > s->uncertain_um) {
        snprintf(change, sizeof change, "%s", SETTING(verdict, 3, s->seen_stroke_um / 1000.0));
        kr_finding_add(verdict, "side_stroke_mm", change, "The blades' side stroke is %s, and %s in the file.",
                       LENGTH(verdict, 3, s->seen_stroke_um / 1000.0), LENGTH(verdict, 3, s->stroke_um / 1000.0));
    }
    if (abs(s->told_um) > most_um) {
        snprintf(change, sizeof change, "%s at most, which is the stroke less placement.pair_mm",
                 SETTING(verdict, 3, of_hand_mm(s, most_um)));
        kr_finding_add(verdict, "side_clearance_mm", change,
                       "A blade of rail %u that stands %s away may not reach its counter-knife by a stroke of %s.",
                       s->rail_number, LENGTH(verdict, 3, abs(s->told_um) / 1000.0),
                       LENGTH(verdict, 3, s->seen_stroke_um / 1000.0));
    }
}

static void judge_run_out(const struct kr_clearance_seen *s, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    int32_t least_um = s->window_um + s->seen_run_out_um;
    if (s->seen_run_out_um <= s->run_out_um)
        return;
    snprintf(change, sizeof change, "%s; or true the blade and its seat, with drives and air locked out",
             SETTING(verdict, 3, s->seen_run_out_um / 1000.0));
    kr_finding_add(verdict, "blade_run_out_mm", change, "A blade runs out by %s, and by %s in the file.",
                   LENGTH(verdict, 3, s->seen_run_out_um / 1000.0), LENGTH(verdict, 3, s->run_out_um / 1000.0));
    if (abs(s->told_um) >= least_um)
        return;
    snprintf(change, sizeof change, "%s at least", SETTING(verdict, 3, of_hand_mm(s, least_um)));
    kr_finding_add(verdict, "side_clearance_mm", change,
                   "A blade that runs out by %s may be lowered onto its counter-knife at a clearance of %s.",
                   LENGTH(verdict, 3, s->seen_run_out_um / 1000.0), LENGTH(verdict, 3, abs(s->told_um) / 1000.0));
}

/* ---- pairs ----------------------------------------------------------------------------------------------------- */

static int32_t off_um(const struct kr_clearance_seen *s, uint16_t i)
{
    return s->pair[i].gap_um - s->told_um;
}

static bool is_off(const struct kr_clearance_seen *s, uint16_t i)
{
    return abs(off_um(s, i)) > s->window_um + s->uncertain_um;
}

static int32_t mean_off_um(const struct kr_clearance_seen *s)
{
    int64_t sum = 0;
    for (uint16_t i = 0; i < s->n_pairs; i++)
        sum += off_um(s, i);
    return (int32_t)(sum / s->n_pairs);
}

/* Tells whether all pairs are off alike. Then the error is of no single knife. */
static bool all_alike(const struct kr_clearance_seen *s)
{
    int32_t mean = mean_off_um(s);
    for (uint16_t i = 0; i < s->n_pairs; i++)
        if (!is_off(s, i) || abs(off_um(s, i) - mean) > s->window_um + s->uncertain_um)
            return false;
    return s->n_pairs > 1;
}

static void tell_all(const struct kr_clearance_seen *s, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    int32_t mean = mean_off_um(s);
    snprintf(change, sizeof change,
             "%s on rail %u, or %s on rail %u, by which is measured wrong (kniferail set offset); a blade "
             "mounted the wrong way round does it, too",
             SETTING_SIGNED(verdict, 3, mean / 1000.0), s->rail_number, SETTING_SIGNED(verdict, 3, -mean / 1000.0),
             s->lower_number);
    kr_finding_add(verdict, "holders.edge_offset_mm", change,
                   "All %u pairs stand about %s beside the clearance of %s; placement.pair_mm is %s.", s->n_pairs,
                   LENGTH_SIGNED(verdict, 3, mean / 1000.0), LENGTH(verdict, 3, s->told_um / 1000.0),
                   LENGTH(verdict, 3, s->window_um / 1000.0));
}

static void tell_pair(const struct kr_clearance_seen *s, uint16_t i, struct kr_step_verdict *verdict)
{
    const struct kr_pair_seen *p = &s->pair[i];
    char change[KR_CHANGE_MAX];
    snprintf(change, sizeof change, "%s for holder %u/%u, or %s for %u/%u; measure which (kniferail set offset)",
             SETTING(verdict, 3, (p->upper_offset_um + off_um(s, i)) / 1000.0), s->rail_number, p->upper_number,
             SETTING(verdict, 3, (p->lower_offset_um - off_um(s, i)) / 1000.0), s->lower_number, p->lower_number);
    kr_finding_add(verdict, "holders.edge_offset_mm", change,
                   "Cut %u: the blade of holder %u/%u stands %s beside its counter-knife %u/%u, and should "
                   "%s; placement.pair_mm is %s.",
                   p->cut, s->rail_number, p->upper_number, LENGTH_SIGNED(verdict, 3, p->gap_um / 1000.0),
                   s->lower_number, p->lower_number, LENGTH_SHORT_SIGNED(verdict, 3, s->told_um / 1000.0),
                   LENGTH(verdict, 3, s->window_um / 1000.0));
}

static void judge_pairs(const struct kr_clearance_seen *s, struct kr_step_verdict *verdict)
{
    char name[96];
    for (uint16_t i = 0; i < s->n_pairs; i++) {
        snprintf(name, sizeof name, "cut %u: holder %u of rail %u beside holder %u of rail %u", s->pair[i].cut,
                 s->pair[i].upper_number, s->rail_number, s->pair[i].lower_number, s->lower_number);
        kr_figure_add(verdict, name, "clearance %s +- %s, should be %s +- %s",
                      LENGTH_SHORT_SIGNED(verdict, 3, s->pair[i].gap_um / 1000.0),
                      LENGTH(verdict, 3, s->uncertain_um / 1000.0),
                      LENGTH_SHORT_SIGNED(verdict, 3, s->told_um / 1000.0), LENGTH(verdict, 3, s->window_um / 1000.0));
    }
    if (s->n_pairs == 0)
        kr_finding_add(verdict, "", "measure one pair at least, with drives and air locked out",
                       "No blade of rail %u was measured beside its counter-knife.", s->rail_number);
    else if (s->uncertain_um > s->window_um)
        kr_finding_add(verdict, "", "measure better, or let somebody measure who can",
                       "The readings may be off by %s, and placement.pair_mm is %s: they show nothing.",
                       LENGTH(verdict, 3, s->uncertain_um / 1000.0), LENGTH(verdict, 3, s->window_um / 1000.0));
    else if (all_alike(s))
        tell_all(s, verdict);
    else
        for (uint16_t i = 0; i < s->n_pairs; i++)
            if (is_off(s, i))
                tell_pair(s, i, verdict);
}

/* What nobody measured is told, so that nobody takes it for measured. */
static void tell_unmeasured(const struct kr_clearance_seen *s, struct kr_step_verdict *verdict)
{
    char name[48], cuts[NUMBERS_TEXT_MAX];
    if (s->unmeasured.n == 0)
        return;
    snprintf(name, sizeof name, "pairs of rail %u, not measured", s->rail_number);
    kr_figure_add(verdict, name, "%u of %u: cuts %s", s->unmeasured.n, s->unmeasured.n + s->n_pairs,
                  numbers_text(s->unmeasured.number, s->unmeasured.n, cuts, sizeof cuts));
}

void kr_judge_clearance(const struct kr_clearance_seen *seen, struct kr_step_verdict *verdict)
{
    char name[48];
    snprintf(name, sizeof name, "blades of rail %u", seen->rail_number);
    kr_figure_add(verdict, name, "on the %s side of their counter-knives; side stroke %s, run-out %s",
                  side_text(seen->hand),
                  seen->seen_stroke_um > 0 ? LENGTH(verdict, 3, seen->seen_stroke_um / 1000.0) : "not measured",
                  seen->seen_run_out_um > 0 ? LENGTH(verdict, 3, seen->seen_run_out_um / 1000.0) : "not measured");
    judge_hand(seen, verdict);
    judge_stroke(seen, verdict);
    judge_run_out(seen, verdict);
    judge_pairs(seen, verdict);
    tell_unmeasured(seen, verdict);
}
