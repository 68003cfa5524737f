/* The carriage's sequence: every step waits for proof, under its own limit and its own alarm. */
#include <check.h>
#include <stdlib.h>

#include "rig.h"

/* ---- carrying on, as a crew would ------------------------------------------------------------------------------------- */

static uint16_t start_code(struct rig *rig, enum kr_job job)
{
    return rig_command(rig, KR_COMMAND_START, job);
}

static void to_idle(struct rig *rig)
{
    if (rig_state(rig) == KR_STATE_ABORTED) {
        ck_assert_uint_eq(rig_command(rig, KR_COMMAND_CLEAR, 0), KR_OK);
        rig_until_state(rig, KR_STATE_STOPPED);
    }
    rig_reset(rig);
}

/* A release or a homing first, where the gateway asks for it. */
static void carry_on(struct rig *rig)
{
    for (int tries = 0; tries < 4; tries++) {
        to_idle(rig);
        uint16_t code = start_code(rig, KR_JOB_CHANGEOVER);
        if (code == KR_OK) {
            rig_ends_verified(rig);
            return;
        }
        ck_assert_msg(code == KR_PIN_NOT_OUT || code == KR_NOT_HOMED, "Start: result %u", (unsigned)code);
        ck_assert_uint_eq(start_code(rig, code == KR_PIN_NOT_OUT ? KR_JOB_RELEASE : KR_JOB_HOME), KR_OK);
        rig_until_state(rig, KR_STATE_COMPLETE);
    }
    ck_abort_msg("Start is refused again and again");
}

/* ---- limits: at the limit, and not one cycle before -------------------------------------------------------------------- */

static void no_brake_closed(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_BRAKE_CLOSED;
}

static void brake_open_and_closed(struct rig *rig)
{
    rig->in.axis[0].inputs |= KR_DI_BRAKE_OPEN;
}

static void brake_open_and_closed_too(struct rig *rig)
{
    rig->in.axis[0].inputs |= KR_DI_BRAKE_CLOSED;
}

static void pin_out_and_in(struct rig *rig)
{
    rig->in.axis[0].inputs |= KR_DI_PIN_IN;
}

/* In that phase it strikes, at once; then the limit runs. */
static const struct limit {
    enum kr_phase job;
    enum kr_carriage_phase carriage;
    void (*meddle)(struct rig *rig);
    int32_t limit_ms;
    enum kr_alarm_code code;
    bool of_holder;
    int32_t value;
} limits[] = {
    {KR_PHASE_MOVE, KR_CARRIAGE_FREEING, brake_open_and_closed_too, 1000, KR_ALARM_BRAKE_NOT_OPEN, true,
     1000},
    {KR_PHASE_MOVE, KR_CARRIAGE_BRAKING, no_brake_closed, 1000, KR_ALARM_BRAKE_NOT_CLOSED, true, 1000},
    {KR_PHASE_MOVE, KR_CARRIAGE_BRAKING, brake_open_and_closed, 1000, KR_ALARM_BRAKE_NOT_CLOSED, true, 1000},
    {KR_PHASE_MOVE, KR_CARRIAGE_UNDOCKING, pin_out_and_in, 1500, KR_ALARM_PIN_NOT_OUT, true, 1500},
};
#define N_LIMITS ((int)(sizeof limits / sizeof limits[0]))

static void at_the_limit(struct rig *rig, int64_t limit_ms, enum kr_alarm_code code)
{
    rig_run_ms(rig, limit_ms - 10);
    ck_assert_int_eq(rig_alarm(rig), KR_ALARM_NONE);
    ck_assert_int_eq(rig_state(rig), KR_STATE_EXECUTE);
    rig_cycle(rig);
    ck_assert_int_eq(rig_alarm(rig), code);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_ALARM_RAIL, 0, 0), 1);
    ck_assert_int_eq(rig_state(rig), KR_STATE_HOLDING);
}

