/* The judges of commissioning: what is made of what was seen, one mistake after the other. */
#include <stdio.h>
#include <string.h>

#include "kniferail/alarm.h"
#include "kniferail/commission.h"
#include "suite.h"

static struct kr_step_verdict verdict;
static struct kr_drive drive;

static void begin(void)
{
    memset(&verdict, 0, sizeof verdict);
    kr_drive_standard(&drive);
    drive.n_expected = 1;
    drive.expected[0] = (struct kr_expected){.name = "position limit",
                                             .address = 220,
                                             .words = 2,
                                             .is_signed = true,
                                             .value = (uint32_t)-2048,
                                             .mask = UINT32_MAX};
}

/* The only finding names this setting; "" for one at the machine. */
static void found(const char *setting)
{
    ck_assert(!kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_findings, 1);
    ck_assert_str_eq(verdict.finding[0].setting, setting);
}

/* ---- the table ------------------------------------------------------------------------------------------------- */

START_TEST(a_step_stands_on_the_settings_of_its_own_rail_and_of_the_station)
{
    const struct kr_step *direction = kr_step(KR_STEP_DIRECTION), *safety = kr_step(KR_STEP_SAFETY);
    ck_assert(kr_step_stands_on(direction, 1, "rail 1: drive.counts_towards"));
    ck_assert(!kr_step_stands_on(direction, 1, "rail 2: drive.counts_towards"));
    ck_assert(!kr_step_stands_on(direction, 1, "rail 12: drive.counts_towards"));
    ck_assert(kr_step_stands_on(direction, 1, "rail 1: drive.registers.target"));
    ck_assert(!kr_step_stands_on(direction, 1, "rail 1: carriage.flag_width_mm"));
    ck_assert(kr_step_stands_on(safety, 0, "rail 2: carriage.empty_speed_mm_per_s"));
    ck_assert(kr_step_stands_on(safety, 0, "permissives.drag"));
    ck_assert(!kr_step_stands_on(safety, 0, "web.widest_mm"));
}
END_TEST

START_TEST(a_step_stands_on_the_values_of_the_book_that_its_verdict_needs)
{
    static const struct {
        const char *value;
        const char *steps; /* all that stand on it */
    } rows[] = {
        {"rail 2: book.frame.offset_mm", "LIMITS CALIBRATION REFERENCES CLEARANCE "},
        {"rail 2: book.frame.scale_ppm", "LIMITS SWITCH CALIBRATION REFERENCES CLEARANCE EDGES "},
        {"rail 2: book.frame.table", "LIMITS SWITCH CALIBRATION REFERENCES CLEARANCE EDGES "},
        {"rail 2: book.switch_offset_mm",
         "SWITCH REFERENCES HOLDER REDUCED CLEARANCE PRODUCTION DOCKINGS CHANGEOVERS "},
        {"rail 2: book.scan_bias_mm", "BIAS HOLDER REDUCED CLEARANCE PRODUCTION DOCKINGS CHANGEOVERS "},
        {"rail 2: book.edge_offset_mm of holder 3", "CLEARANCE EDGES "},
        {"rail 2: book.edge_proof of holder 3", "EDGES "},
        {"rail 2: book.size of holder 3", "REDUCED PRODUCTION DOCKINGS CHANGEOVERS "},
        {"rail 2: book.times.dock_ms", "CHANGEOVERS "},
        {"rail 2: book.times.undock_ms", "CHANGEOVERS "},
        {"rail 2: book.times.setpoint_ms", "CHANGEOVERS "},
        {"rail 2: book.times.rounding_ms", "CHANGEOVERS "},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char found[256] = "";
        for (size_t id = 0; kr_step(id) != NULL; id++) {
            const struct kr_step *step = kr_step(id);
            uint16_t rail = step->scope == KR_STEP_RAIL ? 2 : 0;
            if (kr_step_stands_on(step, rail, rows[i].value)) {
                strcat(found, step->name);
                strcat(found, " ");
            }
            ck_assert(step->scope == KR_STEP_STATION || !kr_step_stands_on(step, 1, rows[i].value));
        }
        ck_assert_str_eq(found, rows[i].steps);
    }
}
END_TEST

