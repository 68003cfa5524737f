#ifndef KR_MOTION_TRIP_H
#define KR_MOTION_TRIP_H

#include "rail.h"

void carriage_enter(const struct rail *r, enum kr_carriage_phase phase);

/* What happened, for whoever called. */
void rail_alarm(const struct rail *r, struct kr_alarm alarm);
void rail_stands(const struct rail *r, struct kr_alarm alarm); /* at rest: nothing has to end for it */
void rail_event(const struct rail *r, enum kr_motion_event_kind kind, uint16_t holder);

/* Names the cause and winds down. */
void carriage_trip(const struct rail *r, enum kr_alarm_code code, uint16_t item, int32_t value,
                   int32_t limit);

/* Whatever the carriage does, it begins to come to rest (wind_down.c goes on with it). */
void wind_down_begin(const struct rail *r);
void wind_down_enter(const struct rail *r, enum kr_wind_down step);
void wind_down_drive_off(const struct rail *r);

#endif
