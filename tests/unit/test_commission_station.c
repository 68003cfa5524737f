/* What kniferail commission asks of people and reads of a station between two steps: typed lines, connections that must
 * not become idle, a drive whose link is lost, the alarm that it names. The client, the control socket and standard
 * input are the test's own. */
#include <string.h>
#include <unistd.h>

#include "../../src/cli/commission.h"
#include "../../src/cli/commission_rehearsal.h"
#include "suite.h"

/* ---- a person and two stations --------------------------------------------------------------------------------- */

static struct commission machine; /* large, as the others */
static struct rehearsal rehearsal;
static struct kr_config_station station;
static int keyboard; /* what is written there, the person types */
static unsigned reads_of_machine;
static unsigned types_at; /* at this reading of the machine the person types Enter; 0: never */
static unsigned links_at; /* from this look on the drive has its link */
static unsigned ends_at;  /* from this look on the station does not answer; 0: it always does */
static unsigned looks;

static void type(const char *text)
{
    ck_assert_int_eq(write(keyboard, text, strlen(text)), (ssize_t)strlen(text));
}

static void begin(uint32_t idle_ms)
{
    int ends[2];
    ck_assert_int_eq(pipe(ends), 0);
    ck_assert_int_eq(dup2(ends[0], STDIN_FILENO), STDIN_FILENO);
    close(ends[0]);
    keyboard = ends[1];
    memset(&station, 0, sizeof station);
    station.station.geometry.n_rails = 1;
    memset(&machine, 0, sizeof machine);
    machine.station = &station;
    machine.config.digest = 1; /* the second gateway runs another file */
    machine.config.face.limits.idle_ms = idle_ms;
    machine.client.modbus = (modbus_t *)&machine; /* it is connected, and nothing looks into that */
    kr_image_clear(&machine.client.image, (struct kr_format){.length_unit = KR_LENGTH_MM});
    reads_of_machine = types_at = links_at = ends_at = looks = 0;
}

bool kr_client_open(struct kr_client *client, const struct kr_client_address *address)
{
    (void)address;
    kr_image_clear(&client->image, (struct kr_format){.length_unit = KR_LENGTH_MM});
    kr_image_set_u16(&client->image, KR_REG_RAIL_COUNT, 0, 0, 1);
    return true;
}

void kr_client_close(struct kr_client *client)
{
    (void)client;
}

bool kr_client_block(struct kr_client *client, enum kr_block_id block)
{
    (void)block;
    if (client == &machine.client && ++reads_of_machine == types_at)
        type("\n");
    return true;
}

bool kr_client_row(struct kr_client *client, enum kr_reg reg, uint16_t rail, uint16_t n)
{
    (void)reg;
    (void)n;
    looks++;
    kr_image_set_u16(&client->image, KR_REG_RAIL_LINK, rail, 0, links_at > 0 && looks >= links_at);
    return ends_at == 0 || looks < ends_at;
}

bool kr_client_write(struct kr_client *client, uint16_t address, const uint16_t word[], uint16_t n)
{
    (void)client;
    (void)address;
    (void)word;
    (void)n;
    return true;
}

bool commission_door_open(struct commission_door *door, const char *path)
{
    (void)path;
    door->fd = -1;
    return true;
}

void commission_door_close(struct commission_door *door)
{
    (void)door;
}

bool commission_door_say(struct commission_door *door, char answer[], size_t size, const char *format, ...)
{
    (void)door;
    (void)answer;
    (void)size;
    (void)format;
    return false;
}

/* ---- connections that stay open -------------------------------------------------------------------------------- */

static const struct {
    uint32_t idle_ms;
    int alive_ms;
} alive[] = {{0, 15000}, /* the gateway closes none */
             {1, 100},    {2, 100},       {299, 100},     {300, 100},      {303, 101},
             {1500, 500}, {44997, 14999}, {45000, 15000}, {120000, 15000}, {UINT32_MAX, 15000}};

START_TEST(a_station_is_read_three_times_in_the_time_of_an_idle_connection_but_never_without_a_pause)
{
    begin(alive[_i].idle_ms);
    ck_assert_int_eq(commission_alive_ms(&machine), alive[_i].alive_ms);
}
END_TEST

START_TEST(a_station_is_read_as_long_as_a_person_takes_time)
{
    begin(1);
    types_at = 3;
    int64_t before_ms = commission_now_ms();
    ck_assert(commission_ask_enter(&machine, "Press Enter."));
    ck_assert_uint_eq(reads_of_machine, 3);
    ck_assert_int_ge(commission_now_ms() - before_ms, 3 * 100 - 5);
}
END_TEST

/* The machine was read for the last time so long ago. */
static void was_read_ms_ago(int ms)
{
    rehearsal.c.also_read_ms = commission_now_ms() - ms;
}

START_TEST(while_the_second_gateway_is_at_work_the_machine_is_read_too_once_its_interval_has_passed)
{
    char why[200];
    begin(120000);
    ck_assert_msg(commission_rehearsal_open(&machine, &rehearsal, why), "%s", why);
    was_read_ms_ago(15000);
    ck_assert(commission_look(&rehearsal.c));
    ck_assert_uint_eq(reads_of_machine, 1);
    ck_assert(commission_look(&rehearsal.c));
    ck_assert_uint_eq(reads_of_machine, 1);
    was_read_ms_ago(15000);
    ck_assert(commission_look(&rehearsal.c));
    ck_assert_uint_eq(reads_of_machine, 2);
    was_read_ms_ago(15000); /* a person who takes time over the second gateway's question */
    commission_keep_alive(&rehearsal.c);
    ck_assert_uint_eq(reads_of_machine, 3);
    ck_assert(commission_look(&machine)); /* and the machine is no other station of its own */
    ck_assert_uint_eq(reads_of_machine, 4);
    machine.client.modbus = NULL; /* the connection was lost: the machine's next look says so */
    was_read_ms_ago(15000);
    ck_assert(commission_look(&rehearsal.c));
    ck_assert_uint_eq(reads_of_machine, 4);
}
END_TEST

