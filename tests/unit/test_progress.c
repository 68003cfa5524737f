/* Tests of what a client sees of a job: progress, generations, alarms, and the record that it leaves. */
#include <stdlib.h>
#include <string.h>

#include "rig.h"
#include "suite.h"

/* ---- on the way ------------------------------------------------------------------------------------------------ */

START_TEST(progress_never_goes_back_and_ends_at_100)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    uint16_t before = 0;
    bool interrupted = false;
    while (rig_state(&rig) != KR_STATE_COMPLETE) {
        rig_cycle(&rig);
        uint16_t now = rig_u16(&rig, KR_REG_PROGRESS, 0, 0);
        ck_assert_uint_ge(now, before);
        before = now;
        if (now >= 60 && !interrupted) { /* looked for, planned and placed anew from here */
            interrupted = true;
            rig_command(&rig, KR_COMMAND_HOLD, 0);
            rig_until_state(&rig, KR_STATE_HELD);
            rig_command(&rig, KR_COMMAND_UNHOLD, 0);
        }
        ck_assert(now < 100 || rig_state(&rig) == KR_STATE_COMPLETE);
        ck_assert_int_ge(rig_i32(&rig, KR_REG_TIME_LEFT, 0, 0), 0);
    }
    ck_assert(interrupted);
    ck_assert_uint_eq(before, 100);
    rig_end(&rig);
}
END_TEST

START_TEST(progress_keeps_room_for_moves_and_their_verification_though_no_time_was_planned)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_stage(&rig, 2); /* the same cuts: nothing is to be moved */
    ck_assert_int_eq(rig_i32(&rig, KR_REG_VERDICT_TIME, 0, 0), 0);
    rig_push_by_hand(&rig, 0, 2, 5 * MM);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    ck_assert_uint_le(rig_u16(&rig, KR_REG_PROGRESS, 0, 0), 60);
    rig_until_complete(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(moves_done_and_planned_stay_until_the_next_plan)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    uint16_t planned = rig_u16(&rig, KR_REG_MOVES_PLANNED, 0, 0);
    ck_assert_uint_gt(planned, 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_MOVES_DONE, 0, 0), 0);
    rig_until_phase(&rig, KR_PHASE_VERIFY);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_MOVES_DONE, 0, 0), planned);
    rig_until_complete(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_MOVES_DONE, 0, 0), planned);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_MOVES_PLANNED, 0, 0), planned);
    rig_end(&rig);
}
END_TEST

START_TEST(time_left_is_right_within_a_fifth_from_the_plan_on)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    int64_t from_us = rig.time_us, said_ms = rig_i32(&rig, KR_REG_TIME_LEFT, 0, 0);
    rig_until_complete(&rig);
    int64_t took_ms = (rig.time_us - from_us) / 1000;
    ck_assert_int_le(llabs(said_ms - took_ms), took_ms / 5);
    rig_end(&rig);
}
END_TEST

/* A changeover whose first scan finds all 30 holders of a rail elsewhere: as many notices. */
static void run_into_30_notices(struct rig *rig)
{
    rig_defaults(rig, 2, 30, 1);
    rig->config.carriage[0].displaced_um = 10;
    for (uint16_t i = 0; i < 30; i++)
        rig->book.holder[0][i].position_um += 500;
    rig_begin(rig);
    static const int32_t widths_um[] = {300 * MM};
    rig_order(rig, 1, 500 * MM, widths_um, 1);
    rig_request(rig, KR_REQUEST_STAGE);
    rig_start_job(rig, KR_JOB_CHANGEOVER);
    rig_until_phase(rig, KR_PHASE_PLAN);
}

START_TEST(an_alarm_that_stops_displaces_the_newest_notice_of_a_full_list)
{
    struct rig rig;
    run_into_30_notices(&rig);
    rig_break(&rig, 1, SIM_DRIVE_FAULT, 0, 0x2310); /* continuous overcurrent: a code of CiA 402's list */
    rig_until_state(&rig, KR_STATE_ABORTED);
    uint16_t last = KR_ALARMS_MAX - 1;
    ck_assert_uint_eq(rig_alarm_count(&rig), KR_ALARMS_MAX);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_CODES, 0, last), KR_ALARM_DRIVE_FAULT);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_RAILS, 0, last), 2);
    for (uint16_t k = 0; k < last; k++)
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_ITEMS, 0, k), k + 1);
    const struct kr_record *record = &kr_station_durable(rig.station)->record;
    ck_assert_uint_eq(record->cause.code, KR_ALARM_DRIVE_FAULT);
    rig_end(&rig);
}
END_TEST

