/* Shows a frame again and again: on a terminal each frame overwrites the last one, in a pipe the frames follow each
 * other. */
#ifndef KNIFERAIL_CLI_SCREEN_H
#define KNIFERAIL_CLI_SCREEN_H

#include <stdbool.h>
#include <stddef.h>

#include "terminal.h"

/* Shows `frame`, which consists of lines of text. On a terminal, it begins at the top left corner, lines that do not
 * fit are left out, and only characters that differ from the last frame visibly change. Otherwise it is printed
 * unchanged, with an empty line after it. */
void kr_screen_show(const struct kr_terminal *terminal, const char *frame);

/* From now on SIGINT and SIGTERM end the program in an orderly way: kr_screen_wait() returns false. */
void kr_screen_begin(void);

/* Waits for ms milliseconds, or until such a signal comes. False: it came. */
bool kr_screen_wait(long ms);

/* Leaves the cursor below the last frame. */
void kr_screen_end(const struct kr_terminal *terminal);

#endif
