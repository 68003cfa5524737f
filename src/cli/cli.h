/* The commands of `kniferail`, each in a file of its own. A command gets its name as argv[0] and returns the exit
 * status. */
#ifndef KNIFERAIL_CLI_CLI_H
#define KNIFERAIL_CLI_CLI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    KR_EXIT_OK = 0,
    KR_EXIT_REFUSED = 1, /* for example: the config has mistakes, or the station can't be reached */
    KR_EXIT_USAGE = 2,
    KR_SHOW_HELP, /* not an exit status: the command was called with --help, and main prints the command's help */
};

struct kr_cmd {
    const char *name, *arguments, *summary;
    int (*run)(int argc, char **argv);
    const char *help; /* the text for `kniferail help NAME`, longer than the summary; may be NULL */
};

int kr_cmd_check(int argc, char **argv);
int kr_cmd_map(int argc, char **argv);
int kr_cmd_status(int argc, char **argv);
int kr_cmd_plan(int argc, char **argv);
int kr_cmd_sheet(int argc, char **argv);
int kr_cmd_set(int argc, char **argv);
int kr_cmd_knives(int argc, char **argv);
int kr_cmd_history(int argc, char **argv);
int kr_cmd_report(int argc, char **argv);
int kr_cmd_records(int argc, char **argv);
int kr_cmd_book(int argc, char **argv);
int kr_cmd_trace(int argc, char **argv);
int kr_cmd_calibrate(int argc, char **argv);
int kr_cmd_commission(int argc, char **argv);
extern const char kr_check_help[], kr_map_help[], kr_status_help[], kr_plan_help[], kr_sheet_help[], kr_set_help[],
    kr_knives_help[], kr_history_help[], kr_report_help[], kr_records_help[], kr_trace_help[], kr_book_help[],
    kr_calibrate_help[], kr_commission_help[];

/* Prints to standard error what is wrong with the arguments. Returns KR_EXIT_USAGE. */
__attribute__((format(printf, 2, 3))) int kr_usage(const char *command, const char *format, ...);

/* Reads a config as the daemon does. False: every mistake was printed to standard error. */
struct kr_config;
bool kr_read_config(const char *path, struct kr_config *config);

/* An option of a command, without its dashes. */
struct kr_option {
    const char *name;
    const char **value; /* where its value goes; NULL: the option has no value */
    bool *given;        /* set if the option has no value and is given */
};
#define KR_OPTIONS_MAX 20
#define KR_RUN         (-1)

/* Reads "--port 502", "--port=502", "--watch" and --help with getopt_long(); argv[0] is the command's name. Returns
 * KR_RUN, and sets *operands to the index of the first argument that is not an option; all the others stand after it.
 * Returns KR_SHOW_HELP for --help, or KR_EXIT_USAGE after a mistake was printed. */
int kr_read_options(int argc, char **argv, const struct kr_option option[], int n, int *operands);

/* Does the same, but the options end at the first argument that is not an option, so negative numbers may follow it. */
int kr_read_options_before(int argc, char **argv, const struct kr_option option[], int n, int *operands);

/* Does the same for a command that takes only options. */
int kr_read_only_options(int argc, char **argv, const struct kr_option option[], int n);

/* Reads a whole decimal number within limits. False: text is not such a number, which was printed. */
bool kr_number(const char *command, const char *option, const char *text, long least, long most, long *value);

/* Checks that all output was written, and returns the exit status: a full disk is not a success. */
int kr_flushed(int status);

#endif
