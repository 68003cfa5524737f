/* Tests of every job on every kind of station, of the plan that a job waits for, and of how carriages move holders. */
#include <stdlib.h>
#include <string.h>

#include "rig.h"
#include "suite.h"

/* ---- jobs ------------------------------------------------------------------------------------------------------ */

/* Without an order the web may be as wide as the station takes it: 180 mm on an ideal machine, 300 mm on an
 * ordinary one with longer rails, whose lower rail has a common clamp. Gives how far from the web's centre every
 * holder has to be. */
static int32_t station_to_park(struct rig *rig, bool ordinary)
{
    if (!ordinary) {
        rig_small_ideal(rig, 2);
        rig->config.geometry.web_max_nm = 180000000;
        return 100 * MM - 60; /* 10 mm clear of it, within the deadband */
    }
    rig_small_ordinary(rig, 2);
    rig_common_clamp(rig, 1);
    rig->config.geometry.web_max_nm = 300000000;
    rig->config.geometry.idle_clearance_um = 5 * MM;
    for (uint16_t r = 0; r < 2; r++)
        rig->config.geometry.rail[r].max_um = 700 * MM;
    return 155 * MM - 100;
}

/* _i: 0 the ideal machine, 1 the ordinary one */
START_TEST(park_without_an_order_leaves_every_holder_clear_of_the_widest_web)
{
    struct rig rig;
    int32_t clear_um = station_to_park(&rig, _i == 1);
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_PARK);
    rig_until_complete(&rig);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t i = 0; i < SMALL_HOLDERS; i++) {
            ck_assert_int_ge(abs(sim_machine_holder_um(&rig.machine, r, i) - 250 * MM), clear_um);
            ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, r, i), 0);
        }
    ck_assert_uint_eq(rig_line_status(&rig) & (KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER), 0);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t w = 0; w < KR_HOLDERS_MAX / 16; w++)
            ck_assert_uint_eq(rig_u16(&rig, KR_REG_CUTTING, r, w), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_ENDED);
    ck_assert(rig_status_has(&rig, KR_STATUS_PARKED));
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(home_references_the_rail_that_is_asked_for_and_its_positions_are_only_remembered_then)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.sim_config.rail[0].absolute_encoder = rig.sim_config.rail[1].absolute_encoder = 0;
    rig_begin(&rig);
    ck_assert(!rig_status_has(&rig, KR_STATUS_REFERENCED));
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 2}), KR_OK);
    rig_until_complete(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 1, 0), 1);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_CARRIAGE_POSITION, 1, 0) - sim_machine_carriage_um(&rig.machine, 1)), 2);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 0); /* it places nothing */
    rig_reset(&rig);
    rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 0});
    rig_until_complete(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_REFERENCED));
    rig_reset(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 1});
    rig_until_complete(&rig);
    ck_assert_int_eq(rig_known(&rig, 0, 0), KR_REMEMBERED);
    ck_assert_int_eq(rig_known(&rig, 1, 0), KR_MEASURED);
    ck_assert(!rig_status_has(&rig, KR_STATUS_VERIFIED));
    rig_end(&rig);
}
END_TEST

/* _i: 0 all rails, else that one */
START_TEST(a_scan_alone_needs_no_order_measures_its_rails_and_moves_no_holder)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_SCAN, .rail = (uint16_t)_i}), KR_OK);
    rig_until_complete(&rig);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t h = 0; h < SMALL_HOLDERS; h++)
            ck_assert_int_eq(rig_known(&rig, r, h), _i == 0 || _i == r + 1 ? KR_MEASURED : KR_REMEMBERED);
    ck_assert(rig_status_has(&rig, KR_STATUS_PARKED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_NUMBER, 0, 0), 0);
    ck_assert_uint_eq(rig_line_status(&rig) & (KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER), 0);
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

