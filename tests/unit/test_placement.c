/* What a changeover leaves behind: the mask of the knives that may be lowered, generations, the record. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "rig.h"

#define ALL 0x1F
#define MAY (KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER)

static void small(struct rig *rig)
{
    rig_small_ordinary(rig, 2);
    rig->config.hard_wired = 0;
    rig_common_clamp(rig, 1);
}

static void placed(struct rig *rig)
{
    small(rig);
    rig_begin(rig);
    rig_start_changeover(rig);
    rig_ends_verified(rig);
}

/* ---- to the line ------------------------------------------------------------------------------------------------------ */

static bool says_nothing(const struct rig *rig)
{
    bool nothing = (rig_line_status(rig) & MAY) == 0;
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t w = 0; w < KR_HOLDERS_MAX / 16; w++)
            nothing = nothing && rig_u16(rig, KR_REG_CUTTING, r, w) == 0;
    return nothing;
}

/* Idle holders inside the web must never be lowered: the mask has those that cut, and no other. */
START_TEST(the_mask_holds_exactly_the_holders_that_cut)
{
    struct rig rig;
    placed(&rig);
    for (uint16_t r = 0; r < 2; r++) {
        unsigned cutting = 0;
        for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++) {
            bool in_mask = rig_u16(&rig, KR_REG_CUTTING, r, i / 16) >> i % 16 & 1;
            ck_assert_int_eq(in_mask, rig_u16(&rig, KR_REG_HOLDER_CUT, r, i) != 0);
            cutting += in_mask;
        }
        ck_assert_uint_eq(cutting, 4); /* three slits, trimmed on both sides; five holders */
    }
    rig_end(&rig);
}
END_TEST

static void clamp_not_closed(struct rig *rig)
{
    rig->in.axis[1].inputs &= (uint16_t)~KR_DI_CLAMP_CLOSED;
}

static void clamp_open_too(struct rig *rig)
{
    rig->in.axis[1].inputs |= KR_DI_CLAMP_OPEN;
}

static void nobody_in_control(struct rig *rig)
{
    rig->in.controlled = false;
}

/* Without its proof a clamp may have been open, and holders shift when it closes. With permissives from the register,
 * nobody in control means that nobody says that the guards are closed. */
START_TEST(what_may_have_let_a_holder_move_at_rest_undoes_the_verification_for_good)
{
    static void (*const doubts[])(struct rig *) = {clamp_not_closed, clamp_open_too, nobody_in_control};
    struct rig rig;
    placed(&rig);
    rig_run_ms(&rig, 500);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    rig.meddle = doubts[_i];
    rig_cycle(&rig);
    ck_assert(says_nothing(&rig));
    rig.meddle = NULL;
    rig.in.controlled = true;
    rig_run_ms(&rig, 2000);
    ck_assert(says_nothing(&rig));
    ck_assert_uint_eq(rig_status(&rig) & (KR_STATUS_VERIFIED | KR_STATUS_SCAN_DUE), KR_STATUS_SCAN_DUE);
    ck_assert_uint_eq(rig_known(&rig, 1, 0), KR_REMEMBERED);
    rig_reset(&rig);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_VERIFY), KR_OK);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), MAY);
    rig_end(&rig);
}
END_TEST

START_TEST(what_was_verified_is_no_longer_so_when_another_order_is_started)
{
    struct rig rig;
    placed(&rig);
    rig_small_order(&rig, 2);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_reset(&rig);
    ck_assert_uint_eq(rig_line_status(&rig), MAY); /* a staged order changes nothing yet */
    rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert(says_nothing(&rig));
    ck_assert(!(rig_status(&rig) & KR_STATUS_VERIFIED));
    rig_end(&rig);
}
END_TEST

/* ---- all clear of the web -------------------------------------------------------------------------------------------------- */

/* Without an order the web may be as wide as the station takes it. */
START_TEST(park_without_an_order_leaves_every_holder_clear_of_the_widest_web)
{
    struct rig rig;
    small(&rig);
    rig.config.geometry.idle_clearance_um = 5 * MM;
    for (uint16_t r = 0; r < 2; r++)
        rig.config.geometry.rail[r].max_um = 700 * MM;
    rig.config.geometry.web_max_nm = 300000000;
    rig_begin(&rig);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_PARK), KR_OK);
    rig_until_state(&rig, KR_STATE_COMPLETE);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < SMALL_HOLDERS; i++)
            ck_assert_int_ge(abs(sim_machine_holder_um(&rig.machine, r, i) - 250 * MM), 155 * MM - 100);
    ck_assert(says_nothing(&rig));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ENDED);
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- generations: an HMI that reads arrays only when they step misses nothing -------------------------------------------------- */

#define N_ORDER_REGISTERS    (2 + 2 * SMALL_HOLDERS * 2 + SMALL_HOLDERS)
#define N_POSITION_REGISTERS (3 * SMALL_HOLDERS * 2)

struct seen {
    uint16_t order_generation, position_generation;
    int32_t order[N_ORDER_REGISTERS], position[N_POSITION_REGISTERS];
};

