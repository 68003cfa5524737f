#ifndef KR_STATION_TEMPERATURE_H
#define KR_STATION_TEMPERATURE_H

#include "alarms.h"

/* The temperature of the frame, which the PLC sends. A new temperature takes effect at the start of a job, and not
 * before: no position is recalculated while the line runs or during a job. */

/* Returns the expansion for a rail's positions: by the temperature that the PLC sends, or without one by the last
 * temperature. */
int32_t temperature_expansion(const struct kr_carriage_config *carriage, const struct kr_station_in *in,
                              int32_t now_ppb);

/* Returns the temperature in force, in hundredths of a kelvin; 0: the frame has no coefficient. */
uint16_t temperature_counts(const struct kr_carriage_config *carriage, int32_t now_ppb);

/* Raises an alarm for a temperature that is lost or impossible, as long as there is a PLC that should send it. */
void temperature_watch(const struct kr_carriage_config *carriage, const struct kr_station_in *in, int32_t now_ppb,
                       bool heard, bool in_job, struct alarms *alarms);

#endif
