#include "suite.h"

#include <stdbool.h>
#include <stdlib.h>

#define TIMEOUT_S 60

int suite_argc;
char **suite_argv;
const char *suite_only;

TCase *suite_case(Suite *suite, const char *name)
{
    TCase *tests = tcase_create(name);
    tcase_set_timeout(tests, TIMEOUT_S);
    suite_add_tcase(suite, tests);
    return tests;
}

int main(int argc, char *argv[])
{
    suite_argc = argc;
    suite_argv = argv;
    Suite *suite = make_suite();
    if (suite == NULL)
        return EXIT_FAILURE;
    SRunner *runner = srunner_create(suite);
    srunner_run(runner, NULL, suite_only, CK_ENV);
    bool passed = srunner_ntests_run(runner) > 0 && srunner_ntests_failed(runner) == 0;
    srunner_free(runner);
    return passed ? EXIT_SUCCESS : EXIT_FAILURE;
}
