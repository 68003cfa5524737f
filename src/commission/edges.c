/* Judges the cutting edges: which are proven and how, which are not, and what the strips of test cuts show. */
#include <inttypes.h>
#include <stdio.h>

#include "kniferail/commission.h"
#include "numbers.h"
#include "said.h"

/* A trimmed edge may have a trim of 0, and then its cut line lies on the web's edge. */
int32_t kr_strip_edge_um(const struct kr_image *image, uint16_t edge)
{
    int32_t web_um = kr_get_um(image, KR_REG_WEB_OPERATOR, 0, 0);
    bool untrimmed =
        kr_get_i32(image, KR_REG_TRIM_OPERATOR, 0, 0) == 0 && web_um < kr_get_um(image, KR_REG_CUT_LINE, 0, 0);
    if (untrimmed && edge == 0)
        return web_um;
    uint16_t line = (uint16_t)(edge - untrimmed);
    return line < kr_get_cut_lines(image, &kr_cuts_in_force) ? kr_get_um(image, KR_REG_CUT_LINE, 0, line)
                                                             : kr_get_um(image, KR_REG_WEB_DRIVE, 0, 0);
}

static bool is_proven(const struct kr_edge_seen *e)
{
    return e->edge == KR_EDGE_BENCH || e->edge == KR_EDGE_FEELER || e->edge == KR_EDGE_TEST_CUT;
}

/* Writes "1 to 4, 7" for the holders whose edges are proven in this way; empty: there are none. */
static void holders_text(const struct kr_edges_seen *seen, uint16_t rail_number, uint16_t edge,
                         char text[NUMBERS_TEXT_MAX])
{
    uint16_t number[KR_HOLDERS_MAX], n = 0;
    for (uint16_t i = 0; i < seen->n && n < KR_HOLDERS_MAX; i++)
        if (seen->edge[i].rail_number == rail_number && seen->edge[i].edge == edge)
            number[n++] = seen->edge[i].holder_number;
    numbers_text(number, n, text, NUMBERS_TEXT_MAX);
}

static const struct {
    uint16_t edge;
    const char *how;
} ways[] = {
    {KR_EDGE_BENCH, "measured at the bench"},   {KR_EDGE_FEELER, "measured in place"},
    {KR_EDGE_TEST_CUT, "proven by a test cut"}, {KR_EDGE_UNPROVEN, "not proven"},
    {KR_EDGE_STRUCK, "struck in a crash"},
};
#define N_WAYS (sizeof ways / sizeof ways[0])

static void tell_rail(const struct kr_edges_seen *seen, uint16_t rail_number, struct kr_step_verdict *verdict)
{
    char name[64], holders[NUMBERS_TEXT_MAX];
    for (size_t k = 0; k < N_WAYS; k++) {
        holders_text(seen, rail_number, ways[k].edge, holders);
        snprintf(name, sizeof name, "edges of rail %u, %s", rail_number, ways[k].how);
        if (holders[0] != '\0')
            kr_figure_add(verdict, name, "holders %s", holders);
    }
}

static void tell_edge(const struct kr_edge_seen *e, struct kr_step_verdict *verdict)
{
    char name[48];
    const char *how = "in a state that this program does not know";
    for (size_t k = 0; k < N_WAYS; k++)
        if (ways[k].edge == e->edge)
            how = ways[k].how;
    bool measured = e->edge == KR_EDGE_BENCH || e->edge == KR_EDGE_FEELER;
    snprintf(name, sizeof name, "edge of holder %u/%u", e->rail_number, e->holder_number);
    kr_figure_add(verdict, name, "offset %s, %s%s%s", LENGTH(verdict, 3, e->offset_um / 1000.0), how,
                  !measured ? ""
                  : e->by   ? ", "
                            : " before this step",
                  measured && e->by ? e->by : "");
}

