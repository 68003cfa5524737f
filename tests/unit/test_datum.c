/* Tests of positions of a carriage that can't be true: a wrong word order, scale or direction, and a wrong datum. */
#include <limits.h>
#include <stdlib.h>

#include "rig.h"
#include "suite.h"

static uint32_t swapped(uint32_t value)
{
    return value << 16 | value >> 16;
}

/* What the gateway reads of drive 1, mapped wrongly. */
static void words_swapped(struct rig *rig)
{
    rig->in.axis[0].position_um = (int32_t)swapped((uint32_t)rig->in.axis[0].position_um);
}

static void reversed(struct rig *rig)
{
    rig->in.axis[0].position_um = -rig->in.axis[0].position_um;
}

static void ten_times(struct rig *rig)
{
    rig->in.axis[0].position_um *= 10;
}

/* The carriages stand at true 400 mm; travel is from -200 to 3200 mm, its margin 5 mm. */
static void begin_at(struct rig *rig, int32_t at_um, void (*meddle)(struct rig *))
{
    rig_defaults(rig, 2, 5, 1);
    rig->sim_config.rail[0].carriage_um = at_um;
    rig_start(rig);
    rig->meddle = meddle;
    sim_machine_set_inputs(&rig->machine, SIM_INPUTS_ALL | KR_DI_JOG_ENABLE);
    rig_to_idle(rig);
}

static int32_t carriage_um(const struct rig *rig)
{
    return sim_machine_carriage_um(&rig->machine, 0);
}

static int32_t speed(const struct rig *rig)
{
    return abs(sim_machine_speed_um_per_s(&rig->machine, 0));
}

static void refused_as_implausible(struct rig *rig, enum kr_job job)
{
    ck_assert_int_eq(rig_command_start(rig, (struct start_values){job, 1, 3, 0, 1500 * MM}), KR_ALARM_STANDS);
    ck_assert_uint_eq(rig_answer_rail(rig), 1);
    ck_assert_int_eq(rig_answer_value(rig), KR_ALARM_POSITION_IMPLAUSIBLE);
}

/* ---- at rest --------------------------------------------------------------------------------------------------- */

static const struct {
    void (*meddle)(struct rig *);
    int32_t at_um, seen_um, limit_um;
} impossible[] = {
    /* 20 mm read in the wrong word order are 1,310,720 mm */
    {words_swapped, 20 * MM, 1310720000, 3200 * MM},
    {reversed, 220 * MM, -220 * MM, -200 * MM},
    {ten_times, 400 * MM, 4000 * MM, 3200 * MM},
    {NULL, -230 * MM, -230 * MM, -200 * MM}, /* the datum itself is 30 mm off */
};
#define N_IMPOSSIBLE ((int)(sizeof impossible / sizeof impossible[0]))

START_TEST(a_position_beyond_the_travel_is_named_and_no_job_that_needs_it_starts)
{
    static const enum kr_job jobs[] = {KR_JOB_CHANGEOVER, KR_JOB_PARK, KR_JOB_MOVE};
    struct rig rig;
    begin_at(&rig, impossible[_i].at_um, impossible[_i].meddle);
    struct kr_alarm alarm = rig_first_alarm(&rig);
    ck_assert_uint_eq(alarm.code, KR_ALARM_POSITION_IMPLAUSIBLE);
    ck_assert_uint_eq(alarm.rail, 1);
    ck_assert_int_le(abs(alarm.value - impossible[_i].seen_um), 10);
    ck_assert_int_eq(alarm.limit, impossible[_i].limit_um);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 0);
    ck_assert(!rig_status_has(&rig, KR_STATUS_REFERENCED));
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    rig_small_order(&rig, 1);
    rig_request(&rig, KR_REQUEST_STAGE);
    for (size_t i = 0; i < sizeof jobs / sizeof jobs[0]; i++)
        refused_as_implausible(&rig, jobs[i]);
    rig_stays_still_ms(&rig, 500);
    rig_end(&rig);
}
END_TEST

START_TEST(it_stands_as_long_as_it_is_so_and_a_reset_does_not_end_it_before)
{
    struct rig rig;
    begin_at(&rig, 220 * MM, reversed);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_reset(&rig);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_POSITION_IMPLAUSIBLE));
    rig.meddle = NULL; /* the direction is set right: for the carriage's track it has jumped */
    rig_run_ms(&rig, 100);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_reset(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_POSITION_IMPLAUSIBLE));
    rig_end(&rig);
}
END_TEST

