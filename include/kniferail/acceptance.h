/* acceptance: what a station's acceptance asks for. The station file says it (group `acceptance`), and `kniferail
 * commission` holds the machine against it. Belongs to base. */
#ifndef KNIFERAIL_ACCEPTANCE_H
#define KNIFERAIL_ACCEPTANCE_H

#include <stdint.h>

/* The alarms that can be provoked at the machine without harm, by provoke.def: the places in `alarms`. */
enum kr_by_hand {
#define BY_HAND(name, situation, brief, act, undo, caution) KR_BY_HAND_##name,
#include "kniferail/provoke.def"
    KR_N_BY_HAND
};

struct kr_acceptance {
    int32_t dockings;           /* of every holder in service */
    int32_t changeovers;        /* to random orders, at production speed */
    int32_t faults_most;        /* jobs that did not end Complete, and dockings that were repeated */
    int32_t cpk_least_permille; /* the least that the lower end of the interval of Cpk may be */
    int32_t time_most_permille; /* by which the time taken may differ from the time planned, either way */
    uint32_t alarms;            /* those that are provoked at the machine: bit 1 << enum kr_by_hand */
};
_Static_assert(KR_N_BY_HAND <= 32, "struct kr_acceptance keeps the alarms in one word");

#endif
