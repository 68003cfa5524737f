/* Test cuts: strips of the order as it was placed, measured by hand, become proposals for the edge offsets of the rail
 * that makes the slits; a confirmation sets them. */
#include "state.h"

#include <math.h>
#include <string.h>

static const struct kr_result yes = {.code = KR_OK};

/* ---- what was placed ------------------------------------------------------------------------------------------------ */

void offsets_placed(struct kr_station *s)
{
    struct placed *p = &s->offsets.placed;
    const struct kr_plan_rail *plan;
    memset(p, 0, sizeof *p);
    p->rail = slitting_rail(s);
    plan = &s->plan.rail[p->rail];
    p->n_slits = s->durable.order.n_slits;
    p->n_cuts = s->cuts.n_cuts;
    p->first_slit_edge = s->cuts.first_slit_edge;
    for (uint16_t h = 0; h < s->config.geometry.rail[p->rail].n_holders; h++) {
        if (plan->holder[h].cut == 0)
            continue;
        p->holder[plan->holder[h].cut - 1] = (uint16_t)(h + 1);
        p->centre_um[plan->holder[h].cut - 1] = s->durable.holder[p->rail][h].position_um;
    }
    p->valid = true;
}

static void forget(struct offsets *o)
{
    o->n_strips = o->test_cuts = o->n_residuals = 0;
    o->proposed = false;
}

/* An edit of a knife that took part makes old strips say nothing of the new one. */
void offsets_touched(struct kr_station *s, uint16_t rail, uint16_t holder)
{
    const struct offsets *o = &s->offsets;
    bool took_part = false;
    if (rail != o->placed.rail)
        return;
    for (uint16_t k = 0; k < o->placed.n_cuts; k++)
        took_part = took_part || o->placed.holder[k] == holder;
    for (uint16_t i = 0; i < o->n_strips; i++)
        took_part = took_part || o->strips[i].left == holder || o->strips[i].right == holder;
    if (!took_part)
        return;
    forget(&s->offsets);
    s->offsets.placed.valid = false;
}

/* ---- strips --------------------------------------------------------------------------------------------------------- */

/* The cuts at a slit's two edges; false if one of them is the web's own edge, whose place nobody knows that well. */
static bool cuts_of(const struct placed *p, uint16_t slit, uint16_t *left, uint16_t *right)
{
    if (slit < p->first_slit_edge || slit - p->first_slit_edge + 1 >= p->n_cuts)
        return false;
    *left = (uint16_t)(slit - p->first_slit_edge);
    *right = (uint16_t)(*left + 1);
    return true;
}

static int64_t measured_nm(const struct kr_station *s, uint16_t slit)
{
    return kr_snapshot_nm(&s->in.edit, KR_BLOCK_EDIT, KR_REG_EDIT_WIDTH, slit, s->config.format);
}

/* As it was cut: a strip relaxes after slitting by what the order compensates. */
static double cut_width_um(const struct kr_station *s, uint16_t slit)
{
    return (double)measured_nm(s, slit) / 1000 * (1 + 1e-6 * s->durable.order.compensation_ppm);
}

/* What the strip says of right's edge offset less left's. */
static double told_um(const struct kr_station *s, uint16_t slit, uint16_t left, uint16_t right)
{
    const struct placed *p = &s->offsets.placed;
    return cut_width_um(s, slit) - ((double)p->centre_um[right] - p->centre_um[left]);
}

static struct kr_strips *strips_between(struct offsets *o, uint16_t left, uint16_t right)
{
    for (uint16_t i = 0; i < o->n_strips; i++)
        if (o->strips[i].left == left && o->strips[i].right == right)
            return &o->strips[i];
    o->strips[o->n_strips] = (struct kr_strips){.left = left, .right = right};
    return &o->strips[o->n_strips++];
}

static void add_strips(struct kr_station *s)
{
    struct offsets *o = &s->offsets;
    uint16_t left, right;
    for (uint16_t i = 0; i < o->placed.n_slits; i++) {
        if (measured_nm(s, i) == 0 || !cuts_of(&o->placed, i, &left, &right))
            continue;
        double told = told_um(s, i, left, right);
        struct kr_strips *strips = strips_between(o, o->placed.holder[left], o->placed.holder[right]);
        strips->n++;
        strips->sum_um += told;
        strips->squares_um2 += told * told;
    }
}

/* ---- judging ---------------------------------------------------------------------------------------------------------- */

static struct kr_result judge_strip(const struct kr_station *s, uint16_t slit)
{
    int64_t off_nm = measured_nm(s, slit) - s->durable.order.width_nm[slit];
    int64_t limit_nm = (int64_t)KR_STRIP_OFF_MAX_UM * KR_NM_PER_UM;
    if (off_nm >= -limit_nm && off_nm <= limit_nm)
        return yes;
    return (struct kr_result){KR_STRIP_WIDTH, (uint16_t)(s->offsets.placed.rail + 1), (uint16_t)(slit + 1),
                              kr_um_from_nm(measured_nm(s, slit)),
                              kr_um_from_nm(s->durable.order.width_nm[slit])};
}

