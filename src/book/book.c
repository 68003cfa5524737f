#include "kniferail/book.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <unistd.h>

#include "inner.h"
#include "schema.h"

#define SESSION_LAST 65535

const char *kr_book_error(const struct kr_book *book)
{
    return book->error;
}

/* ---- opening ---------------------------------------------------------------------------------------------- */

/* Two gateways that move the same knives from the same book must never be. SQLite's own lock is no help, it lets
 * several programs take turns: a lock file beside the book is held for as long as this process lives. */
static bool take_lock(struct kr_book *book, const char *path)
{
    char name[4096];
    int needed = snprintf(name, sizeof name, "%s.lock", path);
    if (needed < 0 || (size_t)needed >= sizeof name)
        return book_fail(book, "the path is longer than %zu characters", sizeof name - sizeof ".lock");
    book->lock = open(name, O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (book->lock < 0)
        return book_fail(book, "%s: %s", name, strerror(errno));
    struct flock whole = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    if (fcntl(book->lock, F_SETLK, &whole) == 0)
        return true;
    if (errno == EACCES || errno == EAGAIN)
        return book_fail(book, "another gateway uses this book (%s is locked)", name);
    return book_fail(book, "%s: %s", name, strerror(errno));
}

static bool run_text(struct kr_book *book, const char *sql)
{
    return sqlite3_exec(book->sql.db, sql, NULL, NULL, NULL) == SQLITE_OK || book_fail_sql(book, "opening");
}

/* WAL: readers and the one writer don't wait for each other. FULL: a commit is on the disk when it returns; in WAL mode
 * NORMAL would sync at checkpoints only, and a power cut would take verdicts back that a PLC has seen. */
static bool settle(struct kr_book *book)
{
    return run_text(book, "PRAGMA foreign_keys = ON") && run_text(book, "PRAGMA synchronous = FULL") &&
           run_text(book, "PRAGMA trusted_schema = OFF") &&
           (book->in_memory || run_text(book, "PRAGMA journal_mode = WAL"));
}

static bool read_commits(struct kr_book *book)
{
    struct bound b = sql_bind(&book->sql, SQL_COMMITS);
    int rc = sql_next(&b);
    if (rc != SQLITE_ROW && rc != SQLITE_DONE)
        return book_fail_sql(book, "confirmed");
    int64_t commits = rc == SQLITE_ROW ? sql_column(&b, 0) : -1;
    sqlite3_reset(b.stmt);
    book->commits = (uint64_t)commits;
    return commits >= 0 || book_fail(book, "damaged: table confirmed holds no number%s", SCHEMA_ADVICE);
}

static bool check_confirmed_count(struct kr_book *book)
{
    uint64_t confirmed = book->in_memory ? 0 : confirmed_count_read(book->lock);
    if (confirmed <= book->commits)
        return true;
    return book_fail(
        book,
        "of %" PRIu64 " confirmed commits only %" PRIu64
        " are there: an older copy, or its -wal file is missing or damaged; put the newest back, or "
        "remove the .lock file beside it to go on from this one",
        confirmed, book->commits);
}

static bool open_file(struct kr_book *book, const char *path)
{
    if (!book->in_memory && !take_lock(book, path))
        return false;
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_FULLMUTEX;
    if (sqlite3_open_v2(book->in_memory ? ":memory:" : path, &book->sql.db, flags, NULL) != SQLITE_OK)
        return book_fail(book, "%s", book->sql.db != NULL ? sqlite3_errmsg(book->sql.db) : "out of memory");
    /* A person who reads along may hold the file for a moment, not for ever: the daemon tries again by itself. */
    sqlite3_busy_timeout(book->sql.db, 1000);
    sqlite3_extended_result_codes(book->sql.db, 1);
    if (!book->in_memory && sqlite3_db_readonly(book->sql.db, "main") == 1)
        return book_fail(book, "the file can't be written");
    struct schema_error error;
    if (!settle(book))
        return false;
    if (!rows_prepare(book->sql.db)) /* before the schema: a new version may have rows to seal anew */
        return book_fail_sql(book, "a statement");
    if (!schema_prepare(book->sql.db, &error))
        return book_fail(book, "%s", error.text);
    if (!sql_prepare(&book->sql))
        return book_fail_sql(book, "a statement");
    return read_commits(book) && check_confirmed_count(book);
}

struct kr_book *kr_book_open(const char *path, char *error, size_t error_size)
{
    struct kr_book *book = calloc(1, sizeof *book);
    if (book == NULL) {
        snprintf(error, error_size, "out of memory");
        return NULL;
    }
    book->in_memory = path == NULL;
    book->lock = -1;
    if (open_file(book, path))
        return book;
    snprintf(error, error_size, "%s", book->error);
    kr_book_close(book);
    return NULL;
}

void kr_book_close(struct kr_book *book)
{
    if (book == NULL)
        return;
    sql_finalize(&book->sql);
    sqlite3_close(book->sql.db);
    if (book->lock >= 0)
        close(book->lock);
    free(book);
}

/* ---- transactions ----------------------------------------------------------------------------------------- */

static bool run_alone(struct kr_book *book, enum sql_statement statement, const char *doing)
{
    struct bound b = sql_bind(&book->sql, statement);
    return sql_run(&b) || book_fail_sql(book, doing);
}

/* What was said to have failed must not stand in the file: the error is kept, the rest is taken back. */
static bool take_back(struct kr_book *book)
{
    if (!sqlite3_get_autocommit(book->sql.db)) {
        struct bound b = sql_bind(&book->sql, SQL_ROLLBACK);
        (void)sql_run(
            &b); /* an error here leaves nothing to be done: the transaction ends with the connection */
    }
    return false;
}

/* Ends the transaction that the caller has begun. */
static bool confirm(struct kr_book *book)
{
    if (!run_alone(book, SQL_COUNT_COMMIT, "confirmed") || !run_alone(book, SQL_COMMIT, "commit"))
        return take_back(book);
    book->commits++;
    if (!book->in_memory)
        confirmed_count_write(book->lock, book->commits);
    return true;
}

/* ---- sessions and stations -------------------------------------------------------------------------------- */

/* A new book, and one in memory, has no last number to count on from. Began it at 1, a PLC that still writes the registers
 * of before the old book was lost would be obeyed. Chance, not the clock: a machine that comes up with its clock at the
 * same wrong date every time would get the same session every time. The lower half, so that it takes tens of thousands of
 * starts until the numbers begin anew. */
static bool draw_session(struct kr_book *book, uint16_t *session)
{
    uint32_t drawn;
    if (getrandom(&drawn, sizeof drawn, 0) != (ssize_t)sizeof drawn)
        return book_fail(book, "no random number: %s", strerror(errno));
    *session = (uint16_t)(drawn % (SESSION_LAST / 2) + 1);
    return true;
}

static bool next_session(struct kr_book *book, uint16_t *session)
{
    struct bound last = sql_bind(&book->sql, SQL_LAST_SESSION);
    int rc = sql_next(&last);
    if (rc != SQLITE_ROW && rc != SQLITE_DONE)
        return book_fail_sql(book, "session");
    int64_t number = rc == SQLITE_ROW ? sql_column(&last, 0) : 0;
    sqlite3_reset(last.stmt);
    if (rc == SQLITE_DONE)
        return draw_session(book, session);
    *session = (uint16_t)(number % SESSION_LAST + 1);
    return true;
}

static bool add_session(struct kr_book *book, uint16_t number, const char *at)
{
    struct bound b = sql_bind(&book->sql, SQL_ADD_SESSION);
    bind_number(&b, number);
    bind_text(&b, at);
    return sql_run(&b) || book_fail_sql(book, "session");
}

bool kr_book_session(struct kr_book *book, int64_t now_utc_ms, uint16_t *session)
{
    uint16_t number = 0;
    if (!(book->in_memory ? draw_session(book, &number) : next_session(book, &number)))
        return false;
    char at[KR_BOOK_TIME_MAX];
    kr_book_time_text(now_utc_ms, at);
    if (!run_alone(book, SQL_BEGIN, "begin") || !add_session(book, number, at))
        return take_back(book);
    if (!confirm(book))
        return false;
    *session = number;
    return true;
}

static enum kr_load add_station(struct kr_book *book, struct kept *kept)
{
    if (!run_alone(book, SQL_BEGIN, "begin")) {
        take_back(book);
        return KR_LOAD_FAILED;
    }
    struct bound add = sql_bind(&book->sql, SQL_ADD_STATION);
    bind_text(&add, kept->name);
    if (!sql_run(&add)) {
        book_fail_sql(book, "station");
        take_back(book);
        return KR_LOAD_FAILED;
    }
    kept->id = sqlite3_last_insert_rowid(book->sql.db);
    return confirm(book) ? KR_LOAD_NEW : KR_LOAD_FAILED;
}

/* *seal is what the file says, KR_LOAD_FOUND only; *sealed: whether it says anything. */
static enum kr_load find_station(struct kr_book *book, struct kept *kept, bool *sealed, int64_t *seal)
{
    struct bound find = sql_bind(&book->sql, SQL_FIND_STATION);
    bind_text(&find, kept->name);
    int rc = sql_next(&find);
    if (rc == SQLITE_DONE)
        return add_station(book, kept);
    if (rc != SQLITE_ROW) {
        book_fail_sql(book, "station");
        return KR_LOAD_FAILED;
    }
    kept->id = sql_column(&find, 0);
    kept->durable.serial = (uint32_t)sql_column(&find, 1);
    *sealed = !sql_column_is_null(&find, 2);
    *seal = sql_column(&find, 2);
    sqlite3_reset(find.stmt);
    return *sealed || kept->durable.serial != 0 ? KR_LOAD_FOUND
                                                : KR_LOAD_NEW; /* cut off before its first commit */
}

static bool check_seal(struct kr_book *book, const struct kept *kept, int64_t seal)
{
    if (book_seal(kept) == seal)
        return true;
    return book_fail(
        book, "what is stored is not what was stored: the file was damaged or changed by hand; put a copy "
              "back, or set the station's seal to NULL if all of it is right");
}

enum kr_load kr_book_load(struct kr_book *book, const char *name, uint16_t *station,
                          struct kr_durable *durable)
{
    if (book->n_stations == KR_BOOK_STATIONS_MAX) {
        book_fail(book, "more than %d stations", KR_BOOK_STATIONS_MAX);
        return KR_LOAD_FAILED;
    }
    struct kept *kept = &book->station[book->n_stations];
    memset(kept, 0, sizeof *kept);
    snprintf(kept->name, sizeof kept->name, "%s", name);
    bool sealed = false;
    int64_t seal = 0;
    enum kr_load found = find_station(book, kept, &sealed, &seal);
    if (found == KR_LOAD_FAILED)
        return found;
    if (found == KR_LOAD_FOUND) {
        memcpy(kept->durable.holder, durable->holder, sizeof kept->durable.holder);
        if (!book_read(book, kept) || (sealed && !check_seal(book, kept, seal)))
            return KR_LOAD_FAILED;
        *durable = kept->durable;
    }
    *station = book->n_stations++;
    return found;
}

/* ---- sizes ------------------------------------------------------------------------------------------------ */

bool kr_book_sizes(struct kr_book *book, uint16_t station, struct kr_book_sizes *sizes)
{
    struct bound b = sql_bind(&book->sql, SQL_SIZES);
    int rc;
    memset(sizes, 0, sizeof *sizes);
    bind_number(&b, book->station[station].id);
    while ((rc = sql_next(&b)) == SQLITE_ROW) {
        int64_t number = sql_column(&b, 0);
        const char *name = (const char *)sqlite3_column_text(b.stmt, 1);
        if (number >= 1 && number <= KR_SIZES_MAX && name != NULL)
            snprintf(sizes->name[number - 1], KR_SIZE_NAME_MAX, "%s", name);
    }
    return rc == SQLITE_DONE || book_fail_sql(book, "sizes");
}

static bool add_sizes(struct kr_book *book, int64_t station_id, const struct kr_book_sizes *sizes)
{
    struct bound drop = sql_bind(&book->sql, SQL_DROP_SIZES);
    bind_number(&drop, station_id);
    bool ok = sql_run(&drop);
    for (int i = 0; ok && i < KR_SIZES_MAX; i++) {
        if (sizes->name[i][0] == '\0')
            continue;
        struct bound add = sql_bind(&book->sql, SQL_ADD_SIZE);
        bind_number(&add, station_id);
        bind_number(&add, i + 1);
        bind_text(&add, sizes->name[i]);
        ok = sql_run(&add);
    }
    return ok || book_fail_sql(book, "sizes");
}

bool kr_book_set_sizes(struct kr_book *book, uint16_t station, const struct kr_book_sizes *sizes)
{
    if (!run_alone(book, SQL_BEGIN, "begin") || !add_sizes(book, book->station[station].id, sizes))
        return take_back(book);
    return confirm(book);
}

/* ---- a commit --------------------------------------------------------------------------------------------- */

bool kr_book_commit(struct kr_book *book, uint16_t station, const struct kr_book_entry *entry)
{
    if (!run_alone(book, SQL_BEGIN, "begin"))
        return take_back(book);
    book->next = book->station[station];
    if (!book_write(book, &book->next, entry))
        return take_back(book);
    if (!confirm(book))
        return false;
    book->station[station] = book->next;
    return true;
}
