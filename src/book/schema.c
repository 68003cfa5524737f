#include "schema.h"

#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <string.h>

#include "rows.h"
#include "seal.h"
#include "versions.h"

/* PRAGMA application_id distinguishes a book from any other SQLite database. It is the letters "knfr". */
#define APPLICATION_ID 0x6b6e6672

/* Writes why the file can't be used, as one line for the person who has to repair it. Always returns false. */
static bool refuse(struct schema_error *error, const char *format, ...)
{
    va_list arg;
    va_start(arg, format);
    vsnprintf(error->text, sizeof error->text, format, arg);
    va_end(arg);
    for (char *end; (end = strchr(error->text, '\n')) != NULL;)
        *end = ' '; /* a message of the integrity check may have two lines */
    return false;
}

const char *schema_advice(sqlite3 *db)
{
    int rc = sqlite3_errcode(db) & 0xFF;
    return rc == SQLITE_CORRUPT || rc == SQLITE_NOTADB ? SCHEMA_ADVICE : "";
}

static bool refuse_sql(sqlite3 *db, struct schema_error *error)
{
    return refuse(error, "%.*s%s", SCHEMA_WHY_MAX, sqlite3_errmsg(db), schema_advice(db));
}

static bool number_of(sqlite3 *db, const char *query, int64_t *number)
{
    sqlite3_stmt *stmt;
    if (sqlite3_prepare_v2(db, query, -1, &stmt, NULL) != SQLITE_OK)
        return false;
    bool ok = sqlite3_step(stmt) == SQLITE_ROW;
    if (ok)
        *number = sqlite3_column_int64(stmt, 0);
    sqlite3_finalize(stmt);
    return ok;
}

/* Each message of the integrity check begins with the name of the database, of which there is only one. */
static const char *finding(const unsigned char *text)
{
    static const char prefix[] = "*** in database main ***\n";
    const char *words = (const char *)text;
    return strncmp(words, prefix, sizeof prefix - 1) == 0 ? words + sizeof prefix - 1 : words;
}

/* Steps to the first row of a pragma that reports faults: NULL if it reports none. False: the pragma failed. */
static bool first_finding(sqlite3 *db, const char *pragma, sqlite3_stmt **stmt, bool *found)
{
    *found = false;
    if (sqlite3_prepare_v2(db, pragma, -1, stmt, NULL) != SQLITE_OK)
        return false;
    int rc = sqlite3_step(*stmt);
    *found = rc == SQLITE_ROW;
    return rc == SQLITE_ROW || rc == SQLITE_DONE;
}

static bool check_pages(sqlite3 *db, const char *pragma, struct schema_error *error)
{
    sqlite3_stmt *stmt = NULL;
    bool found, ok = first_finding(db, pragma, &stmt, &found) && found;
    if (!ok)
        refuse_sql(db, error);
    else if (strcmp((const char *)sqlite3_column_text(stmt, 0), "ok") != 0)
        ok = refuse(error, "damaged: %.*s%s", SCHEMA_WHY_MAX, finding(sqlite3_column_text(stmt, 0)), SCHEMA_ADVICE);
    sqlite3_finalize(stmt);
    return ok;
}

static bool check_references(sqlite3 *db, const char *pragma, struct schema_error *error)
{
    sqlite3_stmt *stmt = NULL;
    bool found, ok = first_finding(db, pragma, &stmt, &found) || refuse_sql(db, error);
    if (ok && found)
        ok = refuse(error, "damaged: a row of table %s refers to a missing row of table %s%s",
                    (const char *)sqlite3_column_text(stmt, 0), (const char *)sqlite3_column_text(stmt, 2),
                    SCHEMA_ADVICE);
    sqlite3_finalize(stmt);
    return ok;
}

bool schema_check_whole(sqlite3 *db, struct schema_error *error)
{
    return check_pages(db, "PRAGMA integrity_check(1)", error) &&
           check_references(db, "PRAGMA foreign_key_check", error);
}

/* A file that is neither empty nor a book belongs to another program, and is left alone. */
static bool check_identity(sqlite3 *db, int64_t *version, struct schema_error *error)
{
    int64_t id, tables;
    if (!number_of(db, "PRAGMA application_id", &id) || !number_of(db, "PRAGMA user_version", version) ||
        !number_of(db, "SELECT count(*) FROM sqlite_schema", &tables))
        return refuse_sql(db, error);
    if (id == 0 && *version == 0 && tables == 0)
        return true;
    if (id != APPLICATION_ID)
        return refuse(error, "it is a database, but not a book (application_id %lld, not %d)", (long long)id,
                      APPLICATION_ID);
    if (*version < 1 || *version > SCHEMA_VERSION)
        return refuse(error, "its schema version is %lld; this program knows 1 to %d", (long long)*version,
                      SCHEMA_VERSION);
    return true;
}

