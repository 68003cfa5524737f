#include "access.h"

#include <arpa/inet.h>
#include <limits.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#define HOST_BITS 64 /* of an IPv6 address, before the part that a host may choose */
#define V4_BITS   96 /* of ::ffff:0:0/96, the IPv4 addresses among the IPv6 ones (RFC 4291, 2.5.5.2) */

static const uint8_t v4_mapped[12] = {[10] = 0xFF, [11] = 0xFF};

static bool matches(const struct kr_prefix *prefix, const uint8_t address[16])
{
    unsigned whole = prefix->bits / 8, rest = prefix->bits % 8;
    if (memcmp(prefix->address, address, whole) != 0)
        return false;
    return rest == 0 || (prefix->address[whole] ^ address[whole]) >> (8 - rest) == 0;
}

bool face_right_controls(enum kr_right right)
{
    return right == KR_RIGHT_CONTROL || right == KR_RIGHT_MAINTAIN;
}

static const struct kr_face_rule standing_rules[] = {
    {{.bits = 0}, KR_RIGHT_READ, 0},
    {{.address = {[10] = 0xFF, [11] = 0xFF, [12] = 127}, .bits = V4_BITS + 8}, KR_RIGHT_MAINTAIN, 0},
    {{.address = {[15] = 1}, .bits = 128}, KR_RIGHT_MAINTAIN, 0},
};

static bool is_for(const struct kr_face_rule *rule, uint16_t station)
{
    return rule->station_number == 0 || rule->station_number == station + 1;
}

/* The best rule so far: a longer prefix counts more, and then a rule that names the station. */
struct best {
    int weight;
    enum kr_right right;
};

static void weigh(struct best *best, const struct kr_face_rule *rule, const struct kr_prefix *whom, uint16_t station)
{
    int weight = 2 * rule->prefix.bits + (rule->station_number != 0);
    if (is_for(rule, station) && weight >= best->weight && rule->prefix.bits <= whom->bits &&
        matches(&rule->prefix, whom->address))
        *best = (struct best){weight, rule->right};
}

/* Returns the right by the best of the rules that cover the whole prefix. */
static enum kr_right right_of(const struct kr_prefix *whom, const struct kr_face_config *config, uint16_t station)
{
    struct best best = {-1, KR_RIGHT_NONE};
    for (size_t i = 0; i < sizeof standing_rules / sizeof standing_rules[0]; i++)
        weigh(&best, &standing_rules[i], whom, station);
    for (uint16_t i = 0; i < config->n_rules; i++)
        weigh(&best, &config->rule[i], whom, station);
    return best.right;
}

static int group_of(const uint8_t address[16], const struct kr_face_config *config)
{
    for (uint16_t i = 0; i < config->n_groups; i++)
        for (uint16_t k = 0; k < config->group[i].n_prefixes; k++)
            if (matches(&config->group[i].prefix[k], address))
                return i;
    return FACE_NO_GROUP;
}

/* Tells whether the rule covers a part of the prefix, and grants something there. */
static bool grants_within(const struct kr_face_rule *rule, const struct kr_prefix *prefix)
{
    return face_right_controls(rule->right) && rule->prefix.bits > prefix->bits &&
           matches(prefix, rule->prefix.address);
}

static bool may_control_within(const struct kr_prefix *prefix, const struct kr_face_config *config, uint16_t station)
{
    if (face_right_controls(right_of(prefix, config, station)))
        return true;
    for (size_t i = 0; i < sizeof standing_rules / sizeof standing_rules[0]; i++)
        if (grants_within(&standing_rules[i], prefix))
            return true;
    for (uint16_t i = 0; i < config->n_rules; i++)
        if (is_for(&config->rule[i], station) && grants_within(&config->rule[i], prefix))
            return true;
    return false;
}

bool face_group_may_control(const struct kr_face_group *group, const struct kr_face_config *config, uint16_t station)
{
    for (uint16_t i = 0; i < group->n_prefixes; i++)
        if (may_control_within(&group->prefix[i], config, station))
            return true;
    return false;
}

bool face_client_same_host(const struct face_client *a, const struct face_client *b)
{
    bool v4 =
        memcmp(a->address, v4_mapped, sizeof v4_mapped) == 0 || memcmp(b->address, v4_mapped, sizeof v4_mapped) == 0;
    return memcmp(a->address, b->address, v4 ? sizeof a->address : HOST_BITS / 8) == 0;
}

enum kr_right face_client_right(const struct face_client *client, uint16_t station)
{
    return (enum kr_right)client->at_station[station];
}

void face_client_judge(struct face_client *client, const struct kr_face_config *config)
{
    struct kr_prefix alone = {.bits = 128};
    memcpy(alone.address, client->address, sizeof alone.address);
    client->right = KR_RIGHT_NONE;
    for (uint16_t i = 0; i < config->n_stations; i++) {
        enum kr_right right = right_of(&alone, config, i);
        client->at_station[i] = (uint8_t)right;
        if (right != KR_RIGHT_NONE && (client->right == KR_RIGHT_NONE || right > client->right))
            client->right = right;
    }
    client->group = group_of(client->address, config);
}

static void write_host(struct face_client *client, bool v4)
{
    uint8_t network[16] = {0};
    char text[KR_FACE_ADDRESS_MAX];
    memcpy(network, client->address, HOST_BITS / 8);
    inet_ntop(AF_INET6, network, text, sizeof text);
    if (v4)
        snprintf(client->host, sizeof client->host, "%s", client->text);
    else
        snprintf(client->host, sizeof client->host, "%s/%d", text, HOST_BITS);
}

/* An IPv4 client on a dual-stack socket comes as ::ffff:a.b.c.d; it is the same client as on an IPv4
 * socket. */
bool face_client_from_sockaddr(struct face_client *client, const struct sockaddr *from,
                               const struct kr_face_config *config)
{
    memset(client, 0, sizeof *client);
    if (from->sa_family == AF_INET) {
        const struct sockaddr_in *v4 = (const void *)from;
        memcpy(client->address, v4_mapped, sizeof v4_mapped);
        memcpy(client->address + 12, &v4->sin_addr, 4);
        client->port = ntohs(v4->sin_port);
    } else if (from->sa_family == AF_INET6) {
        const struct sockaddr_in6 *v6 = (const void *)from;
        memcpy(client->address, &v6->sin6_addr, 16);
        client->port = ntohs(v6->sin6_port);
    } else {
        return false;
    }
    bool v4 = memcmp(client->address, v4_mapped, sizeof v4_mapped) == 0;
    inet_ntop(v4 ? AF_INET : AF_INET6, client->address + (v4 ? 12 : 0), client->text, sizeof client->text);
    write_host(client, v4);
    face_client_judge(client, config);
    return true;
}
