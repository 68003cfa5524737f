/* Tests of the scene and its painter for text. The drawings are compared with files that a person has looked at, and
 * with the numbers from which they were made. KR_RENEW=1 writes the files anew: look at each difference before it is
 * committed. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scene_rig.h"
#include "suite.h"

static struct scene_case c;
static struct kr_scene scene;
static struct kr_image image;

struct page {
    size_t used;
    char text[200000];
};
static struct page page, kept;

static void add_line(void *arg, const char *text)
{
    struct page *p = arg;
    p->used += (size_t)snprintf(p->text + p->used, sizeof p->text - p->used, "%s\n", text);
    ck_assert_uint_lt(p->used, sizeof p->text);
}

static struct kr_scene_lines to_page(void)
{
    memset(&page, 0, sizeof page);
    return (struct kr_scene_lines){add_line, &page};
}

static void holds_file(const char *name)
{
    char path[120];
    snprintf(path, sizeof path, "tests/unit/scene/%s.txt", name);
    if (getenv("KR_RENEW")) {
        FILE *to = fopen(path, "w");
        ck_assert_ptr_nonnull(to);
        ck_assert_int_ge(fputs(page.text, to), 0);
        ck_assert_int_eq(fclose(to), 0);
    }
    FILE *from = fopen(path, "r");
    ck_assert_msg(from != NULL, "%s can't be read", path);
    kept.used = fread(kept.text, 1, sizeof kept.text - 1, from);
    kept.text[kept.used] = '\0';
    fclose(from);
    ck_assert_msg(strcmp(page.text, kept.text) == 0, "%s differs from what is painted:\n%s", path, page.text);
}

static void paint_plan(struct kr_scene_style style)
{
    struct kr_scene_lines to = to_page();
    scene_rig_scene(&c, &scene);
    kr_scene_text_order(&scene, style, to);
    kr_scene_text_before(&scene, style, to);
    kr_scene_text(&scene, style, to);
    kr_scene_text_moves(&scene, 0, style, to);
}

static const struct {
    uint16_t holders;
    enum kr_length_unit unit;
    struct kr_scene_style style;
    const char *name;
} cases[] = {
    {3, KR_LENGTH_MM, {80, false}, "3-mm"},     {3, KR_LENGTH_INCH, {80, true}, "3-in"},
    {40, KR_LENGTH_MM, {80, true}, "40-mm"},    {40, KR_LENGTH_INCH, {80, false}, "40-in"},
    {128, KR_LENGTH_MM, {80, false}, "128-mm"}, {128, KR_LENGTH_INCH, {160, true}, "128-in"},
};
#define N_CASES ((int)(sizeof cases / sizeof cases[0]))

START_TEST(a_plan_is_painted_as_the_file_says)
{
    char name[40];
    scene_rig_plan(&c, cases[_i].holders, cases[_i].unit);
    paint_plan(cases[_i].style);
    snprintf(name, sizeof name, "plan-%s", cases[_i].name);
    holds_file(name);
}
END_TEST

START_TEST(a_station_is_painted_as_the_file_says)
{
    char name[40];
    scene_rig_plan(&c, cases[_i].holders, cases[_i].unit);
    scene_rig_image(&c, &image);
    kr_scene_of_image(&scene, &image);
    kr_scene_text(&scene, cases[_i].style, to_page());
    snprintf(name, sizeof name, "station-%s", cases[_i].name);
    holds_file(name);
}
END_TEST

/* The scene of a station that stands as planned has the plan's own numbers, by way of registers. */
START_TEST(plan_and_registers_give_the_same_places)
{
    static struct kr_scene planned;
    scene_rig_plan(&c, cases[_i].holders, cases[_i].unit);
    scene_rig_scene(&c, &planned);
    scene_rig_image(&c, &image);
    kr_scene_of_image(&scene, &image);
    int32_t most_um = cases[_i].unit == KR_LENGTH_INCH ? 2 : 0; /* a count is 2.54 um */
    ck_assert_uint_eq(scene.n_cuts, planned.n_cuts);
    ck_assert_uint_eq(scene.n_slits, planned.n_slits);
    for (uint16_t i = 0; i < scene.n_cuts; i++)
        ck_assert_int_le(abs(scene.cut_um[i] - planned.cut_um[i]), most_um);
    for (int side = 0; side < 2; side++)
        ck_assert_int_le(abs(scene.edge_um[side] - planned.edge_um[side]), 2 * most_um);
    for (uint16_t i = 0; i < cases[_i].holders; i++) {
        const struct kr_scene_holder *is = &scene.rail[1].holder[i], *shall = &planned.rail[1].holder[i];
        ck_assert_uint_eq(is->cut, shall->cut);
        ck_assert_int_le(abs(is->body_um - shall->body_um), most_um);
        if (is->has_target)
            ck_assert_int_le(abs(is->target_um - shall->target_um), most_um);
    }
}
END_TEST

