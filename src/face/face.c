#include "kniferail/face.h"

#include <arpa/inet.h>
#include <assert.h>
#include <errno.h>
#include <netinet/tcp.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "server.h"
#include "settings.h"

#define BACKLOG         512
#define TICK_MS         20
#define EXPIRIES_A_TICK 4

/* How much the kernel may hold for one connection. Without this limit, the kernel would hold megabytes for a client
 * that floods or does not read; many such clients would use up the system's TCP memory, and slow everybody down.
 * Hundreds of answers fit into this size. */
#define SEND_BYTES    65536
#define RECEIVE_BYTES 16384

/* A peer that has disappeared without closing its connection is detected within a minute. */
#define KEEPALIVE_IDLE_S 30
#define KEEPALIVE_STEP_S 10
#define KEEPALIVE_PROBES 3

/* File descriptors that the rest of the process may need: files, a database, drives. */
#define DESCRIPTORS_SPARE 64

/* ---- turns and ticks ----------------------------------------------------------------------------------- */

static void on_hurry(uv_idle_t *idle)
{
    (void)idle; /* it only has to be active: the loop then polls without sleeping */
}

static bool anyone_waits(const struct kr_face *face)
{
    for (uint16_t i = 0; i < face->n_listeners; i++)
        if (face->listener[i].waiting)
            return true;
    return face->ready_first != NULL;
}

static void on_turn(uv_prepare_t *prepare)
{
    struct kr_face *face = prepare->data;
    face->accepts_left = FACE_ACCEPTS_A_TURN;
    face->cycle_seen = false;
    for (uint16_t i = 0; i < face->n_listeners; i++)
        if (face->listener[i].waiting && face->accepts_left > 0 && !face_cycle_due(face))
            face_accept(&face->listener[i]);
    face_serve_ready(face);
    if (anyone_waits(face))
        uv_idle_start(&face->hurry, on_hurry);
    else
        uv_idle_stop(&face->hurry);
}

/* Checks all connections. After a few closings, leaves the rest to the next tick: the kernel needs time to close a
 * connection that is full of unread answers, and a hundred of them would delay a cycle. */
static void on_tick(uv_timer_t *timer)
{
    struct kr_face *face = timer->data;
    uint64_t now_ms = uv_now(face->loop), before = face->counters.expired;
    face_notes_tick(&face->notes, now_ms);
    for (uint16_t i = 0; i < face->config.n_stations; i++)
        face_registers_tick(&face->stations.registers[i]);
    for (uint32_t i = 0; i < face->n_slots && face->counters.expired - before < EXPIRIES_A_TICK; i++) {
        struct face_connection *c = &face->slot[face->tick_at];
        face->tick_at = (face->tick_at + 1) % face->n_slots;
        if (c->slot == FACE_SLOT_OPEN)
            face_connection_tick(c, now_ms);
    }
}

/* If a connection is not accepted here, libuv keeps it and asks the kernel for no other one until it is accepted. */
static void on_connection(uv_stream_t *stream, int status)
{
    struct face_listener *listener = stream->data;
    struct kr_face *face = listener->face;
    if (status != 0) {
        face_note_limited(&face->notes, FACE_NOTE_CONNECTION, "the system", LOG_ERR,
                          "a connection could not be accepted: %s", uv_strerror(status));
        return;
    }
    if (face->accepts_left == 0 || face_cycle_due(face))
        listener->waiting = true;
    else
        face_accept(listener);
}

/* ---- life ---------------------------------------------------------------------------------------------- */

static void lay_out(struct kr_face *face)
{
    face_layout_build(&face->layout);
    for (uint16_t i = 0; i < face->config.n_stations; i++)
        face_registers_init(&face->stations.registers[i], &face->layout, &face->config, &face->config.station[i],
                            &face->notes);
    face->stations.config = &face->config;
    face_stations_map_unit_ids(&face->stations);
    for (uint32_t i = face->n_slots; i-- > 0;) {
        struct face_connection *c = &face->slot[i];
        c->in = face->memory + (size_t)i * 2 * face->buffer_bytes;
        c->out = c->in + face->buffer_bytes;
        c->next = face->free;
        face->free = c;
    }
}

/* libuv writes without MSG_NOSIGNAL, so a client that resets its connection would end the process with a signal. */
static void ignore_broken_pipes(void)
{
    struct sigaction now;
    if (sigaction(SIGPIPE, NULL, &now) == 0 && now.sa_handler == SIG_DFL)
        signal(SIGPIPE, SIG_IGN);
}

static void on_handle_closed(uv_handle_t *handle)
{
    face_handle_gone(handle->data);
}

static void on_listener_closed(uv_handle_t *handle)
{
    struct face_listener *listener = handle->data;
    face_handle_gone(listener->face);
}

/* The sequence of closing does not matter to libuv. The face still exists in each callback, because it is freed in the
 * last one. */