START_TEST(within_the_margin_it_is_believed_and_a_micrometre_beyond_it_not)
{
    struct rig rig;
    begin_at(&rig, -205 * MM - _i, NULL);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), _i == 0);
    ck_assert_uint_eq(rig_alarm_count(&rig), (unsigned)_i);
    rig_end(&rig);
}
END_TEST

START_TEST(homing_and_a_jog_are_the_way_back)
{
    static const enum kr_job jobs[] = {KR_JOB_HOME, KR_JOB_JOG};
    struct rig rig;
    begin_at(&rig, -230 * MM, NULL);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){jobs[_i], 1, 0, 0, 0}), KR_OK);
    if (jobs[_i] == KR_JOB_HOME) {
        rig_until_complete(&rig);
    } else {
        rig_until_state(&rig, KR_STATE_EXECUTE);
        rig.in.jog_direction = 1;
        for (int i = 0; i < 400; i++) {
            if (i == 300) /* let go, and pressed again */
                rig.in.jog_direction = 0;
            else if (i == 350)
                rig.in.jog_direction = 1;
            rig.in.jog_refresh++;
            rig_run_ms(&rig, 20);
            if (i < 350) /* then it is within its travel, and the datum counts */
                ck_assert_int_le(speed(&rig), KR_JOG_BLIND_UM_PER_S + 1);
        }
        rig_command(&rig, KR_COMMAND_STOP, 0);
        rig_until_state(&rig, KR_STATE_STOPPED);
    }
    rig_reset(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 1);
    rig_end(&rig);
}
END_TEST

/* ---- in motion ------------------------------------------------------------------------------------------------- */

/* The drive's position runs away from the carriage's, too slowly for a jump. */
static void creeps(struct rig *rig)
{
    static const int32_t um_per_cycle = 500;
    static int32_t off_um;
    off_um = rig->in.axis[0].statusword & KR_SW_VOLTAGE_ENABLED ? off_um - um_per_cycle : 0;
    rig->in.axis[0].position_um += off_um;
}

START_TEST(in_motion_a_position_that_leaves_the_travel_aborts)
{
    struct rig rig;
    rig_defaults(&rig, 1, 5, 1);
    rig.config.carriage[0].travel_min_um = -30 * MM; /* a scan begins at -28 mm */
    rig.sim_config.rail[0].carriage_um = rig.config.carriage[0].park_um = -20 * MM;
    rig_begin(&rig);
    rig_small_order(&rig, 1);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    rig.meddle = creeps;
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_POSITION_IMPLAUSIBLE);
    ck_assert_int_lt(rig_first_alarm(&rig).value, -35 * MM);
    ck_assert_int_eq(speed(&rig), 0);
    rig_end(&rig);
}
END_TEST

/* ---- a doubt that homing alone takes away ---------------------------------------------------------------------- */

#define ENCODER_FAULT   0x7305 /* incremental sensor 1 fault (CiA 402, IEC 61800-7-201) */
#define BATTERY_WARNING 0x3499 /* one of a maker's own: invented */

static uint16_t shown_code;

static void warns(struct rig *rig)
{
    if (shown_code == 0)
        return;
    rig->in.axis[0].statusword |= KR_SW_WARNING;
    rig->in.axis[0].error_code = shown_code;
}

static void stop_and_reset(struct rig *rig)
{
    if (rig_state(rig) != KR_STATE_ABORTED) {
        rig_command(rig, KR_COMMAND_STOP, 0);
        rig_until_state(rig, KR_STATE_STOPPED);
    }
    rig_reset(rig);
}

static void reset_does_not_help(struct rig *rig, enum kr_alarm_code code)
{
    stop_and_reset(rig);
    ck_assert(rig_has_alarm(rig, code));
    ck_assert_uint_eq(rig_u16(rig, KR_REG_RAIL_REFERENCED, 0, 0), 0);
    ck_assert_int_eq(rig_command(rig, KR_COMMAND_START, KR_JOB_SCAN), KR_NOT_HOMED);
    ck_assert_uint_eq(rig_answer_rail(rig), 1);
}

static void homing_helps(struct rig *rig)
{
    rig_start_job(rig, KR_JOB_HOME);
    rig_until_complete(rig);
    rig_reset(rig);
    ck_assert_uint_eq(rig_alarm_count(rig), 0);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_RAIL_REFERENCED, 0, 0), 1);
    rig_start_job(rig, KR_JOB_SCAN);
    rig_until_complete(rig);
}

