/* Tests of orders that wait: in the queue after the staged one, and as recipes. */
#include <string.h>

#include "rig.h"
#include "suite.h"

static void begin(struct rig *rig)
{
    rig_defaults(rig, 1, 7, 1);
    rig_begin(rig);
}

static enum kr_code ask(struct rig *rig, enum kr_request_kind kind, uint32_t number, int32_t width_um, uint16_t recipe)
{
    int32_t widths_um[3] = {width_um, width_um, width_um};
    rig_order(rig, number, 3 * width_um + 60 * MM, widths_um, 3);
    rig_order_set(rig, KR_REG_RECIPE, 0, recipe);
    rig_request(rig, kind);
    return rig_verdict(rig);
}

static uint32_t reg32(const struct rig *rig, enum kr_reg reg, uint16_t index)
{
    return (uint32_t)rig_i32(rig, reg, 0, index);
}

/* Width of the staged order's first slit, by its cut lines: three slits have four, all trimmed. */
static int32_t staged_first_slit_um(const struct rig *rig)
{
    ck_assert_uint_eq(rig_u16(rig, KR_REG_STAGED_CUT_COUNT, 0, 0), 4);
    return rig_um(rig, KR_REG_STAGED_CUT_LINE, 0, 1) - rig_um(rig, KR_REG_STAGED_CUT_LINE, 0, 0);
}

static void expect(const struct rig *rig, uint32_t in_force, uint32_t staged, uint16_t n, const uint32_t queued[])
{
    ck_assert_uint_eq(reg32(rig, KR_REG_ORDER_IN_FORCE, 0), in_force);
    ck_assert_uint_eq(reg32(rig, KR_REG_ORDER_STAGED, 0), staged);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_STAGED_CUT_COUNT, 0, 0), staged != 0 ? 4 : 0);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_QUEUE_COUNT, 0, 0), n);
    for (uint16_t i = 0; i < KR_QUEUE_MAX; i++)
        ck_assert_uint_eq(reg32(rig, KR_REG_QUEUE_ORDER, i), i < n ? queued[i] : 0);
}

/* ---- the queue ------------------------------------------------------------------------------------------------- */

START_TEST(orders_queued_while_one_runs_come_into_force_one_start_after_the_other)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE, 1, 200 * MM, 0), KR_OK);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_until_state_within(&rig, KR_STATE_EXECUTE, 1000);
    for (uint32_t n = 2; n <= 4; n++)
        ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, n, (int32_t)(200 + 10 * n) * MM, 0), KR_OK);
    expect(&rig, 1, 2, 2, (uint32_t[]){3, 4});
    rig_until_state_within(&rig, KR_STATE_COMPLETE, 300000);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_ORDER, 0, 0), 1);
    for (uint32_t n = 2; n <= 4; n++) {
        rig_set_up_again(&rig);
        ck_assert_uint_eq(reg32(&rig, KR_REG_RECORD_ORDER, 0), n);
        ck_assert_int_le(rig_worst_edge_um(&rig), 203);
    }
    expect(&rig, 4, 0, 0, NULL);
    rig_end(&rig);
}
END_TEST

START_TEST(a_full_queue_takes_no_more_and_says_so)
{
    struct rig rig;
    uint32_t numbers[KR_QUEUE_MAX];
    begin(&rig);
    for (uint32_t n = 0; n <= KR_QUEUE_MAX; n++)
        ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, 10 + n, 200 * MM, 0), KR_OK);
    for (uint32_t n = 0; n < KR_QUEUE_MAX; n++)
        numbers[n] = 11 + n;
    ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, 99, 200 * MM, 0), KR_QUEUE_FULL);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_LIMIT, 0, 0), KR_QUEUE_MAX);
    expect(&rig, 0, 10, KR_QUEUE_MAX, numbers);
    rig_end(&rig);
}
END_TEST

START_TEST(a_staged_order_replaces_the_staged_one_and_leaves_the_queue)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE, 1, 200 * MM, 0), KR_OK);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, 2, 210 * MM, 0), KR_OK);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_REPLACED, 0), 0);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE, 3, 220 * MM, 0), KR_OK);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_REPLACED, 0), 1);
    expect(&rig, 0, 3, 1, (uint32_t[]){2});
    rig_end(&rig);
}
END_TEST

START_TEST(cancelled_the_next_moves_up_and_cleared_none_is_left)
{
    struct rig rig;
    begin(&rig);
    for (uint32_t n = 1; n <= 3; n++)
        ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, n, 200 * MM, 0), KR_OK);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_CANCEL, 0, 200 * MM, 0), KR_OK);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_REPLACED, 0), 1);
    expect(&rig, 0, 2, 1, (uint32_t[]){3});
    ck_assert_int_eq(ask(&rig, KR_REQUEST_CLEAR, 0, 200 * MM, 0), KR_OK);
    expect(&rig, 0, 0, 0, NULL);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_CLEAR, 0, 200 * MM, 0), KR_NOTHING_STAGED);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_CANCEL, 0, 200 * MM, 0), KR_NOTHING_STAGED);
    rig_end(&rig);
}
END_TEST

