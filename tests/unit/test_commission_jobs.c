/* The random orders that kniferail commission stages. The station is the test's own: it takes note of the orders, and
 * accepts one of them or none. */
#include <stdarg.h>
#include <string.h>

#include "../../src/cli/commission_moves.h"
#include "suite.h"

#define N_RAILS   2
#define N_HOLDERS 10
#define DRAWS     50

static struct commission commission; /* large */
static struct kr_config_station station;
static uint16_t n_orders, n_slits[DRAWS]; /* of each order */
static uint16_t accepts;                  /* number of the order that is accepted, from 1; 0: none */
static uint16_t requested;                /* number of the last request */
static const char *said;

static void begin(uint16_t accepted)
{
    memset(&station, 0, sizeof station);
    station.station.geometry = (struct kr_geometry){.n_rails = N_RAILS,
                                                    .n_sizes = 1,
                                                    .size_spacing_um = {50000},
                                                    .web_max_nm = INT64_C(1600) * 1000 * 1000,
                                                    .trim_min_nm = 10 * 1000 * 1000,
                                                    .trim_max_nm = 30 * 1000 * 1000};
    memset(&commission, 0, sizeof commission);
    commission.station = &station;
    kr_image_clear(&commission.client.image, (struct kr_format){.length_unit = KR_LENGTH_MM});
    for (uint16_t r = 0; r < N_RAILS; r++) {
        station.station.geometry.rail[r].n_holders = N_HOLDERS;
        for (uint16_t h = 0; h < N_HOLDERS; h++)
            kr_image_set_u16(&commission.client.image, KR_REG_HOLDER_STATE, r, h, KR_HOLDER_IN);
    }
    n_orders = requested = 0;
    accepts = accepted;
    said = "";
}

/* ---- the station ----------------------------------------------------------------------------------------------- */

bool kr_client_write(struct kr_client *client, uint16_t address, const uint16_t word[], uint16_t n)
{
    (void)client;
    if (address == kr_reg_address(KR_REG_ORDER_NUMBER, 0, 0)) {
        ck_assert_uint_lt(n_orders, DRAWS);
        n_slits[n_orders++] = word[kr_reg_address(KR_REG_SLIT_COUNT, 0, 0) - address];
    }
    if (address == kr_reg_address(KR_REG_REQUEST_SESSION, 0, 0))
        requested = word[n - 1];
    return true;
}

bool kr_client_block(struct kr_client *client, enum kr_block_id block)
{
    (void)client;
    (void)block;
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

bool commission_look(struct commission *c)
{
    kr_image_set_u16(&c->client.image, KR_REG_VERDICT_NUMBER, 0, 0, requested);
    kr_image_set_u16(&c->client.image, KR_REG_VERDICT_CODE, 0, 0, n_orders == accepts ? KR_OK : KR_SPACING);
    return true;
}

bool commission_look_again(struct commission *c)
{
    return commission_look(c);
}

bool commission_status(const struct commission *c, uint16_t status_bit)
{
    (void)c;
    (void)status_bit;
    return false;
}

uint16_t commission_unit_state(const struct commission *c)
{
    (void)c;
    return KR_STATE_COMPLETE;
}

uint16_t commission_alarm(struct commission *c, char *text, size_t size)
{
    (void)c;
    (void)text;
    (void)size;
    return 0;
}

bool commission_confirm_control(struct commission *c)
{
    (void)c;
    return true;
}

bool commission_start(struct commission *c, const struct commission_job *job)
{
    (void)c;
    ck_assert_int_eq(job->job, KR_JOB_CHANGEOVER);
    return false; /* no job matters here */
}

bool commission_stop(struct commission *c)
{
    (void)c;
    return true;
}

bool commission_job_has_ended(const struct commission *c)
{
    (void)c;
    return true;
}

/* ---- the person ------------------------------------------------------------------------------------------------ */

int64_t commission_now_ms(void)
{
    return 1000; /* it is the seed, too */
}

void commission_say(const char *format, ...)
{
    said = format;
}

bool commission_ask_enter(struct commission *c, const char *format, ...)
{
    (void)c;
    (void)format;
    return true;
}

bool commission_typed(struct commission *c, char line[COMMISSION_LINE_MAX])
{
    (void)c;
    (void)line;
    return false;
}

/* ---- the orders ------------------------------------------------------------------------------------------------ */

static uint16_t n_with_all_knives(uint16_t first, uint16_t end)
{
    uint16_t n = 0;
    for (uint16_t i = first; i < end; i++)
        n = (uint16_t)(n + (n_slits[i] == N_HOLDERS - 1));
    return n;
}

/* Who has to prove edges does not wait until chance lets each knife cut. */
START_TEST(the_order_for_edges_and_clearances_has_as_many_slits_as_there_are_knives_for)
{
    struct kr_job_seen job;
    begin(1);
    ck_assert(!commission_need_order(&commission, &job));
    ck_assert_uint_eq(n_orders, 1);
    ck_assert_uint_eq(n_slits[0], N_HOLDERS - 1);
    begin(0); /* where the station takes none of these, orders with fewer slits follow */
    ck_assert(!commission_need_order(&commission, &job));
    ck_assert_uint_eq(n_orders, DRAWS);
    ck_assert_uint_eq(n_with_all_knives(0, DRAWS / 2), DRAWS / 2);
    ck_assert_uint_lt(n_with_all_knives(DRAWS / 2, DRAWS), DRAWS / 2);
    ck_assert_ptr_nonnull(strstr(said, "the station accepted none"));
}
END_TEST

START_TEST(a_random_order_has_a_random_number_of_slits)
{
    uint32_t seed = 1, number = 0;
    begin(DRAWS);
    ck_assert(commission_stage_random(&commission, &seed, &number));
    ck_assert_uint_ne(number, 0);
    ck_assert_uint_eq(n_orders, DRAWS);
    ck_assert_uint_lt(n_with_all_knives(0, DRAWS), DRAWS / 2);
    for (uint16_t i = 0; i < DRAWS; i++)
        ck_assert_msg(n_slits[i] >= 1 && n_slits[i] < N_HOLDERS, "order %u has %u slits", i + 1u, n_slits[i]);
}
END_TEST

START_TEST(where_no_order_can_be_drawn_none_is_sent_and_it_is_said_why)
{
    uint32_t seed = 1, number;
    begin(0);
    for (uint16_t h = 1; h < N_HOLDERS; h++)
        kr_image_set_u16(&commission.client.image, KR_REG_HOLDER_STATE, 1, h, KR_HOLDER_OUT);
    ck_assert(!commission_stage_random(&commission, &seed, &number));
    ck_assert_uint_eq(n_orders, 0);
    ck_assert_ptr_nonnull(strstr(said, "two holders in service"));
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("commission_jobs");
    TCase *all = suite_case(suite, "random orders");
    tcase_add_test(all, the_order_for_edges_and_clearances_has_as_many_slits_as_there_are_knives_for);
    tcase_add_test(all, a_random_order_has_a_random_number_of_slits);
    tcase_add_test(all, where_no_order_can_be_drawn_none_is_sent_and_it_is_said_why);
    return suite;
}