/* _i: 0 at rest, 1 in a scan */
START_TEST(a_fault_of_its_sensors_leaves_a_drive_without_a_datum)
{
    struct rig rig;
    rig_begin_small(&rig);
    if (_i == 1) {
        rig_start_job(&rig, KR_JOB_SCAN);
        rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    }
    rig_break(&rig, 0, SIM_DRIVE_FAULT, 0, ENCODER_FAULT);
    rig_run_ms(&rig, 3000);
    rig_mend(&rig, 0, SIM_DRIVE_FAULT, 0);
    reset_does_not_help(&rig, KR_ALARM_ENCODER_BLAMED);
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_REMEMBERED);
    homing_helps(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(another_fault_leaves_it)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_break(&rig, 0, SIM_DRIVE_FAULT, 0, 0x2310); /* continuous over-current at the output */
    rig_run_ms(&rig, 3000);
    rig_mend(&rig, 0, SIM_DRIVE_FAULT, 0);
    rig_run_ms(&rig, 100);
    stop_and_reset(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 1);
    rig_end(&rig);
}
END_TEST

/* _i: 0 a sensor's code, 1 the battery's code that the station names, 2 another code: no word of the encoder */
START_TEST(a_warning_of_the_encoder_casts_doubt_once_and_the_job_is_held)
{
    static const uint16_t codes[] = {ENCODER_FAULT, BATTERY_WARNING, 0x4210 /* excess temperature of the device */};
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig.config.carriage[0].battery_code = BATTERY_WARNING;
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    shown_code = codes[_i];
    rig.meddle = warns;
    if (_i == 2) {
        rig_until_complete(&rig);
    } else {
        rig_until_state(&rig, KR_STATE_HELD);
        ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_ENCODER_BLAMED);
        ck_assert_int_eq(rig_first_alarm(&rig).value, codes[_i]);
        reset_does_not_help(&rig, KR_ALARM_ENCODER_BLAMED);
        homing_helps(&rig); /* the battery waits for its replacement */
    }
    rig_end(&rig);
}
END_TEST

/* The gateway restarts; meanwhile the drive's position has become another one. */
START_TEST(a_carriage_that_is_found_elsewhere_than_it_rested_has_no_datum)
{
    static const int32_t by_um[] = {20 * MM, 20 * MM + 10, -20 * MM - 10};
    struct rig rig;
    rig_begin_small(&rig);
    rig_run_ms(&rig, 500);
    rig_restart(&rig);
    rig.machine.axis[0].drive.datum_um += by_um[_i];
    rig_to_idle(&rig);
    ck_assert_uint_eq(rig_has_alarm(&rig, KR_ALARM_CARRIAGE_DRIFTED), _i != 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), _i == 0);
    if (_i != 0) {
        ck_assert_int_le(abs(rig_first_alarm(&rig).value - by_um[_i]), 50);
        ck_assert_int_eq(rig_first_alarm(&rig).limit, 20 * MM);
        reset_does_not_help(&rig, KR_ALARM_CARRIAGE_DRIFTED);
        homing_helps(&rig);
    }
    rig_end(&rig);
}
END_TEST

START_TEST(a_gateway_that_ends_in_motion_compares_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    rig_run_ms(&rig, 1000);
    rig_restart(&rig);
    rig_run_ms(&rig, 8000);
    rig_to_idle(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_CARRIAGE_DRIFTED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 1);
    rig_end(&rig);
}
END_TEST

