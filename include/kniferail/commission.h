/* commission: the steps by which a station is commissioned, and the judgement of what was seen. It has the table of
 * steps, the question which steps a changed setting makes doubtful, and one judge for each step. It is pure: it reads
 * no station, asks nobody and keeps nothing; `kniferail commission` does that. Stands on drivemap and base. Nothing
 * here is a safety function: a step that passes tells what was seen, and by whom, and no more. */
#ifndef KNIFERAIL_COMMISSION_H
#define KNIFERAIL_COMMISSION_H

#include "kniferail/acceptance.h"
#include "kniferail/alarm.h"
#include "kniferail/calibration.h"
#include "kniferail/drivemap.h"
#include "kniferail/frame.h"
#include "kniferail/map.h"

/* ---- the steps ------------------------------------------------------------------------------------------------- */

enum kr_step_scope { KR_STEP_STATION, KR_STEP_RAIL };

enum kr_step_id {
#define STEP(name, scope, title, caution, what, settings) KR_STEP_##name,
#include "kniferail/commission.def"
    KR_STEP_COUNT
};

struct kr_step {
    const char *name; /* for example "CAUTIONS"; the session keeps it in lower case */
    enum kr_step_scope scope;
    const char *title, *caution, *what;
    const char *settings; /* commission.def says how they are written */
};
#define KR_STEP_WHAT_MAX 1200             /* has room for any `what`, with lengths in both units */
const struct kr_step *kr_step(size_t id); /* NULL beyond the last step */

/* Tells whether the verdict of a step depends on a setting. rail_number: the rail of the step, 0 for a step of the
 * whole station. setting: the name that kr_config_tell_settings() gives it, "rail 1: drive.word_order" or
 * "placement.knife_mm". */
bool kr_step_stands_on(const struct kr_step *step, uint16_t rail_number, const char *setting);

/* Tells whether the first step has to have passed before the later one is begun: for every rail, or for the rail of the
 * later step. A step of the whole station that moves carriages comes after all that was tried before it. */
bool kr_step_comes_first(enum kr_step_id first, enum kr_step_id later);
/* Tells whether a step moves at production speed, or without a link, so that SILENCE has to have passed. */
bool kr_step_needs_silence(enum kr_step_id id);

/* ---- lengths, as people read them ------------------------------------------------------------------------------ */

/* How a length is written, first at a station in mm, then at one in inches. There it stands in both units, so that
 * nobody takes it for the other one. */
enum kr_said {
    KR_SAID_LENGTH = 0,       /* "25.400 mm"; "1.0000 in (25.400 mm)" */
    KR_SAID_SHORT = 1,        /* "25.400", because a later length has its unit; "1.0000 in (25.400 mm)" */
    KR_SAID_SETTING = 1 << 1, /* for the station file, which takes mm: "25.400"; "25.400 mm [1.0000 in]" */
    KR_SAID_CELL = 1 << 2,    /* after a name, or below a heading, that says mm: "25.400"; "25.400 [1.0000 in]" */
    /* As a word of a command, where a bare number is in the station's unit: "25.400"; "1.0000in". */
    KR_SAID_TYPED = 1 << 3,
    KR_SAID_SIGNED = 1 << 4, /* may be added: with a sign always */
    KR_SAID_SPEED = 1 << 5   /* may be added: mm/s or in/s */
};
#define KR_SAID_MAX 80
/* decimals is the number of decimals in mm. Returns text. */
const char *kr_said(enum kr_length_unit unit, unsigned as, int decimals, double mm, char text[KR_SAID_MAX]);
/* The same, into memory of the block in which it stands. */
#define KR_SAID(unit, as, decimals, mm) kr_said(unit, as, decimals, mm, (char[KR_SAID_MAX]){0})
/* Writes a text that has lengths in mm, as "at most 5 mm". At a station in inches they stand in both units. Returns
 * out. */
const char *kr_said_text(enum kr_length_unit unit, const char *text, char *out, size_t size);

/* ---- a verdict ------------------------------------------------------------------------------------------------- */

