/* Tests of maintenance requests: what they change, what they refuse, and that they never move anything. */
#include <stdio.h>
#include <string.h>

#include "rig.h"
#include "suite.h"

#define SLIT_UM 200000

/* One upper rail, holders every 260 mm from 200 mm on; six slits are set up and verified. */
static void set_up(struct rig *rig)
{
    rig_defaults(rig, 1, 11, 2);
    rig_start(rig);
    rig_set_up(rig, 100, 6, SLIT_UM);
}

static bool verified(const struct rig *rig)
{
    return rig_status(rig) & KR_STATUS_VERIFIED;
}

static bool line_may_run(const struct rig *rig)
{
    return rig_line_status(rig) & KR_LINE_MAY_RUN;
}

static uint16_t idle_holder(const struct rig *rig)
{
    return rig_holder_of_cut(rig, 1, 0);
}

static void expect_result(const struct rig *rig, enum kr_code code, uint16_t item, int32_t value, int32_t limit)
{
    ck_assert_int_eq(rig_u16(rig, KR_REG_EDITED_CODE, 0, 0), code);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_EDITED_ITEM, 0, 0), item);
    ck_assert_int_eq(rig_i32(rig, KR_REG_EDITED_VALUE, 0, 0), value);
    ck_assert_int_eq(rig_i32(rig, KR_REG_EDITED_LIMIT, 0, 0), limit);
}

/* ---- what an accepted one does --------------------------------------------------------------------------------- */

START_TEST(an_edge_offset_is_set_and_shown)
{
    struct rig rig;
    set_up(&rig);
    uint16_t before = rig_u16(&rig, KR_REG_EDIT_GENERATION, 0, 0);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, (struct edit_values){1, 3, .edge_offset_um = -987}), KR_OK);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_HOLDER_OFFSET, 0, 2), -987);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDIT_GENERATION, 0, 0), before + 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_RAIL, 0, 0), 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_HOLDER, 0, 0), 3);
    rig_end(&rig);
}
END_TEST

/* ---- a great step of an edge offset has to be written twice ---------------------------------------------------- */

static const enum kr_edit_kind with_offset[] = {KR_EDIT_OFFSET, KR_EDIT_REGRIND, KR_EDIT_SWAP};

START_TEST(a_step_beyond_the_limit_is_taken_when_it_is_written_twice_and_not_before)
{
    struct rig rig;
    enum kr_edit_kind kind = with_offset[_i];
    set_up(&rig);
    int32_t was_um = rig_holder(&rig, 1, 3)->edge_offset_um;
    struct edit_values at_limit = {1, 3, .holder_size = 2, .edge_offset_um = was_um + 1000};
    struct edit_values beyond = {1, 3, .holder_size = 2, .edge_offset_um = was_um - 1};
    ck_assert_int_eq(rig_edit(&rig, kind, at_limit), KR_OK);
    ck_assert_int_eq(rig_edit(&rig, kind, beyond), KR_OFFSET_STEP);
    expect_result(&rig, KR_OFFSET_STEP, 3, was_um - 1, was_um + 1000); /* both values are named */
    ck_assert_int_eq(rig_holder(&rig, 1, 3)->edge_offset_um, was_um + 1000);
    ck_assert_int_eq(rig_edit(&rig, kind, beyond), KR_OK);
    ck_assert_int_eq(rig_holder(&rig, 1, 3)->edge_offset_um, was_um - 1);
    rig_end(&rig);
}
END_TEST

START_TEST(the_second_time_nothing_may_be_different_or_between_and_no_restart)
{
    struct rig rig;
    set_up(&rig);
    struct edit_values beyond = {1, 3, .edge_offset_um = 5000}, other = {1, 3, .edge_offset_um = 5001};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, beyond), KR_OFFSET_STEP);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, other), KR_OFFSET_STEP);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, beyond), KR_OFFSET_STEP);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_REGRIND, beyond), KR_OFFSET_STEP);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OUT, (struct edit_values){1, 4, 0, 0, 0}), KR_OK);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_REGRIND, beyond), KR_OFFSET_STEP);
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_REGRIND, beyond), KR_OFFSET_STEP);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_REGRIND, beyond), KR_OK);
    rig_end(&rig);
}
END_TEST

