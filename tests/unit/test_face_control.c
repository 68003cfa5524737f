/* Tests of the rights of clients, of control, and of what is handed over to the station. */
#include <stdio.h>
#include <string.h>

#include "face_rig.h"
#include "suite.h"

#define REFUSED_RIGHT "86 01"
#define REFUSED_BUSY  "86 06"

static struct pure *p;
static struct face_client plc, hmi, reader, maintainer; /* control, control, read, maintain */

static void set_up(void)
{
    struct kr_face_config config = face_rig_defaults();
    p = pure_new(&config);
    plc = client_at(&config, "127.0.0.2");
    hmi = client_at(&config, "127.0.0.5");
    reader = client_at(&config, "127.0.0.3");
    maintainer = client_at(&config, "127.0.0.1");
}

static void tear_down(void)
{
    pure_free(p);
}

static const char *write_reg(const struct face_client *client, enum kr_reg reg, uint16_t value)
{
    char pdu[32];
    snprintf(pdu, sizeof pdu, "06 %04X %04X", kr_reg_address(reg, 0, 0), value);
    return pure_ask(p, client, pdu);
}

static bool take(const struct face_client *client)
{
    return pure_write(p, client, KR_REG_ACCESS_REQUEST, 1);
}

static bool release(const struct face_client *client)
{
    return pure_write(p, client, KR_REG_ACCESS_REQUEST, 2);
}

static bool take_over(const struct face_client *client)
{
    return pure_write(p, client, KR_REG_ACCESS_REQUEST, 3);
}

static bool has_control(const struct face_client *client)
{
    return pure_input(p, client, KR_REG_OWN_CONTROL) == 1;
}

static const char *holder(const struct face_client *client)
{
    static char text[41];
    const char *answer = pure_ask(p, client, "04 0048 0014");
    for (unsigned i = 0; i < 40; i++) {
        unsigned byte;
        ck_assert_int_eq(sscanf(answer + 6 + 3 * i, "%2x", &byte), 1);
        text[i] = (char)byte;
    }
    return text;
}

/* ---- rights -------------------------------------------------------------------------------------------- */

START_TEST(each_client_reads_its_own_role)
{
    ck_assert_uint_eq(pure_input(p, &reader, KR_REG_OWN_ROLE), 0);
    ck_assert_uint_eq(pure_input(p, &plc, KR_REG_OWN_ROLE), 1);
    ck_assert_uint_eq(pure_input(p, &maintainer, KR_REG_OWN_ROLE), 2);
}
END_TEST

/* The published security profile (MODBUS/TCP Security, 8.3): not authorized is exception 01. */
START_TEST(a_client_that_may_only_read_gets_exception_01_for_every_write)
{
    static const char *const writes[][2] = {
        {"05 0000 FF00", "85 01"},
        {"06 0010 0001", "86 01"},
        {"06 0064 0001", "86 01"},
        {"0F 0000 0001 01 01", "8F 01"},
        {"10 0064 0001 02 0001", "90 01"},
        {"16 0064 0000 0001", "96 01"},
        {"17 0064 0001 0064 0001 02 0001", "97 01"},
    };
    for (size_t i = 0; i < sizeof writes / sizeof writes[0]; i++)
        ck_assert_str_eq(pure_ask(p, &reader, writes[i][0]), writes[i][1]);
    ck_assert_str_eq(pure_ask(p, &reader, "03 0064 0001"), "03 02 00 00");
}
END_TEST

START_TEST(without_control_a_command_is_refused_and_changes_nothing)
{
    ck_assert_str_eq(write_reg(&plc, KR_REG_COMMAND, 2), REFUSED_RIGHT);
    ck_assert(take(&hmi));
    ck_assert_str_eq(write_reg(&plc, KR_REG_COMMAND, 2), REFUSED_RIGHT);
    ck_assert_uint_eq(pure_holding(p, KR_REG_COMMAND), 0);
}
END_TEST

START_TEST(the_longest_prefix_decides_and_the_later_rule_among_equal_ones)
{
    struct kr_face_config config = face_rig_defaults();
    config.n_rules = 5;
    config.rule[4] = (struct kr_face_rule){prefix_of("198.51.100.128/25"), KR_RIGHT_CONTROL, 0};
    config.rule[0] = (struct kr_face_rule){prefix_of("192.0.2.7"), KR_RIGHT_MAINTAIN, 0};
    config.rule[1] = (struct kr_face_rule){prefix_of("192.0.2.0/24"), KR_RIGHT_NONE, 0};
    config.rule[2] = (struct kr_face_rule){prefix_of("192.0.2.0/24"), KR_RIGHT_CONTROL, 0};
    config.rule[3] = (struct kr_face_rule){prefix_of("2001:db8::/32"), KR_RIGHT_CONTROL, 0};
    ck_assert_int_eq(client_at(&config, "192.0.2.7").right, KR_RIGHT_MAINTAIN);
    ck_assert_int_eq(client_at(&config, "192.0.2.8").right, KR_RIGHT_CONTROL);
    ck_assert_int_eq(client_at(&config, "192.0.3.8").right, KR_RIGHT_READ);
    ck_assert_int_eq(client_at(&config, "198.51.100.200").right, KR_RIGHT_CONTROL);
    ck_assert_int_eq(client_at(&config, "198.51.100.100").right, KR_RIGHT_READ);
    ck_assert_int_eq(client_at(&config, "::ffff:192.0.2.8").right, KR_RIGHT_CONTROL);
    ck_assert_int_eq(client_at(&config, "2001:db8:1::1").right, KR_RIGHT_CONTROL);
    ck_assert_int_eq(client_at(&config, "2001:db9::1").right, KR_RIGHT_READ);
    ck_assert_int_eq(client_at(&config, "::1").right, KR_RIGHT_MAINTAIN);
    ck_assert_int_eq(client_at(&config, "127.1.2.3").right, KR_RIGHT_MAINTAIN);
}
END_TEST

START_TEST(the_standing_rules_can_be_overridden)
{
    struct kr_face_config config = face_rig_defaults();
    config.n_rules = 3;
    config.rule[0] = (struct kr_face_rule){prefix_of("0.0.0.0/0"), KR_RIGHT_NONE, 0};
    config.rule[1] = (struct kr_face_rule){prefix_of("::/0"), KR_RIGHT_NONE, 0};
    config.rule[2] = (struct kr_face_rule){prefix_of("127.0.0.0/8"), KR_RIGHT_READ, 0};
    ck_assert_int_eq(client_at(&config, "192.0.2.7").right, KR_RIGHT_NONE);
    ck_assert_int_eq(client_at(&config, "2001:db8::1").right, KR_RIGHT_NONE);
    ck_assert_int_eq(client_at(&config, "127.0.0.1").right, KR_RIGHT_READ);
}
END_TEST

/* ---- rules for one station: unit identifier 1 is the first, 2 the second ---------------------------------- */

static const char *write_at(const struct face_client *client, uint8_t unit, enum kr_reg reg, uint16_t value)
{
    char pdu[32];
    snprintf(pdu, sizeof pdu, "06 %04X %04X", kr_reg_address(reg, 0, 0), value);
    return pure_ask_unit(p, client, unit, pdu);
}

