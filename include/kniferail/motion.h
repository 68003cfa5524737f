/* motion: one rail. It brings holders to places, looks where they are, jogs, homes, releases pins, and stops. Pure: no
 * socket, no file, no clock, no allocation, no global state. It knows no order, no unit state, no PLC and no book:
 * what to do comes as a task and a list of moves, what may be done as a mode. Stands on plan and base; the station
 * stands on it, and a test can drive one rail without a station. One thread at a time for each rail.
 *
 * A cycle of a rail: kr_motion_meet(), kr_motion_step(), kr_motion_outputs(), all with the same input. The outputs are
 * made afresh from the state, the statusword and resets_faults: nothing stays on by accident. All other functions that
 * change something may be called between two steps.
 *
 * Proof: every output image has a serial, and an input image names the newest output that it answers. A step of a
 * sequence remembers the serial with which it began, and believes no input that answers an older one. */
#ifndef KNIFERAIL_MOTION_H
#define KNIFERAIL_MOTION_H

#include "kniferail/alarm.h"
#include "kniferail/axis.h"
#include "kniferail/frame.h"
#include "kniferail/map.h"
#include "kniferail/plan.h"
#include "kniferail/references.h"

/* ---- the rail's settings: constant while anything moves -------------------------------------------------------- */

enum kr_clamping {
    KR_CLAMP_PER_HOLDER, /* each holder has its brake; the rail has no clamp */
    KR_CLAMP_COMMON,     /* besides, one clamp (air shaft) holds all holders of the rail */
};

/* Places are in the machine's frame, unless it is said that they are the drive's own positions. */
struct kr_carriage_config {
    enum kr_clamping clamping;
    struct kr_frame frame;                /* from the drive's position to the frame */
    int32_t expansion_ppb;                /* of the frame, with each kelvin */
    struct kr_references references;      /* flags fixed to the frame; n is 0: there are none */
    int32_t travel_min_um, travel_max_um; /* of the carriage's pin: positions of the drive's own */
    int32_t travel_margin_um;             /* a position further beyond the travel is not believed */
    /* A carriage at rest moves no further than this while nobody sees it; 0: it may be anywhere. */
    int32_t drift_um;
    uint16_t battery_code;  /* error code (603Fh) of the encoder's battery, beside 73xxh; 0: there is none */
    int32_t park_um;        /* where the carriage rests, clear of the web */
    int32_t park_window_um; /* this near it counts as parked */
    int32_t switch_offset_um; /* from the pin to the proximity switch, signed */
    int32_t scan_speed_um_per_s;
    int32_t setup_speed_um_per_s;  /* reduced speed: of a jog, of homing, and of a job that is started so */
    int32_t homing_creep_um_per_s; /* towards the zero mark; no faster than the setup speed */
    uint16_t torque_permille, setup_torque_permille; /* most, of the rated torque; 0: the drive's own limit */
    int32_t scan_bias_um;    /* 0: scan both ways; else one way, growing, this bias is taken off */
    int32_t passes_apart_um; /* the two passes may see a flag this far apart */
    int32_t flag_width_um;
    int32_t displaced_um; /* a holder found further from its known place is named */
    /* Most holders were found off alike by more than this: the rail itself is off, and nothing is measured. */
    int32_t alike_um;
    int32_t jump_um;         /* a position may change this much more in a cycle than the top speed allows */
    int32_t answers_late_ms; /* an older image of the drive stops what moves */
    int32_t settle_ms;       /* standing at the target before the brake closes */
    /* Planned, of a job: until the drive is on, and off again in its end; for a common clamp to open, and as much to
     * close. */
    int32_t enable_ms, clamp_ms;
    int32_t enable_limit_ms, setpoint_limit_ms, pin_limit_ms, brake_limit_ms, clamp_limit_ms, home_limit_ms;
    int32_t move_margin_ms;  /* a move may take this much longer than it should */
    uint8_t dock_tries;      /* at least 1 */
    uint16_t retries_notice; /* docking retries of a holder, in all, that call maintenance; 0: never */
    uint16_t slips_notice;   /* placements out of tolerance of a holder that call maintenance; 0: never */
    uint32_t metres_notice;  /* metres cut since regrind or swap that call maintenance; 0: never */
};

