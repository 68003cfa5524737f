#include "server.h"

#include <assert.h>
#include <errno.h>
#include <string.h>
#include <sys/socket.h>

#include "frame.h"
#include "places.h"

#define CREDIT_REQUEST 1000 /* the credit that one request costs */
#define BURST_MS       100  /* the requests of so many milliseconds may come at once */

/* ---- the ready queue ----------------------------------------------------------------------------------- */

static void make_ready(struct face_connection *c)
{
    struct kr_face *face = c->face;
    if (c->ready)
        return;
    c->ready = true;
    c->next = NULL;
    if (face->ready_last != NULL)
        face->ready_last->next = c;
    else
        face->ready_first = c;
    face->ready_last = c;
}

static struct face_connection *take_ready(struct kr_face *face)
{
    struct face_connection *c = face->ready_first;
    face->ready_first = c->next;
    if (face->ready_first == NULL)
        face->ready_last = NULL;
    c->ready = false;
    return c;
}

static void leave_queue(struct face_connection *c)
{
    struct kr_face *face = c->face;
    struct face_connection **link = &face->ready_first, *before = NULL;
    if (!c->ready)
        return;
    while (*link != c) {
        before = *link;
        link = &before->next;
    }
    *link = c->next;
    if (face->ready_last == c)
        face->ready_last = before;
    c->ready = false;
}

/* ---- the end of a connection --------------------------------------------------------------------------- */

static void on_closed(uv_handle_t *handle)
{
    struct face_connection *c = handle->data;
    struct kr_face *face = c->face;
    c->slot = FACE_SLOT_FREE;
    c->next = face->free;
    face->free = c;
    face_handle_gone(face);
}

void face_connection_close(struct face_connection *c)
{
    if (c->slot != FACE_SLOT_OPEN)
        return;
    leave_queue(c);
    c->slot = FACE_SLOT_CLOSING;
    c->face->counters.connections--;
    uv_close((uv_handle_t *)&c->tcp, on_closed);
}

static void expire(struct face_connection *c, const char *why)
{
    c->face->counters.expired++;
    face_note_limited(&c->face->notes, FACE_NOTE_CONNECTION, c->client.host, LOG_INFO,
                      "%s port %u: the connection is closed: %s", c->client.text, c->client.port, why);
    face_connection_close(c);
}

/* ---- reading ------------------------------------------------------------------------------------------- */

/* If there is no room or a cycle is due, the bytes that have arrived stay in the kernel. Such a connection is put into
 * the queue and read from there. If it waited for the poll instead, which always has the same sequence, the last
 * connections would be put off again and again. */
static void on_alloc(uv_handle_t *handle, size_t suggested, uv_buf_t *buf)
{
    struct face_connection *c = handle->data;
    (void)suggested;
    if (!c->unread && face_cycle_due(c->face)) {
        c->face->counters.postponed++;
        c->unread = true;
        make_ready(c);
    }
    *buf = c->unread ? uv_buf_init(NULL, 0) : uv_buf_init((char *)c->in + c->end, c->face->buffer_bytes - c->end);
}

/* The client sends nothing more; requests that came before are still answered. */
static void end_input(struct face_connection *c)
{
    c->ended = true;
    uv_read_stop((uv_stream_t *)&c->tcp);
}

/* Reads what libuv would have read if reading had not been put off. */
static void read_now(struct face_connection *c)
{
    uv_os_fd_t fd;
    size_t room = c->face->buffer_bytes - c->end;
    c->unread = false;
    if (c->ended || room == 0 || uv_fileno((uv_handle_t *)&c->tcp, &fd) != 0)
        return;
    ssize_t n = recv(fd, c->in + c->end, room, MSG_DONTWAIT);
    if (n > 0)
        c->end += (uint32_t)n;
    else if (n == 0)
        end_input(c);
    else if (errno != EAGAIN && errno != EWOULDBLOCK && errno != EINTR)
        face_connection_close(c);
}

static void on_read(uv_stream_t *stream, ssize_t n, const uv_buf_t *buf)
{
    struct face_connection *c = stream->data;
    (void)buf;
    if (n == 0 || n == UV_ENOBUFS)
        return;
    if (n > 0) {
        c->end += (uint32_t)n;
        if (!c->ready)
            face_connection_serve(c);
        return;
    }
    end_input(c);
    if (n != UV_EOF || !c->ready)
        face_connection_close(c);
}

/* Reading stops while the client doesn't read its answers, or exceeds its rate. */
static void resume(struct face_connection *c)
{
    if (c->slot != FACE_SLOT_OPEN || c->writing || c->throttled)
        return;
    if (!c->ended && uv_read_start((uv_stream_t *)&c->tcp, on_alloc, on_read) != 0) {
        face_connection_close(c);
        return;
    }
    make_ready(c); /* the buffer may already contain whole requests */
}

/* ---- writing ------------------------------------------------------------------------------------------- */

static void on_written(uv_write_t *write, int status)
{
    struct face_connection *c = write->data;
    c->writing = false;
    if (status != 0)
        face_connection_close(c);
    else
        resume(c);
}

