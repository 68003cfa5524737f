#ifndef KR_STATION_ALARM_TIMES_H
#define KR_STATION_ALARM_TIMES_H

#include "alarms.h"

#define ALARMS_GONE_MAX 16

struct timed_alarm {
    struct kr_alarm alarm;
    int64_t since_us, gone_us; /* wall time; gone_us is 0 while it stands */
};

/* Since when each alarm has stood, and which went last. It looks at the list of alarms after a cycle and changes
 * nothing in it. */
struct alarm_times {
    uint16_t n; /* as many as stand, in their sequence */
    struct timed_alarm standing[KR_ALARMS_KNOWN_MAX];
    uint16_t n_gone;
    struct timed_alarm gone[ALARMS_GONE_MAX]; /* the newest first */
    uint16_t generation;                      /* steps with every alarm that goes */
};

void alarm_times_step(struct alarm_times *times, const struct alarms *alarms, int64_t wall_us);

#endif
