/* What is shown again and again: on a terminal each frame is written over the one before, in a pipe frames stand one
 * below the other. */
#ifndef KNIFERAIL_CLI_SCREEN_H
#define KNIFERAIL_CLI_SCREEN_H

#include <stdbool.h>
#include <stddef.h>

#include "terminal.h"

/* Shows `frame`, lines of text. On a terminal: from the top left corner, what doesn't fit is left out, and no more than
 * what changes between two frames can be seen to change. Else: as it is, with an empty line behind it. */
void kr_screen_show(const struct kr_terminal *terminal, const char *frame);

/* From now on SIGINT and SIGTERM end the program in order: kr_screen_wait() returns false. */
void kr_screen_begin(void);

/* Waits for so long, or until a signal asks to end; false: it did. */
bool kr_screen_wait(long ms);

/* Leaves the cursor below the last frame. */
void kr_screen_end(const struct kr_terminal *terminal);

#endif
