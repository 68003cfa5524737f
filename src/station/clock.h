#ifndef KR_STATION_CLOCK_H
#define KR_STATION_CLOCK_H

#include <stdint.h>

struct clock {
    int64_t now_us, now_ms; /* machine time */
    int64_t wall_us;
    uint32_t serial; /* of the output image that this cycle makes */
};

#endif
