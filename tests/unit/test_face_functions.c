/* Tests of every Modbus function with the real register map: limits, edges, exceptions and their sequence. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "face_rig.h"
#include "suite.h"
#include "wire.h"

static struct pure *p;
static struct face_client plc; /* in control */

static void set_up(void)
{
    struct kr_face_config config = face_rig_defaults();
    p = pure_new(&config);
    plc = client_at(&config, "127.0.0.2");
    ck_assert(pure_write(p, &plc, KR_REG_ACCESS_REQUEST, 1));
}

static void tear_down(void)
{
    pure_free(p);
}

static const char *ask(const char *pdu)
{
    return pure_ask(p, &plc, pdu);
}

/* ---- reading ------------------------------------------------------------------------------------------- */

struct edge {
    const char *request, *answer; /* of the answer, as many bytes as are told */
};

static void check_edges(const struct edge *edges, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const char *answer = ask(edges[i].request);
        ck_assert_msg(strncmp(answer, edges[i].answer, strlen(edges[i].answer)) == 0, "%s is answered %s, not %s",
                      edges[i].request, answer, edges[i].answer);
    }
}
#define CHECK_EDGES(edges) check_edges(edges, sizeof(edges) / sizeof(edges)[0])

/* Which registers there are, straight from the table. */
static void mark_blocks(bool *exists, enum kr_area area, unsigned offset)
{
    const struct kr_block_info *block;
    for (int id = 0; (block = kr_block_info((enum kr_block_id)id)) != NULL; id++)
        for (unsigned i = 0; block->area == area && i < block->words; i++)
            exists[offset + block->first + i] = true;
}

static void check_reads(unsigned function, const bool *exists, uint16_t n)
{
    for (unsigned first = 0; first < 65536; first++) {
        bool all = first + n <= 65536;
        for (unsigned i = 0; all && i < n; i++)
            all = exists[first + i];
        if (n > 2 && first > 0 && first + n < 65536 && exists[first] == exists[first - 1] &&
            exists[first + n] == exists[first + n - 1])
            continue; /* neither end is at an edge */
        uint8_t request[12] = {[5] = 6, [6] = 1, [7] = (uint8_t)function}, answer[FACE_ADU_BYTES_MAX];
        put16(request + 8, (uint16_t)first);
        put16(request + 10, n);
        size_t n_answer = face_answer(&p->stations, &plc, request, sizeof request, answer);
        ck_assert_msg(n_answer == (all ? 9u + 2u * n : 9u) && answer[7] == (all ? function : function | 0x80u) &&
                          answer[8] == (all ? 2 * n : 2),
                      "function %u, %u registers from %u: %zu bytes, %02X %02X", function, n, first, n_answer,
                      answer[7], answer[8]);
    }
}

START_TEST(reads_may_span_adjoining_blocks_and_nothing_else)
{
    static bool input[65536 + 125], holding[65536 + 125];
    mark_blocks(input, KR_AREA_INPUT, 0);
    mark_blocks(holding, KR_AREA_HOLDING, 0);
    mark_blocks(holding, KR_AREA_INPUT, KR_MAP_WINDOW);
    static const uint16_t n[] = {1, 2, 125};
    check_reads(4, input, n[_i]);
    check_reads(3, holding, n[_i]);
}
END_TEST

START_TEST(quantities_are_those_of_the_specification)
{
    static const struct edge edges[] = {
        {"01 0000 0000", "81 03"}, {"01 0000 07D0", "81 02"}, {"01 0000 07D1", "81 03"}, {"01 0000 0010", "01 02"},
        {"02 0000 0000", "82 03"}, {"02 0000 07D0", "82 02"}, {"02 0000 07D1", "82 03"}, {"02 03E8 0080", "02 10"},
        {"03 0060 0000", "83 03"}, {"03 0060 007D", "03 FA"}, {"03 0060 007E", "83 03"}, {"03 0060 FFFF", "83 03"},
        {"04 0000 0000", "84 03"}, {"04 0000 007D", "04 FA"}, {"04 0000 007E", "84 03"}, {"04 0000 FFFF", "84 03"},
    };
    CHECK_EDGES(edges);
}
END_TEST

