/* Tests of the proof of cutting edges, and of what the line may do without this proof. A scan sees flags and never
 * blades, so a mistyped edge offset is verified like a right one. */
#include <string.h>

#include "rig.h"
#include "suite.h"

#define MAY      (KR_LINE_MAY_START | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER)
#define ON_TRIAL (KR_LINE_MAY_LOWER | KR_LINE_TEST_CUT)
#define N_SLITS  3

static const int32_t slit_um[N_SLITS] = {90 * MM, 110 * MM, 100 * MM}; /* as rig_small_order() has them */

/* Nobody has confirmed anything yet. */
static void begin(struct rig *rig)
{
    rig_small_ideal(rig, 2);
    rig->edges_confirmed = true;
    rig_begin(rig);
}

static void begin_proven(struct rig *rig)
{
    begin(rig);
    rig_confirm_edges(rig);
    rig_set_up_small(rig);
    ck_assert_uint_eq(rig_line_status(rig), MAY);
}

static enum kr_code edit(struct rig *rig, enum kr_edit_kind kind, uint16_t rail, uint16_t holder)
{
    return rig_edit(rig, kind, (struct edit_values){.rail = rail, .holder = holder});
}

static enum kr_edge edge(const struct rig *rig, uint16_t rail, uint16_t holder)
{
    enum kr_edge shown = (enum kr_edge)rig_u16(rig, KR_REG_HOLDER_EDGE, (uint16_t)(rail - 1), (uint16_t)(holder - 1));
    bool unproven = rig_u16(rig, KR_REG_EDGES_UNPROVEN, (uint16_t)(rail - 1), 0) >> (holder - 1) & 1;
    ck_assert_int_eq(unproven, shown == KR_EDGE_UNPROVEN || shown == KR_EDGE_STRUCK);
    return shown;
}

static bool may_be_lowered(const struct rig *rig, uint16_t rail, uint16_t holder)
{
    return rig_u16(rig, KR_REG_CUTTING, (uint16_t)(rail - 1), 0) >> (holder - 1) & 1;
}

static struct kr_alarm named(const struct rig *rig, enum kr_alarm_code code, uint16_t rail)
{
    const struct kr_alarm *alarm;
    uint16_t n = kr_station_alarms(rig->station, &alarm);
    for (uint16_t i = 0; i < n; i++)
        if (alarm[i].code == code && alarm[i].rail == rail)
            return alarm[i];
    return (struct kr_alarm){0};
}

/* ---- proven or not --------------------------------------------------------------------------------------------- */

START_TEST(what_a_station_begins_with_is_not_proven_until_each_rail_is_confirmed)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED)); /* every knife is where its flag should be */
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    for (uint16_t rail = 1; rail <= 2; rail++) {
        uint16_t first = 1;
        while (rig_cut_of(&rig, rail, first) == 0)
            first++;
        ck_assert_int_eq(edge(&rig, rail, first), KR_EDGE_UNPROVEN);
        ck_assert(!may_be_lowered(&rig, rail, first));
        ck_assert_uint_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, rail).item, first);
        ck_assert_int_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, rail).value, N_SLITS + 1);
    }
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 1, 0), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert_uint_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, 1).code, 0);
    ck_assert_uint_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, 2).code, KR_ALARM_EDGE_UNPROVEN);
    rig_to_idle(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY); /* a job begins without it, and its end names it again */
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_until_complete(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    ck_assert_int_eq(edit(&rig, KR_EDIT_FEELER, 2, 0), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    for (uint16_t h = 1; h <= SMALL_HOLDERS; h++) {
        ck_assert_int_eq(edge(&rig, 1, h), KR_EDGE_BENCH);
        ck_assert_int_eq(edge(&rig, 2, h), KR_EDGE_FEELER);
    }
    rig_end(&rig);
}
END_TEST

static const enum kr_edit_kind unproving[] = {KR_EDIT_OFFSET, KR_EDIT_REGRIND, KR_EDIT_SWAP};

START_TEST(after_an_offset_a_regrind_or_a_swap_the_pair_waits_for_somebody_to_confirm_it)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t h = rig_holder_of_cut(&rig, 2, 2);
    struct edit_values values = {2, h, .holder_size = 2,
                                 .edge_offset_um = rig_holder(&rig, 2, h)->edge_offset_um + 100};
    ck_assert_int_eq(rig_edit(&rig, unproving[_i], values), KR_OK);
    ck_assert_int_eq(edge(&rig, 2, h), KR_EDGE_UNPROVEN);
    rig_set_up_again(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    h = rig_holder_of_cut(&rig, 2, 2); /* of three that are alike the same one cuts */
    ck_assert_uint_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, 2).item, h);
    ck_assert_uint_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, 1).code, 0);
    ck_assert_int_eq(edit(&rig, KR_EDIT_FEELER, 2, h), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    ck_assert_uint_eq(rig.book.holder[1][h - 1].edge, KR_EDGE_FEELER);
    rig_end(&rig);
}
END_TEST

