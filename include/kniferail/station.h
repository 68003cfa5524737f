/* station: the soft PLC of one knife-positioning station. Once a cycle it turns input images and elapsed time
 * into output images. Pure: no socket, no file, no clock, no allocation, no global state; a flat struct without
 * pointers, so that a copy is a checkpoint and a replay of the same inputs gives the same outputs. Stands on
 * motion, plan and base; the daemon drives it, tests drive it in virtual time. One thread at a time.
 *
 * Slow work is asked for in the output and answered in the input of a later cycle:
 * - a plan: out.plan_ticket != 0 asks for a plan of out's plan request (kr_station_plan_request); the answer
 *   carries that ticket. A new ticket replaces the old one, whose answer is dropped.
 * - a knife: out.knife_ticket != 0 asks what the book's ledger has of the knife out.knife_name; the answer carries that
 *   ticket.
 * - storage: what must survive is one flat struct, kr_durable. When it changes its serial grows. The daemon commits
 *   copies of it, one at a time, and says in the input which serial is committed. A verdict is published and a
 *   holder docked only when the serial that contains that fact is committed. */
#ifndef KNIFERAIL_STATION_H
#define KNIFERAIL_STATION_H

#include <stddef.h>

#include "kniferail/alarm.h"
#include "kniferail/axis.h"
#include "kniferail/base.h"
#include "kniferail/map.h"
#include "kniferail/motion.h"
#include "kniferail/plan.h"

/* ---- what a station is: from the config, constant while it runs ------------------------------------------------ */

enum kr_scan_policy {
    KR_SCAN_AFTER_ACCESS, /* when positions are not measured or placed */
    KR_SCAN_ALWAYS,       /* before every changeover too */
    KR_SCAN_UNKNOWN,      /* only where a position is not known at all: remembered ones are accepted */
};

/* Where the metres that knives have cut come from. */
enum kr_metres_source {
    KR_METRES_COUNTER, /* LINE_METRES, which the PLC counts */
    KR_METRES_SPEED,   /* LINE_SPEED, summed over wall time */
};

#define KR_KNIFE_KIND_MAX   17 /* with the closing 0: 8 registers of text */
#define KR_KNIFE_LIMITS_MAX 16

/* When the knives of a kind are due for a grind. */
struct kr_knife_limit {
    char kind[KR_KNIFE_KIND_MAX];
    uint32_t due_metres;    /* that a knife may cut between two grinds; above 0 */
    uint32_t notice_metres; /* so many before them are told of; 0: none, less than due_metres */
};

struct kr_station_config {
    char name[KR_NAME_MAX];
    char size_name[KR_SIZES_MAX][KR_SIZE_NAME_MAX]; /* of geometry's n_sizes */
    struct kr_format format;
    struct kr_geometry geometry;
    struct kr_carriage_config carriage[KR_RAILS_MAX];
    int32_t period_us;
    int32_t deadband_um;    /* at most half of each tolerance below, so that what fails a check also moves */
    int32_t pair_window_um; /* measured upper edge minus lower edge, off the side clearance, either way */
    int32_t slit_tolerance_um; /* measured slit width off the (compensated) order, either way */
    int32_t offset_step_um; /* a greater change of an edge offset has to be written twice; 0: none has to */
    uint8_t corrections_max;
    int32_t heartbeat_limit_ms; /* a heartbeat that stands still for so long stops motion */
    int32_t control_limit_ms;   /* and for so long: control is lost. At least heartbeat_limit_ms */
    int32_t plan_limit_ms;      /* a plan that takes longer is an alarm */
    int32_t job_late_percent;   /* a changeover that takes this much of its planned time is named; 0: never */
    /* KR_PERMIT_...: the permissives that each kind of motion needs. */
    uint16_t need_scan, need_drag, need_home, need_jog;
    /* KR_PERMIT_...: permissives that come from digital inputs of the axes (of every rail), not from the register. */
    uint16_t drive_inputs;
    uint16_t access;          /* KR_PERMIT_... without which hands may move holders */
    bool brakes_hold;         /* the file's statement that holders stay where they are without power */
    bool setup_mode_enforced; /* the file's statement that the safety system bounds a jog with open guards */
    enum kr_scan_policy scan_policy;
    enum kr_metres_source metres_source;
    int32_t line_stands_um_per_s; /* with KR_METRES_SPEED: a line that is faster does not stand */
    uint16_t n_knife_limits;
    struct kr_knife_limit knife_limit[KR_KNIFE_LIMITS_MAX];
};

