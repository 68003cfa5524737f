/* Tests of the knowledge of one rail, without a station: how it grows and is lost, under which number it is stored, and
 * what a start makes of it; and of the datum and the common clamp, on which it depends. */
#include <stdlib.h>

#include "motion_rig.h"
#include "suite.h"

/* ---- what is known --------------------------------------------------------------------------------------------- */

static bool doubt(struct motion_rig *rig, enum kr_known at_most)
{
    struct kr_motion_in in = motion_rig_in(rig);
    kr_motion_doubt(&rig->motion, &in, at_most);
    return motion_rig_after(rig, NULL);
}

static bool tell(struct motion_rig *rig, uint16_t holder, int32_t position_um, enum kr_known at_most)
{
    struct kr_motion_in in = motion_rig_in(rig);
    kr_motion_told(&rig->motion, &in, holder, position_um, at_most);
    return motion_rig_after(rig, NULL);
}

/* Holder 1 unknown, 2 remembered, 3 placed, 4 and 5 measured. */
static void begin_with_all_kinds(struct motion_rig *rig)
{
    motion_rig_begin(rig);
    motion_rig_do(rig, KR_TASK_SCAN);
    motion_rig_add_move(rig, 3, 331 * MM);
    motion_rig_do(rig, KR_TASK_MOVES);
    tell(rig, 1, 100 * MM, KR_UNKNOWN);
    tell(rig, 2, 200 * MM, KR_REMEMBERED);
}

static const enum kr_known all_kinds[] = {KR_UNKNOWN, KR_REMEMBERED, KR_PLACED, KR_MEASURED, KR_MEASURED};

/* _i: at most so much. */
START_TEST(doubt_lowers_what_is_known_and_never_raises_it)
{
    struct motion_rig rig;
    enum kr_known at_most = (enum kr_known)_i;
    begin_with_all_kinds(&rig);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        ck_assert_int_eq(motion_rig_known(&rig, h), all_kinds[h - 1]);
    ck_assert_int_eq(doubt(&rig, at_most), at_most < KR_MEASURED);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        ck_assert_int_eq(motion_rig_known(&rig, h), all_kinds[h - 1] < at_most ? all_kinds[h - 1] : at_most);
}
END_TEST

START_TEST(a_generation_names_the_change_and_stays_where_nothing_changes)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_run_ms(&rig, 100); /* where the carriage rests has become known */
    uint32_t before = kr_motion_knowledge(&rig.motion)->generation;
    ck_assert(!doubt(&rig, KR_MEASURED));
    motion_rig_run_ms(&rig, 1000);
    ck_assert_uint_eq(kr_motion_knowledge(&rig.motion)->generation, before);
    rig.change += 1000; /* others store as well: the numbers need not follow one another */
    ck_assert(doubt(&rig, KR_UNKNOWN));
    ck_assert_uint_eq(kr_motion_knowledge(&rig.motion)->generation, before + 1001);
}
END_TEST

/* The rig looks at the generation after every call of the story. */
START_TEST(numbers_of_changes_may_wrap_in_the_middle_of_the_moves)
{
    struct motion_rig rig;
    motion_rig_defaults(&rig);
    rig.known.generation = UINT32_MAX - (uint32_t)_i;
    motion_rig_start(&rig);
    motion_rig_three_moves(&rig);
    motion_rig_do(&rig, KR_TASK_MOVES);
    motion_rig_expect_moves_made(&rig);
    ck_assert_uint_lt(kr_motion_knowledge(&rig.motion)->generation, 100);
}
END_TEST

START_TEST(what_a_person_tells_is_remembered_at_the_best)
{
    for (int how = KR_UNKNOWN; how <= KR_MEASURED; how++) {
        struct motion_rig rig;
        begin_with_all_kinds(&rig);
        tell(&rig, 4, 402 * MM, (enum kr_known)how);
        ck_assert_int_eq(motion_rig_known(&rig, 4), how == KR_UNKNOWN ? KR_UNKNOWN : KR_REMEMBERED);
        ck_assert_int_eq(motion_rig_place_um(&rig, 4), 402 * MM);
        ck_assert_int_eq(motion_rig_known(&rig, 5), KR_MEASURED);
    }
}
END_TEST

