#ifndef KR_STATION_ALARMS_H
#define KR_STATION_ALARMS_H

#include "kniferail/station.h"

/* The standing alarms. The first KR_ALARMS_MAX of them are the list that clients read, in the sequence in which they
 * were raised, because earlier alarms explain later ones. If an alarm finds the list full, it displaces the newest of
 * the weakest alarms in it, provided that one is weaker than itself: notices never hide a stop. An alarm that is
 * displaced, or finds no place in the list, is kept after the list: it is logged and recorded, and it counts. */
struct alarms {
    struct kr_alarm at[KR_ALARMS_KNOWN_MAX];
    uint16_t n;
    /* Number of alarms, since the last acknowledgement, for which there was no place after the list either. */
    uint16_t lost;
    /* The strongest reaction of the alarms that were raised since the unit last answered. */
    enum kr_reaction reaction;
};

/* These return how many of the alarms are in the list, and how many are after it. */
uint16_t alarms_listed(const struct alarms *alarms);
uint16_t alarms_unlisted(const struct alarms *alarms);

/* Tells whether two alarms are the same; their values and limits may differ. */
bool alarm_is(const struct kr_alarm *a, const struct kr_alarm *b);

/* Tells whether this alarm stands. */
bool alarm_is_listed(const struct alarms *alarms, const struct kr_alarm *alarm);

void alarm_raise(struct alarms *alarms, struct kr_alarm alarm);
/* Adds the reaction to an alarm that already stands. */
void alarms_react(struct alarms *alarms, enum kr_alarm_code code);
void alarm_list(struct alarms *alarms, struct kr_alarm alarm); /* adds an alarm without a reaction */

/* Tells whether an alarm has at least this reaction. *first (if not NULL) is the first such alarm. */
bool alarm_reacts(const struct alarms *alarms, enum kr_reaction least, struct kr_alarm *first);

/* Ends an alarm of no rail, because its cause is gone. */
void alarm_end(struct alarms *alarms, enum kr_alarm_code code);

/* Returns the alarm of that code on a rail, of which there is at most one; NULL: none stands. The caller may change its
 * values. */
struct kr_alarm *alarm_standing(struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number);
void alarm_end_of_rail(struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number);

/* Tells whether an alarm says that a rail is off: it stands until a scan finds the rail right, or a person confirms the
 * shift. alarms_end_shift() ends those of a rail. */
bool alarm_is_of_shift(uint16_t code);
void alarms_end_shift(struct alarms *alarms, uint16_t rail_number);

/* Tells whether an alarm keeps a job from starting or going on. *first (if not NULL) is the first such alarm. */
bool alarm_stops(const struct alarms *alarms, struct kr_alarm *first);

/* Tells the same, without the alarms about a rail's datum. Each job that needs the datum checks that by itself, and the
 * other jobs serve to restore it. */
bool alarm_hinders(const struct alarms *alarms, struct kr_alarm *first);
bool alarm_is_of_datum(uint16_t code);

/* Tells whether an alarm with this code stands, of this rail (0: of no rail), or of any rail. */
#define OF_ANY_RAIL UINT16_MAX
bool alarm_stands(const struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number);

#endif
