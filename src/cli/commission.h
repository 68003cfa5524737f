/* kniferail commission: what its files share. The steps stand in include/kniferail/commission.def; each is walked by
 * one function of its own file, which talks to the person, looks at the station, and fills the verdict.
 * src/commission/README.md says how a step is added. */
#ifndef KNIFERAIL_CLI_COMMISSION_H
#define KNIFERAIL_CLI_COMMISSION_H

#include <jansson.h>

#include "kniferail/client.h"
#include "kniferail/commission.h"
#include "kniferail/config.h"

#define COMMISSION_LINE_MAX 160 /* of what a person types, with its closing 0 */

struct commission {
    struct kr_config config;
    struct kr_config_station *station; /* in config */
    struct kr_client client;           /* its image is as old as the last commission_look() */
    struct kr_client_address address;  /* of the station */
    const char *rehearsal, *simulator; /* HOST:PORT of the second gateway, control socket; NULL: asked for */
    char who[COMMISSION_LINE_MAX];     /* who leads the session, as typed in */
    char path[KR_CONFIG_PATH_MAX];     /* of the session's file */
    char stem[KR_CONFIG_PATH_MAX];     /* the same without ".json": protocol and sheet begin with it */
    json_t *session;                   /* as it stands in its file */
    json_t *settings;                  /* the settings of the station file, name by name */
    uint16_t refresh;                  /* of hold-to-run */
    bool started;                      /* a job that this program began has not been ended */
    char typed[COMMISSION_LINE_MAX];   /* what was typed so far of the next line */
    size_t n_typed;
    bool left;   /* the person leaves, or standard input is at its end */
    bool failed; /* the station can't be reached or led any more; it was told why */
};

/* ---- the steps: one function each, of that name ---------------------------------------------------------------- */

/* rail: an index; 0 for a step of the whole station. True: the verdict is filled. False: the person left, or the
 * station can't be reached; nothing is recorded then. */
#define STEP(name, scope, title, caution, what, settings) \
    bool commission_walk_##name(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict);
#include "kniferail/commission.def"

/* ---- the person (commission_ask.c) ----------------------------------------------------------------------------- */

/* Each of these prints a paragraph, broken to lines of 78 characters. */
__attribute__((format(printf, 1, 2))) void commission_say(const char *format, ...);

/* Each asks a question and waits for its answer. False: the person left ("leave", or the end of standard input). */
__attribute__((format(printf, 3, 4))) bool commission_ask_text(struct commission *c, char answer[COMMISSION_LINE_MAX],
                                                               const char *format, ...);
__attribute__((format(printf, 3, 4))) bool commission_ask_yes(struct commission *c, bool *yes, const char *format, ...);
/* A length, in the station's unit unless another one stands behind it. */
__attribute__((format(printf, 3, 4))) bool commission_ask_um(struct commission *c, int32_t *um, const char *format,
                                                             ...);
/* Waits for Enter. */
__attribute__((format(printf, 2, 3))) bool commission_ask_enter(struct commission *c, const char *format, ...);
/* Whether a line was typed since; it does not wait. "leave" sets c->left. */
bool commission_typed(struct commission *c, char line[COMMISSION_LINE_MAX]);

/* SIGINT and SIGTERM that come from here on end the program as "leave" does: what it began is stopped first. */
void commission_catch_signals(void);
/* Whether such a signal came; c->left is set then. */
bool commission_interrupted(struct commission *c);

/* ---- the station (commission_station.c) ------------------------------------------------------------------------ */

#define COMMISSION_POLL_MS 20

/* Reads what runs the machine, and of each rail its inputs, outputs, phase and position. False, after telling why, if
 * the station does not answer. */