/* IEC 60204-1 has the emergency stop as a function of its own: the stop of a program is none. */
START_TEST(a_step_in_which_the_station_moves_has_a_hand_at_the_emergency_stop)
{
    static const enum kr_step_id moves[] = {KR_STEP_DIRECTION,   KR_STEP_HOME,    KR_STEP_LIMITS,     KR_STEP_SWITCH,
                                            KR_STEP_HOLDER,      KR_STEP_REDUCED, KR_STEP_PRODUCTION, KR_STEP_DOCKINGS,
                                            KR_STEP_CHANGEOVERS, KR_STEP_ALARMS};
    for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++) {
        const struct kr_step *step = kr_step(moves[i]);
        ck_assert_msg(strstr(step->caution, "hand is at the emergency stop") != NULL, "%s: %s", step->name,
                      step->caution);
        ck_assert_ptr_null(strstr(step->caution, "stop button"));
    }
}
END_TEST

START_TEST(what_moves_every_rail_comes_after_all_that_is_tried_before_it)
{
    static const enum kr_step_id moves[] = {KR_STEP_REDUCED,    KR_STEP_CLEARANCE,   KR_STEP_EDGES,
                                            KR_STEP_PRODUCTION, KR_STEP_CHANGEOVERS, KR_STEP_ALARMS};
    for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++)
        for (size_t first = 0; first < KR_STEP_COUNT; first++)
            ck_assert_int_eq(kr_step_comes_first((enum kr_step_id)first, moves[i]), first < moves[i]);
    ck_assert(kr_step_comes_first(KR_STEP_SILENCE, KR_STEP_DOCKINGS));
    ck_assert(!kr_step_comes_first(KR_STEP_INPUTS, KR_STEP_DIRECTION));
    ck_assert(!kr_step_comes_first(KR_STEP_ALARMS, KR_STEP_REHEARSAL));
    ck_assert(kr_step_needs_silence(KR_STEP_PRODUCTION) && !kr_step_needs_silence(KR_STEP_REDUCED));
}
END_TEST

START_TEST(a_pattern_that_is_longer_or_shorter_than_a_name_is_not_it)
{
    const struct kr_step *scale = kr_step(KR_STEP_SCALE);
    ck_assert(kr_step_stands_on(scale, 1, "rail 1: drive.position_um"));
    ck_assert(!kr_step_stands_on(scale, 1, "rail 1: drive.position_u"));
    ck_assert(!kr_step_stands_on(scale, 1, "rail 1: drive.position_um2"));
    ck_assert(!kr_step_stands_on(scale, 1, "rail 1: "));
    ck_assert(!kr_step_stands_on(scale, 1, ""));
    ck_assert_ptr_null(kr_step(KR_STEP_COUNT));
}
END_TEST

START_TEST(what_has_no_room_in_a_verdict_is_counted)
{
    begin();
    kr_figure_add(&verdict, "a", "b");
    ck_assert(kr_step_passes(&verdict));
    for (int i = 1; i < KR_FIGURES_MAX + 3; i++)
        kr_figure_add(&verdict, "a", "%d", i);
    ck_assert_uint_eq(verdict.n_findings, 0);
    ck_assert_uint_eq(verdict.lost, 3);
    ck_assert(!kr_step_passes(&verdict)); /* what is not whole does not pass */
    for (int i = 0; i < KR_FINDINGS_MAX + 2; i++)
        kr_finding_add(&verdict, "a", "b", "c %d", i);
    ck_assert_uint_eq(verdict.lost, 5);
    ck_assert_uint_eq(verdict.n_findings, KR_FINDINGS_MAX);
    ck_assert_uint_eq(verdict.n_figures, KR_FIGURES_MAX);
}
END_TEST

/* ---- the drive ------------------------------------------------------------------------------------------------- */

static struct kr_drive_seen refused(uint16_t address, int32_t seen, int32_t expected)
{
    struct kr_drive_seen s = {.refused = KR_REFUSED_PARAMETER,
                              .parameter = "position limit",
                              .address = address,
                              .seen = seen,
                              .expected = expected};
    return s;
}

