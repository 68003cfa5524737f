#ifndef KR_STATION_CLOCK_H
#define KR_STATION_CLOCK_H

#include <stdint.h>

struct clock {
    int64_t now_us, now_ms; /* machine time */
    int64_t wall_us;
    int64_t gap_us, own_gap_us; /* wall time since the last cycle, and the longest such time so far */
    int64_t own_gap_at_us;      /* wall time at which the longest gap ended */
    uint32_t serial;            /* serial of the output image of this cycle */
};

#endif
