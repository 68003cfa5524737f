/* frame: where one frame of the stream ends. The length field alone decides; what the function code implies is only a
 * check on the length. If the function code decided, bytes behind a frame could be made to pass for a request. */
#ifndef KR_FACE_FRAME_H
#define KR_FACE_FRAME_H

#include "wire.h"

enum face_frame {
    FACE_FRAME_PARTIAL, /* more bytes are needed */
    FACE_FRAME_WHOLE,
    FACE_FRAME_FOREIGN, /* whole, but of another protocol: discarded unanswered (MSG 4.4.2.2, figure 16) */
    FACE_FRAME_BROKEN,  /* no frame of this protocol has that length: nothing behind it can be trusted */
};

/* Looks at the beginning of the stream. *length is the length of the whole frame; it is set unless the frame is broken
 * or its length field has not come yet. */
static inline enum face_frame face_frame_at(const uint8_t *bytes, size_t n, size_t *length)
{
    if (n < FACE_MBAP_BYTES - 1)
        return FACE_FRAME_PARTIAL;
    uint16_t rest = get16(bytes + 4);
    if (rest < FACE_LENGTH_MIN || rest > FACE_LENGTH_MAX)
        return FACE_FRAME_BROKEN;
    *length = FACE_MBAP_BYTES - 1 + (size_t)rest;
    if (n < *length)
        return FACE_FRAME_PARTIAL;
    return get16(bytes + 2) == 0 ? FACE_FRAME_WHOLE : FACE_FRAME_FOREIGN;
}

#endif
