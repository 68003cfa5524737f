#include "kniferail/book.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <unistd.h>

#include "copy.h"
#include "inner.h"
#include "schema.h"

#define SESSION_LAST 65535

const char *kr_book_error(const struct kr_book *book)
{
    return book->error;
}

/* ---- opening ---------------------------------------------------------------------------------------------- */

static bool run_text(struct kr_book *book, const char *sql)
{
    return sqlite3_exec(book->sql.db, sql, NULL, NULL, NULL) == SQLITE_OK || book_fail_sql(book, "opening");
}

/* With synchronous = FULL, a commit is on the disk when it returns. With NORMAL, WAL mode would sync only at
 * checkpoints, and a power cut would undo verdicts that a PLC has already read. */
static bool settle(struct kr_book *book)
{
    return run_text(book, "PRAGMA foreign_keys = ON") && run_text(book, "PRAGMA synchronous = FULL") &&
           run_text(book, "PRAGMA trusted_schema = OFF");
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
    uint64_t confirmed = book->in_memory ? 0 : confirmed_count_read(book->file.count_fd);
    book->counted = book->in_memory || confirmed != 0;
    book->counts = !book->in_memory && (confirmed != 0 || book->commits == 0);
    if (confirmed <= book->commits)
        return true;
    return book_fail(book,
                     "of %" PRIu64 " confirmed commits the file has only %" PRIu64
                     ": it is an older copy, or its -wal file is missing or damaged; put the newest copy "
                     "back, or remove the .lock file beside it to go on from this one",
                     confirmed, book->commits);
}

static bool open_database(struct kr_book *book)
{
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_FULLMUTEX | SQLITE_OPEN_NOFOLLOW;
    const char *path = book->in_memory ? ":memory:" : book->file.path;
    if (sqlite3_open_v2(path, &book->sql.db, flags, NULL) != SQLITE_OK)
        return book_fail(book, "%s", book->sql.db != NULL ? sqlite3_errmsg(book->sql.db) : "out of memory");
    /* A person who reads the book may lock the file, but only for a moment: the daemon tries again by itself. */
    sqlite3_busy_timeout(book->sql.db, 1000);
    sqlite3_extended_result_codes(book->sql.db, 1);
    if (!book->in_memory && sqlite3_db_readonly(book->sql.db, "main") == 1)
        return book_fail(book, "the file can't be written");
    return true;
}

/* Makes a copy first. It is needed if the program fails with the new version, or a plant wants the old one back. */
static bool migrate(struct kr_book *book, int64_t version)
{
    static char copy[PATH_MAX]; /* static, because it is large: the daemon opens one book, on one thread */
    struct schema_error schema;
    struct file_error error;
    if (!copy_make(book->sql.db, &book->file, version, copy, &error))
        return book_fail(book, "the book stays at schema version %lld: %s", (long long)version, error.text);
    if (!schema_bring_up(book->sql.db, version, &schema)) {
        unlink(copy); /* the book itself is unchanged */
        return book_fail(book, "the book stays at schema version %lld: %s", (long long)version, schema.text);
    }
    snprintf(book->migrated, sizeof book->migrated,
             "it was brought from schema version %lld to %d; a copy of the old version is in %s", (long long)version,
             schema_newest(), copy);
    return true;
}

/* In WAL mode, readers and the one writer don't wait for each other. Setting this mode writes to the file, so the file
 * must be known to be a book before. */
static bool prepare_tables(struct kr_book *book)
{
    struct schema_error error;
    int64_t version;
    if (!schema_look(book->sql.db, &version, &error))
        return book_fail(book, "%s", error.text);
    if (!book->in_memory && !run_text(book, "PRAGMA journal_mode = WAL"))
        return false;
    if (schema_is_older(version))
        return migrate(book, version);
    return schema_bring_up(book->sql.db, version, &error) || book_fail(book, "%s", error.text);
}

static bool open_file(struct kr_book *book, const char *path)
{
    struct file_error error;
    if (!book->in_memory && !file_open(&book->file, path, &error))
        return book_fail(book, "%s", error.text);
    if (!open_database(book) || !settle(book))
        return false;
    if (!rows_prepare(book->sql.db)) /* before the tables, because a migration may have to seal rows again */
        return book_fail_sql(book, "preparing the statements");
    if (!prepare_tables(book))
        return false;
    if (!sql_prepare(&book->sql))
        return book_fail_sql(book, "preparing the statements");
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
    book->file.fd = book->file.count_fd = -1;
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
    file_close(&book->file); /* after everything else, because closing it also ends SQLite's own locks */
    free(book);
}

const char *kr_book_migrated(const struct kr_book *book)
{
    return book->migrated;
}

/* ---- its file -------------------------------------------------------------------------------------------------- */