START_TEST(a_date_is_a_day_of_the_calendar)
{
    static const char *const good[] = {"2026-03-02", "2024-02-29", "2000-02-29", "2026-12-31"};
    static const char *const bad[] = {"",           "tomorrow",   "2026-3-2",    "02.03.2026",
                                      "2026-00-10", "2026-13-01", "2026-02-29",  "1900-02-29",
                                      "2026-04-31", "2026-03-00", "2026-03-02x", "2026/03/02"};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        ck_assert_msg(kr_is_date(good[i]), "%s", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        ck_assert_msg(!kr_is_date(bad[i]), "%s", bad[i]);
}
END_TEST

START_TEST(a_sheet_is_signed_between_the_day_it_was_printed_on_and_today)
{
    struct kr_sheet_seen seen = {true, "2026-03-02", "2026-03-02", "2026-03-02"};
    begin();
    kr_judge_sheet(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 2);
    memcpy(seen.signed_on, "2026-03-01", 11);
    kr_judge_sheet(&seen, &verdict);
    found("");
    begin();
    memcpy(seen.signed_on, "2026-03-03", 11);
    kr_judge_sheet(&seen, &verdict);
    found("");
    begin();
    seen.is_signed = false;
    kr_judge_sheet(&seen, &verdict);
    found("");
}
END_TEST

START_TEST(a_drive_that_shows_what_is_expected_passes_and_every_parameter_is_a_figure)
{
    const struct kr_drive_seen seen = {.link = true};
    begin();
    kr_judge_drive(&drive, &seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_str_eq(verdict.figure[0].name, "position limit");
    ck_assert_str_eq(verdict.figure[0].value, "register 220 was read and equals -2048");
}
END_TEST

static struct kr_drive_typed typed(int32_t watchdog_ms, int32_t method, int32_t um_per_s)
{
    const struct kr_drive_typed t = {watchdog_ms, method, um_per_s, .setup_um_per_s = 150000};
    begin();
    drive.watchdog_ms = 600;
    drive.map.address[KR_OBJECT_HOMING_METHOD] = drive.map.address[KR_OBJECT_HOMING_SPEED] = KR_NO_REGISTER;
    kr_judge_drive_typed(&drive, &t, &verdict);
    return t;
}

START_TEST(what_a_person_reads_at_the_drive_is_judged)
{
    typed(600, 17, 150000);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_str_eq(verdict.figure[0].value, "600 ms, read at the drive by a person; at most 600 ms");
    ck_assert_str_eq(verdict.figure[1].value, "17, read at the drive by a person; not 35 or 37");
    ck_assert_str_eq(verdict.figure[2].value, "150.0 mm/s, read at the drive by a person; at most 150.0 mm/s");
    typed(601, 17, 150000);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "set to 601 ms, which is longer"));
    typed(0, 17, 150000);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "is off (0 ms)"));
    typed(-600, 17, 150000);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "is off (-600 ms)"));
    typed(600, 35, 150000);
    found("");
    typed(600, 37, 150000);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "Homing method 37 declares the place home"));
    typed(600, 17, 150001);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "at most 150.0 mm/s"));
    typed(600, 17, 0);
    found("");
}
END_TEST

START_TEST(what_a_register_or_the_list_shows_is_not_asked_for)
{
    begin();
    drive.map.address[KR_OBJECT_HOMING_METHOD] = drive.map.address[KR_OBJECT_TORQUE_LIMIT] = KR_NO_REGISTER;
    drive.map.address[KR_OBJECT_HOMING_SPEED] = 12;
    ck_assert(kr_drive_asked(&drive).homing_method && kr_drive_asked(&drive).torque_limit);
    ck_assert(!kr_drive_asked(&drive).homing_speed);
    strcpy(drive.expected[0].name, "Homing method, 6098h");
    ck_assert(!kr_drive_asked(&drive).homing_method && kr_drive_asked(&drive).torque_limit);
    strcpy(drive.expected[0].name, "the torque limit");
    ck_assert(kr_drive_asked(&drive).homing_method && !kr_drive_asked(&drive).torque_limit);
}
END_TEST

START_TEST(exchanged_halves_of_a_parameter_are_the_word_order)
{
    /* -2048 is FFFF F800h; with its halves exchanged F800 FFFFh */
    struct kr_drive_seen seen = refused(220, (int32_t)0xF800FFFF, -2048);
    begin();
    kr_judge_drive(&drive, &seen, &verdict);
    found("drive.word_order");
    ck_assert_str_eq(verdict.finding[0].change, "\"low_word_first\"");
    begin();
    drive.map.low_word_first = true;
    kr_judge_drive(&drive, &seen, &verdict);
    ck_assert_str_eq(verdict.finding[0].change, "\"high_word_first\"");
}
END_TEST

START_TEST(another_value_of_a_parameter_is_set_at_the_drive)
{
    struct kr_drive_seen seen = refused(220, -999999, -2048);
    begin();
    kr_judge_drive(&drive, &seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "set register 220 of the drive to -2048"));
}
END_TEST

