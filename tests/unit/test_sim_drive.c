/* Tests of the simulated drive by the states and transitions of its profile, and of what a master sees of its modes. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sim_rig.h"
#include "suite.h"

#define DATA "tests/reference/data/"
#define ON   (KR_CW_SWITCH_ON | KR_CW_ENABLE_VOLTAGE | KR_CW_NO_QUICK_STOP | KR_CW_ENABLE_OPERATION)

/* ---- states and transitions ---------------------------------------------------------------------------- */

static const char *const state_names[] = {
    [KR_DRIVE_UNKNOWN] = "unknown",
    [KR_DRIVE_NOT_READY] = "not-ready-to-switch-on",
    [KR_DRIVE_SWITCH_ON_DISABLED] = "switch-on-disabled",
    [KR_DRIVE_READY_TO_SWITCH_ON] = "ready-to-switch-on",
    [KR_DRIVE_SWITCHED_ON] = "switched-on",
    [KR_DRIVE_OPERATION_ENABLED] = "operation-enabled",
    [KR_DRIVE_QUICK_STOP_ACTIVE] = "quick-stop-active",
    [KR_DRIVE_FAULT_REACTION_ACTIVE] = "fault-reaction-active",
    [KR_DRIVE_FAULT] = "fault",
};

static enum kr_drive_state state_named(const char *name, size_t length)
{
    for (int i = KR_DRIVE_NOT_READY; i <= KR_DRIVE_FAULT; i++)
        if (strlen(state_names[i]) == length && strncmp(state_names[i], name, length) == 0)
            return (enum kr_drive_state)i;
    return KR_DRIVE_UNKNOWN;
}

/* A row of the transition table that a controlword asks for; two rows where it has two masks. */
struct row {
    int number;
    enum kr_drive_state from, to;
    unsigned mask, value;
};

static const char *field(const char *line, int n)
{
    bool quoted = false;
    for (; *line && n > 0; line++) {
        if (*line == '"')
            quoted = !quoted;
        n -= *line == ',' && !quoted;
    }
    return line;
}

static int read_rows(struct row row[], int room)
{
    FILE *f = fopen(DATA "cia402_transitions.csv", "r");
    ck_assert_msg(f != NULL, "cannot open %s", DATA "cia402_transitions.csv");
    char line[256];
    int n = 0;
    while (fgets(line, sizeof line, f)) {
        if (line[0] < '0' || line[0] > '9')
            continue;
        const char *from = field(line, 1), *to = field(line, 2), *mask = field(line, 4), *value = field(line, 5);
        for (; strncmp(mask, "0x", 2) == 0; mask += 9, value += 9) {
            ck_assert_int_lt(n, room);
            row[n++] =
                (struct row){atoi(line), state_named(from, strcspn(from, ",")), state_named(to, strcspn(to, ",")),
                             (unsigned)strtoul(mask, NULL, 16), (unsigned)strtoul(value, NULL, 16)};
            if (strncmp(mask + 6, " / ", 3) != 0)
                break;
        }
    }
    fclose(f);
    return n;
}

/* Quick stop option 6, so that quick stop active is a state to stay in. */
static void bring_to(struct sim_rig *r, enum kr_drive_state state)
{
    sim_rig_defaults(r, 1, 0);
    r->config.rail[0].quick_stop_stays = 1;
    r->config.rail[0].power_up_ms = 0;
    r->period_us = 1000;
    sim_rig_start(r);
    r->out[0].controlword = 0;
    sim_rig_cycle(r);
    static const uint16_t way_up[] = {0x06, 0x07, 0x0F, 0x02};
    for (size_t i = 0; i < 4 && kr_drive_state_of(r->in[0].statusword) != state; i++) {
        r->out[0].controlword = way_up[i];
        sim_rig_run_ms(r, 3);
    }
    if (state == KR_DRIVE_FAULT) {
        ck_assert(sim_machine_break(&r->m, 0, SIM_DRIVE_FAULT, 0, 0x4310));
        r->out[0].controlword = 0;
        sim_rig_run_ms(r, 3);
        ck_assert(sim_machine_mend(&r->m, 0, SIM_DRIVE_FAULT, 0));
    }
    ck_assert_int_eq(kr_drive_state_of(r->in[0].statusword), state);
}

