#include "versions.h"

#include <stddef.h>

#include "kniferail/audit.h"
#include "rows.h"

/* A list of statements a schema version: what is published is never edited, a change is a new version.
 *
 * Lengths are nanometres where orders are meant, else micrometres, as the columns say; times are UTC, ISO 8601. Rails,
 * holders, cuts, slits and edges count from 1. */
static const char *const version_1[] = {
    "CREATE TABLE session("
    "  id INTEGER PRIMARY KEY, "
    "  number INTEGER NOT NULL CHECK(number BETWEEN 1 AND 65535), "
    "  started_at TEXT NOT NULL);",

    /* Transactions ever made; confirmed_count.c holds it against what was confirmed. */
    "CREATE TABLE confirmed(only INTEGER PRIMARY KEY CHECK(only = 1), commits INTEGER NOT NULL);"
    "INSERT INTO confirmed VALUES(1, 0);",

    /* What the numbers mean, for whoever reads the file. */
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
    "  seal INTEGER);", /* of all that the station starts from; see seal.c. NULL: changed by hand, and meant so */

    "CREATE TABLE rail("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  rail INTEGER NOT NULL, "
    "  holder_in_motion INTEGER NOT NULL, " /* 0: none; after a power cut its place is unknown */
    "  clamp_open INTEGER NOT NULL, "       /* 1: so are all of the rail */
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
    "  metres INTEGER NOT NULL, " /* that its knife has cut since its regrind or swap */
    "  PRIMARY KEY(station, rail, holder)) WITHOUT ROWID;",

    /* The history of what people set: also the first value, with nothing before it. */
    "CREATE TABLE edit("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  what TEXT NOT NULL CHECK(what IN ('class', 'edge_offset_um', 'state')), "
    "  was INTEGER, "
    "  became INTEGER NOT NULL, "
    "  origin TEXT NOT NULL);", /* the address that asked for it; 'config': what the book began with */

    /* What maintenance asked for, accepted or not. */
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
    "  deviation_um INTEGER, " /* nothing for what doesn't cut or was not measured */
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

/* Every row of the history has a seal of its own (rows.h); those that are there already have none. A job that ended
 * says without what. */
static const char *const version_2[] = {
#define X(table, columns, key, lost) "ALTER TABLE " table " ADD COLUMN seal INTEGER;",
    SEALED_TABLES_2(X)
#undef X
        "UPDATE outcome SET meaning = 'ended without verification' WHERE number = 2;",
    NULL,
};

/* A station has up to 8 sizes of holders. Column class keeps its name: it is the size's number. What the numbers mean
 * is in table size, as the station file had it at the last start. */
static const char *const version_3[] = {
    /* How a cutting edge is proven; what is brought from before is not, whatever it was. */
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
    "                     'switch_offset_um', 'scan_bias_um')), "
    "  was INTEGER, "
    "  became INTEGER NOT NULL, "
    "  origin TEXT NOT NULL, " /* 'PLC': it reported a crash */
    "  seal INTEGER);"
    "INSERT INTO edit SELECT * FROM edit_before;"
    "DROP TABLE edit_before;",
    "CREATE TABLE size("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  number INTEGER NOT NULL CHECK(number BETWEEN 1 AND 8), "
    "  name TEXT NOT NULL, "
    "  PRIMARY KEY(station, number)) WITHOUT ROWID;",
    "ALTER TABLE rail ADD COLUMN rests INTEGER NOT NULL DEFAULT 0;" /* 1: the carriage stood at rest_um, drive off */
    "ALTER TABLE rail ADD COLUMN rest_um INTEGER NOT NULL DEFAULT 0;",
    "ALTER TABLE holder ADD COLUMN origin INTEGER NOT NULL DEFAULT 0;" /* of its place: 0 told, 1 scanned, 2 released */
    "ALTER TABLE rail ADD COLUMN shift_um INTEGER NOT NULL DEFAULT 0;", /* its holders were found off alike by that */
    "ALTER TABLE station ADD COLUMN length_unit INTEGER;", /* 0 mm, 1 in, of people's figures; nothing: not told */
    "ALTER TABLE rail ADD COLUMN datum_um INTEGER NOT NULL DEFAULT 0;" /* what references have corrected */
    "ALTER TABLE rail ADD COLUMN taught_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN scale_ppb INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN switch_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN references_seen INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN references_good INTEGER NOT NULL DEFAULT 0;" /* one bit each */
    "ALTER TABLE rail ADD COLUMN trend_1_um INTEGER NOT NULL DEFAULT 0;" /* off since taught, the newest scan first */
    "ALTER TABLE rail ADD COLUMN trend_2_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_3_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_4_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_5_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_6_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_7_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN trend_8_um INTEGER NOT NULL DEFAULT 0;",
    "ALTER TABLE rail ADD COLUMN reference_1_um INTEGER NOT NULL DEFAULT 0;" /* width as first measured */
    "ALTER TABLE rail ADD COLUMN reference_2_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_3_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_4_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_5_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_6_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_7_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN reference_8_um INTEGER NOT NULL DEFAULT 0;",
/* On what a changeover's time was spent (KR_SPENT in base.h); all 0: nothing counted it. */
#define X(name, word, text) "ALTER TABLE changeover ADD COLUMN " #word "_ms INTEGER NOT NULL DEFAULT 0;"
    KR_SPENT(X)
#undef X
    /* From Start until its end, as it was planned; 0: it was not. */
    "ALTER TABLE changeover ADD COLUMN told_ms INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover ADD COLUMN cut_metres INTEGER NOT NULL DEFAULT 0;" /* as station.cut_metres then */
    "UPDATE changeover SET seal = row_seal(" CHANGEOVER_COLUMNS
    ") WHERE seal = row_seal(" CHANGEOVER_COLUMNS_BEFORE_3 ");",
    /* The same of the judged order, and of it the scans. */
    "ALTER TABLE verdict ADD COLUMN scans_ms INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE verdict ADD COLUMN verified_ms INTEGER NOT NULL DEFAULT 0;"
    "UPDATE verdict SET seal = row_seal(" VERDICT_COLUMNS ") WHERE seal = row_seal(" VERDICT_COLUMNS_BEFORE_3
    ");",
    /* By how much the rail's references were off since they were taught; nothing: no scan saw any. */
    "ALTER TABLE changeover_rail ADD COLUMN reference_um INTEGER;"
    "ALTER TABLE changeover_rail ADD COLUMN role INTEGER NOT NULL DEFAULT 0;" /* 0 upper, 1 lower */
    /* Dockings, undockings and ways of the carriage that went without a hitch, and how long they took in all. */
    "ALTER TABLE changeover_rail ADD COLUMN docks INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN undocks INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN ways INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN dock_ms INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN undock_ms INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE changeover_rail ADD COLUMN setpoint_ms INTEGER NOT NULL DEFAULT 0;" /* until the drive has it */
    "ALTER TABLE changeover_rail ADD COLUMN rounding_ms INTEGER NOT NULL DEFAULT 0;" /* beyond speed, acceleration */
    "UPDATE changeover_rail SET seal = row_seal(" CHANGEOVER_RAIL_COLUMNS
    ") WHERE seal = row_seal(" CHANGEOVER_RAIL_COLUMNS_BEFORE_3 ");",
    /* How a run ended, as it said itself. On a computer with another number of its start (boot), it went down with
     * it. */
    "CREATE TABLE run_end(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO run_end VALUES(0,'it never said'),(1,'asked'),(2,'hurried'),(3,'not started');",
    "ALTER TABLE session ADD COLUMN boot TEXT NOT NULL DEFAULT '';"
    "ALTER TABLE session ADD COLUMN ended INTEGER NOT NULL DEFAULT 0 REFERENCES run_end;"
    "ALTER TABLE session ADD COLUMN ended_at TEXT NOT NULL DEFAULT '';",
    /* What was proven, and may count again after a restart: kr_durable in station.h has the meaning of each. */
    "ALTER TABLE holder ADD COLUMN was_known INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE holder ADD COLUMN cut INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN access_count INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN proof INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN proof_inputs INTEGER NOT NULL DEFAULT 0;",
    /* What it takes to draw a changeover: the web and its slits, each rail's role, each holder's state and room. */
    "CREATE TABLE changeover_web("
    "  changeover INTEGER PRIMARY KEY REFERENCES changeover ON DELETE CASCADE, "
    "  started_by TEXT NOT NULL, " /* the address that asked for the job */
    "  left_um INTEGER, "          /* the web's operator side edge; nothing: the job had no cut lines yet */
    "  right_um INTEGER, "
    "  trim_operator_nm INTEGER, " /* 0: the edge is not trimmed */
    "  trim_drive_nm INTEGER, "
    "  seal INTEGER);"
    "CREATE TABLE changeover_slit("
    "  changeover INTEGER NOT NULL REFERENCES changeover ON DELETE CASCADE, "
    "  slit INTEGER NOT NULL, "
    "  left_um INTEGER NOT NULL, " /* two cut lines, or a cut line and an untrimmed edge of the web */
    "  right_um INTEGER NOT NULL, "
    "  width_nm INTEGER NOT NULL, "
    "  measured_um INTEGER, " /* nothing: not all of its knives were measured */
    "  seal INTEGER, "
    "  PRIMARY KEY(changeover, slit)) WITHOUT ROWID;",
    "ALTER TABLE changeover_holder ADD COLUMN state INTEGER NOT NULL DEFAULT 0;" /* as holder.state */
    "ALTER TABLE changeover_holder ADD COLUMN body_um INTEGER NOT NULL DEFAULT 0;"
    "UPDATE changeover_holder SET seal = row_seal(" CHANGEOVER_HOLDER_COLUMNS
    ") WHERE seal = row_seal(" CHANGEOVER_HOLDER_COLUMNS_BEFORE_3 ");",

    /* The ledger of knives: what each is and where, and all that became of them. */
    "CREATE TABLE knife_place(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO knife_place "
    "VALUES(0,'none'),(1,'holder'),(2,'shelf'),(3,'grinder'),(4,'broken'),(5,'scrapped');",
    "CREATE TABLE knife("
    "  knife INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, " /* when it was changed last */
    "  name TEXT NOT NULL, "
    "  kind TEXT NOT NULL, "
    "  diameter_um INTEGER NOT NULL, "  /* 0: not measured */
    "  thickness_um INTEGER NOT NULL, " /* likewise */
    "  edge_um INTEGER, "               /* NULL: not known since it was ground */
    "  place INTEGER NOT NULL REFERENCES knife_place, "
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  metres INTEGER NOT NULL, "         /* since it was ground; of one on a holder table holder has them */
    "  earlier_metres INTEGER NOT NULL, " /* before it was ground last */
    "  grinds INTEGER NOT NULL, "
    "  seal INTEGER, "
    "  UNIQUE(station, name));",
    "CREATE TABLE knife_event("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER NOT NULL REFERENCES station, "
    "  at TEXT NOT NULL, "
    "  origin TEXT NOT NULL, "
    "  knife INTEGER REFERENCES knife, " /* NULL: one without a name */
    "  kind INTEGER NOT NULL, "          /* of the maintenance request; 0: a list that was read in */
    "  rail INTEGER NOT NULL, "
    "  holder INTEGER NOT NULL, "
    "  place INTEGER NOT NULL REFERENCES knife_place, " /* where it is from then on */
    "  metres INTEGER NOT NULL, "                       /* since it was ground, until then */
    "  left_metres INTEGER NOT NULL, "                  /* of the one without a name that it replaced */
    "  edge_um INTEGER, "
    "  diameter_before_um INTEGER NOT NULL, "
    "  diameter_um INTEGER NOT NULL, "
    "  thickness_before_um INTEGER NOT NULL, "
    "  thickness_um INTEGER NOT NULL, "
    "  cause INTEGER NOT NULL, "
    "  fragments INTEGER NOT NULL, "
    "  fell_metres INTEGER, " /* LINE_METRES when VERIFIED fell last before it broke; NULL: not known */
    "  seal INTEGER);"
    "CREATE INDEX knife_event_of_knife ON knife_event(knife, id);",
    "ALTER TABLE holder ADD COLUMN knife INTEGER NOT NULL DEFAULT 0;" /* 0: one without a name, or none */
    "ALTER TABLE station ADD COLUMN was_verified INTEGER NOT NULL DEFAULT 0;" /* 1: VERIFIED stood */
    "ALTER TABLE station ADD COLUMN fell INTEGER NOT NULL DEFAULT 0;"         /* 1: VERIFIED has fallen */
    "ALTER TABLE station ADD COLUMN fell_metres INTEGER NOT NULL DEFAULT 0;"  /* LINE_METRES then */
    "ALTER TABLE station ADD COLUMN cut_metres INTEGER NOT NULL DEFAULT 0;" /* that knives have cut, in all */
    "ALTER TABLE holder ADD COLUMN knife_kind INTEGER NOT NULL DEFAULT 0;", /* digest of the knife's kind */

    /* Where a rail lies in the machine's frame, by its drive; before: what a request would bring back. */
    "CREATE TABLE frame_origin(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
    "INSERT INTO frame_origin VALUES(0,'none'),(1,'station file'),(2,'maintenance');"
    "ALTER TABLE rail ADD COLUMN frame_origin INTEGER NOT NULL DEFAULT 0;" /* 0: the station file seeds it yet */
    "ALTER TABLE rail ADD COLUMN frame_offset_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN frame_scale_ppb INTEGER NOT NULL DEFAULT 0;" /* parts of 1,000,000,000 */
    "ALTER TABLE rail ADD COLUMN frame_before_offset_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN frame_before_scale_ppb INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN expansion_ppb INTEGER NOT NULL DEFAULT 0;" /* its places are counted by */
    "ALTER TABLE rail ADD COLUMN switch_origin INTEGER NOT NULL DEFAULT 0;" /* as frame_origin */
    "ALTER TABLE rail ADD COLUMN switch_offset_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN scan_bias_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN switch_before_offset_um INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE rail ADD COLUMN scan_bias_before_um INTEGER NOT NULL DEFAULT 0;"
    "CREATE TABLE frame_point("
    "  station INTEGER NOT NULL REFERENCES station, "
    "  rail INTEGER NOT NULL, "
    "  before INTEGER NOT NULL CHECK(before IN (0, 1)), "
    "  point INTEGER NOT NULL, "
    "  at_um INTEGER NOT NULL, " /* the drive's position */
    "  error_um INTEGER NOT NULL, "
    "  PRIMARY KEY(station, rail, before, point)) WITHOUT ROWID;",

    /* What people and programs did at the gateway. */
    "CREATE TABLE audit_kind(number INTEGER PRIMARY KEY, meaning TEXT NOT NULL);"
#define X(name, number, word, rows, refill_ms) "INSERT INTO audit_kind VALUES(" #number ",'" word "');"
    KR_AUDIT_KINDS(X)
#undef X
        ,
    "CREATE TABLE audit("
    "  id INTEGER PRIMARY KEY, "
    "  station INTEGER REFERENCES station, " /* NULL: the gateway as a whole */
    "  at TEXT NOT NULL, "
    "  until TEXT NOT NULL, " /* of the last, where a row stands for several */
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
