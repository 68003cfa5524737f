/* The statements of the book, prepared once, and the functions that run them. Private to src/book. */
#ifndef BOOK_SQL_H
#define BOOK_SQL_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>

#include "fields.h"
#include "rows.h"

/* The values of a row, and its seal (rows.h). */
#define P6                    "?1, ?2, ?3, ?4, ?5, ?6"
#define P8                    P6 ", ?7, ?8"
#define P9                    P8 ", ?9"
#define P10                   P9 ", ?10"
#define P13                   P9 ", ?10, ?11, ?12, ?13"
#define P18                   P13 ", ?14, ?15, ?16, ?17, ?18"
#define SEALED_VALUES(values) "VALUES(" values ", row_seal(" values "))"

/* One row for each statement: its name and its text. */
#define SQL_STATEMENTS(X) \
    X(BEGIN, "BEGIN IMMEDIATE") \
    X(COMMIT, "COMMIT") \
    X(ROLLBACK, "ROLLBACK") \
    X(COMMITS, "SELECT commits FROM confirmed") \
    X(COUNT_COMMIT, "UPDATE confirmed SET commits = commits + 1") \
    X(LAST_SESSION, "SELECT number, ended, boot, coalesce(strftime('%s', CASE WHEN ended_at <> '' THEN ended_at ELSE " \
                    "max(started_at, (SELECT coalesce(max(changed_at), '') FROM station)) END), 0) " \
                    "FROM session ORDER BY id DESC LIMIT 1") \
    X(ADD_SESSION, "INSERT INTO session(number, started_at, boot) VALUES(?, ?, ?)") \
    X(END_SESSION, "UPDATE session SET ended = ?, ended_at = ? WHERE id = (SELECT max(id) FROM session)") \
    X(FIND_STATION, "SELECT station, serial, seal FROM station WHERE name = ?") \
    X(STATION_UNIT, "SELECT serial, length_unit FROM station WHERE name = ?") \
    X(ADD_STATION, "INSERT INTO station(name, serial, changed_at) VALUES(?, 0, '')") \
    X(SET_STATION, "UPDATE station SET serial = ?, changed_at = ?, seal = ?, length_unit = ?" CHANGES_OF( \
                       STATION_FIELDS) " WHERE station = ?") \
    X(STATION, "SELECT station" COLUMNS_OF(STATION_FIELDS) " FROM station WHERE station = ?") \
    X(SIZES, "SELECT number, name FROM size WHERE station = ?") \
    X(DROP_SIZES, "DELETE FROM size WHERE station = ?") \
    X(ADD_SIZE, "INSERT INTO size VALUES(?, ?, ?)") \
    X(HOLDERS, "SELECT rail, holder" COLUMNS_OF(HOLDER_FIELDS) " FROM holder WHERE station = ?") \
    X(SET_HOLDER, "INSERT OR REPLACE INTO holder(station, rail, holder" COLUMNS_OF( \
                      HOLDER_FIELDS) ") VALUES(?, ?, ?" VALUES_OF(HOLDER_FIELDS) ")") \
    X(RAILS, "SELECT rail" COLUMNS_OF(RAIL_FIELDS) " FROM rail WHERE station = ?") \
    X(SET_RAIL, \
      "INSERT OR REPLACE INTO rail(station, rail" COLUMNS_OF(RAIL_FIELDS) ") VALUES(?, ?" VALUES_OF(RAIL_FIELDS) ")") \
    X(FRAME_POINTS, "SELECT rail, before, point, at_um, error_um FROM frame_point WHERE station = ?") \
    X(DROP_FRAME_POINTS, "DELETE FROM frame_point WHERE station = ? AND rail = ? AND before = ?") \
    X(ADD_FRAME_POINT, "INSERT INTO frame_point VALUES(?, ?, ?, ?, ?, ?)") \
    X(ADD_EDIT, "INSERT INTO edit(" EDIT_COLUMNS ", seal) " SEALED_VALUES(P8)) \
    X(LAST_EDIT_REQUEST, \
      "SELECT origin" COLUMNS_OF(EDIT_FIELDS) " FROM edit_request WHERE station = ? ORDER BY id DESC LIMIT 1") \
    X(ADD_EDIT_REQUEST, \
      "INSERT INTO edit_request(" EDIT_REQUEST_COLUMNS ", seal) " SEALED_VALUES(EDIT_REQUEST_VALUES)) \
    X(DROP_EDIT_REQUESTS, "DELETE FROM edit_request WHERE station = ?1 AND id <= " \
                          "(SELECT id FROM edit_request WHERE station = ?1 ORDER BY id DESC LIMIT 1 OFFSET ?2)") \
    X(ORDERS, "SELECT place" COLUMNS_OF(ORDER_FIELDS) " FROM orders WHERE station = ?") \
    X(SLITS, "SELECT place, slit, width_nm FROM slit WHERE station = ?") \
    X(DROP_ORDER, "DELETE FROM orders WHERE station = ? AND place = ?") \
    X(ADD_ORDER, \
      "INSERT INTO orders(station, place" COLUMNS_OF(ORDER_FIELDS) ") VALUES(?, ?" VALUES_OF(ORDER_FIELDS) ")") \
    X(ADD_SLIT, "INSERT INTO slit VALUES(?, ?, ?, ?)") \
    X(LAST_VERDICT, "SELECT id" COLUMNS_OF(VERDICT_FIELDS) " FROM verdict WHERE station = ? ORDER BY id DESC LIMIT 1") \
    X(ADD_VERDICT, "INSERT INTO verdict(" VERDICT_COLUMNS ", seal) " SEALED_VALUES(VERDICT_VALUES)) \
    X(DROP_VERDICTS, "DELETE FROM verdict WHERE station = ?1 AND id <= " \
                     "(SELECT id FROM verdict WHERE station = ?1 ORDER BY id DESC LIMIT 1 OFFSET ?2)") \
    X(LAST_CHANGEOVER, \
      "SELECT id" COLUMNS_OF(RECORD_FIELDS) " FROM changeover WHERE station = ? ORDER BY id DESC LIMIT 1") \
    X(LAST_CHANGEOVER_END, "SELECT CAST(strftime('%s', ended_at) AS INTEGER) FROM changeover WHERE station = ? " \
                           "ORDER BY id DESC LIMIT 1") \
    X(CHANGEOVER_RAILS, "SELECT rail" COLUMNS_OF(RECORD_RAIL_FIELDS) " FROM changeover_rail WHERE changeover = ?") \
    X(ADD_CHANGEOVER, "INSERT INTO changeover(" CHANGEOVER_COLUMNS ", seal) " SEALED_VALUES(CHANGEOVER_VALUES)) \
    X(ADD_CHANGEOVER_RAIL, \
      "INSERT INTO changeover_rail(" CHANGEOVER_RAIL_COLUMNS ", seal) " SEALED_VALUES(CHANGEOVER_RAIL_VALUES)) \
    X(ADD_CHANGEOVER_HOLDER, "INSERT INTO changeover_holder(" CHANGEOVER_HOLDER_COLUMNS ", seal) " SEALED_VALUES(P10)) \
    X(ADD_CHANGEOVER_MOVE, "INSERT INTO changeover_move(" CHANGEOVER_MOVE_COLUMNS ", seal) " SEALED_VALUES(P8)) \
    X(ADD_CHANGEOVER_WEB, "INSERT INTO changeover_web(" CHANGEOVER_WEB_COLUMNS ", seal) " SEALED_VALUES(P6)) \
    X(ADD_CHANGEOVER_SLIT, "INSERT INTO changeover_slit(" CHANGEOVER_SLIT_COLUMNS ", seal) " SEALED_VALUES(P6)) \
    X(ADD_ALARM, "INSERT INTO alarm(" ALARM_COLUMNS ", seal) " SEALED_VALUES(P9)) \
    X(FIND_KNIFE, "SELECT knife, place, metres, edge_um, kind FROM knife WHERE station = ? AND name = ?") \
    X(KNIFE_DIMENSIONS, "SELECT diameter_um, thickness_um FROM knife WHERE knife = ?") \
    X(ADD_KNIFE, "INSERT INTO knife(" KNIFE_COLUMNS ", seal) " SEALED_VALUES(P13)) \
    X(SET_KNIFE, "UPDATE knife SET at = ?1, diameter_um = ?2, thickness_um = ?3, edge_um = CASE ?4 WHEN 0 " \
                 "THEN edge_um ELSE ?5 END, place = ?6, rail = ?7, holder = ?8, metres = ?9, " \
                 "earlier_metres = earlier_metres + ?10, grinds = grinds + ?11 WHERE knife = ?12") \
    X(SEAL_KNIFE, "UPDATE knife SET seal = row_seal(" KNIFE_COLUMNS ") WHERE knife = ?") \
    X(ADD_KNIFE_EVENT, "INSERT INTO knife_event(" KNIFE_EVENT_COLUMNS ", seal) " SEALED_VALUES(P18)) \
    X(ADD_TEST_CUT, "INSERT INTO test_cut(" TEST_CUT_COLUMNS ", seal) " SEALED_VALUES(P10)) \
    X(LAST_AUDIT, "SELECT coalesce(max(id), 0) FROM audit") \
    X(SET_AUDIT, "INSERT OR REPLACE INTO audit(" AUDIT_COLUMNS ", seal, id) VALUES(" P10 ", row_seal(" P10 "), ?11)")

enum sql_statement {
#define X(name, text) SQL_##name,
    SQL_STATEMENTS(X)
#undef X
        SQL_COUNT
};

struct sql {
    sqlite3 *db;
    sqlite3_stmt *stmt[SQL_COUNT];
};

/* False: sqlite3_errmsg(sql->db) says why. */
bool sql_prepare(struct sql *sql);
void sql_finalize(struct sql *sql);

/* A statement whose values are being bound, from left to right. Texts must stay valid until the statement was run. The
 * first error is kept in rc, and every later call does nothing. */
struct bound {
    sqlite3_stmt *stmt;
    int n, rc;
};
struct bound sql_bind(struct sql *sql, enum sql_statement statement);
void bind_number(struct bound *bound, int64_t number);
void bind_text(struct bound *bound, const char *text);
void bind_null(struct bound *bound);

/* Runs a statement that returns no rows. */
bool sql_run(struct bound *bound);

/* Steps to the next row: SQLITE_ROW, SQLITE_DONE or an error. The statement is reset after the last row and on an
 * error; a caller that stops earlier must reset it. */
int sql_next(struct bound *bound);
int64_t sql_column(const struct bound *bound, int column);
bool sql_column_is_null(const struct bound *bound, int column);

#endif
