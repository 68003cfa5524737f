/* motion: the control of one rail. It moves holders, finds their positions by a scan, jogs, homes, releases pins, and
 * stops. It is pure: it uses no socket, no file, no clock, no allocation and no global state. It knows no order, no
 * unit state, no PLC and no book. The caller says what to do by a task and a list of moves, and what is permitted by
 * a mode. The part stands on plan and base. The station stands on it, and a test can run one rail without a station.
 * Only one thread at a time may use a rail.
 *
 * In each cycle of a rail the caller calls kr_motion_meet(), kr_motion_step() and kr_motion_outputs(), all with the
 * same input. The outputs are made afresh from the state, the statusword and resets_faults, so that no output stays
 * on by accident. All other functions that change something may be called between two steps.
 *
 * Proof: every output image has a serial, and an input image names the newest output that it answers. A step of a
 * sequence remembers the serial with which it began, and believes no input that answers an older output. */
#ifndef KNIFERAIL_MOTION_H
#define KNIFERAIL_MOTION_H

#include "kniferail/alarm.h"
#include "kniferail/axis.h"
#include "kniferail/corrections.h"
#include "kniferail/frame.h"
#include "kniferail/gauge.h"
#include "kniferail/map.h"
#include "kniferail/plan.h"
#include "kniferail/references.h"

/* ---- the rail's settings: constant while anything moves -------------------------------------------------------- */

enum kr_clamping {
    KR_CLAMP_PER_HOLDER, /* each holder has its brake; the rail has no clamp */
    KR_CLAMP_COMMON,     /* in addition, one clamp (air shaft) holds all holders of the rail */
};

enum kr_scan_ways { KR_SCAN_BOTH_WAYS, KR_SCAN_ONE_WAY };

/* The switches on a carriage. References without a switch of their own are seen by the holders' switch. */
enum kr_switch_of { KR_SWITCH_OF_HOLDERS, KR_SWITCH_OF_REFERENCES, KR_SWITCHES };

/* Positions are in the machine's frame, unless a comment says that they are the drive's own positions. */
struct kr_carriage_config {
    enum kr_clamping clamping;
    struct kr_frame frame;                /* from the drive's own position to the machine's frame */
    int32_t expansion_ppb;                /* thermal expansion of the frame, in parts per 10^9 and kelvin */
    struct kr_references references;      /* flags that are fixed to the frame; n is 0: there are none */
    int32_t travel_min_um, travel_max_um; /* travel of the carriage's pin, in the drive's own positions */
    int32_t travel_margin_um;             /* a position further beyond the travel is not believed */
    /* A carriage at rest moves no further than this while the link is lost or the gateway is off; 0: no limit. */
    int32_t drift_um;
    /* Error code (603Fh) by which the drive warns of its encoder's battery, in addition to 73xxh; 0: none. */
    uint16_t battery_code;
    int32_t park_um;          /* where the carriage rests, clear of the web */
    int32_t park_window_um;   /* a carriage this near to park_um is parked */
    int32_t switch_offset_um; /* from the pin to the proximity switch, signed */
    int32_t scan_speed_um_per_s;
    /* Speed of a scan between flags whose places are known; 0: it has one speed. */
    int32_t scan_fast_um_per_s;
    int32_t setup_speed_um_per_s;  /* reduced speed: for jogs, homing, and jobs that are started at it */
    int32_t homing_creep_um_per_s; /* speed towards the zero mark; at most the setup speed */
    /* The greatest torque, in per mille of the rated torque; 0: the drive's own limit. */
    uint16_t torque_permille, setup_torque_permille;
    enum kr_scan_ways scan_ways;
    /* Subtracted from what a scan sees that goes one way, growing. 0: it is not known, and a scan goes both ways. */
    int32_t scan_bias_um;
    /* Rounds of the jobs that measure the switch: scans at each speed, drags each way. */
    uint8_t gauge_rounds;
    /* The drive counts the edges of the switch, and an image has counts and positions of one moment. So an image in
     * which both counts have grown by one hides no edge. False: the counts are told by positions that have changed. */
    bool edges_counted[KR_SWITCHES];
    int32_t passes_apart_um; /* largest distance between the places at which the two passes see a flag */
    int32_t flag_width_um;
    int32_t displaced_um; /* a holder found further from its known position raises FLAG_DISPLACED */
    /* If a scan finds most holders off alike by more than this, the rail itself is off, and no holder is measured. */
    int32_t alike_um;
    int32_t jump_um;         /* a position may change in a cycle by this much more than the top speed allows */
    int32_t answers_late_ms; /* motion stops when the image of the drive is older than this */
    int32_t settle_ms;       /* time of standing at the target before the brake closes */
    int32_t enable_ms;       /* planned time for the drive to come on, plus the time to go off when a job ends */
    int32_t clamp_ms;        /* planned time for a common clamp to open, and also to close */
    int32_t enable_limit_ms, setpoint_limit_ms, pin_limit_ms, brake_limit_ms, clamp_limit_ms, home_limit_ms;
    int32_t move_margin_ms;  /* a move that takes this much longer than calculated raises an alarm */
    uint8_t dock_tries;      /* tries to dock a holder, at least 1 */
    uint16_t retries_notice; /* MANY_RETRIES names a holder after so many docking retries; 0: never */
    uint16_t slips_notice;   /* MANY_SLIPS names a holder after so many placements out of tolerance; 0: never */
    uint32_t metres_notice;  /* KNIFE_METRES names a knife that has cut so many metres; 0: never */
};