START_TEST(every_controlword_in_every_state_does_what_the_transition_table_says)
{
    struct row row[32];
    int n = read_rows(row, 32);
    ck_assert_int_eq(n, 15); /* thirteen rows with a controlword, two of them with two masks */
    for (enum kr_drive_state s = KR_DRIVE_SWITCH_ON_DISABLED; s <= KR_DRIVE_FAULT; s++) {
        if (s == KR_DRIVE_FAULT_REACTION_ACTIVE)
            continue;
        struct sim_rig start;
        bring_to(&start, s);
        for (unsigned word = 0; word <= 0xFF; word++) {
            struct sim_rig r = start;
            enum kr_drive_state want = s;
            for (int i = 0; i < n && want == s; i++)
                if (row[i].from == s && (word & row[i].mask) == row[i].value)
                    want = row[i].to;
            r.out[0].controlword = (uint16_t)word;
            sim_rig_cycle(&r);
            ck_assert_msg(kr_drive_state_of(r.in[0].statusword) == want, "controlword %02X in %s: %s instead of %s",
                          word, state_names[s], state_names[kr_drive_state_of(r.in[0].statusword)], state_names[want]);
        }
    }
}
END_TEST

START_TEST(every_state_shows_the_statusword_of_the_profile)
{
    FILE *f = fopen(DATA "cia402_states.csv", "r");
    ck_assert_msg(f != NULL, "cannot open %s", DATA "cia402_states.csv");
    char line[256];
    int rows = 0;
    while (fgets(line, sizeof line, f)) {
        enum kr_drive_state s = state_named(line, strcspn(line, ","));
        if (s == KR_DRIVE_UNKNOWN)
            continue;
        rows++;
        if (s == KR_DRIVE_NOT_READY || s == KR_DRIVE_FAULT_REACTION_ACTIVE)
            continue; /* shown only on the way: see the tests of booting and of faults */
        struct sim_rig r;
        bring_to(&r, s);
        unsigned mask = (unsigned)strtoul(field(line, 1), NULL, 16),
                 value = (unsigned)strtoul(field(line, 2), NULL, 16);
        ck_assert_msg((r.in[0].statusword & mask) == value, "%s shows %04X", state_names[s], r.in[0].statusword);
    }
    fclose(f);
    ck_assert_int_eq(rows, 8);
}
END_TEST

START_TEST(one_command_does_not_jump_over_a_state)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 0);
    sim_rig_start(&r);
    r.out[0].controlword = ON;
    sim_rig_run_ms(&r, 500);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_SWITCH_ON_DISABLED);
}
END_TEST

START_TEST(operation_is_enabled_only_after_the_power_stage_s_time)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 0);
    r.period_us = 1000;
    sim_rig_start(&r);
    r.out[0].controlword = 0x06;
    sim_rig_cycle(&r);
    r.out[0].controlword = 0x07;
    sim_rig_cycle(&r);
    r.out[0].controlword = 0x0F;
    sim_rig_run_ms(&r, r.config.rail[0].power_up_ms);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_SWITCHED_ON);
    sim_rig_cycle(&r);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_OPERATION_ENABLED);
}
END_TEST

/* ---- profile position ---------------------------------------------------------------------------------- */

static struct sim_rig enabled_rig(int32_t period_us)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 0);
    r.period_us = period_us;
    sim_rig_start(&r);
    ck_assert(sim_rig_enable(&r, 0, KR_MODE_PROFILE_POSITION));
    return r;
}

START_TEST(a_setpoint_is_acknowledged_and_target_reached_falls_with_it)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_run_until_status(&r, 0, KR_SW_TARGET_REACHED, KR_SW_TARGET_REACHED, 100));
    r.out[0].target_um = 100000;
    r.out[0].controlword |= KR_CW_NEW_SETPOINT;
    sim_rig_cycle(&r);
    ck_assert_uint_eq(r.in[0].statusword & (KR_SW_SETPOINT_ACK | KR_SW_TARGET_REACHED), KR_SW_SETPOINT_ACK);
    sim_rig_run_ms(&r, 50); /* the acknowledge stays as long as the request does */
    ck_assert_uint_eq(r.in[0].statusword & KR_SW_SETPOINT_ACK, KR_SW_SETPOINT_ACK);
    r.out[0].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
    sim_rig_cycle(&r);
    ck_assert_uint_eq(r.in[0].statusword & KR_SW_SETPOINT_ACK, 0);
}
END_TEST

START_TEST(a_target_without_a_rising_edge_moves_nothing)
{
    struct sim_rig r = enabled_rig(10000);
    r.out[0].target_um = 100000;
    sim_rig_run_ms(&r, 1000);
    ck_assert_int_eq(r.in[0].position_um, 0);
}
END_TEST

