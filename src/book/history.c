#include "kniferail/history.h"

#include <ctype.h>
#include <errno.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "inner.h"
#include "kniferail/alarm.h"
#include "reader.h"
#include "rows.h"
#include "schema.h"

/* The parameters of every query: ?1 the station, ?2 and ?3 the period, ?4 the rail, ?5 the holder (0: all), ?6 the
 * knife's name (NULL: all). A time belongs to the period if its beginning does, cut to the length of the bound. Every
 * query mentions the first five, because they are always bound. */
#define PERIOD(at)        " AND substr(" at ", 1, length(?2)) >= ?2 AND substr(" at ", 1, length(?3)) <= ?3 "
#define OF_RAIL(rail)     "(?4 = 0 OR " rail " = ?4)"
#define OF_HOLDER(holder) "(?5 = 0 OR " holder " = ?5)"
#define OF_ALL            " AND ?2 IS ?2 AND ?3 IS ?3 "
#define NO_HOLDER         " AND ?5 IS ?5 "

/* Where each knife was, and when: from the event that brought it to a holder until the next event that took it off. The
 * times of both events are included, because the requests for them have these times. Events that were imported with a
 * list of knives from another book do not concern the holders here. */
#define HAPPENED_HERE(event) "(" event ".kind = 0 OR " event ".origin <> '" LIST_ORIGIN "')"
#define STAYS \
    "WITH stay(name, rail, holder, since, until) AS MATERIALIZED (SELECT k.name, e.rail, e.holder, e.at, " \
    "(SELECT n.at FROM knife_event n WHERE n.knife = e.knife AND n.id > e.id AND n.place <> 1 ORDER BY " \
    "n.id LIMIT 1) FROM knife_event e JOIN knife k ON k.knife = e.knife WHERE e.station = ?1 AND (?6 IS " \
    "NULL OR k.name = ?6) AND e.place = 1 AND " HAPPENED_HERE( \
        "e") " AND (SELECT b.place FROM knife_event b WHERE b.knife = e.knife AND b.id < e.id " \
             "AND " HAPPENED_HERE("b") " ORDER BY b.id DESC LIMIT 1) IS NOT 1) "
#define DURING_STAY(at) at " >= stay.since AND " at " <= coalesce(stay.until, " at ")"
#define OF_KNIFE(rail, holder, at) \
    "(?6 IS NULL OR EXISTS (SELECT 1 FROM stay WHERE stay.rail = " rail " AND stay.holder = " holder \
    " AND " DURING_STAY(at) "))"
#define SUM_OF_RAIL(field) \
    "(SELECT sum(" field ") FROM changeover_rail r WHERE r.changeover = c.id AND " OF_RAIL("r.rail") ")"

/* Columns that only some kinds of maintenance request use; for the others, the block of the request has no value. */
#define OF_KINDS(which, column, name) "CASE WHEN kind " which " THEN " column " END AS " name ", "
#define NAME_RAIL                     "NOT IN (10, 11, 12, 23)"
#define NAME_HOLDER                   "< 10 OR kind IN (18, 19, 20) OR (kind > 24 AND kind NOT IN (32, 33))"
#define NAMED_BY_KIND \
    OF_KINDS(NAME_RAIL, "nullif(rail, 0)", "rail") \
    OF_KINDS(NAME_HOLDER, "nullif(holder, 0)", "holder") \
    OF_KINDS("IN (3, 4)", "class", "size") \
    OF_KINDS("IN (1, 2, 3, 25, 27)", "edge_offset_um", "edge_offset_um") \
    OF_KINDS("IN (9, 13, 14)", "position_um", "position_um")

/* A request concerns the rail or holder that it names; if it names only a rail, every holder of that rail; and
 * everything that it has changed: a change has the same time as the request for it. */
#define REQUEST_IS_ABOUT \
    " AND (?4 = 0 OR (kind " NAME_RAIL " AND rail = ?4 AND (?5 = 0 OR CASE WHEN kind " NAME_HOLDER \
    " THEN holder ELSE 0 END IN (0, ?5))) OR " \
    "EXISTS (SELECT 1 FROM edit e WHERE e.station = q.station AND e.at = q.at AND e.origin = q.origin " \
    "AND e.rail = ?4 AND " OF_HOLDER("e.holder") "))"

