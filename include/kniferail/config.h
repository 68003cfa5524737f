/* config: reads a libconfig file into plain structs, and reports every mistake. It stands on station (headers of plain
 * data) and on the plain settings of the simulated machine; daemon and cli stand on it. It reads files and keeps no
 * state. Nothing that it fills holds a pointer: you may copy it, compare it, and throw it away.
 *
 * How values are written (`kniferail help config` lists every setting):
 * - The name of a setting carries its unit: web.widest_mm, period_ms, scan_speed_mm_per_s. A plain number is in that
 *   unit, and is taken exactly as its digits stand in the file, not by way of a binary fraction.
 * - A string may name another unit of the same kind: "3 5/8 in", "0.5 m", "1.5 s", "12 in/s". It is exact, too.
 * - A value that is kept in micrometres is rounded once, to the nearest, halves up. Order limits are kept in
 *   nanometres.
 * - Every setting that can have a default has one. The geometry of the machine has none, and must be given.
 * - An unknown name is a mistake, and so are integers that do not fit and settings that contradict each other. */
#ifndef KNIFERAIL_CONFIG_H
#define KNIFERAIL_CONFIG_H

#include "kniferail/acceptance.h"
#include "kniferail/admission.h"
#include "kniferail/drivemap.h"
#include "kniferail/station.h"
#include "sim/config.h"

#define KR_CONFIG_TEXT_MAX 121 /* an identification text, with its closing 0 */
#define KR_CONFIG_PATH_MAX 1024

/* ---- the Modbus/TCP server ------------------------------------------------------------------------------------- */

struct kr_config_face {
    uint16_t n_listen; /* at least 1 */
    struct kr_face_listen listen[KR_FACE_LISTEN_MAX];
    uint16_t default_station; /* index of the station for unit identifiers 0 and 255; n_stations: none */
    struct kr_face_limits limits;
    uint16_t n_rules;
    struct kr_face_rule rule[KR_FACE_RULES_MAX];
    uint16_t n_groups;
    struct kr_face_group group[KR_FACE_GROUPS_MAX];
    bool control_by_first_write;
    /* Device identification, object 06: a text of the plant's own. */
    char user_application[KR_CONFIG_TEXT_MAX];
};

/* ---- stations -------------------------------------------------------------------------------------------------- */

/* What moves the carriages: name, word in the station file, text for people. */
#define KR_POSITIONERS(X) \
    X(SIMULATED, "simulated", "simulated machine") \
    X(MODBUS, "modbus", "drives over Modbus")
enum kr_positioner_kind {
#define X(name, word, text) KR_POSITIONER_##name,
    KR_POSITIONERS(X)
#undef X
};

const char *kr_positioner_text(enum kr_positioner_kind kind);

/* How a knife cuts the web. */
#define KR_CUT_KINDS(X) \
    X(SHEAR, "shear") /* an upper knife passes a lower one, and the side stroke of its blade closes them */ \
    X(SCORE, "score") /* an upper knife presses against a plain roll (crush cut) */ \
    X(RAZOR, "razor") /* a blade passes through the web */
enum kr_cut_kind {
#define X(name, word) KR_CUT_##name,
    KR_CUT_KINDS(X)
#undef X
};

/* The dimensions of an upper rail's blades that matter for side clearance. */
struct kr_config_blade {
    int32_t run_out_um;     /* how far the edge moves sideways in one turn */
    int32_t side_stroke_um; /* stroke of the blade towards its counter-knife; 0: not given */
};

struct kr_config_station {
    uint8_t unit_id;                  /* 1 to 247, unique */
    bool whole_by_both_numbers;       /* as in struct kr_face_station */
    struct kr_station_config station; /* contains the station's name; the daemon sets its period_us */
    /* The holders with which a new book begins: size, state, edge offset. A position from the file is KR_REMEMBERED;
     * without one it is KR_UNKNOWN. */
    struct kr_holder_data holder[KR_RAILS_MAX][KR_HOLDERS_MAX];
    struct kr_acceptance acceptance;
    enum kr_cut_kind cut;
    struct kr_config_blade blade[KR_RAILS_MAX];
    enum kr_positioner_kind positioner;
    /* If the positioner is the simulated machine, this is complete and checked. Otherwise it is the machine that
     * kniferail-sim makes from the same file, as far as the file allows: n_rails is 0 if it does not allow one. */
    struct sim_config simulated;
    int32_t body_um[KR_SIZES_MAX]; /* widths of the simulated holders' bodies, by size */
    /* True: drive[] is complete and checked, because the positioner is modbus, or because the file gives drives all the
     * same. */
    bool has_drives;
    struct kr_drive drive[KR_RAILS_MAX];
};

/* The content of the log. */
#define KR_LOGS(X) \
    X(EVENTS, "events") /* commands, requests, unit states, alarms, faults of clients and drives */ \
    X(STEPS, "steps")   /* also each step of each carriage */
enum kr_log {
#define X(name, word) KR_LOG_##name,
    KR_LOGS(X)
#undef X
};

