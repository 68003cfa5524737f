/* answer: one request in, one answer out. The request is judged whole, in the order of the specification's
 * state diagrams, before a register is touched. Pure: no sockets, no memory of requests. */
#ifndef KR_FACE_ANSWER_H
#define KR_FACE_ANSWER_H

#include "registers.h"

struct face_stations {
    const struct kr_face_config *config;
    struct face_registers *registers; /* one a station, in the configuration's order */
    uint8_t by_unit_id[256];          /* station of a unit identifier, or FACE_NO_STATION */
};
#define FACE_NO_STATION 255

/* Maps unit identifiers to stations. 0 and 255 mean the default station, or the only one; they are never a
 * broadcast. */
void face_stations_map_unit_ids(struct face_stations *stations);

/* adu is one whole frame of n bytes, as face_frame_at found it. Writes the answer to out
 * (FACE_ADU_BYTES_MAX bytes) and returns its length; every request gets one. */
size_t face_answer(struct face_stations *stations, const struct face_client *client, const uint8_t *adu, size_t n,
                   uint8_t *out);

static inline bool face_answer_is_exception(const uint8_t *adu)
{
    return adu[7] & 0x80;
}

#endif
