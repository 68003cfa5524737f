/* The schema of the book, and how older files are brought up to it. Private to src/book. */
#ifndef BOOK_SCHEMA_H
#define BOOK_SCHEMA_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>

struct schema_error {
    char text[256];
};

/* What to do about a damaged file. The files beside it belong to it: -wal, -shm, .lock. */
#define SCHEMA_ADVICE \
    "; put a copy back, or move it and the files beside it away to begin a new one from the config"
#define SCHEMA_WHY_MAX 130 /* of SQLite's own words, so that the advice has room */

/* SCHEMA_ADVICE if the connection's last error was a damaged file, else "". */
const char *schema_advice(sqlite3 *db);

/* Whether it is a book of this version, as it stands; nothing is written. False: *error says in one line what else. */
bool schema_recognise(sqlite3 *db, struct schema_error *error);

/* Checks what a start needs, and writes nothing: of this version the tables that a station starts from, of an older
 * one, which has to be migrated, the whole file. *version is what it has, 0: it is empty. False: *error says in one
 * line why it can't be used. */
bool schema_look(sqlite3 *db, int64_t *version, struct schema_error *error);
bool schema_check_start(sqlite3 *db, struct schema_error *error); /* the same of a file of this version */

/* Every page and every reference of the file; the history grows for years, so this takes seconds. */
bool schema_check_whole(sqlite3 *db, struct schema_error *error);

bool schema_is_older(int64_t version); /* it has tables, and they have to be migrated */
int schema_newest(void);

/* Makes or migrates the tables of such a file, in one transaction: it succeeds, or the file is as it was. */
bool schema_bring_up(sqlite3 *db, int64_t version, struct schema_error *error);

#endif
