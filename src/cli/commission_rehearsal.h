/* The rehearsal: a second gateway runs a copy of the station file on the drives of kniferail-sim. Of the command line's
 * one thread. */
#ifndef KNIFERAIL_COMMISSION_REHEARSAL_H
#define KNIFERAIL_COMMISSION_REHEARSAL_H

#include "commission.h"
#include "commission_door.h"

struct rehearsal {
    struct commission c; /* the second gateway; the person and the station file are those of the first one */
    struct commission_door door;
    char host[COMMISSION_LINE_MAX], port[16], socket[COMMISSION_LINE_MAX];
    uint16_t n_provoked, n_seen;
};

/* Takes from the command line, or asks, where the second gateway and the simulator's control socket are. Returns false
 * if the person left. */
bool commission_rehearsal_ask(struct commission *c, struct rehearsal *r);
/* Opens both. Returns false, with the reason, if one does not answer, or if the gateway is the machine's own. */
bool commission_rehearsal_open(struct commission *machine, struct rehearsal *r, char why[200]);
/* Tells whether the gateway's drives are the simulator's: no machine's input follows the simulator's control socket.
 * Nothing moves for this test. Returns false if the person left, or the gateway does not answer. */
bool commission_rehearsal_is_simulated(struct rehearsal *r, char why[200], bool *simulated);
/* Closes both, and gives the typed text, and whether the person left, back to the first station. */
void commission_rehearsal_close(struct commission *c, struct rehearsal *r);

#endif