START_TEST(a_confirmed_edge_is_confirmed_still_after_a_restart)
{
    struct rig rig;
    begin_proven(&rig);
    rig_restart(&rig);
    for (uint16_t h = 1; h <= SMALL_HOLDERS; h++)
        ck_assert_int_eq(edge(&rig, 1, h), KR_EDGE_BENCH);
    rig_set_up_again(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    rig_end(&rig);
}
END_TEST

START_TEST(a_confirmation_counts_when_it_is_stored_and_not_before_and_not_when_it_is_withdrawn)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 1, 0), KR_OK);
    rig_set_up_small(&rig);
    rig.book_cycles = 20;
    rig_edit_hand_over(&rig, KR_EDIT_BENCH, ++rig.edit_number, (struct edit_values){.rail = 2});
    while (rig.out.edit_busy) {
        ck_assert_int_eq(edge(&rig, 2, 1), KR_EDGE_UNPROVEN);
        ck_assert_uint_eq(rig_line_status(&rig), 0);
        rig_cycle(&rig);
    }
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    rig.book_failures = 1;
    struct edit_values values = {2, 1, .edge_offset_um = rig_holder(&rig, 2, 1)->edge_offset_um};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, values), KR_NOT_STORED);
    rig_run_ms(&rig, 1000);
    ck_assert_int_eq(edge(&rig, 2, 1), KR_EDGE_BENCH); /* it was never edited */
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, values), KR_OK);
    rig.book_failures = 1;
    ck_assert_int_eq(edit(&rig, KR_EDIT_FEELER, 2, 1), KR_NOT_STORED);
    rig_run_ms(&rig, 1000);
    ck_assert_int_eq(edge(&rig, 2, 1), KR_EDGE_UNPROVEN);
    ck_assert_uint_eq(rig.book.holder[1][0].edge, KR_EDGE_UNPROVEN);
    rig_end(&rig);
}
END_TEST

/* ---- test cuts ------------------------------------------------------------------------------------------------- */

/* One strip is off, one was not measured (0: all were). stated: of the pairs. */
static enum kr_code enter(struct rig *rig, int32_t off_um, uint16_t unmeasured, uint16_t stated)
{
    int32_t width_um[N_SLITS];
    for (uint16_t i = 0; i < N_SLITS; i++)
        width_um[i] = i + 1 == unmeasured ? 0 : slit_um[i];
    width_um[0] += off_um;
    return rig_test_cut_stating(rig, KR_EDIT_TEST_CUT, width_um, N_SLITS, stated);
}

static enum kr_code strips(struct rig *rig, int32_t off_um, uint16_t unmeasured)
{
    return enter(rig, off_um, unmeasured, 0);
}

/* With the statement that a person has looked at each pair. */
static enum kr_code strips_and_pairs(struct rig *rig, int32_t off_um, uint16_t unmeasured)
{
    return enter(rig, off_um, unmeasured, (uint16_t)(rig->edit_number + 1));
}

/* The upper and the lower edges of all cuts, in the order in force. */
static void edges_are(const struct rig *rig, enum kr_edge upper, enum kr_edge lower)
{
    for (uint16_t cut = 1; cut <= N_SLITS + 1; cut++) {
        ck_assert_int_eq(edge(rig, 1, rig_holder_of_cut(rig, 1, cut)), upper);
        ck_assert_int_eq(edge(rig, 2, rig_holder_of_cut(rig, 2, cut)), lower);
    }
}

/* The web is parted at the lower edges: strips are as wide as ordered wherever an upper blade lands. */
START_TEST(strips_alone_do_not_prove_an_upper_edge)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    rig_break(&rig, 0, SIM_BLADE_OFF, (uint16_t)(rig_holder_of_cut(&rig, 1, 2) - 1), -3000);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    ck_assert_int_eq(strips(&rig, 0, 0), KR_OK);
    edges_are(&rig, KR_EDGE_UNPROVEN, KR_EDGE_TEST_CUT);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDGES_ON_TRIAL, 0, 0), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PROPOSAL_PAIRS, 0, 0), 0);
    ck_assert_int_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, 1).value, N_SLITS + 1);
    ck_assert_uint_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, 2).code, 0);
    rig_end(&rig);
}
END_TEST

