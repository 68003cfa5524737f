/* Tests of edge offsets from test cuts: the calculation alone, and the whole story with knives whose true edges differ
 * from the book. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/offsets.h"
#include "rig.h"
#include "suite.h"

/* ---- the arithmetic -------------------------------------------------------------------------------------------- */

static struct kr_strips one(uint16_t left, uint16_t right, double um)
{
    return (struct kr_strips){left, right, 1, um, um * um};
}

static void add(struct kr_strips *strips, double um)
{
    strips->n++;
    strips->sum_um += um;
    strips->squares_um2 += um * um;
}

/* By hand: holders 2, 4, 5 with offsets 100, 200, 300 now; strips say e4 - e2 = 40 and e5 - e4 = 50. The sum stays 600:
 * e2 = (600 - 40 - 90) / 3 = 156.667. */
START_TEST(strips_fix_differences_and_the_mean_stays)
{
    int32_t now_um[KR_HOLDERS_MAX] = {0, 100, 0, 200, 300};
    struct kr_strips strips[] = {one(2, 4, 40), one(4, 5, 50)};
    struct kr_offsets fit;
    ck_assert(kr_offsets_fit(strips, 2, now_um, &fit));
    ck_assert_int_eq(fit.offset_um[1], 157);
    ck_assert_int_eq(fit.offset_um[3], 197);
    ck_assert_int_eq(fit.offset_um[4], 247);
    ck_assert(fit.fitted[1] && fit.fitted[3] && fit.fitted[4] && !fit.fitted[0] && !fit.fitted[2]);
    ck_assert_uint_eq(fit.n_strips, 2);
    ck_assert_uint_eq(fit.spare, 0);
    ck_assert(fit.sd_um == 0);
}
END_TEST

/* Three holders in a loop that doesn't close by 30: each of the three equal strips bears 10. */
START_TEST(a_loop_that_does_not_close_is_shared_out)
{
    int32_t now_um[KR_HOLDERS_MAX] = {0};
    struct kr_strips strips[] = {one(1, 2, 100), one(2, 3, 100), one(1, 3, 230)};
    struct kr_offsets fit;
    ck_assert(kr_offsets_fit(strips, 3, now_um, &fit));
    ck_assert_int_eq(fit.offset_um[1] - fit.offset_um[0], 110);
    ck_assert_int_eq(fit.offset_um[2] - fit.offset_um[1], 110);
    ck_assert_int_eq(fit.offset_um[0] + fit.offset_um[1] + fit.offset_um[2], 0);
    ck_assert_uint_eq(fit.spare, 1);
    ck_assert_double_eq_tol(fit.sd_um, sqrt(300), 1e-9);
}
END_TEST

/* Measured 10, 12 and 17: their mean is 13, their standard deviation sqrt(26 / 2). */
START_TEST(one_strip_measured_again_and_again_gives_its_mean_and_the_spread_of_measuring)
{
    int32_t now_um[KR_HOLDERS_MAX] = {1000, 1000};
    struct kr_strips strips = one(1, 2, 10);
    struct kr_offsets fit;
    add(&strips, 12);
    add(&strips, 17);
    ck_assert(kr_offsets_fit(&strips, 1, now_um, &fit));
    ck_assert_int_eq(fit.offset_um[1] - fit.offset_um[0], 13);
    ck_assert_uint_eq(fit.spare, 2);
    ck_assert_double_eq_tol(fit.sd_um, sqrt(13), 1e-9);
}
END_TEST

START_TEST(groups_that_no_strip_ties_keep_each_their_own_mean)
{
    int32_t now_um[KR_HOLDERS_MAX] = {100, 300, 0, -500, -900};
    struct kr_strips strips[] = {one(1, 2, 0), one(4, 5, 0)};
    struct kr_offsets fit;
    ck_assert(kr_offsets_fit(strips, 2, now_um, &fit));
    ck_assert_int_eq(fit.offset_um[0], 200);
    ck_assert_int_eq(fit.offset_um[1], 200);
    ck_assert_int_eq(fit.offset_um[3], -700);
    ck_assert_int_eq(fit.offset_um[4], -700);
    ck_assert(!kr_offsets_fit(strips, 0, now_um, &fit));
}
END_TEST

