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
            print_line(row.group[0] != '\0' ? row.group : "top level of the file");
            snprintf(group, sizeof group, "%s", row.group);
        }
        print_setting(&row);
    }
}

static void print_station(void)
{
    print_head("KNIFERAIL\\-STATION", "kniferail-station", "station file of the gateway that positions slitter knives");
    printf(".SH DESCRIPTION\n"
           "A station file describes the stations of kniferaild(8): their rails, holders and\n"
           "drives, the addresses at which the gateway serves Modbus/TCP, the rights of clients,\n"
           "and the book. It is in the format of libconfig. A setting's name carries its unit. A\n"
           "plain number is in that unit and is taken exactly as its digits stand. A string may\n"
           "name another unit of the same kind: \"3 5/8 in\", \"0.5 m\", \"1.5 s\", \"12 in/s\". A value\n"
           "that is kept in micrometres is rounded once, to the nearest one. A file may include\n"
           "others with\n"
           ".BR @include ;\n"
           "they are searched for in its own folder.\n"
           ".PP\n"
           ".B kniferail check\n"
           "prints each mistake of a file: file, line, setting, the value, and the values that are\n"
           "allowed.\n");
    print_caution();
    printf(".SH SETTINGS\n"
           "Groups are named by their path from the top of the file. Stations, rails and holders\n"
           "are lists. The text behind \"changed\" says what a change of the setting needs while the\n"
           "gateway runs.\n");
    print_settings();
    printf(".SH FILES\n.TP\n.I /etc/kniferail/station.cfg\nThe station file of the service.\n.TP\n.I "
           "config/*.cfg\nExamples.\n"
           ".SH SEE ALSO\n.BR kniferail (1),\n.BR kniferaild (8),\n.BR kniferail\\-faults (5)\n");
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
    print_head("KNIFERAIL\\-FAULTS", "kniferail-faults", "fault script of the simulated machine");
    printf(".SH DESCRIPTION\n"
           "A fault script makes faults happen at the machine that kniferail\\-sim(1) simulates.\n"
           "They always happen in the same way, so that the reactions of a gateway and a PLC can\n"
           "be tested. The script is a file in the format of libconfig with one list of groups,\n"
           ".BR faults .\n"
           "Each fault happens once. Standard output has each fault that happens or ends, and each\n"
           "fault that is not possible at its time.\n");
    print_caution();
    printf(".SH SETTINGS OF A FAULT\n"
           ".TP\n"
           ".B fault\n"
           "The fault's name, one of the list below; it must be given.\n"
           ".TP\n"
           ".BR rail \", \" holder\n"
           "Rail and holder of the fault, from 1; without a rail it is rail 1. A fault that needs\n"
           "a holder but has none (or 0) happens at the docked holder.\n"
           ".TP\n"
           ".B value\n"
           "The value of a fault that has one, in the unit of the list.\n"
           ".TP\n"
           ".BR phase \", \" nth\n"
           "The fault happens when the carriage of the rail enters this phase for the nth time\n"
           "(1). Without a phase it happens at the start.\n"
           ".TP\n"
           ".B after_ms\n"
           "A delay after that moment, at most a day.\n"
           ".TP\n"
           ".B for_ms\n"
           "Duration of the fault; without it the fault lasts to the end.\n"
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
