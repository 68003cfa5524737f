/* Tests of the simulated drive as a Modbus server, of the fault script, and of the commands. */
#include <string.h>

#include "sim/command.h"
#include "sim/script_read.h"
#include "sim/slave.h"
#include "sim_rig.h"
#include "suite.h"

static struct sim_rig rig;
static struct sim_slave slave;

static void begin(void)
{
    sim_rig_defaults(&rig, 2, 3);
    sim_rig_start(&rig);
    sim_slave_init(&slave, &rig.m);
    for (int r = 0; r < 2; r++)
        kr_drivemap_standard(&slave.drive[r].map);
}

/* Sends bytes, compares the answer with bytes. */
static void ask(const char *request, size_t n_request, const char *answer, size_t n_answer)
{
    uint8_t got[SIM_PDU_MAX];
    size_t n = sim_slave_serve(&slave, 0, (const uint8_t *)request, n_request, got);
    ck_assert_uint_eq(n, n_answer);
    ck_assert_mem_eq(got, answer, n_answer);
}
#define ASK(request, answer) ask(request, sizeof request - 1, answer, sizeof answer - 1)

/* ---- requests ------------------------------------------------------------------------------------------ */

START_TEST(a_written_register_reads_back_and_reaches_the_drive)
{
    begin();
    ASK("\x06\x00\x00\x00\x06", "\x06\x00\x00\x00\x06");
    ASK("\x03\x00\x00\x00\x01", "\x03\x02\x00\x06");
    sim_machine_run(&rig.m, 2000);
    struct kr_axis_in in;
    sim_machine_read(&rig.m, 0, &in);
    ck_assert_int_eq(kr_drive_state_of(in.statusword), KR_DRIVE_READY_TO_SWITCH_ON);
}
END_TEST

START_TEST(function_16_writes_a_32_bit_object_and_23_reads_after_it_has_written)
{
    begin();
    ASK("\x10\x00\x02\x00\x02\x04\x00\x01\x00\x00", "\x10\x00\x02\x00\x02");
    sim_machine_run(&rig.m, 1000);
    ck_assert_int_eq(rig.m.axis[0].drive.command.target_um, 65536);
    ASK("\x17\x00\x02\x00\x02\x00\x03\x00\x01\x02\x12\x34", "\x17\x04\x00\x01\x12\x34");
}
END_TEST

START_TEST(each_unit_is_its_own_drive)
{
    begin();
    uint8_t got[SIM_PDU_MAX];
    ck_assert_uint_eq(sim_slave_serve(&slave, 1, (const uint8_t *)"\x06\x00\x00\x00\x06", 5, got), 5);
    sim_machine_run(&rig.m, 2000);
    ck_assert_uint_eq(rig.m.axis[0].drive.command.controlword, 0);
    ck_assert_uint_eq(rig.m.axis[1].drive.command.controlword, 6);
}
END_TEST

START_TEST(the_watchdog_s_register_tells_the_machine_s_own)
{
    begin();
    ASK("\x03\x00\xC8\x00\x01", "\x03\x02\x00\xC8"); /* register 200: 200 ms */
    ASK("\x06\x00\xC8\x00\x00", "\x86\x02");         /* it can't be switched off from here */
}
END_TEST

START_TEST(the_owner_s_register_keeps_what_is_written)
{
    begin();
    ASK("\x06\x00\xF0\x2A\x01", "\x86\x02"); /* register 240: the map has none */
    slave.drive[0].map.address[KR_OBJECT_OWNER] = 240;
    ASK("\x06\x00\xF0\x2A\x01", "\x06\x00\xF0\x2A\x01");
    ASK("\x03\x00\xF0\x00\x01", "\x03\x02\x2A\x01");
    ASK("\x10\x00\xF0\x00\x01\x02\x00\x00", "\x10\x00\xF0\x00\x01");
    ASK("\x03\x00\xF0\x00\x01", "\x03\x02\x00\x00");
}
END_TEST

