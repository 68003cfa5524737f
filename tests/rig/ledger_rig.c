#include "ledger_rig.h"

#include <check.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- the daemon's part ----------------------------------------------------------------------------------------- */

static void open_book(struct ledger_rig *l)
{
    char error[KR_BOOK_TEXT_MAX];
    l->book = kr_book_open(l->path, error, sizeof error);
    ck_assert_msg(l->book != NULL, "%s", error);
    ck_assert_int_ne(kr_book_load(l->book, l->rig->config.name, &l->station, &l->rig->book), KR_LOAD_FAILED);
    kr_book_all_loaded(l->book);
}

static void store(struct rig *rig, const struct kr_durable *stored)
{
    struct ledger_rig *l = rig->of_ledger;
    l->entry.durable = *stored;
    l->entry.now_utc_ms = l->utc_ms++;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        l->entry.n_holders[r] = rig->config.geometry.rail[r].n_holders;
    bool is_stored = kr_book_commit(l->book, l->station, &l->entry);
    ck_assert_msg(is_stored || l->may_fail, "%s", kr_book_error(l->book));
    l->failed = l->failed || !is_stored;
    l->entry.n_alarms = l->entry.n_changeovers = 0;
}

static struct kr_knife_answer answer(struct rig *rig, const char *name)
{
    struct ledger_rig *l = rig->of_ledger;
    struct kr_knife_answer answer = {.failed = 1};
    if (!l->unreadable)
        (void)kr_book_knife(l->book, l->station, name, &answer);
    return answer;
}

void ledger_rig_begin(struct ledger_rig *l, struct rig *rig)
{
    memset(l, 0, sizeof *l);
    l->rig = rig;
    l->utc_ms = INT64_C(1767225600000); /* 2026-01-01 */
    snprintf(l->folder, sizeof l->folder, "%s/kr_ledger_XXXXXX", access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    ck_assert_ptr_nonnull(mkdtemp(l->folder));
    snprintf(l->path, sizeof l->path, "%s/book.db", l->folder);
    rig->of_ledger = l;
    rig->ledger = answer;
    rig->on_stored = store;
    open_book(l);
}

void ledger_rig_close(struct ledger_rig *l)
{
    kr_book_close(l->book);
    l->book = NULL;
}

void ledger_rig_open(struct ledger_rig *l)
{
    memset(&l->rig->book, 0, sizeof l->rig->book);
    l->failed = false;
    open_book(l);
    rig_restart(l->rig);
}

void ledger_rig_restart(struct ledger_rig *l)
{
    ledger_rig_close(l);
    ledger_rig_open(l);
}

void ledger_rig_end(struct ledger_rig *l)
{
    static const char *const suffix[] = {"", "-wal", "-shm", ".lock"};
    char name[128];
    kr_book_close(l->book);
    for (size_t i = 0; i < sizeof suffix / sizeof suffix[0]; i++) {
        snprintf(name, sizeof name, "%s%s", l->path, suffix[i]);
        unlink(name); /* some of them may not exist any more */
    }
    ck_assert_int_eq(rmdir(l->folder), 0);
}

/* ---- what the file says ---------------------------------------------------------------------------------------- */

static void first_row(const struct ledger_rig *l, const char *query, char *row, size_t size)
{
    sqlite3 *db;
    sqlite3_stmt *stmt;
    size_t n = 0;
    ck_assert_int_eq(sqlite3_open_v2(l->path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    ck_assert_msg(sqlite3_prepare_v2(db, query, -1, &stmt, NULL) == SQLITE_OK, "%s", sqlite3_errmsg(db));
    ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
    row[0] = '\0';
    for (int i = 0; i < sqlite3_column_count(stmt) && n < size; i++) {
        const unsigned char *text = sqlite3_column_text(stmt, i);
        n += (size_t)snprintf(row + n, size - n, "%s%s", i > 0 ? "|" : "", text ? (const char *)text : "");
    }
    sqlite3_finalize(stmt);
    sqlite3_close(db);
}

int64_t ledger_number(const struct ledger_rig *l, const char *query)
{
    char row[256];
    first_row(l, query, row, sizeof row);
    return strtoll(row, NULL, 10);
}

void ledger_expect(const struct ledger_rig *l, const char *query, const char *format, ...)
{
    char row[256], expected[256];
    va_list values;
    va_start(values, format);
    vsnprintf(expected, sizeof expected, format, values);
    va_end(values);
    first_row(l, query, row, sizeof row);
    ck_assert_msg(strcmp(row, expected) == 0, "%s: '%s', not '%s'", query, row, expected);
}