#define KR_FINDINGS_MAX 16
#define KR_CHANGE_MAX   400
#define KR_FIGURES_MAX  1024 /* four rails of 128 holders, and the strips of four test cuts */

/* A finding: what is wrong, and what to change. */
struct kr_finding {
    char seen[640];   /* a whole sentence: what was seen, and what should have been */
    char setting[48]; /* setting of the station file; empty: the file does not have to change */
    /* The new value; without a setting: what to do at the machine. */
    char change[KR_CHANGE_MAX];
};

/* An alarm in words: its name, what it says with its values, and its remedy. The longest is tested to have room. */
#define KR_ALARM_WORDS_MAX 512

/* A value that was measured, read or typed in. */
struct kr_figure {
    char name[128], value[400];
};

/* The verdict of a step, which begins all 0, apart from length_unit. A step passes unless it has a finding. If there is
 * no room for a figure or a finding, it is counted in lost, and the step does not pass either. */
struct kr_step_verdict {
    enum kr_length_unit length_unit; /* of the station: figures and findings are written for its people */
    uint16_t n_findings, n_figures, lost;
    struct kr_finding finding[KR_FINDINGS_MAX];
    struct kr_figure figure[KR_FIGURES_MAX];
};

bool kr_step_passes(const struct kr_step_verdict *verdict);
/* Both functions take a format, as printf() does. Texts that are too long are cut. */
__attribute__((format(printf, 3, 4))) void kr_figure_add(struct kr_step_verdict *verdict, const char *name,
                                                         const char *value, ...);
__attribute__((format(printf, 4, 5))) void kr_finding_add(struct kr_step_verdict *verdict, const char *setting,
                                                          const char *change, const char *seen, ...);

/* ---- the safety interface -------------------------------------------------------------------------------------- */

/* Tells whether a text is a day of the calendar, as YYYY-MM-DD (ISO 8601). */
bool kr_is_date(const char *text);

/* The sheet of the safety interface, and what a person says of its signatures. Days are as kr_is_date() takes them. */
struct kr_sheet_seen {
    bool is_signed;
    char printed[11], signed_on[11], today[11];
};
void kr_judge_sheet(const struct kr_sheet_seen *seen, struct kr_step_verdict *verdict);

/* ---- the drive and its parameters ------------------------------------------------------------------------------ */

/* The registers about the drive of one rail. */
struct kr_drive_seen {
    bool link;
    uint16_t refused; /* enum kr_refused */
    /* The parameter for which it is refused, with its register, value and expected value. */
    char parameter[KR_PARAMETER_NAME_MAX];
    uint16_t address;
    int32_t seen, expected;
    bool implausible; /* the position lies beyond the travel */
};
void kr_judge_drive(const struct kr_drive *drive, const struct kr_drive_seen *seen, struct kr_step_verdict *verdict);

/* What a person has to read at the drive and type in, because neither a register of the map nor the list `expected`
 * shows it. The time of the watchdog is always asked for: its register may have any unit. */
struct kr_drive_asked {
    bool homing_method, homing_speed, torque_limit;
};
struct kr_drive_asked kr_drive_asked(const struct kr_drive *drive);
struct kr_drive_typed {
    int32_t watchdog_ms, homing_method, homing_um_per_s;
    int32_t setup_um_per_s; /* of the station file */
};
void kr_judge_drive_typed(const struct kr_drive *drive, const struct kr_drive_typed *typed,
                          struct kr_step_verdict *verdict);

/* ---- inputs ---------------------------------------------------------------------------------------------------- */

/* One input, or two that belong together, while a person makes it come and go. */
struct kr_input_watch {
    uint16_t mask;   /* KR_DI_...: the inputs that are made to come and go */
    uint16_t before; /* all inputs at the beginning */
    uint16_t came, went;
    uint16_t others; /* inputs outside the mask that changed meanwhile */
    /* Number of another rail at whose drive the same inputs came and went meanwhile; 0: none. And the setting in which
     * the links of both drives differ. */
    uint16_t other_rail;
    const char *link_setting;
};
void kr_input_watch_begin(struct kr_input_watch *watch, uint16_t mask, uint16_t inputs);
/* Takes the present inputs. Returns whether all inputs of the mask came and went. */
bool kr_input_watch_step(struct kr_input_watch *watch, uint16_t inputs);
/* Returns the first setting in which two links differ: "drive.address" and so on. */
const char *kr_link_setting(const struct kr_drive_link *a, const struct kr_drive_link *b);
void kr_judge_input(const struct kr_input_watch *watch, struct kr_step_verdict *verdict);

