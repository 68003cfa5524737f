#include "suite.h"

#include <stdbool.h>
#include <stdio.h>
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
    const char *alarms = getenv("KR_RIG_ALARMS"); /* rig/rig.c notes alarms there; a new run begins with none */
    FILE *file = alarms != NULL ? fopen(alarms, "w") : NULL;
    if (alarms != NULL && (file == NULL || fclose(file) != 0))
        return EXIT_FAILURE;
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