/* After strips alone: who has looked since, says so with the same strips, after another trial; or measures them. */
START_TEST(upper_edges_that_strips_left_are_proven_by_who_looks_or_measures)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    ck_assert_int_eq(strips(&rig, 0, 0), KR_OK);
    ck_assert_int_eq(strips_and_pairs(&rig, 0, 0), KR_OK); /* nothing is on trial any more */
    edges_are(&rig, KR_EDGE_UNPROVEN, KR_EDGE_TEST_CUT);
    if (_i == 0) {
        ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
        ck_assert_uint_eq(rig_line_status(&rig), ON_TRIAL);
        ck_assert_int_eq(strips_and_pairs(&rig, 0, 0), KR_OK);
    } else {
        ck_assert_int_eq(edit(&rig, _i == 1 ? KR_EDIT_BENCH : KR_EDIT_FEELER, 1, 0), KR_OK);
    }
    static const enum kr_edge proof[] = {KR_EDGE_TEST_CUT, KR_EDGE_BENCH, KR_EDGE_FEELER};
    edges_are(&rig, proof[_i], KR_EDGE_TEST_CUT);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    rig_end(&rig);
}
END_TEST

/* The register still has what the request before wrote; or 1, which is no statement. */
START_TEST(what_an_earlier_request_stated_counts_for_nothing)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    ck_assert_int_eq(strips_and_pairs(&rig, 0, 3), KR_OK); /* cuts 3 and 4 stay on trial */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PROPOSAL_PAIRS, 0, 0), 1);
    ck_assert_int_eq(enter(&rig, 0, 0, _i ? 1 : rig.edit_number), KR_OK);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PROPOSAL_PAIRS, 0, 0), 0);
    for (uint16_t cut = 1; cut <= N_SLITS + 1; cut++) {
        ck_assert_int_eq(edge(&rig, 2, rig_holder_of_cut(&rig, 2, cut)), KR_EDGE_TEST_CUT);
        ck_assert_int_eq(edge(&rig, 1, rig_holder_of_cut(&rig, 1, cut)),
                         cut <= 2 ? KR_EDGE_TEST_CUT : KR_EDGE_UNPROVEN);
    }
    rig_end(&rig);
}
END_TEST

/* A client that alternates between two numbers comes back to the first one: the register may still have it. _i: the
 * request between has left the register as it was, or has written 0 into it. */
START_TEST(a_number_that_comes_back_states_nothing_by_what_the_register_still_has)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    ck_assert_int_eq(strips_and_pairs(&rig, 0, 3), KR_OK); /* cuts 3 and 4 stay on trial */
    uint16_t first = rig.edit_number;
    ck_assert_int_eq(enter(&rig, 0, 3, _i == 0 ? first : 0), KR_OK);
    rig.edit_number = (uint16_t)(first - 1);
    ck_assert_int_eq(enter(&rig, 0, 0, first), KR_OK);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_PROPOSAL_PAIRS, 0, 0), _i);
    for (uint16_t cut = 1; cut <= N_SLITS + 1; cut++) {
        ck_assert_int_eq(edge(&rig, 2, rig_holder_of_cut(&rig, 2, cut)), KR_EDGE_TEST_CUT);
        ck_assert_int_eq(edge(&rig, 1, rig_holder_of_cut(&rig, 1, cut)),
                         cut <= 2 || _i == 1 ? KR_EDGE_TEST_CUT : KR_EDGE_UNPROVEN);
    }
    rig_end(&rig);
}
END_TEST

