/* Connects a line. libmodbus waits with select(), which can't handle descriptors of FD_SETSIZE and above. With many
 * clients on the other side of the gateway, a new socket would get such a descriptor. So a low descriptor is reserved
 * for each line at the start, and every connection is moved to it. */
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/select.h>
#include <sys/socket.h>
#include <unistd.h>

#include "line.h"

/* ---- sockets ------------------------------------------------------------------------------------------- */

static socklen_t address_of(const struct kr_drive_link *link, struct sockaddr_storage *to)
{
    memset(to, 0, sizeof *to);
    struct sockaddr_in *v4 = (struct sockaddr_in *)to;
    struct sockaddr_in6 *v6 = (struct sockaddr_in6 *)to;
    if (inet_pton(AF_INET, link->address, &v4->sin_addr) == 1) {
        v4->sin_family = AF_INET;
        v4->sin_port = htons(link->port);
        return sizeof *v4;
    }
    if (inet_pton(AF_INET6, link->address, &v6->sin6_addr) != 1)
        return 0;
    v6->sin6_family = AF_INET6;
    v6->sin6_port = htons(link->port);
    return sizeof *v6;
}

static bool wait_connected(int fd)
{
    struct pollfd wait = {.fd = fd, .events = POLLOUT};
    int ready, failed = 0;
    socklen_t size = sizeof failed;
    do
        ready = poll(&wait, 1, CONNECT_MS);
    while (ready < 0 && errno == EINTR);
    if (ready == 0)
        errno = ETIMEDOUT;
    if (ready <= 0 || getsockopt(fd, SOL_SOCKET, SO_ERROR, &failed, &size) != 0)
        return false;
    errno = failed;
    return failed == 0;
}

static bool set_blocking(int fd, bool blocking)
{
    int flags = fcntl(fd, F_GETFL);
    return flags >= 0 && fcntl(fd, F_SETFL, blocking ? flags & ~O_NONBLOCK : flags | O_NONBLOCK) == 0;
}

static bool connect_socket(int fd, const struct sockaddr_storage *to, socklen_t length)
{
    int on = 1;
    if (!set_blocking(fd, false))
        return false;
    if (connect(fd, (const struct sockaddr *)to, length) != 0 && (errno != EINPROGRESS || !wait_connected(fd)))
        return false;
    return set_blocking(fd, true) && setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on) == 0;
}

/* Moves a connection to the line's own descriptor. fd is closed in any case. */
static bool move_to_line(struct line *line, int fd)
{
    bool good = dup2(fd, line->fd) == line->fd && fcntl(line->fd, F_SETFD, FD_CLOEXEC) == 0;
    int why = errno;
    (void)close(fd);
    errno = why;
    return good && (!line->modbus || modbus_set_socket(line->modbus, line->fd) == 0);
}

static bool connect_tcp(struct line *line)
{
    struct sockaddr_storage to;
    socklen_t length = address_of(&line->link, &to);
    if (length == 0) {
        errno = EINVAL;
        return false;
    }
    int fd = socket(to.ss_family, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return false;
    if (!connect_socket(fd, &to, length)) {
        int why = errno;
        (void)close(fd);
        errno = why;
        return false;
    }
    return move_to_line(line, fd);
}

static bool connect_serial(struct line *line)
{
    if (modbus_connect(line->modbus) != 0)
        return false;
    return move_to_line(line, modbus_get_socket(line->modbus));
}

bool line_connect(struct line *line)
{
    line->connected = line->link.serial ? connect_serial(line) : connect_tcp(line);
    line->n_received = 0;
    line->quiet_us = 0;
    return line->connected;
}

/* The descriptor stays reserved. */
void line_disconnect(struct line *line)
{
    if (line->connected)
        (void)dup2(line->null, line->fd); /* it can't fail, because both are open descriptors of ours */
    line->connected = false;
}

/* ---- the line ------------------------------------------------------------------------------------------ */

static bool set_timeouts(struct line *line)
{
    uint32_t s = (uint32_t)line->link.answer_ms / 1000, us = (uint32_t)line->link.answer_ms % 1000 * 1000;
    return modbus_set_response_timeout(line->modbus, s, us) == 0 &&
           modbus_set_byte_timeout(line->modbus, 0, 0) == 0; /* the whole answer must come within that time */
}

static bool open_parts(struct line *line)
{
    const struct kr_drive_link *k = &line->link;
    line->null = open("/dev/null", O_RDWR | O_CLOEXEC);
    line->fd = open("/dev/null", O_RDWR | O_CLOEXEC);
    if (line->null < 0 || line->fd < 0)
        return false;
    if (!k->serial)
        return true; /* tcp.c needs no context of libmodbus */
    line->modbus = modbus_new_rtu(k->device, k->baud, k->parity, 8, k->stop_bits);
    return line->modbus && set_timeouts(line);
}

static bool open_lock(struct line *line)
{
    return pthread_mutex_init(&line->lock, NULL) == 0 && pthread_cond_init(&line->news, NULL) == 0;
}

bool line_open(struct line *line, char *error, size_t size)
{
    line->fd = line->null = -1;
    line->pause_ms = RETRY_MS;
    if (!open_lock(line) || !open_parts(line)) {
        snprintf(error, size, "the line of rail %u cannot be set up: %s", line->port[0].rail_index + 1u,
                 strerror(errno));
        return false;
    }
    if (line->fd < FD_SETSIZE)
        return true;
    snprintf(error, size, "the line of rail %u has descriptor %d; it must be below %d", line->port[0].rail_index + 1u,
             line->fd, FD_SETSIZE);
    return false;
}