START_TEST(a_move_takes_the_trapezoid_s_time_and_the_window_s)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_setpoint(&r, 0, 1000000)); /* 1 m at 500 mm/s and 1 m/s2: 2.5 s */
    int64_t from_us = sim_machine_now_us(&r.m);
    ck_assert(sim_rig_run_until_status(&r, 0, KR_SW_TARGET_REACHED, KR_SW_TARGET_REACHED, 4000));
    int64_t took_ms = (sim_machine_now_us(&r.m) - from_us) / 1000;
    ck_assert_int_ge(took_ms, 2500 + r.config.rail[0].position_window_ms - 2);
    ck_assert_int_le(took_ms, 2500 + r.config.rail[0].position_window_ms + 30); /* and the loop settles */
    ck_assert_int_eq(r.in[0].position_um, 1000000);
}
END_TEST

START_TEST(without_bit_5_the_next_setpoint_waits_for_the_running_one)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_setpoint(&r, 0, 100000));
    r.out[0].target_um = 0;
    r.out[0].controlword |= KR_CW_NEW_SETPOINT;
    sim_rig_run_ms(&r, 2);
    r.out[0].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
    int32_t furthest_um = 0;
    for (int i = 0; i < 3000; i++) {
        sim_rig_cycle(&r);
        furthest_um = r.in[0].position_um > furthest_um ? r.in[0].position_um : furthest_um;
    }
    ck_assert_int_ge(furthest_um, 99990);
    ck_assert_int_eq(r.in[0].position_um, 0);
}
END_TEST

START_TEST(with_bit_5_a_new_setpoint_replaces_the_running_one)
{
    struct sim_rig r = enabled_rig(1000);
    r.out[0].controlword |= KR_CW_IMMEDIATELY;
    ck_assert(sim_rig_setpoint(&r, 0, 1000000));
    sim_rig_run_ms(&r, 600); /* at full speed, 500 mm/s: 125 mm to a stop */
    int32_t turned_um = r.in[0].position_um;
    ck_assert(sim_rig_setpoint(&r, 0, 0));
    int32_t furthest_um = 0;
    for (int i = 0; i < 4000; i++) {
        sim_rig_cycle(&r);
        furthest_um = r.in[0].position_um > furthest_um ? r.in[0].position_um : furthest_um;
    }
    ck_assert_int_ge(furthest_um, turned_um + 120000);
    ck_assert_int_le(furthest_um, turned_um + 130000);
    ck_assert_int_eq(r.in[0].position_um, 0);
}
END_TEST

START_TEST(halt_stops_within_v_squared_over_2d_and_going_on_ends_on_target)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_setpoint(&r, 0, 1000000));
    sim_rig_run_ms(&r, 1000);
    int32_t at_um = r.in[0].position_um;
    r.out[0].controlword |= KR_CW_HALT;
    ck_assert(sim_rig_run_until_status(&r, 0, KR_SW_TARGET_REACHED, KR_SW_TARGET_REACHED, 1000));
    ck_assert_int_ge(r.in[0].position_um - at_um, 124000);
    ck_assert_int_le(r.in[0].position_um - at_um, 127000); /* 125 mm, and what the loop was behind */
    int32_t stopped_um = r.in[0].position_um;
    sim_rig_run_ms(&r, 1000);
    ck_assert_int_le(abs(r.in[0].position_um - stopped_um), 10);
    r.out[0].controlword &= (uint16_t)~KR_CW_HALT;
    sim_rig_cycle(&r);
    ck_assert_uint_eq(r.in[0].statusword & KR_SW_TARGET_REACHED, 0);
    ck_assert(sim_rig_run_until_status(&r, 0, KR_SW_TARGET_REACHED, KR_SW_TARGET_REACHED, 4000));
    ck_assert_int_eq(r.in[0].position_um, 1000000);
}
END_TEST

START_TEST(quick_stop_uses_its_own_ramp_and_ends_disabled)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_setpoint(&r, 0, 1000000));
    sim_rig_run_ms(&r, 1000);
    int32_t at_um = r.in[0].position_um;
    r.out[0].controlword = KR_CW_ENABLE_VOLTAGE;
    sim_rig_cycle(&r);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_QUICK_STOP_ACTIVE);
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_SWITCH_ON_DISABLED, 200));
    ck_assert_int_le(r.in[0].position_um - at_um, 25000 + 2000); /* 500 mm/s at 5 m/s2: 25 mm */
    ck_assert_int_le(abs(sim_machine_speed_um_per_s(&r.m, 0)), 100);
}
END_TEST

