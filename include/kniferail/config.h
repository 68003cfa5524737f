/* config: reads a libconfig file into plain structs and reports every mistake. Stands on station (headers of plain
 * data) and on the simulated machine's plain settings; daemon and cli stand on it. It reads files and keeps no state.
 * Nothing it fills holds a pointer: copy it, compare it, throw it away.
 *
 * How values are written (`kniferail help config` lists every setting):
 * - a setting's name carries its unit: web.widest_mm, period_ms, scan_speed_mm_per_s. A plain number is in that unit
 *   and is taken exactly as its digits stand in the file, not by way of a binary fraction;
 * - a string may name another unit of the same kind: "3 5/8 in", "0.5 m", "1.5 s", "12 in/s". It is exact too;
 * - what is kept in micrometres is rounded to the nearest once, halves up; order limits are kept in nanometres;
 * - every setting that can have a default has one; the machine's own geometry has none and must be given;
 * - an unknown name is a mistake, as are integers that do not fit and settings that contradict each other. */
#ifndef KNIFERAIL_CONFIG_H
#define KNIFERAIL_CONFIG_H

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
    uint16_t default_station; /* index: unit identifiers 0 and 255; n_stations: none */
    struct kr_face_limits limits;
    uint16_t n_rules;
    struct kr_face_rule rule[KR_FACE_RULES_MAX];
    uint16_t n_groups;
    struct kr_face_group group[KR_FACE_GROUPS_MAX];
    bool control_by_first_write;
    char user_application[KR_CONFIG_TEXT_MAX]; /* device identification, object 06: the plant's own words */
};

/* ---- stations -------------------------------------------------------------------------------------------------- */

/* What moves the carriages: the word in the station file, and what people read. */
#define KR_POSITIONERS(X) \
    X(SIMULATED, "simulated", "simulated machine") \
    X(MODBUS, "modbus", "drives over Modbus")
enum kr_positioner_kind {
#define X(name, word, text) KR_POSITIONER_##name,
    KR_POSITIONERS(X)
#undef X
};

const char *kr_positioner_text(enum kr_positioner_kind kind);

/* How a knife parts the web. */
#define KR_CUT_KINDS(X) \
    X(SHEAR, "shear") /* an upper knife past a lower one; the upper blade's side stroke closes them */ \
    X(SCORE, "score") /* an upper knife pressed against a plain roll (crush cut) */ \
    X(RAZOR, "razor") /* a blade through the web */
enum kr_cut_kind {
#define X(name, word) KR_CUT_##name,
    KR_CUT_KINDS(X)
#undef X
};

/* An upper rail's blades, as far as side clearance is judged by them. */
struct kr_config_blade {
    int32_t run_out_um;     /* how far the edge wanders to the side in a turn */
    int32_t side_stroke_um; /* of the blade towards its counter-knife; 0: not given */
};

struct kr_config_station {
    uint8_t unit_id;                  /* 1 to 247, unique */
    bool whole_by_both_numbers;       /* as struct kr_face_station has it */
    struct kr_station_config station; /* its name is in it; period_us is the daemon's */
    /* What seeds a new book: size, state, edge offset; a position that is given is KR_REMEMBERED, else KR_UNKNOWN. */
    struct kr_holder_data holder[KR_RAILS_MAX][KR_HOLDERS_MAX];
    enum kr_cut_kind cut;
    struct kr_config_blade blade[KR_RAILS_MAX];
    enum kr_positioner_kind positioner;
    /* Complete and checked, if that is the positioner. Else it is what kniferail-sim makes of the machine, as far as it
     * can: n_rails is 0 if what the file says makes none. */
    struct sim_config simulated;
    int32_t body_um[KR_SIZES_MAX]; /* widths of the simulated holders' bodies, by size */
    /* drive[] is complete and checked: the positioner is modbus, or drives are given all the same. */
    bool has_drives;
    struct kr_drive drive[KR_RAILS_MAX];
};

/* What the log tells. */
#define KR_LOGS(X) \
    X(EVENTS, "events") /* commands, requests, unit states, alarms, what clients and drives did wrong */ \
    X(STEPS, "steps")   /* besides, each step of each carriage */
enum kr_log {
#define X(name, word) KR_LOG_##name,
    KR_LOGS(X)
#undef X
};