START_TEST(a_test_cut_within_tolerance_proves_what_may_be_lowered_for_it)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(strips_and_pairs(&rig, 0, 0),
                     KR_OK); /* nothing may be lowered: whose strips they are nobody knows */
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 2, 0), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), ON_TRIAL); /* the line runs for that cut alone */
    for (uint16_t cut = 1; cut <= N_SLITS + 1; cut++)
        for (uint16_t rail = 1; rail <= 2; rail++)
            ck_assert(may_be_lowered(&rig, rail, rig_holder_of_cut(&rig, rail, cut)));
    ck_assert_int_eq(strips_and_pairs(&rig, rig.config.slit_tolerance_um, 0), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    edges_are(&rig, KR_EDGE_TEST_CUT, KR_EDGE_TEST_CUT);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(one_pair_on_trial_leaves_what_is_proven_and_does_not_free_the_others)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t left = rig_holder_of_cut(&rig, 1, 1), right = rig_holder_of_cut(&rig, 2, 4);
    struct edit_values values = {1, left, .edge_offset_um = rig_holder(&rig, 1, left)->edge_offset_um};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, values), KR_OK);
    values = (struct edit_values){2, right, .edge_offset_um = rig_holder(&rig, 2, right)->edge_offset_um};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, values), KR_OK);
    rig_set_up_again(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 2, rig_holder_of_cut(&rig, 2, 1)), KR_OK); /* its partner */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDGES_ON_TRIAL, 0, 0), 1u << (left - 1));
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 2, right), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), ON_TRIAL);
    ck_assert_int_eq(edge(&rig, 2, rig_holder_of_cut(&rig, 2, 1)), KR_EDGE_BENCH);
    rig_end(&rig);
}
END_TEST

START_TEST(a_strip_that_is_off_ends_the_trial_of_both_its_cuts_without_proof)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    ck_assert_int_eq(strips_and_pairs(&rig, rig.config.slit_tolerance_um + 1, 0), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    for (uint16_t cut = 1; cut <= N_SLITS + 1; cut++)
        ck_assert_int_eq(edge(&rig, 2, rig_holder_of_cut(&rig, 2, cut)),
                         cut <= 2 ? KR_EDGE_UNPROVEN : KR_EDGE_TEST_CUT);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDGES_ON_TRIAL, 0, 0), 0);
    ck_assert_int_eq(named(&rig, KR_ALARM_EDGE_UNPROVEN, 1).value, 2);
    rig_end(&rig);
}
END_TEST

START_TEST(a_cut_beside_a_strip_that_was_not_measured_stays_on_trial)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    ck_assert_int_eq(strips_and_pairs(&rig, 0, 3), KR_OK);
    ck_assert_uint_eq(rig_line_status(&rig), ON_TRIAL);
    for (uint16_t cut = 1; cut <= N_SLITS + 1; cut++)
        ck_assert_int_eq(edge(&rig, 1, rig_holder_of_cut(&rig, 1, cut)),
                         cut <= 2 ? KR_EDGE_TEST_CUT : KR_EDGE_UNPROVEN);
    rig_end(&rig);
}
END_TEST

START_TEST(offsets_that_a_test_cut_gave_are_not_proven_by_it)
{
    struct rig rig;
    begin_proven(&rig);
    ck_assert_int_eq(strips(&rig, 200, 0), KR_OK);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_APPLY, (struct edit_values){0}), KR_OK);
    uint16_t changed = 0;
    for (uint16_t h = 1; h <= SMALL_HOLDERS; h++)
        changed = (uint16_t)(changed + (edge(&rig, 2, h) == KR_EDGE_UNPROVEN));
    ck_assert_uint_ge(changed, 2);
    rig_set_up_again(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    rig_end(&rig);
}
END_TEST

/* The strips were cut by the knives that were placed, not by those that a job under way is about to place: an upper
 * holder was taken off, so that its neighbours make other cuts. The first strip is off. */
START_TEST(strips_prove_no_knife_that_has_another_cut_since)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    uint16_t was_off = rig_holder_of_cut(&rig, 1, 2), taken_off = rig_holder_of_cut(&rig, 1, 3);
    ck_assert_int_eq(edit(&rig, KR_EDIT_ABSENT, 1, taken_off), KR_OK);
    rig_break(&rig, 0, SIM_FLAG_MISSING, (uint16_t)(taken_off - 1), 0);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_command_start_order(&rig, KR_JOB_CHANGEOVER, 1), KR_OK);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    ck_assert_uint_eq(rig_cut_of(&rig, 1, was_off), 3);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_HOLD, 0), KR_OK);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(strips_and_pairs(&rig, rig.config.slit_tolerance_um + 1, 0), KR_OK);
    ck_assert_int_eq(edge(&rig, 1, was_off), KR_EDGE_UNPROVEN);
    rig_end(&rig);
}
END_TEST

