/* Tests of pin, brake and clamp: every step waits for its proof, with its own time limit and its own alarm. */
#include <stdlib.h>

#include "rig.h"
#include "suite.h"

/* ---- limits: at the limit, and not one cycle before ------------------------------------------------------------ */

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

/* In that phase of a move it strikes, at once; then the limit runs. */
static const struct limit {
    enum kr_carriage_phase carriage;
    void (*meddle)(struct rig *rig); /* NULL: the fault */
    enum sim_fault fault;
    int32_t limit_ms;
    enum kr_alarm_code code;
} limits[] = {
    {KR_CARRIAGE_FREEING, NULL, SIM_BRAKE_STUCK, 1000, KR_ALARM_BRAKE_NOT_OPEN},
    {KR_CARRIAGE_FREEING, brake_open_and_closed_too, 0, 1000, KR_ALARM_BRAKE_NOT_OPEN},
    {KR_CARRIAGE_BRAKING, no_brake_closed, 0, 1000, KR_ALARM_BRAKE_NOT_CLOSED},
    {KR_CARRIAGE_BRAKING, brake_open_and_closed, 0, 1000, KR_ALARM_BRAKE_NOT_CLOSED},
    {KR_CARRIAGE_UNDOCKING, NULL, SIM_PIN_STUCK_IN, 1500, KR_ALARM_PIN_NOT_OUT},
    {KR_CARRIAGE_UNDOCKING, pin_out_and_in, 0, 1500, KR_ALARM_PIN_NOT_OUT},
};
#define N_LIMITS ((int)(sizeof limits / sizeof limits[0]))

static void at_the_limit(struct rig *rig, int64_t limit_ms, enum kr_alarm_code code)
{
    rig_run_ms(rig, limit_ms - 10);
    ck_assert_int_eq(rig_alarm(rig), KR_ALARM_NONE);
    ck_assert_int_eq(rig_state(rig), KR_STATE_EXECUTE);
    rig_cycle(rig);
    ck_assert_int_eq(rig_alarm(rig), code);
    ck_assert_uint_eq(rig_first_alarm(rig).rail, 1);
    ck_assert_int_eq(rig_state(rig), KR_STATE_HOLDING);
}

START_TEST(a_device_that_does_not_move_or_contradicts_itself_is_an_alarm_at_its_limit_and_not_before)
{
    const struct limit *l = &limits[_i];
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, l->carriage);
    rig.meddle = l->meddle;
    if (l->meddle == NULL)
        rig_break(&rig, 0, l->fault, 0, 0);
    uint16_t docked = rig_docked(&rig, 0);
    at_the_limit(&rig, l->limit_ms, l->code);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, docked);
    ck_assert_int_eq(rig_first_alarm(&rig).value, l->limit_ms);
    rig_until_state(&rig, KR_STATE_HELD);
    if (l->meddle == NULL)
        rig_mend(&rig, 0, l->fault, 0);
    rig_unhold(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void brake_seems_open(struct rig *rig)
{
    uint16_t *inputs = &rig->in.axis[0].inputs;
    if (rig_carriage_phase(rig, 0) == KR_CARRIAGE_BRAKING || rig_carriage_phase(rig, 0) == KR_CARRIAGE_STOPPING)
        *inputs = (uint16_t)((*inputs & ~KR_DI_BRAKE_CLOSED) | KR_DI_BRAKE_OPEN);
}

START_TEST(a_brake_that_is_not_proven_closed_keeps_the_pin_in)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig.meddle = brake_seems_open;
    rig_until_carriage(&rig, 0, KR_CARRIAGE_BRAKING);
    rig_alarm_at_limit(&rig, rig.config.carriage[0].brake_limit_ms, KR_ALARM_BRAKE_NOT_CLOSED);
    uint16_t holder = rig_docked(&rig, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_uint_eq(rig_docked(&rig, 0), holder);
    ck_assert(rig.in.axis[0].inputs & KR_DI_PIN_IN);
    ck_assert_int_eq(rig_known(&rig, 0, (uint16_t)(holder - 1)), KR_UNKNOWN);
    rig.meddle = NULL;
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void brake_always_seems_open(struct rig *rig)
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
    rig.meddle = brake_always_seems_open;
    rig_start_job(&rig, KR_JOB_RELEASE);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_BRAKING);
    rig_alarm_at_limit(&rig, rig.config.carriage[0].brake_limit_ms, KR_ALARM_BRAKE_NOT_CLOSED);
    ck_assert(rig.in.axis[0].inputs & KR_DI_PIN_IN);
    rig_end(&rig);
}
END_TEST