static struct kr_result judge_strips(const struct kr_station *s)
{
    const struct placed *p = &s->offsets.placed;
    uint16_t given = kr_snapshot_u16(&s->in.edit, KR_BLOCK_EDIT, KR_REG_EDIT_WIDTH_COUNT, 0), left, right;
    bool any = false;
    if (!p->valid)
        return (struct kr_result){.code = KR_NOT_PLACED};
    if (given != p->n_slits)
        return (struct kr_result){.code = KR_STRIP_COUNT, .value = given, .limit = p->n_slits};
    for (uint16_t i = 0; i < p->n_slits; i++) {
        if (measured_nm(s, i) == 0)
            continue;
        struct kr_result result = judge_strip(s, i);
        if (result.code != KR_OK)
            return result;
        any = any || cuts_of(p, i, &left, &right);
    }
    return any ? yes : (struct kr_result){.code = KR_NO_STRIP};
}

/* A proposal that no edit would accept is none. */
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

static void residuals(struct kr_station *s)
{
    struct offsets *o = &s->offsets;
    uint16_t left, right;
    memset(o->residual_um, 0, sizeof o->residual_um);
    o->n_residuals = o->placed.n_slits;
    for (uint16_t i = 0; i < o->placed.n_slits; i++)
        if (measured_nm(s, i) != 0 && cuts_of(&o->placed, i, &left, &right))
            o->residual_um[i] =
                (int32_t)lround(told_um(s, i, left, right) - (o->fit.offset_um[o->placed.holder[right] - 1] -
                                                              o->fit.offset_um[o->placed.holder[left] - 1]));
}

static struct kr_result propose(struct kr_station *s, bool more)
{
    struct offsets *o = &s->offsets;
    int32_t now_um[KR_HOLDERS_MAX];
    struct kr_result result = judge_strips(s);
    if (result.code != KR_OK)
        return result;
    if (more && o->n_strips + o->placed.n_slits > KR_STRIPS_MAX)
        return (struct kr_result){.code = KR_STRIPS_FULL, .value = o->n_strips, .limit = KR_STRIPS_MAX};
    if (!more)
        forget(o);
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
        now_um[h] = s->durable.holder[o->placed.rail][h].edge_offset_um;
    add_strips(s);
    o->test_cuts++;
    o->proposed = kr_offsets_fit(o->strips, o->n_strips, now_um, &o->fit);
    result = o->proposed ? judge_fit(o->placed.rail, &o->fit) : (struct kr_result){.code = KR_NO_STRIP};
    if (result.code == KR_OK)
        residuals(s);
    else
        forget(o);
    return result;
}

static struct kr_result apply(struct kr_station *s)
{
    struct offsets *o = &s->offsets;
    struct kr_holder_data *row = s->durable.holder[o->placed.rail];
    bool cuts = false;
    if (!o->proposed)
        return (struct kr_result){.code = KR_NOTHING_PROPOSED};
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        o->before_um[h] = row[h].edge_offset_um;
        if (!o->fit.fitted[h] || row[h].edge_offset_um == o->fit.offset_um[h])
            continue;
        row[h].edge_offset_um = o->fit.offset_um[h];
        cuts = cuts || (s->plan_valid && s->plan.rail[o->placed.rail].holder[h].cut != 0);
    }
    if (cuts)
        plan_outdated(s);
    return yes;
}

/* ---- requests --------------------------------------------------------------------------------------------------------- */

struct kr_result offsets_request(struct kr_station *s, uint16_t kind)
{
    if (kind == KR_EDIT_APPLY)
        return apply(s);
    return propose(s, kind == KR_EDIT_TEST_CUT_MORE);
}

int32_t offsets_before_um(const struct kr_station *s, uint16_t rail, uint16_t h)
{
    const struct offsets *o = &s->offsets;
    bool changes = rail == o->placed.rail && o->fit.fitted[h];
    return changes ? o->before_um[h] : s->durable.holder[rail][h].edge_offset_um;
}

/* Stored or not: what was applied is over. */
void offsets_end(struct kr_station *s, uint16_t kind, bool stored)
{
    struct offsets *o = &s->offsets;
    if (kind == KR_EDIT_APPLY && !stored) {
        for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
            if (o->fit.fitted[h])
                s->durable.holder[o->placed.rail][h].edge_offset_um = o->before_um[h];
    } else if (kind == KR_EDIT_APPLY || !stored) {
        forget(o);
    }
}