START_TEST(all_holders_of_a_rail_are_fitted_exactly)
{
    int32_t now_um[KR_HOLDERS_MAX], true_um[KR_HOLDERS_MAX];
    struct kr_strips strips[2 * KR_HOLDERS_MAX];
    struct kr_offsets fit;
    uint16_t n = 0;
    int64_t sum = 0;
    for (int h = 0; h < KR_HOLDERS_MAX; h++) {
        true_um[h] = (h * 7919) % 4001 - 2000;
        now_um[h] = 0;
        sum += true_um[h];
    }
    for (uint16_t h = 1; h < KR_HOLDERS_MAX; h++)
        strips[n++] = one(h, (uint16_t)(h + 1), true_um[h] - true_um[h - 1]);
    for (uint16_t h = 1; h + 2 <= KR_HOLDERS_MAX; h++)
        strips[n++] = one(h, (uint16_t)(h + 2), true_um[h + 1] - true_um[h - 1]);
    ck_assert(kr_offsets_fit(strips, n, now_um, &fit));
    for (int h = 0; h < KR_HOLDERS_MAX; h++)
        ck_assert_int_le(abs(fit.offset_um[h] - true_um[h] + (int32_t)lround((double)sum / KR_HOLDERS_MAX)), 1);
    ck_assert_double_lt(fit.sd_um, 0.01);
}
END_TEST

/* ---- the story ------------------------------------------------------------------------------------------------- */

#define HOLDERS 9

/* What the true edges differ by from what the book says: some tenths of a millimetre, no two alike. */
static int32_t error_um(uint16_t holder)
{
    return (int32_t)(holder * 173 % 500) - 250;
}

/* The error of one reading; sd about 8. */
static int32_t reading_um(int which)
{
    return (which * 7 + which / 3 * 5) % 27 - 13;
}

/* What somebody measures at a finished strip: true edges, relaxed. */
static void measure(const struct rig *rig, uint16_t rail, const int32_t book_um[], int32_t ppm, int noise,
                    int32_t width_um[])
{
    uint16_t n_cuts = rig_u16(rig, KR_REG_CUT_COUNT, 0, 0);
    int32_t edge_um[KR_CUTS_MAX];
    for (uint16_t k = 0; k < n_cuts; k++) {
        uint16_t h = rig_holder_of_cut(rig, rail, (uint16_t)(k + 1));
        edge_um[k] = sim_machine_holder_um(&rig->machine, (uint16_t)(rail - 1), (uint16_t)(h - 1)) + book_um[h - 1] +
                     error_um(h);
    }
    for (uint16_t k = 0; k + 1 < n_cuts; k++) {
        width_um[k] = (int32_t)lround((edge_um[k + 1] - edge_um[k]) / (1 + 1e-6 * ppm));
        if (noise > 0)
            width_um[k] += reading_um(noise + k);
    }
}

static void keep_offsets(const struct rig *rig, uint16_t rail, int32_t book_um[])
{
    for (uint16_t h = 0; h < HOLDERS; h++)
        book_um[h] = rig->book.holder[rail - 1][h].edge_offset_um;
}

static void order(struct rig *rig, uint32_t number, uint16_t n, int32_t width_um, int32_t ppm)
{
    int32_t widths_um[KR_SLITS_MAX];
    for (uint16_t i = 0; i < n; i++)
        widths_um[i] = width_um;
    rig_order(rig, number, n * width_um + 100 * MM, widths_um, n);
    rig_order_set(rig, KR_REG_COMPENSATION, 0, ppm);
    ck_assert_uint_eq(rig_request(rig, KR_REQUEST_STAGE), KR_OK);
    rig_set_up_again(rig);
}

