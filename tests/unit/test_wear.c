/* Tests of the notices of knives that are due for a grind: by the metres that they have cut and the limits of their
 * kinds, with a real book. */
#include <stdio.h>
#include <string.h>

#include "ledger_rig.h"
#include "suite.h"

#define DUE    150 /* metres between two grinds of the kind "upper" */
#define NOTICE 50  /* so many before them */

static struct ledger_rig ledger; /* large */
static struct rig rig;

static void limit(const char *kind, uint32_t due_metres, uint32_t notice_metres)
{
    struct kr_knife_limit *to = &rig.config.knife_limit[rig.config.n_knife_limits++];
    *to = (struct kr_knife_limit){.due_metres = due_metres, .notice_metres = notice_metres};
    snprintf(to->kind, sizeof to->kind, "%s", kind);
}

/* One rail of seven, four of which cut; their edges are proven. */
static void set_up(void)
{
    rig_defaults(&rig, 1, 7, 1);
    limit("lower", 1000000, 0);
    limit("upper", DUE, NOTICE);
    ledger_rig_begin(&ledger, &rig);
    rig_start(&rig);
    rig_set_up(&rig, 1, 3, 200 * MM);
}

static void end(void)
{
    rig_end(&rig);
    ledger_rig_end(&ledger);
}

static void enter_of(const char *name, const char *kind, uint32_t metres)
{
    struct knife_values values = {.name = name,
                                  .kind_name = kind,
                                  .edge_offset_um = 300,
                                  .metres = metres,
                                  .given = KR_KNIFE_GIVEN_OFFSET | KR_KNIFE_GIVEN_METRES};
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_ENTER, values), KR_OK);
}

static void mount(uint16_t holder, const char *name, const char *kind, uint32_t metres)
{
    enter_of(name, kind, metres);
    ck_assert_int_eq(rig_knife(&rig, KR_EDIT_MOUNT, (struct knife_values){.rail = 1, .holder = holder, .name = name}),
                     KR_OK);
}

/* Of the holder, brought about by a maintenance request. */
static enum kr_code request(enum kr_edit_kind kind, uint16_t holder)
{
    struct knife_values values = {.rail = 1,
                                  .holder = holder,
                                  .edge_offset_um = 300,
                                  .given = kind == KR_EDIT_REGROUND ? KR_KNIFE_GIVEN_OFFSET : 0,
                                  .to = kind == KR_EDIT_DISMOUNT ? KR_KNIFE_SHELF : 0};
    return rig_knife(&rig, kind, values);
}

/* The holder that an alarm names, 0: it does not stand. There may be one only. */
static uint16_t named(enum kr_alarm_code code)
{
    const struct kr_alarm *alarm;
    uint16_t n = kr_station_alarms(rig.station, &alarm), found = 0;
    for (uint16_t i = 0; i < n; i++) {
        if (alarm[i].code != code)
            continue;
        ck_assert_uint_eq(found, 0);
        ck_assert_uint_eq(alarm[i].rail, 1);
        found = alarm[i].item;
    }
    return found;
}

static void expect_named(uint16_t soon, uint16_t due)
{
    rig_run_ms(&rig, 50);
    ck_assert_uint_eq(named(KR_ALARM_GRIND_SOON), soon);
    ck_assert_uint_eq(named(KR_ALARM_GRIND_DUE), due);
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

/* ---- when ------------------------------------------------------------------------------------------------------ */

static const struct {
    uint32_t metres;
    enum kr_alarm_code code;
} stages[] = {{0, KR_ALARM_NONE},
              {DUE - NOTICE - 1, KR_ALARM_NONE},
              {DUE - NOTICE, KR_ALARM_GRIND_SOON},
              {DUE - 1, KR_ALARM_GRIND_SOON},
              {DUE, KR_ALARM_GRIND_DUE},
              {4000000000, KR_ALARM_GRIND_DUE}};

START_TEST(a_knife_is_named_before_its_limit_and_at_it_and_not_sooner)
{
    set_up();
    mount(3, "K-1", "upper", stages[_i].metres);
    expect_named(stages[_i].code == KR_ALARM_GRIND_SOON ? 3 : 0, stages[_i].code == KR_ALARM_GRIND_DUE ? 3 : 0);
    end();
}
END_TEST

START_TEST(knives_of_another_kind_and_without_a_name_have_no_limit)
{
    set_up();
    mount(3, "K-1", "upper 130", 9999);
    mount(4, "K-2", "lower", 9999);
    struct edit_values swap = {1, 5, 1, 300, 0};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SWAP, swap), KR_OK);
    rig_confirm_edges(&rig);
    rig_set_up(&rig, 2, 3, 200 * MM);
    line_cuts(DUE + 50);
    expect_named(0, 0);
    end();
}
END_TEST

