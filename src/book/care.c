#include "kniferail/care.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <libgen.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "care.h"
#include "copy.h"
#include "file.h"
#include "inner.h"
#include "kniferail/history.h"
#include "schema.h"

bool care_fail(struct kr_care_error *error, const char *format, ...)
{
    va_list arg;
    va_start(arg, format);
    vsnprintf(error->text, sizeof error->text, format, arg);
    va_end(arg);
    for (char *end; (end = strchr(error->text, '\n')) != NULL;)
        *end = ' '; /* SQLite's message may quote a text of several lines */
    return false;
}

static const char *const table_names[] = {
#define X(table, columns, key, lost) table,
    SEALED_TABLES(X)
#undef X
};
_Static_assert(sizeof table_names / sizeof table_names[0] == KR_CARE_TABLES, "every table of the history");

const char *kr_care_table_name(int table)
{
    return table_names[table];
}

/* ---- reading along ---------------------------------------------------------------------------------------------- */

/* Opens a book for reading only, with the statements that read stations. */
static bool open_reader(struct kr_book *book, const char *path, struct kr_care_error *error)
{
    if (!history_open_file(path, &book->sql.db, error->text, sizeof error->text))
        return false;
    sqlite3_busy_timeout(book->sql.db, 2000);
    struct schema_error schema;
    if (!schema_recognise(book->sql.db, &schema))
        return care_fail(error, "%s: %s", path, schema.text);
    if (!rows_prepare(book->sql.db) || !sql_prepare(&book->sql))
        return care_fail(error, "%s: %s", path, sqlite3_errmsg(book->sql.db));
    return true;
}

static void close_reader(struct kr_book *book)
{
    if (book == NULL)
        return;
    sql_finalize(&book->sql);
    sqlite3_close(book->sql.db);
    free(book);
}

static struct kr_book *reader(const char *path, struct kr_care_error *error)
{
    struct kr_book *book = calloc(1, sizeof *book);
    if (book == NULL) {
        care_fail(error, "out of memory");
        return NULL;
    }
    book->file.fd = book->file.count_fd = -1;
    if (open_reader(book, path, error))
        return book;
    close_reader(book);
    return NULL;
}

/* ---- a check ---------------------------------------------------------------------------------------------------- */

