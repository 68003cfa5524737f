/* The numbers of unit states and commands, which go over the wire, against the published ones: data/packml_states.csv
 * and data/packml_commands.csv name the sources. The tests of the station take a number by its name: a list with two
 * numbers exchanged would pass them all. */
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "kniferail/map.h"
#include "suite.h"

#define ROWS_MAX 32

struct row {
    int number;
    char name[24];
};

static struct row row[ROWS_MAX];
static int n_rows;

/* Rows are "number,name"; comments, and the line of the columns' names, are passed over. */
static void read_table(const char *path)
{
    char line[200];
    FILE *file = fopen(path, "r");
    ck_assert_msg(file != NULL, "%s", path);
    for (n_rows = 0; fgets(line, sizeof line, file) != NULL;) {
        if (line[0] < '0' || line[0] > '9')
            continue;
        ck_assert_int_lt(n_rows, ROWS_MAX);
        ck_assert_msg(sscanf(line, "%d,%23[^,\n]", &row[n_rows].number, row[n_rows].name) == 2, "%s", line);
        n_rows++;
    }
    ck_assert_int_eq(fclose(file), 0);
}

static const char *published(int number)
{
    for (int i = 0; i < n_rows; i++)
        if (row[i].number == number)
            return row[i].name;
    return "nothing";
}

/* The set in the map has the table's rows, each under the table's number, and no others. */
static void expect_table(const char *set, int n)
{
    int found = 0;
    ck_assert_int_eq(n_rows, n);
    for (size_t i = 0; kr_named_number(i) != NULL; i++) {
        const struct kr_named_number *ours = kr_named_number(i);
        if (strcmp(ours->set, set) != 0)
            continue;
        found++;
        ck_assert_msg(strcasecmp(ours->name, published(ours->number)) == 0, "%s %d is %s, published is %s", set,
                      ours->number, ours->name, published(ours->number));
    }
    ck_assert_int_eq(found, n);
}

START_TEST(unit_states_have_the_published_numbers)
{
    read_table("tests/reference/data/packml_states.csv");
    expect_table("UNIT_STATE", 17);
}
END_TEST

START_TEST(commands_have_the_published_numbers)
{
    read_table("tests/reference/data/packml_commands.csv");
    expect_table("COMMAND", 9);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("PackML numbers");
    TCase *tc = suite_case(suite, "published");
    tcase_add_test(tc, unit_states_have_the_published_numbers);
    tcase_add_test(tc, commands_have_the_published_numbers);
    return suite;
}
