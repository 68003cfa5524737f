#include "alarm_times.h"

#include <string.h>

static const struct timed_alarm *known(const struct alarm_times *times, const struct kr_alarm *alarm)
{
    for (uint16_t i = 0; i < times->n; i++)
        if (alarm_is(&times->standing[i].alarm, alarm))
            return &times->standing[i];
    return NULL;
}

static void goes(struct alarm_times *times, const struct timed_alarm *alarm, int64_t wall_us)
{
    memmove(&times->gone[1], &times->gone[0], (ALARMS_GONE_MAX - 1) * sizeof times->gone[0]);
    times->gone[0] = *alarm;
    times->gone[0].gone_us = wall_us;
    if (times->n_gone < ALARMS_GONE_MAX)
        times->n_gone++;
    times->generation++;
}

static bool unchanged(const struct alarm_times *times, const struct alarms *alarms)
{
    if (times->n != alarms->n)
        return false;
    for (uint16_t i = 0; i < alarms->n; i++)
        if (!alarm_is(&times->standing[i].alarm, &alarms->at[i]))
            return false;
    return true;
}

void alarm_times_step(struct alarm_times *times, const struct alarms *alarms, int64_t wall_us)
{
    struct timed_alarm now[KR_ALARMS_KNOWN_MAX];
    if (unchanged(times, alarms))
        return;
    for (uint16_t i = 0; i < times->n; i++)
        if (!alarm_is_listed(alarms, &times->standing[i].alarm))
            goes(times, &times->standing[i], wall_us);
    for (uint16_t i = 0; i < alarms->n; i++) {
        const struct timed_alarm *before = known(times, &alarms->at[i]);
        now[i] = (struct timed_alarm){alarms->at[i], before != NULL ? before->since_us : wall_us, 0};
    }
    memcpy(times->standing, now, alarms->n * sizeof now[0]);
    times->n = alarms->n;
}
