/* Tests of the planner's rules, one by one. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/plan.h"
#include "plan_checker.h"
#include "suite.h"

#define MM        1000 /* um */
#define NM_PER_MM 1000000

static struct kr_plan_request q;
static struct kr_plan plan;
static void *workspace;

static void setup(void)
{
    workspace = malloc(kr_plan_workspace_size());
    ck_assert_ptr_nonnull(workspace);
    memset(workspace, 0xa5, kr_plan_workspace_size()); /* it needs no initialisation */
    memset(&q, 0, sizeof q);
    memset(&plan, 0, sizeof plan);
}

static void teardown(void)
{
    free(workspace);
}

/* One rail of a metre; holders where they are said to be, in mm. */
static void rail_with(int n, const int32_t mm[])
{
    q.geometry = (struct kr_geometry){
        .n_rails = 1,
        .rails_together = true,
        .n_sizes = 3,
        .size_spacing_um = {25400, 50800, 76200}, /* 1, 2, 3 in: common practice, no published source */
        .web_centre_um = 500 * MM,
        .web_max_nm = (int64_t)1000 * NM_PER_MM,
        .trim_max_nm = (int64_t)1000 * NM_PER_MM,
        .shift_max_um = 500 * MM,
        .tolerance_max_um = 1000,
        .idle_clearance_um = 10 * MM,
    };
    q.geometry.rail[0] = (struct kr_rail_geometry){
        .n_holders = (uint16_t)n,
        .max_um = 1000 * MM,
        .empty = {1000000, 1000000},
        .drag = {500000, 1000000},
        .dock_us = 800000,
        .undock_us = 800000,
    };
    q.deadband_um = 50;
    for (int i = 0; i < n; i++)
        q.rail[0].holder[i] = (struct kr_holder){.position_um = mm[i] * MM, .holder_size = 1};
}

/* An order whose cut lines are these, in um. */
static void order_cuts(int n, const int32_t um[])
{
    q.order = (struct kr_order){.alignment = KR_FROM_OPERATOR_EDGE, .n_slits = (uint16_t)(n - 1)};
    q.order.web_width_nm = (int64_t)1000 * NM_PER_MM;
    q.order.trim_nm = (int64_t)um[0] * 1000;
    for (int i = 0; i + 1 < n; i++)
        q.order.width_nm[i] = (int64_t)(um[i + 1] - um[i]) * 1000;
}

static void expect_plan(void)
{
    char text[200];
    struct kr_result r = kr_plan_make(&q, workspace, &plan);
    kr_result_text(&r, KR_LENGTH_MM, text, sizeof text);
    ck_assert_msg(r.code == KR_OK, "%s", text);
    const char *bad = plan_checker(&q, &plan);
    ck_assert_msg(bad == NULL, "%s", bad);
}

static void expect_refusal(enum kr_code code, int rail, int item, int32_t value, int32_t limit)
{
    struct kr_plan before;
    memset(&plan, 0x3c, sizeof plan);
    before = plan;
    struct kr_result r = kr_plan_make(&q, workspace, &plan);
    ck_assert_int_eq(r.code, code);
    ck_assert_int_eq(r.rail, rail);
    ck_assert_int_eq(r.item, item);
    ck_assert_int_eq(r.value, value);
    ck_assert_int_eq(r.limit, limit);
    ck_assert_mem_eq(&plan, &before, sizeof plan);
}

/* ---- refusals ------------------------------------------------------------------------------------------- */

START_TEST(cuts_at_their_exact_spacing_are_accepted_and_a_micrometre_less_is_refused)
{
    rail_with(3, (int32_t[]){100, 200, 300});
    order_cuts(3, (int32_t[]){400000, 425400, 450800});
    expect_plan();
    order_cuts(3, (int32_t[]){400000, 425399, 450800});
    expect_refusal(KR_SLIT_TOO_NARROW, 1, 1, 25399, 25400);
    order_cuts(3, (int32_t[]){400000, 425400, 450799});
    expect_refusal(KR_SLIT_TOO_NARROW, 1, 2, 25399, 25400);
}
END_TEST

START_TEST(too_few_holders_in_service_are_counted)
{
    rail_with(3, (int32_t[]){100, 200, 300});
    order_cuts(3, (int32_t[]){400000, 500000, 600000});
    q.rail[0].holder[1].state = KR_HOLDER_OUT;
    expect_refusal(KR_TOO_FEW_HOLDERS, 1, 0, 2, 3);
}
END_TEST