/* ---- the pin --------------------------------------------------------------------------------------------------- */

START_TEST(a_pin_that_never_seats_is_tried_again_so_often_and_then_named)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_break(&rig, 0, SIM_PIN_STUCK_OUT, 0, 0);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DOCKING);
    uint16_t holder = rig_docked(&rig, 0);
    int64_t came_ms = rig_ms_until_alarm(&rig, KR_ALARM_PIN_NOT_IN);
    int64_t tries = rig.config.carriage[0].dock_tries, limit_ms = rig.config.carriage[0].pin_limit_ms;
    ck_assert_int_ge(came_ms, tries * limit_ms);
    ck_assert_int_le(came_ms, tries * (limit_ms + 3 * RIG_PERIOD_MS));
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder);
    ck_assert_int_eq(rig_first_alarm(&rig).value, (int32_t)tries);
    ck_assert_int_eq(kr_station_durable(rig.station)->holder[0][holder - 1].dock_retries, tries);
    ck_assert_int_eq(rig_known(&rig, 0, (uint16_t)(holder - 1)), KR_UNKNOWN); /* it may stand elsewhere */
    rig_until_state(&rig, KR_STATE_HELD);
    rig_mend(&rig, 0, SIM_PIN_STUCK_OUT, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_RECORD_RETRIES, 0, 0), tries);
    rig_end(&rig);
}
END_TEST

/* Nobody opened a guard: a vibrating line let it creep. */
START_TEST(a_holder_that_crept_away_is_found_by_the_scan_after_unhold)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_to_idle(&rig);
    rig.in.permissives = 0x1F;
    rig_order_set(&rig, KR_REG_WIDTH, 1, rig_count(&rig, 130 * MM)); /* each moves */
    rig_order_set(&rig, KR_REG_WIDTH_SUM, 0, 0);
    rig_order_set(&rig, KR_REG_ORDER_NUMBER, 0, 2);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, KR_PHASE_MOVE);
    uint16_t crept = kr_station_plan(rig.station)->rail[0].move[0].holder;
    rig_break(&rig, 0, SIM_MOVED_BY_HAND, (uint16_t)(crept - 1), -6 * MM);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PIN_NOT_IN);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, crept);
    rig.false_measured = false; /* before the docking failed nobody could know */
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_until_phase(&rig, KR_PHASE_SCAN);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_pin_that_seats_at_the_second_try_goes_on_and_is_counted)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_break(&rig, 0, SIM_PIN_STUCK_OUT, 0, 0);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_BACKING);
    rig_mend(&rig, 0, SIM_PIN_STUCK_OUT, 0);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RETRIES, 0, 0), 1);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_holder_that_took_many_retries_is_named_once_for_maintenance)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.carriage[0].retries_notice = 8;
    for (uint16_t i = 0; i < 5; i++)
        rig.book.holder[0][i].dock_retries = 7;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_break(&rig, 0, SIM_PIN_STUCK_OUT, 0, 0);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_BACKING);
    uint16_t holder = rig_docked(&rig, 0);
    rig_mend(&rig, 0, SIM_PIN_STUCK_OUT, 0);
    rig_ends_verified(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_MANY_RETRIES);
    ck_assert_uint_eq(rig_first_alarm(&rig).item, holder);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    rig_end(&rig);
}
END_TEST

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
    rig_unhold(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* As the alarm's remedy says: from Held by Stop and Reset to job 5, which moves nothing but the pin. */
START_TEST(after_stop_and_reset_a_guided_release_frees_a_pin_that_did_not_come_out)
{
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig.sim_config.rail[0].pin_in_ms = 10000;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_BACKING);
    rig_break(&rig, 0, SIM_PIN_STUCK_IN, 0, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PIN_NOT_OUT);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_RELEASE), KR_NOT_IN_THIS_STATE);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_STOP, 0), KR_OK);
    rig_until_state(&rig, KR_STATE_STOPPED);
    rig_mend(&rig, 0, SIM_PIN_STUCK_IN, 0);
    rig.machine.config.rail[0].pin_in_ms = 150;
    rig_reset(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_RELEASE_NEEDED);
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    rig_start_job(&rig, KR_JOB_RELEASE);
    rig_until_complete(&rig);
    ck_assert_int_le(abs(sim_machine_carriage_um(&rig.machine, 0) - at_um), 20);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0);
    ck_assert(rig_status(&rig) & KR_STATUS_PINS_OUT);
    rig_end(&rig);
}
END_TEST

