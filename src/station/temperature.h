#ifndef KR_STATION_TEMPERATURE_H
#define KR_STATION_TEMPERATURE_H

#include "alarms.h"

/* The temperature of the frame, as the PLC sends it. It counts from the start of a job on, and not before: while the
 * line runs, and while a job does, no place is counted anew. */

/* What a rail's places are to be counted by: by the temperature that is sent, or if that is none by the last one. */
int32_t temperature_expansion(const struct kr_carriage_config *carriage, const struct kr_station_in *in,
                              int32_t now_ppb);

/* The temperature that counts, in hundredths of a kelvin; 0: the frame has no coefficient. */
uint16_t temperature_counts(const struct kr_carriage_config *carriage, int32_t now_ppb);

/* Names a temperature that is lost or can't be, as long as somebody is there who should send it. */
void temperature_watch(const struct kr_carriage_config *carriage, const struct kr_station_in *in,
                       int32_t now_ppb, bool heard, bool in_job, struct alarms *alarms);

#endif
