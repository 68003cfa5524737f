/* Tests of the sizes of holders and the limits of kinds of knives in the station file, of a tolerance that must be
 * given, and of the settings for the machine's acceptance. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "kniferail/config.h"
#include "suite.h"

#define EXAMPLE  "config/small-shear.cfg"
#define TEXT_MAX 24000

static struct kr_config config;
static struct kr_config_errors errors;

/* The example with one text in another's place. */
static bool read_changed(const char *from, const char *to)
{
    static char text[TEXT_MAX];
    char path[] = "/tmp/kniferail-sizes-XXXXXX";
    FILE *example = fopen(EXAMPLE, "r");
    ck_assert_ptr_nonnull(example);
    text[fread(text, 1, TEXT_MAX - 1, example)] = 0;
    fclose(example);
    const char *at = strstr(text, from);
    ck_assert_msg(at != NULL, "there is no '%s'", from);
    int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    ck_assert_int_gt(dprintf(fd, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from)), 0);
    close(fd);
    bool good = kr_config_read(path, &config, &errors);
    unlink(path);
    return good;
}

static void assert_told(const char *what)
{
    for (int i = 0; i < errors.count; i++)
        if (strstr(errors.message[i], what) != NULL)
            return;
    ck_abort_msg("'%s' is not told; told first: %s", what, errors.count ? errors.message[0] : "nothing");
}

/* The example's list of three sizes. */
#define THREE "{ name = \"3 in\"; spacing_mm = 76.2; }"

START_TEST(a_station_lists_its_own_sizes_and_holders_name_theirs)
{
    ck_assert_msg(read_changed(THREE, "{ name = \"heavy\"; spacing_mm = \"3 1/2 in\"; body_mm = 80; }"), "%s",
                  errors.message[0]);
    const struct kr_config_station *s = &config.station[0];
    ck_assert_uint_eq(s->station.geometry.n_sizes, 3);
    ck_assert_str_eq(s->station.size_name[0], "1 in");
    ck_assert_str_eq(s->station.size_name[2], "heavy");
    ck_assert_int_eq(s->station.geometry.size_spacing_um[0], 25400);
    ck_assert_int_eq(s->station.geometry.size_spacing_um[2], 88900);
    ck_assert_int_eq(s->body_um[0], 25000); /* 0.4 mm less, since it is not given */
    ck_assert_int_eq(s->body_um[2], 80000);
    ck_assert_uint_eq(s->holder[1][11].holder_size, 2);
}
END_TEST

START_TEST(a_station_may_have_one_size_or_eight)
{
    ck_assert(read_changed("{ name = \"1 in\"; spacing_mm = 25.4; },\n", ""));
    ck_assert_uint_eq(config.station[0].holder[0][0].holder_size, 1);
    ck_assert(read_changed(THREE, THREE ", { name = \"d\"; spacing_mm = 30; }, { name = \"e\"; spacing_mm = 31; }, "
                                        "{ name = \"f\"; spacing_mm = 32; }, { name = \"g\"; spacing_mm = 33; }, "
                                        "{ name = \"sixteen letters.\"; spacing_mm = 1000; }"));
    ck_assert_uint_eq(config.station[0].station.geometry.n_sizes, 8);
    ck_assert_str_eq(config.station[0].station.size_name[7], "sixteen letters.");
}
END_TEST

/* Before the list of sizes. */
#define SIZES       "    sizes = ("
#define KINDS(list) "    knife_kinds = (" list ");\n" SIZES
#define UPPER       "{ kind = \"upper 130\"; due_metres = 9000; notice_metres = 1000; }"

START_TEST(a_kind_of_knives_has_a_limit_and_a_notice_before_it)
{
    ck_assert_msg(read_changed(SIZES, KINDS(UPPER ", { kind = \"lower\"; due_metres = 1; }")), "%s", errors.message[0]);
    const struct kr_station_config *s = &config.station[0].station;
    ck_assert_uint_eq(s->n_knife_limits, 2);
    ck_assert_str_eq(s->knife_limit[0].kind, "upper 130");
    ck_assert_uint_eq(s->knife_limit[0].due_metres, 9000);
    ck_assert_uint_eq(s->knife_limit[0].notice_metres, 1000);
    ck_assert_uint_eq(s->knife_limit[1].due_metres, 1);
    ck_assert_uint_eq(s->knife_limit[1].notice_metres, 0);
    ck_assert(read_changed("", ""));
    ck_assert_uint_eq(config.station[0].station.n_knife_limits, 0);
}
END_TEST