static void unhold(struct rig *rig)
{
    rig_until_state(rig, KR_STATE_HELD);
    rig_is_honest(rig);
    rig->meddle = NULL;
    rig_nothing_moves_ms(rig, 1000);
    ck_assert_uint_eq(rig_command(rig, KR_COMMAND_UNHOLD, 0), KR_OK);
}

START_TEST(two_switches_that_contradict_each_other_prove_nothing_and_are_an_alarm_at_the_limit)
{
    const struct limit *l = &limits[_i];
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, l->job, 0, l->carriage);
    rig.meddle = l->meddle;
    uint16_t docked = rig_docked(&rig, 0);
    at_the_limit(&rig, l->limit_ms, l->code);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_ITEM, 0, 0), l->of_holder ? docked : 0);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ALARM_VALUE, 0, 0), l->value);
    unhold(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- the pin ------------------------------------------------------------------------------------------------------------ */

/* The pin is half in when its limit ends, and comes out no more. */
START_TEST(a_pin_that_does_not_come_out_before_another_try_is_an_alarm_at_its_limit)
{
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig.sim_config.rail[0].pin_in_ms = 10000;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_BACKING);
    rig_break(&rig, 0, SIM_PIN_STUCK_IN, 0, 0);
    at_the_limit(&rig, 1500, KR_ALARM_PIN_NOT_OUT);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_uint_ne(rig_docked(&rig, 0), 0);
    ck_assert(!(rig_status(&rig) & KR_STATUS_PINS_OUT));
    rig_mend(&rig, 0, SIM_PIN_STUCK_IN, 0);
    rig.machine.config.rail[0].pin_in_ms = 150;
    unhold(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void pin_has_sunk(struct rig *rig)
{
    rig->machine.axis[0].rail.carriage.pin = SIM_TRAVEL / 20; /* not proven out, and clear of the holders */
    rig_break(rig, 0, SIM_PIN_STUCK_IN, 0, 0);
}

/* Before each scan, each travel and each homing the pin has to be proven out. */
START_TEST(with_a_pin_that_is_not_proven_out_no_further_travel_begins)
{
    static const enum kr_phase phases[] = {KR_PHASE_SCAN, KR_PHASE_CLAMP, KR_PHASE_UNCLAMP};
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_common_clamp(&rig, 0);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, phases[_i], 0, _i == 0 ? KR_CARRIAGE_ENABLING : KR_CARRIAGE_READY);
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    pin_has_sunk(&rig);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PIN_UNPROVEN);
    ck_assert_int_le(abs(sim_machine_carriage_um(&rig.machine, 0) - at_um), 20);
    rig_mend(&rig, 0, SIM_PIN_STUCK_IN, 0);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNHOLD, 0), KR_OK); /* it begins by driving it out */
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- old proof ------------------------------------------------------------------------------------------------------------- */

static uint32_t frozen;

static void answers_stand_still(struct rig *rig)
{
    rig->in.axis[0].answers = frozen;
}

/* The images say that the pin is in, the brake open or closed, the pin out: but they answer an output from before that was
 * asked for. The step goes on until its limit. */
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
    frozen = rig.in.axis[0].answers;
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

/* ---- what is lost in motion --------------------------------------------------------------------------------------------------- */

static void dropped_out(struct rig *rig)
{
    rig->in.axis[0].statusword = 0x0233; /* switched on, no longer in operation */
}

static void unreferenced(struct rig *rig)
{
    rig->in.axis[0].referenced = false;
}

static const struct lost {
    void (*meddle)(struct rig *rig);
    enum kr_alarm_code code;
    int32_t value;
    bool common_clamp;
} losses[] = {
    {dropped_out, KR_ALARM_DRIVE_DROPPED_OUT, 0x0233, false},
    {unreferenced, KR_ALARM_REFERENCE_LOST, 0, false},
};
#define N_LOSSES ((int)(sizeof losses / sizeof losses[0]))

