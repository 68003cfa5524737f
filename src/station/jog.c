#include "jog.h"

/* A refresh uses wall time. A refresh from before this job does not count. */
void jog_watch(struct jog *jog, uint16_t refresh, int64_t wall_us)
{
    if (refresh == jog->refresh)
        return;
    jog->refresh = refresh;
    jog->refresh_us = wall_us;
    jog->refreshed = true;
}

void jog_begin(struct jog *jog)
{
    jog->refreshed = false;
}

int8_t jog_wanted(const struct jog *jog, int16_t direction, int64_t wall_us)
{
    if (!jog->refreshed || wall_us - jog->refresh_us >= 1000LL * KR_JOG_REFRESH_MS)
        return 0;
    if (direction == 1)
        return 1;
    return direction == -1 ? -1 : 0;
}