/* ---- what is known of a rail: the station stores it ------------------------------------------------------------ */

/* Where a place came from; hands may have changed it since. */
enum kr_origin {
    KR_ORIGIN_TOLD,     /* by a person, or by the station file */
    KR_ORIGIN_SCANNED,  /* a scan found it there */
    KR_ORIGIN_RELEASED, /* the carriage left it there, and no scan has been there since */
};

struct kr_place {
    int32_t position_um; /* of the holder's centre */
    uint8_t known;       /* enum kr_known */
    uint8_t origin;      /* enum kr_origin; means nothing where the place is unknown */
    uint8_t was_known;   /* how it was known before kr_motion_doubt_for_now(), if that is more; else 0 */
    /* As first measured since the start, or since somebody has looked at a flag that was found changed; 0: not since
     * then. Not stored. */
    int32_t flag_width_um;
};

/* What scans have found of a rail's references. */
struct kr_reference_knowledge {
    struct kr_frame_correction correction;
    uint8_t seen; /* 0, 1: by a scan that counted, and no homing or new setting since */
    uint8_t good; /* those that it saw as they should be, one bit each */
    /* How far the references were off since they were taught, where it is most; the newest scan first. */
    int32_t trend_um[KR_REFERENCE_TREND];
    /* How wide each was as first measured since the settings said where it is; 0: not yet. Held against the scan
     * before, dirt that grows from scan to scan would never be seen. */
    int32_t width_um[KR_REFERENCES_MAX];
};

struct kr_rail_knowledge {
    /* kr_motion_in.change of the newest change: what is stored under it holds all of this. */
    uint32_t generation;
    /* Grows by one with each holder whose place, or whose being known, changes; not by kr_motion_told(). Wraps. */
    uint16_t places_changed;
    struct kr_place place[KR_HOLDERS_MAX]; /* in rail order */
    uint16_t docking;                      /* holder that the carriage may be moving; 0: none */
    bool clamp_open;                       /* the common clamp may be open: its holders may shift */
    bool datum_doubted; /* the position jumped, the encoder failed ...: only homing mends that */
    /* By so much most of its holders were found off alike, and no scan has found them right since, nor has a person
     * confirmed it; 0: no such thing. Until then nothing on the rail is measured. */
    int32_t shift_um;
    struct kr_reference_knowledge references;
    /* Of scans since which one holder alone was dragged, one after the other: how many found it off alike, and the sum.
     * Not stored. */
    uint8_t n_alone;
    int32_t alone_um;
    /* Not stored: the next scan may find them off alike by as much as a person has confirmed; or, where the settings
     * changed by which places are counted, by any. */
    bool shift_confirmed, settings_changed;
    int32_t confirmed_um;
    bool rests;      /* the carriage stands with its drive off, at rest_um, or has been pushed from there */
    int32_t rest_um; /* the drive's own position */
};

/* ---- the rail's state ------------------------------------------------------------------------------------------ */

/* What is to be done. A task that is done leaves the drive on, so that the next one begins at once; a mode that is not
 * KR_MOTION_RUN takes it off. A rail that trips over an alarm loses its task and winds down, whatever the mode. */
enum kr_task {
    KR_TASK_NONE,
    KR_TASK_FREE,   /* brake and clamp proven closed, then the pin out; to be given at rest */
    KR_TASK_HOME,   /* find the datum */
    KR_TASK_FIND,   /* the same, by the references on the frame */
    KR_TASK_SCAN,   /* look where the holders are */
    KR_TASK_MOVES,  /* make the moves of the plan, one after the other */
    KR_TASK_TRAVEL, /* the empty carriage to its park position */
    KR_TASK_JOG,    /* hold-to-run, until the mode ends it */
    KR_TASK_TRY,    /* the same, of one output, with the drive off */
};

