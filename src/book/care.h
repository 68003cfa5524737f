/* Functions that the files of care share. Private to src/book. */
#ifndef BOOK_CARE_H
#define BOOK_CARE_H

#include "kniferail/care.h"

/* Writes the message to *error as one line, and returns false. */
bool care_fail(struct kr_care_error *error, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
