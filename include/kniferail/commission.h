/* commission: what the commissioning of a station consists of, and what is to be made of what was seen. It has the
 * table of steps, the question which steps a changed setting makes doubtful, and one judge for each step. Pure: it
 * reads no station, asks nobody and keeps nothing; `kniferail commission` does. Stands on drivemap and base.
 * Nothing here is a safety function: a step that passes says what was seen, and by whom, and no more. */
#ifndef KNIFERAIL_COMMISSION_H
#define KNIFERAIL_COMMISSION_H

#include "kniferail/acceptance.h"
#include "kniferail/alarm.h"
#include "kniferail/calibration.h"
#include "kniferail/drivemap.h"
#include "kniferail/frame.h"

/* ---- the steps ------------------------------------------------------------------------------------------------- */

enum kr_step_scope { KR_STEP_STATION, KR_STEP_RAIL };

enum kr_step_id {
#define STEP(name, scope, title, caution, what, settings) KR_STEP_##name,
#include "kniferail/commission.def"
    KR_STEP_COUNT
};

struct kr_step {
    const char *name; /* "CAUTIONS"; the session keeps it in lower case */
    enum kr_step_scope scope;
    const char *title, *caution, *what;
    const char *settings; /* commission.def says how they are written */
};
const struct kr_step *kr_step(size_t id); /* beyond the last: NULL */

/* Whether the verdict of a step stands on a setting. rail_number: of the step, 0 for one of the whole station. setting:
 * as kr_config_tell_settings() names it, "rail 1: drive.word_order" or "placement.knife_mm". */
bool kr_step_stands_on(const struct kr_step *step, uint16_t rail_number, const char *setting);

/* ---- a verdict ------------------------------------------------------------------------------------------------- */

#define KR_FINDINGS_MAX 16
#define KR_FIGURES_MAX  128

/* What is wrong, and what to change. */
struct kr_finding {
    char seen[400];   /* a whole sentence: what was seen, and what should have been */
    char setting[48]; /* of the station file; empty: it is not the file that has to change */
    char change[160]; /* to what; without a setting: what to do at the machine */
};

/* Something that was measured, read or typed in. */
struct kr_figure {
    char name[80], value[400];
};

/* Begins all 0. It passes unless it has a finding. A figure or a finding for which there is no room is counted. */
struct kr_step_verdict {
    uint16_t n_findings, n_figures, lost;
    struct kr_finding finding[KR_FINDINGS_MAX];
    struct kr_figure figure[KR_FIGURES_MAX];
};

bool kr_step_passes(const struct kr_step_verdict *verdict);
/* Both take a format, as printf() does. Texts that are too long are cut. */
__attribute__((format(printf, 3, 4))) void kr_figure_add(struct kr_step_verdict *verdict, const char *name,
                                                         const char *value, ...);
__attribute__((format(printf, 4, 5))) void kr_finding_add(struct kr_step_verdict *verdict, const char *setting,
                                                          const char *change, const char *seen, ...);

/* ---- the drive and its parameters ------------------------------------------------------------------------------ */

/* What the registers say of one rail's drive. */
struct kr_drive_seen {
    bool link;
    uint16_t refused;                      /* enum kr_refused */
    char parameter[KR_PARAMETER_NAME_MAX]; /* for which it is refused, and what of it */
    uint16_t address;
    int32_t seen, expected;
    bool implausible; /* the position lies beyond the travel */
};
void kr_judge_drive(const struct kr_drive *drive, const struct kr_drive_seen *seen, struct kr_step_verdict *verdict);

/* ---- inputs ---------------------------------------------------------------------------------------------------- */

/* One input, or two that belong together, while somebody makes it come and go. */
struct kr_input_watch {
    uint16_t mask;   /* KR_DI_...: what is being made to come and go */
    uint16_t before; /* all inputs when it began */
    uint16_t came, went;
    uint16_t others; /* inputs outside the mask that changed meanwhile */
};
void kr_input_watch_begin(struct kr_input_watch *watch, uint16_t mask, uint16_t inputs);
/* Takes what the inputs are now. Returns whether all of the mask came and went. */
bool kr_input_watch_step(struct kr_input_watch *watch, uint16_t inputs);
void kr_judge_input(const struct kr_input_watch *watch, struct kr_step_verdict *verdict);