/* The station knows the kind of a knife on a holder by this number alone, which fits what must survive: a digest of the
 * kind's text, never 0. Two kinds of one station's limits never have the same (config.h). */
uint32_t kr_knife_kind_digest(const char *kind);

/* What another value of a setting asks of a station that runs; each includes the ones before it. */
enum kr_change {
    KR_CHANGE_NONE,
    KR_CHANGE_LIVE,     /* it is taken at any time, also in motion */
    KR_CHANGE_UNVERIFY, /* it is taken at any time; a verification that was judged by the old value is undone */
    KR_CHANGE_GEOMETRY, /* it is taken when the unit is Stopped or Idle: positions are measured from it, or by it, so
                         * that they are only remembered afterwards, and the staged order is planned anew */
    KR_CHANGE_RESTART, /* the gateway was set up by it at its start */
    KR_CHANGE_SEED,    /* it seeds a new book, which keeps the value from then on */
};

#define KR_QUEUE_MAX          8 /* orders behind the staged one */
#define KR_RECIPES_MAX        64
#define KR_STRIP_OFF_MAX_UM   5000 /* a test cut's strip further off its ordered width is a slip of the pen */
#define KR_STRIPS_MAX         256  /* pairs of holders that test cuts may tie together */
#define KR_JOG_REFRESH_MS     300  /* wall time: a jog that isn't refreshed stops */
#define KR_BOOK_FREE_KB       4096 /* less room than this for the book is told of: a checkpoint's worth */
#define KR_BOOK_LATE_MS       10000  /* wall time: a book that stores nothing for so long is told of */
#define KR_EDGE_OFFSET_MAX_UM 200000 /* either way: beyond that it is a slip of the pen */
#define KR_ORIGIN_MAX         46     /* who asked, as text: an IPv4 or IPv6 address with its closing 0 */

/* ---- what must survive a power cut ----------------------------------------------------------------------------- */

struct kr_holder_data {
    int32_t position_um;
    int32_t edge_offset_um;
    uint32_t metres;       /* that its knife has cut since its regrind or swap */
    uint16_t dock_retries; /* in all */
    uint8_t known;         /* enum kr_known */
    uint8_t holder_size;
    uint8_t state;  /* enum kr_holder_state */
    uint8_t origin; /* enum kr_origin, of its place */
    uint8_t edge;   /* enum kr_edge */
    /* How the place was known before hands may have been there, as long as that may count again; else 0. */
    uint8_t was_known;
    uint16_t cut;        /* with proof: the cut line that it makes in the order in force, 0 idle */
    uint32_t knife;      /* number of its knife in the book's ledger; 0: one without a name, or none */
    uint32_t knife_kind; /* digest of the kind of that knife; 0 without one */
};

struct kr_verdict {
    uint16_t session, number, kind; /* number 0: no verdict yet */
    struct kr_result result;
    uint32_t order_number, replaced_order;
    uint16_t slit_count;
    int64_t sum_nm;
    int32_t time_ms;               /* of its moves */
    int32_t scans_ms, verified_ms; /* of its scans; from Start until it is verified. 0: not told */
};

/* A maintenance request, and what became of it. Kinds that are for no single holder have what was written there. */
struct kr_edit {
    uint16_t session, number, kind; /* number 0: none yet; enum kr_edit_kind */
    uint16_t rail, holder;          /* as asked */
    uint16_t holder_size;
    int32_t edge_offset_um, position_um;
    struct kr_result result;
    char origin[KR_ORIGIN_MAX]; /* who asked */
};

#define KR_KNIFE_NAME_MAX      25      /* with the closing 0: 12 registers of text */
#define KR_KNIFE_DIMENSION_MAX 2000000 /* micrometres: beyond that it is a slip of the pen */

/* What became of a knife by the maintenance request that was accepted last. The book enters it in the ledger of knives
 * with the commit that stores the request; a station that starts has none. */
