/* face_rig: helps the tests of the face. There are two rigs: `pure` asks the answering part without a socket; `rig`
 * opens a whole face on its own loop and talks to it over loopback. All of it runs in one thread, so there are no
 * races. */
#ifndef FACE_RIG_H
#define FACE_RIG_H

#include <check.h>

#include "answer.h"
#include "kniferail/face.h"

#define FACE_RIG_HEX_BYTES (3 * 260 + 1)

/* Bytes as "01 AB ..."; the blanks are optional when reading. */
size_t hex_read(const char *hex, uint8_t *bytes, size_t size);
void hex_write(const uint8_t *bytes, size_t n, char *hex, size_t size);

/* A config with two stations: "north", unit 1 (the default), and "south", unit 2. Every address that the tests use has
 * a right. */
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

/* Asks unit 1 with a PDU, checks the header of the answer, and returns its PDU in the same hex form. The text stays
 * valid for the next 7 calls. */
const char *pure_ask(struct pure *p, const struct face_client *client, const char *pdu);
const char *pure_ask_unit(struct pure *p, const struct face_client *client, uint8_t unit, const char *pdu);

/* Read one register of unit 1, by its row. */
uint16_t pure_holding(struct pure *p, enum kr_reg reg);
uint16_t pure_input(struct pure *p, const struct face_client *client, enum kr_reg reg);
/* Writes one register with function 06. True: the answer was the echo; false: it was an exception. */
bool pure_write(struct pure *p, const struct face_client *client, enum kr_reg reg, uint16_t value);
/* Makes a cycle of unit 1 in which the station says whether it is busy and moving. */
struct kr_face_take pure_cycle(struct pure *p, bool busy, bool moving, bool drop_control);

/* ---- with sockets ---------------------------------------------------------------------------------------------- */

struct face_rig {
    uv_loop_t loop;
    struct kr_face *face;
    bool closed;
    bool cycle_due; /* the hook's answer */
    unsigned asked; /* how often the hook was called */
    /* Unless 0: the hook answers false so many times in an iteration, then a cycle is due. */
    unsigned due_after;
    unsigned asked_in_turn;
    unsigned n_log;
    char log[8][FACE_NOTE_BYTES];
};
void face_rig_start(struct face_rig *rig, const struct kr_face_config *config);
void face_rig_end(struct face_rig *rig); /* also checks that nothing is left in the loop */

/* A request for the word order constant. Before the first cycle the answer is 0. */
#define ASK_PROOF    "0001 0000 0006 01 04 0000 0002"
#define ANSWER_PROOF "00 01 00 00 00 07 01 04 04 00 00 00 00"

/* Writes a request to unit 1 with function 04 to `at`, and returns its length, 12 bytes. */
size_t face_rig_put_read(uint8_t *at, uint16_t transaction, uint16_t first, uint16_t n);

/* Run one iteration of the loop, or iterations for that long. */
void face_rig_cycle(struct face_rig *rig);
void face_rig_run_ms(struct face_rig *rig, uint64_t ms);

/* Returns a connected socket that is bound to that loopback address. */
int face_rig_connect(struct face_rig *rig, const char *from);
void face_rig_send(struct face_rig *rig, int fd, const uint8_t *bytes, size_t n);
void face_rig_send_hex(struct face_rig *rig, int fd, const char *hex);
/* Runs the loop until n bytes have come, the peer has closed, or 5 s have passed. Returns how many bytes came. */
size_t face_rig_receive(struct face_rig *rig, int fd, uint8_t *bytes, size_t n);
/* Returns the next whole frame in hex, "closed", or "nothing" if none comes within quiet_ms. */
const char *face_rig_frame(struct face_rig *rig, int fd, unsigned quiet_ms);
const char *face_rig_ask(struct face_rig *rig, int fd, const char *adu);
bool face_rig_is_closed(struct face_rig *rig, int fd, unsigned within_ms);

#endif
