#include "test_cuts.h"

#include <math.h>
#include <string.h>

#include "durable.h"
#include "edges.h"
#include "offset_step.h"
#include "state.h"
#include "verify.h"

static const struct kr_result yes = {.code = KR_OK};

/* ---- the placement ----------------------------------------------------------------------------------------------- */

void test_cuts_placed(struct test_cuts *o, const struct kr_station_config *config, const struct kr_durable *durable,
                      const struct planning *planning)
{
    struct placed *p = &o->placed;
    memset(p, 0, sizeof *p);
    p->rail = slitting_rail(&config->geometry);
    const struct kr_plan_rail *plan = &planning->plan.rail[p->rail];
    p->n_slits = durable->order.n_slits;
    p->n_cuts = planning->cuts.n_cuts;
    p->first_slit_edge = planning->cuts.first_slit_edge;
    p->order_generation = planning->order_generation;
    for (uint16_t h = 0; h < config->geometry.rail[p->rail].n_holders; h++) {
        if (plan->holder[h].cut == 0)
            continue;
        p->holder[plan->holder[h].cut - 1] = (uint16_t)(h + 1);
        p->centre_um[plan->holder[h].cut - 1] = durable->holder[p->rail][h].position_um;
    }
    p->valid = true;
}

void test_cuts_order_changed(struct test_cuts *o)
{
    o->placed.valid = false;
}

static void forget(struct test_cuts *o)
{
    o->n_strips = o->test_cuts = o->n_residuals = 0;
    o->proposed = o->pairs_looked_at = false;
}

/* If a knife of the test cut is edited, the old strips tell nothing about the new knife. */
void test_cuts_touched(struct test_cuts *o, uint16_t rail, uint16_t holder_number)
{
    bool took_part = false;
    if (rail != o->placed.rail)
        return;
    for (uint16_t k = 0; k < o->placed.n_cuts; k++)
        took_part = took_part || o->placed.holder[k] == holder_number;
    for (uint16_t i = 0; i < o->n_strips; i++)
        took_part = took_part || o->strips[i].left == holder_number || o->strips[i].right == holder_number;
    if (!took_part)
        return;
    forget(o);
    o->placed.valid = false;
}

/* ---- strips ---------------------------------------------------------------------------------------------------- */

/* Finds the cuts at a slit's two edges. False: one of them is the web's own edge, whose place is not known well
 * enough. */
static bool cuts_of(const struct placed *p, uint16_t slit, uint16_t *left, uint16_t *right)
{
    if (slit < p->first_slit_edge || slit - p->first_slit_edge + 1 >= p->n_cuts)
        return false;
    *left = (uint16_t)(slit - p->first_slit_edge);
    *right = (uint16_t)(*left + 1);
    return true;
}

/* Takes the measured strips of the order that was cut. */
struct told {
    const struct kr_snapshot *block;
    struct kr_format format;
    const struct kr_order *order;
    bool pairs_looked_at;
};

static int64_t measured_nm(const struct told *told, uint16_t slit)
{
    return kr_snapshot_nm(told->block, KR_BLOCK_EDIT, KR_REG_EDIT_WIDTH, slit, told->format);
}

/* Returns the width as it was cut: after slitting, a strip relaxes by the compensation of the order. */
static double cut_width_um(const struct told *told, uint16_t slit)
{
    return (double)measured_nm(told, slit) / 1000 * (1 + 1e-6 * told->order->compensation_ppm);
}

/* Returns the strip's value of the right holder's edge offset minus the left one's. */
static double told_um(const struct told *told, const struct placed *p, uint16_t slit, uint16_t left, uint16_t right)
{
    return cut_width_um(told, slit) - ((double)p->centre_um[right] - p->centre_um[left]);
}

static struct kr_strips *strips_between(struct test_cuts *o, uint16_t left, uint16_t right)
{
    for (uint16_t i = 0; i < o->n_strips; i++)
        if (o->strips[i].left == left && o->strips[i].right == right)
            return &o->strips[i];
    o->strips[o->n_strips] = (struct kr_strips){.left = left, .right = right};
    return &o->strips[o->n_strips++];
}