static const struct {
    enum kr_edit_kind kind;
    struct edit_values values;
} of_one_that_cuts[] = {
    {KR_EDIT_OFFSET, {.edge_offset_um = 700}},
    {KR_EDIT_REGRIND, {.edge_offset_um = 700}},
    {KR_EDIT_SWAP, {.edge_offset_um = 700, .holder_size = 2}},
    {KR_EDIT_SIZE, {.holder_size = 1}},
    {KR_EDIT_OUT, {0}},
    {KR_EDIT_FIXED, {0}},
    {KR_EDIT_ABSENT, {0}},
};
#define N_OF_ONE_THAT_CUTS ((int)(sizeof of_one_that_cuts / sizeof of_one_that_cuts[0]))

START_TEST(a_change_of_a_knife_that_cuts_moves_nothing_but_verified_and_line_may_run_fall)
{
    struct rig rig;
    set_up(&rig);
    struct edit_values values = of_one_that_cuts[_i].values;
    values.rail = 1;
    values.holder = rig_holder_of_cut(&rig, 1, 3);
    ck_assert(verified(&rig) && line_may_run(&rig));
    int32_t carriage_um = sim_machine_carriage_um(&rig.machine, 0);
    ck_assert_int_eq(rig_edit(&rig, of_one_that_cuts[_i].kind, values), KR_OK);
    rig_run_ms(&rig, 3000);
    ck_assert(!verified(&rig) && !line_may_run(&rig));
    ck_assert_int_eq(rig_state(&rig), KR_STATE_COMPLETE);
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), carriage_um);
    for (uint16_t w = 0; w < KR_HOLDERS_MAX / 16; w++)
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_CUTTING, 0, w), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(the_offset_of_an_idle_holder_leaves_the_order_verified)
{
    struct rig rig;
    set_up(&rig);
    uint16_t idle = idle_holder(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_REGRIND, (struct edit_values){1, idle, .edge_offset_um = 50}), KR_OK);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OUT, (struct edit_values){1, idle, 0, 0, 0}), KR_OK);
    rig_run_ms(&rig, 200);
    ck_assert(verified(&rig) && line_may_run(&rig));
    rig_end(&rig);
}
END_TEST

START_TEST(hands_that_swapped_a_holder_were_among_its_neighbours_and_a_scan_is_due)
{
    struct rig rig;
    set_up(&rig);
    uint16_t idle = idle_holder(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SWAP, (struct edit_values){1, idle, .holder_size = 1, .edge_offset_um = 5}),
                     KR_OK);
    for (uint16_t h = 1; h <= 11; h++)
        ck_assert_int_le(rig_holder(&rig, 1, h)->known, KR_REMEMBERED);
    ck_assert(rig_status(&rig) & KR_STATUS_SCAN_DUE);
    ck_assert(!verified(&rig));
    rig_end(&rig);
}
END_TEST

START_TEST(a_swap_begins_the_docking_retries_anew_and_a_regrind_does_not)
{
    struct rig rig;
    rig_defaults(&rig, 1, 5, 1);
    rig.book.holder[0][1].dock_retries = 17;
    rig_start(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_REGRIND, (struct edit_values){1, 2, .edge_offset_um = 5}), KR_OK);
    ck_assert_uint_eq(rig_holder(&rig, 1, 2)->dock_retries, 17);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SWAP, (struct edit_values){1, 2, 1, 5, 0}), KR_OK);
    ck_assert_uint_eq(rig_holder(&rig, 1, 2)->dock_retries, 0);
    rig_end(&rig);
}
END_TEST