START_TEST(an_input_register_reads_the_same_in_the_holding_window)
{
    pure_cycle(p, false, false, false);
    ck_assert_str_eq(ask("04 0000 0002"), "04 04 01 02 03 04");
    ck_assert_str_eq(ask("03 2710 0002"), "03 04 01 02 03 04");
    ck_assert_str_eq(ask("03 2755 0003"), "03 06 00 01 00 01 00 01"); /* OWN_ROLE, OWN_CONTROL, CONTROL_HELD */
    ck_assert_str_eq(ask("10 2710 0001 02 0000"), "90 02");
    ck_assert_str_eq(ask("06 2710 0000"), "86 02");
}
END_TEST

START_TEST(bits_are_those_of_the_words_they_stand_for)
{
    struct kr_image *image = calloc(1, sizeof *image);
    struct kr_face_state state = {.control_generation = 1};
    kr_image_set_u16(image, KR_REG_STATUS, 0, 0, 0x8001);
    kr_image_set_u16(image, KR_REG_LINE_STATUS, 0, 0, 0x0005);
    kr_image_set_u16(image, KR_REG_CUTTING, 1, 7, 0x8000);
    face_registers_publish(&p->registers[0], image, &state);
    free(image);
    ck_assert_str_eq(ask("02 0000 0020"), "02 04 01 80 05 00");
    ck_assert_str_eq(ask("02 000F 0002"), "02 01 03");
    ck_assert_str_eq(ask("02 000F 0003"), "02 01 03"); /* the unused bits of the last byte are 0 */
    ck_assert_str_eq(ask("02 052F 0001"), "02 01 01"); /* rail 2, holder 128: 1000 + 200 + 127 */
    ck_assert_str_eq(ask("02 052F 0002"), "82 02");
    ck_assert_str_eq(ask("02 0040 0001"), "82 02");
}
END_TEST

/* ---- writing ------------------------------------------------------------------------------------------- */

START_TEST(a_write_reads_back_at_once)
{
    ck_assert_str_eq(ask("10 0064 0004 08 0001 0002 0003 0004"), "10 00 64 00 04");
    ck_assert_str_eq(ask("03 0064 0004"), "03 08 00 01 00 02 00 03 00 04");
    ck_assert_str_eq(ask("06 0065 0009"), "06 00 65 00 09");
    ck_assert_str_eq(ask("16 0065 FFF0 0006"), "16 00 65 FF F0 00 06"); /* 9 and FFF0h, or 6 where the mask is 0 */
    ck_assert_str_eq(ask("03 0064 0002"), "03 04 00 01 00 06");
}
END_TEST

START_TEST(a_write_that_leaves_its_block_changes_nothing)
{
    static const struct edge edges[] = {
        {"10 000F 0002 04 1111 2222", "90 02"}, /* from LINE into ACCESS */
        {"10 001F 0002 04 1111 2222", "90 02"}, /* from HALT into COMMAND */
        {"10 002F 0002 04 1111 2222", "90 02"}, /* from COMMAND into JOG */
        {"10 018F 0002 04 1111 2222", "90 02"},
        {"10 03E7 0001 02 1111", "90 02"},
        {"06 0038 0001", "86 02"},
        {"06 FFFF 0001", "86 02"},
        {"10 FFFF 0002 04 1111 2222", "90 02"},
        {"03 0000 0010", "03 20 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 "
                         "00 00 00 00 00"},
        {"03 0177 0001", "03 02 00 00"},
        {"03 002F 0001", "03 02 00 00"},
    };
    CHECK_EDGES(edges);
}
END_TEST

static bool has_row(uint16_t address)
{
    for (int reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++) {
        const struct kr_reg_info *info = kr_reg_info((enum kr_reg)reg);
        unsigned offset = (unsigned)address - info->address;
        if (info->area == KR_AREA_HOLDING && address >= info->address &&
            offset < (unsigned)info->n * kr_reg_words(info->type))
            return true;
    }
    return false;
}

