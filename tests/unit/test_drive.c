/* Tests of the drive: the set-point handshake, what an image proves, and when motion is not trusted any more. */
#include <stdlib.h>

#include "rig.h"
#include "suite.h"

/* ---- limits: at the limit, and not before ---------------------------------------------------------------------- */

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
    rig_alarm_at_limit(&rig, rig.config.carriage[0].enable_limit_ms, KR_ALARM_DRIVE_NOT_ENABLED);
    rig_until_state(&rig, KR_STATE_HELD);
    rig_end(&rig);
}
END_TEST

static void never_acknowledges(struct rig *rig)
{
    rig->in.axis[0].statusword &= (uint16_t)~KR_SW_SETPOINT_ACK;
}

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
    rig_alarm_at_limit(&rig, rig.config.carriage[0].setpoint_limit_ms, KR_ALARM_SETPOINT_NOT_TAKEN);
    ck_assert_int_eq(rig_first_alarm(&rig).value, rig.out.axis[0].target_um);
    rig_end(&rig);
}
END_TEST

static void always_acknowledges(struct rig *rig)
{
    rig->in.axis[0].statusword |= KR_SW_SETPOINT_ACK;
}

START_TEST(an_acknowledge_that_never_clears_is_an_alarm_at_its_limit_and_not_before)
{
    struct rig rig;
    travelling(&rig);
    rig.meddle = always_acknowledges;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_TRAVELLING);
    rig_run_ms(&rig, rig.config.carriage[0].setpoint_limit_ms - RIG_PERIOD_MS);
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
    rig_alarm_at_limit(&rig, rig.config.carriage[0].setpoint_limit_ms, KR_ALARM_SETPOINT_NOT_TAKEN);
    rig_end(&rig);
}
END_TEST

static void never_arrives(struct rig *rig)
{
    rig->in.axis[0].statusword &= (uint16_t)~KR_SW_TARGET_REACHED;
}

START_TEST(a_move_that_does_not_end_is_an_alarm_when_it_is_due_and_not_before)
{
    struct rig rig;
    travelling(&rig);
    rig.meddle = never_arrives;
    while (!(rig.out.axis[0].controlword & KR_CW_NEW_SETPOINT))
        rig_cycle(&rig);
    int64_t way_um = llabs((int64_t)rig.out.axis[0].target_um - rig.in.axis[0].position_um);
    int64_t due_ms =
        kr_move_time_us(way_um, rig.config.geometry.rail[0].empty) / 1000 + rig.config.carriage[0].move_margin_ms;
    int64_t came_ms = rig_ms_until_alarm(&rig, KR_ALARM_MOVE_LATE);
    ck_assert_int_ge(came_ms, due_ms);
    ck_assert_int_le(came_ms, due_ms + 6 * RIG_PERIOD_MS); /* of handshake before the move begins */
    ck_assert_int_eq(rig_first_alarm(&rig).limit, rig.out.axis[0].target_um);
    rig_end(&rig);
}
END_TEST

/* ---- what an image proves -------------------------------------------------------------------------------------- */

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

#define RECORD_MAX 4000

static struct kr_axis_in recorded[RECORD_MAX];
static int n_recorded, n_replayed;

static void records(struct rig *rig)
{
    if (n_recorded < RECORD_MAX)
        recorded[n_recorded++] = rig->in.axis[0];
}

/* The whole handshake of the last move once more, 'target reached' at its end, and the position of this one's
 * target: all right but for the serial that it answers. */
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
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
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

static uint32_t frozen_serial;

static void answers_stand_still(struct rig *rig)
{
    rig->in.axis[0].answers = frozen_serial;
}

/* The images say that the pin is in, the brake open or closed, the pin out: but they answer an output from before
 * that was asked for. The step goes on until its limit. */
