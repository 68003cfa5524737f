/* Modbus/TCP: finds frames by the MBAP length, sends one answer at a time on each connection, and delays it if the
 * drive is slow. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sim/server.h"

#define MBAP 7 /* transaction, protocol, length, unit: MODBUS Messaging on TCP/IP V1.0b, 3.1.3 */

static void on_room(uv_handle_t *handle, size_t suggested, uv_buf_t *room);
static void on_read(uv_stream_t *stream, ssize_t n, const uv_buf_t *room);
static void serve_next(struct sim_connection *c);
static void take_waiting(struct sim_server *server);

/* ---- the end of a connection --------------------------------------------------------------------------- */

static void on_closed(uv_handle_t *handle)
{
    struct sim_connection *c = handle->data;
    c->n_open--;
    if (c->n_open == 0)
        take_waiting(c->link->server);
}

static void drop(struct sim_connection *c)
{
    if (c->closing)
        return;
    c->closing = true;
    uv_close((uv_handle_t *)&c->tcp, on_closed);
    uv_close((uv_handle_t *)&c->delay, on_closed);
}

void sim_server_close_connections(struct sim_server *server)
{
    for (int i = 0; i < SIM_CONNECTIONS_MAX; i++)
        if (server->connection[i].n_open > 0)
            drop(&server->connection[i]);
}

/* ---- answers ------------------------------------------------------------------------------------------- */

static void on_written(uv_write_t *write, int status)
{
    struct sim_connection *c = write->data;
    if (status != 0) {
        drop(c);
        return;
    }
    c->busy = false;
    serve_next(c);
    if (!c->busy && !c->closing && uv_read_start((uv_stream_t *)&c->tcp, on_room, on_read) != 0)
        drop(c);
}

static void send_answer(struct sim_connection *c)
{
    uv_buf_t out = uv_buf_init((char *)c->answer, (unsigned)c->answer_length);
    c->write.data = c;
    if (uv_write(&c->write, (uv_stream_t *)&c->tcp, &out, 1, on_written) != 0)
        drop(c);
}

static void on_delay(uv_timer_t *timer)
{
    send_answer(timer->data);
}

static void answer_later(struct sim_connection *c, size_t pdu_length, int32_t delay_ms)
{
    memcpy(c->answer, c->request, MBAP);
    c->answer[4] = (uint8_t)((pdu_length + 1) >> 8);
    c->answer[5] = (uint8_t)(pdu_length + 1);
    c->answer_length = MBAP + pdu_length;
    c->busy = true;
    (void)uv_read_stop((uv_stream_t *)&c->tcp); /* it can't fail */
    if (delay_ms == 0 || uv_timer_start(&c->delay, on_delay, (uint64_t)delay_ms, 0) != 0)
        send_answer(c);
}

/* ---- requests ------------------------------------------------------------------------------------------ */

/* Returns the length of the whole frame at the beginning of the received bytes; 0: it is not whole yet; -1: it is not
 * Modbus. */
static int frame_length(const struct sim_connection *c)
{
    if (c->length < MBAP)
        return 0;
    int length = c->request[4] << 8 | c->request[5];
    if (c->request[2] != 0 || c->request[3] != 0 || length < 2 || length > SIM_PDU_MAX + 1)
        return -1;
    return c->length >= 6u + (unsigned)length ? 6 + length : 0;
}

/* A drive without power has no connections. A drive whose link is lost, or a unit that does not exist, only does not
 * answer. */
static void serve_frame(struct sim_connection *c, size_t length)
{
    struct sim_server *server = c->link->server;
    int rail = sim_server_rail(c->link, c->request[6]);
    c->asked_ms = uv_now(server->loop);
    if (rail < 0)
        return;
    sim_server_catch_up(server);
    if (sim_machine_phase(&server->machine, (uint16_t)rail) == SIM_PHASE_OFF) {
        drop(c);
        return;
    }
    size_t answer = sim_slave_serve(&server->slave, (uint16_t)rail, c->request + MBAP, length - MBAP, c->answer + MBAP);
    if (answer > 0)
        answer_later(c, answer, sim_slave_delay_ms(&server->slave, (uint16_t)rail));
}

static void serve_next(struct sim_connection *c)
{
    while (!c->busy && !c->closing) {
        int length = frame_length(c);
        if (length < 0)
            drop(c);
        if (length <= 0)
            return;
        serve_frame(c, (size_t)length);
        c->length -= (size_t)length;
        memmove(c->request, c->request + length, c->length);
    }
}

static void on_room(uv_handle_t *handle, size_t suggested, uv_buf_t *room)
{
    (void)suggested;
    struct sim_connection *c = handle->data;
    *room = uv_buf_init((char *)c->request + c->length, (unsigned)(sizeof c->request - c->length));
}

/* There is always room, because a frame that fills the whole buffer is complete, and is served and taken out. */
static void on_read(uv_stream_t *stream, ssize_t n, const uv_buf_t *room)
{
    (void)room;
    struct sim_connection *c = stream->data;
    if (n < 0) {
        drop(c);
        return;
    }
    c->length += (size_t)n;
    serve_next(c);
}

/* ---- connections --------------------------------------------------------------------------------------- */

static struct sim_connection *free_connection(struct sim_server *server)
{
    for (int i = 0; i < SIM_CONNECTIONS_MAX; i++)
        if (server->connection[i].n_open == 0)
            return &server->connection[i];
    return NULL;
}

