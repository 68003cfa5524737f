/* The abilities of standard output: whether it is a terminal, its size, and its characters. */
#ifndef KNIFERAIL_CLI_TERMINAL_H
#define KNIFERAIL_CLI_TERMINAL_H

#include "kniferail/scene.h"

/* The terminal's columns and rows are 80 and 24 if there is no terminal, or it does not tell them. */
struct kr_terminal {
    bool is_terminal; /* text can be overwritten: it is a terminal, and TERM is not "dumb" */
    bool emphasis;    /* urgent text may be emphasized: neither NO_COLOR nor a dumb terminal forbids it */
    int columns, rows;
    bool box; /* the locale has characters for boxes and shapes, that is, UTF-8 */
};
struct kr_terminal kr_terminal_look(void);

/* Sets *style for drawing there. characters: the value of --characters, "ascii" or "box"; NULL: box characters, if it
 * is a terminal that has them. False: the value is neither, which was printed. */
bool kr_terminal_style(const char *command, const char *characters, struct kr_scene_style *style);

/* Returns an output that prints each line of a drawing to standard output. */
struct kr_scene_lines kr_terminal_lines(void);

#endif
