/* The error codes that the simulated machine raises, against the published ones: data/cia402_error_codes.csv names the
 * source. All other tests take the codes by their names here. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sim/drive.h"

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

int main(void)
{
    Suite *suite = suite_create("error codes");
    TCase *tc = tcase_create("published");
    tcase_add_loop_test(tc, a_code_that_the_machine_raises_means_what_is_published, 0,
                        (int)(sizeof raised / sizeof raised[0]));
    suite_add_tcase(suite, tc);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
