#include <string.h>

#include "reading.h"

#define PREFIX_FORM \
    "this is not an address or prefix, such as 192.0.2.7, 192.0.2.0/24, 2001:db8::/32 (no bits set beyond the prefix)"

/* ---- lists ----------------------------------------------------------------------------------------------------- */

/* Returns the list of that name if it is given and has at most `most` elements; otherwise n is 0. */
static const config_setting_t *list_of(struct kr_group *group, const char *name, int most, int *n)
{
    const config_setting_t *list = kr_group_at(group, name);
    *n = list && kr_group_good(group, name) ? config_setting_length(list) : 0;
    if (*n <= most)
        return list;
    char path[KR_SETTING_PATH_MAX];
    kr_setting_path(list, NULL, path);
    kr_mistake(group->errors, list, path, "there are %d elements; at most %d are possible", *n, most);
    *n = 0;
    return list;
}

/* Reads an element of a list by its table. False: it is not a group. */
static bool read_element(struct kr_group *group, struct kr_config_errors *errors, const struct kr_table *table,
                         const config_setting_t *list, int index, void *target)
{
    const config_setting_t *at = config_setting_get_elem(list, (unsigned)index);
    if (!config_setting_is_group(at)) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(at, NULL, path);
        kr_mistake(errors, at, path, "it must be a group { }");
        return false;
    }
    kr_group_read(group, errors, table, at, NULL, target);
    kr_group_require(group);
    return true;
}

/* Two sockets can't listen on the same address and port; 0.0.0.0 and :: stand for every address of their kind. */
static bool overlap(const struct kr_prefix *a, const struct kr_prefix *b)
{
    static const uint8_t any_v6[16], any_v4[16] = {[10] = 0xFF, [11] = 0xFF};
    bool both_v4 = memcmp(a->address, any_v4, 12) == 0 && memcmp(b->address, any_v4, 12) == 0;
    const uint8_t *any = both_v4 ? any_v4 : any_v6;
    return memcmp(a->address, b->address, 16) == 0 || memcmp(a->address, any, 16) == 0 ||
           memcmp(b->address, any, 16) == 0;
}

/* Reports a listener that uses the address and port of one before it. */
static void check_listens(struct kr_group *group, const struct kr_config_face *face, const struct kr_prefix prefix[],
                          int index)
{
    const struct kr_face_listen *listen = &face->listen[index];
    for (int i = 0; i < index; i++) {
        const struct kr_face_listen *other = &face->listen[i];
        if (listen->port == 0 || listen->port != other->port || prefix[i].bits == 0 || prefix[index].bits == 0 ||
            !overlap(&prefix[i], &prefix[index]))
            continue;
        kr_group_mistake(group, "port", "listen.[%d] already has it on %s, which is or covers this address", i,
                         other->address);
        return;
    }
}

static void read_listen(struct kr_group *face, struct kr_config_face *out)
{
    int n;
    const config_setting_t *list = list_of(face, "listen", KR_FACE_LISTEN_MAX, &n);
    if (!kr_group_at(face, "listen")) {
        out->n_listen = 1;
        out->listen[0] = (struct kr_face_listen){"127.0.0.1", 1502};
    } else if (n == 0 && kr_group_good(face, "listen") && config_setting_length(list) == 0) {
        kr_group_mistake(face, "listen", "at least one is needed");
    }
    struct kr_prefix prefix[KR_FACE_LISTEN_MAX] = {{{0}, 0}};
    for (int i = 0; i < n; i++) {
        struct kr_group group;
        struct kr_face_listen *listen = &out->listen[out->n_listen++];
        if (!read_element(&group, face->errors, &kr_listen_table, list, i, listen) || !kr_group_good(&group, "address"))
            continue;
        if (strchr(listen->address, '/') || !kr_prefix_from_text(listen->address, &prefix[i]))
            kr_group_mistake(&group, "address", "this is not an IPv4 or IPv6 address");
        else if (kr_group_good(&group, "port"))
            check_listens(&group, out, prefix, i);
    }
}

static void read_rules(struct kr_group *face, struct face_settings *settings)
{
    struct kr_config_face *out = &settings->face;
    int n;
    const config_setting_t *list = list_of(face, "rules", KR_FACE_RULES_MAX, &n);
    for (int i = 0; i < n; i++) {
        struct kr_group group;
        struct rule_settings rule = {0};
        struct kr_face_rule *to = &out->rule[out->n_rules++];
        if (!read_element(&group, face->errors, &kr_rule_table, list, i, &rule))
            continue;
        settings->rule_at[i] = kr_group_good(&group, "station") ? kr_group_at(&group, "station") : NULL;
        memcpy(settings->rule_station[i], rule.station, sizeof rule.station);
        if (kr_group_good(&group, "address") && !kr_prefix_from_text(rule.address, &to->prefix))
            kr_group_mistake(&group, "address", PREFIX_FORM);
        to->right = (enum kr_right)rule.right;
    }
}

static void read_addresses(struct kr_group *group, struct kr_face_group *out)
{
    int n;
    const config_setting_t *list = list_of(group, "addresses", KR_FACE_PREFIXES_MAX, &n);
    if (list && config_setting_length(list) == 0)
        kr_group_mistake(group, "addresses", "at least one is needed");
    for (int i = 0; i < n; i++) {
        const config_setting_t *at = config_setting_get_elem(list, (unsigned)i);
        const char *text = config_setting_get_string(at);
        if (text && kr_prefix_from_text(text, &out->prefix[out->n_prefixes])) {
            out->n_prefixes++;
            continue;
        }
        char path[KR_SETTING_PATH_MAX], seen[KR_SEEN_MAX];
        kr_setting_path(at, NULL, path);
        kr_setting_seen(at, seen);
        kr_mistake(group->errors, at, path, "%s; %s", seen, PREFIX_FORM);
    }
}

static void read_control_groups(struct kr_group *face, struct kr_config_face *out)
{
    int n;
    const config_setting_t *list = list_of(face, "groups", KR_FACE_GROUPS_MAX, &n);
    for (int i = 0; i < n; i++) {
        struct kr_group group;
        struct kr_face_group *to = &out->group[out->n_groups];
        if (!read_element(&group, face->errors, &kr_group_table, list, i, to))
            continue;
        for (int k = 0; k < out->n_groups; k++)
            if (to->name[0] && strcmp(out->group[k].name, to->name) == 0)
                kr_group_mistake(&group, "name", "another group already has this name");
        read_addresses(&group, to);
        out->n_groups++;
    }
}

void kr_face_read(struct kr_group *group, struct kr_config_errors *errors, const config_setting_t *root,
                  struct face_settings *settings)
{
    kr_group_read(group, errors, &kr_face_table, root, "face", settings);
    read_listen(group, &settings->face);
    read_rules(group, settings);
    read_control_groups(group, &settings->face);
    if (kr_group_good(group, "connections") && kr_group_good(group, "connections_per_address") &&
        settings->face.limits.connections_per_address > settings->face.limits.connections)
        kr_group_at_most(group, "connections_per_address", settings->face.limits.connections,
                         "that many are allowed in all");
}

void kr_face_view(const struct kr_config *config, struct face_settings *settings)
{
    uint16_t index = config->face.default_station;
    memset(settings, 0, sizeof *settings);
    settings->face = config->face;
    if (index < config->n_stations)
        memcpy(settings->default_station, config->station[index].station.name, sizeof settings->default_station);
}
