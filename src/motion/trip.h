#ifndef KR_MOTION_TRIP_H
#define KR_MOTION_TRIP_H

#include "rail.h"

void carriage_enter(const struct rail *r, enum kr_carriage_phase phase);

/* These report events to the caller. rail_stands() reports an alarm at rest, for which nothing has to end. */
void rail_alarm(const struct rail *r, struct kr_alarm alarm);
void rail_stands(const struct rail *r, struct kr_alarm alarm);
void rail_event(const struct rail *r, enum kr_motion_event_kind kind, uint16_t holder);

/* Raises the alarm and winds down. */
void carriage_trip(const struct rail *r, enum kr_alarm_code code, uint16_t item, int32_t value, int32_t limit);

/* The carriage begins to come to rest, whatever it does; wind_down.c continues. */
void wind_down_begin(const struct rail *r);
void wind_down_enter(const struct rail *r, enum kr_wind_down step);
void wind_down_drive_off(const struct rail *r);

#endif