static void tell_strip(const struct kr_strip_seen *s, struct kr_step_verdict *verdict)
{
    char name[48], measured[KR_SAID_MAX + 16] = "not measured";
    if (s->measured_um != 0)
        snprintf(measured, sizeof measured, "measured %s", LENGTH(verdict, 3, s->measured_um / 1000.0));
    snprintf(name, sizeof name, "test cut %u, strip %u", s->test_cut, s->strip);
    kr_figure_add(verdict, name, "%s; its cut lines are %s apart", measured,
                  LENGTH(verdict, 3, s->cut_lines_um / 1000.0));
}

static void tell_set(const struct kr_edge_seen *e, struct kr_step_verdict *verdict)
{
    char name[48];
    snprintf(name, sizeof name, "edge offset of holder %u/%u", e->rail_number, e->holder_number);
    if (e->was_um != e->offset_um)
        kr_figure_add(verdict, name, "was %s, set to %s by the strips of a test cut",
                      LENGTH(verdict, 3, e->was_um / 1000.0), LENGTH(verdict, 3, e->offset_um / 1000.0));
}

/* Reports an edge offset that the strips propose and nobody has set. */
static void tell_proposed(const struct kr_edge_seen *e, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    snprintf(change, sizeof change,
             "%s for holder %u/%u (it is %s); kniferail set apply sets it, then set the order up again, and cut again",
             SETTING(verdict, 3, e->proposed_um / 1000.0), e->rail_number, e->holder_number,
             SETTING(verdict, 3, e->offset_um / 1000.0));
    kr_finding_add(verdict, "holders.edge_offset_mm", change,
                   "By the strips of a test cut the edge of holder %u/%u is %s off its offset.", e->rail_number,
                   e->holder_number, LENGTH_SIGNED(verdict, 3, (e->proposed_um - e->offset_um) / 1000.0));
}

static void judge_rail(const struct kr_edges_seen *seen, uint16_t rail_number, struct kr_step_verdict *verdict)
{
    char holders[NUMBERS_TEXT_MAX];
    holders_text(seen, rail_number, KR_EDGE_STRUCK, holders);
    if (holders[0] != '\0')
        kr_finding_add(verdict, "", "look at their knives with drives and air locked out, then measure their edges",
                       "Rail %u: a crash was reported, and nobody has looked at holders %s.", rail_number, holders);
    holders_text(seen, rail_number, KR_EDGE_UNPROVEN, holders);
    if (holders[0] != '\0')
        kr_finding_add(
            verdict, "",
            "measure them (kniferail set bench, feeler), or let a test cut prove them: those beside the rail "
            "that slits only where a person has looked at each pair",
            "Rail %u: the edges of holders %s are not proven.", rail_number, holders);
}

/* Tells whether an edge is reported as off. A proposal that is as small as the uncertainty of the strips proves itself
 * by the next test cut. */
static bool is_told_off(const struct kr_edges_seen *seen, const struct kr_edge_seen *e)
{
    int32_t off_um = e->proposed_um - e->offset_um;
    return e->proposed && !is_proven(e) && (off_um > seen->tolerance_um || off_um < -seen->tolerance_um);
}

void kr_judge_edges(const struct kr_edges_seen *seen, struct kr_step_verdict *verdict)
{
    verdict->lost = (uint16_t)(verdict->lost + seen->n_strips_lost);
    if (!seen->job.complete) {
        kr_finding_add(verdict, "", "mend what the alarm names, then let the step be made again",
                       "An order for the test cut was not set up. %s", seen->job.alarm);
        return;
    }
    kr_figure_add(verdict, "test cuts", "%u in this step", seen->n_test_cuts);
    for (uint16_t r = 1; r <= seen->n_rails; r++)
        tell_rail(seen, r, verdict);
    for (uint16_t i = 0; i < seen->n; i++)
        tell_set(&seen->edge[i], verdict);
    for (uint16_t i = 0; i < seen->n; i++)
        tell_edge(&seen->edge[i], verdict);
    for (uint16_t i = 0; i < seen->n_strips; i++)
        tell_strip(&seen->strip[i], verdict);
    for (uint16_t i = 0; i < seen->n; i++)
        if (is_told_off(seen, &seen->edge[i]))
            tell_proposed(&seen->edge[i], verdict);
    for (uint16_t r = 1; r <= seen->n_rails; r++)
        judge_rail(seen, r, verdict);
}