START_TEST(an_inserted_holder_is_where_a_person_says_and_that_is_only_remembered)
{
    struct rig rig;
    rig_defaults(&rig, 1, 5, 1);
    rig.book.holder[0][2].state = KR_HOLDER_ABSENT;
    rig.sim_config.rail[0].holder[2].absent = true;
    rig_start(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_INSERT, (struct edit_values){1, 3, .position_um = 1400000}), KR_OK);
    ck_assert_int_eq(rig_holder(&rig, 1, 3)->state, KR_HOLDER_IN);
    ck_assert_int_eq(rig_holder(&rig, 1, 3)->position_um, 1400000);
    ck_assert_int_eq(rig_holder(&rig, 1, 3)->known, KR_REMEMBERED);
    rig_end(&rig);
}
END_TEST

/* ---- what is refused ------------------------------------------------------------------------------------------- */

/* Five holders of size 1 at 200, 850, 1500, 2150 and 2800 mm; the fourth is off its rail. */
static void with_one_absent(struct rig *rig)
{
    rig_defaults(rig, 1, 5, 1);
    rig->book.holder[0][3].state = KR_HOLDER_ABSENT;
    rig->sim_config.rail[0].holder[3].absent = true;
    rig_start(rig);
}

static const struct {
    enum kr_edit_kind kind;
    struct edit_values values;
    enum kr_code code;
    uint16_t item;
    int32_t value, limit;
} refused[] = {
    {0, {1, 1, 1, 0, 0}, KR_UNKNOWN_KIND, 0, 0, KR_EDIT_LAST},
    {KR_EDIT_LAST + 1, {1, 1, 1, 0, 0}, KR_UNKNOWN_KIND, 0, KR_EDIT_LAST + 1, KR_EDIT_LAST},
    {KR_EDIT_OUT, {0, 1, 1, 0, 0}, KR_UNKNOWN_RAIL, 0, 0, 1},
    {KR_EDIT_OUT, {2, 1, 1, 0, 0}, KR_UNKNOWN_RAIL, 0, 2, 1},
    {KR_EDIT_OUT, {1, 0, 1, 0, 0}, KR_UNKNOWN_HOLDER, 0, 0, 5},
    {KR_EDIT_OUT, {1, 6, 1, 0, 0}, KR_UNKNOWN_HOLDER, 0, 6, 5},
    {KR_EDIT_SIZE, {1, 2, 0, 0, 0}, KR_HOLDER_SIZE, 2, 0, 3},
    {KR_EDIT_SWAP, {1, 2, 4, 0, 0}, KR_HOLDER_SIZE, 2, 4, 3},
    {KR_EDIT_OFFSET, {1, 2, 1, 200001, 0}, KR_EDGE_OFFSET, 2, 200001, 200000},
    {KR_EDIT_REGRIND, {1, 2, 1, -200001, 0}, KR_EDGE_OFFSET, 2, -200001, -200000},
    {KR_EDIT_IN, {1, 4, 1, 0, 0}, KR_NOT_ON_RAIL, 4, 0, 0},
    {KR_EDIT_OUT, {1, 4, 1, 0, 0}, KR_NOT_ON_RAIL, 4, 0, 0},
    {KR_EDIT_FIXED, {1, 4, 1, 0, 0}, KR_NOT_ON_RAIL, 4, 0, 0},
    {KR_EDIT_INSERT, {1, 3, 1, 0, 100000}, KR_ON_RAIL_ALREADY, 3, 0, 0},
    {KR_EDIT_INSERT, {1, 4, 1, 0, -1}, KR_HOLDER_OFF_RAIL, 4, -1, 0},
    {KR_EDIT_INSERT, {1, 4, 1, 0, 3000001}, KR_HOLDER_OFF_RAIL, 4, 3000001, 3000000},
    /* a size 1 holder needs 25.4 mm less twice the deadband of 0.05 mm */
    {KR_EDIT_INSERT, {1, 4, 1, 0, 1500000 + 25299}, KR_SPACING, 4, 25299, 25300},
    {KR_EDIT_INSERT, {1, 4, 1, 0, 2800000 - 25299}, KR_SPACING, 4, 25299, 25300},
    {KR_EDIT_INSERT, {1, 4, 1, 0, 1400000}, KR_SPACING, 4, -100000, 25300},
};
#define N_REFUSED ((int)(sizeof refused / sizeof refused[0]))

