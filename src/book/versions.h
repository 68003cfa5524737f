/* The versions of the book's tables, and the statements that migrate each version to the next. Private to src/book. */
#ifndef BOOK_VERSIONS_H
#define BOOK_VERSIONS_H

#include <stdbool.h>

#define SCHEMA_VERSION 3 /* the newest */

/* While the newest version is not published it may still change, and a book of an earlier state of it is refused. */
#define SCHEMA_NEWEST_IS_OPEN true

/* Each list of statements ends with a NULL. [n] migrates version n to n + 1; version 0 is an empty file. */
extern const char *const *const schema_migration[SCHEMA_VERSION];

#endif