START_TEST(registers_without_a_row_may_be_written_keep_nothing_and_read_0)
{
    unsigned n_without = 0;
    for (uint16_t i = 0; i < kr_block_info(KR_BLOCK_ORDER)->words; i++) {
        uint16_t address = (uint16_t)(kr_block_info(KR_BLOCK_ORDER)->first + i);
        char request[32], echo[32], read_back[32];
        if (address == kr_reg_address(KR_REG_REQUEST_NUMBER, 0, 0))
            continue;
        snprintf(request, sizeof request, "06 %04X 5A5A", address);
        snprintf(echo, sizeof echo, "06 %02X %02X 5A 5A", address >> 8, address & 0xFFu);
        ck_assert_str_eq(ask(request), echo);
        snprintf(read_back, sizeof read_back, "03 %04X 0001", address);
        ck_assert_str_eq(ask(read_back), has_row(address) ? "03 02 5A 5A" : "03 02 00 00");
        n_without += !has_row(address);
    }
    ck_assert_uint_gt(n_without, 0);
}
END_TEST

/* A PLC that writes one half of a 32-bit value changes that half; what the value is, is asked when the
 * block is handed over. */
START_TEST(half_of_a_32_bit_value_may_be_written_and_the_other_half_stays)
{
    ck_assert_str_eq(ask("10 0078 0002 04 0001 0002"), "10 00 78 00 02");
    ck_assert_str_eq(ask("06 0079 0099"), "06 00 79 00 99");
    ck_assert_str_eq(ask("10 0062 0001 02 0005"), "10 00 62 00 01");
    struct kr_face_take take = pure_cycle(p, false, false, false);
    ck_assert(take.request.present);
    struct kr_format high_first = {KR_LENGTH_MM, false};
    ck_assert_int_eq(kr_snapshot_i32(&take.request, KR_BLOCK_ORDER, KR_REG_WIDTH, 0, high_first), 0x00010099);
}
END_TEST

START_TEST(coils_are_the_bits_of_the_permissives)
{
    ck_assert_str_eq(ask("05 0002 FF00"), "05 00 02 FF 00");
    ck_assert_uint_eq(pure_holding(p, KR_REG_PERMISSIVES), 4);
    ck_assert_str_eq(ask("0F 0000 0010 02 03 80"), "0F 00 00 00 10");
    ck_assert_uint_eq(pure_holding(p, KR_REG_PERMISSIVES), 0x8003);
    ck_assert_str_eq(ask("0F 0004 0005 01 FF"), "0F 00 04 00 05"); /* five of the eight bits */
    ck_assert_uint_eq(pure_holding(p, KR_REG_PERMISSIVES), 0x81F3);
    ck_assert_str_eq(ask("05 0000 0000"), "05 00 00 00 00");
    ck_assert_str_eq(ask("01 0000 0010"), "01 02 F2 81");
    ck_assert_str_eq(ask("01 0001 000F"), "01 02 F9 40");
    ck_assert_str_eq(ask("0F 000F 0002 01 03"), "8F 02");
    ck_assert_str_eq(ask("05 0010 FF00"), "85 02");
    ck_assert_uint_eq(pure_holding(p, KR_REG_PERMISSIVES), 0x81F2);
}
END_TEST

/* APP 6.17: the write is carried out before the read. */
START_TEST(function_23_writes_before_it_reads)
{
    ck_assert_str_eq(ask("17 0064 0002 0064 0002 04 0007 0008"), "17 04 00 07 00 08");
    ck_assert_str_eq(ask("17 2710 0001 0000 0001 02 0001"), "17 02 00 00");
}
END_TEST

START_TEST(function_23_has_limits_of_its_own)
{
    char request[800];
    int used = snprintf(request, sizeof request, "17 0060 007D 0062 0079 F2 ");
    for (int i = 0; i < 121; i++)
        used += snprintf(request + used, sizeof request - (size_t)used, "%04X ", i == 0 ? 0 : i);
    ck_assert_msg(strncmp(ask(request), "17 FA", 5) == 0, "125 read, 121 written");
    static const struct edge edges[] = {
        {"17 0060 0000 0060 0001 02 0000", "97 03"},    {"17 0060 007E 0060 0001 02 0000", "97 03"},
        {"17 0060 0001 0060 0000 00", "97 03"},         {"17 0060 0001 0060 0001 04 0000", "97 03"},
        {"17 0060 0001 0060 0001 02 0000 00", "97 03"}, {"17 FFFF 0001 0060 0001 02 1234", "97 02"},
        {"17 0060 0001 FFFF 0001 02 1234", "97 02"},    {"03 0060 0001", "03 02 00 00"},
    };
    CHECK_EDGES(edges);
}
END_TEST

