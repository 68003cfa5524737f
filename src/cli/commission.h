/* The parts of kniferail commission that its files share. include/kniferail/commission.def lists the steps. Each step
 * is walked by one function in a file of its own, which talks to the person, looks at the station, and fills the
 * verdict. src/commission/README.md says how a step is added. */
#ifndef KNIFERAIL_CLI_COMMISSION_H
#define KNIFERAIL_CLI_COMMISSION_H

#include <jansson.h>

#include "kniferail/client.h"
#include "kniferail/commission.h"
#include "kniferail/config.h"

#define COMMISSION_LINE_MAX 160 /* length of a typed line, with the closing 0 */

struct commission {
    struct kr_config config;
    struct kr_config_station *station; /* points into config */
    struct kr_client client;           /* the image is that of the last commission_look() */
    struct kr_client_address address;  /* address of the station */
    /* HOST:PORT of the second gateway, and the control socket; NULL: the program asks for it. */
    const char *rehearsal, *simulator;
    char who[COMMISSION_LINE_MAX]; /* name of the person who leads the session */
    char path[KR_CONFIG_PATH_MAX]; /* path of the session's file */
    /* The same without ".json"; the names of protocol and sheet begin with it. */
    char stem[KR_CONFIG_PATH_MAX];
    json_t *session;  /* content of the session's file */
    json_t *settings; /* the settings of the station file, name by name */
    /* Values of the running station's book, name by name; NULL: they were not read. */
    json_t *book;
    /* What the step that is walked changed in the book: whether it changed anything, and the values that it wrote anew
     * although what counts stayed the same. */
    bool edited;
    json_t *carried;
    uint32_t n_walked; /* number of steps that were walked */
    bool worked;       /* the step that is walked has started a job, other than the try of an output */
    /* The guided releases that were offered in this step; rail_number is 0 where none was. */
    struct kr_release_seen release[KR_RAILS_MAX];
    /* Another station that has to be read now and then while this one is at work, so that its gateway does not close
     * the connection as idle; NULL: there is none. And the time of its last reading. */
    struct commission *also;
    int64_t also_read_ms;
    uint16_t refresh;                /* counter that is written to refresh hold-to-run */
    bool started;                    /* a job that this program began has not been ended */
    char typed[COMMISSION_LINE_MAX]; /* the part of the next line that was typed so far */
    size_t n_typed;
    bool cut;    /* the line that was typed last was longer, and its end was thrown away */
    bool left;   /* the person leaves, or standard input is at its end */
    bool failed; /* the station can't be reached or led any more; the reason has been printed */
};

/* ---- the steps: one function each, of that name ---------------------------------------------------------------- */

/* rail is an index, and 0 for a step of the whole station. True: the verdict is filled. False: the person left, or the
 * station can't be reached; then nothing is recorded. */
#define STEP(name, scope, title, caution, what, settings) \
    bool commission_walk_##name(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict);
#include "kniferail/commission.def"

/* ---- the person (commission_ask.c) ----------------------------------------------------------------------------- */

/* Prints a paragraph, broken to lines of 78 characters. */
__attribute__((format(printf, 1, 2))) void commission_say(const char *format, ...);

/* Each of these functions asks a question and waits for the answer. False: the person left, by "leave" or the end of
 * standard input. */
__attribute__((format(printf, 3, 4))) bool commission_ask_text(struct commission *c, char answer[COMMISSION_LINE_MAX],
                                                               const char *format, ...);
__attribute__((format(printf, 3, 4))) bool commission_ask_yes(struct commission *c, bool *yes, const char *format, ...);
bool commission_in_inches(const struct commission *c); /* the station's length_unit */
#define COMMISSION_LENGTH_MAX KR_SAID_MAX
/* Writes a length or a speed as kr_said() does, at this station, into memory of the block in which it stands. */
#define COMMISSION_SAID(c, as, decimals, mm) KR_SAID((c)->station->station.format.length_unit, as, decimals, mm)
/* Writes a length as people at this station read it: "25.400 mm", or "1.0000 in (25.400 mm)". Returns text. */
const char *commission_length(const struct commission *c, int32_t um, char text[COMMISSION_LENGTH_MAX]);
/* Writes what a step does, for people at this station. Returns text. */
const char *commission_what(const struct commission *c, const struct kr_step *step, char text[KR_STEP_WHAT_MAX]);
/* Asks for a length. It is in the station's unit unless it names another one. Wherever it could be taken for the other
 * unit the function says how it was understood. */