/* Marks and counts of a row that is painted in ASCII, digits as so many. */
static unsigned marks_in(const char *label, const char *marks)
{
    unsigned n = 0;
    for (const char *line = page.text; *line; line = strchr(line, '\n') + 1) {
        size_t length = strcspn(line, "\n");
        if (strncmp(line, label, strlen(label)) != 0 || length <= 14)
            continue;
        for (size_t i = 14; i < length; i++)
            n += strchr(marks, line[i]) ? 1 : line[i] >= '2' && line[i] <= '9' ? (unsigned)(line[i] - '0') : 0;
    }
    return n;
}

START_TEST(every_holder_is_in_the_painting_at_every_width)
{
    scene_rig_plan(&c, cases[_i].holders, cases[_i].unit);
    scene_rig_scene(&c, &scene);
    for (int columns = KR_SCENE_COLUMNS_MIN; columns <= KR_SCENE_COLUMNS_MAX; columns += 20) {
        kr_scene_text(&scene, (struct kr_scene_style){columns, false}, to_page());
        ck_assert_uint_eq(marks_in("upper cut", "V"), scene.n_cuts);
        ck_assert_uint_eq(marks_in("lower cut", "A"), scene.n_cuts);
        unsigned in_the_row = 0u + cases[_i].holders - scene.n_cuts + scene.rail[0].n_references;
        ck_assert_uint_eq(marks_in("upper idle", "ox#+"), in_the_row);
        for (const char *line = page.text; *line; line = strchr(line, '\n') + 1)
            ck_assert_uint_le(strcspn(line, "\n"), (size_t)columns);
    }
}
END_TEST

START_TEST(nothing_is_painted_of_an_image_full_of_nonsense_that_is_not_there)
{
    for (int k = 0; k < 300; k++) {
        unsigned seed = (unsigned)k * 2654435761u + 1;
        image.format.length_unit = k % 2 ? KR_LENGTH_INCH : KR_LENGTH_MM;
        for (size_t i = 0; i < KR_MAP_INPUT_WORDS; i++) {
            seed = seed * 1664525u + 1013904223u;
            image.word[i] = (uint16_t)(k == 0 ? UINT16_MAX : seed >> 16);
        }
        kr_scene_of_image(&scene, &image);
        kr_scene_text(&scene, (struct kr_scene_style){80, k % 3 == 0}, to_page());
        kr_scene_text_order(&scene, (struct kr_scene_style){80, false}, to_page());
        ck_assert_uint_le(scene.n_rails, KR_RAILS_MAX);
        ck_assert_uint_le(scene.n_slits, KR_SLITS_MAX);
        for (uint16_t r = 0; r < scene.n_rails; r++)
            ck_assert_uint_le(scene.rail[r].n_references, KR_SCENE_REFERENCES_MAX);
        kr_scene_of_staged(&scene, &image);
        kr_scene_text(&scene, (struct kr_scene_style){80, false}, to_page());
        ck_assert_uint_le(scene.n_cuts, KR_CUTS_MAX);
    }
}
END_TEST

/* ---- the staged order ------------------------------------------------------------------------------------------ */