static void add_strips(struct test_cuts *o, const struct told *told)
{
    uint16_t left, right;
    for (uint16_t i = 0; i < o->placed.n_slits; i++) {
        if (measured_nm(told, i) == 0 || !cuts_of(&o->placed, i, &left, &right))
            continue;
        double difference_um = told_um(told, &o->placed, i, left, right);
        struct kr_strips *strips = strips_between(o, o->placed.holder[left], o->placed.holder[right]);
        strips->n++;
        strips->sum_um += difference_um;
        strips->squares_um2 += difference_um * difference_um;
    }
}

/* Tells whether a strip lies beside a cut and between two knives. */
static bool strip_is_beside(const struct placed *p, uint16_t slit, uint16_t cut)
{
    uint16_t left, right;
    return cuts_of(p, slit, &left, &right) && (left == cut || right == cut);
}

static bool strip_is_good(const struct told *told, uint16_t slit, int32_t tolerance_um)
{
    int64_t off_nm = measured_nm(told, slit) - told->order->width_nm[slit];
    int64_t tolerance_nm = (int64_t)tolerance_um * KR_NM_PER_UM;
    return off_nm >= -tolerance_nm && off_nm <= tolerance_nm;
}

/* The result of a test cut for one cut. */
enum told_of_cut { TOLD_TOO_LITTLE, TOLD_GOOD, TOLD_OFF };

static enum told_of_cut told_of_cut(const struct placed *p, const struct told *told, uint16_t cut, int32_t tolerance_um)
{
    bool any = false, all = true;
    for (uint16_t i = 0; i < p->n_slits; i++) {
        if (!strip_is_beside(p, i, cut))
            continue;
        if (measured_nm(told, i) != 0 && !strip_is_good(told, i, tolerance_um))
            return TOLD_OFF;
        any = any || measured_nm(told, i) != 0;
        all = all && measured_nm(told, i) != 0;
    }
    return any && all ? TOLD_GOOD : TOLD_TOO_LITTLE;
}

/* The web is parted at the edges of the slitting rail, so its strips are as wide as ordered wherever a blade of another
 * rail lands. The edges of the other rails are proven only where a person has looked as well. */
static uint16_t proven_on(const struct placed *p, const struct told *told)
{
    return told->pairs_looked_at ? UINT16_MAX : (uint16_t)(1u << p->rail);
}

/* A cut with a strip that was not measured stays on trial. One strip that is off ends the trial without proof. Strips
 * that were cut before the plan in force tell nothing about its cuts. */
static void tell_edges(const struct placed *p, const struct told *told, int32_t tolerance_um, struct edge_view view,
                       struct edges *edges, struct kr_durable *durable)
{
    if (p->order_generation != view.planning->order_generation)
        return;
    for (uint16_t k = 0; k < p->n_cuts; k++) {
        enum told_of_cut is = told_of_cut(p, told, k, tolerance_um);
        if (is != TOLD_TOO_LITTLE)
            edges_strips_entered(view, edges, durable, (uint16_t)(k + 1), is == TOLD_GOOD ? proven_on(p, told) : 0);
    }
}

/* ---- for the book ---------------------------------------------------------------------------------------------- */

/* Notes a proven edge with the strips on both sides of its cut. */
static void note_proven(struct kr_test_cut *c, const struct placed *p, uint16_t cut, uint16_t rail, uint16_t holder)
{
    uint16_t left, right;
    for (uint16_t side = 0; side < 2; side++) {
        int slit = p->first_slit_edge + cut - side;
        if (slit >= 0 && slit < p->n_slits && cuts_of(p, (uint16_t)slit, &left, &right))
            c->strip[slit].proven[side][rail] = (uint16_t)(holder + 1);
    }
}

