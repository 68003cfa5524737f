/* Tests of knives in the ledger: the effect of maintenance requests on them, in the station and in a real book. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ledger_rig.h"
#include "suite.h"

#define OFFSET_UM 300

static struct ledger_rig ledger; /* large */
static struct rig rig;

/* One rail of seven, four of which cut; their edges are proven. */
static void set_up(void)
{
    rig_defaults(&rig, 1, 7, 1);
    ledger_rig_begin(&ledger, &rig);
    rig_start(&rig);
    rig_set_up(&rig, 1, 3, 200 * MM);
}

static void end(void)
{
    rig_end(&rig);
    ledger_rig_end(&ledger);
}

static enum kr_code enter(const char *name, uint32_t metres)
{
    return rig_knife(&rig, KR_EDIT_ENTER,
                     (struct knife_values){.name = name,
                                           .kind_name = "upper 130",
                                           .diameter_um = 130000,
                                           .thickness_um = 5000,
                                           .edge_offset_um = OFFSET_UM,
                                           .metres = metres,
                                           .given = KR_KNIFE_GIVEN_OFFSET | KR_KNIFE_GIVEN_METRES});
}

static enum kr_code mount(uint16_t holder, const char *name)
{
    return rig_knife(&rig, KR_EDIT_MOUNT, (struct knife_values){.rail = 1, .holder = holder, .name = name});
}

static enum kr_code dismount(uint16_t holder, enum kr_knife_place to)
{
    return rig_knife(&rig, KR_EDIT_DISMOUNT, (struct knife_values){.rail = 1, .holder = holder, .to = (uint16_t)to});
}

static uint32_t knife_of(uint16_t holder)
{
    return (uint32_t)rig_i32(&rig, KR_REG_HOLDER_KNIFE, 0, (uint16_t)(holder - 1));
}

static uint32_t metres_of(uint16_t holder)
{
    return (uint32_t)rig_i32(&rig, KR_REG_HOLDER_METRES, 0, (uint16_t)(holder - 1));
}

static void line_cuts(uint32_t metres)
{
    rig.in.permissives = KR_PERMIT_GUARDS_CLOSED | KR_PERMIT_AIR | KR_PERMIT_ENABLE;
    rig_run_ms(&rig, 100);
    for (uint32_t m = 0; m < metres; m++) {
        rig.in.line_metres++;
        rig_run_ms(&rig, 20);
    }
    rig.in.permissives = 0x1F;
    rig_run_ms(&rig, 100);
}

/* ---- what becomes of a knife ----------------------------------------------------------------------------------- */

START_TEST(a_half_worn_knife_is_entered_and_mounted_with_its_metres_and_its_edge_is_unproven)
{
    set_up();
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 2);
    ck_assert_int_eq(enter("K-17", 2500), KR_OK);
    ck_assert_int_eq(mount(cuts, "K-17"), KR_OK);
    ck_assert_uint_ne(knife_of(cuts), 0);
    ck_assert_uint_eq(metres_of(cuts), 2500);
    ck_assert_int_eq(rig_holder(&rig, 1, cuts)->edge_offset_um, OFFSET_UM);
    ck_assert_int_eq(rig_holder(&rig, 1, cuts)->edge, KR_EDGE_UNPROVEN);
    ck_assert(!(rig_status(&rig) & KR_STATUS_VERIFIED));
    ck_assert_int_eq(rig_state(&rig), KR_STATE_COMPLETE);
    ledger_expect(&ledger, "SELECT place, rail, holder, edge_um FROM knife WHERE name = 'K-17'", "1|1|%u|%d", cuts,
                  OFFSET_UM);
    end();
}
END_TEST

