#include "overruns.h"

#include "clock.h"
#include "log.h"

static void note(struct overruns *o, int64_t late_us)
{
    if (late_us > o->untold_us) {
        o->untold_us = late_us;
        o->untold_utc_ms = clock_utc_ms();
    }
    if (o->untold_us > o->worst_us) {
        o->worst_us = o->untold_us;
        o->worst_utc_ms = o->untold_utc_ms;
    }
}

static void tell(struct overruns *o)
{
    char untold[CLOCK_TEXT_MAX], worst[CLOCK_TEXT_MAX];
    clock_text(o->untold_utc_ms, untold);
    clock_text(o->worst_utc_ms, worst);
    log_line(LOG_WARNING,
             "%u cycles began late by more than a period, the worst by %.1f ms at %s; since the start %u, "
             "the worst by %.1f ms at %s",
             o->count - o->told, (double)o->untold_us / 1000, untold, o->count, (double)o->worst_us / 1000, worst);
    o->told = o->count;
    o->untold_us = 0;
}

void overruns_beat(struct overruns *o, uint32_t beats, int64_t late_us)
{
    o->count += beats - 1;
    if (beats > 1)
        note(o, late_us);
    if (o->count == o->told)
        return;
    int64_t now_us = clock_us();
    if (o->told_us != 0 && now_us - o->told_us < OVERRUNS_APART_US)
        return;
    o->told_us = now_us;
    tell(o);
}
