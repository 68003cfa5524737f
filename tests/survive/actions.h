/* actions: what may happen next to a station, as a PLC programmer, a disk, a planner and a power cut see it. */
#ifndef KR_TESTS_ACTIONS_H
#define KR_TESTS_ACTIONS_H

#include "world.h"

/* Groups, so that a search can leave some of them out and go deeper. */
enum action_group {
    GROUP_ALWAYS = 1,       /* time passes, commits end, plans come */
    GROUP_CUTS = 2,         /* the gateway starts again */
    GROUP_FAILURES = 4,     /* commits fail */
    GROUP_ORDERS = 8,       /* two orders are staged by new numbers */
    GROUP_HANDSHAKE = 16,   /* repeated, reused, stale, cancelled, checked, impossible ones */
    GROUP_JOB = 32,         /* Reset, Start, Stop, and what resumes */
    GROUP_COMMANDS = 64,    /* Hold, Abort, Clear, repeated and stale ones */
    GROUP_MACHINE = 128,    /* permissives, heartbeat, control, the drive's link */
    GROUP_EDITS = 256,      /* maintenance: an offset, a holder out of service, repeated and stale ones */
    GROUP_RECIPES = 512,    /* store, recall, drop */
    GROUP_HANDS = 1024,     /* a swap; a holder taken off the rail, declared absent, put on, inserted */
    GROUP_TEST_CUTS = 2048, /* measured strips, and their proposal applied */
    GROUP_HALTS = 8192,     /* Stop, Hold, Suspend and Abort by HALT, alone and with a command in one cycle */
    GROUP_JOG = 4096,       /* a jog, its refresh, the hold-to-run device */
    GROUP_STORMS = 16384,   /* a second writer, late answers, another word order, holders that creep */
    GROUP_SIGNALS = 32768,  /* the PLC counts accesses, and hands move a knife behind a guard */
    GROUP_KNIVES = 65536,   /* knives of the ledger: entered, mounted, off, ground, broken, scrapped; its answers */
};

struct action {
    const char *name;
    enum action_group group;
    bool (*apply)(struct world *world); /* false: it can't happen here; the world may be changed then */
};

extern const struct action actions[];
extern const int n_actions;

#endif