START_TEST(what_cannot_be_is_refused_with_holder_value_and_limit_and_nothing_changes)
{
    struct rig rig;
    with_one_absent(&rig);
    rig_run_ms(&rig, 100);
    struct kr_holder_data before[KR_HOLDERS_MAX];
    memcpy(before, kr_station_durable(rig.station)->holder[0], sizeof before);
    (void)rig_edit(&rig, refused[_i].kind, refused[_i].values);
    expect_result(&rig, refused[_i].code, refused[_i].item, refused[_i].value, refused[_i].limit);
    ck_assert_mem_eq(before, kr_station_durable(rig.station)->holder[0], sizeof before);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDIT_GENERATION, 0, 0), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(what_just_fits_is_accepted)
{
    static const int32_t fits_um[] = {1500000 + 25300, 2800000 - 25300};
    struct rig rig;
    with_one_absent(&rig);
    rig_run_ms(&rig, 100);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_INSERT, (struct edit_values){1, 4, 1, 0, fits_um[_i]}), KR_OK);
    rig_end(&rig);
}
END_TEST

/* Three holders of size 1 stand 30 mm apart: a size 2 holder needs (25.4 + 50.8) / 2 = 38.1 mm. */
START_TEST(a_swap_to_a_larger_size_that_breaks_spacing_is_refused_with_the_reason)
{
    struct rig rig;
    rig_defaults(&rig, 1, 3, 1);
    for (uint16_t i = 0; i < 3; i++)
        rig.book.holder[0][i].position_um = rig.sim_config.rail[0].holder[i].start_um = 1000000 + 30000 * i;
    rig_start(&rig);
    (void)rig_edit(&rig, KR_EDIT_SWAP, (struct edit_values){1, 2, 2, 0, 0});
    expect_result(&rig, KR_SPACING, 2, 30000, 38000);
    (void)rig_edit(&rig, KR_EDIT_SIZE, (struct edit_values){1, 3, 2, 0, 0});
    expect_result(&rig, KR_SPACING, 3, 30000, 38000);
    ck_assert_uint_eq(rig_holder(&rig, 1, 2)->holder_size, 1);
    rig_end(&rig);
}
END_TEST

START_TEST(a_gap_that_was_too_narrow_before_may_stay_so)
{
    struct rig rig;
    rig_defaults(&rig, 1, 2, 2);
    rig.book.holder[0][1].position_um = 200000 + 40000; /* 50.8 mm are needed */
    rig_start(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SWAP, (struct edit_values){1, 1, 2, 0, 0}), KR_OK);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SWAP, (struct edit_values){1, 1, 3, 0, 0}), KR_SPACING);
    rig_end(&rig);
}
END_TEST

START_TEST(behind_a_neighbour_that_is_lost_the_next_known_one_must_leave_room_for_both)
{
    struct rig rig;
    with_one_absent(&rig);
    rig.book.holder[0][2].known = KR_UNKNOWN; /* the third; the second stands at 850 mm */
    rig_restart(&rig);
    (void)rig_edit(&rig, KR_EDIT_INSERT, (struct edit_values){1, 4, 1, 0, 850000 + 50599});
    expect_result(&rig, KR_SPACING, 4, 50599, 50600);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_INSERT, (struct edit_values){1, 4, 1, 0, 850000 + 50600}), KR_OK);
    rig_end(&rig);
}
END_TEST

START_TEST(a_changeover_under_way_is_never_altered)
{
    struct rig rig;
    set_up(&rig);
    rig_to_idle(&rig);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_until_state_within(&rig, KR_STATE_EXECUTE, 1000);
    (void)rig_edit(&rig, KR_EDIT_OFFSET, (struct edit_values){1, 3, .edge_offset_um = 1});
    expect_result(&rig, KR_NOT_IN_THIS_STATE, 0, KR_STATE_EXECUTE, 0);
    rig_end(&rig);
}
END_TEST

