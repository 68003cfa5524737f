/* The positioner for drives over Modbus against the simulator behind a real wire: what it promises while
 * all is well, and what becomes of it when the wire, the drive or the gateway fails. In real time, since
 * the wire is. */
#include <fcntl.h>
#include <modbus.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "suite.h"
#include "wire_proxy.h"
#include "wire_rig.h"

/* Of a drive whose master fell silent: life guard or heartbeat error (tests/reference/data/cia402_error_codes.csv). */
#define ERROR_SILENCE 0x8130

static struct wire w;

static void connected(const char *const changes[])
{
    wire_begin(&w, changes);
    wire_open(&w);
    ck_assert(wire_wait_link(&w, 0, true, 2000));
    ck_assert(wire_wait_link(&w, 1, true, 2000));
}

/* ---- all is well --------------------------------------------------------------------------------------- */

START_TEST(an_answer_never_names_outputs_that_the_drive_has_not_had_time_for)
{
    connected(NULL);
    uint32_t before = w.in[0].answers;
    int fresh = 0;
    for (int i = 0; i < 100; i++) {
        wire_step(&w);
        ck_assert_uint_lt(w.in[0].answers, w.out[0].serial - 1); /* in flight, and the drive's own delay */
        ck_assert_uint_ge(w.in[0].answers, before);
        ck_assert_int_le(w.in[0].age_ms, 60);
        fresh += w.in[0].answers != before;
        before = w.in[0].answers;
    }
    ck_assert_int_ge(fresh, 80);
    ck_assert(wire_told(&w, "1 drive at 127.0.0.1 port"));
    ck_assert_int_eq(w.n_news, 2);
    wire_end(&w);
}
END_TEST

static const char *const plain[] = {NULL};
static const char *const one_by_one[] = {"function_23 = \"yes\"", "function_23 = \"no\"", NULL};
static const char *const other_way[] = {
    "word_order = \"high_word_first\";      # of 32-bit registers", "",
    "word_order = \"high_word_first\";\n      referenced_bit",
    "word_order = \"low_word_first\"; counts_towards = \"operator_side\";\n      referenced_bit", NULL};
static const char *const scattered[] = {"registers: { watchdog = 210; }",
                                        "registers: { watchdog = 210; target = 20; outputs = 40; position = 150; "
                                        "inputs = 300; rise_count = -1; fall_count = -1; }; "
                                        "outputs: { pin_in = 9; }; inverted_outputs = [ \"pin_out\" ]; "
                                        "inputs: { pin_in = 15; }; inverted_inputs = [ \"pin_in\", \"flag\" ]",
                                        NULL};
static const char *const *const maps[] = {plain, one_by_one, other_way, scattered};

START_TEST(a_holder_is_fetched_and_brought_whatever_the_drive_s_map)
{
    connected(maps[_i]);
    ck_assert(wire_enable(&w, 0));
    ck_assert(wire_move(&w, 0, 60000));
    ck_assert_int_le(abs(w.in[0].position_um - 60000), 10);
    w.out[0].outputs = KR_DO_PIN_IN;
    ck_assert(wire_wait_inputs(&w, 0, KR_DI_PIN_IN, 2000));
    w.out[0].outputs |= KR_DO_BRAKE_OPEN;
    ck_assert(wire_wait_inputs(&w, 0, KR_DI_BRAKE_OPEN, 2000));
    ck_assert(wire_move(&w, 0, 100000));
    w.out[0].outputs = KR_DO_PIN_IN;
    ck_assert(wire_wait_inputs(&w, 0, KR_DI_BRAKE_CLOSED, 2000));
    w.out[0].outputs = KR_DO_PIN_OUT;
    ck_assert(wire_wait_inputs(&w, 0, KR_DI_PIN_OUT, 2000));
    /* A pass over it: both edges are latched, and told by counters or without. */
    ck_assert(wire_move(&w, 0, 60000));
    w.out[0].probe_function = KR_PROBE_ENABLE | KR_PROBE_CONTINUOUS | KR_PROBE_RISING | KR_PROBE_FALLING;
    w.out[0].speed_um_per_s = 200000;
    wire_run_ms(&w, 50);
    ck_assert(wire_move(&w, 0, 140000));
    ck_assert_uint_eq(w.in[0].rise_count, 1);
    ck_assert_uint_eq(w.in[0].fall_count, 1);
    int32_t middle_um = (w.in[0].rise_um + w.in[0].fall_um) / 2;
    ck_assert_int_le(abs(middle_um - 100000), 200); /* hysteresis, delay, backlash and slip of the simulated machine */
    wire_end(&w);
}
END_TEST

/* Of rail 1, 35 mm to the left of the pin; with counters and without. */
#define SECOND_PROBE(counts) \
    { \
        "registers: { watchdog = 210; }", \
            "registers: { watchdog = 210; probe_2_rise = 116; probe_2_fall = 118; " counts \
            "}; inputs: { reference = 7; }", \
            "role = \"upper\";", \
            "role = \"upper\"; frame: { references = ( { at_mm = 150; width_mm = 8; } ); reference_switch " \
            "= " \
            "\"own\"; reference_switch_offset_mm = -35; };", \
            NULL \
    }