START_TEST(a_plc_of_one_station_takes_no_control_of_another)
{
    p->config.n_rules = 2;
    p->config.rule[0] = (struct kr_face_rule){prefix_of("192.0.2.5"), KR_RIGHT_CONTROL, 1};
    p->config.rule[1] = (struct kr_face_rule){prefix_of("192.0.2.7"), KR_RIGHT_CONTROL, 2};
    struct face_client five = client_at(&p->config, "192.0.2.5"), seven = client_at(&p->config, "192.0.2.7");
    ck_assert_str_eq(write_at(&five, 2, KR_REG_ACCESS_REQUEST, 1), REFUSED_RIGHT);
    ck_assert_str_eq(write_at(&five, 2, KR_REG_COMMAND, 2), REFUSED_RIGHT);
    ck_assert_str_eq(write_at(&five, 2, KR_REG_HALT, 3), REFUSED_RIGHT);
    ck_assert_str_eq(pure_ask_unit(p, &five, 2, "04 0045 0001"), "04 02 00 00"); /* OWN_ROLE: it reads there */
    ck_assert_str_eq(pure_ask_unit(p, &five, 1, "04 0045 0001"), "04 02 00 01");
    ck_assert_str_eq(write_at(&five, 1, KR_REG_ACCESS_REQUEST, 1), "06 00 10 00 01");
    ck_assert_str_eq(write_at(&seven, 1, KR_REG_HALT, 3), REFUSED_RIGHT);
    ck_assert_str_eq(write_at(&seven, 2, KR_REG_ACCESS_REQUEST, 1), "06 00 10 00 01");
    ck_assert_str_eq(pure_ask_unit(p, &seven, 2, "04 0046 0002"), "04 04 00 01 00 01");
}
END_TEST

START_TEST(among_equal_prefixes_the_rule_for_the_station_decides_and_a_longer_one_before_it)
{
    struct kr_face_config config = face_rig_defaults();
    config.n_rules = 4;
    config.rule[0] = (struct kr_face_rule){prefix_of("192.0.2.0/24"), KR_RIGHT_MAINTAIN, 2};
    config.rule[1] = (struct kr_face_rule){prefix_of("192.0.2.0/24"), KR_RIGHT_NONE, 0};
    config.rule[2] = (struct kr_face_rule){prefix_of("192.0.2.7"), KR_RIGHT_CONTROL, 0};
    config.rule[3] = (struct kr_face_rule){prefix_of("192.0.2.8"), KR_RIGHT_CONTROL, KR_RULE_OF_NO_STATION};
    struct face_client six = client_at(&config, "192.0.2.6"), seven = client_at(&config, "192.0.2.7"),
                       eight = client_at(&config, "192.0.2.8");
    ck_assert_int_eq(face_client_right(&six, 0), KR_RIGHT_NONE);
    ck_assert_int_eq(face_client_right(&six, 1), KR_RIGHT_MAINTAIN);
    ck_assert_int_eq(six.right, KR_RIGHT_MAINTAIN); /* it may connect */
    ck_assert_int_eq(face_client_right(&seven, 0), KR_RIGHT_CONTROL);
    ck_assert_int_eq(face_client_right(&seven, 1), KR_RIGHT_CONTROL);
    ck_assert_int_eq(face_client_right(&eight, 0), KR_RIGHT_NONE);
    ck_assert_int_eq(face_client_right(&eight, 1), KR_RIGHT_MAINTAIN);
}
END_TEST

START_TEST(at_a_station_without_a_right_every_function_gets_exception_01)
{
    static const char *const requests[] = {"01 0000 0001", "02 0000 0001", "03 0000 0001",
                                           "04 0000 0001", "06 0010 0001", "17 0064 0001 0064 0001 02 0001",
                                           "2B 0E 01 00"};
    p->config.n_rules = 1;
    p->config.rule[0] = (struct kr_face_rule){prefix_of("192.0.2.0/24"), KR_RIGHT_NONE, 2};
    struct face_client client = client_at(&p->config, "192.0.2.6");
    for (size_t i = 0; i < sizeof requests / sizeof requests[0]; i++) {
        unsigned function;
        char refused[16];
        ck_assert_int_eq(sscanf(requests[i], "%2x", &function), 1);
        snprintf(refused, sizeof refused, "%02X 01", function | 0x80u);
        ck_assert_str_eq(pure_ask_unit(p, &client, 2, requests[i]), refused);
    }
    ck_assert_str_eq(pure_ask_unit(p, &client, 1, "04 0045 0001"), "04 02 00 00");
}
END_TEST

START_TEST(a_prefix_is_read_as_people_write_it_or_refused)
{
    static const char *const wrong[] = {"",        "192.0.2",        "192.0.2.0/33", "192.0.2.1/24", "2001:db8::1/64",
                                        "::1/129", "192.0.2.0/",     "192.0.2.0/+8", "192.0.2.0/8x", "192.0.2.0/-1",
                                        "host",    "192.0.2.0/024x", "/8",           " 192.0.2.0"};
    struct kr_prefix prefix = {.bits = 77};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        ck_assert_msg(!kr_prefix_from_text(wrong[i], &prefix), "%s", wrong[i]);
    ck_assert_uint_eq(prefix.bits, 77);
    ck_assert_uint_eq(prefix_of("192.0.2.0/24").bits, 120);
    ck_assert_uint_eq(prefix_of("192.0.2.1").bits, 128);
    ck_assert_uint_eq(prefix_of("2001:db8::/32").bits, 32);
    ck_assert_uint_eq(prefix_of("::/0").bits, 0);
}
END_TEST

/* ---- control ------------------------------------------------------------------------------------------- */

START_TEST(control_is_taken_by_request_read_by_all_and_released)
{
    ck_assert_uint_eq(pure_input(p, &reader, KR_REG_CONTROL_HELD), 0);
    ck_assert_str_eq(holder(&reader), "");
    ck_assert(take(&plc));
    ck_assert(has_control(&plc));
    ck_assert(!has_control(&hmi));
    ck_assert_uint_eq(pure_input(p, &reader, KR_REG_CONTROL_HELD), 1);
    ck_assert_str_eq(holder(&reader), "127.0.0.2");
    ck_assert(!take(&hmi));
    ck_assert(!release(&hmi));
    ck_assert(has_control(&plc));
    ck_assert(release(&plc));
    ck_assert_uint_eq(pure_input(p, &reader, KR_REG_CONTROL_HELD), 0);
    ck_assert_str_eq(holder(&reader), "");
    ck_assert(take(&hmi));
    ck_assert(has_control(&hmi));
}
END_TEST

START_TEST(taking_again_or_releasing_what_nobody_has_changes_nothing)
{
    ck_assert(release(&plc));
    ck_assert_uint_eq(pure_cycle(p, false, false, false).control_generation, 0);
    ck_assert(take(&plc));
    ck_assert(take(&plc));
    ck_assert_uint_eq(pure_cycle(p, false, false, false).control_generation, 1);
    ck_assert_str_eq(write_reg(&plc, KR_REG_ACCESS_REQUEST, 7), "06 00 10 00 07"); /* unknown: does nothing */
    ck_assert_uint_eq(pure_cycle(p, false, false, false).control_generation, 1);
    ck_assert(has_control(&plc));
}
END_TEST