static void find(struct kr_care_report *report, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void find(struct kr_care_report *report, const char *format, ...)
{
    struct kr_care_error line;
    va_list arg;
    if (report->n_findings == KR_CARE_FINDINGS_MAX)
        return;
    va_start(arg, format);
    vsnprintf(line.text, sizeof line.text, format, arg);
    va_end(arg);
    memcpy(report->finding[report->n_findings++], line.text, sizeof line.text);
}

static int64_t file_bytes(const char *path, const char *suffix)
{
    char name[PATH_MAX];
    struct stat st;
    int n = snprintf(name, sizeof name, "%s%s", path, suffix);
    return n > 0 && n < PATH_MAX && stat(name, &st) == 0 ? (int64_t)st.st_size : 0;
}

static void take_text(char *to, size_t size, sqlite3_stmt *stmt, int column)
{
    const char *text = (const char *)sqlite3_column_text(stmt, column);
    snprintf(to, size, "%s", text != NULL ? text : "");
}

/* Steps to the first row of a query. False: there is none, or it can't be read, which is added to the findings. */
static bool first_row(struct kr_book *book, const char *query, sqlite3_stmt **stmt, struct kr_care_report *report)
{
    *stmt = NULL;
    int rc = sqlite3_prepare_v2(book->sql.db, query, -1, stmt, NULL);
    if (rc == SQLITE_OK)
        rc = sqlite3_step(*stmt);
    if (rc != SQLITE_ROW && rc != SQLITE_DONE)
        find(report, "%s", sqlite3_errmsg(book->sql.db));
    return rc == SQLITE_ROW;
}

/* The rows of a changeover's moves, holders and rails have no time of their own. */
static void count_tables(struct kr_book *book, struct kr_care_report *report)
{
    for (int t = 0; t < KR_CARE_TABLES; t++) {
        struct kr_care_table *table = &report->table[t];
        char query[128];
        sqlite3_stmt *stmt;
        const char *name = table->name = table_names[t];
        const char *at = strcmp(name, "changeover") == 0         ? "ended_at"
                         : strncmp(name, "changeover_", 11) == 0 ? "''"
                                                                 : "at";
        snprintf(query, sizeof query, "SELECT count(*), min(%s) FROM %s", at, name);
        if (first_row(book, query, &stmt, report)) {
            table->rows = sqlite3_column_int64(stmt, 0);
            take_text(table->oldest, sizeof table->oldest, stmt, 1);
        }
        sqlite3_finalize(stmt);
    }
}

static void look_at_session(struct kr_book *book, struct kr_care_report *report)
{
    sqlite3_stmt *stmt;
    if (first_row(book, "SELECT number, started_at, ended, ended_at FROM session ORDER BY id DESC LIMIT 1", &stmt,
                  report)) {
        report->session = (uint16_t)sqlite3_column_int64(stmt, 0);
        take_text(report->session_at, sizeof report->session_at, stmt, 1);
        report->ended = (enum kr_run_end)sqlite3_column_int64(stmt, 2);
        take_text(report->ended_at, sizeof report->ended_at, stmt, 3);
    }
    sqlite3_finalize(stmt);
}

static void tell_state(struct kr_care_station *to, const struct kept *kept)
{
    const struct kr_durable *is = &kept->durable;
    snprintf(to->name, sizeof to->name, "%s", kept->name);
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        to->in_motion[r] = is->docking[r];
        to->clamp_open[r] = is->clamp_open[r] != 0;
        to->datum_doubted[r] = is->datum_doubted[r] != 0;
    }
    to->staged = is->staged != 0;
    to->in_force = is->in_force != 0;
    to->staged_order = is->staged_order.order_number;
    to->order = is->order.order_number;
    to->n_queued = is->n_queued;
}

/* Reads the station as a start of the gateway does, and compares it with its seal. */
static void look_at_station(struct kr_book *book, sqlite3_stmt *row, struct kr_care_report *report)
{
    struct kept *kept = &book->next;
    struct kr_care_station *to = &report->station[report->n_stations];
    memset(kept, 0, sizeof *kept);
    kept->id = sqlite3_column_int64(row, 0);
    take_text(kept->name, sizeof kept->name, row, 1);
    kept->durable.serial = (uint32_t)sqlite3_column_int64(row, 2);
    to->unsealed = sqlite3_column_type(row, 3) == SQLITE_NULL && kept->durable.serial != 0;
    take_text(to->changed_at, sizeof to->changed_at, row, 4);
    if (!book_read(book, kept))
        find(report, "station %s: %s", kept->name, book->error);
    else if (sqlite3_column_type(row, 3) != SQLITE_NULL && book_seal(kept) != sqlite3_column_int64(row, 3))
        find(report,
             "station %s: the stored data does not agree with its seal: the file was damaged or changed by hand",
             kept->name);
    tell_state(to, kept);
    report->n_stations++;
}

static void look_at_stations(struct kr_book *book, struct kr_care_report *report)
{
    sqlite3_stmt *stmt;
    bool row =
        first_row(book, "SELECT station, name, serial, seal, changed_at FROM station ORDER BY station", &stmt, report);
    for (; row && report->n_stations < KR_STATIONS_MAX; row = sqlite3_step(stmt) == SQLITE_ROW)
        look_at_station(book, stmt, report);
    sqlite3_finalize(stmt);
}

static void tell_seals(void *arg, const char *table, int64_t rows, int64_t first)
{
    find(arg, "table %s: rows that do not agree with their seals: %" PRId64 ", the first is %" PRId64, table, rows,
         first);
}

