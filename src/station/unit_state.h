#ifndef KR_STATION_UNIT_STATE_H
#define KR_STATION_UNIT_STATE_H

#include "kniferail/station.h"

/* The unit's state of the PackML state model. */
struct unit {
    enum kr_unit_state state;
    int64_t state_ms; /* machine time at which it began */
};

/* The unit is between Start and the job's end, interruptions included. */
bool unit_in_job(enum kr_unit_state state);

/* Nothing has to be kept ready for motion, so that another geometry may be taken. */
bool unit_is_idle(enum kr_unit_state state);

#endif
