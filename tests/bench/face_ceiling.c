/* face_ceiling: the least that a server on libuv can do: it counts bytes, and for every request's worth of
 * them sends the same reply. It looks at nothing but the transaction, which it copies so that the clients
 * can check it. What a server that answers truthfully reaches of this is what its answering costs. Usage:
 * face_ceiling [write]; prints "port N". */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#define SHARE 64 /* answers written together */

static size_t request_bytes = 12, reply_bytes = 9 + 2 * 125;

struct connection {
    uv_tcp_t tcp;
    size_t n;
    char in[65536];
};

static void on_closed(uv_handle_t *handle)
{
    free(handle->data);
}

static void on_alloc(uv_handle_t *handle, size_t suggested, uv_buf_t *buf)
{
    struct connection *c = handle->data;
    (void)suggested;
    *buf = uv_buf_init(c->in + c->n, (unsigned)(sizeof c->in - c->n));
}

static void on_written(uv_write_t *write, int status)
{
    (void)status;
    free(write);
}

/* What the kernel does not take at once is copied and queued. */
static void reply(struct connection *c, size_t first, size_t count)
{
    static char out[SHARE * 260];
    for (size_t i = 0; i < count; i++) {
        char *at = out + i * reply_bytes;
        memset(at, 0, reply_bytes);
        memcpy(at, c->in + first + i * request_bytes, 2);
        at[5] = (char)(reply_bytes - 6);
        at[6] = 1;
        at[7] = reply_bytes > 12 ? 4 : 16;
    }
    uv_buf_t buf = uv_buf_init(out, (unsigned)(count * reply_bytes));
    int sent = uv_try_write((uv_stream_t *)&c->tcp, &buf, 1);
    if (sent == (int)buf.len)
        return;
    size_t done = sent > 0 ? (size_t)sent : 0;
    uv_write_t *write = malloc(sizeof *write + buf.len);
    if (write == NULL)
        abort();
    memcpy(write + 1, out + done, buf.len - done);
    buf = uv_buf_init((char *)(write + 1), (unsigned)(buf.len - done));
    uv_write(write, (uv_stream_t *)&c->tcp, &buf, 1, on_written);
}

static void on_read(uv_stream_t *stream, ssize_t n, const uv_buf_t *buf)
{
    struct connection *c = stream->data;
    (void)buf;
    if (n < 0) {
        uv_close((uv_handle_t *)stream, on_closed);
        return;
    }
    c->n += (size_t)n;
    size_t first = 0;
    while (c->n - first >= request_bytes) {
        size_t count = (c->n - first) / request_bytes;
        if (count > SHARE)
            count = SHARE;
        reply(c, first, count);
        first += count * request_bytes;
    }
    memmove(c->in, c->in + first, c->n - first);
    c->n -= first;
}

static void on_connection(uv_stream_t *server, int status)
{
    struct connection *c = calloc(1, sizeof *c);
    if (status != 0 || c == NULL)
        abort();
    uv_tcp_init(server->loop, &c->tcp);
    c->tcp.data = c;
    if (uv_accept(server, (uv_stream_t *)&c->tcp) != 0)
        abort();
    uv_tcp_nodelay(&c->tcp, 1);
    uv_read_start((uv_stream_t *)&c->tcp, on_alloc, on_read);
}

int main(int argc, char **argv)
{
    static uv_tcp_t server;
    struct sockaddr_in address;
    int size = sizeof address;
    if (argc > 1 && strcmp(argv[1], "write") == 0) {
        request_bytes = 13 + 2 * 123;
        reply_bytes = 12;
    }
    uv_ip4_addr("127.0.0.1", 0, &address);
    uv_tcp_init(uv_default_loop(), &server);
    if (uv_tcp_bind(&server, (struct sockaddr *)&address, 0) != 0 ||
        uv_listen((uv_stream_t *)&server, 512, on_connection) != 0 ||
        uv_tcp_getsockname(&server, (struct sockaddr *)&address, &size) != 0)
        return EXIT_FAILURE;
    printf("port %u\n", (unsigned)(uint16_t)(address.sin_port << 8 | address.sin_port >> 8));
    fflush(stdout);
    return uv_run(uv_default_loop(), UV_RUN_DEFAULT);
}