/* Where the slits lie, reckoned anew in micrometres from what the words of the map's registers mean. */
static const struct {
    const char *name;
    uint16_t alignment, edge_flags;
    /* Trim: that of the operator side, where it is given. */
    double web_um, trim_um, shift_um, ppm, width_um[3];
} orders[] = {
    {"centred", KR_CENTRED, 0, 240000, 0, 0, 0, {90000, 60000, 70000}},
    {"from the operator edge, shifted", KR_FROM_OPERATOR_EDGE, 0, 240000, 4000, -2500, 0, {90000, 60000, 70000}},
    {"compensated", KR_CENTRED, 0, 240000, 0, 1500, 1000, {90000, 60000, 70000}},
    {"operator side not trimmed", KR_CENTRED, KR_UNTRIMMED_OPERATOR, 240000, 0, 0, 0, {90000, 60000, 70000}},
    {"drive side not trimmed", KR_CENTRED, KR_UNTRIMMED_DRIVE, 240000, 0, 3000, 0, {90000, 60000, 70000}},
    {"neither side trimmed",
     KR_CENTRED,
     KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE,
     220000,
     0,
     0,
     0,
     {90000, 60000, 70000}},
    {"trims of nothing", KR_FROM_OPERATOR_EDGE, 0, 220000, 0, 0, 0, {90000, 60000, 70000}},
};
#define N_ORDERS ((int)(sizeof orders / sizeof orders[0]))

static double slits_left_um(int o, double web_left_um, double slits_um)
{
    if (orders[o].edge_flags & KR_UNTRIMMED_OPERATOR)
        return web_left_um;
    if (orders[o].edge_flags & KR_UNTRIMMED_DRIVE)
        return web_left_um + orders[o].web_um - slits_um;
    if (orders[o].alignment == KR_FROM_OPERATOR_EDGE)
        return web_left_um + orders[o].trim_um;
    return web_left_um + (orders[o].web_um - slits_um) / 2;
}

static void stage(int o, enum kr_length_unit unit)
{
    struct kr_order order = {.order_number = 8,
                             .n_slits = 3,
                             .alignment = orders[o].alignment,
                             .edge_flags = orders[o].edge_flags,
                             .compensation_ppm = (int32_t)orders[o].ppm,
                             .web_width_nm = (int64_t)orders[o].web_um * 1000,
                             .trim_nm = (int64_t)orders[o].trim_um * 1000,
                             .shift_nm = (int64_t)orders[o].shift_um * 1000};
    for (int i = 0; i < 3; i++)
        order.width_nm[i] = (int64_t)orders[o].width_um[i] * 1000;
    scene_rig_plan(&c, 12, unit);
    c.request.geometry.shift_max_um = 10000;
    c.request.geometry.compensation_max_ppm = 5000;
    scene_rig_image(&c, &image);
    scene_rig_stage(&c, &order, &image);
    kr_scene_of_staged(&scene, &image);
}

/* By way of registers, in whole counts: within half a count and the rounding to micrometres. */
START_TEST(the_staged_order_lies_where_its_web_trims_sides_and_shift_say)
{
    int o = _i / 2;
    enum kr_length_unit unit = _i % 2 ? KR_LENGTH_INCH : KR_LENGTH_MM;
    stage(o, unit);
    double most_um = unit == KR_LENGTH_INCH ? 2.6 : 1.01, grown = 1 + orders[o].ppm / 1e6, slits_um = 0;
    double web_left_um = c.request.geometry.web_centre_um + orders[o].shift_um - orders[o].web_um / 2;
    for (int i = 0; i < 3; i++)
        slits_um += orders[o].width_um[i] * grown;
    double at_um = slits_left_um(o, web_left_um, slits_um);
    ck_assert_uint_eq(scene.order_number, 8);
    ck_assert_uint_eq(scene.n_rails, 0);
    ck_assert_msg(scene.n_slits == 3, "%s: %u slits", orders[o].name, scene.n_slits);
    ck_assert_double_le(fabs(scene.edge_um[0] - web_left_um), most_um);
    ck_assert_double_le(fabs(scene.edge_um[1] - web_left_um - orders[o].web_um), most_um);
    for (int i = 0; i < 3; i++) {
        ck_assert_double_le(fabs(scene.slit[i].left_um - at_um), most_um);
        at_um += orders[o].width_um[i] * grown;
        ck_assert_double_le(fabs(scene.slit[i].right_um - at_um), most_um);
    }
}
END_TEST

START_TEST(the_staged_order_is_painted_to_the_scale_of_the_rails)
{
    stage(3, KR_LENGTH_MM);
    struct kr_scene_lines to = to_page();
    kr_scene_text_order(&scene, (struct kr_scene_style){80, false}, to);
    kr_scene_text(&scene, (struct kr_scene_style){80, false}, to);
    ck_assert_ptr_nonnull(strstr(page.text, "240 mm wide, no operator-side trim, drive-side trim 20 mm"));
    int32_t low_um = scene.low_um, high_um = scene.high_um;
    kr_scene_of_image(&scene, &image);
    ck_assert_int_eq(low_um, scene.low_um);
    ck_assert_int_eq(high_um, scene.high_um);
    holds_file("staged-12-mm");
}
END_TEST

