#ifndef KR_STATION_ALARMS_H
#define KR_STATION_ALARMS_H

#include "kniferail/station.h"

/* The standing alarms. The first ones explain the later: they are kept, and those that find the list full are counted. */
struct alarms {
    struct kr_alarm at[KR_ALARMS_MAX];
    uint16_t n, lost;
    enum kr_reaction reaction; /* strongest of those raised since the unit answered last */
};

void alarm_raise(struct alarms *alarms, struct kr_alarm alarm);

/* Whether one of them keeps a job from starting or going on; *first (if not NULL) is the first of these. */
bool alarm_stops(const struct alarms *alarms, struct kr_alarm *first);

/* Whether one with this code stands, of this rail (0: of none in particular) or of any. */
#define OF_ANY_RAIL UINT16_MAX
bool alarm_stands(const struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number);

#endif
