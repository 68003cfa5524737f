/* face: the Modbus/TCP server. It knows sockets, frames, who may write, and the register map; it knows
 * nothing of knives. Stands on admission, base and libuv, and takes the protocol's constants from libmodbus's header;
 * the daemon stands on it.
 *
 * All calls and callbacks belong to the loop's thread. Requests are answered between cycles from the image
 * that was published last, so everything that one request reads is of one cycle. Nothing that a client does
 * blocks the loop, and nothing is allocated after kr_face_open. A cycle of the daemon is, for each station,
 *
 *     kr_face_take()  ->  step the station  ->  kr_face_publish()
 *
 * Registers that clients write belong to the face: a write lands whole or not at all and reads back at
 * once. Registers without a row inside a writable block may be written along with their neighbours, keep
 * nothing and read 0. Half of a 32-bit value may be written: the other half stays as it was, and the value
 * counts only when the block is handed over.
 *
 * Writing a nonzero number to a block's trigger register, by whatever function and whether or not the value
 * is new, copies the whole block then and there for the station:
 *   ORDER    one request at a time, from the write until it was taken and state.request_busy is false
 *            again. Until then the same number over the same block changes nothing and is fine; any other
 *            gets exception 06 and changes nothing at all. The rest of the block may be filled meanwhile.
 *   EDIT     as ORDER, with state.edit_busy; it takes the maintain right and no control, and the station is
 *            told the writer's address.
 *   COMMAND  four may wait, a cycle takes one; a fifth gets exception 06 and changes nothing.
 *   HALT     is taken from every client that has the control or the maintain right, in control or not, and never waits:
 *            the next cycle takes it, the strongest of those that were written since the last one. Commands that wait
 *            then are marked as overtaken. 0 does nothing, a number that is none of the four gets exception 03.
 *   ACCESS   is the face's own: 1 takes control if nobody has it, 2 releases it, 3 takes it over.
 *
 * Control belongs to a client address, or to a configured group of them, never to a connection. It is lost
 * by release, by take-over and by state.drop_control; not by a disconnect. Every change steps the
 * generation and zeroes the LINE and JOG blocks. Commands that still wait are dropped when control is taken
 * over or dropped, not when it is released. A take-over takes control away at once and gives it to the
 * maintainer when a published state says that nothing moves. An address may change control 50 times at once, then once
 * a second; more gets exception 06, so that the log can tell each change.
 *
 * Exceptions: 01 function unknown, or the client lacks the right or control; 02 outside every block, or a
 * write that leaves its block; 03 malformed, or no halt; 06 as above, or control is just passing; 0A unit identifier
 * unknown. In one request that is wrong in several ways, the specification's state diagrams decide, then
 * rights, then 06. At a station where an address has no right, every request of it gets 01. */
#ifndef KNIFERAIL_FACE_H
#define KNIFERAIL_FACE_H

#include <uv.h>

#include "kniferail/admission.h"
#include "kniferail/audit.h"
#include "kniferail/map.h"

#define KR_FACE_TEXT_MAX   121 /* a device identification text, with its closing 0 */
#define KR_FACE_LINE_WORDS 16  /* of the LINE block */
#define KR_FACE_JOG_WORDS  8   /* of the JOG block */

/* ---- configuration: plain data, copied by kr_face_open ------------------------------------------------- */

/* Returns 64, 16, 16, 0, 120 000 and 2 000: common practice for a plant, no published source. */
struct kr_face_limits kr_face_limits_default(void);

/* Returns how many files the process must be able to open, including those of its other parts (a database, drives). */
uint32_t kr_face_descriptors(uint32_t connections, uint16_t n_listen);

/* Device identification (function 43/14), objects 00 to 06. If a text is empty, its object is left out, which is
 * possible from 03 on. The station's name and the map's version follow as private objects 80 and 81. */
struct kr_face_identity {
    char vendor_name[KR_FACE_TEXT_MAX];
    char product_code[KR_FACE_TEXT_MAX];
    char revision[KR_FACE_TEXT_MAX];
    char vendor_url[KR_FACE_TEXT_MAX];
    char product_name[KR_FACE_TEXT_MAX];
    char model_name[KR_FACE_TEXT_MAX];
    char user_application[KR_FACE_TEXT_MAX];
};

struct kr_face_station {
    char name[KR_NAME_MAX];
    uint8_t unit_id;         /* 1 to 254, unique */
    struct kr_format format; /* until the first image is published, 0 is read everywhere */
    /* An order is handed over when REQUEST_NUMBER and REQUEST_NUMBER_END agree, not when the first alone is written. */
    bool whole_by_both_numbers;
};

struct kr_face_config {
    uint16_t n_listen; /* 1 or more */
    struct kr_face_listen listen[KR_FACE_LISTEN_MAX];
    uint16_t n_stations; /* 1 or more */
    struct kr_face_station station[KR_STATIONS_MAX];
    /* Index of the station that unit identifiers 0 and 255 mean. KR_STATIONS_MAX: there is none, and these identifiers
     * get exception 0A unless there is only one station. */
    uint16_t default_station;
    struct kr_face_limits limits;
    /* At each station that rule decides which has the longest matching prefix, among the rules for this station and for
     * every station. Among equal prefixes a rule for this station alone decides, then the later rule. Two rules stand
     * before all others: loopback (127.0.0.0/8 and ::1) may maintain, and all other addresses may read. An address with
     * no right at any station may not connect. */
    uint16_t n_rules;
    struct kr_face_rule rule[KR_FACE_RULES_MAX];
    uint16_t n_groups; /* the first group that matches an address is its group */
    struct kr_face_group group[KR_FACE_GROUPS_MAX];
    /* A first write to ORDER or COMMAND takes control that nobody has; LINE and JOG never do. */
    bool control_by_first_write;
    struct kr_face_identity identity;
};