/* One rail; book_um: its offsets, as the book has them at first. */
static void begin(struct rig *rig, int32_t book_um[HOLDERS])
{
    rig_defaults(rig, 1, HOLDERS, 1);
    rig_start(rig);
    keep_offsets(rig, 1, book_um);
}

/* After an order of six slits of 200 mm, whose strips are measured. */
static void begin_with_six_strips(struct rig *rig, int32_t book_um[HOLDERS], int32_t width_um[])
{
    begin(rig, book_um);
    order(rig, 1, 6, 200 * MM, 0);
    measure(rig, 1, book_um, 0, 0, width_um);
}

static enum kr_code apply(struct rig *rig)
{
    return rig_edit(rig, KR_EDIT_APPLY, (struct edit_values){0, 0, 0, 0, 0});
}

static int32_t worst_slit_um(const struct rig *rig, uint16_t rail, const int32_t book_um[], int32_t ppm,
                             int32_t ordered_um)
{
    int32_t width_um[KR_SLITS_MAX], worst_um = 0;
    measure(rig, rail, book_um, ppm, 0, width_um);
    for (uint16_t k = 0; k + 1 < rig_u16(rig, KR_REG_CUT_COUNT, 0, 0); k++)
        if (abs(width_um[k] - ordered_um) > worst_um)
            worst_um = abs(width_um[k] - ordered_um);
    return worst_um;
}

/* Shear: the lower rail makes the slits. Razor: the only one does. */
START_TEST(a_test_cut_mends_what_the_book_has_wrong)
{
    static const struct {
        uint16_t rails;
        int32_t ppm;
    } cases[] = {{1, 0}, {2, 0}, {1, 4000}, {2, -2500}};
    struct rig rig;
    uint16_t rails = cases[_i].rails;
    int32_t ppm = cases[_i].ppm, book_um[HOLDERS], width_um[KR_SLITS_MAX];
    rig_defaults(&rig, rails, HOLDERS, 1);
    rig_start(&rig);
    keep_offsets(&rig, rails, book_um);
    order(&rig, 1, 6, 200 * MM, ppm);
    ck_assert_int_gt(worst_slit_um(&rig, rails, book_um, ppm, 200 * MM), 170);
    measure(&rig, rails, book_um, ppm, 0, width_um);

    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_OK);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PROPOSAL_RAIL, 0, 0), rails);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PROPOSAL_SPARE, 0, 0), 0);
    for (uint16_t k = 0; k < 6; k++)
        ck_assert_int_le(abs(rig_i32(&rig, KR_REG_RESIDUAL, 0, k)), 1);
    ck_assert(rig_status(&rig) & KR_STATUS_VERIFIED); /* a proposal changes nothing */
    for (uint16_t h = 1; h <= HOLDERS; h++)
        ck_assert_int_eq(rig_holder(&rig, rails, h)->edge_offset_um, book_um[h - 1]);

    ck_assert_int_eq(apply(&rig), KR_OK);
    ck_assert(!(rig_status(&rig) & KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PROPOSAL_RAIL, 0, 0), 0);
    rig_set_up_again(&rig);
    ck_assert_int_le(worst_slit_um(&rig, rails, book_um, ppm, 200 * MM), 130); /* deadband and scanning, twice */
    rig_end(&rig);
}
END_TEST