static bool not_docked(struct rig *rig)
{
    return rig_docked(rig, 0) == 0;
}

START_TEST(a_holder_that_the_pin_may_be_in_is_left_alone)
{
    struct rig rig;
    rig_defaults(&rig, 1, 11, 2);
    rig_start(&rig);
    int32_t widths_um[3] = {300000, 300000, 300000};
    rig_order(&rig, 5, 960000, widths_um, 3);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_to_idle(&rig);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    ck_assert(rig_run_while(&rig, not_docked, 120000));
    rig_break(&rig, 0, SIM_PIN_STUCK_IN, 0, 0);
    rig_until_state_within(&rig, KR_STATE_HELD, 60000);
    uint16_t docked = rig_docked(&rig, 0);
    ck_assert_uint_ne(docked, 0);
    (void)rig_edit(&rig, KR_EDIT_FIXED, (struct edit_values){1, docked, 0, 0, 0});
    expect_result(&rig, KR_HOLDER_DOCKED, docked, 0, 0);
    rig_end(&rig);
}
END_TEST

/* ---- the handshake --------------------------------------------------------------------------------------------- */

START_TEST(a_request_of_an_older_session_is_stale)
{
    struct rig rig;
    set_up(&rig);
    (void)rig_edit_numbered(&rig, (uint16_t)(rig.session - 1), KR_EDIT_OUT, 7000, (struct edit_values){1, 1, 0, 0, 0});
    expect_result(&rig, KR_STALE_SESSION, 0, rig.session - 1, rig.session);
    rig_end(&rig);
}
END_TEST

START_TEST(the_same_number_over_the_same_block_changes_nothing_and_over_another_is_refused)
{
    struct rig rig;
    set_up(&rig);
    struct edit_values values = {1, idle_holder(&rig), .edge_offset_um = 10};
    ck_assert_int_eq(rig_edit_numbered(&rig, rig.session, KR_EDIT_OFFSET, 8000, values), KR_OK);
    uint32_t serial = kr_station_durable(rig.station)->serial;
    ck_assert_int_eq(rig_edit_numbered(&rig, rig.session, KR_EDIT_OFFSET, 8000, values), KR_OK);
    ck_assert_uint_eq(kr_station_durable(rig.station)->serial, serial);
    values.edge_offset_um = 20;
    (void)rig_edit_numbered(&rig, rig.session, KR_EDIT_OFFSET, 8000, values);
    expect_result(&rig, KR_NUMBER_REUSED, 0, 8000, 0);
    ck_assert_int_eq(rig_holder(&rig, 1, values.holder)->edge_offset_um, 10);
    rig_end(&rig);
}
END_TEST

START_TEST(its_verdict_is_published_only_after_the_book_has_it)
{
    struct rig rig;
    set_up(&rig);
    uint16_t before = rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0);
    rig.book_cycles = 40;
    struct kr_snapshot *snapshot = &rig.in.edit;
    memset(snapshot, 0, sizeof *snapshot);
    snapshot->word[0] = rig.session;
    snapshot->word[1] = KR_EDIT_OFFSET;
    snapshot->word[2] = 9000;
    snapshot->word[3] = 1;
    snapshot->word[4] = 1;
    snapshot->present = true;
    rig_cycle(&rig);
    while (rig.book.edit.number != 9000) {
        ck_assert(rig.out.edit_busy);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDIT_BUSY, 0, 0), 1);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0), before);
        rig_cycle(&rig);
    }
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0), 9000);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_CODE, 0, 0), KR_OK);
    rig_end(&rig);
}
END_TEST

