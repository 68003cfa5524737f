/* Tests of tables for a terminal, letter by letter. */
#include <string.h>

#include "../../src/cli/text_table.h"
#include "suite.h"

static const char *const names[] = {"job", "planned_ms", "rail", "worst_slit_um", "verdict"};
static const bool is_words[] = {true, false, false, false, true};
struct row {
    const char *cell[5];
};
static const struct row cells[] = {{{"changeover", "12000", "1", "-17", "it went well"}},
                                   {{"scan", "", "2", "3", ""}},
                                   {{"home", "7", "", "", "refused"}}};

static const char *cell(const void *data, size_t row, int column, char room[TEXT_TABLE_CELL_MAX])
{
    const struct row *of = data;
    if (column != 1) /* one column as numbers are: written into the room that is given */
        return of[row].cell[column];
    snprintf(room, TEXT_TABLE_CELL_MAX, "%s", of[row].cell[column]);
    return room;
}

static const char *printed(int n_columns, size_t n_rows, int width)
{
    static char out[2000];
    struct text_table table = {n_columns, n_rows, names, is_words, width, cell, cells};
    FILE *to = fmemopen(out, sizeof out, "w");
    text_table_print(&table, to);
    fputc('\0', to);
    fclose(to);
    return out;
}

START_TEST(words_stand_left_numbers_right_and_no_blank_ends_a_line)
{
    ck_assert_str_eq(printed(5, 3, 80), "                        worst\n"
                                        "           planned       slit\n"
                                        "job             ms rail    um verdict\n"
                                        "changeover   12000    1   -17 it went well\n"
                                        "scan                  2     3\n"
                                        "home             7            refused\n");
}
END_TEST

START_TEST(what_a_line_has_no_room_for_stands_below_its_row)
{
    ck_assert_str_eq(printed(5, 3, 23), "           planned\n"
                                        "job             ms rail\n"
                                        "changeover   12000    1\n"
                                        "    worst_slit_um -17, it went well\n"
                                        "scan                  2\n"
                                        "    worst_slit_um 3\n"
                                        "home             7\n"
                                        "    refused\n");
    ck_assert_str_eq(printed(4, 2, 22), "           planned\n"
                                        "job             ms\n"
                                        "changeover   12000\n"
                                        "    rail 1, worst_slit_um -17\n"
                                        "scan\n"
                                        "    rail 2, worst_slit_um 3\n");
}
END_TEST

START_TEST(a_name_of_many_words_keeps_them_all)
{
    static const char *const many[] = {"a_b_c_d_e"};
    static const struct row one[] = {{{"x"}}};
    struct text_table table = {1, 1, many, is_words, 80, cell, one};
    char out[100];
    FILE *to = fmemopen(out, sizeof out, "w");
    text_table_print(&table, to);
    fputc('\0', to);
    fclose(to);
    ck_assert_str_eq(out, "a_b\nc\nd\ne\nx\n");
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("text_table");
    TCase *tc = suite_case(suite, "printing");
    tcase_add_test(tc, words_stand_left_numbers_right_and_no_blank_ends_a_line);
    tcase_add_test(tc, what_a_line_has_no_room_for_stands_below_its_row);
    tcase_add_test(tc, a_name_of_many_words_keeps_them_all);
    return suite;
}
