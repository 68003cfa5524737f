#ifndef KR_STATION_OFFSET_STEP_H
#define KR_STATION_OFFSET_STEP_H

#include "kniferail/station.h"

/* A great step of an edge offset is often a slip of the pen, which no scan can see: it has to be asked for twice. */

/* Whether an edge offset may become that without being asked for twice. Rail and holder are numbers, from 1. */
struct kr_result offset_step_judge(int32_t most_um, uint16_t rail_number, uint16_t holder_number,
                                   int32_t was_um, int32_t becomes_um);

/* Whether the request is the one before it once more, which was refused because an edge offset would step so far. */
bool offset_step_meant(const struct kr_edit *before, const struct kr_edit *edit);

#endif