/* Rail 2's drive isn't there yet. */
START_TEST(one_rail_is_homed_scanned_and_moved_while_the_other_is_not_there)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig_start(&rig);
    rig_break(&rig, 1, SIM_LINK_LOST, 0, 0);
    rig_to_idle(&rig);
    const struct start_values order[] = {
        {KR_JOB_HOME, 1, 0, 0, 0}, {KR_JOB_SCAN, 1, 0, 0, 0}, {KR_JOB_MOVE, 1, 5, KR_SPEED_REDUCED, 440 * MM}};
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        ck_assert_int_eq(rig_command_start(&rig, order[i]), KR_OK);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    ck_assert_int_le(abs(sim_machine_holder_um(&rig.machine, 0, 4) - 440 * MM), 50);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_SCAN}), KR_ALARM_STANDS);
    ck_assert_uint_eq(rig_answer_rail(&rig), 2);
    ck_assert_int_eq(rig_answer_value(&rig), KR_ALARM_LINK_LOST);
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_rail_that_is_not_there_is_refused)
{
    struct rig rig;
    rig_begin_small(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 3}), KR_UNKNOWN_RAIL);
    ck_assert_int_eq(rig_answer_limit(&rig), 2);
    rig_end(&rig);
}
END_TEST

START_TEST(a_guided_release_frees_the_rail_that_is_asked_for_where_it_stands)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig_command(&rig, KR_COMMAND_ABORT, 0);
    rig_until_state(&rig, KR_STATE_ABORTED);
    uint16_t holder = rig_docked(&rig, 0);
    ck_assert_uint_gt(holder, 0);
    rig_reset(&rig);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_HOME, .rail = 1}),
                     KR_RELEASE_NEEDED); /* it would drag the holder along */
    int32_t at_um = sim_machine_carriage_um(&rig.machine, 0);
    ck_assert_int_eq(rig_command_start(&rig, (struct start_values){.job = KR_JOB_RELEASE, .rail = 1}), KR_OK);
    while (rig_state(&rig) != KR_STATE_COMPLETE) {
        rig_cycle(&rig);
        ck_assert(!rig_anything_moves(&rig));
    }
    ck_assert_int_eq(sim_machine_carriage_um(&rig.machine, 0), at_um);
    ck_assert_uint_eq(rig_docked(&rig, 0), 0);
    ck_assert_int_eq(rig_known(&rig, 0, (uint16_t)(holder - 1)), KR_UNKNOWN); /* nobody has measured where it is */
    rig_end(&rig);
}
END_TEST

START_TEST(a_changeover_to_where_everything_stands_moves_nothing)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    while (rig_state(&rig) != KR_STATE_COMPLETE) {
        rig_cycle(&rig);
        for (uint16_t r = 0; r < 2; r++)
            ck_assert_uint_eq(rig.out.axis[r].outputs & KR_DO_PIN_IN, 0);
    }
    ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 0) + rig_u16(&rig, KR_REG_RECORD_MOVES, 0, 1), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(where_the_station_asks_for_it_every_changeover_begins_with_a_scan)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.scan_policy = KR_SCAN_ALWAYS;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, KR_PHASE_SCAN);
    rig_until_complete(&rig);
    rig_end(&rig);
}
END_TEST

/* What a station that accepts remembered places does with them, and with one that nobody remembers. */
START_TEST(where_the_station_accepts_what_is_remembered_only_an_unknown_place_is_scanned_for)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.scan_policy = KR_SCAN_UNKNOWN;
    rig_begin(&rig);
    if (_i == 1)
        rig.book.holder[0][2].known = KR_UNKNOWN;
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_uint_eq(rig_known(&rig, 0, 1), KR_REMEMBERED);
    ck_assert_int_eq(rig_status_has(&rig, KR_STATUS_SCAN_DUE), _i == 1);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, _i == 1 ? KR_PHASE_SCAN : KR_PHASE_PLAN);
    rig_ends_verified(&rig); /* measured by the verification all the same */
    rig_end(&rig);
}
END_TEST

