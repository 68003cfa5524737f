#ifndef KR_MOTION_SCAN_WAY_H
#define KR_MOTION_SCAN_WAY_H

#include "rail.h"

/* The carriage has a second switch, which sees the references alone. */
bool scan_has_two_switches(const struct kr_carriage_config *carriage);
uint16_t scan_switches(const struct kr_carriage_config *carriage); /* 1 or 2 */
/* The switch that sees the references. */
enum kr_switch_of scan_references_switch(const struct kr_carriage_config *carriage);
int32_t scan_switch_offset_um(const struct kr_carriage_config *carriage, enum kr_switch_of of);

/* Returns the drive's own position at which the switch is at a place. */
int32_t scan_position_um(const struct kr_carriage_config *carriage, enum kr_switch_of of, int32_t place_um);

#endif
