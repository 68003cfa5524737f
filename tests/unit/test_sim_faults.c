/* Tests of faults outside of the drive and the switch: each has the effect that the table says, and only while it
 * lasts. */
#include <stdlib.h>
#include <string.h>

#include "sim_rig.h"
#include "suite.h"

static struct sim_rig rig_beside_holder_1(int32_t period_us)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 2, 3);
    r.period_us = period_us;
    sim_rig_start(&r);
    ck_assert(sim_rig_enable(&r, 0, KR_MODE_PROFILE_POSITION));
    ck_assert(sim_rig_move(&r, 0, 600000));
    return r;
}

/* ---- pin, brake, clamp --------------------------------------------------------------------------------- */

START_TEST(a_pin_stuck_out_never_shows_in_until_it_is_mended)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_PIN_STUCK_OUT, 0, 0));
    r.out[0].outputs = KR_DO_PIN_IN;
    ck_assert(!sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_IN, 2000));
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_PIN_OUT, KR_DI_PIN_OUT);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_PIN_STUCK_OUT, 0));
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_IN, 2000));
}
END_TEST

START_TEST(a_pin_stuck_in_keeps_its_holder)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_machine_break(&r.m, 0, SIM_PIN_STUCK_IN, 0, 0));
    ck_assert(!sim_rig_undock(&r, 0));
    ck_assert_int_eq(sim_machine_docked(&r.m, 0), 1);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_PIN_STUCK_IN, 0));
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_OUT, 1000));
    ck_assert_int_eq(sim_machine_docked(&r.m, 0), SIM_NOBODY);
}
END_TEST

START_TEST(a_stuck_brake_stays_closed)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_BRAKE_STUCK, 0, 0));
    ck_assert(!sim_rig_dock(&r, 0));
    ck_assert_uint_eq(r.in[0].inputs & (KR_DI_PIN_IN | KR_DI_BRAKE_CLOSED), KR_DI_PIN_IN | KR_DI_BRAKE_CLOSED);
}
END_TEST

START_TEST(a_pin_that_backs_out_of_its_seat_keeps_its_holder_and_seats_again_when_it_is_mended)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_machine_break(&r.m, 0, SIM_PIN_BACKS_OUT, 0, 0));
    sim_rig_run_ms(&r, 1000);
    ck_assert_uint_eq(r.in[0].inputs & (KR_DI_PIN_IN | KR_DI_PIN_OUT), 0);
    ck_assert_int_eq(sim_machine_docked(&r.m, 0), 1);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_PIN_BACKS_OUT, 0));
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_IN, 1000));
}
END_TEST

START_TEST(a_pin_that_sags_passes_the_holders_all_the_same)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_PIN_SAGS, 0, 0));
    ck_assert(sim_rig_move(&r, 0, 750000));
    ck_assert_uint_eq(r.in[0].inputs & (KR_DI_PIN_IN | KR_DI_PIN_OUT), 0);
    ck_assert_int_eq(sim_rig_holder_um(&r, 2), 700000);
    ck_assert_ptr_null(sim_machine_dragged(&r.m));
    ck_assert(sim_machine_mend(&r.m, 0, SIM_PIN_SAGS, 0));
    r.out[0].outputs = KR_DO_PIN_OUT;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_PIN_OUT, 1000));
}
END_TEST

START_TEST(a_brake_and_a_clamp_that_are_stuck_open_do_not_close_until_they_are_mended)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].clamp_common = 1;
    sim_rig_start(&r);
    r.out[0].outputs = KR_DO_CLAMP_OPEN | KR_DO_BRAKE_OPEN;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_CLAMP_OPEN | KR_DI_BRAKE_OPEN, 1000));
    ck_assert(sim_machine_break(&r.m, 0, SIM_BRAKE_STUCK_OPEN, 0, 0));
    ck_assert(sim_machine_break(&r.m, 0, SIM_CLAMP_STUCK_OPEN, 0, 0));
    r.out[0].outputs = 0;
    sim_rig_run_ms(&r, 2000);
    ck_assert_uint_eq(r.in[0].inputs & (KR_DI_CLAMP_OPEN | KR_DI_BRAKE_OPEN), KR_DI_CLAMP_OPEN | KR_DI_BRAKE_OPEN);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_BRAKE_STUCK_OPEN, 0));
    ck_assert(sim_machine_mend(&r.m, 0, SIM_CLAMP_STUCK_OPEN, 0));
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_CLAMP_CLOSED | KR_DI_BRAKE_CLOSED, 1000));
}
END_TEST

