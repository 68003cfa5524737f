/* Tests of permissives, heartbeat, control and access: nothing moves without them, and nothing begins to move again by
 * itself. */
#include "rig.h"
#include "suite.h"

#define ALL 0x1F

/* ---- permissives lost ------------------------------------------------------------------------------------------ */

static const struct moment {
    enum kr_phase job;
    uint16_t rail;
    enum kr_carriage_phase carriage;
    int32_t wait_ms;
    bool unclamped; /* rail 2's common clamp is or may be open */
} moments[] = {
    {KR_PHASE_SCAN, 0, KR_CARRIAGE_ENABLING, 30, false},     {KR_PHASE_SCAN, 0, KR_CARRIAGE_SCANNING, 30, false},
    {KR_PHASE_SCAN, 1, KR_CARRIAGE_SCANNING, 4500, false},   {KR_PHASE_UNCLAMP, 1, KR_CARRIAGE_READY, 100, true},
    {KR_PHASE_MOVE, 0, KR_CARRIAGE_TRAVELLING, 30, true},    {KR_PHASE_MOVE, 0, KR_CARRIAGE_DOCKING, 30, true},
    {KR_PHASE_MOVE, 0, KR_CARRIAGE_FREEING, 30, true},       {KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING, 150, true},
    {KR_PHASE_MOVE, 1, KR_CARRIAGE_DRAGGING, 150, true},     {KR_PHASE_MOVE, 0, KR_CARRIAGE_SETTLING, 30, true},
    {KR_PHASE_MOVE, 0, KR_CARRIAGE_BRAKING, 30, true},       {KR_PHASE_MOVE, 0, KR_CARRIAGE_UNDOCKING, 30, true},
    {KR_PHASE_CLAMP, 1, KR_CARRIAGE_READY, 100, true},       {KR_PHASE_VERIFY, 0, KR_CARRIAGE_SCANNING, 30, false},
    {KR_PHASE_TRAVEL, 0, KR_CARRIAGE_TRAVELLING, 30, false},
};
#define N_MOMENTS ((int)(sizeof moments / sizeof moments[0]))

static bool anything_runs(const struct rig *rig)
{
    return sim_machine_speed_um_per_s(&rig->machine, 0) != 0 || sim_machine_speed_um_per_s(&rig->machine, 1) != 0;
}

/* 0.5 m/s and 1 m/s2: half a second, and 50 ms until it begins. While a permissive is missing no pin is driven out. */
static void comes_to_rest(struct rig *rig)
{
    for (int i = 0; i < 200; i++) {
        rig_cycle(rig);
        for (uint16_t r = 0; r < 2; r++)
            ck_assert_uint_eq(rig->out.axis[r].outputs & KR_DO_PIN_OUT, 0);
        ck_assert_msg(i < 55 || !anything_runs(rig), "it still runs after %d ms", 10 * i);
    }
}

/* Permissives from the PLC's register; rail 2 has a common clamp. */
static void two_rails(struct rig *rig)
{
    rig_small_ordinary(rig, 2);
    rig->config.drive_inputs = 0;
    rig_common_clamp(rig, 1);
    rig_start(rig);
}

/* Whoever was free of an open clamp may have shifted. The one that the pin held is where the carriage stands. */
static void rail_is_unknown(const struct rig *rig, uint16_t docked)
{
    for (uint16_t i = 0; i < SMALL_HOLDERS; i++)
        if (i + 1 != docked)
            ck_assert_uint_eq(rig_known(rig, 1, i), KR_UNKNOWN);
    ck_assert(docked == 0 || rig_known(rig, 1, (uint16_t)(docked - 1)) != KR_MEASURED);
}