START_TEST(a_cut_beyond_the_rail_names_the_place_and_the_limit)
{
    rail_with(2, (int32_t[]){100, 200});
    q.geometry.rail[0].max_um = 600 * MM;
    order_cuts(2, (int32_t[]){400000, 600000});
    expect_plan();
    order_cuts(2, (int32_t[]){400000, 600001});
    expect_refusal(KR_CUT_OFF_RAIL, 1, 2, 600001, 600000);
}
END_TEST

START_TEST(an_idle_holder_without_room_names_where_it_could_be)
{
    rail_with(3, (int32_t[]){100, 200, 300});
    q.rail[0].holder[0].state = KR_HOLDER_OUT;
    order_cuts(2, (int32_t[]){25400, 500000});
    expect_plan();
    order_cuts(2, (int32_t[]){25399, 500000});
    expect_refusal(KR_NO_ROOM_FOR_IDLE, 1, 1, 0, -1);
}
END_TEST

START_TEST(a_fixed_holder_in_the_way_says_what_room_it_leaves)
{
    rail_with(3, (int32_t[]){100, 200, 300});
    q.deadband_um = 0;
    q.rail[0].holder[1].state = KR_HOLDER_FIXED;
    order_cuts(2, (int32_t[]){174600, 500000});
    expect_plan();
    order_cuts(2, (int32_t[]){180000, 500000});
    expect_refusal(KR_FIXED_IN_THE_WAY, 1, 2, 20000, 25400);
}
END_TEST

START_TEST(holders_out_of_their_order_are_no_place_to_start_from)
{
    rail_with(2, (int32_t[]){300, 200});
    order_cuts(2, (int32_t[]){400000, 600000});
    expect_refusal(KR_HOLDERS_DISORDERED, 1, 2, 200000, 300000);
}
END_TEST

START_TEST(a_refusal_says_what_would_help)
{
    char text[200];
    rail_with(3, (int32_t[]){100, 200, 300});
    order_cuts(3, (int32_t[]){400000, 424900, 450800});
    struct kr_result r = kr_plan_make(&q, workspace, &plan);
    kr_plan_advice(&q, &r, KR_LENGTH_MM, text, sizeof text);
    ck_assert_str_eq(text, "make slit 1 at least 0.500 mm wider");
    order_cuts(3, (int32_t[]){400000, 500000, 600000});
    q.rail[0].holder[1].state = KR_HOLDER_OUT;
    r = kr_plan_make(&q, workspace, &plan);
    kr_plan_advice(&q, &r, KR_LENGTH_MM, text, sizeof text);
    ck_assert_str_eq(text, "1 more upper holder in service would do; 1 is not");
}
END_TEST

/* ---- who stays, who moves ---------------------------------------------------------------------------------- */

START_TEST(a_holder_within_its_deadband_stays_and_one_beyond_it_moves)
{
    rail_with(2, (int32_t[]){400, 600});
    q.rail[0].holder[0].position_um = 400050;
    q.rail[0].holder[1].position_um = 600051;
    order_cuts(2, (int32_t[]){400000, 600000});
    expect_plan();
    ck_assert_int_eq(plan.rail[0].n_moves, 1);
    ck_assert_int_eq(plan.rail[0].move[0].holder, 2);
    ck_assert_int_eq(plan.rail[0].holder[0].target_um, 400000);
}
END_TEST

START_TEST(a_holder_within_its_deadband_moves_if_it_is_in_a_neighbours_way)
{
    rail_with(2, (int32_t[]){400, 600});
    q.rail[0].holder[0].position_um = 400050; /* leaves 25.350 mm to the neighbour's cut */
    order_cuts(2, (int32_t[]){400000, 425400});
    expect_plan();
    ck_assert_int_eq(plan.rail[0].n_moves, 2);
    ck_assert_int_eq(plan.rail[0].holder[0].reason, KR_WHY_ROOM);
    ck_assert_int_eq(plan.rail[0].move[0].holder, 1);
    ck_assert_int_eq(plan.rail[0].move[1].after[0], 1);
}
END_TEST

