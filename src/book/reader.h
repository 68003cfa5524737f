/* A book that is open for reading its history. Private to src/book. */
#ifndef BOOK_READER_H
#define BOOK_READER_H

#include <sqlite3.h>

#include "kniferail/history.h"

struct kr_history {
    sqlite3 *db;
    int64_t station;
    char name[KR_NAME_MAX];
    int length_unit; /* -1: the book doesn't say */
    char error[KR_BOOK_TEXT_MAX];
    void (*step)(void *arg); /* called now and then during a long query; may be NULL */
    void *step_arg;
};

/* Writes to history->error what was attempted, and why SQLite refused it. Returns false. */
bool history_fail(struct kr_history *history, const char *doing);

#endif
