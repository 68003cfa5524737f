#include "kniferail/history.h"

#include <ctype.h>
#include <errno.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "inner.h"
#include "rows.h"
#include "schema.h"

struct kr_history {
    sqlite3 *db;
    int64_t station;
    char name[KR_NAME_MAX];
    char error[KR_BOOK_TEXT_MAX];
};

/* ?1 the station, ?2 and ?3 the period. A time belongs to it if its own beginning, as long as the bound, does. */
#define PERIOD(at) " AND substr(" at ", 1, length(?2)) >= ?2 AND substr(" at ", 1, length(?3)) <= ?3 "

/* What only some kinds of maintenance request name: for the others there is nothing in the block that they came in. */
#define OF_KINDS(which, column, name) "CASE WHEN kind " which " THEN " column " END AS " name ", "
#define NAMED_BY_KIND \
    OF_KINDS("NOT IN (10, 11, 12, 23)", "rail", "rail") \
    OF_KINDS("< 10 OR kind IN (18, 19, 20)", "nullif(holder, 0)", "holder") \
    OF_KINDS("IN (3, 4)", "class", "size") \
    OF_KINDS("IN (1, 2, 3)", "edge_offset_um", "edge_offset_um") \
    OF_KINDS("IN (9, 13, 14)", "position_um", "position_um")

/* What maps numbers to names is made of the same lists that the register map is documented from. */
#define X(name, number, text) " WHEN " #number " THEN '" #name "'"
static const char *const queries[] = {
    [KR_HISTORY_CHANGEOVERS] = "SELECT c.ended_at, lower(CASE c.job" KR_JOBS(
        X) " END) AS job, c.order_number, o.meaning AS outcome, "
           "c.planned_ms, c.actual_ms, c.total_ms, "
           "(SELECT sum(moves) FROM changeover_rail r WHERE r.changeover = c.id) AS moves, "
           "(SELECT sum(corrections) FROM changeover_rail r WHERE r.changeover = c.id) AS corrections, "
           "(SELECT sum(retries) FROM changeover_rail r WHERE r.changeover = c.id) AS docking_retries, "
           "(SELECT worst_um FROM changeover_rail r WHERE r.changeover = c.id ORDER BY abs(worst_um) DESC "
           "LIMIT 1) "
           "AS worst_um, c.worst_pair_um, c.worst_slit_um, c.cause_sentence AS cause "
           "FROM changeover c JOIN outcome o ON o.number = c.outcome "
           "WHERE c.station = ?1" PERIOD("c.ended_at") "ORDER BY c.id",
    [KR_HISTORY_EDITS] = "SELECT at, origin, lower(CASE kind" KR_EDIT_KINDS(
        X) " END) AS kind, " NAMED_BY_KIND "code, sentence AS verdict "
           "FROM edit_request WHERE station = ?1" PERIOD("at") "ORDER BY id",
    [KR_HISTORY_ALARMS] =
        "SELECT at, CASE raised WHEN 1 THEN 'raised' ELSE 'gone' END AS event, code, rail, item, value, "
        "limit_value AS 'limit', sentence "
        "FROM alarm WHERE station = ?1" PERIOD("at") "ORDER BY id",
    [KR_HISTORY_HOLDERS] = "SELECT h.rail, h.holder, h.class AS size, s.meaning AS state, h.edge_offset_um, "
                           "h.metres, h.dock_retries "
                           "FROM holder h JOIN holder_state s ON s.number = h.state "
                           "WHERE h.station = ?1 AND ?2 IS ?2 AND ?3 IS ?3 ORDER BY h.rail, h.holder",
    [KR_HISTORY_SIZES] =
        "SELECT number, name FROM size WHERE station = ?1 AND ?2 IS ?2 AND ?3 IS ?3 ORDER BY number",
    /* since_regrind: whether the knife is the one that cuts now. A holder that no move brought to its place was not
     * placed anew: its error is the one of the time before, and counted again it would make the spread seem smaller. */
    [KR_HISTORY_ERRORS] =
        "SELECT h.rail, h.holder, c.ended_at, julianday(c.ended_at) AS day, h.deviation_um AS error_um, "
        "c.ended_at > coalesce((SELECT max(e.at) FROM edit_request e WHERE e.station = c.station AND e.code "
        "= 0 "
        "AND e.kind IN (2, 3) AND e.rail = h.rail AND e.holder = h.holder), '') AS since_regrind "
        "FROM changeover_holder h JOIN changeover c ON c.id = h.changeover "
        "WHERE c.station = ?1 AND c.job = 1 AND h.deviation_um IS NOT NULL AND EXISTS (SELECT 1 FROM "
        "changeover_move m WHERE m.changeover = c.id AND m.rail = h.rail AND m.holder = h.holder)" PERIOD(
            "c.ended_at") "ORDER BY h.rail, h.holder, c.id",
};
#undef X
_Static_assert(KR_EDIT_OFFSET == 1 && KR_EDIT_REGRIND == 2 && KR_EDIT_SWAP == 3 && KR_EDIT_SIZE == 4 &&
                   KR_EDIT_INSERT == 9 && KR_EDIT_TEST_CUT == 10 && KR_EDIT_APPLY == 12 &&
                   KR_EDIT_DATUM == 13 && KR_EDIT_SHIFT == 14 && KR_EDIT_BENCH == 18 &&
                   KR_EDIT_FEELER == 19 && KR_EDIT_TRIAL == 20 && KR_EDIT_LAST == 23 &&
                   KR_JOB_CHANGEOVER == 1,
               "numbers in the queries");

