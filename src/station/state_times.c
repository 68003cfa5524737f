#include "state_times.h"

void state_times_step(struct state_times *times, enum kr_unit_state state, int32_t wall_dt_us)
{
    if (state != times->state)
        times->in_state_us = 0;
    times->state = state;
    times->in_state_us += wall_dt_us;
    times->us[state] += wall_dt_us;
}