START_TEST(metres_go_with_the_knife_from_holder_to_shelf_to_another_holder)
{
    set_up();
    uint16_t first = rig_holder_of_cut(&rig, 1, 1), second = rig_holder_of_cut(&rig, 1, 2);
    ck_assert_int_eq(enter("K-1", 40), KR_OK);
    ck_assert_int_eq(mount(first, "K-1"), KR_OK);
    rig_confirm_edges(&rig);
    rig_set_up(&rig, 2, 3, 200 * MM);
    line_cuts(120);
    ck_assert_int_eq(dismount(first, KR_KNIFE_SHELF), KR_OK);
    ck_assert_uint_eq(metres_of(first), 0);
    ck_assert_int_eq(rig_holder(&rig, 1, first)->state, KR_HOLDER_OUT);
    ledger_expect(&ledger, "SELECT place, rail, holder, metres FROM knife", "2|0|0|160");
    ck_assert_int_eq(mount(second, "K-1"), KR_OK);
    ck_assert_uint_eq(metres_of(second), 160);
    ck_assert_int_eq(rig_holder(&rig, 1, second)->state, KR_HOLDER_IN);
    /* the knife without a name that was there has its metres in the ledger */
    ledger_expect(&ledger, "SELECT left_metres, metres FROM knife_event ORDER BY id DESC LIMIT 1", "120|160");
    end();
}
END_TEST

START_TEST(metres_that_are_given_at_the_mount_count_instead_of_the_ledger_s)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 40), KR_OK);
    struct knife_values values = {.rail = 1, .holder = 3, .name = "K-1", .metres = 77, .given = KR_KNIFE_GIVEN_METRES};
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_MOUNT, values), KR_OK);
    ck_assert_uint_eq(metres_of(3), 77);
    end();
}
END_TEST

START_TEST(a_grind_keeps_the_metres_of_the_life_before_and_the_diameters_before_and_after)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 8500), KR_OK);
    ck_assert_int_eq(mount(3, "K-1"), KR_OK);
    struct knife_values ground = {
        .rail = 1, .holder = 3, .edge_offset_um = 250, .diameter_um = 129400, .given = KR_KNIFE_GIVEN_OFFSET};
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_REGROUND, ground), KR_OK);
    ck_assert_uint_eq(metres_of(3), 0);
    ck_assert_int_eq(rig_holder(&rig, 1, 3)->edge_offset_um, 250);
    ledger_expect(&ledger,
                  "SELECT metres, diameter_before_um, diameter_um, thickness_before_um, thickness_um FROM "
                  "knife_event ORDER BY id DESC LIMIT 1",
                  "8500|130000|129400|5000|5000");
    ledger_expect(&ledger, "SELECT diameter_um, earlier_metres, grinds, place FROM knife", "129400|8500|1|1");
    end();
}
END_TEST

START_TEST(a_knife_that_comes_back_ground_has_no_edge_position_until_one_is_entered)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 900), KR_OK);
    struct knife_values named = {.name = "K-1", .to = KR_KNIFE_GRINDER, .diameter_um = 129000};
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_DISMOUNT, named), KR_OK);
    ledger_expect(&ledger, "SELECT place, metres FROM knife", "3|900");
    ck_assert_int_eq(mount(3, "K-1"), KR_KNIFE_ELSEWHERE);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_VALUE, 0, 0), KR_KNIFE_GRINDER);
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_REGROUND, named), KR_OK);
    ledger_expect(&ledger, "SELECT place, metres, earlier_metres, edge_um IS NULL FROM knife", "2|0|900|1");
    ck_assert_int_eq(mount(3, "K-1"), KR_KNIFE_EDGE);
    struct knife_values given = {
        .rail = 1, .holder = 3, .name = "K-1", .edge_offset_um = 260, .given = KR_KNIFE_GIVEN_OFFSET};
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_MOUNT, given), KR_OK);
    ck_assert_int_eq(rig_holder(&rig, 1, 3)->edge_offset_um, 260);
    end();
}
END_TEST

