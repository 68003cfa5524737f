/* Proof: what an image says counts only if it is new, and what is not proven is not acted upon. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "rig.h"

static bool drive_is_on(const struct rig *rig, uint16_t rail)
{
    return kr_drive_state_of(rig->in.axis[rail].statusword) == KR_DRIVE_OPERATION_ENABLED;
}

/* ---- the pin -------------------------------------------------------------------------------------------------------- */

static void pin_is_not_out(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_PIN_OUT;
}

START_TEST(with_a_pin_that_is_not_proven_out_nothing_travels)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_UNDOCKING);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_READY);
    rig.meddle = pin_is_not_out; /* after the proof that ended the last move */
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    rig_ms_until_alarm(&rig, KR_ALARM_PIN_UNPROVEN);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), at_um);
    rig_end(&rig);
}
END_TEST

/* _i: how the job is stopped in mid-drag: 0 Hold, 1 a holder that jams */
START_TEST(a_stop_drives_the_pin_out_only_after_the_drive_is_off)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig_run_ms(&rig, 150);
    if (_i == 0)
        rig_command(&rig, KR_COMMAND_HOLD, 0);
    else
        rig_break(&rig, 0, SIM_HOLDER_JAMMED, (uint16_t)(rig_docked(&rig, 0) - 1), 0);
    bool driven = false;
    for (int i = 0; i < 2000; i++) {
        bool was_on = drive_is_on(&rig, 0);
        rig_cycle(&rig);
        if (rig_state(&rig) == KR_STATE_EXECUTE || !(rig.out.axis[0].outputs & KR_DO_PIN_OUT))
            continue;
        driven = true;
        ck_assert(!was_on || !drive_is_on(&rig, 0));
    }
    ck_assert(driven ||
              _i == 1); /* a jam may trip the drive: then the pin stays until somebody releases it */
    ck_assert_ptr_null(sim_machine_dragged(&rig.machine));
    rig_end(&rig);
}
END_TEST

START_TEST(a_pin_on_its_way_out_stops_when_people_may_be_there)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig_command(&rig, KR_COMMAND_HOLD, 0);
    while (!(rig.out.axis[0].outputs & KR_DO_PIN_OUT))
        rig_cycle(&rig);
    rig.in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    rig_cycle(&rig);
    for (int i = 0; i < 200; i++) {
        rig_cycle(&rig);
        ck_assert_uint_eq(rig.out.axis[0].outputs, 0);
    }
    ck_assert_int_eq(rig_state(&rig), KR_STATE_HELD);
    rig.in.permissives = 0x1F;
    rig_cycle(&rig);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void brake_seems_open(struct rig *rig)
{
    rig->in.axis[0].inputs = (uint16_t)((rig->in.axis[0].inputs & ~KR_DI_BRAKE_CLOSED) | KR_DI_BRAKE_OPEN);
}

START_TEST(a_guided_release_waits_for_the_brake_and_names_it)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig_command(&rig, KR_COMMAND_ABORT, 0);
    rig_until_state(&rig, KR_STATE_ABORTED);
    rig_reset(&rig);
    rig.meddle = brake_seems_open;
    rig_start_job(&rig, KR_JOB_RELEASE);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_BRAKING);
    rig_run_ms(&rig, rig.config.carriage[0].brake_limit_ms - 10);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_BRAKE_NOT_CLOSED);
    ck_assert(rig.in.axis[0].inputs & KR_DI_PIN_IN);
    rig_end(&rig);
}
END_TEST

/* ---- old images ------------------------------------------------------------------------------------------------------- */

#define RECORD_MAX 4000

static struct kr_axis_in recorded[RECORD_MAX];
static int n_recorded, n_replayed;

static void records(struct rig *rig)
{
    if (n_recorded < RECORD_MAX)
        recorded[n_recorded++] = rig->in.axis[0];
}

/* The whole handshake of the last move once more, 'target reached' at its end, and the position of this one's target: all
 * right but for the serial that it answers. */
static void replays(struct rig *rig)
{
    rig->in.axis[0] = recorded[n_replayed < n_recorded - 1 ? n_replayed++ : n_recorded - 1];
    rig->in.axis[0].position_um = rig->out.axis[0].target_um;
    rig->in.axis[0].inputs = KR_DI_PIN_IN | KR_DI_BRAKE_OPEN;
}

START_TEST(the_handshake_of_an_older_move_ends_no_newer_one)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_READY);
    rig.config.carriage[0].jump_um = 600 * MM; /* the leap of the replay is not what is tested here */
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, false));
    rig.meddle = records;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DOCKING);
    rig.meddle = NULL;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig.meddle = replays;
    while (rig_alarm_count(&rig) == 0) {
        rig_cycle(&rig);
        ck_assert_int_ne(rig_carriage_phase(&rig, 0), KR_CARRIAGE_SETTLING);
    }
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_SETPOINT_NOT_TAKEN);
    rig_end(&rig);
}
END_TEST