/* The size of this struct is some hundred KB: keep it static or allocate it. */
struct kr_config {
    char path[KR_CONFIG_PATH_MAX];
    /* CRC-32 (as zlib and Ethernet have it) over the file and then over all files that it includes. */
    uint32_t digest;
    int32_t period_ms;                  /* period of the cycle, 1 to 100 */
    int32_t speed_factor;               /* cycles of the simulated machines in each tick, 1 to 1000 */
    char book_path[KR_CONFIG_PATH_MAX]; /* empty: the book is kept in memory only */
    /* Limits of the book's history, in days and in units of 1,000,000 bytes; 0: no limit. */
    int32_t history_days, history_mb;
    enum kr_log log;
    struct kr_config_face face;
    uint16_t n_stations; /* at least 1 */
    struct kr_config_station station[KR_STATIONS_MAX];
};

/* ---- reading --------------------------------------------------------------------------------------------------- */

#define KR_CONFIG_ERRORS_MAX  64
#define KR_CONFIG_MESSAGE_MAX 320

/* The mistakes, in the sequence of the file: "file:line: setting: value seen; what is allowed". */
struct kr_config_errors {
    uint16_t count;                      /* number of messages */
    uint32_t lost;                       /* number of mistakes for which there was no room */
    uint32_t line[KR_CONFIG_ERRORS_MAX]; /* line of each mistake; 0: the file as a whole */
    char message[KR_CONFIG_ERRORS_MAX][KR_CONFIG_MESSAGE_MAX];
};

/* Reads and checks the whole file. True: *config is complete and consistent, and errors->count is 0. False: *config
 * must not be used, and *errors has every mistake in the settings, or only the one that stopped the reading (no such
 * file, syntax). */
bool kr_config_read(const char *path, struct kr_config *config, struct kr_config_errors *errors);

/* Makes what a new book starts with: the holders, serial 1, no order, no verdict, no record. */
void kr_config_durable(const struct kr_config_station *station, struct kr_durable *durable);

/* Returns the number, from 1, of the size of that name in the file's list of sizes; 0: the list does not have it. */
uint16_t kr_config_size_named(const struct kr_config_station *station, const char *name);

/* Returns the index of the station of that name, or -1. A name of NULL means the only station, if there is only one. */
int kr_config_station_named(const struct kr_config *config, const char *name);

/* ---- reading again: a file against the one that runs ----------------------------------------------------------- */

/* A setting that has another value in a file that was read anew. */
struct kr_config_difference {
    /* For instance "rail 1: carriage.settle_ms", "rail 2: holder 3 and 4 more: size" or "face.rules". */
    char where[128];
    enum kr_change change;
    bool taken;             /* the setting now has the new value */
    char was[200], is[200]; /* for instance "50 ms"; empty: a list, which does not fit in a line */
};

/* Receives each difference. */
struct kr_config_listener {
    void (*tell)(void *self, const struct kr_config_difference *difference);
    void *self;
};

/* Compares *now with *next by every row of the tables, and tells each difference. It takes the new value of a setting
 * into *now if the change is `most` or weaker. If a setting needs a restart, geometry needs one too, because the file's
 * geometry was checked together with that setting; settings of the simulated machine are the exception. Returns the
 * strongest change among those that were taken; KR_CHANGE_NONE: none was. */
enum kr_change kr_config_take(struct kr_config_station *now, const struct kr_config_station *next, enum kr_change most,
                              struct kr_config_listener listener);

/* Does the same with the settings of the daemon and of the face. It leaves the stations to kr_config_take(). */
enum kr_change kr_config_take_daemon(struct kr_config *now, const struct kr_config *next, enum kr_change most,
                                     struct kr_config_listener listener);

/* Compares the settings that the book was seeded with and has kept since (every setting marked SEED) with those of the
 * file. `was` is the book's value, `is` is the file's, and no value is taken. Positions are left out, because every
 * move changes them. */
void kr_config_against_book(const struct kr_config_station *file, const struct kr_durable *book,
                            struct kr_config_listener listener);

/* Tells every setting of a station that has a value of its own. `is` is the value, and `where` is the name that a
 * difference of it would have. For a list, `is` is the number of its entries and a checksum over them. Settings of
 * single holders and of the simulated machine are left out. The station is unchanged afterwards. */
void kr_config_tell_settings(struct kr_config_station *station, struct kr_config_listener listener);

/* Says what a change needs: "it needs a restart" and so on. */
const char *kr_change_text(enum kr_change change);

/* ---- the settings as a table, for documents -------------------------------------------------------------------- */

struct kr_config_row {
    const char *group; /* "", "face", "stations", "stations.rails", ... */
    const char *name;
    const char *meaning;
    char allowed[200];     /* for instance "0.001 to 20000.000 mm" or "one of mm, in" */
    char standard[64];     /* the default, or "must be given" */
    enum kr_change change; /* KR_CHANGE_NONE: a group, whose own rows tell it */
};
bool kr_config_row_at(size_t index, struct kr_config_row *row); /* false behind the last */

#endif
