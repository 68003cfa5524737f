/* face_load: Modbus/TCP clients in one process, each asking anew as soon as it has all its answers (a
 * closed loop). Every answer is checked. Prints one JSON object.
 *
 * Arguments are name=value:
 *   port, host (127.0.0.1), source (127.0.0.1: the clients' own address), clients (1), seconds (2), warm_ms
 *   (200: not counted) depth (1)     requests sent at once, in one segment where they fit write (0)     1:
 *   function 16 with 123 registers; 0: function 04 with 125 registers first (0)     address; function (4)
 *   for reads pace_us (0)   pause between the answers and the next requests take (0)      1: takes control
 *   first (register 16)
 *
 * requests, errors (wrong or missing answers, lost connections), per_s; p50, p99, p999 and max of the time
 * from sending to the last answer of what was sent together, in us. Ends with 1 if there were errors. */
#include <arpa/inet.h>
#include <errno.h>
#include <inttypes.h>
#include <netinet/tcp.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#define ADU_MAX     260
#define DEPTH_MAX   64
#define SAMPLES_MAX 8000000
#define READS       125
#define WRITES      123

struct client {
    int fd;
    uint16_t transaction; /* of the last request sent */
    size_t got;           /* bytes of the answers */
    uint64_t sent_ns, next_ns;
    bool waiting;
    uint8_t in[DEPTH_MAX * ADU_MAX];
};

static struct {
    int epoll;
    uint16_t port;
    const char *host, *source;
    uint32_t clients, depth, seconds, warm_ms, pace_us, first, function;
    bool write, take;
    size_t request_bytes, answer_bytes;
    struct client *client;
    uint64_t begin_ns, requests, errors;
    uint32_t *sample, n_samples;
} load;

static uint64_t now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec;
}

static void die(const char *what)
{
    perror(what);
    exit(EXIT_FAILURE);
}

/* ---- requests and answers ------------------------------------------------------------------------------ */

static void put16(uint8_t *at, uint32_t value)
{
    at[0] = (uint8_t)(value >> 8);
    at[1] = (uint8_t)value;
}

static void put_request(uint8_t *at, uint16_t transaction)
{
    memset(at, 0, load.request_bytes);
    put16(at, transaction);
    put16(at + 4, (uint32_t)load.request_bytes - 6);
    at[6] = 1;
    at[7] = load.write ? 16 : (uint8_t)load.function;
    put16(at + 8, load.first);
    put16(at + 10, load.write ? WRITES : READS);
    if (load.write)
        at[12] = 2 * WRITES;
}

static bool answer_is_right(const uint8_t *at, uint16_t transaction)
{
    return at[0] == transaction >> 8 && at[1] == (transaction & 0xFF) && at[7] == (load.write ? 16 : load.function) &&
           (size_t)(at[4] << 8 | at[5]) == load.answer_bytes - 6;
}

static void give_up(struct client *c)
{
    load.errors++;
    close(c->fd);
    c->fd = -1;
    c->waiting = false;
}

static void send_requests(struct client *c)
{
    static uint8_t out[DEPTH_MAX * ADU_MAX];
    size_t n = load.depth * load.request_bytes;
    for (uint32_t i = 0; i < load.depth; i++)
        put_request(out + i * load.request_bytes, ++c->transaction);
    c->got = 0;
    c->waiting = true;
    c->sent_ns = now_ns();
    if (send(c->fd, out, n, MSG_NOSIGNAL) != (ssize_t)n)
        give_up(c);
}

static void count(struct client *c, uint64_t at_ns)
{
    for (uint32_t i = 0; i < load.depth; i++)
        if (!answer_is_right(c->in + i * load.answer_bytes, (uint16_t)(c->transaction - load.depth + 1 + i)))
            load.errors++;
    if (at_ns - load.begin_ns < load.warm_ms * 1000000ull)
        return;
    load.requests += load.depth;
    if (load.n_samples < SAMPLES_MAX)
        load.sample[load.n_samples++] = (uint32_t)((at_ns - c->sent_ns) / 1000);
}

static void receive(struct client *c)
{
    size_t need = load.depth * load.answer_bytes;
    ssize_t got = recv(c->fd, c->in + c->got, need - c->got, MSG_DONTWAIT);
    if (got <= 0) {
        if (got == 0 || errno != EAGAIN)
            give_up(c);
        return;
    }
    c->got += (size_t)got;
    if (c->got < need) {
        if (c->got >= 9 && c->in[7] & 0x80)
            give_up(c); /* an exception is shorter: no use to wait */
        return;
    }
    uint64_t at_ns = now_ns();
    count(c, at_ns);
    c->waiting = false;
    c->next_ns = at_ns + load.pace_us * 1000ull;
    if (load.pace_us == 0)
        send_requests(c);
}

/* ---- life ---------------------------------------------------------------------------------------------- */

static void take_control(int fd)
{
    const uint8_t request[12] = {[5] = 6, [6] = 1, [7] = 6, [9] = 16, [11] = 1};
    uint8_t answer[12];
    if (send(fd, request, sizeof request, 0) != sizeof request ||
        recv(fd, answer, sizeof answer, MSG_WAITALL) != sizeof answer)
        die("take control");
}