START_TEST(without_a_staged_order_nothing_of_one_is_painted)
{
    scene_rig_plan(&c, 12, KR_LENGTH_MM);
    scene_rig_image(&c, &image);
    kr_scene_of_staged(&scene, &image);
    ck_assert_uint_eq(scene.n_cuts, 0);
    ck_assert_uint_eq(scene.n_slits, 0);
    ck_assert_uint_eq(scene.order_number, 0);
}
END_TEST

/* ---- references ------------------------------------------------------------------------------------------------ */

START_TEST(references_stand_where_they_are_fixed_and_a_lost_one_is_told)
{
    scene_rig_plan(&c, SCENE_RIG_WITH_REFERENCES, KR_LENGTH_MM);
    scene_rig_image(&c, &image);
    kr_scene_of_image(&scene, &image);
    for (uint16_t r = 0; r < 2; r++) {
        ck_assert_uint_eq(scene.rail[r].n_references, 4);
        for (uint16_t i = 0; i < 4; i++) {
            ck_assert_int_eq(scene.rail[r].reference[i].at_um, kr_get_um(&image, KR_REG_REFERENCE_PLACE, r, i));
            ck_assert_int_eq(scene.rail[r].reference[i].seen, r == 0 && i == 2 ? KR_SCENE_NOT_FOUND : KR_SCENE_FOUND);
        }
    }
    kr_scene_text(&scene, (struct kr_scene_style){240, false}, to_page());
    ck_assert_uint_eq(marks_in("upper idle", "+"), 3);
    ck_assert_uint_eq(marks_in("upper idle", "!"), 1);
    ck_assert_uint_eq(marks_in("lower idle", "+"), 4);
    ck_assert_ptr_nonnull(strstr(page.text, "! reference, not found"));
    ck_assert_ptr_nonnull(strstr(page.text, "not found     upper reference 3\n"));
}
END_TEST

START_TEST(lengths_are_as_short_as_they_can_be)
{
    static const struct {
        int64_t nm;
        enum kr_length_unit unit;
        const char *text;
    } rows[] = {{125000000, KR_LENGTH_MM, "125"},
                {92075000, KR_LENGTH_MM, "92.075"},
                {-500000, KR_LENGTH_MM, "-0.5"},
                {0, KR_LENGTH_MM, "0"},
                {-100, KR_LENGTH_MM, "0"},
                {999999600, KR_LENGTH_MM, "1000"},
                {92075000, KR_LENGTH_INCH, "3.625"},
                {25400000, KR_LENGTH_INCH, "1"},
                {INT64_C(2539999999), KR_LENGTH_INCH, "100"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[40];
        kr_scene_length(rows[i].nm, rows[i].unit, text, sizeof text);
        ck_assert_str_eq(text, rows[i].text);
    }
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("scene");
    TCase *tc = suite_case(suite, "painting");
    tcase_add_loop_test(tc, a_plan_is_painted_as_the_file_says, 0, N_CASES);
    tcase_add_loop_test(tc, a_station_is_painted_as_the_file_says, 0, N_CASES);
    tcase_add_loop_test(tc, every_holder_is_in_the_painting_at_every_width, 0, N_CASES);
    tc = suite_case(suite, "scene");
    tcase_add_loop_test(tc, plan_and_registers_give_the_same_places, 0, N_CASES);
    tcase_add_test(tc, nothing_is_painted_of_an_image_full_of_nonsense_that_is_not_there);
    tcase_add_test(tc, references_stand_where_they_are_fixed_and_a_lost_one_is_told);
    tc = suite_case(suite, "staged");
    tcase_add_loop_test(tc, the_staged_order_lies_where_its_web_trims_sides_and_shift_say, 0, 2 * N_ORDERS);
    tcase_add_test(tc, the_staged_order_is_painted_to_the_scale_of_the_rails);
    tcase_add_test(tc, without_a_staged_order_nothing_of_one_is_painted);
    tcase_add_test(tc, lengths_are_as_short_as_they_can_be);
    return suite;
}