START_TEST(a_broken_knife_tells_its_cause_its_fragments_and_the_metres_at_which_verified_fell)
{
    set_up();
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 2);
    ck_assert_int_eq(enter("K-1", 0), KR_OK);
    ck_assert_int_eq(mount(cuts, "K-1"), KR_OK);
    rig_confirm_edges(&rig);
    rig_set_up(&rig, 2, 3, 200 * MM);
    line_cuts(130);
    uint32_t fell_at = rig.in.line_metres;
    rig.in.crash = 1;
    rig.in.crash_cut = 2;
    rig_run_ms(&rig, 100);
    rig.in.line_metres += 40; /* the web that is pulled out */
    rig.in.crash = 0;
    rig_run_ms(&rig, 3000);
    struct knife_values broken = {
        .rail = 1, .holder = cuts, .cause = KR_CAUSE_CRASH, .fragments = KR_FRAGMENTS_MISSING};
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_BROKEN, broken), KR_OK);
    ck_assert_uint_eq(knife_of(cuts), 0);
    ck_assert_int_eq(rig_holder(&rig, 1, cuts)->state, KR_HOLDER_OUT);
    ledger_expect(&ledger,
                  "SELECT place, metres, cause, fragments, fell_metres FROM knife_event ORDER BY id DESC LIMIT 1",
                  "4|130|1|2|%u", fell_at);
    ck_assert_int_eq(mount(3, "K-1"), KR_KNIFE_ELSEWHERE);
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_SCRAP, (struct knife_values){.name = "K-1"}), KR_OK);
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_SCRAP, (struct knife_values){.name = "K-1"}), KR_KNIFE_ELSEWHERE);
    end();
}
END_TEST

/* A knife of the ledger on the holder that makes cut 2, VERIFIED, with proven edges and 130 m cut; its holder. */
static uint16_t cutting_knife(void)
{
    set_up();
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 2);
    ck_assert_int_eq(enter("K-1", 0), KR_OK);
    ck_assert_int_eq(mount(cuts, "K-1"), KR_OK);
    rig_confirm_edges(&rig);
    rig_set_up(&rig, 2, 3, 200 * MM);
    line_cuts(130);
    return cuts;
}

static void expect_broken_at(uint16_t holder, uint32_t fell_metres)
{
    struct knife_values broken = {.rail = 1, .holder = holder, .cause = KR_CAUSE_CRACK};
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_BROKEN, broken), KR_OK);
    ledger_expect(&ledger, "SELECT kind, fell_metres FROM knife_event ORDER BY id DESC LIMIT 1", "%d|%u",
                  KR_EDIT_BROKEN, fell_metres);
}

START_TEST(where_verified_fell_is_known_after_a_restart)
{
    uint16_t cuts = cutting_knife();
    uint32_t fell_at = rig.in.line_metres;
    rig.in.crash = 1;
    rig_run_ms(&rig, 100);
    rig.in.line_metres += 40; /* the web that is pulled out */
    rig.in.crash = 0;
    rig_run_ms(&rig, 100);
    ledger_rig_restart(&ledger);
    rig_to_idle(&rig);
    expect_broken_at(cuts, fell_at);
    end();
}
END_TEST

START_TEST(of_a_gateway_that_ended_while_verified_stood_it_is_where_the_plc_first_writes_to_the_next_one)
{
    uint16_t cuts = cutting_knife();
    ck_assert(rig_status(&rig) & KR_STATUS_VERIFIED);
    uint32_t line_metres = rig.in.line_metres + 25; /* cut while no gateway ran */
    rig.in.line_metres = 0;                         /* the new gateway's registers, before the PLC writes */
    rig.heart_stopped = true;
    ledger_rig_restart(&ledger);
    rig_run_ms(&rig, 500);
    rig.in.line_metres = line_metres;
    rig.in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED; /* hands are there: VERIFIED does not come back */
    rig.heart_stopped = false;
    rig.in.controlled = true;
    rig.in.control_generation++;
    rig_run_ms(&rig, 2000);
    ck_assert(!(rig_status(&rig) & KR_STATUS_VERIFIED));
    rig.in.line_metres += 300; /* what is wound by hand */
    rig_run_ms(&rig, 2000);
    rig.in.permissives |= KR_PERMIT_GUARDS_CLOSED;
    rig_to_idle(&rig);
    expect_broken_at(cuts, line_metres);
    end();
}
END_TEST

START_TEST(of_a_knife_that_is_found_broken_while_verified_stands_it_is_where_it_is_entered)
{
    uint16_t cuts = cutting_knife();
    ck_assert(rig_status(&rig) & KR_STATUS_VERIFIED);
    expect_broken_at(cuts, rig.in.line_metres);
    ck_assert(!(rig_status(&rig) & KR_STATUS_VERIFIED));
    end();
}
END_TEST

