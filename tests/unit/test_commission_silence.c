/* The trials of a silent link, of which a person may make each one again: whose measured time counts. Carriage, person
 * and clock are the test's own. */
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "../../src/cli/commission_moves.h"
#include "suite.h"

#define HOLDER_UM  500000
#define GLIMPSE_MS 10
#define STEP_UM    1000 /* 100 mm/s */

/* What happens in a try: the way that is left when the cable is pulled, the way from there to where the carriage
 * stands, and the time that is typed. */
struct
try {
    int32_t left_um, stops_um;
    const char *time;
};
static const struct try good_but_untimed = {300000, 10000, "0"}, good = {300000, 10000, "90"},
                        too_late = {10000, 10000, "90"};

static struct commission commission; /* large */
static struct kr_config_station station;
static struct kr_step_verdict verdict;
static const struct try *tries;
static unsigned n_tries, n_made, n_shows_nothing, n_nobody_measured;
static bool measures_again;
static int64_t now_ms;
static int32_t place_um, goal_um;
static bool back, stands, travels, linked; /* stands: a job has begun, and the carriage does not travel yet */

static bool walk(const struct try made[], unsigned n)
{
    memset(&station, 0, sizeof station);
    station.station.geometry.n_rails = 1;
    station.station.geometry.rail[0].n_holders = 1;
    station.station.geometry.rail[0].empty = (struct kr_speed){.v_um_per_s = 100000, .a_um_per_s2 = 1000000};
    station.station.carriage[0].setup_speed_um_per_s = 100000;
    station.station.carriage[0].park_window_um = 1000;
    station.drive[0].watchdog_ms = 100;
    memset(&commission, 0, sizeof commission);
    commission.station = &station;
    commission.config.period_ms = GLIMPSE_MS;
    kr_image_clear(&commission.client.image, (struct kr_format){.length_unit = KR_LENGTH_MM});
    memset(&verdict, 0, sizeof verdict);
    tries = made;
    n_tries = n;
    n_made = n_shows_nothing = n_nobody_measured = 0;
    now_ms = place_um = 0;
    back = stands = travels = false;
    linked = true;
    return commission_walk_SILENCE(&commission, 0, &verdict);
}

/* ---- the machine ----------------------------------------------------------------------------------------------- */

/* The carriage travels; at its place in this try the cable is pulled, and one glimpse later it is connected again. */
static void travel(void)
{
    const struct try *t = &tries[n_made - 1];
    int32_t way = goal_um > place_um ? 1 : -1;
    if (abs(goal_um - place_um) > t->left_um) {
        place_um += way * STEP_UM;
        return;
    }
    place_um += way * t->stops_um;
    travels = linked = false;
}

bool kr_client_block(struct kr_client *client, enum kr_block_id block)
{
    (void)block;
    now_ms += GLIMPSE_MS;
    if (travels)
        travel();
    else
        linked = true;
    kr_image_set_u16(&client->image, KR_REG_CARRIAGE_PHASE, 0, 0,
                     travels || !linked ? KR_CARRIAGE_TRAVELLING : KR_CARRIAGE_READY);
    kr_image_set_u16(&client->image, KR_REG_PHASE, 0, 0, back ? KR_PHASE_TRAVEL : KR_PHASE_MOVE);
    kr_image_set_u16(&client->image, KR_REG_RAIL_LINK, 0, 0, linked);
    travels = travels || stands;
    stands = false;
    return true;
}

bool kr_client_row(struct kr_client *client, enum kr_reg reg, uint16_t rail, uint16_t n)
{
    (void)client;
    (void)reg;
    (void)rail;
    (void)n;
    return true;
}

bool kr_client_open(struct kr_client *client, const struct kr_client_address *address)
{
    (void)client;
    (void)address;
    return false;
}

void kr_client_close(struct kr_client *client)
{
    (void)client;
}

int64_t commission_now_ms(void)
{
    return now_ms;
}

bool commission_look(struct commission *c)
{
    return kr_client_block(&c->client, KR_BLOCK_RUN);
}

bool commission_look_again(struct commission *c)
{
    return commission_look(c);
}

int32_t commission_place_um(const struct commission *c, uint16_t rail)
{
    (void)c;
    (void)rail;
    return place_um;
}

uint16_t commission_unit_state(const struct commission *c)
{
    (void)c;
    return KR_STATE_EXECUTE;
}

uint16_t commission_alarm(struct commission *c, char *text, size_t size)
{
    (void)c;
    if (size > 0)
        text[0] = '\0';
    return 0;
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
    (void)holder;
    return HOLDER_UM;
}

