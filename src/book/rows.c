#include "rows.h"

#include <stddef.h>

#include "seal.h"

/* Each value with its kind: 1, '1' and nothing are three. */
static void add_value(uint64_t *seal, sqlite3_value *value)
{
    int kind = sqlite3_value_type(value);
    seal_add(seal, kind);
    if (kind == SQLITE_INTEGER)
        seal_add(seal, sqlite3_value_int64(value));
    else if (kind == SQLITE_TEXT)
        seal_add_text(seal, (const char *)sqlite3_value_text(value));
    else if (kind != SQLITE_NULL)
        seal_add(seal, sqlite3_value_bytes(value)); /* no row has any; one that was damaged may */
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
    return sqlite3_create_function_v2(db, "row_seal", -1,
                                      SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_DIRECTONLY, NULL, row_seal,
                                      NULL, NULL, NULL) == SQLITE_OK;
}
