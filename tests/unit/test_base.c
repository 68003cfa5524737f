/* Tests of base: units, times, results, and the map as data. */
#include <stdlib.h>
#include <string.h>

#include "kniferail/alarm.h"
#include "kniferail/axis.h"
#include "kniferail/map.h"
#include "suite.h"

/* ---- lengths --------------------------------------------------------------------------------------------------- */

/* 1 in = 25.4 mm exactly: international yard and pound agreement, 1 July 1959. */
START_TEST(an_inch_is_25_4_mm_exactly)
{
    static const struct {
        int32_t ten_thousandths, um;
    } row[] = {{10000, 25400}, {120000, 304800}, {360000, 914400}, {400000, 1016000}, {1000000, 2540000}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        int64_t nm = kr_nm_from_count(row[i].ten_thousandths, KR_LENGTH_INCH);
        ck_assert_int_eq(nm, 1000LL * row[i].um);
        ck_assert_int_eq(kr_um_from_nm(nm), row[i].um);
        ck_assert_int_eq(kr_count_from_um(row[i].um, KR_LENGTH_INCH), row[i].ten_thousandths);
    }
}
END_TEST

START_TEST(lengths_round_to_the_nearest_halves_up)
{
    ck_assert_int_eq(kr_um_from_nm(1499), 1);
    ck_assert_int_eq(kr_um_from_nm(1500), 2);
    ck_assert_int_eq(kr_um_from_nm(-1499), -1);
    ck_assert_int_eq(kr_um_from_nm(-1500), -1);
    ck_assert_int_eq(kr_um_from_nm(-1501), -2);
    ck_assert_int_eq(kr_um_from_nm(0), 0);
}
END_TEST

START_TEST(rounding_commutes_with_a_shift_by_whole_micrometres)
{
    for (int64_t nm = -5000; nm <= 5000; nm++)
        ck_assert_int_eq(kr_um_from_nm(nm + 7000000), kr_um_from_nm(nm) + 7000);
}
END_TEST

START_TEST(a_register_count_in_either_unit_survives_the_way_to_nanometres_and_back)
{
    for (int32_t count = -70000; count < 70000; count += 13) {
        ck_assert_int_eq(kr_count_from_nm(kr_nm_from_count(count, KR_LENGTH_MM), KR_LENGTH_MM), count);
        ck_assert_int_eq(kr_count_from_nm(kr_nm_from_count(count, KR_LENGTH_INCH), KR_LENGTH_INCH), count);
    }
}
END_TEST

START_TEST(what_does_not_fit_saturates_instead_of_wrapping)
{
    ck_assert_int_eq(kr_um_from_nm(INT64_MAX), INT32_MAX);
    ck_assert_int_eq(kr_um_from_nm(INT64_MIN), INT32_MIN);
    ck_assert_int_eq(kr_count_from_nm(INT64_MAX, KR_LENGTH_INCH), INT32_MAX);
}
END_TEST

/* ---- time of a move -------------------------------------------------------------------------------------------- */