static bool fail(struct kr_history *history, const char *doing)
{
    snprintf(history->error, sizeof history->error, "%s: %s", doing, sqlite3_errmsg(history->db));
    return false;
}

const char *kr_history_error(const struct kr_history *history)
{
    return history->error;
}

const char *kr_history_station(const struct kr_history *history)
{
    return history->name;
}

/* ---- opening --------------------------------------------------------------------------------------------------- */

static bool is_book(struct kr_history *history)
{
    struct schema_error error;
    if (schema_recognise(history->db, &error))
        return true;
    snprintf(history->error, sizeof history->error, "%s", error.text);
    return false;
}

static bool keep_station(struct kr_history *history, sqlite3_stmt *stmt, const char *name)
{
    int rc = sqlite3_step(stmt);
    if (rc != SQLITE_ROW && rc != SQLITE_DONE)
        return fail(history, "stations");
    if (rc == SQLITE_DONE) {
        snprintf(history->error, sizeof history->error, "there is no station %s%sin it", name ? name : "",
                 name ? " " : "");
        return false;
    }
    history->station = sqlite3_column_int64(stmt, 0);
    snprintf(history->name, sizeof history->name, "%s", (const char *)sqlite3_column_text(stmt, 1));
    if (sqlite3_step(stmt) == SQLITE_DONE)
        return true;
    snprintf(history->error, sizeof history->error, "it holds several stations: which one?");
    return false;
}

static bool find_station(struct kr_history *history, const char *name)
{
    sqlite3_stmt *stmt;
    const char *query = "SELECT station, name FROM station WHERE ?1 IS NULL OR name = ?1 ORDER BY station";
    if (sqlite3_prepare_v2(history->db, query, -1, &stmt, NULL) != SQLITE_OK)
        return fail(history, "stations");
    bool ok = name == NULL || sqlite3_bind_text(stmt, 1, name, -1, SQLITE_STATIC) == SQLITE_OK ||
              fail(history, "stations");
    ok = ok && keep_station(history, stmt, name);
    sqlite3_finalize(stmt);
    return ok;
}

/* In WAL mode a reader needs the -shm file, which the last gateway to close the book takes away, and which only who may
 * write in the folder can make. Without a -wal file the book stands still and needs neither: then it is opened as a file
 * that nobody changes. */
static bool open_at_rest(const char *path, sqlite3 **db)
{
    char name[PATH_MAX + 32];
    int n = snprintf(name, sizeof name, "%s-wal", path);
    if (n < 0 || (size_t)n >= sizeof name || access(name, F_OK) == 0)
        return false;
    char *escaped = sqlite3_mprintf("file:%s?immutable=1", path);
    bool plain = strpbrk(path, "?#%") == NULL; /* they mean something in a URI */
    sqlite3_close(*db);
    *db = NULL;
    int rc = escaped != NULL && plain
                 ? sqlite3_open_v2(escaped, db,
                                   SQLITE_OPEN_READONLY | SQLITE_OPEN_FULLMUTEX | SQLITE_OPEN_URI, NULL)
                 : SQLITE_CANTOPEN;
    sqlite3_free(escaped);
    return rc == SQLITE_OK;
}

bool history_open_file(const char *path, sqlite3 **db, char *error, size_t error_size)
{
    int rc = sqlite3_open_v2(path, db, SQLITE_OPEN_READONLY | SQLITE_OPEN_FULLMUTEX, NULL);
    if (rc == SQLITE_OK)
        rc = sqlite3_exec(*db, "SELECT count(*) FROM sqlite_schema", NULL, NULL, NULL);
    bool no_index = rc == SQLITE_CANTOPEN || rc == SQLITE_READONLY;
    if (no_index && access(path, R_OK) == 0 && open_at_rest(path, db))
        return true;
    /* What else is wrong with the file, who reads it says in its own words. */
    if (!no_index && rc != SQLITE_PERM && rc != SQLITE_NOMEM)
        return true;
    snprintf(error, error_size, "%s: %s", path,
             access(path, R_OK) != 0 ? strerror(errno) : sqlite3_errstr(rc));
    return false;
}

static bool open_file(struct kr_history *history, const char *path)
{
    if (!history_open_file(path, &history->db, history->error, sizeof history->error))
        return false;
    sqlite3_busy_timeout(history->db, 2000); /* a commit under way is soon over */
    return is_book(history) && (rows_prepare(history->db) || fail(history, "preparing"));
}