/* A jog without a datum that can be believed, as before the first homing: no faster, and no further with one press. */
#define KR_JOG_BLIND_UM_PER_S 10000
#define KR_JOG_BLIND_WAY_UM   25000

/* What may be done. A rail that is not to run winds down: it decelerates, closes the brake, takes the drive off. */
enum kr_motion_mode {
    KR_MOTION_RUN,    /* the task is carried out */
    KR_MOTION_UNDOCK, /* wind down, and drive the pin out in the end */
    KR_MOTION_STOP,   /* wind down; the pin stays where it is */
    KR_MOTION_QUICK_STOP, /* stop as quickly as the drive can, drive and outputs off; what moved is unknown then */
};

/* One drive: CiA 402 walked by its statusword (drive.c). */
enum kr_setpoint {
    KR_SETPOINT_NONE,
    KR_SETPOINT_CLEARING, /* waits until the drive can take one: acknowledge 0 */
    KR_SETPOINT_OFFERED,  /* new set-point 1, waits for acknowledge 1 */
    KR_SETPOINT_TAKEN,    /* new set-point 0, waits for acknowledge 0 */
    KR_SETPOINT_RUNNING,  /* waits for target reached */
    KR_SETPOINT_REACHED,
};
struct kr_drive_control {
    bool on, halt, quick_stop;
    bool homing; /* in homing mode; the start bit follows setpoint */
    enum kr_setpoint setpoint;
    int32_t target_um;
    struct kr_speed speed;
    uint32_t proof;             /* serial of the output that began the present set-point step */
    int64_t since_ms, limit_ms; /* of the present set-point step */
    int32_t from_um;            /* the drive's own position when it was given */
    int64_t given_us, taken_us; /* machine time */
};

/* One scan: passes of the proximity switch over the flags (scan.c). */
#define KR_HITS_MAX (2 * KR_HOLDERS_MAX) /* flags in one pass, foreign ones and references included */
enum kr_scan_step { KR_SCAN_STEP_TO_START, KR_SCAN_STEP_ARMING, KR_SCAN_STEP_PASS, KR_SCAN_STEP_DONE };
struct kr_scan {
    enum kr_scan_step step;
    uint8_t pass; /* 0 growing, 1 falling */
    uint8_t n_passes;
    bool rise_pending;
    uint16_t rise_count, fall_count; /* as last seen */
    int32_t rise_um;
    uint16_t n_hits[2];
    struct kr_hit hit[2][KR_HITS_MAX]; /* in the order they were met */
};

/* What the positions seen so far say (track.c). Times are those at which the images were taken, not when they came. */
struct kr_track {
    uint8_t n_samples; /* 0: nothing known, 1: a position, 2: a speed as well */
    uint32_t answers;  /* of the newest sample */
    int64_t sample_us; /* the drive took it then, or up to span_us later: its answer was on the way */
    int64_t span_us;
    int32_t at_um;
    /* The speed was between these two; they are equal where no time was unsure. */
    int64_t slowest_um_per_s, fastest_um_per_s;
    int32_t still_um; /* where it has been standing */
    int64_t still_since_ms;
};

/* How long things took that a plan reckons with: of each the count and the sum, since kr_motion_time_begin(). Only what
 * went without a hitch counts: a docking at its first try, a way that was gone to its end. */
struct kr_timing {
    uint16_t docks, undocks, ways;
    int64_t dock_us, undock_us;
    int64_t setpoint_us; /* of the ways: until the drive had acknowledged the set-point */
    /* Of the ways: from then on, less what speed and acceleration alone take; may be negative. */
    int64_t rounding_us;
    /* Machine time at which the docking, or undocking, under way began; 0: none counts. */
    int64_t step_since_us;
};

enum kr_find_step { KR_FIND_ARMING, KR_FIND_LOOKING, KR_FIND_FOUND, KR_FIND_DONE };

