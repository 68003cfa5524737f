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
int kr_cmd_set(int argc, char **argv);
int kr_cmd_history(int argc, char **argv);
extern const char kr_check_help[], kr_map_help[], kr_status_help[], kr_plan_help[], kr_set_help[],
    kr_history_help[];

/* The cautions that every text about moving knives carries. */
extern const char kr_caution[];

/* Says on standard error what is wrong with the arguments. Returns KR_EXIT_USAGE. */
__attribute__((format(printf, 2, 3))) int kr_usage(const char *command, const char *format, ...);

/* Reads a config as the daemon would; false: every mistake was told on standard error. */
struct kr_config;
bool kr_read_config(const char *path, struct kr_config *config);

/* The value behind an option ("--port 502" or "--port=502"). Advances *i. 0: argv[*i] is not this option; 1: it is and
 * *value is set; -1: it is, without a value, which was told. */
int kr_option(int argc, char **argv, int *i, const char *name, const char **value);

/* A whole decimal number within limits; tells and returns false if text is none. */
bool kr_number(const char *command, const char *option, const char *text, long least, long most, long *value);

/* Whether all that was printed got out. Returns the exit status: a full disk is no success. */
int kr_flushed(int status);

#endif
