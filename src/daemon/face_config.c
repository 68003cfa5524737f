#include "face_config.h"

#include <stdio.h>
#include <string.h>

_Static_assert(KR_CONFIG_STATIONS_MAX <= KR_FACE_STATIONS_MAX, "the face serves every station");
_Static_assert(KR_CONFIG_LISTEN_MAX <= KR_FACE_LISTEN_MAX, "the face listens on every address");
_Static_assert(KR_CONFIG_RULES_MAX <= KR_FACE_RULES_MAX, "the face keeps every rule");
_Static_assert(KR_CONFIG_GROUPS_MAX <= KR_FACE_GROUPS_MAX, "the face keeps every group");
_Static_assert(KR_CONFIG_PREFIXES_MAX <= KR_FACE_PREFIXES_MAX, "the face keeps every address of a group");

static struct kr_prefix prefix_from(const struct kr_config_prefix *prefix)
{
    struct kr_prefix out = {.bits = prefix->bits};
    _Static_assert(sizeof out.address == sizeof prefix->address, "both are IPv6 addresses");
    memcpy(out.address, prefix->address, sizeof out.address);
    return out;
}

static enum kr_right right_from(enum kr_config_right right)
{
    switch (right) {
    case KR_CONFIG_READ: return KR_RIGHT_READ;
    case KR_CONFIG_CONTROL: return KR_RIGHT_CONTROL;
    case KR_CONFIG_MAINTAIN: return KR_RIGHT_MAINTAIN;
    case KR_CONFIG_NO_RIGHT: return KR_RIGHT_NONE;
    }
    return KR_RIGHT_NONE;
}

static void rights_from(const struct kr_config_face *config, struct kr_face_config *face)
{
    face->n_rules = config->n_rules;
    for (uint16_t i = 0; i < config->n_rules; i++)
        face->rule[i] =
            (struct kr_face_rule){prefix_from(&config->rule[i].prefix), right_from(config->rule[i].right)};
    face->n_groups = config->n_groups;
    for (uint16_t i = 0; i < config->n_groups; i++) {
        const struct kr_config_group *from = &config->group[i];
        struct kr_face_group *to = &face->group[i];
        snprintf(to->name, sizeof to->name, "%s", from->name);
        to->n_prefixes = from->n_prefixes;
        for (uint16_t k = 0; k < from->n_prefixes; k++)
            to->prefix[k] = prefix_from(&from->prefix[k]);
    }
    face->control_by_first_write = config->control_by_first_write;
}

static void stations_from(const struct kr_config *config, struct kr_face_config *face)
{
    face->n_stations = config->n_stations;
    face->default_station = config->face.default_station < config->n_stations ? config->face.default_station
                                                                              : KR_FACE_STATIONS_MAX;
    for (uint16_t i = 0; i < config->n_stations; i++) {
        const struct kr_config_station *from = &config->station[i];
        struct kr_face_station *to = &face->station[i];
        snprintf(to->name, sizeof to->name, "%s", from->station.name);
        to->unit_id = from->unit_id;
        to->format = from->station.format;
    }
}

static void identity_from(const struct kr_config_face *config, struct kr_face_identity *identity)
{
    snprintf(identity->vendor_name, sizeof identity->vendor_name, "kniferail");
    snprintf(identity->product_code, sizeof identity->product_code, "kniferaild");
    snprintf(identity->revision, sizeof identity->revision, "%s", KR_VERSION);
    snprintf(identity->product_name, sizeof identity->product_name, "knife-positioning gateway");
    snprintf(identity->user_application, sizeof identity->user_application, "%s", config->user_application);
}

void face_config_from(const struct kr_config *config, struct kr_face_config *face)
{
    const struct kr_config_face *from = &config->face;
    memset(face, 0, sizeof *face);
    face->n_listen = from->n_listen;
    for (uint16_t i = 0; i < from->n_listen; i++) {
        snprintf(face->listen[i].address, sizeof face->listen[i].address, "%s", from->listen[i].address);
        face->listen[i].port = from->listen[i].port;
    }
    face->limits = (struct kr_face_limits){.connections = from->connections,
                                           .connections_per_address = from->connections_per_address,
                                           .queued_answers = from->queued_answers,
                                           .requests_per_s = from->requests_per_s,
                                           .idle_ms = from->idle_ms,
                                           .partial_ms = from->partial_ms};
    stations_from(config, face);
    rights_from(from, face);
    identity_from(from, &face->identity);
}