enum kr_wind_down { KR_WIND_DECELERATE, KR_WIND_BRAKE, KR_WIND_OFF, KR_WIND_UNDOCK };
enum kr_jog_step { KR_JOG_STANDING, KR_JOG_RUNNING, KR_JOG_HALTING, KR_JOG_SETTLING };

/* Flat, so that a copy is a checkpoint. Its fields belong to src/motion; others read them by the functions below. */
struct kr_motion {
    enum kr_carriage_phase phase;
    int64_t since_ms; /* machine time at which the phase began */
    uint32_t proof;   /* serial of the output that began the phase: older input proves nothing */
    enum kr_task task;
    bool task_done;
    bool met;            /* its drive has answered since the start */
    bool rest_compared;  /* the place where it rests, since the drive was linked */
    bool encoder_blamed; /* by a fault or a warning that the drive shows */
    bool homed_here;     /* the last homing went nowhere: a person has to say that the datum is right */
    uint16_t docked;     /* holder that the pin is in or may be in; 0: none */
    uint16_t move;       /* index of the present move */
    uint8_t tries;       /* to dock */
    uint8_t leg;         /* of a drag: 0 first, 1 the final approach */
    bool brake_is_open;  /* the docked holder may be free of the rail */
    bool clamp_open;     /* the rail's common clamp is wanted open */
    int64_t clamp_since_ms;
    enum kr_wind_down wind_down;
    enum kr_jog_step jog;
    int8_t jog_direction; /* of the present run */
    bool jog_blind;       /* the present run has no datum to stand on */
    int32_t jog_from_um;  /* where a blind run began, and when */
    int64_t jog_from_ms;
    uint32_t docking_generation; /* contains that the present holder is about to be docked */
    uint16_t tried;              /* the output that is on for a try; 0: none */
    uint32_t clamp_generation;   /* contains that the clamp is about to open */
    struct kr_drive_control drive;
    struct kr_track track;
    enum kr_find_step find;
    int32_t find_from_um;  /* the drive's own position where it began to look for the references */
    int32_t find_shift_um; /* they were found off by that */
    struct kr_scan scan;
    struct kr_timing timing;
    struct kr_rail_knowledge knowledge;
};

/* ---- a cycle --------------------------------------------------------------------------------------------------- */

/* What of a holder's data the rail must know. */
struct kr_rail_holder {
    uint8_t holder_size;
    uint8_t state; /* enum kr_holder_state */
};

/* Pointers are read during the call only. */
struct kr_motion_in {
    const struct kr_geometry *geometry; /* for the spacing of neighbours */
    const struct kr_rail_geometry *rail;
    const struct kr_carriage_config *carriage;
    const struct kr_carriage_config *carriages; /* of all rails, geometry->n_rails of them; NULL: not known */
    const struct kr_rail_holder *holder;        /* rail->n_holders of them */
    int32_t deadband_um;
    const struct kr_axis_in *axis; /* n_axes of them; [0] is the carriage's */
    uint16_t n_axes;
    int64_t now_us;  /* machine time */
    uint32_t serial; /* of the output image that is made next: no input answers it before the next cycle */
    /* Number under which a change of knowledge in this call will be stored; wraps. Newer than the generation: after a
     * call that changed something it has to grow before the next one. */
    uint32_t change;
    uint32_t stored; /* newest such number that is stored: a holder is docked only when that it may move is */
    enum kr_motion_mode mode;
    bool reduced;       /* at the setup speed */
    bool resets_faults; /* a drive that shows a fault is to reset it */
    /* With KR_TASK_JOG: -1 falling, 1 growing, 0 stand. The caller ends the task by the mode when the hold-to-run
     * device is let go: kr_motion_jog_enabled(). */
    int8_t jog_wanted;
    uint16_t try_output;        /* with KR_TASK_TRY: KR_DO_..., on while jog_wanted is 1 */
    const struct kr_move *move; /* with KR_TASK_MOVES: n_moves of them, in their order */
    uint16_t n_moves;
};