START_TEST(the_first_write_takes_control_only_where_the_config_says_so)
{
    ck_assert(!pure_write(p, &plc, KR_REG_PLC_HEARTBEAT, 1));
    p->config.control_by_first_write = true;
    ck_assert(!pure_write(p, &reader, KR_REG_COMMAND_JOB, 1));
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_JOB, 1));
    ck_assert(has_control(&plc));
    ck_assert_uint_eq(pure_holding(p, KR_REG_COMMAND_JOB), 1);
    ck_assert(!pure_write(p, &hmi, KR_REG_COMMAND_JOB, 1));
}
END_TEST

START_TEST(a_heartbeat_never_takes_control)
{
    p->config.control_by_first_write = true;
    ck_assert(!pure_write(p, &plc, KR_REG_PLC_HEARTBEAT, 1));
    ck_assert(!pure_write(p, &plc, KR_REG_JOG_REFRESH, 1));
    ck_assert_str_eq(pure_ask(p, &plc, "10 0000 0002 04 0005 001F"), "90 01");
    ck_assert(!has_control(&plc));
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_PLC_HEARTBEAT, 1));
}
END_TEST

START_TEST(each_address_reads_what_was_odd_about_its_own_requests)
{
    ck_assert(!pure_write(p, &plc, KR_REG_COMMAND_JOB, 1));
    ck_assert_uint_eq(pure_input(p, &plc, KR_REG_ODD_REASON), KR_ODD_NOT_IN_CONTROL);
    ck_assert_uint_eq(pure_input(p, &plc, KR_REG_ODD_ADDRESS), kr_reg_address(KR_REG_COMMAND_JOB, 0, 0));
    ck_assert_uint_eq(pure_input(p, &plc, KR_REG_ODD_EXCEPTION), 1);
    ck_assert_uint_eq(pure_input(p, &hmi, KR_REG_ODD_COUNT), 0);
    ck_assert(!pure_write(p, &reader, KR_REG_COMMAND_JOB, 1));
    ck_assert_uint_eq(pure_input(p, &reader, KR_REG_ODD_REASON), KR_ODD_NO_RIGHT);
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_JOB, 1));
    ck_assert_uint_eq(pure_input(p, &plc, KR_REG_ODD_COUNT), 1);           /* what is right leaves it as it is */
    ck_assert_str_eq(pure_ask(p, &plc, "06 006A 0001"), "06 00 6A 00 01"); /* half of WEB_WIDTH */
    ck_assert_uint_eq(pure_input(p, &plc, KR_REG_ODD_COUNT), 2);
    ck_assert_uint_eq(pure_input(p, &plc, KR_REG_ODD_REASON), KR_ODD_HALF_VALUE);
    ck_assert_uint_eq(pure_input(p, &plc, KR_REG_ODD_EXCEPTION), 0);
    ck_assert_uint_eq(pure_input(p, &reader, KR_REG_ODD_COUNT), 1);
}
END_TEST

START_TEST(every_change_of_control_steps_the_generation_and_zeroes_the_line_block)
{
    ck_assert(take(&plc));
    ck_assert_str_eq(pure_ask(p, &plc, "10 0000 0002 04 0005 001F"), "10 00 00 00 02");
    struct kr_face_take taken = pure_cycle(p, false, false, false);
    ck_assert(taken.control_held);
    ck_assert_uint_eq(taken.control_generation, 1);
    ck_assert_uint_eq(taken.line[1], 0x1F);
    ck_assert(release(&plc));
    taken = pure_cycle(p, false, false, false);
    ck_assert(!taken.control_held);
    ck_assert_uint_eq(taken.control_generation, 2);
    ck_assert_uint_eq(taken.line[0], 0);
    ck_assert_uint_eq(taken.line[1], 0);
    ck_assert_uint_eq(pure_holding(p, KR_REG_PERMISSIVES), 0);
}
END_TEST

/* ---- what counts of block LINE ------------------------------------------------------------------------- */

static uint16_t given(void)
{
    return pure_cycle(p, false, false, false).line[1];
}

static void give_all(void)
{
    ck_assert(take(&plc));
    ck_assert_str_eq(pure_ask(p, &plc, "10 0000 0002 04 0005 001F"), "10 00 00 00 02");
    ck_assert_uint_eq(given(), 0x1F);
}

START_TEST(only_a_write_that_carries_permissives_and_a_changed_heartbeat_gives_them)
{
    static const char *const writes[] = {
        "06 0001 001F",              /* permissives alone */
        "10 0000 0002 04 0000 001F", /* a heartbeat that has not changed */
        "05 0001 FF00",              /* a coil */
        "0F 0000 0005 01 1F",        /* coils */
        "16 0001 FFE0 001F",         /* function 22 */
        "10 0001 0002 04 001F 0001", /* permissives and what stands behind them */
    };
    ck_assert(take(&plc));
    for (size_t i = 0; i < sizeof writes / sizeof writes[0]; i++) {
        ck_assert_int_lt(pure_ask(p, &plc, writes[i])[0], '8'); /* no exception */
        ck_assert_msg(given() == 0, "%s gives %04x", writes[i], given());
    }
    pure_ask(p, &plc, "10 0000 0002 04 0005 001F");
    ck_assert_uint_eq(given(), 0x1F);
    pure_ask(p, &plc, "10 0000 0002 04 0006 0003");
    ck_assert_uint_eq(given(), 0x03);
    pure_ask(p, &plc, "17 0000 0001 0000 0002 04 0007 001F"); /* function 23 carries both, too */
    ck_assert_uint_eq(given(), 0x1F);
}
END_TEST

/* A second client of the same address could keep a dead PLC's permissives alive for ever. */
START_TEST(a_heartbeat_alone_renews_nothing)
{
    give_all();
    ck_assert(pure_write(p, &plc, KR_REG_PLC_HEARTBEAT, 6));
    ck_assert_uint_eq(pure_cycle(p, false, false, false).line[0], 5);
    ck_assert(pure_write(p, &plc, KR_REG_PLC_HEARTBEAT, 7));
    ck_assert_uint_eq(pure_cycle(p, false, false, false).line[0], 5);
    pure_ask(p, &plc, "10 0000 0002 04 0007 001F");
    ck_assert_uint_eq(pure_cycle(p, false, false, false).line[0], 7);
}
END_TEST

START_TEST(any_write_takes_a_permissive_away_at_once)
{
    static const char *const writes[] = {"06 0001 001B", "10 0000 0002 04 0005 001B", "05 0002 0000",
                                         "0F 0000 0005 01 1B", "16 0001 FFFB 0000"};
    for (size_t i = 0; i < sizeof writes / sizeof writes[0]; i++) {
        give_all();
        ck_assert_int_lt(pure_ask(p, &plc, writes[i])[0], '8');
        ck_assert_msg(given() == 0x1B, "%s leaves %04x", writes[i], given());
        pure_ask(p, &plc, "06 0001 001F"); /* that gives it back to nobody */
        ck_assert_uint_eq(given(), 0x1B);
        ck_assert(release(&plc));
    }
}
END_TEST