void kr_face_close(struct kr_face *face, void (*closed_cb)(void *arg), void *arg)
{
    face->closing = true;
    face->closed_cb = closed_cb;
    face->closed_arg = arg;
    for (uint32_t i = 0; i < face->n_slots; i++)
        face_connection_close(&face->slot[i]);
    for (uint16_t i = 0; i < face->n_listeners; i++)
        uv_close((uv_handle_t *)&face->listener[i].tcp, on_listener_closed);
    uv_close((uv_handle_t *)&face->tick, on_handle_closed);
    uv_close((uv_handle_t *)&face->turn, on_handle_closed);
    uv_close((uv_handle_t *)&face->hurry, on_handle_closed);
}

static int set_option(uv_os_fd_t fd, int level, int option, int value)
{
    return setsockopt(fd, level, option, &value, sizeof value) == 0 ? 0 : uv_translate_sys_error(errno);
}

/* Accepted connections inherit all of these options. Answers are sent at once, and a dead peer is noticed, as MSG 4.3.2
 * advises. */
static int set_options(struct face_listener *listener)
{
    uv_os_fd_t fd;
    int error = uv_fileno((uv_handle_t *)&listener->tcp, &fd);
    const int options[][3] = {
        {SOL_SOCKET, SO_SNDBUF, SEND_BYTES},
        {SOL_SOCKET, SO_RCVBUF, RECEIVE_BYTES},
        {SOL_SOCKET, SO_KEEPALIVE, 1},
        {IPPROTO_TCP, TCP_KEEPIDLE, KEEPALIVE_IDLE_S},
        {IPPROTO_TCP, TCP_KEEPINTVL, KEEPALIVE_STEP_S},
        {IPPROTO_TCP, TCP_KEEPCNT, KEEPALIVE_PROBES},
        {IPPROTO_TCP, TCP_NODELAY, 1},
    };
    for (size_t i = 0; error == 0 && i < sizeof options / sizeof options[0]; i++)
        error = set_option(fd, options[i][0], options[i][1], options[i][2]);
    return error;
}

static int bind_and_listen(struct face_listener *listener, const struct kr_face_listen *to)
{
    union {
        struct sockaddr any;
        struct sockaddr_in v4;
        struct sockaddr_in6 v6;
    } address;
    if (uv_ip4_addr(to->address, to->port, &address.v4) != 0) {
        int error = uv_ip6_addr(to->address, to->port, &address.v6);
        if (error != 0)
            return error;
    }
    int error = uv_tcp_bind(&listener->tcp, &address.any, 0);
    if (error == 0)
        error = set_options(listener);
    return error != 0 ? error : uv_listen((uv_stream_t *)&listener->tcp, BACKLOG, on_connection);
}

static bool listen_all(struct kr_face *face, char *error, size_t error_size)
{
    for (uint16_t i = 0; i < face->config.n_listen; i++) {
        const struct kr_face_listen *to = &face->config.listen[i];
        struct face_listener *listener = &face->listener[i];
        int failed = uv_tcp_init(face->loop, &listener->tcp);
        if (failed == 0) {
            listener->tcp.data = listener;
            listener->face = face;
            face->n_listeners++;
            face->n_handles++;
            failed = bind_and_listen(listener, to);
        }
        if (failed != 0) {
            snprintf(error, error_size, "listen on %s port %u: %s", to->address, to->port, uv_strerror(failed));
            return false;
        }
    }
    return true;
}

/* These functions can't fail: libuv only adds the handles to the loop's lists. */
static void start_handles(struct kr_face *face)
{
    uv_timer_init(face->loop, &face->tick);
    uv_prepare_init(face->loop, &face->turn);
    uv_idle_init(face->loop, &face->hurry);
    face->tick.data = face->turn.data = face->hurry.data = face;
    face->n_handles = 3;
    uv_timer_start(&face->tick, on_tick, TICK_MS, TICK_MS);
    uv_prepare_start(&face->turn, on_turn);
}

uint32_t kr_face_descriptors(uint32_t connections, uint16_t n_listen)
{
    return connections + FACE_ACCEPTS_A_TURN + n_listen + DESCRIPTORS_SPARE;
}

/* It is better to refuse the start than to turn clients away when no descriptor is left. */
static bool has_descriptors(const struct kr_face_config *config, char *error, size_t error_size)
{
    struct rlimit limit;
    rlim_t need = kr_face_descriptors(config->limits.connections, config->n_listen);
    if (getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur >= need)
        return true;
    snprintf(error, error_size, "connections: %u need %llu file descriptors; the process may open %llu",
             config->limits.connections, (unsigned long long)need, (unsigned long long)limit.rlim_cur);
    return false;
}