enum kr_motion_event_kind {
    KR_EVENT_ALARM, /* alarm; its rail is 0, since a rail does not know its number. While its cause stands it may be
                     * told again in every cycle */
    KR_EVENT_STANDS, /* the same of a rail at rest: it is told, and no job has to end for it */
    KR_EVENT_RETRY,  /* the pin did not go into holder, and is out again */
    KR_EVENT_MOVED,  /* a move of the list is made: holder stands at its new place, released */
};
struct kr_motion_event {
    enum kr_motion_event_kind kind;
    uint16_t holder; /* of an alarm its item, whatever that counts */
    struct kr_alarm alarm;
};
/* A scan can name each holder twice; all else are few. */
#define KR_MOTION_EVENTS_MAX (2 * KR_HOLDERS_MAX + 16)
struct kr_motion_out {
    uint16_t n_events;
    struct kr_motion_event event[KR_MOTION_EVENTS_MAX]; /* in the order in which they happened */
};

/* At the program's start: what was known before it is lowered to what can be known now, as by
 * kr_motion_doubt_for_now(). The pin may still be in the holder of stored->docking. */
void kr_motion_init(struct kr_motion *motion, const struct kr_motion_in *in,
                    const struct kr_rail_knowledge *stored);

/* Before everything else of a cycle. True, once, if the drive's first answer since the start shows it running: the rail
 * is being stopped then. */
bool kr_motion_meet(struct kr_motion *motion, const struct kr_motion_in *in);

/* One cycle. What happened is appended to *out. */
void kr_motion_step(struct kr_motion *motion, const struct kr_motion_in *in, struct kr_motion_out *out);

/* The axes' outputs; axis[] has in->n_axes elements. */
void kr_motion_outputs(const struct kr_motion *motion, const struct kr_motion_in *in,
                       struct kr_axis_out axis[]);

/* Gives the rail a task, unless it has that one already or is stopping; takes any task back. Only for a rail that is at
 * rest or has done its task: a sequence that is under way is ended by the mode. */
void kr_motion_give(struct kr_motion *motion, const struct kr_motion_in *in, enum kr_task task);
void kr_motion_take_back(struct kr_motion *motion);
bool kr_motion_done(const struct kr_motion *motion); /* the task given last is done */

/* The common clamp, while the rail has no task or moves holders, in this order:
 *   kr_motion_unclamp_due()    notes that the clamp is about to open
 *   kr_motion_clamp()          wants it open, or closed, from now on; false, and nothing has changed, if it is to open
 *                              and that note is not there, or not stored yet
 *   kr_motion_clamp_proven()   in every cycle after that: true once the inputs show it; trips at clamp_limit_ms
 *   kr_motion_clamp_watch()    in every cycle in which it is open: trips the rail if it closes by itself
 *   kr_motion_clamped_again()  once it is proven closed: that shifted holders, none is known better than KR_PLACED
 * A mode that is not KR_MOTION_RUN closes the clamp as soon as nothing moves; what it had let go is unknown then. */
void kr_motion_unclamp_due(struct kr_motion *motion, const struct kr_motion_in *in);
bool kr_motion_clamp(struct kr_motion *motion, const struct kr_motion_in *in, bool open);
bool kr_motion_clamp_proven(struct kr_motion *motion, const struct kr_motion_in *in,
                            struct kr_motion_out *out);
void kr_motion_clamp_watch(struct kr_motion *motion, const struct kr_motion_in *in,
                           struct kr_motion_out *out);
void kr_motion_clamped_again(struct kr_motion *motion, const struct kr_motion_in *in);

/* ---- what a rail waits for: for stories of what it did --------------------------------------------------------- */

