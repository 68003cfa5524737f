#include "wire_proxy.h"

#include <arpa/inet.h>
#include <check.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define CHUNK 300

static void pause_ms(long ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000};
    while (nanosleep(&t, &t) != 0 && errno == EINTR)
        ;
}

/* The other end may be gone at any time: that is what is tested. */
static void ignore_broken_pipes(void)
{
    sigset_t pipe_signal;
    sigemptyset(&pipe_signal);
    sigaddset(&pipe_signal, SIGPIPE);
    pthread_sigmask(SIG_BLOCK, &pipe_signal, NULL);
}

static bool put(int fd, const uint8_t *bytes, size_t n)
{
    return write(fd, bytes, n) == (ssize_t)n;
}

/* ---- what is done to an answer ------------------------------------------------------------------------- */

struct answer {
    uint8_t byte[CHUNK];
    size_t n;
};

static bool put_bytewise(int fd, const struct answer *a)
{
    for (size_t i = 0; i < a->n; i++) {
        if (!put(fd, a->byte + i, 1))
            return false;
        pause_ms(1);
    }
    return true;
}

static bool put_babble(int fd, const struct answer *a)
{
    static const uint8_t noise[] = {0x55, 0xAA, 0x01, 0x17, 0x00, 0xFF, 0xFF, 0x03};
    return put(fd, noise, sizeof noise) && put(fd, a->byte, a->n);
}

static bool put_longer(const struct proxy *p, int fd, struct answer a)
{
    if (!p->serial)
        a.byte[5]++;
    else
        a.byte[a.n++] = 0;
    return put(fd, a.byte, a.n);
}

static bool put_spoilt(int fd, struct answer a, size_t at)
{
    a.byte[at] ^= 0x41;
    return put(fd, a.byte, a.n);
}

/* ---- answers that wait ---------------------------------------------------------------------------------- */

#define HELD_MAX 8

struct held {
    unsigned n;
    struct {
        struct answer answer;
        int64_t due_ms;
    } at[HELD_MAX];
};

static int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static bool hold(const struct proxy *p, const struct answer *a, struct held *held)
{
    if (held->n == HELD_MAX)
        return false;
    held->at[held->n].answer = *a;
    held->at[held->n++].due_ms = now_ms() + p->hold_ms;
    return true;
}

static bool put_due(int fd, struct held *held)
{
    while (held->n > 0 && held->at[0].due_ms <= now_ms()) {
        if (!put(fd, held->at[0].answer.byte, held->at[0].answer.n))
            return false;
        memmove(&held->at[0], &held->at[1], --held->n * sizeof held->at[0]);
    }
    return true;
}

static bool put_length(const struct proxy *p, int fd, struct answer a)
{
    a.byte[4] = (uint8_t)(p->length >> 8);
    a.byte[5] = (uint8_t)p->length;
    return put(fd, a.byte, a.n);
}

static bool put_unit(int fd, struct answer a)
{
    a.byte[6]++;
    return put(fd, a.byte, a.n);
}

/* What a connection has been through. */
struct passage {
    struct answer last;
    struct held held;
    unsigned answers;
};

/* False: the connection is to be given up. */
static bool hand_on(struct proxy *p, int fd, struct answer *a, struct passage *passage)
{
    struct answer *last = &passage->last;
    enum proxy_mode mode = (enum proxy_mode)p->mode;
    struct answer old = *last;
    *last = *a;
    if (mode != PROXY_PASS)
        p->spoilt++;
    switch (mode) {
    case PROXY_PASS: return put(fd, a->byte, a->n);
    case PROXY_FRAGMENT: return put_bytewise(fd, a);
    case PROXY_DELAY: pause_ms(120); return put(fd, a->byte, a->n);
    case PROXY_CUT: return put(fd, a->byte, a->n / 2) && p->serial;
    case PROXY_REPEAT: return put(fd, a->byte, a->n) && put(fd, a->byte, a->n);
    case PROXY_OLD: return old.n == 0 || put(fd, old.byte, old.n);
    case PROXY_SPOIL_FRONT: return put_spoilt(fd, *a, 0);
    case PROXY_SPOIL_END: return put_spoilt(fd, *a, a->n - 1);
    case PROXY_LONGER: return put_longer(p, fd, *a);
    case PROXY_BABBLE: return put_babble(fd, a);
    case PROXY_SILENCE: return true;
    case PROXY_ECHO: return put(fd, a->byte, a->n); /* the question came before it */
    case PROXY_UNIT: return put_unit(fd, *a);
    case PROXY_LENGTH: return put_length(p, fd, *a);
    case PROXY_HOLD: return hold(p, a, &passage->held);
    case PROXY_THREE: return put(fd, a->byte, a->n) && ++passage->answers < 3;
    }
    return true;
}

/* ---- between the ends ---------------------------------------------------------------------------------- */

/* An answer comes in one piece over loopback; on a serial line it comes as its characters do. */
static bool collect(const struct proxy *p, int fd, struct answer *a)
{
    int gap_ms = p->serial ? 5 : 2;
    ssize_t n = read(fd, a->byte, sizeof a->byte - 1);
    a->n = n > 0 ? (size_t)n : 0;
    struct pollfd more = {.fd = fd, .events = POLLIN};
    while (a->n > 0 && a->n < sizeof a->byte - 1 && poll(&more, 1, gap_ms) > 0) {
        n = read(fd, a->byte + a->n, sizeof a->byte - 1 - a->n);
        if (n <= 0)
            break;
        a->n += (size_t)n;
    }
    return a->n > 0;
}

