#include "settings.h"

#include <arpa/inet.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define CONNECTIONS_MAX    4096
#define QUEUED_ANSWERS_MAX 64
#define PARTIAL_MS_MIN     10
#define DURATION_MS_MAX    86400000 /* a day */
#define REQUESTS_MAX       1000000

struct check {
    char *error;
    size_t size;
};

static bool fail(const struct check *check, const char *format, ...) __attribute__((format(printf, 2, 3)));

static bool fail(const struct check *check, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    if (check->size > 0)
        vsnprintf(check->error, check->size, format, arguments);
    va_end(arguments);
    return false;
}

static bool in_range(const struct check *check, const char *what, uint32_t value, uint32_t least, uint32_t most)
{
    if (value >= least && value <= most)
        return true;
    return fail(check, "%s: %u is not possible; %u to %u", what, value, least, most);
}

static bool is_text(const struct check *check, const char *what, const char *text, size_t size, bool may_be_empty)
{
    if (memchr(text, '\0', size) == NULL)
        return fail(check, "%s: longer than %zu characters", what, size - 1);
    if (text[0] == '\0' && !may_be_empty)
        return fail(check, "%s: is empty", what);
    return true;
}

static bool listen_is_right(const struct check *check, const struct kr_face_listen *listen)
{
    uint8_t address[16];
    if (!is_text(check, "listen address", listen->address, sizeof listen->address, false))
        return false;
    if (inet_pton(AF_INET, listen->address, address) != 1 && inet_pton(AF_INET6, listen->address, address) != 1)
        return fail(check, "listen address: \"%s\" is neither an IPv4 nor an IPv6 address", listen->address);
    return true;
}

static bool stations_are_right(const struct check *check, const struct kr_face_config *config)
{
    bool used[256] = {false};
    for (uint16_t i = 0; i < config->n_stations; i++) {
        const struct kr_face_station *station = &config->station[i];
        if (!is_text(check, "station name", station->name, sizeof station->name, false))
            return false;
        if (!in_range(check, "unit identifier", station->unit_id, 1, 254))
            return false;
        if (used[station->unit_id])
            return fail(check, "unit identifier: %u is used twice", station->unit_id);
        used[station->unit_id] = true;
    }
    if (config->default_station >= config->n_stations && config->default_station != KR_STATIONS_MAX)
        return fail(check, "default station: %u is not possible; 0 to %d, or %d for none", config->default_station,
                    config->n_stations - 1, KR_STATIONS_MAX);
    return true;
}

static bool identity_is_right(const struct check *check, const struct kr_face_identity *identity)
{
    return is_text(check, "vendor name", identity->vendor_name, KR_FACE_TEXT_MAX, false) &&
           is_text(check, "product code", identity->product_code, KR_FACE_TEXT_MAX, false) &&
           is_text(check, "revision", identity->revision, KR_FACE_TEXT_MAX, false) &&
           is_text(check, "vendor URL", identity->vendor_url, KR_FACE_TEXT_MAX, true) &&
           is_text(check, "product name", identity->product_name, KR_FACE_TEXT_MAX, true) &&
           is_text(check, "model name", identity->model_name, KR_FACE_TEXT_MAX, true) &&
           is_text(check, "user application", identity->user_application, KR_FACE_TEXT_MAX, true);
}

static bool prefix_is_right(const struct check *check, const struct kr_prefix *prefix)
{
    return in_range(check, "prefix length", prefix->bits, 0, 128);
}

static bool groups_are_right(const struct check *check, const struct kr_face_config *config)
{
    for (uint16_t i = 0; i < config->n_groups; i++) {
        const struct kr_face_group *group = &config->group[i];
        if (!is_text(check, "group name", group->name, sizeof group->name, false) ||
            !in_range(check, "prefixes of a group", group->n_prefixes, 1, KR_FACE_PREFIXES_MAX))
            return false;
        for (uint16_t k = 0; k < group->n_prefixes; k++)
            if (!prefix_is_right(check, &group->prefix[k]))
                return false;
        for (uint16_t k = 0; k < i; k++)
            if (strcmp(config->group[k].name, group->name) == 0)
                return fail(check, "group name: \"%s\" is used twice", group->name);
    }
    return true;
}

static bool rules_are_right(const struct check *check, const struct kr_face_config *config)
{
    for (uint16_t i = 0; i < config->n_rules; i++)
        if (!prefix_is_right(check, &config->rule[i].prefix) ||
            !in_range(check, "right of an address rule", config->rule[i].right, KR_RIGHT_READ, KR_RIGHT_NONE))
            return false;
    return true;
}

bool face_settings_check_access(const struct kr_face_config *config, char *error, size_t error_size)
{
    const struct check check = {error, error_size};
    const struct kr_face_limits *limits = &config->limits;
    return in_range(&check, "connections per address", limits->connections_per_address, 1, CONNECTIONS_MAX) &&
           in_range(&check, "requests a second", limits->requests_per_s, 0, REQUESTS_MAX) &&
           in_range(&check, "idle time in ms", limits->idle_ms, 0, DURATION_MS_MAX) &&
           in_range(&check, "time for a partial frame in ms", limits->partial_ms, PARTIAL_MS_MIN, DURATION_MS_MAX) &&
           in_range(&check, "address rules", config->n_rules, 0, KR_FACE_RULES_MAX) &&
           in_range(&check, "control groups", config->n_groups, 0, KR_FACE_GROUPS_MAX) &&
           rules_are_right(&check, config) && groups_are_right(&check, config);
}

bool face_settings_check(const struct kr_face_config *config, char *error, size_t error_size)
{
    const struct check check = {error, error_size};
    if (!in_range(&check, "connections", config->limits.connections, 1, CONNECTIONS_MAX) ||
        !in_range(&check, "queued answers", config->limits.queued_answers, 1, QUEUED_ANSWERS_MAX) ||
        !in_range(&check, "listen addresses", config->n_listen, 1, KR_FACE_LISTEN_MAX) ||
        !in_range(&check, "stations", config->n_stations, 1, KR_STATIONS_MAX))
        return false;
    for (uint16_t i = 0; i < config->n_listen; i++)
        if (!listen_is_right(&check, &config->listen[i]))
            return false;
    return stations_are_right(&check, config) && identity_is_right(&check, &config->identity) &&
           face_settings_check_access(config, error, error_size);
}

struct kr_face_limits kr_face_limits_default(void)
{
    return (struct kr_face_limits){
        .connections = 64,
        .connections_per_address = 16,
        .queued_answers = 16,
        .requests_per_s = 0,
        .idle_ms = 120000,
        .partial_ms = 2000,
    };
}