/* The same for a knife, on whichever holder it was then, and for events of the knife while it was on none. */
#define REQUEST_IS_ABOUT_KNIFE \
    " AND (?6 IS NULL OR EXISTS (SELECT 1 FROM stay WHERE " DURING_STAY( \
        "q.at") " AND kind " NAME_RAIL " AND q.rail = stay.rail AND CASE WHEN kind " NAME_HOLDER \
                " THEN q.holder ELSE 0 END IN (0, stay.holder)) OR " \
                "EXISTS (SELECT 1 FROM edit e JOIN stay ON stay.rail = e.rail AND stay.holder = e.holder " \
                "WHERE e.station = q.station " \
                "AND e.at = q.at AND e.origin = q.origin AND " DURING_STAY( \
                    "e.at") ") OR " \
                            "EXISTS (SELECT 1 FROM knife_event e JOIN knife k ON k.knife = e.knife WHERE " \
                            "e.station = q.station AND k.name = ?6 " \
                            "AND e.at = q.at AND e.origin = q.origin AND e.kind = q.kind)) "

/* The alarms whose item is a holder. */
#define ITEM_IS_NONE(number)
#define ITEM_IS_SLIT(number)
#define ITEM_IS_CUT(number)
#define ITEM_IS_EDGE(number)
#define ITEM_IS_RAIL(number)
#define ITEM_IS_PARAMETER(number)
#define ITEM_IS_REFERENCE(number)
#define ITEM_IS_HOLDER(number)                               ", " #number
#define X(name, number, item, value, reaction, text, remedy) ITEM_IS_##item(number)
#define NAMES_HOLDER                                         "code IN (0" KR_ALARMS(X) ")"
#define ALARMS_OF_PART \
    "FROM alarm WHERE station = ?1" PERIOD("at") " AND " OF_RAIL( \
        "rail") " AND (?5 = 0 OR (item = ?5 AND " NAMES_HOLDER ")) AND (?6 IS NULL OR " NAMES_HOLDER \
                ") AND " OF_KNIFE("alarm.rail", "alarm.item", "alarm.at") " ORDER BY id"
#define MS_OF(at) "CAST(round((julianday(" at ") - 2440587.5) * 86400000) AS INTEGER)" /* in ms since 1970 */
static const char alarm_query[] =
    STAYS "SELECT at, CASE raised WHEN 1 THEN 'raised' ELSE 'gone' END AS event, code, rail, item, value, "
          "limit_value AS 'limit', sentence " ALARMS_OF_PART;
static const char alarm_times_query[] =
    STAYS "SELECT " MS_OF("at") " AS at_ms, raised, code, rail, item " ALARMS_OF_PART;
#undef X

#define WORD(name, number, word, text) " WHEN " #number " THEN '" word "'"
#define WORDS(list)                    list(WORD)

/* The cause of an event of the ledger; 28 is a break. */
#define CAUSE_OF_E     "CASE e.kind WHEN 28 THEN CASE e.cause" WORDS(KR_KNIFE_CAUSES) " END END"
#define FRAGMENTS_OF_E "CASE e.kind WHEN 28 THEN CASE e.fragments" WORDS(KR_KNIFE_FRAGMENTS) " END END"
#define AT_IN_PERIOD   PERIOD("e.at")
#define IS_ABOUT_E     OF_RAIL("e.rail") " AND " OF_HOLDER("e.holder")

#define X(name, number, text) " WHEN " #number " THEN '" #name "'"
#define EVENT_OF_E            "lower(CASE e.kind WHEN 0 THEN 'list'" KR_EDIT_KINDS(X) " END)"
static const char knife_event_query[] =
    "SELECT e.at, e.origin, k.name, " EVENT_OF_E " AS event, "
    "nullif(e.rail, 0) AS rail, nullif(e.holder, 0) AS holder, p.meaning AS place, e.metres, "
    "nullif(e.left_metres, 0) AS left_metres, e.edge_um, nullif(e.diameter_before_um, 0) AS "
    "diameter_before_um, "
    "nullif(e.diameter_um, 0) AS diameter_um, nullif(e.thickness_before_um, 0) AS thickness_before_um, "
    "nullif(e.thickness_um, 0) AS thickness_um, " CAUSE_OF_E " AS cause, " FRAGMENTS_OF_E " AS fragments, "
    "e.fell_metres FROM knife_event e LEFT JOIN knife k ON k.knife = e.knife "
    "JOIN knife_place p ON p.number = e.place WHERE e.station = ?1" AT_IN_PERIOD "AND " IS_ABOUT_E " ORDER BY e.id";
#undef X