START_TEST(a_start_takes_what_was_measured_or_placed_for_remembered)
{
    struct motion_rig rig;
    motion_rig_defaults(&rig);
    for (int i = 0; i < MOTION_RIG_HOLDERS; i++)
        rig.known.place[i].known = (uint8_t)all_kinds[i];
    rig.known.datum_doubted = true;
    motion_rig_start(&rig);
    ck_assert_int_eq(motion_rig_known(&rig, 1), KR_UNKNOWN);
    for (uint16_t h = 2; h <= MOTION_RIG_HOLDERS; h++)
        ck_assert_int_eq(motion_rig_known(&rig, h), KR_REMEMBERED);
    ck_assert(kr_motion_knowledge(&rig.motion)->datum_doubted);
    ck_assert_int_eq(kr_motion_phase(&rig.motion), KR_CARRIAGE_OFF);
}
END_TEST

START_TEST(a_start_takes_the_holder_that_was_being_docked_for_unknown_and_the_pin_for_in_it)
{
    struct motion_rig rig;
    motion_rig_defaults(&rig);
    rig.known.docking = 2;
    motion_rig_start(&rig);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        ck_assert_int_eq(motion_rig_known(&rig, h), h == 2 ? KR_UNKNOWN : KR_REMEMBERED);
    ck_assert_uint_eq(kr_motion_docked(&rig.motion), 2);
    rig.mode = KR_MOTION_STOP; /* at rest, the pin shows that it is out */
    motion_rig_run_ms(&rig, 100);
    ck_assert_uint_eq(kr_motion_docked(&rig.motion), 0);
    ck_assert_int_eq(motion_rig_known(&rig, 2), KR_UNKNOWN);
}
END_TEST

START_TEST(a_start_after_an_open_clamp_takes_all_holders_for_unknown)
{
    struct motion_rig rig;
    motion_rig_defaults(&rig);
    rig.known.clamp_open = true;
    motion_rig_start(&rig);
    motion_rig_expect_all(&rig, KR_UNKNOWN);
    ck_assert(!kr_motion_knowledge(&rig.motion)->clamp_open);
}
END_TEST

START_TEST(changed_settings_leave_places_remembered_and_have_flags_measured_anew)
{
    struct motion_rig rig;
    begin_with_all_kinds(&rig);
    ck_assert_int_ne(kr_motion_knowledge(&rig.motion)->place[3].flag_width_um, 0);
    struct kr_motion_in in = motion_rig_in(&rig);
    kr_motion_geometry_changed(&rig.motion, &in);
    ck_assert(motion_rig_after(&rig, NULL));
    ck_assert_int_eq(motion_rig_known(&rig, 1), KR_UNKNOWN);
    for (uint16_t h = 2; h <= MOTION_RIG_HOLDERS; h++)
        ck_assert_int_eq(motion_rig_known(&rig, h), KR_REMEMBERED);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        ck_assert_int_eq(kr_motion_knowledge(&rig.motion)->place[h - 1].flag_width_um, 0);
}
END_TEST

START_TEST(places_changed_counts_what_the_rail_finds_out_itself_and_not_what_it_is_told)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    uint16_t before = kr_motion_knowledge(&rig.motion)->places_changed;
    tell(&rig, 2, 201 * MM, KR_REMEMBERED);
    ck_assert_uint_eq(kr_motion_knowledge(&rig.motion)->places_changed, before);
    doubt(&rig, KR_UNKNOWN);
    ck_assert_uint_eq(kr_motion_knowledge(&rig.motion)->places_changed, before + MOTION_RIG_HOLDERS);
}
END_TEST

/* ---- the datum ------------------------------------------------------------------------------------------------- */

static bool has_datum(const struct motion_rig *rig)
{
    return kr_motion_has_datum(&rig->motion, &rig->carriage, rig->axis_in);
}

static void begin_with_a_doubted_datum(struct motion_rig *rig)
{
    motion_rig_begin(rig);
    motion_rig_run_ms(rig, 100);
    ck_assert(has_datum(rig));
    motion_rig_break(rig, SIM_POSITION_JUMP, 0, 50 * MM);
    motion_rig_run_ms(rig, 100);
    ck_assert_uint_eq(motion_rig_alarms(rig), 1);
    ck_assert_uint_eq(motion_rig_first_alarm(rig)->code, KR_ALARM_POSITION_JUMPED);
    motion_rig_expect_all(rig, KR_UNKNOWN);
    ck_assert(rig->axis_in[0].referenced); /* the drive itself has no doubt */
    ck_assert(!has_datum(rig));
    motion_rig_forget_events(rig);
}