START_TEST(proof_that_is_older_than_what_asked_for_it_counts_for_nothing)
{
    static const struct {
        enum kr_carriage_phase phase;
        int64_t limit_ms;
    } steps[] = {{KR_CARRIAGE_DOCKING, 1500},
                 {KR_CARRIAGE_FREEING, 1000},
                 {KR_CARRIAGE_BRAKING, 1000},
                 {KR_CARRIAGE_UNDOCKING, 1500}};
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, steps[_i].phase);
    frozen_serial = rig.in.axis[0].answers;
    rig.meddle = answers_stand_still;
    rig_run_ms(&rig, steps[_i].limit_ms - 10);
    ck_assert_int_eq(rig_carriage_phase(&rig, 0), steps[_i].phase);
    rig_cycle(&rig);
    ck_assert_int_ne(rig_carriage_phase(&rig, 0), steps[_i].phase);
    ck_assert(rig_carriage_phase(&rig, 0) == KR_CARRIAGE_BACKING ||
              rig_carriage_phase(&rig, 0) == KR_CARRIAGE_STOPPING);
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

/* ---- what makes motion untrusted ------------------------------------------------------------------------------- */

static void pin_slips(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_PIN_IN;
}

static void brake_closes(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_BRAKE_OPEN;
}

static void dropped_out(struct rig *rig)
{
    rig->in.axis[0].statusword = 0x0233; /* switched on, no longer in operation */
}

static void unreferenced(struct rig *rig)
{
    rig->in.axis[0].referenced = false;
}

static const struct loss {
    void (*meddle)(struct rig *rig);
    enum kr_alarm_code code;
    int32_t value;
} losses[] = {
    {dropped_out, KR_ALARM_DRIVE_DROPPED_OUT, 0x0233},
    {unreferenced, KR_ALARM_REFERENCE_LOST, 0},
    {pin_slips, KR_ALARM_PIN_LOST, 0},
    {brake_closes, KR_ALARM_BRAKE_LOST, 0},
};
#define N_LOSSES ((int)(sizeof losses / sizeof losses[0]))

START_TEST(what_makes_motion_untrusted_aborts_in_the_same_cycle_and_the_holder_is_unknown)
{
    const struct loss *loss = &losses[_i];
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
    rig_run_ms(&rig, 200);
    uint16_t docked = rig_docked(&rig, 0);
    rig.meddle = loss->meddle;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTING);
    ck_assert_int_eq(rig_alarm(&rig), loss->code);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, docked);
    ck_assert_int_eq(rig_first_alarm(&rig).value, loss->value);
    rig_cycle(&rig);
    rig.meddle = NULL;
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_uint_eq(rig_known(&rig, 0, (uint16_t)(docked - 1)), KR_UNKNOWN);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ABORTED);
    rig_is_honest(&rig);
    rig_carry_on(&rig);
    rig_end(&rig);
}
END_TEST

static int32_t age_ms;
static uint8_t silent;

static void old(struct rig *rig)
{
    rig->in.axis[0].age_ms = age_ms;
    rig->in.axis[0].silent = silent;
}

/* _i: who is silent */
START_TEST(answers_too_old_for_motion_stop_it_and_those_just_young_enough_do_not)
{
    static const enum kr_alarm_code named[] = {[KR_SILENT_DRIVE] = KR_ALARM_ANSWERS_LATE,
                                               [KR_SILENT_NETWORK] = KR_ALARM_NETWORK_SILENT,
                                               [KR_SILENT_LINE] = KR_ALARM_LINE_WAITS,
                                               [KR_SILENT_SELF] = KR_ALARM_STOOD_STILL};
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_SCAN, 0, KR_CARRIAGE_SCANNING);
    rig.meddle = old;
    silent = (uint8_t)_i;
    age_ms = 250;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_EXECUTE);
    age_ms = 251;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDING);
    ck_assert_int_eq(rig_alarm(&rig), named[_i]);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 251);
    ck_assert_int_eq(rig_first_alarm(&rig).limit, 250);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    ck_assert(rig.out.axis[0].controlword & KR_CW_HALT);
    rig.meddle = NULL;
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    rig_stays_still_ms(&rig, 2000); /* only a command resumes */
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* In mid-drag nothing is heard of the drive for a while: it is told to halt, and when its answers are back, pin,
 * brake and position prove where the holder is. */
