/* Orders come by number: what is taken, what is refused, when it is answered, and what an answer changes. */
#include <check.h>
#include <stdlib.h>

#include "rig.h"

static uint32_t staged(const struct rig *rig)
{
    return (uint32_t)rig_i32(rig, KR_REG_ORDER_STAGED, 0, 0);
}

static uint32_t in_force(const struct rig *rig)
{
    return (uint32_t)rig_i32(rig, KR_REG_ORDER_IN_FORCE, 0, 0);
}

/* ---- the verdict ---------------------------------------------------------------------------------------------------- */

START_TEST(an_accepted_order_is_staged_and_answered_with_all_that_it_was)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 4711);
    ck_assert_int_eq(rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 9), KR_OK);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_SESSION, 0, 0), rig.session);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 9);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_KIND, 0, 0), KR_REQUEST_STAGE);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_ORDER, 0, 0), 4711);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_SLIT_COUNT, 0, 0), 3);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_SUM, 0, 0), 300 * MM);
    ck_assert_int_gt(rig_i32(&rig, KR_REG_VERDICT_TIME, 0, 0), 0);
    ck_assert_uint_eq(staged(&rig), 4711);
    ck_assert_uint_eq(in_force(&rig), 0);
    ck_assert(!rig.out.moving);
    rig_end(&rig);
}
END_TEST

START_TEST(the_verdict_appears_whole_in_one_cycle_and_not_before_it_is_stored)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.book_cycles = 40;
    rig_begin(&rig);
    rig_run_ms(&rig, 2000);
    rig_small_order(&rig, 4711);
    rig_order_set(&rig, KR_REG_REQUEST_SESSION, 0, rig.session);
    rig_order_set(&rig, KR_REG_REQUEST_KIND, 0, KR_REQUEST_STAGE);
    rig_order_set(&rig, KR_REG_REQUEST_NUMBER, 0, 9);
    rig.in.request = rig.order;
    rig.in.request.present = true;
    rig_cycle(&rig);
    int busy_cycles = 0;
    for (; rig_u16(&rig, KR_REG_REQUEST_BUSY, 0, 0); busy_cycles++) {
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 0);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_ORDER, 0, 0), 0);
        ck_assert_uint_eq(staged(&rig), 0);
        rig_cycle(&rig);
    }
    ck_assert_int_ge(busy_cycles, 40);
    ck_assert_int_le(busy_cycles, 100); /* within a second */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 9);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_ORDER, 0, 0), 4711);
    ck_assert_uint_eq(staged(&rig), 4711);
    ck_assert_uint_eq(rig.book.staged_order.order_number, 4711);
    rig_end(&rig);
}
END_TEST

START_TEST(an_order_that_the_book_cannot_store_is_refused_and_nothing_is_staged)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    rig.book_broken = true;
    rig_small_order(&rig, 2);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_BOOK_FAILED);
    ck_assert_uint_eq(staged(&rig), 1);
    rig.book_broken = false;
    rig_run_ms(&rig, 200);
    ck_assert_uint_eq(staged(&rig), 1);
    rig_stage(&rig, 3);
    ck_assert_uint_eq(staged(&rig), 3);
    rig_end(&rig);
}
END_TEST

/* ---- numbers and sessions ------------------------------------------------------------------------------------------- */

START_TEST(the_same_number_with_the_same_block_changes_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 5);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_complete(&rig);
    ck_assert_int_eq(rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 5), KR_OK);
    ck_assert_uint_eq(staged(&rig), 0);
    ck_assert_uint_eq(in_force(&rig), 1);
    rig_end(&rig);
}
END_TEST

START_TEST(the_same_number_over_a_changed_block_is_called_reused)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 5);
    rig_small_order(&rig, 2);
    ck_assert_int_eq(rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 5), KR_NUMBER_REUSED);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VALUE, 0, 0), 5);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_ORDER, 0, 0), 2);
    ck_assert_uint_eq(staged(&rig), 1);
    rig_end(&rig);
}
END_TEST

START_TEST(a_plc_that_restarts_at_number_1_is_heard)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 57);
    rig_small_order(&rig, 2);
    ck_assert_int_eq(rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 1), KR_OK);
    ck_assert_uint_eq(staged(&rig), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(number_0_is_no_request)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 0);
    rig_run_ms(&rig, 500);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 0);
    ck_assert_uint_eq(staged(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_request_of_another_session_is_stale)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    ck_assert_int_eq(rig_request_numbered(&rig, (uint16_t)(rig.session + 7), KR_REQUEST_STAGE, 5),
                     KR_STALE_SESSION);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VALUE, 0, 0), rig.session + 7);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), rig.session);
    ck_assert_uint_eq(staged(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(after_a_restart_the_verdict_stands_under_its_old_session_and_the_old_request_is_stale)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 4711);
    rig_request_numbered(&rig, rig.session, KR_REQUEST_STAGE, 9);
    uint16_t old = rig.session;
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_uint_ne(rig_u16(&rig, KR_REG_SESSION, 0, 0), old);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_SESSION, 0, 0), old);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_NUMBER, 0, 0), 9);
    ck_assert_int_eq(rig_verdict(&rig), KR_OK);
    ck_assert_uint_eq(staged(&rig), 4711);
    rig_request_numbered(&rig, old, KR_REQUEST_STAGE, 9); /* the PLC writes what it wrote before */
    ck_assert_int_eq(rig_verdict(&rig), KR_STALE_SESSION);
    ck_assert_int_eq(rig_command_numbered(&rig, old, KR_COMMAND_START, KR_JOB_CHANGEOVER, 77),
                     KR_STALE_SESSION);
    rig_stays_still_ms(&rig, 3000);
    rig_end(&rig);
}
END_TEST

