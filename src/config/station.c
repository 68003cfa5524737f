#include "reading.h"

#define SIMULATED_LATE_MS 250

static void require_inner(struct station_reading *r, struct kr_group *inner, const char *name)
{
    if (kr_group_at(&r->group, name))
        kr_group_require(inner);
    else
        kr_group_spoil(inner);
}

static void read_groups(struct station_reading *r, const config_setting_t *at)
{
    struct kr_config_errors *errors = r->errors;
    kr_group_read(&r->group, errors, &kr_station_table, at, NULL, r->out);
    kr_group_read(&r->web, errors, &kr_web_table, at, "web", r->out);
    kr_group_read(&r->placement, errors, &kr_placement_table, at, "placement", r->out);
    kr_group_read(&r->idle, errors, &kr_idle_table, at, "idle", r->out);
    kr_group_read(&r->acceptance, errors, &kr_acceptance_table, at, "acceptance", r->out);
    kr_group_read(&r->permissives, errors, &kr_permissives_table, at, "permissives", r->out);
    kr_group_read(&r->carriage, errors, &kr_carriage_table, at, "carriage", &r->common);
    kr_group_read(&r->simulated, errors, &kr_simulated_table, at, "simulated", &r->machine);
    kr_drive_read(&r->drive, errors, at, NULL);
    kr_group_require(&r->group);
    require_inner(r, &r->web, "web");
    kr_group_require(&r->placement);
    require_inner(r, &r->permissives, "permissives");
}

static void read_rails(struct station_reading *r)
{
    const config_setting_t *list = kr_group_at(&r->group, "rails");
    if (!list || !kr_group_good(&r->group, "rails"))
        return;
    char path[KR_SETTING_PATH_MAX];
    kr_setting_path(list, NULL, path);
    int n = config_setting_length(list);
    if (n < 1 || n > KR_RAILS_MAX) {
        kr_mistake(r->errors, list, path, "there are %d rails; 1 to %d are possible", n, KR_RAILS_MAX);
        return;
    }
    r->n_rails = (uint16_t)n;
    r->rails_good = true;
    for (uint16_t i = 0; i < r->n_rails; i++)
        kr_rail_read(r, i, config_setting_get_elem(list, i));
    r->out->station.geometry.n_rails = r->n_rails;
}

/* Copies how old an image may be during motion. It is a setting of the drive; the simulated machine has none. */
static void lay_answers(struct station_reading *r)
{
    for (uint16_t i = 0; i < r->n_rails; i++)
        r->out->station.carriage[i].answers_late_ms =
            r->out->positioner == KR_POSITIONER_MODBUS ? r->out->drive[i].link.stop_ms : SIMULATED_LATE_MS;
}

/* Returns the transfer that reads an object, counted from 0; -1: the drive has no such register. */
static int transfer_of(const struct kr_drivemap *map, enum kr_object object)
{
    struct kr_drive_run from[KR_DRIVE_RUNS_MAX];
    int n = kr_drivemap_runs(map, KR_OBJECT_IN, from);
    for (int i = 0; i < n; i++)
        if (map->address[object] >= from[i].address && map->address[object] < from[i].address + from[i].n)
            return i;
    return -1;
}

/* Tells whether a drive counts the edges of a probe, and one transfer reads counts and positions. Between two transfers
 * an edge may come, and then they do not belong together. */
static bool counts(const struct kr_drivemap *map, const enum kr_object of_probe[4])
{
    int transfer = transfer_of(map, of_probe[0]);
    for (int i = 1; i < 4; i++)
        if (transfer_of(map, of_probe[i]) != transfer)
            return false;
    return transfer >= 0;
}

/* The simulated machine counts edges. */
static void lay_edge_counts(struct station_reading *r)
{
    static const enum kr_object of_probe[KR_SWITCHES][4] = {
        {KR_OBJECT_RISE_COUNT, KR_OBJECT_FALL_COUNT, KR_OBJECT_PROBE_RISE, KR_OBJECT_PROBE_FALL},
        {KR_OBJECT_RISE_2_COUNT, KR_OBJECT_FALL_2_COUNT, KR_OBJECT_PROBE_2_RISE, KR_OBJECT_PROBE_2_FALL},
    };
    for (uint16_t i = 0; i < r->n_rails; i++)
        for (enum kr_switch_of of = 0; of < KR_SWITCHES; of++)
            r->out->station.carriage[i].edges_counted[of] =
                r->out->positioner != KR_POSITIONER_MODBUS || counts(&r->out->drive[i].map, of_probe[of]);
}

void kr_station_read(struct station_reading *r, struct kr_config_errors *errors, const config_setting_t *at,
                     struct kr_config_station *out)
{
    r->errors = errors;
    r->out = out;
    out->station.period_us = r->period_us;
    read_groups(r, at);
    kr_sizes_read(r);
    kr_knife_kinds_read(r);
    read_rails(r);
    if (!r->rails_good)
        return;
    kr_check_station(r);
    for (uint16_t i = 0; i < r->n_rails; i++) {
        kr_check_rail(r, i);
        kr_check_references(r, i);
        kr_check_holders(r, i);
        if (r->out->positioner == KR_POSITIONER_SIMULATED)
            kr_check_simulated(r, i);
    }
    kr_drives_make(r);
    kr_simulated_make(r);
    lay_answers(r);
    lay_edge_counts(r);
}
