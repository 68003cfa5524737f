#ifndef KR_STATION_ALARM_TIMES_H
#define KR_STATION_ALARM_TIMES_H

#include "alarms.h"

#define ALARMS_GONE_MAX 16

struct timed_alarm {
    struct kr_alarm alarm;
    int64_t since_us, gone_us; /* wall time; gone_us is 0 while the alarm stands */
};

/* Notes how long each alarm has stood, and which alarms went last. It reads the list of alarms after a cycle and does
 * not change it. */
struct alarm_times {
    uint16_t n; /* number of standing alarms; standing[] is in their sequence */
    struct timed_alarm standing[KR_ALARMS_KNOWN_MAX];
    uint16_t n_gone;
    struct timed_alarm gone[ALARMS_GONE_MAX]; /* the newest first */
    uint16_t generation;                      /* grows by one with every alarm that goes */
};

void alarm_times_step(struct alarm_times *times, const struct alarms *alarms, int64_t wall_us);

#endif