#define FOUR              UPPER_NAMED("a") "," UPPER_NAMED("b") "," UPPER_NAMED("c") "," UPPER_NAMED("d") ","
#define SEVENTEEN         FOUR FOUR FOUR FOUR UPPER
#define UPPER_NAMED(name) "{ kind = \"" name "\"; due_metres = 9000; }"

#define NINE \
    THREE ", { name = \"d\"; spacing_mm = 30; }, { name = \"e\"; spacing_mm = 31; }, { name = \"f\"; " \
          "spacing_mm = 32; " \
          "}, { name = \"g\"; spacing_mm = 33; }, { name = \"h\"; spacing_mm = 34; }, { name = \"i\"; " \
          "spacing_mm = 35; }"

static const struct {
    const char *from, *to, *expected;
} mistakes[] = {
    {"    sizes = (", "    more = (", "stations.[0].sizes: missing; it must be given"},
    {THREE, NINE, "stations.[0].sizes: there are 9 sizes; 1 to 8 are possible"},
    {THREE, "5", "stations.[0].sizes.[2]: a size is a group { }"},
    {THREE, "{ name = \"3 in\"; }",
     "stations.[0].sizes.[2].spacing_mm: missing; it must be given, allowed: 1 to 1000 mm"},
    {THREE, "{ spacing_mm = 76.2; }", "stations.[0].sizes.[2].name: missing; it must be given"},
    {THREE, "{ name = \"2 in\"; spacing_mm = 76.2; }",
     "sizes.[2].name: \"2 in\"; another size of this station already has this name"},
    {THREE, "{ name = \"75\"; spacing_mm = 76.2; }", "sizes.[2].name: \"75\"; it needs more than digits"},
    {THREE, "{ name = \"seventeen letters\"; spacing_mm = 76.2; }",
     "sizes.[2].name: \"seventeen letters\"; allowed: a string of 1 to 16 printable ASCII characters"},
    {THREE, "{ name = \"3 in\"; spacing_mm = 0.999; }", "sizes.[2].spacing_mm: 0.999; allowed: 1 to 1000 mm"},
    {THREE, "{ name = \"3 in\"; spacing_mm = 76.2; body_mm = 76.2; }",
     "sizes.[2].body_mm: 76.2 mm; at most 76.199 mm: less than its spacing_mm"},
    {"size = \"2 in\"", "size = \"2in\"",
     "rails.[0].holders.[0].size: \"2in\"; the station's sizes have no such name; did you mean \"2 in\"?"},
    {"size = \"2 in\"", "size = \"enormous\"",
     "size: \"enormous\"; the station's sizes have no such name; they are \"1 in\", \"2 in\", \"3 in\""},
    {"size = \"2 in\";", "", "rails.[0].holders.[0].size: missing; it must be given"},
    {"knife_mm = 0.2032;", "", "stations.[0].placement.knife_mm: missing; it must be given, allowed: 0.001 to 10 mm"},
    {SIZES, KINDS("5"), "knife_kinds.[0]: a kind of knives is a group { }"},
    {SIZES, KINDS("{ kind = \"a\"; }"), "knife_kinds.[0].due_metres: missing; it must be given"},
    {SIZES, KINDS("{ due_metres = 5; }"), "knife_kinds.[0].kind: missing; it must be given"},
    {SIZES, KINDS("{ kind = \"a\"; due_metres = 0; }"), "knife_kinds.[0].due_metres: 0; allowed: 1 to 2147483647"},
    {SIZES, KINDS("{ kind = \"seventeen letters\"; due_metres = 5; }"),
     "knife_kinds.[0].kind: \"seventeen letters\"; allowed: a string of 1 to 16 printable ASCII characters"},
    {SIZES, KINDS("{ kind = \"a\"; due_metres = 5; notice_metres = 5; }"),
     "knife_kinds.[0].notice_metres: 5; at most 4: less than its due_metres"},
    {SIZES, KINDS(UPPER ", " UPPER),
     "knife_kinds.[1].kind: \"upper 130\"; another entry of the list already has this kind"},
    {SIZES, KINDS(SEVENTEEN), "knife_kinds: there are 17 kinds; up to 16 are possible"},
    {"    placement: {", "    placements: {", "stations.[0].placement.knife_mm: missing; it must be given"},
};

