/* A list of knives as comma-separated values: its rows, each held against its limits and against the others. */
#ifndef KNIFERAIL_CLI_KNIFE_ROWS_H
#define KNIFERAIL_CLI_KNIFE_ROWS_H

#include <stdio.h>

#include "kniferail/knife_list.h"

struct knife_rows {
    struct kr_knife_row *row;
    size_t n, room;
};

/* Reads a whole list. The first record names the columns, in any order; name, kind and place must be among them.
 * Every mistake is told to `tell`, at most 20 of them, with the list's name, row, column, what stands there and what is
 * possible; NULL: none is told. False: there was a mistake, or memory is out. The caller frees the rows in any case. */
bool knife_rows_read(FILE *file, const char *list, FILE *tell, struct knife_rows *rows);
void knife_rows_free(struct knife_rows *rows);

/* Tells a mistake that the book finds. */
void knife_row_tell(const struct kr_knife_row *row, enum kr_knife_column column, const char *why,
                    const char *list, FILE *tell);

#endif
