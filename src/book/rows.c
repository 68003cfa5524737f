#include "rows.h"

#include <stddef.h>

#include "seal.h"

/* Adds a value with its type, so that 1, '1' and NULL give different seals. */
static void add_value(uint64_t *seal, sqlite3_value *value)
{
    int kind = sqlite3_value_type(value);
    seal_add(seal, kind);
    if (kind == SQLITE_INTEGER)
        seal_add(seal, sqlite3_value_int64(value));
    else if (kind == SQLITE_TEXT)
        seal_add_text(seal, (const char *)sqlite3_value_text(value));
    else if (kind != SQLITE_NULL)
        seal_add(seal, sqlite3_value_bytes(value)); /* only a damaged row may have such a value */
}

static void row_seal(sqlite3_context *context, int n, sqlite3_value **value)
{
    uint64_t seal = SEAL_BEGIN;
    for (int i = 0; i < n; i++)
        add_value(&seal, value[i]);
    sqlite3_result_int64(context, (int64_t)seal);
}

bool rows_prepare(sqlite3 *db)
{
    return sqlite3_create_function_v2(db, "row_seal", -1, SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_DIRECTONLY, NULL,
                                      row_seal, NULL, NULL, NULL) == SQLITE_OK;
}

/* ---- checking -------------------------------------------------------------------------------------------------- */

static bool check_table(sqlite3 *db, const char *query, int64_t *rows, int64_t *first)
{
    sqlite3_stmt *stmt;
    if (sqlite3_prepare_v2(db, query, -1, &stmt, NULL) != SQLITE_OK)
        return false;
    bool ok = sqlite3_step(stmt) == SQLITE_ROW;
    if (ok) {
        *rows = sqlite3_column_int64(stmt, 0);
        *first = sqlite3_column_int64(stmt, 1);
    }
    sqlite3_finalize(stmt);
    return ok;
}

bool rows_check(sqlite3 *db, void (*tell)(void *arg, const char *table, int64_t rows, int64_t first), void *arg)
{
    static const struct {
        const char *name, *query;
    } tables[] = {
#define X(table, columns, key, lost) \
    {table, "SELECT count(*), min(" key ") FROM " table " WHERE " lost " OR seal <> row_seal(" columns ")"},
        SEALED_TABLES(X)
#undef X
    };
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        int64_t rows, first;
        if (!check_table(db, tables[i].query, &rows, &first))
            return false;
        if (rows > 0)
            tell(arg, tables[i].name, rows, first);
    }
    return true;
}