/* _i: the homing method. 17 looks for a limit switch, as 6098h has it. */
START_TEST(a_homing_that_goes_nowhere_is_no_cure_before_a_person_confirms_it)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig.sim_config.rail[0].absolute_encoder = 0;
    rig.sim_config.rail[0].homing_method = _i;
    rig.sim_config.rail[0].carriage_um = rig.sim_config.rail[0].home_um; /* rightly placed */
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_HOME);
    if (_i != KR_HOMING_HERE && _i != KR_HOMING_HERE_OLD) {
        rig_until_complete(&rig);
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 1);
        ck_assert_int_eq(rig_edit(&rig, KR_EDIT_DATUM, (struct edit_values){.rail = 1}), KR_NO_DATUM_TO_CONFIRM);
        rig_end(&rig);
        return;
    }
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_DATUM_DECLARED);
    ck_assert_int_eq(rig_first_alarm(&rig).value, _i);
    reset_does_not_help(&rig, KR_ALARM_DATUM_DECLARED);
    int32_t at_um = carriage_um(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_DATUM, (struct edit_values){.rail = 2, .position_um = at_um}),
                     KR_UNKNOWN_RAIL);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_DATUM, (struct edit_values){.rail = 1, .position_um = at_um + 2100}),
                     KR_DATUM_DIFFERS);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 0);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_DATUM, (struct edit_values){.rail = 1, .position_um = at_um + 1900}),
                     KR_OK);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 1);
    stop_and_reset(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(homing_is_never_faster_than_the_setup_speed_and_has_its_torque)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig.config.carriage[0].setup_speed_um_per_s = 20 * MM;
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_HOME);
    int32_t fastest = 0;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_HOMING);
    ck_assert_int_eq(rig.out.axis[0].torque_permille, 500);
    ck_assert_int_eq(rig.out.axis[0].homing_creep_um_per_s, 5 * MM);
    for (; rig_carriage_phase(&rig, 0) == KR_CARRIAGE_HOMING; rig_cycle(&rig))
        fastest = speed(&rig) > fastest ? speed(&rig) : fastest;
    ck_assert_int_le(fastest, 20 * MM + 1);
    ck_assert_int_ge(fastest, 19 * MM);
    rig_until_complete(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    ck_assert_int_eq(rig.out.axis[0].torque_permille, 1000);
    rig_end(&rig);
}
END_TEST

/* ---- a jog without a datum ------------------------------------------------------------------------------------- */

static void start_jog_unhomed(struct rig *rig, void (*meddle)(struct rig *))
{
    rig_defaults(rig, 1, 5, 1);
    rig->sim_config.rail[0].absolute_encoder = 0;
    rig->sim_config.rail[0].carriage_um = 500 * MM;
    rig_start(rig);
    sim_machine_set_inputs(&rig->machine, SIM_INPUTS_ALL | KR_DI_JOG_ENABLE);
    rig->meddle = meddle;
    rig_to_idle(rig);
    ck_assert_int_eq(rig_command_start(rig, (struct start_values){KR_JOB_JOG, 1, 0, 0, 0}), KR_OK);
    rig_until_state(rig, KR_STATE_EXECUTE);
    rig_run_ms(rig, 1000);
}

static void hold_ms(struct rig *rig, int16_t direction, int64_t ms)
{
    rig->in.jog_direction = direction;
    for (int64_t t = 0; t < ms; t += 50) {
        rig->in.jog_refresh++;
        rig_run_ms(rig, 50);
        ck_assert_int_le(speed(rig), KR_JOG_BLIND_UM_PER_S + 1);
    }
}

START_TEST(a_carriage_that_was_never_homed_is_jogged_slowly_and_25_mm_with_each_press)
{
    static const int16_t direction[] = {1, -1};
    struct rig rig;
    start_jog_unhomed(&rig, NULL);
    for (int press = 1; press <= 2; press++) {
        int32_t from_um = carriage_um(&rig);
        hold_ms(&rig, direction[_i], 2000);
        ck_assert_int_ge(direction[_i] * (carriage_um(&rig) - from_um), 18 * MM);
        hold_ms(&rig, direction[_i], 3000);
        ck_assert_int_le(abs(direction[_i] * (carriage_um(&rig) - from_um) - KR_JOG_BLIND_WAY_UM), 50);
        hold_ms(&rig, 0, 500);
    }
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_EXECUTE);
    rig_end(&rig);
}
END_TEST

START_TEST(a_jog_that_goes_another_way_than_it_was_told_is_stopped_at_once)
{
    static void (*const wrong[])(struct rig *) = {reversed, ten_times, words_swapped};
    struct rig rig;
    start_jog_unhomed(&rig, wrong[_i]);
    int32_t from_um = carriage_um(&rig);
    hold_ms(&rig, 1, 1000);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_JOG_ASTRAY);
    ck_assert_int_le(abs(carriage_um(&rig) - from_um), 2 * MM);
    ck_assert_int_eq(speed(&rig), 0);
    rig_end(&rig);
}
END_TEST

/* ---- numbers at the end of their range ------------------------------------------------------------------------- */

static uint32_t noise;

