/* How a job ended that a step has started. */
#ifndef KNIFERAIL_COMMISSION_JOB_H
#define KNIFERAIL_COMMISSION_JOB_H

#include "kniferail/commission.h"

/* Whether it ended Complete; else its alarm is a finding. what: a phrase that "did not end Complete" can follow. */
bool job_ended_well(const struct kr_job_seen *job, const char *what, struct kr_step_verdict *verdict);

#endif