START_TEST(a_brake_that_slips_lets_its_holder_creep_after_the_release)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_BRAKE_SLIPS, 1, 700));
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_rig_undock(&r, 0));
    sim_rig_run_ms(&r, 2000);
    ck_assert_int_eq(abs(sim_rig_holder_um(&r, 1) - 600000), 700);
    ck_assert(sim_rig_move(&r, 0, sim_rig_holder_um(&r, 1)));
    ck_assert(sim_machine_mend(&r.m, 0, SIM_BRAKE_SLIPS, 1));
    ck_assert(sim_rig_dock(&r, 0));
    int32_t there_um = sim_rig_holder_um(&r, 1);
    ck_assert(sim_rig_undock(&r, 0));
    sim_rig_run_ms(&r, 2000);
    ck_assert_int_eq(sim_rig_holder_um(&r, 1), there_um);
}
END_TEST

START_TEST(a_creeping_holder_stops_at_its_neighbour)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_BRAKE_SLIPS, 1, 100000));
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_rig_undock(&r, 0));
    sim_rig_run_ms(&r, 120000);
    ck_assert_int_eq(abs(sim_rig_holder_um(&r, 1) - 600000), 80000);
    ck_assert_ptr_null(sim_machine_collision(&r.m));
}
END_TEST

START_TEST(a_jam_in_mid_drag_stops_the_holder_and_trips_the_drive)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_rig_setpoint(&r, 0, 650000));
    sim_rig_run_ms(&r, 150);
    ck_assert(sim_machine_break(&r.m, 0, SIM_HOLDER_JAMMED, 1, 0));
    int32_t jammed_um = sim_rig_holder_um(&r, 1);
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_FAULT, 1000));
    ck_assert_int_eq(sim_rig_holder_um(&r, 1), jammed_um);
}
END_TEST

START_TEST(a_common_clamp_that_is_lost_while_open_closes_on_all_holders)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 3);
    r.config.rail[0].clamp_common = 1;
    r.config.rail[0].clamp_shift_um = 100;
    sim_rig_start(&r);
    r.out[0].outputs = KR_DO_CLAMP_OPEN;
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_CLAMP_OPEN, 1000));
    ck_assert(sim_machine_break(&r.m, 0, SIM_CLAMP_LOST, 0, 0));
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_CLAMP_CLOSED, 1000));
    int moved = 0;
    for (uint16_t i = 0; i < 3; i++)
        moved += sim_rig_holder_um(&r, i) != 500000 + 100000 * i;
    ck_assert_int_eq(moved, 3);
}
END_TEST

START_TEST(without_air_pins_stay_and_brakes_close)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_machine_break(&r.m, 0, SIM_AIR_LOST, 0, 0));
    ck_assert(sim_rig_run_until_inputs(&r, 0, KR_DI_BRAKE_CLOSED | KR_DI_PIN_IN, 1000));
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_AIR, 0);
    ck_assert_uint_eq(r.in[1].inputs & KR_DI_AIR, 0);
    ck_assert(!sim_rig_undock(&r, 0));
}
END_TEST

/* ---- hands, guards, power ------------------------------------------------------------------------------ */

START_TEST(a_hand_moves_a_holder_but_not_through_its_neighbour_nor_off_the_pin)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_MOVED_BY_HAND, 2, 5000));
    ck_assert_int_eq(sim_rig_holder_um(&r, 2), 705000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_MOVED_BY_HAND, 2, -300000));
    ck_assert_int_eq(sim_rig_holder_um(&r, 2), 620000);
    ck_assert(!sim_machine_broken(&r.m, 0, SIM_MOVED_BY_HAND));
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(!sim_machine_break(&r.m, 0, SIM_MOVED_BY_HAND, 1, 100));
    ck_assert_ptr_null(sim_machine_collision(&r.m));
}
END_TEST

START_TEST(each_permissive_fault_takes_its_input_from_every_rail)
{
    static const struct {
        enum sim_fault fault;
        uint16_t input;
    } row[] = {{SIM_GUARDS_OPENED, KR_DI_GUARDS_CLOSED},
               {SIM_LINE_RUNS, KR_DI_LINE_STOPPED},
               {SIM_KNIVES_LOWERED, KR_DI_KNIVES_RAISED},
               {SIM_AIR_LOST, KR_DI_AIR}};
    struct sim_rig r = rig_beside_holder_1(10000);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        ck_assert_uint_eq(r.in[0].inputs & SIM_INPUTS_ALL, SIM_INPUTS_ALL);
        ck_assert(sim_machine_break(&r.m, 0, row[i].fault, 0, 0));
        sim_rig_cycle(&r);
        for (int rail = 0; rail < 2; rail++)
            ck_assert_uint_eq(r.in[rail].inputs & SIM_INPUTS_ALL, SIM_INPUTS_ALL & ~row[i].input);
        ck_assert(sim_machine_mend(&r.m, 1, row[i].fault, 0));
        sim_rig_cycle(&r);
    }
}
END_TEST

