/* The rehearsal, in what it says to the simulator's control socket: faults that strike while a link is lost, and a
 * socket that does not answer. The second gateway is the test's own, and shows each alarm at once. */
#include <stdarg.h>
#include <string.h>

#include "../../src/cli/commission_alarms.h"
#include "../../src/cli/commission_moves.h"
#include "../../src/cli/commission_rehearsal.h"
#include "kniferail/axis.h"
#include "suite.h"

static struct commission commission; /* large */
static struct kr_config_station station;
static struct kr_step_verdict verdict;
static int64_t now_ms;
static bool linked;
static const char *silent_at; /* the control socket does not answer this line; NULL: it always does */
static unsigned n_lost, n_back, n_struck_without; /* links that were lost, and came back; faults meanwhile */

static bool walk(const char *silent)
{
    memset(&station, 0, sizeof station);
    memset(&commission, 0, sizeof commission);
    memset(&verdict, 0, sizeof verdict);
    station.station.geometry.n_rails = 1;
    station.station.geometry.rail[0].n_holders = 2;
    station.station.carriage[0].drift_um = 500; /* and the datum's bit: for what strikes without a link */
    station.drive[0].map.referenced_bit = 0;
    commission.station = &station;
    now_ms = 0;
    linked = true;
    silent_at = silent;
    n_lost = n_back = n_struck_without = 0;
    return commission_walk_REHEARSAL(&commission, 0, &verdict);
}

/* ---- the control socket ---------------------------------------------------------------------------------------- */

bool commission_door_say(struct commission_door *door, char answer[], size_t size, const char *format, ...)
{
    char line[200];
    va_list values;
    va_start(values, format);
    vsnprintf(line, sizeof line, format, values);
    va_end(values);
    if (silent_at != NULL && strcmp(line, silent_at) == 0) {
        snprintf(door->why, sizeof door->why, "it does not answer");
        return false;
    }
    bool breaks = strncmp(line, "break ", 6) == 0;
    snprintf(answer, size, "%s", breaks ? "broken" : "mended");
    if (strstr(line, " link-lost") == NULL) {
        n_struck_without += breaks && !linked;
        return true;
    }
    linked = !breaks;
    n_lost += breaks;
    n_back += !breaks;
    return true;
}

bool commission_rehearsal_ask(struct commission *c, struct rehearsal *r)
{
    (void)c;
    (void)r;
    return true;
}

bool commission_rehearsal_open(struct commission *machine, struct rehearsal *r, char why[200])
{
    (void)why;
    r->c = *machine;
    kr_image_clear(&r->c.client.image, (struct kr_format){.length_unit = KR_LENGTH_MM});
    kr_image_set_u16(&r->c.client.image, KR_REG_RAIL_REFERENCED, 0, 0, 1);
    for (uint16_t h = 0; h < 2; h++)
        kr_image_set_u16(&r->c.client.image, KR_REG_HOLDER_KNOWN, 0, h, KR_PLACED);
    return true;
}

bool commission_rehearsal_is_simulated(struct rehearsal *r, char why[200], bool *simulated)
{
    (void)r;
    (void)why;
    *simulated = true;
    return true;
}

void commission_rehearsal_close(struct commission *c, struct rehearsal *r)
{
    c->failed = r->c.failed;
}

/* ---- the second gateway ---------------------------------------------------------------------------------------- */

bool commission_look(struct commission *c)
{
    kr_image_set_u16(&c->client.image, KR_REG_RAIL_LINK, 0, 0, linked);
    return true;
}

bool commission_look_again(struct commission *c)
{
    now_ms += 20;
    return commission_look(c);
}

int64_t commission_now_ms(void)
{
    return now_ms;
}

uint16_t commission_unit_state(const struct commission *c)
{
    (void)c;
    return KR_STATE_COMPLETE;
}

bool commission_is_halted(const struct commission *c)
{
    (void)c;
    return false;
}

bool commission_alarm_look(struct commission *c, int64_t began_ms, struct kr_alarm_seen *seen)
{
    (void)c;
    seen->raised = true;
    seen->raised_ms = (int32_t)(now_ms - began_ms);
    return true;
}

void commission_alarm_instead(struct commission *c, struct kr_alarm_seen *seen)
{
    (void)c;
    (void)seen;
}

bool commission_alarm_away(struct commission *c, int32_t ms, struct kr_alarm_seen *seen)
{
    (void)c;
    (void)ms;
    seen->gone = true;
    return true;
}

bool commission_acknowledge(struct commission *c)
{
    (void)c;
    return true;
}

bool commission_command(struct commission *c, enum kr_command command, enum kr_code *code)
{
    (void)c;
    (void)command;
    *code = KR_OK;
    return true;
}

bool commission_start_once(struct commission *c, const struct commission_job *job, bool *started)
{
    (void)c;
    (void)job;
    *started = true;
    return true;
}

bool commission_job_end(struct commission *c, struct kr_job_seen *seen)
{
    (void)c;
    (void)seen;
    return true;
}

bool commission_stage_random(struct commission *c, uint32_t *seed, uint32_t *number)
{
    (void)c;
    (void)seed;
    *number = 1;
    return true;
}

bool commission_wait_control(struct commission *c)
{
    (void)c;
    return true;
}

bool commission_holders(struct commission *c, uint16_t rail)
{
    (void)c;
    (void)rail;
    return true;
}

bool commission_holder_serves(const struct commission *c, uint16_t rail, uint16_t holder)
{
    (void)c;
    (void)rail;
    (void)holder;
    return true;
}

int32_t commission_holder_um(const struct commission *c, uint16_t rail, uint16_t holder)
{
    (void)c;
    (void)rail;
    return 100000 * (holder + 1);
}

int32_t commission_room_um(const struct commission *c, uint16_t rail, uint16_t holder, int32_t by_um)
{
    return commission_holder_um(c, rail, holder) + by_um;
}

int32_t commission_place_um(const struct commission *c, uint16_t rail)
{
    (void)c;
    (void)rail;
    return 0;
}

void commission_say(const char *format, ...)
{
    (void)format;
}

bool commission_typed(struct commission *c, char line[COMMISSION_LINE_MAX])
{
    (void)c;
    (void)line;
    return false;
}

/* ---- lost links ------------------------------------------------------------------------------------------------ */

START_TEST(a_fault_that_strikes_while_the_link_is_lost_does_so_and_the_link_comes_back)
{
    ck_assert(walk(NULL));
    ck_assert(kr_step_passes(&verdict));
    ck_assert(linked);
    ck_assert_uint_eq(n_lost, n_back);
    /* The drive is told to call its place home; the carriage is pushed; the position jumps beyond the travel, and
     * back. */
    ck_assert_uint_eq(n_struck_without, 4);
}
END_TEST

static const char *const lines[] = {"break 1 link-lost", "mend 1 link-lost"};

START_TEST(a_control_socket_that_does_not_lose_a_link_or_give_it_back_ends_the_rehearsal_as_a_failure)
{
    ck_assert(!walk(lines[_i]));
    ck_assert(commission.failed);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission_rehearsal");
    TCase *all = suite_case(suite, "lost links");
    tcase_add_test(all, a_fault_that_strikes_while_the_link_is_lost_does_so_and_the_link_comes_back);
    tcase_add_loop_test(all, a_control_socket_that_does_not_lose_a_link_or_give_it_back_ends_the_rehearsal_as_a_failure,
                        0, 2);
    return suite;
}
