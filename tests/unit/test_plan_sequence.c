/* Compares the search for a sequence of moves with published stacker crane problems whose optima are known:
 * tests/reference/data/plan_vectors.csv. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "beam.h"
#include "sequence.h"
#include "suite.h"

static struct moves moves;
static struct ways ways;
static struct match match;
static struct beam beam;

static int numbers_in(const char *text, long value[])
{
    int n = 0;
    for (char *end; *text != '\0'; text = end, n++) {
        value[n] = strtol(text, &end, 10);
        if (end == text)
            break;
    }
    return n;
}

/* Time is distance, and nobody binds anybody. */
static void set_up_crane(long start, const long from[], const long to[], int n)
{
    memset(&moves, 0, sizeof moves);
    moves.n = n;
    moves.start_us = ways.start_us;
    moves.carriage = start;
    for (int a = 0; a < n; a++) {
        moves.fixed_us += labs(to[a] - from[a]);
        moves.site[a] = (int16_t)a;
        moves.moves[a] = true;
        moves.p[a] = from[a];
        moves.x[a] = to[a];
        moves.way_us[a] = ways.us[a][0];
        ways.start_us[a] = (int32_t)labs(from[a] - start);
        for (int b = 0; b < n; b++)
            ways.us[a][0][b] = (int32_t)labs(from[b] - to[a]);
    }
}

START_TEST(cranes_take_their_least_way)
{
    char line[200], a[20], b[60], c[60];
    int answer, seen = 0;
    FILE *file = fopen("tests/reference/data/plan_vectors.csv", "r");
    ck_assert_ptr_nonnull(file);
    while (fgets(line, sizeof line, file) != NULL) {
        long start[4], from[16], to[16];
        int16_t sequence[MOVES_MAX];
        int64_t steps = 100000, best = INT64_MAX;
        bool proven;
        if (sscanf(line, "%*[^,],crane,%19[^,],%59[^,],%59[^,],%d", a, b, c, &answer) != 4)
            continue;
        numbers_in(a, start);
        int n = numbers_in(b, from);
        ck_assert_int_eq(numbers_in(c, to), n);
        set_up_crane(start[0], from, to, n);
        int64_t bound = bound_match(&match, &moves, &steps);
        ck_assert_int_le(bound, answer);
        ck_assert_int_eq(sequence_find(&moves, sequence, &steps), answer);
        ck_assert(beam_search(&beam, &moves, &match, bound, 1024, sequence, &best, &proven, &steps));
        ck_assert_int_eq(best, answer);
        ck_assert_int_eq(moves_time_us(&moves, sequence), answer);
        ck_assert(proven);
        seen++;
    }
    fclose(file);
    ck_assert_int_eq(seen, 6);
}
END_TEST

/* 1 before 0, 2 before 1: only one sequence is left, and the exchange of blocks won't break it. */
START_TEST(what_must_be_first_stays_first)
{
    int16_t sequence[MOVES_MAX];
    int64_t steps = 100000;
    set_up_crane(0, (long[]){10, 20, 30}, (long[]){15, 25, 35}, 3);
    moves.link[1] = moves.link[2] = 1;
    sequence_find(&moves, sequence, &steps);
    ck_assert_int_eq(sequence[0], 2);
    ck_assert_int_eq(sequence[1], 1);
    ck_assert_int_eq(sequence[2], 0);
    ck_assert(moves_precede(&moves, 2, 0));
    ck_assert(!moves_may_follow(&moves, 2, 0)); /* 1 has to come in between */
    ck_assert(!moves_may_follow(&moves, 0, 1));
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("move sequence");
    TCase *tc = suite_case(suite, "sequence");
    tcase_add_test(tc, cranes_take_their_least_way);
    tcase_add_test(tc, what_must_be_first_stays_first);
    return suite;
}