struct kr_knife_event {
    uint32_t number;       /* other than that of the event before; 0: none */
    uint32_t knife;        /* its number in the ledger; 0: one without a name, or with ENTER a new one */
    uint16_t kind;         /* enum kr_edit_kind: REGRIND, SWAP, ENTER ... SCRAP */
    uint16_t rail, holder; /* that it is on, or was until then; 0: none */
    uint16_t to;           /* enum kr_knife_place: where it is now */
    uint16_t cause;        /* enum kr_knife_cause */
    uint16_t fragments;    /* enum kr_knife_fragments */
    uint32_t metres; /* that it has cut since it was ground, until then; with MOUNT what it begins with */
    uint32_t left_metres; /* with MOUNT: that the knife without a name, which it replaces, has cut */
    uint32_t fell_metres; /* with BROKEN: LINE_METRES when VERIFIED fell last */
    uint8_t fell_known;   /* 0, 1: whether it has fallen */
    uint8_t edge_known;   /* 0, 1 */
    int32_t edge_um;      /* its edge position: the edge offset of a holder that it is on */
    int32_t diameter_um, thickness_um; /* 0: not said */
    char name[KR_KNIFE_NAME_MAX];      /* with ENTER */
    char kind_name[KR_KNIFE_KIND_MAX]; /* likewise */
};

struct kr_record_rail {
    uint16_t moves, corrections, retries;
    uint16_t worst_holder;
    int32_t worst_um;
    /* What a plan reckons with, counted and summed as struct kr_timing has it. */
    uint16_t docks, undocks, ways;
    int32_t dock_ms, undock_ms, setpoint_ms, rounding_ms;
};

struct kr_record {
    uint16_t number;  /* steps with every record */
    uint16_t outcome; /* enum kr_outcome */
    uint16_t job;
    uint32_t order_number;
    int32_t planned_ms, actual_ms, total_ms;
    /* From Start until its end, as it was told when its first plan was there; 0: it had none. */
    int32_t told_ms;
    int32_t worst_pair_um, worst_slit_um;
    struct kr_record_rail rail[KR_RAILS_MAX];
    struct kr_alarm cause; /* why it is not verified; code 0: it is */
};

struct kr_durable {
    uint32_t serial; /* grows with every change */
    struct kr_holder_data holder[KR_RAILS_MAX][KR_HOLDERS_MAX];
    /* The holder that the carriage may be moving; 0: none. After a power cut its place is unknown. */
    uint16_t docking[KR_RAILS_MAX];
    /* 0, 1: the common clamp may be open. After a power cut the whole rail is unknown. */
    uint8_t clamp_open[KR_RAILS_MAX];
    uint8_t datum_doubted[KR_RAILS_MAX]; /* 0, 1: it jumped, the encoder failed ...: only homing mends that */
    uint8_t rests[KR_RAILS_MAX];         /* 0, 1: the carriage stood at rest_um with its drive off */
    int32_t rest_um[KR_RAILS_MAX];
    int32_t shift_um[KR_RAILS_MAX]; /* by so much the holders were found off alike; 0: they were not */
    struct kr_reference_knowledge references[KR_RAILS_MAX];
    /* Where each drive's positions lie in the frame, and what a request would bring back; without what references have
     * found. The station file seeds it. */
    uint8_t frame_origin[KR_RAILS_MAX]; /* enum kr_frame_origin; NONE: it is not seeded yet */
    struct kr_frame frame[KR_RAILS_MAX];
    struct kr_frame frame_before[KR_RAILS_MAX]; /* of KR_FRAME_FROM_PERSON */
    uint16_t access_count[KR_RAILS_MAX]; /* under which the holders' places are known; 0: without a count */
    /* That the order in force was placed and the line might be started: a digest of the rail's settings then, and
     * the inputs of pin, brake and clamp (KR_DI_...). 0: it was not, or hands may have been there since. */
    uint32_t proof[KR_RAILS_MAX];
    uint16_t proof_inputs[KR_RAILS_MAX];
    uint8_t was_verified;     /* 0, 1: VERIFIED stands; also after a restart, until its fall is noted */
    uint8_t fell;             /* 0, 1: VERIFIED has fallen */
    uint32_t fell_metres;     /* LINE_METRES when it fell last: the rolls wound then may hold fragments */
    uint32_t cut_metres;      /* that knives in the web have cut, in the life of the book */
    uint8_t staged, in_force; /* 0, 1: whether the orders below are there */
    struct kr_order staged_order, order;
    uint16_t n_queued;
    /* The orders behind the staged one, the next one first. Empty while nothing is staged. */
    struct kr_order queue[KR_QUEUE_MAX];
    /* recipe[n - 1] is recipe n; 0 slits: it is empty. Order numbers of recipes mean nothing. */
    struct kr_order recipe[KR_RECIPES_MAX];
    struct kr_verdict verdict;
    struct kr_record record;
    struct kr_edit edit; /* the last one that was judged */
    struct kr_knife_event knife_event;
};