START_TEST(writes_of_123_registers_and_no_more)
{
    char request[800];
    for (int n = 123; n <= 124; n++) {
        int used = snprintf(request, sizeof request, "10 0063 %04X %02X ", n, 2 * n);
        for (int i = 0; i < n && i < 123; i++)
            used += snprintf(request + used, sizeof request - (size_t)used, "%04X", 0);
        ck_assert_str_eq(ask(request), n == 123 ? "10 00 63 00 7B" : "90 03");
    }
}
END_TEST

/* 1968 coils take 246 bytes; 247 would still fit a frame. */
START_TEST(writes_of_1968_coils_and_no_more)
{
    char request[800];
    for (int n = 1968; n <= 1969; n++) {
        int used = snprintf(request, sizeof request, "0F 0000 %04X %02X ", n, (n + 7) / 8);
        for (int i = 0; i < (n + 7) / 8; i++)
            used += snprintf(request + used, sizeof request - (size_t)used, "%02X", 0);
        ck_assert_str_eq(ask(request), n == 1968 ? "8F 02" : "8F 03");
    }
}
END_TEST

/* ---- malformed ----------------------------------------------------------------------------------------- */

START_TEST(a_request_whose_length_is_not_what_it_implies_gets_exception_03)
{
    static const struct edge edges[] = {
        {"01", "81 03"},
        {"02 00", "82 03"},
        {"03 0000 00", "83 03"},
        {"03 0000 0001 00", "83 03"},
        {"04 0000", "84 03"},
        {"05 0000 FF", "85 03"},
        {"05 0000 FF00 00", "85 03"},
        {"06 0000 00", "86 03"},
        {"06 0000 0000 00", "86 03"},
        {"0F 0000 0008", "8F 03"},
        {"0F 0000 0008 01", "8F 03"},
        {"0F 0000 0008 01 FF 00", "8F 03"},
        {"0F 0000 0008 02 FF 00", "8F 03"},
        {"0F 0000 0009 01 FF", "8F 03"},
        {"0F 0000 0000 00", "8F 03"},
        {"0F 0000 07B1 F7", "8F 03"},
        {"10 0000 0001", "90 03"},
        {"10 0000 0001 02 00", "90 03"},
        {"10 0000 0001 02 0000 00", "90 03"},
        {"10 0000 0001 03 0000 00", "90 03"},
        {"10 0000 0000 00", "90 03"},
        {"16 00", "96 03"},
        {"16 0064 0000", "96 03"},
        {"16 0064 FFFF 0000 00", "96 03"},
        {"17 0000 0001 0000", "97 03"},
        {"2B", "AB 03"},
        {"2B 0E", "AB 03"},
        {"2B 0E 01", "AB 03"},
        {"2B 0E 01 00 00", "AB 03"},
    };
    CHECK_EDGES(edges);
}
END_TEST

/* The state diagrams of the single functions (APP figures 11 to 30), where a request is wrong in two ways. */
START_TEST(of_two_faults_the_one_that_the_state_diagram_asks_first_is_told)
{
    static const struct edge edges[] = {
        {"03 FFFF 0000", "83 03"}, /* quantity before address */
        {"04 FFFF 007E", "84 03"},
        {"01 FFFF 0000", "81 03"},
        {"05 FFFF 1234", "85 03"}, /* value before address */
        {"0F FFFF 0000 00", "8F 03"},
        {"10 FFFF 0001 01 00", "90 03"},
        {"16 FFFF 00", "96 02"}, /* function 22 asks for the address first */
        {"17 FFFF 0000 FFFF 0001 02 0000", "97 03"},
        {"2B 0D 01", "AB 01"},    /* the type before all else */
        {"2B 0E 07 50", "AB 02"}, /* the object before the code */
        {"2B 0E 07 00", "AB 03"},
    };
    CHECK_EDGES(edges);
}
END_TEST

START_TEST(a_function_that_is_not_offered_gets_exception_01_whatever_follows)
{
    static const uint8_t offered[] = {1, 2, 3, 4, 5, 6, 15, 16, 22, 23, 43};
    for (unsigned function = 0; function < 256; function++) {
        char request[80], want[16];
        bool is_offered = memchr(offered, (int)function, sizeof offered) != NULL;
        snprintf(request, sizeof request, "%02X", function);
        snprintf(want, sizeof want, "%02X %s", function | 0x80u, is_offered ? "03" : "01");
        ck_assert_str_eq(ask(request), want);
        snprintf(request, sizeof request, "%02X 0000 0001 0000 0001 02 0000", function);
        if (!is_offered)
            ck_assert_str_eq(ask(request), want);
    }
}
END_TEST