static const char *const counted[] = SECOND_PROBE("rise_2_count = 120; fall_2_count = 121; ");
static const char *const uncounted[] = SECOND_PROBE("");
static const char *const *const second_probes[] = {counted, uncounted};

START_TEST(the_references_own_switch_is_read_by_the_drive_s_second_probe)
{
    connected(second_probes[_i]);
    ck_assert(wire_enable(&w, 0));
    ck_assert(wire_move(&w, 0, 130000));
    unsigned one = KR_PROBE_ENABLE | KR_PROBE_CONTINUOUS | KR_PROBE_RISING | KR_PROBE_FALLING;
    w.out[0].probe_function = (uint16_t)(one | one << KR_PROBE_2);
    w.out[0].speed_um_per_s = 200000;
    wire_run_ms(&w, 50);
    ck_assert_uint_eq(w.in[0].probe_status >> KR_PROBE_2 & KR_PROBE_ENABLED, KR_PROBE_ENABLED);
    ck_assert(wire_move(&w, 0, 185000));
    ck_assert_uint_ne(w.in[0].inputs & KR_DI_REFERENCE, 0);
    ck_assert(wire_move(&w, 0, 240000));
    ck_assert_uint_eq(w.in[0].inputs & KR_DI_REFERENCE, 0);
    ck_assert_uint_eq(w.in[0].second.rise_count, 1);
    ck_assert_uint_eq(w.in[0].second.fall_count, 1);
    ck_assert_int_le(abs((w.in[0].second.rise_um + w.in[0].second.fall_um) / 2 - 185000), 200);
    wire_end(&w);
}
END_TEST

/* The drive's output objects as they stand, seen by another master. */
#define N_OUTPUTS 12

static void write_as_another(const uint16_t word[N_OUTPUTS])
{
    modbus_t *other = modbus_new_tcp("127.0.0.1", w.port[0]);
    ck_assert_int_eq(modbus_connect(other), 0);
    modbus_set_slave(other, 1);
    ck_assert_int_eq(modbus_write_registers(other, 0, N_OUTPUTS, word), N_OUTPUTS);
    modbus_close(other);
    modbus_free(other);
}

static void read_as_another(uint16_t word[N_OUTPUTS])
{
    modbus_t *other = modbus_new_tcp("127.0.0.1", w.port[0]);
    ck_assert_int_eq(modbus_connect(other), 0);
    modbus_set_slave(other, 1);
    ck_assert_int_eq(modbus_read_registers(other, 0, N_OUTPUTS, word), N_OUTPUTS);
    modbus_close(other);
    modbus_free(other);
}

/* What a gateway that restarts finds in the drive is not overwritten before the station has said anything. */
START_TEST(before_the_first_output_image_nothing_is_written)
{
    uint16_t word[N_OUTPUTS] = {KR_CW_ENABLE_VOLTAGE | KR_CW_NO_QUICK_STOP, 1, 0, 60000}, now[N_OUTPUTS];
    struct kr_axis_out none[KR_RAILS_MAX] = {{0}};
    wire_begin(&w, NULL);
    write_as_another(word);
    wire_open(&w);
    for (int i = 0; i < 30; i++) {
        w.positioner.exchange(w.positioner.self, none, WIRE_PERIOD_MS * 1000, w.in);
        wire_pause_ms(&w, WIRE_PERIOD_MS);
    }
    read_as_another(now);
    ck_assert_mem_eq(now, word, sizeof word);
    ck_assert(wire_wait_link(&w, 0, true, 2000));
    wire_end(&w);
}
END_TEST

/* A drive may be running: what an image says that was made without having seen it would be wrong. */
START_TEST(before_the_drive_has_been_seen_nothing_is_written_either)
{
    uint16_t word[N_OUTPUTS] = {KR_CW_ENABLE_VOLTAGE | KR_CW_NO_QUICK_STOP, 1, 0, 60000}, now[N_OUTPUTS];
    wire_begin(&w, NULL);
    write_as_another(word);
    wire_open(&w);
    for (int i = 0; i < 300 && !w.in[0].link; i++)
        wire_step(&w);
    ck_assert(w.in[0].link);
    ck_assert_uint_eq(w.in[0].answers, 0);
    read_as_another(now);
    ck_assert_mem_eq(now, word, sizeof word);
    wire_run_ms(&w, 100);
    read_as_another(now);
    ck_assert_uint_eq(now[0], w.out[0].controlword);
    ck_assert_uint_gt(w.in[0].answers, 0);
    wire_end(&w);
}
END_TEST

START_TEST(at_the_end_every_drive_has_a_quick_stop_and_no_outputs)
{
    uint16_t word[N_OUTPUTS];
    connected(NULL);
    ck_assert(wire_enable(&w, 0));
    w.out[0].outputs = KR_DO_BRAKE_OPEN;
    wire_run_ms(&w, 100);
    w.positioner.close(w.positioner.self);
    w.open = false;
    read_as_another(word);
    ck_assert_uint_eq(word[0], KR_CW_ENABLE_VOLTAGE);
    ck_assert_uint_eq(word[11], 0);
    wire_end(&w);
}
END_TEST

/* ---- the wire fails ------------------------------------------------------------------------------------ */