START_TEST(a_power_cut_closes_brakes_leaves_the_pin_and_strikes_every_rail)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_rig_dock(&r, 0));
    ck_assert(sim_machine_break(&r.m, 1, SIM_POWER_CUT, 0, 0));
    sim_rig_run_ms(&r, 500);
    ck_assert(!r.in[0].link && !r.in[1].link);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_POWER_CUT, 0));
    r.out[0].outputs = 0;
    sim_rig_run_ms(&r, 2500);
    ck_assert(r.in[0].link && r.in[1].link);
    ck_assert_uint_eq(r.in[0].inputs & (KR_DI_PIN_IN | KR_DI_BRAKE_CLOSED), KR_DI_PIN_IN | KR_DI_BRAKE_CLOSED);
}
END_TEST

START_TEST(a_drive_that_reboots_comes_back_by_itself)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_DRIVE_REBOOT, 0, 0));
    sim_rig_cycle(&r);
    ck_assert(!r.in[0].link);
    ck_assert(r.in[1].link);
    sim_rig_run_ms(&r, r.config.rail[0].boot_ms + 20);
    ck_assert(r.in[0].link);
    ck_assert_int_eq(r.in[0].position_um, 600000);
}
END_TEST

START_TEST(a_position_jump_moves_the_number_and_not_the_carriage)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_POSITION_JUMP, 0, 12345));
    sim_rig_cycle(&r);
    ck_assert_int_eq(r.in[0].position_um, 612345);
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 600000);
}
END_TEST

/* ---- the wire ------------------------------------------------------------------------------------------ */

START_TEST(an_answer_names_the_outputs_that_it_is_an_answer_to)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    for (int i = 0; i < 10; i++) {
        sim_rig_cycle(&r);
        ck_assert_uint_eq(r.in[0].answers, r.out[0].serial);
        ck_assert_int_eq(r.in[0].age_ms, 0);
    }
}
END_TEST

START_TEST(a_lost_link_tells_nothing_and_gets_older)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_LINK_LOST, 0, 0));
    sim_rig_run_ms(&r, 200);
    ck_assert(!r.in[0].link);
    ck_assert(r.in[1].link);
    ck_assert_int_eq(r.in[0].age_ms, 200);
    ck_assert_uint_eq(r.in[0].statusword, 0);
    ck_assert_uint_eq(r.in[0].inputs, 0);
}
END_TEST

START_TEST(slow_answers_name_old_outputs_and_their_age)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_SLOW_ANSWERS, 0, 100));
    uint32_t asked = r.out[0].serial + 1; /* the first that goes out slowly */
    int32_t oldest_ms = 0;
    for (int i = 0; i < 9; i++) {
        sim_rig_cycle(&r);
        ck_assert_uint_lt(r.in[0].answers, asked);
        ck_assert_int_eq(r.in[0].age_ms, 10 * (i + 1));
    }
    sim_rig_cycle(&r);
    ck_assert_uint_eq(r.in[0].answers, asked);
    ck_assert_int_eq(r.in[0].age_ms, 99); /* sampled in the first millisecond */
    for (int i = 0; i < 50; i++) {
        sim_rig_cycle(&r);
        oldest_ms = r.in[0].age_ms > oldest_ms ? r.in[0].age_ms : oldest_ms;
    }
    ck_assert_int_eq(oldest_ms, 189);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_SLOW_ANSWERS, 0));
    sim_rig_cycle(&r);
    ck_assert_uint_eq(r.in[0].answers, r.out[0].serial);
}
END_TEST

START_TEST(while_answers_are_slow_the_drive_acts_on_what_it_got_last)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    r.m.config.rail[0].watchdog_ms = 0;
    ck_assert(sim_machine_break(&r.m, 0, SIM_SLOW_ANSWERS, 0, 1000));
    sim_rig_cycle(&r);
    r.out[0].outputs = KR_DO_BRAKE_OPEN; /* written while an exchange is under way */
    sim_rig_run_ms(&r, 900);
    ck_assert_int_eq(r.m.axis[0].rail.carriage.brake, 0);
    sim_rig_run_ms(&r, 300);
    ck_assert_int_eq(r.m.axis[0].rail.carriage.brake, SIM_TRAVEL);
}
END_TEST

