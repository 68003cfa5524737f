/* Judges how a job that a step has started ended. */
#ifndef KNIFERAIL_COMMISSION_JOB_H
#define KNIFERAIL_COMMISSION_JOB_H

#include "kniferail/commission.h"

/* Tells whether the job ended Complete. If not, its alarm becomes a finding. what is a phrase that "did not end
 * Complete" can follow. */
bool job_ended_well(const struct kr_job_seen *job, const char *what, struct kr_step_verdict *verdict);

#endif