START_TEST(a_setpoint_without_speed_is_a_parameter_fault)
{
    struct sim_rig r = enabled_rig(10000);
    r.out[0].speed_um_per_s = 0;
    r.out[0].controlword |= KR_CW_NEW_SETPOINT;
    sim_rig_run_ms(&r, 50);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_FAULT);
    ck_assert_uint_eq(r.in[0].error_code, SIM_ERROR_PARAMETER);
}
END_TEST

START_TEST(a_hard_stop_in_the_way_is_a_following_error)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_setpoint(&r, 0, r.config.rail[0].stop_low_um - 100000));
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_FAULT, 2000));
    ck_assert_uint_eq(r.in[0].error_code, SIM_ERROR_FOLLOWING);
    ck_assert_int_eq(r.in[0].position_um, r.config.rail[0].stop_low_um);
}
END_TEST

/* ---- faults and reset ---------------------------------------------------------------------------------- */

START_TEST(a_fault_stops_on_the_quick_stop_ramp_and_is_reset_by_a_rising_edge_only)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_setpoint(&r, 0, 1000000));
    sim_rig_run_ms(&r, 1000);
    /* 0x2310: continuous over-current (cia402_error_codes.csv) */
    ck_assert(sim_machine_break(&r.m, 0, SIM_DRIVE_FAULT, 0, 0x2310));
    r.out[0].controlword |= KR_CW_FAULT_RESET; /* held from before the fault: no edge */
    sim_rig_cycle(&r);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_FAULT_REACTION_ACTIVE);
    sim_rig_run_ms(&r, 200);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_FAULT);
    ck_assert_uint_eq(r.in[0].error_code, 0x2310);
    sim_machine_mend(&r.m, 0, SIM_DRIVE_FAULT, 0);
    sim_rig_run_ms(&r, 50);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_FAULT);
    r.out[0].controlword = 0;
    sim_rig_cycle(&r);
    r.out[0].controlword = KR_CW_FAULT_RESET;
    sim_rig_cycle(&r);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_SWITCH_ON_DISABLED);
    ck_assert_uint_eq(r.in[0].error_code, 0);
}
END_TEST

START_TEST(a_cause_that_stands_cannot_be_reset)
{
    struct sim_rig r = enabled_rig(10000);
    sim_machine_break(&r.m, 0, SIM_DRIVE_FAULT, 0, 0x4310);
    sim_rig_run_ms(&r, 100);
    r.out[0].controlword = KR_CW_FAULT_RESET;
    sim_rig_run_ms(&r, 100);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_FAULT);
}
END_TEST

START_TEST(a_silent_master_is_quick_stopped_by_the_watchdog_and_its_outputs_fall)
{
    struct sim_rig r = enabled_rig(10000);
    ck_assert(sim_rig_setpoint(&r, 0, 1000000));
    r.out[0].outputs = KR_DO_PIN_OUT | KR_DO_BRAKE_OPEN;
    sim_rig_run_ms(&r, 600);
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_BRAKE_OPEN, KR_DI_BRAKE_OPEN);
    sim_machine_break(&r.m, 0, SIM_LINK_LOST, 0, 0);
    sim_rig_run_ms(&r, r.config.rail[0].watchdog_ms - 10); /* the last output came 10 ms before */
    ck_assert(!r.in[0].link);
    ck_assert_int_eq(sim_machine_speed_um_per_s(&r.m, 0), 500000);
    sim_rig_run_ms(&r, 400);
    ck_assert_int_eq(sim_machine_speed_um_per_s(&r.m, 0), 0);
    sim_machine_mend(&r.m, 0, SIM_LINK_LOST, 0);
    sim_machine_read(&r.m, 0, &r.in[0]);
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_CLOSED);
    ck_assert_uint_eq(r.in[0].error_code, SIM_ERROR_SILENCE);
}
END_TEST

START_TEST(a_drive_without_a_watchdog_finishes_its_move_in_silence)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 0);
    r.config.rail[0].watchdog_ms = 0;
    sim_rig_start(&r);
    ck_assert(sim_rig_enable(&r, 0, KR_MODE_PROFILE_POSITION));
    ck_assert(sim_rig_setpoint(&r, 0, 1000000));
    sim_machine_break(&r.m, 0, SIM_LINK_LOST, 0, 0);
    sim_rig_run_ms(&r, 4000);
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 1000000);
}
END_TEST