START_TEST(a_permissive_that_is_taken_and_given_within_a_cycle_was_taken)
{
    give_all();
    pure_ask(p, &plc, "10 0000 0002 04 0006 001D");
    pure_ask(p, &plc, "10 0000 0002 04 0007 001F");
    ck_assert_uint_eq(given(), 0x1D);
    ck_assert_uint_eq(given(), 0x1F);
}
END_TEST

START_TEST(a_stale_heartbeat_drops_control_with_its_waiting_commands)
{
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_PERMISSIVES, 3));
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 1));
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 2));
    ck_assert(pure_cycle(p, false, true, true).command.present);
    ck_assert(!has_control(&plc));
    struct kr_face_take taken = pure_cycle(p, false, false, true);
    ck_assert(!taken.command.present);
    ck_assert(!taken.control_held);
    ck_assert_uint_eq(taken.control_generation, 2);
    ck_assert_uint_eq(taken.line[1], 0);
}
END_TEST

/* The station's word about the last holder must not hit the next one, who came between take and publish. */
START_TEST(a_drop_concerns_only_the_control_that_the_cycle_saw)
{
    struct kr_face_take taken;
    static struct kr_image image;
    ck_assert(take(&plc));
    face_registers_take(&p->registers[0], &taken);
    ck_assert(release(&plc));
    ck_assert(take(&hmi));
    struct kr_face_state state = {.drop_control = true, .control_generation = taken.control_generation};
    face_registers_publish(&p->registers[0], &image, &state);
    ck_assert(has_control(&hmi));
}
END_TEST

START_TEST(only_a_maintainer_takes_over_and_gets_control_when_nothing_moves)
{
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_PERMISSIVES, 3));
    ck_assert(!take_over(&hmi));
    pure_cycle(p, false, true, false);
    ck_assert(take_over(&maintainer));
    ck_assert_uint_eq(pure_holding(p, KR_REG_PERMISSIVES), 0); /* what another said counts no longer */
    ck_assert(!has_control(&plc));                             /* at once */
    ck_assert(!has_control(&maintainer));
    ck_assert_uint_eq(pure_input(p, &reader, KR_REG_CONTROL_HELD), 2);
    ck_assert_str_eq(holder(&reader), "127.0.0.1");
    struct kr_face_take taken = pure_cycle(p, false, true, false); /* still moving */
    ck_assert(!taken.control_held);
    ck_assert_uint_eq(taken.control_generation, 2);
    ck_assert(!has_control(&maintainer));
    pure_cycle(p, false, false, false);
    ck_assert(has_control(&maintainer));
    taken = pure_cycle(p, false, false, false);
    ck_assert(taken.control_held);
    ck_assert_uint_eq(taken.control_generation, 3);
    ck_assert_str_eq(write_reg(&plc, KR_REG_PERMISSIVES, 1), REFUSED_RIGHT);
    ck_assert(pure_write(p, &maintainer, KR_REG_PERMISSIVES, 1));
}
END_TEST

/* Even if nothing moved when last heard of: the station has to see the change before somebody else
 * commands. */
START_TEST(a_take_over_waits_for_a_cycle_that_saw_it)
{
    struct kr_face_take taken;
    static struct kr_image image;
    ck_assert(take(&plc));
    face_registers_take(&p->registers[0], &taken);
    ck_assert(take_over(&maintainer));
    struct kr_face_state state = {.moving = false, .control_generation = taken.control_generation};
    face_registers_publish(&p->registers[0], &image, &state);
    ck_assert(!has_control(&maintainer));
    pure_cycle(p, false, false, false);
    ck_assert(has_control(&maintainer));
}
END_TEST

START_TEST(while_control_passes_its_next_holder_is_told_to_wait_and_others_are_refused)
{
    ck_assert(take(&plc));
    ck_assert(take_over(&maintainer));
    ck_assert_str_eq(write_reg(&maintainer, KR_REG_PERMISSIVES, 1), REFUSED_BUSY);
    ck_assert_str_eq(write_reg(&plc, KR_REG_PERMISSIVES, 1), REFUSED_RIGHT);
    ck_assert_str_eq(write_reg(&plc, KR_REG_ACCESS_REQUEST, 1), REFUSED_BUSY);
    ck_assert_str_eq(write_reg(&plc, KR_REG_ACCESS_REQUEST, 2), REFUSED_RIGHT);
    ck_assert(release(&maintainer)); /* changes its mind */
    ck_assert_uint_eq(pure_input(p, &reader, KR_REG_CONTROL_HELD), 0);
    pure_cycle(p, false, false, false);
    ck_assert(!has_control(&maintainer));
}
END_TEST

START_TEST(a_take_over_drops_what_the_last_holder_commanded_and_nobody_took)
{
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 1));
    ck_assert(take_over(&maintainer));
    ck_assert(!pure_cycle(p, false, false, false).command.present);
}
END_TEST

/* A PLC that writes Stop and lets go in the same breath wants its Stop carried out. */
START_TEST(a_release_leaves_waiting_commands_standing)
{
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 1));
    ck_assert(release(&plc));
    ck_assert(pure_cycle(p, false, false, false).command.present);
}
END_TEST

START_TEST(a_group_shares_control_and_is_named_as_the_holder)
{
    struct kr_face_config config = face_rig_defaults();
    config.n_groups = 1;
    config.group[0] = (struct kr_face_group){"north cabinet", 2, {prefix_of("127.0.0.2"), prefix_of("127.0.0.4")}};
    p->config = config;
    plc = client_at(&config, "127.0.0.2");
    struct face_client twin = client_at(&config, "127.0.0.4");
    ck_assert(take(&plc));
    ck_assert(has_control(&twin));
    ck_assert(pure_write(p, &twin, KR_REG_PERMISSIVES, 1));
    ck_assert(!pure_write(p, &hmi, KR_REG_PERMISSIVES, 1));
    ck_assert_str_eq(holder(&reader), "north cabinet");
    ck_assert(release(&twin));
    ck_assert(!has_control(&plc));
}
END_TEST

START_TEST(control_of_one_station_is_none_of_another)
{
    ck_assert(take(&plc));
    ck_assert_str_eq(pure_ask_unit(p, &plc, 2, "06 0064 0001"), "86 01");
    ck_assert_str_eq(pure_ask_unit(p, &hmi, 2, "06 0010 0001"), "06 00 10 00 01");
    ck_assert_str_eq(pure_ask_unit(p, &hmi, 2, "06 0064 0001"), "06 00 64 00 01");
    ck_assert(has_control(&plc));
}
END_TEST

/* ---- handing over -------------------------------------------------------------------------------------- */

static uint16_t number_of(const struct kr_snapshot *snapshot)
{
    return kr_snapshot_u16(snapshot, KR_BLOCK_ORDER, KR_REG_REQUEST_NUMBER, 0);
}

START_TEST(a_request_number_copies_the_block_then_and_there)
{
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_SLIT_COUNT, 3));
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 11));
    ck_assert(pure_write(p, &plc, KR_REG_SLIT_COUNT, 4)); /* belongs to the next request */
    struct kr_face_take taken = pure_cycle(p, false, false, false);
    ck_assert(taken.request.present);
    ck_assert_uint_eq(number_of(&taken.request), 11);
    ck_assert_uint_eq(kr_snapshot_u16(&taken.request, KR_BLOCK_ORDER, KR_REG_SLIT_COUNT, 0), 3);
    ck_assert_uint_eq(pure_holding(p, KR_REG_SLIT_COUNT), 4);
    ck_assert(!pure_cycle(p, false, false, false).request.present);
}
END_TEST

