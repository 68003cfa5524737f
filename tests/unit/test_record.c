/* Tests of the lines that tell a changeover: even with the greatest number of holders and moves, each line is short
 * enough for a log, and they contain everything that the book stores of it. */
#include "record.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "suite.h"

#define LINES_MAX 64

static struct kr_book_changeover changeover; /* large */
static char *line[LINES_MAX];
static int n_lines;

static void keep(const char *text)
{
    ck_assert_int_lt(n_lines, LINES_MAX);
    line[n_lines++] = strdup(text);
}

/* Numbers as long as they get: a rail is 20 m long, and a changeover takes an hour. */
static int32_t far_um(int i)
{
    return -19999000 - i;
}

static void fill(void)
{
    changeover = (struct kr_book_changeover){.ended_utc_ms = 1772346600125,
                                             .record = {.number = 65535,
                                                        .outcome = KR_OUTCOME_VERIFIED,
                                                        .job = KR_JOB_CHANGEOVER,
                                                        .order_number = 4294967295u},
                                             .n_moves = KR_BOOK_MOVES_MAX,
                                             .moves_left_out = 3};
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        changeover.n_holders[r] = KR_HOLDERS_MAX;
        for (int h = 0; h < KR_HOLDERS_MAX; h++)
            changeover.holder[r][h] = (struct kr_book_holder){.cut = (uint16_t)(h + 1),
                                                              .known = h % 2 ? KR_MEASURED : KR_REMEMBERED,
                                                              .target_um = far_um(h),
                                                              .position_um = far_um(h) + 5 * r - h};
    }
    for (int m = 0; m < KR_BOOK_MOVES_MAX; m++)
        changeover.move[m] = (struct kr_book_move){.rail = (uint16_t)(m % KR_RAILS_MAX + 1),
                                                   .holder = (uint16_t)(m % KR_HOLDERS_MAX + 1),
                                                   .from_um = far_um(m),
                                                   .to_um = far_um(-m),
                                                   .start_ms = 3600000 + m,
                                                   .end_ms = 3700000 + m};
}

static void setup(void)
{
    n_lines = 0;
    fill();
}

static void teardown(void)
{
    for (int i = 0; i < n_lines; i++)
        free(line[i]);
}

static int64_t number_in(const json_t *table, const json_t *row, const char *column)
{
    size_t i;
    json_t *name;
    json_array_foreach(json_object_get(table, "columns"), i, name)
    {
        if (strcmp(json_string_value(name), column) == 0)
            return json_integer_value(json_array_get(row, i));
    }
    ck_abort_msg("there is no column %s", column);
    return 0;
}

static int judge_holders(int rail, const json_t *table)
{
    size_t i;
    json_t *row;
    json_array_foreach(json_object_get(table, "rows"), i, row)
    {
        const struct kr_book_holder *h = &changeover.holder[rail - 1][i];
        ck_assert_int_eq(number_in(table, row, "holder"), (int)i + 1);
        ck_assert_int_eq(number_in(table, row, "cut"), h->cut);
        ck_assert_int_eq(number_in(table, row, "target_um"), h->target_um);
        ck_assert_int_eq(number_in(table, row, "position_um"), h->position_um);
        ck_assert_str_eq(json_string_value(json_array_get(row, 4)),
                         h->known == KR_MEASURED ? "measured" : "remembered");
        ck_assert(json_is_null(json_array_get(row, 5)) == (h->known != KR_MEASURED));
        if (h->known == KR_MEASURED)
            ck_assert_int_eq(number_in(table, row, "deviation_um"), h->position_um - h->target_um);
    }
    return (int)i;
}

static int judge_moves(int rail, const json_t *table, bool told[KR_BOOK_MOVES_MAX])
{
    size_t i;
    json_t *row;
    json_array_foreach(json_object_get(table, "rows"), i, row)
    {
        int64_t number = number_in(table, row, "move");
        ck_assert(number >= 1 && number <= KR_BOOK_MOVES_MAX && !told[number - 1]);
        told[number - 1] = true;
        const struct kr_book_move *m = &changeover.move[number - 1];
        ck_assert_int_eq(rail, m->rail);
        ck_assert_int_eq(number_in(table, row, "holder"), m->holder);
        ck_assert_int_eq(number_in(table, row, "from_um"), m->from_um);
        ck_assert_int_eq(number_in(table, row, "to_um"), m->to_um);
        ck_assert_int_eq(number_in(table, row, "start_ms"), m->start_ms);
        ck_assert_int_eq(number_in(table, row, "end_ms"), m->end_ms);
    }
    return (int)i;
}

/* _i: the moves are spread over four rails, or are all of one */
START_TEST(of_4_rails_with_128_holders_each_no_line_is_longer_than_16_kB_and_nothing_is_lost)
{
    static bool told[KR_BOOK_MOVES_MAX];
    int holders = 0, moves = 0;
    memset(told, 0, sizeof told);
    for (int m = 0; _i == 1 && m < KR_BOOK_MOVES_MAX; m++)
        changeover.move[m].rail = 4;
    ck_assert(record_tell("heron mill, slitter 2", 65535, KR_LENGTH_MM, &changeover, keep));
    for (int i = 0; i < n_lines; i++) {
        ck_assert_uint_lt(strlen(line[i]), RECORD_LINE_MAX);
        json_t *read = json_loads(line[i], 0, NULL), *part = json_object_get(read, "record_part");
        ck_assert_ptr_nonnull(read);
        if (i == n_lines - 1) {
            const json_t *record = json_object_get(read, "record");
            ck_assert_int_eq(json_integer_value(json_object_get(record, "parts")), n_lines - 1);
            ck_assert_int_eq(json_integer_value(json_object_get(record, "moves_left_out")), 3);
        } else {
            int rail = (int)json_integer_value(json_object_get(part, "rail"));
            ck_assert_int_eq(json_integer_value(json_object_get(part, "number")), 65535);
            if (json_object_get(part, "holders") != NULL)
                holders += judge_holders(rail, json_object_get(part, "holders"));
            else
                moves += judge_moves(rail, json_object_get(part, "moves"), told);
        }
        json_decref(read);
    }
    ck_assert_int_eq(holders, KR_RAILS_MAX * KR_HOLDERS_MAX);
    ck_assert_int_eq(moves, KR_BOOK_MOVES_MAX);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("record");
    TCase *tc = suite_case(suite, "lines");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_loop_test(tc, of_4_rails_with_128_holders_each_no_line_is_longer_than_16_kB_and_nothing_is_lost, 0, 2);
    return suite;
}