/* Two orders with different neighbours tie the holders in loops; readings scatter. */
START_TEST(several_test_cuts_are_reconciled_and_tell_how_well_they_were_measured)
{
    struct rig rig;
    int32_t book_um[HOLDERS], width_um[KR_SLITS_MAX];
    rig_defaults(&rig, 1, HOLDERS, 1);
    rig.config.corrections_max = 3;
    rig_start(&rig);
    keep_offsets(&rig, 1, book_um);
    order(&rig, 1, 6, 200 * MM, 0);
    for (int roll = 0; roll < 6; roll++) {
        measure(&rig, 1, book_um, 0, 1 + 10 * roll, width_um);
        ck_assert_int_eq(rig_test_cut(&rig, roll ? KR_EDIT_TEST_CUT_MORE : KR_EDIT_TEST_CUT, width_um, 6), KR_OK);
    }
    order(&rig, 2, 3, 400 * MM, 0); /* proposals are for the knives, whatever they cut */
    for (int roll = 0; roll < 4; roll++) {
        measure(&rig, 1, book_um, 0, 3 + 10 * roll, width_um);
        ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT_MORE, width_um, 3), KR_OK);
    }
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PROPOSAL_TEST_CUTS, 0, 0), 10);
    ck_assert_uint_ge(rig_u16(&rig, KR_REG_PROPOSAL_SPARE, 0, 0), 48 - (HOLDERS - 1));
    ck_assert_int_ge(rig_i32(&rig, KR_REG_PROPOSAL_SD, 0, 0), 4);
    ck_assert_int_le(rig_i32(&rig, KR_REG_PROPOSAL_SD, 0, 0), 25); /* readings, and scanning */
    ck_assert_int_eq(apply(&rig), KR_OK);
    order(&rig, 3, 6, 200 * MM, 0);
    ck_assert_int_le(worst_slit_um(&rig, 1, book_um, 0, 200 * MM), 130);
    rig_end(&rig);
}
END_TEST

START_TEST(a_strip_that_was_not_measured_leaves_a_gap_and_no_harm)
{
    struct rig rig;
    int32_t book_um[HOLDERS], width_um[KR_SLITS_MAX];
    begin_with_six_strips(&rig, book_um, width_um);
    width_um[2] = 0;
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_OK);
    /* three knives left of the gap, four right of it: each group keeps its mean */
    int64_t before_um = 0, after_um = 0;
    for (uint16_t cut = 1; cut <= 3; cut++) {
        uint16_t h = rig_holder_of_cut(&rig, 1, cut);
        before_um += book_um[h - 1];
        after_um += rig_i32(&rig, KR_REG_PROPOSED_OFFSET, 0, (uint16_t)(h - 1));
        ck_assert(rig_u16(&rig, KR_REG_PROPOSED, 0, 0) & 1u << (h - 1));
    }
    ck_assert_int_le(labs(before_um - after_um), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(what_a_test_cut_cannot_tell_is_refused_with_its_reason)
{
    struct rig rig;
    int32_t book_um[HOLDERS], width_um[KR_SLITS_MAX] = {0};
    begin(&rig, book_um);
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_NOT_PLACED);
    ck_assert_int_eq(apply(&rig), KR_NOTHING_PROPOSED);
    order(&rig, 1, 6, 200 * MM, 0);
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_NO_STRIP);
    measure(&rig, 1, book_um, 0, 0, width_um);
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 5), KR_STRIP_COUNT);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_LIMIT, 0, 0), 6);
    width_um[3] += 5 * MM + 500;
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_STRIP_WIDTH);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_ITEM, 0, 0), 4);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_VALUE, 0, 0), width_um[3]);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_LIMIT, 0, 0), 200 * MM);
    width_um[3] -= 5 * MM + 500;
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_OK);

    /* another knife than the one that cut the strips */
    uint16_t h = rig_holder_of_cut(&rig, 1, 2);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_REGRIND, (struct edit_values){1, h, 0, 0, 0}), KR_OK);
    ck_assert_int_eq(apply(&rig), KR_NOTHING_PROPOSED);
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_NOT_PLACED);
    rig_end(&rig);
}
END_TEST

START_TEST(proposed_offsets_that_step_far_are_applied_when_that_is_asked_for_twice)
{
    struct rig rig;
    int32_t book_um[HOLDERS], width_um[KR_SLITS_MAX];
    begin_with_six_strips(&rig, book_um, width_um);
    width_um[0] += 4500;
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_OK);
    ck_assert_int_eq(apply(&rig), KR_OFFSET_STEP);
    uint16_t h = rig_u16(&rig, KR_REG_EDITED_ITEM, 0, 0);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_VALUE, 0, 0),
                     rig_i32(&rig, KR_REG_PROPOSED_OFFSET, 0, (uint16_t)(h - 1)));
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_LIMIT, 0, 0), book_um[h - 1]);
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_OK); /* another proposal */
    ck_assert_int_eq(apply(&rig), KR_OFFSET_STEP);
    ck_assert_int_eq(rig_holder(&rig, 1, h)->edge_offset_um, book_um[h - 1]);
    ck_assert_int_eq(apply(&rig), KR_OK);
    ck_assert_int_ne(rig_holder(&rig, 1, h)->edge_offset_um, book_um[h - 1]);
    rig_end(&rig);
}
END_TEST

