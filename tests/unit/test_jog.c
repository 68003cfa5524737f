/* Tests of hold-to-run, of the move of a single holder, and of reduced speed, that is, of what people need for setting
 * up, with the simulated machine. */
#include <stdlib.h>

#include "rig.h"
#include "suite.h"

/* Two rails of five size 1 holders at 200, 850, 1500, 2150 and 2800 mm; the carriages stand at -100 mm; all that a
 * jog needs is there. */
static void begin(struct rig *rig)
{
    rig_defaults(rig, 2, 5, 1);
    rig_start(rig);
    sim_machine_set_inputs(&rig->machine, SIM_INPUTS_ALL | KR_DI_JOG_ENABLE);
    rig_to_idle(rig);
}

static void start_jog(struct rig *rig)
{
    begin(rig);
    ck_assert_int_eq(rig_command_start(rig, (struct start_values){KR_JOB_JOG, 1, 0, 0, 0}), KR_OK);
    rig_until_state_within(rig, KR_STATE_EXECUTE, 1000);
    rig_run_ms(rig, 1000);
}

/* The client holds its button: a new refresh with every call. */
static void hold_ms(struct rig *rig, int16_t direction, int64_t ms)
{
    rig->in.jog_direction = direction;
    for (int64_t t = 0; t < ms; t += 100) {
        rig->in.jog_refresh++;
        rig_run_ms(rig, 100);
    }
}

static int32_t carriage_um(const struct rig *rig)
{
    return sim_machine_carriage_um(&rig->machine, 0);
}

static int32_t speed(const struct rig *rig)
{
    return sim_machine_speed_um_per_s(&rig->machine, 0);
}

/* ---- hold-to-run ----------------------------------------------------------------------------------------------- */

START_TEST(without_the_drive_inputs_device_there_is_no_jog)
{
    struct rig rig;
    begin(&rig);
    sim_machine_set_inputs(&rig.machine, SIM_INPUTS_ALL);
    rig.in.permissives = 0xFFFF; /* no register gives it */
    rig_run_ms(&rig, 100);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_JOG, 1, 0, 0, 0}), KR_JOG_NOT_ENABLED);
    ck_assert_uint_eq(rig_answer_rail(&rig), 1);
    rig_end(&rig);
}
END_TEST

START_TEST(a_jog_is_for_one_rail_that_is_there)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_JOG, 0, 0, 0, 0}), KR_RAIL_NEEDED);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_JOG, 3, 0, 0, 0}), KR_UNKNOWN_RAIL);
    rig_end(&rig);
}
END_TEST

START_TEST(the_carriage_stands_until_it_is_held_and_runs_at_reduced_speed_while_it_is)
{
    static const int16_t direction[] = {1, -1};
    struct rig rig;
    start_jog(&rig);
    if (direction[_i] < 0)
        hold_ms(&rig, 1, 4000); /* room to come back */
    hold_ms(&rig, 0, 1000);
    int32_t from_um = carriage_um(&rig);
    rig_run_ms(&rig, 1000);
    ck_assert_int_le(abs(carriage_um(&rig) - from_um), 20);
    for (int i = 0; i < 30; i++) {
        hold_ms(&rig, direction[_i], 100);
        ck_assert_int_le(abs(speed(&rig)), 50 * MM + 1);
    }
    ck_assert_int_ge(direction[_i] * (carriage_um(&rig) - from_um), 130 * MM);
    ck_assert(rig_status(&rig) & KR_STATUS_REDUCED_SPEED);
    ck_assert_uint_eq(rig_carriage_phase(&rig, 0), KR_CARRIAGE_JOGGING);
    ck_assert_uint_eq(rig_carriage_phase(&rig, 1), KR_CARRIAGE_OFF); /* the other rail's is at rest */
    rig_end(&rig);
}
END_TEST