/* ---- what is known of a rail: the station stores it ------------------------------------------------------------ */

/* The origin of a holder's position. Hands may have changed the position since. */
enum kr_origin {
    KR_ORIGIN_TOLD,     /* a person or the station file has given it */
    KR_ORIGIN_SCANNED,  /* a scan has found the holder there */
    KR_ORIGIN_RELEASED, /* the carriage has released the holder there, and no scan has seen it since */
};

/* The position of one holder. */
struct kr_place {
    int32_t position_um; /* centre of the holder */
    uint8_t known;       /* enum kr_known */
    uint8_t origin;      /* enum kr_origin; it has no meaning while the position is unknown */
    uint8_t was_known;   /* enum kr_known before kr_motion_doubt_for_now(), if that was better; else 0 */
    /* Width of its flag, as first measured since the start, or since a person has looked at a flag that was found
     * changed; 0: not measured since then. It is not stored. */
    int32_t flag_width_um;
};

/* What scans have found out about a rail's references. */
struct kr_reference_knowledge {
    struct kr_frame_correction correction;
    uint8_t seen; /* 0, 1: a scan that counted has seen them, and no homing or new setting came since */
    uint8_t good; /* bit i is 1 if that scan saw reference i as it should be */
    /* The largest deviation of a reference from its taught position, for each scan; the newest scan stands first. */
    int32_t trend_um[KR_REFERENCE_TREND];
    /* Width of each reference, as first measured since its position was set; 0: not measured yet. A comparison with
     * the scan before would never show dirt that grows from scan to scan. */
    int32_t width_um[KR_REFERENCES_MAX];
};

struct kr_rail_knowledge {
    /* kr_motion_in.change of the newest change. Once that number is stored, this whole struct is stored. */
    uint32_t generation;
    /* Grows by one with each change of a holder's position or of its grade (enum kr_known), except by
     * kr_motion_told(). It wraps. */
    uint16_t places_changed;
    struct kr_place place[KR_HOLDERS_MAX]; /* in rail order */
    uint16_t docking;                      /* number of the holder that the carriage may be moving; 0: none */
    bool clamp_open;                       /* the common clamp may be open, and holders may shift */
    /* The drive's position can't be trusted, for instance because it jumped or the encoder failed. It counts again
     * after homing, or after KR_TASK_FIND, or once a person has confirmed it. */
    bool datum_doubted;
    /* The deviation by which a scan found most holders off alike; 0: none. It stays until a scan finds the holders
     * right or a person confirms the deviation, and no holder of the rail is measured meanwhile. */
    int32_t shift_um;
    struct kr_reference_knowledge references;
    /* Counts successive scans whose dragged holders were found off alike, but told nothing of the switch by themselves:
     * only one had been dragged, or the references contradict them. repeated_um is the sum of their deviations. They
     * are not stored. */
    uint8_t n_repeated;
    int32_t repeated_um;
    /* shift_confirmed: the next scan may find the holders off alike by confirmed_um, because a person has confirmed
     * it. settings_changed: by any deviation, because a setting that positions depend on has changed. They are not
     * stored. */
    bool shift_confirmed, settings_changed;
    int32_t confirmed_um;
    /* Not stored: by how much a person has confirmed that references with a switch of their own are off. It holds until
     * a scan counts, while the person confirms what the holders' switch says against it. */
    bool references_confirmed;
    int32_t references_confirmed_um;
    /* The carriage came to rest at rest_um with its drive off, and the drive has not been switched on since. */
    bool rests;
    int32_t rest_um; /* the drive's own position */
};

