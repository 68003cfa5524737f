/* face_rig: helps the tests of the face. Two rigs: `pure` asks the answering part without a socket; `rig`
 * opens a whole face on a loop of its own and talks to it over loopback, all in one thread, so that nothing
 * races. */
#ifndef FACE_RIG_H
#define FACE_RIG_H

#include <check.h>

#include "answer.h"
#include "kniferail/face.h"

#define FACE_RIG_HEX_BYTES (3 * 260 + 1)

/* Bytes as "01 AB ..."; blanks may be left out in reading. */
size_t hex_read(const char *hex, uint8_t *bytes, size_t size);
void hex_write(const uint8_t *bytes, size_t n, char *hex, size_t size);

/* Two stations: "north", unit 1 (the default), and "south", unit 2; every address that the tests use has a
 * role. */
struct kr_face_config face_rig_defaults(void);
struct kr_prefix prefix_of(const char *text); /* must be right */
struct face_client client_at(const struct kr_face_config *config, const char *address);

/* ---- without sockets ------------------------------------------------------------------------------------------- */

struct pure {
    struct kr_face_config config;
    struct face_layout layout;
    struct face_notes notes;
    uint64_t left_out;
    struct face_registers registers[2];
    struct face_stations stations;
    char log[8][FACE_NOTE_BYTES]; /* the last lines */
    unsigned n_log;
};
struct pure *pure_new(const struct kr_face_config *config); /* freed by pure_free */
void pure_free(struct pure *p);

/* Asks unit 1 with a PDU; gives the answer's PDU, in the same hex. Checks the header. Lives until the next
 * call but 7. */
const char *pure_ask(struct pure *p, const struct face_client *client, const char *pdu);
const char *pure_ask_unit(struct pure *p, const struct face_client *client, uint8_t unit, const char *pdu);

/* One register of unit 1, by its row. */
uint16_t pure_holding(struct pure *p, enum kr_reg reg);
uint16_t pure_input(struct pure *p, const struct face_client *client, enum kr_reg reg);
/* Writes one register with function 06; true if that was answered by its echo, false if by an exception. */
bool pure_write(struct pure *p, const struct face_client *client, enum kr_reg reg, uint16_t value);
/* A cycle of unit 1 in which the station says busy and moving. */
struct kr_face_take pure_cycle(struct pure *p, bool busy, bool moving, bool drop_control);

/* ---- with sockets ---------------------------------------------------------------------------------------------- */

struct face_rig {
    uv_loop_t loop;
    struct kr_face *face;
    bool closed;
    bool cycle_due;     /* what the hook answers */
    unsigned asked;     /* how often it was */
    unsigned due_after; /* unless 0: so many answers of the hook in a turn are false, then a cycle is due */
    unsigned asked_in_turn;
    unsigned n_log;
    char log[8][FACE_NOTE_BYTES];
};
void face_rig_start(struct face_rig *rig, const struct kr_face_config *config);
void face_rig_end(struct face_rig *rig); /* also checks that nothing is left in the loop */

/* A request for the word order constant, and its answer: 0, before the first cycle. */
#define ASK_PROOF    "0001 0000 0006 01 04 0000 0002"
#define ANSWER_PROOF "00 01 00 00 00 07 01 04 04 00 00 00 00"

/* Function 04 to unit 1: 12 bytes, as put at `at`. */
size_t face_rig_put_read(uint8_t *at, uint16_t transaction, uint16_t first, uint16_t n);

/* One turn of the loop, or turns for that long. */
void face_rig_cycle(struct face_rig *rig);
void face_rig_run_ms(struct face_rig *rig, uint64_t ms);

/* A socket from that loopback address, connected. */
int face_rig_connect(struct face_rig *rig, const char *from);
void face_rig_send(struct face_rig *rig, int fd, const uint8_t *bytes, size_t n);
void face_rig_send_hex(struct face_rig *rig, int fd, const char *hex);
/* Turns the loop until n bytes have come, the peer has closed, or 5 s are over. Returns how many came. */
size_t face_rig_receive(struct face_rig *rig, int fd, uint8_t *bytes, size_t n);
/* The same for whole frames: hex of the next one, "closed", or "nothing" after quiet_ms without one. */
const char *face_rig_frame(struct face_rig *rig, int fd, unsigned quiet_ms);
const char *face_rig_ask(struct face_rig *rig, int fd, const char *adu);
bool face_rig_is_closed(struct face_rig *rig, int fd, unsigned within_ms);

#endif
