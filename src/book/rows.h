/* The rows of the history, each with its own seal. Private to src/book.
 *
 * SQLite detects a damaged page by its structure, not by its values. Everything that a station starts from has one seal
 * (seal.c). The history is never read as a whole, so each row has its own seal, in the column `seal` of these tables.
 * The function row_seal() computes it in the statement that inserts the row, and whoever reads the history compares it
 * with the row. A row that was written before there were seals has none. */
#ifndef BOOK_ROWS_H
#define BOOK_ROWS_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>

#include "fields.h"

#define EDIT_COLUMNS "station, at, rail, holder, what, was, became, origin"
#define EDIT_REQUEST_COLUMNS \
    "station, at" COLUMNS_OF(EDIT_ASKED_FIELDS) ", origin" COLUMNS_OF(EDIT_RESULT_FIELDS) ", sentence"
#define VERDICT_COLUMNS          VERDICT_COLUMNS_BEFORE_3 COLUMNS_OF(VERDICT_TOLD_FIELDS)
#define VERDICT_COLUMNS_BEFORE_3 "station, at" COLUMNS_OF(VERDICT_FIELDS_BEFORE_3) ", sentence"
/* These columns stand after cause_sentence. Changeovers from before schema version 3 do not have them. */
#define SPENT_COLUMN(name, word, text) ", " #word "_ms"
#define SPENT_VALUE(name, word, text)  ", :" #word "_ms"
#define CHANGEOVER_COLUMNS \
    CHANGEOVER_COLUMNS_BEFORE_3 KR_SPENT(SPENT_COLUMN) COLUMNS_OF(RECORD_TOLD_FIELDS) ", cut_metres"
#define CHANGEOVER_COLUMNS_BEFORE_3 \
    "station" COLUMNS_OF(RECORD_NUMBER_FIELDS) ", ended_at" COLUMNS_OF(RECORD_JOB_FIELDS) \
        COLUMNS_OF(RECORD_OUTCOME_FIELDS) COLUMNS_OF(RECORD_FIGURES_FIELDS) ", cause_sentence"
#define CHANGEOVER_RAIL_COLUMNS CHANGEOVER_RAIL_COLUMNS_BEFORE_3 ", reference_um, role" COLUMNS_OF(RECORD_TIMING_FIELDS)

#define CHANGEOVER_RAIL_COLUMNS_BEFORE_3   "changeover, rail" COLUMNS_OF(RECORD_RAIL_FIELDS_BEFORE_3)
#define CHANGEOVER_HOLDER_COLUMNS          CHANGEOVER_HOLDER_COLUMNS_BEFORE_3 ", state, body_um"
#define CHANGEOVER_HOLDER_COLUMNS_BEFORE_3 "changeover, rail, holder, cut, target_um, position_um, known, deviation_um"
#define CHANGEOVER_MOVE_COLUMNS            "changeover, move, rail, holder, from_um, to_um, start_ms, end_ms"
#define CHANGEOVER_WEB_COLUMNS             "changeover, started_by, left_um, right_um, trim_operator_nm, trim_drive_nm"
#define CHANGEOVER_SLIT_COLUMNS            "changeover, slit, left_um, right_um, width_nm, measured_um"
#define ALARM_COLUMNS                      "station, at, raised, code, rail, item, value, limit_value, sentence"
#define KNIFE_COLUMNS \
    "station, at, name, kind, diameter_um, thickness_um, edge_um, place, rail, holder, metres, " \
    "earlier_metres, grinds"
#define KNIFE_EVENT_COLUMNS \
    "station, at, origin, knife, kind, rail, holder, place, metres, left_metres, edge_um, " \
    "diameter_before_um, " \
    "diameter_um, thickness_before_um, thickness_um, cause, fragments, fell_metres"

#define TEST_CUT_COLUMNS \
    "station, at, origin, order_number, rail, pairs_looked_at, slit, ordered_nm, measured_nm, proven"

#define AUDIT_COLUMNS "station, at, until, times, kind, origin, port, group_name, what, result"

/* The values of the tables that a station starts from, bound by name, in the order of their columns. */
#define EDIT_REQUEST_VALUES \
    ":station, :at" NAMES_OF(EDIT_ASKED_FIELDS) ", :origin" NAMES_OF(EDIT_RESULT_FIELDS) ", :sentence"
#define VERDICT_VALUES ":station, :at" NAMES_OF(VERDICT_FIELDS_BEFORE_3) ", :sentence" NAMES_OF(VERDICT_TOLD_FIELDS)
#define CHANGEOVER_VALUES \
    ":station" NAMES_OF(RECORD_NUMBER_FIELDS) ", :ended_at" NAMES_OF(RECORD_JOB_FIELDS) \
        NAMES_OF(RECORD_OUTCOME_FIELDS) NAMES_OF(RECORD_FIGURES_FIELDS) ", :cause_sentence" KR_SPENT(SPENT_VALUE) \
            NAMES_OF(RECORD_TOLD_FIELDS) ", :cut_metres"
#define CHANGEOVER_RAIL_VALUES \
    ":changeover, :rail" NAMES_OF(RECORD_RAIL_FIELDS_BEFORE_3) ", :reference_um, :role" NAMES_OF(RECORD_TIMING_FIELDS)

/* Each row: the table, its columns without id and seal, the column that identifies a row, and a condition that is true
 * if a row has lost this identity. A damaged description of the table may turn id into an ordinary, empty column. */
#define SEALED_TABLES(X) \
    SEALED_TABLES_2(X) \
    X("changeover_web", CHANGEOVER_WEB_COLUMNS, "changeover", "changeover IS NULL") \
    X("changeover_slit", CHANGEOVER_SLIT_COLUMNS, "changeover", "changeover IS NULL") \
    X("knife", KNIFE_COLUMNS, "rowid", "knife IS NOT rowid") \
    X("knife_event", KNIFE_EVENT_COLUMNS, "rowid", "id IS NOT rowid") \
    X("test_cut", TEST_CUT_COLUMNS, "rowid", "id IS NOT rowid") \
    X("audit", AUDIT_COLUMNS, "rowid", "id IS NOT rowid")
#define SEALED_TABLES_2(X) /* those of schema version 2 */ \
    X("edit", EDIT_COLUMNS, "rowid", "id IS NOT rowid") \
    X("edit_request", EDIT_REQUEST_COLUMNS, "rowid", "id IS NOT rowid") \
    X("verdict", VERDICT_COLUMNS, "rowid", "id IS NOT rowid") \
    X("changeover", CHANGEOVER_COLUMNS, "rowid", "id IS NOT rowid") \
    X("changeover_rail", CHANGEOVER_RAIL_COLUMNS, "changeover", "changeover IS NULL") \
    X("changeover_holder", CHANGEOVER_HOLDER_COLUMNS, "changeover", "changeover IS NULL") \
    X("changeover_move", CHANGEOVER_MOVE_COLUMNS, "changeover", "changeover IS NULL") \
    X("alarm", ALARM_COLUMNS, "rowid", "id IS NOT rowid")

/* Registers the SQL function row_seal(...) with a connection. False: sqlite3_errmsg says why. */
bool rows_prepare(sqlite3 *db);

/* Compares every row with its seal. Call rows_prepare() on the connection before. tell() is called for each table that
 * contains damaged rows, with their number and the row or changeover of the first one. False: sqlite3_errmsg says
 * why. */
bool rows_check(sqlite3 *db, void (*tell)(void *arg, const char *table, int64_t rows, int64_t first), void *arg);

#endif