START_TEST(idle_holders_in_contact_with_some_error_of_measurement_are_left_alone)
{
    rail_with(6, (int32_t[]){0, 0, 0, 0, 800, 900});
    for (int i = 0; i < 4; i++)
        q.rail[0].holder[i].position_um = 100000 + i * 25400 + (i % 2 ? -20 : 20);
    order_cuts(2, (int32_t[]){700000, 850000});
    expect_plan();
    ck_assert_int_eq(plan.rail[0].n_moves, 2);
}
END_TEST

START_TEST(a_gap_found_too_narrow_by_more_than_the_deadbands_is_opened)
{
    rail_with(3, (int32_t[]){100, 120, 500});
    order_cuts(1 + 1, (int32_t[]){500000, 600000});
    q.rail[0].holder[0].state = KR_HOLDER_OUT;
    q.rail[0].holder[1].state = KR_HOLDER_OUT;
    q.order.edge_flags = KR_UNTRIMMED_DRIVE;
    q.order.web_width_nm = (int64_t)1000 * NM_PER_MM;
    q.order.width_nm[0] = (int64_t)500 * NM_PER_MM; /* one cut, at 500 mm */
    expect_plan();
    ck_assert_int_eq(plan.rail[0].n_moves, 1);
    ck_assert_int_le(plan.rail[0].move[0].holder, 2);
}
END_TEST

START_TEST(of_idle_holders_pushed_together_as_few_move_as_can)
{
    /* Spacings of 25.4 mm: the second stands so near to the first that only one of them may stay beside the others. */
    rail_with(7, (const int32_t[]){100, 110, 126, 152, 178, 204, 900});
    order_cuts(2, (const int32_t[]){600000, 900000});
    q.rail[0].holder[5].position_um = 600000;
    expect_plan();
    ck_assert_uint_eq(plan.rail[0].n_moves, 2);
    ck_assert_uint_eq(plan.rail[0].holder[0].moved, 1);
    ck_assert_uint_eq(plan.rail[0].holder[1].moved, 1);
}
END_TEST

START_TEST(no_bound_of_all_plans_is_claimed_where_dragging_is_quicker_than_travelling_empty)
{
    rail_with(4, (const int32_t[]){100, 200, 300, 400});
    order_cuts(2, (const int32_t[]){500000, 800000});
    expect_plan();
    ck_assert_int_gt(plan.rail[0].bound_us, 0);
    q.geometry.rail[0].empty = (struct kr_speed){100000, 1000000};
    expect_plan();
    ck_assert_int_eq(plan.rail[0].bound_us, 0);
    ck_assert_int_gt(plan.rail[0].sequence_bound_us, 0);
    ck_assert_int_eq(plan.bound_us, 0);
}
END_TEST

START_TEST(a_rail_on_which_everything_goes_at_1_mm_a_second_is_planned)
{
    int32_t mm[100], cut_um[60]; /* the sanitizers watch its sums */
    for (int i = 0; i < 100; i++)
        mm[i] = i < 50 ? i * 26 : 20000 - (100 - i) * 26;
    rail_with(100, mm);
    q.geometry.web_centre_um = 10000 * MM;
    q.geometry.web_max_nm = (int64_t)20000 * NM_PER_MM;
    q.geometry.trim_max_nm = (int64_t)20000 * NM_PER_MM;
    q.geometry.rail[0].max_um = 20000 * MM;
    q.geometry.rail[0].empty = q.geometry.rail[0].drag = (struct kr_speed){1000, 1000};
    for (int i = 0; i < 60; i++)
        cut_um[i] = (1500 + 280 * i) * MM;
    order_cuts(60, cut_um);
    q.order.web_width_nm = (int64_t)20000 * NM_PER_MM;
    expect_plan();
}
END_TEST

START_TEST(idle_holders_leave_the_web_where_the_station_wants_it)
{
    rail_with(4, (int32_t[]){100, 300, 500, 700});
    q.geometry.idle_policy = KR_IDLE_OUTSIDE_WEB;
    order_cuts(2, (int32_t[]){400000, 600000});
    q.order.web_width_nm = (int64_t)400 * NM_PER_MM; /* 300 to 700 mm */
    q.order.trim_nm = (int64_t)100 * NM_PER_MM;
    expect_plan();
    ck_assert_int_eq(plan.rail[0].holder[3].target_um, 710000);
    ck_assert_int_eq(plan.rail[0].holder[3].reason, KR_WHY_CLEAR);
}
END_TEST

