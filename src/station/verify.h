#ifndef KR_STATION_VERIFY_H
#define KR_STATION_VERIFY_H

#include "alarms.h"
#include "planning.h"

/* What was measured of the order in force, and whether it is verified: that every knife of it was measured at its
 * place and nothing has been doubted since. No other file writes these fields. */
struct placement {
    bool verified;
    bool set_aside; /* it was verified, and is again once it shows that nobody has moved a knife */
    bool slits_measured;
    int32_t slit_um[KR_SLITS_MAX];                /* as measured, edge to edge */
    uint16_t generation;                          /* steps with each place that changes */
    uint16_t slips[KR_RAILS_MAX][KR_HOLDERS_MAX]; /* placements out of tolerance, since the start */
};

bool verify_may_return(const struct placement *placement); /* verified, or set aside */
void verify_set_aside(struct placement *placement);
void verify_undo(struct placement *placement);   /* what was measured stays, and is not enough any more */
void verify_forget(struct placement *placement); /* nor does what was measured count */
void verify_places_changed(struct placement *placement, uint16_t n); /* n places of holders changed */
void verify_shown_changed(
    struct placement *placement); /* what is shown of places changed, and nothing else */

/* Every holder that cuts is measured. */
bool verify_can_judge(const struct kr_station_config *config, const struct kr_durable *durable,
                      const struct planning *planning);

/* Compares what was measured with what was ordered: every cutting holder with its target, every pair of upper and lower
 * knife with its window, every slit with its width. */
struct judgement {
    const struct kr_station_config *config;
    const struct kr_durable *durable;
    const struct planning *planning;
    struct kr_record *record; /* gets the worst deviations */
    struct alarms *alarms;
    bool names;        /* each deviation is an alarm */
    bool counts_slips; /* a holder that was moved and isn't there slipped as it was released */
};

/* True, and verified from then on, if all of it holds. */
bool verify_placement(struct placement *placement, const struct judgement *judgement);

/* What was set aside is judged again, without a word: nobody has moved a knife. */
void verify_again(struct placement *placement, const struct kr_station_config *config,
                  const struct kr_durable *durable, const struct planning *planning);

int32_t order_tolerance_um(const struct kr_station_config *config, const struct kr_durable *durable);

/* The rail whose edges make the slits: the lower one of a shear machine, else the upper. */
uint16_t slitting_rail(const struct kr_geometry *geometry);

#endif