START_TEST(expected_parameters_are_shown_until_factory_settings_come_back)
{
    begin();
    slave.drive[0].n_expected = 3;
    slave.drive[0].expected[0] = (struct kr_expected){"limit", 300, 2, true, (uint32_t)-2048, UINT32_MAX};
    slave.drive[0].expected[1] = (struct kr_expected){"bit 3", 302, 1, false, 8, 8};
    slave.drive[0].expected[2] = (struct kr_expected){"bit 4", 302, 1, false, 0, 16};
    ASK("\x03\x01\x2C\x00\x03", "\x03\x06\xFF\xFF\xF8\x00\x00\x08"); /* register 300 */
    ASK("\x03\x01\x2C\x00\x04", "\x83\x02");
    ASK("\x06\x01\x2E\x00\x00", "\x86\x02"); /* no master sets them */
    slave.drive[0].map.low_word_first = true;
    ASK("\x03\x01\x2C\x00\x02", "\x03\x04\xF8\x00\xFF\xFF");
    ck_assert(sim_machine_break(&rig.m, 0, SIM_FACTORY_SETTINGS, 0, 0));
    sim_machine_run(&rig.m, 3000000);                                /* it starts anew */
    ASK("\x03\x01\x2C\x00\x03", "\x03\x06\x00\x00\x00\x00\x00\x10"); /* each differs */
    ck_assert(sim_machine_mend(&rig.m, 0, SIM_FACTORY_SETTINGS, 0));
    ASK("\x03\x01\x2C\x00\x03", "\x03\x06\xF8\x00\xFF\xFF\x00\x08");
}
END_TEST

/* The order of checks: MODBUS Application Protocol V1.1b3, figures 13, 16, 22, 27. */
START_TEST(wrong_requests_get_the_exception_of_the_specification_and_change_nothing)
{
    begin();
    ASK("\x01\x00\x00\x00\x01", "\x81\x01");                             /* no coils here */
    ASK("\x04\x00\x00\x00\x01", "\x84\x01");                             /* no input registers */
    ASK("\x03\x00\x00\x00\x00", "\x83\x03");                             /* quantity 0 */
    ASK("\x03\x00\x00\x00\x7E", "\x83\x03");                             /* quantity 126 */
    ASK("\x03\x00\x0B\x00\x02", "\x83\x02");                             /* one register beyond the block */
    ASK("\x03\xFF\xFF\x00\x02", "\x83\x02");                             /* beyond the last address */
    ASK("\x03\x00\x00\x00", "\x83\x03");                                 /* too short */
    ASK("\x06\x00\x64\x00\x01", "\x86\x02");                             /* the statusword is read only */
    ASK("\x10\x00\x0B\x00\x02\x04\x00\x01\x00\x01", "\x90\x02");         /* half of it outside */
    ASK("\x10\x00\x00\x00\x01\x04\x00\x01\x00\x01", "\x90\x03");         /* byte count */
    ASK("\x10\x00\x00\x00\x02\x04\x00\x01", "\x90\x03");                 /* fewer bytes than told */
    ASK("\x17\x00\x64\x00\x00\x00\x00\x00\x01\x02\x00\x01", "\x97\x03"); /* quantity 0 */
    ASK("\x17\x03\xE8\x00\x01\x00\x00\x00\x01\x02\x00\x01", "\x97\x02"); /* reads outside: writes nothing */
    sim_machine_run(&rig.m, 2000);
    ck_assert_uint_eq(rig.m.axis[0].drive.command.controlword, 0);
    ck_assert_uint_eq(slave.drive[0].outputs.raw[KR_OBJECT_CONTROLWORD], 0);
    ck_assert_uint_eq(slave.drive[0].exceptions, 13);
}
END_TEST

START_TEST(a_drive_that_is_cut_off_is_silent_and_its_watchdog_runs)
{
    begin();
    ASK("\x06\x00\x00\x00\x06", "\x06\x00\x00\x00\x06");
    ck_assert(sim_machine_break(&rig.m, 0, SIM_LINK_LOST, 0, 0));
    for (int i = 0; i < 30; i++) {
        ASK("\x03\x00\x00\x00\x01", "");
        sim_machine_run(&rig.m, 10000);
    }
    ck_assert(sim_machine_mend(&rig.m, 0, SIM_LINK_LOST, 0));
    struct kr_axis_in in;
    sim_machine_read(&rig.m, 0, &in);
    ck_assert_uint_eq(in.error_code, SIM_ERROR_SILENCE);
}
END_TEST

