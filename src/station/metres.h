#ifndef KR_STATION_METRES_H
#define KR_STATION_METRES_H

#include "alarms.h"
#include "planning.h"

/* Metres that each knife has cut, while the line runs with the order in force verified: by the line's own counter, or
 * by its speed. They are added up and given to the holders that cut in whole pieces, so that the book isn't written
 * every metre; what is not given yet is given when the line stops. A power cut in between loses less than one piece. */
struct metres {
    bool seen; /* counter is one that the line's next value may be compared with */
    uint32_t counter;
    int64_t part;     /* of a metre, by the speed: 0.1 m/min times microseconds */
    int64_t allowed;  /* what the counter may step by, in the same unit */
    uint32_t pending; /* not given to the holders yet */
    bool written;     /* the PLC has written LINE_METRES since the start */
};

void metres_step(struct kr_station *s);
void metres_give(struct kr_station *s);
uint32_t metres_pending(const struct metres *metres, const struct planning *planning, uint16_t rail,
                        uint16_t holder);

/* Keeps where VERIFIED fell last, over a restart too. A gateway that ends while VERIFIED stands can't say where: then
 * it is where the PLC first writes LINE_METRES to the next one, unless VERIFIED is back by then. */
void metres_note_verified(const struct metres *metres, struct kr_durable *durable, bool verified,
                          uint32_t line_metres);

/* Names the knife of each rail that is due. */
void metres_notices(const struct kr_station_config *config, const struct kr_durable *durable,
                    struct alarms *alarms);
bool metres_over(const struct kr_station_config *config, const struct kr_durable *durable,
                 const struct kr_alarm *alarm);

#endif
