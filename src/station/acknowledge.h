#ifndef KR_STATION_ACKNOWLEDGE_H
#define KR_STATION_ACKNOWLEDGE_H

#include "state.h"

/* Forgets every alarm whose cause is gone. True if none is left that stops a job. */
bool alarms_acknowledge(struct kr_station *s);

#endif
