/* acceptance: what a station's acceptance asks for. The station file says it (group `acceptance`), and `kniferail
 * commission` holds the machine against it. Belongs to base. */
#ifndef KNIFERAIL_ACCEPTANCE_H
#define KNIFERAIL_ACCEPTANCE_H

#include <stdint.h>

struct kr_acceptance {
    int32_t dockings;           /* of every holder in service */
    int32_t changeovers;        /* to random orders, at production speed */
    int32_t faults_most;        /* jobs that did not end Complete, and dockings that were repeated */
    int32_t cpk_least_permille; /* the least that the lower end of the interval of Cpk may be */
    int32_t time_most_permille; /* by which the time taken may differ from the time planned, either way */
};

#endif