/* Questions that are 0 to 40 ms on their way. */
static void on_their_way(struct motion_rig *rig)
{
    static const int32_t late_ms[] = {0, 15, 40, 3, 28, 40, 0, 0, 37, 22};
    int32_t ms = late_ms[rig->now_us / 1000 / MOTION_RIG_PERIOD_MS % 10];
    rig->axis_in[0].age_ms = ms;
    rig->axis_in[0].span_us = 1000 * ms;
}

static const struct {
    enum kr_carriage_phase phase; /* OFF: at rest */
    int32_t jump_um;
    bool late;
} jumps[] = {
    {KR_CARRIAGE_OFF, 50 * MM, false},       {KR_CARRIAGE_OFF, -50 * MM, true},
    {KR_CARRIAGE_SCANNING, 300 * MM, false}, {KR_CARRIAGE_SCANNING, -300 * MM, true},
    {KR_CARRIAGE_DRAGGING, 300 * MM, true},  {KR_CARRIAGE_TRAVELLING, 300 * MM, false},
};

/* Neither the way of the jump nor what the carriage does to come to rest is a jump more. */
START_TEST(one_jump_of_the_position_is_told_exactly_once)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_run_ms(&rig, 100);
    if (jumps[_i].phase == KR_CARRIAGE_SCANNING) {
        motion_rig_give(&rig, KR_TASK_SCAN);
    } else if (jumps[_i].phase != KR_CARRIAGE_OFF) {
        motion_rig_do(&rig, KR_TASK_SCAN);
        motion_rig_three_moves(&rig);
        kr_motion_take_back(&rig.motion);
        motion_rig_give(&rig, KR_TASK_MOVES);
    }
    if (jumps[_i].phase != KR_CARRIAGE_OFF)
        motion_rig_until_phase(&rig, jumps[_i].phase, 20000);
    rig.meddle = jumps[_i].late ? on_their_way : NULL;
    motion_rig_run_ms(&rig, 200);
    ck_assert_uint_eq(motion_rig_alarms(&rig), 0);
    motion_rig_break(&rig, SIM_POSITION_JUMP, 0, jumps[_i].jump_um);
    motion_rig_run_ms(&rig, 2000);
    uint16_t told = rig.n_repeated;
    for (uint16_t i = 0; i < rig.n_events; i++)
        told = (uint16_t)(told +
                          (rig.event[i].kind == KR_EVENT_ALARM && rig.event[i].alarm.code == KR_ALARM_POSITION_JUMPED));
    ck_assert_uint_eq(told, 1);
}
END_TEST

START_TEST(with_a_doubted_datum_nothing_but_homing_moves)
{
    struct motion_rig rig;
    begin_with_a_doubted_datum(&rig);
    motion_rig_give(&rig, KR_TASK_SCAN);
    motion_rig_until_phase(&rig, KR_CARRIAGE_STOPPING, 10000);
    ck_assert_uint_eq(motion_rig_first_alarm(&rig)->code, KR_ALARM_REFERENCE_LOST);
    motion_rig_until_rest(&rig, 10000);
    ck_assert_uint_eq(sim_machine_setpoints(&rig.machine, 0), 0);
}
END_TEST

START_TEST(homing_clears_a_doubted_datum_and_a_scan_finds_the_holders_from_the_new_one)
{
    struct motion_rig rig;
    begin_with_a_doubted_datum(&rig);
    motion_rig_do(&rig, KR_TASK_HOME);
    ck_assert(has_datum(&rig));
    ck_assert_int_le(abs(rig.axis_in[0].position_um - sim_machine_carriage_um(&rig.machine, 0)), MOTION_RIG_SCAN_UM);
    motion_rig_do(&rig, KR_TASK_SCAN);
    for (uint16_t h = 1; h <= MOTION_RIG_HOLDERS; h++)
        motion_rig_expect_measured(&rig, h);
    ck_assert_uint_eq(rig.n_events, 0);
}
END_TEST