START_TEST(what_the_book_cannot_store_is_taken_back_and_said)
{
    struct rig rig;
    set_up(&rig);
    struct kr_holder_data before = *rig_holder(&rig, 1, 1);
    rig.book_failures = 1;
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SWAP, (struct edit_values){1, 1, 1, 77, 0}), KR_NOT_STORED);
    ck_assert_int_eq(rig_holder(&rig, 1, 1)->edge_offset_um, before.edge_offset_um);
    ck_assert_int_eq(rig_holder(&rig, 1, 1)->holder_size, before.holder_size);
    rig.book_broken = true;
    rig_run_ms(&rig, 500);
    rig.in.book_failed = true; /* known before the request comes: nothing of it is given to the book */
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OUT, (struct edit_values){1, 1, 0, 0, 0}), KR_NOT_STORED);
    ck_assert_int_eq(rig_holder(&rig, 1, 1)->state, KR_HOLDER_IN);
    rig_end(&rig);
}
END_TEST

/* What a commit that failed wrote may stand in the file: killed now, the gateway would find it there. */
START_TEST(while_the_withdrawal_is_not_stored_the_request_stays_busy_and_the_alarm_stands)
{
    struct rig rig;
    set_up(&rig);
    rig.book_broken = true;
    rig_edit_hand_over(&rig, KR_EDIT_OFFSET, 9000, (struct edit_values){1, 1, .edge_offset_um = 77});
    for (int i = 0; i < 500; i++) {
        rig_cycle(&rig);
        ck_assert(rig.out.edit_busy);
        ck_assert_uint_ne(rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0), 9000);
    }
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_BOOK_FAILED);
    rig.book_broken = false;
    while (rig.out.edit_busy)
        rig_cycle(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0), 9000);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_CODE, 0, 0), KR_NOT_STORED);
    ck_assert_uint_eq(rig.book.edit.number, 9000);
    ck_assert_int_eq(rig.book.edit.result.code, KR_NOT_STORED);
    ck_assert_int_ne(rig.book.holder[0][0].edge_offset_um, 77);
    rig_end(&rig);
}
END_TEST

START_TEST(an_insertion_that_is_taken_back_leaves_the_holder_off_its_rail)
{
    struct rig rig;
    with_one_absent(&rig);
    rig_run_ms(&rig, 100);
    rig.book_failures = 1;
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_INSERT, (struct edit_values){1, 4, 1, 0, 2000000}), KR_NOT_STORED);
    ck_assert_int_eq(rig_holder(&rig, 1, 4)->state, KR_HOLDER_ABSENT);
    rig_end(&rig);
}
END_TEST

START_TEST(after_a_restart_the_last_verdict_is_shown_under_its_old_session_and_the_change_is_kept)
{
    struct rig rig;
    set_up(&rig);
    snprintf(rig.in.edit_origin, sizeof rig.in.edit_origin, "192.0.2.7");
    ck_assert_int_eq(
        rig_edit_numbered(&rig, rig.session, KR_EDIT_OFFSET, 1234, (struct edit_values){1, 2, .edge_offset_um = -5}),
        KR_OK);
    ck_assert_str_eq(rig.book.edit.origin, "192.0.2.7");
    uint16_t session = rig.session;
    rig_restart(&rig);
    rig_cycle(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_SESSION, 0, 0), session);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0), 1234);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_HOLDER_OFFSET, 0, 1), -5);
    rig_end(&rig);
}
END_TEST

/* ---- what is shown while it is stored -------------------------------------------------------------------------- */

static struct shown {
    int32_t offset_um;
    uint32_t holder, state, holder_size, known, edit_generation;
} as_it_was;
static int looks; /* at a change that was being stored */

static struct shown shown_of(const struct rig *rig, uint16_t holder)
{
    uint16_t h = (uint16_t)(holder - 1);
    return (struct shown){.holder = holder,
                          .offset_um = rig_i32(rig, KR_REG_HOLDER_OFFSET, 0, h),
                          .state = rig_u16(rig, KR_REG_HOLDER_STATE, 0, h),
                          .holder_size = rig_u16(rig, KR_REG_HOLDER_SIZE, 0, h),
                          .known = rig_known(rig, 0, h),
                          .edit_generation = rig_u16(rig, KR_REG_EDIT_GENERATION, 0, 0)};
}