/* ---- the images ------------------------------------------------------------------------------------------------ */

struct kr_plan_answer {
    uint32_t ticket; /* 0: none */
    struct kr_result result;
    struct kr_plan plan;
};

/* What the ledger has of a knife that was asked for by its name. */
struct kr_knife_answer {
    uint32_t ticket;    /* 0: none */
    uint8_t failed;     /* 0, 1: the ledger can't be read */
    uint8_t place;      /* enum kr_knife_place; NONE: there is no such knife, and what follows is 0 */
    uint8_t edge_known; /* 0, 1 */
    int32_t edge_um;
    uint32_t knife;  /* its number, 1 or more */
    uint32_t kind;   /* digest of its kind */
    uint32_t metres; /* that it has cut since it was ground, unless it is on a holder */
};

struct kr_station_in {
    int32_t dt_us; /* machine time since the last step: the period */
    /* Wall time since the last step, for heartbeats. It is less than dt_us when the simulation runs faster. */
    int32_t wall_dt_us;
    /* from the face */
    struct kr_snapshot request, command, edit; /* blocks ORDER, COMMAND and EDIT */
    char edit_origin[KR_ORIGIN_MAX];           /* who wrote EDIT, as text: for the history */
    uint16_t halt;                             /* enum kr_command, see KR_HALTS; 0: none in this cycle */
    uint16_t plc_heartbeat, permissives; /* block LINE as it counts: written together, heartbeat changed */
    uint32_t line_metres;                /* block LINE as it stands: a counter */
    uint16_t line_speed;                 /* the same: 0.1 m/min */
    uint16_t crash, crash_cut;           /* the same: KR_CRASH_...; a cut's number, 0: not known */
    uint16_t frame_temperature_ck; /* block LINE as it stands: hundredths of a kelvin; 0: none is sent */
    uint16_t access_count;         /* as plc_heartbeat: the count that came with it; 0: none did */
    uint16_t jog_refresh;          /* block JOG as it stands */
    int16_t jog_direction;
    bool controlled;             /* some client is in control */
    uint32_t control_generation; /* steps when control changes hands or is lost */
    /* from the daemon */
    uint32_t committed_serial; /* of kr_durable, the newest that is stored */
    bool book_failed;          /* the last attempt to store failed */
    bool book_gone;      /* the book's file is no longer the one that was opened; nothing can be stored */
    bool book_disk_full; /* less than KR_BOOK_FREE_KB can be written where it lies */
    bool shut_down;      /* stop in a controlled way and stay there */
    struct kr_knife_answer knife;
    uint32_t cycles, overruns;
    /* from the positioner and the planner */
    struct kr_axis_in axis[KR_RAILS_MAX];
    /* Stays the last field: it is large, and copied only when it carries a ticket. */
    struct kr_plan_answer plan;
};
_Static_assert(offsetof(struct kr_station_in, plan) + sizeof(struct kr_plan_answer) ==
                   sizeof(struct kr_station_in),
               "plan is the last field of kr_station_in");

/* Lay the registers of block LINE, and of block JOG, into the input of a cycle; word[0] is the block's first
 * register. */
void kr_station_in_line(struct kr_station_in *in, const uint16_t *word, struct kr_format format);
void kr_station_in_jog(struct kr_station_in *in, const uint16_t *word);

struct kr_station_out {
    struct kr_axis_out axis[KR_RAILS_MAX];
    uint32_t plan_ticket;  /* 0: no plan is wanted */
    uint32_t knife_ticket; /* 0: nothing is asked of the ledger */
    char knife_name[KR_KNIFE_NAME_MAX];
    bool request_busy; /* a request is being judged */
    bool edit_busy;    /* a maintenance request is being judged */
    /* The heartbeat has been silent for control_limit_ms: the client in control loses control. */
    bool drop_control;
    bool moving;           /* something moves or may move */
    bool at_rest;          /* with shut_down: the process may end */
    struct kr_result halt; /* what became of in.halt */
};

/* ---- where a station is: for stories of what it did ------------------------------------------------------------ */

/* What one rail is doing. Phase and holder are numbers of the register map. */
struct kr_rail_steps {
    int64_t wait_since_ms; /* machine time; also that of a wait that begins again */
    int32_t wait_limit_ms; /* 0: none */
    int32_t target_um;     /* of the drive's last set-point */
    uint16_t phase;        /* enum kr_carriage_phase */
    uint16_t wait;         /* enum kr_wait_kind */
    uint16_t holder;       /* that the step is about; 0: none */
    uint16_t move;         /* number in the plan, with a holder */
};

