#ifndef KR_MOTION_KNOWLEDGE_H
#define KR_MOTION_KNOWLEDGE_H

#include "rail.h"

struct kr_rail_knowledge *knowledge_of(const struct rail *r);

/* Call it after every change: the knowledge must be stored again. */
void knowledge_touch(const struct rail *r);

void place_set(const struct rail *r, uint16_t holder_number, int32_t position_um, enum kr_known how);
/* A scan has found the holder there. `how` is KR_MEASURED, or KR_REMEMBERED if the scan ended with an alarm. */
void place_scanned(const struct rail *r, uint16_t holder_number, int32_t position_um, enum kr_known how);
void place_released(const struct rail *r, uint16_t holder_number, int32_t position_um);
void places_demote(const struct rail *r, enum kr_known at_most);
bool is_on_rail(const struct rail *r, uint16_t index);

/* Sets the deviation by which a scan found the holders off alike; 0: they are no longer off. */
void shift_set(const struct rail *r, int32_t shift_um);

/* The pin has released its holder, or never took it. */
void docking_over(const struct rail *r);

#endif