/* ---- the rail's state ------------------------------------------------------------------------------------------ */

/* The task of a rail. When a task is done, the drive stays on, so that the next task begins at once. Every mode but
 * KR_MOTION_RUN switches the drive off. A rail that raises an alarm with a reaction loses its task and winds down,
 * whatever the mode is. */
enum kr_task {
    KR_TASK_NONE,
    KR_TASK_FREE,   /* prove brake and clamp closed, then drive the pin out; given only to a rail at rest */
    KR_TASK_HOME,   /* find the datum by the drive's homing */
    KR_TASK_FIND,   /* find the datum by the references on the frame */
    KR_TASK_SCAN,   /* find the positions of the holders */
    KR_TASK_GAUGE,  /* scan both ways and sum up what the passes say of the switch; no position changes */
    KR_TASK_MOVES,  /* make the moves of the plan, one after the other */
    KR_TASK_TRAVEL, /* bring the empty carriage to its park position */
    KR_TASK_JOG,    /* jog the carriage by hold-to-run, until the mode ends the task */
    KR_TASK_TRY,    /* switch one output by hold-to-run while the drive is off, until the mode ends the task */
};

/* The limits of a jog while no datum can be believed, for instance before the first homing: its speed, and the
 * distance for one press of the hold-to-run device. */
#define KR_JOG_BLIND_UM_PER_S 10000
#define KR_JOG_BLIND_WAY_UM   25000

/* The permission of a rail. In every mode but KR_MOTION_RUN it winds down: it decelerates, closes the brake, and
 * switches the drive off. */
enum kr_motion_mode {
    KR_MOTION_RUN,    /* carry out the task */
    KR_MOTION_UNDOCK, /* wind down, then drive the pin out */
    KR_MOTION_STOP,   /* wind down, and leave the pin as it is */
    /* Stop as quickly as the drive can, and switch drive and outputs off. The position of a holder that was moving is
     * unknown then. */
    KR_MOTION_QUICK_STOP,
};

/* The steps of one set-point: the handshake of CiA 402 by controlword and statusword (drive.c). */
enum kr_setpoint {
    KR_SETPOINT_NONE,
    KR_SETPOINT_CLEARING, /* the drive has to be able to take one: waits for acknowledge 0 */
    KR_SETPOINT_OFFERED,  /* "new set-point" is 1: waits for acknowledge 1 */
    KR_SETPOINT_TAKEN,    /* "new set-point" is 0 again: waits for acknowledge 0 */
    KR_SETPOINT_RUNNING,  /* waits for "target reached" */
    KR_SETPOINT_REACHED,
};
struct kr_drive_control {
    bool on, halt, quick_stop;
    bool homing; /* in homing mode; the start bit follows setpoint */
    enum kr_setpoint setpoint;
    int32_t target_um;
    struct kr_speed speed;
    uint32_t proof;             /* serial of the output that began the present set-point step */
    int64_t since_ms, limit_ms; /* begin and time limit of the present set-point step */
    int32_t from_um;            /* the drive's own position when the set-point was given */
    int64_t given_us, taken_us; /* machine time at which the set-point was given, and acknowledged */
};

/* One scan: passes of the proximity switch over the flags (scan.c). */
#define KR_HITS_MAX           (2 * KR_HOLDERS_MAX) /* flags in one pass: of holders, references and foreign objects */
#define KR_REFERENCE_HITS_MAX 16                   /* flags in one pass of the references' own switch */
struct kr_scan_switch {
    bool rise_pending;
    uint16_t rise_count, fall_count; /* values that the drive last showed */
    int32_t rise_um;
    uint16_t n_hits[2];
};
enum kr_scan_step { KR_SCAN_STEP_TO_START, KR_SCAN_STEP_ARMING, KR_SCAN_STEP_PASS, KR_SCAN_STEP_DONE };
/* The widths of holders' flags, as the switch sees them, each pass for itself; also of a flag that ends the scan. */
struct kr_flag_widths {
    uint16_t n;
    int64_t sum_um;
    struct kr_hit narrowest, widest;
};

