#include "sql.h"

#include <stddef.h>

static const char *const text_of[SQL_COUNT] = {
#define X(name, text) text,
    SQL_STATEMENTS(X)
#undef X
};

bool sql_prepare(struct sql *sql)
{
    for (int i = 0; i < SQL_COUNT; i++)
        if (sqlite3_prepare_v3(sql->db, text_of[i], -1, SQLITE_PREPARE_PERSISTENT, &sql->stmt[i], NULL) != SQLITE_OK)
            return false;
    return true;
}

void sql_finalize(struct sql *sql)
{
    for (int i = 0; i < SQL_COUNT; i++) {
        sqlite3_finalize(sql->stmt[i]);
        sql->stmt[i] = NULL;
    }
}

struct bound sql_bind(struct sql *sql, enum sql_statement statement)
{
    sqlite3_stmt *stmt = sql->stmt[statement];
    sqlite3_reset(stmt); /* its result is the error of the last run, which was reported then */
    return (struct bound){.stmt = stmt, .n = 0, .rc = SQLITE_OK};
}

void bind_number(struct bound *bound, int64_t number)
{
    if (bound->rc == SQLITE_OK)
        bound->rc = sqlite3_bind_int64(bound->stmt, ++bound->n, number);
}

void bind_text(struct bound *bound, const char *text)
{
    if (bound->rc == SQLITE_OK)
        bound->rc = sqlite3_bind_text(bound->stmt, ++bound->n, text, -1, SQLITE_STATIC);
}

void bind_null(struct bound *bound)
{
    if (bound->rc == SQLITE_OK)
        bound->rc = sqlite3_bind_null(bound->stmt, ++bound->n);
}

bool sql_run(struct bound *bound)
{
    int rc = sql_next(bound);
    if (rc == SQLITE_ROW)
        sqlite3_reset(bound->stmt);
    return rc == SQLITE_DONE;
}

int sql_next(struct bound *bound)
{
    if (bound->rc == SQLITE_OK || bound->rc == SQLITE_ROW)
        bound->rc = sqlite3_step(bound->stmt);
    /* A failed COMMIT that is only reset may keep its locks, so the statement is reset at every end. */
    if (bound->rc != SQLITE_ROW)
        sqlite3_reset(bound->stmt);
    return bound->rc;
}

int64_t sql_column(const struct bound *bound, int column)
{
    return sqlite3_column_int64(bound->stmt, column);
}

bool sql_column_is_null(const struct bound *bound, int column)
{
    return sqlite3_column_type(bound->stmt, column) == SQLITE_NULL;
}