/* How well a place is known may fall at once, but not rise. */
static void expect_as_it_was(const struct rig *rig)
{
    struct shown now = shown_of(rig, (uint16_t)as_it_was.holder);
    ck_assert_uint_le(now.known, as_it_was.known);
    now.known = as_it_was.known;
    ck_assert_mem_eq(&now, &as_it_was, sizeof now);
}

static void look_while_it_is_stored(struct rig *rig)
{
    if (!rig->out.edit_busy)
        return;
    expect_as_it_was(rig);
    looks++;
}

static void watch(struct rig *rig, uint16_t holder)
{
    looks = 0;
    as_it_was = shown_of(rig, holder);
    rig->book_cycles = 20;
    rig->meddle = look_while_it_is_stored;
}

static void expect_change(const struct rig *rig)
{
    struct shown now = shown_of(rig, (uint16_t)as_it_was.holder);
    ck_assert_int_ge(looks, 20);
    ck_assert_uint_eq(now.edit_generation, as_it_was.edit_generation + 1);
    ck_assert(now.offset_um != as_it_was.offset_um || now.state != as_it_was.state ||
              now.holder_size != as_it_was.holder_size);
}

START_TEST(a_change_is_shown_when_it_is_stored_and_not_before)
{
    struct rig rig;
    set_up(&rig);
    struct edit_values values = of_one_that_cuts[_i].values;
    values.rail = 1;
    values.holder = rig_holder_of_cut(&rig, 1, 3);
    watch(&rig, values.holder);
    ck_assert_int_eq(rig_edit(&rig, of_one_that_cuts[_i].kind, values), KR_OK);
    expect_change(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_change_that_cannot_be_stored_was_never_shown)
{
    struct rig rig;
    set_up(&rig);
    struct edit_values values = of_one_that_cuts[_i].values;
    values.rail = 1;
    values.holder = rig_holder_of_cut(&rig, 1, 3);
    watch(&rig, values.holder);
    rig.book_failures = 1;
    ck_assert_int_eq(rig_edit(&rig, of_one_that_cuts[_i].kind, values), KR_NOT_STORED);
    ck_assert_int_ge(looks, 20);
    expect_as_it_was(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(an_inserted_holder_is_off_the_rail_until_that_is_stored)
{
    struct rig rig;
    set_up(&rig);
    uint16_t holder = rig_holder_of_cut(&rig, 1, 3);
    int32_t at_um = rig_holder(&rig, 1, holder)->position_um;
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_ABSENT, (struct edit_values){1, holder, 0, 0, 0}), KR_OK);
    watch(&rig, holder);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_INSERT, (struct edit_values){1, holder, .position_um = at_um}), KR_OK);
    expect_change(&rig);
    ck_assert_uint_eq(shown_of(&rig, holder).known, KR_REMEMBERED);
    rig_end(&rig);
}
END_TEST

START_TEST(applied_offsets_are_shown_when_they_are_stored)
{
    struct rig rig;
    set_up(&rig);
    int32_t widths_um[6] = {SLIT_UM, SLIT_UM, SLIT_UM + 90, SLIT_UM, SLIT_UM, SLIT_UM};
    uint16_t holder = rig_holder_of_cut(&rig, 1, 4);
    ck_assert_int_eq(rig_test_cut(&rig, KR_EDIT_TEST_CUT, widths_um, 6), KR_OK);
    watch(&rig, holder);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_APPLY, (struct edit_values){0}), KR_OK);
    expect_change(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(lengths_are_in_the_units_of_an_inch_station_too)
{
    struct rig rig;
    rig_defaults(&rig, 1, 3, 1);
    rig.config.format.length_unit = KR_LENGTH_INCH;
    rig_start(&rig);
    ck_assert_int_eq(rig_count(&rig, -203), -80); /* 0.008 in is written as 80 */
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, (struct edit_values){1, 1, .edge_offset_um = -203}), KR_OK);
    ck_assert_int_eq(rig_holder(&rig, 1, 1)->edge_offset_um, -203);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_HOLDER_OFFSET, 0, 0), -80);
    rig_end(&rig);
}
END_TEST