START_TEST(a_lost_drive_is_told_by_name_and_found_again_without_a_restart)
{
    connected(NULL);
    wire_end_simulator(&w);
    ck_assert(wire_wait_link(&w, 0, false, 1000));
    ck_assert_uint_eq(w.in[0].statusword, 0);
    wire_run_ms(&w, 1000);
    ck_assert_int_ge(w.in[0].age_ms, 900);
    ck_assert(wire_told(&w, "1 drive at 127.0.0.1 port"));
    ck_assert(wire_told(&w, "cannot connect: Connection refused"));
    wire_start_simulator(&w);
    ck_assert(wire_wait_link(&w, 0, true, 6000));
    ck_assert(wire_wait_link(&w, 1, true, 6000));
    ck_assert_int_le(w.n_news, 10); /* each reason once, not each try */
    wire_end(&w);
}
END_TEST

START_TEST(a_drive_that_is_cut_off_loses_its_link_and_stops_itself)
{
    connected(NULL);
    ck_assert(wire_enable(&w, 0));
    w.out[0].target_um = 1500000;
    w.out[0].controlword |= KR_CW_NEW_SETPOINT;
    wire_run_ms(&w, 500);
    wire_command(&w, "break 1 link-lost");
    ck_assert(wire_wait_link(&w, 0, false, 1300));
    ck_assert(w.in[1].link); /* the other rail has a line of its own */
    ck_assert(wire_told(&w, "no answer within 1000 ms"));
    ck_assert_uint_eq(w.in[0].wire.lost_links, 1);
    ck_assert_uint_ge(w.in[0].wire.lost_answers, 1);
    wire_run_ms(&w, 300);
    wire_command(&w, "mend 1 link-lost");
    ck_assert(wire_wait_state(&w, 0, KR_DRIVE_FAULT, 6000));
    ck_assert_uint_eq(w.in[0].error_code, ERROR_SILENCE);
    ck_assert_int_lt(w.in[0].position_um, 700000);
    wire_end(&w);
}
END_TEST

START_TEST(answers_that_come_too_late_are_no_answers)
{
    connected(NULL);
    wire_command(&w, "break 1 slow-answers 1200");
    ck_assert(wire_wait_link(&w, 0, false, 1500));
    uint32_t lost_at = w.out[0].serial;
    for (int i = 0; i < 100; i++) {
        wire_step(&w);
        ck_assert(!w.in[0].link);
    }
    wire_command(&w, "mend 1 slow-answers");
    ck_assert(wire_wait_link(&w, 0, true, 6000));
    ck_assert_uint_gt(w.in[0].answers, lost_at);
    wire_end(&w);
}
END_TEST

START_TEST(answers_within_the_limit_are_older_and_no_worse)
{
    connected(NULL);
    wire_command(&w, "break 1 slow-answers 30");
    wire_run_ms(&w, 200);
    int32_t oldest_ms = 0;
    for (int i = 0; i < 50; i++) {
        wire_step(&w);
        ck_assert(w.in[0].link);
        oldest_ms = w.in[0].age_ms > oldest_ms ? w.in[0].age_ms : oldest_ms;
    }
    ck_assert_int_ge(oldest_ms, 40); /* 30 on the wire, and until the next comes */
    ck_assert_uint_ge(w.in[0].wire.longest_ms, 30);
    ck_assert_int_ge(w.in[0].span_us, 29000);
    wire_command(&w, "mend 1 slow-answers");
    wire_command(&w, "break 1 slow-answers 400");
    for (int i = 0; i < 150; i++) {
        wire_step(&w);
        ck_assert(w.in[0].link);
        oldest_ms = w.in[0].age_ms > oldest_ms ? w.in[0].age_ms : oldest_ms;
    }
    ck_assert_int_ge(oldest_ms, 400);
    ck_assert_uint_eq(w.in[0].wire.lost_answers, 0);
    wire_end(&w);
}
END_TEST

START_TEST(a_gateway_that_stands_still_is_silent_and_the_drive_stops)
{
    connected(NULL);
    ck_assert(wire_enable(&w, 0));
    w.out[0].target_um = 1500000;
    w.out[0].controlword |= KR_CW_NEW_SETPOINT;
    wire_run_ms(&w, 500);
    int32_t at_um = w.in[0].position_um;
    wire_pause_ms(&w, 1000);
    wire_run_ms(&w, 50);
    ck_assert_int_eq(kr_drive_state_of(w.in[0].statusword), KR_DRIVE_FAULT);
    ck_assert_uint_eq(w.in[0].error_code, ERROR_SILENCE);
    /* 500 mm/s for the watchdog's 600 ms, then 25 mm on the quick stop ramp, and what the wire takes */
    ck_assert_int_le(w.in[0].position_um - at_um, 350000);
    wire_end(&w);
}
END_TEST

/* ---- the drive is not as it should be ------------------------------------------------------------------ */

static const char *const no_watchdog[] = {"watchdog_ms = 600; };", "watchdog_ms = 0; };", NULL};