START_TEST(a_park_clears_the_web_of_all_that_can_move)
{
    rail_with(4, (int32_t[]){100, 350, 500, 650});
    q.park = true;
    q.rail[0].holder[2].state = KR_HOLDER_FIXED;
    q.order.web_width_nm = (int64_t)400 * NM_PER_MM;
    expect_plan();
    ck_assert_int_eq(plan.cuts.n_cuts, 0);
    ck_assert_int_eq(plan.rail[0].n_moves, 2);
    ck_assert_int_eq(plan.rail[0].holder[1].target_um, 290000);
    ck_assert_int_eq(plan.rail[0].holder[3].target_um, 710000);
}
END_TEST

START_TEST(an_absent_holder_takes_no_room)
{
    rail_with(3, (int32_t[]){100, 200, 300});
    q.rail[0].holder[1].state = KR_HOLDER_ABSENT;
    q.rail[0].holder[1].position_um = INT32_MAX; /* not read */
    order_cuts(2, (int32_t[]){400000, 425400});
    expect_plan();
    ck_assert_int_eq(plan.rail[0].holder[1].moved, 0);
}
END_TEST

START_TEST(nothing_to_do_takes_no_time)
{
    rail_with(2, (int32_t[]){400, 600});
    order_cuts(2, (int32_t[]){400000, 600000});
    expect_plan();
    ck_assert_int_eq(plan.time_us, 0);
    ck_assert_int_eq(plan.bound_us, 0);
    /* A count that is left in there would be a large one */
    memset(workspace, 0x11, kr_plan_workspace_size());
    expect_plan();
    ck_assert_int_eq(plan.time_us, 0);
}
END_TEST

/* ---- paths, times, rails ------------------------------------------------------------------------------------- */

START_TEST(a_move_takes_travel_docking_dragging_and_undocking)
{
    rail_with(1, (int32_t[]){250});
    order_cuts(2, (int32_t[]){500000, 600000});
    q.order.edge_flags = KR_UNTRIMMED_DRIVE;
    q.order.width_nm[0] = (int64_t)500 * NM_PER_MM;
    expect_plan();
    /* 0.25 m empty: 2 sqrt(0.25) = 1 s; 0.25 m at 0.5 m/s, 1 m/s2: 0.5 + 0.5 = 1 s; 0.8 s twice */
    ck_assert_int_eq(plan.time_us, 3600000);
    ck_assert_int_eq(plan.bound_us, 3600000);
}
END_TEST

START_TEST(an_approach_from_one_side_overtravels_and_costs_time)
{
    rail_with(1, (int32_t[]){750});
    order_cuts(2, (int32_t[]){500000, 600000});
    q.order.edge_flags = KR_UNTRIMMED_DRIVE;
    q.order.width_nm[0] = (int64_t)500 * NM_PER_MM;
    q.geometry.rail[0].approach = 1;
    q.geometry.rail[0].overtravel_um = 10000;
    q.rail[0].carriage_um = 750000;
    expect_plan();
    /* 0.26 m at 0.5 m/s: 0.52 + 0.5 s; 0.01 m: 2 sqrt(0.01) = 0.2 s; 1.6 s */
    ck_assert_int_eq(plan.time_us, 2820000);
    q.geometry.rail[0].min_um = 490001; /* no room for the overtravel */
    expect_refusal(KR_CUT_OFF_RAIL, 1, 1, 490000, 490001);
}
END_TEST

START_TEST(every_rail_cuts_at_every_line_a_third_one_too)
{
    rail_with(3, (int32_t[]){100, 200, 300});
    q.geometry.n_rails = 3;
    for (int i = 1; i < 3; i++) {
        q.geometry.rail[i] = q.geometry.rail[0];
        q.rail[i] = q.rail[0];
    }
    q.geometry.rail[1].role = KR_LOWER;
    q.geometry.rail[0].cut_side_um = -150;
    order_cuts(2, (int32_t[]){400000, 600000});
    expect_plan();
    int64_t slowest = 0, sum = 0;
    for (int i = 0; i < 3; i++) {
        int cuts = 0;
        for (int k = 0; k < 3; k++)
            cuts += plan.rail[i].holder[k].cut > 0;
        ck_assert_int_eq(cuts, 2);
        sum += plan.rail[i].time_us;
        slowest = plan.rail[i].time_us > slowest ? plan.rail[i].time_us : slowest;
    }
    ck_assert_int_eq(plan.time_us, slowest);
    q.geometry.rails_together = false;
    expect_plan();
    ck_assert_int_eq(plan.time_us, sum);
}
END_TEST