START_TEST(what_the_list_has_no_room_for_stands_behind_it_until_it_is_acknowledged)
{
    struct rig rig;
    const struct kr_alarm *alarm;
    run_into_30_notices(&rig);
    rig_break(&rig, 1, SIM_DRIVE_FAULT, 0, 0x2310);
    rig_until_state(&rig, KR_STATE_ABORTED);
    uint16_t n = kr_station_alarms(rig.station, &alarm);
    ck_assert_uint_ge(n, 31); /* the notice that was displaced is among them */
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARMS_LOST, 0, 0), n - KR_ALARMS_MAX);
    ck_assert_uint_eq(alarm[30].code, KR_ALARM_FLAG_DISPLACED);
    ck_assert_uint_eq(alarm[30].item, KR_ALARMS_MAX);
    rig_mend(&rig, 1, SIM_DRIVE_FAULT, 0);
    rig_command(&rig, KR_COMMAND_CLEAR, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARMS_LOST, 0, 0), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_full_list_keeps_the_first_alarms_and_counts_the_others)
{
    struct rig rig;
    run_into_30_notices(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), KR_ALARMS_MAX);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARMS_LOST, 0, 0), 30 - KR_ALARMS_MAX);
    for (uint16_t k = 0; k < KR_ALARMS_MAX; k++)
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_ITEMS, 0, k), k + 1);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_reset(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

/* ---- generations: an HMI that reads arrays only when they step misses nothing ---------------------------------- */

static void small(struct rig *rig)
{
    rig_small_ordinary(rig, 2);
    rig->config.drive_inputs = 0;
    rig_common_clamp(rig, 1);
}

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
            *position++ = (int32_t)rig_known(rig, r, i);
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

START_TEST(an_order_that_is_only_staged_steps_no_generation_and_its_changeover_steps_both)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_run_ms(&rig, 1000);
    uint16_t order = rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0),
             position = rig_u16(&rig, KR_REG_POSITION_GENERATION, 0, 0);
    rig_run_ms(&rig, 2000);
    rig_stage(&rig, 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), order);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_POSITION_GENERATION, 0, 0), position);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    ck_assert_uint_ne(rig_u16(&rig, KR_REG_ORDER_GENERATION, 0, 0), order);
    rig_ends_verified(&rig);
    ck_assert_uint_ne(rig_u16(&rig, KR_REG_POSITION_GENERATION, 0, 0), position);
    rig_end(&rig);
}
END_TEST

static void placed(struct rig *rig)
{
    small(rig);
    rig_begin(rig);
    rig_start_changeover(rig);
    rig_ends_verified(rig);
}

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

/* ---- the record ------------------------------------------------------------------------------------------------ */

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
            return rig_i32(rig, KR_REG_HOLDER_POSITION, rail, i) + rig_i32(rig, KR_REG_HOLDER_OFFSET, rail, i) -
                   rig->config.geometry.rail[rail].cut_side_um;
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
            actual_ms = rig_i32(&rig, KR_REG_RECORD_ACTUAL, 0, 0), total_ms = rig_i32(&rig, KR_REG_RECORD_TOTAL, 0, 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 1);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_ORDER, 0, 0), 1);
    ck_assert_int_eq(planned_ms, (int32_t)((kr_station_plan(rig.station)->time_us + 500) / 1000));
    ck_assert_int_gt(actual_ms, 0);
    ck_assert_int_le(abs(actual_ms - planned_ms), planned_ms / 5);
    ck_assert_int_gt(total_ms, actual_ms + 8000); /* two scans each way besides */
    int32_t pair_um = 0, slit_um = 0;
    for (uint16_t r = 0; r < 2; r++) {
        uint16_t holder;
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, r), kr_station_plan(rig.station)->rail[r].n_moves);
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
    rig_until_complete(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 2);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_command(&rig, KR_COMMAND_ABORT, 0);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 3);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ABORTED);
    rig_reset(&rig);
    rig_command(&rig, KR_COMMAND_STOP, 0); /* of no job */
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 3);
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

