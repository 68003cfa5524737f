#include "places.h"

#define KEPT_PART 8    /* an eighth of all places is kept for those who may control or maintain, one at least */
#define SILENT_MS 1000 /* a connection without a request for so long counts as silent */

static bool reads_only(const struct face_client *client)
{
    return client->right == KR_RIGHT_READ;
}

static bool has_control(const struct kr_face *face, const struct face_client *client)
{
    for (uint16_t i = 0; i < face->config.n_stations; i++)
        if (face_control_is_of(&face->stations.registers[i].control, client))
            return true;
    return false;
}

/* host: counts only the connections of that host; NULL: of all hosts. */
static uint32_t count(const struct kr_face *face, const struct face_client *host, bool readers)
{
    uint32_t n = 0;
    for (uint32_t i = 0; i < face->n_slots; i++) {
        const struct face_connection *c = &face->slot[i];
        n += c->slot == FACE_SLOT_OPEN && (host == NULL || face_client_same_host(&c->client, host)) &&
             (!readers || reads_only(&c->client));
    }
    return n;
}

static uint32_t readers_most(const struct kr_face *face)
{
    uint32_t all = face->config.limits.connections, kept = all / KEPT_PART;
    return all == 1 ? 1 : all - (kept > 0 ? kept : 1);
}

enum who { READERS, ALL_BUT_CONTROL, ALL };

struct search {
    const struct face_client *host; /* only connections of that host are considered; NULL: all */
    enum who among;
    uint64_t silent_ms;
};

static bool may_leave(const struct kr_face *face, const struct face_connection *c, const struct search *search)
{
    if (c->slot != FACE_SLOT_OPEN || uv_now(face->loop) - c->heard_ms < search->silent_ms)
        return false;
    if (search->host != NULL && !face_client_same_host(&c->client, search->host))
        return false;
    switch (search->among) {
    case READERS: return reads_only(&c->client);
    case ALL_BUT_CONTROL: return !has_control(face, &c->client);
    case ALL: break;
    }
    return true;
}

static struct face_connection *silent_longest(struct kr_face *face, struct search search)
{
    struct face_connection *found = NULL;
    for (uint32_t i = 0; i < face->n_slots; i++) {
        struct face_connection *c = &face->slot[i];
        if (may_leave(face, c, &search) && (found == NULL || c->heard_ms < found->heard_ms))
            found = c;
    }
    return found;
}

/* Within a host, the oldest connection gives way: a PLC that was switched off and on again still has its old
 * connections here. A PLC may share a host with readers, because an IPv6 network counts as one host. */
static struct face_connection *leaver_of_host(struct kr_face *face, const struct face_client *newcomer)
{
    struct face_connection *found = NULL;
    if (!reads_only(newcomer))
        found = silent_longest(face, (struct search){newcomer, READERS, 0});
    if (found == NULL)
        found = silent_longest(face, (struct search){newcomer, reads_only(newcomer) ? READERS : ALL, SILENT_MS});
    return found;
}

/* Only for the client in control may a busy connection be closed that has more than the right to read. */
static struct face_connection *leaver_of_all(struct kr_face *face, const struct face_client *newcomer)
{
    if (reads_only(newcomer))
        return silent_longest(face, (struct search){NULL, READERS, SILENT_MS});
    struct face_connection *found = silent_longest(face, (struct search){NULL, READERS, 0});
    uint64_t silent_ms = has_control(face, newcomer) ? 0 : SILENT_MS;
    return found != NULL ? found : silent_longest(face, (struct search){NULL, ALL_BUT_CONTROL, silent_ms});
}

enum face_place face_place_for(struct kr_face *face, const struct face_client *newcomer,
                               struct face_connection **leaver)
{
    const struct kr_face_limits *limits = &face->config.limits;
    bool full = face->counters.connections >= limits->connections ||
                (reads_only(newcomer) && count(face, NULL, true) >= readers_most(face));
    if (count(face, newcomer, false) >= limits->connections_per_address)
        *leaver = leaver_of_host(face, newcomer);
    else if (full)
        *leaver = leaver_of_all(face, newcomer);
    else
        return FACE_PLACE_FREE;
    return *leaver != NULL ? FACE_PLACE_GIVEN : FACE_PLACE_NONE;
}
