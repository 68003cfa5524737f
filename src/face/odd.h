/* odd: mistakes of a first day that no answer explains. For each client address it keeps the last request that was
 * refused, or that does what nobody means, with its reason. The client reads it in block ODD, and the log tells it. */
#ifndef KR_FACE_ODD_H
#define KR_FACE_ODD_H

#include "access.h"
#include "layout.h"

#define FACE_ODD_CLIENTS 16 /* so many addresses are kept; the one that was quiet longest makes room */

struct face_odd {
    uint8_t address[16]; /* of the client */
    uint16_t count;      /* 0: the place is free */
    uint16_t reason;     /* enum kr_odd_reason */
    uint16_t function, first, n, value, exception;
    uint64_t at_ms;
};

/* A request as it stood in its frame. value: the first value that it writes. */
struct face_request {
    uint8_t function;
    uint16_t first, n, value;
    bool writes;
};

/* Returns the request of a PDU of n bytes. If the PDU is too short for its fields, they are 0. */
struct face_request face_request_of(const uint8_t *pdu, size_t n);

/* Returns why the request is odd, or KR_ODD_NONE. holding: the registers as the request left them. exception: the
 * exception that answered it; 0: none. may_control: whether the client has the right to control, in control or not. */
enum kr_odd_reason face_odd_reason(const struct face_layout *layout, const uint16_t *holding,
                                   const struct face_request *request, uint8_t exception, bool may_control);

/* Keeps the request for the client. True if it differs from the last one of that client. */
bool face_odd_keep(struct face_odd places[FACE_ODD_CLIENTS], const struct face_client *client,
                   const struct face_request *request, enum kr_odd_reason reason, uint8_t exception, uint64_t now_ms);

/* Returns the word of block ODD at that address, as it is for the client; 0 if nothing is kept for the client. */
uint16_t face_odd_word(const struct face_odd places[FACE_ODD_CLIENTS], const struct face_client *client,
                       bool low_word_first, uint16_t address, uint64_t now_ms);

#endif