START_TEST(an_order_that_cannot_be_is_not_queued)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, 1, 20 * MM, 0), KR_SLIT_TOO_NARROW);
    expect(&rig, 0, 0, 0, NULL);
    rig_end(&rig);
}
END_TEST

START_TEST(the_queue_survives_a_restart)
{
    struct rig rig;
    begin(&rig);
    for (uint32_t n = 1; n <= 3; n++)
        ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, n, 200 * MM, 0), KR_OK);
    rig_restart(&rig);
    rig_cycle(&rig);
    expect(&rig, 0, 1, 2, (uint32_t[]){2, 3});
    rig_end(&rig);
}
END_TEST

/* Whatever is asked, a book that fails leaves everything as it was. */
START_TEST(what_the_book_cannot_store_changes_nothing_that_waits)
{
    struct rig rig;
    begin(&rig);
    for (uint32_t n = 1; n <= 3; n++)
        ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, n, 200 * MM, 0), KR_OK);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STORE_RECIPE, 0, 230 * MM, 5), KR_OK);
    struct kr_durable before = *kr_station_durable(rig.station);
    rig.book_failures = 1;
    rig.book_cycles = 5; /* so that the request is judged before the book is known to fail */
    ck_assert_int_eq(ask(&rig, (enum kr_request_kind)_i, 77, 240 * MM, 5), KR_NOT_STORED);
    const struct kr_durable *after = kr_station_durable(rig.station);
    ck_assert_uint_eq(after->staged, before.staged);
    ck_assert_uint_eq(after->n_queued, before.n_queued);
    ck_assert_mem_eq(&after->staged_order, &before.staged_order, sizeof before.staged_order);
    ck_assert_mem_eq(after->queue, before.queue, sizeof before.queue[0] * before.n_queued);
    ck_assert_mem_eq(after->recipe, before.recipe, sizeof before.recipe);
    ck_assert_int_eq(staged_first_slit_um(&rig), 200 * MM);
    rig_end(&rig);
}
END_TEST

/* ---- recipes --------------------------------------------------------------------------------------------------- */

static bool stored(const struct rig *rig, uint16_t recipe)
{
    return rig_u16(rig, KR_REG_RECIPES_STORED, 0, (uint16_t)((recipe - 1) / 16)) >> (recipe - 1) % 16 & 1;
}

START_TEST(a_recipe_is_stored_by_number_and_recalled_under_an_order_number_of_its_own)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STORE_RECIPE, 0, 210 * MM, KR_RECIPES_MAX), KR_OK);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STORE_RECIPE, 0, 220 * MM, 1), KR_OK);
    ck_assert(stored(&rig, 1) && stored(&rig, KR_RECIPES_MAX) && !stored(&rig, 2));
    expect(&rig, 0, 0, 0, NULL);
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE_RECIPE, 501, 1, KR_RECIPES_MAX),
                     KR_OK); /* the widths are the recipe's */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_VERDICT_SLIT_COUNT, 0, 0), 3);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_SUM, 0, 0), 630 * MM);
    ck_assert_uint_eq(reg32(&rig, KR_REG_VERDICT_ORDER, 0), 501);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE_RECIPE, 502, 1, 1), KR_OK);
    expect(&rig, 0, 501, 1, (uint32_t[]){502});
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_until_state_within(&rig, KR_STATE_COMPLETE, 300000);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_CUT_LINE, 0, 1) - rig_i32(&rig, KR_REG_CUT_LINE, 0, 0), 210 * MM);
    rig_end(&rig);
}
END_TEST

START_TEST(a_recipe_is_judged_before_it_is_stored_and_again_when_it_is_recalled)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STORE_RECIPE, 0, 20 * MM, 3), KR_SLIT_TOO_NARROW);
    ck_assert(!stored(&rig, 3));
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STORE_RECIPE, 0, 200 * MM, 3), KR_OK);
    for (uint16_t h = 1; h <= 4; h++)
        ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OUT, (struct edit_values){1, h, 0, 0, 0}), KR_OK);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE_RECIPE, 9, 1, 3), KR_TOO_FEW_HOLDERS);
    rig_end(&rig);
}
END_TEST

