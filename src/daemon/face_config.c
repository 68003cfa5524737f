#include "face_config.h"

#include <stdio.h>
#include <string.h>

static void stations_from(const struct kr_config *config, struct kr_face_config *face)
{
    face->n_stations = config->n_stations;
    face->default_station =
        config->face.default_station < config->n_stations ? config->face.default_station : KR_STATIONS_MAX;
    for (uint16_t i = 0; i < config->n_stations; i++) {
        const struct kr_config_station *from = &config->station[i];
        struct kr_face_station *to = &face->station[i];
        snprintf(to->name, sizeof to->name, "%s", from->station.name);
        to->unit_id = from->unit_id;
        to->format = from->station.format;
        to->whole_by_both_numbers = from->whole_by_both_numbers;
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
    memcpy(face->listen, from->listen, sizeof face->listen);
    face->limits = from->limits;
    face->n_rules = from->n_rules;
    memcpy(face->rule, from->rule, sizeof face->rule);
    face->n_groups = from->n_groups;
    memcpy(face->group, from->group, sizeof face->group);
    face->control_by_first_write = from->control_by_first_write;
    stations_from(config, face);
    identity_from(from, &face->identity);
}
