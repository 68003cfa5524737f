/* Private to src/station: the whole state of a station, and what its files offer each other. A cycle runs through
 * them in the order of kr_station_step (station.c); outputs are built from the state at its end, nowhere else. */
#ifndef KR_STATION_STATE_H
#define KR_STATION_STATE_H

#include "kniferail/offsets.h"
#include "kniferail/station.h"

#define ALL_PERMISSIVES 0x1Fu
#define HITS_MAX        (2 * KR_HOLDERS_MAX) /* flags in one pass, foreign ones included */

/* ---- one drive: CiA 402 walked by its statusword (drive.c) ----------------------------------------------------- */

enum setpoint {
    SETPOINT_NONE,
    SETPOINT_CLEARING, /* waits until the drive can take one: acknowledge 0 */
    SETPOINT_OFFERED,  /* new set-point 1, waits for acknowledge 1 */
    SETPOINT_TAKEN,    /* new set-point 0, waits for acknowledge 0 */
    SETPOINT_RUNNING,  /* waits for target reached */
    SETPOINT_REACHED,
};

struct drive {
    bool on, halt, quick_stop;
    bool homing; /* in homing mode; the start bit follows setpoint */
    enum setpoint setpoint;
    int32_t target_um;
    struct kr_speed speed;
    uint32_t proof;             /* serial of the output that began the present set-point step */
    int64_t since_ms, limit_ms; /* of the present set-point step */
};

/* ---- one pass of the proximity switch over the flags (scan.c) ---------------------------------------------------- */

struct hit {
    int32_t at_um; /* the flag's centre, switch offset added */
    int32_t width_um;
};

enum scan_step { SCAN_TO_START, SCAN_ARMING, SCAN_PASS, SCAN_DONE };

struct scan {
    enum scan_step step;
    uint8_t pass; /* 0 growing, 1 falling */
    uint8_t n_passes;
    bool rise_pending;
    uint16_t rise_count, fall_count; /* as last seen */
    int32_t rise_um;
    uint16_t n_hits[2];
    struct hit hit[2][HITS_MAX]; /* in the order they were met */
};

/* ---- one carriage (carriage.c, wind_down.c) ----------------------------------------------------------------------- */

enum task { TASK_NONE, TASK_FREE, TASK_HOME, TASK_SCAN, TASK_MOVES, TASK_TRAVEL, TASK_JOG };
enum wind_down { WIND_DECELERATE, WIND_BRAKE, WIND_OFF, WIND_UNDOCK };
enum run_mode { MODE_RUN, MODE_STOP_AND_UNDOCK, MODE_STOP, MODE_QUICK_STOP };

/* What the positions seen so far say. Times are those at which the images were taken, not when they came. */
struct motion {
    uint8_t n_samples; /* 0: nothing known, 1: a position, 2: a speed as well */
    uint32_t answers;  /* of the newest sample */
    int64_t sample_us;
    int32_t at_um;
    int64_t speed_um_per_s;
    int32_t still_um; /* where it has been standing */
    int64_t still_since_ms;
};

struct carriage {
    uint16_t rail;
    enum kr_carriage_phase phase;
    int64_t since_ms; /* machine time at which the phase began */
    uint32_t proof;   /* serial of the output that began the phase: older input proves nothing */
    enum task task;
    bool task_done;
    bool met;            /* its drive has answered since the start */
    uint16_t docked;     /* holder that the pin is in or may be in; 0: none */
    uint16_t move;       /* index of the present move of the plan */
    uint16_t moves_done; /* of the plan, also when the task is another by now */
    uint8_t tries;
    uint8_t leg;        /* of a drag: 0 first, 1 the final approach */
    bool brake_is_open; /* the docked holder may be free of the rail */
    bool clamp_open;    /* the rail's common clamp is wanted open */
    enum wind_down wind_down;
    uint32_t docking_serial; /* of kr_durable: contains that the present holder is about to be docked */
    struct motion motion;
    struct drive drive;
    struct scan scan;
};

/* ---- hold-to-run (jog.c) -------------------------------------------------------------------------------------------- */

enum jog_step { JOG_STANDING, JOG_RUNNING, JOG_HALTING, JOG_SETTLING };

struct jog {
    uint16_t refresh;   /* as last seen */
    bool refreshed;     /* since the job began, or was resumed */
    int64_t refresh_us; /* wall time */
    enum jog_step step;
    int8_t direction;
};

/* ---- the job (job.c) --------------------------------------------------------------------------------------------- */

/* What a Start asks for, as it was written. */
struct start {
    uint16_t job, rail, holder, speed;
    int32_t position_um;
};