START_TEST(a_holder_whose_drive_was_silent_for_a_while_is_placed_and_not_lost)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    uint16_t holder = rig_docked(&rig, 0);
    rig.meddle = old;
    silent = KR_SILENT_DRIVE;
    age_ms = 251;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDING);
    rig.meddle = NULL;
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    ck_assert_int_eq(rig_known(&rig, 0, (uint16_t)(holder - 1)), KR_PLACED);
    rig_is_honest(&rig);
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* Requests that reach the drive 0 to 40 ms late: it answers with where the carriage is then, not with where it was
 * when it was asked. */
static void asked_late(struct rig *rig)
{
    static const int32_t late_ms[] = {0, 15, 40, 3, 28, 40, 0, 0, 37, 22};
    int32_t ms = late_ms[rig->time_us / 1000 / RIG_PERIOD_MS % 10];
    rig->in.axis[0].age_ms = ms;
    rig->in.axis[0].span_us = 1000 * ms;
}

START_TEST(questions_that_are_late_on_their_way_are_no_jump_and_a_jump_still_is)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig.config.geometry.rail[0].empty.v_um_per_s = 1000000;
    rig.config.geometry.rail[0].empty.a_um_per_s2 = 4000000;
    rig.config.carriage[0].jump_um = 2 * MM;
    rig_begin(&rig);
    rig.meddle = asked_late;
    rig_start_changeover(&rig);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_stage(&rig, 2);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    rig_break(&rig, 0, SIM_POSITION_JUMP, 0, 300 * MM);
    rig_run_ms(&rig, 200);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_POSITION_JUMPED);
    rig_end(&rig);
}
END_TEST

#define HELD_CYCLES 20

static struct {
    struct kr_axis_in image; /* the last one before it */
    int left;                /* cycles until the question reaches the drive; negative: none is held back */
} held_back;

/* One question, held back as a lost segment of TCP holds it back: the drive answers with where the carriage is then. */
static void holds_one_back(struct rig *rig)
{
    struct kr_axis_in *in = &rig->in.axis[0];
    if (held_back.left < 0) {
        held_back.image = *in;
    } else if (held_back.left > 0) {
        held_back.image.age_ms += RIG_PERIOD_MS;
        *in = held_back.image;
    } else {
        in->age_ms = (HELD_CYCLES - 1) * RIG_PERIOD_MS;
        in->span_us = 1000 * in->age_ms;
    }
    held_back.left -= held_back.left >= 0;
}

/* _i: at which part of its full speed, in per cent. */
START_TEST(one_question_that_is_held_back_as_the_carriage_sets_out_is_no_jump)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig.config.geometry.rail[0].empty = (struct kr_speed){1000 * MM, 4000 * MM};
    held_back.left = -1;
    rig_begin(&rig);
    rig.meddle = holds_one_back;
    rig_start_changeover(&rig);
    while (abs(sim_machine_speed_um_per_s(&rig.machine, 0)) <= _i * 10 * MM)
        rig_cycle(&rig);
    held_back.left = HELD_CYCLES - 1;
    rig_ends_verified(&rig);
    ck_assert_int_lt(held_back.left, 0);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_link_that_is_lost_in_motion_aborts_and_is_named_alone)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.drive_inputs = 0x1F; /* they go with the link */
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 1, KR_CARRIAGE_DRAGGING);
    uint16_t holder = rig_docked(&rig, 1);
    rig_break(&rig, 1, SIM_LINK_LOST, 0, 0);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTING);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_LINK_LOST);
    ck_assert_uint_eq(rig_first_alarm(&rig).rail, 2);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_int_eq(rig_known(&rig, 1, (uint16_t)(holder - 1)), KR_UNKNOWN);
    rig_command(&rig, KR_COMMAND_CLEAR, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_LINK_LOST); /* it still is */
    rig_mend(&rig, 1, SIM_LINK_LOST, 0);
    rig_run_ms(&rig, 200);
    rig_stays_still_ms(&rig, 2000);
    rig_end(&rig);
}
END_TEST