START_TEST(a_watchdog_that_is_off_or_too_long_is_told_apart)
{
    struct kr_drive_seen seen = refused(200, 0, 600);
    begin();
    drive.map.address[KR_OBJECT_WATCHDOG] = 200;
    kr_judge_drive(&drive, &seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "is off"));
    seen.seen = 5000;
    begin();
    drive.map.address[KR_OBJECT_WATCHDOG] = 200;
    kr_judge_drive(&drive, &seen, &verdict);
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "shows 5000, which is longer"));
}
END_TEST

START_TEST(a_drive_that_does_not_answer_another_gateway_and_an_empty_list_are_told)
{
    struct kr_drive_seen seen = {.link = false};
    begin();
    kr_judge_drive(&drive, &seen, &verdict);
    found("drive.address");
    begin();
    seen.refused = KR_REFUSED_OTHER_GATEWAY;
    kr_judge_drive(&drive, &seen, &verdict);
    found("");
    begin();
    seen = (struct kr_drive_seen){.link = true};
    drive.n_expected = 0;
    kr_judge_drive(&drive, &seen, &verdict);
    found("drive.expected");
    begin();
    seen.implausible = true;
    kr_judge_drive(&drive, &seen, &verdict);
    found("drive.word_order");
}
END_TEST

/* ---- inputs and outputs ---------------------------------------------------------------------------------------- */

static struct kr_input_watch watched(uint16_t mask, const uint16_t inputs[], size_t n)
{
    struct kr_input_watch watch;
    kr_input_watch_begin(&watch, mask, inputs[0]);
    for (size_t i = 1; i < n; i++)
        ck_assert_int_eq(kr_input_watch_step(&watch, inputs[i]), watch.came == mask && watch.went == mask);
    kr_judge_input(&watch, &verdict);
    return watch;
}

START_TEST(an_input_that_comes_and_goes_passes_whatever_it_was_before)
{
    static const uint16_t comes[] = {0, KR_DI_FLAG, 0}, goes[] = {KR_DI_FLAG, 0, KR_DI_FLAG};
    begin();
    watched(KR_DI_FLAG, comes, 3);
    watched(KR_DI_FLAG, goes, 3);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 2);
}
END_TEST

START_TEST(an_input_that_only_comes_or_another_one_that_comes_is_found)
{
    static const uint16_t stays[] = {0, KR_DI_FLAG}, other[] = {0, KR_DI_PIN_IN, 0};
    static const uint16_t both[] = {0, KR_DI_FLAG | KR_DI_PIN_IN, 0};
    begin();
    watched(KR_DI_FLAG, stays, 2);
    found("drive.inputs.flag");
    begin();
    watched(KR_DI_FLAG, other, 3);
    found("drive.inputs.flag");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "what else changed meanwhile: pin_in"));
    begin();
    watched(KR_DI_FLAG, both, 3);
    found("drive.inputs.pin_in");
}
END_TEST

START_TEST(an_input_that_comes_at_another_rails_drive_tells_of_exchanged_drives)
{
    struct kr_drive_link here = {.address = "10.0.0.1", .port = 502, .unit_id = 1}, there = here;
    struct kr_input_watch watch;
    kr_input_watch_begin(&watch, KR_DI_FLAG, 0);
    there.unit_id = 2;
    watch.other_rail = 2;
    watch.link_setting = kr_link_setting(&here, &there);
    begin();
    kr_judge_input(&watch, &verdict);
    found("drive.unit_id");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "seen at rail 2's drive: drives or cables are exchanged"));
    (void)kr_input_watch_step(&watch, KR_DI_FLAG);
    (void)kr_input_watch_step(&watch, 0); /* it came here, too: one device for both rails */
    begin();
    kr_judge_input(&watch, &verdict);
    ck_assert(kr_step_passes(&verdict));
    there.port = 503;
    ck_assert_str_eq(kr_link_setting(&here, &there), "drive.port");
    strcpy(there.address, "10.0.0.2");
    ck_assert_str_eq(kr_link_setting(&here, &there), "drive.address");
    here.serial = there.serial = true;
    ck_assert_str_eq(kr_link_setting(&here, &there), "drive.unit_id");
    strcpy(there.device, "/dev/ttyS1");
    ck_assert_str_eq(kr_link_setting(&here, &there), "drive.device");
}
END_TEST

