/* Texts in which marks stand for values. */
#include "../../src/cli/text_fill.h"

#include <stdlib.h>

#include "suite.h"

static void put(FILE *to, const char *name, const void *data)
{
    fprintf(to, "<%s %s>", name, (const char *)data);
}

/* Returns the text that was written; the caller frees it. */
static char *filled(const char *text)
{
    char *out = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&out, &size);
    ck_assert_ptr_nonnull(to);
    text_fill(to, text, put, "data");
    ck_assert_int_eq(fclose(to), 0);
    return out;
}

static void is_filled_as(const char *text, const char *expected)
{
    char *out = filled(text);
    ck_assert_str_eq(out, expected);
    free(out);
}

START_TEST(a_mark_is_replaced_wherever_it_stands)
{
    is_filled_as("", "");
    is_filled_as("no mark\n", "no mark\n");
    is_filled_as("Station @STATION@.\n", "Station <STATION data>.\n");
    is_filled_as("@A@@B_C@ and @A@\n", "<A data><B_C data> and <A data>\n");
}
END_TEST

START_TEST(a_mark_that_is_a_whole_line_is_replaced_with_the_end_of_its_line)
{
    is_filled_as("head\n@ROWS@\ntail\n", "head\n<ROWS data>tail\n");
    is_filled_as("@ROWS@\n", "<ROWS data>");
    is_filled_as("the @LAST@\nnext\n", "the <LAST data>\nnext\n");
}
END_TEST

START_TEST(what_only_resembles_a_mark_is_written_as_it_stands)
{
    is_filled_as("@include \"other.cfg\"\n", "@include \"other.cfg\"\n");
    is_filled_as("a@b @@ @lower@ @END", "a@b @@ @lower@ @END");
    is_filled_as("@NAME@NAME@", "<NAME data>NAME@");
    is_filled_as("@ABCDEFGHIJKLMNOPQRSTUVWXYZABCDEFGH@", "@ABCDEFGHIJKLMNOPQRSTUVWXYZABCDEFGH@");
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("text_fill");
    TCase *tc = suite_case(suite, "marks");
    tcase_add_test(tc, a_mark_is_replaced_wherever_it_stands);
    tcase_add_test(tc, a_mark_that_is_a_whole_line_is_replaced_with_the_end_of_its_line);
    tcase_add_test(tc, what_only_resembles_a_mark_is_written_as_it_stands);
    return suite;
}
