#include "cuts.h"

#include <string.h>

#include "integers.h"

/* Everything is counted in whole numbers of one fine unit, so that a sum is exact and a cut line is rounded
 * once. A compensated width is width_nm * (1e6 + ppm) / 1e6; half a web is web_nm / 2: the unit is half a
 * millionth of a nanometre. The web's centre is left out of the sums: it is a whole number of micrometres, and
 * without it nothing comes near the limits of 64 bits. */
#define FINE_PER_NM INT64_C(2000000)
#define FINE_PER_UM (KR_NM_PER_UM * FINE_PER_NM)

/* No web is wider than 100 m, and compensation stays under 10 %. With the widest shift that fits in 32 bits of
 * micrometres, the sums below stay under 4.3e18 + 8e17; 64 bits hold 9.2e18. */
#define WEB_MOST_NM           (INT64_C(100) * 1000000000)
#define COMPENSATION_MOST_PPM 100000

/* The places of the slits, in fine units from the web's centre line with shift 0. */
struct layout {
    int64_t web_left, web_right;
    int64_t slits_left, slits_right;
};

static struct kr_result refuse(enum kr_code code, uint16_t item, int64_t value, int64_t limit)
{
    return (struct kr_result){.code = code, .item = item, .value = clamp_i32(value), .limit = clamp_i32(limit)};
}

static struct kr_result too_small(enum kr_code code, uint16_t item, int64_t value, int64_t limit, int64_t unit)
{
    return refuse(code, item, floor_div(value, unit), ceil_div(limit, unit));
}

static struct kr_result too_large(enum kr_code code, uint16_t item, int64_t value, int64_t limit, int64_t unit)
{
    return refuse(code, item, ceil_div(value, unit), floor_div(limit, unit));
}

/* A trim that is larger than every web would not fit in the fine units. */
static struct kr_result judge_nonsense_trim(const struct kr_geometry *g, const struct kr_order *o)
{
    bool counts = o->alignment == KR_FROM_OPERATOR_EDGE && o->edge_flags == 0;
    if (counts && o->trim_nm < -WEB_MOST_NM)
        return too_small(KR_TRIM_TOO_SMALL, 1, o->trim_nm, g->trim_min_nm, KR_NM_PER_UM);
    if (counts && o->trim_nm > WEB_MOST_NM)
        return too_large(KR_TRIM_TOO_LARGE, 1, o->trim_nm, g->trim_max_nm, KR_NM_PER_UM);
    return refuse(KR_OK, 0, 0, 0);
}

static struct kr_result judge_web(const struct kr_geometry *g, const struct kr_order *o)
{
    int64_t most_nm = min_i64(g->web_max_nm, WEB_MOST_NM);
    if (o->web_width_nm <= 0 || o->web_width_nm > most_nm)
        return too_large(KR_WEB_WIDTH, 0, o->web_width_nm, most_nm, KR_NM_PER_UM);
    int64_t shift_nm = (int64_t)g->shift_max_um * KR_NM_PER_UM;
    if (o->shift_nm > shift_nm)
        return too_large(KR_SHIFT, 0, o->shift_nm, shift_nm, KR_NM_PER_UM);
    if (o->shift_nm < -shift_nm)
        return too_small(KR_SHIFT, 0, o->shift_nm, -shift_nm, KR_NM_PER_UM);
    return refuse(KR_OK, 0, 0, 0);
}

static struct kr_result judge_figures(const struct kr_geometry *g, const struct kr_order *o)
{
    int32_t most_ppm = (int32_t)min_i64(g->compensation_max_ppm, COMPENSATION_MOST_PPM);
    if (o->edge_flags > (KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE))
        return refuse(KR_EDGE_FLAGS, 0, o->edge_flags, KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE);
    if (o->alignment > KR_FROM_OPERATOR_EDGE)
        return refuse(KR_ALIGNMENT, 0, o->alignment, KR_FROM_OPERATOR_EDGE);
    if (o->compensation_ppm > most_ppm)
        return refuse(KR_COMPENSATION, 0, o->compensation_ppm, most_ppm);
    if (o->compensation_ppm < -most_ppm)
        return refuse(KR_COMPENSATION, 0, o->compensation_ppm, -most_ppm);
    if (o->tolerance_um < 0)
        return refuse(KR_TOLERANCE, 0, o->tolerance_um, 0);
    if (o->tolerance_um > g->tolerance_max_um)
        return refuse(KR_TOLERANCE, 0, o->tolerance_um, g->tolerance_max_um);
    return refuse(KR_OK, 0, 0, 0);
}