START_TEST(reading_keeps_the_watchdog_content)
{
    begin();
    ASK("\x06\x00\x00\x00\x06", "\x06\x00\x00\x00\x06");
    for (int i = 0; i < 50; i++) {
        ASK("\x03\x00\x00\x00\x01", "\x03\x02\x00\x06");
        sim_machine_run(&rig.m, 10000);
    }
    struct kr_axis_in in;
    sim_machine_read(&rig.m, 0, &in);
    ck_assert_uint_eq(in.error_code, 0);
}
END_TEST

/* MODBUS over Serial Line V1.02, 6.2.2: the frame 02 07 has the check sum 1241h, sent 41 12. */
START_TEST(the_serial_line_s_check_sum_is_the_specification_s)
{
    ck_assert_uint_eq(sim_rtu_crc((const uint8_t *)"\x02\x07", 2), 0x1241);
}
END_TEST

START_TEST(a_serial_frame_s_length_is_told_as_soon_as_it_can_be)
{
    ck_assert_uint_eq(sim_rtu_request_length((const uint8_t *)"\x01", 1), 0);
    ck_assert_uint_eq(sim_rtu_request_length((const uint8_t *)"\x01\x03", 2), 8);
    ck_assert_uint_eq(sim_rtu_request_length((const uint8_t *)"\x01\x10\x00\x00\x00\x01", 6), 0);
    ck_assert_uint_eq(sim_rtu_request_length((const uint8_t *)"\x01\x10\x00\x00\x00\x01\x02", 7), 11);
    ck_assert_uint_gt(sim_rtu_request_length((const uint8_t *)"\x01\x55", 2), SIM_RTU_MAX);
}
END_TEST

/* ---- script -------------------------------------------------------------------------------------------- */

static char error[300];

static struct sim_script parsed(const char *text)
{
    struct sim_script script;
    ck_assert_msg(sim_script_parse(text, "test", &rig.config, &script, error, sizeof error), "%s", error);
    return script;
}

static void step_ms(struct sim_script *script, int32_t ms)
{
    for (int32_t i = 0; i < ms; i++) {
        sim_machine_run(&rig.m, 1000);
        (void)sim_script_step(script, &rig.m);
    }
}

START_TEST(a_fault_strikes_at_its_time_and_goes_when_it_is_over)
{
    begin();
    struct sim_script s = parsed("faults = ( { fault = \"pin-stuck-out\"; rail = 2; after_ms = 100; for_ms = 50; } );");
    step_ms(&s, 99);
    ck_assert(!sim_machine_broken(&rig.m, 1, SIM_PIN_STUCK_OUT));
    step_ms(&s, 1);
    ck_assert(sim_machine_broken(&rig.m, 1, SIM_PIN_STUCK_OUT));
    ck_assert(!sim_machine_broken(&rig.m, 0, SIM_PIN_STUCK_OUT));
    step_ms(&s, 50);
    ck_assert(!sim_machine_broken(&rig.m, 1, SIM_PIN_STUCK_OUT));
    ck_assert_int_eq(s.row[0].state, SIM_ROW_OVER);
}
END_TEST

START_TEST(a_fault_waits_for_its_phase_and_finds_the_docked_holder)
{
    begin();
    ck_assert(sim_rig_enable(&rig, 0, KR_MODE_PROFILE_POSITION));
    ck_assert(sim_rig_move(&rig, 0, 600000));
    struct sim_script s =
        parsed("faults = ( { fault = \"holder-jammed\"; phase = \"dragging\"; nth = 2; after_ms = 50; } );");
    ck_assert(sim_rig_dock(&rig, 0));
    ck_assert(sim_rig_move(&rig, 0, 610000));
    (void)sim_script_step(&s, &rig.m);
    ck_assert_int_eq(s.row[0].state, SIM_ROW_WAITS);
    ck_assert(sim_rig_setpoint(&rig, 0, 660000));
    for (int i = 0; i < 20; i++) {
        sim_rig_cycle(&rig);
        (void)sim_script_step(&s, &rig.m);
    }
    ck_assert_int_eq(s.row[0].state, SIM_ROW_STANDS);
    ck_assert_uint_eq(s.row[0].item_index, 1);
    ck_assert(rig.m.axis[0].rail.holder[1].jammed);
}
END_TEST