/* The limit switch at one end, where the station file names no input for it: only the drive sees it, and a person reads
 * it there. */
struct kr_limit_seen {
    int8_t side;     /* 1: at the drive side, -1: at the operator side */
    bool has_input;  /* the drive has a limit input at this end */
    bool input_seen; /* a person made it come and go by hand, and saw it at the drive */
};
void kr_judge_limit(const struct kr_limit_seen *seen, struct kr_step_verdict *verdict);

/* Judges the inputs while a person sees that the pin is out, and brake and clamp are closed. flag: the person sees a
 * flag before the switch. wired: the inputs that the drive has. */
void kr_judge_rest(uint16_t wired, uint16_t inputs, bool flag, struct kr_step_verdict *verdict);

/* ---- outputs --------------------------------------------------------------------------------------------------- */

/* One output, while it was tried. */
struct kr_output_seen {
    uint16_t output; /* KR_DO_..., one bit */
    bool came_on;
    uint16_t wired;                 /* inputs that the drive has */
    uint16_t before, after;         /* inputs before it came on, and at last while it was on */
    bool over_holder;               /* the carriage stands over a holder: the pin can go in */
    bool person_saw;                /* a person saw that this moved, and nothing else */
    char alarm[KR_ALARM_WORDS_MAX]; /* that ended the try before the inputs were as they should be; "" without one */
};
void kr_judge_output(const struct kr_output_seen *seen, struct kr_step_verdict *verdict);

/* ---- direction and scale --------------------------------------------------------------------------------------- */

/* The side to which a person saw the carriage go. */
enum kr_side_seen { KR_SEEN_NOWHERE, KR_SEEN_DRIVE_SIDE, KR_SEEN_OPERATOR_SIDE };

/* A short jog towards one side. */
struct kr_jog_seen {
    int8_t direction; /* 1: it was told to go towards the drive side; -1: the operator side */
    int32_t shown_um; /* how far the registers say that it went */
    enum kr_side_seen side;
    uint16_t alarm;                      /* that ended it; 0: none */
    int32_t alarm_value, alarm_limit;    /* as the alarm has them */
    char alarm_text[KR_ALARM_WORDS_MAX]; /* its name, what it says, and its remedy */
};
void kr_judge_direction(const struct kr_drive *drive, const struct kr_jog_seen *seen, struct kr_step_verdict *verdict);

/* Judges before the first jog. Where the drive's position is believed from the beginning, no alarm stops a jog that
 * goes astray, so that its speed must not be more than that of a jog without a datum. */
void kr_judge_first_jog(const struct kr_drive *drive, int32_t setup_um_per_s, struct kr_step_verdict *verdict);

/* A distance jogged, by the registers and by the tape. */
struct kr_tape_seen {
    int32_t shown_um, tape_um; /* both with a sign, growing towards the drive side */
    int32_t uncertain_um;      /* uncertainty of the tape, as a person says */
};
#define KR_TAPE_WAY_LEAST_UM 20000 /* a shorter way shows nothing about the scale */
/* Tells whether the way is long enough: the uncertainty of the tape is at most a twentieth of it. */
bool kr_tape_way_is_enough(const struct kr_tape_seen *seen);
void kr_judge_scale(const struct kr_drive *drive, const struct kr_tape_seen *seen, struct kr_step_verdict *verdict);

/* ---- jobs ------------------------------------------------------------------------------------------------------ */

/* The end of a job. */
struct kr_job_seen {
    bool complete;
    uint16_t alarm_code;            /* the first alarm that stood when it ended otherwise; 0: none */
    char alarm[KR_ALARM_WORDS_MAX]; /* the alarm in words, with its remedy */
    int32_t took_ms;
};