__attribute__((format(printf, 3, 4))) bool commission_ask_um(struct commission *c, int32_t *um, const char *format,
                                                             ...);
/* Asks for a number from least to most. *value is the default, which stays if nothing is typed; NAN: there is no
 * default, and the question is asked again. */
__attribute__((format(printf, 5, 6))) bool commission_ask_number(struct commission *c, double *value, double least,
                                                                 double most, const char *format, ...);
/* Waits for Enter. */
__attribute__((format(printf, 2, 3))) bool commission_ask_enter(struct commission *c, const char *format, ...);
/* Tells whether a line was typed since the last call. The function does not wait. "leave" sets c->left. */
bool commission_typed(struct commission *c, char line[COMMISSION_LINE_MAX]);

/* From here on SIGINT and SIGTERM end the program as "leave" does: it first stops what it began. */
void commission_catch_signals(void);
/* Tells whether such a signal came. Then c->left is set. */
bool commission_interrupted(struct commission *c);

/* ---- connections that stay open (commission_alive.c) ----------------------------------------------------------- */

int64_t commission_now_ms(void);
/* So often a station is read while nothing else is asked of it. */
int commission_alive_ms(const struct commission *c);
/* Reads a little, so that the gateway does not close the connection as idle while a person takes time, or while another
 * station is at work. */
void commission_keep_alive(struct commission *c);
/* Does the same for the other station alone, if there is one, once it was not read for that long. */
void commission_keep_also_alive(struct commission *c);

/* ---- the station (commission_station.c) ------------------------------------------------------------------------ */

#define COMMISSION_POLL_MS 20

/* Reads the state of the station, and of each rail the inputs, outputs, phase and position. Returns false, after
 * printing why, if the station does not answer. */
bool commission_look(struct commission *c);
/* Does the same as commission_look() after a pause of COMMISSION_POLL_MS. */
bool commission_look_again(struct commission *c);
uint16_t commission_wired_inputs(const struct commission *c, uint16_t rail); /* by the station file */
/* Inputs or outputs of a rail: their number, their names, and what is said before and behind each of them. */
struct commission_signals {
    unsigned n;
    const char *(*name)(unsigned bit);
    const char *before, *behind;
};
/* Says by name which of them have changed. */
void commission_say_changes(uint16_t last, uint16_t now, const struct commission_signals *of);
/* The same for inputs, by their names alone. */
void commission_say_inputs(uint16_t last, uint16_t now);
uint16_t commission_inputs(const struct commission *c, uint16_t rail);
uint16_t commission_outputs(const struct commission *c, uint16_t rail);
int32_t commission_place_um(const struct commission *c, uint16_t rail);
uint16_t commission_unit_state(const struct commission *c);
bool commission_status(const struct commission *c, uint16_t status_bit);
/* Writes the first standing alarm that stops something, or else the first notice, in words and with its remedy. Returns
 * its code; 0: there is none. */
uint16_t commission_alarm(struct commission *c, char *text, size_t size);

/* Waits until the PLC is in control together with this computer, and its heartbeat is fresh, because the station takes
 * commands only then. The PLC gives the permissives; this program never gives one. */
bool commission_wait_control(struct commission *c);
/* Does the same before something moves. If it had to wait, whoever was sent out of the zone may have come back: then it
 * asks once more, and waits for Enter. */
bool commission_confirm_control(struct commission *c);

struct commission_job {
    enum kr_job job;
    uint16_t rail_number, holder_number;
    uint16_t output;     /* for KR_JOB_TRY */
    int32_t position_um; /* for KR_JOB_MOVE */
    uint32_t order;      /* for KR_JOB_CHANGEOVER: number of the order that is meant */
    bool production;     /* at production speed; else at reduced speed */
};
/* Brings the unit to Idle and starts the job. Tries once, without a question; if the station refuses the job, prints
 * why. *started tells whether the station took the job. False: the station does not answer. */
bool commission_start_once(struct commission *c, const struct commission_job *job, bool *started);
/* Tells whether the unit is in a state in which a job has ended, in any way. */
bool commission_job_has_ended(const struct commission *c);
/* Gives a command without a job. *code is its result. */
bool commission_command(struct commission *c, enum kr_command command, enum kr_code *code);
/* Stops the job that this program began and has not ended. Any other job goes on. */
void commission_rest(struct commission *c);
/* Ends any job that runs, and waits until the unit is Stopped. */
bool commission_stop(struct commission *c);
/* Stops any job that runs, and brings the unit to Idle, which acknowledges every alarm whose cause is gone. Tries for
 * some seconds, and returns true also if the unit does not get to Idle. False: the person left, or the station does not
 * answer. */