START_TEST(inputs_at_rest_are_held_against_what_a_person_sees)
{
    const uint16_t wired = KR_DI_PIN_IN | KR_DI_PIN_OUT | KR_DI_BRAKE_OPEN | KR_DI_BRAKE_CLOSED | KR_DI_FLAG;
    begin();
    kr_judge_rest(wired, KR_DI_PIN_OUT | KR_DI_BRAKE_CLOSED, false, &verdict);
    ck_assert(kr_step_passes(&verdict));
    kr_judge_rest(wired, KR_DI_PIN_IN | KR_DI_BRAKE_CLOSED, false, &verdict);
    found("drive.inputs.pin_out");
    begin();
    kr_judge_rest(wired, KR_DI_PIN_OUT | KR_DI_BRAKE_CLOSED, true, &verdict); /* an inverted flag */
    found("drive.inputs.flag");
    begin();
    kr_judge_rest(wired | KR_DI_LIMIT_LOW | KR_DI_LIMIT_HIGH, KR_DI_PIN_OUT | KR_DI_BRAKE_CLOSED, false, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 4);
    kr_judge_rest(wired | KR_DI_LIMIT_LOW | KR_DI_LIMIT_HIGH, KR_DI_PIN_OUT | KR_DI_BRAKE_CLOSED | KR_DI_LIMIT_HIGH,
                  false, &verdict); /* an inverted limit input */
    found("drive.inputs.limit_high");
}
END_TEST

static void watch_limit(uint16_t limit, uint16_t hand)
{
    struct kr_input_watch watch;
    kr_input_watch_begin(&watch, limit, 0);
    (void)kr_input_watch_step(&watch, hand);
    (void)kr_input_watch_step(&watch, 0);
    begin();
    kr_judge_input(&watch, &verdict);
}

START_TEST(a_limit_input_that_the_program_reads_passes_by_hand)
{
    watch_limit(KR_DI_LIMIT_HIGH, KR_DI_LIMIT_HIGH);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_str_eq(verdict.figure[0].name, "limit_high");
    watch_limit(KR_DI_LIMIT_HIGH, 0);
    found("drive.inputs.limit_high");
    watch_limit(KR_DI_LIMIT_LOW, KR_DI_LIMIT_HIGH); /* exchanged */
    found("drive.inputs.limit_low");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "what else changed meanwhile: limit_high"));
}
END_TEST

START_TEST(a_limit_switch_that_only_the_drive_sees_passes_by_the_word_of_a_person)
{
    struct kr_limit_seen seen = {.side = 1, .has_input = true, .input_seen = true};
    begin();
    kr_judge_limit(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_str_eq(verdict.figure[0].name, "limit input at the drive side");
    seen = (struct kr_limit_seen){.side = -1};
    kr_judge_limit(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_str_eq(verdict.figure[1].value, "there is none, by the word of a person");
    seen.has_input = true;
    kr_judge_limit(&seen, &verdict);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "at the operator side was not seen at the drive"));
}
END_TEST

static struct kr_output_seen tried(uint16_t output, uint16_t after)
{
    return (struct kr_output_seen){.output = output,
                                   .came_on = true,
                                   .wired = 0xFFFF,
                                   .before = KR_DI_PIN_OUT | KR_DI_BRAKE_CLOSED,
                                   .after = after,
                                   .over_holder = true,
                                   .person_saw = true};
}

START_TEST(an_output_whose_inputs_follow_passes)
{
    struct kr_output_seen in = tried(KR_DO_PIN_IN, KR_DI_PIN_IN | KR_DI_BRAKE_CLOSED);
    struct kr_output_seen brake = tried(KR_DO_BRAKE_OPEN, KR_DI_PIN_OUT | KR_DI_BRAKE_OPEN);
    begin();
    kr_judge_output(&in, &verdict);
    kr_judge_output(&brake, &verdict);
    in.over_holder = false;
    in.after = KR_DI_BRAKE_CLOSED; /* the pin is on its way, and there is no socket */
    kr_judge_output(&in, &verdict);
    ck_assert(kr_step_passes(&verdict));
}
END_TEST

START_TEST(a_stuck_pin_is_found_and_so_are_exchanged_outputs)
{
    struct kr_output_seen stuck = tried(KR_DO_PIN_IN, KR_DI_PIN_OUT | KR_DI_BRAKE_CLOSED);
    struct kr_output_seen half = tried(KR_DO_PIN_IN, KR_DI_BRAKE_CLOSED);
    struct kr_output_seen other = tried(KR_DO_PIN_IN, KR_DI_PIN_OUT | KR_DI_BRAKE_OPEN);
    begin();
    kr_judge_output(&stuck, &verdict);
    found("");
    begin();
    kr_judge_output(&half, &verdict); /* over a holder it has to go in */
    found("");
    begin();
    kr_judge_output(&other, &verdict);
    found("drive.outputs.pin_in");
}
END_TEST

