/* audit: what people and programs did or tried at the gateway. An event says who, from where, when, what, and with
 * which result. It is plain data, together with the limits of how many events are kept. Belongs to base. The face and
 * the daemon report events, and the book stores them. */
#ifndef KNIFERAIL_AUDIT_H
#define KNIFERAIL_AUDIT_H

#include "kniferail/base.h"

/* The kinds of events. Books contain the numbers, so that a number is never used again. For each kind an address may
 * cause `rows` rows at once, and then one row in each refill_ms. A row that counts stands for all further events. */
#define KR_AUDIT_KINDS(X) \
    X(GATEWAY, 0, "gateway", 100, 1000) /* start, end, reload, limits of the history */ \
    X(CONNECTED, 1, "connected", 5, 600000) \
    X(NOT_CONNECTED, 2, "not connected", 5, 600000) /* no right, or no free connection */ \
    X(REFUSED, 3, "refused", 20, 60000)             /* the client lacks a right, or earlier work waits */ \
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

#define KR_AUDIT_WHO_MAX    48 /* an address, with the closing 0 */
#define KR_AUDIT_GROUP_MAX  64
#define KR_AUDIT_WHAT_MAX   160
#define KR_AUDIT_RESULT_MAX 200

struct kr_audit_event {
    enum kr_audit_kind kind;
    uint16_t station_number;        /* number in the station file, from 1; 0: the gateway as a whole */
    uint16_t port;                  /* port of the client; 0: unknown, or there is no client */
    char who[KR_AUDIT_WHO_MAX];     /* the client's address; "gateway": this program itself */
    char group[KR_AUDIT_GROUP_MAX]; /* group of addresses that share control; "": none */
    char what[KR_AUDIT_WHAT_MAX];
    char result[KR_AUDIT_RESULT_MAX]; /* "": the event needs no result */
};

#endif
