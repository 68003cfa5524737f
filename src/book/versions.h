/* The versions of the book's tables, and what leads from each to the next. Private to src/book. */
#ifndef BOOK_VERSIONS_H
#define BOOK_VERSIONS_H

#include <stdbool.h>

#define SCHEMA_VERSION 3 /* the newest */

/* Until the newest version is published it may still change, and a book that was made of it earlier is refused. */
#define SCHEMA_NEWEST_IS_OPEN true

/* Statements, closed with a NULL; [n] leads from version n to n + 1, and 0 is an empty file. */
extern const char *const *const schema_migration[SCHEMA_VERSION];

#endif