struct job {
    uint16_t kind;      /* enum kr_job; of the present or last Start */
    uint16_t rail;      /* from COMMAND_RAIL: 0 all */
    uint16_t holder;    /* with a single move */
    int32_t to_um;      /* with a single move */
    bool reduced;       /* at reduced speed */
    uint16_t rail_mask; /* rails that take part in the present phase */
    enum kr_phase phase;
    bool phase_begun;
    uint32_t stored_serial; /* of kr_durable: contains what the present phase waits for */
    bool scanned;           /* everything was measured in this job and nothing moved since */
    bool correcting;        /* the plan in force is a correction */
    bool replanned;         /* after an interruption */
    uint8_t corrections;
    int64_t began_ms, phase_ms;
    int64_t planned_us, moving_us; /* moving_us: of the moves that are no corrections */
    uint16_t percent;
    bool late;
};

/* ---- requests (intake.c) ------------------------------------------------------------------------------------------- */

/* Of kr_durable, what a request can change (queue.c). */
struct waiting {
    uint8_t staged;
    uint16_t n_queued;
    struct kr_order staged_order, queue[KR_QUEUE_MAX], recipe;
};

/* Orders as they are shown: as far as the book has them. */
struct orders_shown {
    uint32_t in_force, staged; /* their numbers; 0: none */
    uint16_t n_queued;
    uint32_t queue[KR_QUEUE_MAX];
};

enum intake_step { INTAKE_FREE, INTAKE_WAITS, INTAKE_PLANNING, INTAKE_STORING };

struct intake {
    enum intake_step step;
    struct kr_snapshot last; /* of the last request that was taken */
    uint16_t number, session, kind, recipe;
    struct kr_order order;
    struct kr_verdict verdict; /* being made */
    struct waiting before;     /* what to go back to if it can't be stored */
    uint32_t serial;
};

/* ---- metres run (metres.c) ------------------------------------------------------------------------------------------ */

struct metres {
    bool seen; /* counter is one that the line's next value may be compared with */
    uint32_t counter;
    int64_t part;     /* of a metre, by the speed: 0.1 m/min times microseconds */
    uint32_t pending; /* not given to the holders yet */
};

/* ---- maintenance requests (edit.c) ---------------------------------------------------------------------------------- */

struct editing {
    bool storing;
    struct kr_snapshot last; /* of the last request that was taken */
    struct kr_edit edit;     /* being stored, or the last that was */
    struct kr_holder_data before;
    uint32_t serial;
};

/* ---- test cuts (offsets.c) ------------------------------------------------------------------------------------------ */

/* Of the last verified placement of the order in force: who makes which edge, and where it stood. */
struct placed {
    bool valid;
    uint16_t rail, n_slits, n_cuts, first_slit_edge;
    uint16_t holder[KR_CUTS_MAX]; /* from 1 */
    int32_t centre_um[KR_CUTS_MAX];
};

struct offsets {
    struct placed placed;
    uint16_t n_strips, test_cuts;
    struct kr_strips strips[KR_STRIPS_MAX];
    bool proposed;
    struct kr_offsets fit;
    uint16_t n_residuals;
    int32_t residual_um[KR_SLITS_MAX];
    int32_t before_um[KR_HOLDERS_MAX]; /* to go back to if it can't be stored */
};

enum plan_user { PLAN_FOR_NOBODY, PLAN_FOR_REQUEST, PLAN_FOR_JOB };

/* ---- the station ------------------------------------------------------------------------------------------------------ */

struct kr_station {
    struct kr_station_config config;
    uint16_t session;

    /* time */
    int64_t now_us, now_ms; /* machine time */
    int64_t wall_us;
    uint32_t serial; /* of the output image that this cycle makes */

    struct kr_station_in in;

    /* unit */
    enum kr_unit_state state;
    int64_t state_ms;      /* machine time at which it began */
    uint32_t start_serial; /* of kr_durable: contains what Start put in force */
    bool start_storing;    /* it put an order in force, and the book hasn't got that yet */
    struct orders_shown before_start;
    struct job job;
    struct jog jog;
    struct metres metres;
    struct carriage carriage[KR_RAILS_MAX];

    /* permissives */
    uint16_t plc_heartbeat;
    int64_t heartbeat_us; /* wall time of its last change, or of the last change of control */
    bool heartbeat_seen, heartbeat_fresh;
    bool control_lost; /* since the last cycle */
    uint32_t control_generation;
    uint16_t permissives; /* as they count */

    /* alarms */
    struct kr_alarm alarm[KR_ALARMS_MAX];
    uint16_t n_alarms, alarms_lost;
    enum kr_reaction reaction; /* strongest of those raised in this cycle */
    struct kr_result refusal;  /* of the job's last plan; told while PLAN_REFUSED stands */

