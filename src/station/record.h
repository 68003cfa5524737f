#ifndef KR_STATION_RECORD_H
#define KR_STATION_RECORD_H

#include "state.h"

/* The record of a job that moves holders or verifies them: begun at Start, stored at its end. */
void record_begin(struct kr_record *record, const struct job *job, const struct kr_durable *durable);
/* What told the job to end: one of STOP_COMMANDED, ABORT_COMMANDED, GATEWAY_ENDED. The first counts. */
void record_ended_by(struct kr_record *record, enum kr_alarm_code who);
/* A record that is not verified always names a cause: an alarm that stands, else who ended the job, else
 * NOT_VERIFIED. */
void record_end(struct kr_station *s, enum kr_outcome outcome);

#endif