/* _i: the moment, and which of the five permissives */
START_TEST(each_permissive_lost_stops_both_rails_and_leaves_what_an_open_clamp_freed_unknown)
{
    struct rig rig;
    const struct moment *moment = &moments[_i / 5];
    uint16_t lost = (uint16_t)(1u << _i % 5);
    two_rails(&rig);
    rig_to_idle(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, moment->job, moment->rail, moment->carriage);
    rig_run_ms(&rig, moment->wait_ms);
    ck_assert_int_eq(rig_phase(&rig), moment->job);
    uint16_t docked = rig_docked(&rig, 1);
    rig.in.permissives = (uint16_t)(ALL & ~lost);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDING);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PERMISSIVE_LOST);
    ck_assert_int_eq(rig_first_alarm(&rig).value, lost);
    comes_to_rest(&rig);
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_PERMISSIVE_LOST);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNSUSPEND, 0), KR_PERMISSIVE_MISSING);
    ck_assert_int_eq(rig_answer_value(&rig), lost);
    if (moment->unclamped)
        rail_is_unknown(&rig, docked);
    rig_is_honest(&rig);

    rig.in.permissives = ALL;
    rig_stays_still_ms(&rig, 3000);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNSUSPEND, 0), KR_OK);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_permissive_counts_for_those_kinds_of_motion_that_it_is_listed_for)
{
    struct rig rig;
    rig_small_ordinary(&rig, 1);
    rig.config.drive_inputs = 0;
    rig.config.need_scan = KR_PERMIT_LINE_STOPPED | KR_PERMIT_GUARDS_CLOSED;
    rig.config.need_drag = ALL;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_SCAN, 0, KR_CARRIAGE_SCANNING);
    rig.in.permissives = ALL & ~KR_PERMIT_AIR;
    rig_run_ms(&rig, 1000);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_EXECUTE);
    rig_until_state(&rig, KR_STATE_SUSPENDED); /* as soon as holders would be moved */
    ck_assert_uint_eq(rig_phase(&rig), KR_PHASE_UNCLAMP);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNSUSPEND, 0), KR_PERMISSIVE_MISSING);
    rig.in.permissives = ALL;
    rig_run_ms(&rig, 50);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNSUSPEND, 0), KR_OK);
    rig_until_step(&rig, KR_PHASE_VERIFY, 0, KR_CARRIAGE_SCANNING);
    rig.in.permissives = ALL & ~KR_PERMIT_AIR;
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_permissive_lost_while_resuming_is_checked_leads_back)
{
    struct rig rig;
    two_rails(&rig);
    rig_to_idle(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
    rig.in.permissives = 0;
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    rig.in.permissives = ALL;
    rig_run_ms(&rig, 50);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNSUSPEND, 0), KR_OK);
    rig_run_ms(&rig, 200);
    rig.in.permissives = ALL & ~KR_PERMIT_ENABLE;
    rig_nothing_moves_ms(&rig, 3000);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDED);
    rig.in.permissives = ALL;
    rig_nothing_moves_ms(&rig, 1000);
    rig_command(&rig, KR_COMMAND_UNSUSPEND, 0);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* Start was taken, the book is slow, a permissive falls and comes back before anything has moved. */
START_TEST(a_permissive_lost_while_starting_does_not_start_motion_by_its_return)
{
    struct rig rig;
    two_rails(&rig);
    rig_to_idle(&rig);
    rig_stage(&rig, 1);
    rig_run_ms(&rig, 100);
    rig.book_cycles = -1;
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_OK);
    rig.in.permissives = ALL & ~KR_PERMIT_GUARDS_CLOSED;
    rig_run_ms(&rig, 500);
    rig.in.permissives = ALL;
    rig.book_cycles = 2;
    rig_nothing_moves_ms(&rig, 3000);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDED);
    rig_command(&rig, KR_COMMAND_UNSUSPEND, 0);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(while_it_is_held_permissives_may_come_and_go)
{
    struct rig rig;
    two_rails(&rig);
    rig_to_idle(&rig);
    rig_start_changeover(&rig);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_TRAVELLING);
    rig_command(&rig, KR_COMMAND_HOLD, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    rig.in.permissives = 0;
    rig_nothing_moves_ms(&rig, 2000);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_HELD);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNHOLD, 0), KR_PERMISSIVE_MISSING);
    rig.in.permissives = ALL;
    rig_nothing_moves_ms(&rig, 500);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_UNHOLD, 0), KR_OK);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_drive_inputs_permissive_is_not_given_by_the_register_and_has_to_be_there_on_every_rail)
{
    static const enum sim_fault faults[] = {SIM_LINE_RUNS, SIM_KNIVES_LOWERED, SIM_GUARDS_OPENED, SIM_AIR_LOST};
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    rig.config.drive_inputs = (uint16_t)(1u << _i);
    rig_begin(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), ALL);
    rig_break(&rig, 0, faults[_i], 0, 0);
    rig.in.permissives = 0xFFFF;
    rig_run_ms(&rig, 50);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), ALL & ~(1 << _i));
    rig_mend(&rig, 0, faults[_i], 0);
    rig.in.permissives = (uint16_t)(1u << _i);
    rig_run_ms(&rig, 50);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), 1 << _i); /* no register takes it, either */
    rig.in.permissives = 0;
    rig_run_ms(&rig, 50);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), 1 << _i);
    rig_end(&rig);
}
END_TEST

/* ---- the pin where people may be ------------------------------------------------------------------------------- */

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

