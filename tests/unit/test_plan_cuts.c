/* Tests of the cut lines for given widths, in cases that were calculated by hand. 1 in = 25.4 mm exactly (international
 * inch, 1959). */
#include <string.h>

#include "kniferail/plan.h"
#include "suite.h"

#define MM       INT64_C(1000000)  /* nm */
#define INCH     INT64_C(25400000) /* nm */
#define COUNT_IN INT64_C(2540)     /* nm: 0.0001 in */

static struct kr_geometry station(void)
{
    struct kr_geometry g = {
        .n_rails = 1,
        .n_sizes = 3,
        .size_spacing_um = {25400, 50800, 76200}, /* 1, 2, 3 in: common practice, no published source */
        .web_centre_um = 1000000,
        .web_max_nm = 2000 * MM,
        .trim_min_nm = 5 * MM,
        .trim_max_nm = 400 * MM,
        .shift_max_um = 20000,
        .compensation_max_ppm = 20000,
        .tolerance_max_um = 1000,
    };
    return g;
}

static struct kr_order order_of(int64_t web_nm, int n, int64_t width_nm)
{
    struct kr_order o = {.n_slits = (uint16_t)n, .web_width_nm = web_nm};
    for (int i = 0; i < n; i++)
        o.width_nm[i] = width_nm;
    return o;
}

static struct kr_cuts accepted(const struct kr_geometry *g, const struct kr_order *o)
{
    struct kr_cuts c;
    struct kr_result r = kr_cuts_make(g, o, &c);
    char text[120];
    kr_result_text(&r, KR_LENGTH_MM, text, sizeof text);
    ck_assert_msg(r.code == KR_OK, "%s", text);
    return c;
}

static void expect_cuts(const struct kr_cuts *c, int n, const int32_t um[])
{
    ck_assert_int_eq(c->n_cuts, n);
    for (int i = 0; i < n; i++)
        ck_assert_int_eq(c->cut_um[i], um[i]);
}

static void expect_refusal(const struct kr_geometry *g, const struct kr_order *o, enum kr_code code, int item,
                           int32_t value, int32_t limit)
{
    struct kr_cuts c, untouched;
    memset(&c, 0x5a, sizeof c);
    untouched = c;
    struct kr_result r = kr_cuts_make(g, o, &c);
    ck_assert_int_eq(r.code, code);
    ck_assert_int_eq(r.item, item);
    ck_assert_int_eq(r.value, value);
    ck_assert_int_eq(r.limit, limit);
    ck_assert_mem_eq(&c, &untouched, sizeof c);
}

START_TEST(slits_lie_centred_on_the_web)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(1000 * MM, 3, 300 * MM);
    struct kr_cuts c = accepted(&g, &o);
    expect_cuts(&c, 4, (int32_t[]){550000, 850000, 1150000, 1450000});
    ck_assert_int_eq(c.web_left_um, 500000);
    ck_assert_int_eq(c.web_right_um, 1500000);
    ck_assert_int_eq(c.trim_nm[0], 50 * MM);
    ck_assert_int_eq(c.trim_nm[1], 50 * MM);
    ck_assert_int_eq(c.first_slit_edge, 0);
}
END_TEST

START_TEST(an_operator_side_trim_places_the_slits)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(1000 * MM, 3, 300 * MM);
    o.alignment = KR_FROM_OPERATOR_EDGE;
    o.trim_nm = 20 * MM;
    struct kr_cuts c = accepted(&g, &o);
    expect_cuts(&c, 4, (int32_t[]){520000, 820000, 1120000, 1420000});
    ck_assert_int_eq(c.trim_nm[0], 20 * MM);
    ck_assert_int_eq(c.trim_nm[1], 80 * MM);
}
END_TEST

START_TEST(a_shift_moves_the_web_and_every_cut_alike)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(1000 * MM, 3, 300 * MM);
    o.shift_nm = -7 * MM - 500; /* half a micrometre: rounded up, as every half is */
    struct kr_cuts c = accepted(&g, &o);
    expect_cuts(&c, 4, (int32_t[]){543000, 843000, 1143000, 1443000});
    ck_assert_int_eq(c.web_left_um, 493000);
    ck_assert_int_eq(c.trim_nm[0], 50 * MM);
}
END_TEST

START_TEST(compensation_widens_every_slit_and_narrows_the_trims)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(1000 * MM, 3, 300 * MM);
    o.compensation_ppm = 1000; /* 300.3 mm each, 900.9 mm together */
    struct kr_cuts c = accepted(&g, &o);
    expect_cuts(&c, 4, (int32_t[]){549550, 849850, 1150150, 1450450});
    ck_assert_int_eq(c.trim_nm[0], 49550000);
    o.compensation_ppm = -333; /* 299.9001 mm each, 899.7003 mm: from -449.85015, -149.95005 mm on */
    c = accepted(&g, &o);
    expect_cuts(&c, 4, (int32_t[]){550150, 850050, 1149950, 1449850});
}
END_TEST

