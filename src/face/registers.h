/* registers: the registers of one station as clients see them: its published image, what clients wrote, what waits for
 * the station, and who is in control. It knows no sockets. Pure, except for the log lines. */
#ifndef KR_FACE_REGISTERS_H
#define KR_FACE_REGISTERS_H

#include "access.h"
#include "changes.h"
#include "control.h"
#include "layout.h"
#include "line.h"
#include "mailbox.h"
#include "note.h"
#include "odd.h"

#define FACE_BOXES_MAX 4

struct face_registers {
    const struct face_layout *layout; /* borrowed, as are the next two */
    const struct kr_face_config *config;
    struct face_notes *notes;
    struct face_changes changes;
    const struct kr_face_station *station; /* in config */
    uint16_t index;                        /* of it there */
    struct face_control control;
    struct face_line line;
    struct {
        uint16_t command; /* the strongest since the last cycle; 0: none */
        char origin[KR_FACE_ADDRESS_MAX];
    } halt;
    struct face_odd odd[FACE_ODD_CLIENTS];
    uint16_t n_boxes;
    struct face_mailbox box[FACE_BOXES_MAX];
    uint16_t holding[KR_MAP_HOLDING_WORDS];
    uint16_t input[KR_MAP_INPUT_WORDS];
};

void face_registers_init(struct face_registers *r, const struct face_layout *layout,
                         const struct kr_face_config *config, const struct kr_face_station *station,
                         struct face_notes *notes);

/* Write n registers or bits, which must exist, to out: of registers the high byte first, of bits the lowest first. */
void face_read_input(const struct face_registers *r, const struct face_client *client, uint32_t first, uint32_t n,
                     uint8_t *out);
void face_read_holding(const struct face_registers *r, const struct face_client *client, uint32_t first, uint32_t n,
                       uint8_t *out);
void face_read_coils(const struct face_registers *r, uint32_t first, uint32_t n, uint8_t *out);
void face_read_discrete(const struct face_registers *r, uint32_t first, uint32_t n, uint8_t *out);

/* Writes n registers that lie in one writable block (face_layout_writable()), all of them or none. Returns 0, or the
 * exception that says why none was written. */
uint8_t face_write(struct face_registers *r, const struct face_client *client, uint16_t first, uint16_t n,
                   const uint16_t *word);

/* Does the same for n coils of one row. bits are as they come over the wire, the lowest first. */
uint8_t face_write_coils(struct face_registers *r, const struct face_client *client, const struct face_bits *row,
                         uint16_t first, uint16_t n, const uint8_t *bits);

void face_registers_take(struct face_registers *r, struct kr_face_take *take);
void face_registers_publish(struct face_registers *r, const struct kr_image *image, const struct kr_face_state *state);

/* Call it after the request of that PDU of n bytes was answered. Whatever is odd in the request is kept for the client,
 * and told. */
void face_registers_judge(struct face_registers *r, const struct face_client *client, const uint8_t *pdu, size_t n,
                          uint8_t exception);

/* Called now and then: tells the lines that the log has not been told yet. */
void face_registers_tick(struct face_registers *r);

/* Frees control for a reason that is no client's request; commands that wait are dropped. */
void face_registers_free_control(struct face_registers *r, const char *why);

#endif