/* This struct has some hundred KB: keep it static or allocate it. */
struct kr_config {
    char path[KR_CONFIG_PATH_MAX];
    uint32_t digest;      /* CRC-32 (as zlib and Ethernet have it) of the file, then of all it includes */
    int32_t period_ms;    /* of the cycle, 1 to 100 */
    int32_t speed_factor; /* whole periods of the simulated machines a tick, 1 to 1000 */
    char book_path[KR_CONFIG_PATH_MAX]; /* empty: facts are kept in memory only */
    int32_t history_days, history_mb; /* limits of the book's history, in days and 1,000,000 bytes; 0: none */
    enum kr_log log;
    struct kr_config_face face;
    uint16_t n_stations; /* at least 1 */
    struct kr_config_station station[KR_STATIONS_MAX];
};

/* ---- reading --------------------------------------------------------------------------------------------------- */

#define KR_CONFIG_ERRORS_MAX  64
#define KR_CONFIG_MESSAGE_MAX 320

/* In the order of the file; "file:line: setting: value seen; what is allowed". */
struct kr_config_errors {
    uint16_t count;                      /* of message[] */
    uint32_t lost;                       /* more mistakes than there was room for */
    uint32_t line[KR_CONFIG_ERRORS_MAX]; /* of each; 0: the file as a whole */
    char message[KR_CONFIG_ERRORS_MAX][KR_CONFIG_MESSAGE_MAX];
};

/* Reads and checks the whole file. True: *config is complete and consistent, errors->count is 0. False: *config must
 * not be used; every mistake of meaning is in *errors, or, alone, the one that stopped the reading (no such file,
 * syntax). */
bool kr_config_read(const char *path, struct kr_config *config, struct kr_config_errors *errors);

/* What a new book starts with: the holders, serial 1, no order, no verdict, no record. */
void kr_config_durable(const struct kr_config_station *station, struct kr_durable *durable);

/* The place in the file's list of sizes, from 1, of the size of that name; 0: it lists none. */
uint16_t kr_config_size_named(const struct kr_config_station *station, const char *name);

/* Index of the station of that name, or -1. NULL means the only station, if there is one only. */
int kr_config_station_named(const struct kr_config *config, const char *name);

/* ---- reading again: a file against the one that runs ----------------------------------------------------------- */

/* A setting that has another value in the file that was read anew. */
struct kr_config_difference {
    char where[128]; /* "rail 1: carriage.settle_ms", "rail 2: holder 3 and 4 more: size", "face.rules" */
    enum kr_change change;
    bool taken;             /* it now has the new value */
    char was[128], is[128]; /* "50 ms"; empty: a list, which does not fit a line */
};

/* Who is told of each difference. */
struct kr_config_listener {
    void (*tell)(void *self, const struct kr_config_difference *difference);
    void *self;
};

/* Compares *now with *next by every row of the tables, tells each difference, and takes into *now the settings whose
 * change is `most` or weaker. Beside a setting that needs a restart, geometry needs one too: the file's geometry was
 * checked together with it (the simulated machine's settings aside). Returns the strongest change among those taken;
 * KR_CHANGE_NONE: nothing was. */
enum kr_change kr_config_take(struct kr_config_station *now, const struct kr_config_station *next,
                              enum kr_change most, struct kr_config_listener listener);

/* The same of the daemon's own settings and the face's. The stations are left to kr_config_take(). */
enum kr_change kr_config_take_daemon(struct kr_config *now, const struct kr_config *next, enum kr_change most,
                                     struct kr_config_listener listener);

/* Compares what the file seeds and the book then keeps (every setting marked SEED), setting by setting: `was` is the
 * book's value, `is` the file's, and none is taken. Places, which every move changes, are left out. */
void kr_config_against_book(const struct kr_config_station *file, const struct kr_durable *book,
                            struct kr_config_listener listener);

/* What a change needs: "it needs a restart", ... */
const char *kr_change_text(enum kr_change change);

/* ---- the settings as a table, for documents -------------------------------------------------------------------- */

struct kr_config_row {
    const char *group; /* "", "face", "stations", "stations.rails", ... */
    const char *name;
    const char *meaning;
    char allowed[160];     /* "0.001 to 20000.000 mm", "one of mm, in" */
    char standard[64];     /* the default; "must be given" */
    enum kr_change change; /* KR_CHANGE_NONE: it is a group, whose own rows say it */
};
bool kr_config_row_at(size_t index, struct kr_config_row *row); /* false behind the last */

#endif
