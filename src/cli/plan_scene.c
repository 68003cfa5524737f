/* Makes the scene of a plan, with the time of the scans before and after the moves. */
#include "plan_cmd.h"

/* The references are drawn at their fixed places, because a plan does not look for them. */
static void take_references(struct kr_scene_rail *to, const struct kr_references *references)
{
    to->n_references = references->n;
    for (uint16_t i = 0; i < references->n; i++)
        to->reference[i] = (struct kr_scene_reference){.at_um = references->flag[i].at_um};
}
_Static_assert(KR_SCENE_REFERENCES_MAX >= KR_REFERENCES_MAX, "a scene has room for all references of a rail");

void plan_scene(const struct plan_job *job, struct kr_scene *scene)
{
    const struct kr_station_config *station = &job->station->station;
    int64_t scan_us[KR_RAILS_MAX] = {0};
    for (uint16_t r = 0; r < job->request.geometry.n_rails; r++) {
        int32_t at_um = job->request.rail[r].carriage_um;
        scan_us[r] = kr_scan_time_us(&job->request.geometry.rail[r], &station->carriage[r], false, &at_um);
    }
    kr_scene_of_plan(scene, station->name, job->length_unit, &job->request, &job->plan, scan_us);
    for (uint16_t r = 0; r < scene->n_rails; r++)
        take_references(&scene->rail[r], &station->carriage[r].references);
    kr_scene_bound(scene);
}

struct kr_told plan_told(const struct plan_job *job, bool scans_first)
{
    struct kr_telling how = {.scans_first = scans_first, .moves = true, .verifies = true};
    return kr_station_tell(&job->station->station, &job->request, &job->plan, how);
}
