/* Reads the list `knife_kinds`: when knives of a kind are due for a grind. */
#include "reading.h"

/* The station distinguishes kinds by the digests of their names. */
static bool check_kind(struct kr_group *group, const struct kr_station_config *station, const char *kind)
{
    if (!kr_group_good(group, "kind"))
        return false;
    for (uint16_t i = 0; i < station->n_knife_limits; i++)
        if (kr_knife_kind_digest(station->knife_limit[i].kind) == kr_knife_kind_digest(kind)) {
            kr_group_mistake(group, "kind", "another entry of the list already has this kind");
            return false;
        }
    return true;
}

static bool check_metres(struct kr_group *group, const struct kr_knife_limit *limit)
{
    if (!kr_group_good(group, "due_metres") || !kr_group_good(group, "notice_metres"))
        return false;
    if (limit->notice_metres < limit->due_metres)
        return true;
    kr_group_at_most(group, "notice_metres", (int64_t)limit->due_metres - 1, "less than its due_metres");
    return false;
}

static void read_kind(struct station_reading *r, const config_setting_t *at)
{
    struct kr_station_config *station = &r->out->station;
    struct kr_knife_limit limit = {.due_metres = 0};
    struct kr_group group;
    if (!config_setting_is_group(at)) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(at, NULL, path);
        kr_mistake(r->errors, at, path, "a kind of knives is a group { }");
        return;
    }
    kr_group_read(&group, r->errors, &kr_knife_kind_table, at, NULL, &limit);
    kr_group_require(&group);
    bool kind_good = check_kind(&group, station, limit.kind);
    if (check_metres(&group, &limit) && kind_good)
        station->knife_limit[station->n_knife_limits++] = limit;
}

void kr_knife_kinds_read(struct station_reading *r)
{
    const config_setting_t *list = kr_group_at(&r->group, "knife_kinds");
    if (!list || !kr_group_good(&r->group, "knife_kinds"))
        return;
    int n = config_setting_length(list);
    if (n > KR_KNIFE_LIMITS_MAX) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(list, NULL, path);
        kr_mistake(r->errors, list, path, "there are %d kinds; up to %d are possible", n, KR_KNIFE_LIMITS_MAX);
        return;
    }
    for (int i = 0; i < n; i++)
        read_kind(r, config_setting_get_elem(list, (unsigned)i));
}