static void note(struct test_cuts *o, const struct told *told, struct edge_view view, struct kr_durable *durable)
{
    const struct placed *p = &o->placed;
    struct kr_test_cut c = {.number = ++o->n_told,
                            .order_number = told->order->order_number,
                            .rail = (uint16_t)(p->rail + 1),
                            .n_strips = p->n_slits,
                            .pairs_looked_at = told->pairs_looked_at};
    for (uint16_t i = 0; i < p->n_slits; i++) {
        c.strip[i].ordered_nm = told->order->width_nm[i];
        c.strip[i].measured_nm = measured_nm(told, i);
    }
    for (uint16_t r = 0; r < view.geometry->n_rails; r++)
        for (uint16_t h = 0; h < view.geometry->rail[r].n_holders; h++)
            if (edge_proven_by_strips(view.edges, durable, r, h))
                note_proven(&c, p, (uint16_t)(view.planning->plan.rail[r].holder[h].cut - 1), r, h);
    durable_set_test_cut(durable, &c);
}

/* ---- judging --------------------------------------------------------------------------------------------------- */

static struct kr_result judge_strip(const struct told *told, uint16_t rail, uint16_t slit)
{
    int64_t off_nm = measured_nm(told, slit) - told->order->width_nm[slit];
    int64_t limit_nm = (int64_t)KR_STRIP_OFF_MAX_UM * KR_NM_PER_UM;
    if (off_nm >= -limit_nm && off_nm <= limit_nm)
        return yes;
    return (struct kr_result){KR_STRIP_WIDTH, (uint16_t)(rail + 1), (uint16_t)(slit + 1),
                              kr_um_from_nm(measured_nm(told, slit)), kr_um_from_nm(told->order->width_nm[slit])};
}

static struct kr_result judge_strips(const struct placed *p, const struct told *told)
{
    uint16_t given = kr_snapshot_u16(told->block, KR_BLOCK_EDIT, KR_REG_EDIT_WIDTH_COUNT, 0), left, right;
    bool any = false;
    if (!p->valid)
        return (struct kr_result){.code = KR_NOT_PLACED};
    if (given != p->n_slits)
        return (struct kr_result){.code = KR_STRIP_COUNT, .value = given, .limit = p->n_slits};
    for (uint16_t i = 0; i < p->n_slits; i++) {
        if (measured_nm(told, i) == 0)
            continue;
        struct kr_result result = judge_strip(told, p->rail, i);
        if (result.code != KR_OK)
            return result;
        any = any || cuts_of(p, i, &left, &right);
    }
    return any ? yes : (struct kr_result){.code = KR_NO_STRIP};
}

/* A proposal is made only if a maintenance request would accept it. */
static struct kr_result judge_fit(uint16_t rail, const struct kr_offsets *fit)
{
    int32_t limit_um = KR_EDGE_OFFSET_MAX_UM;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        int32_t offset_um = fit->offset_um[h];
        if (offset_um > limit_um || offset_um < -limit_um)
            return (struct kr_result){KR_EDGE_OFFSET, (uint16_t)(rail + 1), (uint16_t)(h + 1), offset_um,
                                      offset_um < 0 ? -limit_um : limit_um};
    }
    return yes;
}

static void residuals(struct test_cuts *o, const struct told *told)
{
    uint16_t left, right;
    memset(o->residual_um, 0, sizeof o->residual_um);
    o->n_residuals = o->placed.n_slits;
    for (uint16_t i = 0; i < o->placed.n_slits; i++)
        if (measured_nm(told, i) != 0 && cuts_of(&o->placed, i, &left, &right))
            o->residual_um[i] = (int32_t)lround(
                told_um(told, &o->placed, i, left, right) -
                (o->fit.offset_um[o->placed.holder[right] - 1] - o->fit.offset_um[o->placed.holder[left] - 1]));
}

