/* How every alarm is provoked when a machine is accepted, and what commissioning makes of what was seen. */
#include <stdio.h>
#include <string.h>

#include "kniferail/commission.h"
#include "kniferail/map.h"
#include "sim/machine.h"
#include "suite.h"

static struct kr_step_verdict verdict;

#define SAYS(text, what) ck_assert_msg(strstr(text, what) != NULL, "'%s' is not in: %s", what, text)

static struct kr_alarm_seen as_seen(void)
{
    struct kr_alarm_seen s = {.code = KR_ALARM_LINK_LOST,
                              .how = "the drive's cable was pulled",
                              .raised = true,
                              .gone = true,
                              .raised_ms = 1200,
                              .sentence = "the drive does not answer"};
    memset(&verdict, 0, sizeof verdict);
    return s;
}

/* ---- their words ------------------------------------------------------------------------------------------------- */

/* As `kniferail commission` writes them: the name, what the alarm says with its values, and its remedy. */
START_TEST(every_alarm_has_room_with_its_whole_remedy_in_a_finding)
{
    for (size_t i = 0; kr_alarm_info_at(i) != NULL; i++) {
        const struct kr_alarm_info *info = kr_alarm_info_at(i);
        const struct kr_alarm alarm = {
            .code = (uint16_t)info->code, .rail = 4, .item = 128, .value = -2000000000, .limit = -2000000000};
        struct kr_holder_seen seen = {.holder_number = 128};
        char sentence[256], words[KR_ALARM_WORDS_MAX];
        ck_assert_int_lt(kr_alarm_text(&alarm, KR_LENGTH_INCH, sentence, sizeof sentence), (int)sizeof sentence);
        int n = snprintf(words, sizeof words, "%s: %s. %s", info->name, sentence, info->remedy);
        ck_assert_msg(n < KR_ALARM_WORDS_MAX, "%s takes %d characters", info->name, n);
        memset(&verdict, 0, sizeof verdict);
        snprintf(seen.job.alarm, sizeof seen.job.alarm, "%s", words);
        kr_judge_holder(&seen, &verdict);
        SAYS(verdict.finding[0].seen, info->remedy);
        struct kr_edges_seen edges = {.job = seen.job};
        memset(&verdict, 0, sizeof verdict);
        kr_judge_edges(&edges, &verdict);
        SAYS(verdict.finding[0].seen, info->remedy);
        struct kr_alarm_seen instead = {.code = KR_ALARM_LINK_LOST,
                                        .how = "the drive's cable was pulled during a scan"};
        snprintf(instead.instead, sizeof instead.instead, "Another alarm stood in its place: %s", words);
        memset(&verdict, 0, sizeof verdict);
        kr_judge_alarm(&instead, &verdict);
        SAYS(verdict.finding[0].seen, info->remedy);
    }
}
END_TEST

START_TEST(a_permissive_has_its_name_and_an_error_code_is_as_manuals_have_it)
{
    struct kr_alarm_seen s = as_seen();
    char how[64];
    s.code = KR_ALARM_PERMISSIVE_LOST;
    s.value = KR_PERMIT_LINE_STOPPED | KR_PERMIT_AIR;
    strcpy(s.sentence, "permissives were lost during motion: mask 0009 hex");
    kr_judge_alarm(&s, &verdict);
    SAYS(verdict.figure[0].value, "mask 0009 hex (line_stopped, air); gone");
    for (size_t i = 0; kr_provocation_simulated(i) != NULL; i++)
        if (kr_provocation_simulated(i)->alarm_code == KR_ALARM_DRIVE_FAULT) {
            kr_provoke_how(kr_provocation_simulated(i), 0x2310, 1, how, sizeof how);
            ck_assert_str_eq(how, "fault drive-fault 2310 hex");
        } else if (strcmp(kr_provocation_simulated(i)->fault, "moved-by-hand") == 0) {
            kr_provoke_how(kr_provocation_simulated(i), 5000, 2, how, sizeof how);
            ck_assert_str_eq(how, "fault moved-by-hand 5000, at the second try");
        }
}
END_TEST

/* ---- the table ------------------------------------------------------------------------------------------------- */

static unsigned by_hand_rows(uint16_t code)
{
    unsigned n = 0;
    for (size_t i = 0; kr_provocation_by_hand(i) != NULL; i++)
        n += kr_provocation_by_hand(i)->alarm_code == code;
    return n;
}

static unsigned simulated_rows(uint16_t code)
{
    unsigned n = 0;
    for (size_t i = 0; kr_provocation_simulated(i) != NULL; i++)
        n += kr_provocation_simulated(i)->alarm_code == code;
    return n;
}

