/* The scene of a plan, with what the scans before and behind the moves will take. */
#include "plan_cmd.h"

void plan_scene(const struct plan_job *job, struct kr_scene *scene)
{
    const struct kr_station_config *station = &job->station->station;
    int64_t scan_us[KR_RAILS_MAX] = {0};
    for (uint16_t r = 0; r < job->request.geometry.n_rails; r++)
        scan_us[r] = kr_scan_time_us(&job->request.geometry.rail[r], &station->carriage[r], false);
    kr_scene_of_plan(scene, station->name, job->length_unit, &job->request, &job->plan, scan_us);
}
