/* Tests of drives in the station file: the values that are read, the defaults, and every contradiction with its
 * place. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "kniferail/config.h"
#include "suite.h"

#define EXAMPLE "config/wired-shear.cfg"

static struct kr_config config;
static struct kr_config_errors errors;

#define TEXT_MAX 24000

static void load_example(char text[TEXT_MAX])
{
    FILE *f = fopen(EXAMPLE, "r");
    ck_assert_ptr_nonnull(f);
    text[fread(text, 1, TEXT_MAX - 1, f)] = 0;
    fclose(f);
}

/* One text in another's place. */
static void put(char text[TEXT_MAX], const char *from, const char *to)
{
    char *at = strstr(text, from);
    ck_assert_msg(at != NULL, "there is no '%s'", from);
    static char changed[TEXT_MAX];
    int n = snprintf(changed, sizeof changed, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
    ck_assert_int_lt(n, TEXT_MAX);
    memcpy(text, changed, sizeof changed);
}

static bool read_text(const char *text)
{
    char path[] = "/tmp/kniferail-drive-XXXXXX";
    int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    ck_assert_int_eq(write(fd, text, strlen(text)), (ssize_t)strlen(text));
    close(fd);
    bool good = kr_config_read(path, &config, &errors);
    unlink(path);
    return good;
}

/* The example with one text put in another's place. */
static bool read_changed(const char *from, const char *to)
{
    static char text[TEXT_MAX];
    load_example(text);
    put(text, from, to);
    return read_text(text);
}

START_TEST(the_example_s_drives_are_read)
{
    ck_assert_msg(kr_config_read(EXAMPLE, &config, &errors), "%s", errors.message[0]);
    const struct kr_config_station *s = &config.station[0];
    ck_assert_int_eq(s->positioner, KR_POSITIONER_MODBUS);
    ck_assert(s->has_drives);
    ck_assert_uint_eq(s->simulated.n_rails, 2);
    ck_assert_str_eq(s->drive[1].link.address, "127.0.0.1");
    ck_assert_uint_eq(s->drive[0].link.port, 15021);
    ck_assert_uint_eq(s->drive[1].link.port, 15022);
    ck_assert_int_eq(s->drive[0].map.position.units, 4096);
    ck_assert_int_eq(s->drive[0].map.position.um, 20000);
    ck_assert_int_eq(s->drive[1].map.address[KR_OBJECT_WATCHDOG], 210);
    ck_assert_int_eq(s->drive[1].watchdog_most, 600);
}
END_TEST

/* A late answer may bring two edges of flags. Whether no other edge is hidden by them, the drive's own counts tell, if
 * they are read together with the positions. */
static const struct {
    const char *registers;
    bool first, second;
} counting[] = {
    {"registers: { watchdog = 210; };", true, false},
    {"registers: { watchdog = 210; rise_count = -1; fall_count = -1; };", false, false},
    {"registers: { watchdog = 210; fall_count = -1; };", false, false},
    {"registers: { watchdog = 210; inputs = 150; };", true, false},
    {"registers: { watchdog = 210; rise_count = 150; };", false, false}, /* by another transfer than the positions */
    {"registers: { watchdog = 210; probe_fall = 150; };", false, false},
    {"registers: { watchdog = 210; probe_2_rise = 116; probe_2_fall = 118; };", true, false},
    {"registers: { watchdog = 210; probe_2_rise = 116; probe_2_fall = 118; rise_2_count = 120; fall_2_count = 121; };",
     true, true},
    {"registers: { watchdog = 210; probe_2_rise = 116; probe_2_fall = 118; rise_2_count = 120; fall_2_count = 130; };",
     true, false},
};

START_TEST(edges_count_as_counted_if_the_drive_counts_them_and_one_transfer_reads_them)
{
    ck_assert_msg(read_changed("registers: { watchdog = 210; };", counting[_i].registers), "%s", errors.message[0]);
    for (int r = 0; r < 2; r++) {
        const bool *counted = config.station[0].station.carriage[r].edges_counted;
        ck_assert_int_eq(counted[KR_SWITCH_OF_HOLDERS], counting[_i].first);
        ck_assert_int_eq(counted[KR_SWITCH_OF_REFERENCES], counting[_i].second);
    }
}
END_TEST

START_TEST(the_simulated_machine_counts_edges)
{
    ck_assert(kr_config_read("config/framed-shear.cfg", &config, &errors));
    for (int of = 0; of < KR_SWITCHES; of++)
        ck_assert(config.station[0].station.carriage[0].edges_counted[of]);
}
END_TEST

START_TEST(what_the_file_leaves_open_is_the_standard_drive)
{
    struct kr_drive standard;
    kr_drive_standard(&standard);
    ck_assert(read_changed("registers: { watchdog = 210; };", ""));
    const struct kr_drive *d = &config.station[0].drive[0];
    for (int o = 0; o < KR_N_OBJECTS; o++)
        ck_assert_msg(d->map.address[o] == standard.map.address[o], "%s: %d instead of %d",
                      kr_object_info((enum kr_object)o)->setting, d->map.address[o], standard.map.address[o]);
    ck_assert_mem_eq(d->map.output_bit, standard.map.output_bit, sizeof standard.map.output_bit);
    ck_assert_mem_eq(d->map.input_bit, standard.map.input_bit, sizeof standard.map.input_bit);
    ck_assert_int_eq(d->map.referenced_bit, standard.map.referenced_bit);
    ck_assert_int_eq(d->link.parity, standard.link.parity);
    ck_assert_int_eq(d->link.baud, standard.link.baud);
    ck_assert_uint_eq(d->link.stop_bits, standard.link.stop_bits);
    ck_assert_uint_eq(d->link.retries, standard.link.retries);
    ck_assert_int_eq(d->link.answer_ms, standard.link.answer_ms);
    ck_assert_uint_eq(d->answer_lag, standard.answer_lag);
    ck_assert_int_eq(d->function_23, standard.function_23);
    ck_assert_int_eq(d->watchdog, standard.watchdog);
}
END_TEST

START_TEST(every_object_and_signal_has_its_setting_by_its_own_name)
{
    struct kr_config_row row;
    int registers = 0, signals = 0;
    for (size_t i = 0; kr_config_row_at(i, &row); i++) {
        if (strcmp(row.group, "stations.drive.registers") == 0)
            ck_assert_str_eq(row.name, kr_object_info((enum kr_object)registers++)->setting);
        if (strcmp(row.group, "stations.drive.inputs") != 0)
            continue;
        ck_assert_str_eq(row.name, kr_input_signal((unsigned)signals++));
    }
    ck_assert_int_eq(registers, KR_N_OBJECTS);
    ck_assert_int_eq(signals, KR_N_INPUT_SIGNALS);
}
END_TEST

START_TEST(a_rail_s_own_drive_differs_where_it_says_so_only)
{
    ck_assert_msg(read_changed("port = 15022; }", "port = 15022; answer_ms = 20; registers: { outputs = 60; }; "
                                                  "inputs: { flag = 15; }; inverted_inputs = [ \"flag\", \"air\" ]; }"),
                  "%s", errors.message[0]);
    const struct kr_drive *d = config.station[0].drive;
    ck_assert_int_eq(d[0].link.answer_ms, 50);
    ck_assert_int_eq(d[1].link.answer_ms, 20);
    ck_assert_int_eq(d[0].map.address[KR_OBJECT_OUTPUTS], 11);
    ck_assert_int_eq(d[1].map.address[KR_OBJECT_OUTPUTS], 60);
    ck_assert_int_eq(d[1].map.address[KR_OBJECT_WATCHDOG], 210); /* the station's */
    ck_assert_int_eq(d[1].map.input_bit[6], 15);
    ck_assert_uint_eq(d[1].map.inverted_inputs, KR_DI_FLAG | KR_DI_AIR);
    ck_assert_uint_eq(d[0].map.inverted_inputs, 0);
}
END_TEST

START_TEST(a_station_without_drives_has_none)
{
    ck_assert(kr_config_read("config/small-shear.cfg", &config, &errors));
    ck_assert(!config.station[0].has_drives);
}
END_TEST

static const struct {
    const char *from, *to, *says;
} mistakes[] = {
    {"drive: { address = \"127.0.0.1\"; port = 15021; };", "", "a drive on Modbus/TCP needs it"},
    {"address = \"127.0.0.1\"; port = 15021;", "address = \"127.0.0.1.1\";", "this is not an IPv4 or IPv6 address"},
    {"address = \"127.0.0.1\"; port = 15021;", "line = \"serial\";", "a drive on a serial line needs it"},
    {"address = \"127.0.0.1\"; port = 15021;", "line = \"serial\"; device = \"/dev/ttyS0\"; unit_id = 0;",
     "only 1 to 247 is possible on a serial line"},
    {"port = 15022;", "port = 15021;", "the drive of rail 1 on the same line has the same one"},
    {"stop_ms = 450;", "stop_ms = 600;", "watchdog_ms: 600 ms; at least 601 ms"},
    {"watchdog_ms = 600;                 # the drive's own watchdog: between stop_ms and lost_ms\n"
     "      lost_ms = 1000;",
     "lost_ms = 400;", "lost_ms: 400 ms; at least 451 ms"},
    {"lost_ms = 1000;", "lost_ms = 600;", "watchdog_ms: 600 ms; at most 599 ms"},
    {"stop_ms = 450;", "stop_ms = 450; line = \"serial\"; device = \"/dev/ttyS0\"; retries = 5; answer_ms = 100;",
     "5 further tries of 100 ms last 600 ms, and outlast the drive's watchdog of 600 ms"},
    {"registers: { watchdog = 210; };", "registers: { watchdog = -1; };",
     "without a register, the watchdog has to be proven"},
    {"registers: { watchdog = 210; };", "registers: { target = 8; };", "decel is 8, which target has, too"},
    {"registers: { watchdog = 210; };", "registers: { statusword = -1; };", "statusword is -1; allowed: 0 to 65535"},
    {"registers: { watchdog = 210; };", "registers: { watch_dog = 210; };", "did you mean watchdog?"},
    {"registers: { watchdog = 210; };", "inputs: { air = 20; };", "air is 20; allowed: 0 to 15"},
    {"position_units = 4096;", "position_units = 100000000;", "doesn't fit 32 bits in this unit"},
    {"position_units = 4096;", "position_units = 0;", "position_units"},
    {"register = 224; value = 2;", "register = 224; value = 2; mask = 1;",
     "value: 2; it has bits that mask 1 (1h) leaves out: no drive could show it"},
    {"register = 224; value = 2;", "register = 224; value = 65536;",
     "value: 65536; only -32768 to 65535 fit into so many words"},
    {"register = 224; value = 2;", "register = 224; value = -32769;", "only -32768 to 65535 fit into so many words"},
    {"register = 224; value = 2;", "register = 224; value = 2; mask = 65536;",
     "mask: 65536; only up to 65535 fits into so many words"},
    {"register = 224; value = 2;", "register = 224; value = 2; mask = 0;", "mask: 0; allowed: 1 to 4294967295"},
    {"register = 224; value = 2;", "register = 224;", "value: missing"},
    {"register = 222; words = 2;", "register = 65535; words = 2;",
     "register: 65535; its second word would be beyond the last register, 65535"},
    {"register = 222; words = 2;", "register = 221; words = 2;",
     "register: 221; parameter \"position limit, low\" has one of its registers already"},
    {"register = 225; value = 1;", "register = 224; value = 1;",
     "register: 224; parameter \"quick stop option\" has bits of this mask already"},
    {"\"disable option\"", "\"quick stop option\"", "another parameter of this list already has this name"},
    {"\"disable option\"", "\"an option that is told at length\"", "a string of 1 to 23 printable ASCII characters"},
    {"register = 224; value = 2;", "register = 11; value = 2;",
     "register 11 is registers.outputs, which changes while the gateway works"},
    {"register = 220; words = 2;", "register = 114; words = 2;", "register 114 is registers.inputs"},
    {"words = 2; value = -2048;", "words = 3; value = -2048;", "words: 3; allowed: 1 to 2"},
};

START_TEST(a_switch_of_the_references_needs_the_second_probe_and_its_input)
{
    static const char *const says[] = {
        "registers.probe_2_rise: -1 (default); the rail's references have a switch of their own",
        "registers.probe_2_fall: -1 (default); the rail's references have a switch of their own",
        "inputs.reference: -1 (default); the rail's references have a switch of their own"};
    ck_assert(!read_changed("role = \"upper\";",
                            "role = \"upper\"; frame: { references = ( { at_mm = 300; width_mm = 8; } ); "
                            "reference_switch = \"own\"; };"));
    ck_assert_uint_eq(errors.count, 3);
    for (int i = 0; i < 3; i++)
        ck_assert_msg(strstr(errors.message[i], says[i]) != NULL, "'%s' is not in: %s", says[i], errors.message[i]);
}
END_TEST

START_TEST(a_drive_that_is_impossible_is_refused_and_told_why)
{
    ck_assert(!read_changed(mistakes[_i].from, mistakes[_i].to));
    ck_assert_msg(strstr(errors.message[0], mistakes[_i].says) != NULL, "'%s' is not in: %s", mistakes[_i].says,
                  errors.message[0]);
    ck_assert_ptr_nonnull(strstr(errors.message[0], "drive"));
}
END_TEST

START_TEST(expected_parameters_are_read_as_the_drive_shows_them)
{
    ck_assert_msg(read_changed("port = 15022; }",
                               "port = 15022; expected = ( { name = \"own\"; register = 300; value = -2; }, "
                               "{ name = \"bit 3\"; register = 301; mask = 8; value = 8; }, "
                               "{ name = \"bit 4\"; register = 301; mask = 16; value = 0; } ); }"),
                  "%s", errors.message[0]);
    const struct kr_drive *d = config.station[0].drive;
    ck_assert_uint_eq(d[0].n_expected, 8);
    const struct kr_expected *low = &d[0].expected[0], *method = &d[0].expected[7];
    ck_assert_str_eq(low->name, "position limit, low");
    ck_assert_uint_eq(low->address, 220);
    ck_assert_uint_eq(low->words, 2);
    ck_assert_uint_eq(low->value, (uint32_t)-2048);
    ck_assert_uint_eq(low->mask, UINT32_MAX);
    ck_assert_uint_eq(method->mask, 0xFF);
    ck_assert_uint_eq(method->value, 17);
    ck_assert_uint_eq(d[1].n_expected, 3); /* the rail's own list takes the place of the station's */
    ck_assert_uint_eq(d[1].expected[0].value, 0xFFFE);
    ck_assert_int_eq(kr_expected_shown(&d[1].expected[0], 0xFFFE), -2);
}
END_TEST

START_TEST(more_parameters_than_there_is_room_for_are_refused)
{
    static char list[4000];
    size_t n = (size_t)snprintf(list, sizeof list, "port = 15022; expected = ( ");
    for (int i = 0; i <= KR_EXPECTED_MAX; i++)
        n += (size_t)snprintf(list + n, sizeof list - n, "%s{ name = \"p%d\"; register = %d; value = 1; }",
                              i ? ", " : "", i, 300 + i);
    snprintf(list + n, sizeof list - n, " ); }");
    ck_assert(!read_changed("port = 15022; }", list));
    ck_assert_msg(strstr(errors.message[0], "there are 25 parameters; at most 24 are possible") != NULL, "%s",
                  errors.message[0]);
    ck_assert_uint_eq(errors.count, 1);
}
END_TEST

START_TEST(two_drives_without_an_address_are_not_said_to_be_on_one_line)
{
    static char text[TEXT_MAX];
    load_example(text);
    put(text, "drive: { address = \"127.0.0.1\"; port = 15021; };", "");
    put(text, "drive: { address = \"127.0.0.1\"; port = 15022; };", "");
    ck_assert(!read_text(text));
    ck_assert_uint_eq(errors.count, 2);
    for (int i = 0; i < 2; i++)
        ck_assert_msg(strstr(errors.message[i], "a drive on Modbus/TCP needs it") != NULL, "%s", errors.message[i]);
}
END_TEST

/* Both drives of the example on one serial line, the second one as `second` says. */
static bool read_serial(const char *second)
{
    static char text[TEXT_MAX];
    char drive[200];
    load_example(text);
    snprintf(drive, sizeof drive, "line = \"serial\"; device = \"/dev/ttyS0\"; unit_id = 2; %s", second);
    put(text, "address = \"127.0.0.1\"; port = 15021;", "line = \"serial\"; device = \"/dev/ttyS0\";");
    put(text, "address = \"127.0.0.1\"; port = 15022;", drive);
    return read_text(text);
}

static const struct {
    const char *second, *says;
} lines[] = {
    {"baud = 57600;", "baud: 57600; the drive of rail 1 on the same line has another one"},
    {"parity = \"none\";", "parity: none; the drive of rail 1 on the same line has another one"},
    {"stop_bits = 2;", "stop_bits: 2; the drive of rail 1 on the same line has another one"},
    {"retries = 0;", "retries: 0; the drive of rail 1 on the same line has another one"},
    {"answer_ms = 30;", "answer_ms: 30 ms; the drive of rail 1 on the same line has another one"},
};

/* FC23 of 37 and 35 bytes of 11 bits each: 82 ms at 9600, 41 at 19200, 21 at 38400, 14 at 57600, silences left out; a
 * flag of 8 mm is passed at 200 mm/s in 40 ms. */
static const struct {
    int baud;
    const char *says; /* NULL: it is quick enough for two drives */
} rates[] = {
    {9600, "baud: 9600; a question and its answer take 90 ms; answer_ms waits for 50 ms"},
    {19200, "baud: 19200; to ask all drives of the line takes 90 ms, and a scan passes a flag in 40 ms"},
    {38400, "baud: 38400; to ask all drives of the line takes 48 ms"},
    {57600, NULL},
    {115200, NULL},
    {100000, "baud: 100000; a serial line can't be set to this rate; possible are 1200 2400 4800 9600 19200"},
};

START_TEST(a_serial_line_has_time_for_all_its_drives)
{
    static char text[TEXT_MAX];
    char drive[200];
    load_example(text);
    snprintf(drive, sizeof drive, "line = \"serial\"; device = \"/dev/ttyS0\"; baud = %d;", rates[_i].baud);
    put(text, "address = \"127.0.0.1\"; port = 15021;", drive);
    snprintf(drive, sizeof drive, "line = \"serial\"; device = \"/dev/ttyS0\"; unit_id = 2; baud = %d;",
             rates[_i].baud);
    put(text, "address = \"127.0.0.1\"; port = 15022;", drive);
    bool good = read_text(text);
    ck_assert_msg(good == (rates[_i].says == NULL), "%d: %s", rates[_i].baud, errors.message[0]);
    ck_assert_msg(good || strstr(errors.message[0], rates[_i].says) != NULL, "%s", errors.message[0]);
}
END_TEST

START_TEST(drives_on_one_line_agree_on_what_the_line_is)
{
    ck_assert_msg(read_serial(""), "%s", errors.message[0]);
    ck_assert(!read_serial(lines[_i].second));
    ck_assert_uint_eq(errors.count, 1);
    ck_assert_msg(strstr(errors.message[0], lines[_i].says) != NULL, "'%s' is not in: %s", lines[_i].says,
                  errors.message[0]);
}
END_TEST

/* The example's station twice, the second one under a name of its own and with its drives as said. */
static bool read_two_stations(const char *first, const char *drive_1, const char *drive_2)
{
    static char text[TEXT_MAX], again[TEXT_MAX];
    load_example(text);
    if (first)
        put(text, "address = \"127.0.0.1\"; port = 15021;", first);
    char *from = strstr(text, "stations = (");
    ck_assert_ptr_nonnull(from);
    from += strlen("stations = (");
    char *end = strrchr(text, ')');
    ck_assert_int_lt(snprintf(again, sizeof again, ", %.*s)", (int)(end - from), from), TEXT_MAX);
    *end = '\1';
    put(again, "name = \"wired-shear\"", "name = \"second\"");
    put(again, "unit_id = 1;", "unit_id = 2;");
    put(again, first ? first : "address = \"127.0.0.1\"; port = 15021;", drive_1);
    put(again, "address = \"127.0.0.1\"; port = 15022;", drive_2);
    put(text, "\1", again);
    return read_text(text);
}

START_TEST(two_stations_do_not_command_one_drive)
{
    const char *other = "address = \"127.0.0.1\"; port = 15023;";
    const char *line = "line = \"serial\"; device = \"/dev/ttyS0\"; unit_id = 3;";
    ck_assert_msg(read_two_stations(NULL, other, "address = \"127.0.0.1\"; port = 15024;"), "%s", errors.message[0]);
    ck_assert_msg(read_two_stations(NULL, other, "address = \"127.0.0.1\"; port = 15022; unit_id = 2;"), "%s",
                  errors.message[0]); /* another one behind the same address */
    ck_assert(!read_two_stations(NULL, other, "address = \"127.0.0.1\"; port = 15022;"));
    ck_assert_uint_eq(errors.count, 1);
    ck_assert_ptr_nonnull(strstr(errors.message[0], "stations.[1].rails.[1].drive"));
    ck_assert_ptr_nonnull(strstr(errors.message[0], "rail 2 of station wired-shear has this drive, too"));
    ck_assert(!read_two_stations(line, "line = \"serial\"; device = \"/dev/ttyS0\"; unit_id = 4;", other));
    ck_assert_ptr_nonnull(strstr(errors.message[0], "rail 1 of station wired-shear has this line, too"));
}
END_TEST

static char differing[1024]; /* "WHERE: IS, was WAS; " of each */

static void note(void *self, const struct kr_config_difference *d)
{
    (void)self;
    ck_assert_int_eq(d->change, KR_CHANGE_RESTART);
    ck_assert(!d->taken);
    size_t n = strlen(differing);
    snprintf(differing + n, sizeof differing - n, "%s: %s, was %s; ", d->where, d->is, d->was);
}

START_TEST(a_changed_drive_is_named_by_its_settings_and_needs_a_restart)
{
    static struct kr_config running;
    ck_assert(read_changed("port = 15022; }", "port = 15022; }"));
    running = config;
    ck_assert_msg(read_changed("port = 15022; }",
                               "port = 15022; parity = \"odd\"; position_um = 30000; registers: { outputs = 60; }; "
                               "outputs: { pin_in = 9; }; inputs: { flag = 15; }; "
                               "inverted_inputs = [ \"flag\", \"air\" ]; "
                               "expected = ( { name = \"own\"; register = 300; value = 1; } ); }"),
                  "%s", errors.message[0]);
    differing[0] = '\0';
    enum kr_change taken = kr_config_take(&running.station[0], &config.station[0], KR_CHANGE_GEOMETRY,
                                          (struct kr_config_listener){note, NULL});
    ck_assert_int_eq(taken, KR_CHANGE_NONE);
    ck_assert_str_eq(differing, "rail 2: drive.parity: odd, was even; "
                                "rail 2: drive.position_um: 30000 um, was 20000 um; "
                                "rail 2: drive.inverted_inputs: flag, air, was none; "
                                "rail 2: drive.registers.outputs: 60, was 11; "
                                "rail 2: drive.outputs.pin_in: 9, was 0; "
                                "rail 2: drive.inputs.flag: 15, was 6; "
                                "rail 2: drive.expected: , was ; ");
}
END_TEST

/* What is told of the settings whose names are asked for. */
static char told[512];

static void note_asked(void *self, const struct kr_config_difference *d)
{
    static const char *const asked[] = {"rail 2: drive.parity", "rail 2: drive.position_um", "rail 2: drive.expected",
                                        "rail 2: carriage.flag_width_mm", "placement.knife_mm"};
    unsigned *n = self;
    ++*n;
    ck_assert(!d->taken);
    for (size_t i = 0; i < sizeof asked / sizeof asked[0]; i++)
        if (strcmp(asked[i], d->where) == 0) {
            size_t used = strlen(told);
            snprintf(told + used, sizeof told - used, "%s %s; ", d->where, d->is);
        }
}

/* The bytes between the members included: both are the same object at two times. */
static bool same_bytes(const void *a, const void *b, size_t n)
{
    return memcmp(a, b, n) == 0;
}

START_TEST(every_setting_of_a_station_is_told_and_a_list_by_its_sum)
{
    static struct kr_config before;
    static char first[512];
    unsigned n = 0;
    ck_assert(read_changed("port = 15022; }", "port = 15022; }"));
    before = config;
    told[0] = '\0';
    kr_config_tell_settings(&config.station[0], (struct kr_config_listener){note_asked, &n});
    ck_assert(same_bytes(&before, &config, sizeof config));
    ck_assert_uint_gt(n, 200);
    ck_assert_ptr_nonnull(strstr(told, "rail 2: drive.position_um 20000 um; "));
    ck_assert_ptr_nonnull(strstr(told, "rail 2: carriage.flag_width_mm 8 mm; "));
    ck_assert_ptr_nonnull(strstr(told, "placement.knife_mm 0.203 mm; "));
    ck_assert_ptr_nonnull(strstr(told, "rail 2: drive.expected 8 entries, sum "));
    memcpy(first, told, sizeof first);
    told[0] = '\0';
    config.station[0].drive[1].expected[7].value ^= 1u;
    kr_config_tell_settings(&config.station[0], (struct kr_config_listener){note_asked, &n});
    ck_assert_uint_eq(strlen(first), strlen(told));
    ck_assert_str_ne(first, told); /* by its sum alone */
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("drives in the station file");
    TCase *tc = suite_case(suite, "drives");
    tcase_add_test(tc, the_example_s_drives_are_read);
    tcase_add_loop_test(tc, edges_count_as_counted_if_the_drive_counts_them_and_one_transfer_reads_them, 0,
                        sizeof counting / sizeof counting[0]);
    tcase_add_test(tc, the_simulated_machine_counts_edges);
    tcase_add_test(tc, what_the_file_leaves_open_is_the_standard_drive);
    tcase_add_test(tc, every_object_and_signal_has_its_setting_by_its_own_name);
    tcase_add_test(tc, a_rail_s_own_drive_differs_where_it_says_so_only);
    tcase_add_test(tc, a_changed_drive_is_named_by_its_settings_and_needs_a_restart);
    tcase_add_test(tc, every_setting_of_a_station_is_told_and_a_list_by_its_sum);
    tcase_add_test(tc, a_station_without_drives_has_none);
    tcase_add_test(tc, a_switch_of_the_references_needs_the_second_probe_and_its_input);
    tcase_add_loop_test(tc, a_drive_that_is_impossible_is_refused_and_told_why, 0,
                        (int)(sizeof mistakes / sizeof mistakes[0]));
    tcase_add_test(tc, expected_parameters_are_read_as_the_drive_shows_them);
    tcase_add_test(tc, more_parameters_than_there_is_room_for_are_refused);
    tcase_add_test(tc, two_drives_without_an_address_are_not_said_to_be_on_one_line);
    tcase_add_loop_test(tc, a_serial_line_has_time_for_all_its_drives, 0, (int)(sizeof rates / sizeof rates[0]));
    tcase_add_loop_test(tc, drives_on_one_line_agree_on_what_the_line_is, 0, (int)(sizeof lines / sizeof lines[0]));
    tcase_add_test(tc, two_stations_do_not_command_one_drive);
    return suite;
}
