/* Writes a text in which marks stand for values. */
#ifndef KNIFERAIL_CLI_TEXT_FILL_H
#define KNIFERAIL_CLI_TEXT_FILL_H

#include <stdio.h>

#define TEXT_FILL_NAME_MAX 32

/* Writes what the mark of this name stands for. data is what text_fill() got. */
typedef void text_fill_put(FILE *to, const char *name, const void *data);

/* A mark is @NAME@: up to TEXT_FILL_NAME_MAX - 1 capital letters and underscores. put() is called for each one, in the
 * sequence in which they stand. A mark that is followed by the end of its line takes this end with it if it also begins
 * the line, so that put() writes whole lines there. Any other @ is written as it stands. */
void text_fill(FILE *to, const char *text, text_fill_put *put, const void *data);

#endif
