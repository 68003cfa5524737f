#ifndef KR_STATION_ACKNOWLEDGE_H
#define KR_STATION_ACKNOWLEDGE_H

#include "state.h"

/* Deletes every alarm whose cause is gone. Returns true if no alarm is left that stops a job. */
bool alarms_acknowledge(struct kr_station *s);

#endif