static int32_t garbled(int32_t value)
{
    static const int32_t extremes[] = {INT_MAX, INT_MIN, INT_MAX - 1, -INT_MAX, 0, 1 << 30, -(1 << 30), 21000000};
    noise = noise * 1664525u + 1013904223u; /* Numerical Recipes' linear congruential generator, from memory */
    return noise >> 24 < 2 ? extremes[noise >> 13 & 7] : value;
}

static void garbles(struct rig *rig)
{
    struct kr_axis_in *axis = &rig->in.axis[0];
    axis->position_um = garbled(axis->position_um);
    axis->rise_um = garbled(axis->rise_um);
    axis->fall_um = garbled(axis->fall_um);
    axis->following_error_um = garbled(axis->following_error_um);
}

/* Under the sanitizers nothing may overflow; and no output tells a drive to leave the travel. */
START_TEST(whatever_a_drive_says_no_carriage_is_sent_beyond_its_travel)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig_begin(&rig);
    rig_stage(&rig, 1);
    noise = (uint32_t)_i;
    for (int try = 0; try < 6; try++) {
        rig.meddle = garbles;
        (void)rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
        for (int i = 0; i < 3000 && rig_state(&rig) != KR_STATE_COMPLETE; i++) {
            rig_cycle(&rig);
            const struct kr_axis_out *out = &rig.out.axis[0];
            if (out->controlword & KR_CW_NEW_SETPOINT && out->mode == KR_MODE_PROFILE_POSITION) {
                ck_assert_int_ge(out->target_um, -205 * MM);
                ck_assert_int_le(out->target_um, 3205 * MM);
            }
        }
        rig.meddle = NULL;
        rig_run_ms(&rig, 1000);
        if (rig_state(&rig) != KR_STATE_COMPLETE && rig_state(&rig) != KR_STATE_ABORTED)
            rig_command(&rig, KR_COMMAND_ABORT, 0);
        rig_run_ms(&rig, 6000);
        rig_reset(&rig);
        if (rig_command(&rig, KR_COMMAND_START, KR_JOB_RELEASE) == KR_OK)
            rig_until_complete(&rig);
        rig_reset(&rig);
        if (rig_command(&rig, KR_COMMAND_START, KR_JOB_HOME) == KR_OK)
            rig_until_complete(&rig);
        rig_reset(&rig);
        rig_is_honest(&rig);
    }
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("datum");
    TCase *rest = suite_case(suite, "at rest"), *motion = suite_case(suite, "in motion"),
          *doubt = suite_case(suite, "doubt"), *jog = suite_case(suite, "jog"), *range = suite_case(suite, "range");
    tcase_add_loop_test(rest, a_position_beyond_the_travel_is_named_and_no_job_that_needs_it_starts, 0, N_IMPOSSIBLE);
    tcase_add_test(rest, it_stands_as_long_as_it_is_so_and_a_reset_does_not_end_it_before);
    tcase_add_loop_test(rest, within_the_margin_it_is_believed_and_a_micrometre_beyond_it_not, 0, 2);
    tcase_add_loop_test(rest, homing_and_a_jog_are_the_way_back, 0, 2);
    tcase_add_test(motion, in_motion_a_position_that_leaves_the_travel_aborts);
    tcase_add_loop_test(doubt, a_fault_of_its_sensors_leaves_a_drive_without_a_datum, 0, 2);
    tcase_add_test(doubt, another_fault_leaves_it);
    tcase_add_loop_test(doubt, a_warning_of_the_encoder_casts_doubt_once_and_the_job_is_held, 0, 3);
    tcase_add_loop_test(doubt, a_carriage_that_is_found_elsewhere_than_it_rested_has_no_datum, 0, 3);
    tcase_add_test(doubt, a_gateway_that_ends_in_motion_compares_nothing);
    tcase_add_loop_test(doubt, a_homing_that_goes_nowhere_is_no_cure_before_a_person_confirms_it, 34, 38);
    tcase_add_test(doubt, homing_is_never_faster_than_the_setup_speed_and_has_its_torque);
    tcase_add_loop_test(jog, a_carriage_that_was_never_homed_is_jogged_slowly_and_25_mm_with_each_press, 0, 2);
    tcase_add_loop_test(jog, a_jog_that_goes_another_way_than_it_was_told_is_stopped_at_once, 0, 3);
    tcase_add_loop_test(range, whatever_a_drive_says_no_carriage_is_sent_beyond_its_travel, 1, 21);
    return suite;
}