/* FAST: the carriage goes, or is about to go, faster than scan speed. BRAKES: it was told to go at scan speed again,
 * and the drive has not yet acknowledged that. */
enum kr_scan_pace { KR_SCAN_SLOW, KR_SCAN_FAST, KR_SCAN_BRAKES };
struct kr_scan {
    enum kr_scan_step step;
    uint8_t pass; /* 0 growing, 1 falling */
    uint8_t n_passes;
    bool slow;      /* the rest of the scan is made at scan speed */
    bool predicted; /* this pass expects each flag where it is known to be, and goes faster in between */
    bool astray;    /* this pass met something else than it expected */
    enum kr_scan_pace pace;
    bool from_rest, brakes_known; /* of the fast piece: it began at rest; brakes_at_um counts */
    int32_t zone_um;              /* of the fast piece: where the carriage is at scan speed again */
    int32_t brakes_at_um;         /* where it is told so */
    int32_t measures_from_um;     /* at scan speed from here on; these three are the drive's own positions */
    struct kr_scan_switch of[KR_SWITCHES];
    struct kr_hit hit[2][KR_HITS_MAX]; /* in the sequence in which the pass met them */
    struct kr_hit reference_hit[2][KR_REFERENCE_HITS_MAX];
    struct kr_flag_widths widths;
};

/* Position and speed of the carriage, as the images of the drive show them (track.c). */
struct kr_track {
    uint8_t n_samples; /* 0: nothing is known, 1: a position, 2: a position and a speed */
    uint32_t answers;  /* kr_axis_in.answers of the newest sample */
    /* The drive took the newest sample at this machine time, or up to span_us later. */
    int64_t sample_us;
    int64_t span_us;
    int32_t at_um;
    /* The speed was between these two. They are equal if the times of both samples were exact. */
    int64_t slowest_um_per_s, fastest_um_per_s;
    int32_t still_um; /* where the carriage has been standing */
    int64_t still_since_ms;
};

/* The times that a plan calculates with, as this rail took them: counts and sums since kr_motion_time_begin(). Only
 * undisturbed steps count: a docking at its first try, and a travel of the carriage that went to its end. */
struct kr_timing {
    uint16_t docks, undocks, ways; /* ways: travels of the carriage */
    int64_t dock_us, undock_us;
    int64_t setpoint_us; /* sum over the travels, each until the drive had acknowledged the set-point */
    /* Sum over the travels, each from then to its end, minus the time that its speed and acceleration alone take. It
     * may be negative. */
    int64_t rounding_us;
    /* Machine time at which the present docking or undocking began; 0: none that counts. */
    int64_t step_since_us;
};

/* The sums of KR_TASK_GAUGE since kr_motion_gauge_begin(). */
struct kr_gauge {
    /* How much further the growing pass found each flag, at scan speed and at half of it. */
    struct kr_gauge_sum fast, slow;
    /* holder is the number of the dragged holder. up and down hold the switch offset by its drags towards the drive
     * side, and by its other drags. */
    uint16_t holder;
    struct kr_gauge_sum up, down;
    uint8_t round; /* round of the present task, from 0 */
};

enum kr_find_step { KR_FIND_ARMING, KR_FIND_LOOKING, KR_FIND_HALTING, KR_FIND_FOUND, KR_FIND_DONE };

enum kr_wind_down { KR_WIND_DECELERATE, KR_WIND_BRAKE, KR_WIND_OFF, KR_WIND_UNDOCK };
enum kr_jog_step { KR_JOG_STANDING, KR_JOG_RUNNING, KR_JOG_HALTING, KR_JOG_SETTLING };

/* The state of a rail. It is flat, so that a copy is a checkpoint. Its fields belong to src/motion; all other parts
 * read them by the functions below. */