/* Each knife, followed by its events (knife_list.h): 2 and 27 are grinds, 28 a break. */
#define ON_HOLDER "LEFT JOIN holder h ON h.station = k.station AND h.knife = k.knife AND k.place = 1 "
#define OF_LIST   "WHERE k.station = ?1" OF_ALL "AND " OF_RAIL("k.rail") " AND " OF_HOLDER("k.holder") " "
/* For each order that was run until the next changeover: the metres that it has cut, and the holders that cut it. */
#define RUN_IN_PERIOD PERIOD("ended_at")
static const char order_metres_query[] =
    "WITH o AS (SELECT id, ended_at, lead(cut_metres) OVER (ORDER BY id) - cut_metres AS metres FROM "
    "changeover "
    "WHERE station = ?1 AND job = 1" RUN_IN_PERIOD "AND ?4 IS ?4" NO_HOLDER ") "
    "SELECT o.id AS changeover, o.metres, h.rail, h.holder FROM o JOIN changeover_holder h "
    "ON h.changeover = o.id WHERE o.metres > 0 AND h.cut <> 0 ORDER BY o.id, h.rail, h.holder";
static const char knife_list_query[] =
    "SELECT record, name, kind, place, rail, holder, diameter_um, thickness_um, edge_um, metres, "
    "earlier_metres, grinds, at, diameter_before_um, thickness_before_um, cause, fragments, fell_metres FROM "
    "("
    "SELECT 'knife' AS record, k.name, k.kind, p.meaning AS place, nullif(k.rail, 0) AS rail, "
    "nullif(k.holder, 0) AS holder, nullif(k.diameter_um, 0) AS diameter_um, "
    "nullif(k.thickness_um, 0) AS thickness_um, coalesce(h.edge_offset_um, k.edge_um) AS edge_um, "
    "coalesce(h.metres, k.metres) AS metres, k.earlier_metres, k.grinds, k.at, NULL AS diameter_before_um, "
    "NULL AS thickness_before_um, NULL AS cause, NULL AS fragments, NULL AS fell_metres, 0 AS event "
    "FROM knife k JOIN knife_place p ON p.number = k.place " ON_HOLDER OF_LIST
    "UNION ALL SELECT CASE e.kind WHEN 28 THEN 'break' ELSE 'grind' END, k.name, NULL, NULL, "
    "nullif(e.rail, 0), nullif(e.holder, 0), nullif(e.diameter_um, 0), nullif(e.thickness_um, 0), e.edge_um, "
    "e.metres, NULL, NULL, e.at, CASE WHEN e.kind <> 28 THEN nullif(e.diameter_before_um, 0) END, "
    "CASE WHEN e.kind <> 28 THEN nullif(e.thickness_before_um, 0) END, " CAUSE_OF_E ", " FRAGMENTS_OF_E
    ", e.fell_metres, e.id "
    "FROM knife_event e JOIN knife k ON k.knife = e.knife " OF_LIST "AND e.kind IN (2, 27, 28)) "
    "ORDER BY name, event";

/* The words for numbers come from the same lists as in the document of the register map. */
#define X(name, number, text) " WHEN " #number " THEN '" #name "'"
#define JOB_OF_C              "lower(CASE c.job" KR_JOBS(X) " END) AS job, "
#define MOVES                 SUM_OF_RAIL("moves") " AS moves, "
#define CORRECTIONS           SUM_OF_RAIL("corrections") " AS corrections, "
#define RETRIES               SUM_OF_RAIL("retries") " AS docking_retries, "
#define ENDED_IN_PERIOD       PERIOD("c.ended_at")
#define ENDED_MS              MS_OF("c.ended_at") " AS ended_ms"
#define SPENT_COLUMNS         KR_SPENT(SPENT_COLUMN)
#define WORST \
    "(SELECT worst_um FROM changeover_rail r WHERE r.changeover = c.id AND " OF_RAIL( \
        "r.rail") " ORDER BY " \
                  "abs(worst_um) DESC LIMIT 1) AS worst_um, "