/* ---- the table itself ---------------------------------------------------------------------------------- */

START_TEST(a_fault_beyond_its_limits_or_on_nothing_is_refused_and_changes_nothing)
{
    static struct sim_rig r, before;
    r = rig_beside_holder_1(10000);
    before = r;
    for (int f = 0; f < SIM_N_FAULTS; f++) {
        const struct sim_fault_info *info = sim_fault_info((enum sim_fault)f);
        ck_assert(!sim_machine_break(&r.m, 2, (enum sim_fault)f, 0, info->most));
        ck_assert(!sim_machine_mend(&r.m, 2, (enum sim_fault)f, 0));
        if (info->item == SIM_ITEM_HOLDER)
            ck_assert(!sim_machine_break(&r.m, 0, (enum sim_fault)f, 3, info->most));
        if (info->value == SIM_VALUE_NONE)
            continue;
        ck_assert(!sim_machine_break(&r.m, 0, (enum sim_fault)f, 0, info->most + 1));
        ck_assert(!sim_machine_break(&r.m, 0, (enum sim_fault)f, 0, info->least - 1));
    }
    ck_assert(!sim_machine_break(&r.m, 0, SIM_N_FAULTS, 0, 0));
    ck_assert_ptr_null(sim_fault_info(SIM_N_FAULTS));
    ck_assert_int_eq(memcmp(&r.m, &before.m, sizeof r.m), 0);
}
END_TEST

START_TEST(a_fifth_foreign_flag_is_refused)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    for (int i = 0; i < SIM_FOREIGN_MAX; i++)
        ck_assert(sim_machine_break(&r.m, 0, SIM_FOREIGN_FLAG, 0, 100000 + 50000 * i));
    ck_assert(!sim_machine_break(&r.m, 0, SIM_FOREIGN_FLAG, 0, 1000));
    ck_assert(sim_machine_mend(&r.m, 0, SIM_FOREIGN_FLAG, 0));
    ck_assert(sim_machine_break(&r.m, 0, SIM_FOREIGN_FLAG, 0, 1000));
}
END_TEST

/* ---- where things are counted from --------------------------------------------------------------------- */

/* The drive says that the carriage is there. */
static void says_um(struct sim_rig *r, int32_t position_um)
{
    sim_rig_run_ms(r, 100);
    ck_assert_int_eq(r->in[0].position_um, position_um);
}

/* Told to go to told_um it is truly at truly_um. */
static void goes_um(struct sim_rig *r, int32_t told_um, int32_t truly_um)
{
    ck_assert(sim_rig_move(r, 0, told_um));
    ck_assert_int_eq(sim_machine_carriage_um(&r->m, 0), truly_um);
}

/* 600 mm is where the carriage stands. */
static struct sim_rig rig_with(enum sim_fault fault, int32_t value)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, fault, 0, value));
    return r;
}

START_TEST(a_shifted_datum_counts_otherwise_and_does_so_after_a_new_start)
{
    struct sim_rig r = rig_with(SIM_DATUM_SHIFTED, 700);
    says_um(&r, 600700);
    goes_um(&r, 650700, 650000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_DRIVE_REBOOT, 0, 0));
    sim_rig_run_ms(&r, 4900);
    says_um(&r, 650700);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_DATUM_SHIFTED, 0));
    says_um(&r, 650000);
}
END_TEST

START_TEST(a_scale_that_is_off_counts_more_of_each_way_there_and_back)
{
    struct sim_rig r = rig_with(SIM_SCALE_OFF, 1000);
    says_um(&r, 600600);
    goes_um(&r, 1001000, 1000000);
    goes_um(&r, 600600, 600000);
}
END_TEST

/* Pitch 60 mm: at a quarter of it all of the error, at its end none. */
START_TEST(a_pitch_error_comes_back_with_each_pitch)
{
    struct sim_rig r = rig_with(SIM_PITCH_ERROR, 50);
    says_um(&r, 600000);
    goes_um(&r, 615050, 615000);
    goes_um(&r, 644950, 645000);
}
END_TEST