START_TEST(each_standing_alarm_says_for_how_long_and_the_last_16_gone_stay_readable)
{
    struct rig rig;
    small(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    for (uint16_t times = 1; times <= 18; times++) {
        rig.in.permissives &= (uint16_t)~KR_PERMIT_AIR;
        rig_until_state(&rig, KR_STATE_SUSPENDED);
        rig_run_ms(&rig, 2000);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_CODES, 0, 0), KR_ALARM_PERMISSIVE_LOST);
        ck_assert_int_ge(rig_i32(&rig, KR_REG_ALARM_AGES, 0, 0), 2);
        ck_assert_int_le(rig_i32(&rig, KR_REG_ALARM_AGES, 0, 0), 3);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_GONE_GENERATION, 0, 0), times - 1);
        rig.in.permissives |= KR_PERMIT_AIR;
        rig_command(&rig, KR_COMMAND_UNSUSPEND, 0);
        rig_until_state(&rig, KR_STATE_EXECUTE);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_ALARM_AGES, 0, 0), 0);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_GONE_COUNT, 0, 0), times < 16 ? times : 16);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_GONE_CODES, 0, 0), KR_ALARM_PERMISSIVE_LOST);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_GONE_VALUES, 0, 0), KR_PERMIT_AIR);
        ck_assert_int_ge(rig_i32(&rig, KR_REG_GONE_STOOD, 0, 0), 2);
        ck_assert_int_eq(rig_i32(&rig, KR_REG_GONE_AGES, 0, 0), 0);
        if (times == 1)
            continue;
        ck_assert_int_ge(rig_i32(&rig, KR_REG_GONE_AGES, 0, 1), 2); /* the one before is the second */
    }
    rig_end(&rig);
}
END_TEST

START_TEST(the_time_in_each_state_adds_up_to_the_time_since_the_start)
{
    struct rig rig;
    small(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_complete(&rig);
    rig_run_ms(&rig, 5000);
    ck_assert_int_ge(rig_i32(&rig, KR_REG_IN_STATE, 0, 0), 5);
    ck_assert_int_le(rig_i32(&rig, KR_REG_IN_STATE, 0, 0), 6);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_STATE_TIMES, 0, KR_STATE_COMPLETE - 1), rig_i32(&rig, KR_REG_IN_STATE, 0, 0));
    int32_t execute_s = rig_i32(&rig, KR_REG_STATE_TIMES, 0, KR_STATE_EXECUTE - 1);
    int32_t total_s = (rig_i32(&rig, KR_REG_RECORD_TOTAL, 0, 0) + 500) / 1000;
    ck_assert_int_le(abs(execute_s - total_s), 1);
    int32_t sum_s = 0;
    for (uint16_t state = 0; state < KR_STATE_COMPLETE; state++)
        sum_s += rig_i32(&rig, KR_REG_STATE_TIMES, 0, state);
    int64_t passed_s = rig.time_us / 1000000;
    ck_assert_int_le(sum_s, passed_s);
    ck_assert_int_ge(sum_s, passed_s - KR_STATE_COMPLETE); /* each is rounded down */
    rig_end(&rig);
}
END_TEST

