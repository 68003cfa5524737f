/* Random stations with their machines, and random orders for them: every feature of the station takes part. */
#ifndef KR_TESTS_STATIONS_H
#define KR_TESTS_STATIONS_H

#include "draw.h"
#include "rig.h"

/* Before rig_start(). n_holders on each rail; 0: 3 to 12. */
void station_draw(struct draw *d, struct rig *rig, uint16_t n_holders);

/* Travel, place of rest, home mark and stops of a rail, by its length, frame, switch and references. */
void station_set_travel(struct rig *rig, uint16_t r, bool parks_low);

/* Stages an order that the station accepts: draws until one is. False if none was after many tries. */
bool station_order(struct draw *d, struct rig *rig, uint32_t number);

#endif