static void pin_has_sunk(struct rig *rig)
{
    rig_sink_pin(rig, 0, SIM_TRAVEL / 20); /* not proven out, and clear of the holders */
    rig_break(rig, 0, SIM_PIN_STUCK_IN, 0, 0);
}

/* Before each scan, each travel and each homing the pin has to be proven out, whatever proof ended the last move. */
START_TEST(with_a_pin_that_is_not_proven_out_no_further_travel_begins)
{
    static const struct {
        enum kr_phase job;
        enum kr_carriage_phase carriage;
    } steps[] = {{KR_PHASE_SCAN, KR_CARRIAGE_ENABLING},
                 {KR_PHASE_CLAMP, KR_CARRIAGE_READY},
                 {KR_PHASE_UNCLAMP, KR_CARRIAGE_READY},
                 {KR_PHASE_MOVE, KR_CARRIAGE_READY}};
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig_common_clamp(&rig, 0);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    if (steps[_i].job == KR_PHASE_MOVE)
        rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_UNDOCKING);
    rig_until_step(&rig, steps[_i].job, 0, steps[_i].carriage);
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    pin_has_sunk(&rig);
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PIN_UNPROVEN);
    ck_assert_int_le(abs(sim_machine_carriage_um(&rig.machine, 0) - at_um), 20);
    rig_mend(&rig, 0, SIM_PIN_STUCK_IN, 0);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_UNHOLD, 0), KR_OK); /* it begins by driving it out */
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static void pin_is_not_seen_out(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_PIN_OUT;
}

static void pin_is_seen_in(struct rig *rig)
{
    rig->in.axis[0].inputs |= KR_DI_PIN_IN;
}

/* _i: in a scan and on the way to a holder, each with the pin not seen out any more, and seen in */
START_TEST(a_carriage_that_passes_holders_stops_in_the_cycle_in_which_its_pin_is_not_proven_out)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, _i < 2 ? KR_CARRIAGE_SCANNING : KR_CARRIAGE_TRAVELLING);
    rig_run_ms(&rig, 100);
    ck_assert(rig_anything_moves(&rig));
    rig.meddle = _i % 2 ? pin_is_seen_in : pin_is_not_seen_out;
    rig_cycle(&rig);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PIN_UNPROVEN);
    ck_assert_int_eq(rig_carriage_phase(&rig, 0), KR_CARRIAGE_STOPPING);
    for (uint16_t h = 0; h < 5; h++) /* it may have taken any of them along */
        ck_assert_int_eq(rig_known(&rig, 0, h), KR_UNKNOWN);
    rig_until_state(&rig, KR_STATE_HELD);
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    (void)rig_ms_until_alarm(&rig, KR_ALARM_PIN_NOT_OUT); /* it is driven out first, and that can't be proven */
    rig_until_state(&rig, KR_STATE_HELD);
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), at_um);
    rig.meddle = NULL;
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