struct kr_motion {
    enum kr_carriage_phase phase;
    int64_t since_ms; /* machine time at which the phase began */
    uint32_t proof;   /* serial of the output that began the phase: older input proves nothing */
    enum kr_task task;
    bool task_done;
    bool met;            /* the drive has answered since the start */
    bool rest_compared;  /* rest_um was compared with the position since the drive was linked */
    bool encoder_blamed; /* the drive shows a fault or a warning that names its encoder or its battery */
    bool homed_here;     /* the last homing did not move; a person has to confirm the datum */
    uint16_t docked;     /* number of the holder that the pin is in or may be in; 0: none */
    uint16_t move;       /* index of the present move */
    uint8_t tries;       /* tries to dock the present holder */
    uint8_t leg;         /* leg of a drag: 0 the first, 1 the final approach */
    bool brake_is_open;  /* the brake of the docked holder may be open */
    bool clamp_open;     /* the rail's common clamp is commanded open */
    int64_t clamp_since_ms;
    enum kr_wind_down wind_down;
    enum kr_jog_step jog;
    int8_t jog_direction;        /* direction of the present run */
    bool jog_blind;              /* the present run has no datum that can be believed */
    int32_t jog_from_um;         /* where a run without such a datum began */
    int64_t jog_from_ms;         /* machine time at which it began */
    uint32_t docking_generation; /* generation that contains that the present holder is about to be docked */
    uint16_t tried;              /* KR_DO_... bit of the output that is on for a try; 0: none */
    uint32_t clamp_generation;   /* generation that contains that the clamp is about to open */
    struct kr_drive_control drive;
    struct kr_track track;
    enum kr_find_step find;
    int32_t find_from_um;  /* the drive's own position where the search for the references began */
    int32_t find_shift_um; /* deviation at which the search found the references */
    struct kr_scan scan;
    struct kr_timing timing;
    struct kr_gauge gauge;
    struct kr_rail_knowledge knowledge;
};

/* ---- a cycle --------------------------------------------------------------------------------------------------- */

/* The part of a holder's data that the rail needs. */
struct kr_rail_holder {
    uint8_t holder_size;
    uint8_t state; /* enum kr_holder_state */
};

/* The input of a cycle. The pointers are read during the call only. */
struct kr_motion_in {
    const struct kr_geometry *geometry; /* for the spacing of neighbours */
    const struct kr_rail_geometry *rail;
    const struct kr_carriage_config *carriage;
    /* geometry->n_rails elements, one for each rail; NULL: not known. */
    const struct kr_carriage_config *carriages;
    const struct kr_rail_holder *holder; /* rail->n_holders elements */
    int32_t deadband_um;
    const struct kr_axis_in *axis; /* n_axes elements; [0] is the carriage's */
    uint16_t n_axes;
    int64_t now_us; /* machine time */
    /* Serial of the output image that is made next: an input answers it in the next cycle or later. */
    uint32_t serial;
    /* Number under which a change of the rail's knowledge in this call will be stored. It is newer than
     * kr_rail_knowledge.generation, so after a call that changed something it has to grow before the next call. It
     * wraps. */
    uint32_t change;
    /* The newest such number that is stored. A holder is docked only once it is stored that the holder may move. */
    uint32_t stored;
    enum kr_motion_mode mode;
    bool reduced;       /* the task is done at the setup speed */
    bool guarded;       /* hands cannot reach the rail: guards are closed. Else a scan goes at scan speed all along */
    bool resets_faults; /* a drive that shows a fault is to reset it */
    /* With KR_TASK_JOG: -1 falling, 1 growing, 0 stand. When the hold-to-run device is let go
     * (kr_motion_jog_enabled), the caller ends the task by the mode. */
    int8_t jog_wanted;
    /* With KR_TASK_GAUGE: number of the holder that was dragged last, and the direction of its drag, -1 or 1. 0: all
     * flags are measured for the scan bias, in several rounds. */
    uint16_t gauge_holder;
    int8_t gauge_way;
    bool drags_straight;        /* there is no final approach from one side, so that the play of the drive shows */
    uint16_t try_output;        /* with KR_TASK_TRY: KR_DO_... bit of the output that is on while jog_wanted is 1 */
    const struct kr_move *move; /* with KR_TASK_MOVES: n_moves elements, in the sequence of the plan */
    uint16_t n_moves;
};