START_TEST(every_alarm_has_a_row_and_one_that_is_not_provoked_has_no_other)
{
    unsigned n = 0;
    for (; kr_alarm_info_at(n) != NULL; n++) {
        const struct kr_alarm_info *info = kr_alarm_info_at(n);
        unsigned rows = by_hand_rows((uint16_t)info->code) + simulated_rows((uint16_t)info->code);
        bool not_provoked = kr_not_provoked((uint16_t)info->code) != NULL;
        ck_assert_msg((rows > 0) != not_provoked, "%s: %u rows that provoke it%s", info->name, rows,
                      not_provoked ? ", and one that says why it is not" : ", and none that says why not");
        ck_assert_msg(by_hand_rows((uint16_t)info->code) <= 1, "%s: two rows by hand", info->name);
        ck_assert_msg(simulated_rows((uint16_t)info->code) <= 1, "%s: two rows at the simulator", info->name);
    }
    ck_assert_uint_gt(n, 60);
    ck_assert_ptr_null(kr_provocation_by_hand(KR_N_BY_HAND));
    ck_assert_ptr_null(kr_not_provoked(KR_ALARM_NONE));
}
END_TEST

START_TEST(what_is_done_by_hand_is_told_with_its_caution)
{
    for (size_t i = 0; i < KR_N_BY_HAND; i++) {
        const struct kr_provocation_by_hand *p = kr_provocation_by_hand(i);
        const char *name = kr_alarm_info(p->alarm_code)->name;
        ck_assert_msg(strlen(p->act) > 10 && strlen(p->undo) > 10 && strlen(p->brief) > 10, "%s", name);
        ck_assert_msg(p->caution[strlen(p->caution) - 1] == '.', "%s: its caution is no sentence", name);
        if (p->situation != KR_PROVOKE_AT_REST)
            ck_assert_msg(strstr(p->caution, "Nobody is in the zone") || strstr(p->caution, "Lock out") ||
                              strstr(p->caution, "stays stopped"),
                          "%s: something moves, and its caution is: %s", name, p->caution);
    }
}
END_TEST

/* Nobody is told to reach in while a carriage may move. */
START_TEST(what_is_done_under_lockout_is_done_while_the_unit_is_stopped)
{
    unsigned n = 0;
    for (size_t i = 0; i < KR_N_BY_HAND; i++) {
        const struct kr_provocation_by_hand *p = kr_provocation_by_hand(i);
        bool stopped = p->situation == KR_PROVOKE_AT_REST || p->situation == KR_PROVOKE_BEFORE_SCAN;
        bool locked_out = strstr(p->caution, "Lock out drives") != NULL;
        n += locked_out;
        ck_assert_msg(stopped || !locked_out, "%s: the person reaches in during a job",
                      kr_alarm_info(p->alarm_code)->name);
        ck_assert_msg(p->situation != KR_PROVOKE_BEFORE_SCAN || locked_out, "%s: hands are on the rail without lockout",
                      kr_alarm_info(p->alarm_code)->name);
    }
    ck_assert_uint_ge(n, 2);
}
END_TEST

static const struct sim_fault_info *fault_named(const char *name)
{
    for (int f = 0; f < SIM_N_FAULTS; f++)
        if (strcmp(sim_fault_info((enum sim_fault)f)->name, name) == 0)
            return sim_fault_info((enum sim_fault)f);
    return NULL;
}

static bool is_number(int32_t value)
{
    return value > KR_PROVOKE_BEYOND_UM;
}