/* 50 mm/s and 1 m/s2: 50 ms to stop. */
START_TEST(it_runs_no_longer_than_300_ms_without_a_refresh_and_not_shorter)
{
    struct rig rig;
    start_jog(&rig);
    hold_ms(&rig, 1, 1000);
    rig_run_ms(&rig, 300 - 100 - 20); /* the last refresh is 100 ms old already */
    ck_assert_int_ge(speed(&rig), 49 * MM);
    rig_run_ms(&rig, 20 + 50 + 30);
    ck_assert_int_eq(speed(&rig), 0);
    int32_t at_um = carriage_um(&rig);
    rig_run_ms(&rig, 3000);
    ck_assert_int_le(abs(carriage_um(&rig) - at_um), 20); /* what was left of the old target is not run */
    ck_assert_int_eq(rig_state(&rig), KR_STATE_EXECUTE);
    hold_ms(&rig, 1, 1000);
    ck_assert_int_ge(carriage_um(&rig) - at_um, 35 * MM);
    rig_end(&rig);
}
END_TEST

START_TEST(let_go_it_stops_at_once_and_reversed_it_stops_before_it_goes_back)
{
    static const int16_t then[] = {0, -1, 2, 32767};
    struct rig rig;
    start_jog(&rig);
    hold_ms(&rig, 1, 2000);
    int32_t at_um = carriage_um(&rig), most_um = at_um;
    rig.in.jog_direction = then[_i];
    for (int i = 0; i < 200; i++) {
        if (i % 10 == 0)
            rig.in.jog_refresh++;
        rig_cycle(&rig);
        most_um = carriage_um(&rig) > most_um ? carriage_um(&rig) : most_um;
    }
    ck_assert_int_le(most_um - at_um, 50 * 50 / 2 + 50 * 30); /* braking, and 30 ms until it begins */
    if (then[_i] == -1)
        ck_assert_int_lt(carriage_um(&rig), at_um - 50 * MM);
    else
        ck_assert_int_ge(carriage_um(&rig), at_um);
    rig_end(&rig);
}
END_TEST

START_TEST(a_refresh_from_before_the_job_counts_for_nothing)
{
    struct rig rig;
    begin(&rig);
    rig.in.jog_direction = 1;
    rig.in.jog_refresh = 77;
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_JOG, 1, 0, 0, 0}), KR_OK);
    int32_t from_um = carriage_um(&rig);
    rig_run_ms(&rig, 3000);
    ck_assert_int_le(abs(carriage_um(&rig) - from_um), 20);
    rig_end(&rig);
}
END_TEST

START_TEST(a_link_lost_in_a_jog_is_not_taken_for_the_device_let_go)
{
    struct rig rig;
    start_jog(&rig);
    hold_ms(&rig, 1, 1000);
    rig_break(&rig, 0, SIM_LINK_LOST, 0, 0);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_LINK_LOST);
    rig_end(&rig);
}
END_TEST

START_TEST(the_device_let_go_suspends_and_pressed_again_moves_nothing_before_a_command)
{
    struct rig rig;
    start_jog(&rig);
    hold_ms(&rig, 1, 1000);
    sim_machine_set_inputs(&rig.machine, SIM_INPUTS_ALL);
    hold_ms(&rig, 1, 200);
    ck_assert_int_eq(speed(&rig), 0);
    rig_until_state_within(&rig, KR_STATE_SUSPENDED, 3000);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_JOG_ENABLE_LOST);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_UNSUSPEND, 0), KR_JOG_NOT_ENABLED);

    sim_machine_set_inputs(&rig.machine, SIM_INPUTS_ALL | KR_DI_JOG_ENABLE);
    int32_t at_um = carriage_um(&rig);
    hold_ms(&rig, 1, 2000);
    ck_assert_int_le(abs(carriage_um(&rig) - at_um), 20);
    rig_command(&rig, KR_COMMAND_UNSUSPEND, 0);
    rig_until_state_within(&rig, KR_STATE_EXECUTE, 3000);
    hold_ms(&rig, 1, 2000);
    ck_assert_int_ge(carriage_um(&rig) - at_um, 50 * MM);
    rig_end(&rig);
}
END_TEST

