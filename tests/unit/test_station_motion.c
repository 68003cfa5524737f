/* Motion: each step waits for proof, under its own limit and alarm; what takes permission away stops it, and only a
 * command lets it go on. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "rig.h"

#define PERIOD_MS 10

/* ---- permissives -------------------------------------------------------------------------------------------------------- */

struct where {
    enum kr_phase phase;
    enum kr_carriage_phase carriage;
};
static const struct where places[] = {
    {KR_PHASE_SCAN, KR_CARRIAGE_ENABLING},     {KR_PHASE_SCAN, KR_CARRIAGE_SCANNING},
    {KR_PHASE_MOVE, KR_CARRIAGE_TRAVELLING},   {KR_PHASE_MOVE, KR_CARRIAGE_DOCKING},
    {KR_PHASE_MOVE, KR_CARRIAGE_FREEING},      {KR_PHASE_MOVE, KR_CARRIAGE_DRAGGING},
    {KR_PHASE_MOVE, KR_CARRIAGE_SETTLING},     {KR_PHASE_MOVE, KR_CARRIAGE_BRAKING},
    {KR_PHASE_MOVE, KR_CARRIAGE_UNDOCKING},    {KR_PHASE_VERIFY, KR_CARRIAGE_SCANNING},
    {KR_PHASE_TRAVEL, KR_CARRIAGE_TRAVELLING},
};
#define N_PLACES ((int)(sizeof places / sizeof places[0]))

static void until_place(struct rig *rig, const struct where *where)
{
    rig_until_phase(rig, where->phase);
    rig_until_carriage(rig, 0, where->carriage);
    rig_run_ms(rig, 30);
}

/* _i: which permissive, and in which phase */
START_TEST(a_permissive_lost_stops_what_moves_and_given_back_moves_nothing_by_itself)
{
    const struct where *where = &places[_i / 5];
    uint16_t bit = (uint16_t)(1u << _i % 5);
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    until_place(&rig, where);
    rig.in.permissives &= (uint16_t)~bit;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDING);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PERMISSIVE_LOST);
    ck_assert_int_eq(rig_first_alarm(&rig).value, bit);
    rig_run_ms(&rig, 1100); /* half of a second to stop from 0.5 m/s and more, at 1 m/s2 */
    ck_assert(!rig_anything_moves(&rig));
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_UNSUSPEND, 0), KR_PERMISSIVE_MISSING);
    rig.in.permissives |= bit;
    rig_stays_still_ms(&rig, 2000);
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* _i: the permissive that the pin's movement would need too */
START_TEST(a_pin_stays_in_where_people_may_be_and_comes_out_when_the_job_goes_on)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig.in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    uint16_t docked = rig_docked(&rig, 0);
    ck_assert_uint_gt(docked, 0);
    for (int i = 0; i < 300; i++) {
        rig_cycle(&rig);
        ck_assert_uint_eq(rig.out.axis[0].outputs & (KR_DO_PIN_IN | KR_DO_PIN_OUT | KR_DO_BRAKE_OPEN), 0);
    }
    ck_assert_uint_eq(rig_docked(&rig, 0), docked);
    ck_assert_int_le(rig_known(&rig, 0, (uint16_t)(docked - 1)), KR_REMEMBERED);
    rig.in.permissives = 0x1F;
    rig_cycle(&rig);
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- heartbeat and control ------------------------------------------------------------------------------------------------ */

/* _i: 0 permissives from the register, 1 all of them hard-wired */
START_TEST(a_heartbeat_that_stands_still_suspends_at_its_limit_and_not_before)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.hard_wired = _i ? 0x1F : 0;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    uint16_t last = rig.in.plc_heartbeat;
    while (rig.in.plc_heartbeat == last)
        rig_cycle(&rig);
    rig.heart_stopped = true; /* its last change was in this cycle */
    rig_run_ms(&rig, rig.config.heartbeat_limit_ms - PERIOD_MS);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_EXECUTE);
    ck_assert(!rig.out.drop_control);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDING);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_HEARTBEAT_STALE);
    ck_assert_int_eq(rig_first_alarm(&rig).value, rig.config.heartbeat_limit_ms);
    ck_assert(rig.out.drop_control);
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    rig_command(&rig, KR_COMMAND_UNSUSPEND, 0);
    ck_assert_int_ne(rig_answer(&rig), KR_OK);
    rig.heart_stopped = false;
    rig_stays_still_ms(&rig, 2000);
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(control_that_changes_hands_stops_motion_and_permissives_count_only_from_a_new_beat_on)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    rig.in.control_generation++;
    rig.heart_stopped = true;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDING);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_CONTROL_CHANGED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), 0);
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    rig_run_ms(&rig, 500);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), 0);
    rig.heart_stopped = false;
    rig_run_ms(&rig, 600);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), 0x1F);
    rig_stays_still_ms(&rig, 1000);
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- the drive ------------------------------------------------------------------------------------------------------------- */

