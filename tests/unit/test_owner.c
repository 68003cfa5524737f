/* Tests of who owns a drive, by an owner register: two gateways at one drive, on a clock of the test. */
#include "owner.h"

#include <stdbool.h>
#include <string.h>

#include "suite.h"

#define STEP_MS 10
#define LOST_MS 450
#define PLACE   7

/* ---- the drive and the clock ----------------------------------------------------------------------------------- */

static int64_t now_us;
static uint16_t owner_register;

int64_t line_now_us(void)
{
    return now_us;
}

enum transfer line_read(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[])
{
    (void)line;
    (void)port;
    ck_assert_int_eq(from.address, PLACE);
    word[0] = owner_register;
    return TRANSFER_DONE;
}

enum transfer line_write(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t word[])
{
    (void)line;
    (void)port;
    ck_assert_int_eq(to.address, PLACE);
    owner_register = word[0];
    return TRANSFER_DONE;
}

/* ---- two gateways ---------------------------------------------------------------------------------------------- */

static struct port first, second;

static void gateway_init(struct port *port, uint16_t number)
{
    memset(port, 0, sizeof *port);
    for (int object = 0; object < KR_N_OBJECTS; object++)
        port->drive.map.address[object] = KR_NO_REGISTER;
    port->drive.map.address[KR_OBJECT_OWNER] = PLACE;
    port->drive.link.lost_ms = LOST_MS;
    port->owner.number = number;
}

static void begin(void)
{
    now_us = 1000000;
    owner_register = 0;
    gateway_init(&first, 73);
    gateway_init(&second, 115);
}

static enum admission step(struct port *port)
{
    struct admitted answer = {.admission = ADMIT_YES};
    owner_step(NULL, port, &answer);
    return answer.admission;
}

static void pass(void)
{
    now_us += 1000LL * STEP_MS;
}

/* Steps one gateway until it owns the drive. Returns how long that took. */
static int until_it_owns(struct port *port)
{
    int ms = 0;
    for (; step(port) != ADMIT_YES; ms += STEP_MS) {
        ck_assert_int_lt(ms, 5000);
        pass();
    }
    return ms;
}

START_TEST(a_second_gateway_takes_a_drive_only_when_its_owner_has_been_silent_for_long_enough)
{
    begin();
    (void)until_it_owns(&first);
    for (int ms = 0; ms < 5000; ms += STEP_MS, pass()) {
        ck_assert_int_eq(step(&first), ADMIT_YES);
        ck_assert_int_ne(step(&second), ADMIT_YES);
    }
    ck_assert_int_ge(until_it_owns(&second), LOST_MS);
}
END_TEST

/* _i: the owner stands still so many steps after it looked: it may be about to write, or to look. */
START_TEST(an_owner_that_stood_still_does_not_take_back_a_drive_that_it_has_lost)
{
    begin();
    (void)until_it_owns(&first);
    for (int64_t look_us = first.owner.look_us; first.owner.look_us == look_us; pass())
        (void)step(&first);
    for (int i = 0; i < _i; i++, pass())
        (void)step(&first);
    ck_assert(_i > 0 || first.owner.writes);
    (void)until_it_owns(&second);
    bool lost = false;
    for (int ms = 0; ms < 3000; ms += STEP_MS, pass()) {
        lost = step(&first) != ADMIT_YES || lost;
        ck_assert_msg(lost || ms > 2 * 250, "the first one still takes the drive for its own");
        ck_assert_msg(step(&second) == ADMIT_YES, "the second one has lost the drive again");
    }
    ck_assert(lost);
}
END_TEST

/* One that was about to take a free drive looks again, too. */
START_TEST(a_gateway_that_stood_still_before_its_first_write_looks_again)
{
    begin();
    for (; !first.owner.writes; pass())
        (void)step(&first);
    (void)until_it_owns(&second);
    now_us += 1000LL * (LOST_MS + 2 * 250);
    (void)step(&second);
    for (int ms = 0; ms < 3000; ms += STEP_MS, pass()) {
        ck_assert_int_ne(step(&first), ADMIT_YES);
        ck_assert_int_eq(step(&second), ADMIT_YES);
    }
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("who owns a drive");
    TCase *tc = suite_case(suite, "by an owner register");
    tcase_add_test(tc, a_second_gateway_takes_a_drive_only_when_its_owner_has_been_silent_for_long_enough);
    tcase_add_loop_test(tc, an_owner_that_stood_still_does_not_take_back_a_drive_that_it_has_lost, 0, 26);
    tcase_add_test(tc, a_gateway_that_stood_still_before_its_first_write_looks_again);
    return suite;
}