static bool commits_are_there(struct kr_book *book, const char *path, struct kr_care_report *report)
{
    char name[PATH_MAX];
    sqlite3_stmt *stmt;
    int64_t commits = 0;
    if (first_row(book, "SELECT commits FROM confirmed", &stmt, report))
        commits = sqlite3_column_int64(stmt, 0);
    sqlite3_finalize(stmt);
    int n = snprintf(name, sizeof name, "%s.lock", path);
    int fd = n > 0 && n < PATH_MAX ? open(name, O_RDONLY | O_CLOEXEC) : -1;
    uint64_t confirmed = fd >= 0 ? confirmed_count_read(fd) : 0;
    if (fd >= 0)
        close(fd);
    if (confirmed > (uint64_t)commits)
        find(report,
             "of %" PRIu64 " confirmed commits the file has only %" PRId64
             ": it is an older copy, or its -wal file is missing",
             confirmed, commits);
    return confirmed <= (uint64_t)commits;
}

static void check_opened(struct kr_book *book, const char *path, struct kr_care_report *report)
{
    struct schema_error schema;
    report->schema_version = schema_newest();
    if (!schema_check_whole(book->sql.db, &schema)) {
        find(report, "%s", schema.text);
        return; /* in a damaged file, all further results may be wrong */
    }
    if (!schema_check_start(book->sql.db, &schema))
        find(report, "%s", schema.text);
    if (!report->in_use) /* otherwise the count may belong to a later commit than the one that was read */
        (void)commits_are_there(book, path, report);
    count_tables(book, report);
    look_at_session(book, report);
    look_at_stations(book, report);
    if (!rows_check(book->sql.db, tell_seals, report))
        find(report, "%s", sqlite3_errmsg(book->sql.db));
}

bool kr_book_check(const char *path, struct kr_care_report *report, struct kr_care_error *error)
{
    memset(report, 0, sizeof *report);
    struct file_error file;
    if (!file_is_in_use(path, &report->in_use, &file))
        return care_fail(error, "%s", file.text);
    struct kr_book *book = reader(path, error);
    if (book == NULL)
        return false;
    report->wal_bytes = file_bytes(path, "-wal");
    report->bytes = file_bytes(path, "");
    /* In one transaction, everything is read from the same commit, whatever a gateway writes meanwhile. */
    bool ok = sqlite3_exec(book->sql.db, "BEGIN", NULL, NULL, NULL) == SQLITE_OK ||
              care_fail(error, "%s: %s", path, sqlite3_errmsg(book->sql.db));
    if (ok)
        check_opened(book, path, report);
    close_reader(book);
    return ok;
}

static int stopped(void *arg)
{
    const atomic_bool *stop = arg;
    return atomic_load(stop);
}

bool kr_book_check_pages(const char *path, atomic_bool *stop, struct kr_care_error *error)
{
    struct schema_error schema;
    struct kr_book *book = reader(path, error);
    if (book == NULL)
        return false;
    sqlite3_progress_handler(book->sql.db, 10000, stopped, stop);
    bool ok = schema_check_whole(book->sql.db, &schema) || atomic_load(stop) || care_fail(error, "%s", schema.text);
    close_reader(book);
    return ok;
}

/* ---- a copy ----------------------------------------------------------------------------------------------------- */

static bool first_finding(const char *what, const struct kr_care_report *report, struct kr_care_error *error)
{
    return report->n_findings == 0 || care_fail(error, "%s: %.300s", what, report->finding[0]);
}

/* Copies the book to an existing, empty file that has the rights of a book. The copy needs no -wal file beside it. */
static bool copy_to(const char *path, const char *name, struct kr_care_error *error)
{
    struct file_error file;
    sqlite3 *to = NULL;
    struct kr_book *from = reader(path, error);
    if (from == NULL)
        return false;
    bool ok = copy_into(from->sql.db, name, &file) || care_fail(error, "%s", file.text);
    close_reader(from);
    if (!ok)
        return false;
    ok = sqlite3_open_v2(name, &to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOFOLLOW, NULL) == SQLITE_OK &&
         sqlite3_exec(to, "PRAGMA journal_mode = DELETE", NULL, NULL, NULL) == SQLITE_OK;
    if (!ok)
        care_fail(error, "%s: %s", name, sqlite3_errmsg(to));
    return (sqlite3_close(to) == SQLITE_OK || care_fail(error, "%s can't be closed", name)) && ok;
}

