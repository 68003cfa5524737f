/* A list of knives as comma-separated values. Each row is checked against limits and against the other rows. */
#ifndef KNIFERAIL_CLI_KNIFE_ROWS_H
#define KNIFERAIL_CLI_KNIFE_ROWS_H

#include <stdio.h>

#include "kniferail/knife_list.h"

struct knife_rows {
    struct kr_knife_row *row;
    size_t n, room;
};

/* Reads a whole list. The first record names the columns, in any sequence; name, kind and place must be among them. At
 * most 20 mistakes are printed to `tell` (NULL: none), each with the list's name, row, column, value and what is
 * possible. False: there was a mistake, or there is no memory. The caller frees the rows in any case. */
bool knife_rows_read(FILE *file, const char *list, FILE *tell, struct knife_rows *rows);
void knife_rows_free(struct knife_rows *rows);

/* Prints a mistake in a row that the book has found. */
void knife_row_tell(const struct kr_knife_row *row, enum kr_knife_column column, const char *why, const char *list,
                    FILE *tell);

#endif