/* Tells whether a strip has proven an edge, which is written as "1/3 ", or one of a rail, "1/". */
#define HAS_PROVEN(which) "instr(' ' || proven || ' ', ' ' || " which ") > 0"
#define OF_ASKED          "?4 || '/' || CASE ?5 WHEN 0 THEN '' ELSE ?5 || ' ' END"
#define OF_STAY           "stay.rail || '/' || stay.holder || ' '"
#define STRIP_IS_ABOUT    "(?4 = 0 OR (?5 = 0 AND rail = ?4) OR " HAS_PROVEN(OF_ASKED) ") "
#define IN_STAY           "EXISTS (SELECT 1 FROM stay WHERE " HAS_PROVEN(OF_STAY) " AND " DURING_STAY("test_cut.at") ")"
#define AT_OF_STRIP       PERIOD("at")
static const char test_cut_query[] =
    STAYS "SELECT at, origin, order_number, rail, CASE pairs_looked_at WHEN 1 THEN 'yes' ELSE 'no' END AS "
          "pairs_looked_at, slit, ordered_nm / 1000.0 AS ordered_um, measured_nm / 1000.0 AS measured_um, proven "
          "FROM test_cut WHERE station = ?1" AT_OF_STRIP "AND " STRIP_IS_ABOUT "AND (?6 IS NULL OR " IN_STAY ") "
          "ORDER BY id";