    /* orders and plans */
    struct intake intake;
    struct editing editing;
    struct kr_edit edited; /* as published */
    struct offsets offsets;
    struct kr_snapshot command_last;
    uint16_t command_number;
    struct kr_result command_result;
    struct kr_verdict verdict;      /* as published */
    int32_t staged_ms, in_force_ms; /* planned for these orders when they were accepted; 0: not known */
    uint32_t plan_ticket, tickets;
    enum plan_user plan_user;
    int64_t plan_asked_us; /* wall time */
    struct kr_plan_request plan_request;
    bool plan_valid; /* plan belongs to the order in force */
    struct kr_plan plan;
    bool cuts_valid;
    struct kr_cuts cuts; /* of the order in force */

    int32_t flag_width_um[KR_RAILS_MAX][KR_HOLDERS_MAX]; /* as last measured; 0: not since the start */

    uint16_t slips[KR_RAILS_MAX][KR_HOLDERS_MAX]; /* placements out of tolerance, since the start */

    /* results */
    bool verified;
    int32_t slit_measured_um[KR_SLITS_MAX];
    bool slits_measured;
    struct kr_durable durable;
    uint32_t committed_seen;
    int64_t committed_us;    /* wall time at which it grew, or nothing waited */
    struct kr_record record; /* being made */
    uint16_t order_generation, position_generation, edit_generation;
};

/* durable.c: what must survive */
void durable_touch(struct kr_station *s);
void durable_watch(struct kr_station *s);
bool durable_committed(const struct kr_station *s, uint32_t serial);
void holder_set(struct kr_station *s, uint16_t rail, uint16_t holder, int32_t position_um,
                enum kr_known known);
void holders_demote(struct kr_station *s, uint16_t rail, enum kr_known at_most);
void position_changed(struct kr_station *s);
bool holder_present(const struct kr_holder_data *holder);
bool scan_is_due(const struct kr_station *s);
void order_into_force(struct kr_station *s, const struct kr_order *order);

/* alarms.c */
void alarm_raise(struct kr_station *s, struct kr_alarm alarm);
bool alarms_acknowledge(
    struct kr_station *s); /* true if none is left whose cause stands and that stops a job */
bool alarm_stops(const struct kr_station *s, struct kr_alarm *first);

/* permit.c */
void permit_step(struct kr_station *s);
uint16_t permit_needed(const struct kr_station *s, enum kr_job job, enum kr_phase phase);
uint16_t permit_missing(const struct kr_station *s, uint16_t needed);

/* intake.c, command.c */
void intake_step(struct kr_station *s);
void command_step(struct kr_station *s);
bool plan_ask(struct kr_station *s, enum plan_user user);
const struct kr_plan_answer *plan_answer(struct kr_station *s, enum plan_user user);
void plan_drop(struct kr_station *s); /* what was asked for is not wanted any more */
void plan_positions(const struct kr_station *s, struct kr_plan_request *request);

/* edit.c, offsets.c */
void edit_step(struct kr_station *s);
struct kr_holder_data edit_shown(const struct kr_station *s, uint16_t rail, uint16_t h); /* h from 0 */
void plan_outdated(struct kr_station *s);
struct kr_result offsets_request(struct kr_station *s, uint16_t kind);
void offsets_end(struct kr_station *s, uint16_t kind, bool stored);
int32_t offsets_before_um(const struct kr_station *s, uint16_t rail,
                          uint16_t h); /* while applied ones are stored */
void offsets_placed(struct kr_station *s);
void offsets_touched(struct kr_station *s, uint16_t rail, uint16_t holder);

/* queue.c */
bool queue_needs_plan(uint16_t kind);
struct kr_result queue_judge(const struct kr_station *s, uint16_t kind, uint16_t recipe);
void queue_recall(const struct kr_station *s, uint16_t kind, uint16_t recipe, struct kr_order *order);
uint32_t queue_replaced(const struct kr_station *s, uint16_t kind);
void queue_apply(struct kr_station *s, uint16_t kind, uint16_t recipe, const struct kr_order *order);
void queue_keep(const struct kr_station *s, uint16_t recipe, struct waiting *before);
void queue_restore(struct kr_station *s, uint16_t recipe, const struct waiting *before);
void queue_stored(struct kr_station *s, uint16_t kind, int32_t time_ms); /* what was applied is a fact */
struct orders_shown queue_shown(const struct kr_station *s);
void queue_start(struct kr_station *s); /* the staged order comes into force, the next one moves up */

