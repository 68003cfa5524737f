/* station: the soft PLC of one knife-positioning station. In each cycle it turns input images and elapsed time into
 * output images. It is pure: it uses no socket, no file, no clock, no allocation and no global state. Its state is
 * one flat struct without pointers, so a copy is a checkpoint, and a replay of the same inputs gives the same
 * outputs. The station stands on motion, plan and base. The daemon steps it by the clock, and tests step it in
 * virtual time. Only one thread at a time may use a station.
 *
 * The station asks for slow work in its output, and gets the answer in the input of a later cycle:
 * - A plan: while out.plan_ticket is not 0, the station wants a plan for kr_station_plan_request(). The answer
 *   carries that ticket. A new ticket replaces the old one, and the station drops an answer to the old one.
 * - A knife: while out.knife_ticket is not 0, the station wants to know what the book's ledger says of the knife
 *   out.knife_name. The answer carries that ticket.
 * - Storage: one flat struct, kr_durable, holds everything that must survive a power cut. Its serial grows with every
 *   change. The daemon commits copies of it, one at a time, and in.committed_serial names the newest one that is
 *   stored. The station publishes a verdict, and docks a holder, only when the serial that contains that fact is
 *   stored. */
#ifndef KNIFERAIL_STATION_H
#define KNIFERAIL_STATION_H

#include <stddef.h>

#include "kniferail/alarm.h"
#include "kniferail/axis.h"
#include "kniferail/base.h"
#include "kniferail/map.h"
#include "kniferail/motion.h"
#include "kniferail/plan.h"

/* ---- a station's settings: from the station file, changed by kr_station_reconfigure() alone -------------------- */

/* When a job that moves holders scans the rails first. */
enum kr_scan_policy {
    KR_SCAN_AFTER_ACCESS, /* when a position is neither measured nor placed */
    KR_SCAN_ALWAYS,       /* as KR_SCAN_AFTER_ACCESS, and before every changeover */
    KR_SCAN_UNKNOWN,      /* only when a position is unknown: a remembered position is accepted */
};

/* The source of the metres that knives have cut. */
enum kr_metres_source {
    KR_METRES_COUNTER, /* LINE_METRES, which the PLC counts */
    KR_METRES_SPEED,   /* LINE_SPEED, which the station sums over wall time */
};

#define KR_KNIFE_KIND_MAX   17 /* with the closing 0: 8 registers of text */
#define KR_KNIFE_LIMITS_MAX 16

/* When the knives of a kind are due for a grind. */
struct kr_knife_limit {
    char kind[KR_KNIFE_KIND_MAX];
    uint32_t due_metres; /* metres that a knife may cut between two grinds; above 0 */
    /* GRIND_SOON names the knife this many metres before due_metres. It is less than due_metres; 0: no notice. */
    uint32_t notice_metres;
};

struct kr_station_config {
    char name[KR_NAME_MAX];
    char size_name[KR_SIZES_MAX][KR_SIZE_NAME_MAX]; /* geometry.n_sizes names of holder sizes */
    struct kr_format format;
    struct kr_geometry geometry;
    struct kr_carriage_config carriage[KR_RAILS_MAX];
    int32_t period_us;
    /* A holder this near to its target is not moved. It is at most half of each tolerance, so that a holder that
     * fails a check is also moved. */
    int32_t deadband_um;
    /* Largest error of the measured distance from a lower edge to its upper edge, in both directions. */
    int32_t pair_window_um;
    int32_t slit_tolerance_um;  /* largest error of a slit's measured width, in both directions */
    int32_t offset_step_um;     /* a greater change of an edge offset has to be written twice; 0: no limit */
    uint8_t corrections_max;    /* rounds of correction in one job */
    int32_t heartbeat_limit_ms; /* motion stops when the PLC's heartbeat has not changed for so long */
    int32_t control_limit_ms;   /* the PLC then loses control; at least heartbeat_limit_ms */
    int32_t plan_limit_ms;      /* a plan that takes longer raises an alarm */
    /* A changeover that takes this percentage of its planned time raises JOB_LATE; 0: never. */
    int32_t job_late_percent;
    /* KR_PERMIT_... bits: the permissives that each kind of motion needs. */
    uint16_t need_scan, need_drag, need_home, need_jog;
    /* KR_PERMIT_... bits: these permissives come from digital inputs of every rail's axes, not from the register. */
    uint16_t drive_inputs;
    uint16_t access;  /* KR_PERMIT_... bits: while one of them is missing, hands may move holders */
    bool brakes_hold; /* the station file states that holders stay where they are without power */
    /* The station file states that the safety system bounds a jog with open guards. */
    bool setup_mode_enforced;
    enum kr_scan_policy scan_policy;
    enum kr_metres_source metres_source;
    int32_t line_stands_um_per_s; /* with KR_METRES_SPEED: a line that is faster than this is running */
    uint16_t n_knife_limits;
    struct kr_knife_limit knife_limit[KR_KNIFE_LIMITS_MAX];
};

