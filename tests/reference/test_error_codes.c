/* The error codes that the simulated machine raises, against the published ones: data/cia402_error_codes.csv names the
 * source. All other tests take the codes by their names here. */
#include <stdio.h>
#include <string.h>

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

Suite *make_suite(void)
{
    Suite *suite = suite_create("error codes");
    TCase *tc = suite_case(suite, "published");
    tcase_add_loop_test(tc, a_code_that_the_machine_raises_means_what_is_published, 0,
                        (int)(sizeof raised / sizeof raised[0]));
    return suite;
}