/* How the inputs stand while a person sees that the pin is out, and brake and clamp are closed. flag: whether the
 * person sees one before the switch. wired: those inputs that the drive has. */
void kr_judge_rest(uint16_t wired, uint16_t inputs, bool flag, struct kr_step_verdict *verdict);

/* ---- outputs --------------------------------------------------------------------------------------------------- */

/* One output, while it was tried. */
struct kr_output_seen {
    uint16_t output; /* KR_DO_..., one bit */
    bool came_on;
    uint16_t wired;         /* inputs that the drive has */
    uint16_t before, after; /* inputs before it came on, and at last while it was on */
    bool over_holder;       /* the carriage stands over a holder: the pin can go in */
    bool person_saw;        /* a person saw that this moved, and nothing else */
};
void kr_judge_output(const struct kr_output_seen *seen, struct kr_step_verdict *verdict);

/* ---- direction and scale --------------------------------------------------------------------------------------- */

/* To which side a person saw the carriage go. */
enum kr_side_seen { KR_SEEN_NOWHERE, KR_SEEN_DRIVE_SIDE, KR_SEEN_OPERATOR_SIDE };

/* A short jog towards one side. */
struct kr_jog_seen {
    int8_t direction; /* 1: it was told to go towards the drive side; -1: the operator side */
    int32_t shown_um; /* how far the registers say that it went */
    enum kr_side_seen side;
    uint16_t alarm;                   /* that ended it; 0: none */
    int32_t alarm_value, alarm_limit; /* as the alarm has them */
};
void kr_judge_direction(const struct kr_drive *drive, const struct kr_jog_seen *seen, struct kr_step_verdict *verdict);

/* A way by jog, and by the tape. */
struct kr_tape_seen {
    int32_t shown_um, tape_um; /* both signed: growing towards the drive side */
    int32_t uncertain_um;      /* how far the tape may be off, as a person says */
};
#define KR_TAPE_WAY_LEAST_UM 20000 /* a shorter way says nothing about the scale */
/* Whether the way is long enough: the tape's doubt is at most a twentieth of it. */
bool kr_tape_way_is_enough(const struct kr_tape_seen *seen);
void kr_judge_scale(const struct kr_drive *drive, const struct kr_tape_seen *seen, struct kr_step_verdict *verdict);

/* ---- jobs ------------------------------------------------------------------------------------------------------ */

/* How a job ended. */
struct kr_job_seen {
    bool complete;
    uint16_t alarm_code; /* the first alarm that stood when it ended otherwise; 0: none */
    char alarm[512];     /* in words, with what to do about it */
    int32_t took_ms;
};

/* ---- homing ---------------------------------------------------------------------------------------------------- */

/* Where the carriage was, and when on the gateway's own time: from at_ms on or up to span_ms later. */
struct kr_place_seen {
    int32_t at_um;
    uint32_t at_ms; /* wraps */
    uint16_t span_ms;
    bool referenced; /* the place has its datum */
};

/* The fastest that a carriage has surely gone, on the way between two places that were seen some time apart. However
 * late somebody looks, it never comes out faster than it was. A datum that is found moves the place at once, which is
 * no speed: a way counts once the next one has ended without such a change. Begins all 0. */
struct kr_speed_watch {
    bool begun;
    struct kr_place_seen from;
    int32_t doubtful_um_per_s, fastest_um_per_s;
};
void kr_speed_watch_step(struct kr_speed_watch *watch, const struct kr_place_seen *place);

struct kr_home_seen {
    bool complete, referenced;
    char alarm[240]; /* what stopped it, in words; empty: nothing did */
    int32_t fastest_um_per_s, setup_um_per_s;
    int32_t rest_um, park_um, park_window_um; /* where it came to rest, and where it should */
    int32_t took_ms;
};
/* drive: whether 6098h and 6099h are among its registers. */
void kr_judge_home(const struct kr_drive *drive, const struct kr_home_seen *seen, struct kr_step_verdict *verdict);

/* ---- the ends of travel ---------------------------------------------------------------------------------------- */