START_TEST(a_fault_of_the_docked_holder_is_refused_when_none_is_docked)
{
    begin();
    struct sim_script s = parsed("faults = ( { fault = \"holder-jammed\"; after_ms = 5; } );");
    step_ms(&s, 10);
    ck_assert_int_eq(s.row[0].state, SIM_ROW_REFUSED);
}
END_TEST

START_TEST(a_mistake_in_a_script_is_told_with_its_line_and_leaves_the_old_script)
{
    static const struct {
        const char *text, *says;
    } row[] = {
        {"faults = (\n { fault = \"no-such\"; } );", "test:2: fault: \"no-such\" is not a fault"},
        {"faults = ( { rail = 1; } );", "test:1: fault: must be given, as a name"},
        {"faults = ( { fault = \"air-lost\"; rail = 3; } );", "test:1: rail: 3; 1 to 2 is allowed"},
        {"faults = ( { fault = \"air-lost\"; rial = 1; } );", "test:1: rial: no such setting of a fault"},
        {"faults = ( { fault = \"slow-answers\"; } );", "test:1: value: slow-answers needs one"},
        {"faults = ( { fault = \"air-lost\"; value = 1; } );", "test:1: value: air-lost has none"},
        {"faults = ( { fault = \"slow-answers\"; value = 0; } );", "test:1: value: 0; 1 to 60000 is allowed"},
        {"faults = ( { fault = \"holder-jammed\"; holder = 4; } );", "test:1: holder: 4; 0 to 3 is allowed"},
        {"faults = ( { fault = \"air-lost\"; phase = \"asleep\"; } );", "test:1: phase: \"asleep\" is not a phase"},
        {"faults = ( { fault = \"air-lost\"; after_ms = 1.5; } );",
         "test:1: after_ms: a whole number from 0 to 86400000 is allowed"},
        {"faults = ( 7 );", "test:1: a fault is a group { }"},
        {"fault = ( );", "test:1: fault: no such setting of a script"},
        {"", "test: faults: must be given, as a list ( )"},
        {"faults = (", "test:1: syntax error"},
    };
    begin();
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct sim_script s = {.n = 42};
        ck_assert(!sim_script_parse(row[i].text, "test", &rig.config, &s, error, sizeof error));
        ck_assert_str_eq(error, row[i].says);
        ck_assert_uint_eq(s.n, 42);
    }
}
END_TEST

START_TEST(the_example_script_can_be_read)
{
    struct sim_script s;
    begin();
    rig.config.rail[1].n_holders = 12; /* as in the station that it is written against */
    ck_assert_msg(sim_script_read("sim/faults.cfg", &rig.config, &s, error, sizeof error), "%s", error);
    ck_assert_uint_eq(s.n, 4);
    ck_assert_int_eq(s.row[1].fault, SIM_HOLDER_JAMMED);
    ck_assert_int_eq(s.row[1].phase, SIM_PHASE_DRAGGING);
    ck_assert(!sim_script_read("sim/no-such.cfg", &rig.config, &s, error, sizeof error));
    ck_assert_str_eq(error, "sim/no-such.cfg: file I/O error");
}
END_TEST

/* ---- phases -------------------------------------------------------------------------------------------- */

