/* The unit: every command in every state, against the published transitions; and what Start asks for first. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rig.h"

/* ---- the published table -------------------------------------------------------------------------------------------- */

#define ROWS_MAX 100

struct transition {
    char from[24], command[24], to[24];
    bool optional;
};

static struct transition table[ROWS_MAX];
static size_t n_rows;

static void read_table(void)
{
    FILE *file = fopen("tests/reference/data/packml_transitions.csv", "r");
    char line[200];
    ck_assert_ptr_nonnull(file);
    n_rows = 0;
    while (fgets(line, sizeof line, file)) {
        struct transition *t = &table[n_rows];
        if (line[0] == '#' || strncmp(line, "from,", 5) == 0)
            continue;
        ck_assert_uint_lt(n_rows, ROWS_MAX);
        ck_assert_int_eq(sscanf(line, "%23[^,],%23[^,],%23[^,]", t->from, t->command, t->to), 3);
        t->optional = strstr(line, "optional") != NULL;
        n_rows++;
    }
    ck_assert_int_eq(fclose(file), 0);
    ck_assert_uint_gt(n_rows, 40);
}

static bool same_word(const char *a, const char *b)
{
    for (; *a && *b; a++, b++)
        if ((*a | 0x20) != (*b | 0x20))
            return false;
    return *a == *b;
}

static const char *name_of(const char *set, int number)
{
    for (size_t i = 0; kr_named_number(i); i++)
        if (strcmp(kr_named_number(i)->set, set) == 0 && kr_named_number(i)->number == number)
            return kr_named_number(i)->name;
    ck_abort_msg("no %s %d", set, number);
    return NULL;
}

static const char *state_name(enum kr_unit_state state)
{
    return name_of("UNIT_STATE", (int)state);
}

/* Where the table leads to, or NULL. The optional rows are not taken: Hold comes from Execute only. */
static const char *leads_to(enum kr_unit_state from, enum kr_command command)
{
    for (size_t i = 0; i < n_rows; i++)
        if (!table[i].optional && same_word(table[i].from, state_name(from)) &&
            same_word(table[i].command, name_of("COMMAND", (int)command)))
            return table[i].to;
    return NULL;
}

/* What follows by itself when the state is complete, or NULL. */
static const char *completes_to(const char *from)
{
    for (size_t i = 0; i < n_rows; i++)
        if (same_word(table[i].from, from) && strncmp(table[i].command, "SC", 2) == 0)
            return table[i].to;
    return NULL;
}

static bool may_be(enum kr_unit_state state, const char *name)
{
    for (int steps = 0; name != NULL && steps < 3; steps++, name = completes_to(name))
        if (same_word(state_name(state), name))
            return true;
    return false;
}

/* ---- bringing the unit into each state --------------------------------------------------------------------------------- */

static void travelling(struct rig *rig)
{
    rig_start_changeover(rig);
    rig_until_carriage(rig, 0, KR_CARRIAGE_SCANNING);
    rig_run_ms(rig, 1500);
    ck_assert(rig_anything_moves(rig));
}

static void held(struct rig *rig)
{
    travelling(rig);
    rig_command(rig, KR_COMMAND_HOLD, 0);
    rig_until_state(rig, KR_STATE_HELD);
}

static void suspended(struct rig *rig)
{
    travelling(rig);
    rig_command(rig, KR_COMMAND_SUSPEND, 0);
    rig_until_state(rig, KR_STATE_SUSPENDED);
}

static void aborted(struct rig *rig)
{
    travelling(rig);
    rig_command(rig, KR_COMMAND_ABORT, 0);
    rig_until_state(rig, KR_STATE_ABORTED);
}