START_TEST(each_permissive_of_a_jog_lost_stops_it)
{
    static const uint16_t permissive[] = {KR_PERMIT_LINE_STOPPED, KR_PERMIT_KNIVES_RAISED, KR_PERMIT_ENABLE};
    struct rig rig;
    start_jog(&rig);
    hold_ms(&rig, 1, 1000);
    rig.in.permissives = (uint16_t)(rig.in.permissives & ~permissive[_i]);
    hold_ms(&rig, 1, 200);
    ck_assert_int_eq(speed(&rig), 0);
    rig_until_state_within(&rig, KR_STATE_SUSPENDED, 3000);
    rig_end(&rig);
}
END_TEST

START_TEST(guards_may_be_open_in_a_jog_and_then_positions_are_only_remembered)
{
    struct rig rig;
    start_jog(&rig);
    rig.in.permissives = (uint16_t)(rig.in.permissives & ~KR_PERMIT_GUARDS_CLOSED);
    int32_t at_um = carriage_um(&rig);
    hold_ms(&rig, 1, 1000);
    ck_assert_int_ge(carriage_um(&rig) - at_um, 30 * MM);
    ck_assert(rig_status(&rig) & KR_STATUS_SCAN_DUE);
    rig_end(&rig);
}
END_TEST

/* Travel ends at -200 mm; the carriage stands at -100 mm. */
START_TEST(at_the_end_of_its_travel_it_stands)
{
    struct rig rig;
    start_jog(&rig);
    hold_ms(&rig, -1, 5000);
    ck_assert_int_le(abs(carriage_um(&rig) + 200 * MM), 50);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    hold_ms(&rig, 1, 1000);
    ck_assert_int_ge(carriage_um(&rig), -200 * MM + 30 * MM);
    rig_end(&rig);
}
END_TEST

/* The link is up and the last outputs hold, as with a gateway that hangs: the drive was never sent further than
 * that. */
START_TEST(whatever_happens_to_the_gateway_the_drive_stops_by_itself_within_its_lead)
{
    struct rig rig;
    start_jog(&rig);
    hold_ms(&rig, 1, 1000 + 10 * _i);
    int32_t at_um = carriage_um(&rig);
    for (int i = 0; i < 300; i++)
        sim_machine_step(&rig.machine, rig.out.axis, 10000, rig.in.axis);
    ck_assert_int_eq(speed(&rig), 0);
    ck_assert_int_le(carriage_um(&rig) - at_um, 50 * 600 + 1250 + 100);
    rig_end(&rig);
}
END_TEST

START_TEST(stop_ends_a_jog_and_the_order_stays_verified)
{
    struct rig rig;
    rig_defaults(&rig, 2, 5, 1);
    rig.config.access = 0;
    rig_start(&rig);
    rig_set_up(&rig, 9, 2, 300 * MM);
    sim_machine_set_inputs(&rig.machine, SIM_INPUTS_ALL | KR_DI_JOG_ENABLE);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_JOG, 1, 0, 0, 0}), KR_OK);
    uint16_t record = rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0);
    hold_ms(&rig, 1, 2000);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state_within(&rig, KR_STATE_STOPPED, 3000);
    ck_assert_int_eq(speed(&rig), 0);
    ck_assert(rig_status(&rig) & KR_STATUS_VERIFIED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), record); /* it placed nothing */
    /* the carriage isn't parked: the knives must not come down */
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_pin_that_is_not_proven_out_is_not_jogged_along)
{
    struct rig rig;
    start_jog(&rig);
    hold_ms(&rig, 1, 500);
    rig_sink_pin(&rig, 0, SIM_TRAVEL / 4); /* it has sunk out of its end position */
    rig_break(&rig, 0, SIM_PIN_STUCK_IN, 0, 0);
    hold_ms(&rig, 1, 300);
    ck_assert_int_eq(speed(&rig), 0);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_PIN_UNPROVEN));
    rig_end(&rig);
}
END_TEST

/* ---- one output ------------------------------------------------------------------------------------------------ */

