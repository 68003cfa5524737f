/* What `kniferail trace` is made of. */
#ifndef KNIFERAIL_CLI_TRACE_VIEW_H
#define KNIFERAIL_CLI_TRACE_VIEW_H

#include "kniferail/trace.h"

#define TRACE_TIME_MAX 32

/* What of a trace is looked at; times are UTC in ms since 1970, both included. rail: number, 0: all. */
struct trace_view {
    const struct kr_trace *trace;
    int64_t from_utc_ms, to_utc_ms;
    uint16_t rail;
    char *error;
    size_t error_size;
};

/* "2026-03-01T14:03:12.480Z" */
const char *trace_time(int64_t utc_ms, char text[TRACE_TIME_MAX]);

/* Each prints to standard output; false: *error says in one line why it can't. */
bool trace_print_story(const struct trace_view *view);
bool trace_print_registers(const struct trace_view *view);
bool trace_print_axes(const struct trace_view *view);
bool trace_print_svg(const struct trace_view *view);

/* Whether the replay behind registers or a drawing went as it was recorded: tells on standard error if not. */
void trace_tell_parting(const struct kr_trace_result *result);

/* trace_list.c and trace_save.c: what stands behind the word, with "trace" as argv[0]. They return the exit status. */
int trace_list(int argc, char **argv);
int trace_save(int argc, char **argv);

#endif