static bool run(sqlite3 *db, const char *sql, struct schema_error *error)
{
    return sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK || refuse_sql(db, error);
}

static bool run_all(sqlite3 *db, const char *const *statement, struct schema_error *error)
{
    for (; *statement != NULL; statement++)
        if (!run(db, *statement, error))
            return false;
    return true;
}

static bool migrate(sqlite3 *db, int64_t version, struct schema_error *error)
{
    char identity[96];
    snprintf(identity, sizeof identity, "PRAGMA application_id = %d; PRAGMA user_version = %d", APPLICATION_ID,
             SCHEMA_VERSION);
    for (; version < SCHEMA_VERSION; version++)
        if (!run_all(db, schema_migration[version], error))
            return false;
    return run(db, identity, error) && check_references(db, "PRAGMA foreign_key_check", error);
}

bool schema_bring_up(sqlite3 *db, int64_t version, struct schema_error *error)
{
    if (version == SCHEMA_VERSION)
        return true;
    if (run(db, "BEGIN IMMEDIATE", error) && migrate(db, version, error) && run(db, "COMMIT", error))
        return true;
    if (!sqlite3_get_autocommit(db))
        (void)sqlite3_exec(db, "ROLLBACK", NULL, NULL,
                           NULL); /* its result does not matter, because the error is reported already */
    return false;
}

/* ---- an open version ------------------------------------------------------------------------------------------- */

/* Tells whether the book has a table or an index exactly as this program makes it, word for word. */
static bool has_same(sqlite3 *db, const char *name, const char *sql)
{
    sqlite3_stmt *stmt;
    bool same = false;
    if (sqlite3_prepare_v2(db, "SELECT count(*) FROM sqlite_schema WHERE name = ?1 AND sql = ?2", -1, &stmt, NULL) ==
            SQLITE_OK &&
        sqlite3_bind_text(stmt, 1, name, -1, SQLITE_STATIC) == SQLITE_OK &&
        sqlite3_bind_text(stmt, 2, sql, -1, SQLITE_STATIC) == SQLITE_OK && sqlite3_step(stmt) == SQLITE_ROW)
        same = sqlite3_column_int(stmt, 0) == 1;
    sqlite3_finalize(stmt);
    return same;
}

static bool is_as_made_now(sqlite3 *db, sqlite3 *made, struct schema_error *error)
{
    sqlite3_stmt *stmt;
    if (sqlite3_prepare_v2(made, "SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL", -1, &stmt, NULL) !=
        SQLITE_OK)
        return refuse_sql(made, error);
    bool same = true;
    while (same && sqlite3_step(stmt) == SQLITE_ROW) {
        const char *name = (const char *)sqlite3_column_text(stmt, 0);
        same = has_same(db, name, (const char *)sqlite3_column_text(stmt, 1)) ||
               refuse(error,
                      "a trial program wrote it when schema version %d was not finished (%s differs): put "
                      "the copy of the version before back, or begin a new book",
                      SCHEMA_VERSION, name);
    }
    if (sqlite3_finalize(stmt) != SQLITE_OK)
        return refuse_sql(made, error);
    return same;
}

/* Returns a checksum over the text of all tables and indexes; 0 if they can't be read. */
static uint64_t sum_of_tables(sqlite3 *db)
{
    sqlite3_stmt *stmt;
    uint64_t sum = SEAL_BEGIN;
    if (sqlite3_prepare_v2(db, "SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name", -1, &stmt,
                           NULL) != SQLITE_OK)
        return 0;
    while (sqlite3_step(stmt) == SQLITE_ROW) {
        seal_add_text(&sum, (const char *)sqlite3_column_text(stmt, 0));
        seal_add_text(&sum, (const char *)sqlite3_column_text(stmt, 1));
    }
    return sqlite3_finalize(stmt) == SQLITE_OK ? sum : 0;
}

static bool is_made_alike(sqlite3 *db, struct schema_error *error)
{
    sqlite3 *made = NULL;
    bool ok = (sqlite3_open_v2(":memory:", &made, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL) == SQLITE_OK &&
               rows_prepare(made)) ||
              refuse_sql(made, error);
    ok = ok && schema_bring_up(made, 0, error) && is_as_made_now(db, made, error);
    sqlite3_close(made);
    return ok;
}

/* Tells whether the book has the present state of this version, and not an earlier one from while the version was not
 * published. Making the tables for this comparison takes most of the time of opening a book, so a process does it only
 * once for all books with the same tables. */
static bool check_open_version(sqlite3 *db, struct schema_error *error)
{
    static _Atomic uint64_t found_right; /* checksum of the tables of a book that was found right */
    uint64_t sum = sum_of_tables(db);
    if (sum != 0 && atomic_load(&found_right) == sum)
        return true;
    if (!is_made_alike(db, error))
        return false;
    atomic_store(&found_right, sum);
    return true;
}

