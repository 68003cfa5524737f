#ifndef KR_STATION_STATE_TIMES_H
#define KR_STATION_STATE_TIMES_H

#include "kniferail/station.h"

/* The time that the unit has spent in each state since the gateway's start, by the clock. */
struct state_times {
    int64_t us[KR_STATE_COMPLETE + 1]; /* indexed by the state's number */
    enum kr_unit_state state;          /* state in the last cycle */
    int64_t in_state_us;               /* time since the present state was entered */
};

void state_times_step(struct state_times *times, enum kr_unit_state state, int32_t wall_dt_us);

#endif