START_TEST(an_onlooker_names_each_phase_once_as_a_holder_is_moved)
{
    begin();
    ck_assert(sim_rig_enable(&rig, 0, KR_MODE_PROFILE_POSITION));
    ck_assert(sim_rig_move(&rig, 0, 600000));
    ck_assert(sim_rig_dock(&rig, 0));
    sim_rig_run_ms(&rig, 100);
    ck_assert_int_eq(sim_machine_phase(&rig.m, 0), SIM_PHASE_DOCKED);
    ck_assert(sim_rig_move(&rig, 0, 650000));
    ck_assert(sim_rig_undock(&rig, 0));
    sim_rig_run_ms(&rig, 50);
    static const uint32_t want[SIM_N_PHASES] = {
        [SIM_PHASE_STANDING] = 2, [SIM_PHASE_TRAVELLING] = 1, [SIM_PHASE_DOCKING] = 1,
        [SIM_PHASE_DOCKED] = 2,   [SIM_PHASE_DRAGGING] = 1,   [SIM_PHASE_RELEASING] = 1};
    for (int p = 0; p < SIM_N_PHASES; p++)
        ck_assert_msg(sim_machine_entered(&rig.m, 0, (enum sim_phase)p) == want[p], "%s: %u instead of %u",
                      sim_phase_name((enum sim_phase)p), sim_machine_entered(&rig.m, 0, (enum sim_phase)p), want[p]);
}
END_TEST

/* ---- commands ------------------------------------------------------------------------------------------ */

static char said[SIM_ANSWER_MAX];

START_TEST(commands_break_and_mend)
{
    begin();
    ck_assert(sim_command(&rig.m, "break 2 pin-stuck-out", said));
    ck_assert(sim_machine_broken(&rig.m, 1, SIM_PIN_STUCK_OUT));
    ck_assert(sim_command(&rig.m, "mend 2 pin-stuck-out\n", said));
    ck_assert(!sim_machine_broken(&rig.m, 1, SIM_PIN_STUCK_OUT));
    ck_assert(sim_command(&rig.m, "break 1 moved-by-hand 3 -2500", said));
    ck_assert_int_eq(sim_rig_holder_um(&rig, 2), 697500);
    ck_assert(sim_command(&rig.m, "inputs air=0 jog_enable=1", said));
    ck_assert_uint_eq(rig.m.inputs, (SIM_INPUTS_ALL & ~KR_DI_AIR) | KR_DI_JOG_ENABLE);
    ck_assert(sim_command(&rig.m, "show", said));
    ck_assert_ptr_nonnull(strstr(said, "rail 2: standing, carriage at 0.000 mm"));
    ck_assert(sim_command(&rig.m, "holders", said));
    ck_assert_ptr_nonnull(strstr(said, " 697.500\nrail 2: "));
}
END_TEST

START_TEST(counts_tell_each_set_point_and_each_release_once)
{
    begin();
    ck_assert(sim_command(&rig.m, "counts", said));
    ck_assert_str_eq(said, "rail 1: 0 set-points; let go of each holder: 0 0 0\n"
                           "rail 2: 0 set-points; let go of each holder: 0 0 0\n");
    ck_assert(sim_rig_enable(&rig, 0, KR_MODE_PROFILE_POSITION));
    ck_assert(sim_rig_move(&rig, 0, 600000));
    ck_assert(sim_rig_dock(&rig, 0));
    ck_assert(sim_rig_move(&rig, 0, 650000));
    ck_assert(sim_rig_undock(&rig, 0));
    sim_rig_run_ms(&rig, 50); /* the same words again and again: levels, no new set-point */
    ck_assert(sim_command(&rig.m, "counts", said));
    ck_assert_str_eq(said, "rail 1: 2 set-points; let go of each holder: 0 1 0\n"
                           "rail 2: 0 set-points; let go of each holder: 0 0 0\n");
    ck_assert(sim_machine_break(&rig.m, 0, SIM_DRIVE_REBOOT, 0, 0));
    ck_assert_uint_eq(sim_machine_setpoints(&rig.m, 0), 2);
}
END_TEST

START_TEST(an_error_code_may_be_given_as_a_drives_manual_has_it)
{
    begin();
    /* 0x8611: following error (tests/reference/data/cia402_error_codes.csv) */
    ck_assert(sim_command(&rig.m, "break 1 drive-fault 0x8611", said));
    sim_rig_run_ms(&rig, 10);
    struct kr_axis_in in;
    sim_machine_read(&rig.m, 0, &in);
    ck_assert_uint_eq(in.error_code, 0x8611);
    ck_assert(!sim_command(&rig.m, "break 1 drive-fault 0x10000", said));
    ck_assert_str_eq(said, "drive-fault: a value from 1 to 65535 is needed\n");
}
END_TEST

