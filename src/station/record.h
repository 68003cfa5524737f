#ifndef KR_STATION_RECORD_H
#define KR_STATION_RECORD_H

#include "state.h"

/* The record of a job that moves holders or verifies them. It is begun at Start and stored at the job's end. */
void record_begin(struct kr_record *record, const struct job *job, const struct kr_durable *durable);
/* Notes what ended the job: STOP_COMMANDED, ABORT_COMMANDED or GATEWAY_ENDED. The first one counts. */
void record_ended_by(struct kr_record *record, enum kr_alarm_code who);
/* Ends the record. A record that is not verified always names a cause: a standing alarm, else what ended the job, else
 * NOT_VERIFIED. */
void record_end(struct kr_station *s, enum kr_outcome outcome);

#endif
