#ifndef KR_MOTION_SCAN_WAY_H
#define KR_MOTION_SCAN_WAY_H

#include "rail.h"

/* The carriage has a second switch, which sees the references alone. */
bool scan_has_two_switches(const struct kr_carriage_config *carriage);
uint16_t scan_switches(const struct kr_carriage_config *carriage); /* how many */
int32_t scan_switch_offset_um(const struct kr_carriage_config *carriage, enum kr_switch_of of);

/* The drive's own position where that switch is at a place. */
int32_t scan_position_um(const struct kr_carriage_config *carriage, enum kr_switch_of of, int32_t place_um);

#endif
