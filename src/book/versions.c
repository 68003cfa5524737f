#include "versions.h"

#include <stddef.h>

#include "kniferail/audit.h"
#include "rows.h"

/* One list of statements for each schema version. A published version is never edited: a change is a new version.
 *
 * Lengths of orders are in nanometres, all others in micrometres, as the names of the columns say. Times are UTC, in
 * the format of ISO 8601. Rails, holders, cuts, slits and edges count from 1. */
static const char *const version_1[] = {
    "CREATE TABLE session("
    "  id INTEGER PRIMARY KEY, "
    "  number INTEGER NOT NULL CHECK(number BETWEEN 1 AND 65535), "
    "  started_at TEXT NOT NULL);",

    /* The number of transactions; confirmed_count.c compares it with the number of those that were confirmed. */
    "CREATE TABLE confirmed(only INTEGER PRIMARY KEY CHECK(only = 1), commits INTEGER NOT NULL);"
    "INSERT INTO confirmed VALUES(1, 0);",

    /* Words for the numbers, for people who read the file. */
    "CREATE TABLE known(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO known VALUES(0,'unknown'),(1,'remembered'),(2,'placed'),(3,'measured');",
    "CREATE TABLE holder_state(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO holder_state VALUES(0,'in service'),(1,'out of service'),(2,'fixed'),(3,'absent');",
    "CREATE TABLE place(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO place VALUES(0,'staged'),(1,'in force');"
    "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 8) "
    "  INSERT INTO place SELECT 1 + i, 'queued ' || i FROM n;"
    "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 64) "
    "  INSERT INTO place SELECT 100 + i, 'recipe ' || i FROM n;",
    "CREATE TABLE outcome(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO outcome VALUES(0,'none'),(1,'verified'),(2,'ended without'),(3,'aborted');",

    "CREATE TABLE station("
    "  station INTEGER PRIMARY KEY, "
    "  name TEXT NOT NULL UNIQUE, "
    "  serial INTEGER NOT NULL, "
    "  changed_at TEXT NOT NULL, "
    "  seal INTEGER);", /* over everything that the station starts from, see seal.c; NULL: changed by hand on purpose */

    "CREATE TABLE rail("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  rail INTEGER NOT NULL, "
    "  holder_in_motion INTEGER NOT NULL, " /* 0: none; after a power cut the place of this holder is unknown */
    "  clamp_open INTEGER NOT NULL, "       /* 1: after a power cut all places on the rail are unknown */
    "  datum_doubted INTEGER NOT NULL, "    /* 1: the carriage has to be homed */
    "  PRIMARY KEY(station, rail)) WITHOUT ROWID;",

    "CREATE TABLE holder("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  class INTEGER NOT NULL CHECK(class BETWEEN 1 AND 3), "
    "  edge_offset_um INTEGER NOT NULL, "
    "  state INTEGER NOT NULL REFERENCES holder_state, "
    "  position_um INTEGER NOT NULL, "
    "  known INTEGER NOT NULL REFERENCES known, "
    "  dock_retries INTEGER NOT NULL, "
    "  metres INTEGER NOT NULL, " /* cut by its knife since its regrind or swap */
    "  PRIMARY KEY(station, rail, holder)) WITHOUT ROWID;",

    /* The history of the values that people set. It includes the first value, which has no value before it. */
    "CREATE TABLE edit("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  what TEXT NOT NULL CHECK(what IN ('class', 'edge_offset_um', 'state')), "
    "  was INTEGER, "
    "  became INTEGER NOT NULL, "
    "  origin TEXT NOT NULL);", /* the address that asked for it; 'config': an initial value of the book */

    /* Maintenance requests, accepted or not. */
    "CREATE TABLE edit_request("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  session INTEGER NOT NULL, "
    "  number INTEGER NOT NULL, "
    "  kind INTEGER NOT NULL, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  class INTEGER NOT NULL, "
    "  edge_offset_um INTEGER NOT NULL, "
    "  position_um INTEGER NOT NULL, "
    "  origin TEXT NOT NULL, "
    "  code INTEGER NOT NULL, "
    "  result_rail INTEGER NOT NULL, "
    "  result_item INTEGER NOT NULL, "
    "  result_value INTEGER NOT NULL, "
    "  result_limit INTEGER NOT NULL, "
    "  sentence TEXT NOT NULL);",
    "CREATE INDEX edit_request_of_station ON edit_request(station, id);",

    "CREATE TABLE orders("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  place INTEGER NOT NULL REFERENCES place, "
    "  order_number INTEGER NOT NULL, "
    "  edge_flags INTEGER NOT NULL, "
    "  alignment INTEGER NOT NULL, "
    "  compensation_ppm INTEGER NOT NULL, "
    "  tolerance_um INTEGER NOT NULL, "
    "  web_width_nm INTEGER NOT NULL, "
    "  trim_nm INTEGER NOT NULL, "
    "  shift_nm INTEGER NOT NULL, "
    "  sum_nm INTEGER NOT NULL, "
    "  PRIMARY KEY(station, place)) WITHOUT ROWID;",
    "CREATE TABLE slit("
    "  station INTEGER NOT NULL, "
    "  place INTEGER NOT NULL, "
    "  slit INTEGER NOT NULL, "
    "  width_nm INTEGER NOT NULL, "
    "  PRIMARY KEY(station, place, slit), "
    "  FOREIGN KEY(station, place) REFERENCES orders ON DELETE CASCADE) WITHOUT ROWID;",

    "CREATE TABLE verdict("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  session INTEGER NOT NULL, "
    "  number INTEGER NOT NULL, "
    "  kind INTEGER NOT NULL, "
    "  code INTEGER NOT NULL, "
    "  rail INTEGER NOT NULL, "
    "  item INTEGER NOT NULL, "
    "  value INTEGER NOT NULL, "
    "  limit_value INTEGER NOT NULL, "
    "  order_number INTEGER NOT NULL, "
    "  replaced_order INTEGER NOT NULL, "
    "  slit_count INTEGER NOT NULL, "
    "  sum_nm INTEGER NOT NULL, "
    "  time_ms INTEGER NOT NULL, "
    "  sentence TEXT NOT NULL);",
    "CREATE INDEX verdict_of_station ON verdict(station, id);",

    "CREATE TABLE changeover("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  number INTEGER NOT NULL, "
    "  ended_at TEXT NOT NULL, "
    "  job INTEGER NOT NULL, "
    "  order_number INTEGER NOT NULL, "
    "  outcome INTEGER NOT NULL REFERENCES outcome, "
    "  planned_ms INTEGER NOT NULL, "
    "  actual_ms INTEGER NOT NULL, "
    "  total_ms INTEGER NOT NULL, "
    "  worst_pair_um INTEGER NOT NULL, "
    "  worst_slit_um INTEGER NOT NULL, "
    "  cause INTEGER NOT NULL, "
    "  cause_rail INTEGER NOT NULL, "
    "  cause_item INTEGER NOT NULL, "
    "  cause_value INTEGER NOT NULL, "
    "  cause_limit INTEGER NOT NULL, "
    "  cause_sentence TEXT NOT NULL);",
    "CREATE INDEX changeover_of_station ON changeover(station, id);",
    "CREATE TABLE changeover_rail("
    "  changeover INTEGER NOT NULL REFERENCES changeover ON DELETE CASCADE, "
    "  rail INTEGER NOT NULL, "
    "  moves INTEGER NOT NULL, "
    "  corrections INTEGER NOT NULL, "
    "  retries INTEGER NOT NULL, "
    "  worst_holder INTEGER NOT NULL, "
    "  worst_um INTEGER NOT NULL, "
    "  PRIMARY KEY(changeover, rail)) WITHOUT ROWID;",
    "CREATE TABLE changeover_holder("
    "  changeover INTEGER NOT NULL REFERENCES changeover ON DELETE CASCADE, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  cut INTEGER NOT NULL, "
    "  target_um INTEGER NOT NULL, "
    "  position_um INTEGER NOT NULL, "
    "  known INTEGER NOT NULL REFERENCES known, "
    "  deviation_um INTEGER, " /* NULL for a holder that doesn't cut or was not measured */
    "  PRIMARY KEY(changeover, rail, holder)) WITHOUT ROWID;",
    "CREATE TABLE changeover_move("
    "  changeover INTEGER NOT NULL REFERENCES changeover ON DELETE CASCADE, "
    "  move INTEGER NOT NULL, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  from_um INTEGER NOT NULL, "
    "  to_um INTEGER NOT NULL, "
    "  start_ms INTEGER NOT NULL, "
    "  end_ms INTEGER NOT NULL, "
    "  PRIMARY KEY(changeover, move)) WITHOUT ROWID;",

    "CREATE TABLE alarm("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  raised INTEGER NOT NULL CHECK(raised IN (0, 1)), "
    "  code INTEGER NOT NULL, "
    "  rail INTEGER NOT NULL, "
    "  item INTEGER NOT NULL, "
    "  value INTEGER NOT NULL, "
    "  limit_value INTEGER NOT NULL, "
    "  sentence TEXT NOT NULL);",
    "CREATE INDEX alarm_of_station ON alarm(station, at);",
    NULL,
};

