/* Tests with every worked example of the MODBUS specifications, byte for byte. The examples are about an invented
 * device, so the registers are laid out like that device's; everything else is the real face.
 *
 * Sources, named line by line in the files: tests/reference/data/modbus_pdu_vectors.csv (APP: MODBUS Application
 * Protocol Specification V1.1b3) and modbus_tcp_vectors.csv (MSG: MODBUS Messaging on TCP/IP Implementation Guide
 * V1.0b; OPEN: Open MODBUS/TCP Specification 1.0). */
#include <stdio.h>
#include <string.h>

#include "face_rig.h"
#include "frame.h"
#include "suite.h"

#define ROWS_MAX 64

struct row {
    char id[24], kind[12], hex[160];
};
static struct row rows[ROWS_MAX];
static size_t n_rows;

/* id,[fc_hex,]kind,hex,...: no field before the hex is quoted. */
static void read_rows(const char *path, bool has_function)
{
    char line[512];
    FILE *file = fopen(path, "r");
    ck_assert_msg(file != NULL, "%s", path);
    ck_assert_ptr_nonnull(fgets(line, sizeof line, file)); /* the heading */
    n_rows = 0;
    while (fgets(line, sizeof line, file) != NULL) {
        struct row *row = &rows[n_rows];
        const char *format = has_function ? "%23[^,],%*[^,],%11[^,],%159[^,]" : "%23[^,],%11[^,],%159[^,]";
        ck_assert_uint_lt(n_rows, ROWS_MAX);
        ck_assert_int_eq(sscanf(line, format, row->id, row->kind, row->hex), 3);
        n_rows++;
    }
    fclose(file);
}

static const struct row *row_named(const char *id)
{
    for (size_t i = 0; i < n_rows; i++)
        if (strcmp(rows[i].id, id) == 0)
            return &rows[i];
    ck_abort_msg("no row %s", id);
    return NULL;
}

/* ---- the device of the examples ------------------------------------------------------------------------ */

static struct pure *device;
static struct face_client client;

/* Coils 1 to 1185 over holding registers from 100, discrete inputs over input registers from 0, everything
 * writable. */
static void lay_out_device(void)
{
    struct kr_face_config config = face_rig_defaults();
    device = pure_new(&config);
    client = client_at(&config, "127.0.0.1");
    face_control_give(&device->registers[0].control, &client, KR_CONTROL_HELD, config.group);
    struct face_layout *layout = &device->layout;
    layout->n_input = layout->n_holding = layout->n_coils = layout->n_discrete = 1;
    layout->input[0] = (struct face_run){0, 1000};
    layout->holding[0] = (struct face_run){0, KR_MAP_HOLDING_WORDS};
    layout->coil[0] = (struct face_bits){0, 1185, 200};
    layout->discrete[0] = (struct face_bits){0, 1185, 200};
    memset(layout->block, KR_BLOCK_LINE, sizeof layout->block);
    memset(layout->watched, 0, sizeof layout->watched);
    memset(layout->kept, 0xFF, sizeof layout->kept);
}

static void free_device(void)
{
    pure_free(device);
}

/* What the example says the device held, before the request. */
static void set_bits(uint16_t *words, unsigned first, const char *bytes_hex, unsigned n)
{
    uint8_t bytes[8];
    hex_read(bytes_hex, bytes, sizeof bytes);
    for (unsigned i = 0; i < n; i++)
        if (bytes[i / 8] >> i % 8 & 1)
            words[200 + (first + i) / 16] |= (uint16_t)(1u << (first + i) % 16);
}

static void set_words(uint16_t *words, unsigned first, const char *bytes_hex)
{
    uint8_t bytes[32];
    size_t n = hex_read(bytes_hex, bytes, sizeof bytes);
    for (size_t i = 0; i < n / 2; i++)
        words[first + i] = (uint16_t)(bytes[2 * i] << 8 | bytes[2 * i + 1]);
}