struct kr_history *kr_history_open(const char *path, const char *station, char *error, size_t error_size)
{
    struct kr_history *history = calloc(1, sizeof *history);
    if (history == NULL) {
        snprintf(error, error_size, "out of memory");
        return NULL;
    }
    if (open_file(history, path) && find_station(history, station))
        return history;
    snprintf(error, error_size, "%s", history->error);
    kr_history_close(history);
    return NULL;
}

void kr_history_close(struct kr_history *history)
{
    if (history == NULL)
        return;
    sqlite3_close(history->db);
    free(history);
}

/* ---- reading --------------------------------------------------------------------------------------------------- */

bool kr_history_time_is_good(const char *text)
{
    static const char form[] = "0000-00-00T00:00:00.000";
    size_t n = strlen(text);
    for (size_t i = 0; i < n; i++)
        if (i >= sizeof form - 1 || (form[i] == '0' ? !isdigit((unsigned char)text[i]) : text[i] != form[i]))
            return false;
    return n == 4 || n == 7 || n == 10 || n == 13 || n == 16 || n == 19 || n == 23;
}

static struct kr_cell cell_of(sqlite3_stmt *stmt, int column)
{
    switch (sqlite3_column_type(stmt, column)) {
    case SQLITE_INTEGER:
        return (struct kr_cell){.kind = KR_CELL_NUMBER, .number = sqlite3_column_int64(stmt, column)};
    case SQLITE_FLOAT:
        return (struct kr_cell){.kind = KR_CELL_REAL, .real = sqlite3_column_double(stmt, column)};
    case SQLITE_NULL: return (struct kr_cell){.kind = KR_CELL_NONE};
    default:
        return (struct kr_cell){.kind = KR_CELL_TEXT,
                                .text = (const char *)sqlite3_column_text(stmt, column)};
    }
}

static bool step_rows(struct kr_history *history, sqlite3_stmt *stmt,
                      bool (*each)(void *arg, const struct kr_history_row *row), void *arg)
{
    struct kr_history_row row = {.is_heading = true, .n = sqlite3_column_count(stmt)};
    int rc;
    for (int i = 0; i < row.n; i++)
        row.name[i] = sqlite3_column_name(stmt, i);
    if (!each(arg, &row))
        return true;
    row.is_heading = false;
    while ((rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        for (int i = 0; i < row.n; i++)
            row.cell[i] = cell_of(stmt, i);
        if (!each(arg, &row))
            return true;
    }
    return rc == SQLITE_DONE || fail(history, "reading");
}

static bool bind_period(sqlite3_stmt *stmt, int64_t station, const char *from, const char *to)
{
    return sqlite3_bind_int64(stmt, 1, station) == SQLITE_OK &&
           sqlite3_bind_text(stmt, 2, from ? from : "", -1, SQLITE_STATIC) == SQLITE_OK &&
           sqlite3_bind_text(stmt, 3, to ? to : "", -1, SQLITE_STATIC) == SQLITE_OK;
}

bool kr_history_read(struct kr_history *history, enum kr_history_table table, const char *from,
                     const char *to, bool (*each)(void *arg, const struct kr_history_row *row), void *arg)
{
    sqlite3_stmt *stmt;
    if (sqlite3_prepare_v2(history->db, queries[table], -1, &stmt, NULL) != SQLITE_OK)
        return fail(history, "preparing");
    bool ok = bind_period(stmt, history->station, from, to) ? step_rows(history, stmt, each, arg)
                                                            : fail(history, "preparing");
    sqlite3_finalize(stmt);
    return ok;
}

/* ---- checking -------------------------------------------------------------------------------------------------- */

struct telling {
    void (*tell)(void *arg, const char *table, int64_t rows, int64_t first);
    void *arg;
    bool told;
    const char *numberless; /* a table with a row that has lost its number; NULL: none */
};

static void pass_on(void *arg, const char *table, int64_t rows, int64_t first)
{
    struct telling *telling = arg;
    if (first <= 0) { /* numbers count from 1 */
        telling->numberless = table;
        return;
    }
    telling->tell(telling->arg, table, rows, first);
    telling->told = true;
}

/* A start of the gateway does not read the history's pages: rows that are lost with a page show by its structure alone.
 * Rows that are not what was stored say more than what the structure says of them. */
bool kr_history_check(struct kr_history *history,
                      void (*tell)(void *arg, const char *table, int64_t rows, int64_t first), void *arg)
{
    struct schema_error error;
    struct telling telling = {tell, arg, false, NULL};
    if (!rows_check(history->db, pass_on, &telling))
        return fail(history, "checking");
    if (telling.numberless != NULL) {
        snprintf(history->error, sizeof history->error, "damaged: a row of table %s has lost its number%s",
                 telling.numberless, SCHEMA_ADVICE);
        return false;
    }
    if (telling.told || schema_check_whole(history->db, &error))
        return true;
    snprintf(history->error, sizeof history->error, "%s", error.text);
    return false;
}
