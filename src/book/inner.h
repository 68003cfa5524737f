/* The book's own struct, and its halves: reading and writing. Private to src/book. */
#ifndef BOOK_INNER_H
#define BOOK_INNER_H

#include "file.h"
#include "kniferail/book.h"
#include "sql.h"

/* A station of the book, with what is stored of it: a commit writes the difference only. */
struct kept {
    int64_t id; /* its key in the file */
    char name[KR_NAME_MAX];
    bool holder_stored[KR_RAILS_MAX][KR_HOLDERS_MAX];
    struct kr_durable durable;
};

struct kr_book {
    struct sql sql;
    bool in_memory;
    struct book_file file;
    bool gone;                           /* it was found gone by the last commit or look */
    char migrated[KR_BOOK_MIGRATED_MAX]; /* what opening did to it, in words; "": nothing */
    uint64_t commits;                    /* confirmed, in the life of this file */
    bool counted;                        /* the file beside it counts them, so that it is no copy */
    uint16_t n_stations;
    struct kept station[KR_STATIONS_MAX];
    struct kept next; /* what a commit under way is going to leave; here for its size */
    char error[KR_BOOK_TEXT_MAX];
};

/* Places of orders, as in the table place. */
enum { BOOK_STAGED = 0, BOOK_IN_FORCE = 1, BOOK_QUEUED_1 = 2, BOOK_RECIPE_1 = 101 };

/* Both set book->error, in one line, and return false. book_fail_sql says what was being done and why SQLite refused it
 * (fail.c). */
bool book_fail(struct kr_book *book, const char *format, ...) __attribute__((format(printf, 2, 3)));
bool book_fail_sql(struct kr_book *book, const char *doing);

/* Reads all that is stored of kept->id into kept->durable; what is not stored there stays as it was. False, with
 * book->error set, if the file can't be read or holds what can't be. */
bool book_read(struct kr_book *book, struct kept *kept);

/* Writes what differs between kept and the entry, inside the caller's transaction, and brings kept up to it. */
/* origin: who changed holders; NULL: who made the last maintenance request. */
bool book_write(struct kr_book *book, struct kept *kept, const struct kr_book_entry *entry,
                const char *origin);

/* One row of the audit, inside the caller's transaction. */
bool book_add_audit(struct kr_book *book, const struct kr_audit_row *row);

/* Enters in the ledger what became of a knife, inside the caller's transaction. at: when; origin: who asked. */
bool book_write_knife(struct kr_book *book, int64_t station_id, const struct kr_knife_event *event,
                      const char *at, const char *origin);

/* Who asked for what a list of knives brought, in the ledger and in the history of holders. */
#define LIST_ORIGIN "list"

/* A transaction; both of the last end it. book_confirm counts it, and returns false after taking it back;
 * book_take_back always returns false, and keeps the error that was its cause. */
bool book_begin(struct kr_book *book);
bool book_confirm(struct kr_book *book);
bool book_take_back(struct kr_book *book);

/* Opens a book for reading only, whether or not a gateway has it open, and by whoever may read its file (history.c).
 * False: error says why; *db is to be closed nonetheless. */
bool history_open_file(const char *path, sqlite3 **db, char *error, size_t error_size);

/* Of all that a station starts from (seal.c). */
int64_t book_seal(const struct kept *kept);

/* How many transactions were confirmed (confirmed_count.c); 0 if nobody knows. */
void confirmed_count_write(int fd, uint64_t commits);
uint64_t confirmed_count_read(int fd);

#endif
