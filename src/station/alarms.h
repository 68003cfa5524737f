#ifndef KR_STATION_ALARMS_H
#define KR_STATION_ALARMS_H

#include "kniferail/station.h"

/* The standing alarms. The first KR_ALARMS_MAX of them are the list that clients read, in the order in which they
 * were raised: the first explain the later. An alarm that finds the list full displaces the newest of its weakest, if
 * that is weaker than the alarm itself: a stop is never hidden by notices. What is displaced, or finds no place in
 * the list, stands behind it all the same: it is logged and recorded, and it counts. */
struct alarms {
    struct kr_alarm at[KR_ALARMS_KNOWN_MAX];
    uint16_t n;
    uint16_t lost; /* that found no place behind the list either, since the last acknowledgement */
    enum kr_reaction reaction; /* strongest of those raised since the unit answered last */
};

/* How many of them are in the list, and how many stand beside it. */
uint16_t alarms_listed(const struct alarms *alarms);
uint16_t alarms_unlisted(const struct alarms *alarms);

/* Whether two alarms are the same one: values and limits may differ. */
bool alarm_is(const struct kr_alarm *a, const struct kr_alarm *b);

/* Whether this one stands. */
bool alarm_is_listed(const struct alarms *alarms, const struct kr_alarm *alarm);

void alarm_raise(struct alarms *alarms, struct kr_alarm alarm);
/* The reaction to an alarm that is listed already. */
void alarms_react(struct alarms *alarms, enum kr_alarm_code code);
void alarm_list(struct alarms *alarms, struct kr_alarm alarm); /* it stands, and nothing reacts to it */

/* Whether one of them has at least that reaction; *first (if not NULL) is the first of these. */
bool alarm_reacts(const struct alarms *alarms, enum kr_reaction least, struct kr_alarm *first);

/* Takes an alarm of no rail off the list by itself, because its cause is gone. */
void alarm_end(struct alarms *alarms, enum kr_alarm_code code);

/* Of one rail: the alarm of that code, of which there is at most one; NULL: none stands. It may be given other
 * values. */
struct kr_alarm *alarm_standing(struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number);
void alarm_end_of_rail(struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number);

/* Whether one of them keeps a job from starting or going on; *first (if not NULL) is the first of these. */
bool alarm_stops(const struct alarms *alarms, struct kr_alarm *first);

/* The same, those left out that say something of a rail's datum: each job that needs the datum asks for it by itself,
 * and those that do not are the way to mend it. */
bool alarm_hinders(const struct alarms *alarms, struct kr_alarm *first);
bool alarm_is_of_datum(uint16_t code);

/* Whether one with this code stands, of this rail (0: of none in particular) or of any. */
#define OF_ANY_RAIL UINT16_MAX
bool alarm_stands(const struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number);

#endif