START_TEST(a_drive_without_its_watchdog_is_not_used)
{
    wire_begin(&w, no_watchdog);
    wire_open(&w);
    ck_assert(!wire_wait_link(&w, 0, true, 500));
    ck_assert(wire_told(&w, "not used: its communication watchdog is set to 0; 1 to 600 is needed"));
    ck_assert_uint_eq(w.in[0].refusal.why, KR_REFUSED_PARAMETER);
    ck_assert_str_eq(w.in[0].refusal.name, "communication watchdog");
    ck_assert_int_eq(w.in[0].refusal.seen, 0);
    ck_assert_int_eq(w.in[0].refusal.expected, 600);
    wire_end(&w);
}
END_TEST

START_TEST(a_watchdog_that_was_proven_is_not_asked_for)
{
    static const char *const proven[] = {"watchdog_ms = 600; };", "watchdog_ms = 0; };", "watchdog = \"read\"; ",
                                         "watchdog = \"proven\"; ", NULL};
    connected(proven);
    wire_end(&w);
}
END_TEST

START_TEST(a_drive_that_refuses_is_told_with_its_reason)
{
    wire_begin(&w, NULL);
    w.station.drive[0].map.address[KR_OBJECT_INPUTS] = 115; /* the drive has nothing there */
    wire_open(&w);
    ck_assert(!wire_wait_link(&w, 0, true, 500));
    ck_assert(wire_told(&w, "it refuses registers.inputs (register 115): Illegal data address"));
    ck_assert(wire_wait_link(&w, 1, true, 500));
    wire_end(&w);
}
END_TEST

/* The output objects of a drive that nobody has written to. */
static void check_nothing_was_written(void)
{
    static const uint16_t none[N_OUTPUTS] = {0};
    uint16_t word[N_OUTPUTS];
    read_as_another(word);
    ck_assert_mem_eq(word, none, sizeof none);
}

/* Which of the example's expected parameters is told another value of. */
static const struct {
    uint16_t index;
    uint32_t value;
    const char *says;
} strange[] = {
    {0, (uint32_t)-4096, "parameter \"position limit, low\" (register 220) shows -2048; -4096 is expected"},
    {4, 1025, "parameter \"following error\" (register 226) shows 1024; 1025 is expected"},
    {7, 18, "parameter \"homing method\" (register 231) shows 17; 18 is expected (mask FFh)"},
};

START_TEST(a_drive_with_another_parameter_is_refused_by_its_name_and_nothing_is_written_to_it)
{
    wire_begin(&w, NULL);
    w.station.drive[0].expected[strange[_i].index].value = strange[_i].value;
    wire_open(&w);
    w.out[0].controlword = KR_CW_ENABLE_VOLTAGE | KR_CW_NO_QUICK_STOP;
    ck_assert(wire_wait_link(&w, 1, true, 2000));
    ck_assert(!wire_wait_link(&w, 0, true, 500));
    ck_assert(wire_told(&w, strange[_i].says));
    const struct kr_drive_refusal *refusal = &w.in[0].refusal;
    ck_assert_int_eq(refusal->why, KR_REFUSED_PARAMETER);
    ck_assert_uint_eq(refusal->item, strange[_i].index + 1u);
    ck_assert_str_eq(refusal->name, w.station.drive[0].expected[strange[_i].index].name);
    ck_assert_int_eq(refusal->expected, (int32_t)strange[_i].value);
    ck_assert_int_eq(w.in[1].refusal.why, KR_REFUSED_NOT);
    check_nothing_was_written();
    wire_end(&w);
}
END_TEST

static const char *const serial[] = {"drive: { address = \"127.0.0.1\"; port = 15021; };",
                                     "drive: { line = \"serial\"; device = \"A_LINE\"; unit_id = 1; };",
                                     "drive: { address = \"127.0.0.1\"; port = 15022; };",
                                     "drive: { line = \"serial\"; device = \"A_LINE\"; unit_id = 2; };", NULL};

/* Over TCP and on a serial line, on which the other drive goes on. */
START_TEST(a_drive_exchanged_for_one_with_factory_settings_is_refused_until_it_is_set_up)
{
    connected(_i ? serial : NULL);
    wire_command(&w, "break 1 factory-settings");
    ck_assert(wire_wait_link(&w, 0, false, 2000));
    for (int i = 0; i < 1000 && w.in[0].refusal.why == KR_REFUSED_NOT; i++) {
        wire_step(&w);
        ck_assert(!w.in[0].link);
    }
    ck_assert_int_eq(w.in[0].refusal.why, KR_REFUSED_PARAMETER);
    ck_assert_str_eq(w.in[0].refusal.name, "position limit, low");
    ck_assert_int_eq(w.in[0].refusal.seen, 0);
    ck_assert(wire_told(&w, "not used: its parameter \"position limit, low\" (register 220) shows 0; -2048 is"));
    ck_assert(w.in[1].link);
    wire_command(&w, "mend 1 factory-settings");
    ck_assert(wire_wait_link(&w, 0, true, 8000));
    ck_assert_int_eq(w.in[0].refusal.why, KR_REFUSED_NOT);
    wire_end(&w);
}
END_TEST