/* Returns a digest of the text of a knife's kind, never 0. The station stores the kind of a holder's knife as this
 * digest. The reader of station files makes sure that no two kinds in one station's limits have the same digest. */
uint32_t kr_knife_kind_digest(const char *kind);

/* How a running station takes a new value of a setting. Each kind of change includes the effects of those before it. */
enum kr_change {
    KR_CHANGE_NONE,
    KR_CHANGE_LIVE, /* the station takes the value at any time, also in motion */
    /* As KR_CHANGE_LIVE, and a verification that was judged by the old value is undone. */
    KR_CHANGE_UNVERIFY,
    /* The station takes the value when the unit is Stopped or Idle. Positions depend on the setting, so they are only
     * remembered afterwards, and the staged order is planned anew. */
    KR_CHANGE_GEOMETRY,
    KR_CHANGE_RESTART, /* the gateway takes the value at its next start */
    KR_CHANGE_SEED,    /* the value seeds a new book; the book keeps its own value from then on */
};

#define KR_QUEUE_MAX          8 /* orders behind the staged one */
#define KR_RECIPES_MAX        64
#define KR_STRIP_OFF_MAX_UM   5000   /* a strip that is said to be further off its ordered width is refused */
#define KR_STRIPS_MAX         256    /* pairs of holders whose strips test cuts can keep */
#define KR_JOG_REFRESH_MS     300    /* wall time after which a jog stops that was not refreshed */
#define KR_BOOK_FREE_KB       4096   /* less free disk space than this raises an alarm; one checkpoint needs it */
#define KR_BOOK_LATE_MS       10000  /* wall time: a book that stores nothing for so long raises an alarm */
#define KR_EDGE_OFFSET_MAX_UM 200000 /* either way; a greater edge offset is refused */
#define KR_ORIGIN_MAX         46     /* a client's IPv4 or IPv6 address as text, with its closing 0 */

/* ---- what must survive a power cut ----------------------------------------------------------------------------- */

/* One holder, and the knife on it. */

struct kr_holder_data {
    int32_t position_um;
    int32_t edge_offset_um;
    uint32_t metres;       /* metres that its knife has cut since its regrind or swap */
    uint16_t dock_retries; /* docking retries since its swap */
    uint8_t known;         /* enum kr_known */
    uint8_t holder_size;
    uint8_t state;  /* enum kr_holder_state */
    uint8_t origin; /* enum kr_origin: the origin of the position */
    uint8_t edge;   /* enum kr_edge: how its cutting edge is proven */
    /* How the position was known before hands may have been at the holder, if that grade may count again; else 0. */
    uint8_t was_known;
    /* While kr_durable.proof of the rail is not 0: the cut that it makes in the order in force; 0: it is idle. */
    uint16_t cut;
    uint32_t knife;      /* number of its knife in the book's ledger; 0: a knife without a name, or none */
    uint32_t knife_kind; /* kr_knife_kind_digest() of that knife's kind; 0: no such knife */
};

/* The answer to the order request that was judged last. */
struct kr_verdict {
    uint16_t session, number, kind; /* of the request; number 0: no request was judged yet */
    struct kr_result result;
    uint32_t order_number, replaced_order;
    uint16_t slit_count;
    int64_t sum_nm;      /* sum of the slit widths */
    int32_t time_ms;     /* planned time of the order's moves */
    int32_t scans_ms;    /* planned time of its scans; 0: not known */
    int32_t verified_ms; /* planned time from Start until the order is verified; 0: not known */
};

