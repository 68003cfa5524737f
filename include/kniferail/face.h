/* face: the Modbus/TCP server. It knows sockets, frames, who may write, and the register map; it knows nothing of
 * knives. Stands on admission, base and libuv, and takes the protocol's constants from libmodbus's header. The daemon
 * stands on it.
 *
 * All calls and callbacks belong to the loop's thread. Requests are answered between cycles from the image that was
 * published last, so that all registers of one answer belong to one cycle. No client can block the loop, and nothing is
 * allocated after kr_face_open(). In each cycle the daemon makes these calls for each station:
 *
 *     kr_face_take()  ->  step the station  ->  kr_face_publish()
 *
 * Registers that clients write belong to the face. A write takes effect as a whole or not at all, and can be read back
 * at once. Registers without a row inside a writable block may be written along with their neighbours; they store
 * nothing and read 0. A client may write half of a 32-bit value: the other half stays as it was, and the value counts
 * only when the block is handed over.
 *
 * A write of a nonzero number to a block's trigger register immediately copies the whole block for the station,
 * whatever the function code, and whether or not the value is new:
 *   ORDER    one request at a time, from the write until it was taken and state.request_busy is false again. Until
 *            then, the same number with the same block changes nothing and is accepted; any other number gets exception
 *            06 and changes nothing. The rest of the block may be filled meanwhile.
 *   EDIT     as ORDER, with state.edit_busy. It needs the maintain right but not control, and the station is told the
 *            writer's address.
 *   COMMAND  four commands may wait, and a cycle takes one. A fifth gets exception 06 and changes nothing.
 *   HALT     is accepted from every client that has the control or the maintain right, with or without control, and
 *            never waits: the next cycle takes the strongest HALT that was written since the last cycle. Commands that
 *            wait at that moment are marked as overtaken. 0 does nothing, and a number that is no HALT gets exception
 *            03.
 *   ACCESS   concerns the face alone: 1 takes control if nobody has it, 2 releases it, 3 takes it over from another
 *            client.
 *
 * Control belongs to a client address, or to a configured group of them, never to a connection. It is lost by release,
 * by take-over and by state.drop_control, but not by a disconnect. Every change of control steps the generation and
 * zeroes the LINE and JOG blocks. Commands that still wait are dropped when control is taken over or dropped, but not
 * when it is released. A take-over takes control away at once, and gives it to the maintainer when a published state
 * says that nothing moves. An address may change control 50 times at once, and then once a second; more changes get
 * exception 06, so that the log can record each change.
 *
 * Exceptions:
 * - 01: the function is unknown, or the client lacks the right or control
 * - 02: an address is outside every block, or a write leaves its block
 * - 03: the request is malformed, or the number is no HALT
 * - 06: see above; or control is being passed on
 * - 0A: the unit identifier is unknown If one request has several faults, the specification's state diagrams decide,
 *   then rights, then 06. At a station where an address has no right, every request of that address gets 01. */
#ifndef KNIFERAIL_FACE_H
#define KNIFERAIL_FACE_H

#include <uv.h>

#include "kniferail/admission.h"
#include "kniferail/audit.h"
#include "kniferail/map.h"

#define KR_FACE_TEXT_MAX   121 /* a device identification text, with the closing 0 */
#define KR_FACE_LINE_WORDS 16  /* registers of the LINE block */
#define KR_FACE_JOG_WORDS  8   /* registers of the JOG block */

/* ---- configuration: plain data, copied by kr_face_open ------------------------------------------------- */

/* Returns the default limits: 64, 16, 16, 0, 120 000 and 2 000, in the sequence of the fields. They are common practice
 * for a plant, no published source. */
struct kr_face_limits kr_face_limits_default(void);

/* Returns how many files the process must be able to open, including those of its other parts (a database, drives). */
uint32_t kr_face_descriptors(uint32_t connections, uint16_t n_listen);

/* Device identification (function 43/14), objects 00 to 06. An empty text leaves its object out, which is possible from
 * 03 on. The station's name and the map's version follow as private objects 80 and 81. */
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
    struct kr_format format; /* before the first image is published, every register reads 0 */
    /* True: an order is handed over when REQUEST_NUMBER and REQUEST_NUMBER_END agree. False: the write of
     * REQUEST_NUMBER hands it over. */
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
    /* At each station, the rule with the longest matching prefix decides, among the rules for this station and for
     * every station. Among equal prefixes a rule for this station alone decides, then the later rule. Two rules come
     * before all others: loopback (127.0.0.0/8 and ::1) may maintain, and all other addresses may read. An address with
     * no right at any station may not connect. */
    uint16_t n_rules;
    struct kr_face_rule rule[KR_FACE_RULES_MAX];
    uint16_t n_groups; /* the group of an address is the first one that matches it */
    struct kr_face_group group[KR_FACE_GROUPS_MAX];
    /* True: a first write to ORDER or COMMAND takes control that nobody has. A write to LINE or JOG never does. */
    bool control_by_first_write;
    struct kr_face_identity identity;
};