enum kr_motion_event_kind {
    /* `alarm` is raised and ends the task. Its rail is 0, because a rail does not know its number. While its cause
     * stands, the event may come again in every cycle. */
    KR_EVENT_ALARM,
    KR_EVENT_STANDS, /* `alarm` is raised on a rail at rest, and no job has to end because of it */
    KR_EVENT_RETRY,  /* the pin did not go into `holder`, and is out again */
    KR_EVENT_MOVED,  /* a move is finished: `holder` stands at its new place and is released */
};
struct kr_motion_event {
    enum kr_motion_event_kind kind;
    uint16_t holder; /* number of the holder; with an alarm the item of that alarm */
    struct kr_alarm alarm;
};
/* A scan can name each holder twice, and there are few other events. */
#define KR_MOTION_EVENTS_MAX (2 * KR_HOLDERS_MAX + 16)
struct kr_motion_out {
    uint16_t n_events;
    struct kr_motion_event event[KR_MOTION_EVENTS_MAX]; /* in the sequence in which they happened */
};

/* Prepares a rail when the program starts. Positions that `stored` knows better than KR_REMEMBERED become remembered,
 * as by kr_motion_doubt_for_now(). The pin may still be in the holder stored->docking. */
void kr_motion_init(struct kr_motion *motion, const struct kr_motion_in *in, const struct kr_rail_knowledge *stored);

/* Called first in every cycle. Returns true, once, if the first answer of the drive since the start shows that the
 * drive is running. The rail is being stopped then. */
bool kr_motion_meet(struct kr_motion *motion, const struct kr_motion_in *in);

/* Makes one cycle, and appends its events to *out. */
void kr_motion_step(struct kr_motion *motion, const struct kr_motion_in *in, struct kr_motion_out *out);

/* Writes the outputs of the axes. axis[] has in->n_axes elements. */
void kr_motion_outputs(const struct kr_motion *motion, const struct kr_motion_in *in, struct kr_axis_out axis[]);

/* kr_motion_give() gives the rail a task, unless the rail has that task already or is stopping. kr_motion_take_back()
 * takes its task away. Both are only for a rail that is at rest or has done its task; the mode ends a task that is
 * under way. kr_motion_done() says whether the last task is done. */
void kr_motion_give(struct kr_motion *motion, const struct kr_motion_in *in, enum kr_task task);
void kr_motion_take_back(struct kr_motion *motion);
bool kr_motion_done(const struct kr_motion *motion);

/* The common clamp. These functions are for a rail that has no task or moves holders, and are called in this sequence:
 *   kr_motion_unclamp_due()    notes that the clamp is about to open.
 *   kr_motion_clamp()          commands the clamp open or closed. It returns false and changes nothing if the clamp is
 *                              to open and that note was not made or is not stored yet.
 *   kr_motion_clamp_proven()   is called in every cycle after that. It returns true once the inputs prove the command,
 *                              and raises an alarm after clamp_limit_ms.
 *   kr_motion_clamp_watch()    is called in every cycle while the clamp is open. It raises an alarm if the clamp closes
 *                              by itself.
 *   kr_motion_clamped_again()  is called once the clamp is proven closed. Closing may have shifted holders, so no
 *                              holder is known better than KR_PLACED then.
 * Every mode but KR_MOTION_RUN closes the clamp as soon as nothing moves. The positions of the holders that the clamp
 * had released are unknown then. */
void kr_motion_unclamp_due(struct kr_motion *motion, const struct kr_motion_in *in);
bool kr_motion_clamp(struct kr_motion *motion, const struct kr_motion_in *in, bool open);
bool kr_motion_clamp_proven(struct kr_motion *motion, const struct kr_motion_in *in, struct kr_motion_out *out);
void kr_motion_clamp_watch(struct kr_motion *motion, const struct kr_motion_in *in, struct kr_motion_out *out);
void kr_motion_clamped_again(struct kr_motion *motion, const struct kr_motion_in *in);

/* ---- the wait of a rail, for accounts of what it did ------------------------------------------------------------- */

/* The numbers are part of recorded traces, and no number is ever reused. */
#define KR_WAITS(X) /* name, number, what the rail waits for */ \
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
    int64_t since_ms; /* machine time at which the rail began to wait */
    /* After this time an alarm is raised, or the rail goes on without waiting; 0: no limit. */
    int32_t limit_ms;
    uint16_t holder; /* number of the holder that the present step is about; 0: none */
};

/* Returns what the rail waits for at present. A rail waits for one thing at a time. */
struct kr_wait kr_motion_wait(const struct kr_motion *motion, const struct kr_motion_in *in);

/* ---- changes of what is known ---------------------------------------------------------------------------------- */

/* Lowers the grade of every position on the rail to at_most, because hands may have been there or power was off. A
 * position with a lower grade keeps it. */