/* A maintenance request and its result. A request that is not for one holder keeps rail and holder as written. */
struct kr_edit {
    uint16_t session, number; /* of the request; number 0: no request was judged yet */
    uint16_t kind;            /* enum kr_edit_kind */
    uint16_t rail, holder;    /* as the client wrote them */
    uint16_t holder_size;
    int32_t edge_offset_um, position_um;
    struct kr_result result;
    char origin[KR_ORIGIN_MAX]; /* address of the client that asked */
};

/* The strips of the last accepted maintenance request with a test cut, and what they have proven. The book stores them
 * in the same commit as the request. A station that starts has none. */
struct kr_test_cut {
    uint32_t number; /* differs from the number of the test cut before; 0: none */
    uint32_t order_number;
    uint16_t rail; /* the rail that slits, from 1 */
    uint16_t n_strips;
    uint8_t pairs_looked_at; /* 0, 1: the request states it */
    struct kr_test_cut_strip {
        int64_t ordered_nm, measured_nm;  /* 0: it was not measured */
        uint16_t proven[2][KR_RAILS_MAX]; /* at its left and its right side: holder whose edge was proven; 0: none */
    } strip[KR_SLITS_MAX];
};

#define KR_KNIFE_NAME_MAX      25      /* with the closing 0: 12 registers of text */
#define KR_KNIFE_DIMENSION_MAX 2000000 /* micrometres; a larger diameter or thickness is refused */

/* The event in a knife's life that the last accepted maintenance request reported. The book enters it in the ledger
 * of knives in the same commit that stores the request. A station that starts has no event. */
struct kr_knife_event {
    uint32_t number;       /* differs from the number of the event before; 0: no event */
    uint32_t knife;        /* the knife's number in the ledger; 0: it has no name, or ENTER makes its entry */
    uint16_t kind;         /* enum kr_edit_kind: REGRIND, SWAP, ENTER ... SCRAP */
    uint16_t rail, holder; /* the holder that the knife is on, or was on before the event; 0: none */
    uint16_t to;           /* enum kr_knife_place: the knife's place after the event */
    uint16_t cause;        /* enum kr_knife_cause */
    uint16_t fragments;    /* enum kr_knife_fragments */
    /* Metres that the knife had cut since it was ground; with MOUNT the metres that it begins with on the holder. */
    uint32_t metres;
    uint32_t left_metres; /* with MOUNT: metres that the replaced knife without a name had cut */
    uint32_t fell_metres; /* with BROKEN: LINE_METRES when VERIFIED fell last */
    uint8_t fell_known;   /* 0, 1: VERIFIED has fallen, and fell_metres counts */
    uint8_t edge_known;   /* 0, 1: edge_um counts */
    int32_t edge_um;      /* the knife's edge position, which is the edge offset of the holder that it is on */
    int32_t diameter_um, thickness_um; /* 0: not given */
    char name[KR_KNIFE_NAME_MAX];      /* with ENTER */
    char kind_name[KR_KNIFE_KIND_MAX]; /* with ENTER */
};

/* One rail's part in the record of a job. */
struct kr_record_rail {
    uint16_t moves, corrections, retries;
    uint16_t worst_holder; /* number of the holder with the largest error; 0: none was measured */
    int32_t worst_um;      /* its error, signed */
    /* Counts and sums of the times that a plan calculates with, as in struct kr_timing. */
    uint16_t docks, undocks, ways;
    int32_t dock_ms, undock_ms, setpoint_ms, rounding_ms;
};

/* The record of the job that ended last. */
struct kr_record {
    uint16_t number;  /* grows by one with every record, and skips 0 */
    uint16_t outcome; /* enum kr_outcome */
    uint16_t job;     /* enum kr_job */
    uint32_t order_number;
    int32_t planned_ms, actual_ms; /* time of the moves: planned, and in fact */
    int32_t total_ms;              /* from Start until the end, stops included */
    /* From Start until the end, as predicted when the job's first plan was made; 0: the job had no plan. */
    int32_t told_ms;
    int32_t worst_pair_um, worst_slit_um; /* the largest errors, signed */
    struct kr_record_rail rail[KR_RAILS_MAX];
    struct kr_alarm cause; /* why the job ended without verification; code 0: it is verified */
};

/* The times of a rail that go into plans, as in struct kr_rail_geometry. */
struct kr_rail_times {
    int32_t dock_us, undock_us, setpoint_us, rounding_us;
};

