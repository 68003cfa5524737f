/* Deletes old history. Rows are deleted by their time, and the parts of a changeover together with it. The newest
 * verdict, maintenance request and changeover of each station are kept, because a station starts from them. A person
 * deletes everything in one transaction. A gateway, which writes to the book meanwhile, deletes a few rows at a
 * time. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "care.h"
#include "inner.h"

/* Each row: a table, its column with the number of a row in the table `of`, the time of that row, and which rows stay
 * whatever their age. The parts of a changeover are deleted before it. few: the rows of `of` in a small transaction; a
 * changeover has up to a thousand parts. */
#define NEWEST_OF(table) "id NOT IN (SELECT max(id) FROM " table " GROUP BY station)"
#define CHANGEOVER       "changeover", "ended_at", NEWEST_OF("changeover")
static const struct {
    const char *table, *key, *of, *at, *condition;
    int few;
} prunable[] = {
    {"edit", "id", "edit", "at", "1", 200},
    {"edit_request", "id", "edit_request", "at", NEWEST_OF("edit_request"), 200},
    {"verdict", "id", "verdict", "at", NEWEST_OF("verdict"), 200},
    {"alarm", "id", "alarm", "at", "1", 200},
    {"audit", "id", "audit", "at", "1", 200},
    {"test_cut", "id", "test_cut", "at", "1", 200},
    {"session", "id", "session", "started_at", "id <> (SELECT max(id) FROM session)", 200},
    {"changeover_rail", "changeover", CHANGEOVER, 4},
    {"changeover_holder", "changeover", CHANGEOVER, 4},
    {"changeover_move", "changeover", CHANGEOVER, 4},
    {"changeover_web", "changeover", CHANGEOVER, 4},
    {"changeover_slit", "changeover", CHANGEOVER, 4},
    {"changeover", "id", CHANGEOVER, 4},
};
#define N_PRUNABLE (sizeof prunable / sizeof prunable[0])

struct pruning {
    struct kr_book *book;
    struct kr_care_pruned *pruned;
    struct kr_care_error *error;
    /* Deletes only the few oldest rows of each table, in the sequence of storing; otherwise all. */
    bool by_few;
};

static bool fail(const struct pruning *p)
{
    return care_fail(p->error, "pruning: %s", sqlite3_errmsg(p->book->sql.db));
}

static int most_rows(const struct pruning *p, size_t i)
{
    return p->by_few ? prunable[i].few : -1; /* for SQLite, -1 means all */
}

/* Reads the first value of a query, in which ?1 may be a time. to: the value as text, or NULL. */
static bool ask(const struct pruning *p, const char *query, const char *time, int64_t *number, char *to)
{
    sqlite3_stmt *stmt = NULL;
    bool ok = sqlite3_prepare_v2(p->book->sql.db, query, -1, &stmt, NULL) == SQLITE_OK &&
              (time == NULL || sqlite3_bind_text(stmt, 1, time, -1, SQLITE_STATIC) == SQLITE_OK);
    int rc = ok ? sqlite3_step(stmt) : SQLITE_ERROR;
    if (rc == SQLITE_ROW && to != NULL) {
        const char *text = (const char *)sqlite3_column_text(stmt, 0);
        snprintf(to, KR_BOOK_TIME_MAX, "%s", text != NULL ? text : "");
    }
    if (rc == SQLITE_ROW && number != NULL)
        *number = sqlite3_column_int64(stmt, 0);
    sqlite3_finalize(stmt);
    return rc == SQLITE_ROW || rc == SQLITE_DONE || fail(p);
}

static bool used_bytes(const struct pruning *p, int64_t *bytes)
{
    int64_t pages = 0, unused = 0, size = 0;
    bool ok = ask(p, "PRAGMA page_count", NULL, &pages, NULL) && ask(p, "PRAGMA freelist_count", NULL, &unused, NULL) &&
              ask(p, "PRAGMA page_size", NULL, &size, NULL);
    *bytes = (pages - unused) * size;
    return ok;
}

static void count(struct kr_care_pruned *pruned, const char *table, int64_t rows)
{
    for (int t = 0; t < KR_CARE_TABLES; t++)
        if (strcmp(kr_care_table_name(t), table) == 0)
            pruned->rows[t] += rows;
    if (strcmp(table, "session") == 0)
        pruned->sessions += rows;
}

static bool remove_before(const struct pruning *p, const char *time, int64_t *removed)
{
    char query[512];
    *removed = 0;
    for (size_t i = 0; i < N_PRUNABLE; i++) {
        snprintf(query, sizeof query,
                 "DELETE FROM %s WHERE %s IN (SELECT id FROM (SELECT id, %s AS time FROM %s WHERE %s ORDER BY id "
                 "LIMIT %d) WHERE time < ?1)",
                 prunable[i].table, prunable[i].key, prunable[i].at, prunable[i].of, prunable[i].condition,
                 most_rows(p, i));
        if (!ask(p, query, time, NULL, NULL))
            return false;
        int64_t rows = sqlite3_changes64(p->book->sql.db);
        count(p->pruned, prunable[i].table, rows);
        *removed += rows;
    }
    if (strcmp(time, p->pruned->until) > 0)
        snprintf(p->pruned->until, sizeof p->pruned->until, "%s", time);
    return true;
}

