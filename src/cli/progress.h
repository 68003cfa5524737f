/* Tells on a terminal that long work goes on: one line on standard error, which is written over and taken away again.
 * Nothing of it goes into a pipe, into a file or to a dumb terminal, and nothing is told of work that takes less than a
 * moment. One piece of work at a time. */
#ifndef KNIFERAIL_CLI_PROGRESS_H
#define KNIFERAIL_CLI_PROGRESS_H

#include <stdint.h>

/* what: "reading the book". Both live until the end. */
void kr_progress_begin(const char *command, const char *what);

/* To be called often while the work goes on. done: so many things are done by now, of which unit names several; NULL:
 * nothing is counted, and the time is told. */
void kr_progress_step(uint64_t done, const char *unit);

/* Takes the line away, before anything else is printed. The work may go on, and then the line comes again. */
void kr_progress_hide(void);

#endif