static void strips_are(const struct kr_test_cut *told, uint32_t number, bool looked_at)
{
    ck_assert_uint_eq(told->number, number);
    ck_assert_uint_eq(told->order_number, 1);
    ck_assert_uint_eq(told->rail, 2);
    ck_assert_uint_eq(told->n_strips, N_SLITS);
    ck_assert_int_eq(told->pairs_looked_at, looked_at);
    for (uint16_t i = 0; i < N_SLITS; i++)
        ck_assert_int_eq(told->strip[i].ordered_nm, 1000LL * slit_um[i]);
}

/* Each strip names the edges at both of its sides that were proven. */
START_TEST(strips_are_stored_with_what_they_have_proven)
{
    struct rig rig;
    const struct kr_test_cut *told = &rig.book.test_cut;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    ck_assert_int_eq(strips(&rig, 50, 3), KR_OK);
    strips_are(told, 1, false);
    ck_assert_int_eq(told->strip[0].measured_nm, 1000LL * (slit_um[0] + 50));
    ck_assert_int_eq(told->strip[2].measured_nm, 0);
    for (uint16_t i = 0; i < N_SLITS; i++)
        for (uint16_t side = 0; side < 2; side++) {
            uint16_t cut = (uint16_t)(i + 1 + side);
            ck_assert_uint_eq(told->strip[i].proven[side][0], 0);
            ck_assert_uint_eq(told->strip[i].proven[side][1], cut <= 2 ? rig_holder_of_cut(&rig, 2, cut) : 0);
        }
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    rig.book_failures = 1;
    ck_assert_int_eq(strips_and_pairs(&rig, 0, 0), KR_NOT_STORED);
    rig_run_ms(&rig, 1000);
    ck_assert_uint_eq(told->number, 0); /* it is in the book of nobody */
    ck_assert_int_eq(strips_and_pairs(&rig, 0, 0), KR_OK);
    strips_are(told, 3, true);
    for (uint16_t i = 0; i < N_SLITS; i++)
        for (uint16_t side = 0; side < 2; side++) {
            uint16_t cut = (uint16_t)(i + 1 + side);
            ck_assert_uint_eq(told->strip[i].proven[side][0], rig_holder_of_cut(&rig, 1, cut));
            ck_assert_uint_eq(told->strip[i].proven[side][1], cut <= 2 ? 0 : rig_holder_of_cut(&rig, 2, cut));
        }
    rig_end(&rig);
}
END_TEST

START_TEST(a_trial_ends_with_a_restart_and_with_another_order)
{
    struct rig rig;
    begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    rig_set_up_again(&rig); /* the same order: its strips are still to come */
    ck_assert_uint_eq(rig_line_status(&rig), ON_TRIAL);
    rig_stage(&rig, 2);
    rig_set_up_again(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 0), KR_OK);
    rig_restart(&rig);
    rig_set_up_again(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(what_cannot_be_confirmed_or_tried_is_refused_with_its_reason)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 3, 0), KR_UNKNOWN_RAIL);
    ck_assert_int_eq(edit(&rig, KR_EDIT_FEELER, 1, SMALL_HOLDERS + 1), KR_UNKNOWN_HOLDER);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, 1), KR_NOT_PLACED);
    rig_set_up_small(&rig);
    uint16_t idle = rig_holder_of_cut(&rig, 1, 0);
    ck_assert_int_eq(edit(&rig, KR_EDIT_TRIAL, 1, idle), KR_NOT_CUTTING);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_ITEM, 0, 0), idle);
    rig_to_idle(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 1, 0), KR_NOT_IN_THIS_STATE);
    rig_end(&rig);
}
END_TEST

/* ---- a crash --------------------------------------------------------------------------------------------------- */

static void crash(struct rig *rig, uint16_t what, uint16_t cut)
{
    rig->in.crash = what;
    rig->in.crash_cut = cut;
    rig_cycle(rig);
}