/* With both edges untrimmed a web of three slits has two knives and one strip between them. */
START_TEST(the_web_s_own_edges_are_not_measured_by)
{
    struct rig rig;
    int32_t widths_um[3] = {200 * MM, 300 * MM, 200 * MM};
    rig_defaults(&rig, 1, 5, 1);
    rig_start(&rig);
    rig_order(&rig, 1, 700 * MM, widths_um, 3);
    rig_order_set(&rig, KR_REG_EDGE_FLAGS, 0, KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_set_up_again(&rig);
    widths_um[0] += 900; /* the web wandered */
    widths_um[1] += 150;
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, widths_um, 3), KR_OK);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RESIDUAL, 0, 0), 0);
    uint16_t left = rig_holder_of_cut(&rig, 1, 1), right = rig_holder_of_cut(&rig, 1, 2);
    int32_t wider_um = rig_i32(&rig, KR_REG_PROPOSED_OFFSET, 0, (uint16_t)(right - 1)) -
                       rig_i32(&rig, KR_REG_PROPOSED_OFFSET, 0, (uint16_t)(left - 1)) -
                       rig_holder(&rig, 1, right)->edge_offset_um + rig_holder(&rig, 1, left)->edge_offset_um;
    ck_assert_int_le(abs(wider_um - 150), 110); /* deadbands */
    rig_end(&rig);
}
END_TEST

START_TEST(what_the_book_cannot_store_is_not_applied)
{
    struct rig rig;
    int32_t book_um[HOLDERS], width_um[KR_SLITS_MAX];
    begin_with_six_strips(&rig, book_um, width_um);
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, width_um, 6), KR_OK);
    rig.book_failures = 1;
    rig.book_cycles = 5;
    ck_assert_int_eq(apply(&rig), KR_NOT_STORED);
    for (uint16_t h = 1; h <= HOLDERS; h++)
        ck_assert_int_eq(rig_holder(&rig, 1, h)->edge_offset_um, book_um[h - 1]);
    rig_run_ms(&rig, 1000);
    ck_assert_int_eq(apply(&rig), KR_OK); /* it is proposed still */
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("offsets");
    TCase *arithmetic = suite_case(suite, "arithmetic"), *story = suite_case(suite, "story");
    tcase_add_test(arithmetic, strips_fix_differences_and_the_mean_stays);
    tcase_add_test(arithmetic, a_loop_that_does_not_close_is_shared_out);
    tcase_add_test(arithmetic, one_strip_measured_again_and_again_gives_its_mean_and_the_spread_of_measuring);
    tcase_add_test(arithmetic, groups_that_no_strip_ties_keep_each_their_own_mean);
    tcase_add_test(arithmetic, all_holders_of_a_rail_are_fitted_exactly);
    tcase_add_loop_test(story, a_test_cut_mends_what_the_book_has_wrong, 0, 4);
    tcase_add_test(story, several_test_cuts_are_reconciled_and_tell_how_well_they_were_measured);
    tcase_add_test(story, a_strip_that_was_not_measured_leaves_a_gap_and_no_harm);
    tcase_add_test(story, what_a_test_cut_cannot_tell_is_refused_with_its_reason);
    tcase_add_test(story, proposed_offsets_that_step_far_are_applied_when_that_is_asked_for_twice);
    tcase_add_test(story, the_web_s_own_edges_are_not_measured_by);
    tcase_add_test(story, what_the_book_cannot_store_is_not_applied);
    return suite;
}
