/* audit: what people and programs did at the gateway, or tried to: who, from where, when, what, and with which result.
 * Plain data, and how much of it may be kept. Belongs to base; the face and the daemon tell it, the book keeps it. */
#ifndef KNIFERAIL_AUDIT_H
#define KNIFERAIL_AUDIT_H

#include "kniferail/base.h"

/* What can happen; the numbers are in books: never reused. Of each kind each address may have so many rows at once,
 * then one in so many ms; what is more is counted in a row that stands for all of it. */
#define KR_AUDIT_KINDS(X) \
    X(GATEWAY, 0, "gateway", 100, 1000) /* start, end, reload, limits of the history */ \
    X(CONNECTED, 1, "connected", 5, 600000) \
    X(NOT_CONNECTED, 2, "not connected", 5, 600000) /* no right, or no place */ \
    X(REFUSED, 3, "refused", 20, 60000)             /* a request, for who asks or for what waits */ \
    X(CONTROL, 4, "control", 50, 10000)             /* taken, released, passed on, lost */ \
    X(COMMAND, 5, "command", 200, 1000) \
    X(HALT, 6, "halt", 200, 1000) \
    X(ORDER, 7, "order", 200, 1000) \
    X(EDIT, 8, "edit", 200, 1000)
enum kr_audit_kind {
#define X(name, number, word, rows, refill_ms) KR_AUDIT_##name = number,
    KR_AUDIT_KINDS(X)
#undef X
        KR_AUDIT_KIND_COUNT
};

#define KR_AUDIT_WHO_MAX    48 /* an address, with its closing 0 */
#define KR_AUDIT_GROUP_MAX  64
#define KR_AUDIT_WHAT_MAX   160
#define KR_AUDIT_RESULT_MAX 200

struct kr_audit_event {
    enum kr_audit_kind kind;
    uint16_t station_number;        /* in the station file, from 1; 0: the gateway as a whole */
    uint16_t port;                  /* of the client; 0: unknown, or there is none */
    char who[KR_AUDIT_WHO_MAX];     /* the client's address; "gateway": the program itself */
    char group[KR_AUDIT_GROUP_MAX]; /* of addresses that share control; "": none */
    char what[KR_AUDIT_WHAT_MAX];
    char result[KR_AUDIT_RESULT_MAX]; /* "": it speaks for itself */
};

#endif
