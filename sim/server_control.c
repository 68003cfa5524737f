/* The control socket and its name in the file system. A process that was killed leaves its socket there. Whether
 * anybody still listens is found out by connecting. */
#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "sim/server.h"

/* ---- the name ------------------------------------------------------------------------------------------ */

/* libuv would cut a name that is too long, and create another socket. */
static bool name_fits(const char *path, struct sockaddr_un *at, char *error, size_t size)
{
    *at = (struct sockaddr_un){.sun_family = AF_UNIX};
    size_t length = strlen(path);
    if (length > 0 && length < sizeof at->sun_path) {
        memcpy(at->sun_path, path, length);
        return true;
    }
    snprintf(error, size, "the name of the control socket has %zu bytes; 1 to %zu are possible", length,
             sizeof at->sun_path - 1);
    return false;
}

/* If two simulators started at the same time, the second would remove the first one's new socket. */
int sim_server_lock_folder(const char *path)
{
    char folder_of[PATH_MAX];
    if ((size_t)snprintf(folder_of, sizeof folder_of, "%s", path) >= sizeof folder_of)
        return -1;
    int folder = open(dirname(folder_of), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder >= 0 && flock(folder, LOCK_EX) != 0) {
        (void)close(folder);
        folder = -1;
    }
    return folder;
}

/* Returns 0 if somebody listens there, or else the error. EAGAIN means that the listener's queue is full, so somebody
 * listens. */
static int connect_error(const struct sockaddr_un *at)
{
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return errno;
    int failed = connect(fd, (const struct sockaddr *)at, sizeof *at) == 0 ? 0 : errno;
    (void)close(fd);
    return failed == EAGAIN ? 0 : failed;
}

static bool remove_stale(const char *path, char *error, size_t size)
{
    if (unlink(path) != 0 && errno != ENOENT) {
        snprintf(error, size, "control socket %s: nobody listens there, but it can't be removed: %s", path,
                 strerror(errno));
        return false;
    }
    fprintf(stderr, "control socket %s: nobody listened there any more; it is replaced\n", path);
    return true;
}

/* Removes the name, unless somebody listens there or it belongs to another kind of file. */
static bool free_name(const struct sockaddr_un *at, char *error, size_t size)
{
    const char *path = at->sun_path;
    struct stat found;
    if (lstat(path, &found) != 0)
        return true; /* if the name is not free, bind() will say why */
    if (!S_ISSOCK(found.st_mode)) {
        snprintf(error, size, "control socket %s: a file of that name exists, and is not a socket", path);
        return false;
    }
    int failed = connect_error(at);
    if (failed == ECONNREFUSED)
        return remove_stale(path, error, size);
    if (failed == 0)
        snprintf(error, size, "control socket %s: a running process listens there", path);
    else
        snprintf(error, size, "control socket %s: it can't be found out whether somebody listens there: %s", path,
                 strerror(failed));
    return false;
}

/* ---- the socket ---------------------------------------------------------------------------------------- */

static void on_client(uv_stream_t *listener, int status)
{
    if (status == 0)
        sim_server_take_client(listener);
}

static bool bind_and_listen(struct sim_server *server, const char *path, char *error, size_t size)
{
    int failed = uv_pipe_init(server->loop, &server->control, 0);
    if (failed == 0) {
        server->control.data = server;
        server->control_open = true;
        failed = uv_pipe_bind(&server->control, path);
    }
    if (failed == 0)
        failed = uv_listen((uv_stream_t *)&server->control, SIM_BACKLOG, on_client);
    if (failed != 0)
        snprintf(error, size, "cannot make the control socket %s: %s", path, uv_strerror(failed));
    return failed == 0;
}

bool sim_server_open_control(struct sim_server *server, const char *path, char *error, size_t size)
{
    struct sockaddr_un at;
    if (!name_fits(path, &at, error, size))
        return false;
    int folder = sim_server_lock_folder(path);
    bool open = free_name(&at, error, size) && bind_and_listen(server, path, error, size);
    if (folder >= 0)
        (void)close(folder); /* this also releases the lock */
    return open;
}