/* The holding registers of the example of 6.17 overlap with others: each example is set up by itself. */
static void set_up(const char *id)
{
    uint16_t *holding = device->registers[0].holding, *input = device->registers[0].input;
    if (strncmp(id, "fc01", 4) == 0)
        set_bits(holding, 0x13, "CD 6B 05", 19);
    else if (strncmp(id, "fc02", 4) == 0)
        set_bits(input, 0xC4, "AC DB 35", 22);
    else if (strncmp(id, "fc03", 4) == 0)
        set_words(holding, 0x6B, "02 2B 00 00 00 64");
    else if (strncmp(id, "fc04", 4) == 0)
        set_words(input, 8, "00 0A");
    else if (strncmp(id, "fc22", 4) == 0)
        set_words(holding, 4, "00 12");
    else if (strncmp(id, "fc23", 4) == 0)
        set_words(holding, 3, "00 FE 0A CD 00 01 00 03 00 0D 00 FF");
    else if (strncmp(id, "open", 4) == 0)
        set_words(holding, 4, "00 05");
}

/* And what it must hold after it. */
static void check_effect(const char *id)
{
    const uint16_t *holding = device->registers[0].holding;
    if (strncmp(id, "fc05", 4) == 0)
        ck_assert_uint_eq(holding[200 + 0xAC / 16], 1u << 0xAC % 16);
    if (strncmp(id, "fc06", 4) == 0)
        ck_assert_uint_eq(holding[1], 3);
    if (strncmp(id, "fc15", 4) == 0) { /* coils 20 to 29: 1 0 1 1 0 0 1 1 1 0 (APP 6.11) */
        ck_assert_uint_eq(holding[201], 0x01CDu << 3);
        ck_assert_uint_eq(holding[202], 0);
    }
    if (strncmp(id, "fc16", 4) == 0) {
        ck_assert_uint_eq(holding[1], 0x000A);
        ck_assert_uint_eq(holding[2], 0x0102);
    }
    if (strncmp(id, "fc22", 4) == 0)
        ck_assert_uint_eq(holding[4], 0x0017);
    if (strncmp(id, "fc23", 4) == 0)
        for (unsigned i = 0; i < 3; i++)
            ck_assert_uint_eq(holding[0x0E + i], 0x00FF);
}

/* ---- the examples -------------------------------------------------------------------------------------- */

/* Those of the functions that are answered, and the example of an exception (APP 7). */
static const char *const answered[] = {"fc01", "fc02", "fc03", "fc04", "fc05",   "fc06",
                                       "fc15", "fc16", "fc22", "fc23", "exc-ex1"};

START_TEST(an_example_of_the_application_protocol_is_answered_byte_for_byte)
{
    char request[32], response[32];
    read_rows("tests/reference/data/modbus_pdu_vectors.csv", true);
    snprintf(request, sizeof request, "%s-req", answered[_i]);
    snprintf(response, sizeof response, "%s-rsp", answered[_i]);
    set_up(answered[_i]);
    ck_assert_str_eq(pure_ask(device, &client, row_named(request)->hex), row_named(response)->hex);
    check_effect(answered[_i]);
}
END_TEST

/* Serial line only (APP 6.7 to 6.10), files and the queue (6.14, 6.15, 6.18): not of this server. */
static const char *const unknown[] = {"fc07", "fc08", "fc11", "fc12", "fc20", "fc21", "fc24"};

START_TEST(an_example_of_a_function_that_is_not_offered_gets_exception_01)
{
    char request[32], want[16];
    unsigned function;
    read_rows("tests/reference/data/modbus_pdu_vectors.csv", true);
    snprintf(request, sizeof request, "%s-req", unknown[_i]);
    ck_assert_int_eq(sscanf(row_named(request)->hex, "%2x", &function), 1);
    snprintf(want, sizeof want, "%02X 01", function | 0x80u);
    ck_assert_str_eq(pure_ask(device, &client, row_named(request)->hex), want);
}
END_TEST

START_TEST(every_line_of_the_file_is_used_by_one_of_these_tests)
{
    size_t n = 2; /* the two requests of 43/14 */
    read_rows("tests/reference/data/modbus_pdu_vectors.csv", true);
    n += 2 * sizeof answered / sizeof answered[0] + 2 * sizeof unknown / sizeof unknown[0];
    ck_assert_uint_eq(n_rows, n);
}
END_TEST

/* APP 6.21, p.45: basic stream from object 0. The answers printed there do not fit their own lengths, so
 * this one is put together by the rules of the clause. */