/* The places that are remembered were places by the frame, the switch or the datum before. */
START_TEST(a_scan_follows_a_new_frame_or_switch_or_a_confirmed_shift_although_remembered_places_are_accepted)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.scan_policy = KR_SCAN_UNKNOWN;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    if (_i == 2)
        rig.book.shift_um[0] = 300;
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_status_has(&rig, KR_STATUS_SCAN_DUE), _i == 2);
    struct kr_frame frame = {.offset_um = 300};
    struct edit_values shift = {.rail = 1, .position_um = 300};
    ck_assert_int_eq(
        _i == 0   ? rig_frame(&rig, 1, &frame)
        : _i == 1 ? rig_switch(&rig, 1, (struct kr_switch){.offset_um = rig.config.carriage[0].switch_offset_um + 300})
                  : rig_edit(&rig, KR_EDIT_SHIFT, shift),
        KR_OK);
    ck_assert(rig_status_has(&rig, KR_STATUS_SCAN_DUE));
    rig_restart(&rig);
    rig_to_idle(&rig);
    ck_assert(rig_status_has(&rig, KR_STATUS_SCAN_DUE));
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_until_phase(&rig, KR_PHASE_SCAN);
    rig_end(&rig);
}
END_TEST

/* ---- stations -------------------------------------------------------------------------------------------------- */

START_TEST(a_razor_station_has_an_upper_rail_alone)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.geometry.n_rails = rig.sim_config.n_rails = 1;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_COUNT, 0, 0), 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_ROLE, 1, 0), 65535);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_RECORD_WORST_PAIR, 0, 0), 0);
    ck_assert_int_le(rig_worst_edge_um(&rig), 60);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_SLIT_MEASURED, 0, 0) - 90 * MM), 120);
    rig_end(&rig);
}
END_TEST

START_TEST(a_third_rail_puts_a_knife_at_every_cut_too)
{
    struct rig rig;
    rig_defaults(&rig, 3, 5, 2);
    rig_begin(&rig);
    static const int32_t widths_um[] = {300 * MM, 400 * MM, 350 * MM};
    rig_order(&rig, 1, 1200 * MM, widths_um, 3);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    for (uint16_t r = 0; r < 3; r++) {
        int cuts = 0;
        for (uint16_t i = 0; i < 5; i++)
            cuts += rig_u16(&rig, KR_REG_HOLDER_CUT, r, i) != 0;
        ck_assert_int_eq(cuts, 4);
        ck_assert_uint_ne(rig_u16(&rig, KR_REG_CUTTING, r, 0), 0);
    }
    ck_assert_int_le(rig_worst_edge_um(&rig), 203);
    ck_assert_int_le(rig_worst_pair_um(&rig), 300);
    rig_end(&rig);
}
END_TEST

START_TEST(holders_out_of_service_fixed_and_absent_are_left_where_they_are)
{
    struct rig rig;
    rig_defaults(&rig, 2, 9, 1);
    rig.book.holder[0][1].state = KR_HOLDER_ABSENT;
    rig.sim_config.rail[0].holder[1].absent = true;
    rig.book.holder[0][8].state = KR_HOLDER_FIXED;
    rig.sim_config.rail[0].holder[8].seized = true;
    rig.book.holder[1][4].state = KR_HOLDER_OUT;
    rig_begin(&rig);
    static const int32_t widths_um[] = {200 * MM, 250 * MM, 220 * MM};
    rig_order(&rig, 1, 800 * MM, widths_um, 3);
    ck_assert_int_eq(rig_request(&rig, KR_REQUEST_STAGE), KR_OK);
    int32_t fixed_um = sim_machine_holder_um(&rig.machine, 0, 8);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, 0, 1), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, 0, 8), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, 1, 4), 0);
    ck_assert_int_eq(sim_machine_holder_um(&rig.machine, 0, 8), fixed_um);
    rig_end(&rig);
}
END_TEST

/* ---- the plan -------------------------------------------------------------------------------------------------- */