/* ---- a lost link ----------------------------------------------------------------------------------------------- */

START_TEST(a_drive_whose_link_is_lost_is_waited_for)
{
    bool linked = false;
    begin(0);
    links_at = 3;
    ck_assert(commission_wait_link(&machine, 0, &linked));
    ck_assert(linked);
    ck_assert_uint_eq(looks, 3);
}
END_TEST

START_TEST(whoever_gives_a_lost_drive_up_goes_on_without_it_and_whoever_leaves_ends)
{
    bool linked = true;
    begin(0);
    type("\n");
    ck_assert(commission_wait_link(&machine, 0, &linked));
    ck_assert(!linked);
    ck_assert(!machine.left);
    type("leave\n");
    ck_assert(!commission_wait_link(&machine, 0, &linked));
    ck_assert(!linked);
    ck_assert(machine.left);
    begin(0);
    close(keyboard); /* nobody is there any more */
    ck_assert(!commission_wait_link(&machine, 0, &linked));
    ck_assert(machine.left);
}
END_TEST

START_TEST(a_station_that_ends_while_a_lost_drive_is_waited_for_is_a_failure)
{
    bool linked = true;
    begin(0);
    ends_at = 2;
    ck_assert(!commission_wait_link(&machine, 0, &linked));
    ck_assert(machine.failed);
    ck_assert(!machine.left);
}
END_TEST

/* ---- typed lines ----------------------------------------------------------------------------------------------- */

/* Types so many letters and Enter. */
static void type_letters(size_t n)
{
    char text[2 * COMMISSION_LINE_MAX];
    memset(text, 'x', n);
    text[n] = '\n';
    text[n + 1] = '\0';
    type(text);
}

START_TEST(the_end_of_a_line_that_is_too_long_does_not_answer_the_next_question)
{
    char line[COMMISSION_LINE_MAX];
    const size_t room = COMMISSION_LINE_MAX - 1;
    begin(0);
    for (size_t n = room - 1; n <= room + 100; n++) {
        type_letters(n);
        type("next\n");
        ck_assert(commission_ask_text(&machine, line, "?"));
        ck_assert_uint_eq(strlen(line), n < room ? n : room);
        ck_assert_int_eq(machine.cut, n > room);
        ck_assert(commission_ask_text(&machine, line, "?"));
        ck_assert_str_eq(line, "next");
        ck_assert(!machine.cut);
    }
}
END_TEST

START_TEST(a_long_line_that_is_typed_while_a_job_runs_is_taken_at_once)
{
    char line[COMMISSION_LINE_MAX];
    begin(0);
    type_letters(COMMISSION_LINE_MAX + 50);
    ck_assert(commission_typed(&machine, line));
    ck_assert_uint_eq(strlen(line), COMMISSION_LINE_MAX - 1);
    ck_assert(!commission_typed(&machine, line));
    ck_assert(!machine.left);
}
END_TEST

/* ---- alarms ---------------------------------------------------------------------------------------------------- */

static void stands(uint16_t index, enum kr_alarm_code code)
{
    kr_image_set_u16(&machine.client.image, KR_REG_ALARM_COUNT, 0, 0, (uint16_t)(index + 1));
    kr_image_set_u16(&machine.client.image, KR_REG_ALARM_CODES, 0, index, (uint16_t)code);
}

/* A pin that does not seat makes the job late first. */
START_TEST(the_alarm_that_stopped_a_job_is_named_and_not_a_notice_before_it)
{
    char text[KR_ALARM_WORDS_MAX];
    begin(0);
    ck_assert_uint_eq(commission_alarm(&machine, text, sizeof text), 0);
    stands(0, KR_ALARM_JOB_LATE);
    ck_assert_uint_eq(commission_alarm(&machine, text, sizeof text), KR_ALARM_JOB_LATE);
    stands(1, KR_ALARM_PIN_NOT_IN);
    ck_assert_uint_eq(commission_alarm(&machine, text, sizeof text), KR_ALARM_PIN_NOT_IN);
    ck_assert_ptr_eq(strstr(text, "PIN_NOT_IN: "), text);
    stands(2, KR_ALARM_LINK_LOST);
    ck_assert_uint_eq(commission_alarm(&machine, text, sizeof text), KR_ALARM_PIN_NOT_IN);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission_station");
    TCase *all = suite_case(suite, "between two steps");
    tcase_add_loop_test(all, a_station_is_read_three_times_in_the_time_of_an_idle_connection_but_never_without_a_pause,
                        0, (int)(sizeof alive / sizeof alive[0]));
    tcase_add_test(all, a_station_is_read_as_long_as_a_person_takes_time);
    tcase_add_test(all, while_the_second_gateway_is_at_work_the_machine_is_read_too_once_its_interval_has_passed);
    tcase_add_test(all, a_drive_whose_link_is_lost_is_waited_for);
    tcase_add_test(all, whoever_gives_a_lost_drive_up_goes_on_without_it_and_whoever_leaves_ends);
    tcase_add_test(all, a_station_that_ends_while_a_lost_drive_is_waited_for_is_a_failure);
    tcase_add_test(all, the_end_of_a_line_that_is_too_long_does_not_answer_the_next_question);
    tcase_add_test(all, a_long_line_that_is_typed_while_a_job_runs_is_taken_at_once);
    tcase_add_test(all, the_alarm_that_stopped_a_job_is_named_and_not_a_notice_before_it);
    return suite;
}
