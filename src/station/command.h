#ifndef KR_STATION_COMMAND_H
#define KR_STATION_COMMAND_H

#include "kniferail/station.h"

/* Commands: each has a number of its own; motion starts or resumes by nothing else. */
struct commanded {
    struct kr_snapshot last; /* of the last command that was taken */
    uint16_t number;
    struct kr_result result;
    struct kr_result halt; /* of this cycle's HALT */
};

void command_step(struct kr_station *s);

#endif