static void bring(struct rig *rig, enum kr_unit_state state)
{
    rig_begin_small(rig);
    switch (state) {
    case KR_STATE_STOPPED:
        rig_command(rig, KR_COMMAND_STOP, 0);
        rig_until_state(rig, KR_STATE_STOPPED);
        break;
    case KR_STATE_RESETTING:
        rig_command(rig, KR_COMMAND_STOP, 0);
        rig_until_state(rig, KR_STATE_STOPPED);
        rig_command(rig, KR_COMMAND_RESET, 0);
        break;
    case KR_STATE_IDLE: break;
    case KR_STATE_STARTING:
        rig_stage(rig, 1);
        rig->book_cycles = -1; /* what Start puts in force is not stored yet */
        rig_command(rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
        break;
    case KR_STATE_EXECUTE: travelling(rig); break;
    case KR_STATE_COMPLETING:
        rig_start_changeover(rig);
        rig_until_state(rig, KR_STATE_COMPLETING);
        break;
    case KR_STATE_COMPLETE: rig_set_up_small(rig); break;
    case KR_STATE_HOLDING:
        travelling(rig);
        rig_command(rig, KR_COMMAND_HOLD, 0);
        break;
    case KR_STATE_HELD: held(rig); break;
    case KR_STATE_UNHOLDING:
        held(rig);
        rig_command(rig, KR_COMMAND_UNHOLD, 0);
        break;
    case KR_STATE_SUSPENDING:
        travelling(rig);
        rig_command(rig, KR_COMMAND_SUSPEND, 0);
        break;
    case KR_STATE_SUSPENDED: suspended(rig); break;
    case KR_STATE_UNSUSPENDING:
        suspended(rig);
        rig_command(rig, KR_COMMAND_UNSUSPEND, 0);
        break;
    case KR_STATE_STOPPING:
        travelling(rig);
        rig_command(rig, KR_COMMAND_STOP, 0);
        break;
    case KR_STATE_ABORTING:
        travelling(rig);
        rig_command(rig, KR_COMMAND_ABORT, 0);
        break;
    case KR_STATE_ABORTED: aborted(rig); break;
    case KR_STATE_CLEARING:
        aborted(rig);
        rig_command(rig, KR_COMMAND_CLEAR, 0);
        break;
    }
    ck_assert_int_eq(rig_state(rig), state);
}

static void expect_taken(struct rig *rig, enum kr_unit_state from, enum kr_command command, const char *to)
{
    if (rig_answer(rig) != KR_OK)
        ck_abort_msg("%s in %s is refused: %d", name_of("COMMAND", (int)command), state_name(from),
                     (int)rig_answer(rig));
    if (!may_be(rig_state(rig), to))
        ck_abort_msg("%s in %s leads to %s, not %s", name_of("COMMAND", (int)command), state_name(from),
                     state_name(rig_state(rig)), to);
}

static void expect_refused(struct rig *rig, enum kr_unit_state from, enum kr_command command)
{
    if (rig_answer(rig) != KR_NOT_IN_THIS_STATE)
        ck_abort_msg("%s in %s is answered %d", name_of("COMMAND", (int)command), state_name(from),
                     (int)rig_answer(rig));
    ck_assert_int_eq(rig_answer_value(rig), (int)from);
    if (!may_be(rig_state(rig), state_name(from)))
        ck_abort_msg("%s, refused, leaves %s for %s", name_of("COMMAND", (int)command), state_name(from),
                     state_name(rig_state(rig)));
}

/* _i: the state's number, 1 to 17 */
START_TEST(in_every_state_every_command_does_what_the_published_table_says)
{
    enum kr_unit_state from = (enum kr_unit_state)_i;
    read_table();
    for (int command = KR_COMMAND_RESET; command <= KR_COMMAND_CLEAR; command++) {
        struct rig rig;
        bring(&rig, from);
        const char *to = leads_to(from, (enum kr_command)command);
        rig_command(&rig, (enum kr_command)command, KR_JOB_VERIFY + (from == KR_STATE_IDLE));
        if (to != NULL)
            expect_taken(&rig, from, (enum kr_command)command, to);
        else
            expect_refused(&rig, from, (enum kr_command)command);
        rig_end(&rig);
    }
}
END_TEST

START_TEST(every_acting_state_is_left_for_where_the_published_table_says)
{
    static const enum kr_unit_state acting[] = {
        KR_STATE_RESETTING, KR_STATE_STARTING,   KR_STATE_COMPLETING,   KR_STATE_HOLDING,
        KR_STATE_UNHOLDING, KR_STATE_SUSPENDING, KR_STATE_UNSUSPENDING, KR_STATE_STOPPING,
        KR_STATE_ABORTING,  KR_STATE_CLEARING};
    enum kr_unit_state from = acting[_i];
    struct rig rig;
    read_table();
    bring(&rig, from);
    rig.book_cycles = 2;
    for (int i = 0; i < 1000 && rig_state(&rig) == from; i++)
        rig_cycle(&rig);
    ck_assert_ptr_nonnull(completes_to(state_name(from)));
    ck_assert(same_word(state_name(rig_state(&rig)), completes_to(state_name(from))));
    rig_end(&rig);
}
END_TEST

/* ---- what Start asks for --------------------------------------------------------------------------------------------- */

START_TEST(start_without_an_order_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NO_ORDER);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_VERIFY), KR_NO_ORDER);
    rig_end(&rig);
}
END_TEST

START_TEST(start_names_the_permissives_that_are_missing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    rig.in.permissives = KR_PERMIT_AIR | KR_PERMIT_ENABLE | KR_PERMIT_KNIVES_RAISED;
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_PERMISSIVE_MISSING);
    ck_assert_int_eq(rig_answer_value(&rig), KR_PERMIT_LINE_STOPPED | KR_PERMIT_GUARDS_CLOSED);
    ck_assert_int_eq(rig_answer_limit(&rig), 0x1F);
    rig_end(&rig);
}
END_TEST

START_TEST(start_of_an_unknown_job_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, (enum kr_job)0), KR_UNKNOWN_JOB);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, (enum kr_job)(KR_JOB_LAST + 1)), KR_UNKNOWN_JOB);
    ck_assert_int_eq(rig_answer_limit(&rig), KR_JOB_LAST);
    rig_end(&rig);
}
END_TEST

START_TEST(start_waits_for_a_datum_on_every_rail)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[1].absolute_encoder = 0;
    rig_begin(&rig);
    rig_stage(&rig, 1);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NOT_HOMED);
    ck_assert_uint_eq(rig_answer_rail(&rig), 2);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_complete(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    rig_end(&rig);
}
END_TEST

