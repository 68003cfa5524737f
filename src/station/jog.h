#ifndef KR_STATION_JOG_H
#define KR_STATION_JOG_H

#include "kniferail/station.h"

/* Hold-to-run: whether the client in control asks for motion, which it must repeat again and again. */
struct jog {
    uint16_t refresh;   /* value when last seen */
    bool refreshed;     /* refreshed since the job began or was resumed */
    int64_t refresh_us; /* wall time */
};

void jog_watch(struct jog *jog, uint16_t refresh, int64_t wall_us);
void jog_begin(struct jog *jog);
/* Returns -1 for falling, 1 for growing, and 0 for standing. */
int8_t jog_wanted(const struct jog *jog, int16_t direction, int64_t wall_us);

#endif
