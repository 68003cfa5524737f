#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "inner.h"
#include "schema.h"

bool book_fail(struct kr_book *book, const char *format, ...)
{
    va_list arg;
    va_start(arg, format);
    vsnprintf(book->error, sizeof book->error, format, arg);
    va_end(arg);
    for (char *end; (end = strchr(book->error, '\n')) != NULL;)
        *end = ' '; /* SQLite's message may quote a text of several lines */
    return false;
}

bool book_fail_sql(struct kr_book *book, const char *doing)
{
    return book_fail(book, "%s: %.*s%s", doing, SCHEMA_WHY_MAX, sqlite3_errmsg(book->sql.db),
                     schema_advice(book->sql.db));
}
