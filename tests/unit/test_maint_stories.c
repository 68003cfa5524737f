/* Whole stories of maintenance in virtual time: an order runs, something breaks, and the order continues with the rest.
 * The simulated machine knows the true state. */
#include <stdlib.h>

#include "rig.h"
#include "suite.h"

#define RAILS    2
#define HOLDERS  12
#define SLITS    8
#define SLIT_UM  210000
#define MOVED_UM 500 /* further than clamping and scanning explain */

struct truth {
    int32_t holder_um[RAILS][HOLDERS];
};

static struct truth truth_of(const struct rig *rig)
{
    struct truth truth;
    for (uint16_t r = 0; r < RAILS; r++)
        for (uint16_t h = 0; h < HOLDERS; h++)
            truth.holder_um[r][h] = sim_machine_holder_um(&rig->machine, r, h);
    return truth;
}

static uint16_t moved_since(const struct rig *rig, const struct truth *before, uint16_t rail)
{
    uint16_t n = 0;
    for (uint16_t h = 0; h < HOLDERS; h++)
        if (abs(sim_machine_holder_um(&rig->machine, rail, h) - before->holder_um[rail][h]) > MOVED_UM)
            n++;
    return n;
}

static void start_line(struct rig *rig)
{
    ck_assert_uint_eq(rig_line_status(rig), KR_LINE_MAY_START | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER);
    rig->in.permissives = KR_PERMIT_GUARDS_CLOSED | KR_PERMIT_AIR | KR_PERMIT_ENABLE;
    rig_run_ms(rig, 10000);
}

static void stop_line(struct rig *rig)
{
    rig->in.permissives = 0x1F;
    rig_run_ms(rig, 1000);
}

static void expect_good_end(const struct rig *rig)
{
    ck_assert_uint_eq(rig_line_status(rig), KR_LINE_MAY_START | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER);
    ck_assert_int_le(rig_worst_edge_um(rig), rig->config.geometry.tolerance_um);
    ck_assert_ptr_null(sim_machine_collision(&rig->machine));
    ck_assert(!rig->false_measured);
}

static void set_up(struct rig *rig)
{
    rig_defaults(rig, RAILS, HOLDERS, 2);
    rig_start(rig);
    rig_set_up(rig, 4711, SLITS, SLIT_UM);
    expect_good_end(rig);
}

START_TEST(a_blade_breaks_in_mid_order_and_an_idle_neighbour_takes_its_cut)
{
    struct rig rig;
    set_up(&rig);
    start_line(&rig);
    uint16_t broken = rig_holder_of_cut(&rig, 1, 4);
    stop_line(&rig);

    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OUT, (struct edit_values){1, broken, 0, 0, 0}), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert(!(rig_status(&rig) & KR_STATUS_STAGED));
    struct truth before = truth_of(&rig);
    rig_run_ms(&rig, 5000);
    ck_assert_uint_eq(moved_since(&rig, &before, 0) + moved_since(&rig, &before, 1), 0);

    rig_set_up_again(&rig);
    expect_good_end(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_CUT_COUNT, 0, 0), SLITS + 1);
    ck_assert_uint_eq(rig_cut_of(&rig, 1, broken), 0);
    ck_assert_uint_ne(rig_holder_of_cut(&rig, 1, 4), 0);
    ck_assert_uint_eq(moved_since(&rig, &before, 1), 0); /* the lower knives stay where they are */
    /* nine cuts, twelve holders: at worst the cuts on the nearer side of an idle one are handed on */
    ck_assert_uint_le(moved_since(&rig, &before, 0), 6);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 1), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_holder_goes_to_the_grinders_and_comes_back_with_another_edge)
{
    struct rig rig;
    set_up(&rig);
    uint16_t sent = rig_holder_of_cut(&rig, 2, 2);
    int32_t old_offset_um = rig_holder(&rig, 2, sent)->edge_offset_um;
    rig_take_off(&rig, 2, sent);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_ABSENT, (struct edit_values){2, sent, 0, 0, 0}), KR_OK);

    rig_set_up_again(&rig); /* with the eleven that are left */
    expect_good_end(&rig);
    ck_assert_int_eq(rig_holder(&rig, 2, sent)->state, KR_HOLDER_ABSENT);
    ck_assert_int_eq(rig_holder(&rig, 2, sent)->known, KR_UNKNOWN);

    /* ground at the grinder's; then between its neighbours again, about where there is most room */
    ck_assert_int_eq(
        rig_edit(&rig, KR_EDIT_REGRIND, (struct edit_values){2, sent, .edge_offset_um = old_offset_um - 850}), KR_OK);
    ck_assert(rig_line_status(&rig) & KR_LINE_MAY_RUN);
    int32_t left_um = sent > 1 ? sim_machine_holder_um(&rig.machine, 1, (uint16_t)(sent - 2)) : 0;
    int32_t right_um = sim_machine_holder_um(&rig.machine, 1, sent);
    int32_t at_um = left_um + (right_um - left_um) / 2;
    rig_put_on(&rig, 2, sent, at_um);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_INSERT, (struct edit_values){2, sent, .position_um = at_um + 2000}), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), 0);

    rig_set_up_again(&rig);
    expect_good_end(&rig);
    ck_assert_int_eq(rig_holder(&rig, 2, sent)->known, KR_MEASURED);
    ck_assert_int_le(
        abs(rig_holder(&rig, 2, sent)->position_um - sim_machine_holder_um(&rig.machine, 1, (uint16_t)(sent - 1))),
        rig.claim_um);
    rig_end(&rig);
}
END_TEST