/* The numbers stand in recorded traces: never reused. */
#define KR_WAITS(X) /* name, number, what is waited for */ \
    X(NOTHING, 0, "nothing") \
    X(ENABLED, 1, "the drive to be enabled") \
    X(SETPOINT_FREE, 2, "the drive to be ready for a set-point") \
    X(SETPOINT_TAKEN, 3, "the drive to acknowledge the set-point") \
    X(SETPOINT_BEGUN, 4, "the drive to take the acknowledgement back") \
    X(TARGET, 5, "the target to be reached") \
    X(HOMED, 6, "homing to be attained") \
    X(STORED, 7, "the book to store that the holder may move") \
    X(PIN_IN, 8, "the pin to be in") \
    X(PIN_OUT, 9, "the pin to be out") \
    X(BRAKE_OPEN, 10, "the brake to be open") \
    X(BRAKE_CLOSED, 11, "the brake to be closed") \
    X(CLAMP_OPEN, 12, "the common clamp to be open") \
    X(CLAMP_CLOSED, 13, "the common clamp to be closed") \
    X(SETTLED, 14, "the settling time to pass") \
    X(PROBE, 15, "the touch probe to be armed") \
    X(STANDSTILL, 16, "the carriage to stand") \
    X(DRIVE_OFF, 17, "the drive to be off") \
    X(PERSON, 18, "the hold-to-run device to be let go")
enum kr_wait_kind {
#define X(name, number, text) KR_WAIT_##name = number,
    KR_WAITS(X)
#undef X
};
const char *kr_wait_text(int kind); /* NULL: there is no such number */

struct kr_wait {
    enum kr_wait_kind kind;
    int64_t since_ms; /* machine time at which the waiting began */
    int32_t limit_ms; /* after which it is an alarm, or is no longer waited for; 0: none */
    uint16_t holder;  /* number of the one that the present step is about; 0: none */
};

/* The rail waits for one thing at a time. */
struct kr_wait kr_motion_wait(const struct kr_motion *motion, const struct kr_motion_in *in);

/* ---- the ways in to what is known ------------------------------------------------------------------------------ */

/* No place of a holder on the rail is known better than at_most from now on: hands may have been there, or power was
 * off. What is known less well stays so. */
void kr_motion_doubt(struct kr_motion *motion, const struct kr_motion_in *in, enum kr_known at_most);

/* The same, with KR_REMEMBERED, as long as nobody can say whether hands were there. kr_motion_doubt_over(): nobody was,
 * and each place is known again as it was before, if nothing has cast another doubt on it since. */
void kr_motion_doubt_for_now(struct kr_motion *motion, const struct kr_motion_in *in);
void kr_motion_doubt_over(struct kr_motion *motion, const struct kr_motion_in *in);

/* A person says where one holder is, or with KR_UNKNOWN that nobody knows. It counts as KR_REMEMBERED at the
 * best, whatever was known before. */
void kr_motion_told(struct kr_motion *motion, const struct kr_motion_in *in, uint16_t holder_number,
                    int32_t position_um, enum kr_known at_most);

/* A person says that the carriage truly stands where the drive's position says, after a homing that went nowhere; or
 * takes that back. Places are remembered then. */
bool kr_motion_awaits_datum(const struct kr_motion *motion); /* the last homing was such a one */
void kr_motion_confirm_datum(struct kr_motion *motion, const struct kr_motion_in *in, bool is_right);

/* A person says that the holders stand where they are found, though off alike by that shift: the next scan counts. Or
 * takes that back. */
void kr_motion_confirm_shift(struct kr_motion *motion, const struct kr_motion_in *in, bool is_right,
                             int32_t shift_um);

/* The rail's settings changed: places are remembered, and flags have to be measured anew. */
void kr_motion_geometry_changed(struct kr_motion *motion, const struct kr_motion_in *in);

/* A person says where the drive's positions lie in the frame: what the caller has laid into the settings by the next
 * call. Likewise; and references found that much of the scale since: 0 as it is said, what it was when that is taken
 * back. */
void kr_motion_frame_taken(struct kr_motion *motion, const struct kr_motion_in *in, int32_t found_scale_ppb);

/* The frame is so much longer than at 20 C from now on: its places are known as they were, counted anew. Returns
 * whether any changed. Only while nothing moves. */