START_TEST(a_recipe_that_is_not_there_is_named)
{
    static const struct {
        enum kr_request_kind kind;
        uint16_t recipe;
        enum kr_code code;
    } cases[] = {
        {KR_REQUEST_STORE_RECIPE, 0, KR_RECIPE_NUMBER}, {KR_REQUEST_STORE_RECIPE, 65, KR_RECIPE_NUMBER},
        {KR_REQUEST_STAGE_RECIPE, 0, KR_RECIPE_NUMBER}, {KR_REQUEST_QUEUE_RECIPE, 65535, KR_RECIPE_NUMBER},
        {KR_REQUEST_DROP_RECIPE, 65, KR_RECIPE_NUMBER}, {KR_REQUEST_STAGE_RECIPE, 64, KR_RECIPE_EMPTY},
        {KR_REQUEST_QUEUE_RECIPE, 1, KR_RECIPE_EMPTY},  {KR_REQUEST_DROP_RECIPE, 7, KR_RECIPE_EMPTY},
    };
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, cases[_i].kind, 5, 200 * MM, cases[_i].recipe), cases[_i].code);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_VALUE, 0, 0), cases[_i].recipe);
    rig_end(&rig);
}
END_TEST

START_TEST(a_dropped_recipe_is_gone_and_a_recalled_order_needs_a_number)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STORE_RECIPE, 0, 200 * MM, 7), KR_OK);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE_RECIPE, 0, 200 * MM, 7), KR_ORDER_NUMBER);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_DROP_RECIPE, 0, 200 * MM, 7), KR_OK);
    ck_assert(!stored(&rig, 7));
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE_RECIPE, 1, 200 * MM, 7), KR_RECIPE_EMPTY);
    rig_end(&rig);
}
END_TEST

/* ---- what is shown while a Start is stored --------------------------------------------------------------------- */

START_TEST(the_order_in_force_is_the_one_before_until_start_is_stored)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE, 1, 200 * MM, 0), KR_OK);
    rig_set_up_again(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE, 2, 210 * MM, 0), KR_OK);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, 3, 220 * MM, 0), KR_OK);
    rig.book_cycles = 20;
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    for (int i = 0; i < 15; i++) {
        ck_assert_int_eq(rig_state(&rig), KR_STATE_STARTING);
        expect(&rig, 1, 2, 1, (uint32_t[]){3});
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_CUT_COUNT, 0, 0), 0); /* not 1's any more, not 2's yet */
        ck_assert_int_eq(staged_first_slit_um(&rig), 210 * MM);
        rig_cycle(&rig);
    }
    uint16_t generation = rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0);
    rig_until_state_within(&rig, KR_STATE_EXECUTE, 1000);
    expect(&rig, 2, 3, 0, NULL);
    ck_assert_uint_ne(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), generation);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_CUT_COUNT, 0, 0), 4);
    ck_assert_int_eq(staged_first_slit_um(&rig), 220 * MM);
    rig_end(&rig);
}
END_TEST

START_TEST(another_start_waits_until_the_first_is_stored)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_STAGE, 1, 200 * MM, 0), KR_OK);
    ck_assert_int_eq(ask(&rig, KR_REQUEST_QUEUE, 2, 210 * MM, 0), KR_OK);
    rig.book_cycles = -1;
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_command(&rig, KR_COMMAND_STOP, KR_JOB_CHANGEOVER);
    rig_until_state_within(&rig, KR_STATE_STOPPED, 5000);
    rig_to_idle(&rig);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_BUSY);
    expect(&rig, 0, 1, 1, (uint32_t[]){2});
    rig.book_cycles = 2;
    rig_run_ms(&rig, 100);
    expect(&rig, 1, 2, 0, NULL);
    rig_set_up_again(&rig);
    expect(&rig, 2, 0, 0, NULL);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("queue and recipes");
    TCase *queue = suite_case(suite, "queue"), *recipes = suite_case(suite, "recipes");
    tcase_add_test(queue, orders_queued_while_one_runs_come_into_force_one_start_after_the_other);
    tcase_add_test(queue, a_full_queue_takes_no_more_and_says_so);
    tcase_add_test(queue, a_staged_order_replaces_the_staged_one_and_leaves_the_queue);
    tcase_add_test(queue, cancelled_the_next_moves_up_and_cleared_none_is_left);
    tcase_add_test(queue, an_order_that_cannot_be_is_not_queued);
    tcase_add_test(queue, the_queue_survives_a_restart);
    tcase_add_loop_test(queue, what_the_book_cannot_store_changes_nothing_that_waits, KR_REQUEST_STAGE,
                        KR_REQUEST_LAST + 1);
    tcase_add_test(queue, the_order_in_force_is_the_one_before_until_start_is_stored);
    tcase_add_test(queue, another_start_waits_until_the_first_is_stored);
    tcase_add_test(recipes, a_recipe_is_stored_by_number_and_recalled_under_an_order_number_of_its_own);
    tcase_add_test(recipes, a_recipe_is_judged_before_it_is_stored_and_again_when_it_is_recalled);
    tcase_add_loop_test(recipes, a_recipe_that_is_not_there_is_named, 0, 8);
    tcase_add_test(recipes, a_dropped_recipe_is_gone_and_a_recalled_order_needs_a_number);
    return suite;
}