/* The kernel nearly always takes everything at once. If it does not, the client gets no further answers until it has
 * read these. */
static void send_answers(struct face_connection *c, size_t n)
{
    uv_stream_t *stream = (uv_stream_t *)&c->tcp;
    uv_buf_t buf = uv_buf_init((char *)c->out, (unsigned)n);
    int sent = uv_try_write(stream, &buf, 1);
    if (sent == (int)n)
        return;
    if (sent < 0 && sent != UV_EAGAIN) {
        face_connection_close(c);
        return;
    }
    size_t done = sent > 0 ? (size_t)sent : 0;
    buf = uv_buf_init((char *)c->out + done, (unsigned)(n - done));
    c->write.data = c;
    c->writing = true;
    c->writing_since_ms = uv_now(c->face->loop);
    uv_read_stop(stream);
    if (uv_write(&c->write, stream, &buf, 1, on_written) != 0) {
        c->writing = false;
        face_connection_close(c);
    }
}

/* ---- answering ----------------------------------------------------------------------------------------- */

static bool has_credit(struct face_connection *c)
{
    uint64_t rate = c->face->config.limits.requests_per_s, now_ms = uv_now(c->face->loop);
    if (rate == 0)
        return true;
    uint64_t most = rate * BURST_MS > CREDIT_REQUEST ? rate * BURST_MS : CREDIT_REQUEST;
    c->credit += (now_ms - c->credited_ms) * rate;
    c->credited_ms = now_ms;
    if (c->credit > most)
        c->credit = most;
    return c->credit >= CREDIT_REQUEST;
}

static void spend_credit(struct face_connection *c)
{
    if (c->face->config.limits.requests_per_s != 0)
        c->credit -= CREDIT_REQUEST;
}

enum outcome { ANSWERED_ALL, ANSWERED_SHARE, CYCLE_DUE, OVER_RATE, STREAM_BROKEN };

static size_t answer_one(struct face_connection *c, enum face_frame kind, size_t length, uint8_t *out)
{
    struct kr_face *face = c->face;
    const uint8_t *adu = c->in + c->first;
    c->first += (uint32_t)length;
    if (kind == FACE_FRAME_FOREIGN) {
        face->counters.discarded++;
        return 0;
    }
    size_t n = face_answer(&face->stations, &c->client, adu, length, out);
    face->counters.requests++;
    face->counters.exceptions += face_answer_is_exception(out);
    return n;
}

/* *n: bytes of the answers that were formed. */
static enum outcome form_answers(struct face_connection *c, size_t *n)
{
    uint32_t share = c->face->config.limits.queued_answers;
    *n = 0;
    for (uint32_t i = 0;; i++) {
        size_t length = 0;
        enum face_frame kind = face_frame_at(c->in + c->first, c->end - c->first, &length);
        if (kind == FACE_FRAME_PARTIAL)
            return ANSWERED_ALL;
        if (kind == FACE_FRAME_BROKEN)
            return STREAM_BROKEN;
        if (i == share)
            return ANSWERED_SHARE;
        if (face_cycle_due(c->face))
            return CYCLE_DUE;
        if (!has_credit(c))
            return OVER_RATE;
        spend_credit(c);
        *n += answer_one(c, kind, length, c->out + *n);
    }
}

/* Makes sure that there is room for a whole frame after the bytes in the buffer. */
static void make_room(struct face_connection *c)
{
    if (c->first == c->end) {
        c->first = c->end = 0;
    } else if (c->first > 0 && c->face->buffer_bytes - c->first < 2 * FACE_ADU_BYTES_MAX) {
        memmove(c->in, c->in + c->first, c->end - c->first);
        c->end -= c->first;
        c->first = 0;
    }
}

/* A client that sends slowly has partial_ms for each frame, counted from its first byte. */
static void watch_partial(struct face_connection *c, bool waits_for_bytes, bool progress)
{
    bool partial = waits_for_bytes && c->first < c->end;
    if (partial && (!c->partial || progress))
        c->partial_since_ms = uv_now(c->face->loop);
    c->partial = partial;
}

static void settle(struct face_connection *c, enum outcome outcome)
{
    switch (outcome) {
    case ANSWERED_ALL:
        if (c->ended && !c->writing)
            face_connection_close(c);
        break;
    case CYCLE_DUE: c->face->counters.postponed++; /* fall through */
    case ANSWERED_SHARE:
        if (!c->writing)
            make_ready(c);
        break;
    case OVER_RATE:
        c->throttled = true;
        uv_read_stop((uv_stream_t *)&c->tcp);
        break;
    case STREAM_BROKEN:
        c->face->counters.broken++;
        face_note_limited(&c->face->notes, FACE_NOTE_CONNECTION, c->client.host, LOG_NOTICE,
                          "%s port %u: the connection is closed: no frame has a length field of %u", c->client.text,
                          c->client.port, get16(c->in + c->first + 4));
        face_connection_close(c);
        break;
    }
}

