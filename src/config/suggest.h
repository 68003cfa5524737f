#ifndef KNIFERAIL_CONFIG_SUGGEST_H
#define KNIFERAIL_CONFIG_SUGGEST_H

#include <stddef.h>

/* The name that was most likely meant, or NULL if none is near. */
const char *kr_suggest(const char *written, const char *const names[], size_t n);

#endif
