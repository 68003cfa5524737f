#ifndef KR_STATION_METRES_H
#define KR_STATION_METRES_H

#include "alarms.h"
#include "planning.h"

/* Counts the metres that each knife has cut, while the line runs with the order in force verified. They come from the
 * line's own counter, or from its speed. They are collected, and added to the holders that cut in whole portions, so
 * that the book isn't written for every metre. The rest is added when the line stops. A power cut in between loses less
 * than one portion. */
struct metres {
    bool seen; /* the line's next value may be compared with counter */
    uint32_t counter;
    int64_t part;     /* part of a metre by the speed, in 0.1 m/min times microseconds */
    int64_t allowed;  /* largest allowed step of the counter, in the same unit */
    uint32_t pending; /* metres that are not added to the holders yet */
    bool written;     /* the PLC has written LINE_METRES since the start */
};

void metres_step(struct kr_station *s);
void metres_give(struct kr_station *s);
uint32_t metres_pending(const struct metres *metres, const struct planning *planning, uint16_t rail, uint16_t holder);

/* Stores the LINE_METRES at which VERIFIED last became 0, over a restart too. A gateway that ends while VERIFIED is 1
 * can't know this value. Then it is the first LINE_METRES that the PLC writes to the next gateway, unless VERIFIED is 1
 * again by then. */
void metres_note_verified(const struct metres *metres, struct kr_durable *durable, bool verified, uint32_t line_metres);

/* Raises an alarm for the knife of each rail that is due. */
void metres_notices(const struct kr_station_config *config, const struct kr_durable *durable, struct alarms *alarms);
bool metres_over(const struct kr_station_config *config, const struct kr_durable *durable,
                 const struct kr_alarm *alarm);

#endif