static bool is_there(struct kr_book *book)
{
    struct file_error error;
    book->gone = !book->in_memory && !file_is_there(&book->file, &error);
    return !book->gone || book_fail(book, "%s", error.text);
}

bool kr_book_is_gone(const struct kr_book *book)
{
    return book->gone;
}

enum kr_book_look kr_book_look(struct kr_book *book)
{
    struct file_error error;
    if (book->in_memory)
        return KR_BOOK_WELL;
    if (!is_there(book))
        return KR_BOOK_GONE;
    if (file_has_room(&book->file, KR_BOOK_FREE_KB, &error))
        return KR_BOOK_WELL;
    book_fail(book, "%s", error.text);
    return KR_BOOK_DISK_FULL;
}

/* ---- transactions ----------------------------------------------------------------------------------------- */

static bool run_alone(struct kr_book *book, enum sql_statement statement, const char *doing)
{
    struct bound b = sql_bind(&book->sql, statement);
    return sql_run(&b) || book_fail_sql(book, doing);
}

bool book_begin(struct kr_book *book)
{
    return run_alone(book, SQL_BEGIN, "begin");
}

/* After an error nothing may stay in the file that was reported as failed. So this keeps the error and rolls back. */
bool book_take_back(struct kr_book *book)
{
    if (!sqlite3_get_autocommit(book->sql.db)) {
        struct bound b = sql_bind(&book->sql, SQL_ROLLBACK);
        (void)sql_run(&b); /* an error here changes nothing, because the transaction ends with the connection */
    }
    return false;
}

/* Ends the transaction that the caller has begun. */
bool book_confirm(struct kr_book *book)
{
    /* If the file was deleted or replaced, a commit to it would be lost with the next start. */
    if (!is_there(book) || !run_alone(book, SQL_COUNT_COMMIT, "confirmed") || !run_alone(book, SQL_COMMIT, "commit"))
        return book_take_back(book);
    book->commits++;
    if (book->counts)
        confirmed_count_write(book->file.count_fd, book->commits);
    return true;
}

/* ---- sessions and stations -------------------------------------------------------------------------------- */

/* A new book, and one in memory, has no last session number to continue from. If it began at 1, the gateway would obey
 * a PLC that still writes the registers from before the old book was lost. The number is random and not taken from the
 * clock, because a machine whose clock shows the same wrong date at every start would get the same session each time.
 * Only the lower half of the numbers is used, so that it takes tens of thousands of starts until the numbers repeat. */
static bool draw_session(struct kr_book *book, uint16_t *session)
{
    uint32_t drawn;
    if (getrandom(&drawn, sizeof drawn, 0) != (ssize_t)sizeof drawn)
        return book_fail(book, "the system gives no random number: %s", strerror(errno));
    *session = (uint16_t)(drawn % (SESSION_LAST / 2) + 1);
    return true;
}

/* If the last run has not noted its end, the start of the computer tells: it is the same start, or a later one. */
static enum kr_run_end end_of(const struct bound *row, const char *boot)
{
    const char *its_boot = (const char *)sqlite3_column_text(row->stmt, 2);
    int64_t ended = sql_column(row, 1);
    if (ended == KR_RUN_ASKED || ended == KR_RUN_HURRIED || ended == KR_RUN_NOT_STARTED)
        return (enum kr_run_end)ended;
    if (its_boot == NULL || its_boot[0] == '\0' || boot[0] == '\0')
        return KR_RUN_UNKNOWN;
    return strcmp(its_boot, boot) == 0 ? KR_RUN_KILLED : KR_RUN_POWER;
}

static bool read_last_run(struct kr_book *book, const char *boot, struct kr_book_run *last)
{
    struct bound b = sql_bind(&book->sql, SQL_LAST_SESSION);
    int rc = sql_next(&b);
    *last = (struct kr_book_run){.end = KR_RUN_UNKNOWN};
    if (rc == SQLITE_ROW)
        *last = (struct kr_book_run){end_of(&b, boot), (uint16_t)sql_column(&b, 0), sql_column(&b, 3)};
    sqlite3_reset(b.stmt);
    return rc == SQLITE_ROW || rc == SQLITE_DONE || book_fail_sql(book, "session");
}

static bool add_session(struct kr_book *book, uint16_t number, const char *at, const char *boot)
{
    struct bound b = sql_bind(&book->sql, SQL_ADD_SESSION);
    bind_number(&b, number);
    bind_text(&b, at);
    bind_text(&b, boot);
    return sql_run(&b) || book_fail_sql(book, "session");
}