/* Its daemon keeps what was recorded; the station changes nothing by it, in whatever state it is. */
START_TEST(a_trace_may_be_asked_for_while_a_job_runs_and_changes_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    uint16_t generation = rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_TRACE, (struct edit_values){0}), KR_OK);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), generation);
    rig_reset(&rig);
    rig_stage(&rig, 2);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_TRACE, (struct edit_values){0}), KR_OK);
    rig.book_failures = 1; /* it is withdrawn, and nothing else with it */
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_TRACE, (struct edit_values){0}), KR_NOT_STORED);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("edit");
    TCase *does = suite_case(suite, "does"), *refuses = suite_case(suite, "refuses"),
          *handshake = suite_case(suite, "handshake");
    tcase_add_test(does, an_edge_offset_is_set_and_shown);
    tcase_add_loop_test(does, a_step_beyond_the_limit_is_taken_when_it_is_written_twice_and_not_before, 0, 3);
    tcase_add_test(does, the_second_time_nothing_may_be_different_or_between_and_no_restart);
    tcase_add_loop_test(does, a_change_of_a_knife_that_cuts_moves_nothing_but_verified_and_line_may_run_fall, 0,
                        N_OF_ONE_THAT_CUTS);
    tcase_add_test(does, the_offset_of_an_idle_holder_leaves_the_order_verified);
    tcase_add_test(does, hands_that_swapped_a_holder_were_among_its_neighbours_and_a_scan_is_due);
    tcase_add_test(does, a_swap_begins_the_docking_retries_anew_and_a_regrind_does_not);
    tcase_add_test(does, an_inserted_holder_is_where_a_person_says_and_that_is_only_remembered);
    tcase_add_test(does, lengths_are_in_the_units_of_an_inch_station_too);
    tcase_add_loop_test(refuses, what_cannot_be_is_refused_with_holder_value_and_limit_and_nothing_changes, 0,
                        N_REFUSED);
    tcase_add_loop_test(refuses, what_just_fits_is_accepted, 0, 2);
    tcase_add_test(refuses, a_swap_to_a_larger_size_that_breaks_spacing_is_refused_with_the_reason);
    tcase_add_test(refuses, a_gap_that_was_too_narrow_before_may_stay_so);
    tcase_add_test(refuses, behind_a_neighbour_that_is_lost_the_next_known_one_must_leave_room_for_both);
    tcase_add_test(refuses, a_changeover_under_way_is_never_altered);
    tcase_add_test(refuses, a_holder_that_the_pin_may_be_in_is_left_alone);
    tcase_add_test(handshake, a_request_of_an_older_session_is_stale);
    tcase_add_test(handshake, the_same_number_over_the_same_block_changes_nothing_and_over_another_is_refused);
    tcase_add_test(handshake, its_verdict_is_published_only_after_the_book_has_it);
    tcase_add_loop_test(handshake, a_change_is_shown_when_it_is_stored_and_not_before, 0, N_OF_ONE_THAT_CUTS);
    tcase_add_loop_test(handshake, a_change_that_cannot_be_stored_was_never_shown, 0, N_OF_ONE_THAT_CUTS);
    tcase_add_test(handshake, an_inserted_holder_is_off_the_rail_until_that_is_stored);
    tcase_add_test(handshake, applied_offsets_are_shown_when_they_are_stored);
    tcase_add_test(handshake, what_the_book_cannot_store_is_taken_back_and_said);
    tcase_add_test(handshake, while_the_withdrawal_is_not_stored_the_request_stays_busy_and_the_alarm_stands);
    tcase_add_test(handshake, an_insertion_that_is_taken_back_leaves_the_holder_off_its_rail);
    tcase_add_test(handshake, after_a_restart_the_last_verdict_is_shown_under_its_old_session_and_the_change_is_kept);
    tcase_add_test(does, a_trace_may_be_asked_for_while_a_job_runs_and_changes_nothing);
    return suite;
}