static const char *const queries[] = {
    [KR_HISTORY_CHANGEOVERS] = "SELECT c.ended_at, " JOB_OF_C "c.order_number, o.meaning AS outcome, "
                               "c.planned_ms, c.actual_ms, c.told_ms, c.total_ms, " MOVES CORRECTIONS RETRIES WORST
                               "c.worst_pair_um, c.worst_slit_um, c.cause_sentence AS cause "
                               "FROM changeover c JOIN outcome o ON o.number = c.outcome "
                               "WHERE c.station = ?1" ENDED_IN_PERIOD NO_HOLDER "ORDER BY c.id",
    /* from: before the holder's first move, to: after its last one; corrections are moves, too */
    [KR_HISTORY_MOVED] = STAYS "SELECT c.ended_at, lower(CASE c.job" KR_JOBS(
        X) " END) AS job, c.order_number, o.meaning AS outcome, m.rail, m.holder, nullif(h.cut, 0) AS cut, "
           "count(*) AS moves, (SELECT f.from_um FROM changeover_move f WHERE f.changeover = c.id AND f.rail "
           "= m.rail AND f.holder = m.holder ORDER BY f.move LIMIT 1) AS from_um, "
           "(SELECT t.to_um FROM changeover_move t WHERE t.changeover = c.id AND t.rail = m.rail "
           "AND t.holder = m.holder ORDER BY t.move DESC LIMIT 1) AS to_um, "
           "h.deviation_um, c.cause_sentence AS cause "
           "FROM changeover c JOIN outcome o ON o.number = c.outcome JOIN changeover_move m ON m.changeover "
           "= c.id "
           "LEFT JOIN changeover_holder h ON h.changeover = c.id AND h.rail = m.rail AND h.holder = m.holder "
           "WHERE c.station = ?1 AND " OF_RAIL("m.rail") " AND " OF_HOLDER("m.holder") " AND " OF_KNIFE(
               "m.rail", "m.holder", "c.ended_at")
               PERIOD("c.ended_at") "GROUP BY c.id, m.rail, m.holder ORDER BY c.id, m.rail, m.holder",
    [KR_HISTORY_AUDIT] =
        "SELECT a.at, k.meaning AS kind, a.origin, nullif(a.port, 0) AS port, a.group_name AS 'group', "
        "a.what, a.result, a.times, a.until AS until_at FROM audit a JOIN audit_kind k ON k.number = a.kind "
        "WHERE (a.station = ?1 OR a.station IS NULL) AND ?4 = 0 AND ?5 = 0 AND ?6 IS NULL" PERIOD(
            "a.at") "ORDER BY a.id",
    [KR_HISTORY_EDITS] = STAYS
    "SELECT at, origin, lower(CASE kind" KR_EDIT_KINDS(X) " END) AS kind, " NAMED_BY_KIND "code, sentence AS verdict "
                                                          "FROM edit_request q WHERE station = ?1" PERIOD("at")
                                                              REQUEST_IS_ABOUT REQUEST_IS_ABOUT_KNIFE "ORDER BY id",
    [KR_HISTORY_TEST_CUTS] = test_cut_query,
    [KR_HISTORY_ALARMS] = alarm_query,
    [KR_HISTORY_ALARM_TIMES] = alarm_times_query,
    [KR_HISTORY_TIMING] =
        "SELECT r.rail, r.docks, r.dock_ms, r.undocks, r.undock_ms, r.ways, r.setpoint_ms, r.rounding_ms "
        "FROM changeover c JOIN changeover_rail r ON r.changeover = c.id "
        "WHERE c.station = ?1 AND r.ways > 0" PERIOD("c.ended_at") "AND " OF_RAIL("r.rail") NO_HOLDER
    "ORDER BY r.rail, c.id",
    [KR_HISTORY_REFERENCES] =
        "SELECT c.ended_at, r.rail, r.reference_um FROM changeover c JOIN changeover_rail r ON r.changeover "
        "= c.id "
        "WHERE c.station = ?1 AND r.reference_um IS NOT NULL" PERIOD("c.ended_at") "AND " OF_RAIL("r.rail") NO_HOLDER
    "ORDER BY r.rail, c.id",
    [KR_HISTORY_SPENT] =
        "SELECT c.ended_at, " ENDED_MS ", c.outcome, c.planned_ms, c.actual_ms, c.total_ms" SPENT_COLUMNS
        " FROM changeover c WHERE c.station = ?1 AND c.job = 1" ENDED_IN_PERIOD "AND ?4 IS ?4" NO_HOLDER
        "ORDER BY c.id",
    [KR_HISTORY_HOLDERS] =
        STAYS "SELECT h.rail, h.holder, h.class AS size, s.meaning AS state, h.edge_offset_um, h.metres, "
              "h.dock_retries FROM holder h JOIN holder_state s ON s.number = h.state WHERE h.station = ?1" OF_ALL
              "AND " OF_RAIL("h.rail") " AND " OF_HOLDER(
                  "h.holder") " AND (?6 IS NULL OR EXISTS (SELECT 1 FROM stay WHERE "
                              "stay.rail = h.rail AND stay.holder = h.holder)) ORDER BY h.rail, h.holder",
    /* one row for each point of the table, and one row for a frame without points */
    [KR_HISTORY_FRAMES] =
        "SELECT r.rail, r.frame_origin AS origin, r.frame_offset_um, r.frame_scale_ppb, p.point, p.at_um, "
        "p.error_um, r.switch_origin, r.switch_offset_um, r.scan_bias_um, "
        "r.times_origin, r.dock_us, r.undock_us, r.setpoint_us, r.rounding_us "
        "FROM rail r LEFT JOIN frame_point p ON p.station = r.station AND p.rail = r.rail AND p.before = 0 "
        "WHERE r.station = ?1" OF_ALL "AND " OF_RAIL("r.rail") NO_HOLDER "ORDER BY r.rail, p.point",
    [KR_HISTORY_SIZES] =
        "SELECT number, name FROM size WHERE station = ?1" OF_ALL "AND ?4 IS ?4" NO_HOLDER "ORDER BY number",
    /* The metres of a knife on a holder are stored with the holder. */
    [KR_HISTORY_KNIVES] =
        "SELECT k.name, k.kind, p.meaning AS place, nullif(k.rail, 0) AS rail, nullif(k.holder, 0) AS "
        "holder, nullif(k.diameter_um, 0) AS diameter_um, nullif(k.thickness_um, 0) AS thickness_um, "
        "coalesce(h.edge_offset_um, k.edge_um) AS edge_um, coalesce(h.metres, k.metres) AS metres, "
        "k.earlier_metres + coalesce(h.metres, k.metres) AS all_metres, k.grinds, k.at AS changed_at, "
        "k.knife AS number FROM knife k JOIN knife_place p ON p.number = k.place LEFT JOIN holder h ON "
        "h.station = k.station AND h.knife = k.knife AND k.place = 1 WHERE k.station = ?1" OF_ALL
        "AND " OF_RAIL("k.rail") " AND " OF_HOLDER("k.holder") " ORDER BY k.name",
    [KR_HISTORY_KNIFE_EVENTS] = knife_event_query,
    [KR_HISTORY_KNIFE_LIST] = knife_list_query,
    [KR_HISTORY_ORDER_METRES] = order_metres_query,
    /* A stay that began before the period, or ended after it, belongs to the period, too. */
    [KR_HISTORY_STAYS] =
        STAYS "SELECT name AS knife, rail, holder, since AS mounted_at, until AS off_at FROM stay WHERE " OF_RAIL(
            "rail") " AND " OF_HOLDER("holder") " AND substr(coalesce(until, ?2), 1, length(?2)) >= ?2 AND "
                                                "substr(since, 1, length(?3)) <= ?3 "
                                                "ORDER BY since, rail, holder",
    /* since_regrind: whether the present knife was on the holder. A holder that was not moved was not placed again: its
     * error is that of the changeover before, and counting it twice would make the spread seem smaller. */
    [KR_HISTORY_ERRORS] =
        STAYS ", ground AS (SELECT rail, holder, max(at) AS at FROM edit_request WHERE station = ?1 AND code = 0 AND "
              "kind IN (2, 3, 25, 27) GROUP BY rail, holder) SELECT h.rail, h.holder, c.ended_at, "
              "julianday(c.ended_at) AS day, h.deviation_um AS error_um, c.ended_at > coalesce(g.at, '') AS "
              "since_regrind FROM changeover_holder h JOIN changeover c ON c.id = h.changeover LEFT JOIN ground g ON "
              "g.rail = h.rail AND g.holder = h.holder WHERE c.station = ?1 AND c.job = 1 AND h.deviation_um IS NOT "
              "NULL AND EXISTS (SELECT 1 FROM changeover_move m WHERE m.changeover = c.id AND m.rail = h.rail AND "
              "m.holder = h.holder)" PERIOD("c.ended_at") "AND " OF_RAIL("h.rail") " AND " OF_HOLDER(
                  "h.holder") " AND " OF_KNIFE("h.rail", "h.holder", "c.ended_at") " ORDER BY h.rail, "
                                                                                   "h.holder, "
                                                                                   "c.id",
};
#undef X
_Static_assert(KR_EDIT_OFFSET == 1 && KR_EDIT_REGRIND == 2 && KR_EDIT_SWAP == 3 && KR_EDIT_SIZE == 4 &&
                   KR_EDIT_INSERT == 9 && KR_EDIT_TEST_CUT == 10 && KR_EDIT_APPLY == 12 && KR_EDIT_DATUM == 13 &&
                   KR_EDIT_SHIFT == 14 && KR_EDIT_BENCH == 18 && KR_EDIT_FEELER == 19 && KR_EDIT_TRIAL == 20 &&
                   KR_EDIT_ENTER == 24 && KR_EDIT_MOUNT == 25 && KR_EDIT_REGROUND == 27 && KR_EDIT_BROKEN == 28 &&
                   KR_EDIT_FRAME == 32 && KR_EDIT_LAST == 37 && KR_KNIFE_HOLDER == 1 && KR_JOB_CHANGEOVER == 1,
               "numbers in the queries");