static void refuses(struct rig *rig)
{
    rig->in.axis[0] = (struct kr_axis_in){.refusal = {KR_REFUSED_PARAMETER, 3, 224, 5, 2, "quick stop option"},
                                          .wire = rig->in.axis[0].wire};
}

static void check_shown_name(const struct rig *rig, const char *expected)
{
    char name[KR_PARAMETER_NAME_MAX + 1] = "";
    const uint16_t *word = &rig_image(rig)->word[kr_reg_info(KR_REG_DRIVE_PARAMETER_NAME_1)->address];
    for (int i = 0; i < KR_PARAMETER_NAME_MAX; i++)
        name[i] = (char)(word[i / 2] >> (i % 2 ? 0 : 8) & 0xFF);
    ck_assert_str_eq(name, expected);
}

static void to_idle_again(struct rig *rig)
{
    rig_command(rig, KR_COMMAND_STOP, 0);
    rig_until_state(rig, KR_STATE_STOPPED);
    rig_to_idle(rig);
}

START_TEST(a_drive_with_a_wrong_parameter_is_named_at_rest_and_nothing_starts_until_it_is_right)
{
    static const enum kr_job jobs[] = {KR_JOB_HOME, KR_JOB_SCAN, KR_JOB_JOG};
    struct rig rig;
    rig_begin_small(&rig);
    rig.meddle = refuses;
    rig_run_ms(&rig, 100);
    struct kr_alarm alarm = rig_first_alarm(&rig);
    ck_assert_uint_eq(alarm.code, KR_ALARM_DRIVE_PARAMETER);
    ck_assert_uint_eq(alarm.rail, 1);
    ck_assert_uint_eq(alarm.item, 3);
    ck_assert_int_eq(alarm.value, 5);
    ck_assert_int_eq(alarm.limit, 2);
    check_shown_name(&rig, "quick stop option");
    to_idle_again(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_DRIVE_PARAMETER); /* it still is */
    for (size_t i = 0; i < sizeof jobs / sizeof jobs[0]; i++)
        ck_assert_int_eq(rig_command_start(&rig, (struct start_values){jobs[i], 1, 0, 0, 0}), KR_ALARM_STANDS);
    rig.meddle = NULL;
    rig_run_ms(&rig, 100);
    to_idle_again(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    check_shown_name(&rig, "");
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_SCAN, 1, 0, 0, 0}), KR_OK);
    rig_end(&rig);
}
END_TEST

static void belongs_to_another(struct rig *rig)
{
    rig->in.axis[0] = (struct kr_axis_in){.refusal = {.why = KR_REFUSED_OTHER_GATEWAY, .seen = 42, .expected = 7}};
}

START_TEST(a_drive_that_another_gateway_works_is_named_by_its_number)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig.meddle = belongs_to_another;
    rig_run_ms(&rig, 100);
    struct kr_alarm alarm = rig_first_alarm(&rig);
    ck_assert_uint_eq(alarm.code, KR_ALARM_OTHER_GATEWAY);
    ck_assert_int_eq(alarm.value, 42);
    ck_assert_int_eq(alarm.limit, 7);
    to_idle_again(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_SCAN, 1, 0, 0, 0}), KR_ALARM_STANDS);
    ck_assert_int_eq(rig_answer_value(&rig), KR_ALARM_OTHER_GATEWAY);
    rig.meddle = NULL;
    rig_run_ms(&rig, 100);
    to_idle_again(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_refused_drive_in_motion_aborts_as_a_lost_link_does)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig.meddle = refuses;
    rig_until_state_within(&rig, KR_STATE_ABORTED, 10000);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_DRIVE_PARAMETER);
    rig_command(&rig, KR_COMMAND_CLEAR, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_DRIVE_PARAMETER);
    rig_end(&rig);
}
END_TEST