START_TEST(what_makes_motion_untrusted_aborts_in_the_same_cycle_and_the_holder_is_unknown)
{
    const struct lost *lost = &losses[_i];
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
    rig_run_ms(&rig, 200);
    uint16_t docked = rig_docked(&rig, 0);
    rig.meddle = lost->meddle;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTING);
    ck_assert_int_eq(rig_alarm(&rig), lost->code);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ALARM_ITEM, 0, 0), docked);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ALARM_VALUE, 0, 0), lost->value);
    rig_cycle(&rig);
    rig.meddle = NULL;
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_uint_eq(rig_known(&rig, 0, (uint16_t)(docked - 1)), KR_UNKNOWN);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ABORTED);
    rig_is_honest(&rig);
    carry_on(&rig);
    rig_end(&rig);
}
END_TEST

static int32_t age_ms;

static void old(struct rig *rig)
{
    rig->in.axis[0].age_ms = age_ms;
}

START_TEST(answers_too_old_for_motion_abort_and_those_just_young_enough_do_not)
{
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_SCAN, 0, KR_CARRIAGE_SCANNING);
    rig.meddle = old;
    age_ms = 250;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_EXECUTE);
    age_ms = 251;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_ABORTING);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_ANSWERS_LATE);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ALARM_VALUE, 0, 0), 251);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_ALARM_LIMITS, 0, 0), 250);
    rig_end(&rig);
}
END_TEST