START_TEST(the_example_request_for_identification_gets_the_basic_objects)
{
    read_rows("tests/reference/data/modbus_pdu_vectors.csv", true);
    ck_assert_str_eq(pure_ask(device, &client, row_named("fc43-14-req")->hex),
                     "2B 0E 01 83 00 00 03 "
                     "00 06 56 65 6E 64 6F 72 01 04 43 6F 64 65 02 03 31 2E 30");
    ck_assert_str_eq(pure_ask(device, &client, row_named("fc43-14-req2")->hex), "2B 0E 01 83 00 00 01 02 03 31 2E 30");
}
END_TEST

/* The whole ADU: transaction, protocol and unit come back, the length is the answer's own (MSG 3.1.3). */
START_TEST(an_example_with_its_header_is_answered_byte_for_byte)
{
    uint8_t adu[FACE_ADU_BYTES_MAX], out[FACE_ADU_BYTES_MAX];
    char hex[FACE_RIG_HEX_BYTES];
    read_rows("tests/reference/data/modbus_tcp_vectors.csv", false);
    if ((size_t)_i + 1 >= n_rows || strcmp(rows[_i].kind, "request") != 0 || strcmp(rows[_i + 1].kind, "request") == 0)
        return; /* not a pair: the next tests have those */
    if (strncmp(rows[_i].id, "open", 4) == 0)
        device->config.station[0].unit_id = 9;
    face_stations_map_unit_ids(&device->stations);
    size_t n = hex_read(rows[_i].hex, adu, sizeof adu), length = 0;
    ck_assert_int_eq(face_frame_at(adu, n, &length), FACE_FRAME_WHOLE);
    ck_assert_uint_eq(length, n);
    set_up(rows[_i].id);
    size_t n_out = face_answer(&device->stations, &client, adu, n, out);
    hex_write(out, n_out, hex, sizeof hex);
    ck_assert_str_eq(hex, rows[_i + 1].hex);
    check_effect(rows[_i].id);
}
END_TEST

/* MSG 4.4.1.2, p.22: transaction 1501h, unit FFh, one register from address 4. */
START_TEST(the_request_of_the_messaging_guide_is_answered_under_its_own_header)
{
    uint8_t adu[FACE_ADU_BYTES_MAX], out[FACE_ADU_BYTES_MAX];
    char hex[FACE_RIG_HEX_BYTES];
    read_rows("tests/reference/data/modbus_tcp_vectors.csv", false);
    device->registers[0].holding[4] = 0xABCD;
    size_t n = hex_read(row_named("mbap-guide")->hex, adu, sizeof adu);
    size_t n_out = face_answer(&device->stations, &client, adu, n, out);
    hex_write(out, n_out, hex, sizeof hex);
    ck_assert_str_eq(hex, "15 01 00 00 00 05 FF 03 02 AB CD");
}
END_TEST

/* ---- APP 7: "with 100 registers: start 96 and quantity 4 is right, 96 and 5 gives exception 02" -------- */

START_TEST(the_edge_of_the_registers_is_where_the_text_of_exception_02_puts_it)
{
    device->layout.holding[0] = (struct face_run){0, 100};
    ck_assert_str_eq(pure_ask(device, &client, "03 0060 0004"), "03 08 00 00 00 00 00 00 00 00");
    ck_assert_str_eq(pure_ask(device, &client, "03 0060 0005"), "83 02");
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("face_vectors");
    TCase *app = suite_case(suite, "application protocol");
    tcase_add_checked_fixture(app, lay_out_device, free_device);
    tcase_add_loop_test(app, an_example_of_the_application_protocol_is_answered_byte_for_byte, 0,
                        sizeof answered / sizeof answered[0]);
    tcase_add_loop_test(app, an_example_of_a_function_that_is_not_offered_gets_exception_01, 0,
                        sizeof unknown / sizeof unknown[0]);
    tcase_add_test(app, every_line_of_the_file_is_used_by_one_of_these_tests);
    tcase_add_test(app, the_example_request_for_identification_gets_the_basic_objects);
    tcase_add_test(app, the_edge_of_the_registers_is_where_the_text_of_exception_02_puts_it);
    TCase *tcp = suite_case(suite, "messaging on TCP");
    tcase_add_checked_fixture(tcp, lay_out_device, free_device);
    tcase_add_loop_test(tcp, an_example_with_its_header_is_answered_byte_for_byte, 0, 27);
    tcase_add_test(tcp, the_request_of_the_messaging_guide_is_answered_under_its_own_header);
    return suite;
}