/* ---- heartbeat and control ------------------------------------------------------------------------------------- */

/* _i: 0 permissives from the register, 1 all of them drive inputs */
START_TEST(a_heartbeat_that_stands_still_suspends_at_its_limit_and_not_before)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.drive_inputs = _i ? 0x1F : 0;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    uint16_t last = rig.in.plc_heartbeat;
    while (rig.in.plc_heartbeat == last)
        rig_cycle(&rig);
    rig.heart_stopped = true; /* its last change was in this cycle */
    rig_run_ms(&rig, rig.config.heartbeat_limit_ms - RIG_PERIOD_MS);
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

/* A PLC that takes a download is silent for longer than motion may go on. */
START_TEST(control_is_kept_for_its_own_limit_and_motion_stops_at_the_heartbeats)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.heartbeat_limit_ms = 1000;
    rig.config.control_limit_ms = 8000;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    rig.heart_stopped = true;
    rig_run_ms(&rig, 1000);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_HEARTBEAT_STALE);
    rig_run_ms(&rig, 6400);
    ck_assert(!rig.out.drop_control);
    rig.heart_stopped = false;
    rig_run_ms(&rig, 1000);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDED);
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    rig.heart_stopped = true;
    rig_run_ms(&rig, 7000);
    ck_assert(!rig.out.drop_control);
    rig_run_ms(&rig, 1000);
    ck_assert(rig.out.drop_control);
    rig_end(&rig);
}
END_TEST

START_TEST(the_longest_gap_of_the_heartbeat_is_readable_and_begins_anew_with_control)
{
    struct rig rig;
    two_rails(&rig);
    rig_to_idle(&rig);
    rig_run_ms(&rig, 2000);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_HEARTBEAT_GAP, 0, 0), 500);
    rig.heart_stopped = true;
    rig_run_ms(&rig, 1200);
    rig.heart_stopped = false;
    rig_run_ms(&rig, 500);
    uint16_t gap_ms = rig_u16(&rig, KR_REG_HEARTBEAT_GAP, 0, 0);
    ck_assert_uint_ge(gap_ms, 1200);
    ck_assert_uint_le(gap_ms, 1720);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_HEARTBEAT_LIMIT, 0, 0), rig.config.heartbeat_limit_ms);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_CONTROL_LIMIT, 0, 0), rig.config.control_limit_ms);
    rig.in.control_generation++;
    rig_run_ms(&rig, 100);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_HEARTBEAT_GAP, 0, 0), 0);
    rig_end(&rig);
}
END_TEST

/* A cycle of 5 s: the process had no processor, or was stopped. _i: 0 the heartbeat has changed meanwhile, 1 not yet */
START_TEST(a_gateway_that_stood_still_says_so_and_does_not_blame_the_plc)
{
    struct rig rig;
    rig_small_ideal(&rig, 1);
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SCANNING);
    rig_run_ms(&rig, 70);
    if (_i == 0)
        rig.in.plc_heartbeat++;
    rig.in.dt_us = RIG_PERIOD_MS * 1000;
    rig.in.wall_dt_us = 5000000;
    kr_station_step(rig.station, &rig.in, &rig.out);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_SUSPENDING);
    ck_assert_int_eq(rig_alarm(&rig), KR_ALARM_STOOD_STILL);
    ck_assert_int_eq(rig_first_alarm(&rig).value, 5000);
    ck_assert_uint_eq(rig_alarm_count(&rig), 1);
    ck_assert(!rig.out.drop_control);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_OWN_GAP, 0, 0), 5000);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_OWN_GAP_AGE, 0, 0), 0);
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    rig_run_ms(&rig, 12000);
    ck_assert_int_ge(rig_i32(&rig, KR_REG_OWN_GAP_AGE, 0, 0), 12);
    ck_assert_int_le(rig_i32(&rig, KR_REG_OWN_GAP_AGE, 0, 0), 22);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_HEARTBEAT_STALE));
    rig_resume(&rig, KR_COMMAND_UNSUSPEND);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* A simulated machine that runs ten times as fast as the clock on the wall: heartbeats are the wall's. */
START_TEST(a_heartbeat_is_judged_by_wall_time)
{
    struct rig rig;
    two_rails(&rig);
    rig_to_idle(&rig);
    rig.heart_stopped = true;
    for (int i = 0; i < 1000; i++) { /* 10 s of the machine, 1 s of the wall */
        rig.in.dt_us = 10000;
        rig.in.wall_dt_us = 1000;
        kr_station_step(rig.station, &rig.in, &rig.out);
        rig.time_us += 10000;
    }
    ck_assert(rig_status(&rig) & KR_STATUS_HEARTBEAT_FRESH);
    rig_end(&rig);
}
END_TEST