START_TEST(halves_are_rounded_up_on_both_sides_of_the_datum)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(200 * MM, 1, 100001000); /* +-50.0005 mm */
    g.web_centre_um = 0;
    struct kr_cuts c = accepted(&g, &o);
    expect_cuts(&c, 2, (int32_t[]){-50000, 50001});
}
END_TEST

START_TEST(inch_fractions_are_exact)
{
    struct kr_geometry g = station();
    /* five slits of 3 5/8 in = 92.075 mm on a 20 in web (508 mm, from 746 mm), 1 in operator-side trim */
    struct kr_order o = order_of(20 * INCH, 5, 29 * INCH / 8);
    o.alignment = KR_FROM_OPERATOR_EDGE;
    o.trim_nm = INCH;
    struct kr_cuts c = accepted(&g, &o);
    expect_cuts(&c, 6, (int32_t[]){771400, 863475, 955550, 1047625, 1139700, 1231775});
    ck_assert_int_eq(c.trim_nm[1], 7 * INCH / 8);
}
END_TEST

START_TEST(sixty_four_sixtyfourths_are_an_inch_and_no_error_adds_up)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(3 * INCH, 64, INCH / 64); /* 0.396875 mm */
    o.alignment = KR_FROM_OPERATOR_EDGE;
    o.trim_nm = INCH;
    struct kr_cuts c = accepted(&g, &o);
    int32_t first = c.cut_um[0];
    ck_assert_int_eq(first, 1000000 - 38100 + 25400);
    ck_assert_int_eq(c.cut_um[1] - first, 397);  /* 396.875 */
    ck_assert_int_eq(c.cut_um[4] - first, 1588); /* 1587.5: a half, up */
    ck_assert_int_eq(c.cut_um[32] - first, 12700);
    ck_assert_int_eq(c.cut_um[64] - first, 25400);
}
END_TEST

START_TEST(ten_thousandths_of_an_inch_are_exact)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(40 * INCH, 3, 123457 * COUNT_IN); /* 12.3457 in = 313.58078 mm */
    struct kr_cuts c = accepted(&g, &o);
    /* from the centre: 1.5 and 0.5 widths: 470.37117 and 156.79039 mm */
    expect_cuts(&c, 4, (int32_t[]){529629, 843210, 1156790, 1470371});
}
END_TEST

START_TEST(an_untrimmed_edge_has_no_cut_and_fixes_the_slits_to_it)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(1000 * MM, 3, 300 * MM);
    o.edge_flags = KR_UNTRIMMED_OPERATOR;
    struct kr_cuts c = accepted(&g, &o);
    expect_cuts(&c, 3, (int32_t[]){800000, 1100000, 1400000});
    ck_assert_int_eq(c.first_slit_edge, 1);
    ck_assert_int_eq(c.trim_nm[0], 0);
    ck_assert_int_eq(c.trim_nm[1], 100 * MM);
    o.edge_flags = KR_UNTRIMMED_DRIVE;
    c = accepted(&g, &o);
    expect_cuts(&c, 3, (int32_t[]){600000, 900000, 1200000});
    ck_assert_int_eq(c.first_slit_edge, 0);
    ck_assert_int_eq(c.trim_nm[0], 100 * MM);
    ck_assert_int_eq(c.trim_nm[1], 0);
}
END_TEST

START_TEST(without_any_trim_the_slits_take_the_whole_web_within_one_count)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(900 * MM, 3, 300 * MM);
    o.edge_flags = KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE;
    struct kr_cuts c = accepted(&g, &o);
    expect_cuts(&c, 2, (int32_t[]){850000, 1150000});
    o.width_nm[1] += COUNT_IN;
    accepted(&g, &o);
    o.width_nm[1] += 1;
    expect_refusal(&g, &o, KR_UNTRIMMED_SUM, 0, 900002, 900000);
    o.width_nm[1] -= 2 * COUNT_IN + 1;
    accepted(&g, &o);
    o.width_nm[1] -= 1;
    expect_refusal(&g, &o, KR_UNTRIMMED_SUM, 0, 899997, 900000);
    o = order_of(900 * MM, 1, 900 * MM);
    o.edge_flags = KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE;
    c = accepted(&g, &o);
    ck_assert_int_eq(c.n_cuts, 0);
}
END_TEST

START_TEST(trims_are_judged_to_the_nanometre)
{
    struct kr_geometry g = station();
    struct kr_order o = order_of(910 * MM, 3, 300 * MM); /* 5 mm each: the least */
    accepted(&g, &o);
    o.web_width_nm -= 1;
    expect_refusal(&g, &o, KR_TRIM_TOO_SMALL, 1, 4999, 5000);
    o.alignment = KR_FROM_OPERATOR_EDGE;
    o.trim_nm = 5 * MM;
    expect_refusal(&g, &o, KR_TRIM_TOO_SMALL, 2, 4999, 5000);
    o = order_of(1700 * MM, 3, 300 * MM);
    accepted(&g, &o);
    o.web_width_nm += 2;
    expect_refusal(&g, &o, KR_TRIM_TOO_LARGE, 1, 400001, 400000);
}
END_TEST