START_TEST(homing_leaves_what_was_measured_remembered)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_do(&rig, KR_TASK_SCAN);
    motion_rig_do(&rig, KR_TASK_HOME);
    motion_rig_expect_all(&rig, KR_REMEMBERED);
}
END_TEST

START_TEST(homing_that_is_broken_off_leaves_the_datum_doubted_even_after_a_start)
{
    struct motion_rig rig;
    motion_rig_begin(&rig);
    motion_rig_give(&rig, KR_TASK_HOME);
    motion_rig_until_phase(&rig, KR_CARRIAGE_HOMING, 10000);
    motion_rig_run_ms(&rig, 300);
    rig.mode = KR_MOTION_STOP;
    motion_rig_until_rest(&rig, 10000);
    ck_assert(!has_datum(&rig));
    motion_rig_restart(&rig);
    motion_rig_run_ms(&rig, 100);
    ck_assert(kr_motion_knowledge(&rig.motion)->datum_doubted);
    ck_assert(!has_datum(&rig));
}
END_TEST

/* ---- the common clamp ------------------------------------------------------------------------------------------ */

static void begin_clamped(struct motion_rig *rig)
{
    motion_rig_defaults(rig);
    rig->carriage.clamping = KR_CLAMP_COMMON;
    rig->sim_config.rail[0].clamp_common = 1;
    rig->claim_um = 80; /* closing the clamp shifts holders */
    motion_rig_start(rig);
    motion_rig_run_ms(rig, 1000);
    motion_rig_do(rig, KR_TASK_SCAN);
}

static bool wants_clamp_open(const struct motion_rig *rig)
{
    return rig->axis_out[0].outputs & KR_DO_CLAMP_OPEN;
}

static void clamp(struct motion_rig *rig, bool open)
{
    struct kr_motion_in in = motion_rig_in(rig);
    (void)kr_motion_clamp(&rig->motion, &in, open);
    motion_rig_after(rig, NULL);
}

/* A caller that doesn't wait: the note is not there, or not stored. */
START_TEST(a_clamp_does_not_open_before_it_is_stored_that_it_may)
{
    struct motion_rig rig;
    begin_clamped(&rig);
    clamp(&rig, true);
    motion_rig_cycle(&rig);
    ck_assert(!wants_clamp_open(&rig));
    struct kr_motion_in in = motion_rig_in(&rig);
    kr_motion_unclamp_due(&rig.motion, &in);
    (void)motion_rig_after(&rig, NULL);
    while (!rig.book.clamp_open) {
        clamp(&rig, true);
        ck_assert(!rig.motion.clamp_open);
        motion_rig_cycle(&rig);
        ck_assert(!wants_clamp_open(&rig));
    }
    clamp(&rig, true);
    ck_assert(rig.motion.clamp_open);
}
END_TEST

static bool clamp_proven(struct motion_rig *rig)
{
    struct kr_motion_in in = motion_rig_in(rig);
    struct kr_motion_out out = {.n_events = 0};
    bool proven = kr_motion_clamp_proven(&rig->motion, &in, &out);
    motion_rig_after(rig, &out);
    return proven;
}

/* As a caller has to: what is about to be is stored first. */
static void unclamp_due(struct motion_rig *rig)
{
    struct kr_motion_in in = motion_rig_in(rig);
    kr_motion_unclamp_due(&rig->motion, &in);
    ck_assert(motion_rig_after(rig, NULL));
    while (!rig->book.clamp_open) {
        motion_rig_cycle(rig);
        ck_assert(!wants_clamp_open(rig));
    }
}

static void until_clamp_proven(struct motion_rig *rig)
{
    do {
        motion_rig_cycle(rig);
        ck_assert_uint_eq(motion_rig_alarms(rig), 0);
    } while (!clamp_proven(rig));
}

static void unclamp(struct motion_rig *rig)
{
    unclamp_due(rig);
    clamp(rig, true);
    until_clamp_proven(rig);
}