#define KR_STEPS_ALARMS_MAX 8 /* those that stop something before notices; the first explain the later */

struct kr_station_steps {
    int64_t now_ms; /* machine time since the start */
    uint32_t order_number;
    uint16_t unit_state, job, phase;       /* enum kr_unit_state, kr_job, kr_phase */
    uint16_t command_number, command_code; /* the last one, and its result */
    uint16_t verdict_number, verdict_code; /* the same of requests */
    uint16_t edit_number, edit_code;       /* and of maintenance requests */
    uint16_t n_alarms;                     /* in alarm[] */
    struct kr_alarm alarm[KR_STEPS_ALARMS_MAX];
    struct kr_rail_steps rail[KR_RAILS_MAX];
};

/* ---- the station ----------------------------------------------------------------------------------------------- */

struct kr_station;            /* flat; its fields belong to src/station */
size_t kr_station_size(void); /* bytes the caller must bring, aligned as malloc's */

/* session: new at every start, 1 to 65535. durable: what was stored, or what the config seeds a new book with; copied.
 * Measured and placed positions in it are remembered from now on. The config is copied too. */
void kr_station_init(struct kr_station *station, const struct kr_station_config *config, uint16_t session,
                     const struct kr_durable *durable);

/* The strongest change that the unit's state allows now: KR_CHANGE_GEOMETRY when it is Stopped or Idle, else
 * KR_CHANGE_UNVERIFY. */
enum kr_change kr_station_takes(const struct kr_station *station);

/* Takes another config, copied, and does what the strongest change in it asks for: `strongest` is the caller's word,
 * and the station compares no settings. Returns false, and changes nothing, if the unit's state does not allow that
 * change (kr_station_takes), or if the config has another number of rails, or of holders on a rail: new holders come
 * with a new start, which gives them data; or if a carriage would not reach all that it has to by the frame that counts
 * (kr_carriage_reaches). The config's frames are not taken: they seed kr_durable, which has them from then on. */
bool kr_station_reconfigure(struct kr_station *station, const struct kr_station_config *config,
                            enum kr_change strongest);

/* One cycle. Writes *out afresh from the state. */
void kr_station_step(struct kr_station *station, const struct kr_station_in *in, struct kr_station_out *out);

/* Writes the station's registers; the face adds those that differ from client to client. */
void kr_station_image(const struct kr_station *station, struct kr_image *image);

/* The request that plan_ticket stands for; valid until the next step. */
const struct kr_plan_request *kr_station_plan_request(const struct kr_station *station);

/* ---- what a job will take -------------------------------------------------------------------------------------- */

struct kr_telling {
    bool from_park;   /* the carriages begin there, else where the request has them */
    bool scans_first; /* positions are measured before anything moves */
    bool moves;       /* the plan's moves are made */
    bool verifies;    /* a scan comes behind them */
    bool reduced;     /* at the setup speed */
};
struct kr_told {
    int64_t moves_us; /* of the plan's moves */
    int64_t scans_us; /* of the scans before and behind them */
    /* From Start until the carriages are parked and all is verified; corrections left out. */
    int64_t verified_us;
};

/* Tells it from a plan and its request, which says where the carriages stand and how fast they go. Needs no station. */
struct kr_told kr_station_tell(const struct kr_station_config *config, const struct kr_plan_request *request,
                               const struct kr_plan *plan, struct kr_telling how);

/* Where the station is after its last step. Writes all of *steps, what lies between its fields too, so that two of them
 * can be compared by memcmp(). */
void kr_station_steps(const struct kr_station *station, struct kr_station_steps *steps);

/* What must be stored; valid until the next step. */
const struct kr_durable *kr_station_durable(const struct kr_station *station);

/* For logs, records and tests: the unit state, the standing alarms, the plan in force. Valid until the next step. Of
 * the alarms the first KR_ALARMS_MAX are the list that clients read; those behind it stand just as well. */
enum kr_unit_state kr_station_state(const struct kr_station *station);
uint16_t kr_station_alarms(const struct kr_station *station, const struct kr_alarm **alarm);
const struct kr_result *kr_station_refusal(
    const struct kr_station *station); /* why no plan was possible; NULL unless PLAN_REFUSED stands */
const struct kr_plan *kr_station_plan(const struct kr_station *station);
bool kr_station_plan_valid(
    const struct kr_station *station); /* false: that plan is of an older order, or there is none */

#endif