START_TEST(the_same_arguments_give_the_same_plan)
{
    struct kr_plan first;
    rail_with(8, (int32_t[]){50, 120, 210, 330, 450, 520, 700, 900});
    order_cuts(5, (int32_t[]){200000, 300000, 410000, 650000, 800000});
    expect_plan();
    first = plan;
    memset(workspace, 0x11, kr_plan_workspace_size());
    expect_plan();
    ck_assert_mem_eq(&first, &plan, sizeof plan);
}
END_TEST

/* The lower rail has less to do: while the upper one still works, a spare lower holder may go where the next order
 * wants it. */
START_TEST(a_known_next_order_is_prepared_without_lengthening_this_changeover)
{
    struct kr_plan plain;
    rail_with(4, (int32_t[]){100, 300, 500, 900});
    q.geometry.n_rails = 2;
    q.geometry.rail[1] = q.geometry.rail[0];
    q.geometry.rail[1].role = KR_LOWER;
    q.rail[1] = q.rail[0];
    q.rail[1].holder[1].position_um = 200000;
    q.rail[1].holder[2].position_um = 400000;
    order_cuts(2, (int32_t[]){200000, 400000});
    q.next = q.order;
    order_cuts(4, (int32_t[]){50000, 200000, 400000, 700000});
    struct kr_order next = q.order;
    q.order = q.next;
    q.next = next;
    expect_plan();
    plain = plan;
    ck_assert_int_eq(plain.rail[1].n_moves, 0);
    q.next_known = true;
    expect_plan();
    ck_assert_int_eq(plan.time_us, plain.time_us);
    ck_assert_int_gt(plan.rail[1].n_moves, 0);
    ck_assert_int_eq(plan.rail[1].holder[plan.rail[1].move[0].holder - 1].reason, KR_WHY_NEXT);
}
END_TEST

/* Cut off after each move in turn, the one in hand dropped half way: the rest is planned anew. */
START_TEST(a_changeover_cut_off_anywhere_is_planned_anew_from_where_things_are)
{
    rail_with(8, (int32_t[]){50, 120, 210, 330, 450, 520, 700, 900});
    order_cuts(6, (int32_t[]){300000, 400000, 510000, 650000, 700000, 950000});
    expect_plan();
    struct kr_plan whole = plan;
    for (int m = 0; m < whole.rail[0].n_moves; m++) {
        const struct kr_move *v = &whole.rail[0].move[m];
        struct kr_rail_now before = q.rail[0];
        q.rail[0].carriage_um = q.rail[0].holder[v->holder - 1].position_um = v->from_um + (v->to_um - v->from_um) / 2;
        expect_plan();
        q.rail[0] = before;
        q.rail[0].carriage_um = q.rail[0].holder[v->holder - 1].position_um = v->to_um;
        expect_plan();
        ck_assert_int_le(plan.rail[0].time_us, whole.rail[0].time_us - v->end_us);
    }
    ck_assert_int_eq(plan.rail[0].n_moves, 0);
}
END_TEST

/* ---- cases with known answers ---------------------------------------------------------------------------------- */

struct numbers {
    int n;
    int32_t value[16];
};

static struct numbers numbers_in(const char *text)
{
    struct numbers v = {0};
    for (char *end; *text != '\0'; text = end) {
        v.value[v.n] = (int32_t)strtol(text, &end, 10);
        if (end == text)
            break;
        v.n++;
    }
    return v;
}

/* The file's lengths are taken as mm; only the dragging takes time worth speaking of. */
static void set_up_vector(struct numbers at, struct numbers to, int32_t spacing)
{
    rail_with(at.n, at.value);
    q.geometry.rail[0].dock_us = q.geometry.rail[0].undock_us = 0;
    q.geometry.rail[0].empty = (struct kr_speed){2000000000, 2000000000};
    q.geometry.rail[0].drag = (struct kr_speed){1000, 2000000000};
    for (int i = 0; i < 3; i++)
        q.geometry.size_spacing_um[i] = spacing * MM;
    for (int i = 0; i < to.n; i++)
        to.value[i] *= MM;
    order_cuts(to.n, to.value);
    expect_plan();
}

