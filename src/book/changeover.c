/* Reads one changeover of the history, with everything that is needed to draw it. */
#include <limits.h>
#include <stdio.h>
#include <string.h>

#include "reader.h"

/* The rows of a statement whose ?1 is the changeover's key. */
struct rows {
    struct kr_history *history;
    sqlite3_stmt *stmt;
    bool ok;
};

static struct rows rows_of(struct kr_history *history, const char *query, int64_t key)
{
    struct rows rows = {.history = history};
    rows.ok = sqlite3_prepare_v2(history->db, query, -1, &rows.stmt, NULL) == SQLITE_OK &&
              sqlite3_bind_int64(rows.stmt, 1, key) == SQLITE_OK;
    if (!rows.ok)
        history_fail(history, "changeover");
    return rows;
}

static bool next(struct rows *rows)
{
    int rc = rows->ok ? sqlite3_step(rows->stmt) : SQLITE_DONE;
    if (rc != SQLITE_ROW && rc != SQLITE_DONE)
        rows->ok = history_fail(rows->history, "changeover");
    return rc == SQLITE_ROW;
}

static bool close_rows(struct rows *rows)
{
    sqlite3_finalize(rows->stmt);
    return rows->ok;
}

/* The file may contain any number: one below low or above high ends the reading. */
static int64_t number(struct rows *rows, int column, int64_t low, int64_t high)
{
    int64_t value = sqlite3_column_int64(rows->stmt, column);
    if (value >= low && value <= high)
        return value;
    snprintf(rows->history->error, sizeof rows->history->error, "changeover: %s is %lld; %lld to %lld is allowed",
             sqlite3_column_name(rows->stmt, column), (long long)value, (long long)low, (long long)high);
    rows->ok = false;
    return low;
}

static int32_t um(struct rows *rows, int column)
{
    return (int32_t)number(rows, column, INT32_MIN, INT32_MAX);
}

static void take_text(char *to, size_t size, const struct rows *rows, int column)
{
    const char *text = (const char *)sqlite3_column_text(rows->stmt, column);
    snprintf(to, size, "%s", text != NULL ? text : "");
}

static bool read_rails(struct kr_history *history, int64_t key, struct kr_history_changeover *to)
{
    struct rows rows =
        rows_of(history, "SELECT rail, role FROM changeover_rail WHERE changeover = ?1 ORDER BY rail", key);
    while (next(&rows)) {
        int64_t rail = number(&rows, 0, 1, KR_RAILS_MAX);
        to->changeover.role[rail - 1] = (uint8_t)number(&rows, 1, KR_UPPER, KR_LOWER);
        to->n_rails = (uint16_t)rail;
    }
    return close_rows(&rows);
}

static bool read_holders(struct kr_history *history, int64_t key, struct kr_book_changeover *c)
{
    struct rows rows = rows_of(history,
                               "SELECT rail, holder, cut, target_um, position_um, known, state, body_um FROM "
                               "changeover_holder WHERE changeover = ?1 ORDER BY rail, holder",
                               key);
    while (next(&rows)) {
        int64_t rail = number(&rows, 0, 1, KR_RAILS_MAX), holder = number(&rows, 1, 1, KR_HOLDERS_MAX);
        c->n_holders[rail - 1] = (uint16_t)holder;
        c->holder[rail - 1][holder - 1] =
            (struct kr_book_holder){.cut = (uint16_t)number(&rows, 2, 0, KR_CUTS_MAX),
                                    .target_um = um(&rows, 3),
                                    .position_um = um(&rows, 4),
                                    .known = (uint8_t)number(&rows, 5, KR_UNKNOWN, KR_MEASURED),
                                    .state = (uint8_t)number(&rows, 6, KR_HOLDER_IN, KR_HOLDER_ABSENT),
                                    .body_um = um(&rows, 7)};
    }
    return close_rows(&rows);
}

static bool read_slits(struct kr_history *history, int64_t key, struct kr_book_web *web)
{
    struct rows rows = rows_of(history,
                               "SELECT slit, left_um, right_um, width_nm, measured_um FROM changeover_slit "
                               "WHERE changeover = ?1 ORDER BY slit",
                               key);
    while (next(&rows)) {
        int64_t slit = number(&rows, 0, 1, KR_SLITS_MAX);
        web->n_slits = (uint16_t)slit;
        web->slit[slit - 1] = (struct kr_book_slit){.left_um = um(&rows, 1),
                                                    .right_um = um(&rows, 2),
                                                    .width_nm = sqlite3_column_int64(rows.stmt, 3),
                                                    .measured_um = um(&rows, 4)};
    }
    return close_rows(&rows);
}

static bool read_web(struct kr_history *history, int64_t key, struct kr_history_changeover *to)
{
    struct kr_book_changeover *c = &to->changeover;
    struct rows rows = rows_of(history,
                               "SELECT left_um, right_um, trim_operator_nm, trim_drive_nm, started_by "
                               "FROM changeover_web WHERE changeover = ?1",
                               key);
    if (next(&rows)) {
        to->has_web = sqlite3_column_type(rows.stmt, 0) != SQLITE_NULL;
        c->web.edge_um[0] = um(&rows, 0);
        c->web.edge_um[1] = um(&rows, 1);
        c->web.trim_nm[0] = sqlite3_column_int64(rows.stmt, 2);
        c->web.trim_nm[1] = sqlite3_column_int64(rows.stmt, 3);
        take_text(c->started_by, sizeof c->started_by, &rows, 4);
    }
    return close_rows(&rows);
}

static bool read_record(struct kr_history *history, const char *at, int64_t *key, struct kr_history_changeover *to)
{
    struct kr_record *record = &to->changeover.record;
    struct rows rows = rows_of(history,
                               "SELECT id, ended_at, job, order_number, outcome FROM changeover WHERE station = ?1 "
                               "AND substr(ended_at, 1, length(?2)) = ?2 ORDER BY id DESC LIMIT 1",
                               history->station);
    rows.ok = rows.ok && (sqlite3_bind_text(rows.stmt, 2, at ? at : "", -1, SQLITE_STATIC) == SQLITE_OK ||
                          history_fail(history, "changeover"));
    if (next(&rows)) {
        *key = sqlite3_column_int64(rows.stmt, 0);
        take_text(to->ended_at, sizeof to->ended_at, &rows, 1);
        record->job = (uint16_t)number(&rows, 2, 0, UINT16_MAX);
        record->order_number = (uint32_t)number(&rows, 3, 0, UINT32_MAX);
        record->outcome = (uint16_t)number(&rows, 4, KR_OUTCOME_NONE, KR_OUTCOME_ABORTED);
    } else if (rows.ok) {
        snprintf(history->error, sizeof history->error, "no changeover of station %s %s%s", history->name,
                 at ? "ended at a time that begins with " : "is in it", at ? at : "");
        rows.ok = false;
    }
    return close_rows(&rows);
}

bool kr_history_changeover(struct kr_history *history, const char *at, struct kr_history_changeover *to)
{
    int64_t key = 0;
    memset(to, 0, sizeof *to);
    return read_record(history, at, &key, to) && read_rails(history, key, to) &&
           read_holders(history, key, &to->changeover) && read_slits(history, key, &to->changeover.web) &&
           read_web(history, key, to);
}