/* Every row of the history has its own seal (rows.h); rows from before this version have none. The meaning of outcome 2
 * becomes 'ended without verification'. */
static const char *const version_2[] = {
#define X(table, columns, key, lost) "ALTER TABLE " table " ADD COLUMN seal INTEGER;",
    SEALED_TABLES_2(X)
#undef X
        "UPDATE outcome SET meaning = 'ended without verification' WHERE number = 2;",
    NULL,
};

/* A station has up to 8 sizes of holders. The column class keeps its name; it contains the number of the size. The
 * table size has the meaning of the numbers, from the station file at the last start. */
static const char *const version_3[] = {
    /* How a cutting edge is proven; edges from an older book count as not proven. */
    "CREATE TABLE edge(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO edge VALUES(0,'unproven'),(1,'bench'),(2,'feeler'),(3,'test cut'),(4,'struck');",
    "ALTER TABLE holder RENAME TO holder_before;"
    "CREATE TABLE holder("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  class INTEGER NOT NULL CHECK(class BETWEEN 1 AND 8), "
    "  edge_offset_um INTEGER NOT NULL, "
    "  state INTEGER NOT NULL REFERENCES holder_state, "
    "  position_um INTEGER NOT NULL, "
    "  known INTEGER NOT NULL REFERENCES known, "
    "  dock_retries INTEGER NOT NULL, "
    "  metres INTEGER NOT NULL, "
    "  edge INTEGER NOT NULL DEFAULT 0 REFERENCES edge, "
    "  PRIMARY KEY(station, rail, holder)) WITHOUT ROWID;"
    "INSERT INTO holder SELECT *, 0 FROM holder_before;"
    "DROP TABLE holder_before;",
    "ALTER TABLE edit RENAME TO edit_before;"
    "CREATE TABLE edit("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, " /* 0: the rail itself */
    "  what TEXT NOT NULL CHECK(what IN ('class', 'edge_offset_um', 'state', 'edge', "
    "                     'frame_offset_um', 'frame_scale_ppb', 'frame_points', "
    "                     'switch_offset_um', 'scan_bias_um', "
    "                     'dock_us', 'undock_us', 'setpoint_us', 'rounding_us')), "
    "  was INTEGER, "
    "  became INTEGER NOT NULL, "
    "  origin TEXT NOT NULL, " /* 'PLC': the PLC reported a crash */
    "  seal INTEGER);"
    "INSERT INTO edit SELECT * FROM edit_before;"
    "DROP TABLE edit_before;",
    "CREATE TABLE size("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  number INTEGER NOT NULL CHECK(number BETWEEN 1 AND 8), "
    "  name TEXT NOT NULL, "
    "  PRIMARY KEY(station, number)) WITHOUT ROWID;",
    "ALTER TABLE rail ADD COLUMN rests INTEGER NOT NULL DEFAULT 0;" /* 1: it stood at rest_um, with its drive off */
    "ALTER TABLE rail ADD COLUMN rest_um INTEGER NOT NULL DEFAULT 0;",
    "ALTER TABLE holder ADD COLUMN origin INTEGER NOT NULL DEFAULT 0;" /* of its place: 0 told, 1 scanned, 2 released */
    "ALTER TABLE rail ADD COLUMN shift_um INTEGER NOT NULL DEFAULT 0;", /* all its holders were found shifted by that */
    "ALTER TABLE station ADD COLUMN length_unit INTEGER;", /* the unit for people: 0 mm, 1 in; NULL: not known */
    "ALTER TABLE rail ADD COLUMN datum_um INTEGER NOT NULL DEFAULT 0;" /* the correction by references */
    "ALTER TABLE rail ADD COLUMN taught_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN scale_ppb INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN switch_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN references_seen INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN references_good INTEGER NOT NULL DEFAULT 0;" /* one bit for each reference */
    "ALTER TABLE rail ADD COLUMN trend_1_um INTEGER NOT NULL DEFAULT 0;" /* shift since taught; the newest scan first */
    "ALTER TABLE rail ADD COLUMN trend_2_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_3_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_4_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_5_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_6_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_7_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_8_um INTEGER NOT NULL DEFAULT 0;",
    "ALTER TABLE rail ADD COLUMN reference_1_um INTEGER NOT NULL DEFAULT 0;" /* width as measured first */
    "ALTER TABLE rail ADD COLUMN reference_2_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_3_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_4_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_5_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_6_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_7_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_8_um INTEGER NOT NULL DEFAULT 0;",
/* What the time of a changeover was spent on (KR_SPENT in base.h); all 0: it was not counted. */
#define X(name, word, text) "ALTER TABLE changeover ADD COLUMN " #word "_ms INTEGER NOT NULL DEFAULT 0;"
    KR_SPENT(X)
#undef X
    /* The planned time from Start to the end; 0: none was planned. */
    "ALTER TABLE changeover ADD COLUMN told_ms INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover ADD COLUMN cut_metres INTEGER NOT NULL DEFAULT 0;" /* station.cut_metres at that time */
    "UPDATE changeover SET seal = row_seal(" CHANGEOVER_COLUMNS ") WHERE seal = row_seal(" CHANGEOVER_COLUMNS_BEFORE_3
    ");",
    /* The planned time of the judged order, and the part of it for scans. */
    "ALTER TABLE verdict ADD COLUMN scans_ms INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE verdict ADD COLUMN verified_ms INTEGER NOT NULL DEFAULT 0;"
    "UPDATE verdict SET seal = row_seal(" VERDICT_COLUMNS ") WHERE seal = row_seal(" VERDICT_COLUMNS_BEFORE_3 ");",
    /* How far the rail's references had shifted since they were taught; NULL: no scan saw any. */
    "ALTER TABLE changeover_rail ADD COLUMN reference_um INTEGER;"
    "ALTER TABLE changeover_rail ADD COLUMN role INTEGER NOT NULL DEFAULT 0;" /* 0 upper, 1 lower */
    /* The number of dockings, undockings and moves of the carriage without a fault, and their total durations. */
    "ALTER TABLE changeover_rail ADD COLUMN docks INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN undocks INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN ways INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN dock_ms INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN undock_ms INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN setpoint_ms INTEGER NOT NULL DEFAULT 0;" /* to hand the set-points over */
    "ALTER TABLE changeover_rail ADD COLUMN rounding_ms INTEGER NOT NULL DEFAULT 0;" /* beyond speed, acceleration */
    "UPDATE changeover_rail SET seal = row_seal(" CHANGEOVER_RAIL_COLUMNS
    ") WHERE seal = row_seal(" CHANGEOVER_RAIL_COLUMNS_BEFORE_3 ");",
    /* How a run ended, as it noted itself. If it noted nothing and the computer has been started again since (boot), it
     * ended with the computer. */
    "CREATE TABLE run_end(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO run_end VALUES(0,'it never said'),(1,'asked'),(2,'hurried'),(3,'not started');",
    "ALTER TABLE session ADD COLUMN boot TEXT NOT NULL DEFAULT '';"
    "ALTER TABLE session ADD COLUMN ended INTEGER NOT NULL DEFAULT 0 REFERENCES run_end;"
    "ALTER TABLE session ADD COLUMN ended_at TEXT NOT NULL DEFAULT '';",
    /* Proofs that may count again after a restart; kr_durable in station.h explains each of them. */
    "ALTER TABLE holder ADD COLUMN was_known INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE holder ADD COLUMN cut INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN access_count INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN proof INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN proof_inputs INTEGER NOT NULL DEFAULT 0;",
    /* The data to draw a changeover: the web and its slits, each rail's role, each holder's state and body. */
    "CREATE TABLE changeover_web("
    "  changeover INTEGER PRIMARY KEY REFERENCES changeover ON DELETE CASCADE, "
    "  started_by TEXT NOT NULL, " /* the address that asked for the job */
    "  left_um INTEGER, "          /* the web's edge at the operator side; NULL: the job had no cut lines yet */
    "  right_um INTEGER, "
    "  trim_operator_nm INTEGER, " /* 0: the edge is not trimmed */
    "  trim_drive_nm INTEGER, "
    "  seal INTEGER);"
    "CREATE TABLE changeover_slit("
    "  changeover INTEGER NOT NULL REFERENCES changeover ON DELETE CASCADE, "
    "  slit INTEGER NOT NULL, "
    "  left_um INTEGER NOT NULL, " /* the two sides are cut lines or untrimmed edges of the web */
    "  right_um INTEGER NOT NULL, "
    "  width_nm INTEGER NOT NULL, "
    "  measured_um INTEGER, " /* NULL: not all of its knives were measured */
    "  seal INTEGER, "
    "  PRIMARY KEY(changeover, slit)) WITHOUT ROWID;",
    "ALTER TABLE changeover_holder ADD COLUMN state INTEGER NOT NULL DEFAULT 0;" /* as holder.state */
    "ALTER TABLE changeover_holder ADD COLUMN body_um INTEGER NOT NULL DEFAULT 0;"
    "UPDATE changeover_holder SET seal = row_seal(" CHANGEOVER_HOLDER_COLUMNS
    ") WHERE seal = row_seal(" CHANGEOVER_HOLDER_COLUMNS_BEFORE_3 ");",

    /* The ledger of knives: what each knife is, where it is, and its events. */
    "CREATE TABLE knife_place(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO knife_place "
    "VALUES(0,'none'),(1,'holder'),(2,'shelf'),(3,'grinder'),(4,'broken'),(5,'scrapped');",
    "CREATE TABLE knife("
    "  knife INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, " /* when it was last changed */
    "  name TEXT NOT NULL, "
    "  kind TEXT NOT NULL, "
    "  diameter_um INTEGER NOT NULL, "  /* 0: not measured */
    "  thickness_um INTEGER NOT NULL, " /* 0: not measured */
    "  edge_um INTEGER, "               /* NULL: not measured since it was ground */
    "  place INTEGER NOT NULL REFERENCES knife_place, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  metres INTEGER NOT NULL, "         /* since it was ground; table holder has those of a knife on a holder */
    "  earlier_metres INTEGER NOT NULL, " /* before it was last ground */
    "  grinds INTEGER NOT NULL, "
    "  seal INTEGER, "
    "  UNIQUE(station, name));",
    "CREATE TABLE knife_event("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  origin TEXT NOT NULL, "
    "  knife INTEGER REFERENCES knife, " /* NULL: a knife without a name */
    "  kind INTEGER NOT NULL, "          /* of the maintenance request; 0: an imported list */
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  place INTEGER NOT NULL REFERENCES knife_place, " /* where it is after the event */
    "  metres INTEGER NOT NULL, "                       /* from its last grind until the event */
    "  left_metres INTEGER NOT NULL, "                  /* of the knife without a name that it replaced */
    "  edge_um INTEGER, "
    "  diameter_before_um INTEGER NOT NULL, "
    "  diameter_um INTEGER NOT NULL, "
    "  thickness_before_um INTEGER NOT NULL, "
    "  thickness_um INTEGER NOT NULL, "
    "  cause INTEGER NOT NULL, "
    "  fragments INTEGER NOT NULL, "
    "  fell_metres INTEGER, " /* LINE_METRES when VERIFIED was last lost before it broke; NULL: not known */
    "  seal INTEGER);"
    "CREATE INDEX knife_event_of_knife ON knife_event(knife, id);",
    "ALTER TABLE holder ADD COLUMN knife INTEGER NOT NULL DEFAULT 0;"         /* 0: none, or one without a name */
    "ALTER TABLE station ADD COLUMN was_verified INTEGER NOT NULL DEFAULT 0;" /* 1: VERIFIED was set */
    "ALTER TABLE station ADD COLUMN fell INTEGER NOT NULL DEFAULT 0;"         /* 1: VERIFIED was lost */
    "ALTER TABLE station ADD COLUMN fell_metres INTEGER NOT NULL DEFAULT 0;"  /* LINE_METRES at that time */
    "ALTER TABLE station ADD COLUMN cut_metres INTEGER NOT NULL DEFAULT 0;"   /* metres cut by knives, in total */
    "ALTER TABLE holder ADD COLUMN knife_kind INTEGER NOT NULL DEFAULT 0;",   /* digest of the knife's kind */

    /* The position of each rail in the machine's frame; `before`: the position that a request can bring back. */
    "CREATE TABLE frame_origin(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO frame_origin VALUES(0,'none'),(1,'station file'),(2,'maintenance');"
    "ALTER TABLE rail ADD COLUMN frame_origin INTEGER NOT NULL DEFAULT 0;" /* 0: it comes from the station file */
    "ALTER TABLE rail ADD COLUMN frame_offset_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN frame_scale_ppb INTEGER NOT NULL DEFAULT 0;" /* parts in 1,000,000,000 */
    "ALTER TABLE rail ADD COLUMN frame_before_offset_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN frame_before_scale_ppb INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN expansion_ppb INTEGER NOT NULL DEFAULT 0;" /* included in its places */
    "ALTER TABLE rail ADD COLUMN switch_origin INTEGER NOT NULL DEFAULT 0;" /* as frame_origin */
    "ALTER TABLE rail ADD COLUMN switch_offset_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN scan_bias_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN switch_before_offset_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN scan_bias_before_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN times_origin INTEGER NOT NULL DEFAULT 0;" /* as frame_origin */
    "ALTER TABLE rail ADD COLUMN dock_us INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN undock_us INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN setpoint_us INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN rounding_us INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN dock_before_us INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN undock_before_us INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN setpoint_before_us INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN rounding_before_us INTEGER NOT NULL DEFAULT 0;"
    "CREATE TABLE frame_point("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  rail INTEGER NOT NULL, "
    "  before INTEGER NOT NULL CHECK(before IN (0, 1)), "
    "  point INTEGER NOT NULL, "
    "  at_um INTEGER NOT NULL, " /* the drive's position */
    "  error_um INTEGER NOT NULL, "
    "  PRIMARY KEY(station, rail, before, point)) WITHOUT ROWID;",

    /* The strips of test cuts, one row each. */
    "CREATE TABLE test_cut("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  origin TEXT NOT NULL, "
    "  order_number INTEGER NOT NULL, "
    "  rail INTEGER NOT NULL, "            /* the rail that slits */
    "  pairs_looked_at INTEGER NOT NULL, " /* 1: the request stated that each pair was looked at */
    "  slit INTEGER NOT NULL, "
    "  ordered_nm INTEGER NOT NULL, "
    "  measured_nm INTEGER, "  /* NULL: it was not measured */
    "  proven TEXT NOT NULL, " /* the edges beside it that this test cut has proven, as 1/3 2/3 */
    "  seal INTEGER);",

    /* What people and programs did at the gateway. */
    "CREATE TABLE audit_kind(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
#define X(name, number, word, rows, refill_ms) "INSERT INTO audit_kind VALUES(" #number ",'" word "');"
    KR_AUDIT_KINDS(X)
#undef X
        ,
    "CREATE TABLE audit("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER REFERENCES station, " /* NULL: the whole gateway */
    "  at TEXT NOT NULL, "
    "  until TEXT NOT NULL, " /* time of the last event, if the row stands for several */
    "  times INTEGER NOT NULL, "
    "  kind INTEGER NOT NULL REFERENCES audit_kind, "
    "  origin TEXT NOT NULL, "     /* the address; 'gateway': the program itself */
    "  port INTEGER NOT NULL, "    /* of the client, 0: none */
    "  group_name TEXT NOT NULL, " /* of addresses that share control */
    "  what TEXT NOT NULL, "
    "  result TEXT NOT NULL, "
    "  seal INTEGER);",
    NULL,
};

const char *const *const schema_migration[SCHEMA_VERSION] = {version_1, version_2, version_3};