static void replays_the_last(struct rig *rig)
{
    rig->in.axis[0] = recorded[n_recorded - 1];
}

START_TEST(an_older_homing_ends_no_newer_one)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.carriage[0].home_limit_ms = 4000;
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_HOMING);
    rig.meddle = records;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_READY); /* its last image: homing attained */
    ck_assert(recorded[n_recorded - 1].statusword & KR_SW_SETPOINT_ACK);
    rig.meddle = NULL;
    rig_until_complete(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_HOMING);
    rig.meddle = replays_the_last;
    rig_ms_until_alarm(&rig, KR_ALARM_HOMING_FAILED);
    rig_end(&rig);
}
END_TEST

static struct kr_axis_in frozen;
static int freeze_cycles;

static void freezes(struct rig *rig)
{
    if (freeze_cycles > 0)
        rig->in.axis[0] = frozen;
    else
        frozen = rig->in.axis[0];
    freeze_cycles--;
}

/* At full speed, four cycles long, and without growing older by its own account. */
START_TEST(an_image_that_comes_again_is_no_jump_and_neither_is_what_follows_it)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.geometry.rail[0].empty = (struct kr_speed){1000000, 2000000};
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_VERIFY); /* it goes back to where the scan begins */
    freeze_cycles = 0;
    rig.meddle = freezes;
    while (abs(sim_machine_speed_um_per_s(&rig.machine, 0)) < 300000)
        rig_cycle(&rig);
    freeze_cycles = 4;
    rig_until_complete(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

/* ---- the scan ------------------------------------------------------------------------------------------------------------ */

static bool is_on_its_way_back;

/* On the way back the switch lets go of the flag around 240 mm a little early. */
static void cuts_a_flag_short(struct rig *rig)
{
    static int32_t last_um;
    is_on_its_way_back = rig->in.axis[0].position_um < last_um;
    last_um = rig->in.axis[0].position_um;
    if (is_on_its_way_back && abs(rig->in.axis[0].fall_um - 236 * MM) < 3 * MM)
        rig->in.axis[0].fall_um += 300;
}

START_TEST(a_flag_that_the_two_passes_see_differently_wide_is_not_measured_by)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig.meddle = cuts_a_flag_short;
    rig_start_changeover(&rig);
    rig_ms_until_alarm(&rig, KR_ALARM_FLAG_WIDTH);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

/* ---- going on --------------------------------------------------------------------------------------------------------------- */

START_TEST(what_was_placed_before_an_interruption_is_looked_at_before_it_is_judged)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.geometry.n_rails = rig.sim_config.n_rails = 1;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    uint16_t moves = rig_u16(&rig, KR_REG_MOVES_PLANNED, 0, 0);
    while (rig_u16(&rig, KR_REG_MOVES_DONE, 0, 0) + 1 < moves ||
           rig_carriage_phase(&rig, 0) != KR_CARRIAGE_SETTLING)
        rig_cycle(&rig);
    rig_command(&rig, KR_COMMAND_HOLD, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_resume(&rig, KR_COMMAND_UNHOLD); /* nothing is left to move */
    rig_until_phase(&rig, KR_PHASE_VERIFY);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(unhold_does_not_go_on_while_the_cause_of_the_alarm_stands)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig.book_broken = true;
    rig_until_state(&rig, KR_STATE_HELD);
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    for (int i = 0; i < 500; i++) {
        rig_cycle(&rig);
        ck_assert_int_ne(rig_state(&rig), KR_STATE_EXECUTE);
    }
    ck_assert_int_eq(rig_state(&rig), KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_BOOK_FAILED);
    rig_end(&rig);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("station: proof");
    TCase *tc = tcase_create("proof");
    tcase_add_test(tc, with_a_pin_that_is_not_proven_out_nothing_travels);
    tcase_add_loop_test(tc, a_stop_drives_the_pin_out_only_after_the_drive_is_off, 0, 2);
    tcase_add_test(tc, a_pin_on_its_way_out_stops_when_people_may_be_there);
    tcase_add_test(tc, a_guided_release_waits_for_the_brake_and_names_it);
    tcase_add_test(tc, the_handshake_of_an_older_move_ends_no_newer_one);
    tcase_add_test(tc, an_older_homing_ends_no_newer_one);
    tcase_add_test(tc, an_image_that_comes_again_is_no_jump_and_neither_is_what_follows_it);
    tcase_add_test(tc, a_flag_that_the_two_passes_see_differently_wide_is_not_measured_by);
    tcase_add_test(tc, what_was_placed_before_an_interruption_is_looked_at_before_it_is_judged);
    tcase_add_test(tc, unhold_does_not_go_on_while_the_cause_of_the_alarm_stands);
    suite_add_tcase(suite, tc);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