START_TEST(a_command_that_is_wrong_says_why_and_changes_nothing)
{
    static const struct {
        const char *line, *says;
    } row[] = {
        {"brake 1", "no such command; 'help' lists them\n"},
        {"", "no such command; 'help' lists them\n"},
        {"break", "a rail from 1 to 2 and a fault are needed\n"},
        {"break 3 air-lost", "a rail from 1 to 2 and a fault are needed\n"},
        {"break 1 hair-lost", "hair-lost: no such fault; 'faults' lists them\n"},
        {"break 1 holder-jammed", "holder-jammed: a holder from 1 to 3 is needed\n"},
        {"break 1 holder-jammed 4", "holder-jammed: a holder from 1 to 3 is needed\n"},
        {"break 1 slow-answers", "slow-answers: a value from 1 to 60000 is needed\n"},
        {"break 1 slow-answers 1e3", "slow-answers: a value from 1 to 60000 is needed\n"},
        {"break 1 air-lost 5", "5: no further word is needed\n"},
    };
    begin();
    static struct sim_machine before;
    before = rig.m;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        ck_assert(!sim_command(&rig.m, row[i].line, said));
        ck_assert_str_eq(said, row[i].says);
    }
    ck_assert(!sim_command(&rig.m, "inputs air=2", said));
    char endless[SIM_COMMAND_MAX + 2];
    memset(endless, 'x', sizeof endless - 1);
    endless[sizeof endless - 1] = 0;
    ck_assert(!sim_command(&rig.m, endless, said));
    ck_assert_mem_eq(&before, &rig.m, sizeof before);
}
END_TEST

START_TEST(every_fault_and_command_is_listed)
{
    begin();
    ck_assert(sim_command(&rig.m, "faults", said));
    for (int f = 0; f < SIM_N_FAULTS; f++)
        ck_assert_ptr_nonnull(strstr(said, sim_fault_info((enum sim_fault)f)->what));
    ck_assert(sim_command(&rig.m, "help", said));
    ck_assert_ptr_nonnull(strstr(said, "mend RAIL FAULT [HOLDER]\n"));
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("the simulated drive's server");
    TCase *tc = suite_case(suite, "the simulated drive's server");
    tcase_add_test(tc, a_written_register_reads_back_and_reaches_the_drive);
    tcase_add_test(tc, function_16_writes_a_32_bit_object_and_23_reads_after_it_has_written);
    tcase_add_test(tc, each_unit_is_its_own_drive);
    tcase_add_test(tc, the_watchdog_s_register_tells_the_machine_s_own);
    tcase_add_test(tc, the_owner_s_register_keeps_what_is_written);
    tcase_add_test(tc, expected_parameters_are_shown_until_factory_settings_come_back);
    tcase_add_test(tc, wrong_requests_get_the_exception_of_the_specification_and_change_nothing);
    tcase_add_test(tc, a_drive_that_is_cut_off_is_silent_and_its_watchdog_runs);
    tcase_add_test(tc, reading_keeps_the_watchdog_content);
    tcase_add_test(tc, the_serial_line_s_check_sum_is_the_specification_s);
    tcase_add_test(tc, a_serial_frame_s_length_is_told_as_soon_as_it_can_be);
    tcase_add_test(tc, a_fault_strikes_at_its_time_and_goes_when_it_is_over);
    tcase_add_test(tc, a_fault_waits_for_its_phase_and_finds_the_docked_holder);
    tcase_add_test(tc, a_fault_of_the_docked_holder_is_refused_when_none_is_docked);
    tcase_add_test(tc, a_mistake_in_a_script_is_told_with_its_line_and_leaves_the_old_script);
    tcase_add_test(tc, the_example_script_can_be_read);
    tcase_add_test(tc, an_onlooker_names_each_phase_once_as_a_holder_is_moved);
    tcase_add_test(tc, commands_break_and_mend);
    tcase_add_test(tc, counts_tell_each_set_point_and_each_release_once);
    tcase_add_test(tc, an_error_code_may_be_given_as_a_drives_manual_has_it);
    tcase_add_test(tc, a_command_that_is_wrong_says_why_and_changes_nothing);
    tcase_add_test(tc, every_fault_and_command_is_listed);
    return suite;
}