START_TEST(a_common_clamp_that_closes_by_itself_is_an_alarm_and_the_rail_unknown)
{
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_common_clamp(&rig, 0);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_TRAVELLING);
    rig_break(&rig, 0, SIM_CLAMP_LOST, 0, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_CLAMP_LOST);
    for (uint16_t i = 0; i < SMALL_HOLDERS; i++)
        ck_assert_uint_eq(rig_known(&rig, 0, i), KR_UNKNOWN);
    rig_mend(&rig, 0, SIM_CLAMP_LOST, 0);
    unhold(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- the book comes first ------------------------------------------------------------------------------------------------------ */

/* A plan whose way leads into a neighbour, as no planner would make it: the station looks for itself. */
static void bad_plan(struct rig *rig)
{
    struct kr_plan_rail *rail = &rig->in.plan.plan.rail[0];
    for (uint16_t k = 0; rig->in.plan.ticket != 0 && k < rail->n_moves; k++)
        rail->move[k].to_um = rail->move[k].holder == SMALL_HOLDERS ? 0 : 500 * MM;
}

START_TEST(a_way_that_is_not_clear_is_not_gone_whatever_the_plan_says)
{
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_start(&rig);
    rig.meddle = bad_plan;
    rig_to_idle(&rig);
    rig_start_changeover(&rig);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PATH_BLOCKED);
    ck_assert_uint_ne(rig_u16(&rig, KR_REG_ALARM_ITEM, 0, 0), 0);
    ck_assert_int_eq(rig_um(&rig, KR_REG_ALARM_LIMITS, 0, 0), 50800 - 2 * 50);
    ck_assert_uint_eq(sim_machine_entered(&rig.machine, 0, SIM_PHASE_DOCKING), 0);
    unhold(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- Hold, Stop and Abort in each phase ------------------------------------------------------------------------------------------- */

static const struct moment {
    enum kr_phase job;
    enum kr_carriage_phase carriage;
    int32_t wait_ms;
} moments[] = {
    {KR_PHASE_SCAN, KR_CARRIAGE_ENABLING, 20},      {KR_PHASE_SCAN, KR_CARRIAGE_SCANNING, 1500},
    {KR_PHASE_MOVE, KR_CARRIAGE_TRAVELLING, 200},   {KR_PHASE_MOVE, KR_CARRIAGE_DOCKING, 70},
    {KR_PHASE_MOVE, KR_CARRIAGE_FREEING, 40},       {KR_PHASE_MOVE, KR_CARRIAGE_DRAGGING, 200},
    {KR_PHASE_MOVE, KR_CARRIAGE_SETTLING, 30},      {KR_PHASE_MOVE, KR_CARRIAGE_BRAKING, 40},
    {KR_PHASE_MOVE, KR_CARRIAGE_UNDOCKING, 70},     {KR_PHASE_VERIFY, KR_CARRIAGE_SCANNING, 4500},
    {KR_PHASE_TRAVEL, KR_CARRIAGE_TRAVELLING, 100},
};
#define N_MOMENTS ((int)(sizeof moments / sizeof moments[0]))

static bool may_have_moved(enum kr_carriage_phase phase)
{
    return phase >= KR_CARRIAGE_FREEING && phase <= KR_CARRIAGE_BRAKING;
}

static void interrupt(struct rig *rig, const struct moment *moment, enum kr_command command,
                      enum kr_unit_state rest)
{
    rig_begin(rig);
    rig_start_changeover(rig);
    rig_until_step(rig, moment->job, 0, moment->carriage);
    rig_run_ms(rig, moment->wait_ms);
    ck_assert_int_eq(rig_carriage_phase(rig, 0), moment->carriage);
    uint16_t docked = rig_docked(rig, 0);
    ck_assert_uint_eq(rig_command(rig, command, 0), KR_OK);
    rig_until_state(rig, rest);
    rig_is_honest(rig);
    rig_is_sound(rig);
    if (command == KR_COMMAND_ABORT && may_have_moved(moment->carriage))
        ck_assert_uint_eq(rig_known(rig, 0, (uint16_t)(docked - 1)), KR_UNKNOWN);
    for (uint16_t i = 0; rig->config.carriage[0].clamping == KR_CLAMP_COMMON && i < SMALL_HOLDERS; i++)
        if (moment->job == KR_PHASE_MOVE && i + 1 != docked)
            ck_assert_uint_eq(rig_known(rig, 0, i), KR_UNKNOWN);
    rig_nothing_moves_ms(rig, 2000);
}

static void rail_of_kind(struct rig *rig, int i)
{
    rig_small_ordinary(rig, 1);
    if (i % 2)
        rig_common_clamp(rig, 0);
}

START_TEST(held_in_any_phase_nothing_is_claimed_that_is_not_so_and_unheld_it_ends_verified)
{
    struct rig rig;
    rail_of_kind(&rig, _i);
    interrupt(&rig, &moments[_i / 2], KR_COMMAND_HOLD, KR_STATE_HELD);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0); /* the pin is out: the drive stood still */
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNHOLD, 0), KR_OK);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(stopped_in_any_phase_the_next_start_ends_verified)
{
    struct rig rig;
    rail_of_kind(&rig, _i);
    interrupt(&rig, &moments[_i / 2], KR_COMMAND_STOP, KR_STATE_STOPPED);
    carry_on(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(aborted_in_any_phase_what_may_have_moved_is_unknown_and_the_next_start_ends_verified)
{
    struct rig rig;
    rail_of_kind(&rig, _i);
    interrupt(&rig, &moments[_i / 2], KR_COMMAND_ABORT, KR_STATE_ABORTED);
    carry_on(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_gateway_that_restarts_in_any_phase_stops_what_runs_and_the_next_start_ends_verified)
{
    struct rig rig;
    const struct moment *moment = &moments[_i / 2];
    rail_of_kind(&rig, _i);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, moment->job, 0, moment->carriage);
    rig_run_ms(&rig, moment->wait_ms);
    uint16_t docked = rig_docked(&rig, 0);
    rig_restart(&rig);
    rig.in.controlled = true;
    rig.in.control_generation++;
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_run_ms(&rig, 1000);
    rig_nothing_moves_ms(&rig, 1000);
    for (uint16_t i = 0; i < SMALL_HOLDERS; i++)
        ck_assert_uint_le(rig_known(&rig, 0, i), i + 1 == docked ? KR_PLACED : KR_REMEMBERED);
    rig_is_honest(&rig);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0); /* hard-wired guards are closed: it came out */
    carry_on(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(shut_down_in_any_phase_it_comes_to_rest_with_the_pin_out_and_all_of_it_stored)
{
    struct rig rig;
    const struct moment *moment = &moments[_i / 2];
    rail_of_kind(&rig, _i);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, moment->job, 0, moment->carriage);
    rig_run_ms(&rig, moment->wait_ms);
    rig.in.shut_down = true;
    for (int i = 0; i < 1000 && !rig.out.at_rest; i++)
        rig_cycle(&rig);
    ck_assert(rig.out.at_rest);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_STOPPED);
    ck_assert(!rig.out.moving);
    ck_assert_uint_eq(rig.book.serial, kr_station_durable(rig.station)->serial);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_RESET, 0), KR_NOT_IN_THIS_STATE);
    rig_nothing_moves_ms(&rig, 1000);
    rig_is_honest(&rig);
    rig_restart(&rig);
    rig.in.shut_down = false;
    rig_to_idle(&rig);
    ck_assert_uint_eq(start_code(&rig, KR_JOB_CHANGEOVER), KR_OK);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void add_limits(TCase *tc)
{
    tcase_add_loop_test(
        tc, two_switches_that_contradict_each_other_prove_nothing_and_are_an_alarm_at_the_limit, 0, N_LIMITS);
    tcase_add_test(tc, a_pin_that_does_not_come_out_before_another_try_is_an_alarm_at_its_limit);
    tcase_add_loop_test(tc, with_a_pin_that_is_not_proven_out_no_further_travel_begins, 0, 3);
    tcase_add_loop_test(tc, proof_that_is_older_than_what_asked_for_it_counts_for_nothing, 0, 4);
}