/* ---- the guided release --------------------------------------------------------------------------------------- */

#define KR_DOCKED_SOMEWHERE 65535 /* as in DOCKED_HOLDER: the pin is not proven out, and its holder is not known */

/* A pin that was not proven out when a step needed that or ended, and the guided release (job 5), offered then. */
struct kr_release_seen {
    uint16_t rail_number;
    bool wanted;                   /* the person let the program give it */
    uint16_t docked, docked_after; /* holder that the pin may be in, before and after; 0: the pin is proven out */
    struct kr_job_seen job;        /* how job 5 ended */
};
void kr_judge_release(const struct kr_release_seen *seen, struct kr_step_verdict *verdict);

/* ---- homing ---------------------------------------------------------------------------------------------------- */

/* The place of the carriage, and the time on the gateway's clock: from at_ms until span_ms later. */
struct kr_place_seen {
    int32_t at_um;
    uint32_t at_ms; /* wraps */
    uint16_t span_ms;
    bool referenced; /* the place has its datum */
};

/* The greatest speed that a carriage has certainly had on the way between two places that were seen some time apart.
 * However late the places are read, the result is never more than the real speed. When a datum is found, the place
 * jumps, which is no speed: a way counts only after the next one has ended without such a jump. Begins all 0. */
struct kr_speed_watch {
    bool begun;
    struct kr_place_seen from;
    int32_t doubtful_um_per_s, fastest_um_per_s;
};
void kr_speed_watch_step(struct kr_speed_watch *watch, const struct kr_place_seen *place);

struct kr_home_seen {
    bool complete, referenced;
    char alarm[KR_ALARM_WORDS_MAX]; /* the alarm that stopped it, in words; empty: none */
    int32_t fastest_um_per_s, setup_um_per_s;
    int32_t rest_um, park_um, park_window_um; /* where the carriage came to rest, and where it should */
    int32_t took_ms;
};
/* drive tells whether 6098h and 6099h are among the registers. */
void kr_judge_home(const struct kr_drive *drive, const struct kr_home_seen *seen, struct kr_step_verdict *verdict);

/* ---- the ends of travel ---------------------------------------------------------------------------------------- */

/* One end, as a jog and a person found it. Places grow towards the drive side. */
struct kr_end_seen {
    int8_t side;        /* 1: at the drive side, -1: at the operator side */
    uint16_t at_end;    /* KR_DI_LIMIT_... of the station file's inputs that were on where the jog ended */
    int32_t setting_um; /* carriage.travel_most_mm, or travel_least_mm */
    int32_t stood_um;   /* where the jog ended */
    uint16_t alarm;     /* that ended it; 0: none. JOG_ENABLE_LOST: the device was let go */
    char alarm_text[KR_ALARM_WORDS_MAX];
    int32_t room_um;   /* how far the carriage could still go, to a stop or a limit switch, as a person measured */
    int32_t margin_um; /* carriage.travel_margin_mm: so far beyond its travel its place is believed */
};
void kr_judge_end(const struct kr_end_seen *seen, struct kr_step_verdict *verdict);

/* ---- silence --------------------------------------------------------------------------------------------------- */

enum kr_silence {
    KR_SILENCE_CABLE,   /* the drive's own cable is pulled */
    KR_SILENCE_GATEWAY, /* the gateway is silent, and every link is up */
    KR_SILENCE_FAR      /* the gateway's cable is pulled: the drive's own link stays up, behind a switch */
};
const char *kr_silence_text(enum kr_silence how);

/* One trial: the carriage travels without a holder, and the link becomes silent. Lengths in micrometres. */
struct kr_silence_seen {
    enum kr_silence how;
    bool production;       /* at production speed; else at setup speed */
    int8_t direction;      /* 1 towards the drive side, -1 */
    struct kr_speed speed; /* speed of the way, by the station file */
    int32_t limit_ms;      /* longest time that the drive's watchdog may take */
    int32_t cycles_ms;     /* the last answer may be older than the cut by this time */
    int32_t play_um;       /* a place may be off by this, for backlash and following error */
    bool moved;            /* the carriage travelled when the link went */
    int32_t from_um;       /* place in the last answer */
    int32_t sent_um;       /* target of the carriage */
    int32_t stood_um;      /* place after reconnecting */
    int32_t time_ms;       /* time until the drive began to stop, as a person typed it in; 0: not measured */
    bool by_trace;         /* the drive's own trace says so */
};
/* What a hand needs from the call for the cut until the link is gone. Common practice, no published source: a person
 * who waits for the call answers it in a third of a second, and then has to pull or to type. */