/* One end, as a jog and a person found it. Places grow towards the drive side. */
struct kr_end_seen {
    int8_t side;        /* 1: at the drive side, -1: at the operator side */
    bool has_input;     /* the drive has a limit input at this end */
    bool input_seen;    /* a person made it come and go by hand, and saw it at the drive */
    int32_t setting_um; /* carriage.travel_most_mm, or travel_least_mm */
    int32_t stood_um;   /* where the jog ended */
    uint16_t alarm;     /* that ended it; 0: none. JOG_ENABLE_LOST: the device was let go */
    char alarm_text[240];
    int32_t room_um;   /* how far the carriage could still go, to a stop or a limit switch, as a person measured */
    int32_t margin_um; /* carriage.travel_margin_mm: so far beyond its travel its place is believed */
};
void kr_judge_end(const struct kr_end_seen *seen, struct kr_step_verdict *verdict);

/* ---- silence --------------------------------------------------------------------------------------------------- */

enum kr_silence {
    KR_SILENCE_CABLE,   /* the drive's own cable is pulled */
    KR_SILENCE_GATEWAY, /* the gateway says nothing, and every link is up */
    KR_SILENCE_FAR      /* the gateway's cable is pulled: the drive's own link stays up, behind a switch */
};
const char *kr_silence_text(enum kr_silence how);

/* One trial: the carriage travels empty, and nobody is heard any more. Lengths in micrometres. */
struct kr_silence_seen {
    enum kr_silence how;
    bool production;       /* at production speed; else at that of setting up */
    int8_t direction;      /* 1 towards the drive side, -1 */
    struct kr_speed speed; /* of that way, by the station file */
    int32_t limit_ms;      /* the longest that the drive's watchdog may take */
    int32_t cycles_ms;     /* by which the last answer may be older than the cut */
    int32_t play_um;       /* by which a place may be off: backlash, following error */
    bool moved;            /* it travelled when the link went */
    int32_t from_um;       /* where the last answer showed it */
    int32_t sent_um;       /* where it was sent */
    int32_t stood_um;      /* where it stood after reconnecting */
    int32_t time_ms;       /* until the drive began to stop, as a person typed it in; 0: not measured */
    bool by_trace;         /* the drive's own trace says so */
};
/* v t + v^2 / (2 a): the way of a carriage that goes on for t and then stops. */
int32_t kr_silence_way_um(struct kr_speed speed, int32_t ms);
void kr_judge_silence(const struct kr_silence_seen *seen, struct kr_step_verdict *verdict);

/* ---- the frame ------------------------------------------------------------------------------------------------- */

/* Readings of an instrument against the places that the station showed. */
struct kr_calibration_seen {
    uint16_t rail_number;
    const char *file;           /* that has the readings */
    struct kr_calibration left; /* of the readings, with the places shown as targets: what the frame in force leaves */
    struct kr_instrument instrument;
    struct kr_frame in_force;
    struct kr_frame to_set;    /* what the readings say instead */
    bool impossible;           /* its offset or its scale would be beyond what a frame may have */
    uint16_t bad_point;        /* of its table, which breaks a limit; 0: none does */
    int32_t least_um, most_um; /* limits of the holders' centres */
    int32_t tolerance_um;      /* of a knife's place */
};
void kr_judge_calibration(const struct kr_calibration_seen *seen, struct kr_step_verdict *verdict);

/* ---- references and switch ------------------------------------------------------------------------------------- */

/* A reference flag, by the station file and as the last scan that counted saw it. */
struct kr_flag_seen {
    int32_t at_um, width_um;
    bool good;        /* it is as it should be */
    int32_t looks_um; /* else how wide it looks; 0: it was not seen */
};
#define KR_FLAGS_SEEN_MAX 8

/* What the scans of a rail with reference flags found, and what corrects the rail since. */
struct kr_references_seen {
    uint16_t rail_number, n_flags;
    struct kr_flag_seen flag[KR_FLAGS_SEEN_MAX];
    struct kr_job_seen job; /* that ended last */
    const char *job_text;
    struct kr_alarm alarm; /* that stopped it; code 0: none */
    bool found;            /* job 10 took the datum from them */
    int32_t datum_um, switch_um, scale_ppb;
    int32_t tolerance_um; /* of a knife's place */
};
void kr_judge_references(const struct kr_references_seen *seen, struct kr_step_verdict *verdict);