START_TEST(a_mistake_in_the_sizes_or_a_tolerance_that_is_missing_is_named)
{
    ck_assert(!read_changed(mistakes[_i].from, mistakes[_i].to));
    assert_told(mistakes[_i].expected);
}
END_TEST

/* Twenty-four holders name the list's second size: they are not told of besides. */
START_TEST(nothing_is_concluded_from_sizes_that_are_missing)
{
    ck_assert(!read_changed("    sizes = (", "    more = ("));
    ck_assert_uint_eq(errors.count, 2); /* sizes is missing, more is unknown */
    ck_assert(!read_changed("spacing_mm = 50.8", "spacing_mm = 0"));
    ck_assert_uint_eq(errors.count, 1);
}
END_TEST

/* ---- a file that is read again --------------------------------------------------------------------------------- */

static struct kr_config_difference differences[8];
static int n_differences;

static void note(void *self, const struct kr_config_difference *difference)
{
    (void)self;
    ck_assert_int_lt(n_differences, 8);
    differences[n_differences++] = *difference;
}

static const struct {
    const char *from, *to;
    struct {
        const char *where, *was, *is;
        enum kr_change change;
    } told[2];
} changes[] = {
    {"\"3 in\"", "\"wide\"", {{"size 3: name", "\"3 in\"", "\"wide\"", KR_CHANGE_RESTART}}},
    {"spacing_mm = 76.2",
     "spacing_mm = 77.2",
     {{"size 3: spacing_mm", "76.2 mm", "77.2 mm", KR_CHANGE_GEOMETRY},
      {"size 3: body_mm", "75.8 mm", "76.8 mm", KR_CHANGE_RESTART}}},
    {"spacing_mm = 76.2",
     "spacing_mm = 76.2; body_mm = 70",
     {{"size 3: body_mm", "75.8 mm", "70 mm", KR_CHANGE_RESTART}}},
    {THREE, THREE ", { name = \"4 in\"; spacing_mm = 101.6; }", {{"sizes", "", "", KR_CHANGE_RESTART}}},
    {SIZES, KINDS(UPPER), {{"knife_kinds", "", "", KR_CHANGE_LIVE}}},
    {"size = \"2 in\"",
     "size = \"1 in\"",
     {{"rail 1: holder 1 and 11 more: size", "\"2 in\"", "\"1 in\"", KR_CHANGE_SEED}}},
};

START_TEST(a_changed_size_is_named_with_what_it_needs_and_taken_where_it_may_be)
{
    static struct kr_config running;
    ck_assert(read_changed("", ""));
    running = config;
    ck_assert_msg(read_changed(changes[_i].from, changes[_i].to), "%s", errors.message[0]);
    for (int again = 0; again < 2; again++) { /* what was taken does not differ any more */
        n_differences = 0;
        (void)kr_config_take(&running.station[0], &config.station[0], KR_CHANGE_GEOMETRY,
                             (struct kr_config_listener){note, NULL});
        int n = 0;
        for (int i = 0; i < 2 && changes[_i].told[i].where != NULL; i++) {
            bool taken = changes[_i].told[i].change <= KR_CHANGE_GEOMETRY;
            if (again && taken)
                continue;
            ck_assert_str_eq(differences[n].where, changes[_i].told[i].where);
            ck_assert_str_eq(differences[n].was, changes[_i].told[i].was);
            ck_assert_str_eq(differences[n].is, changes[_i].told[i].is);
            ck_assert_int_eq(differences[n].change, changes[_i].told[i].change);
            ck_assert_int_eq(differences[n++].taken, taken);
        }
        ck_assert_int_eq(n_differences, n);
    }
}
END_TEST

