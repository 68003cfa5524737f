/* manual station|faults: prints a page of section 5, whose lists come from the tables that the programs themselves
 * read. Runs while the project is built. */
#include <stdio.h>
#include <string.h>

#include "kniferail/caution.h"
#include "kniferail/config.h"

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

static void print_head(const char *title, const char *name, const char *what)
{
    printf(".TH %s 5 \"\" \"kniferail %s\" \"File formats\"\n.SH NAME\n", title, KR_VERSION);
    print_text(name);
    printf(" \\- ");
    print_line(what);
}

static void print_caution(void)
{
    printf(".SH CAUTION\n");
    print_text(kr_caution);
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
            print_line(row.group[0] != '\0' ? row.group : "the file itself");
            snprintf(group, sizeof group, "%s", row.group);
        }
        print_setting(&row);
    }
}

static void print_station(void)
{
    print_head("KNIFERAIL\\-STATION", "kniferail-station",
               "station file of the gateway that positions slitter knives");
    printf(".SH DESCRIPTION\n"
           "A station file tells kniferaild(8) of its stations: their rails, holders and drives, where it "
           "serves Modbus/TCP "
           "and to\nwhom, and the book that it keeps. It is in the format of libconfig. A setting's name "
           "carries its unit. A "
           "plain number is in\nthat unit and taken exactly as its digits stand; a string may name another "
           "unit of the same "
           "kind: \"3 5/8 in\", \"0.5 m\",\n\"1.5 s\", \"12 in/s\". What is kept in micrometres is rounded "
           "to the nearest "
           "once. A file may include others with\n.BR @include ,\nwhich are looked for beside it.\n.PP\n"
           ".B kniferail check\nsays what is wrong with a file: each mistake with file, line, setting, what "
           "stands there and "
           "what is allowed.\n");
    print_caution();
    printf(".SH SETTINGS\nGroups are named by their way from the file's top; stations, rails, holders and "
           "the like are "
           "lists. What a changed\nsetting asks of a gateway that runs stands behind \"changed\".\n");
    print_settings();
    printf(".SH FILES\n.TP\n.I /etc/kniferail/station.cfg\nThe station file of the service.\n.TP\n.I "
           "config/*.cfg\nExamples.\n"
           ".SH SEE ALSO\n.BR kniferail (1),\n.BR kniferaild (8),\n.BR kniferail\\-faults (5)\n");
}

/* ---- fault scripts ---------------------------------------------------------------------------------------------- */

/* Item and value of sim/faults.def, as people read them; what is not here stands as it is. */
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
                                           {"PPM", "parts in a million"}};
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
    printf(".\nStrikes %s", words_for(faults[i].item));
    if (strcmp(faults[i].value, "NONE") != 0)
        printf("; value: %s, %ld to %ld", words_for(faults[i].value), faults[i].least, faults[i].most);
    printf(".\n");
}

static void print_faults(void)
{
    print_head("KNIFERAIL\\-FAULTS", "kniferail-faults", "fault script of the simulated machine");
    printf(".SH DESCRIPTION\n"
           "A fault script has faults strike the machine that kniferail\\-sim(1) simulates, by themselves "
           "and always alike, so "
           "that what a\ngateway and a PLC make of them can be tried. It is a file in the format of "
           "libconfig with one list,\n"
           ".BR faults ,\nof groups. Each fault strikes once. What strikes and what is mended is told on "
           "standard output; so is "
           "a fault that is\nnot possible when it is due.\n");
    print_caution();
    printf(".SH SETTINGS OF A FAULT\n"
           ".TP\n.B fault\nIts name, one of the list below; must be given.\n"
           ".TP\n.BR rail \", \" holder\nWhere, from 1. Rail 1 if left out. Without a holder (or 0) a fault "
           "that wants one "
           "strikes the docked one.\n"
           ".TP\n.B value\nFor faults that have one, in the unit of the list.\n"
           ".TP\n.BR phase \", \" nth\nWhen: as the carriage of that rail enters the phase for the nth time "
           "(1). Without a "
           "phase, at the start.\n"
           ".TP\n.B after_ms\nSo much later, at most a day.\n"
           ".TP\n.B for_ms\nIt is mended after so long; else it stands to the end.\n"
           ".SH FAULTS\n");
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++)
        print_fault(i);
    printf(".SH EXAMPLE\n.nf\nfaults = (\n"
           "  # The second time that the upper carriage docks, its pin sticks for a while.\n"
           "  { fault = \"pin\\-stuck\\-out\"; rail = 1; phase = \"docking\"; nth = 2; for_ms = 2500; },\n"
           "  # Five minutes after the start somebody opens a guard.\n"
           "  { fault = \"guards\\-opened\"; after_ms = 300000; for_ms = 8000; }\n);\n.fi\n"
           ".SH FILES\n.TP\n.I sim/faults.cfg\nAn example.\n.SH SEE ALSO\n.BR kniferail\\-sim (1),\n.BR "
           "kniferail\\-station (5)\n");
}

int main(int argc, char *argv[])
{
    if (argc == 2 && strcmp(argv[1], "station") == 0)
        print_station();
    else if (argc == 2 && strcmp(argv[1], "faults") == 0)
        print_faults();
    else {
        fprintf(stderr, "usage: manual station|faults\n");
        return 2;
    }
    return fflush(stdout) == 0 ? 0 : 1;
}