START_TEST(what_is_handed_over_is_0_where_the_block_has_no_row)
{
    ck_assert(take(&plc));
    ck_assert_str_eq(pure_ask(p, &plc, "10 0062 0002 04 0005 7777"), "10 00 62 00 02"); /* 99 has none */
    struct kr_face_take taken = pure_cycle(p, false, false, false);
    ck_assert_uint_eq(number_of(&taken.request), 5);
    ck_assert_uint_eq(taken.request.word[99 - 96], 0);
}
END_TEST

/* 06, 16, 22 and 23, and the coil functions where a word has coils. */
START_TEST(any_function_that_writes_a_number_hands_over)
{
    static const char *const writes[] = {"06 0062 0005", "10 0061 0002 04 0001 0005", "16 0062 0000 0005",
                                         "17 0062 0001 0061 0002 04 0001 0005"};
    ck_assert(take(&plc));
    pure_ask(p, &plc, writes[_i]);
    struct kr_face_take taken = pure_cycle(p, false, false, false);
    ck_assert(taken.request.present);
    ck_assert_uint_eq(number_of(&taken.request), 5);
}
END_TEST

START_TEST(number_0_hands_over_nothing_and_writing_the_same_number_does)
{
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 0));
    ck_assert(!pure_cycle(p, false, false, false).request.present);
    for (int i = 0; i < 2; i++) {
        ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 5));
        ck_assert(pure_cycle(p, false, false, false).request.present);
    }
}
END_TEST

/* ---- an order that is whole when the numbers at both ends agree -------------------------------------------- */

/* As an I/O scanner does: the block in three writes, in ascending or descending order of addresses. */
static bool scan_order(uint16_t number, uint16_t slits, bool ascending)
{
    bool good = true;
    for (int i = 0; i < 3; i++) {
        switch (ascending ? i : 2 - i) {
        case 0: good = pure_write(p, &plc, KR_REG_REQUEST_NUMBER, number) && good; break;
        case 1: good = pure_write(p, &plc, KR_REG_SLIT_COUNT, slits) && good; break;
        case 2: good = pure_write(p, &plc, KR_REG_REQUEST_NUMBER_END, number) && good; break;
        }
    }
    return good;
}

static void needs_both_numbers(void)
{
    struct kr_face_config config = face_rig_defaults();
    config.station[0].whole_by_both_numbers = true;
    pure_free(p);
    p = pure_new(&config);
    ck_assert(take(&plc));
}

START_TEST(with_both_numbers_a_scanner_hands_over_the_order_it_means_in_either_sequence)
{
    needs_both_numbers();
    for (uint16_t number = 1; number <= 6; number++) {
        ck_assert(scan_order(number, (uint16_t)(10 + number), number % 2 == 0));
        struct kr_face_take taken = pure_cycle(p, false, false, false);
        ck_assert(taken.request.present);
        ck_assert_uint_eq(number_of(&taken.request), number);
        ck_assert_uint_eq(kr_snapshot_u16(&taken.request, KR_BLOCK_ORDER, KR_REG_SLIT_COUNT, 0), 10 + number);
    }
}
END_TEST

START_TEST(without_it_a_scanner_that_sends_the_number_first_hands_over_the_block_before)
{
    ck_assert(take(&plc));
    ck_assert(scan_order(1, 11, true));
    struct kr_face_take taken = pure_cycle(p, false, false, false);
    ck_assert_uint_eq(kr_snapshot_u16(&taken.request, KR_BLOCK_ORDER, KR_REG_SLIT_COUNT, 0), 0);
}
END_TEST

START_TEST(with_both_numbers_0_and_numbers_that_disagree_hand_over_nothing)
{
    needs_both_numbers();
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 7));
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER_END, 8));
    ck_assert(!pure_cycle(p, false, false, false).request.present);
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 0));
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER_END, 0));
    ck_assert(!pure_cycle(p, false, false, false).request.present);
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER_END, 9));
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 9));
    ck_assert(pure_cycle(p, false, false, false).request.present);
}
END_TEST

START_TEST(while_a_request_is_judged_another_gets_exception_06_and_changes_nothing)
{
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 5));
    for (int i = 0; i < 3; i++) { /* waiting, taken, still judged */
        ck_assert_str_eq(write_reg(&plc, KR_REG_REQUEST_NUMBER, 6), REFUSED_BUSY);
        ck_assert_str_eq(pure_ask(p, &plc, "10 0061 0006 0C 0001 0006 0000 0000 0001 0009"), "90 06");
        ck_assert_uint_eq(pure_holding(p, KR_REG_REQUEST_NUMBER), 5);
        ck_assert_uint_eq(pure_holding(p, KR_REG_SLIT_COUNT), 0);
        pure_cycle(p, true, false, false);
    }
    pure_cycle(p, false, false, false);
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 6));
    struct kr_face_take taken = pure_cycle(p, false, false, false);
    ck_assert_uint_eq(number_of(&taken.request), 6);
}
END_TEST

/* A master whose answer was lost asks again. */
START_TEST(the_same_request_again_while_it_is_judged_is_fine_and_handed_over_once)
{
    ck_assert(take(&plc));
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 5));
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 5));
    ck_assert(pure_cycle(p, true, false, false).request.present);
    ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 5));
    ck_assert(!pure_cycle(p, true, false, false).request.present);
    ck_assert(pure_write(p, &plc, KR_REG_SLIT_COUNT, 9)); /* the block may be filled meanwhile ... */
    ck_assert_str_eq(write_reg(&plc, KR_REG_REQUEST_NUMBER, 5), REFUSED_BUSY); /* ... then it is another request */
}
END_TEST

START_TEST(four_commands_wait_in_order_and_a_fifth_gets_exception_06)
{
    ck_assert(take(&plc));
    for (uint16_t number = 1; number <= 4; number++)
        ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, number));
    ck_assert_str_eq(pure_ask(p, &plc, "10 0021 0008 10 0002 0000 0000 0000 0000 0000 0000 0005"), "90 06");
    ck_assert_uint_eq(pure_holding(p, KR_REG_COMMAND), 0);
    for (uint16_t number = 1; number <= 4; number++) {
        struct kr_face_take taken = pure_cycle(p, false, false, false);
        ck_assert(taken.command.present);
        ck_assert_uint_eq(kr_snapshot_u16(&taken.command, KR_BLOCK_COMMAND, KR_REG_COMMAND_NUMBER, 0), number);
        if (number == 1) {
            ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 9));
        }
    }
    ck_assert(pure_cycle(p, false, false, false).command.present);
    ck_assert(!pure_cycle(p, false, false, false).command.present);
}
END_TEST

START_TEST(a_command_written_again_in_every_scan_of_a_fast_plc_waits_once)
{
    ck_assert(take(&plc));
    for (int scan = 0; scan < 20; scan++)
        ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 7));
    ck_assert(pure_cycle(p, false, false, false).command.present);
    ck_assert(!pure_cycle(p, false, false, false).command.present);
}
END_TEST

