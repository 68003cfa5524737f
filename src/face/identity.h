/* identity: read device identification (APP 6.21). Pure. */
#ifndef KR_FACE_IDENTITY_H
#define KR_FACE_IDENTITY_H

#include "kniferail/face.h"

/* Forms the answer to one request for objects: code and object are those of the request. Writes the PDU
 * from its function code on to out (FACE_PDU_BYTES_MAX bytes) and returns its length; or returns 0 and sets
 * *exception. */
size_t face_identity_answer(const struct kr_face_identity *identity, const struct kr_face_station *station,
                            uint8_t code, uint8_t object, uint8_t *out, uint8_t *exception);

#endif