int32_t commission_room_um(const struct commission *c, uint16_t rail, uint16_t holder, int32_t most_um)
{
    return commission_holder_um(c, rail, holder) + most_um;
}

bool commission_start(struct commission *c, const struct commission_job *job)
{
    (void)c;
    (void)job;
    n_made++;
    place_um = back ? HOLDER_UM : 0;
    goal_um = back ? 0 : HOLDER_UM;
    stands = true;
    return true;
}

bool commission_stop(struct commission *c)
{
    (void)c;
    return true;
}

/* The scan that brings the carriage to rest. */
bool commission_job_run(struct commission *c, const struct commission_job *job, struct kr_job_seen *seen)
{
    (void)c;
    (void)job;
    place_um = 0;
    seen->complete = true;
    return true;
}

/* ---- the person ------------------------------------------------------------------------------------------------ */

void commission_say(const char *format, ...)
{
    (void)format;
}

/* The person leaves before a try that is not in the list. */
bool commission_ask_enter(struct commission *c, const char *format, ...)
{
    char text[1024];
    va_list values;
    (void)c;
    va_start(values, format);
    vsnprintf(text, sizeof text, format, values);
    va_end(values);
    back = strstr(text, "On the carriage's way back") != NULL;
    if (strstr(text, "On the carriage's way") != NULL) {
        ck_assert_ptr_nonnull(strstr(text, "from outside the zone"));
        ck_assert_ptr_nonnull(strstr(text, "A hand is at the emergency stop."));
    }
    return n_made < n_tries;
}

bool commission_ask_text(struct commission *c, char answer[COMMISSION_LINE_MAX], const char *format, ...)
{
    (void)c;
    ck_assert_ptr_nonnull(strstr(format, "How many milliseconds"));
    strcpy(answer, tries[n_made - 1].time);
    return true;
}

bool commission_ask_yes(struct commission *c, bool *yes, const char *format, ...)
{
    bool untimed = strstr(format, "Nobody has measured the time") != NULL;
    (void)c;
    n_nobody_measured += untimed;
    n_shows_nothing += !untimed;
    *yes = !untimed || measures_again;
    return true;
}

bool commission_in_inches(const struct commission *c)
{
    (void)c;
    return false;
}

bool commission_typed(struct commission *c, char line[COMMISSION_LINE_MAX])
{
    (void)c;
    (void)line;
    return false;
}

/* ---- whose time counts ----------------------------------------------------------------------------------------- */

START_TEST(a_time_that_was_measured_on_the_way_out_is_not_asked_for_on_the_way_back)
{
    const struct try made[] = {good, good_but_untimed};
    measures_again = false;
    ck_assert(!walk(made, 2)); /* the person leaves before the third trial */
    ck_assert_uint_eq(n_made, 2);
    ck_assert_uint_eq(n_nobody_measured + n_shows_nothing, 0);
    ck_assert(kr_step_passes(&verdict));
}
END_TEST

START_TEST(a_time_of_a_try_that_showed_nothing_and_was_made_again_does_not_count)
{
    const struct try made[] = {too_late, good_but_untimed, good_but_untimed};
    measures_again = false;
    ck_assert(walk(made, 3));
    ck_assert_uint_eq(n_made, 3);
    ck_assert_uint_eq(n_shows_nothing, 1);
    ck_assert_uint_eq(n_nobody_measured, 1);
    ck_assert(!kr_step_passes(&verdict));
    ck_assert_uint_eq(verdict.n_findings, 1);
    ck_assert_ptr_nonnull(strstr(verdict.finding[0].seen, "nobody measured the time"));
}
END_TEST

START_TEST(a_way_back_that_is_made_again_and_measured_passes)
{
    const struct try made[] = {good_but_untimed, good_but_untimed, good};
    measures_again = true;
    ck_assert(!walk(made, 3));
    ck_assert_uint_eq(n_made, 3);
    ck_assert_uint_eq(n_nobody_measured, 1);
    ck_assert(kr_step_passes(&verdict));
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission_silence");
    TCase *all = suite_case(suite, "trials");
    tcase_add_test(all, a_time_that_was_measured_on_the_way_out_is_not_asked_for_on_the_way_back);
    tcase_add_test(all, a_time_of_a_try_that_showed_nothing_and_was_made_again_does_not_count);
    tcase_add_test(all, a_way_back_that_is_made_again_and_measured_passes);
    return suite;
}
