/* The schema of the book, and how older files are brought up to it. Private to src/book. */
#ifndef BOOK_SCHEMA_H
#define BOOK_SCHEMA_H

#include <sqlite3.h>
#include <stdbool.h>

struct schema_error {
    char text[192];
};

/* Checks the file, and makes or migrates its tables. False: *error says in one line why the file can't be used. */
bool schema_prepare(sqlite3 *db, struct schema_error *error);

#endif