/* ---- units --------------------------------------------------------------------------------------------- */

START_TEST(unit_identifiers_0_and_255_mean_the_default_station_and_unknown_ones_get_0A)
{
    ck_assert_str_eq(ask("06 0064 0042"), "06 00 64 00 42");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 0, "03 0064 0001"), "03 02 00 42");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 255, "03 0064 0001"), "03 02 00 42");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 2, "03 0064 0001"), "03 02 00 00");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 3, "03 0064 0001"), "83 0A");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 3, "63"), "E3 0A");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 254, "03 0064 0001"), "83 0A");
}
END_TEST

/* On a serial line 0 is a broadcast; here a write to it concerns one station and is answered. */
START_TEST(unit_identifier_0_is_never_a_broadcast)
{
    ck_assert(pure_write(p, &plc, KR_REG_ACCESS_REQUEST, 1));
    ck_assert_str_eq(pure_ask_unit(p, &plc, 2, "06 0010 0001"), "06 00 10 00 01");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 0, "06 0064 0042"), "06 00 64 00 42");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 2, "03 0064 0001"), "03 02 00 00");
}
END_TEST

START_TEST(without_a_default_station_0_and_255_get_0A_unless_there_is_one_station_only)
{
    p->config.default_station = KR_STATIONS_MAX;
    face_stations_map_unit_ids(&p->stations);
    ck_assert_str_eq(pure_ask_unit(p, &plc, 0, "03 0064 0001"), "83 0A");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 255, "03 0064 0001"), "83 0A");
    p->config.n_stations = 1;
    face_stations_map_unit_ids(&p->stations);
    ck_assert_str_eq(pure_ask_unit(p, &plc, 255, "03 0064 0001"), "03 02 00 00");
    ck_assert_str_eq(pure_ask_unit(p, &plc, 2, "03 0064 0001"), "83 0A");
}
END_TEST

/* ---- identification (APP 6.21) ------------------------------------------------------------------------- */

START_TEST(the_three_levels_of_identification_are_streamed)
{
    static const struct edge edges[] = {
        {"2B 0E 01 00", "2B 0E 01 83 00 00 03 00 06 56 65 6E 64 6F 72 01 04 43 6F 64 65 02 03 31 2E 30"},
        {"2B 0E 02 00", "2B 0E 02 83 00 00 04 00 06 56 65 6E 64 6F 72 01 04 43 6F 64 65 02 03 31 2E 30 04 04 4E 61 "
                        "6D 65"},
        {"2B 0E 03 04", "2B 0E 03 83 00 00 03 04 04 4E 61 6D 65 80 05 6E 6F 72 74 68 81 0E 72 65 67 69 73 74 65 72 "
                        "20 6D 61 70 20 32"},
        {"2B 0E 04 80", "2B 0E 04 83 00 00 01 80 05 6E 6F 72 74 68"}, /* individual */
        {"2B 0E 04 03", "AB 02"},                                     /* left empty: there is no such object */
        {"2B 0E 04 82", "AB 02"},
        {"2B 0E 00 00", "AB 03"},
        {"2B 0E 05 00", "AB 03"},
        {"2B 0E 01 03", "2B 0E 01 83 00 00 03 00 06"}, /* not of the basic ones: the stream starts anew */
        {"2B 0E 01 50", "2B 0E 01 83 00 00 03 00 06"},
        {"2B 0E 03 FF", "2B 0E 03 83 00 00 06 00 06"},
    };
    CHECK_EDGES(edges);
    ck_assert_str_eq(pure_ask_unit(p, &plc, 2, "2B 0E 04 80"), "2B 0E 04 83 00 00 01 80 05 73 6F 75 74 68");
}
END_TEST