void kr_motion_doubt(struct kr_motion *motion, const struct kr_motion_in *in, enum kr_known at_most);

/* kr_motion_doubt_for_now() lowers the grades to KR_REMEMBERED for as long as it is open whether hands were there.
 * kr_motion_doubt_over() is called when it is certain that nobody was there. It gives each position the grade from
 * before, unless there has been another doubt about that position since. */
void kr_motion_doubt_for_now(struct kr_motion *motion, const struct kr_motion_in *in);
void kr_motion_doubt_over(struct kr_motion *motion, const struct kr_motion_in *in);

/* A person gives the position of one holder, or says with KR_UNKNOWN that nobody knows it. The grade is at_most, and
 * never better than KR_REMEMBERED. */
void kr_motion_told(struct kr_motion *motion, const struct kr_motion_in *in, uint16_t holder_number,
                    int32_t position_um, enum kr_known at_most);

/* kr_motion_awaits_datum() says whether the last homing did not move, so that a person has to confirm the datum.
 * kr_motion_confirm_datum(): a person says that the carriage stands where the drive's position says (is_right), or
 * takes that back. Positions on the rail are remembered then. */
bool kr_motion_awaits_datum(const struct kr_motion *motion);
void kr_motion_confirm_datum(struct kr_motion *motion, const struct kr_motion_in *in, bool is_right);

/* A scan found most holders off alike by shift_um. A person says that the holders stand right where they were found
 * (is_right), so that the next scan counts, or takes that back. */
void kr_motion_confirm_shift(struct kr_motion *motion, const struct kr_motion_in *in, bool is_right, int32_t shift_um);

/* Settings changed on which positions depend. Positions become remembered, and the widths of all flags have to be
 * measured anew. */
void kr_motion_geometry_changed(struct kr_motion *motion, const struct kr_motion_in *in);

/* A person has set the frame, and the caller's settings contain it from the next call on. The effects are those of
 * kr_motion_geometry_changed(), but references are still held against where the last scan found them: a frame that
 * contradicts them by more than their step_um is an alarm. found_scale_ppb is the part of the scale that references
 * have found since: 0 with a new frame, and the earlier value when the caller takes a frame back. */
void kr_motion_frame_taken(struct kr_motion *motion, const struct kr_motion_in *in, int32_t found_scale_ppb);

/* A person has set where the rail's proximity switch is and the bias of its scans, and the caller's settings contain
 * both from the next call on. The effects are those of kr_motion_frame_taken(). found_um is the part of the switch
 * offset that references and dragged holders have found since: 0 with a new offset, and the earlier value when the
 * caller takes an offset back. */
void kr_motion_switch_taken(struct kr_motion *motion, const struct kr_motion_in *in, int32_t found_um);

/* The frame is longer by expansion_ppb than at 20 C from now on. Positions keep their grades and are converted.
 * Returns whether any position changed. It is called only while nothing moves. */
bool kr_motion_expand(struct kr_motion *motion, const struct kr_motion_in *in, int32_t expansion_ppb);

/* ---- questions ------------------------------------------------------------------------------------------------- */

const struct kr_rail_knowledge *kr_motion_knowledge(const struct kr_motion *motion);
enum kr_carriage_phase kr_motion_phase(const struct kr_motion *motion);
/* Returns the reason why a drive has no link, as an alarm: either it is refused, or it does not answer. The alarm's
 * rail is 0. */
struct kr_alarm kr_motion_no_link(const struct kr_axis_in *axis, uint16_t docked);
/* Number of the holder that the pin is in or may be in; 0: none. */
uint16_t kr_motion_docked(const struct kr_motion *motion);
/* The last set-point, in the drive's own position. */
int32_t kr_motion_target_um(const struct kr_motion *motion);
/* The drive is off, and no step is under way. */
bool kr_motion_at_rest(const struct kr_motion *motion);
/* Sets all counts and sums of kr_motion_timing() to 0. */
void kr_motion_time_begin(struct kr_motion *motion);
/* Begins a measurement of the switch offset by this holder, or with 0 of the scan bias. */
void kr_motion_gauge_begin(struct kr_motion *motion, uint16_t holder_number);
/* The results, at the speed at which the rail scans. */
struct kr_gauge_bias kr_motion_gauge_bias(const struct kr_motion *motion, const struct kr_carriage_config *carriage);
struct kr_gauge_offset kr_motion_gauge_offset(const struct kr_motion *motion);
uint16_t kr_motion_gauge_holder(const struct kr_motion *motion);
const struct kr_timing *kr_motion_timing(const struct kr_motion *motion);
/* Of the last scan, or of the one that is under way. */
const struct kr_flag_widths *kr_motion_flag_widths(const struct kr_motion *motion);