bool history_fail(struct kr_history *history, const char *doing)
{
    snprintf(history->error, sizeof history->error, "%s: %s", doing, sqlite3_errmsg(history->db));
    return false;
}

const char *kr_history_error(const struct kr_history *history)
{
    return history->error;
}

const char *kr_history_station(const struct kr_history *history)
{
    return history->name;
}

bool kr_history_length_unit(const struct kr_history *history, enum kr_length_unit *unit)
{
    bool is_told = history->length_unit == KR_LENGTH_MM || history->length_unit == KR_LENGTH_INCH;
    if (is_told)
        *unit = (enum kr_length_unit)history->length_unit;
    return is_told;
}

/* ---- opening --------------------------------------------------------------------------------------------------- */

static bool is_book(struct kr_history *history)
{
    struct schema_error error;
    if (schema_recognise(history->db, &error))
        return true;
    snprintf(history->error, sizeof history->error, "%s", error.text);
    return false;
}

static bool keep_station(struct kr_history *history, sqlite3_stmt *stmt, const char *name)
{
    int rc = sqlite3_step(stmt);
    if (rc != SQLITE_ROW && rc != SQLITE_DONE)
        return history_fail(history, "stations");
    if (rc == SQLITE_DONE) {
        snprintf(history->error, sizeof history->error, "there is no station %s%sin it", name ? name : "",
                 name ? " " : "");
        return false;
    }
    history->station = sqlite3_column_int64(stmt, 0);
    snprintf(history->name, sizeof history->name, "%s", (const char *)sqlite3_column_text(stmt, 1));
    history->length_unit = sqlite3_column_type(stmt, 2) == SQLITE_INTEGER ? sqlite3_column_int(stmt, 2) : -1;
    if (sqlite3_step(stmt) == SQLITE_DONE)
        return true;
    snprintf(history->error, sizeof history->error, "it has several stations: name one of them");
    return false;
}