static struct kr_result judge_widths(const struct kr_geometry *g, const struct kr_order *o, int64_t *sum_nm)
{
    int64_t most_nm = min_i64(g->web_max_nm, WEB_MOST_NM);
    if (o->n_slits < 1 || o->n_slits > KR_SLITS_MAX)
        return refuse(KR_SLIT_COUNT, 0, o->n_slits, KR_SLITS_MAX);
    *sum_nm = 0;
    for (uint16_t i = 0; i < o->n_slits; i++) {
        if (o->width_nm[i] <= 0 || o->width_nm[i] > most_nm)
            return too_large(KR_SLIT_WIDTH, (uint16_t)(i + 1), o->width_nm[i], most_nm, KR_NM_PER_UM);
        *sum_nm += o->width_nm[i];
    }
    if (o->sum_nm != 0 && o->sum_nm != *sum_nm)
        return refuse(KR_SUM_MISMATCH, 0, floor_div(*sum_nm, KR_NM_PER_UM), floor_div(o->sum_nm, KR_NM_PER_UM));
    return refuse(KR_OK, 0, 0, 0);
}

static int64_t compensated(int64_t width_nm, int32_t ppm)
{
    return 2 * width_nm * (1000000 + ppm);
}

static struct layout layout_of(const struct kr_order *o, int64_t slits)
{
    int64_t shift = o->shift_nm * FINE_PER_NM, web = o->web_width_nm * FINE_PER_NM;
    struct layout l = {.web_left = shift - web / 2, .web_right = shift + web / 2};
    if (o->edge_flags & KR_UNTRIMMED_OPERATOR)
        l.slits_left = l.web_left;
    else if (o->edge_flags & KR_UNTRIMMED_DRIVE)
        l.slits_left = l.web_right - slits;
    else if (o->alignment == KR_FROM_OPERATOR_EDGE)
        l.slits_left = l.web_left + o->trim_nm * FINE_PER_NM;
    else
        l.slits_left = shift - slits / 2; /* slits is even */
    l.slits_right = l.slits_left + slits;
    return l;
}

/* Returns the trim at one edge: 1 operator side, 2 drive side. */
static struct kr_result judge_trim(const struct kr_geometry *g, uint16_t edge, int64_t trim)
{
    if (trim < g->trim_min_nm * FINE_PER_NM)
        return too_small(KR_TRIM_TOO_SMALL, edge, trim, g->trim_min_nm * FINE_PER_NM, FINE_PER_UM);
    if (trim > g->trim_max_nm * FINE_PER_NM)
        return too_large(KR_TRIM_TOO_LARGE, edge, trim, g->trim_max_nm * FINE_PER_NM, FINE_PER_UM);
    return refuse(KR_OK, 0, 0, 0);
}

/* Without trims the slits fill the web. They may differ from it by one count of the coarser register unit, to which the
 * two figures were rounded. */
static struct kr_result judge_untrimmed(const struct kr_order *o, int64_t slits)
{
    int64_t web = o->web_width_nm * FINE_PER_NM, count = kr_length_unit_nm(KR_LENGTH_INCH) * FINE_PER_NM;
    if (slits - web > count || web - slits > count)
        return refuse(KR_UNTRIMMED_SUM, 0, floor_div(slits, FINE_PER_UM), floor_div(web, FINE_PER_UM));
    return refuse(KR_OK, 0, 0, 0);
}

static struct kr_result judge_layout(const struct kr_geometry *g, const struct kr_order *o, int64_t slits,
                                     const struct layout *l)
{
    int64_t web = o->web_width_nm * FINE_PER_NM;
    struct kr_result r = refuse(KR_OK, 0, 0, 0);
    if (o->edge_flags == (KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE))
        return judge_untrimmed(o, slits);
    if (slits > web)
        return too_large(KR_WEB_TOO_NARROW, 0, slits, web, FINE_PER_UM);
    if (!(o->edge_flags & KR_UNTRIMMED_OPERATOR))
        r = judge_trim(g, 1, l->slits_left - l->web_left);
    if (r.code == KR_OK && !(o->edge_flags & KR_UNTRIMMED_DRIVE))
        r = judge_trim(g, 2, l->web_right - l->slits_right);
    return r;
}