/* Everything that must survive a power cut. The station changes it, and the book stores it. */
struct kr_durable {
    uint32_t serial; /* grows with every change */
    struct kr_holder_data holder[KR_RAILS_MAX][KR_HOLDERS_MAX];
    /* The holder that the carriage may be moving; 0: none. After a power cut the position of that holder is unknown. */
    uint16_t docking[KR_RAILS_MAX];
    /* 0, 1: the common clamp may be open. After a power cut the positions of all holders of the rail are unknown. */
    uint8_t clamp_open[KR_RAILS_MAX];
    uint8_t datum_doubted[KR_RAILS_MAX]; /* 0, 1: as in struct kr_rail_knowledge */
    uint8_t rests[KR_RAILS_MAX];         /* 0, 1: the carriage stood at rest_um with its drive off */
    int32_t rest_um[KR_RAILS_MAX];       /* in the drive's own position */
    int32_t shift_um[KR_RAILS_MAX];      /* as in struct kr_rail_knowledge */
    struct kr_reference_knowledge references[KR_RAILS_MAX];
    /* The frame of each rail, without the correction that references have found. The station file seeds the frame. A
     * maintenance request may set it, and may restore frame_before. */
    uint8_t frame_origin[KR_RAILS_MAX]; /* enum kr_frame_origin; NONE: the frame is not seeded yet */
    struct kr_frame frame[KR_RAILS_MAX];
    struct kr_frame frame_before[KR_RAILS_MAX]; /* counts with KR_FRAME_FROM_PERSON */
    /* The proximity switch of each rail and the bias of its scans, in the same way. */
    uint8_t switch_origin[KR_RAILS_MAX];
    struct kr_switch of_switch[KR_RAILS_MAX];
    struct kr_switch switch_before[KR_RAILS_MAX];
    /* The planned times of each rail, in the same way. */
    uint8_t times_origin[KR_RAILS_MAX];
    struct kr_rail_times times[KR_RAILS_MAX];
    struct kr_rail_times times_before[KR_RAILS_MAX];
    /* ACCESS_COUNT when the positions were found; 0: the PLC sent none. */
    uint16_t access_count[KR_RAILS_MAX];
    /* A proof says that the order in force was placed and that the line might be started. proof is a digest of the
     * rail's settings at that time, and proof_inputs are the inputs of pin, brake and clamp (KR_DI_...). proof is 0
     * if there is no proof, or if hands may have been at the rail since. */
    uint32_t proof[KR_RAILS_MAX];
    uint16_t proof_inputs[KR_RAILS_MAX];
    uint8_t was_verified;     /* 0, 1: VERIFIED stands; after a restart, too, until its fall is noted */
    uint8_t fell;             /* 0, 1: VERIFIED has fallen, and fell_metres counts */
    uint32_t fell_metres;     /* LINE_METRES when VERIFIED fell last: the rolls wound then may hold fragments */
    uint32_t cut_metres;      /* metres that the line has cut in the life of the book */
    uint8_t staged, in_force; /* 0, 1: staged_order counts, order counts */
    struct kr_order staged_order, order;
    uint16_t n_queued;
    /* The orders behind the staged one, the next one first. The queue is empty while no order is staged. */
    struct kr_order queue[KR_QUEUE_MAX];
    /* recipe[n - 1] is recipe n. A recipe without slits is empty. The order number of a recipe has no meaning. */
    struct kr_order recipe[KR_RECIPES_MAX];
    struct kr_verdict verdict;
    struct kr_record record;
    struct kr_edit edit; /* the request that was judged last */
    struct kr_knife_event knife_event;
    struct kr_test_cut test_cut;
};

/* ---- the images ------------------------------------------------------------------------------------------------ */

struct kr_plan_answer {
    uint32_t ticket; /* 0: none */
    struct kr_result result;
    struct kr_plan plan;
};

/* The ledger's answer about the knife whose name the station gave. */
struct kr_knife_answer {
    uint32_t ticket;    /* 0: no answer */
    uint8_t failed;     /* 0, 1: the ledger can't be read */
    uint8_t place;      /* enum kr_knife_place; NONE: there is no such knife, and all fields below are 0 */
    uint8_t edge_known; /* 0, 1: edge_um counts */
    int32_t edge_um;    /* the knife's edge position */
    uint32_t knife;     /* its number, 1 or more */
    uint32_t kind;      /* kr_knife_kind_digest() of its kind */
    uint32_t metres;    /* metres that it has cut since it was ground, unless it is on a holder */
};