/* Whether rail 1 drags a holder where, seized, it would leave room on both sides for those that cut. */
static bool not_dragging_in_the_clear(struct rig *rig)
{
    int32_t at_um = sim_machine_carriage_um(&rig->machine, 0);
    if (rig_carriage_phase(rig, 0) != KR_CARRIAGE_DRAGGING)
        return true;
    for (uint16_t k = 0; k < rig_u16(rig, KR_REG_CUT_COUNT, 0, 0); k++)
        if (abs(rig_i32(rig, KR_REG_CUT_LINE, 0, k) - at_um) < 65000)
            return true;
    return false;
}

/* The carriage drags against it until the drive gives up: an abort, after which nobody knows where the holder is. */
START_TEST(a_holder_that_seizes_under_the_pin_is_declared_fixed_and_the_order_is_set_up_without_it)
{
    struct rig rig;
    set_up(&rig);
    int32_t widths_um[4] = {300000, 300000, 300000, 300000};
    rig_order(&rig, 4712, 1260000, widths_um, 4);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_to_idle(&rig);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    ck_assert(rig_run_while(&rig, not_dragging_in_the_clear, 120000));
    uint16_t seized = rig_docked(&rig, 0);
    rig_break(&rig, 0, SIM_HOLDER_JAMMED, (uint16_t)(seized - 1), 0);
    rig_until_state_within(&rig, KR_STATE_ABORTED, 60000);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_DRIVE_FAULT);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_FIXED, (struct edit_values){1, seized, 0, 0, 0}), KR_HOLDER_DOCKED);

    rig_command(&rig, KR_COMMAND_CLEAR, 0);
    rig_until_state_within(&rig, KR_STATE_STOPPED, 10000);
    rig_to_idle(&rig);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_RELEASE);
    rig_until_state_within(&rig, KR_STATE_COMPLETE, 10000);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_FIXED, (struct edit_values){1, seized, 0, 0, 0}), KR_OK);

    int32_t seized_um = sim_machine_holder_um(&rig.machine, 0, (uint16_t)(seized - 1));
    rig_set_up_again(&rig);
    expect_good_end(&rig);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ORDER_IN_FORCE, 0, 0), 4712);
    ck_assert_int_eq(sim_machine_holder_um(&rig.machine, 0, (uint16_t)(seized - 1)), seized_um);
    ck_assert_uint_eq(rig_cut_of(&rig, 1, seized), 0);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("maintenance stories");
    TCase *stories = suite_case(suite, "stories");
    tcase_set_timeout(stories, 120);
    tcase_add_test(stories, a_blade_breaks_in_mid_order_and_an_idle_neighbour_takes_its_cut);
    tcase_add_test(stories, a_holder_goes_to_the_grinders_and_comes_back_with_another_edge);
    tcase_add_test(stories, a_holder_that_seizes_under_the_pin_is_declared_fixed_and_the_order_is_set_up_without_it);
    return suite;
}