START_TEST(a_try_that_an_alarm_ended_says_so_and_blames_no_wire)
{
    struct kr_output_seen seen = tried(KR_DO_PIN_IN, KR_DI_PIN_OUT | KR_DI_BRAKE_CLOSED);
    begin();
    snprintf(seen.alarm, sizeof seen.alarm, "ANSWERS_LATE: rail 1: the drive is silent");
    kr_judge_output(&seen, &verdict);
    found("");
    ck_assert_str_eq(verdict.finding[0].seen,
                     "The try of output pin_in ended with an alarm: ANSWERS_LATE: rail 1: the drive is silent");
    begin();
    seen.after = KR_DI_PIN_IN | KR_DI_BRAKE_CLOSED; /* it came after the inputs were as they should be */
    kr_judge_output(&seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
}
END_TEST

START_TEST(what_a_person_saw_counts_beside_the_inputs)
{
    struct kr_output_seen seen = tried(KR_DO_PIN_IN, KR_DI_PIN_IN | KR_DI_BRAKE_CLOSED);
    begin();
    seen.person_saw = false;
    kr_judge_output(&seen, &verdict);
    found("");
    begin();
    seen.came_on = false;
    kr_judge_output(&seen, &verdict);
    found("");
}
END_TEST

/* ---- direction and scale --------------------------------------------------------------------------------------- */

static void jogged(int8_t direction, int32_t shown_um, enum kr_side_seen side)
{
    const struct kr_jog_seen seen = {.direction = direction, .shown_um = shown_um, .side = side};
    kr_judge_direction(&drive, &seen, &verdict);
}

START_TEST(a_jog_that_goes_where_it_was_told_passes_both_ways)
{
    begin();
    jogged(1, 10000, KR_SEEN_DRIVE_SIDE);
    jogged(-1, -10000, KR_SEEN_OPERATOR_SIDE);
    ck_assert(kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_figures, 2);
}
END_TEST

START_TEST(a_drive_that_is_believed_from_the_beginning_is_first_jogged_slowly)
{
    begin();
    drive.map.referenced_bit = KR_NO_BIT;
    kr_judge_first_jog(&drive, 10000, &verdict);
    ck_assert(kr_step_passes(&verdict));
    kr_judge_first_jog(&drive, 10001, &verdict);
    found("carriage.setup_speed_mm_per_s");
    begin();
    drive.map.referenced_bit = 14;
    kr_judge_first_jog(&drive, 200000, &verdict);
    ck_assert(kr_step_passes(&verdict));
}
END_TEST

START_TEST(a_wrong_direction_is_the_other_side_of_counts_towards)
{
    begin();
    jogged(1, 10000, KR_SEEN_OPERATOR_SIDE);
    found("drive.counts_towards");
    ck_assert_str_eq(verdict.finding[0].change, "\"operator_side\"");
    begin();
    drive.map.reversed = true;
    jogged(1, 10000, KR_SEEN_OPERATOR_SIDE);
    ck_assert_str_eq(verdict.finding[0].change, "\"drive_side\"");
}
END_TEST

START_TEST(a_carriage_that_stands_while_its_position_changes_is_another_rails)
{
    begin();
    jogged(1, 10000, KR_SEEN_NOWHERE);
    found("");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "drives exchanged"));
    begin();
    jogged(1, 0, KR_SEEN_NOWHERE);
    found("");
    begin();
    jogged(1, 0, KR_SEEN_DRIVE_SIDE);
    found("drive.registers.position");
}
END_TEST

START_TEST(a_jog_that_went_astray_says_word_order_polarity_or_scale)
{
    struct kr_jog_seen seen = {
        .direction = 1, .alarm = KR_ALARM_JOG_ASTRAY, .alarm_value = 655360000, .alarm_limit = 2000};
    begin();
    kr_judge_direction(&drive, &seen, &verdict);
    found("drive.word_order");
    begin();
    seen.alarm_value = -3000;
    kr_judge_direction(&drive, &seen, &verdict);
    found("");
    begin();
    seen.alarm_value = 8000;
    kr_judge_direction(&drive, &seen, &verdict);
    found("drive.position_um");
    begin();
    seen.alarm = KR_ALARM_DRIVE_FAULT;
    kr_judge_direction(&drive, &seen, &verdict);
    found("");
}
END_TEST

