#ifndef KR_STATION_PROGRESS_H
#define KR_STATION_PROGRESS_H

#include "state.h"

/* How long a job will take, and how far it is. */
int64_t job_left_us(const struct kr_station *s);
void job_progress(struct kr_station *s);

#endif