/* ---- whether it can be used ------------------------------------------------------------------------------------ */

static bool is_history(const char *table)
{
    static const char *const sealed[] = {
#define X(table, columns, key, lost) table,
        SEALED_TABLES(X)
#undef X
    };
    for (size_t i = 0; i < sizeof sealed / sizeof sealed[0]; i++)
        if (strcmp(table, sealed[i]) == 0)
            return true;
    return false;
}

static bool check_table(sqlite3 *db, const char *table, struct schema_error *error)
{
    char pages[96], references[96];
    if (is_history(table))
        return true;
    snprintf(pages, sizeof pages, "PRAGMA integrity_check('%.64s')", table);
    snprintf(references, sizeof references, "PRAGMA foreign_key_check('%.64s')", table);
    return check_pages(db, pages, error) && check_references(db, references, error);
}

/* If two tables began on the same page, they would overwrite each other. */
static bool check_roots(sqlite3 *db, struct schema_error *error)
{
    int64_t shared;
    if (!number_of(db, "SELECT count(rootpage) - count(DISTINCT rootpage) FROM sqlite_schema WHERE rootpage > 0",
                   &shared))
        return refuse_sql(db, error);
    return shared == 0 ||
           refuse(error, "damaged: %lld tables begin on a page of another one%s", (long long)shared, SCHEMA_ADVICE);
}

static bool bytes_of(sqlite3 *db, int which, sqlite3_int64 *size)
{
    sqlite3_file *file = NULL;
    *size = 0;
    return sqlite3_file_control(db, "main", which, &file) == SQLITE_OK &&
           (file == NULL || file->pMethods == NULL || file->pMethods->xFileSize(file, size) == SQLITE_OK);
}

/* If the last page is cut off, SQLite treats it as a whole page and reports an error only when it reads this page,
 * which may be long after a start. While the -wal file has content, the page may be incomplete in the file: the -wal
 * file then contains the whole page. */
static bool check_last_page(sqlite3 *db, struct schema_error *error)
{
    sqlite3_int64 size, wal_size;
    int64_t page;
    if (!number_of(db, "PRAGMA page_size", &page))
        return refuse_sql(db, error);
    if (!bytes_of(db, SQLITE_FCNTL_FILE_POINTER, &size) || !bytes_of(db, SQLITE_FCNTL_JOURNAL_POINTER, &wal_size))
        return refuse(error, "the size of its files can't be read");
    return wal_size > 0 || size % page == 0 ||
           refuse(error, "damaged: its last page is cut off (%lld bytes; a page has %lld)%s", (long long)size,
                  (long long)page, SCHEMA_ADVICE);
}

/* Reads and checks everything that a station starts from, so that a damaged page is found now and not in the middle of
 * an order. Checks the free pages, too, which will be written to (sqlite_schema stands for them). Does not check the
 * history, because it may contain years. The newest rows of the history, from which a station starts, too, are covered
 * by the station's seal. */
bool schema_check_start(sqlite3 *db, struct schema_error *error)
{
    sqlite3_stmt *stmt;
    if (sqlite3_prepare_v2(db, "SELECT name FROM sqlite_schema WHERE type = 'table'", -1, &stmt, NULL) != SQLITE_OK)
        return refuse_sql(db, error);
    bool ok = check_last_page(db, error) && check_roots(db, error) &&
              check_pages(db, "PRAGMA integrity_check('sqlite_schema')", error);
    int rc = SQLITE_DONE;
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW)
        ok = check_table(db, (const char *)sqlite3_column_text(stmt, 0), error);
    ok = ok && (rc == SQLITE_DONE || refuse_sql(db, error));
    sqlite3_finalize(stmt);
    return ok && (!SCHEMA_NEWEST_IS_OPEN || check_open_version(db, error));
}

bool schema_recognise(sqlite3 *db, struct schema_error *error)
{
    int64_t version = 0;
    if (!check_identity(db, &version, error))
        return false;
    if (version == 0)
        return refuse(error, "it is empty");
    if (version < SCHEMA_VERSION)
        return refuse(error, "its schema version is %lld; a start of the gateway brings it up to %d",
                      (long long)version, SCHEMA_VERSION);
    return true;
}

bool schema_look(sqlite3 *db, int64_t *version, struct schema_error *error)
{
    *version = 0;
    if (!check_identity(db, version, error))
        return false;
    if (*version == 0)
        return true;
    return *version < SCHEMA_VERSION ? schema_check_whole(db, error) : schema_check_start(db, error);
}

bool schema_is_older(int64_t version)
{
    return version > 0 && version < SCHEMA_VERSION;
}

int schema_newest(void)
{
    return SCHEMA_VERSION;
}