bool commission_look(struct commission *c);
/* The same after a pause of COMMISSION_POLL_MS. */
bool commission_look_again(struct commission *c);
int64_t commission_now_ms(void);
uint16_t commission_wired_inputs(const struct commission *c, uint16_t rail); /* by the station file */
uint16_t commission_inputs(const struct commission *c, uint16_t rail);
uint16_t commission_outputs(const struct commission *c, uint16_t rail);
int32_t commission_place_um(const struct commission *c, uint16_t rail);
uint16_t commission_unit_state(const struct commission *c);
bool commission_status(const struct commission *c, uint16_t status_bit);
/* The first standing alarm that stops something, else the first notice, in words and with what to do about it. Returns
 * its code; 0: none stands. */
uint16_t commission_alarm(struct commission *c, char *text, size_t size);

/* Waits until the PLC is in control together with this computer, and its heartbeat is fresh: commands are taken then.
 * The permissives are the PLC's; this program never gives one. */
bool commission_wait_control(struct commission *c);

struct commission_job {
    enum kr_job job;
    uint16_t rail_number, holder_number;
    uint16_t output;     /* of KR_JOB_TRY */
    int32_t position_um; /* of KR_JOB_MOVE */
    uint32_t order;      /* of KR_JOB_CHANGEOVER: the number of the order that is meant */
    bool production;     /* at production speed; else at reduced speed */
};
/* Brings the unit to Idle and starts the job. If it is refused it tells why, and tries once more
 * when the person presses Enter. False: the person left, or the station does not answer. */
bool commission_start(struct commission *c, const struct commission_job *job);
/* One try without a question: *started says whether the job was taken. The unit is Idle before. */
bool commission_start_once(struct commission *c, const struct commission_job *job, bool *started);
/* Gives a command without a job; *code is its result. */
bool commission_command(struct commission *c, enum kr_command command, enum kr_code *code);
/* Stops the job that this program began and has not ended; another one goes on. */
void commission_rest(struct commission *c);
/* Ends whatever runs, and waits until the unit is Stopped. */
bool commission_stop(struct commission *c);
/* Stops what runs, and brings the unit to Idle, which acknowledges every alarm whose cause is gone. Tries for some
 * seconds; true also if it does not get there. False: the person left, or the station does not answer. */
bool commission_acknowledge(struct commission *c);
/* Hold-to-run: has to be called at least every 300 ms while it is meant. direction: 1 towards the drive side, -1, 0. */
bool commission_hold(struct commission *c, int direction);
/* Asks for the hold-to-run device to be pressed, and waits until its input is seen. */
bool commission_wait_pressed(struct commission *c, uint16_t rail);

/* One press of hold-to-run: waits for the device, jogs to the side of seen->direction by about so much, or less, ends
 * the job, and fills the rest of *seen (commission_jog.c). */
bool commission_press(struct commission *c, uint16_t rail, int32_t way_um, struct kr_jog_seen *seen);

/* ---- the session and what is written of it --------------------------------------------------------------------- */

/* Reads the session's file, or begins a new one. False after telling what is wrong: it is another station's, or no
 * session at all. */
bool commission_session_open(struct commission *c);
void commission_session_close(struct commission *c);
/* The last record of a step, of a rail's step for that rail; NULL: it was not walked yet. */
const json_t *commission_record(const struct commission *c, const struct kr_step *step, uint16_t rail_number);
/* Whether its last record says that it passed. */
bool commission_passed(const struct commission *c, const struct kr_step *step, uint16_t rail_number);
/* Whether a setting changed since then on which its verdict stands; `why` names the first such setting. */
bool commission_doubtful(const struct commission *c, const struct kr_step *step, uint16_t rail_number, char *why,
                         size_t size);
/* Adds a record, and writes the session's file. False after telling why. */
bool commission_record_add(struct commission *c, const struct kr_step *step, uint16_t rail_number,
                           const struct kr_step_verdict *verdict);

/* Writes a file whole: beside it first, then in its place. False after telling why. */
bool commission_write_file(const char *path, const char *text);
/* Writes the protocol: STEM.md. */
bool commission_write_protocol(const struct commission *c);
/* "2026-03-02 09:15 UTC" */
void commission_time_text(char text[32]);

#endif
