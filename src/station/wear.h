#ifndef KR_STATION_WEAR_H
#define KR_STATION_WEAR_H

#include "alarms.h"

/* Finds the knives of the ledger that are due for a grind, by their metres and the limits of their kinds, and raises
 * the notices: for each rail one before the limit and one at it. */

/* The knives are looked at only when something that must survive has changed, such as their metres. */
struct wear {
    bool looked;
    uint32_t serial; /* serial of the kr_durable that was looked at */
};

/* Names for each rail the knife with the fewest metres left among those that are soon due, and among those that are
 * due. A named knife stays named until it is ground, comes off or gets another limit, so that two knives which
 * alternate as the next one cause no new alarm each time. waits: the change of a request is not stored yet, and may be
 * withdrawn. */
void wear_step(struct wear *wear, const struct kr_station_config *config, const struct kr_durable *durable, bool waits,
               struct alarms *alarms);
void wear_limits_changed(struct wear *wear);

/* The values that clients read about a rail. It begins with all 0, and wear_add() adds holder by holder. */
struct wear_of_rail {
    uint16_t n_soon, n_due;
    uint16_t next;       /* number of the holder whose knife has the fewest metres left; 0: no knife has a limit */
    int32_t left_metres; /* metres left of that knife */
    uint16_t soon[KR_HOLDERS_MAX / 16], due[KR_HOLDERS_MAX / 16]; /* one bit for each holder */
};
void wear_add(const struct kr_station_config *config, const struct kr_holder_data *holder, uint16_t index,
              struct wear_of_rail *wear);

#endif