/* Symmetric rows of the trapezoid, worked with v^2 = 2 a x and x = v t, as in any mechanics textbook. */
START_TEST(a_move_takes_the_time_of_its_trapezoid)
{
    static const struct {
        int64_t d_um;
        struct kr_speed speed;
        int64_t t_us;
    } row[] = {
        {1000000, {500000, 1000000}, 2500000}, /* speed reached */
        {100000, {500000, 1000000}, 632456},   /* 2 sqrt(0.1) s = 0.632455532 s: triangle */
        {250000, {500000, 1000000}, 1000000},  /* the border between the two */
        {50, {200000, 2000000}, 10000},        /* 0.05 mm */
        {0, {500000, 1000000}, 0},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        ck_assert_int_eq(kr_move_time_us(row[i].d_um, row[i].speed), row[i].t_us);
}
END_TEST

START_TEST(a_longer_move_never_takes_less_time)
{
    struct kr_speed speed = {500000, 1000000};
    int64_t last_us = 0;
    for (int64_t d = 0; d < 600000; d += 7) {
        int64_t t_us = kr_move_time_us(d, speed);
        ck_assert_int_ge(t_us, last_us);
        last_us = t_us;
    }
}
END_TEST

/* ---- results in words ------------------------------------------------------------------------------------------ */

START_TEST(a_rejection_names_the_item_the_value_and_the_limit)
{
    char text[200];
    struct kr_result result = {KR_SLIT_TOO_NARROW, 1, 7, 24900, 25400};
    kr_result_text(&result, KR_LENGTH_MM, text, sizeof text);
    ck_assert_str_eq(text, "rail 1: slit 7 puts its holders 24.900 mm apart; at least 25.400 mm is needed");
    kr_result_text(&result, KR_LENGTH_INCH, text, sizeof text);
    ck_assert_str_eq(text, "rail 1: slit 7 puts its holders 0.9803 in apart; at least 1.0000 in is needed");
}
END_TEST

START_TEST(a_text_that_does_not_fit_is_cut_closed_and_its_length_told)
{
    char text[10];
    struct kr_result result = {.code = KR_NOTHING_STAGED};
    ck_assert_int_eq(kr_result_text(&result, KR_LENGTH_MM, text, sizeof text), (int)strlen("no order is staged"));
    ck_assert_str_eq(text, "no order ");
}
END_TEST

START_TEST(every_code_and_alarm_has_a_number_of_its_own_and_a_text_that_uses_what_it_carries)
{
    for (size_t i = 0; kr_code_info_at(i); i++) {
        const struct kr_code_info *a = kr_code_info_at(i);
        ck_assert_ptr_eq(kr_code_info((int)a->code), a);
        ck_assert_msg(i == 0 || kr_code_info_at(i - 1)->code < a->code, "%s is not in its place", a->name);
        ck_assert_msg(a->item == KR_ITEM_NONE || a->item == KR_ITEM_RAIL || strstr(a->text, "%i"), "%s", a->name);
        ck_assert_msg(a->value != KR_VALUE_NONE || !strstr(a->text, "%v"), "%s", a->name);
    }
    for (size_t i = 0; kr_alarm_info_at(i); i++) {
        const struct kr_alarm_info *a = kr_alarm_info_at(i);
        ck_assert_ptr_eq(kr_alarm_info((int)a->code), a);
        ck_assert_msg(i == 0 || kr_alarm_info_at(i - 1)->code < a->code, "%s is not in its place", a->name);
        ck_assert_msg(a->value != KR_VALUE_NONE || !strstr(a->text, "%v"), "%s", a->name);
    }
}
END_TEST

START_TEST(every_alarm_says_what_to_do_in_whole_sentences)
{
    for (size_t i = 0; kr_alarm_info_at(i); i++) {
        const struct kr_alarm_info *a = kr_alarm_info_at(i);
        size_t length = strlen(a->remedy);
        ck_assert_msg(length > 10 && length <= 240, "%s: %zu characters", a->name, length);
        ck_assert_msg(a->remedy[0] >= 'A' && a->remedy[0] <= 'Z' && a->remedy[length - 1] == '.', "%s", a->name);
        ck_assert_msg(!strchr(a->remedy, '%'), "%s", a->name);
    }
}
END_TEST

START_TEST(every_refusal_says_what_to_do_in_whole_sentences)
{
    for (size_t i = 0; kr_code_info_at(i); i++) {
        const struct kr_code_info *c = kr_code_info_at(i);
        const char *remedy = kr_code_remedy(c->code);
        size_t length = strlen(remedy);
        if (c->code == KR_OK) {
            ck_assert_str_eq(remedy, "");
            continue;
        }
        ck_assert_msg(length > 10 && length <= 240, "%s: %zu characters", c->name, length);
        ck_assert_msg(remedy[0] >= 'A' && remedy[0] <= 'Z' && remedy[length - 1] == '.', "%s", c->name);
    }
}
END_TEST

/* With the longest figures that there are. The sentences are shown and stored in buffers of KR_SENTENCE_MAX. */
START_TEST(every_sentence_fits_whole_with_its_figures)
{
    char text[KR_SENTENCE_MAX];
    for (size_t i = 0; kr_code_info_at(i); i++) {
        struct kr_result result = {kr_code_info_at(i)->code, KR_RAILS_MAX, 65535, INT32_MIN, INT32_MIN};
        int length = kr_result_text(&result, KR_LENGTH_MM, text, sizeof text);
        ck_assert_msg(length > 0 && length < KR_SENTENCE_MAX, "%d characters: %s", length, text);
    }
    for (size_t i = 0; kr_alarm_info_at(i); i++) {
        struct kr_alarm alarm = {(uint16_t)kr_alarm_info_at(i)->code, KR_RAILS_MAX, 65535, INT32_MIN, INT32_MIN};
        int length = kr_alarm_text(&alarm, KR_LENGTH_MM, text, sizeof text);
        ck_assert_msg(length > 0 && length < KR_SENTENCE_MAX, "%d characters: %s", length, text);
    }
}
END_TEST

/* Programs set a name and a colon before it, and a full stop or a remedy behind it. */
START_TEST(a_sentence_has_neither_a_capital_nor_a_full_stop)
{
    for (size_t i = 0; kr_code_info_at(i); i++) {
        const char *text = kr_code_info_at(i)->text;
        ck_assert_msg(strncmp(text, "LINE_", 5) == 0 || text[0] < 'A' || text[0] > 'Z', "%s", text);
        ck_assert_msg(text[strlen(text) - 1] != '.', "%s", text);
    }
    for (size_t i = 0; kr_alarm_info_at(i); i++) {
        const char *text = kr_alarm_info_at(i)->text;
        ck_assert_msg(strncmp(text, "LINE_", 5) == 0 || text[0] < 'A' || text[0] > 'Z', "%s", text);
        ck_assert_msg(text[strlen(text) - 1] != '.', "%s", text);
    }
}
END_TEST

START_TEST(an_alarm_names_its_holder_once_wherever_it_has_one)
{
    char text[200];
    for (size_t i = 0; kr_alarm_info_at(i); i++) {
        const struct kr_alarm_info *info = kr_alarm_info_at(i);
        struct kr_alarm alarm = {.code = (uint16_t)info->code, .rail = 2, .item = 87};
        kr_alarm_text(&alarm, KR_LENGTH_MM, text, sizeof text);
        const char *first = strstr(text, "87");
        bool other_rail = info->item == KR_ITEM_RAIL && strstr(info->text, "%i") != NULL;
        bool has_item = info->item != KR_ITEM_NONE && info->item != KR_ITEM_RAIL;
        ck_assert_msg((first != NULL) == (has_item || other_rail), "%s: %s", info->name, text);
        ck_assert_msg(first == NULL || !strstr(first + 1, "87"), "%s: %s", info->name, text);
    }
    struct kr_alarm pin = {KR_ALARM_PIN_NOT_OUT, 2, 8, 1500, 0};
    kr_alarm_text(&pin, KR_LENGTH_MM, text, sizeof text);
    ck_assert_str_eq(text, "rail 2, holder 8: the pin did not come out within 1500 ms");
    pin.item = 0; /* none is known */
    kr_alarm_text(&pin, KR_LENGTH_MM, text, sizeof text);
    ck_assert_str_eq(text, "rail 2: the pin did not come out within 1500 ms");
}
END_TEST

START_TEST(an_unknown_code_is_said_to_be_one)
{
    char text[64];
    struct kr_result result = {.code = (enum kr_code)9999};
    kr_result_text(&result, KR_LENGTH_MM, text, sizeof text);
    ck_assert_str_eq(text, "unknown result code 9999");
    struct kr_alarm alarm = {.code = 9999};
    kr_alarm_text(&alarm, KR_LENGTH_MM, text, sizeof text);
    ck_assert_str_eq(text, "unknown alarm code 9999");
}
END_TEST

/* ---- the map --------------------------------------------------------------------------------------------------- */

static unsigned words_of(const struct kr_reg_info *info)
{
    return (unsigned)info->n * kr_reg_words(info->type);
}

static bool inside_a_block(const struct kr_reg_info *info, unsigned first)
{
    for (int b = 0; kr_block_info((enum kr_block_id)b); b++) {
        const struct kr_block_info *block = kr_block_info((enum kr_block_id)b);
        if (block->area == info->area && first >= block->first &&
            first + words_of(info) <= (unsigned)block->first + block->words)
            return true;
    }
    return false;
}

START_TEST(every_register_lies_in_a_block_and_no_two_overlap)
{
    static unsigned char used[2][65536];
    memset(used, 0, sizeof used);
    for (int r = 1; r < KR_REG_COUNT; r++) {
        const struct kr_reg_info *info = kr_reg_info((enum kr_reg)r);
        for (uint16_t rail = 0; rail < (info->per_rail ? KR_RAILS_MAX : 1); rail++) {
            unsigned first = kr_reg_address((enum kr_reg)r, rail, 0);
            ck_assert_msg(inside_a_block(info, first), "%s is in no block", info->name);
            for (unsigned a = first; a < first + words_of(info); a++)
                ck_assert_msg(used[info->area == KR_AREA_INPUT][a]++ == 0, "%s overlaps at %u", info->name, a);
        }
    }
}
END_TEST

START_TEST(what_runs_the_machine_fits_one_read_of_50_registers)
{
    const struct kr_block_info *run = kr_block_info(KR_BLOCK_RUN);
    ck_assert_int_eq(run->first, 0);
    ck_assert_int_le(run->words, 50);
}
END_TEST

static bool is_long_array(const struct kr_reg_info *info)
{
    return info->n >= KR_SLITS_MAX;
}

START_TEST(a_block_longer_than_100_registers_has_behind_them_nothing_but_arrays_that_may_be_read_in_pieces)
{
    for (int b = 0; b < KR_BLOCK_COUNT; b++) {
        const struct kr_block_info *block = kr_block_info((enum kr_block_id)b);
        if (block->area != KR_AREA_INPUT || block->words <= KR_MAP_READ_WORDS_MAX)
            continue;
        unsigned n_arrays = 0;
        for (int r = 1; r < KR_REG_COUNT; r++) {
            const struct kr_reg_info *info = kr_reg_info((enum kr_reg)r);
            unsigned first = info->address, one_read = block->first + KR_MAP_READ_WORDS_MAX;
            if (info->area != KR_AREA_INPUT || first < block->first || first >= block->first + block->words)
                continue;
            n_arrays += is_long_array(info);
            ck_assert_msg(is_long_array(info) || first + words_of(info) <= one_read,
                          "%s of block %s is out of reach of one read", info->name, block->name);
        }
        ck_assert_msg(block->first > KR_MAP_RAIL_FIRST || n_arrays > 0, "block %s is too long", block->name);
    }
}
END_TEST

/* Marks a run of registers; false if one of them was marked before. */
static bool mark(unsigned char used[], unsigned first, unsigned n)
{
    bool free_before = true;
    for (unsigned a = first; a < first + n; a++)
        free_before = used[a]++ == 0 && free_before;
    return free_before;
}

START_TEST(room_is_kept_where_no_register_stands_inside_one_block_or_outside_all)
{
    static unsigned char used[2][65536];
    memset(used, 0, sizeof used);
    for (int r = 1; r < KR_REG_COUNT; r++) {
        const struct kr_reg_info *info = kr_reg_info((enum kr_reg)r);
        for (uint16_t rail = 0; rail < (info->per_rail ? KR_RAILS_MAX : 1); rail++)
            mark(used[info->area == KR_AREA_INPUT], kr_reg_address((enum kr_reg)r, rail, 0), words_of(info));
    }
    const struct kr_room_info *room;
    for (size_t i = 0; (room = kr_room_info(i)) != NULL; i++) {
        unsigned end = (unsigned)room->first + room->words;
        ck_assert_uint_le(end, room->area == KR_AREA_INPUT ? KR_MAP_INPUT_WORDS : KR_MAP_HOLDING_WORDS);
        ck_assert_msg(mark(used[room->area == KR_AREA_INPUT], room->first, room->words), "the room at %u is taken",
                      room->first);
        for (int b = 0; b < KR_BLOCK_COUNT; b++) {
            const struct kr_block_info *block = kr_block_info((enum kr_block_id)b);
            unsigned block_end = (unsigned)block->first + block->words;
            bool apart = block->area != room->area || end <= block->first || room->first >= block_end;
            ck_assert_msg(apart || (room->first >= block->first && end <= block_end),
                          "the room at %u lies across an end of block %s", room->first, block->name);
        }
    }
}
END_TEST

START_TEST(the_window_ends_within_the_address_space_and_lies_behind_what_clients_write)
{
    ck_assert_int_ge(KR_MAP_WINDOW, KR_MAP_HOLDING_WORDS);
    ck_assert_int_le(KR_MAP_WINDOW + KR_MAP_INPUT_WORDS, 65536);
}
END_TEST

START_TEST(a_value_lies_in_the_image_as_its_word_order_says)
{
    struct kr_image *image = malloc(sizeof *image);
    ck_assert_ptr_nonnull(image);
    kr_image_clear(image, (struct kr_format){KR_LENGTH_MM, false});
    kr_image_set_32(image, KR_REG_WORD_ORDER_PROOF, 0, 0, KR_MAP_WORD_ORDER_PROOF);
    ck_assert_uint_eq(image->word[0], 0x0102);
    ck_assert_uint_eq(image->word[1], 0x0304);
    kr_image_clear(image, (struct kr_format){KR_LENGTH_MM, true});
    kr_image_set_32(image, KR_REG_WORD_ORDER_PROOF, 0, 0, KR_MAP_WORD_ORDER_PROOF);
    ck_assert_uint_eq(image->word[0], 0x0304);
    ck_assert_uint_eq(image->word[1], 0x0102);
    free(image);
}
END_TEST

START_TEST(a_text_lies_two_characters_to_a_register_and_is_cut_at_its_end)
{
    struct kr_image *image = malloc(sizeof *image);
    ck_assert_ptr_nonnull(image);
    kr_image_clear(image, (struct kr_format){KR_LENGTH_MM, false});
    kr_image_set_text(image, KR_REG_STATION_NAME, "abc");
    uint16_t at = kr_reg_address(KR_REG_STATION_NAME, 0, 0);
    ck_assert_uint_eq(image->word[at], 0x6162);
    ck_assert_uint_eq(image->word[at + 1], 0x6300);
    kr_image_set_text(image, KR_REG_STATION_NAME, "a name that is longer than thirty-two characters");
    ck_assert_uint_eq(image->word[at + 16], 0);
    free(image);
}
END_TEST

START_TEST(an_order_length_in_inches_arrives_exactly)
{
    struct kr_snapshot snapshot = {.present = true};
    const struct kr_block_info *order = kr_block_info(KR_BLOCK_ORDER);
    /* 3 5/8 in = 3.6250 in = 92.075 mm */
    snapshot.word[kr_reg_address(KR_REG_WIDTH, 0, 5) - order->first + 1] = 36250;
    struct kr_format inches = {KR_LENGTH_INCH, false};
    ck_assert_int_eq(kr_snapshot_nm(&snapshot, KR_BLOCK_ORDER, KR_REG_WIDTH, 5, inches), 92075000);
}
END_TEST

/* ---- CiA 402 --------------------------------------------------------------------------------------------------- */

START_TEST(a_statusword_that_fits_no_state_is_unknown)
{
    ck_assert_int_eq(kr_drive_state_of(0x0061), KR_DRIVE_UNKNOWN);
    ck_assert_int_eq(kr_drive_state_of(0x0027 | 0x1400), KR_DRIVE_OPERATION_ENABLED);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("base");
    TCase *lengths = suite_case(suite, "lengths"), *times = suite_case(suite, "times"),
          *words = suite_case(suite, "words"), *map = suite_case(suite, "map"), *drive = suite_case(suite, "drive");
    tcase_add_test(lengths, an_inch_is_25_4_mm_exactly);
    tcase_add_test(lengths, lengths_round_to_the_nearest_halves_up);
    tcase_add_test(lengths, rounding_commutes_with_a_shift_by_whole_micrometres);
    tcase_add_test(lengths, a_register_count_in_either_unit_survives_the_way_to_nanometres_and_back);
    tcase_add_test(lengths, what_does_not_fit_saturates_instead_of_wrapping);
    tcase_add_test(times, a_move_takes_the_time_of_its_trapezoid);
    tcase_add_test(times, a_longer_move_never_takes_less_time);
    tcase_add_test(words, a_rejection_names_the_item_the_value_and_the_limit);
    tcase_add_test(words, a_text_that_does_not_fit_is_cut_closed_and_its_length_told);
    tcase_add_test(words, every_code_and_alarm_has_a_number_of_its_own_and_a_text_that_uses_what_it_carries);
    tcase_add_test(words, every_alarm_says_what_to_do_in_whole_sentences);
    tcase_add_test(words, every_refusal_says_what_to_do_in_whole_sentences);
    tcase_add_test(words, every_sentence_fits_whole_with_its_figures);
    tcase_add_test(words, a_sentence_has_neither_a_capital_nor_a_full_stop);
    tcase_add_test(words, an_unknown_code_is_said_to_be_one);
    tcase_add_test(words, an_alarm_names_its_holder_once_wherever_it_has_one);
    tcase_add_test(map, every_register_lies_in_a_block_and_no_two_overlap);
    tcase_add_test(map, what_runs_the_machine_fits_one_read_of_50_registers);
    tcase_add_test(map,
                   a_block_longer_than_100_registers_has_behind_them_nothing_but_arrays_that_may_be_read_in_pieces);
    tcase_add_test(map, room_is_kept_where_no_register_stands_inside_one_block_or_outside_all);
    tcase_add_test(map, the_window_ends_within_the_address_space_and_lies_behind_what_clients_write);
    tcase_add_test(map, a_value_lies_in_the_image_as_its_word_order_says);
    tcase_add_test(map, a_text_lies_two_characters_to_a_register_and_is_cut_at_its_end);
    tcase_add_test(map, an_order_length_in_inches_arrives_exactly);
    tcase_add_test(drive, a_statusword_that_fits_no_state_is_unknown);
    return suite;
}
