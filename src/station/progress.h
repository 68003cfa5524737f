#ifndef KR_STATION_PROGRESS_H
#define KR_STATION_PROGRESS_H

#include "state.h"

/* The remaining time of a job, and its progress. */
int64_t job_left_us(const struct kr_station *s);
void job_progress(struct kr_station *s);

#endif