struct kr_station_in {
    int32_t dt_us; /* machine time since the last step: the period */
    /* Wall time since the last step, for heartbeats. It is less than dt_us when a simulated machine runs faster. */
    int32_t wall_dt_us;
    /* From the face: */
    struct kr_snapshot request, command, edit; /* blocks ORDER, COMMAND and EDIT */
    char edit_origin[KR_ORIGIN_MAX];           /* address of the client that wrote EDIT, for the history */
    uint16_t halt;                             /* enum kr_command, see KR_HALTS; 0: none in this cycle */
    /* plc_heartbeat, permissives and access_count are from the last write to block LINE that changed the heartbeat.
     * All other registers of blocks LINE and JOG are as they stand now. */
    uint16_t plc_heartbeat, permissives;
    uint32_t line_metres;          /* a counter */
    uint16_t line_speed;           /* 0.1 m/min */
    uint16_t crash, crash_cut;     /* KR_CRASH_... bits; number of the cut, 0: not known */
    uint16_t frame_temperature_ck; /* hundredths of a kelvin; 0: the PLC sends none */
    uint16_t access_count;         /* 0: that write had none */
    uint16_t jog_refresh;
    int16_t jog_direction;
    bool controlled;             /* a client is in control */
    uint32_t control_generation; /* grows when control changes hands or is lost */
    /* From the daemon: */
    uint32_t committed_serial; /* serial of the newest kr_durable that is stored */
    bool book_failed;          /* the last attempt to store failed */
    bool book_gone;            /* the book's file is no longer the one that was opened; nothing can be stored */
    bool book_disk_full;       /* the book's disk has less than KR_BOOK_FREE_KB of free space */
    bool shut_down;            /* the station is to stop in a controlled way and to stay stopped */
    struct kr_knife_answer knife;
    uint32_t cycles, overruns; /* counted by the daemon, for the image */
    /* From the positioner and the planner: */
    struct kr_axis_in axis[KR_RAILS_MAX];
    /* plan stays the last field: it is large, and is copied only when it carries a ticket. */
    struct kr_plan_answer plan;
};
_Static_assert(offsetof(struct kr_station_in, plan) + sizeof(struct kr_plan_answer) == sizeof(struct kr_station_in),
               "plan is the last field of kr_station_in");

/* These write the registers of block LINE, or of block JOG, into the input of a cycle. word[0] is the block's first
 * register. */
void kr_station_in_line(struct kr_station_in *in, const uint16_t *word, struct kr_format format);
void kr_station_in_jog(struct kr_station_in *in, const uint16_t *word);

struct kr_station_out {
    struct kr_axis_out axis[KR_RAILS_MAX];
    uint32_t plan_ticket;  /* 0: no plan is wanted */
    uint32_t knife_ticket; /* 0: the station asks for no knife */
    char knife_name[KR_KNIFE_NAME_MAX];
    bool request_busy; /* an order request is being judged */
    bool edit_busy;    /* a maintenance request is being judged */
    /* The heartbeat has not changed for control_limit_ms: the face takes control from the client that has it. */
    bool drop_control;
    bool moving;           /* something moves or may move */
    bool at_rest;          /* nothing moves and everything is stored: with shut_down the process may end */
    struct kr_result halt; /* the answer to in.halt */
};

/* ---- the steps of a station: for accounts of what it did ------------------------------------------------------- */

/* The step that one rail is in. Phases and holders have their numbers of the register map. */
struct kr_rail_steps {
    int64_t wait_since_ms; /* machine time at which the rail began to wait */
    int32_t wait_limit_ms; /* 0: none */
    int32_t target_um;     /* the drive's last set-point, in its own position */
    uint16_t phase;        /* enum kr_carriage_phase */
    uint16_t wait;         /* enum kr_wait_kind */
    uint16_t holder;       /* number of the holder that the step is about; 0: none */
    uint16_t move;         /* number of the move in the plan; 0: the step is about no holder */
};

#define KR_STEPS_ALARMS_MAX 8

struct kr_station_steps {
    int64_t now_ms; /* machine time since the start */
    uint32_t order_number;
    uint16_t unit_state, job, phase;       /* enum kr_unit_state, kr_job, kr_phase */
    uint16_t command_number, command_code; /* the last command and its result */
    uint16_t verdict_number, verdict_code; /* the last order request and its result */
    uint16_t edit_number, edit_code;       /* the last maintenance request and its result */
    uint16_t n_alarms;
    /* Alarms that stop something come first, then notices, each in the sequence in which they were raised. */
    struct kr_alarm alarm[KR_STEPS_ALARMS_MAX];
    struct kr_rail_steps rail[KR_RAILS_MAX];
};