START_TEST(a_swap_of_equal_size_and_offset_and_a_regrind_leave_their_metres_in_the_ledger)
{
    set_up();
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 2);
    line_cuts(110);
    const struct kr_holder_data *is = rig_holder(&rig, 1, cuts);
    struct edit_values same = {1, cuts, .holder_size = is->holder_size, .edge_offset_um = is->edge_offset_um};
    ck_assert_int_eq(rig_edit(&rig, _i ? KR_EDIT_SWAP : KR_EDIT_REGRIND, same), KR_OK);
    ck_assert_uint_eq(metres_of(cuts), 0);
    ledger_expect(&ledger, "SELECT count(*), metres, knife IS NULL, holder, kind FROM knife_event", "1|110|1|%u|%d",
                  cuts, _i ? KR_EDIT_SWAP : KR_EDIT_REGRIND);
    end();
}
END_TEST

START_TEST(a_swap_brings_the_knife_that_was_on_the_holder_to_the_shelf)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 70), KR_OK);
    ck_assert_int_eq(mount(3, "K-1"), KR_OK);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SWAP, (struct edit_values){1, 3, 1, OFFSET_UM, 0}), KR_OK);
    ck_assert_uint_eq(knife_of(3), 0);
    ledger_expect(&ledger, "SELECT place, metres, rail FROM knife", "2|70|0");
    end();
}
END_TEST

/* ---- what is refused ------------------------------------------------------------------------------------------- */

static const struct {
    enum kr_edit_kind kind;
    struct knife_values values;
    enum kr_code code;
} refused[] = {
    {KR_EDIT_MOUNT, {1, 3, .name = "K-9"}, KR_KNIFE_UNKNOWN},
    {KR_EDIT_MOUNT, {1, 3, .name = ""}, KR_KNIFE_NAME},
    {KR_EDIT_MOUNT, {1, 3, .name = " K-1"}, KR_KNIFE_NAME},
    {KR_EDIT_MOUNT, {1, 3, .name = "K\t1"}, KR_KNIFE_NAME},
    {KR_EDIT_MOUNT, {1, 4, .name = "K-2"}, KR_KNIFE_THERE},
    {KR_EDIT_MOUNT, {1, 3, .name = "K-1"}, KR_KNIFE_ELSEWHERE},
    {KR_EDIT_MOUNT, {1, 8, .name = "K-2"}, KR_UNKNOWN_HOLDER},
    {KR_EDIT_MOUNT, {0, 3, .name = "K-2"}, KR_UNKNOWN_RAIL},
    {KR_EDIT_MOUNT, {1, 3, .name = "K-2", .given = 4}, KR_KNIFE_FIGURE},
    {KR_EDIT_MOUNT, {1, 3, .name = "K-2", .given = 1, .edge_offset_um = 200001}, KR_EDGE_OFFSET},
    {KR_EDIT_ENTER, {.name = "K-2", .kind_name = "upper 130"}, KR_KNIFE_KNOWN},
    {KR_EDIT_ENTER, {.name = "K-3", .kind_name = ""}, KR_KNIFE_NAME},
    {KR_EDIT_ENTER, {.name = "K-3", .kind_name = "x", .diameter_um = -1}, KR_KNIFE_FIGURE},
    {KR_EDIT_ENTER, {.name = "K-3", .kind_name = "x", .thickness_um = 2000001}, KR_KNIFE_FIGURE},
    {KR_EDIT_ENTER, {.name = "K-3", .kind_name = "x", .given = 1, .edge_offset_um = -200001}, KR_KNIFE_FIGURE},
    {KR_EDIT_DISMOUNT, {1, 3, .to = KR_KNIFE_SHELF}, KR_NO_KNIFE},
    {KR_EDIT_DISMOUNT, {1, 4, .to = KR_KNIFE_HOLDER}, KR_KNIFE_FIGURE},
    {KR_EDIT_DISMOUNT, {1, 4, .to = KR_KNIFE_BROKEN}, KR_KNIFE_FIGURE},
    {KR_EDIT_DISMOUNT, {.name = "K-1", .to = KR_KNIFE_SHELF}, KR_KNIFE_ELSEWHERE},
    {KR_EDIT_REGROUND, {1, 4, .given = 0}, KR_KNIFE_EDGE},
    {KR_EDIT_REGROUND, {1, 3, .given = 1}, KR_NO_KNIFE},
    {KR_EDIT_BROKEN, {1, 4, .cause = 6}, KR_KNIFE_FIGURE},
    {KR_EDIT_BROKEN, {1, 4, .fragments = 3}, KR_KNIFE_FIGURE},
    {KR_EDIT_SCRAP, {.name = "K-9"}, KR_KNIFE_UNKNOWN},
};
#define N_REFUSED ((int)(sizeof refused / sizeof refused[0]))