static const struct {
    uint16_t output, input;
    bool common_clamp;
    enum kr_known known;
} tries[] = {{KR_DO_PIN_IN, KR_DI_PIN_IN, false, KR_UNKNOWN},
             {KR_DO_BRAKE_OPEN, KR_DI_BRAKE_OPEN, false, KR_UNKNOWN},
             {KR_DO_CLAMP_OPEN, KR_DI_CLAMP_OPEN, true, KR_UNKNOWN},
             {KR_DO_PIN_OUT, KR_DI_PIN_OUT, false, KR_REMEMBERED}};

static bool powered(const struct rig *rig)
{
    return kr_drive_state_of(rig->in.axis[0].statusword) == KR_DRIVE_OPERATION_ENABLED;
}

START_TEST(an_output_is_tried_while_it_is_held_with_the_drive_off_and_nothing_else_on)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[0].carriage_um = 60 * MM; /* at a holder: elsewhere a pin finds nothing to go into */
    if (tries[_i].common_clamp)
        rig_common_clamp(&rig, 0);
    rig_start(&rig);
    sim_machine_set_inputs(&rig.machine, SIM_INPUTS_ALL | KR_DI_JOG_ENABLE);
    rig_to_idle(&rig);
    int32_t at_um = carriage_um(&rig);
    ck_assert_int_eq(rig_command_try(&rig, 1, tries[_i].output), KR_OK);
    rig_until_state(&rig, KR_STATE_EXECUTE);
    rig_run_ms(&rig, 1000);
    ck_assert_uint_eq(rig.out.axis[0].outputs, 0); /* until it is asked for */
    for (int i = 0; i < 20; i++) {
        hold_ms(&rig, 1, 100);
        ck_assert_uint_eq(rig.out.axis[0].outputs, tries[_i].output);
        ck_assert(!powered(&rig));
        ck_assert_uint_eq(rig.book.holder[0][0].known, tries[_i].known); /* stored before it came on */
    }
    ck_assert(rig.in.axis[0].inputs & tries[_i].input);
    ck_assert_uint_eq(rig_carriage_phase(&rig, 0), KR_CARRIAGE_TRYING);
    hold_ms(&rig, 0, 100);
    ck_assert_uint_eq(rig.out.axis[0].outputs, 0);
    hold_ms(&rig, 1, 100);
    rig_run_ms(&rig, 300); /* not refreshed */
    ck_assert_uint_eq(rig.out.axis[0].outputs, 0);
    rig_command(&rig, KR_COMMAND_STOP, 0);
    rig_until_state(&rig, KR_STATE_STOPPED);
    ck_assert_int_eq(carriage_um(&rig), at_um);
    ck_assert_int_eq(rig_known(&rig, 1, 0), KR_REMEMBERED);
    rig_reset(&rig);
    if (tries[_i].output == KR_DO_PIN_IN) { /* it is still in */
        ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_SCAN), KR_RELEASE_NEEDED);
        rig_start_job(&rig, KR_JOB_RELEASE);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_MEASURED);
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(only_one_output_that_the_rail_has_is_tried)
{
    static const uint16_t outputs[] = {0, KR_DO_CLAMP_OPEN, KR_DO_PIN_IN | KR_DO_PIN_OUT, 0x10, 0xFFFF};
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(rig_command_try(&rig, 1, outputs[_i]), KR_UNKNOWN_OUTPUT);
    ck_assert_int_eq(rig_answer_value(&rig), outputs[_i]);
    ck_assert_int_eq(rig_answer_limit(&rig), KR_DO_PIN_IN | KR_DO_PIN_OUT | KR_DO_BRAKE_OPEN);
    rig_end(&rig);
}
END_TEST