bool kr_motion_expand(struct kr_motion *motion, const struct kr_motion_in *in, int32_t expansion_ppb);

/* ---- questions ------------------------------------------------------------------------------------------------- */

const struct kr_rail_knowledge *kr_motion_knowledge(const struct kr_motion *motion);
enum kr_carriage_phase kr_motion_phase(const struct kr_motion *motion);
/* Why a drive without a link has none: that it is refused and why, or that it does not answer. rail is 0. */
struct kr_alarm kr_motion_no_link(const struct kr_axis_in *axis, uint16_t docked);
uint16_t kr_motion_docked(const struct kr_motion *motion); /* its number; 0: none */
int32_t
kr_motion_target_um(const struct kr_motion *motion);    /* of the last set-point: the drive's own position */
bool kr_motion_at_rest(const struct kr_motion *motion); /* drive off, nothing under way */
void kr_motion_time_begin(struct kr_motion *motion);
const struct kr_timing *kr_motion_timing(const struct kr_motion *motion);

/* By the rail's axes, [0] being the carriage's. What an input has to prove is false without a link. */
bool kr_motion_pin_is_out(const struct kr_axis_in axis[]);
bool kr_motion_jog_enabled(const struct kr_axis_in axis[]); /* the hold-to-run device is pressed */
/* A common clamp is proven closed, or the rail has none: then each holder's own brake holds it. */
bool kr_motion_clamped(const struct kr_carriage_config *carriage, const struct kr_axis_in axis[]);
/* The carriage's position counts from the datum: the drive says so, nothing casts doubt on it, and the position lies
 * within the carriage's travel and its margin. */
bool kr_motion_has_datum(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                         const struct kr_axis_in axis[]);
/* It should count from the datum, and lies beyond the carriage's travel. */
bool kr_motion_is_implausible(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                              const struct kr_axis_in axis[]);
bool kr_motion_parked(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                      const struct kr_axis_in axis[]);
/* The carriage is at rest and touches nothing: pin proven out, clamp closed, parked by a datum that agrees with where
 * it was seen to rest before. */
bool kr_motion_rests_clear(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                           const struct kr_axis_in axis[]);

/* The carriage's settings as references have corrected them. */
void kr_carriage_correct(const struct kr_carriage_config *told, const struct kr_frame_correction *correction,
                         struct kr_carriage_config *carriage);

/* ---- figures --------------------------------------------------------------------------------------------------- */

bool kr_holder_on_rail(uint8_t state);

/* full, or the setup speed where that is less and the job is done at reduced speed. */
struct kr_speed kr_setup_speed(const struct kr_carriage_config *carriage, struct kr_speed full, bool reduced);

/* A bias is calibrated at one speed: at reduced speed a scan goes both ways and needs none. */
bool kr_scan_goes_both_ways(const struct kr_carriage_config *carriage, bool reduced);

/* Where a scan starts and ends (the drive's own positions), run-up to the scan speed included: both have to lie within
 * the carriage's travel. */
void kr_scan_range(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                   int32_t *from_um, int32_t *to_um);

/* Whether the carriage reaches, within its travel, all that the rail's limits ask for, however cold or warm the frame
 * is: its holders, the approach from one side, a scan from end to end, its place of rest. Else *position_um is where it
 * would have to go, *limit_um where the travel ends: the drive's own positions. */
bool kr_carriage_reaches(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                         int32_t *position_um, int32_t *limit_um);

/* Whether KR_TASK_FIND can find the datum: at their drive side two references stand nearer to each other than two
 * holders can, at a distance that is no other such pair's. */
bool kr_find_is_possible(const struct kr_geometry *geometry, const struct kr_references *references);

/* How long one scan of the whole rail takes: the empty travel to where it begins from a place of the carriage, and its
 * passes. *from_um becomes the place where it ends. */
int64_t kr_scan_time_us(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                        bool reduced, int32_t *from_um);

#endif