#define LOOP(tc, test, rows) tcase_add_loop_test(tc, test, 0, (int)(sizeof(rows) / sizeof((rows)[0])))

/* ---- acceptance -------------------------------------------------------------------------------------------------- */

#define WITHOUT_ACCEPTANCE "rails_move = \"together\";"

static char told[400];

static void note_alarms(void *self, const struct kr_config_difference *setting)
{
    (void)self;
    if (strcmp(setting->where, "acceptance.alarms") == 0)
        snprintf(told, sizeof told, "%s", setting->is);
}

START_TEST(the_alarms_that_are_provoked_at_the_machine_are_listed_by_name)
{
    ck_assert(read_changed(WITHOUT_ACCEPTANCE, WITHOUT_ACCEPTANCE));
    ck_assert_uint_eq(config.station[0].acceptance.alarms,
                      1u << KR_BY_HAND_PERMISSIVE_LOST | 1u << KR_BY_HAND_HEARTBEAT_STALE |
                          1u << KR_BY_HAND_JOG_ENABLE_LOST | 1u << KR_BY_HAND_LINK_LOST);
    ck_assert(read_changed(WITHOUT_ACCEPTANCE,
                           WITHOUT_ACCEPTANCE " acceptance: { alarms = [ \"link_lost\", \"access_counted\" ]; };"));
    ck_assert_uint_eq(config.station[0].acceptance.alarms,
                      1u << KR_BY_HAND_LINK_LOST | 1u << KR_BY_HAND_ACCESS_COUNTED);
    ck_assert(read_changed(WITHOUT_ACCEPTANCE, WITHOUT_ACCEPTANCE " acceptance: { alarms = [ ]; };"));
    ck_assert_uint_eq(config.station[0].acceptance.alarms, 0);
}
END_TEST

/* A session holds its verdict against this text: what is cut off it could not be seen to change. */
START_TEST(the_longest_list_of_alarms_is_told_to_its_end)
{
    ck_assert(read_changed(WITHOUT_ACCEPTANCE, WITHOUT_ACCEPTANCE));
    config.station[0].acceptance.alarms = (uint32_t)(((uint64_t)1 << KR_N_BY_HAND) - 1);
    kr_config_tell_settings(&config.station[0], (struct kr_config_listener){note_alarms, NULL});
    ck_assert_str_eq(told + strlen(told) - strlen(", flag_extra"), ", flag_extra");
}
END_TEST

START_TEST(an_alarm_that_is_not_provoked_at_a_machine_is_refused_by_name)
{
    ck_assert(!read_changed(WITHOUT_ACCEPTANCE, WITHOUT_ACCEPTANCE " acceptance: { alarms = [ \"pin_lost\" ]; };"));
    assert_told("acceptance.alarms.[0]: \"pin_lost\"; allowed: a list [ ] of permissive_lost, ");
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("config_sizes");
    TCase *tc = suite_case(suite, "config_sizes");
    tcase_add_test(tc, a_station_lists_its_own_sizes_and_holders_name_theirs);
    tcase_add_test(tc, a_station_may_have_one_size_or_eight);
    tcase_add_test(tc, a_kind_of_knives_has_a_limit_and_a_notice_before_it);
    LOOP(tc, a_mistake_in_the_sizes_or_a_tolerance_that_is_missing_is_named, mistakes);
    tcase_add_test(tc, nothing_is_concluded_from_sizes_that_are_missing);
    LOOP(tc, a_changed_size_is_named_with_what_it_needs_and_taken_where_it_may_be, changes);
    TCase *acceptance = suite_case(suite, "acceptance");
    tcase_add_test(acceptance, the_alarms_that_are_provoked_at_the_machine_are_listed_by_name);
    tcase_add_test(acceptance, the_longest_list_of_alarms_is_told_to_its_end);
    tcase_add_test(acceptance, an_alarm_that_is_not_provoked_at_a_machine_is_refused_by_name);
    return suite;
}
