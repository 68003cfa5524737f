/* Shows on a terminal that a long operation goes on: one line on standard error, which is overwritten and removed
 * again. Nothing is written to a pipe, a file or a dumb terminal, and nothing is shown of an operation that takes less
 * than a moment. Only one operation at a time. */
#ifndef KNIFERAIL_CLI_PROGRESS_H
#define KNIFERAIL_CLI_PROGRESS_H

#include <stdint.h>

/* what: for example "reading the book". Both texts must stay valid until the end. */
void kr_progress_begin(const char *command, const char *what);

/* Call it often during the operation. done: how many things are done; unit: their name in the plural, or NULL if
 * nothing is counted and the time is to be shown. */
void kr_progress_step(uint64_t done, const char *unit);

/* Removes the line; call it before anything else is printed. If the operation goes on, the line is shown again. */
void kr_progress_hide(void);

#endif
