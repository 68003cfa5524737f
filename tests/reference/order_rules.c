#include "order_rules.h"

#include <stdio.h>
#include <string.h>

__extension__ typedef __int128 wide;

/* Sums are counted in half millionths of a nanometre: a compensated width is a whole number of millionths, and a trim
 * can be half of what such widths leave. */
#define PER_NM   ((wide)2000000)
#define PER_UM   (1000 * PER_NM)
#define UNSCALED ((wide)1)

#define WEB_MOST_NM           INT64_C(100000000000) /* 100 m */
#define COMPENSATION_MOST_PPM 100000
#define ONE_COUNT_NM          2540 /* 0.0001 in, the coarser unit of the length registers */

#define FAULTS_MAX 20

struct faults {
    int n;
    struct kr_result fault[FAULTS_MAX];
};

static char reason[240];

/* ---- figures as they are shown: micrometres in 32 bits ------------------------------------------------------- */

static wide down(wide a, wide b) /* b > 0 */
{
    return a >= 0 ? a / b : -((-a + b - 1) / b);
}

static wide up(wide a, wide b)
{
    return -down(-a, b);
}

static int32_t shown(wide figure)
{
    return figure > INT32_MAX ? INT32_MAX : figure < INT32_MIN ? INT32_MIN : (int32_t)figure;
}

static void add(struct faults *f, enum kr_code code, int item, wide value, wide limit)
{
    f->fault[f->n++] =
        (struct kr_result){.code = code, .item = (uint16_t)item, .value = shown(value), .limit = shown(limit)};
}

/* Beyond its limit as shown, too: the value is rounded outwards, the limit inwards. */
static void at_least(struct faults *f, enum kr_code code, int item, wide value, wide least, wide unit)
{
    if (value < least)
        add(f, code, item, down(value, unit), up(least, unit));
}

static void at_most(struct faults *f, enum kr_code code, int item, wide value, wide most, wide unit)
{
    if (value > most)
        add(f, code, item, up(value, unit), down(most, unit));
}

/* More than 0 and at most so much; the limit that is named is always the greatest. */
static void positive(struct faults *f, enum kr_code code, int item, wide nm, wide most_nm)
{
    if (nm <= 0 || nm > most_nm)
        add(f, code, item, up(nm, 1000), down(most_nm, 1000));
}

/* ---- the rules, one by one ------------------------------------------------------------------------------------- */

static wide sum_of(const struct kr_order *o)
{
    wide sum = 0;
    for (int i = 0; i < o->n_slits && i < KR_SLITS_MAX; i++)
        sum += o->width_nm[i];
    return sum;
}

static wide web_most(const struct kr_geometry *g)
{
    return g->web_max_nm < WEB_MOST_NM ? g->web_max_nm : WEB_MOST_NM;
}

static void web_rules(const struct kr_geometry *g, const struct kr_order *o, struct faults *f)
{
    wide shift = 1000 * (wide)g->shift_max_um;
    positive(f, KR_WEB_WIDTH, 0, o->web_width_nm, web_most(g));
    at_least(f, KR_SHIFT, 0, o->shift_nm, -shift, 1000);
    at_most(f, KR_SHIFT, 0, o->shift_nm, shift, 1000);
}

/* Of several impossible widths the first is named. Of an impossible number of slits nothing more is said. */
static void width_rules(const struct kr_geometry *g, const struct kr_order *o, struct faults *f)
{
    if (o->n_slits == 0 || o->n_slits > KR_SLITS_MAX) {
        add(f, KR_SLIT_COUNT, 0, o->n_slits, KR_SLITS_MAX);
        return;
    }
    for (int i = 0, before = f->n; i < o->n_slits && f->n == before; i++)
        positive(f, KR_SLIT_WIDTH, i + 1, o->width_nm[i], web_most(g));
    if (o->sum_nm != 0 && o->sum_nm != sum_of(o))
        add(f, KR_SUM_MISMATCH, 0, down(sum_of(o), 1000), down(o->sum_nm, 1000));
}

static void figure_rules(const struct kr_geometry *g, const struct kr_order *o, struct faults *f)
{
    int32_t ppm = g->compensation_max_ppm < COMPENSATION_MOST_PPM ? g->compensation_max_ppm : COMPENSATION_MOST_PPM;
    at_least(f, KR_COMPENSATION, 0, o->compensation_ppm, -ppm, UNSCALED);
    at_most(f, KR_COMPENSATION, 0, o->compensation_ppm, ppm, UNSCALED);
    at_least(f, KR_TOLERANCE, 0, o->tolerance_um, 0, UNSCALED);
    at_most(f, KR_TOLERANCE, 0, o->tolerance_um, g->tolerance_max_um, UNSCALED);
    at_most(f, KR_ALIGNMENT, 0, o->alignment, 1, UNSCALED);
    at_most(f, KR_EDGE_FLAGS, 0, o->edge_flags, 3, UNSCALED);
}

static wide slits_of(const struct kr_order *o)
{
    return 2 * sum_of(o) * (1000000 + o->compensation_ppm);
}

static bool is_placed_by_trim(const struct kr_order *o)
{
    return o->alignment == KR_FROM_OPERATOR_EDGE && o->edge_flags == 0;
}

/* What the slits leave of the web is the trims: all of it at the one trimmed edge, the order's trim and the rest, or
 * one half at either edge. */
static void trims_of(const struct kr_order *o, wide trim[2])
{
    wide left_over = PER_NM * o->web_width_nm - slits_of(o);
    trim[0] = left_over / 2;
    if (o->edge_flags & KR_UNTRIMMED_OPERATOR)
        trim[0] = 0;
    else if (o->edge_flags & KR_UNTRIMMED_DRIVE)
        trim[0] = left_over;
    else if (is_placed_by_trim(o))
        trim[0] = PER_NM * o->trim_nm;
    trim[1] = o->edge_flags & KR_UNTRIMMED_DRIVE ? 0 : left_over - trim[0];
}