/* Against the simulator's own table: sim/faults.def. */
START_TEST(the_simulator_has_every_fault_and_takes_its_item_and_its_value)
{
    for (size_t i = 0; kr_provocation_simulated(i) != NULL; i++) {
        const struct kr_provocation_simulated *p = kr_provocation_simulated(i);
        const struct sim_fault_info *fault = fault_named(p->fault);
        ck_assert_msg(fault != NULL, "kniferail-sim has no fault %s", p->fault);
        bool of_holder =
            p->item == KR_PROVOKE_HOLDER || p->item == KR_PROVOKE_FIRST_HOLDER || p->item == KR_PROVOKE_HOLDERS;
        bool of_reference = p->item == KR_PROVOKE_REFERENCE || p->item == KR_PROVOKE_MOST_REFERENCES;
        ck_assert_msg(of_holder == (fault->item == SIM_ITEM_HOLDER), "%s: holder", p->fault);
        ck_assert_msg(of_reference == (fault->item == SIM_ITEM_REFERENCE), "%s: reference", p->fault);
        if (fault->value == SIM_VALUE_NONE)
            ck_assert_msg(p->value == 0, "%s takes no value", p->fault);
        else if (is_number(p->value))
            ck_assert_msg(p->value >= fault->least && p->value <= fault->most, "%s: %d", p->fault, p->value);
        ck_assert_msg(p->job <= KR_JOB_LAST, "%s: job %u", p->fault, p->job);
        ck_assert_msg(p->job > 0 || p->phase == KR_PROVOKE_AWAY, "%s: it needs a job", p->fault);
        ck_assert_msg(p->phase >= KR_PROVOKE_AWAY, "%s: moment %d", p->fault, p->phase);
        ck_assert_msg(p->phase != KR_PROVOKE_SECOND_PASS || p->needs == KR_PROVOKE_TWO_PASSES, "%s: passes", p->fault);
        ck_assert_msg((kr_provoke_needs_text(p->needs)[0] == '\0') == (p->needs == KR_PROVOKE_ANYTHING), "%s",
                      p->fault);
    }
}
END_TEST

/* ---- the judge ------------------------------------------------------------------------------------------------- */

START_TEST(an_alarm_passes_that_was_seen_and_then_was_gone)
{
    struct kr_alarm_seen s = as_seen();
    kr_judge_alarm(&s, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 1);
    ck_assert_str_eq(verdict.figure[0].name, "LINK_LOST");
    ck_assert_str_eq(verdict.figure[0].value,
                     "the drive's cable was pulled; seen after 1.2 s: the drive does not answer; gone when it was "
                     "taken back and acknowledged");
}
END_TEST

START_TEST(an_alarm_that_was_not_seen_does_not_pass_and_what_stood_in_its_place_is_told)
{
    struct kr_alarm_seen s = as_seen();
    s.raised = s.gone = false;
    kr_judge_alarm(&s, &verdict);
    ck_assert_uint_eq(verdict.n_findings, 1);
    SAYS(verdict.finding[0].seen, "LINK_LOST was to be provoked at the machine (the drive's cable was pulled)");
    SAYS(verdict.finding[0].seen, "No other alarm was seen");
    s.simulator = true;
    strcpy(s.instead, "ANSWERS_LATE stood in its place.");
    memset(&verdict, 0, sizeof verdict);
    kr_judge_alarm(&s, &verdict);
    SAYS(verdict.finding[0].seen, "at kniferail-sim");
    SAYS(verdict.finding[0].seen, "ANSWERS_LATE stood in its place.");
    ck_assert_uint_eq(verdict.n_figures, 0);
}
END_TEST

START_TEST(an_alarm_that_stays_does_not_pass)
{
    struct kr_alarm_seen s = as_seen();
    s.gone = false;
    kr_judge_alarm(&s, &verdict);
    ck_assert_uint_eq(verdict.n_findings, 1);
    SAYS(verdict.finding[0].seen, "it still stands");
    ck_assert_uint_eq(verdict.n_figures, 1);
}
END_TEST

START_TEST(a_rehearsal_in_which_nothing_was_provoked_does_not_pass)
{
    memset(&verdict, 0, sizeof verdict);
    kr_judge_rehearsal(0, 0, &verdict);
    ck_assert(!kr_step_passes(&verdict));
    memset(&verdict, 0, sizeof verdict);
    kr_judge_rehearsal(20, 20, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_str_eq(verdict.figure[0].value, "20, of which 20 were seen");
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission, alarms");
    TCase *table = suite_case(suite, "table"), *judge = suite_case(suite, "judge");
    tcase_add_test(table, a_permissive_has_its_name_and_an_error_code_is_as_manuals_have_it);
    tcase_add_test(table, every_alarm_has_room_with_its_whole_remedy_in_a_finding);
    tcase_add_test(table, every_alarm_has_a_row_and_one_that_is_not_provoked_has_no_other);
    tcase_add_test(table, what_is_done_by_hand_is_told_with_its_caution);
    tcase_add_test(table, what_is_done_under_lockout_is_done_while_the_unit_is_stopped);
    tcase_add_test(table, the_simulator_has_every_fault_and_takes_its_item_and_its_value);
    tcase_add_test(judge, an_alarm_passes_that_was_seen_and_then_was_gone);
    tcase_add_test(judge, an_alarm_that_was_not_seen_does_not_pass_and_what_stood_in_its_place_is_told);
    tcase_add_test(judge, an_alarm_that_stays_does_not_pass);
    tcase_add_test(judge, a_rehearsal_in_which_nothing_was_provoked_does_not_pass);
    return suite;
}