static void look(const struct rig *rig, struct seen *seen)
{
    int32_t *order = seen->order, *position = seen->position;
    memset(seen, 0, sizeof *seen);
    seen->order_generation = rig_u16(rig, KR_REG_ORDER_GENERATION, 0, 0);
    seen->position_generation = rig_u16(rig, KR_REG_POSITION_GENERATION, 0, 0);
    *order++ = rig_i32(rig, KR_REG_ORDER_IN_FORCE, 0, 0);
    *order++ = rig_u16(rig, KR_REG_CUT_COUNT, 0, 0);
    for (uint16_t i = 0; i < SMALL_HOLDERS; i++) {
        *order++ = rig_i32(rig, KR_REG_CUT_LINE, 0, i);
        for (uint16_t r = 0; r < 2; r++) {
            *order++ = rig_i32(rig, KR_REG_HOLDER_TARGET, r, i);
            *order++ = rig_u16(rig, KR_REG_HOLDER_CUT, r, i);
            *position++ = rig_i32(rig, KR_REG_HOLDER_POSITION, r, i);
            *position++ = rig_known(rig, r, i);
            *position++ = rig_u16(rig, KR_REG_HOLDER_STATE, r, i);
        }
    }
}

static void expect_steps(const struct seen *was, const struct seen *is)
{
    if (memcmp(was->order, is->order, sizeof is->order) != 0)
        ck_assert_uint_ne(was->order_generation, is->order_generation);
    if (memcmp(was->position, is->position, sizeof is->position) != 0)
        ck_assert_uint_ne(was->position_generation, is->position_generation);
}

static void watch_until(struct rig *rig, struct seen *was, enum kr_unit_state state)
{
    for (int i = 0; i < 60000 && rig_state(rig) != state; i++) {
        struct seen is;
        rig_cycle(rig);
        look(rig, &is);
        expect_steps(was, &is);
        *was = is;
    }
    rig_until_state(rig, state);
}

START_TEST(whenever_positions_or_the_order_in_force_change_their_generation_steps)
{
    struct rig rig;
    struct seen was;
    small(&rig);
    rig_begin(&rig);
    rig_stage(&rig, 1);
    look(&rig, &was);
    for (uint32_t order = 1; order <= 2; order++) {
        rig_small_order(&rig, order);
        rig_order_set(&rig, KR_REG_SHIFT, 0, (int32_t)order * 5 * MM);
        rig_request(&rig, KR_REQUEST_STAGE);
        rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
        watch_until(&rig, &was, KR_STATE_EXECUTE);
        rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
        look(&rig, &was);
        rig_command(&rig, KR_COMMAND_HOLD, 0);
        watch_until(&rig, &was, KR_STATE_HELD);
        rig_command(&rig, KR_COMMAND_UNHOLD, 0);
        watch_until(&rig, &was, KR_STATE_COMPLETE);
        rig_command(&rig, KR_COMMAND_RESET, 0);
        watch_until(&rig, &was, KR_STATE_IDLE);
    }
    rig.in.permissives = 0;
    watch_until(&rig, &was, KR_STATE_IDLE);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    watch_until(&rig, &was, KR_STATE_STOPPED);
    rig_end(&rig);
}
END_TEST

START_TEST(at_rest_no_generation_steps)
{
    struct rig rig;
    struct seen was, is;
    placed(&rig);
    rig_run_ms(&rig, 100);
    look(&rig, &was);
    uint32_t serial = kr_station_durable(rig.station)->serial;
    rig_run_ms(&rig, 60000);
    look(&rig, &is);
    ck_assert_int_eq(memcmp(&was, &is, sizeof is), 0);
    ck_assert_uint_eq(kr_station_durable(rig.station)->serial, serial); /* nor is anything stored */
    rig_end(&rig);
}
END_TEST

/* ---- progress --------------------------------------------------------------------------------------------------------------- */

/* ---- the record ------------------------------------------------------------------------------------------------------------- */

/* What the last verification measured, from the registers alone. */
static int32_t worst_deviation(const struct rig *rig, uint16_t rail, uint16_t *holder)
{
    int32_t worst_um = 0;
    *holder = 0;
    for (uint16_t i = 0; i < SMALL_HOLDERS; i++) {
        int32_t off_um = rig_i32(rig, KR_REG_HOLDER_DEVIATION, rail, i);
        if (rig_u16(rig, KR_REG_HOLDER_CUT, rail, i) == 0 || (*holder != 0 && abs(off_um) <= abs(worst_um)))
            continue;
        *holder = (uint16_t)(i + 1);
        worst_um = off_um;
    }
    return worst_um;
}

static int32_t measured_edge_um(const struct rig *rig, uint16_t rail, uint16_t cut)
{
    for (uint16_t i = 0; i < SMALL_HOLDERS; i++)
        if (rig_u16(rig, KR_REG_HOLDER_CUT, rail, i) == cut)
            return rig_i32(rig, KR_REG_HOLDER_POSITION, rail, i) +
                   rig_i32(rig, KR_REG_HOLDER_OFFSET, rail, i) - rig->config.geometry.rail[rail].cut_side_um;
    return 0;
}