START_TEST(a_parameter_that_the_drive_has_not_is_told_by_the_drive_s_refusal)
{
    wire_begin(&w, NULL);
    w.station.drive[0].expected[2].address = 999;
    wire_open(&w);
    ck_assert(!wire_wait_link(&w, 0, true, 500));
    ck_assert(wire_told(&w, "it refuses parameter \"quick stop option\" (register 999): Illegal data address"));
    wire_end(&w);
}
END_TEST

static const char *const owned[] = {"registers: { watchdog = 210; }", "registers: { watchdog = 210; owner = 240; }",
                                    NULL};

static uint16_t owner_now(uint16_t write)
{
    uint16_t word = write;
    modbus_t *other = modbus_new_tcp("127.0.0.1", w.port[0]);
    ck_assert_int_eq(modbus_connect(other), 0);
    modbus_set_slave(other, 1);
    if (write != 0)
        ck_assert_int_eq(modbus_write_registers(other, 240, 1, &write), 1);
    ck_assert_int_eq(modbus_read_registers(other, 240, 1, &word), 1);
    modbus_close(other);
    modbus_free(other);
    return word;
}

START_TEST(the_owner_keeps_its_number_in_the_drive_and_takes_it_away_at_the_end)
{
    connected(owned);
    uint16_t first = owner_now(0);
    ck_assert_uint_ne(first >> 8, 0);
    wire_run_ms(&w, 1000);
    uint16_t second = owner_now(0);
    ck_assert_uint_eq(second >> 8, first >> 8);
    ck_assert_uint_ne(second, first);
    w.positioner.close(w.positioner.self);
    w.open = false;
    ck_assert_uint_eq(owner_now(0), 0);
    wire_end(&w);
}
END_TEST

/* Somebody else's number in mid-motion: a quick stop goes out once, and then nothing more. */
START_TEST(a_drive_that_is_taken_away_in_motion_is_stopped_once_and_left_alone)
{
    uint16_t word[N_OUTPUTS];
    connected(owned);
    ck_assert(wire_enable(&w, 0));
    w.out[0].target_um = 1500000;
    w.out[0].controlword |= KR_CW_NEW_SETPOINT;
    wire_run_ms(&w, 500);
    (void)owner_now(0x2A01);
    ck_assert(wire_wait_link(&w, 0, false, 1000));
    ck_assert_int_eq(w.in[0].refusal.why, KR_REFUSED_OTHER_GATEWAY);
    ck_assert_int_eq(w.in[0].refusal.seen, 0x2A);
    ck_assert(wire_told(&w, "not used: another gateway works it, number 42; this one is number"));
    read_as_another(word);
    ck_assert_uint_eq(word[0], KR_CW_ENABLE_VOLTAGE);
    w.out[0].outputs = KR_DO_BRAKE_OPEN;
    for (uint16_t beat = 2; beat < 12; beat++) { /* the other lives */
        (void)owner_now((uint16_t)(0x2A00 | beat));
        wire_run_ms(&w, 250);
        ck_assert(!w.in[0].link);
    }
    read_as_another(word);
    ck_assert_uint_eq(word[0], KR_CW_ENABLE_VOLTAGE);
    ck_assert_uint_eq(word[11], 0);
    ck_assert(wire_wait_link(&w, 0, true, 4000)); /* and now it is dead */
    ck_assert_int_eq(w.in[0].refusal.why, KR_REFUSED_NOT);
    wire_end(&w);
}
END_TEST

START_TEST(a_drive_that_reboots_comes_back_without_a_restart)
{
    connected(NULL);
    wire_command(&w, "break 1 drive-reboot");
    ck_assert(wire_wait_link(&w, 0, false, 1500));
    ck_assert(wire_wait_link(&w, 0, true, 10000));
    ck_assert_int_eq(kr_drive_state_of(w.in[0].statusword), KR_DRIVE_SWITCH_ON_DISABLED);
    wire_end(&w);
}
END_TEST

/* ---- the wire misbehaves ------------------------------------------------------------------------------- */

static struct proxy proxy;

static void through_proxy(bool on_serial_line)
{
    wire_begin(&w, on_serial_line ? serial : NULL);
    for (int r = 0; r < 2; r++)
        w.station.drive[r].n_expected = 0; /* an answer or two make a link then */
    if (on_serial_line)
        proxy_open_serial(&proxy, w.device);
    else
        proxy_open_tcp(&proxy, w.port[0]);
    w.port[0] = proxy.port;
    for (int r = 0; on_serial_line && r < 2; r++)
        snprintf(w.station.drive[r].link.device, sizeof w.station.drive[r].link.device, "%s", proxy.device);
    wire_open(&w);
    ck_assert(wire_wait_link(&w, 0, true, 2000));
    ck_assert(wire_enable(&w, 0));
    ck_assert(wire_move(&w, 0, 60000));
}

/* The drive stands at 60 mm, enabled: an image that says anything else is a wrong claim. The second rail's
 * drive, on the same line or not, must not be mixed up with it: that one stands at 20 mm and isn't enabled. */