/* What job 11 measured, and what is in force once the person has said whether it counts. */
struct kr_bias_seen {
    uint16_t rail_number;
    struct kr_job_seen job;
    uint16_t n_readings;
    int32_t found_um, uncertainty_um, hysteresis_um, delay_us;
    int32_t in_force_um;   /* 0: scans go both ways */
    int32_t offset_um;     /* of the switch, as it counts */
    bool always_both_ways; /* a switch of the references' own needs that */
    bool accepted;
    char refused[200]; /* why the station did not take it; empty: it was not asked, or took it */
    int32_t tolerance_um;
};
void kr_judge_bias(const struct kr_bias_seen *seen, struct kr_step_verdict *verdict);

/* ---- holders and changeovers ----------------------------------------------------------------------------------- */

/* One holder, moved at reduced speed, with a scan before and one behind. */
struct kr_holder_seen {
    uint16_t holder_number;
    struct kr_job_seen job;
    bool person_saw;
    int32_t target_um, scanned_um, tolerance_um;
    uint16_t n_others, other_number; /* other holders that the second scan found elsewhere; the first of them */
};
void kr_judge_holder(const struct kr_holder_seen *seen, struct kr_step_verdict *verdict);

/* What a scan says of the width of holders' flags. */
struct kr_width_seen {
    int32_t width_um, at_um;
};
struct kr_widths_seen {
    struct kr_job_seen job; /* the scan */
    int32_t setting_um;     /* carriage.flag_width_mm */
    uint16_t n;             /* widths taken, each pass for itself; 0: none */
    int32_t mean_um;
    struct kr_width_seen narrowest, widest;
};
void kr_judge_widths(const struct kr_widths_seen *seen, struct kr_step_verdict *verdict);

/* What dragging a holder says of the place of the switch, from the pin. */
struct kr_switch_seen {
    uint16_t rail_number, holder_number;
    struct kr_job_seen job;
    uint16_t n_readings;
    int32_t counts_um; /* the offset that counts now, with what references have found */
    int32_t found_um, uncertainty_um;
    int32_t play_um;      /* of the drive */
    int32_t tolerance_um; /* of a knife's place */
};
void kr_judge_switch(const struct kr_switch_seen *seen, struct kr_step_verdict *verdict);

struct kr_changeover_seen {
    bool production;
    struct kr_job_seen job;
    bool verified, person_saw;
    int32_t worst_um, tolerance_um; /* of a knife that cuts, off its place */
    int32_t told_ms;                /* planned when it began, scans included */
    uint16_t n_moves, n_retries;
};
void kr_judge_changeover(const struct kr_changeover_seen *seen, struct kr_step_verdict *verdict);

/* ---- blades and edges ------------------------------------------------------------------------------------------ */

/* A blade beside its counter-knife, as a person measured it. */
struct kr_pair_seen {
    uint16_t cut, upper_number, lower_number; /* holders, from 1 */
    int32_t gap_um;                           /* positive: the blade stands on the drive side */
    int32_t upper_offset_um, lower_offset_um; /* edge offsets in force */
};
#define KR_PAIRS_SEEN_MAX 128

struct kr_clearance_seen {
    uint16_t rail_number, lower_number;
    /* by the station file; window: placement.pair_mm; stroke 0: not given */
    int32_t told_um, window_um, stroke_um, run_out_um;
    int8_t hand; /* the side on which the blades have to stand: 1 drive side, -1 operator side */
    int32_t seen_stroke_um, seen_run_out_um; /* 0: nobody measured it */
    int32_t uncertain_um;                    /* of a reading */
    uint16_t n_pairs;
    struct kr_pair_seen pair[KR_PAIRS_SEEN_MAX];
};
void kr_judge_clearance(const struct kr_clearance_seen *seen, struct kr_step_verdict *verdict);

/* The edge of a holder in service. */
struct kr_edge_seen {
    uint16_t rail_number, holder_number;
    uint16_t edge;     /* enum kr_edge */
    int32_t offset_um; /* in force */
    int32_t was_um;    /* when the step began */
    bool proposed;     /* strips propose another one, which is not set */
    int32_t proposed_um;
};