void face_connection_serve(struct face_connection *c)
{
    size_t n;
    uint32_t before = c->first;
    assert(c->slot == FACE_SLOT_OPEN && !c->writing);
    enum outcome outcome = form_answers(c, &n);
    bool progress = c->first != before;
    if (progress)
        c->heard_ms = uv_now(c->face->loop);
    if (n > 0)
        send_answers(c, n);
    if (c->slot != FACE_SLOT_OPEN)
        return;
    settle(c, outcome);
    watch_partial(c, outcome == ANSWERED_ALL, progress);
    make_room(c);
}

void face_serve_ready(struct kr_face *face)
{
    struct face_connection *last = face->ready_last;
    while (face->ready_first != NULL && !face_cycle_due(face)) {
        struct face_connection *c = take_ready(face);
        if (c->unread)
            read_now(c);
        if (c->slot == FACE_SLOT_OPEN)
            face_connection_serve(c);
        if (c == last)
            return;
    }
}

void face_connection_tick(struct face_connection *c, uint64_t now_ms)
{
    const struct kr_face_limits *limits = &c->face->config.limits;
    if (c->writing && now_ms - c->writing_since_ms > limits->partial_ms)
        expire(c, "it does not read its answers");
    else if (c->partial && now_ms - c->partial_since_ms > limits->partial_ms)
        expire(c, "the rest of a frame did not come");
    else if (limits->idle_ms != 0 && now_ms - c->heard_ms > limits->idle_ms)
        expire(c, "no request for a long time");
    else if (c->throttled && has_credit(c)) {
        c->throttled = false;
        resume(c);
    }
}

/* ---- the beginning of a connection --------------------------------------------------------------------- */

static bool make_place(struct kr_face *face, const struct face_client *newcomer)
{
    struct face_connection *leaver = NULL;
    enum face_place place = face_place_for(face, newcomer, &leaver);
    if (place != FACE_PLACE_GIVEN)
        return place == FACE_PLACE_FREE;
    face->counters.evicted++;
    face_note_limited(&face->notes, FACE_NOTE_CONNECTION, newcomer->host, LOG_NOTICE,
                      "%s port %u: the connection is closed: %s port %u needs its place", leaver->client.text,
                      leaver->client.port, newcomer->text, newcomer->port);
    face_connection_close(leaver);
    return true;
}

static struct face_connection *take_slot(struct kr_face *face)
{
    struct face_connection *c = face->free;
    assert(c != NULL); /* there are as many spare connections as are accepted in one iteration */
    face->free = c->next;
    uint8_t *in = c->in, *out = c->out;
    memset(c, 0, sizeof *c);
    c->in = in;
    c->out = out;
    c->face = face;
    return c;
}

static bool identify(struct face_connection *c)
{
    struct sockaddr_storage from;
    int size = sizeof from;
    if (uv_tcp_getpeername(&c->tcp, (struct sockaddr *)&from, &size) != 0)
        return false;
    return face_client_from_sockaddr(&c->client, (struct sockaddr *)&from, &c->face->config);
}

static bool start(struct face_connection *c)
{
    struct kr_face *face = c->face;
    if (uv_read_start((uv_stream_t *)&c->tcp, on_alloc, on_read) != 0)
        return false;
    c->heard_ms = c->credited_ms = uv_now(face->loop);
    c->credit = (uint64_t)face->config.limits.requests_per_s * BURST_MS;
    return true;
}

static bool is_welcome(struct face_connection *c)
{
    struct kr_face *face = c->face;
    if (!identify(c))
        return false; /* the client has closed it already */
    if (c->client.right != KR_RIGHT_NONE && make_place(face, &c->client))
        return true;
    const char *why = c->client.right == KR_RIGHT_NONE ? "its address has no right" : "all connections are in use";
    face->counters.refused++;
    face_note_limited(&face->notes, FACE_NOTE_CONNECTION, c->client.host, LOG_NOTICE,
                      "%s port %u: the connection is refused: %s", c->client.text, c->client.port, why);
    face_audit(&face->notes, KR_AUDIT_NOT_CONNECTED, 0, c->client.text, c->client.port, why, "asks for a connection");
    return false;
}

void face_accept(struct face_listener *listener)
{
    struct kr_face *face = listener->face;
    struct face_connection *c = take_slot(face);
    listener->waiting = false;
    face->accepts_left--;
    if (uv_tcp_init(face->loop, &c->tcp) != 0) {
        c->next = face->free;
        face->free = c;
        return;
    }
    face->n_handles++;
    c->tcp.data = c;
    bool welcome = uv_accept((uv_stream_t *)&listener->tcp, (uv_stream_t *)&c->tcp) == 0 && is_welcome(c);
    c->slot = FACE_SLOT_OPEN;
    face->counters.connections++;
    if (!welcome || !start(c)) {
        face_connection_close(c);
        return;
    }
    face->counters.accepted++;
    face_audit(&face->notes, KR_AUDIT_CONNECTED, 0, c->client.text, c->client.port, "", "connects");
    if (face->counters.connections > face->counters.connections_most)
        face->counters.connections_most = face->counters.connections;
}