/* Its holders stand so much further, and the drive counts so much less: by its own counts nothing has changed. */
START_TEST(a_warmer_rail_takes_its_holders_and_its_counts_along)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_RAIL_WARMER, 0, 500));
    sim_rig_run_ms(&r, 100);
    ck_assert_int_eq(sim_rig_holder_um(&r, 2), 700350);
    ck_assert(sim_rig_move(&r, 0, 700000));
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 700350);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_RAIL_WARMER, 0));
    ck_assert_int_eq(sim_rig_holder_um(&r, 2), 700000);
}
END_TEST

START_TEST(exchanged_drives_move_each_others_carriages_and_answer_for_them)
{
    struct sim_rig r = rig_with(SIM_DRIVES_EXCHANGED, 0);
    int32_t other_um = sim_machine_carriage_um(&r.m, 1);
    says_um(&r, other_um);
    ck_assert_int_eq(r.in[1].position_um, 600000);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_DRIVES_EXCHANGED, 0));
    says_um(&r, 600000);
}
END_TEST

/* ---- what a drive does wrong --------------------------------------------------------------------------- */

START_TEST(a_drive_that_ignores_set_points_neither_acknowledges_nor_moves)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_SETPOINTS_IGNORED, 0, 0));
    ck_assert(!sim_rig_setpoint(&r, 0, 650000));
    sim_rig_run_ms(&r, 1000);
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 600000);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_SETPOINTS_IGNORED, 0));
    r.out[0].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
    sim_rig_run_ms(&r, 100);
    ck_assert(sim_rig_move(&r, 0, 650000));
}
END_TEST

START_TEST(a_drive_that_never_arrives_is_there_and_does_not_say_so)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_NEVER_ARRIVES, 0, 0));
    ck_assert(!sim_rig_move(&r, 0, 650000));
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 650000);
    ck_assert_uint_eq(r.in[0].statusword & KR_SW_TARGET_REACHED, 0);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_NEVER_ARRIVES, 0));
    sim_rig_run_ms(&r, 100);
    ck_assert_uint_eq(r.in[0].statusword & KR_SW_TARGET_REACHED, KR_SW_TARGET_REACHED);
}
END_TEST

/* Homes rail 0 for so long. Bit 13 means an error of homing (CiA 402). */
static uint16_t home(struct sim_rig *r, int32_t ms)
{
    ck_assert(sim_rig_enable(r, 0, KR_MODE_HOMING));
    r->out[0].controlword |= KR_CW_NEW_SETPOINT;
    sim_rig_run_ms(r, ms);
    uint16_t status = r->in[0].statusword;
    r->out[0].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
    sim_rig_run_ms(r, 100);
    return status;
}

START_TEST(a_datum_that_was_forgotten_or_that_homing_did_not_find_comes_back_by_homing)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_DATUM_FORGOTTEN, 0, 0));
    sim_rig_run_ms(&r, 100);
    ck_assert(!r.in[0].referenced);
    ck_assert(sim_machine_break(&r.m, 0, SIM_HOMING_FAILS, 0, 0));
    ck_assert_uint_eq(home(&r, 60000) & KR_SW_FOLLOWING_ERROR, KR_SW_FOLLOWING_ERROR);
    ck_assert(!r.in[0].referenced);
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 600000);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_HOMING_FAILS, 0));
    ck_assert_uint_eq(home(&r, 60000) & KR_SW_FOLLOWING_ERROR, 0);
    ck_assert(r.in[0].referenced);
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), r.config.rail[0].home_um);
}
END_TEST

START_TEST(a_drive_that_homes_here_says_so_and_calls_its_place_home)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_HOMES_HERE, 0, 0));
    sim_rig_run_ms(&r, 100);
    ck_assert_int_eq(r.in[0].homing_method, 35);
    (void)home(&r, 5000);
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 600000);
    says_um(&r, r.config.rail[0].home_offset_um);
    ck_assert(sim_machine_mend(&r.m, 0, SIM_HOMES_HERE, 0));
    sim_rig_run_ms(&r, 100);
    ck_assert_int_eq(r.in[0].homing_method, r.config.rail[0].homing_method);
}
END_TEST