static void check_order(const char *want)
{
    char got[80] = "";
    for (int holder = 1; holder <= q.geometry.rail[0].n_holders; holder++) {
        for (int first = 1; first <= q.geometry.rail[0].n_holders; first++) {
            for (int m = 0; m < plan.rail[0].n_moves; m++) {
                const struct kr_move *v = &plan.rail[0].move[m];
                if (v->holder == holder && (v->after[0] == first || v->after[1] == first))
                    snprintf(got + strlen(got), sizeof got - strlen(got), "%s%d<%d", got[0] ? " " : "", first, holder);
            }
        }
    }
    ck_assert_str_eq(got[0] ? got : "none", want);
}

static void check_assigned(const char *want)
{
    char got[80] = "";
    for (int i = 0; i < q.geometry.rail[0].n_holders; i++) {
        if (plan.rail[0].holder[i].cut > 0)
            snprintf(got + strlen(got), sizeof got - strlen(got), "%s%d", got[0] ? " " : "", i + 1);
    }
    ck_assert_str_eq(got, want);
}

START_TEST(orders_and_assignments_agree_with_those_found_by_exhaustive_search)
{
    char line[200], kind[20], a[60], b[60], answer[60];
    int spacing, seen = 0;
    FILE *file = fopen("tests/reference/data/plan_vectors.csv", "r");
    ck_assert_ptr_nonnull(file);
    while (fgets(line, sizeof line, file) != NULL) {
        if (line[0] == '#' ||
            sscanf(line, "%*[^,],%19[^,],%59[^,],%59[^,],%d,%59[^\n]", kind, a, b, &spacing, answer) != 5)
            continue;
        set_up_vector(numbers_in(a), numbers_in(b), spacing);
        if (strcmp(kind, "order") == 0)
            check_order(answer);
        else
            check_assigned(answer);
        seen++;
    }
    fclose(file);
    ck_assert_int_eq(seen, 7);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("plan");
    TCase *tc = suite_case(suite, "rules");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, cuts_at_their_exact_spacing_are_accepted_and_a_micrometre_less_is_refused);
    tcase_add_test(tc, too_few_holders_in_service_are_counted);
    tcase_add_test(tc, a_cut_beyond_the_rail_names_the_place_and_the_limit);
    tcase_add_test(tc, an_idle_holder_without_room_names_where_it_could_be);
    tcase_add_test(tc, a_fixed_holder_in_the_way_says_what_room_it_leaves);
    tcase_add_test(tc, holders_out_of_their_order_are_no_place_to_start_from);
    tcase_add_test(tc, a_refusal_says_what_would_help);
    tcase_add_test(tc, a_holder_within_its_deadband_stays_and_one_beyond_it_moves);
    tcase_add_test(tc, a_holder_within_its_deadband_moves_if_it_is_in_a_neighbours_way);
    tcase_add_test(tc, idle_holders_in_contact_with_some_error_of_measurement_are_left_alone);
    tcase_add_test(tc, a_gap_found_too_narrow_by_more_than_the_deadbands_is_opened);
    tcase_add_test(tc, of_idle_holders_pushed_together_as_few_move_as_can);
    tcase_add_test(tc, no_bound_of_all_plans_is_claimed_where_dragging_is_quicker_than_travelling_empty);
    tcase_add_test(tc, a_rail_on_which_everything_goes_at_1_mm_a_second_is_planned);
    tcase_add_test(tc, idle_holders_leave_the_web_where_the_station_wants_it);
    tcase_add_test(tc, a_park_clears_the_web_of_all_that_can_move);
    tcase_add_test(tc, an_absent_holder_takes_no_room);
    tcase_add_test(tc, nothing_to_do_takes_no_time);
    tcase_add_test(tc, a_move_takes_travel_docking_dragging_and_undocking);
    tcase_add_test(tc, an_approach_from_one_side_overtravels_and_costs_time);
    tcase_add_test(tc, every_rail_cuts_at_every_line_a_third_one_too);
    tcase_add_test(tc, the_same_arguments_give_the_same_plan);
    tcase_add_test(tc, a_known_next_order_is_prepared_without_lengthening_this_changeover);
    tcase_add_test(tc, a_changeover_cut_off_anywhere_is_planned_anew_from_where_things_are);
    tcase_add_test(tc, orders_and_assignments_agree_with_those_found_by_exhaustive_search);
    return suite;
}
