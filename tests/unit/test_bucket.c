/* Tests of buckets: how many lines of a log a client may cause. */
#include <stdio.h>

#include "kniferail/bucket.h"
#include "suite.h"

static const struct kr_bucket_rate three = {3, 100};

static struct kr_buckets buckets;

static void set_up(void)
{
    buckets = (struct kr_buckets){0};
}

static bool take(unsigned kind, const char *who, uint64_t now_ms)
{
    uint64_t left_out = 0;
    return kr_bucket_take(&buckets, kind, who, three, now_ms, &left_out);
}

static int taken(unsigned kind, const char *who, uint64_t now_ms, int tries)
{
    int n = 0;
    for (int i = 0; i < tries; i++)
        n += take(kind, who, now_ms);
    return n;
}

START_TEST(so_many_lines_come_at_once_and_then_one_in_a_while)
{
    ck_assert_int_eq(taken(1, "a", 1000, 10), 3);
    ck_assert_int_eq(taken(1, "a", 1099, 10), 0);
    ck_assert_int_eq(taken(1, "a", 1100, 10), 1);
    ck_assert_int_eq(taken(1, "a", 1299, 10), 1); /* the rest of a while is not lost */
    ck_assert_int_eq(taken(1, "a", 1300, 10), 1);
    ck_assert_int_eq(taken(1, "a", 99999999, 10), 3);
}
END_TEST

START_TEST(each_kind_and_each_address_has_its_own)
{
    ck_assert_int_eq(taken(1, "a", 0, 10), 3);
    ck_assert_int_eq(taken(2, "a", 0, 10), 3);
    ck_assert_int_eq(taken(1, "b", 0, 10), 3);
}
END_TEST

START_TEST(what_was_left_out_is_counted_and_told_once)
{
    uint64_t left_out = 99;
    struct kr_bucket_told told;
    taken(1, "a", 0, 13);
    ck_assert(!kr_bucket_tell(&buckets, KR_BUCKET_TELL_MS - 1, &told));
    ck_assert(kr_bucket_tell(&buckets, KR_BUCKET_TELL_MS, &told));
    ck_assert_uint_eq(told.left_out, 10);
    ck_assert_uint_eq(told.kind, 1);
    ck_assert_str_eq(told.who, "a");
    ck_assert(!kr_bucket_tell(&buckets, 2 * KR_BUCKET_TELL_MS, &told));
    taken(1, "a", 2 * KR_BUCKET_TELL_MS, 7);
    ck_assert(kr_bucket_take(&buckets, 1, "a", three, 2 * KR_BUCKET_TELL_MS + 100, &left_out));
    ck_assert_uint_eq(left_out, 4);
    ck_assert(kr_bucket_take(&buckets, 1, "a", three, 2 * KR_BUCKET_TELL_MS + 200, &left_out));
    ck_assert_uint_eq(left_out, 0);
}
END_TEST

/* However many come: the memory is bounded, the lines are, and nothing is left out without being counted. */
START_TEST(with_every_bucket_in_use_the_others_share_one_until_somebody_is_quiet)
{
    char who[16];
    int written = 0;
    uint64_t counted = 0;
    struct kr_bucket_told told;
    for (int i = 0; i < 1000; i++) {
        snprintf(who, sizeof who, "host %d", i);
        written += taken(1, who, 0, 5);
    }
    ck_assert_int_eq(written, 3 * KR_BUCKETS_MAX + 3);
    while (kr_bucket_tell(&buckets, KR_BUCKET_TELL_MS, &told))
        counted += told.left_out;
    ck_assert_uint_eq(counted, 5000u - (unsigned)written);
    ck_assert_int_eq(taken(1, "a newcomer", KR_BUCKET_TELL_MS, 5), 3);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("bucket");
    TCase *tc = suite_case(suite, "buckets");
    tcase_add_checked_fixture(tc, set_up, NULL);
    tcase_add_test(tc, so_many_lines_come_at_once_and_then_one_in_a_while);
    tcase_add_test(tc, each_kind_and_each_address_has_its_own);
    tcase_add_test(tc, what_was_left_out_is_counted_and_told_once);
    tcase_add_test(tc, with_every_bucket_in_use_the_others_share_one_until_somebody_is_quiet);
    return suite;
}