START_TEST(nonsense_is_refused_with_item_value_and_limit)
{
    struct kr_geometry g = station();
    struct kr_order good = order_of(1000 * MM, 3, 300 * MM), o = good;
    o.n_slits = 0;
    expect_refusal(&g, &o, KR_SLIT_COUNT, 0, 0, KR_SLITS_MAX);
    o.n_slits = KR_SLITS_MAX + 1;
    expect_refusal(&g, &o, KR_SLIT_COUNT, 0, KR_SLITS_MAX + 1, KR_SLITS_MAX);
    o = good;
    o.width_nm[1] = 0;
    expect_refusal(&g, &o, KR_SLIT_WIDTH, 2, 0, 2000000);
    o.width_nm[1] = INT64_MAX;
    expect_refusal(&g, &o, KR_SLIT_WIDTH, 2, INT32_MAX, 2000000);
    o = good;
    o.sum_nm = 900 * MM + 1000;
    expect_refusal(&g, &o, KR_SUM_MISMATCH, 0, 900000, 900001);
    o.sum_nm = 900 * MM;
    accepted(&g, &o);
    o = good;
    o.web_width_nm = 0;
    expect_refusal(&g, &o, KR_WEB_WIDTH, 0, 0, 2000000);
    o.web_width_nm = 2000 * MM + 1;
    expect_refusal(&g, &o, KR_WEB_WIDTH, 0, 2000001, 2000000);
    o.web_width_nm = 899 * MM;
    expect_refusal(&g, &o, KR_WEB_TOO_NARROW, 0, 900000, 899000);
    o = good;
    o.alignment = 2;
    expect_refusal(&g, &o, KR_ALIGNMENT, 0, 2, 1);
    o = good;
    o.edge_flags = 4;
    expect_refusal(&g, &o, KR_EDGE_FLAGS, 0, 4, 3);
    o = good;
    o.compensation_ppm = -20001;
    expect_refusal(&g, &o, KR_COMPENSATION, 0, -20001, -20000);
    o = good;
    o.shift_nm = 20 * MM + 1;
    expect_refusal(&g, &o, KR_SHIFT, 0, 20001, 20000);
    o.shift_nm = INT64_MIN;
    expect_refusal(&g, &o, KR_SHIFT, 0, INT32_MIN, -20000);
    o = good;
    o.tolerance_um = 1001;
    expect_refusal(&g, &o, KR_TOLERANCE, 0, 1001, 1000);
    o = good;
    o.alignment = KR_FROM_OPERATOR_EDGE;
    o.trim_nm = INT64_MAX;
    expect_refusal(&g, &o, KR_TRIM_TOO_LARGE, 1, INT32_MAX, 400000);
    o.alignment = KR_CENTRED; /* there the trim doesn't count */
    accepted(&g, &o);
}
END_TEST

START_TEST(spacing_is_the_mean_of_two_sizes_with_a_half_rounded_up)
{
    struct kr_geometry g = station();
    ck_assert_int_eq(kr_spacing_um(&g, 1, 1), 25400);
    ck_assert_int_eq(kr_spacing_um(&g, 1, 2), 38100);
    ck_assert_int_eq(kr_spacing_um(&g, 3, 1), 50800);
    g.size_spacing_um[0] = 25401;
    ck_assert_int_eq(kr_spacing_um(&g, 1, 2), 38101);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("cut lines");
    TCase *tc = suite_case(suite, "by hand");
    tcase_add_test(tc, slits_lie_centred_on_the_web);
    tcase_add_test(tc, an_operator_side_trim_places_the_slits);
    tcase_add_test(tc, a_shift_moves_the_web_and_every_cut_alike);
    tcase_add_test(tc, compensation_widens_every_slit_and_narrows_the_trims);
    tcase_add_test(tc, halves_are_rounded_up_on_both_sides_of_the_datum);
    tcase_add_test(tc, inch_fractions_are_exact);
    tcase_add_test(tc, sixty_four_sixtyfourths_are_an_inch_and_no_error_adds_up);
    tcase_add_test(tc, ten_thousandths_of_an_inch_are_exact);
    tcase_add_test(tc, an_untrimmed_edge_has_no_cut_and_fixes_the_slits_to_it);
    tcase_add_test(tc, without_any_trim_the_slits_take_the_whole_web_within_one_count);
    tcase_add_test(tc, trims_are_judged_to_the_nanometre);
    tcase_add_test(tc, nonsense_is_refused_with_item_value_and_limit);
    tcase_add_test(tc, spacing_is_the_mean_of_two_sizes_with_a_half_rounded_up);
    return suite;
}