START_TEST(what_cannot_be_is_refused_and_changes_nothing)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 0), KR_OK);
    ck_assert_int_eq(enter("K-2", 0), KR_OK);
    ck_assert_int_eq(mount(4, "K-1"), KR_OK);
    for (int i = 0; i < N_REFUSED; i++) {
        struct kr_holder_data before[KR_HOLDERS_MAX];
        memcpy(before, rig.book.holder[0], sizeof before);
        int64_t events = ledger_number(&ledger, "SELECT count(*) FROM knife_event");
        ck_assert_msg(rig_knife(&rig, refused[i].kind, refused[i].values) == refused[i].code, "case %d: %d, not %d", i,
                      rig_u16(&rig, KR_REG_EDITED_CODE, 0, 0), refused[i].code);
        ck_assert_int_eq(memcmp(before, rig.book.holder[0], sizeof before), 0);
        ck_assert_int_eq(ledger_number(&ledger, "SELECT count(*) FROM knife_event"), events);
    }
    end();
}
END_TEST

START_TEST(an_offset_far_from_the_holder_s_has_to_be_written_twice_also_by_a_mount)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 0), KR_OK);
    struct knife_values far = {
        .rail = 1, .holder = 3, .name = "K-1", .edge_offset_um = 9000, .given = KR_KNIFE_GIVEN_OFFSET};
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_MOUNT, far), KR_OFFSET_STEP);
    ck_assert_uint_eq(knife_of(3), 0);
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_MOUNT, far), KR_OK);
    end();
}
END_TEST

START_TEST(while_a_job_moves_holders_no_knife_is_mounted)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 0), KR_OK);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    ck_assert_int_eq(mount(3, "K-1"), KR_NOT_IN_THIS_STATE);
    end();
}
END_TEST

/* ---- what the book does ---------------------------------------------------------------------------------------- */

START_TEST(a_request_that_the_book_cannot_store_changes_neither_holder_nor_ledger)
{
    set_up();
    uint16_t cuts = rig_holder_of_cut(&rig, 1, 2);
    ck_assert_int_eq(enter("K-1", 55), KR_OK);
    int64_t events = ledger_number(&ledger, "SELECT count(*) FROM knife_event");
    struct kr_holder_data before = *rig_holder(&rig, 1, cuts);
    rig.book_failures = 1;
    ck_assert_int_eq(mount(cuts, "K-1"), KR_NOT_STORED);
    rig_run_ms(&rig, 500);
    const struct kr_holder_data *is = rig_holder(&rig, 1, cuts);
    ck_assert_uint_eq(is->knife, 0);
    ck_assert_uint_eq(is->metres, before.metres);
    ck_assert_int_eq(is->edge_offset_um, before.edge_offset_um);
    ck_assert_int_eq(ledger_number(&ledger, "SELECT count(*) FROM knife_event"), events);
    ledger_expect(&ledger, "SELECT place, rail FROM knife", "2|0");
    ck_assert_int_eq(mount(cuts, "K-1"), KR_OK);
    ck_assert_int_eq(ledger_number(&ledger, "SELECT count(*) FROM knife_event"), events + 1);
    end();
}
END_TEST