START_TEST(let_go_of_the_device_takes_a_tried_output_away)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(rig_command_try(&rig, 1, KR_DO_BRAKE_OPEN), KR_OK);
    rig_until_state(&rig, KR_STATE_EXECUTE);
    hold_ms(&rig, 1, 500);
    ck_assert_uint_eq(rig.out.axis[0].outputs, KR_DO_BRAKE_OPEN);
    sim_machine_set_inputs(&rig.machine, SIM_INPUTS_ALL);
    hold_ms(&rig, 1, 100);
    ck_assert_uint_eq(rig.out.axis[0].outputs, 0);
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_JOG_ENABLE_LOST);
    rig_end(&rig);
}
END_TEST

static void drive_comes_on(struct rig *rig)
{
    rig->in.axis[0].statusword = (uint16_t)((rig->in.axis[0].statusword & ~0x6Fu) | 0x27u);
}

START_TEST(a_drive_that_is_not_off_ends_a_try)
{
    struct rig rig;
    begin(&rig);
    ck_assert_int_eq(rig_command_try(&rig, 1, KR_DO_PIN_IN), KR_OK);
    rig_until_state(&rig, KR_STATE_EXECUTE);
    hold_ms(&rig, 1, 100);
    rig.meddle = drive_comes_on;
    rig_run_ms(&rig, 20);
    ck_assert_uint_eq(rig.out.axis[0].outputs, 0);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_DRIVE_NOT_OFF);
    rig_end(&rig);
}
END_TEST

/* ---- one holder to one place ----------------------------------------------------------------------------------- */

START_TEST(a_single_holder_is_moved_to_its_place_and_nothing_else_is)
{
    struct rig rig;
    begin(&rig);
    struct start_values move = {KR_JOB_MOVE, 2, 3, 0, 1710 * MM};
    int32_t before_um[5];
    for (uint16_t h = 0; h < 5; h++)
        before_um[h] = sim_machine_holder_um(&rig.machine, 1, h);
    ck_assert_int_eq(rig_command_start(&rig, move), KR_OK);
    rig_until_state_within(&rig, KR_STATE_COMPLETE, 120000);
    for (uint16_t h = 0; h < 5; h++)
        ck_assert_int_le(abs(sim_machine_holder_um(&rig.machine, 1, h) - (h == 2 ? 1710 * MM : before_um[h])), 203);
    ck_assert_int_eq(rig_holder(&rig, 2, 3)->known, KR_PLACED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 0), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 1), 1);
    ck_assert_ptr_null(sim_machine_collision(&rig.machine));
    rig_end(&rig);
}
END_TEST

static const struct {
    struct start_values start;
    enum kr_code code;
    uint16_t item;
    int32_t value, limit;
} impossible[] = {
    {{KR_JOB_MOVE, 0, 3, 0, 0}, KR_RAIL_NEEDED, 0, 0, 2},
    {{KR_JOB_MOVE, 1, 0, 0, 0}, KR_UNKNOWN_HOLDER, 0, 0, 5},
    {{KR_JOB_MOVE, 1, 6, 0, 0}, KR_UNKNOWN_HOLDER, 0, 6, 5},
    {{KR_JOB_MOVE, 1, 1, 0, -1}, KR_HOLDER_OFF_RAIL, 1, -1, 0},
    {{KR_JOB_MOVE, 1, 5, 0, 3000001}, KR_HOLDER_OFF_RAIL, 5, 3000001, 3000000},
    {{KR_JOB_MOVE, 1, 2, 0, 1000000}, KR_SEIZED, 2, 0, 0},
    {{KR_JOB_MOVE, 1, 4, 0, 2000000}, KR_NOT_ON_RAIL, 4, 0, 0},
    {{KR_JOB_MOVE, 1, 3, 2, 1500000}, KR_UNKNOWN_SPEED, 0, 2, 1},
    {{KR_JOB_CHANGEOVER, 0, 0, 7, 0}, KR_UNKNOWN_SPEED, 0, 7, 1},
};
#define N_IMPOSSIBLE ((int)(sizeof impossible / sizeof impossible[0]))