static void changeover_in_a_drag(struct rig *rig)
{
    small(rig);
    rig_begin(rig);
    rig_start_changeover(rig);
    rig_until_step(rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
}

START_TEST(a_job_that_a_command_ends_has_the_command_in_the_record)
{
    static const struct {
        enum kr_command command;
        enum kr_unit_state state;
        enum kr_alarm_code cause;
    } ends[] = {{KR_COMMAND_STOP, KR_STATE_STOPPED, KR_ALARM_STOP_COMMANDED},
                {KR_COMMAND_ABORT, KR_STATE_ABORTED, KR_ALARM_ABORT_COMMANDED}};
    struct rig rig;
    changeover_in_a_drag(&rig);
    rig_command(&rig, ends[_i].command, 0);
    rig_until_state(&rig, ends[_i].state);
    ck_assert_uint_eq(kr_station_durable(rig.station)->record.cause.code, ends[_i].cause);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_job_that_ends_with_the_gateway_says_so_in_the_record)
{
    struct rig rig;
    changeover_in_a_drag(&rig);
    rig.in.shut_down = true;
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_uint_eq(kr_station_durable(rig.station)->record.cause.code, KR_ALARM_GATEWAY_ENDED);
    rig_end(&rig);
}
END_TEST

/* In Completing all is measured, and the carriages come to rest. */
START_TEST(a_changeover_whose_places_become_doubtful_as_it_ends_says_so_in_the_record)
{
    struct rig rig;
    small(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_state(&rig, KR_STATE_COMPLETING);
    rig.in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    rig_until_state(&rig, KR_STATE_COMPLETE);
    const struct kr_record *record = &kr_station_durable(rig.station)->record;
    ck_assert_uint_eq(record->outcome, KR_OUTCOME_ENDED);
    ck_assert_uint_eq(record->cause.code, KR_ALARM_NOT_VERIFIED);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(an_alarm_that_interrupted_the_job_is_the_cause_rather_than_the_stop_that_followed)
{
    struct rig rig;
    changeover_in_a_drag(&rig);
    rig.in.permissives &= (uint16_t)~KR_PERMIT_AIR;
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_uint_eq(kr_station_durable(rig.station)->record.cause.code, KR_ALARM_PERMISSIVE_LOST);
    rig_end(&rig);
}
END_TEST

/* The holder that is just being dragged is unknown, which calls for no scan: the job itself knows where it sets it
 * down. */
START_TEST(scan_due_stays_off_while_holders_are_moved_and_comes_on_when_one_is_left_docked)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_SCAN_DUE));
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    int cycles = 0, dragging = 0;
    for (; rig_phase(&rig) == KR_PHASE_MOVE; cycles++) {
        ck_assert_msg(!rig_status_has(&rig, KR_STATUS_SCAN_DUE), "after %d cycles", cycles);
        dragging += rig_carriage_phase(&rig, 0) == KR_CARRIAGE_DRAGGING;
        rig_cycle(&rig);
    }
    ck_assert_int_gt(dragging, 10);
    rig_end(&rig);
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
    rig_command(&rig, KR_COMMAND_ABORT, 0);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert(rig_status_has(&rig, KR_STATUS_SCAN_DUE));
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("progress");
    TCase *tc = suite_case(suite, "progress");
    tcase_add_test(tc, progress_never_goes_back_and_ends_at_100);
    tcase_add_test(tc, progress_keeps_room_for_moves_and_their_verification_though_no_time_was_planned);
    tcase_add_test(tc, moves_done_and_planned_stay_until_the_next_plan);
    tcase_add_test(tc, time_left_is_right_within_a_fifth_from_the_plan_on);
    tcase_add_test(tc, a_full_list_keeps_the_first_alarms_and_counts_the_others);
    tcase_add_test(tc, an_alarm_that_stops_displaces_the_newest_notice_of_a_full_list);
    tcase_add_test(tc, what_the_list_has_no_room_for_stands_behind_it_until_it_is_acknowledged);
    tc = suite_case(suite, "generations");
    tcase_add_test(tc, whenever_positions_or_the_order_in_force_change_their_generation_steps);
    tcase_add_test(tc, an_order_that_is_only_staged_steps_no_generation_and_its_changeover_steps_both);
    tcase_add_test(tc, at_rest_no_generation_steps);
    tc = suite_case(suite, "record");
    tcase_add_test(tc, the_record_says_what_was_moved_how_long_it_took_and_what_is_worst);
    tcase_add_test(tc, each_job_that_places_or_verifies_has_a_record_of_its_own_and_others_have_none);
    tcase_add_test(tc, a_job_that_ends_by_a_fault_has_its_cause_in_the_record);
    tcase_add_test(tc, each_standing_alarm_says_for_how_long_and_the_last_16_gone_stay_readable);
    tcase_add_test(tc, the_time_in_each_state_adds_up_to_the_time_since_the_start);
    tcase_add_loop_test(tc, a_job_that_a_command_ends_has_the_command_in_the_record, 0, 2);
    tcase_add_test(tc, a_job_that_ends_with_the_gateway_says_so_in_the_record);
    tcase_add_test(tc, a_changeover_whose_places_become_doubtful_as_it_ends_says_so_in_the_record);
    tcase_add_test(tc, an_alarm_that_interrupted_the_job_is_the_cause_rather_than_the_stop_that_followed);
    tcase_add_test(tc, scan_due_stays_off_while_holders_are_moved_and_comes_on_when_one_is_left_docked);
    return suite;
}
