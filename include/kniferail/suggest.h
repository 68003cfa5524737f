/* suggest: finds the existing name that was probably meant by an unknown one. Belongs to config; the command line uses
 * it, too. */
#ifndef KNIFERAIL_SUGGEST_H
#define KNIFERAIL_SUGGEST_H

#include <stddef.h>

/* Returns the nearest of n names, by the number of letters to insert, delete, change or swap. The result points into
 * names[]. NULL: no name is near. */
const char *kr_suggest(const char *written, const char *const names[], size_t n);

#endif