static bool give(const struct face_client *client, uint16_t command, uint16_t number)
{
    char pdu[160];
    const struct kr_block_info *block = kr_block_info(KR_BLOCK_COMMAND);
    int n = snprintf(pdu, sizeof pdu, "10 %04X %04X %02X", block->first, block->words, 2u * block->words);
    for (uint16_t at = 0; at < block->words; at++) {
        uint16_t address = (uint16_t)(block->first + at);
        unsigned value = address == kr_reg_address(KR_REG_COMMAND, 0, 0)          ? command
                         : address == kr_reg_address(KR_REG_COMMAND_NUMBER, 0, 0) ? number
                                                                                  : 0;
        n += snprintf(pdu + n, sizeof pdu - (size_t)n, " %04X", value);
    }
    return strncmp(pure_ask(p, client, pdu), "10", 2) == 0;
}

static bool is_handed_over(void)
{
    bool present = pure_cycle(p, false, false, false).command.present;
    ck_assert(!pure_cycle(p, false, false, false).command.present);
    return present;
}

/* A PLC's scanner writes the whole block in every scan, while a person at another computer of the group commissions. */
START_TEST(an_old_command_that_a_scanner_writes_on_is_no_new_one_after_another_masters)
{
    struct kr_face_config config = face_rig_defaults();
    config.n_groups = 1;
    config.group[0] = (struct kr_face_group){"commissioning", 2, {prefix_of("127.0.0.2"), prefix_of("127.0.0.4")}};
    p->config = config;
    plc = client_at(&config, "127.0.0.2");
    struct face_client laptop = client_at(&config, "127.0.0.4");
    ck_assert(take(&plc));
    ck_assert(give(&plc, KR_COMMAND_START, 7) && is_handed_over());
    ck_assert(give(&laptop, KR_COMMAND_STOP, 8) && is_handed_over());
    for (int scan = 0; scan < 5; scan++)
        ck_assert(give(&plc, KR_COMMAND_START, 7) && !is_handed_over());
    ck_assert(give(&plc, KR_COMMAND_START, 9) && is_handed_over());
    ck_assert(give(&laptop, KR_COMMAND_RESET, 10) && is_handed_over());
    ck_assert(give(&laptop, KR_COMMAND_STOP, 8) && is_handed_over()); /* its own, of before its last one */
    ck_assert(give(&plc, KR_COMMAND_STOP, 11) && is_handed_over());
    ck_assert(give(&laptop, KR_COMMAND_RESET, 12) && is_handed_over());
    ck_assert(give(&plc, KR_COMMAND_STOP, 11) && is_handed_over()); /* a stop always counts */
}
END_TEST

START_TEST(an_edit_takes_the_maintain_right_and_no_control_and_names_its_origin)
{
    ck_assert(take(&plc));
    ck_assert_str_eq(write_reg(&reader, KR_REG_EDIT_KIND, 1), REFUSED_RIGHT);
    ck_assert_str_eq(write_reg(&plc, KR_REG_EDIT_KIND, 1), REFUSED_RIGHT);
    ck_assert(pure_write(p, &maintainer, KR_REG_EDIT_KIND, 1));
    ck_assert(pure_write(p, &maintainer, KR_REG_EDIT_NUMBER, 3));
    ck_assert_str_eq(write_reg(&maintainer, KR_REG_EDIT_NUMBER, 4), REFUSED_BUSY);
    struct kr_face_take taken = pure_cycle(p, true, false, false);
    ck_assert(taken.edit.present);
    ck_assert_str_eq(taken.edit_origin, "127.0.0.1");
    ck_assert_uint_eq(kr_snapshot_u16(&taken.edit, KR_BLOCK_EDIT, KR_REG_EDIT_KIND, 0), 1);
    ck_assert_str_eq(write_reg(&maintainer, KR_REG_EDIT_NUMBER, 4), REFUSED_BUSY);
    pure_cycle(p, false, false, false);
    ck_assert(pure_write(p, &maintainer, KR_REG_EDIT_NUMBER, 4));
    ck_assert(has_control(&plc));
}
END_TEST

/* ---- halts --------------------------------------------------------------------------------------------- */

START_TEST(a_halt_is_taken_from_whoever_may_control_or_maintain_in_control_or_not)
{
    ck_assert(take(&plc));
    const struct face_client *who[] = {&plc, &hmi, &maintainer};
    for (int i = 0; i < 3; i++) {
        ck_assert(pure_write(p, who[i], KR_REG_HALT, KR_COMMAND_STOP));
        struct kr_face_take taken = pure_cycle(p, false, false, false);
        ck_assert_uint_eq(taken.halt, KR_COMMAND_STOP);
        ck_assert_str_eq(taken.halt_origin, who[i]->text);
        ck_assert_uint_eq(pure_cycle(p, false, false, false).halt, 0);
    }
    ck_assert(has_control(&plc));
    ck_assert(release(&plc)); /* with nobody in control it takes none, either */
    ck_assert(pure_write(p, &hmi, KR_REG_HALT, KR_COMMAND_HOLD));
    ck_assert_uint_eq(pure_cycle(p, false, false, false).halt, KR_COMMAND_HOLD);
    ck_assert_uint_eq(pure_input(p, &hmi, KR_REG_CONTROL_HELD), KR_CONTROL_FREE);
}
END_TEST

START_TEST(a_halt_of_who_may_only_read_or_that_is_none_is_refused_and_0_does_nothing)
{
    ck_assert_str_eq(write_reg(&reader, KR_REG_HALT, KR_COMMAND_STOP), REFUSED_RIGHT);
    ck_assert_str_eq(write_reg(&reader, KR_REG_HALT, 0), REFUSED_RIGHT);
    for (uint16_t value = 0; value < 12; value++) {
        bool halts = value == KR_COMMAND_STOP || value == KR_COMMAND_HOLD || value == KR_COMMAND_SUSPEND ||
                     value == KR_COMMAND_ABORT;
        ck_assert_int_eq(pure_write(p, &hmi, KR_REG_HALT, value), halts || value == 0);
        ck_assert_uint_eq(pure_cycle(p, false, false, false).halt, halts ? value : 0);
        ck_assert_uint_eq(pure_holding(p, KR_REG_HALT), 0);
    }
    ck_assert_str_eq(write_reg(&hmi, KR_REG_HALT, KR_COMMAND_START), "86 03");
}
END_TEST

/* Any function that writes, and a master that writes the whole block. */
START_TEST(a_halt_may_be_written_by_any_function)
{
    static const char *const pdus[] = {"06 0018 0008", "10 0018 0001 02 0008", "16 0018 0000 0008",
                                       "17 0000 0001 0018 0008 10 0008 0000 0000 0000 0000 0000 0000 0000"};
    ck_assert_ptr_null(strstr(pure_ask(p, &hmi, pdus[_i]), "86"));
    ck_assert_uint_eq(pure_cycle(p, false, false, false).halt, KR_COMMAND_ABORT);
}
END_TEST

