/* Lengths as the command line takes them: config's reader, and what is told of those that it refuses. */
#ifndef KNIFERAIL_CLI_LENGTHS_H
#define KNIFERAIL_CLI_LENGTHS_H

#include <stdbool.h>

#include "kniferail/base.h"

/* Reads a length: "25.4", "3 5/8", "3 5/8 in", "0.44 m"; without a unit it is in the station's. Exact, rounded once to
 * a nanometre. False after telling what is wrong; `what` names the option or argument. */
bool length_read(const char *command, const char *what, const char *text, enum kr_length_unit unit,
                 int64_t *nm);

/* Reads lengths with commas between them. False, after telling why, if they are not all good or more than most. */
bool lengths_read(const char *command, const char *what, const char *text, enum kr_length_unit unit,
                  int64_t nm[], int most, uint16_t *n);

#endif
