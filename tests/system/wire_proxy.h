/* A wire that misbehaves: stands between the positioner and the simulator, on Modbus/TCP or a serial line, and does to
 * the drive's answers what it is told to. One connection at a time, a thread of its own. */
#ifndef WIRE_PROXY_H
#define WIRE_PROXY_H

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

enum proxy_mode {
    PROXY_PASS,
    PROXY_FRAGMENT,    /* byte by byte */
    PROXY_DELAY,       /* 120 ms late */
    PROXY_CUT,         /* half an answer, then the connection is gone; on a serial line just half */
    PROXY_REPEAT,      /* twice */
    PROXY_OLD,         /* the answer before this one */
    PROXY_SPOIL_FRONT, /* the first byte is another one */
    PROXY_SPOIL_END,   /* the last byte is another one: a wrong check sum; only for serial lines */
    PROXY_LONGER,      /* one byte more than its length says; TCP: its length says one more */
    PROXY_BABBLE,      /* noise before it */
    PROXY_SILENCE,     /* none */
    PROXY_ECHO,        /* serial lines only: an adapter that hears itself, the question before the answer */
    /* TCP only: */
    PROXY_UNIT,   /* another unit identifier */
    PROXY_LENGTH, /* the header's length is `length` */
    PROXY_HOLD,   /* hold_ms late, while requests go on */
    PROXY_THREE,  /* three, then the connection is closed */
};

struct proxy {
    bool serial;
    int listener;      /* TCP */
    uint16_t port;     /* where the positioner finds us */
    uint16_t beyond;   /* the simulator's */
    int master, slave; /* serial: our pseudo-terminal, for the positioner */
    char device[64];   /* its name */
    int far;           /* the simulator's line */
    _Atomic int mode;
    _Atomic bool ending;
    _Atomic int length, hold_ms;
    _Atomic unsigned asked;  /* requests handed on */
    _Atomic unsigned spoilt; /* answers that something was done to */
    pthread_t thread;
};

void proxy_open_tcp(struct proxy *p, uint16_t beyond);
void proxy_open_serial(struct proxy *p, const char *beyond);
void proxy_close(struct proxy *p);

#endif