START_TEST(a_crash_takes_verified_away_and_names_the_knife_and_its_partner)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t upper = rig_holder_of_cut(&rig, 1, 2), lower = rig_holder_of_cut(&rig, 2, 2);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 2);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert_uint_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 1).item, upper);
    ck_assert_uint_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 2).item, lower);
    ck_assert_int_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 1).value, 1);
    for (uint16_t h = 1; h <= SMALL_HOLDERS; h++) {
        ck_assert_int_eq(edge(&rig, 1, h), h == upper ? KR_EDGE_STRUCK : KR_EDGE_BENCH);
        ck_assert_int_le(rig_known(&rig, 0, (uint16_t)(h - 1)), KR_REMEMBERED); /* a scan is due */
    }
    crash(&rig, 0, 0);
    rig_run_ms(&rig, 1000);
    ck_assert_uint_eq(rig.book.holder[0][upper - 1].edge, KR_EDGE_STRUCK);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_ALARM_STANDS);
    ck_assert_int_eq(rig_answer_value(&rig), KR_ALARM_KNIFE_STRUCK);

    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 1, 0), KR_LOOK_FIRST); /* a whole rail is not the one knife */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_EDITED_ITEM, 0, 0), upper);
    ck_assert_int_eq(edit(&rig, KR_EDIT_FEELER, 1, upper), KR_OK);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_ALARM_STANDS);
    ck_assert_int_eq(edit(&rig, KR_EDIT_FEELER, 2, lower), KR_OK);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    rig_set_up_again(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    rig_end(&rig);
}
END_TEST

START_TEST(nothing_is_confirmed_while_the_crash_stands_and_a_new_bit_is_a_new_crash)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t upper = rig_holder_of_cut(&rig, 1, 2), lower = rig_holder_of_cut(&rig, 2, 2);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 2);
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 1, upper), KR_CRASH_STANDS);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_EDITED_VALUE, 0, 0), KR_CRASH_KNIFE_BROKEN);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 0); /* the PLC clears one register after the other */
    crash(&rig, 0, 0);
    ck_assert_int_eq(edge(&rig, 1, rig_holder_of_cut(&rig, 1, 3)), KR_EDGE_BENCH);
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 1, upper), KR_OK);
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 2, lower), KR_OK);
    crash(&rig, KR_CRASH_WEB_WRAPPED, 0); /* nobody knows whose knives: all that cut */
    for (uint16_t rail = 1; rail <= 2; rail++)
        for (uint16_t h = 1; h <= SMALL_HOLDERS; h++)
            ck_assert_int_eq(edge(&rig, rail, h), rig_cut_of(&rig, rail, h) ? KR_EDGE_STRUCK : KR_EDGE_BENCH);
    ck_assert_int_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 2).value, N_SLITS + 1);
    rig_end(&rig);
}
END_TEST

START_TEST(a_struck_holder_out_of_service_is_in_nobodys_way_and_back_in_service_it_is)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t upper = rig_holder_of_cut(&rig, 1, 2), lower = rig_holder_of_cut(&rig, 2, 2);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 2);
    crash(&rig, 0, 0);
    ck_assert_int_eq(edit(&rig, KR_EDIT_OUT, 1, upper), KR_OK);
    ck_assert_int_eq(edit(&rig, KR_EDIT_FEELER, 2, lower), KR_OK);
    rig_to_idle(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_set_up_again(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    ck_assert_int_eq(edit(&rig, KR_EDIT_IN, 1, upper), KR_OK);
    ck_assert_uint_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 1).item, upper);
    struct edit_values values = {1, upper, .edge_offset_um = rig_holder(&rig, 1, upper)->edge_offset_um,
                                 .holder_size = 2};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SWAP, values), KR_OK);
    ck_assert_int_eq(edge(&rig, 1, upper), KR_EDGE_UNPROVEN);
    ck_assert_uint_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 1).code, 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_crash_outlives_a_restart_and_is_not_another_one_when_the_plc_shows_it_still)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t upper = rig_holder_of_cut(&rig, 1, 2);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 2);
    rig_run_ms(&rig, 1000);
    rig_restart(&rig);
    rig_cycle(&rig);
    ck_assert_uint_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 1).item, upper);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 2);
    ck_assert_int_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 1).value, 1);
    ck_assert_int_eq(edge(&rig, 1, rig_holder_of_cut(&rig, 1, 0)), KR_EDGE_BENCH);
    rig_end(&rig);
}
END_TEST

START_TEST(a_crash_that_nobody_can_place_after_a_restart_is_every_knife_s)
{
    struct rig rig;
    begin_proven(&rig);
    rig_restart(&rig);
    rig_to_idle(&rig);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 2);
    for (uint16_t h = 1; h <= SMALL_HOLDERS; h++)
        ck_assert_int_eq(edge(&rig, 1, h), KR_EDGE_STRUCK);
    rig_end(&rig);
}
END_TEST

START_TEST(a_crash_in_the_middle_of_a_job_holds_it)
{
    struct rig rig;
    begin_proven(&rig);
    rig_to_idle(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_until_phase(&rig, KR_PHASE_VERIFY);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 0);
    crash(&rig, 0, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_UNHOLD, 0), KR_OK);
    rig_until_state(&rig, KR_STATE_HELD); /* the knives have not been looked at */
    rig_end(&rig);
}
END_TEST