static bool sync_path(const char *name, int flags, struct kr_care_error *error)
{
    int fd = open(name, flags | O_CLOEXEC);
    bool ok = fd >= 0 && fsync(fd) == 0;
    int why = errno;
    if (fd >= 0)
        close(fd);
    return ok || care_fail(error, "%s: %s", name, strerror(why));
}

/* link() fails if a file of that name exists; rename() replaces it. */
static bool give_name(const char *name, const char *to, bool replace, struct kr_care_error *error)
{
    if (replace)
        return rename(name, to) == 0 || care_fail(error, "%s: %s", to, strerror(errno));
    if (link(name, to) != 0)
        return care_fail(error, errno == EEXIST ? "%s exists already; --replace replaces it" : "%s: %s", to,
                         strerror(errno));
    return unlink(name) == 0 || care_fail(error, "%s: %s", name, strerror(errno));
}

static bool settle_copy(const char *name, const char *to, bool replace, struct kr_care_error *error)
{
    static struct kr_care_report report; /* static, because it is large */
    char folder[PATH_MAX];
    snprintf(folder, sizeof folder, "%s", to);
    return kr_book_check(name, &report, error) && first_finding("the copy is not sound", &report, error) &&
           sync_path(name, O_RDONLY, error) && give_name(name, to, replace, error) &&
           sync_path(dirname(folder), O_RDONLY | O_DIRECTORY, error);
}

static bool is_the_book(const char *path, const char *to)
{
    struct stat book, there;
    return stat(path, &book) == 0 && stat(to, &there) == 0 && book.st_dev == there.st_dev &&
           book.st_ino == there.st_ino;
}

/* A book that is in use, or whose -wal file has not been read in yet, must not be replaced. */
static bool place_is_free(const char *to, struct kr_care_error *error)
{
    struct file_error file;
    struct stat st;
    char wal[PATH_MAX];
    bool in_use;
    if (lstat(to, &st) != 0)
        return errno == ENOENT || care_fail(error, "%s: %s", to, strerror(errno));
    if (!file_is_in_use(to, &in_use, &file))
        return care_fail(error, "%s", file.text);
    int n = snprintf(wal, sizeof wal, "%s-wal", to);
    if (n < 0 || n >= PATH_MAX || in_use || lstat(wal, &st) == 0)
        return care_fail(error, "%s is a book that is in use or was not closed, so it is not replaced", to);
    return true;
}

bool kr_book_backup(const char *path, const char *to, bool replace, int64_t *bytes, struct kr_care_error *error)
{
    char name[PATH_MAX];
    struct stat st;
    if (is_the_book(path, to))
        return care_fail(error, "%s is the book itself", to);
    if (!replace && lstat(to, &st) == 0)
        return care_fail(error, "%s exists already; --replace replaces it", to);
    if (!place_is_free(to, error))
        return false;
    int n = snprintf(name, sizeof name, "%s.part", to);
    if (n < 0 || n >= PATH_MAX)
        return care_fail(error, "the path is longer than %d characters", PATH_MAX - 1);
    int fd = open(name, O_RDWR | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, BOOK_RIGHTS);
    if (fd < 0)
        return care_fail(
            error,
            errno == EEXIST
                ? "%s exists: another copy is being made, or making one was interrupted; in the second case remove it"
                : "%s: %s",
            name, strerror(errno));
    close(fd);
    bool ok = copy_to(path, name, error) && settle_copy(name, to, replace, error);
    if (!ok)
        unlink(name); /* the rest of the copy is useless; the error is in *error already */
    *bytes = ok ? file_bytes(to, "") : 0;
    return ok;
}
