/* Lengths on the command line: they are read by the config's reader, and mistakes are printed. */
#ifndef KNIFERAIL_CLI_LENGTHS_H
#define KNIFERAIL_CLI_LENGTHS_H

#include <stdbool.h>

#include "kniferail/base.h"

/* Reads a length: "25.4", "3 5/8", "3 5/8 in", "0.44 m". Without a unit, the length is in the station's unit. The value
 * is exact, and rounded once, to a nanometre. `what` names the option or argument. False: the mistake was printed. */
bool length_read(const char *command, const char *what, const char *text, enum kr_length_unit unit, int64_t *nm);

/* Reads lengths that are separated by commas. False: one is not valid, or there are more than most; this was
 * printed. */
bool lengths_read(const char *command, const char *what, const char *text, enum kr_length_unit unit, int64_t nm[],
                  int most, uint16_t *n);

#endif