struct kr_edges_seen {
    struct kr_job_seen job; /* by which an order was set up last; complete where none was needed */
    uint16_t n_rails, n_test_cuts, n;
    const struct kr_edge_seen *edge;
    int32_t tolerance_um; /* of a knife's place */
};
void kr_judge_edges(const struct kr_edges_seen *seen, struct kr_step_verdict *verdict);

/* ---- acceptance ------------------------------------------------------------------------------------------------ */

/* What the runs of acceptance came to. */
struct kr_dockings_seen {
    uint16_t n_holders; /* in service */
    uint32_t asked, done, faults, retries;
    struct kr_job_seen first; /* fault; its alarm is told */
    int64_t took_ms;
};
void kr_judge_dockings(const struct kr_acceptance *limits, const struct kr_dockings_seen *seen,
                       struct kr_step_verdict *verdict);

struct kr_changeovers_seen {
    uint32_t asked, done, faults, retries;
    struct kr_job_seen first;
    int64_t told_ms, took_ms; /* of those that were verified */
    uint32_t seed;            /* of the orders */
};
void kr_judge_changeovers(const struct kr_acceptance *limits, const struct kr_changeovers_seen *seen,
                          struct kr_step_verdict *verdict);

/* The placement of one rail's knives. error_um[]: in the sequence of time, at least 2; tolerance_um: either way. */
void kr_judge_placement(const struct kr_acceptance *limits, uint16_t rail_number, const double error_um[], size_t n,
                        double tolerance_um, struct kr_step_verdict *verdict);

/* ---- alarms, provoked ------------------------------------------------------------------------------------------ */

/* provoke.def says what each of these is. */
enum kr_provoke_situation { KR_PROVOKE_AT_REST, KR_PROVOKE_WHILE_SCANNING, KR_PROVOKE_WHILE_JOGGING };
enum kr_provoke_needs {
    KR_PROVOKE_ANYTHING,
    KR_PROVOKE_COMMON_CLAMP,
    KR_PROVOKE_OWN_BRAKES,
    KR_PROVOKE_REFERENCES,
    KR_PROVOKE_NO_REFERENCES,
    KR_PROVOKE_REFERENCE_SWITCH,
    KR_PROVOKE_EXPECTED
};
enum kr_provoke_item { KR_PROVOKE_NOTHING, KR_PROVOKE_HOLDER, KR_PROVOKE_HOLDERS, KR_PROVOKE_REFERENCE };
#define KR_PROVOKE_ROOM_UM  INT32_MIN
#define KR_PROVOKE_ASIDE_UM (INT32_MIN + 1)
#define KR_PROVOKE_BEFORE   (-1) /* the job; else enum kr_carriage_phase */

struct kr_provocation_by_hand {
    uint16_t alarm_code;
    enum kr_provoke_situation situation;
    const char *brief, *act, *undo, *caution;
};
struct kr_provocation_simulated {
    uint16_t alarm_code;
    enum kr_provoke_needs needs;
    uint16_t job;  /* enum kr_job */
    int16_t phase; /* enum kr_carriage_phase, or KR_PROVOKE_BEFORE */
    const char *fault;
    enum kr_provoke_item item;
    int32_t value;
};
const struct kr_provocation_by_hand *kr_provocation_by_hand(size_t index);     /* enum kr_by_hand; beyond it NULL */
const struct kr_provocation_simulated *kr_provocation_simulated(size_t index); /* beyond the last NULL */
const char *kr_why_not_provoked(uint16_t alarm_code);                          /* NULL: it can be */
const char *kr_provoke_needs_text(enum kr_provoke_needs needs); /* why a station without that is passed over */

/* One alarm that was to be provoked, once. */
struct kr_alarm_seen {
    uint16_t code;
    bool simulator;     /* else at the machine */
    const char *how;    /* it was provoked */
    bool raised, gone;  /* gone: after it was taken back and acknowledged */
    int32_t raised_ms;  /* until it was seen */
    char sentence[240]; /* the alarm, with its figures */
    char instead[240];  /* what stood in its place when it was not seen; empty: nothing */
};
void kr_judge_alarm(const struct kr_alarm_seen *seen, struct kr_step_verdict *verdict);
/* After all of them: how many were provoked at the simulator, and seen. */
void kr_judge_rehearsal(uint16_t n_provoked, uint16_t n_seen, struct kr_step_verdict *verdict);

#endif