START_TEST(a_scale_that_the_tape_contradicts_is_told_with_its_value)
{
    struct kr_tape_seen seen = {.shown_um = 200000, .tape_um = 210000, .uncertain_um = 500};
    begin();
    drive.map.position = (struct kr_drive_ratio){4096, 20000};
    kr_judge_scale(&drive, &seen, &verdict);
    found("drive.position_um");
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].change, "about 21000 with position_units = 4096"));
    begin();
    seen.tape_um = 200500;
    kr_judge_scale(&drive, &seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    seen.tape_um = 200501;
    kr_judge_scale(&drive, &seen, &verdict);
    found("drive.position_um");
}
END_TEST

START_TEST(a_way_that_is_too_short_tells_no_scale)
{
    struct kr_tape_seen seen = {.shown_um = 24000, .tape_um = 24000, .uncertain_um = 1500};
    begin();
    kr_judge_scale(&drive, &seen, &verdict);
    found("");
    seen.uncertain_um = 1200;
    ck_assert(kr_tape_way_is_enough(&seen));
    seen.shown_um = -KR_TAPE_WAY_LEAST_UM + 1;
    seen.uncertain_um = 0;
    ck_assert(!kr_tape_way_is_enough(&seen));
}
END_TEST

/* ---- homing ---------------------------------------------------------------------------------------------------- */

/* xorshift32, from memory (Marsaglia 2003): the same sequence each time */
static uint32_t drawn(uint32_t *seed, uint32_t below)
{
    *seed ^= *seed << 13;
    *seed ^= *seed >> 17;
    *seed ^= *seed << 5;
    return *seed % below;
}

/* A carriage at a constant speed, looked at now and then. Its question lies up to span_ms before the place. */
static struct kr_place_seen looked_at(uint32_t now_ms, int32_t um_per_s, uint32_t early_ms, uint16_t span_ms)
{
    return (struct kr_place_seen){.at_um = (int32_t)((int64_t)um_per_s * now_ms / 1000),
                                  .at_ms = UINT32_MAX - 5000 + now_ms - early_ms, /* it wraps on the way */
                                  .span_ms = span_ms};
}

START_TEST(a_late_look_and_a_late_answer_never_make_a_carriage_faster_than_it_was)
{
    for (uint32_t first = 1; first <= 200; first++) {
        struct kr_speed_watch watch = {.begun = false};
        uint32_t seed = first;
        for (uint32_t now_ms = 300; now_ms < 20000; now_ms += 5 + drawn(&seed, drawn(&seed, 10) == 0 ? 2000 : 30)) {
            uint16_t span_ms = (uint16_t)(1 + drawn(&seed, 60));
            struct kr_place_seen place = looked_at(now_ms, -100000, drawn(&seed, span_ms), span_ms);
            kr_speed_watch_step(&watch, &place);
        }
        ck_assert_msg(watch.fastest_um_per_s <= 100000, "seed %u: %d", first, watch.fastest_um_per_s);
        ck_assert_msg(watch.fastest_um_per_s >= 80000, "seed %u: %d", first, watch.fastest_um_per_s);
    }
}
END_TEST

START_TEST(a_datum_that_is_found_is_no_speed_and_what_came_before_it_counts)
{
    struct kr_speed_watch watch = {.begun = false};
    for (uint32_t now_ms = 0; now_ms < 2000; now_ms += 20) {
        struct kr_place_seen place = looked_at(now_ms, 90000, 0, 0);
        place.at_um += now_ms >= 1000 ? 300000 : 0; /* the drive has found its mark ... */
        place.referenced = now_ms >= 1040;          /* ... and says so two looks later */
        kr_speed_watch_step(&watch, &place);
    }
    ck_assert_int_le(watch.fastest_um_per_s, 90000);
    ck_assert_int_ge(watch.fastest_um_per_s, 89000);
    struct kr_place_seen astray = {.at_um = INT32_MIN, .at_ms = UINT32_MAX - 2000, .referenced = true};
    kr_speed_watch_step(&watch, &astray);
    astray.at_um = INT32_MAX;
    astray.at_ms += 300;
    kr_speed_watch_step(&watch, &astray);
    astray.at_ms += 300;
    kr_speed_watch_step(&watch, &astray);
    ck_assert_int_eq(watch.fastest_um_per_s, INT32_MAX);
}
END_TEST

