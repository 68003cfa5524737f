/* The schema of the book, and the migration of older files to it. Private to src/book. */
#ifndef BOOK_SCHEMA_H
#define BOOK_SCHEMA_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>

struct schema_error {
    char text[256];
};

/* What a person can do about a damaged file. The files -wal, -shm and .lock beside it belong to it. */
#define SCHEMA_ADVICE  "; put a copy back, or move it and the files beside it away to begin a new one from the config"
#define SCHEMA_WHY_MAX 130 /* the most characters of SQLite's own message, so that the advice still fits */

/* Returns SCHEMA_ADVICE if the connection's last error was a damaged file, else "". */
const char *schema_advice(sqlite3 *db);

/* Tells whether the file is a book of this version. Writes nothing. False: *error says in one line what it is. */
bool schema_recognise(sqlite3 *db, struct schema_error *error);

/* Checks the file before a start, and writes nothing. In a file of this version, checks the tables that a station
 * starts from; in an older file, which has to be migrated, checks everything. Sets *version to the file's version, 0 if
 * it is empty. False: *error says in one line why the file can't be used. */
bool schema_look(sqlite3 *db, int64_t *version, struct schema_error *error);
/* The same check for a file of this version only. */
bool schema_check_start(sqlite3 *db, struct schema_error *error);

/* Checks every page and every reference of the file. The history grows for years, so this takes seconds. */
bool schema_check_whole(sqlite3 *db, struct schema_error *error);

bool schema_is_older(int64_t version); /* the file has tables, and they have to be migrated */
int schema_newest(void);

/* Creates the tables, or migrates those of an older version, in one transaction. If it fails, the file is unchanged. */
bool schema_bring_up(sqlite3 *db, int64_t version, struct schema_error *error);

#endif
