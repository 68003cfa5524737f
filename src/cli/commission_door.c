/* The control socket of kniferail-sim. */
#include "commission_door.h"

#include <errno.h>
#include <poll.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#define ANSWER_MS 5000

static bool fail(struct commission_door *door, const char *what, const char *why)
{
    snprintf(door->why, sizeof door->why, "%.160s: %.80s", what, why);
    commission_door_close(door);
    return false;
}

bool commission_door_open(struct commission_door *door, const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    door->fd = -1;
    door->why[0] = '\0';
    if (strlen(path) >= sizeof address.sun_path)
        return fail(door, path, "the name is too long for a socket");
    snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
    door->fd = socket(AF_UNIX, SOCK_STREAM, 0);
    if (door->fd < 0 || connect(door->fd, (const struct sockaddr *)&address, sizeof address) != 0)
        return fail(door, path, strerror(errno));
    return true;
}

void commission_door_close(struct commission_door *door)
{
    if (door->fd >= 0)
        close(door->fd);
    door->fd = -1;
}

static bool send_line(struct commission_door *door, const char *line, size_t n)
{
    for (size_t sent = 0; sent < n;) {
        ssize_t now = send(door->fd, line + sent, n - sent, MSG_NOSIGNAL);
        if (now < 0 && errno != EINTR)
            return fail(door, "the simulator's control socket", strerror(errno));
        sent += now > 0 ? (size_t)now : 0;
    }
    return true;
}

/* Takes the answer up to the end of its line. An answer that is longer than the buffer is cut. */
static bool take_answer(struct commission_door *door, char answer[], size_t size)
{
    size_t n = 0;
    for (char byte = 0;;) {
        struct pollfd input = {door->fd, POLLIN, 0};
        int ready = poll(&input, 1, ANSWER_MS);
        if (ready < 0 && errno == EINTR)
            continue;
        if (ready <= 0 || recv(door->fd, &byte, 1, 0) != 1)
            return fail(door, "the simulator's control socket", "it does not answer");
        if (byte == '\n')
            break;
        if (n + 1 < size)
            answer[n++] = byte;
    }
    answer[n] = '\0';
    return true;
}

bool commission_door_say(struct commission_door *door, char answer[], size_t size, const char *format, ...)
{
    char line[160];
    va_list values;
    va_start(values, format);
    int n = vsnprintf(line, sizeof line - 1, format, values);
    va_end(values);
    if (door->fd < 0 || n < 0 || n >= (int)sizeof line - 1)
        return false;
    line[n] = '\n';
    return send_line(door, line, (size_t)n + 1) && take_answer(door, answer, size);
}