/* Writes the day of the oldest row that may be deleted; "": there is none. */
static bool oldest_day(const struct pruning *p, char day[KR_BOOK_TIME_MAX])
{
    char query[512], found[KR_BOOK_TIME_MAX];
    day[0] = '\0';
    for (size_t i = 0; i < N_PRUNABLE; i++) {
        snprintf(query, sizeof query,
                 "SELECT substr(min(time), 1, 10) FROM (SELECT %s AS time FROM %s WHERE %s ORDER BY id LIMIT %d)",
                 prunable[i].at, prunable[i].of, prunable[i].condition, most_rows(p, i));
        if (!ask(p, query, NULL, NULL, found))
            return false;
        if (found[0] != '\0' && (day[0] == '\0' || strcmp(found, day) < 0))
            snprintf(day, KR_BOOK_TIME_MAX, "%s", found);
    }
    return true;
}

/* If the book is too large, deletes the oldest day; with by_few, a part of it. "T24:00" is the end of a day (ISO 8601),
 * and as text it sorts after all times of that day, too. */
static bool remove_day(const struct pruning *p, int64_t most_bytes, int64_t *removed)
{
    int64_t bytes = 0;
    char day[KR_BOOK_TIME_MAX] = "";
    *removed = 0;
    if (!used_bytes(p, &bytes) || (bytes > most_bytes && !oldest_day(p, day)))
        return false;
    p->pruned->too_large = bytes > most_bytes && day[0] == '\0';
    if (bytes <= most_bytes || day[0] == '\0')
        return true;
    memcpy(day + 10, "T24:00", sizeof "T24:00");
    return remove_before(p, day, removed);
}

/* If deleting a day deletes no row, the same day would be tried for ever. */
static bool shrink_to(const struct pruning *p, int64_t most_bytes)
{
    int64_t removed;
    do
        if (!remove_day(p, most_bytes, &removed))
            return false;
    while (removed > 0);
    return true;
}

static bool remove_rows(const struct pruning *p, const struct kr_care_limits *limits)
{
    int64_t removed;
    return (limits->before == NULL || remove_before(p, limits->before, &removed)) &&
           (limits->most_bytes == 0 || shrink_to(p, limits->most_bytes));
}

/* The rows are deleted already; it does no harm if the file stays as large as it was. */
static bool give_back(const struct pruning *p)
{
    sqlite3 *db = p->book->sql.db;
    p->pruned->not_shrunk = sqlite3_exec(db, "VACUUM", NULL, NULL, NULL) != SQLITE_OK ||
                            sqlite3_exec(db, "PRAGMA wal_checkpoint(TRUNCATE)", NULL, NULL, NULL) != SQLITE_OK;
    if (p->pruned->not_shrunk)
        care_fail(p->error, "the file keeps its size: %s", sqlite3_errmsg(db));
    return used_bytes(p, &p->pruned->bytes_after);
}

static bool prune_opened(const struct pruning *p, const struct kr_care_limits *limits, bool go_ahead)
{
    if (!used_bytes(p, &p->pruned->bytes_before))
        return false;
    if (!book_begin(p->book))
        return care_fail(p->error, "%s", kr_book_error(p->book));
    if (!remove_rows(p, limits) || !go_ahead) {
        bool counted = p->error->text[0] == '\0';
        book_take_back(p->book);
        return counted;
    }
    if (!book_confirm(p->book))
        return care_fail(p->error, "%s", kr_book_error(p->book));
    return give_back(p);
}

static bool is_sound(const char *path, struct kr_care_error *error)
{
    static struct kr_care_report report; /* static, because it is large */
    if (!kr_book_check(path, &report, error))
        return false;
    if (report.in_use)
        return care_fail(error, "a gateway uses this book: end the gateway first, because it would have to "
                                "wait for the disk meanwhile");
    return report.n_findings == 0 ||
           care_fail(error, "nothing is deleted from a book that is not sound: %.300s", report.finding[0]);
}

/* ---- by a gateway ------------------------------------------------------------------------------------------------ */

static bool remove_few(const struct pruning *p, const struct kr_care_limits *limits, int64_t *removed)
{
    *removed = 0;
    if (limits->before != NULL && !remove_before(p, limits->before, removed))
        return false;
    return *removed > 0 || limits->most_bytes == 0 || remove_day(p, limits->most_bytes, removed);
}

bool kr_book_prune_few(struct kr_book *book, const struct kr_care_limits *limits, struct kr_care_pruned *pruned,
                       bool *more, struct kr_care_error *error)
{
    struct kr_care_pruned before = *pruned;
    struct pruning p = {.book = book, .pruned = pruned, .error = error, .by_few = true};
    int64_t removed = 0;
    *more = false;
    bool ok = book_begin(book) || care_fail(error, "%s", kr_book_error(book));
    ok = ok && remove_few(&p, limits, &removed);
    *more = ok && removed > 0;
    if (*more) {
        ok = *more = book_confirm(book) || care_fail(error, "%s", kr_book_error(book));
    } else {
        book_take_back(book); /* nothing was changed, so nothing has to be written to the disk */
    }
    if (!ok)
        *pruned = before;
    return ok;
}

/* ---- by a person ----------------------------------------------------------------------------------------------- */

bool kr_book_prune(const char *path, const struct kr_care_limits *limits, bool go_ahead, struct kr_care_pruned *pruned,
                   struct kr_care_error *error)
{
    char why[KR_BOOK_TEXT_MAX];
    memset(pruned, 0, sizeof *pruned);
    error->text[0] = '\0';
    if (!is_sound(path, error))
        return false;
    struct kr_book *book = kr_book_open(path, why, sizeof why);
    if (book == NULL)
        return care_fail(error, "%s", why);
    struct pruning p = {.book = book, .pruned = pruned, .error = error};
    bool ok = prune_opened(&p, limits, go_ahead);
    kr_book_close(book);
    return ok;
}