START_TEST(a_lost_enable_drops_the_drive_and_the_carriage_coasts)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_setpoint(&r, 0, 1000000));
    sim_rig_run_ms(&r, 1000);
    int32_t at_um = r.in[0].position_um;
    sim_machine_break(&r.m, 0, SIM_ENABLE_LOST, 0, 0);
    sim_rig_cycle(&r);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_SWITCH_ON_DISABLED);
    ck_assert_uint_eq(r.in[0].inputs & KR_DI_ENABLE, 0);
    ck_assert_uint_eq(r.in[0].statusword & KR_SW_VOLTAGE_ENABLED, 0);
    sim_rig_run_ms(&r, 500);
    ck_assert_int_ge(r.in[0].position_um - at_um, 62000); /* 500 mm/s at 2 m/s2: 62.5 mm */
    ck_assert_int_le(r.in[0].position_um - at_um, 63500);
    r.out[0].controlword = 0x06;
    sim_rig_run_ms(&r, 100);
    ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_SWITCH_ON_DISABLED);
    sim_machine_mend(&r.m, 0, SIM_ENABLE_LOST, 0);
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_READY_TO_SWITCH_ON, 100));
}
END_TEST

/* ---- modes, homing, power ------------------------------------------------------------------------------ */

START_TEST(the_mode_display_follows_after_a_moment_and_not_in_motion)
{
    struct sim_rig r = enabled_rig(1000);
    ck_assert(sim_rig_setpoint(&r, 0, 100000));
    r.out[0].mode = KR_MODE_HOMING;
    sim_rig_run_ms(&r, 100);
    ck_assert_int_eq(r.in[0].mode, KR_MODE_PROFILE_POSITION);
    sim_rig_run_ms(&r, 2000);
    ck_assert_int_eq(r.in[0].mode, KR_MODE_HOMING);
}
END_TEST

static void unhomed(struct sim_rig *r)
{
    sim_rig_defaults(r, 1, 0);
    r->config.rail[0].absolute_encoder = 0;
    r->config.rail[0].carriage_um = 300000;
    r->config.rail[0].home_um = 20000;
    r->config.rail[0].home_offset_um = 20000;
    sim_rig_start(r);
    ck_assert(sim_rig_enable(r, 0, KR_MODE_HOMING));
}

START_TEST(homing_takes_its_time_and_gives_the_home_mark_its_offset)
{
    struct sim_rig r;
    unhomed(&r);
    ck_assert(!r.in[0].referenced);
    ck_assert_int_eq(r.in[0].position_um, 0);
    r.out[0].controlword |= KR_CW_NEW_SETPOINT;
    sim_rig_run_ms(&r, 1000);
    ck_assert_uint_eq(r.in[0].statusword & 0x3400, 0x0000); /* in progress */
    ck_assert(!r.in[0].referenced);
    ck_assert(sim_rig_run_until_status(&r, 0, 0x3400, 0x1400, 10000));
    ck_assert(r.in[0].referenced);
    ck_assert_int_eq(r.in[0].position_um, 20000);
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 20000);
}
END_TEST

START_TEST(homing_that_is_interrupted_leaves_no_reference)
{
    struct sim_rig r;
    unhomed(&r);
    r.out[0].controlword |= KR_CW_NEW_SETPOINT;
    sim_rig_run_ms(&r, 1000);
    r.out[0].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
    ck_assert(sim_rig_run_until_status(&r, 0, 0x3400, 0x0400, 1000));
    ck_assert(!r.in[0].referenced);
}
END_TEST

START_TEST(homing_against_an_obstacle_is_a_homing_error)
{
    struct sim_rig r;
    unhomed(&r);
    r.out[0].controlword |= KR_CW_NEW_SETPOINT;
    r.m.config.rail[0].stop_low_um = 100000; /* something stands before the home mark */
    ck_assert(sim_rig_run_until_state(&r, 0, KR_DRIVE_FAULT, 10000));
    ck_assert_uint_eq(r.in[0].statusword & 0x3000, 0x2000);
    ck_assert(!r.in[0].referenced);
}
END_TEST

