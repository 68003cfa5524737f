/* A line that runs behind a changeover, and what may happen to it then. The PLC retains and counts accesses; people
 * release guards and move knives behind them, and count, or nobody was there. Both line signals are held, in every
 * cycle, against where the knives truly stand, and against what the table of the line signals in
 * config/pages/plc-programmer.md says of what was sent and shown: that is said here once more, of inputs alone. All of
 * it is drawn from a stream of its own, so that stories without a line that runs stay as they are. */
#ifndef KR_TESTS_RUNNING_H
#define KR_TESTS_RUNNING_H

#include "operators.h"
#include "storms.h"

#define RUNNING(X) \
    X(RELEASED, "a guard is released and counted, and somebody moves a knife") \
    X(LOOKED_IN, "a guard is released and counted, and nobody moves anything") \
    X(SHOWS_OPEN, "a guard shows open, and none was released") \
    X(NOT_SENT, "the PLC's writes leave the count out") \
    X(PLC_SILENT, "the PLC is not heard") \
    X(PLC_RESTARTS, "the PLC restarts; a latch kept its power, or the count steps") \
    X(GATEWAY_RESTARTS, "the gateway is down, and starts again") \
    X(LINK_LOST, "the link to a drive is lost") \
    X(DE_ENERGISED, "a drive is de-energised") \
    X(POWER_CUT, "mains and control voltage are gone, and the drives start anew") \
    X(OTHERWISE, "a drive's link is lost, and its pin has sunk when it comes back") \
    X(REFUSED, "a drive is refused, since another gateway works it") \
    X(BOOK_FAILS, "the book can't store")
enum running_event {
#define X(NAME, what) RUNNING_##NAME,
    RUNNING(X)
#undef X
        N_RUNNING
};

struct running {
    struct draw draw;
    struct storms *storms; /* its PLC and its wires */
    struct watch *watch;   /* is told what must never happen */
    bool on;               /* behind a changeover, until the line has stopped */
    bool begun;            /* all signals stood, and the line was started */
    bool harmless;         /* nothing happens by which the signals fall for good */
    /* what goes on */
    int64_t until_us[N_RUNNING]; /* 0: it doesn't */
    uint16_t rail[N_RUNNING];
    int64_t next_us, quiet_us; /* the next one; since when nothing goes on */
    int32_t left;              /* so many more */
    int last;                  /* that began last; -1: none */
    /* the PLC and people */
    bool counts;          /* the PLC counts accesses */
    uint16_t count;       /* retained */
    bool released_unseen; /* while the PLC was down */
    struct running_push {
        int64_t from_us; /* no sooner; 0: nobody will */
        uint16_t rail;
        bool by_hand; /* else it creeps without power */
    } push;
    /* what may be claimed */
    uint16_t proven; /* the count that stood with all signals; 0: none, nobody counts */
    uint32_t beats;  /* that were heard since a silence, a restart or a change of control; stops at 1000 */
    int64_t beat_us; /* when the last one was */
    bool stays;      /* since all signals stood, nothing has happened by which may run falls */
    bool fallen;     /* no signal returns without a job */
    bool unsure;     /* whether they do is not said */
    bool book_failed;
    /* totals */
    uint32_t counts_of[N_RUNNING], lines, not_started, moved, for_good, returned;
};

/* Before rig_begin(): whether brakes hold, what is an access, and whether the PLC counts. */
void running_draw(struct running *running, uint64_t seed, struct storms *storms, struct watch *watch, struct rig *rig);
/* Behind a changeover that is complete and verified. */
void running_begin(struct running *running, struct rig *rig);
/* After every cycle while it is on; it goes off once nothing happens any more and the signals are judged. */
void running_step(struct running *running, struct rig *rig);

/* A guard is released, and somebody counts that. */
void running_count(struct running *running);

const char *running_meaning(enum running_event event);

#endif