#define KR_SILENCE_HAND_MS 1000
/* Whether a hand is quick enough for a trial. */
struct kr_silence_hand {
    int32_t has_ms; /* from the call on: a later cut shows nothing if the watchdog takes as long as it may; 0: none */
    /* With either of these instead a hand has KR_SILENCE_HAND_MS. 0: with none. */
    int32_t watchdog_ms, speed_mm_per_s;
};
/* Reckons that for a way that begins at rest, on which the cut is called for after called_um. Of *seen it takes speed,
 * limit_ms, cycles_ms and play_um. */
struct kr_silence_hand kr_silence_hand(const struct kr_silence_seen *seen, int32_t way_um, int32_t called_um);
/* Tells whether a trial shows anything; if not, says why not, in a whole sentence. */
bool kr_silence_shows(const struct kr_silence_seen *seen, enum kr_length_unit unit, char *why, size_t size);
/* Reads a typed time: "240", "240 ms", "240 trace" or "240 ms trace". False: it is none of these. */
bool kr_silence_time_read(const char *answer, struct kr_silence_seen *seen);
/* Judges that nobody measured a time in the trials of this kind and speed. */
void kr_judge_silence_untimed(const struct kr_silence_seen *seen, struct kr_step_verdict *verdict);
/* Returns v t + v^2 / (2 a): the way of a carriage that goes on for the time t and then stops. */
int32_t kr_silence_way_um(struct kr_speed speed, int32_t ms);
void kr_judge_silence(const struct kr_silence_seen *seen, struct kr_step_verdict *verdict);

/* ---- the frame ------------------------------------------------------------------------------------------------- */

/* Readings of an instrument, compared with the places that the station showed. */
struct kr_calibration_seen {
    uint16_t rail_number;
    const char *file; /* file with the readings */
    /* Calibration of the readings, with the shown places as targets: the error that the frame in force leaves. */
    struct kr_calibration left;
    struct kr_instrument instrument;
    /* Temperature and expansion of the instrument. If it was at 20 C, the readings were not corrected. */
    bool is_corrected;
    double celsius, per_kelvin;
    struct kr_frame in_force;
    struct kr_frame to_set;    /* the frame by the readings */
    bool impossible;           /* offset or scale would exceed the limits of a frame */
    uint16_t bad_point;        /* point of the table that breaks a limit; 0: none does */
    int32_t least_um, most_um; /* limits of the holders' centres */
    int32_t tolerance_um;      /* of a knife's place */
};
void kr_judge_calibration(const struct kr_calibration_seen *seen, struct kr_step_verdict *verdict);

/* ---- references and switch ------------------------------------------------------------------------------------- */

/* A reference flag, in the station file and in the last scan that counted. */
struct kr_flag_seen {
    int32_t at_um, width_um;
    bool good;        /* the flag is as it should be */
    int32_t looks_um; /* otherwise the width that was seen; 0: the flag was not seen */
};
#define KR_FLAGS_SEEN_MAX 8

/* The results of scans of a rail with reference flags, and the corrections since. */
struct kr_references_seen {
    uint16_t rail_number, n_flags;
    struct kr_flag_seen flag[KR_FLAGS_SEEN_MAX];
    struct kr_job_seen job; /* the job that ended last */
    const char *job_text;
    struct kr_alarm alarm; /* the alarm that stopped it; code 0: none */
    bool found;            /* job 10 took the datum from the flags */
    int32_t datum_um, switch_um, scale_ppb;
    int32_t tolerance_um; /* of a knife's place */
};
void kr_judge_references(const struct kr_references_seen *seen, struct kr_step_verdict *verdict);

