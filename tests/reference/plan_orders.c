/* Random orders, most of them within some nanometres of a limit of a random station, or with a figure or two spoiled.
 * Each answer of kr_cuts_make() is judged by the rules stated anew (order_rules.h), the cut lines by the plans'
 * checker. Every code that an order's own numbers can earn has to come up. Arguments: cases, seed. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/plan.h"
#include "order_rules.h"
#include "plan_cases.h"
#include "plan_checker.h"

static bool one_in(uint64_t *s, int32_t n)
{
    return cases_between(s, 1, n) == 1;
}

static int64_t nm_between(uint64_t *s, int64_t low, int64_t high)
{
    return low + (int64_t)(cases_next(s) % (uint64_t)(high - low + 1));
}

/* A figure at its limit, by so little on either side of it, or nowhere near. */
static int64_t near_to(uint64_t *s, int64_t limit)
{
    static const int64_t off[] = {-2540, -1001, -1000, -999, -1, 0, 1, 999, 1000, 1001, 2540};
    static const int64_t far[] = {INT64_MIN, -100000000001, -1, 0, 1, 100000000000, 100000000001, INT64_MAX};
    if (one_in(s, 8))
        return far[cases_between(s, 0, 7)];
    return limit + off[cases_between(s, 0, 10)];
}

static int32_t near_to_32(uint64_t *s, int32_t limit)
{
    static const int32_t far[] = {INT32_MIN, -1, 0, 1, 100000, 100001, -100000, -100001, INT32_MAX};
    return one_in(s, 8) ? far[cases_between(s, 0, 8)] : limit + cases_between(s, -1, 1);
}

static void random_station(uint64_t *s, struct kr_geometry *g)
{
    memset(g, 0, sizeof *g);
    g->n_rails = 1;
    g->web_centre_um = cases_between(s, -2000000, 2000000);
    g->web_max_nm = one_in(s, 10) ? near_to(s, 100000000000) : nm_between(s, 300000000, 20000000000);
    if (g->web_max_nm <= 0 || g->web_max_nm > 200000000000)
        g->web_max_nm = 200000000000;
    g->trim_min_nm = one_in(s, 2) ? cases_between(s, 0, 20) * INT64_C(1000000) : nm_between(s, 0, 20000000);
    g->trim_max_nm = g->trim_min_nm + (one_in(s, 8) ? 0 : nm_between(s, 0, 200000000));
    g->shift_max_um = cases_between(s, 0, 50000);
    g->compensation_max_ppm = one_in(s, 10) ? cases_between(s, 99999, 200000) : cases_between(s, 0, 50000);
    g->tolerance_max_um = cases_between(s, 0, 2000);
}

/* n widths that add up to so much, none of them 0 if there is enough for all. */
static void share_out(uint64_t *s, struct kr_order *o, int64_t sum_nm)
{
    int64_t least = sum_nm / (2 * o->n_slits), spare = sum_nm - least * o->n_slits;
    for (int i = 0; i < o->n_slits; i++) {
        int64_t more = i + 1 < o->n_slits && spare > 0 ? nm_between(s, 0, 2 * spare / (o->n_slits - i)) : spare;
        more = more > spare ? spare : more;
        o->width_nm[i] = least + more;
        spare -= more;
    }
}

/* What both trims together are to be: near a limit, and with the order's own operator-side trim where that counts. */
static int64_t trims_wanted(uint64_t *s, const struct kr_geometry *g, struct kr_order *o)
{
    int64_t limit[] = {g->trim_min_nm, g->trim_max_nm, (g->trim_min_nm + g->trim_max_nm) / 2, 0};
    int64_t one = limit[cases_between(s, 0, 3)] + cases_between(s, -1, 1);
    o->trim_nm = limit[cases_between(s, 0, 3)] + cases_between(s, -1, 1);
    if (o->edge_flags == (KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE))
        return near_to(s, 0) % 10000;
    if (o->edge_flags != 0)
        return one;
    return o->alignment == KR_FROM_OPERATOR_EDGE ? o->trim_nm + one : 2 * one;
}

/* So much before compensation is so much after it, as near as whole nanometres come. */
static int64_t uncompensated(int64_t nm, int32_t ppm)
{
    int64_t parts = 1000000 + ppm;
    return nm / parts * 1000000 + nm % parts * 1000000 / parts;
}

static void random_order(uint64_t *s, const struct kr_geometry *g, struct kr_order *o)
{
    int64_t web_most = g->web_max_nm < 100000000000 ? g->web_max_nm : 100000000000;
    int32_t ppm_most = g->compensation_max_ppm < 100000 ? g->compensation_max_ppm : 100000;
    memset(o, 0, sizeof *o);
    o->n_slits = (uint16_t)(one_in(s, 4) ? cases_between(s, 1, KR_SLITS_MAX) : cases_between(s, 1, 8));
    o->edge_flags = (uint16_t)(one_in(s, 2) ? 0 : cases_between(s, 0, 3));
    o->alignment = (uint16_t)cases_between(s, 0, 1);
    o->compensation_ppm = one_in(s, 2) ? 0 : cases_between(s, -ppm_most, ppm_most);
    o->tolerance_um = cases_between(s, 0, g->tolerance_max_um);
    o->web_width_nm = nm_between(s, web_most / 2, web_most);
    o->shift_nm = 1000 * (int64_t)cases_between(s, -g->shift_max_um, g->shift_max_um) / (one_in(s, 2) ? 1 : 3);
    share_out(s, o, uncompensated(o->web_width_nm - trims_wanted(s, g, o), o->compensation_ppm));
}