struct kr_face_hooks {
    void *arg;
    /* Called before each answer. True makes all further requests wait for the next turn of the loop. NULL: a cycle is
     * never due. */
    bool (*cycle_due)(void *arg);
    /* Receives one line of the log without its line end; the priority is as in syslog(3) (RFC 5424). text lives during
     * the call. NULL: there is no log. */
    void (*log)(void *arg, int priority, const char *text);
    /* Receives what a client did or tried: connections, control, refusals. The group is left out. event lives during
     * the call. NULL: nobody keeps it. */
    void (*audit)(void *arg, const struct kr_audit_event *event);
};

/* ---- life ---------------------------------------------------------------------------------------------- */

struct kr_face;

/* Checks the configuration, takes all memory that the face will ever need, and listens. NULL: *error says why in one
 * line, always closed with a 0, and nothing is left behind but handles that close in the loop's next turn. hooks is
 * copied; its arg is borrowed until closed_cb. From then on the process ignores SIGPIPE, unless it handles that
 * signal. */
struct kr_face *kr_face_open(uv_loop_t *loop, const struct kr_face_config *config,
                             const struct kr_face_hooks *hooks, char *error, size_t error_size);

/* Closes everything. When nothing is left, the loop calls closed_cb (may be NULL), and face is gone. */
void kr_face_close(struct kr_face *face, void (*closed_cb)(void *arg), void *arg);

/* Returns the port of listen[0], which says what port 0 became. */
uint16_t kr_face_port(const struct kr_face *face);

/* Takes new limits (without connections and queued_answers), rules, groups and control_by_first_write from config, and
 * reads nothing else of it. The rights of open connections follow at once. A holder of control whose address lost the
 * control right loses control, and so does a group of which no address has that right any more. False, with a reason,
 * if a value is out of range: then nothing has changed. */
bool kr_face_reload(struct kr_face *face, const struct kr_face_config *config, char *error,
                    size_t error_size);

/* Returns the name of the group that shares control with that address, as kr_face_take() gives it; "": there is
 * none. */
const char *kr_face_group_of(const struct kr_face *face, const char *address);

/* ---- a cycle ------------------------------------------------------------------------------------------- */

struct kr_face_take {
    struct kr_snapshot request;               /* of block ORDER, at most one a call */
    char request_origin[KR_FACE_ADDRESS_MAX]; /* the address that wrote it */
    struct kr_snapshot command;               /* of block COMMAND, at most one a call, oldest first */
    char command_origin[KR_FACE_ADDRESS_MAX]; /* the address that wrote it */
    struct kr_snapshot edit;                  /* of block EDIT, at most one a call */
    char edit_origin[KR_FACE_ADDRESS_MAX];    /* the address that wrote it */
    uint16_t halt;                            /* enum kr_command of the strongest HALT; 0: none was written */
    char halt_origin[KR_FACE_ADDRESS_MAX];    /* the address that wrote it */
    /* Block LINE. PERMISSIVES has those that count, less what a write took away since the last call. PLC_HEARTBEAT is
     * that of the last write that carried both and had changed; no other write renews anything. The rest is as it
     * stands. */
    uint16_t line[KR_FACE_LINE_WORDS];
    uint16_t jog[KR_FACE_JOG_WORDS]; /* block JOG as it stands: JOG_REFRESH, JOG_DIRECTION */
    bool control_held;
    uint16_t control_generation; /* steps whenever control is taken, released, lost or passed on; wraps */
};
/* station: index in the configuration. */
void kr_face_take(struct kr_face *face, uint16_t station, struct kr_face_take *take);

struct kr_face_state {
    bool request_busy; /* the request taken last is still being judged */
    bool edit_busy;    /* the same of EDIT */
    bool drop_control; /* the heartbeat is stale: control is lost */
    bool moving;       /* something moves or may move: a take-over waits for its end */
    /* The number that was taken in this cycle. drop_control and moving are about that control, and count for no
     * other. */
    uint16_t control_generation;
};
/* Copies the image and the state; requests see them from now on. CONTROL_HELD, CONTROL_HOLDER, OWN_ROLE and OWN_CONTROL
 * are the face's own: their registers in the image are not read. */
void kr_face_publish(struct kr_face *face, uint16_t station, const struct kr_image *image,
                     const struct kr_face_state *state);

/* ---- how it fares -------------------------------------------------------------------------------------- */

struct kr_face_counters {
    uint32_t connections, connections_most; /* now, and the most so far */
    uint64_t accepted;
    uint64_t refused; /* connections: no room, or no right */
    uint64_t evicted; /* connections closed to make room for others */
    uint64_t expired; /* closed: idle, half a frame, or answers not read */
    uint64_t broken;  /* closed: the stream can't be framed */
    uint64_t requests, exceptions;
    uint64_t discarded; /* frames of another protocol identifier, dropped without an answer */
    uint64_t postponed; /* times that requests waited for a cycle */
    uint64_t log_lines_left_out;
};
const struct kr_face_counters *kr_face_counters(const struct kr_face *face); /* lives as long as face */

#endif