START_TEST(start_with_a_book_that_fails_or_a_link_that_is_down_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    rig.in.book_failed = true;
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_BOOK_FAILED);
    rig.in.book_failed = false;
    rig_break(&rig, 1, SIM_LINK_LOST, 0, 0);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_ALARM_STANDS);
    ck_assert_uint_eq(rig_answer_rail(&rig), 2);
    ck_assert_int_eq(rig_answer_value(&rig), KR_ALARM_LINK_LOST);
    rig_end(&rig);
}
END_TEST

/* ---- numbers and sessions --------------------------------------------------------------------------------------------- */

START_TEST(a_command_counts_once_and_only_in_its_session)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    ck_assert_int_eq(
        rig_command_numbered(&rig, (uint16_t)(rig.session + 1), KR_COMMAND_START, KR_JOB_CHANGEOVER, 50),
        KR_STALE_SESSION);
    ck_assert_int_eq(rig_command_numbered(&rig, rig.session, KR_COMMAND_START, KR_JOB_CHANGEOVER, 51), KR_OK);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_COMMAND_ECHO, 0, 0), 51);
    rig_until_complete(&rig);
    rig_command_numbered(&rig, rig.session, KR_COMMAND_START, KR_JOB_CHANGEOVER,
                         51); /* the very same write */
    rig_stays_still_ms(&rig, 1000);
    rig_command_numbered(&rig, rig.session, KR_COMMAND_RESET, KR_JOB_CHANGEOVER,
                         51); /* another under its number */
    ck_assert_int_eq(rig_answer(&rig), KR_NUMBER_REUSED);
    rig_command_numbered(&rig, rig.session, KR_COMMAND_RESET, 0, 0); /* 0 is no command */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_COMMAND_ECHO, 0, 0), 51);
    rig_stays_still_ms(&rig, 1000);
    rig_end(&rig);
}
END_TEST

START_TEST(stop_is_taken_from_any_session)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    ck_assert_int_eq(rig_command_numbered(&rig, (uint16_t)(rig.session + 1), KR_COMMAND_STOP, 0, 1), KR_OK);
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_end(&rig);
}
END_TEST

START_TEST(an_unknown_command_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_command(&rig, (enum kr_command)(KR_COMMAND_CLEAR + 1), 0), KR_UNKNOWN_COMMAND);
    ck_assert_int_eq(rig_command(&rig, (enum kr_command)0, 0), KR_UNKNOWN_COMMAND);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_IDLE);
    rig_end(&rig);
}
END_TEST

/* ---- stopping ----------------------------------------------------------------------------------------------------------- */

START_TEST(stop_ends_the_job_and_keeps_the_orders)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig_stage(&rig, 2);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ORDER_IN_FORCE, 0, 0), 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ORDER_STAGED, 0, 0), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ENDED);
    rig_stays_still_ms(&rig, 3000);
    rig_end(&rig);
}
END_TEST

/* _i: the carriage's phase in which the process is asked to end */
START_TEST(shut_down_stops_in_a_controlled_way_and_nothing_starts_any_more)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, (enum kr_carriage_phase)_i);
    rig_run_ms(&rig, 50);
    rig.in.shut_down = true;
    rig_cycle(&rig);
    ck_assert(!rig.out.at_rest);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_STOPPING);
    for (int i = 0; i < 1000 && !rig.out.at_rest; i++)
        rig_cycle(&rig);
    ck_assert(rig.out.at_rest);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_STOPPED);
    ck_assert(!rig_anything_moves(&rig));
    ck_assert_uint_eq(rig.book.serial, kr_station_durable(rig.station)->serial);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_RESET, 0), KR_NOT_IN_THIS_STATE);
    rig_stays_still_ms(&rig, 1000);
    rig_end(&rig);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("station: commands");
    TCase *tc = tcase_create("commands");
    tcase_set_timeout(tc, 60);
    tcase_add_loop_test(tc, in_every_state_every_command_does_what_the_published_table_says, 1, 18);
    tcase_add_loop_test(tc, every_acting_state_is_left_for_where_the_published_table_says, 0, 10);
    tcase_add_test(tc, start_without_an_order_is_refused);
    tcase_add_test(tc, start_names_the_permissives_that_are_missing);
    tcase_add_test(tc, start_of_an_unknown_job_is_refused);
    tcase_add_test(tc, start_waits_for_a_datum_on_every_rail);
    tcase_add_test(tc, start_with_a_book_that_fails_or_a_link_that_is_down_is_refused);
    tcase_add_test(tc, a_command_counts_once_and_only_in_its_session);
    tcase_add_test(tc, stop_is_taken_from_any_session);
    tcase_add_test(tc, an_unknown_command_is_refused);
    tcase_add_test(tc, stop_ends_the_job_and_keeps_the_orders);
    tcase_add_loop_test(tc, shut_down_stops_in_a_controlled_way_and_nothing_starts_any_more,
                        KR_CARRIAGE_TRAVELLING, KR_CARRIAGE_HOMING);
    suite_add_tcase(suite, tc);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