/* The result of job 11, and the bias in force after the person has decided whether the result counts. */
struct kr_bias_seen {
    uint16_t rail_number;
    struct kr_job_seen job;
    uint16_t n_readings;
    int32_t found_um, uncertainty_um, hysteresis_um, delay_us;
    int32_t in_force_um;   /* 0: scans go both ways */
    bool one_way;          /* the station file has scan_ways = "one"; a bias counts in scans that go one way alone */
    int32_t offset_um;     /* offset of the switch in force */
    bool always_both_ways; /* a separate switch for the references needs that */
    bool accepted;
    char refused[200]; /* why the station refused it; empty: it was not asked, or accepted it */
    int32_t tolerance_um;
};
void kr_judge_bias(const struct kr_bias_seen *seen, struct kr_step_verdict *verdict);

/* ---- holders and changeovers ----------------------------------------------------------------------------------- */

/* One holder, moved at reduced speed, with a scan before and a scan after the move. */
struct kr_holder_seen {
    uint16_t holder_number; /* 0: the scan before the move did not end well, and `job` is that scan */
    struct kr_job_seen job;
    bool person_saw;
    int32_t target_um, scanned_um, tolerance_um;
    /* Number of other holders that the second scan found moved, and the first of them. */
    uint16_t n_others, other_number;
};
void kr_judge_holder(const struct kr_holder_seen *seen, struct kr_step_verdict *verdict);

/* The widths of holders' flags in a scan. */
struct kr_width_seen {
    int32_t width_um, at_um;
};
struct kr_widths_seen {
    struct kr_job_seen job; /* the scan */
    int32_t setting_um;     /* carriage.flag_width_mm */
    uint16_t n;             /* number of widths, which are counted for each pass; 0: none */
    int32_t mean_um;
    struct kr_width_seen narrowest, widest;
};
void kr_judge_widths(const struct kr_widths_seen *seen, struct kr_step_verdict *verdict);

/* The distance of the switch from the pin, by dragging a holder. */
struct kr_switch_seen {
    uint16_t rail_number, holder_number;
    struct kr_job_seen job;
    uint16_t n_readings;
    int32_t counts_um; /* the offset in force, with the correction by references */
    int32_t found_um, uncertainty_um;
    int32_t play_um;      /* play of the drive */
    int32_t tolerance_um; /* of a knife's place */
};
void kr_judge_switch(const struct kr_switch_seen *seen, struct kr_step_verdict *verdict);

struct kr_changeover_seen {
    bool production;
    struct kr_job_seen job;
    bool verified, person_saw;
    int32_t worst_um, tolerance_um; /* deviation of the worst knife that cuts, and its tolerance */
    int32_t told_ms;                /* planned time at the beginning, scans included */
    uint16_t n_moves, n_retries;
    uint32_t order, seed; /* number of the random order, and the seed that gives it again; order 0: not told */
};
void kr_judge_changeover(const struct kr_changeover_seen *seen, struct kr_step_verdict *verdict);

/* ---- blades and edges ------------------------------------------------------------------------------------------ */

/* Numbers of holders, or of cuts, that have something in common. */
struct kr_holders_seen {
    uint16_t n, number[KR_CUTS_MAX]; /* growing */
};

/* A blade beside its counter-knife, as a person measured it. */
struct kr_pair_seen {
    uint16_t cut, upper_number, lower_number; /* holders, from 1 */
    int32_t gap_um;                           /* positive: the blade stands on the drive side */
    int32_t upper_offset_um, lower_offset_um; /* edge offsets in force */
};
#define KR_PAIRS_SEEN_MAX KR_CUTS_MAX

struct kr_clearance_seen {
    uint16_t rail_number, lower_number;
    /* Values of the station file: clearance, placement.pair_mm, stroke (0: not given) and run-out. */
    int32_t told_um, window_um, stroke_um, run_out_um;
    int8_t hand; /* the side on which the blades have to stand: 1 drive side, -1 operator side */
    int32_t seen_stroke_um, seen_run_out_um; /* 0: nobody measured it */
    int32_t uncertain_um;                    /* uncertainty of a reading */
    uint16_t n_pairs;
    struct kr_pair_seen pair[KR_PAIRS_SEEN_MAX];
    struct kr_holders_seen unmeasured; /* cuts whose pair nobody measured */
};
void kr_judge_clearance(const struct kr_clearance_seen *seen, struct kr_step_verdict *verdict);