/* metres.c */
void metres_step(struct kr_station *s);
void metres_give(struct kr_station *s);
uint32_t metres_pending(const struct kr_station *s, uint16_t rail, uint16_t h); /* h from 0 */
void metres_notices(struct kr_station *s);
bool metres_over(const struct kr_station *s, const struct kr_alarm *alarm);

/* jog.c, single.c */
void jog_watch(struct kr_station *s);
void jog_begin(struct kr_station *s);
void jog_step(struct kr_station *s, struct carriage *c);
bool jog_enabled(const struct kr_station *s, uint16_t rail); /* from 1 */
struct kr_result single_judge(const struct kr_station *s, const struct job *job);
void single_plan(const struct kr_station *s, struct kr_plan *plan);

/* unit.c */
void unit_enter(struct kr_station *s, enum kr_unit_state state);
struct kr_result unit_command(struct kr_station *s, enum kr_command command, const struct start *asked);
void unit_step(struct kr_station *s);
void unit_react(struct kr_station *s);
bool unit_in_job(const struct kr_station *s); /* between Start and its end, interruptions included */
bool unit_resets_faults(const struct kr_station *s);
enum run_mode unit_mode(const struct kr_station *s);

/* job.c */
void job_begin(struct kr_station *s, const struct start *asked);
struct job job_asked(const struct start *asked);
struct kr_speed job_speed(const struct kr_station *s, uint16_t rail, struct kr_speed full);
void job_resume(struct kr_station *s);
bool job_step(struct kr_station *s); /* true when it is done */
void job_progress(struct kr_station *s);
int64_t job_left_us(const struct kr_station *s);

/* drive.c */
void drive_move(struct kr_station *s, struct carriage *c, int32_t target_um, struct kr_speed speed);
void drive_home(struct kr_station *s, struct carriage *c);
void drive_step(struct kr_station *s, struct carriage *c);
void drive_outputs(const struct kr_station *s, const struct carriage *c, struct kr_axis_out *out);

/* carriage.c, supervise.c, motion.c, wind_down.c */
const struct kr_axis_in *axis_of(const struct kr_station *s, const struct carriage *c);
bool carriage_fresh(const struct kr_station *s, const struct carriage *c);
bool carriage_input(const struct kr_station *s, const struct carriage *c, uint16_t on, uint16_t off);
bool pin_is_out(const struct kr_station *s, const struct carriage *c);
bool pin_is_in(const struct kr_station *s, const struct carriage *c);
void carriage_enter(struct kr_station *s, struct carriage *c, enum kr_carriage_phase phase);
void carriage_task(struct kr_station *s, struct carriage *c, enum task task);
void carriage_trip(struct kr_station *s, struct carriage *c, enum kr_alarm_code code, uint16_t item,
                   int32_t value, int32_t limit);
void carriage_step(struct kr_station *s, struct carriage *c, enum run_mode mode);
void carriage_outputs(const struct kr_station *s, const struct carriage *c, struct kr_axis_out *out);
void carriage_supervise(struct kr_station *s, struct carriage *c);
bool carriage_at_rest(const struct carriage *c);
bool carriage_parked(const struct kr_station *s, const struct carriage *c);
bool carriage_clamped(const struct kr_station *s, const struct carriage *c);
bool carriage_still(const struct kr_station *s, const struct carriage *c);
bool carriage_has_datum(const struct kr_station *s, const struct carriage *c);
void motion_step(struct kr_station *s, struct carriage *c);
void motion_forget(struct carriage *c);
void wind_down_begin(struct kr_station *s, struct carriage *c);
bool wind_down_found_running(struct kr_station *s, struct carriage *c);
void clamp_again(struct kr_station *s, struct carriage *c);
void wind_down_step(struct kr_station *s, struct carriage *c, enum run_mode mode);

/* scan.c, match.c */
void scan_begin(struct kr_station *s, struct carriage *c);
bool scan_both_ways(const struct kr_station *s, uint16_t rail);
void scan_step(struct kr_station *s, struct carriage *c);
uint16_t scan_probe(const struct carriage *c);
bool widths_agree(int32_t a_um, int32_t b_um, int32_t flag_um);
bool match_hits(struct kr_station *s, struct carriage *c, const struct hit hit[], uint16_t n_hits);

/* verify.c */
bool verify_can_judge(const struct kr_station *s); /* every holder that cuts is measured */
bool verify_placement(struct kr_station *s, bool raise_alarms);
int32_t order_tolerance_um(const struct kr_station *s);
uint16_t slitting_rail(const struct kr_station *s);

/* record.c */
void record_begin(struct kr_station *s);
void record_end(struct kr_station *s, enum kr_outcome outcome);

/* station.c: to the line */
uint16_t line_status(const struct kr_station *s);

#endif