/* How often each notice came and went. */
struct turns {
    bool soon, due;
    int soon_came, soon_went, due_came, due_went;
};

static void count(const struct rig *r, void *of)
{
    struct turns *t = of;
    bool soon = rig_has_alarm(r, KR_ALARM_GRIND_SOON), due = rig_has_alarm(r, KR_ALARM_GRIND_DUE);
    t->soon_came += soon && !t->soon;
    t->soon_went += !soon && t->soon;
    t->due_came += due && !t->due;
    t->due_went += !due && t->due;
    t->soon = soon;
    t->due = due;
}

START_TEST(while_the_line_runs_each_notice_comes_once)
{
    static struct turns turns;
    set_up();
    uint16_t one = rig_holder_of_cut(&rig, 1, 1), two = rig_holder_of_cut(&rig, 1, 2);
    mount(one, "K-1", "upper", 0);
    mount(two, "K-2", "upper", 0);
    rig_confirm_edges(&rig);
    rig_set_up(&rig, 2, 3, 200 * MM);
    memset(&turns, 0, sizeof turns);
    rig.witness = count;
    rig.of_witness = &turns;
    for (int piece = 0; piece < 20; piece++)
        line_cuts(10); /* with stops in between */
    rig.witness = NULL;
    ck_assert_int_eq(turns.soon_came, 1);
    ck_assert_int_eq(turns.soon_went, 1);
    ck_assert_int_eq(turns.due_came, 1);
    ck_assert_int_eq(turns.due_went, 0);
    end();
}
END_TEST

START_TEST(a_knife_that_is_named_stays_named_while_another_overtakes_it)
{
    set_up();
    mount(3, "K-1", "upper", 110);
    expect_named(3, 0);
    mount(4, "K-2", "upper", 130);
    mount(2, "K-3", "upper", 200);
    expect_named(3, 2);
    mount(5, "K-4", "upper", 300);
    expect_named(3, 2);
    end();
}
END_TEST

/* ---- until when ------------------------------------------------------------------------------------------------ */

START_TEST(a_grind_or_the_knife_s_coming_off_withdraws_it_and_the_next_one_is_named)
{
    static const enum kr_edit_kind ends[] = {KR_EDIT_REGROUND, KR_EDIT_DISMOUNT, KR_EDIT_BROKEN, KR_EDIT_SCRAP};
    set_up();
    mount(3, "K-1", "upper", 200);
    mount(4, "K-2", "upper", 160);
    mount(5, "K-3", "upper", 120);
    expect_named(5, 3);
    ck_assert_int_eq(request(ends[_i], 3), KR_OK);
    expect_named(5, 4);
    ck_assert_int_eq(request(ends[_i], 4), KR_OK);
    ck_assert_int_eq(request(ends[_i], 5), KR_OK);
    expect_named(0, 0);
    end();
}
END_TEST

START_TEST(until_a_grind_is_stored_it_is_named_and_one_that_is_not_stored_leaves_it_named)
{
    static struct turns turns;
    set_up();
    mount(3, "K-1", "upper", 200);
    expect_named(0, 3);
    turns = (struct turns){.due = true};
    rig.witness = count;
    rig.of_witness = &turns;
    rig.book_failures = 1;
    ck_assert_int_eq(request(KR_EDIT_REGROUND, 3), KR_NOT_STORED);
    rig_run_ms(&rig, 500);
    rig.witness = NULL;
    ck_assert_int_eq(turns.due_went, 0);
    expect_named(0, 3);
    ck_assert_int_eq(request(KR_EDIT_REGROUND, 3), KR_OK);
    expect_named(0, 0);
    end();
}
END_TEST