START_TEST(the_plcs_heartbeat_is_echoed_and_the_stations_own_steps_once_a_second)
{
    struct rig rig;
    two_rails(&rig);
    rig_to_idle(&rig);
    uint16_t first = rig_u16(&rig, KR_REG_HEARTBEAT, 0, 0), last = first;
    int steps = 0;
    for (int i = 0; i < 1000; i++) {
        rig_cycle(&rig);
        uint16_t now = rig_u16(&rig, KR_REG_HEARTBEAT, 0, 0);
        ck_assert_int_le(now - last, 1);
        steps += now != last;
        last = now;
        ck_assert_uint_eq(rig_u16(&rig, KR_REG_PLC_HEARTBEAT_ECHO, 0, 0), rig.in.plc_heartbeat);
    }
    ck_assert_int_eq(steps, 10);
    rig_end(&rig);
}
END_TEST

START_TEST(at_start_everything_is_false_until_a_heartbeat_is_seen_changing)
{
    struct rig rig;
    two_rails(&rig);
    rig.heart_stopped = true;
    rig.in.permissives = ALL;
    rig.in.plc_heartbeat = 4711; /* as an earlier gateway left it */
    rig_run_ms(&rig, 1000);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), 0);
    rig.in.controlled = true;
    rig.in.control_generation = 1;
    rig_run_ms(&rig, 1000);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PERMISSIVES_MISSING, 0, 0), ALL);
    ck_assert_uint_eq(rig_status(&rig) & (KR_STATUS_PERMITTED | KR_STATUS_HEARTBEAT_FRESH | KR_STATUS_VERIFIED), 0);
    ck_assert(rig_status(&rig) & KR_STATUS_SCAN_DUE);
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert_int_eq(rig_state(&rig), KR_STATE_STOPPED);
    rig_nothing_moves_ms(&rig, 1000);
    rig.in.plc_heartbeat++;
    rig_cycle(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_PERMISSIVES_SEEN, 0, 0), ALL);
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

START_TEST(a_client_without_a_heartbeat_loses_control_after_its_limit)
{
    struct rig rig;
    two_rails(&rig);
    rig.heart_stopped = true;
    rig.in.controlled = true;
    rig.in.control_generation = 1;
    rig_cycle(&rig);
    rig_run_ms(&rig, rig.config.heartbeat_limit_ms - 10);
    ck_assert(!rig.out.drop_control);
    rig_cycle(&rig);
    ck_assert(rig.out.drop_control);
    rig_end(&rig);
}
END_TEST

/* ---- access: where hands may have been ------------------------------------------------------------------------- */

static void placed(struct rig *rig)
{
    rig_to_idle(rig);
    rig_start_changeover(rig);
    rig_ends_verified(rig);
    ck_assert(rig_line_status(rig) & KR_LINE_MAY_RUN);
    ck_assert(rig_line_status(rig) & KR_LINE_MAY_LOWER);
    ck_assert(!(rig_status(rig) & KR_STATUS_SCAN_DUE));
}

START_TEST(what_hands_moved_behind_open_guards_is_found_by_the_scan_before_anything_moves)
{
    struct rig rig;
    two_rails(&rig);
    placed(&rig);
    rig.in.permissives = ALL & ~KR_PERMIT_GUARDS_CLOSED;
    rig_run_ms(&rig, 100);
    rig_break(&rig, 0, SIM_MOVED_BY_HAND, 2, 12 * MM);
    rig_run_ms(&rig, 100);
    rig.in.permissives = ALL;
    rig_small_order(&rig, 2);
    rig_request(&rig, KR_REQUEST_STAGE);
    rig_reset(&rig);
    ck_assert_uint_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_OK);
    rig_until_step(&rig, KR_PHASE_SCAN, 0, KR_CARRIAGE_SCANNING);
    rig_until_step(&rig, KR_PHASE_MOVE, 0, KR_CARRIAGE_DRAGGING);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_FLAG_DISPLACED));
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_drive_without_power_is_access_to_its_rail)
{
    struct rig rig;
    two_rails(&rig);
    placed(&rig);
    rig_break(&rig, 1, SIM_DRIVE_REBOOT, 0, 0);
    rig_run_ms(&rig, 100);
    ck_assert(!(rig_status(&rig) & KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_line_status(&rig), 0);
    ck_assert_uint_eq(rig_known(&rig, 0, 0), KR_MEASURED);
    ck_assert_uint_eq(rig_known(&rig, 1, 0), KR_REMEMBERED);
    rig_end(&rig);
}
END_TEST

static void expect_doubt(const struct rig *rig, uint16_t rails)
{
    ck_assert(!(rig_status(rig) & KR_STATUS_VERIFIED));
    ck_assert(rig_status(rig) & KR_STATUS_SCAN_DUE);
    ck_assert_uint_eq(rig_line_status(rig), 0);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_CUTTING, 0, 0), 0);
    for (uint16_t r = 0; r < rails; r++)
        for (uint16_t i = 0; i < SMALL_HOLDERS; i++) {
            ck_assert_uint_eq(rig_known(rig, r, i), KR_REMEMBERED);
            ck_assert_int_eq(rig_i32(rig, KR_REG_HOLDER_DEVIATION, r, i), 0);
        }
    ck_assert_int_eq(rig_i32(rig, KR_REG_SLIT_MEASURED, 0, 0), 0);
}

