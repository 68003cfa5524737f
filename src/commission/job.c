#include "job.h"

bool job_ended_well(const struct kr_job_seen *job, const char *what, struct kr_step_verdict *verdict)
{
    if (job->complete)
        return true;
    kr_finding_add(verdict, "", "mend what the alarm names, then let the step be made again",
                   "%s did not end Complete. %s", what, job->alarm);
    return false;
}