START_TEST(the_common_clamp_opens_after_that_is_stored_and_closes_with_proof)
{
    struct motion_rig rig;
    begin_clamped(&rig);
    unclamp(&rig);
    ck_assert(wants_clamp_open(&rig));
    ck_assert(rig.axis_in[0].inputs & KR_DI_CLAMP_OPEN);
    motion_rig_three_moves(&rig);
    motion_rig_do(&rig, KR_TASK_MOVES);
    clamp(&rig, false);
    until_clamp_proven(&rig);
    struct kr_motion_in in = motion_rig_in(&rig);
    kr_motion_clamped_again(&rig.motion, &in);
    ck_assert(motion_rig_after(&rig, NULL));
    ck_assert(!kr_motion_knowledge(&rig.motion)->clamp_open);
    ck_assert(kr_motion_clamped(&rig.carriage, rig.axis_in));
    motion_rig_expect_all(&rig, KR_PLACED);
    motion_rig_expect_moves_made(&rig);
}
END_TEST

START_TEST(what_the_inputs_showed_before_it_was_wanted_proves_no_clamp)
{
    struct motion_rig rig;
    begin_clamped(&rig);
    ck_assert(kr_motion_clamped(&rig.carriage, rig.axis_in));
    clamp(&rig, false);
    ck_assert(!clamp_proven(&rig));
    until_clamp_proven(&rig);
}
END_TEST

START_TEST(a_start_between_the_storing_and_the_opening_takes_no_holder_for_known)
{
    struct motion_rig rig;
    begin_clamped(&rig);
    unclamp_due(&rig);
    motion_rig_restart(&rig);
    motion_rig_expect_all(&rig, KR_UNKNOWN);
}
END_TEST

/* _i: 0 it does not open, 1 it does not close. */
START_TEST(a_clamp_that_does_not_follow_is_an_alarm_at_its_limit_and_not_before)
{
    struct motion_rig rig;
    begin_clamped(&rig);
    if (_i == 0) {
        unclamp_due(&rig);
        motion_rig_break(&rig, SIM_CLAMP_LOST, 0, 0);
    } else {
        unclamp(&rig);
    }
    clamp(&rig, _i == 0);
    int64_t from_us = rig.now_us;
    do {
        motion_rig_cycle(&rig);
        rig.axis_in[0].inputs &= (uint16_t) ~(KR_DI_CLAMP_OPEN | KR_DI_CLAMP_CLOSED);
        ck_assert(!clamp_proven(&rig));
    } while (motion_rig_alarms(&rig) == 0);
    ck_assert_int_eq((rig.now_us - from_us) / 1000, rig.carriage.clamp_limit_ms);
    ck_assert_uint_eq(motion_rig_first_alarm(&rig)->code,
                      _i == 0 ? KR_ALARM_CLAMP_NOT_OPEN : KR_ALARM_CLAMP_NOT_CLOSED);
}
END_TEST

START_TEST(an_open_clamp_that_closes_by_itself_trips_the_rail)
{
    struct motion_rig rig;
    struct kr_motion_out out = {.n_events = 0};
    begin_clamped(&rig);
    unclamp(&rig);
    motion_rig_three_moves(&rig);
    motion_rig_give(&rig, KR_TASK_MOVES);
    motion_rig_until_phase(&rig, KR_CARRIAGE_TRAVELLING, 10000);
    motion_rig_break(&rig, SIM_CLAMP_LOST, 0, 0);
    motion_rig_cycle(&rig);
    struct kr_motion_in in = motion_rig_in(&rig);
    kr_motion_clamp_watch(&rig.motion, &in, &out);
    motion_rig_after(&rig, &out);
    ck_assert_uint_eq(motion_rig_first_alarm(&rig)->code, KR_ALARM_CLAMP_LOST);
    ck_assert_int_eq(kr_motion_phase(&rig.motion), KR_CARRIAGE_STOPPING);
}
END_TEST

START_TEST(at_rest_nothing_keeps_a_clamp_open_and_what_it_let_go_is_unknown)
{
    struct motion_rig rig;
    begin_clamped(&rig);
    unclamp(&rig);
    rig.mode = KR_MOTION_STOP;
    motion_rig_until_rest(&rig, 10000);
    motion_rig_run_ms(&rig, 1000);
    ck_assert(!wants_clamp_open(&rig));
    ck_assert(rig.axis_in[0].inputs & KR_DI_CLAMP_CLOSED);
    motion_rig_expect_all(&rig, KR_UNKNOWN);
}
END_TEST