static void carry(struct proxy *p, int near, int far)
{
    static struct passage fresh;
    struct passage passage = fresh;
    struct answer a;
    struct pollfd ends[] = {{.fd = near, .events = POLLIN}, {.fd = far, .events = POLLIN}};
    while (!p->ending) {
        if ((poll(ends, 2, passage.held.n > 0 ? 2 : 50) < 0 && errno != EINTR) || !put_due(near, &passage.held))
            return;
        if (ends[0].revents) {
            if (!collect(p, near, &a) || !put(far, a.byte, a.n) || (p->mode == PROXY_ECHO && !put(near, a.byte, a.n)))
                return;
            p->asked++;
        }
        if (ends[1].revents && (!collect(p, far, &a) || !hand_on(p, near, &a, &passage)))
            return;
    }
}

static int connect_beyond(const struct proxy *p)
{
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons(p->beyond)};
    int on = 1, fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    inet_pton(AF_INET, "127.0.0.1", &to.sin_addr);
    if (fd >= 0 && connect(fd, (struct sockaddr *)&to, sizeof to) == 0 &&
        setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on) == 0)
        return fd;
    if (fd >= 0)
        close(fd);
    return -1;
}

static void *run_tcp(void *arg)
{
    struct proxy *p = arg;
    ignore_broken_pipes();
    while (!p->ending) {
        struct pollfd wait = {.fd = p->listener, .events = POLLIN};
        if (poll(&wait, 1, 50) <= 0)
            continue;
        int on = 1, near = accept(p->listener, NULL, NULL), far = connect_beyond(p);
        if (near >= 0 && far >= 0 && setsockopt(near, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on) == 0)
            carry(p, near, far);
        if (near >= 0)
            close(near);
        if (far >= 0)
            close(far);
    }
    return NULL;
}

static void *run_serial(void *arg)
{
    struct proxy *p = arg;
    while (!p->ending)
        carry(p, p->master, p->far);
    return NULL;
}

/* ---- open and close ------------------------------------------------------------------------------------ */

void proxy_open_tcp(struct proxy *p, uint16_t beyond)
{
    struct sockaddr_in at = {.sin_family = AF_INET};
    socklen_t size = sizeof at;
    memset(p, 0, sizeof *p);
    p->beyond = beyond;
    inet_pton(AF_INET, "127.0.0.1", &at.sin_addr);
    p->listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    ck_assert_int_eq(bind(p->listener, (struct sockaddr *)&at, sizeof at), 0);
    ck_assert_int_eq(listen(p->listener, 4), 0);
    ck_assert_int_eq(getsockname(p->listener, (struct sockaddr *)&at, &size), 0);
    p->port = ntohs(at.sin_port);
    ck_assert_int_eq(pthread_create(&p->thread, NULL, run_tcp, p), 0);
}

static void make_raw(int fd)
{
    struct termios t;
    ck_assert_int_eq(tcgetattr(fd, &t), 0);
    t.c_iflag = 0;
    t.c_oflag = 0;
    t.c_lflag = 0;
    ck_assert_int_eq(tcsetattr(fd, TCSANOW, &t), 0);
}

/* The settings that a drive's line has by default: the simulator takes no others. */
static void set_as_the_line(int fd)
{
    struct termios t;
    ck_assert_int_eq(tcgetattr(fd, &t), 0);
    t.c_iflag |= INPCK;
    t.c_cflag &= (tcflag_t) ~(PARODD | CSTOPB);
    t.c_cflag |= PARENB;
    ck_assert_int_eq(cfsetispeed(&t, B115200), 0);
    ck_assert_int_eq(cfsetospeed(&t, B115200), 0);
    ck_assert_int_eq(tcsetattr(fd, TCSANOW, &t), 0);
}

void proxy_open_serial(struct proxy *p, const char *beyond)
{
    memset(p, 0, sizeof *p);
    p->serial = true;
    p->far = open(beyond, O_RDWR | O_NOCTTY | O_CLOEXEC);
    ck_assert_int_ge(p->far, 0);
    make_raw(p->far);
    set_as_the_line(p->far);
    p->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    ck_assert_int_ge(p->master, 0);
    ck_assert_int_eq(grantpt(p->master), 0);
    ck_assert_int_eq(unlockpt(p->master), 0);
    snprintf(p->device, sizeof p->device, "%s", ptsname(p->master));
    p->slave = open(p->device, O_RDWR | O_NOCTTY | O_CLOEXEC); /* keeps the line up between its users */
    ck_assert_int_ge(p->slave, 0);
    make_raw(p->slave);
    ck_assert_int_eq(pthread_create(&p->thread, NULL, run_serial, p), 0);
}

void proxy_close(struct proxy *p)
{
    p->ending = true;
    pthread_join(p->thread, NULL);
    if (p->serial) {
        close(p->master);
        close(p->slave);
        close(p->far);
    } else {
        close(p->listener);
    }
}