bool commission_acknowledge(struct commission *c);
/* Holds the jog: call it at least every 300 ms while the jog has to go on. direction: 1 towards the drive side, -1
 * towards the operator side, 0 for none. */
bool commission_hold(struct commission *c, int direction);
/* While the drive of the rail does not answer, its inputs are no inputs: waits until it does, or somebody gives up. */
bool commission_wait_link(struct commission *c, uint16_t rail, bool *linked);
/* Asks for the hold-to-run device to be pressed, and waits until its input is seen. */
bool commission_wait_pressed(struct commission *c, uint16_t rail);

/* ---- the start of a job, and the guided release (commission_release.c) ----------------------------------------- */

/* Brings the unit to Idle and starts the job, after commission_confirm_control(). If the station refuses it because a
 * pin is not proven out, offers the guided release. Then, and after any other refusal, tries once more when the person
 * presses Enter; without a question only where the pin was merely on its way out. False: the person left, or the
 * station does not answer. */
bool commission_start(struct commission *c, const struct commission_job *job);
/* Tells whether the pin of a rail, whose drive answers, is not proven out. Waits some seconds for a pin that is still
 * on its way out. Returns false if the person left, or the station does not answer. */
bool commission_pin_may_be_in(struct commission *c, uint16_t rail, bool *in);
/* Says what is so, and with which cautions the guided release is given; asks the person; gives it, shows what happens,
 * and says what came of it. Puts that into c->release. Returns false as above. */
bool commission_offer_release(struct commission *c, uint16_t rail);

/* Makes one press of hold-to-run: waits for the device, jogs by at most about way_um to the side of seen->direction,
 * ends the job, and fills the rest of *seen (commission_jog.c). */
bool commission_press(struct commission *c, uint16_t rail, int32_t way_um, struct kr_jog_seen *seen);

/* ---- the session and its files --------------------------------------------------------------------------------- */

/* Reads the session's file, or begins a new one. Returns false, after printing what is wrong, if the file belongs to
 * another station or is no session. */
bool commission_session_open(struct commission *c);
void commission_session_close(struct commission *c);
/* Returns the last record of a step; for a step of a rail, that of the rail. NULL: the step was not walked yet. */
const json_t *commission_record(const struct commission *c, const struct kr_step *step, uint16_t rail_number);
/* Tells whether the last record says that the step has passed. */
bool commission_passed(const struct commission *c, const struct kr_step *step, uint16_t rail_number);
/* Tells whether a setting of the station file or a value of the book on which the verdict depends has changed since
 * then; `why` names the first one. As long as the book was not read, only settings are looked at. */
bool commission_doubtful(const struct commission *c, const struct kr_step *step, uint16_t rail_number, char *why,
                         size_t size);
/* Makes the records of a rail doubtful from one step on, until each of them is walked again, and writes the session's
 * file. Returns false after printing why. */
bool commission_doubt_rail(struct commission *c, enum kr_step_id first, uint16_t rail_number, const char *why);
/* Adds a record, and writes the session's file. Returns false after printing why. */
bool commission_record_add(struct commission *c, const struct kr_step *step, uint16_t rail_number,
                           const struct kr_step_verdict *verdict);

/* ---- the book (commission_book.c) ------------------------------------------------------------------------------ */

/* Reads the values of the book from the running station, on which verdicts stand: for each rail its frame, its switch,
 * and the holders in service. Returns NULL, after printing why, if the station does not answer. */
json_t *commission_book_read(struct commission *c);
/* Notes that this step has written the switch's offset anew, from one value to another, and that both count the same,
 * because the second includes the correction that references had found. Other steps do not become doubtful by that. */
void commission_book_carry_offset(struct commission *c, uint16_t rail, int32_t from_um, int32_t to_um);
/* Finds the first value of the book, as it is now, on which a step stands and which its record does not have so. */
bool commission_book_differs(const struct commission *c, const json_t *record, const struct kr_step *step,
                             uint16_t rail_number, char *why, size_t size);

/* Writes a file beside the old one first, and then puts it in its place, so that the file is always whole. Returns
 * false after printing why. */
bool commission_write_file(const char *path, const char *text);
/* Writes the protocol: STEM.md. */
bool commission_write_protocol(const struct commission *c);
/* Writes the present time as "2026-03-02 09:15 UTC". */
void commission_time_text(char text[32]);

#endif
