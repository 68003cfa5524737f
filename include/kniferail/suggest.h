/* suggest: which of the names that there are was most likely meant by one that there is not. Belongs to config; the
 * command line uses it, too. */
#ifndef KNIFERAIL_SUGGEST_H
#define KNIFERAIL_SUGGEST_H

#include <stddef.h>

/* The nearest of n names, by letters to insert, drop, change or swap; NULL if none is near. Points into names[]. */
const char *kr_suggest(const char *written, const char *const names[], size_t n);

#endif