static void check_claims(uint32_t *answers)
{
    const struct kr_axis_in *in = &w.in[0];
    if (in->link) {
        ck_assert_int_le(abs(in->position_um - 60000), 10);
        ck_assert_int_eq(kr_drive_state_of(in->statusword) == KR_DRIVE_OPERATION_ENABLED ||
                             in->error_code == ERROR_SILENCE ||
                             kr_drive_state_of(in->statusword) == KR_DRIVE_SWITCH_ON_DISABLED,
                         true);
        ck_assert_uint_ge(in->answers, *answers);
        ck_assert_uint_lt(in->answers, w.out[0].serial);
        *answers = in->answers;
    }
    if (w.in[1].link) {
        ck_assert_int_le(abs(w.in[1].position_um - 20000), 10);
        ck_assert_int_ne(kr_drive_state_of(w.in[1].statusword), KR_DRIVE_OPERATION_ENABLED);
    }
}

static void misbehave(enum proxy_mode mode)
{
    uint32_t answers = 0;
    unsigned spoilt = proxy.spoilt;
    proxy.mode = (int)mode;
    for (int i = 0; i < 100; i++) {
        wire_step(&w);
        check_claims(&answers);
    }
    ck_assert_uint_gt(proxy.spoilt, spoilt);
    proxy.mode = PROXY_PASS;
    ck_assert(wire_wait_link(&w, 0, true, 8000));
    ck_assert_int_le(abs(w.in[0].position_um - 60000), 10);
}

/* Whatever the wire did, the drive is where it was, and moves once when it is told to. */
static void recover_and_move(void)
{
    w.out[0].controlword = 0;
    wire_run_ms(&w, 100);
    w.out[0].controlword = KR_CW_FAULT_RESET;
    wire_run_ms(&w, 100);
    ck_assert(wire_enable(&w, 0));
    ck_assert(wire_move(&w, 0, 70000));
    ck_assert_int_le(abs(w.in[0].position_um - 70000), 10);
    ck_assert(wire_move(&w, 0, 60000));
}

START_TEST(whatever_the_network_does_no_image_claims_what_is_not_so)
{
    through_proxy(false);
    for (int mode = PROXY_FRAGMENT; mode <= PROXY_SILENCE; mode++) {
        if (mode == PROXY_SPOIL_END)
            continue; /* Modbus/TCP has no check sum of its own: it relies on TCP's */
        misbehave((enum proxy_mode)mode);
        recover_and_move();
    }
    ck_assert(wire_told(&w, "the answer does not fit the request: its transaction number is "));
    proxy_close(&proxy);
    wire_end(&w);
}
END_TEST

/* A length or a unit identifier that is not what the question calls for: the answer is not believed, and what is
 * wrong with it is told. */
START_TEST(an_answer_of_another_length_or_unit_is_not_believed)
{
    static const int lengths[] = {0, 1, 253, 300, 65535};
    char expected[80];
    through_proxy(false);
    for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
        proxy.length = lengths[i];
        w.n_news = 0;
        misbehave(PROXY_LENGTH);
        wire_run_ms(&w, 2200); /* a link that does not hold is told in sums */
        snprintf(expected, sizeof expected, "its length is %d, not ", lengths[i]);
        ck_assert_msg(wire_told(&w, expected), "%s", expected);
    }
    w.n_news = 0;
    misbehave(PROXY_UNIT);
    ck_assert(wire_told(&w, "its unit identifier is 2, not 1"));
    recover_and_move();
    proxy_close(&proxy);
    wire_end(&w);
}
END_TEST

/* The answer comes after 700 ms; the stop is given while it is awaited, and the drive has it long before. */
START_TEST(a_stop_does_not_wait_for_the_answer_before_it_and_is_sent_once)
{
    uint16_t word[N_OUTPUTS];
    through_proxy(false);
    proxy.hold_ms = 700;
    proxy.mode = PROXY_HOLD;
    wire_run_ms(&w, 100);
    w.out[0].controlword |= KR_CW_HALT;
    wire_run_ms(&w, 60);
    uint16_t port = w.port[0];
    w.port[0] = proxy.beyond;
    read_as_another(word);
    w.port[0] = port;
    ck_assert(word[0] & KR_CW_HALT);
    unsigned asked = proxy.asked;
    wire_run_ms(&w, 300);
    ck_assert_uint_eq(proxy.asked, asked); /* nothing is repeated on a connection that waits */
    ck_assert(w.in[0].link);
    ck_assert_int_ge(w.in[0].age_ms, 400);
    proxy.mode = PROXY_PASS;
    wire_run_ms(&w, 600);
    ck_assert(w.in[0].link);
    ck_assert_int_le(w.in[0].age_ms, 60);
    ck_assert_uint_eq(w.in[0].wire.lost_answers, 0);
    proxy_close(&proxy);
    wire_end(&w);
}
END_TEST

/* Who is silent. */
START_TEST(an_old_image_names_who_is_silent)
{
    through_proxy(false);
    proxy.hold_ms = 300;
    proxy.mode = PROXY_HOLD;
    wire_run_ms(&w, 200);
    ck_assert_int_eq(w.in[0].silent, KR_SILENT_DRIVE); /* its end of the connection confirms */
    proxy.mode = PROXY_PASS;
    wire_run_ms(&w, 500);
    wire_pause_ms(&w, 400);
    wire_step(&w);
    ck_assert_int_eq(w.in[0].silent, KR_SILENT_SELF);
    wire_run_ms(&w, 500);
    ck_assert_int_ne(w.in[0].silent, KR_SILENT_SELF);
    proxy_close(&proxy);
    wire_end(&w);
}
END_TEST

