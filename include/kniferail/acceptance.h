/* acceptance: the limits for the acceptance of a station. The station file gives them in the group `acceptance`, and
 * `kniferail commission` compares the machine with them. Belongs to base. */
#ifndef KNIFERAIL_ACCEPTANCE_H
#define KNIFERAIL_ACCEPTANCE_H

#include <stdint.h>

/* The alarms that can be provoked at the machine without harm, by provoke.def: the places in `alarms`. */
enum kr_by_hand {
#define BY_HAND(name, test, situation, brief, act, undo, caution) KR_BY_HAND_##name,
#include "kniferail/provoke.def"
    KR_N_BY_HAND
};

struct kr_acceptance {
    int32_t dockings;           /* how often each holder in service is docked */
    int32_t changeovers;        /* how many changeovers are made: to random orders, at production speed */
    int32_t faults_most;        /* faults that are allowed: jobs that did not end Complete, and repeated dockings */
    int32_t cpk_least_permille; /* the lower end of the interval of Cpk must reach this value */
    int32_t time_most_permille; /* largest deviation of the time taken from the planned time */
    uint32_t alarms;            /* the alarms that are provoked at the machine: bits 1 << enum kr_by_hand */
};
_Static_assert(KR_N_BY_HAND <= 32, "struct kr_acceptance keeps the alarms in one word");

#endif
