/* What standard output can show: whether it is a terminal, how wide, and in which characters. */
#ifndef KNIFERAIL_CLI_TERMINAL_H
#define KNIFERAIL_CLI_TERMINAL_H

#include "kniferail/scene.h"

/* Columns and rows of the terminal; 80 and 24 where it is none or doesn't tell. */
struct kr_terminal {
    bool is_terminal; /* one that can be written over: TERM is not "dumb" */
    bool emphasis;    /* what is urgent may stand out: neither NO_COLOR nor a dumb terminal forbids it */
    int columns, rows;
    bool box; /* the locale has the characters for boxes and shapes: UTF-8 */
};
struct kr_terminal kr_terminal_look(void);

/* How to paint there. characters: what --characters said, "ascii" or "box"; NULL: box characters on a terminal that has
 * them. False after telling that it is neither. */
bool kr_terminal_style(const char *command, const char *characters, struct kr_scene_style *style);

/* Prints each line of a painting to standard output. */
struct kr_scene_lines kr_terminal_lines(void);

#endif