static void clamp_seems_open(struct motion_rig *rig)
{
    rig->axis_in[0].inputs &= (uint16_t)~KR_DI_CLAMP_CLOSED;
}

START_TEST(a_clamp_that_opens_by_itself_leaves_remembered_at_rest_and_unknown_in_a_scan)
{
    struct motion_rig rig;
    begin_clamped(&rig);
    rig.meddle = clamp_seems_open;
    motion_rig_cycle(&rig);
    motion_rig_expect_all(&rig, KR_REMEMBERED);
    rig.meddle = NULL;
    motion_rig_give(&rig, KR_TASK_SCAN);
    motion_rig_until_phase(&rig, KR_CARRIAGE_SCANNING, 5000);
    rig.meddle = clamp_seems_open;
    motion_rig_cycle(&rig);
    ck_assert_uint_eq(motion_rig_first_alarm(&rig)->code, KR_ALARM_CLAMP_LOST);
    motion_rig_expect_all(&rig, KR_UNKNOWN);
}
END_TEST

/* ---- the suite ------------------------------------------------------------------------------------------------- */

static void add_knowledge(Suite *suite)
{
    TCase *tc = suite_case(suite, "knowledge");
    tcase_add_loop_test(tc, doubt_lowers_what_is_known_and_never_raises_it, KR_UNKNOWN, KR_MEASURED + 1);
    tcase_add_test(tc, a_generation_names_the_change_and_stays_where_nothing_changes);
    tcase_add_loop_test(tc, numbers_of_changes_may_wrap_in_the_middle_of_the_moves, 0, 6);
    tcase_add_test(tc, what_a_person_tells_is_remembered_at_the_best);
    tcase_add_test(tc, a_start_takes_what_was_measured_or_placed_for_remembered);
    tcase_add_test(tc, a_start_takes_the_holder_that_was_being_docked_for_unknown_and_the_pin_for_in_it);
    tcase_add_test(tc, a_start_after_an_open_clamp_takes_all_holders_for_unknown);
    tcase_add_test(tc, changed_settings_leave_places_remembered_and_have_flags_measured_anew);
    tcase_add_test(tc, places_changed_counts_what_the_rail_finds_out_itself_and_not_what_it_is_told);
}

static void add_datum(Suite *suite)
{
    TCase *tc = suite_case(suite, "datum");
    tcase_add_loop_test(tc, one_jump_of_the_position_is_told_exactly_once, 0, (int)(sizeof jumps / sizeof jumps[0]));
    tcase_add_test(tc, with_a_doubted_datum_nothing_but_homing_moves);
    tcase_add_test(tc, homing_clears_a_doubted_datum_and_a_scan_finds_the_holders_from_the_new_one);
    tcase_add_test(tc, homing_leaves_what_was_measured_remembered);
    tcase_add_test(tc, homing_that_is_broken_off_leaves_the_datum_doubted_even_after_a_start);
}

static void add_clamp(Suite *suite)
{
    TCase *tc = suite_case(suite, "clamp");
    tcase_add_test(tc, the_common_clamp_opens_after_that_is_stored_and_closes_with_proof);
    tcase_add_test(tc, a_clamp_does_not_open_before_it_is_stored_that_it_may);
    tcase_add_test(tc, what_the_inputs_showed_before_it_was_wanted_proves_no_clamp);
    tcase_add_test(tc, a_start_between_the_storing_and_the_opening_takes_no_holder_for_known);
    tcase_add_loop_test(tc, a_clamp_that_does_not_follow_is_an_alarm_at_its_limit_and_not_before, 0, 2);
    tcase_add_test(tc, an_open_clamp_that_closes_by_itself_trips_the_rail);
    tcase_add_test(tc, at_rest_nothing_keeps_a_clamp_open_and_what_it_let_go_is_unknown);
    tcase_add_test(tc, a_clamp_that_opens_by_itself_leaves_remembered_at_rest_and_unknown_in_a_scan);
}

Suite *make_suite(void)
{
    Suite *suite = suite_create("knowledge");
    add_knowledge(suite);
    add_datum(suite);
    add_clamp(suite);
    return suite;
}