/* Nothing can prove that a drive without a link stands. Its own watchdog must have stopped it; the unit comes to
 * rest. */
START_TEST(a_link_that_stays_lost_in_motion_ends_in_aborted)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig_break(&rig, 0, SIM_LINK_LOST, 0, 0);
    rig_until_state_within(&rig, KR_STATE_ABORTED, 10000);
    rig_run_ms(&rig, 20000);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTED);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_LINK_LOST);
    rig_mend(&rig, 0, SIM_LINK_LOST, 0);
    rig_run_ms(&rig, 3000);
    rig_carry_on(&rig);
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
    ck_assert_int_le(rig_ms_until_alarm(&rig, KR_ALARM_DRIVE_FAULT), 2 * RIG_PERIOD_MS);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 0x3210);
    rig_until_state(&rig, KR_STATE_ABORTED);
    rig_mend(&rig, 0, SIM_DRIVE_FAULT, 0);
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    rig_stays_still_ms(&rig, 1000);
    rig_reset(&rig);
    rig_stays_still_ms(&rig, 3000);
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), at_um);
    if (rig_docked(&rig, 0) != 0) {
        ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_RELEASE_NEEDED);
        rig_start_job(&rig, KR_JOB_RELEASE);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- the datum ------------------------------------------------------------------------------------------------- */

START_TEST(homing_that_does_not_end_is_an_alarm_at_its_limit)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[0].absolute_encoder = 0;
    rig.config.carriage[0].setup_speed_um_per_s = 10; /* it would take an hour */
    rig.config.carriage[0].home_limit_ms = 5000;
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_HOMING);
    int64_t came_ms = rig_ms_until_alarm(&rig, KR_ALARM_HOMING_FAILED);
    ck_assert_int_ge(came_ms, 5000);
    ck_assert_int_le(came_ms, 5100);
    ck_assert_uint_eq(rig_first_alarm(&rig).rail, 1);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert(!rig_anything_moves(&rig));
    rig_end(&rig);
}
END_TEST

START_TEST(a_homing_that_was_broken_off_leaves_no_datum_behind)
{
    struct rig rig;
    /* Its encoders are absolute: the drives say that they are referenced all the time */
    rig_begin_small(&rig);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_HOMING);
    rig_run_ms(&rig, 200);
    rig_break(&rig, 0, SIM_POSITION_JUMP, 0, 5 * MM); /* nobody can tell while it homes */
    rig_run_ms(&rig, 100);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_to_idle(&rig);
    ck_assert(!rig_status_has(&rig, KR_STATUS_REFERENCED));
    rig_stage(&rig, 1);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NOT_HOMED);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_complete(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* _i: 0 at rest, 1 in a scan, 2 at rest with a restart after it */
START_TEST(after_a_position_jumped_nothing_is_believed_before_homing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    if (_i == 1) {
        rig_start_job(&rig, KR_JOB_VERIFY);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
        rig_run_ms(&rig, 1500);
    }
    rig_break(&rig, 0, SIM_POSITION_JUMP, 0, _i == 1 ? 6 * MM : 3 * MM);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_POSITION_JUMPED);
    ck_assert_int_eq(rig_known(&rig, 0, 2), KR_UNKNOWN);
    ck_assert_uint_eq(rig_line_status(&rig) & (KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER), 0);
    rig_run_ms(&rig, 3000);
    if (_i == 1) {
        ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTED);
        rig_command(&rig, KR_COMMAND_CLEAR, 0);
        rig_until_state(&rig, KR_STATE_STOPPED);
    } else if (_i == 2) {
        rig_restart(&rig);
    } else {
        rig_command(&rig, KR_COMMAND_STOP, 0);
        rig_until_state(&rig, KR_STATE_STOPPED);
    }
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NOT_HOMED);
    ck_assert(!rig_status_has(&rig, KR_STATUS_REFERENCED));
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_REFERENCED));
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void add_limits(Suite *suite)
{
    TCase *tc = suite_case(suite, "limits");
    tcase_add_test(tc, a_drive_that_does_not_come_on_is_an_alarm_at_its_limit_and_not_before);
    tcase_add_test(tc, a_set_point_that_is_never_acknowledged_is_an_alarm_at_its_limit_and_not_before);
    tcase_add_test(tc, an_acknowledge_that_never_clears_is_an_alarm_at_its_limit_and_not_before);
    tcase_add_test(tc, an_acknowledge_that_stays_after_the_set_point_is_taken_back_is_an_alarm_at_its_limit);
    tcase_add_test(tc, a_move_that_does_not_end_is_an_alarm_when_it_is_due_and_not_before);
}