static void add_losses(TCase *tc)
{
    tcase_add_loop_test(tc, what_makes_motion_untrusted_aborts_in_the_same_cycle_and_the_holder_is_unknown, 0,
                        N_LOSSES);
    tcase_add_test(tc, answers_too_old_for_motion_abort_and_those_just_young_enough_do_not);
    tcase_add_test(tc, a_common_clamp_that_closes_by_itself_is_an_alarm_and_the_rail_unknown);
    tcase_add_test(tc, a_way_that_is_not_clear_is_not_gone_whatever_the_plan_says);
}

static void add_interruptions(TCase *tc)
{
    tcase_add_loop_test(tc, held_in_any_phase_nothing_is_claimed_that_is_not_so_and_unheld_it_ends_verified,
                        0, 2 * N_MOMENTS);
    tcase_add_loop_test(tc, stopped_in_any_phase_the_next_start_ends_verified, 0, 2 * N_MOMENTS);
    tcase_add_loop_test(tc,
                        aborted_in_any_phase_what_may_have_moved_is_unknown_and_the_next_start_ends_verified,
                        0, 2 * N_MOMENTS);
    tcase_add_loop_test(tc,
                        a_gateway_that_restarts_in_any_phase_stops_what_runs_and_the_next_start_ends_verified,
                        0, 2 * N_MOMENTS);
    tcase_add_loop_test(tc, shut_down_in_any_phase_it_comes_to_rest_with_the_pin_out_and_all_of_it_stored, 0,
                        2 * N_MOMENTS);
}

int main(void)
{
    Suite *suite = suite_create("sequence");
    static const char *const names[] = {"limits", "losses", "interruptions"};
    static void (*const adds[])(TCase *) = {add_limits, add_losses, add_interruptions};
    for (int i = 0; i < 3; i++) {
        TCase *tc = tcase_create(names[i]);
        tcase_set_timeout(tc, 60);
        adds[i](tc);
        suite_add_tcase(suite, tc);
    }
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
