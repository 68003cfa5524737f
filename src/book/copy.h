/* Makes a copy of the book before its schema is changed. Private to src/book. */
#ifndef BOOK_COPY_H
#define BOOK_COPY_H

#include <sqlite3.h>

#include "file.h"

/* Copies the pages of db's database into the file called name. */
bool copy_into(sqlite3 *db, const char *name, struct file_error *error);

/* Copies the database that db has open, as its last commit left it, into a new file beside it. The copy is synced, and
 * grants at most the rights of the book. Writes the path of the copy to name. False: *error says why, and no part of
 * the copy is left. */
bool copy_make(sqlite3 *db, const struct book_file *file, long long version, char name[PATH_MAX],
               struct file_error *error);

#endif