/* _i: 0 pins as quick as the plan takes them to be, 1 slow ones. */
START_TEST(moves_that_take_much_longer_than_planned_are_a_notice_and_the_job_goes_on)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.job_late_percent = 150;
    for (uint16_t r = 0; r < 2 && _i == 1; r++)
        rig.sim_config.rail[r].pin_in_ms = rig.sim_config.rail[r].pin_out_ms = 1400;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    rig_until_complete(&rig);
    ck_assert_int_eq(rig_has_alarm(&rig, KR_ALARM_JOB_LATE), _i == 1);
    if (_i == 1) {
        struct kr_alarm alarm = rig_first_alarm(&rig);
        ck_assert_int_eq(alarm.code, KR_ALARM_JOB_LATE);
        ck_assert_int_eq(alarm.limit, rig_i32(&rig, KR_REG_RECORD_PLANNED, 0, 0));
        ck_assert_int_gt((int64_t)2 * alarm.value, (int64_t)3 * alarm.limit);
        ck_assert_int_le(alarm.value, rig_i32(&rig, KR_REG_RECORD_ACTUAL, 0, 0));
    }
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_plan_that_does_not_come_holds_the_job_at_its_limit)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig.plan_cycles = 100000;
    rig_until_phase(&rig, KR_PHASE_PLAN);
    while (rig.out.plan_ticket == 0)
        rig_cycle(&rig);
    uint32_t old = rig.out.plan_ticket;
    rig_alarm_at_limit(&rig, rig.config.plan_limit_ms, KR_ALARM_PLAN_LATE);
    rig_until_state(&rig, KR_STATE_HELD);
    rig.plan_cycles = 3;
    rig_command(&rig, KR_COMMAND_UNHOLD, 0);
    rig_until_phase(&rig, KR_PHASE_FREE);
    rig_until_phase(&rig, KR_PHASE_PLAN);
    while (rig.out.plan_ticket == 0)
        rig_cycle(&rig);
    ck_assert_uint_ne(rig.out.plan_ticket, old); /* the old one's answer would be dropped */
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(an_answer_under_an_old_ticket_is_dropped)
{
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig.plan_cycles = 100000;
    rig_until_phase(&rig, KR_PHASE_PLAN);
    while (rig.out.plan_ticket == 0)
        rig_cycle(&rig);
    for (int i = 0; i < 50; i++) {
        rig_cycle(&rig);
        rig.in.plan.ticket = rig.out.plan_ticket - 1;
        rig.in.plan.result = (struct kr_result){.code = KR_OK};
        kr_station_step(rig.station, &rig.in, &rig.out);
        ck_assert_uint_eq(rig_phase(&rig), KR_PHASE_PLAN);
    }
    rig_end(&rig);
}
END_TEST

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
    ck_assert_uint_ne(rig_first_alarm(&rig).item, 0);
    ck_assert_int_eq(rig_um(&rig, KR_REG_ALARM_LIMITS, 0, 0), 50800 - 2 * 50);
    ck_assert_uint_eq(sim_machine_entered(&rig.machine, 0, SIM_PHASE_DOCKING), 0);
    rig_unhold(&rig);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* ---- how carriages move ---------------------------------------------------------------------------------------- */

START_TEST(rails_that_take_turns_never_move_at_the_same_time)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.geometry.rails_together = false;
    rig_begin(&rig);
    rig_start_changeover(&rig);
    bool moved[2] = {false, false};
    while (rig_state(&rig) == KR_STATE_EXECUTE) {
        rig_cycle(&rig);
        bool both = true;
        for (uint16_t r = 0; r < 2; r++) {
            bool moves = abs(sim_machine_speed_um_per_s(&rig.machine, r)) > 500;
            moved[r] = moved[r] || moves;
            both = both && moves;
        }
        ck_assert(!both);
    }
    ck_assert(moved[0] && moved[1]);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* _i: 0 growing, 1 falling */