static int32_t worse(int32_t worst_um, int32_t off_um)
{
    return abs(off_um) > abs(worst_um) ? off_um : worst_um;
}

START_TEST(the_record_says_what_was_moved_how_long_it_took_and_what_is_worst)
{
    struct rig rig;
    placed(&rig);
    int32_t planned_ms = rig_i32(&rig, KR_REG_RECORD_PLANNED, 0, 0),
            actual_ms = rig_i32(&rig, KR_REG_RECORD_ACTUAL, 0, 0),
            total_ms = rig_i32(&rig, KR_REG_RECORD_TOTAL, 0, 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_ORDER, 0, 0), 1);
    ck_assert_int_eq(planned_ms, (int32_t)((kr_station_plan(rig.station)->time_us + 500) / 1000));
    ck_assert_int_gt(actual_ms, 0);
    ck_assert_int_le(abs(actual_ms - planned_ms), planned_ms / 5);
    ck_assert_int_gt(total_ms, actual_ms + 8000); /* two scans each way besides */
    int32_t pair_um = 0, slit_um = 0;
    for (uint16_t r = 0; r < 2; r++) {
        uint16_t holder;
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, r),
                          kr_station_plan(rig.station)->rail[r].n_moves);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_WORST, 0, r), worst_deviation(&rig, r, &holder));
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_WORST_HOLDER, 0, r), holder);
    }
    for (uint16_t k = 1; k <= 4; k++)
        pair_um = worse(pair_um, measured_edge_um(&rig, 0, k) - measured_edge_um(&rig, 1, k));
    static const int32_t widths_um[] = {90 * MM, 110 * MM, 100 * MM};
    for (uint16_t k = 1; k <= 3; k++) {
        int32_t slit = measured_edge_um(&rig, 1, (uint16_t)(k + 1)) - measured_edge_um(&rig, 1, k);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_SLIT_MEASURED, 0, (uint16_t)(k - 1)), slit);
        slit_um = worse(slit_um, slit - widths_um[k - 1]);
    }
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_WORST_PAIR, 0, 0), pair_um);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_WORST_SLIT, 0, 0), slit_um);
    rig_run_ms(&rig, 100);
    ck_assert_uint_eq(rig.book.record.number, 1); /* and it is stored */
    rig_end(&rig);
}
END_TEST

START_TEST(each_job_that_places_or_verifies_has_a_record_of_its_own_and_others_have_none)
{
    struct rig rig;
    placed(&rig);
    rig_reset(&rig);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_VERIFY);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 0), 0);
    rig_reset(&rig);
    rig_command(&rig, KR_COMMAND_START, KR_JOB_HOME);
    rig_until_state(&rig, KR_STATE_COMPLETE);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 2);
    rig_reset(&rig);
    rig_command(&rig, KR_COMMAND_STOP, 0); /* of no job */
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(a_job_that_ends_by_a_fault_has_its_cause_in_the_record)
{
    struct rig rig;
    small(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
    rig_break(&rig, 0, SIM_DRIVE_FAULT, 0, 0x2310);
    rig_until_state(&rig, KR_STATE_ABORTED);
    const struct kr_record *record = &kr_station_durable(rig.station)->record;
    ck_assert_uint_eq(record->outcome, KR_OUTCOME_ABORTED);
    ck_assert_uint_eq(record->cause.code, KR_ALARM_DRIVE_FAULT);
    ck_assert_uint_eq(record->cause.rail, 1);
    ck_assert_int_eq(record->cause.value, 0x2310);
    rig_end(&rig);
}
END_TEST

/* ---- more alarms than there is room for ----------------------------------------------------------------------------------------- */

int main(void)
{
    Suite *suite = suite_create("placement");
    TCase *line = tcase_create("line"), *news = tcase_create("news"), *record = tcase_create("record");
    tcase_set_timeout(line, 60);
    tcase_set_timeout(news, 60);
    tcase_set_timeout(record, 60);
    tcase_add_test(line, the_mask_holds_exactly_the_holders_that_cut);
    tcase_add_loop_test(line, what_may_have_let_a_holder_move_at_rest_undoes_the_verification_for_good, 0, 3);
    tcase_add_test(line, what_was_verified_is_no_longer_so_when_another_order_is_started);
    tcase_add_test(line, park_without_an_order_leaves_every_holder_clear_of_the_widest_web);
    tcase_add_test(news, whenever_positions_or_the_order_in_force_change_their_generation_steps);
    tcase_add_test(news, at_rest_no_generation_steps);
    tcase_add_test(record, the_record_says_what_was_moved_how_long_it_took_and_what_is_worst);
    tcase_add_test(record, each_job_that_places_or_verifies_has_a_record_of_its_own_and_others_have_none);
    tcase_add_test(record, a_job_that_ends_by_a_fault_has_its_cause_in_the_record);
    suite_add_tcase(suite, line);
    suite_add_tcase(suite, news);
    suite_add_tcase(suite, record);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
