#ifndef KR_STATION_JOG_H
#define KR_STATION_JOG_H

#include "kniferail/station.h"

/* Hold-to-run: whether the client in control wants the carriage to run, asked for anew again and again. */
struct jog {
    uint16_t refresh;   /* as last seen */
    bool refreshed;     /* since the job began, or was resumed */
    int64_t refresh_us; /* wall time */
};

void jog_watch(struct jog *jog, uint16_t refresh, int64_t wall_us);
void jog_begin(struct jog *jog);
int8_t jog_wanted(const struct jog *jog, int16_t direction,
                  int64_t wall_us); /* -1 falling, 1 growing, 0 stand */

#endif