/* ---- the station ----------------------------------------------------------------------------------------------- */

struct kr_station; /* a flat struct; its fields belong to src/station */

/* Returns the size of a station in bytes. The caller brings the memory, aligned as malloc() aligns it. */
size_t kr_station_size(void);

/* Prepares a station for its first step. config and durable are copied. session differs at every start and is 1 to
 * 65535. durable is what the book has stored, or what the station file seeds a new book with. Positions that are
 * measured or placed in it become remembered. */
void kr_station_init(struct kr_station *station, const struct kr_station_config *config, uint16_t session,
                     const struct kr_durable *durable);

/* Returns the strongest change that the unit's state allows now: KR_CHANGE_GEOMETRY while the unit is Stopped or
 * Idle, else KR_CHANGE_UNVERIFY. */
enum kr_change kr_station_takes(const struct kr_station *station);

/* Copies another config, and does what the strongest change in it asks for. The caller says in `strongest` which
 * change that is; the station compares no settings. The frames, switches and planned times in the config are not
 * taken, because kr_durable has its own. Returns false, and changes nothing, in each of these cases:
 * - The unit's state does not allow the change (kr_station_takes).
 * - The config has another number of rails, or of holders on a rail. New holders need a new start, which gives them
 *   data.
 * - A carriage could not reach all places that it has to reach, by the frame in kr_durable (kr_carriage_reaches). */
bool kr_station_reconfigure(struct kr_station *station, const struct kr_station_config *config,
                            enum kr_change strongest);

/* Makes one cycle. *out is written afresh from the state. */
void kr_station_step(struct kr_station *station, const struct kr_station_in *in, struct kr_station_out *out);

/* Writes the station's registers. The face adds those that differ from client to client. */
void kr_station_image(const struct kr_station *station, struct kr_image *image);

/* Returns the request that belongs to out.plan_ticket. It is valid until the next step. */
const struct kr_plan_request *kr_station_plan_request(const struct kr_station *station);

/* ---- the time that a job will take ----------------------------------------------------------------------------- */

struct kr_telling {
    bool from_park;   /* the carriages start at park_um, not where the request says that they stand */
    bool scans_first; /* the job scans before anything moves */
    bool moves;       /* the job makes the plan's moves */
    bool verifies;    /* the job scans after the moves */
    bool reduced;     /* the job runs at reduced speed */
    uint16_t known;   /* bit r: kr_motion_flags_known() of rail r as the job starts */
};
struct kr_told {
    int64_t moves_us; /* time of the plan's moves */
    int64_t scans_us; /* time of the scans before and after the moves */
    /* From Start until the order is verified and the carriages are parked, without corrections. */
    int64_t verified_us;
};

/* Returns the planned times of a job. The request says where the carriages stand and how fast they travel. */
struct kr_told kr_station_tell(const struct kr_station_config *config, const struct kr_plan_request *request,
                               const struct kr_plan *plan, struct kr_telling how);

/* ---- questions to a station. Every pointer that is returned is valid until the next step. ---------------------- */

/* Writes the steps that the station is in after its last cycle. The padding of *steps is 0, so that memcmp() can
 * compare two of them. */
void kr_station_steps(const struct kr_station *station, struct kr_station_steps *steps);

/* Returns what must be stored. */
const struct kr_durable *kr_station_durable(const struct kr_station *station);

enum kr_unit_state kr_station_state(const struct kr_station *station);

/* Returns the number of standing alarms, and points *alarm to them. Clients read the first KR_ALARMS_MAX of them. */
uint16_t kr_station_alarms(const struct kr_station *station, const struct kr_alarm **alarm);

/* Returns why no plan was possible; NULL unless PLAN_REFUSED stands. */
const struct kr_result *kr_station_refusal(const struct kr_station *station);

/* Returns the plan that was made last. kr_station_plan_valid() is false if there is none, or if it is a plan of an
 * older order. */
const struct kr_plan *kr_station_plan(const struct kr_station *station);
bool kr_station_plan_valid(const struct kr_station *station);

#endif