/* _i: an offset was typed, or the proposal of a test cut was applied. The book fails before it has stored that. */
START_TEST(a_knife_that_is_struck_while_a_request_is_stored_stays_struck_when_the_request_is_withdrawn)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t h = rig_holder_of_cut(&rig, 2, 2);
    struct edit_values values = {2, h, .edge_offset_um = rig_holder(&rig, 2, h)->edge_offset_um + 100};
    ck_assert_int_eq(strips(&rig, 200, 0), KR_OK);
    rig.book_cycles = 20;
    rig.book_failures = 1;
    rig_edit_hand_over(&rig, _i ? KR_EDIT_APPLY : KR_EDIT_OFFSET, ++rig.edit_number, values);
    rig_cycle(&rig);
    ck_assert(rig.out.edit_busy);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 2);
    crash(&rig, 0, 0);
    while (rig.out.edit_busy)
        rig_cycle(&rig);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_EDITED_CODE, 0, 0), KR_NOT_STORED);
    ck_assert_int_eq(rig_holder(&rig, 2, h)->edge_offset_um, values.edge_offset_um - 100);
    rig_run_ms(&rig, 1000);
    ck_assert_int_eq(edge(&rig, 2, h), KR_EDGE_STRUCK);
    ck_assert_uint_eq(rig.book.holder[1][h - 1].edge, KR_EDGE_STRUCK);
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 2, 0), KR_LOOK_FIRST);
    rig_end(&rig);
}
END_TEST

START_TEST(applied_offsets_are_no_look_at_a_struck_knife)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t h = rig_holder_of_cut(&rig, 2, 1);
    ck_assert_int_eq(strips(&rig, 200, 0), KR_OK);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 1);
    crash(&rig, 0, 0);
    int32_t was_um = rig_holder(&rig, 2, h)->edge_offset_um;
    ck_assert_int_eq(edit(&rig, KR_EDIT_APPLY, 0, 0), KR_OK);
    ck_assert_int_ne(rig_holder(&rig, 2, h)->edge_offset_um, was_um);
    ck_assert_int_eq(edge(&rig, 2, h), KR_EDGE_STRUCK);
    ck_assert_int_eq(edit(&rig, KR_EDIT_BENCH, 2, 0), KR_LOOK_FIRST);
    ck_assert_uint_eq(named(&rig, KR_ALARM_KNIFE_STRUCK, 2).item, h);
    rig_end(&rig);
}
END_TEST

/* The plan is outdated, so that nobody knows which knives cut; and the first knife was not looked at yet. */
START_TEST(a_second_crash_strikes_although_a_knife_of_the_first_one_is_still_to_be_looked_at)
{
    struct rig rig;
    begin_proven(&rig);
    uint16_t h = rig_holder_of_cut(&rig, 2, 3), first = rig_holder_of_cut(&rig, 2, 2);
    crash(&rig, KR_CRASH_KNIFE_BROKEN, 2);
    crash(&rig, 0, 0);
    struct edit_values values = {2, h, .edge_offset_um = rig_holder(&rig, 2, h)->edge_offset_um + 100};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_OFFSET, values), KR_OK);
    ck_assert_int_eq(edge(&rig, 2, first), KR_EDGE_STRUCK);
    crash(&rig, KR_CRASH_WEB_WRAPPED, 0);
    for (uint16_t rail = 1; rail <= 2; rail++)
        for (uint16_t i = 1; i <= SMALL_HOLDERS; i++)
            ck_assert_int_eq(edge(&rig, rail, i), KR_EDGE_STRUCK);
    rig_end(&rig);
}
END_TEST

/* ---- the order in force once more ------------------------------------------------------------------------------ */

static void stage_wide(struct rig *rig)
{
    static const int32_t wide_um[] = {170 * MM, 120 * MM};
    rig_order(rig, 77, 330 * MM, wide_um, 2);
    ck_assert_int_eq(rig_request(rig, KR_REQUEST_STAGE), KR_OK);
}

