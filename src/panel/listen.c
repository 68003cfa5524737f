#include "listen.h"

#include <errno.h>
#include <netdb.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#define WAITING 64

static int failed(int fd, const char *where)
{
    fprintf(stderr, "kniferail-panel: %s: %s\n", where, strerror(errno));
    if (fd >= 0)
        close(fd);
    return -1;
}

static int port_of(int fd)
{
    struct sockaddr_storage bound;
    socklen_t size = sizeof bound;
    if (getsockname(fd, (struct sockaddr *)&bound, &size) != 0)
        return -1;
    return ntohs(bound.ss_family == AF_INET6 ? ((struct sockaddr_in6 *)&bound)->sin6_port
                                             : ((struct sockaddr_in *)&bound)->sin_port);
}

static int open_tcp(const struct watch_address *address, int *port)
{
    const struct addrinfo hints = {.ai_flags = AI_NUMERICHOST | AI_NUMERICSERV | AI_PASSIVE,
                                   .ai_socktype = SOCK_STREAM};
    struct addrinfo *found;
    char where[WATCH_HOST_MAX + 24];
    int on = 1, e = getaddrinfo(address->host, address->port, &hints, &found);
    snprintf(where, sizeof where, "%s, port %s", address->host, address->port);
    if (e != 0) {
        fprintf(stderr, "kniferail-panel: %s: %s\n", where, gai_strerror(e));
        return -1;
    }
    int fd = socket(found->ai_family, SOCK_STREAM | SOCK_CLOEXEC, 0);
    bool open = fd >= 0 && setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) == 0 &&
                bind(fd, found->ai_addr, found->ai_addrlen) == 0 && listen(fd, WAITING) == 0 &&
                (*port = port_of(fd)) > 0;
    freeaddrinfo(found);
    return open ? fd : failed(fd, where);
}

/* Removes a socket that a program has left behind, for example because it was killed; a socket that answers is left
 * alone. */
static bool make_way(const char *path, const struct sockaddr_un *address)
{
    struct stat s;
    if (lstat(path, &s) != 0)
        return errno == ENOENT;
    if (!S_ISSOCK(s.st_mode)) {
        errno = EEXIST;
        return false;
    }
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    bool answers =
        fd < 0 || connect(fd, (const struct sockaddr *)address, sizeof *address) == 0 || errno != ECONNREFUSED;
    if (fd >= 0)
        close(fd);
    if (answers) {
        errno = EADDRINUSE;
        return false;
    }
    return unlink(path) == 0;
}

static int open_unix(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    if (strlen(path) >= sizeof address.sun_path) {
        errno = ENAMETOOLONG;
        return failed(-1, path);
    }
    memcpy(address.sun_path, path, strlen(path) + 1);
    if (!make_way(path, &address))
        return failed(-1, path);
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    mode_t before = umask(0117); /* only its group may connect, and nobody else */
    bool open = fd >= 0 && bind(fd, (struct sockaddr *)&address, sizeof address) == 0 && listen(fd, WAITING) == 0;
    umask(before);
    return open ? fd : failed(fd, path);
}

int listen_open(const struct args *args, int *port)
{
    *port = 0;
    return args->socket != NULL ? open_unix(args->socket) : open_tcp(&args->listen, port);
}

void listen_tidy(const struct args *args)
{
    if (args->socket != NULL)
        (void)unlink(args->socket); /* if this fails, the next start removes it */
}
