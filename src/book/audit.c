/* Writes the audit: rows of the history, in separate transactions, about what people and programs did at the
 * gateway. */
#include "inner.h"

bool kr_book_audit_next(struct kr_book *book, int64_t *id)
{
    struct bound b = sql_bind(&book->sql, SQL_LAST_AUDIT);
    int rc = sql_next(&b);
    if (rc != SQLITE_ROW)
        return book_fail_sql(book, "audit");
    *id = sql_column(&b, 0) + 1;
    sqlite3_reset(b.stmt);
    return true;
}

bool book_add_audit(struct kr_book *book, const struct kr_audit_row *row)
{
    char at[KR_BOOK_TIME_MAX], until[KR_BOOK_TIME_MAX];
    struct bound b = sql_bind(&book->sql, SQL_SET_AUDIT);
    kr_book_time_text(row->at_utc_ms, at);
    kr_book_time_text(row->until_utc_ms, until);
    if (row->book_station == KR_BOOK_AUDIT_GATEWAY)
        bind_null(&b);
    else
        bind_number(&b, book->station[row->book_station].id);
    bind_text(&b, at);
    bind_text(&b, until);
    bind_number(&b, row->times);
    bind_number(&b, (int64_t)row->event.kind);
    bind_text(&b, row->event.who);
    bind_number(&b, row->event.port);
    bind_text(&b, row->event.group);
    bind_text(&b, row->event.what);
    bind_text(&b, row->event.result);
    bind_number(&b, row->id);
    return sql_run(&b) || book_fail_sql(book, "audit");
}

bool kr_book_audit(struct kr_book *book, const struct kr_book_audit *audit)
{
    if (!book_begin(book))
        return book_take_back(book);
    for (uint16_t i = 0; i < audit->n; i++)
        if (!book_add_audit(book, &audit->row[i]))
            return book_take_back(book);
    return book_confirm(book);
}