START_TEST(a_drive_that_answers_and_closes_is_told_a_few_times_and_then_in_sums)
{
    through_proxy(false);
    w.n_news = 0;
    proxy.mode = PROXY_THREE;
    wire_run_ms(&w, 8000);
    ck_assert_int_ge(w.in[0].wire.lost_links, 4);
    ck_assert_int_le(w.n_news, 12);
    proxy_close(&proxy);
    wire_end(&w);
}
END_TEST

START_TEST(a_serial_line_carries_two_drives)
{
    connected(serial);
    for (uint16_t r = 0; r < 2; r++) {
        ck_assert(wire_enable(&w, r));
        ck_assert(wire_move(&w, r, 60000 + 10000 * r));
    }
    ck_assert_int_le(abs(w.in[0].position_um - 60000), 10);
    ck_assert_int_le(abs(w.in[1].position_um - 70000), 10);
    wire_end(&w);
}
END_TEST

/* Rail 1 answers 70 ms late, and a try waits for 50: its question is repeated, and answered twice. The second answer
 * finds nobody who could take it for rail 2's. */
START_TEST(a_late_drive_on_a_shared_line_is_late_and_the_other_one_is_not_blamed)
{
    connected(serial);
    w.n_news = 0;
    wire_command(&w, "break 1 slow-answers 70");
    for (int i = 0; i < 300; i++) {
        wire_step(&w);
        ck_assert(w.in[1].link);
        ck_assert_int_le(w.in[1].age_ms, 450);
    }
    ck_assert_uint_ge(w.in[0].wire.retries, 5);
    ck_assert_uint_eq(w.in[1].wire.retries, 0);
    ck_assert_uint_eq(w.in[1].wire.lost_answers, 0);
    ck_assert_int_eq(w.n_news, 0);
    wire_command(&w, "mend 1 slow-answers");
    wire_run_ms(&w, 500);
    wire_command(&w, "break 1 link-lost"); /* the line waits for rail 1: who looks at rail 2's image is told so */
    bool told = false;
    for (int i = 0; i < 100; i++) {
        wire_step(&w);
        told = told || (w.in[1].silent == KR_SILENT_LINE && w.in[1].silent_rail == 1);
        ck_assert(w.in[1].link);
    }
    ck_assert(told);
    wire_end(&w);
}
END_TEST

/* What a wrong baud rate makes of an answer, and an adapter that does not switch its receiver off. */
START_TEST(garbage_and_echoes_on_a_serial_line_hint_at_its_settings_and_at_the_adapter)
{
    static const enum proxy_mode modes[] = {PROXY_BABBLE, PROXY_ECHO, PROXY_SPOIL_END};
    through_proxy(true);
    w.n_news = 0;
    proxy.mode = (int)modes[_i];
    ck_assert(wire_wait_link(&w, 0, false, 3000));
    wire_run_ms(&w, 50);
    ck_assert_msg(wire_told(&w, "garbage, or an echo: look at baud, parity and stop bits, and at the adapter"), "%s",
                  w.news[0]);
    proxy.mode = PROXY_PASS;
    ck_assert(wire_wait_link(&w, 0, true, 8000));
    proxy_close(&proxy);
    wire_end(&w);
}
END_TEST

START_TEST(a_line_with_a_long_name_is_told_whole)
{
    static const char name[] = "/dev/serial/by-path/platform-of-a-long-name-0:1.2:1.0-port0";
    wire_begin(&w, NULL);
    w.station.drive[0].link.serial = true;
    snprintf(w.station.drive[0].link.device, sizeof w.station.drive[0].link.device, "%s", name);
    wire_open(&w);
    ck_assert(!wire_wait_link(&w, 0, true, 200));
    ck_assert(wire_told(&w, "1 drive at /dev/serial/by-path/platform-of-a-long-name-0:1.2:1.0-port0 unit 1: "
                            "cannot connect: No such file or directory"));
    wire_end(&w);
}
END_TEST

START_TEST(whatever_the_serial_line_does_no_image_claims_what_is_not_so)
{
    through_proxy(true);
    for (int mode = PROXY_FRAGMENT; mode <= PROXY_SILENCE; mode++) {
        if (mode == PROXY_OLD)
            continue; /* RTU frames have no number: only the master's waiting for each answer pairs them */
        misbehave((enum proxy_mode)mode);
        recover_and_move();
    }
    proxy_close(&proxy);
    wire_end(&w);
}
END_TEST

/* ---- the gateway's own house --------------------------------------------------------------------------- */

/* libmodbus waits with select(): a descriptor of 1024 or more would end the process. */
START_TEST(a_drive_is_reconnected_while_all_low_descriptors_are_taken)
{
    struct rlimit limit;
    ck_assert_int_eq(getrlimit(RLIMIT_NOFILE, &limit), 0);
    limit.rlim_cur = limit.rlim_max < 2000 ? limit.rlim_max : 2000;
    ck_assert_uint_ge(limit.rlim_cur, 1200);
    ck_assert_int_eq(setrlimit(RLIMIT_NOFILE, &limit), 0);
    connected(NULL);
    int taken = 0;
    while (taken < 1100) {
        int fd = open("/dev/null", O_RDONLY);
        ck_assert_int_ge(fd, 0);
        taken = fd;
    }
    wire_end_simulator(&w);
    ck_assert(wire_wait_link(&w, 0, false, 1000));
    wire_start_simulator(&w);
    ck_assert(wire_wait_link(&w, 0, true, 6000));
    for (int fd = taken; fd >= 900; fd--)
        close(fd);
    wire_end(&w);
}
END_TEST

