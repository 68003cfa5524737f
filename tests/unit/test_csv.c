/* Tests of comma-separated values by RFC 4180, section 2: its rules by number, its examples, and texts that break
 * them. */
#include <stdlib.h>
#include <string.h>

#include "../../src/cli/csv.h"
#include "suite.h"

/* Reads text; what came of it: fields in [ ], records ended by a line feed, then what was wrong, if anything was. */
static const char *read_all(const char *text, size_t size)
{
    static char out[20000];
    static struct csv_reader reader;
    FILE *file = fmemopen((char *)text, size, "r"), *to = fmemopen(out, sizeof out, "w");
    enum csv_answer answer;
    csv_read_from(&reader, file);
    while ((answer = csv_next(&reader)) == CSV_RECORD) {
        fprintf(to, "%lu:", reader.line);
        for (int i = 0; i < reader.n; i++)
            fprintf(to, "[%s]", reader.field[i]);
        fputc('\n', to);
    }
    if (answer == CSV_WRONG)
        fprintf(to, "%lu: %s\n", reader.line, reader.error);
    fputc('\0', to);
    fclose(to);
    fclose(file);
    return out;
}

static const struct {
    const char *text, *read;
} files[] = {
    {"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "1:[aaa][bbb][ccc]\n2:[zzz][yyy][xxx]\n"}, /* rule 1 */
    {"aaa,bbb,ccc\r\nzzz,yyy,xxx", "1:[aaa][bbb][ccc]\n2:[zzz][yyy][xxx]\n"},     /* rule 2 */
    {"aaa, bbb ,\r\n", "1:[aaa][ bbb ][]\n"},                                     /* rule 4: blanks belong to a field */
    {"\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", "1:[aaa][bbb][ccc]\n2:[zzz][yyy][xxx]\n"},         /* rule 5 */
    {"\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", "1:[aaa][b\r\nbb][ccc]\n3:[zzz][yyy][xxx]\n"}, /* rule 6 */
    {"\"aaa\",\"b\"\"bb\",\"c,c\"", "1:[aaa][b\"bb][c,c]\n"},                                     /* rule 7 */
    {"\"\",\"\"\"\"\r\n", "1:[][\"]\n"},
    /* Beyond the standard: line feeds alone, a byte order mark, empty lines. */
    {"a,b\nc\n", "1:[a][b]\n2:[c]\n"},
    {"\xEF\xBB\xBF\"a\",b\r\n", "1:[a][b]\n"},
    {"\n\r\na", "1:[]\n2:[]\n3:[a]\n"},
    {"a,", "1:[a][]\n"},
    {"a\r", "1:[a]\n"},
    {"\n", "1:[]\n"},
    /* What is refused. */
    {"a\n\"b\nc", "1:[a]\n2: a quotation mark is not closed\n"},
    {"a,b\"c\"", "1: a quotation mark stands inside a field that does not begin with one\n"},
    {"\"a\"b", "1: there is text behind a closing quotation mark\n"},
    {"a\rb", "1: a carriage return has no line feed behind it\n"},
    {"0,1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17,18,19,20", "1: there are too many fields\n"},
};

START_TEST(a_file_is_read_as_the_standard_says)
{
    ck_assert_str_eq(read_all(files[_i].text, strlen(files[_i].text)), files[_i].read);
}
END_TEST

START_TEST(a_character_0_is_refused_and_a_record_is_only_as_long_as_its_room)
{
    static char text[CSV_RECORD_MAX + 2];
    ck_assert_str_eq(read_all("a\0b", 3), "1: the text has a character 0\n");
    ck_assert_str_eq(read_all("\"a\0b\"", 5), "1: the text has a character 0\n");
    memset(text, 'x', CSV_RECORD_MAX - 1);
    ck_assert_ptr_null(strstr(read_all(text, CSV_RECORD_MAX - 1), "too long"));
    memset(text, 'x', CSV_RECORD_MAX);
    ck_assert_str_eq(read_all(text, CSV_RECORD_MAX), "1: the record is too long\n");
}
END_TEST

START_TEST(what_is_written_reads_back_and_is_quoted_only_where_it_must_be)
{
    char out[200] = "";
    FILE *to = fmemopen(out, sizeof out, "w");
    struct csv_writer writer = {to, false};
    csv_put(&writer, "plain text; with 'these'");
    csv_put(&writer, "a \"word\"");
    csv_put(&writer, "1,2");
    csv_end_record(&writer);
    csv_put_format(&writer, "%d", -3);
    csv_put(&writer, "two\r\nlines");
    csv_put(&writer, "");
    csv_end_record(&writer);
    fclose(to);
    ck_assert_str_eq(out, "plain text; with 'these',\"a \"\"word\"\"\",\"1,2\"\r\n-3,\"two\r\nlines\",\r\n");
    ck_assert_str_eq(read_all(out, strlen(out)),
                     "1:[plain text; with 'these'][a \"word\"][1,2]\n2:[-3][two\r\nlines][]\n");
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("csv");
    TCase *reading = suite_case(suite, "reading"), *writing = suite_case(suite, "writing");
    tcase_add_loop_test(reading, a_file_is_read_as_the_standard_says, 0, sizeof files / sizeof files[0]);
    tcase_add_test(reading, a_character_0_is_refused_and_a_record_is_only_as_long_as_its_room);
    tcase_add_test(writing, what_is_written_reads_back_and_is_quoted_only_where_it_must_be);
    return suite;
}