static bool find_station(struct kr_history *history, const char *name)
{
    sqlite3_stmt *stmt;
    const char *query = "SELECT station, name, length_unit FROM station WHERE ?1 IS NULL OR name = ?1 "
                        "ORDER BY station";
    if (sqlite3_prepare_v2(history->db, query, -1, &stmt, NULL) != SQLITE_OK)
        return history_fail(history, "stations");
    bool ok = name == NULL || sqlite3_bind_text(stmt, 1, name, -1, SQLITE_STATIC) == SQLITE_OK ||
              history_fail(history, "stations");
    ok = ok && keep_station(history, stmt, name);
    sqlite3_finalize(stmt);
    return ok;
}

/* In WAL mode a reader needs the -shm file. The last gateway to close the book removes this file, and only those who
 * may write in the folder can create it. Without a -wal file nobody changes the book and the -shm file is not needed:
 * then the book is opened as an immutable file. */
static bool open_at_rest(const char *path, sqlite3 **db)
{
    char name[PATH_MAX + 32];
    int n = snprintf(name, sizeof name, "%s-wal", path);
    if (n < 0 || (size_t)n >= sizeof name || access(name, F_OK) == 0)
        return false;
    char *escaped = sqlite3_mprintf("file:%s?immutable=1", path);
    bool plain = strpbrk(path, "?#%") == NULL; /* these characters have a meaning in a URI */
    sqlite3_close(*db);
    *db = NULL;
    int rc = escaped != NULL && plain
                 ? sqlite3_open_v2(escaped, db, SQLITE_OPEN_READONLY | SQLITE_OPEN_FULLMUTEX | SQLITE_OPEN_URI, NULL)
                 : SQLITE_CANTOPEN;
    sqlite3_free(escaped);
    return rc == SQLITE_OK;
}

bool history_open_file(const char *path, sqlite3 **db, char *error, size_t error_size)
{
    int rc = sqlite3_open_v2(path, db, SQLITE_OPEN_READONLY | SQLITE_OPEN_FULLMUTEX, NULL);
    if (rc == SQLITE_OK)
        rc = sqlite3_exec(*db, "SELECT count(*) FROM sqlite_schema", NULL, NULL, NULL);
    bool no_index = rc == SQLITE_CANTOPEN || rc == SQLITE_READONLY;
    if (no_index && access(path, R_OK) == 0 && open_at_rest(path, db))
        return true;
    /* Any other fault of the file is reported by the functions that read it. */
    if (!no_index && rc != SQLITE_PERM && rc != SQLITE_NOMEM)
        return true;
    snprintf(error, error_size, "%s: %s", path, access(path, R_OK) != 0 ? strerror(errno) : sqlite3_errstr(rc));
    return false;
}

static bool open_file(struct kr_history *history, const char *path)
{
    if (!history_open_file(path, &history->db, history->error, sizeof history->error))
        return false;
    sqlite3_busy_timeout(history->db, 2000); /* a commit takes less time than this */
    return is_book(history) && (rows_prepare(history->db) || history_fail(history, "preparing"));
}

struct kr_history *kr_history_open(const char *path, const char *station, char *error, size_t error_size)
{
    struct kr_history *history = calloc(1, sizeof *history);
    if (history == NULL) {
        snprintf(error, error_size, "out of memory");
        return NULL;
    }
    if (open_file(history, path) && find_station(history, station))
        return history;
    snprintf(error, error_size, "%s", history->error);
    kr_history_close(history);
    return NULL;
}

void kr_history_close(struct kr_history *history)
{
    if (history == NULL)
        return;
    sqlite3_close(history->db);
    free(history);
}

/* ---- reading --------------------------------------------------------------------------------------------------- */

bool kr_history_time_is_good(const char *text)
{
    static const char form[] = "0000-00-00T00:00:00.000";
    size_t n = strlen(text);
    for (size_t i = 0; i < n; i++)
        if (i >= sizeof form - 1 || (form[i] == '0' ? !isdigit((unsigned char)text[i]) : text[i] != form[i]))
            return false;
    return n == 4 || n == 7 || n == 10 || n == 13 || n == 16 || n == 19 || n == 23;
}

static struct kr_cell cell_of(sqlite3_stmt *stmt, int column)
{
    switch (sqlite3_column_type(stmt, column)) {
    case SQLITE_INTEGER: return (struct kr_cell){.kind = KR_CELL_NUMBER, .number = sqlite3_column_int64(stmt, column)};
    case SQLITE_FLOAT: return (struct kr_cell){.kind = KR_CELL_REAL, .real = sqlite3_column_double(stmt, column)};
    case SQLITE_NULL: return (struct kr_cell){.kind = KR_CELL_NONE};
    default: return (struct kr_cell){.kind = KR_CELL_TEXT, .text = (const char *)sqlite3_column_text(stmt, column)};
    }
}