struct kr_face *kr_face_open(uv_loop_t *loop, const struct kr_face_config *config, const struct kr_face_hooks *hooks,
                             char *error, size_t error_size)
{
    if (!face_settings_check(config, error, error_size) || !has_descriptors(config, error, error_size))
        return NULL;
    struct kr_face *face = calloc(1, sizeof *face);
    if (face == NULL) {
        snprintf(error, error_size, "no memory");
        return NULL;
    }
    face->loop = loop;
    face->config = *config;
    face_notes_init(&face->notes, hooks, &face->counters.log_lines_left_out);
    if (!face_allocate(face)) {
        snprintf(error, error_size, "no memory for %u connections", config->limits.connections);
        face_free(face);
        return NULL;
    }
    lay_out(face);
    ignore_broken_pipes();
    start_handles(face);
    if (!listen_all(face, error, error_size)) {
        kr_face_close(face, NULL, NULL);
        return NULL;
    }
    return face;
}

uint16_t kr_face_port(const struct kr_face *face)
{
    struct sockaddr_storage address = {0};
    int size = sizeof address;
    if (uv_tcp_getsockname(&face->listener[0].tcp, (struct sockaddr *)&address, &size) != 0)
        return 0;
    return ntohs(address.ss_family == AF_INET6 ? ((struct sockaddr_in6 *)&address)->sin6_port
                                               : ((struct sockaddr_in *)&address)->sin_port);
}

/* ---- reload -------------------------------------------------------------------------------------------- */

static int group_named(const struct kr_face_config *config, const char *name)
{
    for (uint16_t i = 0; i < config->n_groups; i++)
        if (strcmp(config->group[i].name, name) == 0)
            return i;
    return FACE_NO_GROUP;
}

/* A group keeps control under its name while one of its addresses has the right. A single address keeps it while it
 * has the right and is in no group. */
static void judge_control(struct kr_face *face, struct face_registers *r, const struct kr_face_group *old_groups)
{
    struct face_control *control = &r->control;
    if (control->state == KR_CONTROL_FREE)
        return;
    if (control->group != FACE_NO_GROUP) {
        control->group = group_named(&face->config, old_groups[control->group].name);
        if (control->group == FACE_NO_GROUP)
            face_registers_free_control(r, "its group is gone");
        else if (!face_group_may_control(&face->config.group[control->group], &face->config, r->index))
            face_registers_free_control(r, "the address rules have changed");
        return;
    }
    struct face_client holder = {.group = FACE_NO_GROUP};
    memcpy(holder.address, control->address, sizeof holder.address);
    face_client_judge(&holder, &face->config);
    if (holder.group != FACE_NO_GROUP || !face_right_controls(face_client_right(&holder, r->index)))
        face_registers_free_control(r, "the address rules have changed");
}

bool kr_face_reload(struct kr_face *face, const struct kr_face_config *config, char *error, size_t error_size)
{
    if (!face_settings_check_access(config, error, error_size))
        return false;
    struct kr_face_group old_groups[KR_FACE_GROUPS_MAX];
    memcpy(old_groups, face->config.group, sizeof old_groups);
    uint32_t connections = face->config.limits.connections, queued_answers = face->config.limits.queued_answers;
    face->config.limits = config->limits;
    face->config.limits.connections = connections;
    face->config.limits.queued_answers = queued_answers;
    face->config.n_rules = config->n_rules;
    memcpy(face->config.rule, config->rule, sizeof face->config.rule);
    face->config.n_groups = config->n_groups;
    memcpy(face->config.group, config->group, sizeof face->config.group);
    face->config.control_by_first_write = config->control_by_first_write;

    for (uint32_t i = 0; i < face->n_slots; i++) {
        struct face_connection *c = &face->slot[i];
        face_client_judge(&c->client, &face->config);
        if (c->client.right == KR_RIGHT_NONE)
            face_connection_close(c);
    }
    for (uint16_t i = 0; i < face->config.n_stations; i++)
        judge_control(face, &face->stations.registers[i], old_groups);
    return true;
}

const char *kr_face_group_of(const struct kr_face *face, const char *address)
{
    struct face_client client;
    struct sockaddr_in v4 = {.sin_family = AF_INET};
    struct sockaddr_in6 v6 = {.sin6_family = AF_INET6};
    const void *from = NULL;
    if (inet_pton(AF_INET, address, &v4.sin_addr) == 1)
        from = &v4;
    else if (inet_pton(AF_INET6, address, &v6.sin6_addr) == 1)
        from = &v6;
    bool known =
        from != NULL && face_client_from_sockaddr(&client, from, &face->config) && client.group != FACE_NO_GROUP;
    return known ? face->config.group[client.group].name : "";
}

/* ---- a cycle ------------------------------------------------------------------------------------------- */

void kr_face_take(struct kr_face *face, uint16_t station, struct kr_face_take *take)
{
    assert(station < face->config.n_stations);
    face_registers_take(&face->stations.registers[station], take);
}

void kr_face_publish(struct kr_face *face, uint16_t station, const struct kr_image *image,
                     const struct kr_face_state *state)
{
    assert(station < face->config.n_stations);
    face_registers_publish(&face->stations.registers[station], image, state);
    face->cycle_seen = false; /* the cycle has come */
}

const struct kr_face_counters *kr_face_counters(const struct kr_face *face)
{
    return &face->counters;
}