bool kr_book_session(struct kr_book *book, int64_t now_utc_ms, const char *boot, uint16_t *session,
                     struct kr_book_run *last)
{
    uint16_t number = 0;
    if (!read_last_run(book, boot, last))
        return false;
    if (!book->in_memory && last->session != 0)
        number = (uint16_t)(last->session % SESSION_LAST + 1);
    else if (!draw_session(book, &number))
        return false;
    char at[KR_BOOK_TIME_MAX];
    kr_book_time_text(now_utc_ms, at);
    if (!book_begin(book) || !add_session(book, number, at, boot))
        return book_take_back(book);
    if (!book_confirm(book))
        return false;
    *session = number;
    return true;
}

bool kr_book_end_run(struct kr_book *book, int64_t now_utc_ms, enum kr_run_end end)
{
    char at[KR_BOOK_TIME_MAX];
    kr_book_time_text(now_utc_ms, at);
    if (!book_begin(book))
        return book_take_back(book);
    struct bound b = sql_bind(&book->sql, SQL_END_SESSION);
    bind_number(&b, end);
    bind_text(&b, at);
    if (sql_run(&b))
        return book_confirm(book);
    book_fail_sql(book, "session");
    return book_take_back(book);
}

static enum kr_load add_station(struct kr_book *book, struct kept *kept)
{
    if (!book_begin(book)) {
        book_take_back(book);
        return KR_LOAD_FAILED;
    }
    struct bound add = sql_bind(&book->sql, SQL_ADD_STATION);
    bind_text(&add, kept->name);
    if (!sql_run(&add)) {
        book_fail_sql(book, "station");
        book_take_back(book);
        return KR_LOAD_FAILED;
    }
    kept->id = sqlite3_last_insert_rowid(book->sql.db);
    return book_confirm(book) ? KR_LOAD_NEW : KR_LOAD_FAILED;
}

/* *seal is the seal in the file, only with KR_LOAD_FOUND; *sealed tells whether the file has one. */
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
                                                : KR_LOAD_NEW; /* the power went before its first commit */
}

static bool check_seal(struct kr_book *book, const struct kept *kept, int64_t seal)
{
    if (book_seal(kept) == seal)
        return true;
    return book_fail(book, "the stored data does not agree with its seal: the file was damaged or changed by hand; "
                           "put a copy back, or set the station's seal to NULL if all of the data is right");
}

/* A copy that was put in a book's place is older, and the gateway may have moved holders since. So nothing in it can
 * replace a scan: neither what was proven, nor where holders stood. */
static void believe_no_copy(struct kr_durable *durable)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        durable->proof[r] = 0;
        for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
            durable->holder[r][h].known = durable->holder[r][h].was_known = KR_UNKNOWN;
    }
}

enum kr_load kr_book_load(struct kr_book *book, const char *name, uint16_t *station, struct kr_durable *durable)
{
    if (book->n_stations == KR_STATIONS_MAX) {
        book_fail(book, "at most %d stations are possible", KR_STATIONS_MAX);
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
        if (!book->counted)
            believe_no_copy(durable);
    }
    *station = book->n_stations++;
    return found;
}

/* A copy gets its count only once every station has stored what it believes of the copy. Otherwise a start that ends
 * before that, or a tool that writes to the copy, would make it look like the book that a gateway has kept. */
static void begin_to_count(struct kr_book *book)
{
    bool ready = book->all_loaded && !book->in_memory && !book->counts;
    for (uint16_t i = 0; i < book->n_stations; i++)
        ready = ready && book->station[i].committed;
    if (!ready)
        return;
    book->counts = true;
    confirmed_count_write(book->file.count_fd, book->commits);
}

void kr_book_all_loaded(struct kr_book *book)
{
    book->all_loaded = true;
    begin_to_count(book);
}

/* ---- sizes ------------------------------------------------------------------------------------------------ */

int64_t kr_book_record_ended_s(struct kr_book *book, uint16_t station)
{
    struct bound b = sql_bind(&book->sql, SQL_LAST_CHANGEOVER_END);
    bind_number(&b, book->station[station].id);
    int64_t utc_s = sql_next(&b) == SQLITE_ROW ? sql_column(&b, 0) : 0;
    sqlite3_reset(b.stmt);
    return utc_s;
}

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
    if (!book_begin(book) || !add_sizes(book, book->station[station].id, sizes))
        return book_take_back(book);
    return book_confirm(book);
}

/* ---- a commit --------------------------------------------------------------------------------------------- */

bool kr_book_commit(struct kr_book *book, uint16_t station, const struct kr_book_entry *entry)
{
    if (!book_begin(book))
        return book_take_back(book);
    book->next = book->station[station];
    if (!book_write(book, &book->next, entry, NULL))
        return book_take_back(book);
    if (!book_confirm(book))
        return false;
    book->next.committed = true;
    book->station[station] = book->next;
    begin_to_count(book);
    return true;
}
