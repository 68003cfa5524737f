/* Shared by the files of the command `kniferail trace`. */
#ifndef KNIFERAIL_CLI_TRACE_VIEW_H
#define KNIFERAIL_CLI_TRACE_VIEW_H

#include "kniferail/trace.h"

#define TRACE_TIME_MAX 32

/* The part of a trace to show. Times are UTC in ms since 1970, and both are included. rail: its number, 0 for all. */
struct trace_view {
    const struct kr_trace *trace;
    int64_t from_utc_ms, to_utc_ms;
    uint16_t rail;
    char *error;
    size_t error_size;
};

/* "2026-03-01T14:03:12.480Z" */
const char *trace_time(int64_t utc_ms, char text[TRACE_TIME_MAX]);

/* Each prints to standard output. False: *error says in one line why it can't. */
bool trace_print_story(const struct trace_view *view);
bool trace_print_registers(const struct trace_view *view);
bool trace_print_axes(const struct trace_view *view);
bool trace_print_svg(const struct trace_view *view);

/* Prints to standard error if the replay, on which the registers or a drawing depend, differs from the recording. */
void trace_tell_parting(const struct kr_trace_result *result);

/* The subcommands `list` and `save` (trace_list.c, trace_save.c), with "trace" as argv[0]. They return the exit
 * status. */
int trace_list(int argc, char **argv);
int trace_save(int argc, char **argv);

#endif