START_TEST(of_several_halts_in_one_cycle_the_strongest_counts)
{
    static const uint16_t rising[] = {KR_COMMAND_SUSPEND, KR_COMMAND_HOLD, KR_COMMAND_STOP, KR_COMMAND_ABORT};
    for (int a = 0; a < 4; a++) {
        for (int b = 0; b < 4; b++) {
            ck_assert(pure_write(p, &plc, KR_REG_HALT, rising[a]));
            ck_assert(pure_write(p, &hmi, KR_REG_HALT, rising[b]));
            struct kr_face_take taken = pure_cycle(p, false, false, false);
            ck_assert_uint_eq(taken.halt, rising[a > b ? a : b]);
            ck_assert_str_eq(taken.halt_origin, b > a ? hmi.text : plc.text);
        }
    }
}
END_TEST

START_TEST(a_halt_overtakes_the_commands_that_wait_and_no_later_one)
{
    ck_assert(take(&plc));
    for (uint16_t number = 1; number <= 4; number++) {
        if (number == 3) {
            ck_assert(pure_write(p, &hmi, KR_REG_HALT, KR_COMMAND_STOP));
        }
        ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, number));
    }
    ck_assert_str_eq(write_reg(&plc, KR_REG_COMMAND_NUMBER, 5), REFUSED_BUSY);
    /* Which a full mailbox does not keep out */
    ck_assert(pure_write(p, &plc, KR_REG_HALT, KR_COMMAND_SUSPEND));
    for (uint16_t number = 1; number <= 4; number++) {
        struct kr_face_take taken = pure_cycle(p, false, false, false);
        ck_assert_uint_eq(taken.halt, number == 1 ? KR_COMMAND_STOP : 0);
        ck_assert(taken.command.present && taken.command.overtaken);
    }
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 6));
    ck_assert(!pure_cycle(p, false, false, false).command.overtaken);
}
END_TEST

/* ---- the log ------------------------------------------------------------------------------------------- */

START_TEST(every_write_that_commands_is_logged_with_its_origin)
{
    ck_assert(take(&plc));
    ck_assert_str_eq(p->log[0], "station north: 127.0.0.2 port 40000 takes control");
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND, 2));
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 7));
    const char *begin = "station north: 127.0.0.2 port 40000 writes COMMAND_SESSION 0, COMMAND 2, COMMAND_JOB 0, ";
    ck_assert_msg(strncmp(p->log[1], begin, strlen(begin)) == 0, "%s", p->log[1]);
    ck_assert_ptr_nonnull(strstr(p->log[1], ", COMMAND_NUMBER 7"));
    ck_assert_str_eq(pure_ask(p, &plc,
                              "10 0062 0014 28 0009 0000 FFFFFFFE 0000 0000 0000 0000 0000 0000 0000 0000 FFFFFFFE "
                              "0000 0000 0000 0000 0000 0000"),
                     "10 00 62 00 14");
    ck_assert_ptr_nonnull(strstr(p->log[2], "REQUEST_NUMBER 9, ORDER_NUMBER 4294967294, "));
    ck_assert_ptr_nonnull(strstr(p->log[2], ", SHIFT -2, "));
    ck_assert_str_eq(pure_ask(p, &plc, "05 0002 FF00"), "05 00 02 FF 00");
    ck_assert_str_eq(p->log[3], "station north: 127.0.0.2 port 40000 changes PERMISSIVES from 0000h to 0004h");
    ck_assert_str_eq(write_reg(&hmi, KR_REG_COMMAND, 2), REFUSED_RIGHT);
    ck_assert_str_eq(p->log[4], "station north: 127.0.0.5 port 40000 may not write block COMMAND now: exception 01");
    ck_assert_uint_eq(p->n_log, 5);
}
END_TEST

/* A PLC may write the same block in every one of its scans, also after it was judged. */
START_TEST(a_block_that_is_written_in_every_scan_is_told_once)
{
    ck_assert(take(&plc));
    unsigned told = p->n_log;
    for (int i = 0; i < 50; i++) {
        ck_assert(pure_write(p, &plc, KR_REG_REQUEST_NUMBER, 9));
        ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 7));
        struct kr_face_take taken = pure_cycle(p, false, false, false);
        ck_assert(taken.request.present && taken.command.present); /* the station knows what is no news */
    }
    ck_assert_uint_eq(p->n_log, told + 2);
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 8));
    ck_assert_uint_eq(p->n_log, told + 3);
}
END_TEST

START_TEST(a_flood_of_refusals_is_counted_and_not_logged)
{
    for (int i = 0; i < 100; i++)
        ck_assert_str_eq(write_reg(&hmi, KR_REG_COMMAND, 2), REFUSED_RIGHT);
    ck_assert_uint_eq(p->n_log, 20);
    ck_assert_uint_eq(p->left_out, 80);
    face_notes_tick(&p->notes, 5000);
    ck_assert_str_eq(write_reg(&hmi, KR_REG_COMMAND, 2), REFUSED_RIGHT);
    ck_assert_uint_eq(p->n_log, 22);
    ck_assert_str_eq(p->log[20 % 8], "127.0.0.5: 80 lines about its refused writes were left out");
}
END_TEST

/* Nobody writes again after the flood: what was left out is told all the same. */
START_TEST(what_was_left_out_is_told_when_the_flood_is_over)
{
    for (int i = 0; i < 100; i++)
        write_reg(&hmi, KR_REG_COMMAND, 2);
    face_notes_tick(&p->notes, KR_BUCKET_TELL_MS - 1);
    ck_assert_uint_eq(p->n_log, 20);
    face_notes_tick(&p->notes, KR_BUCKET_TELL_MS);
    ck_assert_uint_eq(p->n_log, 21);
    ck_assert_str_eq(p->log[20 % 8], "127.0.0.5: 80 lines about its refused writes were left out in 10 s");
    face_notes_tick(&p->notes, 10 * KR_BUCKET_TELL_MS);
    ck_assert_uint_eq(p->n_log, 21);
}
END_TEST

START_TEST(a_flood_of_one_client_or_kind_hides_nothing_of_others)
{
    ck_assert(take(&plc));
    for (int i = 0; i < 100; i++)
        write_reg(&hmi, KR_REG_COMMAND, 2);
    unsigned told = p->n_log;
    write_reg(&reader, KR_REG_COMMAND, 2); /* another client's refusal */
    ck_assert_uint_eq(p->n_log, told + 1);
    for (uint16_t i = 1; i <= 12; i++) { /* what an inquiry asks for */
        ck_assert(pure_write(p, &plc, KR_REG_PERMISSIVES, i));
        ck_assert_uint_eq(p->n_log, told + 1 + i);
    }
    ck_assert(pure_write(p, &plc, KR_REG_COMMAND_NUMBER, 7));
    ck_assert_uint_eq(p->n_log, told + 14);
    ck_assert(pure_write(p, &plc, KR_REG_ACCESS_REQUEST, 2));
    ck_assert_uint_eq(p->n_log, told + 15);
}
END_TEST

/* Control changes are never left out of the log: who makes too many is told to wait, and nothing changes. */
START_TEST(a_client_that_changes_control_without_end_is_held_up_and_each_change_is_told)
{
    unsigned changes = 0;
    uint16_t generation = p->registers[0].control.generation;
    for (int i = 0; i < 1000; i++)
        changes += pure_write(p, &plc, KR_REG_ACCESS_REQUEST, (uint16_t)(has_control(&plc) ? 2 : 1));
    ck_assert_uint_eq(changes, 50);
    ck_assert_uint_eq((uint16_t)(p->registers[0].control.generation - generation), 50);
    ck_assert_uint_eq(p->n_log, 50 + 20); /* and the refusals, as far as they are told */
    ck_assert_str_eq(write_reg(&plc, KR_REG_ACCESS_REQUEST, 1), REFUSED_BUSY);
    ck_assert(take(&hmi)); /* of no concern to others */
    ck_assert(release(&hmi));
    face_notes_tick(&p->notes, 1000);
    ck_assert(take(&plc));
    ck_assert_str_eq(write_reg(&plc, KR_REG_ACCESS_REQUEST, 2), REFUSED_BUSY);
}
END_TEST

