#ifndef KR_STATION_COMMAND_H
#define KR_STATION_COMMAND_H

#include "kniferail/station.h"

/* The commands of a client. Each has a number of its own, and nothing else starts or resumes motion. */
struct commanded {
    struct kr_snapshot last; /* block of the last command that was taken */
    uint16_t number;
    struct kr_result result;
    struct kr_result halt; /* result of this cycle's HALT */
};

void command_step(struct kr_station *s);

#endif