START_TEST(an_acknowledgement_does_not_end_it)
{
    set_up();
    mount(3, "K-1", "upper", 200);
    mount(4, "K-2", "upper", 120);
    rig_reset(&rig);
    expect_named(4, 3);
    end();
}
END_TEST

START_TEST(after_a_restart_it_is_named_again)
{
    set_up();
    mount(3, "K-1", "upper", 200);
    mount(4, "K-2", "upper", 120);
    ledger_rig_restart(&ledger);
    expect_named(4, 3);
    end();
}
END_TEST

START_TEST(another_limit_counts_at_once)
{
    set_up();
    mount(3, "K-1", "upper", 120);
    expect_named(3, 0);
    rig.config.knife_limit[1].due_metres = 1000;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    expect_named(0, 0);
    rig.config.knife_limit[1].due_metres = 120;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    expect_named(0, 3);
    rig.config.n_knife_limits = 1;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    expect_named(0, 0);
    end();
}
END_TEST

/* ---- what clients read ----------------------------------------------------------------------------------------- */

START_TEST(the_registers_have_all_of_them_and_the_one_with_the_fewest_metres_left)
{
    set_up();
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_GRIND_NEXT, 0, 0), 0);
    mount(2, "K-1", "upper", 10);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_GRIND_NEXT, 0, 0), 2);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_GRIND_LEFT, 0, 0), DUE - 10);
    mount(3, "K-2", "upper", 120);
    mount(4, "K-3", "upper", 170);
    mount(7, "K-4", "upper", 160);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_GRINDS_SOON, 0, 0), 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_GRINDS_DUE, 0, 0), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_GRIND_NEXT, 0, 0), 4);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_GRIND_LEFT, 0, 0), DUE - 170);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_GRINDS_SOON_MASK, 0, 0), 1 << 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_GRINDS_DUE_MASK, 0, 0), 1 << 3 | 1 << 6);
    for (uint16_t w = 1; w < 32; w++)
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_GRINDS_DUE_MASK, 0, w) | rig_u16(&rig, KR_REG_GRINDS_SOON_MASK, 0, w),
                          0);
    end();
}
END_TEST

START_TEST(kinds_are_told_apart_by_their_whole_text)
{
    ck_assert_uint_eq(kr_knife_kind_digest("upper 130"), kr_knife_kind_digest("upper 130"));
    ck_assert_uint_ne(kr_knife_kind_digest("upper 130"), kr_knife_kind_digest("upper 13"));
    ck_assert_uint_ne(kr_knife_kind_digest("upper 130"), kr_knife_kind_digest("upper 103"));
    /* FNV-1a, 32 bits, of "a" and of "foobar": the test vectors that its authors publish, from memory */
    ck_assert_uint_eq(kr_knife_kind_digest("a"), 0xE40C292C);
    ck_assert_uint_eq(kr_knife_kind_digest("foobar"), 0xBF9CF968);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("wear");
    TCase *wear = suite_case(suite, "wear");
    tcase_add_loop_test(wear, a_knife_is_named_before_its_limit_and_at_it_and_not_sooner, 0,
                        (int)(sizeof stages / sizeof stages[0]));
    tcase_add_test(wear, knives_of_another_kind_and_without_a_name_have_no_limit);
    tcase_add_test(wear, while_the_line_runs_each_notice_comes_once);
    tcase_add_test(wear, a_knife_that_is_named_stays_named_while_another_overtakes_it);
    tcase_add_loop_test(wear, a_grind_or_the_knife_s_coming_off_withdraws_it_and_the_next_one_is_named, 0, 4);
    tcase_add_test(wear, until_a_grind_is_stored_it_is_named_and_one_that_is_not_stored_leaves_it_named);
    tcase_add_test(wear, an_acknowledgement_does_not_end_it);
    tcase_add_test(wear, after_a_restart_it_is_named_again);
    tcase_add_test(wear, another_limit_counts_at_once);
    tcase_add_test(wear, the_registers_have_all_of_them_and_the_one_with_the_fewest_metres_left);
    tcase_add_test(wear, kinds_are_told_apart_by_their_whole_text);
    return suite;
}
