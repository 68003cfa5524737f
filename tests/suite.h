/* Every file of tests that uses Check ends with make_suite(), which lists its tests; suite_main.c has the main() that
 * runs them. CK_RUN_CASE, CK_FORK and the other variables of Check work as its manual says. */
#ifndef KR_TESTS_SUITE_H
#define KR_TESTS_SUITE_H

#include <check.h>

/* The test file defines it. NULL: the program was called wrongly, and has said so. */
Suite *make_suite(void);

/* A group of tests that belongs to the suite. Each test may take a minute; tcase_set_timeout() changes that. */
TCase *suite_case(Suite *suite, const char *name);

/* What the program was called with, and the group that is to run alone (NULL: all of them). Few tests need either. */
extern int suite_argc;
extern char **suite_argv;
extern const char *suite_only;

#endif