START_TEST(until_it_is_stored_the_holder_is_shown_as_it_was)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 55), KR_OK);
    ck_assert_int_eq(mount(3, "K-1"), KR_OK);
    rig.book_cycles = -1;
    rig_edit_hand_over(&rig, KR_EDIT_SWAP, ++rig.edit_number, (struct edit_values){1, 3, 1, OFFSET_UM, 0});
    rig_run_ms(&rig, 200);
    ck_assert_uint_ne(knife_of(3), 0);
    ck_assert_uint_eq(metres_of(3), 55);
    rig.book_cycles = 0;
    rig_run_ms(&rig, 200);
    ck_assert_uint_eq(knife_of(3), 0);
    end();
}
END_TEST

START_TEST(a_ledger_that_cannot_be_read_refuses_and_stops_nothing)
{
    set_up();
    ledger.unreadable = true;
    ck_assert_int_eq(mount(3, "K-1"), KR_NOT_STORED);
    ck_assert_int_eq(enter("K-1", 0), KR_NOT_STORED);
    ledger.unreadable = false;
    ck_assert_int_eq(enter("K-1", 0), KR_OK);
    end();
}
END_TEST

START_TEST(after_a_restart_the_knives_are_on_their_holders_and_nothing_is_entered_twice)
{
    set_up();
    ck_assert_int_eq(enter("K-1", 55), KR_OK);
    ck_assert_int_eq(mount(3, "K-1"), KR_OK);
    ledger_rig_restart(&ledger);
    rig_to_idle(&rig);
    ck_assert_uint_eq(knife_of(3), 1);
    ck_assert_uint_eq(metres_of(3), 55);
    ck_assert_int_eq(ledger_number(&ledger, "SELECT count(*) FROM knife_event"), 2);
    ck_assert_int_eq(dismount(3, KR_KNIFE_GRINDER), KR_OK);
    ck_assert_int_eq(ledger_number(&ledger, "SELECT count(*) FROM knife_event"), 3);
    ck_assert_int_eq(ledger_number(&ledger, "SELECT count(*) FROM knife_event WHERE seal IS NULL"), 0);
    end();
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("knives");
    TCase *knives = suite_case(suite, "knives");
    tcase_add_test(knives, a_half_worn_knife_is_entered_and_mounted_with_its_metres_and_its_edge_is_unproven);
    tcase_add_test(knives, metres_go_with_the_knife_from_holder_to_shelf_to_another_holder);
    tcase_add_test(knives, metres_that_are_given_at_the_mount_count_instead_of_the_ledger_s);
    tcase_add_test(knives, a_grind_keeps_the_metres_of_the_life_before_and_the_diameters_before_and_after);
    tcase_add_test(knives, a_knife_that_comes_back_ground_has_no_edge_position_until_one_is_entered);
    tcase_add_test(knives, a_broken_knife_tells_its_cause_its_fragments_and_the_metres_at_which_verified_fell);
    tcase_add_test(knives, where_verified_fell_is_known_after_a_restart);
    tcase_add_test(knives,
                   of_a_gateway_that_ended_while_verified_stood_it_is_where_the_plc_first_writes_to_the_next_one);
    tcase_add_test(knives, of_a_knife_that_is_found_broken_while_verified_stands_it_is_where_it_is_entered);
    tcase_add_loop_test(knives, a_swap_of_equal_size_and_offset_and_a_regrind_leave_their_metres_in_the_ledger, 0, 2);
    tcase_add_test(knives, a_swap_brings_the_knife_that_was_on_the_holder_to_the_shelf);
    tcase_add_test(knives, what_cannot_be_is_refused_and_changes_nothing);
    tcase_add_test(knives, an_offset_far_from_the_holder_s_has_to_be_written_twice_also_by_a_mount);
    tcase_add_test(knives, while_a_job_moves_holders_no_knife_is_mounted);
    tcase_add_test(knives, a_request_that_the_book_cannot_store_changes_neither_holder_nor_ledger);
    tcase_add_test(knives, until_it_is_stored_the_holder_is_shown_as_it_was);
    tcase_add_test(knives, a_ledger_that_cannot_be_read_refuses_and_stops_nothing);
    tcase_add_test(knives, after_a_restart_the_knives_are_on_their_holders_and_nothing_is_entered_twice);
    return suite;
}
