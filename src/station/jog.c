/* Hold-to-run: whether the client in control wants the carriage to run, asked for anew again and again, and whether the
 * hold-to-run device is pressed, which no register can give. */
#include "state.h"

/* Wall time, as for every refresh. A refresh from before this job counts for nothing. */
void jog_watch(struct kr_station *s)
{
    struct jog *jog = &s->jog;
    if (s->in.jog_refresh == jog->refresh)
        return;
    jog->refresh = s->in.jog_refresh;
    jog->refresh_us = s->wall_us;
    jog->refreshed = true;
}

void jog_begin(struct kr_station *s)
{
    s->jog.refreshed = false;
}

int8_t jog_wanted(const struct kr_station *s)
{
    const struct jog *jog = &s->jog;
    if (!jog->refreshed || s->wall_us - jog->refresh_us >= 1000LL * KR_JOG_REFRESH_MS)
        return 0;
    if (s->in.jog_direction == 1)
        return 1;
    return s->in.jog_direction == -1 ? -1 : 0;
}

bool jog_enabled(const struct kr_station *s, uint16_t rail)
{
    struct kr_motion_in in = rail_in(s, (uint16_t)(rail - 1));
    return kr_motion_jog_enabled(&in);
}
