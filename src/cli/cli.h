/* The commands of `kniferail`, one a file. A command gets its own name as argv[0] and returns the exit status. */
#ifndef KNIFERAIL_CLI_CLI_H
#define KNIFERAIL_CLI_CLI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    KR_EXIT_OK = 0,
    KR_EXIT_REFUSED = 1, /* the config has mistakes, the station can't be reached, ... */
    KR_EXIT_USAGE = 2,
    KR_SHOW_HELP, /* no exit status: the command was given --help, and main shows what it is for */
};

struct kr_cmd {
    const char *name, *arguments, *summary;
    int (*run)(int argc, char **argv);
    const char *help; /* more than the summary, for `kniferail help NAME`; may be NULL */
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
extern const char kr_check_help[], kr_map_help[], kr_status_help[], kr_plan_help[], kr_sheet_help[],
    kr_set_help[], kr_knives_help[], kr_history_help[], kr_report_help[], kr_records_help[], kr_trace_help[],
    kr_book_help[], kr_calibrate_help[], kr_commission_help[];

/* Says on standard error what is wrong with the arguments. Returns KR_EXIT_USAGE. */
__attribute__((format(printf, 2, 3))) int kr_usage(const char *command, const char *format, ...);

/* Reads a config as the daemon would; false: every mistake was told on standard error. */
struct kr_config;
bool kr_read_config(const char *path, struct kr_config *config);

/* An option of a command, without its dashes. */
struct kr_option {
    const char *name;
    const char **value; /* what stands behind it; NULL: it is a switch */
    bool *given;        /* of a switch */
};
#define KR_OPTIONS_MAX 20
#define KR_RUN         (-1)

/* Reads "--port 502", "--port=502", "--watch" and --help by getopt_long; argv[0] is the command's name. Returns KR_RUN,
 * with *operands the index of the first argument that is no option and all others behind it; KR_SHOW_HELP; or
 * KR_EXIT_USAGE after telling what is wrong. */
int kr_read_options(int argc, char **argv, const struct kr_option option[], int n, int *operands);

/* The same, but the options end at the first argument that is none: numbers below 0 may stand behind it. */
int kr_read_options_before(int argc, char **argv, const struct kr_option option[], int n, int *operands);

/* The same of a command that takes nothing but options. */
int kr_read_only_options(int argc, char **argv, const struct kr_option option[], int n);

/* A whole decimal number within limits; tells and returns false if text is none. */
bool kr_number(const char *command, const char *option, const char *text, long least, long most, long *value);

/* Whether all that was printed got out. Returns the exit status: a full disk is no success. */
int kr_flushed(int status);

#endif