START_TEST(what_gives_access_is_configured)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    rig.config.drive_inputs = 0;
    rig.config.access = KR_PERMIT_LINE_STOPPED;
    rig_start(&rig);
    placed(&rig);
    rig.in.permissives = ALL & ~KR_PERMIT_GUARDS_CLOSED;
    rig_run_ms(&rig, 100);
    ck_assert(rig_line_status(&rig) & KR_LINE_MAY_RUN);
    rig.in.permissives = ALL & ~KR_PERMIT_LINE_STOPPED;
    rig_run_ms(&rig, 100);
    expect_doubt(&rig, 2);
    rig_end(&rig);
}
END_TEST

static void add_lost(Suite *suite)
{
    TCase *tc = suite_case(suite, "lost");
    tcase_add_loop_test(tc, each_permissive_lost_stops_both_rails_and_leaves_what_an_open_clamp_freed_unknown, 0,
                        5 * N_MOMENTS);
    tcase_add_test(tc, a_permissive_counts_for_those_kinds_of_motion_that_it_is_listed_for);
    tcase_add_test(tc, a_permissive_lost_while_resuming_is_checked_leads_back);
    tcase_add_test(tc, a_permissive_lost_while_starting_does_not_start_motion_by_its_return);
    tcase_add_test(tc, while_it_is_held_permissives_may_come_and_go);
    tcase_add_loop_test(tc, a_drive_inputs_permissive_is_not_given_by_the_register_and_has_to_be_there_on_every_rail, 0,
                        4);
}

static void add_pin(Suite *suite)
{
    TCase *tc = suite_case(suite, "pin");
    tcase_add_test(tc, a_pin_stays_in_where_people_may_be_and_comes_out_when_the_job_goes_on);
    tcase_add_test(tc, a_pin_on_its_way_out_stops_when_people_may_be_there);
}

static void add_heartbeat(Suite *suite)
{
    TCase *tc = suite_case(suite, "heartbeat");
    tcase_add_loop_test(tc, a_heartbeat_that_stands_still_suspends_at_its_limit_and_not_before, 0, 2);
    tcase_add_test(tc, control_is_kept_for_its_own_limit_and_motion_stops_at_the_heartbeats);
    tcase_add_test(tc, the_longest_gap_of_the_heartbeat_is_readable_and_begins_anew_with_control);
    tcase_add_loop_test(tc, a_gateway_that_stood_still_says_so_and_does_not_blame_the_plc, 0, 2);
    tcase_add_test(tc, a_heartbeat_is_judged_by_wall_time);
    tcase_add_test(tc, the_plcs_heartbeat_is_echoed_and_the_stations_own_steps_once_a_second);
    tcase_add_test(tc, at_start_everything_is_false_until_a_heartbeat_is_seen_changing);
    tcase_add_test(tc, control_that_changes_hands_stops_motion_and_permissives_count_only_from_a_new_beat_on);
    tcase_add_test(tc, a_client_without_a_heartbeat_loses_control_after_its_limit);
}

static void add_access(Suite *suite)
{
    TCase *tc = suite_case(suite, "access");
    tcase_add_test(tc, what_hands_moved_behind_open_guards_is_found_by_the_scan_before_anything_moves);
    tcase_add_test(tc, a_drive_without_power_is_access_to_its_rail);
    tcase_add_test(tc, what_gives_access_is_configured);
}

Suite *make_suite(void)
{
    Suite *suite = suite_create("permissives");
    add_lost(suite);
    add_pin(suite);
    add_heartbeat(suite);
    add_access(suite);
    return suite;
}
