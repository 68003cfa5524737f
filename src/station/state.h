/* Private to src/station: the whole state of a station, and what its files offer each other. A cycle runs through
 * them in the order of kr_station_step (station.c); outputs are built from the state at its end, nowhere else. */
#ifndef KR_STATION_STATE_H
#define KR_STATION_STATE_H

#include "kniferail/offsets.h"
#include "kniferail/station.h"

#define ALL_PERMISSIVES 0x1Fu
/* ---- hold-to-run (jog.c) -------------------------------------------------------------------------------------------- */

struct jog {
    uint16_t refresh;   /* as last seen */
    bool refreshed;     /* since the job began, or was resumed */
    int64_t refresh_us; /* wall time */
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
    struct kr_motion motion[KR_RAILS_MAX];
    struct kr_rail_holder rail_holder[KR_RAILS_MAX]
                                     [KR_HOLDERS_MAX]; /* of durable.holder, what the rails must know */
    uint32_t known_generation[KR_RAILS_MAX]; /* of the rails' knowledge, as it was taken over last */
    uint16_t places_seen[KR_RAILS_MAX];      /* the same, of its places_changed */
    uint16_t moves_done[KR_RAILS_MAX];       /* of the plan */

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
void position_changed(struct kr_station *s);
void positions_changed(struct kr_station *s, uint16_t n); /* n places, which are stored already */
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
int8_t jog_wanted(const struct kr_station *s);               /* -1 falling, 1 growing, 0 stand */
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
enum kr_motion_mode unit_mode(const struct kr_station *s);

/* job.c */
void job_begin(struct kr_station *s, const struct start *asked);
struct job job_asked(const struct start *asked);
struct kr_speed job_speed(const struct kr_station *s, uint16_t rail, struct kr_speed full);
void job_resume(struct kr_station *s);
bool job_step(struct kr_station *s); /* true when it is done */
void job_progress(struct kr_station *s);
int64_t job_left_us(const struct kr_station *s);

/* rails.c: each rail is moved by the part motion */
struct kr_motion_in rail_in(const struct kr_station *s,
                            uint16_t r); /* mode and resets_faults are left to the caller */
void rails_init(struct kr_station *s);
void rails_step(struct kr_station *s, enum kr_motion_mode mode, bool resets_faults);
void rail_events(struct kr_station *s, uint16_t r, const struct kr_motion_out *out);
void rail_learned(struct kr_station *s, uint16_t r); /* takes over what the rail knows now */
void rail_doubt(struct kr_station *s, uint16_t r, enum kr_known at_most);
void rail_holder_changed(struct kr_station *s, uint16_t r, uint16_t h); /* h from 0 */
bool rail_pin_is_out(const struct kr_station *s, uint16_t r);
bool rail_clamped(const struct kr_station *s, uint16_t r);
bool rail_has_datum(const struct kr_station *s, uint16_t r);
bool rail_parked(const struct kr_station *s, uint16_t r);

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