START_TEST(what_cannot_be_moved_is_refused_with_holder_value_and_limit)
{
    struct rig rig;
    rig_defaults(&rig, 2, 5, 1);
    rig.book.holder[0][1].state = KR_HOLDER_FIXED;
    rig.book.holder[0][3].state = KR_HOLDER_ABSENT;
    rig_begin(&rig);
    ck_assert_int_eq(rig_command_start(&rig, impossible[_i].start), impossible[_i].code);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_COMMAND_RESULT_ITEM, 0, 0), impossible[_i].item);
    ck_assert_int_eq(rig_answer_value(&rig), impossible[_i].value);
    ck_assert_int_eq(rig_answer_limit(&rig), impossible[_i].limit);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_IDLE);
    rig_end(&rig);
}
END_TEST

/* Everything is measured: too near to a neighbour is said at Start. */
START_TEST(a_place_too_near_to_a_neighbour_is_refused_at_start_when_places_are_known)
{
    static const struct {
        int8_t approach;
        uint16_t holder, neighbour;
        int32_t gap_um;
        bool fits;
    } cases[] = {
        {0, 2, 3, 25400, true}, {0, 2, 3, 25399, false}, {0, 3, 2, 25400, true},   {0, 3, 2, 25399, false},
        {1, 3, 2, 35400, true}, {1, 3, 2, 35399, false}, /* it goes 10 mm past its place and comes back growing */
        {1, 2, 3, 25400, true}, {-1, 2, 3, 35400, true}, {-1, 2, 3, 35399, false}, {-1, 3, 2, 25400, true},
    };
    struct rig rig;
    rig_defaults(&rig, 1, 5, 1);
    rig.config.geometry.rail[0].approach = cases[_i].approach;
    rig.config.geometry.rail[0].overtravel_um = 10 * MM;
    rig_start(&rig);
    rig_set_up(&rig, 1, 2, 300 * MM); /* measures all */
    rig_to_idle(&rig);
    int side = cases[_i].neighbour > cases[_i].holder ? 1 : -1;
    int32_t to_um = rig_holder(&rig, 1, cases[_i].neighbour)->position_um - side * cases[_i].gap_um;
    enum kr_code code = rig_command_start(&rig, (struct start_values){KR_JOB_MOVE, 1, cases[_i].holder, 0, to_um});
    ck_assert_int_eq(code, cases[_i].fits ? KR_OK : KR_SPACING);
    if (cases[_i].fits) {
        rig_until_state_within(&rig, KR_STATE_COMPLETE, 60000);
        ck_assert_ptr_null(sim_machine_collision(&rig.machine));
        ck_assert(!(rig_status(&rig) & KR_STATUS_VERIFIED));
    }
    rig_end(&rig);
}
END_TEST

START_TEST(where_places_are_not_known_it_is_judged_after_the_scan)
{
    struct rig rig;
    rig_defaults(&rig, 1, 5, 1);
    rig.book.holder[0][2].position_um -= 900 * MM; /* the book errs */
    rig_begin(&rig);
    int32_t third_um = sim_machine_holder_um(&rig.machine, 0, 2);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_MOVE, 1, 2, 0, third_um - 20 * MM}), KR_OK);
    rig_until_state_within(&rig, KR_STATE_HELD, 120000);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_PLAN_REFUSED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFUSAL_CODE, 0, 0), KR_SPACING);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFUSAL_RAIL, 0, 0), 1);
    ck_assert_int_eq(rig_um(&rig, KR_REG_REFUSAL_LIMIT, 0, 0), 25400);
    ck_assert_int_le(abs(sim_machine_holder_um(&rig.machine, 0, 1) - 850 * MM), 20);
    rig_end(&rig);
}
END_TEST

/* ---- reduced speed --------------------------------------------------------------------------------------------- */

