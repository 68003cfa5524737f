/* kniferail: the command line. Each command has a file of its own; this file has the table of commands, and makes the
 * help of it. */
#include <stdio.h>
#include <string.h>

#include "build_id.h"
#include "cli.h"
#include "kniferail/caution.h"
#include "kniferail/config.h"

static int cmd_help(int argc, char **argv);
static int cmd_version(int argc, char **argv);

static const struct kr_cmd commands[] = {
    {"check", "FILE [--book]", "check a station file and report every mistake in it", kr_cmd_check, kr_check_help},
    {"map", "[--format md|csv|texts|json|st]", "print the register map", kr_cmd_map, kr_map_help},
    {"status", "[--host H] [--port P] [--unit U] [--station NAME] [--full] [--watch]", "show a running station",
     kr_cmd_status, kr_status_help},
    {"plan", "--config FILE --widths W,... [OPTION ...]", "plan an order without a gateway, and show the plan",
     kr_cmd_plan, kr_plan_help},
    {"sheet", "--pdf FILE [--config FILE --widths W,...] [OPTION ...]", "draw one page to pin on the machine",
     kr_cmd_sheet, kr_sheet_help},
    {"set", "[--host H] [--port P] [--unit U] WHAT ...",
     "change a running station's data of a holder, a knife or a rail", kr_cmd_set, kr_set_help},
    {"knives", "list|life KNIFE|due|export|import FILE [OPTION ...]", "show the ledger of knives, export and import it",
     kr_cmd_knives, kr_knives_help},
    {"history", "--config FILE | --book FILE [--from T] [--to T]",
     "list a period's changeovers, requests, alarms and placements", kr_cmd_history, kr_history_help},
    {"report", "--config FILE | --book FILE [--from T] [--to T]",
     "show from the history whether a station is getting worse", kr_cmd_report, kr_report_help},
    {"records", "--config FILE | --book FILE [--last N] [--out FILE]",
     "write the file of records that kniferail-panel shows", kr_cmd_records, kr_records_help},
    {"trace", "list|save|show|replay [FILE] [OPTION ...]", "show and replay recordings of stops", kr_cmd_trace,
     kr_trace_help},
    {"book", "backup TO | check | prune", "maintain the book: copy it, check it, delete old history", kr_cmd_book,
     kr_book_help},
    {"calibrate", "FILE | --targets L,... [OPTION ...]", "find a rail's frame from readings of a tape, laser or bar",
     kr_cmd_calibrate, kr_calibrate_help},
    {"commission", "--config FILE [--session FILE] [OPTION ...]", "lead through the commissioning of a running station",
     kr_cmd_commission, kr_commission_help},
    {"help", "[COMMAND|config]", "explain a command, or list all settings of a station file", cmd_help, NULL},
    {"version", "", "print version, map version and build", cmd_version, NULL},
};
#define N_COMMANDS (sizeof commands / sizeof commands[0])

static const struct kr_cmd *command_named(const char *name)
{
    for (size_t i = 0; i < N_COMMANDS; i++)
        if (strcmp(commands[i].name, name) == 0)
            return &commands[i];
    return NULL;
}

#define SUMMARY_COLUMN 47

/* If there is no room for a summary after the arguments, it is printed below them. */
static void print_overview(FILE *to)
{
    fprintf(to, "kniferail: tools for the knife-positioning gateway kniferaild\n\n");
    for (size_t i = 0; i < N_COMMANDS; i++) {
        int width = fprintf(to, "  kniferail %s %s", commands[i].name, commands[i].arguments);
        bool fits = width < SUMMARY_COLUMN;
        fprintf(to, "%s%*s%s\n", fits ? "" : "\n", SUMMARY_COLUMN - (fits ? width : 0), "", commands[i].summary);
    }
    fprintf(to, "\n%s", kr_caution);
}

/* Prints every setting with its limits and default, from the tables by which the file is read. */
static int print_settings(void)
{
    struct kr_config_row row;
    const char *group = NULL;
    printf("A setting's name carries its unit. A plain number is in that unit and is taken exactly as it\n"
           "stands. A string may name another unit of the same kind: \"3 5/8 in\", \"0.5 m\", \"1.5 s\",\n"
           "\"12 in/s\". A value that is kept in micrometres is rounded once, to the nearest one.\n");
    for (size_t i = 0; kr_config_row_at(i, &row); i++) {
        if (!group || strcmp(group, row.group) != 0)
            printf("\n%s%s\n", row.group[0] ? "" : "top level of the file", row.group);
        group = row.group;
        printf("  %s\n      %s\n      %s; default: %s\n", row.name, row.meaning, row.allowed, row.standard);
        if (row.change != KR_CHANGE_NONE)
            printf("      changed: %s\n", kr_change_text(row.change));
    }
    printf("\n%s", kr_caution);
    return kr_flushed(KR_EXIT_OK);
}

static int print_help(const struct kr_cmd *command)
{
    printf("kniferail %s %s\n%s\n", command->name, command->arguments, command->summary);
    if (command->help)
        printf("\n%s", command->help);
    printf("\nEvery command prints its help with --help.\n\n%s", kr_caution);
    return kr_flushed(KR_EXIT_OK);
}

static int cmd_help(int argc, char **argv)
{
    int first, answer = kr_read_options(argc, argv, NULL, 0, &first);
    if (answer != KR_RUN)
        return answer;
    if (argc - first > 1)
        return kr_usage(argv[0], "only one name is possible");
    if (argc == first) {
        print_overview(stdout);
        return kr_flushed(KR_EXIT_OK);
    }
    if (strcmp(argv[first], "config") == 0)
        return print_settings();
    const struct kr_cmd *command = command_named(argv[first]);
    if (command)
        return print_help(command);
    fprintf(stderr, "kniferail help: there is no command '%s'\n", argv[first]);
    return KR_EXIT_USAGE;
}

static int cmd_version(int argc, char **argv)
{
    int answer = argc > 1 && argv[1][0] != '-' ? kr_usage(argv[0], "this command takes no arguments")
                                               : kr_read_only_options(argc, argv, NULL, 0);
    if (answer != KR_RUN)
        return answer;
    char build[BUILD_ID_TEXT_MAX];
    printf("kniferail %s, register map version %d, build %s\n", KR_VERSION, KR_MAP_VERSION, build_id_text(build));
    return kr_flushed(KR_EXIT_OK);
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        print_overview(stderr);
        return KR_EXIT_USAGE;
    }
    const char *name = argv[1];
    if (strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0)
        name = "help";
    else if (strcmp(name, "--version") == 0)
        name = "version";
    const struct kr_cmd *command = command_named(name);
    if (command) {
        int status = command->run(argc - 1, argv + 1);
        return status == KR_SHOW_HELP ? print_help(command) : status;
    }
    fprintf(stderr, "kniferail: there is no command '%s'; see 'kniferail help'\n", argv[1]);
    return KR_EXIT_USAGE;
}