static void open_client(struct client *c)
{
    int on = 1;
    struct sockaddr_in peer = {.sin_family = AF_INET, .sin_port = htons(load.port)}, own = {.sin_family = AF_INET};
    c->fd = socket(AF_INET, SOCK_STREAM, 0);
    if (c->fd < 0 || inet_pton(AF_INET, load.host, &peer.sin_addr) != 1 ||
        inet_pton(AF_INET, load.source, &own.sin_addr) != 1 || bind(c->fd, (struct sockaddr *)&own, sizeof own) != 0 ||
        connect(c->fd, (struct sockaddr *)&peer, sizeof peer) != 0 ||
        setsockopt(c->fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on) != 0)
        die("connect");
    if (load.take && c == load.client)
        take_control(c->fd);
    struct epoll_event event = {.events = EPOLLIN, .data.ptr = c};
    if (epoll_ctl(load.epoll, EPOLL_CTL_ADD, c->fd, &event) != 0)
        die("epoll_ctl");
}

static void send_paced(uint64_t at_ns)
{
    for (uint32_t i = 0; load.pace_us > 0 && i < load.clients; i++)
        if (load.client[i].fd >= 0 && !load.client[i].waiting && at_ns >= load.client[i].next_ns)
            send_requests(&load.client[i]);
}

static void run(void)
{
    struct epoll_event events[256];
    uint64_t end_ns;
    load.begin_ns = now_ns();
    end_ns = load.begin_ns + load.warm_ms * 1000000ull + load.seconds * 1000000000ull;
    for (uint32_t i = 0; i < load.clients; i++)
        send_requests(&load.client[i]);
    for (uint64_t at_ns = load.begin_ns; at_ns < end_ns; at_ns = now_ns()) {
        int n = epoll_wait(load.epoll, events, 256, load.pace_us > 0 ? 1 : 100);
        for (int i = 0; i < n; i++)
            receive(events[i].data.ptr);
        send_paced(now_ns());
    }
    for (uint32_t i = 0; i < load.clients; i++) /* whoever still waits after so long was forgotten */
        if (load.client[i].waiting && end_ns - load.client[i].sent_ns > 1000000000ull &&
            end_ns > load.client[i].sent_ns)
            load.errors++;
}

static int by_value(const void *a, const void *b)
{
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

static uint32_t quantile(uint32_t per_mille)
{
    return load.n_samples == 0 ? 0 : load.sample[(uint64_t)(load.n_samples - 1) * per_mille / 1000];
}

static const char *argument(int argc, char **argv, const char *name, const char *otherwise)
{
    size_t length = strlen(name);
    for (int i = 1; i < argc; i++)
        if (strncmp(argv[i], name, length) == 0 && argv[i][length] == '=')
            return argv[i] + length + 1;
    return otherwise;
}

static uint32_t number(int argc, char **argv, const char *name, const char *otherwise)
{
    return (uint32_t)strtoul(argument(argc, argv, name, otherwise), NULL, 10);
}

static void read_arguments(int argc, char **argv)
{
    load.port = (uint16_t)number(argc, argv, "port", "0");
    load.host = argument(argc, argv, "host", "127.0.0.1");
    load.source = argument(argc, argv, "source", "127.0.0.1");
    load.clients = number(argc, argv, "clients", "1");
    load.depth = number(argc, argv, "depth", "1");
    load.seconds = number(argc, argv, "seconds", "2");
    load.warm_ms = number(argc, argv, "warm_ms", "200");
    load.pace_us = number(argc, argv, "pace_us", "0");
    load.write = number(argc, argv, "write", "0") != 0;
    load.take = number(argc, argv, "take", "0") != 0;
    load.first = number(argc, argv, "first", "0");
    load.function = number(argc, argv, "function", "4");
    load.request_bytes = load.write ? 13 + 2 * WRITES : 12;
    load.answer_bytes = load.write ? 12 : 9 + 2 * READS;
    if (load.depth < 1 || load.depth > DEPTH_MAX || load.clients < 1) {
        fprintf(stderr, "depth: 1 to %d, clients: 1 or more\n", DEPTH_MAX);
        exit(EXIT_FAILURE);
    }
}

int main(int argc, char **argv)
{
    struct rlimit files = {8192, 8192};
    read_arguments(argc, argv);
    setrlimit(RLIMIT_NOFILE, &files); /* if that is not allowed, opening will tell */
    load.epoll = epoll_create1(0);
    load.client = calloc(load.clients, sizeof *load.client);
    load.sample = malloc(SAMPLES_MAX * sizeof *load.sample);
    if (load.epoll < 0 || load.client == NULL || load.sample == NULL)
        die("start");
    for (uint32_t i = 0; i < load.clients; i++)
        open_client(&load.client[i]);
    run();
    qsort(load.sample, load.n_samples, sizeof *load.sample, by_value);
    printf("{\"requests\": %" PRIu64 ", \"errors\": %" PRIu64 ", \"per_s\": %.0f, \"p50\": %" PRIu32
           ", \"p99\": %" PRIu32 ", \"p999\": %" PRIu32 ", \"max\": %" PRIu32 "}\n",
           load.requests, load.errors, (double)load.requests / load.seconds, quantile(500), quantile(990),
           quantile(999), quantile(1000));
    free(load.client);
    free(load.sample);
    return load.errors == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