START_TEST(objects_that_do_not_fit_follow_whole_in_the_next_answer)
{
    struct kr_face_identity *identity = &p->config.identity;
    char *const texts[] = {identity->vendor_name,     identity->product_code, identity->revision,
                           identity->vendor_url,      identity->product_name, identity->model_name,
                           identity->user_application};
    for (size_t i = 0; i < 7; i++) {
        memset(texts[i], 'a' + (int)i, KR_FACE_TEXT_MAX - 1);
        texts[i][KR_FACE_TEXT_MAX - 1] = '\0';
    }
    /* 7 + 2 x 122 bytes are 251: two a time, and 253 is the most that a PDU holds. */
    ck_assert_int_eq(strncmp(ask("2B 0E 02 00"), "2B 0E 02 83 FF 02 02 00 78 61", 29), 0);
    ck_assert_int_eq(strncmp(ask("2B 0E 02 02"), "2B 0E 02 83 FF 04 02 02 78 63", 29), 0);
    ck_assert_int_eq(strncmp(ask("2B 0E 02 04"), "2B 0E 02 83 FF 06 02 04 78 65", 29), 0);
    ck_assert_int_eq(strncmp(ask("2B 0E 02 06"), "2B 0E 02 83 00 00 01 06 78 67", 29), 0);
    ck_assert_int_eq(strncmp(ask("2B 0E 03 06"), "2B 0E 03 83 00 00 03 06 78 67", 29), 0);
}
END_TEST

/* A header of 7 bytes and 2 for each object: 120, 119 and 1 characters make 253 bytes, one more makes 254. */
START_TEST(an_answer_is_filled_to_its_last_byte_and_not_beyond)
{
    struct kr_face_identity *identity = &p->config.identity;
    strcpy(identity->revision, "1");
    memset(identity->vendor_name, 'a', 120);
    memset(identity->product_code, 'b', 119);
    identity->vendor_name[120] = identity->product_code[119] = '\0';
    const char *answer = ask("2B 0E 01 00");
    ck_assert_int_eq(strncmp(answer, "2B 0E 01 83 00 00 03", 20), 0);
    ck_assert_uint_eq(strlen(answer), 3 * 253 - 1);
    strcat(identity->product_code, "b");
    ck_assert_int_eq(strncmp(ask("2B 0E 01 00"), "2B 0E 01 83 FF 02 02", 20), 0);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("face_functions");
    TCase *tc = suite_case(suite, "functions");
    tcase_add_checked_fixture(tc, set_up, tear_down);
    tcase_add_loop_test(tc, reads_may_span_adjoining_blocks_and_nothing_else, 0, 3);
    tcase_add_test(tc, quantities_are_those_of_the_specification);
    tcase_add_test(tc, an_input_register_reads_the_same_in_the_holding_window);
    tcase_add_test(tc, bits_are_those_of_the_words_they_stand_for);
    tcase_add_test(tc, a_write_reads_back_at_once);
    tcase_add_test(tc, a_write_that_leaves_its_block_changes_nothing);
    tcase_add_test(tc, registers_without_a_row_may_be_written_keep_nothing_and_read_0);
    tcase_add_test(tc, half_of_a_32_bit_value_may_be_written_and_the_other_half_stays);
    tcase_add_test(tc, coils_are_the_bits_of_the_permissives);
    tcase_add_test(tc, function_23_writes_before_it_reads);
    tcase_add_test(tc, function_23_has_limits_of_its_own);
    tcase_add_test(tc, writes_of_123_registers_and_no_more);
    tcase_add_test(tc, writes_of_1968_coils_and_no_more);
    tcase_add_test(tc, a_request_whose_length_is_not_what_it_implies_gets_exception_03);
    tcase_add_test(tc, of_two_faults_the_one_that_the_state_diagram_asks_first_is_told);
    tcase_add_test(tc, a_function_that_is_not_offered_gets_exception_01_whatever_follows);
    tcase_add_test(tc, unit_identifiers_0_and_255_mean_the_default_station_and_unknown_ones_get_0A);
    tcase_add_test(tc, unit_identifier_0_is_never_a_broadcast);
    tcase_add_test(tc, without_a_default_station_0_and_255_get_0A_unless_there_is_one_station_only);
    tcase_add_test(tc, the_three_levels_of_identification_are_streamed);
    tcase_add_test(tc, objects_that_do_not_fit_follow_whole_in_the_next_answer);
    tcase_add_test(tc, an_answer_is_filled_to_its_last_byte_and_not_beyond);
    return suite;
}