static void never_acknowledges(struct rig *rig)
{
    rig->in.axis[0].statusword &= (uint16_t)~KR_SW_SETPOINT_ACK;
}

static void always_acknowledges(struct rig *rig)
{
    rig->in.axis[0].statusword |= KR_SW_SETPOINT_ACK;
}

static void never_arrives(struct rig *rig)
{
    rig->in.axis[0].statusword &= (uint16_t)~KR_SW_TARGET_REACHED;
}

static void never_comes_on(struct rig *rig)
{
    if (kr_drive_state_of(rig->in.axis[0].statusword) == KR_DRIVE_OPERATION_ENABLED)
        rig->in.axis[0].statusword = (uint16_t)((rig->in.axis[0].statusword & ~0x6Fu) | 0x23u);
}

START_TEST(a_drive_that_does_not_come_on_is_an_alarm_at_its_limit_and_not_before)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig.meddle = never_comes_on;
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_ENABLING);
    rig_run_ms(&rig, rig.config.carriage[0].enable_limit_ms - PERIOD_MS);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_DRIVE_NOT_ENABLED);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_end(&rig);
}
END_TEST

static void travelling(struct rig *rig)
{
    rig_begin_small(rig);
    rig_start_changeover(rig);
    rig_until_phase(rig, KR_PHASE_MOVE);
    rig_until_carriage(rig, 0, KR_CARRIAGE_READY);
}

START_TEST(a_set_point_that_is_never_acknowledged_is_an_alarm_at_its_limit_and_not_before)
{
    struct rig rig;
    travelling(&rig);
    rig.meddle = never_acknowledges;
    while (!(rig.out.axis[0].controlword & KR_CW_NEW_SETPOINT))
        rig_cycle(&rig);
    rig_run_ms(&rig, rig.config.carriage[0].setpoint_limit_ms - PERIOD_MS);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_SETPOINT_NOT_TAKEN);
    ck_assert_int_eq(rig_first_alarm(&rig).value, rig.out.axis[0].target_um);
    rig_end(&rig);
}
END_TEST

START_TEST(an_acknowledge_that_never_clears_is_an_alarm_at_its_limit_and_not_before)
{
    struct rig rig;
    travelling(&rig);
    rig.meddle = always_acknowledges;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_TRAVELLING);
    rig_run_ms(&rig, rig.config.carriage[0].setpoint_limit_ms - PERIOD_MS);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    ck_assert_uint_eq(rig.out.axis[0].controlword & KR_CW_NEW_SETPOINT, 0);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_SETPOINT_NOT_TAKEN);
    rig_end(&rig);
}
END_TEST

START_TEST(an_acknowledge_that_stays_after_the_set_point_is_taken_back_is_an_alarm_at_its_limit)
{
    struct rig rig;
    travelling(&rig);
    while (!(rig.out.axis[0].controlword & KR_CW_NEW_SETPOINT))
        rig_cycle(&rig);
    rig.meddle = always_acknowledges;
    while (rig.out.axis[0].controlword & KR_CW_NEW_SETPOINT)
        rig_cycle(&rig);
    rig_run_ms(&rig, rig.config.carriage[0].setpoint_limit_ms - PERIOD_MS);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_SETPOINT_NOT_TAKEN);
    rig_end(&rig);
}
END_TEST

START_TEST(a_move_that_does_not_end_is_an_alarm_when_it_is_due_and_not_before)
{
    struct rig rig;
    travelling(&rig);
    rig.meddle = never_arrives;
    while (!(rig.out.axis[0].controlword & KR_CW_NEW_SETPOINT))
        rig_cycle(&rig);
    int64_t way_um = llabs((int64_t)rig.out.axis[0].target_um - rig.in.axis[0].position_um);
    int64_t due_ms = kr_move_time_us(way_um, rig.config.geometry.rail[0].empty) / 1000 +
                     rig.config.carriage[0].move_margin_ms;
    int64_t came_ms = rig_ms_until_alarm(&rig, KR_ALARM_MOVE_LATE);
    ck_assert_int_ge(came_ms, due_ms);
    ck_assert_int_le(came_ms, due_ms + 6 * PERIOD_MS); /* of handshake before the move begins */
    ck_assert_int_eq(rig_first_alarm(&rig).limit, rig.out.axis[0].target_um);
    rig_end(&rig);
}
END_TEST