START_TEST(permissives_that_change_all_the_time_are_told_together_with_what_was_withdrawn)
{
    ck_assert(take(&plc));
    face_notes_tick(&p->notes, 5000);
    unsigned told = p->n_log;
    for (int i = 0; i < 100; i++) {
        ck_assert(pure_write(p, &plc, KR_REG_PERMISSIVES, i % 2 != 0 ? 0x001F : 0x0013));
    }
    ck_assert(pure_write(p, &plc, KR_REG_PERMISSIVES, 0x001E));
    ck_assert_uint_eq(p->n_log, told + 20);
    face_notes_tick(&p->notes, 5999);
    face_registers_tick(&p->registers[0]);
    ck_assert_uint_eq(p->n_log, told + 20);
    face_notes_tick(&p->notes, 6000);
    face_registers_tick(&p->registers[0]);
    ck_assert_uint_eq(p->n_log, told + 21);
    ck_assert_str_eq(p->log[(told + 20) % 8],
                     "station north: 127.0.0.2 changes PERMISSIVES 81 more times within a second, from 001Fh "
                     "to finally 001Eh; bits withdrawn meanwhile: 000Dh");
    ck_assert(pure_write(p, &plc, KR_REG_PERMISSIVES, 0x001F));
    ck_assert_uint_eq(p->n_log, told + 22);
    ck_assert_uint_eq(p->left_out, 0);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("face_control");
    TCase *tc = suite_case(suite, "control");
    tcase_add_checked_fixture(tc, set_up, tear_down);
    tcase_add_test(tc, each_client_reads_its_own_role);
    tcase_add_test(tc, a_client_that_may_only_read_gets_exception_01_for_every_write);
    tcase_add_test(tc, without_control_a_command_is_refused_and_changes_nothing);
    tcase_add_test(tc, the_longest_prefix_decides_and_the_later_rule_among_equal_ones);
    tcase_add_test(tc, the_standing_rules_can_be_overridden);
    tcase_add_test(tc, a_plc_of_one_station_takes_no_control_of_another);
    tcase_add_test(tc, among_equal_prefixes_the_rule_for_the_station_decides_and_a_longer_one_before_it);
    tcase_add_test(tc, at_a_station_without_a_right_every_function_gets_exception_01);
    tcase_add_test(tc, a_prefix_is_read_as_people_write_it_or_refused);
    tcase_add_test(tc, control_is_taken_by_request_read_by_all_and_released);
    tcase_add_test(tc, taking_again_or_releasing_what_nobody_has_changes_nothing);
    tcase_add_test(tc, the_first_write_takes_control_only_where_the_config_says_so);
    tcase_add_test(tc, a_heartbeat_never_takes_control);
    tcase_add_test(tc, each_address_reads_what_was_odd_about_its_own_requests);
    tcase_add_test(tc, every_change_of_control_steps_the_generation_and_zeroes_the_line_block);
    tcase_add_test(tc, only_a_write_that_carries_permissives_and_a_changed_heartbeat_gives_them);
    tcase_add_test(tc, a_heartbeat_alone_renews_nothing);
    tcase_add_test(tc, any_write_takes_a_permissive_away_at_once);
    tcase_add_test(tc, a_permissive_that_is_taken_and_given_within_a_cycle_was_taken);
    tcase_add_test(tc, a_stale_heartbeat_drops_control_with_its_waiting_commands);
    tcase_add_test(tc, a_drop_concerns_only_the_control_that_the_cycle_saw);
    tcase_add_test(tc, only_a_maintainer_takes_over_and_gets_control_when_nothing_moves);
    tcase_add_test(tc, a_take_over_waits_for_a_cycle_that_saw_it);
    tcase_add_test(tc, while_control_passes_its_next_holder_is_told_to_wait_and_others_are_refused);
    tcase_add_test(tc, a_take_over_drops_what_the_last_holder_commanded_and_nobody_took);
    tcase_add_test(tc, a_release_leaves_waiting_commands_standing);
    tcase_add_test(tc, a_group_shares_control_and_is_named_as_the_holder);
    tcase_add_test(tc, control_of_one_station_is_none_of_another);
    tcase_add_test(tc, a_request_number_copies_the_block_then_and_there);
    tcase_add_test(tc, what_is_handed_over_is_0_where_the_block_has_no_row);
    tcase_add_loop_test(tc, any_function_that_writes_a_number_hands_over, 0, 4);
    tcase_add_test(tc, number_0_hands_over_nothing_and_writing_the_same_number_does);
    tcase_add_test(tc, with_both_numbers_a_scanner_hands_over_the_order_it_means_in_either_sequence);
    tcase_add_test(tc, without_it_a_scanner_that_sends_the_number_first_hands_over_the_block_before);
    tcase_add_test(tc, with_both_numbers_0_and_numbers_that_disagree_hand_over_nothing);
    tcase_add_test(tc, while_a_request_is_judged_another_gets_exception_06_and_changes_nothing);
    tcase_add_test(tc, the_same_request_again_while_it_is_judged_is_fine_and_handed_over_once);
    tcase_add_test(tc, four_commands_wait_in_order_and_a_fifth_gets_exception_06);
    tcase_add_test(tc, a_command_written_again_in_every_scan_of_a_fast_plc_waits_once);
    tcase_add_test(tc, an_old_command_that_a_scanner_writes_on_is_no_new_one_after_another_masters);
    tcase_add_test(tc, an_edit_takes_the_maintain_right_and_no_control_and_names_its_origin);
    tcase_add_test(tc, a_halt_is_taken_from_whoever_may_control_or_maintain_in_control_or_not);
    tcase_add_test(tc, a_halt_of_who_may_only_read_or_that_is_none_is_refused_and_0_does_nothing);
    tcase_add_loop_test(tc, a_halt_may_be_written_by_any_function, 0, 4);
    tcase_add_test(tc, of_several_halts_in_one_cycle_the_strongest_counts);
    tcase_add_test(tc, a_halt_overtakes_the_commands_that_wait_and_no_later_one);
    tcase_add_test(tc, every_write_that_commands_is_logged_with_its_origin);
    tcase_add_test(tc, a_block_that_is_written_in_every_scan_is_told_once);
    tcase_add_test(tc, a_flood_of_refusals_is_counted_and_not_logged);
    tcase_add_test(tc, what_was_left_out_is_told_when_the_flood_is_over);
    tcase_add_test(tc, a_flood_of_one_client_or_kind_hides_nothing_of_others);
    tcase_add_test(tc, a_client_that_changes_control_without_end_is_held_up_and_each_change_is_told);
    tcase_add_test(tc, permissives_that_change_all_the_time_are_told_together_with_what_was_withdrawn);
    return suite;
}