static bool drive_is_on(const struct rig *rig, uint16_t rail)
{
    return kr_drive_state_of(rig->in.axis[rail].statusword) == KR_DRIVE_OPERATION_ENABLED;
}

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
    ck_assert(driven || _i == 1); /* a jam may trip the drive: then the pin stays until somebody releases it */
    ck_assert_ptr_null(sim_machine_dragged(&rig.machine));
    rig_end(&rig);
}
END_TEST

/* ---- the common clamp ------------------------------------------------------------------------------------------ */

static void clamped_station(struct rig *rig)
{
    rig_small_ideal(rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        rig_common_clamp(rig, r);
        rig->sim_config.rail[r].clamp_shift_um = 15;
    }
}

static bool clamp_is_asked_open(const struct rig *rig, uint16_t rail)
{
    return rig->out.axis[rail].outputs & KR_DO_CLAMP_OPEN;
}

START_TEST(a_common_clamp_opens_once_with_proof_and_closes_with_proof_before_verification)
{
    struct rig rig;
    clamped_station(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    int opened = 0;
    bool was_open = false;
    while (rig_state(&rig) == KR_STATE_EXECUTE) {
        rig_cycle(&rig);
        bool open = clamp_is_asked_open(&rig, 0);
        opened += open && !was_open;
        was_open = open;
        if (rig_carriage_phase(&rig, 0) == KR_CARRIAGE_DRAGGING)
            ck_assert(rig.in.axis[0].inputs & KR_DI_CLAMP_OPEN);
        if (rig_carriage_phase(&rig, 0) == KR_CARRIAGE_SCANNING)
            ck_assert((rig.in.axis[0].inputs & (KR_DI_CLAMP_OPEN | KR_DI_CLAMP_CLOSED)) == KR_DI_CLAMP_CLOSED);
    }
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED | KR_STATUS_CLAMPED));
    ck_assert_int_eq(opened, 1);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