/* The moves of setting up order 1 again after one of its holders has broken; another order may be staged. */
static uint16_t moves_again(bool with_staged, uint16_t *idle_moved)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig_begin(&rig);
    rig_set_up_small(&rig);
    if (with_staged)
        stage_wide(&rig);
    uint16_t broken = rig_holder_of_cut(&rig, 1, 4);
    ck_assert_int_eq(edit(&rig, KR_EDIT_OUT, 1, broken), KR_OK);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_command_start_order(&rig, KR_JOB_CHANGEOVER, 1), KR_OK);
    rig_ends_verified(&rig);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ORDER_IN_FORCE, 0, 0), 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ORDER_STAGED, 0, 0), with_staged ? 77 : 0);
    uint16_t moves = rig_record_moves(&rig);
    *idle_moved = rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 1); /* of the other rail, where nothing broke */
    rig_end(&rig);
    return moves;
}

START_TEST(the_order_in_force_is_set_up_again_with_the_fewest_moves_whatever_is_staged)
{
    uint16_t alone_idle, beside_idle;
    uint16_t alone = moves_again(false, &alone_idle), beside = moves_again(true, &beside_idle);
    ck_assert_uint_gt(alone, 0);
    ck_assert_uint_eq(beside, alone);
    ck_assert_uint_eq(alone_idle, 0);
    ck_assert_uint_eq(beside_idle, 0);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("edges");
    TCase *proof = suite_case(suite, "proven or not");
    tcase_add_test(proof, what_a_station_begins_with_is_not_proven_until_each_rail_is_confirmed);
    tcase_add_loop_test(proof, after_an_offset_a_regrind_or_a_swap_the_pair_waits_for_somebody_to_confirm_it, 0, 3);
    tcase_add_test(proof, a_confirmed_edge_is_confirmed_still_after_a_restart);
    tcase_add_test(proof, a_confirmation_counts_when_it_is_stored_and_not_before_and_not_when_it_is_withdrawn);
    TCase *cuts = suite_case(suite, "test cuts");
    tcase_add_test(cuts, strips_alone_do_not_prove_an_upper_edge);
    tcase_add_loop_test(cuts, upper_edges_that_strips_left_are_proven_by_who_looks_or_measures, 0, 3);
    tcase_add_loop_test(cuts, what_an_earlier_request_stated_counts_for_nothing, 0, 2);
    tcase_add_loop_test(cuts, a_number_that_comes_back_states_nothing_by_what_the_register_still_has, 0, 2);
    tcase_add_test(cuts, a_test_cut_within_tolerance_proves_what_may_be_lowered_for_it);
    tcase_add_test(cuts, one_pair_on_trial_leaves_what_is_proven_and_does_not_free_the_others);
    tcase_add_test(cuts, a_strip_that_is_off_ends_the_trial_of_both_its_cuts_without_proof);
    tcase_add_test(cuts, a_cut_beside_a_strip_that_was_not_measured_stays_on_trial);
    tcase_add_test(cuts, offsets_that_a_test_cut_gave_are_not_proven_by_it);
    tcase_add_test(cuts, strips_prove_no_knife_that_has_another_cut_since);
    tcase_add_test(cuts, strips_are_stored_with_what_they_have_proven);
    tcase_add_test(cuts, a_trial_ends_with_a_restart_and_with_another_order);
    tcase_add_test(cuts, what_cannot_be_confirmed_or_tried_is_refused_with_its_reason);
    TCase *crashes = suite_case(suite, "a crash");
    tcase_add_test(crashes, a_crash_takes_verified_away_and_names_the_knife_and_its_partner);
    tcase_add_test(crashes, nothing_is_confirmed_while_the_crash_stands_and_a_new_bit_is_a_new_crash);
    tcase_add_test(crashes, a_struck_holder_out_of_service_is_in_nobodys_way_and_back_in_service_it_is);
    tcase_add_test(crashes, a_crash_outlives_a_restart_and_is_not_another_one_when_the_plc_shows_it_still);
    tcase_add_test(crashes, a_crash_that_nobody_can_place_after_a_restart_is_every_knife_s);
    tcase_add_test(crashes, a_crash_in_the_middle_of_a_job_holds_it);
    tcase_add_loop_test(
        crashes, a_knife_that_is_struck_while_a_request_is_stored_stays_struck_when_the_request_is_withdrawn, 0, 2);
    tcase_add_test(crashes, applied_offsets_are_no_look_at_a_struck_knife);
    tcase_add_test(crashes, a_second_crash_strikes_although_a_knife_of_the_first_one_is_still_to_be_looked_at);
    TCase *again = suite_case(suite, "the order in force once more");
    tcase_add_test(again, the_order_in_force_is_set_up_again_with_the_fewest_moves_whatever_is_staged);
    return suite;
}