START_TEST(a_homing_passes_slowly_with_its_datum_and_at_its_place_of_rest)
{
    const struct kr_home_seen good = {.complete = true,
                                      .referenced = true,
                                      .fastest_um_per_s = 100000,
                                      .setup_um_per_s = 100000,
                                      .rest_um = 20010,
                                      .park_um = 20000,
                                      .park_window_um = 5000};
    struct kr_home_seen seen = good;
    begin();
    kr_judge_home(&drive, &seen, &verdict);
    ck_assert(kr_step_passes(&verdict));
    seen.fastest_um_per_s = 110001;
    kr_judge_home(&drive, &seen, &verdict);
    found(""); /* without the register of 6099h it is the drive's own */
    begin();
    drive.map.address[KR_OBJECT_HOMING_SPEED] = 12;
    kr_judge_home(&drive, &seen, &verdict);
    found("drive.speed_um_per_s");
    begin();
    seen = good;
    seen.referenced = false;
    kr_judge_home(&drive, &seen, &verdict);
    found("drive.referenced_bit");
    begin();
    seen = good;
    seen.rest_um = 26000;
    kr_judge_home(&drive, &seen, &verdict);
    found("carriage.park_mm");
    begin();
    seen = good;
    seen.complete = false;
    strcpy(seen.alarm, "HOMING_FAILED: homing failed");
    kr_judge_home(&drive, &seen, &verdict);
    found("");
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission");
    TCase *all = suite_case(suite, "judges");
    tcase_add_test(all, a_step_stands_on_the_settings_of_its_own_rail_and_of_the_station);
    tcase_add_test(all, a_step_stands_on_the_values_of_the_book_that_its_verdict_needs);
    tcase_add_test(all, a_step_in_which_the_station_moves_has_a_hand_at_the_emergency_stop);
    tcase_add_test(all, what_moves_every_rail_comes_after_all_that_is_tried_before_it);
    tcase_add_test(all, a_pattern_that_is_longer_or_shorter_than_a_name_is_not_it);
    tcase_add_test(all, what_has_no_room_in_a_verdict_is_counted);
    tcase_add_test(all, a_date_is_a_day_of_the_calendar);
    tcase_add_test(all, a_sheet_is_signed_between_the_day_it_was_printed_on_and_today);
    tcase_add_test(all, a_drive_that_shows_what_is_expected_passes_and_every_parameter_is_a_figure);
    tcase_add_test(all, what_a_person_reads_at_the_drive_is_judged);
    tcase_add_test(all, what_a_register_or_the_list_shows_is_not_asked_for);
    tcase_add_test(all, exchanged_halves_of_a_parameter_are_the_word_order);
    tcase_add_test(all, another_value_of_a_parameter_is_set_at_the_drive);
    tcase_add_test(all, a_watchdog_that_is_off_or_too_long_is_told_apart);
    tcase_add_test(all, a_drive_that_does_not_answer_another_gateway_and_an_empty_list_are_told);
    tcase_add_test(all, an_input_that_comes_and_goes_passes_whatever_it_was_before);
    tcase_add_test(all, an_input_that_only_comes_or_another_one_that_comes_is_found);
    tcase_add_test(all, an_input_that_comes_at_another_rails_drive_tells_of_exchanged_drives);
    tcase_add_test(all, a_limit_input_that_the_program_reads_passes_by_hand);
    tcase_add_test(all, a_limit_switch_that_only_the_drive_sees_passes_by_the_word_of_a_person);
    tcase_add_test(all, inputs_at_rest_are_held_against_what_a_person_sees);
    tcase_add_test(all, an_output_whose_inputs_follow_passes);
    tcase_add_test(all, a_stuck_pin_is_found_and_so_are_exchanged_outputs);
    tcase_add_test(all, a_try_that_an_alarm_ended_says_so_and_blames_no_wire);
    tcase_add_test(all, what_a_person_saw_counts_beside_the_inputs);
    tcase_add_test(all, a_jog_that_goes_where_it_was_told_passes_both_ways);
    tcase_add_test(all, a_drive_that_is_believed_from_the_beginning_is_first_jogged_slowly);
    tcase_add_test(all, a_wrong_direction_is_the_other_side_of_counts_towards);
    tcase_add_test(all, a_carriage_that_stands_while_its_position_changes_is_another_rails);
    tcase_add_test(all, a_jog_that_went_astray_says_word_order_polarity_or_scale);
    tcase_add_test(all, a_scale_that_the_tape_contradicts_is_told_with_its_value);
    tcase_add_test(all, a_way_that_is_too_short_tells_no_scale);
    tcase_add_test(all, a_late_look_and_a_late_answer_never_make_a_carriage_faster_than_it_was);
    tcase_add_test(all, a_datum_that_is_found_is_no_speed_and_what_came_before_it_counts);
    tcase_add_test(all, a_homing_passes_slowly_with_its_datum_and_at_its_place_of_rest);
    return suite;
}
