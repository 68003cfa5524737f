/* Rows of the history, each with a seal of its own. Private to src/book.
 *
 * SQLite finds a damaged page by its structure, not by its values; what a station starts from has one seal (seal.c),
 * and the history, which is never read as a whole, has one a row: column seal of each of these tables. It is made by
 * the function row_seal() in the statement that inserts the row, and held against the row by whoever reads the
 * history. A row that was there before there were seals has none. */
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
/* behind cause_sentence: what a changeover of before schema version 3 has none of */
#define SPENT_COLUMN(name, word, text) ", " #word "_ms"
#define SPENT_VALUE(name, word, text)  ", :" #word "_ms"
#define CHANGEOVER_COLUMNS \
    CHANGEOVER_COLUMNS_BEFORE_3 KR_SPENT(SPENT_COLUMN) COLUMNS_OF(RECORD_TOLD_FIELDS) ", cut_metres"
#define CHANGEOVER_COLUMNS_BEFORE_3 \
    "station" COLUMNS_OF(RECORD_NUMBER_FIELDS) ", ended_at" COLUMNS_OF(RECORD_JOB_FIELDS) \
        COLUMNS_OF(RECORD_OUTCOME_FIELDS) COLUMNS_OF(RECORD_FIGURES_FIELDS) ", cause_sentence"
#define CHANGEOVER_RAIL_COLUMNS \
    CHANGEOVER_RAIL_COLUMNS_BEFORE_3 ", reference_um, role" COLUMNS_OF(RECORD_TIMING_FIELDS)
#define CHANGEOVER_RAIL_COLUMNS_BEFORE_3 "changeover, rail" COLUMNS_OF(RECORD_RAIL_FIELDS_BEFORE_3)
#define CHANGEOVER_HOLDER_COLUMNS        CHANGEOVER_HOLDER_COLUMNS_BEFORE_3 ", state, body_um"
#define CHANGEOVER_HOLDER_COLUMNS_BEFORE_3 \
    "changeover, rail, holder, cut, target_um, position_um, known, deviation_um"
#define CHANGEOVER_MOVE_COLUMNS "changeover, move, rail, holder, from_um, to_um, start_ms, end_ms"
#define CHANGEOVER_WEB_COLUMNS  "changeover, started_by, left_um, right_um, trim_operator_nm, trim_drive_nm"
#define CHANGEOVER_SLIT_COLUMNS "changeover, slit, left_um, right_um, width_nm, measured_um"
#define ALARM_COLUMNS           "station, at, raised, code, rail, item, value, limit_value, sentence"
#define KNIFE_COLUMNS \
    "station, at, name, kind, diameter_um, thickness_um, edge_um, place, rail, holder, metres, " \
    "earlier_metres, " \
    "grinds"
#define KNIFE_EVENT_COLUMNS \
    "station, at, origin, knife, kind, rail, holder, place, metres, left_metres, edge_um, " \
    "diameter_before_um, " \
    "diameter_um, thickness_before_um, thickness_um, cause, fragments, fell_metres"

#define AUDIT_COLUMNS "station, at, until, times, kind, origin, port, group_name, what, result"

/* The values of those that hold what a station starts from, by name and in the order of their columns. */
#define EDIT_REQUEST_VALUES \
    ":station, :at" NAMES_OF(EDIT_ASKED_FIELDS) ", :origin" NAMES_OF(EDIT_RESULT_FIELDS) ", :sentence"
#define VERDICT_VALUES \
    ":station, :at" NAMES_OF(VERDICT_FIELDS_BEFORE_3) ", :sentence" NAMES_OF(VERDICT_TOLD_FIELDS)
#define CHANGEOVER_VALUES \
    ":station" NAMES_OF(RECORD_NUMBER_FIELDS) ", :ended_at" NAMES_OF(RECORD_JOB_FIELDS) \
        NAMES_OF(RECORD_OUTCOME_FIELDS) \
            NAMES_OF(RECORD_FIGURES_FIELDS) ", :cause_sentence" KR_SPENT(SPENT_VALUE) \
                NAMES_OF(RECORD_TOLD_FIELDS) ", :cut_metres"
#define CHANGEOVER_RAIL_VALUES \
    ":changeover, :rail" NAMES_OF(RECORD_RAIL_FIELDS_BEFORE_3) ", :reference_um, :role" NAMES_OF( \
        RECORD_TIMING_FIELDS)

/* Table, its columns without id and seal, what tells one row from another, and when a row has lost that: a damaged
 * description of the table may make id a column like others, which holds nothing. */
#define SEALED_TABLES(X) \
    SEALED_TABLES_2(X) \
    X("changeover_web", CHANGEOVER_WEB_COLUMNS, "changeover", "changeover IS NULL") \
    X("changeover_slit", CHANGEOVER_SLIT_COLUMNS, "changeover", "changeover IS NULL") \
    X("knife", KNIFE_COLUMNS, "rowid", "knife IS NOT rowid") \
    X("knife_event", KNIFE_EVENT_COLUMNS, "rowid", "id IS NOT rowid") \
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

/* Makes row_seal(...) known to a connection. False: sqlite3_errmsg says why. */
bool rows_prepare(sqlite3 *db);

/* Holds every row against its seal, on a connection that rows_prepare has seen: tell gets each table in which some are
 * not what was stored, how many, and in which row or changeover the first is. False: sqlite3_errmsg says why. */
bool rows_check(sqlite3 *db, void (*tell)(void *arg, const char *table, int64_t rows, int64_t first),
                void *arg);

#endif