/* The edge of a holder in service. */
struct kr_edge_seen {
    uint16_t rail_number, holder_number;
    uint16_t edge;     /* enum kr_edge */
    int32_t offset_um; /* in force */
    int32_t was_um;    /* offset when the step began */
    const char *by;    /* who measured it in this step, and with what; NULL: nobody did */
    bool proposed;     /* the strips propose another offset, which is not set */
    int32_t proposed_um;
};

/* Returns an edge of the strips of the order in force, from an image into which the block CUTS was read: a cut line, or
 * the web's edge where that is untrimmed. The edges count from 0 at the operator side. */
int32_t kr_strip_edge_um(const struct kr_image *image, uint16_t edge);

/* A strip of a test cut. */
struct kr_strip_seen {
    uint16_t test_cut, strip;          /* from 1; strips from the operator side */
    int32_t measured_um, cut_lines_um; /* as typed in, 0: not measured; the distance of its cut lines, as ordered */
};

struct kr_edges_seen {
    struct kr_job_seen job; /* the job that set up an order last; complete if none was needed */
    uint16_t n_rails, n_test_cuts, n;
    const struct kr_edge_seen *edge;
    uint16_t n_strips, n_strips_lost; /* lost: those for which there was no room; then the step does not pass */
    const struct kr_strip_seen *strip;
    int32_t tolerance_um; /* of a knife's place */
};
void kr_judge_edges(const struct kr_edges_seen *seen, struct kr_step_verdict *verdict);

/* ---- acceptance ------------------------------------------------------------------------------------------------ */

/* The results of the acceptance runs. */
struct kr_dockings_seen {
    uint16_t n_holders; /* in service */
    uint32_t asked, done, faults, retries;
    uint32_t aside;                 /* moves of neighbours that made room first; they are no dockings */
    struct kr_holders_seen no_room; /* neither they nor a neighbour could be moved */
    struct kr_holders_seen unmoved; /* a job for them ended Complete, and its record shows no move */
    struct kr_job_seen first;       /* the first fault; its alarm is reported */
    int64_t took_ms;
};
void kr_judge_dockings(const struct kr_acceptance *limits, const struct kr_dockings_seen *seen,
                       struct kr_step_verdict *verdict);

/* One changeover that was verified. */
struct kr_changeover_time {
    uint32_t order;
    int32_t told_ms, took_ms;
};

struct kr_changeovers_seen {
    uint32_t asked, done, faults, retries;
    struct kr_job_seen first;
    int64_t told_ms, took_ms;              /* sums of the changeovers that were verified */
    const struct kr_changeover_time *time; /* each of them, `done` in number; NULL: not kept */
    uint32_t seed;                         /* seed of the orders */
};
void kr_judge_changeovers(const struct kr_acceptance *limits, const struct kr_changeovers_seen *seen,
                          struct kr_step_verdict *verdict);

/* Judges the placement of one rail's knives. error_um[] is in the sequence of time, and has at least 2 values.
 * tolerance_um applies in either direction. */
void kr_judge_placement(const struct kr_acceptance *limits, uint16_t rail_number, const double error_um[], size_t n,
                        double tolerance_um, struct kr_step_verdict *verdict);

/* ---- alarms, provoked ------------------------------------------------------------------------------------------ */