START_TEST(a_power_cut_takes_the_link_then_the_reference_of_an_incremental_encoder)
{
    for (int absolute = 0; absolute < 2; absolute++) {
        struct sim_rig r;
        sim_rig_defaults(&r, 1, 0);
        r.config.rail[0].absolute_encoder = absolute;
        sim_rig_start(&r);
        ck_assert(sim_rig_enable(&r, 0, KR_MODE_HOMING));
        r.out[0].controlword |= KR_CW_NEW_SETPOINT;
        ck_assert(sim_rig_run_until_status(&r, 0, 0x3400, 0x1400, 10000));
        ck_assert(sim_rig_enable(&r, 0, KR_MODE_PROFILE_POSITION));
        ck_assert(sim_rig_move(&r, 0, 250000));
        sim_machine_break(&r.m, 0, SIM_POWER_CUT, 0, 0);
        sim_rig_run_ms(&r, 100);
        ck_assert(!r.in[0].link);
        sim_machine_mend(&r.m, 0, SIM_POWER_CUT, 0);
        r.out[0].controlword = 0;
        sim_rig_run_ms(&r, r.config.rail[0].boot_ms - 20);
        ck_assert(!r.in[0].link);
        sim_rig_run_ms(&r, 40);
        ck_assert(r.in[0].link);
        ck_assert_int_eq(kr_drive_state_of(r.in[0].statusword), KR_DRIVE_SWITCH_ON_DISABLED);
        ck_assert_int_eq(r.in[0].referenced, absolute);
        ck_assert_int_eq(r.in[0].position_um, absolute ? 250000 : 0);
    }
}
END_TEST

START_TEST(a_position_is_counted_in_whole_encoder_counts)
{
    struct sim_rig r;
    sim_rig_defaults(&r, 1, 0);
    r.config.rail[0].encoder_nm = 7000;
    sim_rig_start(&r);
    ck_assert(sim_rig_enable(&r, 0, KR_MODE_PROFILE_POSITION));
    ck_assert(sim_rig_move(&r, 0, 100));
    ck_assert_int_eq(r.in[0].position_um, 98); /* 14 counts of 7 um */
    ck_assert_int_eq(sim_machine_carriage_um(&r.m, 0), 100);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("simulated drive");
    TCase *tc = suite_case(suite, "simulated drive");
    tcase_add_test(tc, every_controlword_in_every_state_does_what_the_transition_table_says);
    tcase_add_test(tc, every_state_shows_the_statusword_of_the_profile);
    tcase_add_test(tc, one_command_does_not_jump_over_a_state);
    tcase_add_test(tc, operation_is_enabled_only_after_the_power_stage_s_time);
    tcase_add_test(tc, a_setpoint_is_acknowledged_and_target_reached_falls_with_it);
    tcase_add_test(tc, a_target_without_a_rising_edge_moves_nothing);
    tcase_add_test(tc, a_move_takes_the_trapezoid_s_time_and_the_window_s);
    tcase_add_test(tc, without_bit_5_the_next_setpoint_waits_for_the_running_one);
    tcase_add_test(tc, with_bit_5_a_new_setpoint_replaces_the_running_one);
    tcase_add_test(tc, halt_stops_within_v_squared_over_2d_and_going_on_ends_on_target);
    tcase_add_test(tc, quick_stop_uses_its_own_ramp_and_ends_disabled);
    tcase_add_test(tc, a_setpoint_without_speed_is_a_parameter_fault);
    tcase_add_test(tc, a_hard_stop_in_the_way_is_a_following_error);
    tcase_add_test(tc, a_fault_stops_on_the_quick_stop_ramp_and_is_reset_by_a_rising_edge_only);
    tcase_add_test(tc, a_cause_that_stands_cannot_be_reset);
    tcase_add_test(tc, a_silent_master_is_quick_stopped_by_the_watchdog_and_its_outputs_fall);
    tcase_add_test(tc, a_drive_without_a_watchdog_finishes_its_move_in_silence);
    tcase_add_test(tc, a_lost_enable_drops_the_drive_and_the_carriage_coasts);
    tcase_add_test(tc, the_mode_display_follows_after_a_moment_and_not_in_motion);
    tcase_add_test(tc, homing_takes_its_time_and_gives_the_home_mark_its_offset);
    tcase_add_test(tc, homing_that_is_interrupted_leaves_no_reference);
    tcase_add_test(tc, homing_against_an_obstacle_is_a_homing_error);
    tcase_add_test(tc, a_power_cut_takes_the_link_then_the_reference_of_an_incremental_encoder);
    tcase_add_test(tc, a_position_is_counted_in_whole_encoder_counts);
    return suite;
}