/* These functions judge the inputs of the rail's axes; [0] is the carriage's. Without a link they return false. */
bool kr_motion_pin_is_out(const struct kr_axis_in axis[]);
bool kr_motion_jog_enabled(const struct kr_axis_in axis[]); /* the hold-to-run device is pressed */
/* The common clamp is proven closed, or the rail has none: then each holder's own brake holds it. */
bool kr_motion_clamped(const struct kr_carriage_config *carriage, const struct kr_axis_in axis[]);
/* The carriage's position counts from the datum: the drive says so, there is no doubt about it, and the position lies
 * within the carriage's travel and its margin. */
bool kr_motion_has_datum(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                         const struct kr_axis_in axis[]);
/* The position should count from the datum, but lies beyond the carriage's travel and its margin. */
bool kr_motion_is_implausible(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                              const struct kr_axis_in axis[]);
bool kr_motion_parked(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                      const struct kr_axis_in axis[]);
/* The carriage is at rest and touches nothing: the pin is proven out, the clamp is closed, and the carriage is parked
 * by a datum that agrees with the place where it was seen at rest before. */
bool kr_motion_rests_clear(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                           const struct kr_axis_in axis[]);

/* Writes to *carriage the settings `told` with the correction that references have found. */
void kr_carriage_correct(const struct kr_carriage_config *told, const struct kr_frame_correction *correction,
                         struct kr_carriage_config *carriage);

/* ---- figures --------------------------------------------------------------------------------------------------- */

bool kr_holder_on_rail(uint8_t state); /* state: enum kr_holder_state */

/* Returns `full`, or at reduced speed the setup speed if that is less. */
struct kr_speed kr_setup_speed(const struct kr_carriage_config *carriage, struct kr_speed full, bool reduced);

/* A scan goes one way only where the settings ask for it and the bias is known. At reduced speed it goes both ways,
 * because a bias is calibrated at the scan speed. */
bool kr_scan_goes_both_ways(const struct kr_carriage_config *carriage, bool reduced);

/* Writes the start and the end of a scan, in the drive's own positions. The run-up to the scan speed is included, so
 * both have to lie within the carriage's travel. */
void kr_scan_range(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage, int32_t *from_um,
                   int32_t *to_um);

/* Returns whether the carriage reaches, within its travel and at every temperature of the frame, all that the rail's
 * limits ask for: the holders, the approach from one side, a scan from end to end, and the park position. If not,
 * *position_um is where the carriage would have to go, and *limit_um is where its travel ends, both in the drive's
 * own positions. */
bool kr_carriage_reaches(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                         int32_t *position_um, int32_t *limit_um);

/* Returns whether KR_TASK_FIND can find the datum. Two references at the drive side have to stand nearer to each
 * other than two holders can, and no other such pair may have the same distance. */
bool kr_find_is_possible(const struct kr_geometry *geometry, const struct kr_references *references);

/* Returns where KR_TASK_FIND comes to a stand at the latest, by the drive's own position, if it goes at this setup
 * speed: behind the last reference by three cycles at that speed and the way to stop. */
int64_t kr_find_way_um(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                       int32_t period_us, int32_t setup_um_per_s);

/* Where a scan will meet the holders of a rail, in rail order. */
struct kr_scan_flags {
    bool known; /* all places are known so well that the scan goes fast between them */
    uint16_t n;
    int32_t at_um[KR_HOLDERS_MAX];
};

/* Returns the time of one scan of the whole rail: the empty travel from *from_um to where the scan begins, and its
 * passes. *from_um becomes the place where the scan ends. flags is NULL: the scan is made at scan speed. */
int64_t kr_scan_time_us(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage, bool reduced,
                        const struct kr_scan_flags *flags, int32_t *from_um);

/* Returns whether all flags are where the rail knows them to be, so that its next scan may go fast between them: every
 * holder is measured or placed, the last scan saw every reference as it should be, and no doubt stands. */
bool kr_motion_flags_known(const struct kr_motion *motion, const struct kr_motion_in *in);

#endif