START_TEST(an_unknown_kind_of_request_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    ck_assert_int_eq(rig_request(&rig, (enum kr_request_kind)(KR_REQUEST_LAST + 1)), KR_UNKNOWN_KIND);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), KR_REQUEST_LAST);
    rig_end(&rig);
}
END_TEST

/* ---- staging -------------------------------------------------------------------------------------------------------- */

START_TEST(a_new_acceptance_replaces_the_staged_order_and_says_which)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_REPLACED, 0, 0), 0);
    rig_stage(&rig, 2);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_REPLACED, 0, 0), 1);
    ck_assert_uint_eq(staged(&rig), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(a_rejected_order_leaves_the_staged_one_and_names_its_reason)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    rig_small_order(&rig, 2);
    rig_order_set(&rig, KR_REG_WIDTH_SUM, 0, 300 * MM + 1);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_SUM_MISMATCH);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VALUE, 0, 0), 300 * MM);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), 300 * MM + 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_REPLACED, 0, 0), 0);
    ck_assert_uint_eq(staged(&rig), 1);
    rig_end(&rig);
}
END_TEST

START_TEST(a_check_says_what_staging_would_and_stages_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 1);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_CHECK), KR_OK);
    ck_assert_int_gt(rig_i32(&rig, KR_REG_VERDICT_TIME, 0, 0), 0);
    ck_assert_uint_eq(staged(&rig), 0);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NO_ORDER);
    rig_end(&rig);
}
END_TEST

START_TEST(cancel_drops_the_staged_order_and_says_which)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_CANCEL), KR_NOTHING_STAGED);
    rig_stage(&rig, 1);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_CANCEL), KR_OK);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_REPLACED, 0, 0), 1);
    ck_assert_uint_eq(staged(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(order_number_0_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_small_order(&rig, 0);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_ORDER_NUMBER);
    rig_end(&rig);
}
END_TEST

START_TEST(an_order_accepted_in_mid_changeover_alters_nothing_of_it)
{
    static const int32_t other_um[] = {60 * MM, 70 * MM};
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    uint16_t generation = rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0);
    rig_order(&rig, 2, 300 * MM, other_um, 2);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), generation);
    rig_until_complete(&rig);
    ck_assert_uint_eq(in_force(&rig), 1);
    ck_assert_uint_eq(staged(&rig), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_CUT_COUNT, 0, 0), 4);
    ck_assert_int_le(rig_worst_edge_um(&rig), 203);
    rig_end(&rig);
}
END_TEST

START_TEST(a_changeover_does_not_start_while_the_verdict_is_being_stored)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_run_ms(&rig, 500);
    rig.book_cycles = -1; /* the disk does not answer */
    rig_small_order(&rig, 1);
    rig_request(&rig, KR_REQUEST_STAGE);
    ck_assert(rig.out.request_busy);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_BUSY);
    rig_end(&rig);
}
END_TEST

START_TEST(an_order_in_inches_and_low_words_first_is_understood_and_answered_so)
{
    static const int32_t widths_um[] = {88900, 114300, 101600}; /* 3.5, 4.5 and 4 in, exactly */
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.format = (struct kr_format){KR_UNIT_INCH, true};
    rig_begin(&rig);
    rig_order(&rig, 12, 355600, widths_um, 3);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_SUM, 0, 0), 120000); /* 12 in in 0.0001 in */
    ck_assert_int_eq(rig_i32(&rig, KR_REG_WORD_ORDER_PROOF, 0, 0), KR_MAP_WORD_ORDER_PROOF);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_WORD_ORDER_PROOF, 0, 0), 0x0304); /* the low word, first */
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_complete(&rig);
    ck_assert_int_le(rig_worst_edge_um(&rig), 203);
    ck_assert_int_le(abs(rig_um(&rig, KR_REG_SLIT_MEASURED, 0, 1) - 114300), 300);
    rig_end(&rig);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("station: orders");
    TCase *tc = tcase_create("orders");
    tcase_add_test(tc, an_accepted_order_is_staged_and_answered_with_all_that_it_was);
    tcase_add_test(tc, the_verdict_appears_whole_in_one_cycle_and_not_before_it_is_stored);
    tcase_add_test(tc, an_order_that_the_book_cannot_store_is_refused_and_nothing_is_staged);
    tcase_add_test(tc, the_same_number_with_the_same_block_changes_nothing);
    tcase_add_test(tc, the_same_number_over_a_changed_block_is_called_reused);
    tcase_add_test(tc, a_plc_that_restarts_at_number_1_is_heard);
    tcase_add_test(tc, number_0_is_no_request);
    tcase_add_test(tc, a_request_of_another_session_is_stale);
    tcase_add_test(tc, after_a_restart_the_verdict_stands_under_its_old_session_and_the_old_request_is_stale);
    tcase_add_test(tc, an_unknown_kind_of_request_is_refused);
    tcase_add_test(tc, a_new_acceptance_replaces_the_staged_order_and_says_which);
    tcase_add_test(tc, a_rejected_order_leaves_the_staged_one_and_names_its_reason);
    tcase_add_test(tc, a_check_says_what_staging_would_and_stages_nothing);
    tcase_add_test(tc, cancel_drops_the_staged_order_and_says_which);
    tcase_add_test(tc, order_number_0_is_refused);
    tcase_add_test(tc, an_order_accepted_in_mid_changeover_alters_nothing_of_it);
    tcase_add_test(tc, a_changeover_does_not_start_while_the_verdict_is_being_stored);
    tcase_add_test(tc, an_order_in_inches_and_low_words_first_is_understood_and_answered_so);
    suite_add_tcase(suite, tc);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