static void on_refused(uv_handle_t *handle)
{
    free(handle);
}

/* libuv keeps a connection until it is accepted, so a connection for which there is no room is accepted and closed. */
void sim_server_refuse(uv_stream_t *listener, bool pipe)
{
    union uv_any_handle *handle = malloc(sizeof *handle);
    if (!handle)
        return;
    int failed = pipe ? uv_pipe_init(listener->loop, &handle->pipe, 0) : uv_tcp_init(listener->loop, &handle->tcp);
    if (failed != 0) {
        free(handle);
        return;
    }
    (void)uv_accept(listener, &handle->stream); /* it does not matter whether the connection still existed */
    uv_close(&handle->handle, on_refused);
}

static void take_connection(struct sim_link *link, struct sim_connection *c)
{
    memset(c, 0, sizeof *c);
    c->link = link;
    c->asked_ms = uv_now(link->server->loop);
    c->tcp.data = c->delay.data = c;
    if (uv_tcp_init(link->server->loop, &c->tcp) != 0)
        return;
    c->n_open++;
    (void)uv_timer_init(link->server->loop, &c->delay); /* it can't fail */
    c->n_open++;
    bool good = uv_accept((uv_stream_t *)&link->handle.tcp, (uv_stream_t *)&c->tcp) == 0 &&
                uv_tcp_nodelay(&c->tcp, 1) == 0 && uv_read_start((uv_stream_t *)&c->tcp, on_room, on_read) == 0;
    if (!good)
        drop(c);
}

/* A connection that waits for a slow drive's answer is not silent; the drive is. */
static struct sim_connection *silent_longest(struct sim_server *server)
{
    struct sim_connection *found = NULL;
    uint64_t now_ms = uv_now(server->loop);
    for (int i = 0; i < SIM_CONNECTIONS_MAX; i++) {
        struct sim_connection *c = &server->connection[i];
        bool silent = c->n_open > 0 && !c->closing && !uv_is_active((uv_handle_t *)&c->delay) &&
                      now_ms - c->asked_ms >= SIM_SILENT_MS;
        if (silent && (!found || c->asked_ms < found->asked_ms))
            found = c;
    }
    return found;
}

/* Makes room for a new connection as MODBUS Messaging on TCP/IP V1.0b, 4.2.1.1, says: closes the connection that was
 * unused for the longest time. */
static bool displace_one(struct sim_server *server)
{
    struct sim_connection *c = silent_longest(server);
    if (!c)
        return false;
    fprintf(stderr, "%s: a connection without a request for %llu ms gives way to a new one\n", c->link->name,
            (unsigned long long)(uv_now(server->loop) - c->asked_ms));
    drop(c);
    return true;
}

/* The place of a connection that gives way is free only when libuv has closed it. Until then libuv keeps the new
 * connection, and all later ones at that listener. */
static void on_connection(uv_stream_t *listener, int status)
{
    struct sim_link *link = listener->data;
    if (status != 0)
        return;
    struct sim_connection *c = free_connection(link->server);
    if (c)
        take_connection(link, c);
    else if (displace_one(link->server))
        link->waiting = true;
    else
        sim_server_refuse(listener, false);
}

static void take_waiting(struct sim_server *server)
{
    for (uint16_t i = 0; i < server->n_links && !server->stopping; i++) {
        struct sim_link *link = &server->link[i];
        struct sim_connection *c = link->waiting ? free_connection(server) : NULL;
        if (!c)
            continue;
        link->waiting = false;
        take_connection(link, c);
    }
}

static bool parse(const char *address, uint16_t port, struct sockaddr_storage *to)
{
    return uv_ip4_addr(address, port, (struct sockaddr_in *)to) == 0 ||
           uv_ip6_addr(address, port, (struct sockaddr_in6 *)to) == 0;
}

static uint16_t port_of(const uv_tcp_t *tcp)
{
    struct sockaddr_storage at;
    int length = sizeof at;
    if (uv_tcp_getsockname(tcp, (struct sockaddr *)&at, &length) != 0)
        return 0;
    uint16_t port =
        at.ss_family == AF_INET6 ? ((struct sockaddr_in6 *)&at)->sin6_port : ((struct sockaddr_in *)&at)->sin_port;
    return ntohs(port);
}

bool sim_server_listen(struct sim_link *link, const char *address, uint16_t port, char *error, size_t size)
{
    struct sockaddr_storage to;
    if (!address) {
        address = link->drive_link->address;
        port = link->drive_link->port;
    }
    if (!parse(address, port, &to)) {
        snprintf(error, size, "%s is not an address to listen on", address);
        return false;
    }
    uv_tcp_t *tcp = &link->handle.tcp;
    int failed = uv_tcp_init(link->server->loop, tcp);
    if (failed == 0) {
        tcp->data = link;
        link->open = true;
        failed = uv_tcp_bind(tcp, (const struct sockaddr *)&to, 0);
    }
    if (failed == 0)
        failed = uv_listen((uv_stream_t *)tcp, SIM_BACKLOG, on_connection);
    if (failed != 0) {
        snprintf(error, size, "cannot listen on %s port %u: %s", address, (unsigned)port, uv_strerror(failed));
        return false;
    }
    snprintf(link->name, sizeof link->name, "%s port %u", address, (unsigned)port_of(tcp));
    return true;
}
