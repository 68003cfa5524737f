#ifndef KR_STATION_WEAR_H
#define KR_STATION_WEAR_H

#include "alarms.h"

/* Which knives of the ledger are due for a grind, by the metres that they have cut and the limits of their kinds, and
 * the notices that say so: of each rail one before the limit and one at it. */

/* Looked at only when something that must survive has changed, as metres do. */
struct wear {
    bool looked;
    uint32_t serial; /* of what was looked at */
};

/* Names, of each rail, the knife that has the fewest metres left of those that are soon due, and of those that are due.
 * A knife that is named stays named until it is ground, comes off or gets another limit: two that take turns in being
 * the next are no news each time. waits: what a request has changed is not stored yet, and may be taken back. */
void wear_step(struct wear *wear, const struct kr_station_config *config, const struct kr_durable *durable,
               bool waits, struct alarms *alarms);
void wear_limits_changed(struct wear *wear);

/* What clients read of a rail, holder by holder; begins with all 0. */
struct wear_of_rail {
    uint16_t n_soon, n_due;
    uint16_t next;       /* the holder, from 1, whose knife has the fewest metres left; 0: none has a limit */
    int32_t left_metres; /* of that knife */
    uint16_t soon[KR_HOLDERS_MAX / 16], due[KR_HOLDERS_MAX / 16]; /* one bit each */
};
void wear_add(const struct kr_station_config *config, const struct kr_holder_data *holder, uint16_t index,
              struct wear_of_rail *wear);

#endif