/* _i: 0 Hold, 1 a permissive, 2 Abort, 3 the gateway restarts */
START_TEST(an_interruption_while_the_clamp_is_open_makes_the_whole_rail_unknown)
{
    struct rig rig;
    clamped_station(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    if (_i == 0)
        rig_command(&rig, KR_COMMAND_HOLD, 0);
    else if (_i == 1)
        rig.in.permissives = 0x1F & ~KR_PERMIT_LINE_STOPPED;
    else if (_i == 2)
        rig_command(&rig, KR_COMMAND_ABORT, 0);
    else
        rig_restart(&rig);
    rig_run_ms(&rig, 4000);
    ck_assert(!rig_anything_moves(&rig));
    ck_assert(!clamp_is_asked_open(&rig, 0));
    for (uint16_t i = 0; i < 5; i++)
        ck_assert_int_eq(rig_known(&rig, 0, i), KR_UNKNOWN);
    ck_assert(rig_status_has(&rig, KR_STATUS_SCAN_DUE));
    rig_end(&rig);
}
END_TEST

static void clamp_never_opens(struct rig *rig)
{
    rig->in.axis[0].inputs &= (uint16_t)~KR_DI_CLAMP_OPEN;
}

static void clamp_never_closes(struct rig *rig)
{
    if (rig_phase(rig) != KR_PHASE_SCAN)
        rig->in.axis[0].inputs &= (uint16_t)~KR_DI_CLAMP_CLOSED;
}

/* _i: 0 it does not open, 1 it does not close */
START_TEST(a_clamp_without_proof_is_an_alarm_at_its_limit_and_not_before)
{
    struct rig rig;
    clamped_station(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    if (_i == 0) {
        rig_until_phase(&rig, KR_PHASE_UNCLAMP);
        rig.meddle = clamp_never_opens;
        while (!clamp_is_asked_open(&rig, 0))
            rig_cycle(&rig);
    } else {
        rig_until_phase(&rig, KR_PHASE_CLAMP);
        rig.meddle = clamp_never_closes;
        while (clamp_is_asked_open(&rig, 0))
            rig_cycle(&rig);
    }
    rig_alarm_at_limit(&rig, rig.config.carriage[0].clamp_limit_ms,
                       _i == 0 ? KR_ALARM_CLAMP_NOT_OPEN : KR_ALARM_CLAMP_NOT_CLOSED);
    ck_assert_int_eq(rig_first_alarm(&rig).value, rig.config.carriage[0].clamp_limit_ms);
    rig_until_state(&rig, KR_STATE_HELD);
    rig.meddle = NULL;
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_clamp_opens_only_after_it_is_stored_that_the_rail_may_be_free)
{
    struct rig rig;
    clamped_station(&rig);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_phase(&rig, KR_PHASE_PLAN);
    rig.book_cycles = -1;
    rig_until_phase(&rig, KR_PHASE_UNCLAMP);
    for (int i = 0; i < 300; i++) {
        rig_cycle(&rig);
        ck_assert(!clamp_is_asked_open(&rig, 0));
    }
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_NONE);
    rig.book_cycles = 2;
    rig_until_phase(&rig, KR_PHASE_MOVE);
    ck_assert_uint_eq(rig.book.clamp_open[0], 1);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(kr_station_durable(rig.station)->clamp_open[0], 0);
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
    rig_unhold(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("devices");
    TCase *tc = suite_case(suite, "limits");
    tcase_add_loop_test(tc, a_device_that_does_not_move_or_contradicts_itself_is_an_alarm_at_its_limit_and_not_before,
                        0, N_LIMITS);
    tcase_add_test(tc, a_brake_that_is_not_proven_closed_keeps_the_pin_in);
    tcase_add_test(tc, a_guided_release_waits_for_the_brake_and_names_it);
    tc = suite_case(suite, "pin");
    tcase_add_test(tc, a_pin_that_never_seats_is_tried_again_so_often_and_then_named);
    tcase_add_test(tc, a_holder_that_crept_away_is_found_by_the_scan_after_unhold);
    tcase_add_test(tc, a_pin_that_seats_at_the_second_try_goes_on_and_is_counted);
    tcase_add_test(tc, a_holder_that_took_many_retries_is_named_once_for_maintenance);
    tcase_add_test(tc, a_pin_that_does_not_come_out_before_another_try_is_an_alarm_at_its_limit);
    tcase_add_test(tc, after_stop_and_reset_a_guided_release_frees_a_pin_that_did_not_come_out);
    tcase_add_loop_test(tc, with_a_pin_that_is_not_proven_out_no_further_travel_begins, 0, 4);
    tcase_add_loop_test(tc, a_carriage_that_passes_holders_stops_in_the_cycle_in_which_its_pin_is_not_proven_out, 0, 4);
    tcase_add_loop_test(tc, a_stop_drives_the_pin_out_only_after_the_drive_is_off, 0, 2);
    tc = suite_case(suite, "clamp");
    tcase_add_test(tc, a_common_clamp_opens_once_with_proof_and_closes_with_proof_before_verification);
    tcase_add_loop_test(tc, an_interruption_while_the_clamp_is_open_makes_the_whole_rail_unknown, 0, 4);
    tcase_add_loop_test(tc, a_clamp_without_proof_is_an_alarm_at_its_limit_and_not_before, 0, 2);
    tcase_add_test(tc, a_clamp_opens_only_after_it_is_stored_that_the_rail_may_be_free);
    tcase_add_test(tc, a_common_clamp_that_closes_by_itself_is_an_alarm_and_the_rail_unknown);
    return suite;
}