START_TEST(without_a_low_descriptor_the_positioner_is_not_made)
{
    struct rlimit limit;
    struct kr_positioner positioner;
    struct kr_drive drive;
    char error[200];
    ck_assert_int_eq(getrlimit(RLIMIT_NOFILE, &limit), 0);
    limit.rlim_cur = limit.rlim_max < 2000 ? limit.rlim_max : 2000;
    ck_assert_int_eq(setrlimit(RLIMIT_NOFILE, &limit), 0);
    while (open("/dev/null", O_RDONLY) < 1030)
        ;
    kr_drive_standard(&drive);
    snprintf(drive.link.address, sizeof drive.link.address, "127.0.0.1");
    ck_assert(!kr_positioner_modbus(1, &drive, (struct kr_positioner_note){0}, &positioner, error, sizeof error));
    ck_assert_ptr_nonnull(strstr(error, "it must be below 1024"));
}
END_TEST

Suite *make_suite(void)
{
    if (suite_argc != 2) {
        fprintf(stderr, "usage: test_wire PATH-OF-kniferail-sim\n");
        return NULL;
    }
    wire_program = suite_argv[1];
    Suite *suite = suite_create("drives over Modbus");
    TCase *tc = suite_case(suite, "wire");
    tcase_add_test(tc, an_answer_never_names_outputs_that_the_drive_has_not_had_time_for);
    tcase_add_loop_test(tc, a_holder_is_fetched_and_brought_whatever_the_drive_s_map, 0, 4);
    tcase_add_loop_test(tc, the_references_own_switch_is_read_by_the_drive_s_second_probe, 0, 2);
    tcase_add_test(tc, before_the_first_output_image_nothing_is_written);
    tcase_add_test(tc, before_the_drive_has_been_seen_nothing_is_written_either);
    tcase_add_test(tc, at_the_end_every_drive_has_a_quick_stop_and_no_outputs);
    tcase_add_test(tc, a_lost_drive_is_told_by_name_and_found_again_without_a_restart);
    tcase_add_test(tc, a_drive_that_is_cut_off_loses_its_link_and_stops_itself);
    tcase_add_test(tc, answers_that_come_too_late_are_no_answers);
    tcase_add_test(tc, answers_within_the_limit_are_older_and_no_worse);
    tcase_add_test(tc, a_gateway_that_stands_still_is_silent_and_the_drive_stops);
    tcase_add_test(tc, a_drive_without_its_watchdog_is_not_used);
    tcase_add_test(tc, a_watchdog_that_was_proven_is_not_asked_for);
    tcase_add_test(tc, a_drive_that_refuses_is_told_with_its_reason);
    tcase_add_loop_test(tc, a_drive_with_another_parameter_is_refused_by_its_name_and_nothing_is_written_to_it, 0, 3);
    tcase_add_loop_test(tc, a_drive_exchanged_for_one_with_factory_settings_is_refused_until_it_is_set_up, 0, 2);
    tcase_add_test(tc, a_parameter_that_the_drive_has_not_is_told_by_the_drive_s_refusal);
    tcase_add_test(tc, the_owner_keeps_its_number_in_the_drive_and_takes_it_away_at_the_end);
    tcase_add_test(tc, a_drive_that_is_taken_away_in_motion_is_stopped_once_and_left_alone);
    tcase_add_test(tc, a_drive_that_reboots_comes_back_without_a_restart);
    tcase_add_test(tc, whatever_the_network_does_no_image_claims_what_is_not_so);
    tcase_add_test(tc, a_serial_line_carries_two_drives);
    tcase_add_test(tc, a_line_with_a_long_name_is_told_whole);
    tcase_add_test(tc, whatever_the_serial_line_does_no_image_claims_what_is_not_so);
    tcase_add_test(tc, a_drive_is_reconnected_while_all_low_descriptors_are_taken);
    tcase_add_test(tc, without_a_low_descriptor_the_positioner_is_not_made);
    TCase *silence = suite_case(suite, "silence");
    tcase_add_test(silence, an_answer_of_another_length_or_unit_is_not_believed);
    tcase_add_test(silence, a_stop_does_not_wait_for_the_answer_before_it_and_is_sent_once);
    tcase_add_test(silence, an_old_image_names_who_is_silent);
    tcase_add_test(silence, a_drive_that_answers_and_closes_is_told_a_few_times_and_then_in_sums);
    tcase_add_loop_test(silence, garbage_and_echoes_on_a_serial_line_hint_at_its_settings_and_at_the_adapter, 0, 3);
    tcase_add_test(silence, a_late_drive_on_a_shared_line_is_late_and_the_other_one_is_not_blamed);
    return suite;
}
