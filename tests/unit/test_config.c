/* Tests of the config: every value is read exactly, and every mistake is reported with its place. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "kniferail/config.h"
#include "kniferail/quantity.h"
#include "suite.h"

static struct kr_config config;
static struct kr_config_errors errors;
static char folder[] = "/tmp/kniferail-config-XXXXXX";
static char path[128];

/* ---- files ----------------------------------------------------------------------------------------------------- */

static void write_file(const char *name, const char *text, size_t size)
{
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "wb");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fwrite(text, 1, size, file), size);
    ck_assert_int_eq(fclose(file), 0);
}

static bool read_text(const char *text)
{
    write_file("mill.cfg", text, strlen(text));
    return kr_config_read(path, &config, &errors);
}

static char *example(const char *name)
{
    static char text[16384];
    FILE *file = fopen(name, "rb");
    ck_assert_ptr_nonnull(file);
    size_t n = fread(text, 1, sizeof text - 1, file);
    ck_assert_int_eq(fclose(file), 0);
    text[n] = '\0';
    return text;
}

/* The small shear station with `from`, which must stand in it, replaced by `to`. */
static bool read_changed(const char *from, const char *to)
{
    static char changed[20000];
    const char *text = example("config/small-shear.cfg"), *at = strstr(text, from);
    ck_assert_msg(at != NULL, "'%s' is not in the example", from);
    snprintf(changed, sizeof changed, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
    return read_text(changed);
}

static bool told(const char *what)
{
    for (int i = 0; i < errors.count; i++)
        if (strstr(errors.message[i], what))
            return true;
    return false;
}

static void assert_told(const char *what)
{
    if (told(what))
        return;
    ck_abort_msg("not told: %s\ntold first: %s", what, errors.count ? errors.message[0] : "nothing");
}

/* Once around all tests, in the process that outlives those that fail. */
static void set_up(void)
{
    ck_assert_ptr_nonnull(mkdtemp(folder));
}

static void tear_down(void)
{
    static const char *const names[] = {"mill.cfg", "line.cfg", "rails.cfg", "folder", "pipe"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        remove(path);
    }
    ck_assert_int_eq(rmdir(folder), 0);
}

/* ---- numbers and units ----------------------------------------------------------------------------------------- */

/* The inch is 25.4 mm exactly: international yard and pound agreement of 1959. The rest is arithmetic. */
static const struct {
    const char *text, *written, *kept;
    int64_t value;
} quantities[] = {
    {"25.4", "a_mm", "a_um", 25400},
    {"0.2032", "a_mm", "a_um", 203}, /* to the nearest */
    {"0.0005", "a_mm", "a_um", 1},   /* halves up */
    {"-0.0005", "a_mm", "a_um", 0},
    {"-0.00051", "a_mm", "a_um", -1},
    {"1800.0005", "a_mm", "a_nm", 1800000500},
    {".5", "a_mm", "a_um", 500},
    {"5.", "a_mm", "a_um", 5000},
    {"2.5e2", "a_mm", "a_um", 250000},
    {"2500e-1", "a_mm", "a_um", 250000},
    {"0x10", "a", "a", 16},
    {"3000000000L", "a", "a", 3000000000},
    {"\"1 in\"", "a_mm", "a_um", 25400},
    {"\"3 5/8 in\"", "a_mm", "a_um", 92075},
    {"\"-3 5/8 in\"", "a_mm", "a_um", -92075},
    {"\"5/8 in\"", "a_mm", "a_um", 15875},
    {"\"1/64 in\"", "a_mm", "a_nm", 396875},
    {"\"0.0001 in\"", "a_mm", "a_nm", 2540},
    {"\"2 ft\"", "a_mm", "a_um", 609600},
    {"\"1.8 m\"", "a_mm", "a_um", 1800000},
    {"\"1.8m\"", "a_mm", "a_um", 1800000},
    {"\"203200 nm\"", "a_mm", "a_um", 203},
    {"\"1.5 s\"", "a_ms", "a_ms", 1500},
    {"800", "a_ms", "a_us", 800000},
    {"0.25", "a_ms", "a_us", 250},
    {"\"2 min\"", "a_ms", "a_ms", 120000},
    {"\"12 in/s\"", "a_mm_per_s", "a_um_per_s", 304800},
    {"\"60 m/min\"", "a_mm_per_s", "a_um_per_s", 1000000},
    {"\"0.5 m/s2\"", "a_mm_per_s2", "a_um_per_s2", 500000},
    {"200", "a_mm_per_s", "x.a_um_per_s", 200000},
    {"25.4", "a_mm", "x.spacing_um[2]", 25400},
};

static enum kr_quantity_answer quantity(const char *text, const char *written, const char *kept, int64_t *value)
{
    char bare[64];
    bool plain = text[0] != '"';
    snprintf(bare, sizeof bare, "%.*s", (int)(strlen(text) - (plain ? 0 : 2)), text + (plain ? 0 : 1));
    return kr_quantity_read(bare, plain, kr_scale_of(written), kr_scale_of(kept), value);
}

START_TEST(a_number_is_taken_exactly_as_it_is_written)
{
    int64_t value = 0;
    ck_assert_msg(quantity(quantities[_i].text, quantities[_i].written, quantities[_i].kept, &value) == KR_QUANTITY_OK,
                  "%s was refused", quantities[_i].text);
    ck_assert_msg(value == quantities[_i].value, "%s: %lld, not %lld", quantities[_i].text, (long long)value,
                  (long long)quantities[_i].value);
}
END_TEST

static const struct {
    const char *text, *name;
    enum kr_quantity_answer answer;
} no_quantities[] = {
    {"", "a_mm", KR_QUANTITY_MALFORMED},
    {"-", "a_mm", KR_QUANTITY_MALFORMED},
    {".", "a_mm", KR_QUANTITY_MALFORMED},
    {"1e", "a_mm", KR_QUANTITY_MALFORMED},
    {"1x", "a_mm", KR_QUANTITY_MALFORMED},
    {"1..2", "a_mm", KR_QUANTITY_MALFORMED},
    {"\"1 2 in\"", "a_mm", KR_QUANTITY_MALFORMED},
    {"\"1 2/0 in\"", "a_mm", KR_QUANTITY_MALFORMED},
    {"\"3 5//8 in\"", "a_mm", KR_QUANTITY_MALFORMED},
    {"\"1/2/3 in\"", "a_mm", KR_QUANTITY_WRONG_UNIT},
    {"\"1 -1/2 in\"", "a_mm", KR_QUANTITY_WRONG_UNIT},
    {"\"1.5 1/2 in\"", "a_mm", KR_QUANTITY_WRONG_UNIT},
    {"\"25.4\"", "a_mm", KR_QUANTITY_NO_UNIT},
    {"\"25,4 mm\"", "a_mm", KR_QUANTITY_WRONG_UNIT},
    {"\"5 kg\"", "a_mm", KR_QUANTITY_WRONG_UNIT},
    {"\"5 ms\"", "a_mm", KR_QUANTITY_WRONG_UNIT},
    {"\"5 mm\"", "a_ms", KR_QUANTITY_WRONG_UNIT},
    {"\"5 MM\"", "a_mm", KR_QUANTITY_WRONG_UNIT},
    {"\"5 mm x\"", "a_mm", KR_QUANTITY_WRONG_UNIT},
    {"0.5", "a_ms", KR_QUANTITY_NOT_WHOLE},
    {"1.5", "a", KR_QUANTITY_NOT_WHOLE},
    {"1e400", "a_mm", KR_QUANTITY_TOO_LARGE},
    {"1e-400", "a_mm", KR_QUANTITY_TOO_LARGE},
    {"99999999999999999999", "a", KR_QUANTITY_TOO_LARGE},
    {"0xFFFFFFFFFFFFFFFFFF", "a", KR_QUANTITY_TOO_LARGE},
    {"\"1/9999999 in\"", "a_mm", KR_QUANTITY_TOO_LARGE},
};

START_TEST(what_is_no_quantity_is_refused_and_nothing_is_guessed)
{
    int64_t value = 4711;
    enum kr_quantity_answer answer =
        quantity(no_quantities[_i].text, no_quantities[_i].name, no_quantities[_i].name, &value);
    ck_assert_msg(answer == no_quantities[_i].answer, "%s: answer %d, not %d", no_quantities[_i].text, (int)answer,
                  (int)no_quantities[_i].answer);
    ck_assert_int_eq(value, 4711);
}
END_TEST

static const struct {
    const char *text, *why;
} explained[] = {
    {"62,5 in", " has a comma; a decimal point is needed, as 62.5 in, and nothing between thousands"},
    {"1,234", " has a comma; a decimal point is needed, as 1.234, and nothing between thousands"},
    {"3-5/8 in", " has a hyphen in it; a space is needed before the fraction, as 3 5/8 in"},
    {"-3-5/8 in", " has a hyphen in it; a space is needed before the fraction, as -3 5/8 in"},
    {"1,234,5 mm", " has an unknown or unfit unit (mm, um, nm, m, in, ft)"},
    {"3-5 in", " has an unknown or unfit unit (mm, um, nm, m, in, ft)"},
    {"62,5 kg", " has an unknown or unfit unit (mm, um, nm, m, in, ft)"},
    {",", " is not a number"},
    {"3 5-8 in", " is not a number"},
    {"1e400", " has too many digits"},
    {"62.5 in", ""},
};

START_TEST(a_comma_or_a_hyphen_is_refused_and_the_answer_says_how_it_is_written)
{
    char why[160];
    int64_t nm = 4711;
    enum kr_quantity_answer answer = kr_length_read(explained[_i].text, "mm", &nm);
    kr_quantity_why(answer, explained[_i].text, KR_DIM_LENGTH, why, sizeof why);
    ck_assert_str_eq(why, explained[_i].why);
    ck_assert_int_eq(nm, answer == KR_QUANTITY_OK ? 1587500000 : 4711);
}
END_TEST

static const struct {
    const char *text, *bare_unit;
    enum kr_quantity_answer answer;
    int64_t nm;
} lengths[] = {
    {"0.44 m", "mm", KR_QUANTITY_OK, 440000000},
    {"3 5/8", "in", KR_QUANTITY_OK, 92075000},
    {" -1.2 ", "mm", KR_QUANTITY_OK, -1200000},
    {"100000", "um", KR_QUANTITY_OK, 100000000},
    {"100 mm ", "um", KR_QUANTITY_OK, 100000000},
    {"2147483.647", "mm", KR_QUANTITY_OK, INT64_C(2147483647000)},
    {"-2147483.647", "mm", KR_QUANTITY_OK, INT64_C(-2147483647000)},
    {"2147483.648", "mm", KR_QUANTITY_TOO_LARGE, 4711},
    {"-2147483.648", "mm", KR_QUANTITY_TOO_LARGE, 4711},
    {"5 mm x", "mm", KR_QUANTITY_WRONG_UNIT, 4711},
    {"5 s", "mm", KR_QUANTITY_WRONG_UNIT, 4711},
    {"", "mm", KR_QUANTITY_MALFORMED, 4711},
};

START_TEST(a_length_without_a_unit_is_in_the_one_that_the_reader_names)
{
    int64_t nm = 4711;
    ck_assert_int_eq(kr_length_read(lengths[_i].text, lengths[_i].bare_unit, &nm), lengths[_i].answer);
    ck_assert_int_eq(nm, lengths[_i].nm);
}
END_TEST

START_TEST(a_kept_value_is_shown_in_the_unit_of_its_name)
{
    char text[48];
    kr_quantity_text(25400, kr_scale_of("a_mm"), kr_scale_of("a_um"), text, sizeof text);
    ck_assert_str_eq(text, "25.4 mm");
    kr_quantity_text(-1, kr_scale_of("a_mm"), kr_scale_of("a_um"), text, sizeof text);
    ck_assert_str_eq(text, "-0.001 mm");
    kr_quantity_text(800000, kr_scale_of("a_ms"), kr_scale_of("a_us"), text, sizeof text);
    ck_assert_str_eq(text, "800 ms");
    kr_quantity_text(396875, kr_scale_of("a_mm"), kr_scale_of("a_nm"), text, sizeof text);
    ck_assert_str_eq(text, "0.396875 mm");
    kr_quantity_text(150, kr_scale_of("late_percent"), kr_scale_of("late_percent"), text, sizeof text);
    ck_assert_str_eq(text, "150%");
    kr_quantity_text(INT64_MIN, kr_scale_of("a"), kr_scale_of("a"), text, sizeof text);
    ck_assert_str_eq(text, "-9223372036854775808");
}
END_TEST

/* ---- the examples ---------------------------------------------------------------------------------------------- */

static const struct {
    const char *path;
    uint16_t rails, holders;
    uint8_t holder_size;
    enum kr_length_unit unit;
} examples[] = {
    {"config/small-shear.cfg", 2, 12, 2, KR_LENGTH_MM}, {"config/framed-shear.cfg", 2, 12, 2, KR_LENGTH_MM},
    {"config/razor.cfg", 1, 40, 1, KR_LENGTH_INCH},     {"config/wide-shear.cfg", 2, 100, 1, KR_LENGTH_MM},
    {"config/score.cfg", 1, 16, 1, KR_LENGTH_MM},
};

START_TEST(an_example_station_is_read_without_a_mistake)
{
    bool fine = kr_config_read(examples[_i].path, &config, &errors);
    ck_assert_msg(fine, "%s", errors.message[0]);
    ck_assert_uint_eq(errors.count, 0);
    const struct kr_config_station *s = &config.station[0];
    ck_assert_uint_eq(config.n_stations, 1);
    ck_assert_uint_eq(s->station.geometry.n_rails, examples[_i].rails);
    ck_assert_int_eq(s->station.format.length_unit, examples[_i].unit);
    ck_assert_int_eq(s->station.period_us, 1000 * config.period_ms);
    for (int r = 0; r < examples[_i].rails; r++) {
        ck_assert_uint_eq(s->station.geometry.rail[r].n_holders, examples[_i].holders);
        ck_assert_uint_eq(s->simulated.rail[r].n_holders, examples[_i].holders);
        for (int i = 0; i < examples[_i].holders; i++)
            ck_assert_uint_eq(s->holder[r][i].holder_size, examples[_i].holder_size);
    }
    ck_assert_ptr_null(sim_config_check(&s->simulated).what);
}
END_TEST

/* Speeds and docking times that the examples must keep to, or the changeover times shown with them mean nothing. */
START_TEST(an_example_machine_is_no_faster_than_common_practice)
{
    ck_assert(kr_config_read(examples[_i].path, &config, &errors));
    for (int r = 0; r < examples[_i].rails; r++) {
        const struct kr_rail_geometry *rail = &config.station[0].station.geometry.rail[r];
        ck_assert_int_le(rail->empty.v_um_per_s, 1000000);
        ck_assert_int_le(rail->drag.v_um_per_s, 500000);
        ck_assert_int_le(rail->empty.a_um_per_s2, 1000000);
        ck_assert_int_le(rail->drag.a_um_per_s2, 1000000);
        ck_assert_int_le(config.station[0].station.carriage[r].scan_speed_um_per_s, 200000);
        ck_assert_int_ge(rail->dock_us, 800000);
        ck_assert_int_ge(rail->undock_us, 800000);
    }
    ck_assert_int_le(config.station[0].station.geometry.tolerance_um, 203);
}
END_TEST

START_TEST(every_field_of_the_small_shear_is_what_its_file_says)
{
    ck_assert(kr_config_read("config/small-shear.cfg", &config, &errors));
    const struct kr_station_config *s = &config.station[0].station;
    ck_assert_str_eq(s->name, "small-shear");
    ck_assert_uint_eq(config.station[0].unit_id, 1);
    ck_assert_int_eq(s->geometry.web_centre_um, 800000);
    ck_assert_int_eq(s->geometry.web_max_nm, 1300000000);
    ck_assert_int_eq(s->geometry.trim_min_nm, 5000000);
    ck_assert_int_eq(s->geometry.trim_max_nm, 80000000);
    ck_assert_int_eq(s->geometry.size_spacing_um[1], 50800);
    ck_assert(s->geometry.rails_together);
    ck_assert_int_eq(s->geometry.tolerance_um, 203);
    ck_assert_int_eq(s->geometry.rail[0].role, KR_UPPER);
    ck_assert_int_eq(s->geometry.rail[1].role, KR_LOWER);
    ck_assert_int_eq(s->geometry.rail[0].cut_side_um, 500);
    ck_assert_int_eq(s->geometry.rail[1].cut_side_um, 0);
    ck_assert_int_eq(s->geometry.rail[0].empty.v_um_per_s, 1000000);
    ck_assert_int_eq(s->carriage[1].travel_max_um, 1600000);
    ck_assert_int_eq(s->carriage[1].flag_width_um, 8000);
    ck_assert_uint_eq(s->need_drag, 31);
    ck_assert_uint_eq(s->need_scan, 31 & ~KR_PERMIT_AIR);
    ck_assert_uint_eq(s->access, KR_PERMIT_GUARDS_CLOSED | KR_PERMIT_ENABLE);
    ck_assert_int_eq(config.station[0].holder[0][11].position_um, 60000 + 11 * 120000);
    ck_assert_int_eq(config.station[0].holder[1][0].edge_offset_um, -10000);
    ck_assert_uint_eq(config.station[0].holder[1][0].known, KR_REMEMBERED);
}
END_TEST

START_TEST(a_new_book_starts_with_the_holders_and_nothing_else)
{
    static struct kr_durable durable;
    memset(&durable, 0xa5, sizeof durable);
    ck_assert(kr_config_read("config/razor.cfg", &config, &errors));
    kr_config_durable(&config.station[0], &durable);
    ck_assert_uint_eq(durable.serial, 1);
    ck_assert_mem_eq(durable.holder, config.station[0].holder, sizeof durable.holder);
    ck_assert_uint_eq(durable.staged + durable.in_force, 0);
    ck_assert_uint_eq(durable.verdict.number + durable.record.number, 0);
    ck_assert_int_eq(kr_config_station_named(&config, NULL), 0);
    ck_assert_int_eq(kr_config_station_named(&config, "razor"), 0);
    ck_assert_int_eq(kr_config_station_named(&config, "shaver"), -1);
}
END_TEST

/* ---- mistakes -------------------------------------------------------------------------------------------------- */

/* Integers that libconfig would cut to 32 bits without a word, and what it would make of them. */
static const char *const large[] = {
    "4294967306",              /* 10, the example's own value */
    "3000000000",              /* negative */
    "99999999999999999999999", /* -1; a syntax error for version 1.7 */
    "-9223372036854775809",
    "-4294967286",
    "0x10000000A",
    "4294967306L",
    "1e400", /* infinite */
};

START_TEST(an_integer_that_does_not_fit_is_refused_as_it_stands)
{
    char to[64];
    snprintf(to, sizeof to, "period_ms = %s;", large[_i]);
    ck_assert(!read_changed("period_ms = 10;", to));
    snprintf(to, sizeof to, ":14: period_ms: %s", large[_i]);
    assert_told(to);
    ck_assert_uint_eq(errors.count, 1);
}
END_TEST

START_TEST(a_mistake_of_syntax_stands_alone_with_file_and_line)
{
    ck_assert(!read_text("period_ms = 0;\nspeed_factor 5;\nstations = 3;\n"));
    ck_assert_uint_eq(errors.count, 1);
    assert_told("/mill.cfg:2: syntax error");
    ck_assert_uint_eq(errors.line[0], 2);
    ck_assert(!read_text("a = [ 1, 2.0 ];"));
    assert_told("/mill.cfg:1: mismatched element type in array; all elements");
    ck_assert(!read_text("\xEF\xBB\xBFperiod_ms = 10;\n"));
    assert_told("/mill.cfg:1: it begins with a byte order mark (EF BB BF hex)");
    ck_assert(!read_text("a = 1;\na = 2;"));
    assert_told("/mill.cfg:2: duplicate setting name");
    ck_assert(!read_text("a = \"never closed"));
    ck_assert_uint_eq(errors.count, 1);
}
END_TEST

START_TEST(what_can_not_be_read_is_said_and_nothing_ends_the_process)
{
    ck_assert(!kr_config_read("config/no-such-file.cfg", &config, &errors));
    assert_told("config/no-such-file.cfg: No such file or directory");
    ck_assert(!kr_config_read(folder, &config, &errors));
    assert_told("it is no regular file");
    snprintf(path, sizeof path, "%s/pipe", folder); /* nobody writes it: who reads it would wait for ever */
    ck_assert_int_eq(mkfifo(path, 0600), 0);
    ck_assert(!kr_config_read(path, &config, &errors));
    assert_told("/pipe: it is no regular file");
    write_file("mill.cfg", "a = 1;\0b = 2;", 13);
    ck_assert(!kr_config_read(path, &config, &errors));
    assert_told("byte 0");
    static char big[(1 << 20) + 2];
    memset(big, ' ', sizeof big - 1);
    ck_assert(!read_text(big));
    assert_told("1 MiB");
    ck_assert(!read_text(""));
    assert_told("stations: missing");
    char long_path[KR_CONFIG_PATH_MAX + 8];
    memset(long_path, 'a', sizeof long_path - 1);
    long_path[sizeof long_path - 1] = '\0';
    ck_assert(!kr_config_read(long_path, &config, &errors));
    assert_told("longer than");
}
END_TEST

START_TEST(all_mistakes_of_meaning_are_told_in_one_run_in_the_order_of_the_file)
{
    ck_assert(!read_text("period_ms = 0;\n"
                         "speed_factr = 2;\n"
                         "book = 5;\n"
                         "face: {\n"
                         "  idle_ms = \"2 mm\";\n"
                         "  connections_per_address = 70;\n"
                         "  rules = ( { address = \"192.0.2.1/24\"; may = \"control\"; } );\n"
                         "};\n"
                         "stations = (\n"
                         "  { name = \"a\"; unit_id = 300;\n"
                         "    web: { centre_mm = true; widest = 5; };\n"
                         "    permissives: { scan = [ \"enabel\" ]; };\n"
                         "    rails = 5;\n"
                         "  },\n"
                         "  3\n"
                         ");\n"));
    static const char *const expected[] = {
        ":1: period_ms: 0; allowed: 1 to 100 ms",
        ":2: speed_factr: unknown setting; did you mean speed_factor?",
        ":3: book: 5; allowed: a string of",
        ":5: face.idle_ms: \"2 mm\" has an unknown or unfit unit (ms, us, s, min); allowed: 0 to 86400000 ms",
        ":6: face.connections_per_address: 70; at most 64:",
        ":7: face.rules.[0].address: \"192.0.2.1/24\"; this is not an address or prefix",
        ":10: stations.[0].unit_id: 300; allowed: 1 to 247",
        ":10: stations.[0].sizes: missing; it must be given, allowed: a list ( ) of groups { }",
        ":10: stations.[0].placement.knife_mm: missing; it must be given, allowed: 0.001 to 10 mm",
        ":11: stations.[0].web.centre_mm: true; allowed: -1000 to 20000 mm",
        ":11: stations.[0].web.widest: unknown setting; did you mean widest_mm?",
        ":11: stations.[0].web.widest_mm: missing; it must be given, allowed: 1 to 20000 mm",
        ":11: stations.[0].web.trim_least_mm: missing",
        ":11: stations.[0].web.trim_most_mm: missing",
        (":12: stations.[0].permissives.scan.[0]: \"enabel\"; allowed: a list [ ] of line_stopped, "
         "knives_raised"),
        ":12: stations.[0].permissives.drag: missing",
        ":12: stations.[0].permissives.home: missing",
        ":12: stations.[0].permissives.access: missing",
        ":13: stations.[0].rails: 5; allowed: a list ( ) of groups { }",
        ":15: stations.[1]: a station is a group { }",
    };
    size_t n = sizeof expected / sizeof expected[0];
    for (size_t i = 0; i < n && i < errors.count; i++)
        ck_assert_msg(strstr(errors.message[i], expected[i]) != NULL, "told: %s\nnot: %s", errors.message[i],
                      expected[i]);
    ck_assert_uint_eq(errors.count, n);
    ck_assert_uint_eq(errors.lost, 0);
}
END_TEST

START_TEST(what_a_rail_lacks_may_be_given_in_the_stations_group)
{
    ck_assert(!read_changed("empty_speed_mm_per_s = 1000;", ""));
    assert_told("stations.[0].rails.[0].carriage.empty_speed_mm_per_s: missing; it must be given here or in "
                "the station's "
                "own group, allowed: 1 to 5000 mm/s");
}
END_TEST

START_TEST(more_mistakes_than_there_is_room_for_are_counted)
{
    char text[4096] = "";
    for (int i = 0; i < 100; i++)
        snprintf(text + strlen(text), sizeof text - strlen(text), "zzz%d = 1;\n", i);
    ck_assert(!read_text(text));
    ck_assert_uint_eq(errors.count, KR_CONFIG_ERRORS_MAX);
    ck_assert_uint_eq(errors.count + errors.lost, 101); /* and `stations` is missing */
}
END_TEST

/* Values that are each allowed but not together. */
static const struct {
    const char *from, *to, *expected;
} contradictions[] = {
    {"deadband_mm = 0.05;", "deadband_mm = 0.102;", "deadband_mm: 0.102 mm; at most 0.101 mm: half of knife_mm"},
    {"slit_mm = 0.3;", "slit_mm = 0.08;", "deadband_mm: 0.05 mm; at most 0.04 mm: half of slit_mm"},
    {"pair_mm = 0.3;", "pair_mm = 2.001;", "pair_mm: 2.001 mm; at most 2 mm: twice knife_most_mm"},
    {"knife_most_mm = 1.0;", "knife_most_mm = 0.2;", "knife_mm: 0.203 mm; at most 0.2 mm: knife_most_mm"},
    {"trim_least_mm = 5;", "trim_least_mm = 81;", "trim_least_mm: 81 mm; at most 80 mm: trim_most_mm"},
    {"centre_mm = 800;", "centre_mm = 1561;", "centre_mm: 1561 mm; it must lie within every rail's"},
    {"\"line_stopped\", \"knives_raised\", \"guards_closed\", \"air\", \"enable\" ];",
     "\"line_stopped\", \"air\", \"enable\" ];",
     "permissives.drag: line_stopped, air, enable; knives_raised must be among them"},
    {"access = [ \"guards_closed\", \"enable\" ];", "access = [ ];", "access: none; with scan_before = after_access"},
    {"access = [ \"guards_closed\", \"enable\" ];",
     "access = [ \"guards_closed\", \"enable\" ]; jog = [ \"line_stopped\", \"enable\" ];",
     "guards_closed must be among them: or setup_mode states"},
    {"role = \"upper\";", "role = \"lower\";", "role: lower; a station has at least one upper rail"},
    {"role = \"upper\";", "role = \"lower\";", "side_clearance_mm: 0.5 mm; it belongs to the upper rail"},
    {"least_mm = 40; most_mm = 1560;", "least_mm = 40; most_mm = 40;",
     "most_mm: 40 mm; at least 40.001 mm: more than least_mm"},
    {"settle_ms = 50;", "settle_ms = 50; approach = \"growing\";", "overtravel_mm: 0 mm (default); at least 0.001 mm"},
    {"side_clearance_mm = 0.5;", "side_clearance_mm = 0.5; carriage: { frame_expansion_ppm = 11.5; };",
     "rails.[1].carriage.frame_expansion_ppm: 0 ppm (default); rail 1 has another one; all rails of a station stand on "
     "one "
     "frame"},
    {"settle_ms = 50;", "settle_ms = 50; overtravel_mm = 1;",
     "overtravel_mm: 1 mm; at most 0 mm: approach is either way"},
    /* 40 mm less half a flag and as much again, and the run-up v * v / 2a = 20 mm and one micrometre */
    {"travel_least_mm = 0;", "travel_least_mm = 12;", "travel_least_mm: 12 mm; at most 11.999 mm: a scan starts there"},
    {"travel_most_mm = 1600;", "travel_most_mm = 1588;",
     "travel_most_mm: 1588 mm; at least 1588.001 mm: a scan ends there"},
    {"flag_width_mm = 8;", "flag_width_mm = 8; switch_offset_mm = 30;",
     "travel_least_mm: 0 mm; at most -18.001 mm: a scan"},
    {"park_mm = 20;", "park_mm = 126;",
     "park_mm: 126 mm; at most 125.000 mm or at least 1475.000 mm: clear of the widest web"},
    {"park_mm = 20;", "park_mm = 1601;", "park_mm: 1601 mm; at most 1600 mm: travel_most_mm"},
    /* 8 mm in 3 cycles of 10 ms */
    {"scan_speed_mm_per_s = 200;", "scan_speed_mm_per_s = 267;",
     "scan_speed_mm_per_s: 267 mm/s; at most 266.666 mm/s: the switch must dwell on a flag for 3 cycles"},
    {"flag_width_mm = 8;", "flag_width_mm = 47;",
     "scan_speed_mm_per_s: 200 mm/s; at most 126.666 mm/s: the switch must see the gap"},
    {"flag_width_mm = 8;", "flag_width_mm = 50.8;",
     "flag_width_mm: 50.8 mm; at most 50.799 mm: less than the nearest spacing"},
    {"scan_fast_mm_per_s = 1000;", "scan_fast_mm_per_s = 1001;",
     "scan_fast_mm_per_s: 1001 mm/s; at most 1000 mm/s: empty_speed_mm_per_s"},
    {"scan_fast_mm_per_s = 1000;", "scan_fast_mm_per_s = 200;",
     "scan_fast_mm_per_s: 200 mm/s; at least 200.001 mm/s: faster than scan_speed_mm_per_s"},
    {"setpoint_ms = 20;", "setpoint_ms = 19;", "setpoint_ms: 19 ms; at least 20 ms: two cycles (period_ms)"},
    {"scan_speed_mm_per_s = 200;", "scan_speed_mm_per_s = 1001;", "at most 1000 mm/s: empty_speed_mm_per_s"},
    {"period_ms = 10;", "period_ms = 20;", "scan_speed_mm_per_s: 200 mm/s; at most 133.333 mm/s"},
    {"settle_ms = 50;", "settle_ms = 50; displaced_mm = 25.401;", "displaced_mm: 25.401 mm; at most 25.4 mm: half"},
    {"settle_ms = 50;", "settle_ms = 50; setpoint_limit_ms = 49;",
     "setpoint_limit_ms: 49 ms; at least 50 ms: five cycles"},
    {"first_mm = 60;", "first_mm = 39;",
     "holders.[0]: holder 1 would stand at 39.000 mm; at least 40.000 mm: the rail's least_mm"},
    {"first_mm = 60; pitch_mm = 120;", "first_mm = 60; pitch_mm = 137;",
     "holder 12 would stand at 1567.000 mm; at most 1560.000 mm"},
    {"first_mm = 60; pitch_mm = 120;", "first_mm = 60; pitch_mm = 50.799;",
     "holder 2 would stand at 110.799 mm; at least 110.800 mm: its neighbour"},
    {"first_mm = 60; pitch_mm = 120;", "first_mm = 60;", "first_mm: 60 mm; 12 holders need pitch_mm beside it"},
    {"first_mm = 60; pitch_mm = 120;", "pitch_mm = 120;", "pitch_mm: 120 mm; first_mm is needed, too"},
    {"count = 12; size = \"2 in\";", "count = 120; size = \"2 in\";",
     "most_mm: 1560 mm; at least 6085.2 mm: the holders, side by side"},
    {"holders = ( { count = 12;", "holders = ( { size = \"2 in\"; }, { count = 11;",
     "holders.[0]: first_mm is missing; a simulated rail needs it"},
    {"holders = ( {", "holders = ( { count = 120; size = \"1 in\"; }, {",
     "these are 12 more holders; a rail has room for 128, of which 8 are left"},
    {"pin_in_ms = 550;", "pin_in_ms = 551;", "dock_ms: 800 ms; at least 801 ms: the simulated machine takes that"},
    {"pin_out_ms = 490;", "pin_out_ms = 501;", "undock_ms: 800 ms; at least 801 ms: settle_ms"},
    {"settle_ms = 50;", "settle_ms = 50; pin_limit_ms = 589;",
     "pin_limit_ms: 589 ms; at least 590 ms: the simulated machine"},
    {"empty_speed_mm_per_s = 1000;", "empty_speed_mm_per_s = 1001;",
     "at most 1000 mm/s: the simulated drive's own limit"},
    {"seed = 2;", "seed = 2; hysteresis_um = 600;", "passes_apart_mm: 0.6 mm (default); at least"},
    {"seed = 2;", "seed = 2; stop_low_um = 5000000;",
     "carriage.travel_most_mm: 1600 mm; at least 4950 mm: the simulated machine's limit of stop_high_um"},
    {"seed = 2;", "seed = 2; stop_low_um = 5000000; stop_high_um = 5000000;", "rail 1, holder 0: stop_high_um"},
    {"travel_least_mm = 0;", "travel_least_mm = -950.001;",
     "stations.[0].carriage.travel_least_mm: -950.001 mm; at least -950 mm: the simulated machine's limit of "
     "stop_low_um"},
    {"seed = 2;", "seed = 2; stop_low_um = 30000;",
     "carriage.park_mm: 20 mm; at least 30 mm: the simulated machine's limit of carriage_um, which follows "
     "from it"},
    {"side_clearance_mm = 0.5;", "",
     "rails.[0].side_clearance_mm: 0 mm (default); at least 0.350 mm either way: pair_mm"},
    {"side_clearance_mm = 0.5;", "side_clearance_mm = 0.349;", "side_clearance_mm: 0.349 mm; at least 0.350 mm"},
    {"side_clearance_mm = 0.5;", "side_clearance_mm = -0.349;", "side_clearance_mm: -0.349 mm; at least 0.350 mm"},
    {"side_clearance_mm = 0.5;", "side_clearance_mm = 0.5; blade_run_out_mm = 0.201;",
     "side_clearance_mm: 0.5 mm; at least 0.501 mm either way: pair_mm and blade_run_out_mm"},
    {"pair_mm = 0.3;", "pair_mm = 1.0;", "side_clearance_mm: 0.5 mm; at least 1.050 mm either way"},
    {"side_clearance_mm = 0.5;", "side_clearance_mm = 1.2; side_stroke_mm = 1.499;",
     "side_clearance_mm: 1.2 mm; at most 1.199 mm either way: side_stroke_mm less pair_mm"},
    {"role = \"lower\";", "role = \"lower\"; side_stroke_mm = 2;",
     "rails.[1].side_stroke_mm: 2 mm; it belongs to the upper rail"},
    {"role = \"lower\";", "role = \"upper\";",
     "side_clearance_mm: 0.5 mm; it belongs to a shear, which has a lower rail"},
    {"name = \"small-shear\";", "name = \"a\"; cut = \"score\";",
     "stations.[0].cut: score; the knives are pressed against a plain roll: there is no lower rail"},
    {"role = \"upper\";",
     "role = \"upper\"; frame: { table = ( { at_mm = 0; error_mm = 0; }, { at_mm = 1; error_mm = 0.101; } ); "
     "};",
     "rails.[0].frame.table.[1]: at_mm has to grow from point to point, and error_mm to change by at most a "
     "tenth"},
    {"role = \"upper\";", "role = \"upper\"; frame: { scale_ppm = 10000.001; };",
     "rails.[0].frame.scale_ppm: 10000.001; allowed: -10000 to 10000 ppm"},
    {"role = \"upper\";", "role = \"upper\"; frame: { offset_mm = 30.001; };",
     "park_mm: 20 mm; at least 30.001 mm: travel_least_mm"},
    {"role = \"upper\";", "role = \"upper\"; frame: { offset_mm = -12; };",
     "travel_most_mm: 1600 mm; at least 1600.001 mm: a scan ends there"},
    {"role = \"upper\";", "role = \"upper\"; frame: { references = ( { at_mm = 30; width_mm = 8; } ); };",
     "rails.[0].frame.references: a reference at 30.000 mm; at most 25.000 mm or at least 1575.000 mm: "
     "beyond the "
     "holders"},
    {"role = \"upper\";", "role = \"upper\"; frame: { references = ( { at_mm = 1574.999; width_mm = 8; } ); };",
     "a reference at 1574.999 mm; at most 25.000 mm or at least 1575.000 mm"},
    {"role = \"upper\";", "role = \"upper\"; frame: { references = ( { at_mm = 25; width_mm = 8; } ); };",
     "travel_least_mm: 0 mm; at most -7.001 mm: a scan starts there"},
    {"role = \"upper\";",
     "role = \"upper\"; frame: { references = ( { at_mm = -20; width_mm = 8; }, { at_mm = -7; width_mm = 8; "
     "} ); };",
     "reference 2: places have to grow, and the switch must see the gap before it for 3 cycles"},
    {"role = \"upper\";", "role = \"upper\"; frame: { references = ( { at_mm = 20; width_mm = 5; } ); };",
     "reference 1 is 5000 um wide; the switch must dwell on it for 3 cycles: 6000 um"},
    {"role = \"upper\";",
     "role = \"upper\"; frame: { references = ( { at_mm = -100; width_mm = 8; }, { at_mm = 20; width_mm = 8; "
     "}, { at_mm = 1580; width_mm = 8; }, { at_mm = 1700; width_mm = 8; } ); };",
     "their distances are the same from either end"},
    {"role = \"upper\";",
     "role = \"upper\"; frame: { references = ( { at_mm = -300; width_mm = 8; }, { at_mm = -270; width_mm = "
     "8; }, { at_mm = -240; width_mm = 8; }, { at_mm = -210; width_mm = 8; }, { at_mm = -180; width_mm = 8; "
     "}, { at_mm = -150; width_mm = 8; }, { at_mm = -120; width_mm = 8; }, { at_mm = -90; width_mm = 8; }, { "
     "at_mm = -60; width_mm = 8; } ); };",
     "frame.references: there are 9 references; up to 8 are possible"},
    {"role = \"upper\";",
     "role = \"upper\"; frame: { references = ( { at_mm = 20; width_mm = 8; } ); reference_step_mm = 1.1; };",
     "reference_step_mm: 1.1 mm; at most 1 mm: reference_window_mm"},
    {"role = \"upper\";", "role = \"upper\"; frame: { references = ( { at_mm = 800; width_mm = 8; } ); };",
     "can be taken for it; or with a switch of their own (reference_switch)"},
    {"role = \"upper\";",
     "role = \"upper\"; frame: { references = ( { at_mm = 800; width_mm = 5; } ); reference_switch = "
     "\"own\"; };",
     "reference 1 is 5000 um wide; the switch must dwell on it for 3 cycles: 6000 um"},
    {"role = \"upper\";",
     "role = \"upper\"; frame: { references = ( { at_mm = 30; width_mm = 8; }, { at_mm = 800; width_mm = 8; "
     "} ); "
     "reference_switch = \"own\"; reference_switch_offset_mm = 100; };",
     "travel_least_mm: 0 mm; at most"},
    {"role = \"upper\";",
     "role = \"upper\"; carriage: { travel_most_mm = 1650; setup_speed_mm_per_s = 400; }; "
     "frame: { references = ( { at_mm = 1580; width_mm = 8; }, { at_mm = 1600; width_mm = 8; } ); };",
     "rails.[0].carriage.setup_speed_mm_per_s: 400 mm/s; at most 261.377 mm/s: job 10 has to stop behind the last "
     "reference, within travel_most_mm"},
    {"role = \"upper\";", "role = \"upper\"; frame: { reference_switch = \"second\"; };", "reference_switch"},
    {"drag_speed_mm_per_s = 500;", "drag_speed_mm_per_s = 1001;",
     "carriage.drag_speed_mm_per_s: 1001 mm/s; at most 1000 mm/s: a carriage alone is at least as quick"},
    {"drag_accel_mm_per_s2 = 1000;", "drag_accel_mm_per_s2 = 1001;",
     "carriage.drag_accel_mm_per_s2: 1001 mm/s2; at most 1000 mm/s2: a carriage alone is at least as quick"},
    {"widest_mm = 1300;", "widest_mm = 1550.001;",
     "web.widest_mm: 1550.001 mm; at most 1550 mm: the web is wider than rail 1: its knives reach that far"},
    {"port = 1502; }", "port = 1502; }, { address = \"127.0.0.1\"; port = 1502; }",
     "face.listen.[1].port: 1502; listen.[0] already has it on 127.0.0.1"},
    {"port = 1502; }", "port = 1502; }, { address = \"0.0.0.0\"; port = 1502; }",
     "face.listen.[1].port: 1502; listen.[0] already has it on 127.0.0.1, which is or covers this address"},
    {"port = 1502; }", "port = 1502; }, { address = \"::\"; port = 1502; }", "face.listen.[1].port: 1502; listen.[0]"},
};

START_TEST(settings_that_contradict_each_other_are_told_with_value_and_limit)
{
    ck_assert(!read_changed(contradictions[_i].from, contradictions[_i].to));
    assert_told(contradictions[_i].expected);
}
END_TEST

/* One step back from each limit above there is no mistake. */
static const struct {
    const char *from, *to;
} just_right[] = {
    {"deadband_mm = 0.05;", "deadband_mm = 0.101;"},
    {"access = [ \"guards_closed\", \"enable\" ];",
     "access = [ \"guards_closed\", \"enable\" ]; jog = [ \"enable\" ]; setup_mode = \"safety_system\";"},
    {"pair_mm = 0.3;", "pair_mm = 0.45;"},
    {"slit_mm = 0.3;", "slit_mm = 2.0;"},
    {"side_clearance_mm = 0.5;", "side_clearance_mm = -0.35;"},
    {"side_clearance_mm = 0.5;", "side_clearance_mm = 0.31; blade_run_out_mm = 0.01;"},
    {"side_clearance_mm = 0.5;", "side_clearance_mm = 1.2; side_stroke_mm = 1.5;"},
    {"drag_speed_mm_per_s = 500;", "drag_speed_mm_per_s = 1000;"},
    {"widest_mm = 1300;", "widest_mm = 1400;"},
    {"travel_least_mm = 0;", "travel_least_mm = 11.999;"},
    {"travel_most_mm = 1600;", "travel_most_mm = 1588.001;"},
    {"park_mm = 20;", "park_mm = 125;"},
    {"park_mm = 20;", "park_mm = 1475;"},
    {"flag_width_mm = 8;", "flag_width_mm = 6;"},
    {"first_mm = 60; pitch_mm = 120;", "first_mm = 40; pitch_mm = 50.8;"},
    {"dock_ms = 800;", "dock_ms = 801;"},
    {"pin_out_ms = 490;", "pin_out_ms = 500;"},
    {"settle_ms = 50;", "settle_ms = 50; setpoint_limit_ms = 50;"},
    {"settle_ms = 50;", "settle_ms = 50; approach = \"falling\"; overtravel_mm = 1;"},
    {"period_ms = 10;", "period_ms = 1;"},
    {"travel_least_mm = 0;", "travel_least_mm = -950;"},
    {"role = \"upper\";", "role = \"upper\"; frame: { offset_mm = -11.999; };"},
    {"role = \"upper\";", "role = \"upper\"; frame: { table = ( { at_mm = 0; error_mm = 0; }, { at_mm = 1; "
                          "error_mm = 0.1; } ); };"},
    {"settle_ms = 50;", "settle_ms = 50; frame_expansion_ppm = 11.5;"},
    {"port = 1502; }", "port = 0; }, { address = \"127.0.0.1\"; port = 0; }"},
    {"port = 1502; }", "port = 1502; }, { address = \"127.0.0.2\"; port = 1502; }"},
    {"port = 1502; }", "port = 1502; }, { address = \"127.0.0.1\"; port = 1503; }"},
    {"port = 1502; }", "port = 1502; }, { address = \"::1\"; port = 1502; }"},
};

START_TEST(a_value_at_its_limit_is_allowed)
{
    bool fine = read_changed(just_right[_i].from, just_right[_i].to);
    ck_assert_msg(fine, "%s", errors.message[0]);
}
END_TEST

START_TEST(nothing_is_concluded_from_what_was_refused)
{
    ck_assert(!read_changed("flag_width_mm = 8;", "flag_width_mm = -8;"));
    ck_assert_uint_eq(errors.count, 1);
    ck_assert(!read_changed("period_ms = 10;", "period_ms = 1000;"));
    ck_assert_uint_eq(errors.count, 1);
    ck_assert(!read_changed("size = \"2 in\";", "size = \"9 in\";"));
    ck_assert_uint_eq(errors.count, 1);
    ck_assert(!read_changed("carriage: {", "carriage = 5; carriages: {"));
    assert_told("stations.[0].carriages: unknown setting; did you mean carriage?");
    assert_told("stations.[0].carriage: 5; allowed: a group { }");
    ck_assert_uint_eq(errors.count, 2);
}
END_TEST

/* ---- stations, rails, includes --------------------------------------------------------------------------------- */

static const char two_stations[] = "stations = ( %s, %s );\n";

static void one_station(char *text, size_t size, const char *name, int unit_id)
{
    const char *example_text = example("config/small-shear.cfg");
    const char *from = strstr(example_text, "stations = (") + strlen("stations = ("), *to = strrchr(example_text, ')');
    snprintf(text, size, "%.*s", (int)(to - from), from);
    char *at = strstr(text, "small-shear");
    memcpy(at, name, strlen("small-shear"));
    at = strstr(text, "unit_id = 1;");
    at[strlen("unit_id = ")] = (char)('0' + unit_id);
}

static bool read_two(const char *name, int unit_id, const char *face)
{
    static char a[9000], b[9000], text[20000];
    one_station(a, sizeof a, "first-shear", 1);
    one_station(b, sizeof b, name, unit_id);
    snprintf(text, sizeof text, two_stations, a, b);
    strcat(text, face);
    return read_text(text);
}

#define RULES(name) \
    "face: { rules = ( { address = \"192.0.2.5\"; may = \"control\"; station = \"first-shear\"; }, { " \
    "address = " \
    "\"192.0.2.7\"; may = \"control\"; station = \"" name \
    "\"; }, { address = \"192.0.2.9\"; may = \"maintain\"; } ); };"

START_TEST(an_address_rule_may_be_for_one_station)
{
    ck_assert_msg(read_two("other-shear", 2, RULES("other-shear")), "%s", errors.message[0]);
    ck_assert_uint_eq(config.face.rule[0].station_number, 1);
    ck_assert_uint_eq(config.face.rule[1].station_number, 2);
    ck_assert_uint_eq(config.face.rule[2].station_number, 0);
    ck_assert(!read_two("other-shear", 2, RULES("third-shear")));
    ck_assert_uint_eq(errors.count, 1);
    assert_told("face.rules.[1].station: \"third-shear\"; no station has this name");
}
END_TEST

START_TEST(stations_have_names_and_unit_identifiers_of_their_own)
{
    ck_assert_msg(read_two("other-shear", 2, ""), "%s", errors.message[0]);
    ck_assert_uint_eq(config.n_stations, 2);
    ck_assert_uint_eq(config.face.default_station, 2); /* none */
    ck_assert_int_eq(kr_config_station_named(&config, NULL), -1);
    ck_assert(read_two("other-shear", 2, "face: { default_station = \"other-shear\"; };"));
    ck_assert_uint_eq(config.face.default_station, 1);
    ck_assert(!read_two("first-shear", 2, ""));
    assert_told("stations.[1].name: \"first-shear\"; the station in line ");
    ck_assert(!read_two("other-shear", 1, ""));
    assert_told("stations.[1].unit_id: 1; the station in line ");
    ck_assert(!read_two("other-shear", 2, "face: { default_station = \"third-shear\"; };"));
    assert_told("face.default_station: \"third-shear\"; no station has this name");
}
END_TEST

/* n copies of the example's station, each with a name and a unit identifier of its own. */
static bool read_stations(int n)
{
    static char one[9000], all[(KR_STATIONS_MAX + 1) * 9000];
    size_t used = (size_t)snprintf(all, sizeof all, "stations = (");
    for (int i = 0; i < n; i++) {
        char name[16];
        snprintf(name, sizeof name, "shear-%05d", i);
        one_station(one, sizeof one, name, 1);
        char *unit = strstr(one, "unit_id = 1;");
        used += (size_t)snprintf(all + used, sizeof all - used, "%s%.*sunit_id = %d;%s", i > 0 ? ", " : "",
                                 (int)(unit - one), one, i + 1, unit + strlen("unit_id = 1;"));
    }
    snprintf(all + used, sizeof all - used, ");\n");
    return read_text(all);
}

START_TEST(a_gateway_has_up_to_32_stations)
{
    ck_assert_int_eq(KR_STATIONS_MAX, 32);
    ck_assert_msg(read_stations(32), "%s", errors.message[0]);
    ck_assert_uint_eq(config.n_stations, 32);
    ck_assert_str_eq(config.station[31].station.name, "shear-00031");
    ck_assert_uint_eq(config.station[31].unit_id, 32);
    ck_assert(!read_stations(33));
    assert_told("stations: there are 33 stations; 1 to 32 are possible");
}
END_TEST

START_TEST(a_rail_differs_from_the_stations_carriage_where_it_says_so)
{
    ck_assert(read_changed("role = \"lower\";", "role = \"lower\"; carriage: { drag_speed_mm_per_s = 300; "
                                                "dock_tries = 5; }; simulated: { slip_um = 7; };"));
    const struct kr_station_config *s = &config.station[0].station;
    ck_assert_int_eq(s->geometry.rail[0].drag.v_um_per_s, 500000);
    ck_assert_int_eq(s->geometry.rail[1].drag.v_um_per_s, 300000);
    ck_assert_int_eq(s->geometry.rail[1].empty.v_um_per_s, 1000000);
    ck_assert_uint_eq(s->carriage[0].dock_tries, 3);
    ck_assert_uint_eq(s->carriage[1].dock_tries, 5);
    ck_assert_int_eq(config.station[0].simulated.rail[0].slip_um, sim_parameter_named("slip_um")->value);
    ck_assert_int_eq(config.station[0].simulated.rail[1].slip_um, 7);
    ck_assert_int_eq(config.station[0].simulated.rail[1].pin_in_ms, 550);
    ck_assert(!read_changed("role = \"lower\";", "role = \"lower\"; simulated: { seed = 7; };"));
    assert_told("stations.[0].rails.[1].simulated.seed: unknown setting");
}
END_TEST

START_TEST(a_mistake_in_the_stations_carriage_is_told_once_not_once_a_rail)
{
    ck_assert(!read_changed("travel_least_mm = 0;", "travel_least_mm = 12;"));
    ck_assert_uint_eq(errors.count, 1);
    ck_assert(!read_changed("travel_least_mm = 0;", ""));
    ck_assert_uint_eq(errors.count, 2); /* each rail misses it */
    assert_told("stations.[0].rails.[0].carriage.travel_least_mm: missing");
    assert_told("stations.[0].rails.[1].carriage.travel_least_mm: missing");
}
END_TEST

START_TEST(the_simulated_machine_is_what_the_station_is_told_unless_the_file_says_otherwise)
{
    ck_assert(read_changed("settle_ms = 50;", "settle_ms = 50; switch_offset_mm = -3; clamping = \"common\";"));
    const struct sim_rail_config *rail = &config.station[0].simulated.rail[1];
    ck_assert_int_eq(rail->flag_width_um, 8000);
    ck_assert_int_eq(rail->switch_offset_um, -3000);
    ck_assert_int_eq(rail->clamp_common, 1);
    ck_assert_int_eq(rail->carriage_um, 20000);
    ck_assert_int_eq(rail->stop_low_um, -50000);
    ck_assert_int_eq(rail->stop_high_um, 1650000);
    ck_assert_int_eq(rail->holder[3].start_um, 80000 + 3 * 120000);
    ck_assert_int_eq(rail->holder[3].body_um, 50400);
    ck_assert_uint_eq(config.station[0].simulated.inputs, SIM_INPUTS_ALL);
    ck_assert_uint_eq(config.station[0].simulated.seed, 2);
    ck_assert(read_changed("seed = 2;", "seed = 2; switch_offset_um = 250; inputs = [ \"air\" ];"));
    ck_assert_int_eq(config.station[0].simulated.rail[0].switch_offset_um, 250);
    ck_assert_int_eq(config.station[0].station.carriage[0].switch_offset_um, 0);
    ck_assert_uint_eq(config.station[0].simulated.inputs, KR_DI_AIR);
}
END_TEST

START_TEST(holders_of_unknown_place_are_unknown_and_packed_by_the_simulated_machine)
{
    ck_assert(read_changed(
        "holders = ( { count = 12; size = \"2 in\"; edge_offset_mm = 10; first_mm = 60; pitch_mm = 120; } );",
        "holders = ( { count = 2; size = \"1 in\"; }, { size = \"3 in\"; state = \"absent\"; }, { size = \"2 "
        "in\"; state = "
        "\"fixed\"; },"
        " { size = \"3 in\"; state = \"out\"; edge_offset_mm = \"1/4 in\"; } );"));
    const struct kr_holder_data *holder = config.station[0].holder[0];
    const struct sim_holder_config *sim = config.station[0].simulated.rail[0].holder;
    ck_assert_uint_eq(config.station[0].station.geometry.rail[0].n_holders, 5);
    for (int i = 0; i < 5; i++)
        ck_assert_uint_eq(holder[i].known, KR_UNKNOWN);
    ck_assert_int_eq(holder[4].edge_offset_um, 6350);
    ck_assert_uint_eq(holder[4].state, KR_HOLDER_OUT);
    ck_assert(sim[2].absent && !sim[1].absent && sim[3].seized && !sim[4].seized);
    ck_assert_int_eq(sim[0].start_um, 40000);
    ck_assert_int_eq(sim[1].start_um, 40000 + 25400);
    ck_assert_int_eq(sim[3].start_um, sim[1].start_um + (25400 + 50800) / 2);
    ck_assert_int_eq(sim[4].start_um, sim[3].start_um + (50800 + 76200) / 2);
}
END_TEST

START_TEST(included_files_are_found_beside_the_file_and_named_in_mistakes)
{
    write_file("rails.cfg", "\n\nperiod_ms = 5000000000;\n", 26);
    ck_assert(!read_text("speed_factor = 7;\n  @include \"rails.cfg\"\nbook = \"b\"; # @include "
                         "\"none.cfg\"\n/* 7\n8 */ face: { idle_ms = 10L; };\n"));
    assert_told("rails.cfg:3: period_ms: 5000000000; allowed: 1 to 100 ms");
    assert_told("/mill.cfg:1: stations: missing");
    ck_assert_uint_eq(errors.count, 2);
    ck_assert(!read_text("a = 1;\n@include \"line.cfg\"\n"));
    ck_assert_uint_eq(errors.count, 1);
    assert_told("/mill.cfg:2: included file ");
    assert_told("/line.cfg: No such file");
    write_file("line.cfg", "@include \"line.cfg\"\n", 20);
    ck_assert(!read_text("@include \"line.cfg\"\n"));
    assert_told("more than 10 deep");
    char name[160];
    snprintf(name, sizeof name, "%s/folder", folder);
    ck_assert_int_eq(mkdir(name, 0700), 0);
    ck_assert(!read_text("@include \"folder\"\n"));
    assert_told("it is no regular file");
}
END_TEST

START_TEST(a_mistake_is_told_in_one_line_whatever_stands_in_the_file)
{
    ck_assert(!read_text("a = 1;\n@include \"line.cfg;\nbook = \"b\";\n"));
    assert_told("/mill.cfg:2: the path after @include is not closed on its line");
    ck_assert(!read_text("@include \"over\\\nlines.cfg\"\n"));
    assert_told("/mill.cfg:1: the path after @include is not closed on its line");
    ck_assert(!read_text("@include \"be\aep\r.cfg\"\n"));
    assert_told("/be?ep?.cfg: No such file");
    ck_assert(!read_text("book = 3;\nstations = \"two\\nlines\";\n"));
    assert_told("/mill.cfg:2: stations: \"two?lines\"");
}
END_TEST

/* Numbers in strings, comments and names are none; every other is hung on its own setting. */
START_TEST(a_number_is_hung_on_the_setting_that_it_stands_at)
{
    ck_assert(read_changed("period_ms = 10;", "/* 1 \" 2 */ period_ms = 0x0A; // 3 \"\n# 4 /*\n"));
    ck_assert_int_eq(config.period_ms, 10);
    ck_assert(read_changed("spacing_mm = 76.2;", "spacing_mm = 77; simulated_x2 = 3;") == false);
    assert_told("simulated_x2: unknown setting");
    ck_assert_uint_eq(errors.count, 1);
    ck_assert(
        read_changed("spacing_mm = 76.2; }", "/* 1 */ spacing_mm = 77; }, { name = \"4 in\"; spacing_mm = 78; }"));
    ck_assert_int_eq(config.station[0].station.geometry.size_spacing_um[1], 50800);
    ck_assert_int_eq(config.station[0].station.geometry.size_spacing_um[2], 77000);
    ck_assert_int_eq(config.station[0].station.geometry.size_spacing_um[3], 78000);
}
END_TEST

/* ---- the face -------------------------------------------------------------------------------------------------- */

START_TEST(addresses_and_prefixes_are_read_as_ranges_of_ipv6)
{
    ck_assert(read_changed("face: {",
                           "face: { rules = ( { address = \"192.0.2.16/28\"; may = \"control\"; },"
                           " { address = \"2001:db8::/32\"; may = \"nothing\"; }, { address = \"198.51.100.7\"; may "
                           "= \"read\"; },"
                           " { address = \"0.0.0.0/0\"; may = \"maintain\"; } );"
                           " groups = ( { name = \"both\"; addresses = [ \"192.0.2.10\", \"192.0.2.11\" ]; } );"));
    static const uint8_t v4[16] = {[10] = 0xff, [11] = 0xff, [12] = 192, [13] = 0, [14] = 2, [15] = 16};
    static const uint8_t v6[16] = {0x20, 0x01, 0x0d, 0xb8};
    const struct kr_face_rule *rule = config.face.rule;
    ck_assert_uint_eq(config.face.n_rules, 4);
    ck_assert_mem_eq(rule[0].prefix.address, v4, 16);
    ck_assert_uint_eq(rule[0].prefix.bits, 96 + 28);
    ck_assert_int_eq(rule[0].right, KR_RIGHT_CONTROL);
    ck_assert_mem_eq(rule[1].prefix.address, v6, 16);
    ck_assert_uint_eq(rule[1].prefix.bits, 32);
    ck_assert_int_eq(rule[1].right, KR_RIGHT_NONE);
    ck_assert_uint_eq(rule[2].prefix.bits, 128);
    ck_assert_uint_eq(rule[3].prefix.bits, 96);
    ck_assert_uint_eq(config.face.group[0].n_prefixes, 2);
    ck_assert_str_eq(config.face.group[0].name, "both");
}
END_TEST

static const char *const no_addresses[] = {"",
                                           "192.0.2",
                                           "192.0.2.256",
                                           "192.0.2.1/33",
                                           "192.0.2.1/24",
                                           "192.0.2.0/",
                                           "192.0.2.0/+8",
                                           "192.0.2.0/8x",
                                           "2001:db8::/129",
                                           "2001:db8::1/64",
                                           "mill",
                                           "192.0.2.0/-1",
                                           "192.0.2.0/99999999999999999999"};

START_TEST(what_is_no_address_is_refused)
{
    char to[160];
    snprintf(to, sizeof to, "face: { rules = ( { address = \"%s\"; may = \"read\"; } );", no_addresses[_i]);
    ck_assert(!read_changed("face: {", to));
    assert_told("face.rules.[0].address: ");
}
END_TEST

START_TEST(without_a_face_it_listens_on_this_computer_only)
{
    static char text[9000], file[9100];
    one_station(text, sizeof text, "first-shear", 1);
    snprintf(file, sizeof file, "stations = ( %s );", text);
    ck_assert(read_text(file));
    ck_assert_uint_eq(config.face.n_listen, 1);
    ck_assert_str_eq(config.face.listen[0].address, "127.0.0.1");
    ck_assert_uint_eq(config.face.listen[0].port, 1502);
    ck_assert_uint_eq(config.face.limits.connections, 64);
    ck_assert(!config.face.control_by_first_write);
    ck_assert_str_eq(config.book_path, "");
}
END_TEST

/* ---- the tables ------------------------------------------------------------------------------------------------ */

START_TEST(every_setting_has_a_meaning_a_range_and_a_default_or_must_be_given)
{
    struct kr_config_row row;
    size_t n = 0;
    for (; kr_config_row_at(n, &row); n++) {
        ck_assert_msg(strlen(row.meaning) > 5, "%s.%s", row.group, row.name);
        ck_assert_msg(strlen(row.allowed) > 5 && strlen(row.allowed) < sizeof row.allowed - 1, "%s.%s", row.group,
                      row.name);
        ck_assert_msg(row.change != KR_CHANGE_NONE || strcmp(row.allowed, "a group { }") == 0, "%s.%s", row.group,
                      row.name);
        ck_assert_msg(row.standard[0] && strlen(row.standard) < sizeof row.standard - 1, "%s.%s", row.group, row.name);
    }
    ck_assert_uint_gt(n, 100);
    ck_assert(!kr_config_row_at(n + 1, &row));
}
END_TEST

/* ---- a file that is read again --------------------------------------------------------------------------------- */

static struct kr_config running;
static struct kr_config_difference differences[64];
static int n_differences;

static void note(void *self, const struct kr_config_difference *difference)
{
    (void)self;
    ck_assert_int_lt(n_differences, 64);
    differences[n_differences++] = *difference;
}

static enum kr_change take_up_to(enum kr_change most)
{
    n_differences = 0;
    enum kr_change daemon = kr_config_take_daemon(&running, &config, most, (struct kr_config_listener){note, NULL});
    enum kr_change station =
        kr_config_take(&running.station[0], &config.station[0], most, (struct kr_config_listener){note, NULL});
    return daemon > station ? daemon : station;
}

/* The small shear runs, and its file is changed and read again. */
static void read_again(const char *from, const char *to)
{
    ck_assert(read_text(example("config/small-shear.cfg")));
    running = config;
    ck_assert_msg(read_changed(from, to), "%s", errors.message[0]);
}

static const struct {
    const char *from, *to, *where;
    enum kr_change change;
    const char *was, *is;
} changes[] = {
    {"period_ms = 10", "period_ms = 8", "period_ms", KR_CHANGE_RESTART, "10 ms", "8 ms"},
    {"face: {", "face: { idle_ms = 5000; ", "face.idle_ms", KR_CHANGE_LIVE, "120000 ms", "5000 ms"},
    {"face: {", "face: { connections = 65; ", "face.connections", KR_CHANGE_RESTART, "64", "65"},
    {"face: {", "face: { user_application = \"line 2\"; ", "face.user_application", KR_CHANGE_RESTART, "\"\"",
     "\"line 2\""},
    {"face: {", "face: { rules = ( { address = \"192.0.2.7\"; may = \"control\"; } ); ", "face.rules", KR_CHANGE_LIVE,
     "", ""},
    {"face: {", "face: { groups = ( { name = \"a\"; addresses = [ \"192.0.2.7\" ]; } ); ", "face.groups",
     KR_CHANGE_LIVE, "", ""},
    {"unit_id = 1", "unit_id = 2", "unit_id", KR_CHANGE_RESTART, "1", "2"},
    {"rails_move = \"together\"", "rails_move = \"one_after_other\"", "rails_move", KR_CHANGE_GEOMETRY, "together",
     "one_after_other"},
    {"centre_mm = 800", "centre_mm = 801", "web.centre_mm", KR_CHANGE_GEOMETRY, "800 mm", "801 mm"},
    {"knife_most_mm = 1.0", "knife_most_mm = 0.9", "placement.knife_most_mm", KR_CHANGE_LIVE, "1 mm", "0.9 mm"},
    {"slit_mm = 0.3", "slit_mm = 0.4", "placement.slit_mm", KR_CHANGE_UNVERIFY, "0.3 mm", "0.4 mm"},
    {"access = [ \"guards_closed\", \"enable\" ]", "access = [ \"guards_closed\" ]", "permissives.access",
     KR_CHANGE_LIVE, "guards_closed, enable", "guards_closed"},
    {"role = \"upper\";", "role = \"upper\"; carriage: { settle_ms = 60; };", "rail 1: carriage.settle_ms",
     KR_CHANGE_LIVE, "50 ms", "60 ms"},
    {"role = \"upper\";", "role = \"upper\"; carriage: { overtravel_mm = 1; approach = \"falling\"; };",
     "rail 1: carriage.approach", KR_CHANGE_GEOMETRY, "either", "falling"},
    {"role = \"upper\";", "role = \"upper\"; frame: { scale_ppm = 250.5; };", "rail 1: frame.scale_ppm", KR_CHANGE_SEED,
     "0 ppm", "250.5 ppm"},
    {"role = \"upper\";", "role = \"upper\"; frame: { table = ( { at_mm = 0; error_mm = 0.01; } ); };",
     "rail 1: frame.table", KR_CHANGE_SEED, "", ""},
    {"role = \"upper\";", "role = \"upper\"; frame: { reference_step_mm = 0.2; };", "rail 1: frame.reference_step_mm",
     KR_CHANGE_LIVE, "0.3 mm", "0.2 mm"},
    {"side_clearance_mm = 0.5", "side_clearance_mm = 0.6", "rail 1: side_clearance_mm", KR_CHANGE_GEOMETRY, "0.5 mm",
     "0.6 mm"},
    {"edge_offset_mm = -10", "edge_offset_mm = -9", "rail 2: holder 1 and 11 more: edge_offset_mm", KR_CHANGE_SEED,
     "-10 mm", "-9 mm"},
    {"count = 12", "count = 11", "rail 1: holders", KR_CHANGE_RESTART, "", ""},
    {"seed = 2", "seed = 3", "simulated.seed", KR_CHANGE_RESTART, "2", "3"},
    {"role = \"upper\";", "role = \"upper\"; simulated: { brake_open_ms = 240; };", "rail 1: simulated.brake_open_ms",
     KR_CHANGE_RESTART, "250 ms", "240 ms"},
};

static const struct kr_config_difference *difference_at(const char *where)
{
    for (int i = 0; i < n_differences; i++)
        if (strcmp(differences[i].where, where) == 0)
            return &differences[i];
    ck_abort_msg("no difference at %s; told first: %s", where, n_differences ? differences[0].where : "nothing");
}

START_TEST(a_changed_setting_is_named_with_both_values_and_what_it_needs)
{
    read_again(changes[_i].from, changes[_i].to);
    ck_assert_int_eq(take_up_to(KR_CHANGE_NONE), KR_CHANGE_NONE);
    const struct kr_config_difference *d = difference_at(changes[_i].where);
    ck_assert_int_eq(d->change, changes[_i].change);
    ck_assert_str_eq(d->was, changes[_i].was);
    ck_assert_str_eq(d->is, changes[_i].is);
    ck_assert(!d->taken);
}
END_TEST

/* What was taken does not differ any more, and what was not taken is told at every reload. */
START_TEST(a_setting_is_taken_up_to_what_is_allowed_and_no_further)
{
    read_again(changes[_i].from, changes[_i].to);
    enum kr_change change = changes[_i].change;
    ck_assert_int_lt(take_up_to((enum kr_change)(change - 1)), change);
    ck_assert(!difference_at(changes[_i].where)->taken);
    if (change > KR_CHANGE_GEOMETRY)
        return;
    ck_assert_int_eq(take_up_to(change), change);
    ck_assert(difference_at(changes[_i].where)->taken);
    take_up_to(change);
    for (int i = 0; i < n_differences; i++)
        ck_assert_int_gt(differences[i].change, change);
}
END_TEST

/* The file that is read again has another station in front of the one that runs. */
START_TEST(a_rule_that_is_read_again_stays_with_the_station_that_it_names)
{
    ck_assert(read_two("other-shear", 2, RULES("other-shear")));
    running = config;
    running.n_stations = 1; /* other-shear alone runs, as station 1 */
    running.station[0] = config.station[1];
    running.face.n_rules = 0;
    n_differences = 0;
    kr_config_take_daemon(&running, &config, KR_CHANGE_LIVE, (struct kr_config_listener){note, NULL});
    ck_assert_uint_eq(running.face.n_rules, 3);
    ck_assert_uint_eq(running.face.rule[0].station_number, KR_RULE_OF_NO_STATION);
    ck_assert_uint_eq(running.face.rule[1].station_number, 1);
    ck_assert_uint_eq(running.face.rule[2].station_number, 0);
}
END_TEST

/* Eleven holders need less of a rail than the twelve that are still there. */
START_TEST(geometry_waits_for_the_restart_that_the_holders_need)
{
    read_again("count = 12; size = \"2 in\"; edge_offset_mm = 10; first_mm = 60",
               "count = 11; size = \"2 in\"; edge_offset_mm = 10; first_mm = 60");
    config.station[0].station.geometry.rail[0].max_um -= 1000;
    config.station[0].station.deadband_um += 1;
    ck_assert_int_eq(take_up_to(KR_CHANGE_GEOMETRY), KR_CHANGE_LIVE);
    ck_assert(difference_at("placement.deadband_mm")->taken);
    ck_assert(!difference_at("rail 1: most_mm")->taken);
    ck_assert_int_eq(difference_at("rail 1: most_mm")->change, KR_CHANGE_RESTART);
}
END_TEST

START_TEST(a_file_that_is_read_again_unchanged_differs_in_nothing)
{
    read_again("period_ms", "period_ms");
    ck_assert_int_eq(take_up_to(KR_CHANGE_GEOMETRY), KR_CHANGE_NONE);
    ck_assert_int_eq(n_differences, 0);
}
END_TEST

#define LOOP(tc, test, rows) tcase_add_loop_test(tc, test, 0, (int)(sizeof(rows) / sizeof((rows)[0])))

Suite *make_suite(void)
{
    Suite *suite = suite_create("config");
    TCase *tc = suite_case(suite, "config");
    tcase_add_unchecked_fixture(tc, set_up, tear_down);
    LOOP(tc, a_number_is_taken_exactly_as_it_is_written, quantities);
    LOOP(tc, what_is_no_quantity_is_refused_and_nothing_is_guessed, no_quantities);
    LOOP(tc, a_comma_or_a_hyphen_is_refused_and_the_answer_says_how_it_is_written, explained);
    LOOP(tc, a_length_without_a_unit_is_in_the_one_that_the_reader_names, lengths);
    tcase_add_test(tc, a_kept_value_is_shown_in_the_unit_of_its_name);
    LOOP(tc, an_example_station_is_read_without_a_mistake, examples);
    LOOP(tc, an_example_machine_is_no_faster_than_common_practice, examples);
    tcase_add_test(tc, every_field_of_the_small_shear_is_what_its_file_says);
    tcase_add_test(tc, a_new_book_starts_with_the_holders_and_nothing_else);
    LOOP(tc, an_integer_that_does_not_fit_is_refused_as_it_stands, large);
    tcase_add_test(tc, a_mistake_of_syntax_stands_alone_with_file_and_line);
    tcase_add_test(tc, what_can_not_be_read_is_said_and_nothing_ends_the_process);
    tcase_add_test(tc, all_mistakes_of_meaning_are_told_in_one_run_in_the_order_of_the_file);
    tcase_add_test(tc, more_mistakes_than_there_is_room_for_are_counted);
    tcase_add_test(tc, what_a_rail_lacks_may_be_given_in_the_stations_group);
    LOOP(tc, settings_that_contradict_each_other_are_told_with_value_and_limit, contradictions);
    LOOP(tc, a_value_at_its_limit_is_allowed, just_right);
    tcase_add_test(tc, nothing_is_concluded_from_what_was_refused);
    tcase_add_test(tc, stations_have_names_and_unit_identifiers_of_their_own);
    tcase_add_test(tc, a_gateway_has_up_to_32_stations);
    tcase_add_test(tc, an_address_rule_may_be_for_one_station);
    tcase_add_test(tc, a_rule_that_is_read_again_stays_with_the_station_that_it_names);
    tcase_add_test(tc, a_rail_differs_from_the_stations_carriage_where_it_says_so);
    tcase_add_test(tc, a_mistake_in_the_stations_carriage_is_told_once_not_once_a_rail);
    tcase_add_test(tc, the_simulated_machine_is_what_the_station_is_told_unless_the_file_says_otherwise);
    tcase_add_test(tc, holders_of_unknown_place_are_unknown_and_packed_by_the_simulated_machine);
    tcase_add_test(tc, included_files_are_found_beside_the_file_and_named_in_mistakes);
    tcase_add_test(tc, a_mistake_is_told_in_one_line_whatever_stands_in_the_file);
    tcase_add_test(tc, a_number_is_hung_on_the_setting_that_it_stands_at);
    tcase_add_test(tc, addresses_and_prefixes_are_read_as_ranges_of_ipv6);
    LOOP(tc, what_is_no_address_is_refused, no_addresses);
    tcase_add_test(tc, without_a_face_it_listens_on_this_computer_only);
    tcase_add_test(tc, every_setting_has_a_meaning_a_range_and_a_default_or_must_be_given);
    LOOP(tc, a_changed_setting_is_named_with_both_values_and_what_it_needs, changes);
    LOOP(tc, a_setting_is_taken_up_to_what_is_allowed_and_no_further, changes);
    tcase_add_test(tc, geometry_waits_for_the_restart_that_the_holders_need);
    tcase_add_test(tc, a_file_that_is_read_again_unchanged_differs_in_nothing);
    return suite;
}
