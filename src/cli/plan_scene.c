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

/* Behind the moves, when all places are known. */
static void take_flags(struct kr_scan_flags *flags, const struct plan_job *job, uint16_t rail)
{
    *flags = (struct kr_scan_flags){.known = true};
    for (uint16_t i = 0; i < job->request.geometry.rail[rail].n_holders; i++) {
        const struct kr_holder *holder = &job->request.rail[rail].holder[i];
        const struct kr_plan_holder *planned = &job->plan.rail[rail].holder[i];
        if (kr_holder_on_rail(holder->state))
            flags->at_um[flags->n++] = planned->moved ? planned->target_um : holder->position_um;
    }
}

void plan_scene(const struct plan_job *job, struct kr_scene *scene)
{
    const struct kr_station_config *station = &job->station->station;
    int64_t scan_us[KR_RAILS_MAX] = {0}, verify_us[KR_RAILS_MAX] = {0};
    for (uint16_t r = 0; r < job->request.geometry.n_rails; r++) {
        const struct kr_rail_geometry *rail = &job->request.geometry.rail[r];
        int32_t from_um = job->request.rail[r].carriage_um, at_um = from_um;
        struct kr_scan_flags flags;
        take_flags(&flags, job, r);
        scan_us[r] = kr_scan_time_us(rail, &station->carriage[r], false, NULL, &from_um);
        verify_us[r] = kr_scan_time_us(rail, &station->carriage[r], false, &flags, &at_um);
    }
    kr_scene_of_plan(scene, station->name, job->length_unit, &job->request, &job->plan, scan_us, verify_us);
    for (uint16_t r = 0; r < scene->n_rails; r++)
        take_references(&scene->rail[r], &station->carriage[r].references);
    kr_scene_bound(scene);
}

struct kr_told plan_told(const struct plan_job *job, bool scans_first)
{
    struct kr_telling how = {.scans_first = scans_first, .moves = true, .verifies = true};
    how.known = scans_first ? 0 : UINT16_MAX; /* a scan is due where places are not known */
    return kr_station_tell(&job->station->station, &job->request, &job->plan, how);
}