/* An image from the moment before the move was asked for: it says 'target reached', and means the last move. */
static struct kr_axis_in old_image;
static void repeats_an_old_image(struct rig *rig)
{
    rig->in.axis[0] = old_image;
}

START_TEST(an_old_target_reached_does_not_end_the_next_move)
{
    struct rig rig;
    travelling(&rig);
    ck_assert(rig.in.axis[0].statusword & KR_SW_TARGET_REACHED);
    old_image = rig.in.axis[0];
    rig.meddle = repeats_an_old_image;
    rig_cycle(&rig);
    while (rig_alarm(&rig) == KR_ALARM_NONE) {
        ck_assert_int_ne(rig_carriage_phase(&rig, 0), KR_CARRIAGE_DOCKING);
        ck_assert_uint_eq(rig.out.axis[0].outputs & KR_DO_PIN_IN, 0);
        rig_cycle(&rig);
    }
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_SETPOINT_NOT_TAKEN);
    rig_end(&rig);
}
END_TEST

static void says_reached_elsewhere(struct rig *rig)
{
    rig->in.axis[0].statusword |= KR_SW_TARGET_REACHED;
}

START_TEST(a_drive_that_says_reached_elsewhere_is_not_believed)
{
    struct rig rig;
    travelling(&rig);
    rig.meddle = says_reached_elsewhere;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DOCKING);
    ck_assert_int_le(abs(sim_machine_carriage_um(&rig.machine, 0) - rig.out.axis[0].target_um), 500);
    rig_end(&rig);
}
END_TEST

/* _i: the carriage's phase in which the drive trips */
START_TEST(after_a_drive_fault_the_old_set_point_is_never_run_to_its_end)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    rig_until_carriage(&rig, 0, (enum kr_carriage_phase)_i);
    rig_run_ms(&rig, 60);
    rig_break(&rig, 0, SIM_DRIVE_FAULT, 0, 0x3210);
    ck_assert_int_le(rig_ms_until_alarm(&rig, KR_ALARM_DRIVE_FAULT), 2 * PERIOD_MS);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 0x3210);
    rig_until_state(&rig, KR_STATE_ABORTED);
    rig_mend(&rig, 0, SIM_DRIVE_FAULT, 0);
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    rig_stays_still_ms(&rig, 1000);
    rig_reset(&rig);
    rig_stays_still_ms(&rig, 3000);
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), at_um);
    if (rig_docked(&rig, 0) != 0) {
        ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_PIN_NOT_OUT);
        rig_start_job(&rig, KR_JOB_RELEASE);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void add_permission(Suite *suite)
{
    TCase *tc = tcase_create("permission");
    tcase_add_loop_test(tc, a_permissive_lost_stops_what_moves_and_given_back_moves_nothing_by_itself, 0,
                        5 * N_PLACES);
    tcase_add_test(tc, a_pin_stays_in_where_people_may_be_and_comes_out_when_the_job_goes_on);
    tcase_add_loop_test(tc, a_heartbeat_that_stands_still_suspends_at_its_limit_and_not_before, 0, 2);
    tcase_add_test(tc, control_that_changes_hands_stops_motion_and_permissives_count_only_from_a_new_beat_on);
    suite_add_tcase(suite, tc);
}

static void add_drive(Suite *suite)
{
    TCase *tc = tcase_create("drive");
    tcase_add_test(tc, a_drive_that_does_not_come_on_is_an_alarm_at_its_limit_and_not_before);
    tcase_add_test(tc, a_set_point_that_is_never_acknowledged_is_an_alarm_at_its_limit_and_not_before);
    tcase_add_test(tc, an_acknowledge_that_never_clears_is_an_alarm_at_its_limit_and_not_before);
    tcase_add_test(tc, an_acknowledge_that_stays_after_the_set_point_is_taken_back_is_an_alarm_at_its_limit);
    tcase_add_test(tc, a_move_that_does_not_end_is_an_alarm_when_it_is_due_and_not_before);
    tcase_add_test(tc, an_old_target_reached_does_not_end_the_next_move);
    tcase_add_test(tc, a_drive_that_says_reached_elsewhere_is_not_believed);
    tcase_add_loop_test(tc, after_a_drive_fault_the_old_set_point_is_never_run_to_its_end,
                        KR_CARRIAGE_TRAVELLING, KR_CARRIAGE_SCANNING);
    suite_add_tcase(suite, tc);
}

int main(void)
{
    Suite *suite = suite_create("station: motion");
    add_permission(suite);
    add_drive(suite);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
