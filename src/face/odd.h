/* odd: what a first day gets wrong and no answer tells: the last request of each client address that was refused, or
 * that does what nobody means, with its reason. The client reads it in block ODD, and the log tells it. */
#ifndef KR_FACE_ODD_H
#define KR_FACE_ODD_H

#include "access.h"
#include "layout.h"

#define FACE_ODD_CLIENTS 16 /* addresses of which it is kept; the one that was quiet longest makes room */

struct face_odd {
    uint8_t address[16]; /* of the client */
    uint16_t count;      /* 0: the place is free */
    uint16_t reason;     /* enum kr_odd_reason */
    uint16_t function, first, n, value, exception;
    uint64_t at_ms;
};

/* A request as it stood in its frame; value: the first one written. */
struct face_request {
    uint8_t function;
    uint16_t first, n, value;
    bool writes;
};

/* The request of a PDU of n bytes. What is too short for its fields has zeros in them. */
struct face_request face_request_of(const uint8_t *pdu, size_t n);

/* Why the request is odd, or KR_ODD_NONE. holding: the registers as the request left them. exception: that which
 * answered it, 0 none. may_control: whether the client has the right to control, in control or not. */
enum kr_odd_reason face_odd_reason(const struct face_layout *layout, const uint16_t *holding,
                                   const struct face_request *request, uint8_t exception, bool may_control);

/* Keeps it for the client; true if it is another one than the last of that client. */
bool face_odd_keep(struct face_odd places[FACE_ODD_CLIENTS], const struct face_client *client,
                   const struct face_request *request, enum kr_odd_reason reason, uint8_t exception,
                   uint64_t now_ms);

/* The word of block ODD at that address, as it is for the client; 0 if nothing is kept of it. */
uint16_t face_odd_word(const struct face_odd places[FACE_ODD_CLIENTS], const struct face_client *client,
                       bool low_word_first, uint16_t address, uint64_t now_ms);

#endif
