/* The book's struct, and the functions that read and write it. Private to src/book. */
#ifndef BOOK_INNER_H
#define BOOK_INNER_H

#include "file.h"
#include "kniferail/book.h"
#include "sql.h"

/* A station of the book, and a copy of its stored values: a commit writes only the differences from this copy. */
struct kept {
    int64_t id; /* its key in the file */
    char name[KR_NAME_MAX];
    bool holder_stored[KR_RAILS_MAX][KR_HOLDERS_MAX];
    bool committed; /* since the book was opened */
    struct kr_durable durable;
};

struct kr_book {
    struct sql sql;
    bool in_memory;
    struct book_file file;
    bool gone;                           /* the last commit or look found the file deleted or replaced */
    char migrated[KR_BOOK_MIGRATED_MAX]; /* how opening has changed the file, in words; "": not at all */
    uint64_t commits;                    /* confirmed commits in the life of this file */
    bool counted;                        /* FILE.lock had this count when the book was opened: it is no copy */
    bool counts;                         /* commits write this count to FILE.lock */
    bool all_loaded;                     /* kr_book_all_loaded() was called */
    uint16_t n_stations;
    struct kept station[KR_STATIONS_MAX];
    struct kept next; /* the stored values after the commit under way; it is here because it is large */
    char error[KR_BOOK_TEXT_MAX];
};

/* The places of orders, as the column `place` of the tables has them. */
enum { BOOK_STAGED = 0, BOOK_IN_FORCE = 1, BOOK_QUEUED_1 = 2, BOOK_RECIPE_1 = 101 };

/* Both write one line to book->error, and return false. book_fail_sql says what was attempted, and why SQLite refused
 * it (fail.c). */
bool book_fail(struct kr_book *book, const char *format, ...) __attribute__((format(printf, 2, 3)));
bool book_fail_sql(struct kr_book *book, const char *doing);

/* Reads all that is stored for kept->id into kept->durable. Fields that are not stored stay as they were. False, with
 * book->error set: the file can't be read, or it has a value that is out of its limits. */
bool book_read(struct kr_book *book, struct kept *kept);

/* Writes the differences between kept and the entry, inside the caller's transaction, and updates kept. origin: who
 * changed holders; NULL: whoever made the last maintenance request. */
bool book_write(struct kr_book *book, struct kept *kept, const struct kr_book_entry *entry, const char *origin);

/* Writes one row of the audit, inside the caller's transaction. */
bool book_add_audit(struct kr_book *book, const struct kr_audit_row *row);

/* Writes to the ledger what happened to a knife, inside the caller's transaction. at: when; origin: who asked. */
bool book_write_knife(struct kr_book *book, int64_t station_id, const struct kr_knife_event *event, const char *at,
                      const char *origin);

/* The origin of changes that an imported list of knives made, in the ledger and in the history of holders. */
#define LIST_ORIGIN "list"

/* book_begin() begins a transaction; the other two end it. book_confirm() counts and commits it; if that fails, it
 * rolls it back and returns false. book_take_back() rolls it back, keeps the error that was the cause, and always
 * returns false. */
bool book_begin(struct kr_book *book);
bool book_confirm(struct kr_book *book);
bool book_take_back(struct kr_book *book);

/* Opens a book for reading only (history.c). It works whether or not a gateway has the book open, and for anybody who
 * may read the file. False: error says why; *db has to be closed nonetheless. */
bool history_open_file(const char *path, sqlite3 **db, char *error, size_t error_size);

/* Returns the seal over everything that a station starts from (seal.c). */
int64_t book_seal(const struct kept *kept);

/* Write and read the number of confirmed transactions (confirmed_count.c). 0: the number is not known. */
void confirmed_count_write(int fd, uint64_t commits);
uint64_t confirmed_count_read(int fd);

#endif