/* A trim that follows from slits which don't fit says nothing; one that the order gives can be judged all the same. */
static void trim_rules(const struct kr_geometry *g, const struct kr_order *o, bool fits, struct faults *f)
{
    wide trim[2];
    trims_of(o, trim);
    for (int edge = 0; edge < 2; edge++) {
        bool untrimmed = o->edge_flags & (edge == 0 ? KR_UNTRIMMED_OPERATOR : KR_UNTRIMMED_DRIVE);
        if (untrimmed || (!fits && !(edge == 0 && is_placed_by_trim(o))))
            continue;
        at_least(f, KR_TRIM_TOO_SMALL, edge + 1, trim[edge], PER_NM * g->trim_min_nm, PER_UM);
        at_most(f, KR_TRIM_TOO_LARGE, edge + 1, trim[edge], PER_NM * g->trim_max_nm, PER_UM);
    }
}

static void layout_rules(const struct kr_geometry *g, const struct kr_order *o, struct faults *f)
{
    wide slits = slits_of(o), web = PER_NM * o->web_width_nm, count = ONE_COUNT_NM * PER_NM;
    if (o->edge_flags == (KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE)) {
        if (slits < web - count || slits > web + count)
            add(f, KR_UNTRIMMED_SUM, 0, down(slits, PER_UM), down(web, PER_UM));
        return;
    }
    at_most(f, KR_WEB_TOO_NARROW, 0, slits, web, PER_UM);
    trim_rules(g, o, slits <= web, f);
}

/* Every rule that the order breaks. Where a figure is impossible by itself, nothing is said of what follows from it. */
static void find_faults(const struct kr_geometry *g, const struct kr_order *o, bool park, struct faults *f)
{
    f->n = 0;
    web_rules(g, o, f);
    if (park)
        return;
    width_rules(g, o, f);
    figure_rules(g, o, f);
    if (f->n == 0)
        layout_rules(g, o, f);
}

/* ---- judging an answer ----------------------------------------------------------------------------------------- */

static int text_of(const struct kr_result *r, char *text, size_t size)
{
    return snprintf(text, size, "%s, rail %u, item %u, value %d, limit %d", kr_code_info((int)r->code)->name, r->rail,
                    r->item, r->value, r->limit);
}

static bool is_same(const struct kr_result *a, const struct kr_result *b)
{
    return a->code == b->code && a->rail == b->rail && a->item == b->item && a->value == b->value &&
           a->limit == b->limit;
}

static const char *judge(const struct faults *f, const struct kr_result *r, struct order_tally *tally)
{
    for (int i = 0; i < f->n; i++) {
        if (!is_same(&f->fault[i], r))
            continue;
        tally->refused++;
        tally->single += f->n == 1;
        return NULL;
    }
    int n = snprintf(reason, sizeof reason, "the answer is ");
    n += text_of(r, reason + n, sizeof reason - (size_t)n);
    n += snprintf(reason + n, sizeof reason - (size_t)n, "; by the rules it is ");
    if (f->n == 0)
        snprintf(reason + n, sizeof reason - (size_t)n, "a good order");
    else
        text_of(&f->fault[0], reason + n, sizeof reason - (size_t)n);
    return reason;
}

/* The trims to the nearest nanometre, the web's edges to the nearest micrometre, halves up. */
static const char *judge_edges(const struct kr_geometry *g, const struct kr_order *o, const struct kr_cuts *c)
{
    wide trim[2], middle = 2000 * (wide)g->web_centre_um + 2 * o->shift_nm; /* half nanometres */
    trims_of(o, trim);
    for (int edge = 0; edge < 2; edge++) {
        bool untrimmed = o->edge_flags & (edge == 0 ? KR_UNTRIMMED_OPERATOR : KR_UNTRIMMED_DRIVE);
        wide off = PER_NM * c->trim_nm[edge] - trim[edge];
        if (untrimmed ? c->trim_nm[edge] != 0 : 2 * off > PER_NM || 2 * off < -PER_NM)
            return "a trim is not what the slits leave of the web";
    }
    if (c->web_left_um != shown(down(middle - o->web_width_nm + 1000, 2000)) ||
        c->web_right_um != shown(down(middle + o->web_width_nm + 1000, 2000)))
        return "an edge of the web is not where its width and shift put it";
    if (c->first_slit_edge != (o->edge_flags & KR_UNTRIMMED_OPERATOR ? 1 : 0))
        return "the first cut is said to be another edge of the slits";
    return NULL;
}

const char *order_rules_cuts(const struct kr_geometry *geometry, const struct kr_order *order,
                             const struct kr_result *result, const struct kr_cuts *cuts, struct order_tally *tally)
{
    struct faults f;
    find_faults(geometry, order, false, &f);
    if (f.n == 0 && result->code == KR_OK)
        return judge_edges(geometry, order, cuts);
    return judge(&f, result, tally);
}

const char *order_rules_plan(const struct kr_plan_request *request, const struct kr_result *result,
                             struct order_tally *tally)
{
    struct faults f;
    find_faults(&request->geometry, &request->order, request->park, &f);
    if (f.n == 0 && (result->code == KR_OK || result->code >= KR_SLIT_TOO_NARROW))
        return NULL;
    return judge(&f, result, tally);
}

void order_tally_print(const struct order_tally *tally)
{
    printf("%llu orders refused for their own numbers, each judged by the rules stated anew; %llu of them break "
           "one rule only\n",
           tally->refused, tally->single);
}