/* These refuse what judge_layout() would refuse, counted in nanometres. */
static struct kr_result refuse_far_too_wide(const struct kr_order *o, int64_t sum_nm)
{
    int64_t parts = 1000000 + o->compensation_ppm;
    int64_t whole_nm = sum_nm / 1000000 * parts, rest = sum_nm % 1000000 * parts;
    if (o->edge_flags == (KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE))
        return refuse(KR_UNTRIMMED_SUM, 0, floor_div(whole_nm + rest / 1000000, KR_NM_PER_UM),
                      floor_div(o->web_width_nm, KR_NM_PER_UM));
    return too_large(KR_WEB_TOO_NARROW, 0, whole_nm + ceil_div(rest, 1000000), o->web_width_nm, KR_NM_PER_UM);
}

static int32_t place_um(const struct kr_geometry *g, int64_t fine)
{
    return clamp_i32(g->web_centre_um + floor_div(fine + FINE_PER_UM / 2, FINE_PER_UM));
}

static void lay_cuts(const struct kr_geometry *g, const struct kr_order *o, const struct layout *l, struct kr_cuts *c)
{
    bool first = !(o->edge_flags & KR_UNTRIMMED_OPERATOR), last = !(o->edge_flags & KR_UNTRIMMED_DRIVE);
    int64_t sum_nm = 0;
    c->n_cuts = 0;
    c->first_slit_edge = first ? 0 : 1;
    for (uint16_t edge = 0; edge <= o->n_slits; edge++) {
        if ((edge > 0 || first) && (edge < o->n_slits || last)) {
            int64_t at = l->slits_left + compensated(sum_nm, o->compensation_ppm);
            c->cut_um[c->n_cuts++] = place_um(g, at);
        }
        if (edge < o->n_slits)
            sum_nm += o->width_nm[edge];
    }
}

/* An untrimmed edge on the drive side is the web's edge, even if both edges are untrimmed and the widths differ by a
 * count. */
static void lay_web(const struct kr_geometry *g, const struct kr_order *o, const struct layout *l, struct kr_cuts *c)
{
    c->web_left_um = place_um(g, l->web_left);
    c->web_right_um = place_um(g, l->web_right);
    c->trim_nm[0] = floor_div(l->slits_left - l->web_left + FINE_PER_NM / 2, FINE_PER_NM);
    c->trim_nm[1] = floor_div(l->web_right - l->slits_right + FINE_PER_NM / 2, FINE_PER_NM);
    if (o->edge_flags & KR_UNTRIMMED_OPERATOR)
        c->trim_nm[0] = 0;
    if (o->edge_flags & KR_UNTRIMMED_DRIVE)
        c->trim_nm[1] = 0;
}

struct kr_result web_edges(const struct kr_geometry *geometry, const struct kr_order *order, struct kr_cuts *cuts)
{
    struct kr_result r = judge_web(geometry, order);
    if (r.code != KR_OK)
        return r;
    int64_t shift = order->shift_nm * FINE_PER_NM, web = order->web_width_nm * FINE_PER_NM;
    memset(cuts, 0, sizeof *cuts);
    cuts->web_left_um = place_um(geometry, shift - web / 2);
    cuts->web_right_um = place_um(geometry, shift + web / 2);
    return r;
}

struct kr_result kr_cuts_make(const struct kr_geometry *geometry, const struct kr_order *order, struct kr_cuts *cuts)
{
    int64_t sum_nm = 0;
    struct kr_result r = judge_widths(geometry, order, &sum_nm);
    if (r.code == KR_OK)
        r = judge_web(geometry, order);
    if (r.code == KR_OK)
        r = judge_figures(geometry, order);
    if (r.code != KR_OK)
        return r;
    /* The sum of so many widths may exceed the range of fine units. Then any web is certainly too narrow. */
    if (sum_nm > 2 * WEB_MOST_NM)
        return refuse_far_too_wide(order, sum_nm);
    r = judge_nonsense_trim(geometry, order);
    if (r.code != KR_OK)
        return r;
    int64_t slits = compensated(sum_nm, order->compensation_ppm);
    struct layout l = layout_of(order, slits);
    r = judge_layout(geometry, order, slits, &l);
    if (r.code != KR_OK)
        return r;
    memset(cuts, 0, sizeof *cuts);
    lay_cuts(geometry, order, &l, cuts);
    lay_web(geometry, order, &l, cuts);
    return r;
}

int32_t kr_spacing_um(const struct kr_geometry *geometry, uint8_t size_a, uint8_t size_b)
{
    int64_t sum = (int64_t)geometry->size_spacing_um[size_a - 1] + geometry->size_spacing_um[size_b - 1];
    return (int32_t)floor_div(sum + 1, 2);
}