static bool step_rows(struct kr_history *history, sqlite3_stmt *stmt,
                      bool (*each)(void *arg, const struct kr_history_row *row), void *arg)
{
    struct kr_history_row row = {.is_heading = true, .n = sqlite3_column_count(stmt)};
    int rc;
    for (int i = 0; i < row.n; i++)
        row.name[i] = sqlite3_column_name(stmt, i);
    if (!each(arg, &row))
        return true;
    row.is_heading = false;
    while ((rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        for (int i = 0; i < row.n; i++)
            row.cell[i] = cell_of(stmt, i);
        if (!each(arg, &row))
            return true;
    }
    return rc == SQLITE_DONE || history_fail(history, "reading");
}

static bool bind_part(sqlite3_stmt *stmt, int64_t station, const struct kr_history_part *part)
{
    return sqlite3_bind_int64(stmt, 1, station) == SQLITE_OK &&
           sqlite3_bind_text(stmt, 2, part->from ? part->from : "", -1, SQLITE_STATIC) == SQLITE_OK &&
           sqlite3_bind_text(stmt, 3, part->to ? part->to : "", -1, SQLITE_STATIC) == SQLITE_OK &&
           sqlite3_bind_int(stmt, 4, part->rail) == SQLITE_OK && sqlite3_bind_int(stmt, 5, part->holder) == SQLITE_OK &&
           (part->knife == NULL || sqlite3_bind_parameter_count(stmt) < 6 ||
            sqlite3_bind_text(stmt, 6, part->knife, -1, SQLITE_STATIC) == SQLITE_OK);
}

bool kr_history_read(struct kr_history *history, enum kr_history_table table, const struct kr_history_part *part,
                     bool (*each)(void *arg, const struct kr_history_row *row), void *arg)
{
    static const struct kr_history_part all;
    sqlite3_stmt *stmt;
    if (sqlite3_prepare_v2(history->db, queries[table], -1, &stmt, NULL) != SQLITE_OK)
        return history_fail(history, "preparing");
    bool ok = bind_part(stmt, history->station, part != NULL ? part : &all) ? step_rows(history, stmt, each, arg)
                                                                            : history_fail(history, "preparing");
    sqlite3_finalize(stmt);
    return ok;
}

/* ---- watching -------------------------------------------------------------------------------------------------- */

#define OPERATIONS 20000 /* operations of SQLite's virtual machine between two calls of step() */

static int pass_step_on(void *arg)
{
    struct kr_history *history = arg;
    history->step(history->step_arg);
    return 0; /* continue */
}

void kr_history_watch(struct kr_history *history, void (*step)(void *arg), void *arg)
{
    history->step = step;
    history->step_arg = arg;
    sqlite3_progress_handler(history->db, OPERATIONS, step != NULL ? pass_step_on : NULL, history);
}

/* ---- checking -------------------------------------------------------------------------------------------------- */

struct telling {
    void (*tell)(void *arg, const char *table, int64_t rows, int64_t first);
    void *arg;
    bool told;
    const char *numberless; /* a table with a row that has lost its number; NULL: there is none */
};

static void pass_on(void *arg, const char *table, int64_t rows, int64_t first)
{
    struct telling *telling = arg;
    if (first <= 0) { /* numbers count from 1 */
        telling->numberless = table;
        return;
    }
    telling->tell(telling->arg, table, rows, first);
    telling->told = true;
}

/* A start of the gateway does not read the pages of the history, so rows that are lost with a page are found only by
 * the check of the structure. If rows disagree with their seals, this says more than a fault of the structure. */
bool kr_history_check(struct kr_history *history,
                      void (*tell)(void *arg, const char *table, int64_t rows, int64_t first), void *arg)
{
    struct schema_error error;
    struct telling telling = {tell, arg, false, NULL};
    if (!rows_check(history->db, pass_on, &telling))
        return history_fail(history, "checking");
    if (telling.numberless != NULL) {
        snprintf(history->error, sizeof history->error, "damaged: a row of table %s has lost its number%s",
                 telling.numberless, SCHEMA_ADVICE);
        return false;
    }
    if (telling.told || schema_check_whole(history->db, &error))
        return true;
    snprintf(history->error, sizeof history->error, "%s", error.text);
    return false;
}