static struct kr_result propose(struct test_cuts *o, const struct told *told, const struct kr_durable *durable,
                                bool more)
{
    int32_t now_um[KR_HOLDERS_MAX];
    struct kr_result result = judge_strips(&o->placed, told);
    if (result.code != KR_OK)
        return result;
    if (more && o->n_strips + o->placed.n_slits > KR_STRIPS_MAX)
        return (struct kr_result){.code = KR_STRIPS_FULL, .value = o->n_strips, .limit = KR_STRIPS_MAX};
    if (!more)
        forget(o);
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
        now_um[h] = durable->holder[o->placed.rail][h].edge_offset_um;
    add_strips(o, told);
    o->test_cuts++;
    o->pairs_looked_at = told->pairs_looked_at;
    o->proposed = kr_offsets_fit(o->strips, o->n_strips, now_um, &o->fit);
    result = o->proposed ? judge_fit(o->placed.rail, &o->fit) : (struct kr_result){.code = KR_NO_STRIP};
    if (result.code == KR_OK)
        residuals(o, told);
    else
        forget(o);
    return result;
}

static struct kr_result judge_apply(const struct test_cuts *o, const struct kr_durable *durable, int32_t step_um,
                                    bool meant)
{
    struct kr_result result = {.code = o->proposed ? KR_OK : KR_NOTHING_PROPOSED};
    uint16_t r = o->placed.rail;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX && result.code == KR_OK && !meant; h++)
        if (o->fit.fitted[h])
            result = offset_step_judge(step_um, (uint16_t)(r + 1), (uint16_t)(h + 1),
                                       durable->holder[r][h].edge_offset_um, o->fit.offset_um[h]);
    return result;
}

static struct kr_result apply(struct kr_station *s, bool meant)
{
    struct test_cuts *o = &s->test_cuts;
    uint16_t r = o->placed.rail;
    bool cuts = false;
    struct kr_result result = judge_apply(o, &s->durable, s->config.offset_step_um, meant);
    if (result.code != KR_OK)
        return result;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        o->before_um[h] = s->durable.holder[r][h].edge_offset_um;
        if (!o->fit.fitted[h] || o->before_um[h] == o->fit.offset_um[h])
            continue;
        durable_set_offset(&s->durable, r, h, o->fit.offset_um[h]);
        cuts = cuts || plan_cuts(&s->planning, r, h);
    }
    if (cuts) {
        verify_undo(&s->placement);
        plan_outdated(&s->planning);
    }
    return result;
}

/* ---- requests -------------------------------------------------------------------------------------------------- */

struct kr_result test_cuts_request(struct kr_station *s, const struct kr_edit *edit)
{
    if (edit->kind == KR_EDIT_APPLY)
        return apply(s, offset_step_meant(&s->editing.edit, edit));
    struct told told = {&s->in.edit, s->config.format, &s->durable.order, s->editing.states_pairs};
    struct kr_result result = propose(&s->test_cuts, &told, &s->durable, edit->kind == KR_EDIT_TEST_CUT_MORE);
    if (result.code != KR_OK)
        return result;
    tell_edges(&s->test_cuts.placed, &told, s->config.slit_tolerance_um, view_of_edges(s), &s->edges, &s->durable);
    note(&s->test_cuts, &told, view_of_edges(s), &s->durable);
    return result;
}

int32_t test_cuts_before_um(const struct test_cuts *o, const struct kr_durable *durable, uint16_t rail, uint16_t holder)
{
    bool changes = rail == o->placed.rail && o->fit.fitted[holder];
    return changes ? o->before_um[holder] : durable->holder[rail][holder].edge_offset_um;
}

/* The application is over, whether it was stored or not. */
void test_cuts_end(struct test_cuts *o, struct kr_durable *durable, uint16_t kind, bool stored)
{
    if (kind == KR_EDIT_APPLY && !stored) {
        for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
            if (o->fit.fitted[h])
                durable_set_offset(durable, o->placed.rail, h, o->before_um[h]);
    } else if (kind == KR_EDIT_APPLY || !stored) {
        forget(o);
    }
}
