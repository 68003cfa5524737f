/* manual FILE: prints a page of section 5. FILE has its prose; the marks in it stand for the caution and for lists from
 * the tables that the programs themselves read. Runs while the project is built. */
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "kniferail/caution.h"
#include "kniferail/config.h"
#include "text_fill.h"

/* ---- roff ------------------------------------------------------------------------------------------------------- */

static void print_character(char c)
{
    if (c == '-')
        fputs("\\-", stdout);
    else if (c == '\\')
        fputs("\\e", stdout);
    else
        putchar(c);
}

/* A line that begins with a dot or a quote would be a request. */
static void print_text(const char *text)
{
    if (*text == '.' || *text == '\'')
        fputs("\\&", stdout);
    for (; *text != '\0'; text++)
        print_character(*text);
}

static void print_line(const char *text)
{
    print_text(text);
    putchar('\n');
}

/* ---- the station file ------------------------------------------------------------------------------------------- */

static void print_setting(const struct kr_config_row *row)
{
    printf(".TP\n.B ");
    print_line(row->name);
    print_line(row->meaning);
    printf(".br\nAllowed: ");
    print_text(row->allowed);
    printf("; default: ");
    print_text(row->standard);
    if (row->change != KR_CHANGE_NONE) {
        printf("; changed: ");
        print_text(kr_change_text(row->change));
    }
    printf(".\n");
}

static void print_settings(void)
{
    struct kr_config_row row;
    char group[64] = "?";
    for (size_t i = 0; kr_config_row_at(i, &row); i++) {
        if (strcmp(group, row.group) != 0) {
            printf(".SS ");
            print_line(row.group[0] != '\0' ? row.group : "top level of the file");
            snprintf(group, sizeof group, "%s", row.group);
        }
        print_setting(&row);
    }
}

/* ---- fault scripts ---------------------------------------------------------------------------------------------- */

/* The words for item and value of sim/faults.def; a kind that is not in the list is printed as it is. */
static const char *words_for(const char *kind)
{
    static const char *const words[][2] = {{"RAIL", "one rail"},
                                           {"HOLDER", "one holder"},
                                           {"REFERENCE", "one reference flag"},
                                           {"MACHINE", "the whole machine"},
                                           {"CODE", "a number"},
                                           {"UM", "micrometres"},
                                           {"MS", "milliseconds"},
                                           {"COUNT", "a count"},
                                           {"PPM", "parts per million"}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(words[i][0], kind) == 0)
            return words[i][1];
    return kind;
}

static const struct {
    const char *name, *item, *value;
    long least, most;
    const char *what;
} faults[] = {
#define F(number, name, item, value, least, most, what) {name, #item, #value, least, most, what},
#include "faults.def"
#undef F
};

static void print_fault(size_t i)
{
    printf(".TP\n.B ");
    print_line(faults[i].name);
    print_text(faults[i].what);
    printf(".\nAt %s", words_for(faults[i].item));
    if (strcmp(faults[i].value, "NONE") != 0)
        printf("; value: %s, %ld to %ld", words_for(faults[i].value), faults[i].least, faults[i].most);
    printf(".\n");
}

static void print_faults(void)
{
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++)
        print_fault(i);
}

/* ---- the page --------------------------------------------------------------------------------------------------- */

#define PAGE_MAX 20000

/* Prints to standard output; text_fill() gets no other file here. */
static void put_mark(FILE *to, const char *name, const void *data)
{
    (void)to;
    (void)data;
    if (strcmp(name, "VERSION") == 0)
        printf("%s", KR_VERSION);
    else if (strcmp(name, "CAUTION") == 0)
        print_text(kr_caution);
    else if (strcmp(name, "SETTINGS") == 0)
        print_settings();
    else if (strcmp(name, "FAULTS") == 0)
        print_faults();
}

int main(int argc, char *argv[])
{
    static char page[PAGE_MAX];
    FILE *from = argc == 2 ? fopen(argv[1], "r") : NULL;
    if (from == NULL) {
        fprintf(stderr, "manual: the file of a page is needed\n");
        return 2;
    }
    size_t length = fread(page, 1, sizeof page - 1, from);
    bool is_whole = length + 1 < sizeof page && !ferror(from);
    (void)fclose(from);
    text_fill(stdout, page, put_mark, NULL);
    return fflush(stdout) == 0 && is_whole ? 0 : 1;
}
