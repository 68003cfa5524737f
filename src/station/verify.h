#ifndef KR_STATION_VERIFY_H
#define KR_STATION_VERIFY_H

#include "alarms.h"
#include "planning.h"

/* The measurements of the order in force, and whether it is verified: every knife of it was measured at its place, and
 * nothing has been doubted since. No other file writes these fields. */
struct placement {
    bool verified;
    bool set_aside; /* it was verified, and will be again if it turns out that nobody has moved a knife */
    bool slits_measured;
    int32_t slit_um[KR_SLITS_MAX];                /* measured widths, edge to edge */
    uint16_t generation;                          /* grows by one with each position that changes */
    uint16_t slips[KR_RAILS_MAX][KR_HOLDERS_MAX]; /* number of placements out of tolerance since the start */
};

bool verify_may_return(const struct placement *placement); /* verified, or set aside */
void verify_set_aside(struct placement *placement);
void verify_undo(struct placement *placement);   /* the measurements stay, but are not enough any more */
void verify_forget(struct placement *placement); /* the measurements don't count any more either */
/* N positions of holders have changed. */
void verify_places_changed(struct placement *placement, uint16_t n);
/* The shown positions have changed, and nothing else. */
void verify_shown_changed(struct placement *placement);

/* Tells whether every holder that cuts is measured. */
bool verify_can_judge(const struct kr_station_config *config, const struct kr_durable *durable,
                      const struct planning *planning);

/* A comparison of the measurements with the order: every cutting holder with its target, every pair of upper and lower
 * knife with its window, and every slit with its width. */
struct judgement {
    const struct kr_station_config *config;
    const struct kr_durable *durable;
    const struct planning *planning;
    struct kr_record *record; /* gets the worst deviations */
    struct alarms *alarms;
    bool names; /* each deviation raises an alarm */
    /* A holder that was moved and isn't at its place counts as one that slipped when it was released. */
    bool counts_slips;
};

/* Judges the placement. If all of it is right, it is verified from now on, and the result is true. */
bool verify_placement(struct placement *placement, const struct judgement *judgement);

/* Judges again what was set aside, without alarms, after it has turned out that nobody has moved a knife. */
void verify_again(struct placement *placement, const struct kr_station_config *config, const struct kr_durable *durable,
                  const struct planning *planning);

int32_t order_tolerance_um(const struct kr_station_config *config, const struct kr_durable *durable);
/* Returns how far holders may be off their targets so that every knife, pair and slit is still within its tolerance.
 *
 * A holder that is off by a little more than the deadband may have no room to be corrected: against the direction of
 * approach it has to go too far by the overtravel, and its neighbour stands at its own place. So where a job
 * finds no plan possible with the deadband, one is made in which holders stay that are off by no more than this. */
int32_t stay_um(const struct kr_station_config *config, const struct kr_order *order);

/* Returns the rail whose edges make the slits: the lower one of a shear machine, else the upper one. */
uint16_t slitting_rail(const struct kr_geometry *geometry);

#endif