static void add_proof(Suite *suite)
{
    TCase *tc = suite_case(suite, "proof");
    tcase_add_test(tc, an_old_target_reached_does_not_end_the_next_move);
    tcase_add_test(tc, the_handshake_of_an_older_move_ends_no_newer_one);
    tcase_add_loop_test(tc, proof_that_is_older_than_what_asked_for_it_counts_for_nothing, 0, 4);
    tcase_add_test(tc, an_older_homing_ends_no_newer_one);
    tcase_add_test(tc, a_drive_that_says_reached_elsewhere_is_not_believed);
    tcase_add_test(tc, an_image_that_comes_again_is_no_jump_and_neither_is_what_follows_it);
}

static void add_losses(Suite *suite)
{
    TCase *tc = suite_case(suite, "losses");
    tcase_add_loop_test(tc, what_makes_motion_untrusted_aborts_in_the_same_cycle_and_the_holder_is_unknown, 0,
                        N_LOSSES);
    tcase_add_loop_test(tc, answers_too_old_for_motion_stop_it_and_those_just_young_enough_do_not, 0, 4);
    tcase_add_test(tc, a_holder_whose_drive_was_silent_for_a_while_is_placed_and_not_lost);
    tcase_add_test(tc, questions_that_are_late_on_their_way_are_no_jump_and_a_jump_still_is);
    tcase_add_loop_test(tc, one_question_that_is_held_back_as_the_carriage_sets_out_is_no_jump, 0, 40);
    tcase_add_test(tc, a_link_that_is_lost_in_motion_aborts_and_is_named_alone);
    tcase_add_test(tc, a_link_that_stays_lost_in_motion_ends_in_aborted);
    tcase_add_test(tc, a_drive_with_a_wrong_parameter_is_named_at_rest_and_nothing_starts_until_it_is_right);
    tcase_add_test(tc, a_drive_that_another_gateway_works_is_named_by_its_number);
    tcase_add_test(tc, a_refused_drive_in_motion_aborts_as_a_lost_link_does);
    tcase_add_loop_test(tc, after_a_drive_fault_the_old_set_point_is_never_run_to_its_end, KR_CARRIAGE_TRAVELLING,
                        KR_CARRIAGE_SCANNING);
}

static void add_datum(Suite *suite)
{
    TCase *tc = suite_case(suite, "datum");
    tcase_add_test(tc, homing_that_does_not_end_is_an_alarm_at_its_limit);
    tcase_add_test(tc, a_homing_that_was_broken_off_leaves_no_datum_behind);
    tcase_add_loop_test(tc, after_a_position_jumped_nothing_is_believed_before_homing, 0, 3);
}

Suite *make_suite(void)
{
    Suite *suite = suite_create("drive");
    add_limits(suite);
    add_proof(suite);
    add_losses(suite);
    add_datum(suite);
    return suite;
}