/* Of the widths that are not spoiled beyond all measure. */
static int64_t sum_of(const struct kr_order *o)
{
    int64_t sum_nm = 0;
    for (int i = 0; i < o->n_slits && i < KR_SLITS_MAX; i++)
        sum_nm += o->width_nm[i] > 0 && o->width_nm[i] < INT64_C(1000000000000) ? o->width_nm[i] : 0;
    return sum_nm;
}

/* As much as widths can add up to: more by far than any web. */
static void widen_all(const struct kr_geometry *g, struct kr_order *o)
{
    for (int i = 0; i < KR_SLITS_MAX; i++)
        o->width_nm[i] = g->web_max_nm < INT64_C(100000000000) ? g->web_max_nm : INT64_C(100000000000);
}

static void spoil(uint64_t *s, const struct kr_geometry *g, struct kr_order *o)
{
    static const uint16_t count[] = {0, 1, 127, 128, 129, 65535};
    int64_t sign = one_in(s, 2) ? 1 : -1;
    int64_t *width = &o->width_nm[cases_between(s, 0, (o->n_slits > KR_SLITS_MAX ? KR_SLITS_MAX : o->n_slits) - 1)];
    switch (cases_between(s, 0, 11)) {
    case 0: o->n_slits = count[cases_between(s, 0, 5)]; break;
    case 1: *width = near_to(s, one_in(s, 2) ? 0 : g->web_max_nm); break;
    case 2: o->sum_nm = near_to(s, sum_of(o)); break;
    case 3: o->web_width_nm = near_to(s, one_in(s, 2) ? 0 : g->web_max_nm); break;
    case 4: o->shift_nm = near_to(s, sign * g->shift_max_um * 1000); break;
    case 5: o->compensation_ppm = near_to_32(s, (int32_t)sign * g->compensation_max_ppm); break;
    case 6: o->tolerance_um = near_to_32(s, one_in(s, 2) ? 0 : g->tolerance_max_um); break;
    case 7: o->alignment = (uint16_t)cases_between(s, 0, 3); break;
    case 8: o->edge_flags = (uint16_t)cases_between(s, 0, 5); break;
    case 9: o->trim_nm = near_to(s, one_in(s, 2) ? g->trim_min_nm : g->trim_max_nm); break;
    case 10: widen_all(g, o); break;
    default: o->web_width_nm = near_to(s, sum_of(o)); break;
    }
}

static const char *judge(struct kr_plan_request *q, struct order_tally *tally, unsigned long long answers[])
{
    struct kr_cuts cuts;
    struct kr_result r = kr_cuts_make(&q->geometry, &q->order, &cuts);
    answers[r.code]++;
    const char *bad = order_rules_cuts(&q->geometry, &q->order, &r, &cuts, tally);
    return bad == NULL && r.code == KR_OK ? plan_checker_cuts(q, &cuts) : bad;
}

static bool print_answers(const unsigned long long answers[])
{
    bool all = answers[KR_OK] > 0;
    for (int code = KR_SLIT_COUNT; code <= KR_UNTRIMMED_SUM; code++) {
        printf("  %8llu %s\n", answers[code], kr_code_info(code)->name);
        all = all && answers[code] > 0;
    }
    printf("%llu orders accepted, with the right cut lines%s\n", answers[KR_OK],
           all ? "" : "; an answer never came up");
    return all;
}

int main(int argc, char **argv)
{
    uint64_t cases = argc > 1 ? strtoull(argv[1], NULL, 10) : 2000;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    static struct kr_plan_request q;
    unsigned long long answers[100] = {0};
    struct order_tally tally = {0, 0};
    printf("%llu orders from seed %llu\n", (unsigned long long)cases, (unsigned long long)seed);
    for (uint64_t i = 0; i < cases; i++) {
        uint64_t state = seed + i, *s = &state;
        random_station(s, &q.geometry);
        random_order(s, &q.geometry, &q.order);
        for (int spoiled = cases_between(s, -2, 2); spoiled > 0 && q.order.n_slits > 0; spoiled--)
            spoil(s, &q.geometry, &q.order);
        const char *bad = judge(&q, &tally, answers);
        if (bad == NULL)
            continue;
        printf("seed %llu: %s\n", (unsigned long long)(seed + i), bad);
        return 1;
    }
    order_tally_print(&tally);
    return print_answers(answers) ? 0 : 1;
}