struct kr_face_hooks {
    void *arg;
    /* Called before each answer. True makes all further requests wait for the next turn of the loop. NULL: a cycle is
     * never due. */
    bool (*cycle_due)(void *arg);
    /* Receives one line of the log without its line end. The priority is as in syslog(3) (RFC 5424). text is valid
     * during the call. NULL: there is no log. */
    void (*log)(void *arg, int priority, const char *text);
    /* Receives what a client did or tried: connections, control, refusals. The event's group is empty. event is valid
     * during the call. NULL: there is no audit. */
    void (*audit)(void *arg, const struct kr_audit_event *event);
};

/* ---- life ---------------------------------------------------------------------------------------------- */

struct kr_face;

/* Checks the configuration, allocates all memory that the face will ever need, and listens. NULL: *error says why in
 * one line, always closed with a 0, and nothing is left except handles that close in the loop's next turn. hooks is
 * copied, and its arg is borrowed until closed_cb. From then on the process ignores SIGPIPE, unless it handles that
 * signal. */
struct kr_face *kr_face_open(uv_loop_t *loop, const struct kr_face_config *config, const struct kr_face_hooks *hooks,
                             char *error, size_t error_size);

/* Closes everything. When nothing is left, the loop calls closed_cb, which may be NULL, and face no longer exists. */
void kr_face_close(struct kr_face *face, void (*closed_cb)(void *arg), void *arg);

/* Returns the port of listen[0]. If the configuration says 0, this is the port that the system has chosen. */
uint16_t kr_face_port(const struct kr_face *face);

/* Takes new limits (without connections and queued_answers), rules, groups and control_by_first_write from config, and
 * reads nothing else of it. The rights of open connections follow at once. A client whose address lost the control
 * right loses control, and so does a group if none of its addresses has that right any more. False: a value is out of
 * range, *error says which one, and nothing has changed. */
bool kr_face_reload(struct kr_face *face, const struct kr_face_config *config, char *error, size_t error_size);

/* Returns the name of the group that shares control with this address, which comes from kr_face_take(). "": the address
 * has no group. */
const char *kr_face_group_of(const struct kr_face *face, const char *address);

/* ---- a cycle ------------------------------------------------------------------------------------------- */

struct kr_face_take {
    struct kr_snapshot request;               /* block ORDER, at most one in each call */
    char request_origin[KR_FACE_ADDRESS_MAX]; /* the address that wrote it */
    struct kr_snapshot command;               /* block COMMAND, at most one in each call, the oldest first */
    char command_origin[KR_FACE_ADDRESS_MAX]; /* the address that wrote it */
    struct kr_snapshot edit;                  /* block EDIT, at most one in each call */
    char edit_origin[KR_FACE_ADDRESS_MAX];    /* the address that wrote it */
    uint16_t halt;                            /* enum kr_command of the strongest HALT; 0: none was written */
    char halt_origin[KR_FACE_ADDRESS_MAX];    /* the address that wrote it */
    /* Block LINE. PERMISSIVES has the permissives that count, without those that any write has taken away since the
     * last call. PLC_HEARTBEAT comes from the last write that contained both and changed the heartbeat; no other write
     * renews either. The other registers are as they stand now. */
    uint16_t line[KR_FACE_LINE_WORDS];
    uint16_t jog[KR_FACE_JOG_WORDS]; /* block JOG as it stands now: JOG_REFRESH, JOG_DIRECTION */
    bool control_held;
    uint16_t control_generation; /* steps whenever control is taken, released, lost or passed on; wraps */
};
/* station is an index in the configuration. */
void kr_face_take(struct kr_face *face, uint16_t station, struct kr_face_take *take);

struct kr_face_state {
    bool request_busy; /* the request that was taken last is still being judged */
    bool edit_busy;    /* the maintenance request that was taken last is still being judged */
    bool drop_control; /* the heartbeat is stale: control is lost */
    bool moving;       /* something moves or may move, and a take-over waits for its end */
    /* The generation that was taken in this cycle. drop_control and moving concern that control, and no other one. */
    uint16_t control_generation;
};
/* Copies the image and the state; requests see them from now on. The face itself provides CONTROL_HELD, CONTROL_HOLDER,
 * OWN_ROLE and OWN_CONTROL, and does not read them from the image. */
void kr_face_publish(struct kr_face *face, uint16_t station, const struct kr_image *image,
                     const struct kr_face_state *state);

/* ---- how it fares -------------------------------------------------------------------------------------- */

struct kr_face_counters {
    uint32_t connections, connections_most; /* now, and the most so far */
    uint64_t accepted;
    uint64_t refused; /* connections that were refused: no room, or no right */
    uint64_t evicted; /* connections closed to make room for others */
    /* Connections closed because they were idle, left a frame incomplete, or did not read answers. */
    uint64_t expired;
    uint64_t broken; /* connections closed because their stream has no valid frames */
    uint64_t requests, exceptions;
    uint64_t discarded; /* frames of another protocol identifier, dropped without an answer */
    uint64_t postponed; /* how often requests waited for a cycle */
    uint64_t log_lines_left_out;
};
const struct kr_face_counters *kr_face_counters(const struct kr_face *face); /* lives as long as face */

#endif
