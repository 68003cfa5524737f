#ifndef KNIFERAIL_CONFIG_SUGGEST_H
#define KNIFERAIL_CONFIG_SUGGEST_H

#include <stddef.h>

/* Gives the name that was most likely meant, or NULL if no name is similar to what was written. */
const char *kr_suggest(const char *written, const char *const names[], size_t n);

#endif