START_TEST(every_holder_arrives_from_the_side_that_the_station_asks_for)
{
    int side = _i == 0 ? 1 : -1;
    struct rig rig;
    rig_small_ideal(&rig, 2);
    for (uint16_t r = 0; r < 2; r++) {
        rig.config.geometry.rail[r].approach = (int8_t)side;
        rig.config.geometry.rail[r].overtravel_um = 1000;
        rig.sim_config.rail[r].backlash_um = 300;
        rig.config.carriage[r].passes_apart_um = 1500;
    }
    rig_begin(&rig);
    rig_start_changeover(&rig);
    int arrivals = 0, last_way[2] = {0, 0};
    while (rig_state(&rig) == KR_STATE_EXECUTE) {
        enum kr_carriage_phase before[2] = {rig_carriage_phase(&rig, 0), rig_carriage_phase(&rig, 1)};
        rig_cycle(&rig);
        for (uint16_t r = 0; r < 2; r++) {
            int32_t speed = sim_machine_speed_um_per_s(&rig.machine, r);
            if (abs(speed) > 1000)
                last_way[r] = speed > 0 ? 1 : -1;
            if (before[r] == KR_CARRIAGE_DRAGGING && rig_carriage_phase(&rig, r) == KR_CARRIAGE_SETTLING) {
                ck_assert_int_eq(last_way[r], side);
                arrivals++;
            }
        }
    }
    ck_assert_int_gt(arrivals, 3);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* _i: how many tenths of the changeover are over at the checkpoint */
START_TEST(a_copy_of_the_state_and_the_same_inputs_give_the_same_outputs)
{
    enum { CYCLES = 400 };
    struct rig rig;
    rig_begin_small(&rig);
    rig_start_changeover(&rig);
    rig_run_ms(&rig, 3500 * _i);
    struct kr_station *copy = malloc(kr_station_size());
    ck_assert_ptr_nonnull(copy);
    memcpy(copy, rig.station, kr_station_size());
    for (int i = 0; i < CYCLES; i++) {
        struct kr_station_out out;
        rig_cycle(&rig);
        rig.in.request.present = rig.in.command.present = false;
        kr_station_step(copy, &rig.in, &out);
        for (uint16_t r = 0; r < 2; r++) {
            const struct kr_axis_out *a = &out.axis[r], *b = &rig.out.axis[r];
            ck_assert_uint_eq(a->serial, b->serial);
            ck_assert_uint_eq(a->controlword, b->controlword);
            ck_assert_uint_eq(a->outputs, b->outputs);
            ck_assert_int_eq(a->target_um, b->target_um);
        }
    }
    ck_assert_mem_eq(copy, rig.station, kr_station_size());
    free(copy);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("jobs");
    TCase *tc = suite_case(suite, "jobs");
    tcase_add_loop_test(tc, park_without_an_order_leaves_every_holder_clear_of_the_widest_web, 0, 2);
    tcase_add_test(tc, home_references_the_rail_that_is_asked_for_and_its_positions_are_only_remembered_then);
    tcase_add_test(tc, a_rail_that_is_not_there_is_refused);
    tcase_add_loop_test(tc, a_scan_alone_needs_no_order_measures_its_rails_and_moves_no_holder, 0, 3);
    tcase_add_test(tc, one_rail_is_homed_scanned_and_moved_while_the_other_is_not_there);
    tcase_add_test(tc, a_guided_release_frees_the_rail_that_is_asked_for_where_it_stands);
    tcase_add_test(tc, a_changeover_to_where_everything_stands_moves_nothing);
    tcase_add_test(tc, where_the_station_asks_for_it_every_changeover_begins_with_a_scan);
    tcase_add_loop_test(tc, where_the_station_accepts_what_is_remembered_only_an_unknown_place_is_scanned_for, 0, 2);
    tcase_add_loop_test(
        tc, a_scan_follows_a_new_frame_or_switch_or_a_confirmed_shift_although_remembered_places_are_accepted, 0, 3);
    tc = suite_case(suite, "stations");
    tcase_add_test(tc, a_razor_station_has_an_upper_rail_alone);
    tcase_add_test(tc, a_third_rail_puts_a_knife_at_every_cut_too);
    tcase_add_test(tc, holders_out_of_service_fixed_and_absent_are_left_where_they_are);
    tc = suite_case(suite, "plans");
    tcase_add_test(tc, a_plan_that_does_not_come_holds_the_job_at_its_limit);
    tcase_add_test(tc, an_answer_under_an_old_ticket_is_dropped);
    tcase_add_loop_test(tc, moves_that_take_much_longer_than_planned_are_a_notice_and_the_job_goes_on, 0, 2);
    tcase_add_test(tc, a_way_that_is_not_clear_is_not_gone_whatever_the_plan_says);
    tc = suite_case(suite, "motion");
    tcase_add_test(tc, rails_that_take_turns_never_move_at_the_same_time);
    tcase_add_loop_test(tc, every_holder_arrives_from_the_side_that_the_station_asks_for, 0, 2);
    tcase_add_loop_test(tc, a_copy_of_the_state_and_the_same_inputs_give_the_same_outputs, 0, 10);
    return suite;
}