START_TEST(a_changeover_at_reduced_speed_is_never_faster_and_is_verified_all_the_same)
{
    static const int32_t bias_um[] = {0, 1200}; /* two-way scans; one-way with a bias that holds at full speed only */
    struct rig rig;
    rig_defaults(&rig, 1, 5, 1);
    rig.config.carriage[0].scan_ways = KR_SCAN_ONE_WAY;
    rig.config.carriage[0].scan_bias_um = bias_um[_i];
    rig_start(&rig);
    int32_t widths_um[2] = {300 * MM, 400 * MM};
    rig_order(&rig, 3, 760 * MM, widths_um, 2);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){KR_JOB_CHANGEOVER, 0, 0, KR_SPEED_REDUCED, 0}),
                     KR_OK);
    int32_t fastest = 0;
    for (int i = 0; i < 200000 && rig_state(&rig) != KR_STATE_COMPLETE; i++) {
        rig_cycle(&rig);
        fastest = abs(speed(&rig)) > fastest ? abs(speed(&rig)) : fastest;
    }
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_VERIFIED);
    ck_assert_int_le(fastest, 50 * MM + 1);
    ck_assert_int_ge(fastest, 49 * MM);
    ck_assert_int_le(rig_worst_edge_um(&rig), rig.config.geometry.tolerance_um);
    /* it was planned at that speed: nobody is told that it is late */
    ck_assert_int_le(rig_i32(&rig, KR_REG_RECORD_ACTUAL, 0, 0), rig_i32(&rig, KR_REG_RECORD_PLANNED, 0, 0) * 11 / 10);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("setting up");
    TCase *jog = suite_case(suite, "jog"), *move = suite_case(suite, "move"),
          *reduced = suite_case(suite, "reduced speed");
    tcase_set_timeout(reduced, 120);
    tcase_add_test(jog, without_the_drive_inputs_device_there_is_no_jog);
    tcase_add_test(jog, a_jog_is_for_one_rail_that_is_there);
    tcase_add_loop_test(jog, the_carriage_stands_until_it_is_held_and_runs_at_reduced_speed_while_it_is, 0, 2);
    tcase_add_test(jog, it_runs_no_longer_than_300_ms_without_a_refresh_and_not_shorter);
    tcase_add_loop_test(jog, let_go_it_stops_at_once_and_reversed_it_stops_before_it_goes_back, 0, 4);
    tcase_add_test(jog, a_refresh_from_before_the_job_counts_for_nothing);
    tcase_add_test(jog, a_link_lost_in_a_jog_is_not_taken_for_the_device_let_go);
    tcase_add_test(jog, the_device_let_go_suspends_and_pressed_again_moves_nothing_before_a_command);
    tcase_add_loop_test(jog, each_permissive_of_a_jog_lost_stops_it, 0, 3);
    tcase_add_test(jog, guards_may_be_open_in_a_jog_and_then_positions_are_only_remembered);
    tcase_add_test(jog, at_the_end_of_its_travel_it_stands);
    tcase_add_loop_test(jog, whatever_happens_to_the_gateway_the_drive_stops_by_itself_within_its_lead, 0, 60);
    tcase_add_test(jog, stop_ends_a_jog_and_the_order_stays_verified);
    tcase_add_test(jog, a_pin_that_is_not_proven_out_is_not_jogged_along);
    TCase *try = suite_case(suite, "try");
    tcase_add_loop_test(try, an_output_is_tried_while_it_is_held_with_the_drive_off_and_nothing_else_on, 0, 4);
    tcase_add_loop_test(try, only_one_output_that_the_rail_has_is_tried, 0, 5);
    tcase_add_test(try, let_go_of_the_device_takes_a_tried_output_away);
    tcase_add_test(try, a_drive_that_is_not_off_ends_a_try);
    tcase_add_test(move, a_single_holder_is_moved_to_its_place_and_nothing_else_is);
    tcase_add_loop_test(move, what_cannot_be_moved_is_refused_with_holder_value_and_limit, 0, N_IMPOSSIBLE);
    tcase_add_loop_test(move, a_place_too_near_to_a_neighbour_is_refused_at_start_when_places_are_known, 0, 10);
    tcase_add_test(move, where_places_are_not_known_it_is_judged_after_the_scan);
    tcase_add_loop_test(reduced, a_changeover_at_reduced_speed_is_never_faster_and_is_verified_all_the_same, 0, 2);
    return suite;
}
