/* Tests of the audit: which events get a row of their own, which are counted, and which rows are stored later because
 * the book has failed. */
#include "audit.h"

#include <stdio.h>
#include <string.h>

#include "suite.h"

static struct audit audit; /* large */
static const uint16_t book_station[2] = {4, 7};

static void setup(void)
{
    audit_open(&audit, true, 100);
    audit.book_station = book_station;
}

static void tell(enum kr_audit_kind kind, const char *who)
{
    audit_tell(&audit, kind, 1, who, "exception 01", "writes block %s", "ORDER");
}

/* Gives it to the pool. Returns how often something happened, by its rows. */
static uint64_t times_given(void)
{
    uint64_t times = 0;
    audit_begin(&audit);
    for (uint16_t i = 0; i < audit.entry.n; i++)
        times += audit.entry.row[i].times;
    return times;
}

START_TEST(an_event_is_a_row_that_says_who_where_what_and_with_which_result)
{
    ck_assert(!audit_is_due(&audit));
    tell(KR_AUDIT_REFUSED, "192.0.2.7");
    audit_tell(&audit, KR_AUDIT_GATEWAY, 0, "gateway", "", "starts");
    ck_assert_uint_eq(times_given(), 2);
    const struct kr_audit_row *row = audit.entry.row;
    ck_assert_int_eq(row[0].id, 100);
    ck_assert_uint_eq(row[0].book_station, 4);
    ck_assert_str_eq(row[0].event.who, "192.0.2.7");
    ck_assert_str_eq(row[0].event.what, "writes block ORDER");
    ck_assert_str_eq(row[0].event.result, "exception 01");
    ck_assert_int_gt(row[0].at_utc_ms, 0);
    ck_assert_int_eq(row[1].id, 101);
    ck_assert_uint_eq(row[1].book_station, KR_BOOK_AUDIT_GATEWAY);
}
END_TEST

START_TEST(a_flood_of_one_client_is_few_rows_and_every_one_is_counted)
{
    for (int i = 0; i < 100000; i++)
        tell(KR_AUDIT_REFUSED, "192.0.2.7");
    ck_assert_uint_eq(times_given(), 100000);
    ck_assert_uint_le(audit.entry.n, 22);
}
END_TEST

START_TEST(a_count_that_goes_on_is_the_same_row)
{
    for (int i = 0; i < 1000; i++)
        tell(KR_AUDIT_REFUSED, "192.0.2.7");
    (void)times_given();
    struct kr_audit_row first = audit.entry.row[audit.entry.n - 1];
    ck_assert_uint_gt(first.times, 900);
    audit_ended(&audit, true, "");
    for (int i = 0; i < 500; i++)
        tell(KR_AUDIT_REFUSED, "192.0.2.7");
    ck_assert_uint_eq(times_given(), first.times + 500);
    ck_assert_uint_eq(audit.entry.n, 1);
    ck_assert_int_eq(audit.entry.row[0].id, first.id);
    ck_assert_int_eq(audit.entry.row[0].at_utc_ms, first.at_utc_ms);
}
END_TEST

START_TEST(a_flood_from_many_addresses_finds_room_and_hides_no_other_kind)
{
    char who[KR_AUDIT_WHO_MAX];
    uint64_t all = 0;
    for (int round = 0; round < 30; round++)
        for (int i = 0; i < 1000; i++, all++) {
            snprintf(who, sizeof who, "10.0.%d.%d", i / 250, i % 250);
            tell(KR_AUDIT_REFUSED, who);
        }
    tell(KR_AUDIT_HALT, "192.0.2.9");
    ck_assert_uint_eq(times_given(), all + 1);
    ck_assert_uint_le(audit.entry.n, KR_BOOK_AUDIT_ROWS);
    bool halted = false;
    for (uint16_t i = 0; i < audit.entry.n; i++)
        halted = halted || audit.entry.row[i].event.kind == KR_AUDIT_HALT;
    ck_assert(halted);
}
END_TEST

START_TEST(what_the_book_could_not_store_is_given_again_before_anything_else)
{
    tell(KR_AUDIT_COMMAND, "192.0.2.7");
    ck_assert_uint_eq(times_given(), 1);
    audit_ended(&audit, false, "no room");
    ck_assert(!audit_is_due(&audit)); /* a while later */
    for (int i = 0; i < 300; i++)
        tell(KR_AUDIT_COMMAND, "192.0.2.7");
    ck_assert_uint_eq(times_given(), 1);
    audit_ended(&audit, true, "");
    ck_assert_uint_eq(times_given(), 300);
    audit_ended(&audit, true, "");
    ck_assert_uint_eq(times_given(), 0);
}
END_TEST

START_TEST(without_a_book_nothing_is_kept)
{
    audit_open(&audit, false, 1);
    tell(KR_AUDIT_HALT, "192.0.2.7");
    ck_assert(!audit_is_due(&audit));
    ck_assert_uint_eq(times_given(), 0);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("audit");
    TCase *all = tcase_create("events");
    tcase_add_checked_fixture(all, setup, NULL);
    tcase_add_test(all, an_event_is_a_row_that_says_who_where_what_and_with_which_result);
    tcase_add_test(all, a_flood_of_one_client_is_few_rows_and_every_one_is_counted);
    tcase_add_test(all, a_count_that_goes_on_is_the_same_row);
    tcase_add_test(all, a_flood_from_many_addresses_finds_room_and_hides_no_other_kind);
    tcase_add_test(all, what_the_book_could_not_store_is_given_again_before_anything_else);
    tcase_add_test(all, without_a_book_nothing_is_kept);
    suite_add_tcase(suite, all);
    return suite;
}
