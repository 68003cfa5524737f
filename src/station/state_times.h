#ifndef KR_STATION_STATE_TIMES_H
#define KR_STATION_STATE_TIMES_H

#include "kniferail/station.h"

/* How long the unit was in each state since the gateway's start, by the clock. */
struct state_times {
    int64_t us[KR_STATE_COMPLETE + 1]; /* by the state's number */
    enum kr_unit_state state;          /* in the last cycle */
    int64_t in_state_us;               /* since it was entered */
};

void state_times_step(struct state_times *times, enum kr_unit_state state, int32_t wall_dt_us);

#endif