/* provoke.def explains each of these. */
enum kr_provoke_situation {
    KR_PROVOKE_AT_REST,
    KR_PROVOKE_BEFORE_SCAN,
    KR_PROVOKE_WHILE_SCANNING,
    KR_PROVOKE_WHILE_JOGGING
};
enum kr_provoke_needs {
    KR_PROVOKE_ANYTHING,
    KR_PROVOKE_COMMON_CLAMP,
    KR_PROVOKE_OWN_BRAKES,
    KR_PROVOKE_REFERENCES,
    KR_PROVOKE_NO_REFERENCES,
    KR_PROVOKE_REFERENCE_SWITCH,
    KR_PROVOKE_TWO_PATTERNS,
    KR_PROVOKE_EXPECTED,
    KR_PROVOKE_TWO_PASSES,
    KR_PROVOKE_DATUM_BIT,
    KR_PROVOKE_HOMING_METHOD,
    KR_PROVOKE_DRIFT
};
enum kr_provoke_item {
    KR_PROVOKE_NOTHING,
    KR_PROVOKE_HOLDER,
    KR_PROVOKE_FIRST_HOLDER,
    KR_PROVOKE_HOLDERS,
    KR_PROVOKE_REFERENCE,
    KR_PROVOKE_MOST_REFERENCES
};
enum kr_provoke_remedy { KR_PROVOKE_ACKNOWLEDGE, KR_PROVOKE_SCAN_ON, KR_PROVOKE_RELEASE, KR_PROVOKE_HOME };
/* Values that depend on the station. */
#define KR_PROVOKE_ROOM_UM     INT32_MIN
#define KR_PROVOKE_ASIDE_UM    (INT32_MIN + 1)
#define KR_PROVOKE_TOUCHING_UM (INT32_MIN + 2)
#define KR_PROVOKE_DRIFTED_UM  (INT32_MIN + 3)
#define KR_PROVOKE_BEYOND_UM   (INT32_MIN + 4)
/* Moments; other values are an enum kr_carriage_phase. */
#define KR_PROVOKE_BEFORE      (-1)
#define KR_PROVOKE_SECOND_PASS (-2)
#define KR_PROVOKE_AWAY        (-3)

struct kr_provocation_by_hand {
    uint16_t alarm_code;
    const char *test; /* the program's own test in which the station raises it */
    enum kr_provoke_situation situation;
    const char *brief, *act, *undo, *caution;
};
struct kr_provocation_simulated {
    uint16_t alarm_code;
    enum kr_provoke_needs needs;
    uint16_t job;  /* enum kr_job; 0: none */
    int16_t phase; /* enum kr_carriage_phase, or a moment from KR_PROVOKE_BEFORE on */
    const char *fault;
    enum kr_provoke_item item;
    int32_t value;
    enum kr_provoke_remedy remedy;
};
const struct kr_provocation_by_hand *kr_provocation_by_hand(size_t index);     /* enum kr_by_hand; beyond it NULL */
const struct kr_provocation_simulated *kr_provocation_simulated(size_t index); /* beyond the last NULL */
/* How it was provoked, at its nth try: "fault drive-fault 2310 hex". */
void kr_provoke_how(const struct kr_provocation_simulated *p, int32_t value, int nth, char *how, size_t size);
struct kr_not_provoked {
    uint16_t alarm_code;
    const char *test; /* the program's own test in which the station raises it */
    const char *why;
};
const struct kr_not_provoked *kr_not_provoked(uint16_t alarm_code); /* NULL: it can be provoked */
/* Why the alarm is left out for a station without that. */
const char *kr_provoke_needs_text(enum kr_provoke_needs needs);

/* One alarm that should be provoked. */
struct kr_alarm_seen {
    uint16_t code;
    bool simulator;  /* else at the machine */
    const char *how; /* how the alarm was provoked */
    /* What its remedy has had done, for a sentence that ends so: " after homing"; NULL: nothing but acknowledge. */
    const char *remedied;
    /* gone: the alarm is gone after the cause was taken back and the alarm acknowledged. */
    bool raised, gone;
    int32_t raised_ms;                     /* time until it was seen */
    int32_t value;                         /* of the alarm */
    char sentence[240];                    /* the alarm, with its figures */
    char instead[KR_ALARM_WORDS_MAX + 64]; /* the alarm in its place when it was not seen; empty: none */
};
void kr_judge_alarm(const struct kr_alarm_seen *seen, struct kr_step_verdict *verdict);
/* Judges the whole rehearsal: how many alarms were provoked at the simulator, and how many of them were seen. */
void kr_judge_rehearsal(uint16_t n_provoked, uint16_t n_seen, struct kr_step_verdict *verdict);

#endif