START_TEST(a_carriage_is_pushed_only_while_nothing_holds_it_and_its_drive_counts_that)
{
    struct sim_rig r = rig_beside_holder_1(10000);
    ck_assert(!sim_machine_break(&r.m, 0, SIM_CARRIAGE_PUSHED, 0, 30000));
    r.out[0].controlword = 0;
    sim_rig_run_ms(&r, 1000);
    ck_assert(sim_machine_break(&r.m, 0, SIM_CARRIAGE_PUSHED, 0, 30000));
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 630000);
    says_um(&r, 630000);
    ck_assert(!sim_machine_broken(&r.m, 0, SIM_CARRIAGE_PUSHED));
    ck_assert(sim_machine_break(&r.m, 0, SIM_CARRIAGE_PUSHED, 0, -1000000)); /* to the hard stop */
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), r.config.rail[0].stop_low_um);
    r.out[0].outputs = KR_DO_PIN_IN;
    sim_rig_run_ms(&r, 1000);
    ck_assert(!sim_machine_break(&r.m, 0, SIM_CARRIAGE_PUSHED, 0, 1000));
}
END_TEST

START_TEST(each_fault_says_in_what_unit_its_value_is)
{
    for (int f = 0; f < SIM_N_FAULTS; f++) {
        const struct sim_fault_info *info = sim_fault_info((enum sim_fault)f);
        ck_assert_int_eq(sim_value_word(info->value)[0] == 0, info->value == SIM_VALUE_NONE);
    }
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("faults of the simulated machine");
    TCase *tc = suite_case(suite, "faults of the simulated machine");
    tcase_add_test(tc, a_pin_stuck_out_never_shows_in_until_it_is_mended);
    tcase_add_test(tc, a_pin_stuck_in_keeps_its_holder);
    tcase_add_test(tc, a_stuck_brake_stays_closed);
    tcase_add_test(tc, a_brake_that_slips_lets_its_holder_creep_after_the_release);
    tcase_add_test(tc, a_creeping_holder_stops_at_its_neighbour);
    tcase_add_test(tc, a_jam_in_mid_drag_stops_the_holder_and_trips_the_drive);
    tcase_add_test(tc, a_common_clamp_that_is_lost_while_open_closes_on_all_holders);
    tcase_add_test(tc, without_air_pins_stay_and_brakes_close);
    tcase_add_test(tc, a_hand_moves_a_holder_but_not_through_its_neighbour_nor_off_the_pin);
    tcase_add_test(tc, each_permissive_fault_takes_its_input_from_every_rail);
    tcase_add_test(tc, a_power_cut_closes_brakes_leaves_the_pin_and_strikes_every_rail);
    tcase_add_test(tc, a_drive_that_reboots_comes_back_by_itself);
    tcase_add_test(tc, a_position_jump_moves_the_number_and_not_the_carriage);
    tcase_add_test(tc, an_answer_names_the_outputs_that_it_is_an_answer_to);
    tcase_add_test(tc, a_lost_link_tells_nothing_and_gets_older);
    tcase_add_test(tc, slow_answers_name_old_outputs_and_their_age);
    tcase_add_test(tc, while_answers_are_slow_the_drive_acts_on_what_it_got_last);
    tcase_add_test(tc, a_fault_beyond_its_limits_or_on_nothing_is_refused_and_changes_nothing);
    tcase_add_test(tc, a_fifth_foreign_flag_is_refused);
    tcase_add_test(tc, a_shifted_datum_counts_otherwise_and_does_so_after_a_new_start);
    tcase_add_test(tc, a_scale_that_is_off_counts_more_of_each_way_there_and_back);
    tcase_add_test(tc, a_pitch_error_comes_back_with_each_pitch);
    tcase_add_test(tc, each_fault_says_in_what_unit_its_value_is);
    tcase_add_test(tc, a_pin_that_backs_out_of_its_seat_keeps_its_holder_and_seats_again_when_it_is_mended);
    tcase_add_test(tc, a_pin_that_sags_passes_the_holders_all_the_same);
    tcase_add_test(tc, a_brake_and_a_clamp_that_are_stuck_open_do_not_close_until_they_are_mended);
    tcase_add_test(tc, a_drive_that_ignores_set_points_neither_acknowledges_nor_moves);
    tcase_add_test(tc, a_drive_that_never_arrives_is_there_and_does_not_say_so);
    tcase_add_test(tc, a_datum_that_was_forgotten_or_that_homing_did_not_find_comes_back_by_homing);
    tcase_add_test(tc, a_drive_that_homes_here_says_so_and_calls_its_place_home);
    tcase_add_test(tc, a_carriage_is_pushed_only_while_nothing_holds_it_and_its_drive_counts_that);
    tcase_add_test(tc, a_warmer_rail_takes_its_holders_and_its_counts_along);
    tcase_add_test(tc, exchanged_drives_move_each_others_carriages_and_answer_for_them);
    return suite;
}
