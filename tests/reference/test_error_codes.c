/* The error codes that the simulated machine raises, against the published ones: data/cia402_error_codes.csv names the
 * source. All other tests take the codes by their names here. */
#include <stdio.h>
#include <string.h>

#include "kniferail/alarm.h"
#include "kniferail/drive_error.h"
#include "sim/drive.h"
#include "suite.h"

/* What the table says of a code. */
static void read_meaning(unsigned code, char meaning[80])
{
    char line[200];
    unsigned found = 0;
    FILE *file = fopen("tests/reference/data/cia402_error_codes.csv", "r");
    ck_assert_ptr_nonnull(file);
    while (found != code && fgets(line, sizeof line, file) != NULL)
        if (line[0] == '0')
            ck_assert_int_eq(sscanf(line, "%x,%79[^\n]", &found, meaning), 2);
    ck_assert_int_eq(fclose(file), 0);
    ck_assert_msg(found == code, "no 0x%04X in the table", code);
}

static const struct {
    unsigned code;
    const char *meaning;
} raised[] = {
    {SIM_ERROR_PARAMETER, "parameter error"},
    {SIM_ERROR_SILENCE, "life guard error or heartbeat error"},
    {SIM_ERROR_FOLLOWING, "following error"},
};

START_TEST(a_code_that_the_machine_raises_means_what_is_published)
{
    char meaning[80];
    read_meaning(raised[_i].code, meaning);
    ck_assert_str_eq(meaning, raised[_i].meaning);
}
END_TEST

/* The program's own table is the published one, no row more or less. */
START_TEST(the_program_has_every_code_in_the_published_words)
{
    static const unsigned codes[] = {
#define X(code, text) code,
        KR_DRIVE_ERRORS(X)
#undef X
    };
    char line[200], meaning[80];
    unsigned code, n = 0;
    FILE *file = fopen("tests/reference/data/cia402_error_codes.csv", "r");
    ck_assert_ptr_nonnull(file);
    while (fgets(line, sizeof line, file) != NULL) {
        if (line[0] != '0' || sscanf(line, "%x,%79[^\n]", &code, meaning) != 2 || code == 0)
            continue;
        ck_assert_uint_lt(n, sizeof codes / sizeof codes[0]);
        ck_assert_uint_eq(codes[n++], code);
        ck_assert_str_eq(kr_drive_error_text((uint16_t)code), meaning);
    }
    ck_assert_int_eq(fclose(file), 0);
    ck_assert_uint_eq(n, sizeof codes / sizeof codes[0]);
}
END_TEST

START_TEST(a_code_of_the_maker_s_own_has_its_groups_words_and_an_alarm_says_them)
{
    char text[200];
    struct kr_alarm fault = {KR_ALARM_DRIVE_FAULT, 1, 3, 0x8611, 0};
    ck_assert_str_eq(kr_drive_error_text(0x2312), "continuous over-current at the output");
    ck_assert_str_eq(kr_drive_error_text(0x2F77), "current");
    ck_assert_ptr_null(kr_drive_error_text(0));
    ck_assert_ptr_null(kr_drive_error_text(0x0123));
    kr_alarm_text(&fault, KR_LENGTH_MM, text, sizeof text);
    ck_assert_ptr_nonnull(strstr(text, "8611"));
    ck_assert_ptr_nonnull(strstr(text, "(following error)"));
    ck_assert_int_gt(kr_alarm_text(&fault, KR_LENGTH_MM, text, 10), 10); /* what it would have taken; nothing beyond */
    ck_assert_uint_lt(strlen(text), 10);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("error codes");
    TCase *tc = suite_case(suite, "published");
    tcase_add_loop_test(tc, a_code_that_the_machine_raises_means_what_is_published, 0,
                        (int)(sizeof raised / sizeof raised[0]));
    tcase_add_test(tc, the_program_has_every_code_in_the_published_words);
    tcase_add_test(tc, a_code_of_the_maker_s_own_has_its_groups_words_and_an_alarm_says_them);
    return suite;
}
