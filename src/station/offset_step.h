#ifndef KR_STATION_OFFSET_STEP_H
#define KR_STATION_OFFSET_STEP_H

#include "kniferail/station.h"

/* A large step of an edge offset is often a typing error, which no scan can see. So it must be requested twice. */

/* Judges a new edge offset that is requested for the first time. Rail and holder are numbers from 1. */
struct kr_result offset_step_judge(int32_t most_um, uint16_t rail_number, uint16_t holder_number, int32_t was_um,
                                   int32_t becomes_um);

/* Tells whether the request repeats the one before it, which was refused because of the large step. */
bool offset_step_meant(const struct kr_edit *before, const struct kr_edit *edit);

#endif
