/* The pseudo-terminal of a serial line: its two ends, the name of the device, and the settings that its user has
 * made. */
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "sim/server.h"

/* ---- settings ------------------------------------------------------------------------------------------ */

/* Bytes are passed unchanged, without echo and signals. */
static bool make_raw(int fd)
{
    struct termios t;
    if (tcgetattr(fd, &t) != 0)
        return false;
    t.c_iflag &= (tcflag_t) ~(BRKINT | ICRNL | INLCR | IGNCR | INPCK | ISTRIP | IXON | IXOFF);
    t.c_oflag &= (tcflag_t)~OPOST;
    t.c_lflag &= (tcflag_t) ~(ECHO | ECHONL | ICANON | ISIG | IEXTEN);
    t.c_cflag = (t.c_cflag & (tcflag_t)~CSIZE) | CS8;
    return tcsetattr(fd, TCSANOW, &t) == 0;
}

static int32_t baud_of(speed_t speed)
{
    static const struct {
        speed_t speed;
        int32_t baud;
    } known[] = {
#define X(baud) {B##baud, baud},
        KR_BAUDS(X)
#undef X
    };
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (known[i].speed == speed)
            return known[i].baud;
    return 0;
}

/* A pseudo-terminal keeps the settings of its user, except for PARENB, which Linux always clears. A parity is
 * recognised by INPCK, which says that the user checks it, and its kind by PARODD. */
struct kr_drive_link sim_pty_settings(int master_fd)
{
    struct kr_drive_link seen = {0};
    struct termios t;
    if (tcgetattr(master_fd, &t) != 0)
        return seen;
    seen.baud = baud_of(cfgetospeed(&t));
    seen.stop_bits = t.c_cflag & CSTOPB ? 2 : 1;
    seen.parity = 'N';
    if (t.c_iflag & INPCK)
        seen.parity = t.c_cflag & PARODD ? 'O' : 'E';
    return seen;
}

/* ---- the name ------------------------------------------------------------------------------------------ */

/* A simulator that was killed leaves its symbolic link, but its pseudo-terminal does not exist any more. */
static bool free_name(const char *device, char *error, size_t size)
{
    struct stat found;
    char target[PATH_MAX];
    if (lstat(device, &found) != 0)
        return true; /* if the name is not free, symlink() will say why */
    ssize_t n = S_ISLNK(found.st_mode) ? readlink(device, target, sizeof target - 1) : -1;
    if (n < 0) {
        snprintf(error, size, "serial line %s: a file of that name exists, and is not a link", device);
        return false;
    }
    target[n] = 0;
    if (stat(device, &found) == 0) {
        snprintf(error, size, "serial line %s: a link of that name leads to %s, which exists and may be in use", device,
                 target);
        return false;
    }
    if (errno != ENOENT || (unlink(device) != 0 && errno != ENOENT)) {
        snprintf(error, size, "serial line %s: a link of that name exists and can't be replaced: %s", device,
                 strerror(errno));
        return false;
    }
    fprintf(stderr, "serial line %s: its link led to %s, which is gone; it is replaced\n", device, target);
    return true;
}

/* ---- the ends ------------------------------------------------------------------------------------------ */

/* We keep the slave's end open, so that the line stays up when its user closes it. */
static bool open_ends(struct sim_link *link, const char **name)
{
    link->master_fd = posix_openpt(O_RDWR | O_NOCTTY);
    if (link->master_fd < 0 || grantpt(link->master_fd) != 0 || unlockpt(link->master_fd) != 0)
        return false;
    *name = ptsname(link->master_fd);
    link->slave_fd = *name ? open(*name, O_RDWR | O_NOCTTY) : -1;
    if (link->slave_fd < 0 || !make_raw(link->slave_fd))
        return false;
    int flags = fcntl(link->master_fd, F_GETFL);
    return flags >= 0 && fcntl(link->master_fd, F_SETFL, flags | O_NONBLOCK) == 0;
}

/* The name is checked before new ends are made, because they could get the number of the dead ones. */
bool sim_pty_open(struct sim_link *link, char *error, size_t size)
{
    const char *device = link->drive_link->device, *name = NULL;
    int folder = sim_server_lock_folder(device);
    bool is_free = free_name(device, error, size);
    link->linked = is_free && open_ends(link, &name) && symlink(name, device) == 0;
    if (is_free && !link->linked)
        snprintf(error, size, "cannot make a serial line under the name %s: %s", device, strerror(errno));
    if (folder >= 0)
        (void)close(folder); /* this also releases the lock */
    return link->linked;
}

void sim_pty_close(struct sim_link *link)
{
    if (link->linked)
        (void)unlink(link->drive_link->device);
    if (link->slave_fd >= 0)
        (void)close(link->slave_fd);
    if (link->master_fd >= 0)
        (void)close(link->master_fd);
    link->linked = false;
    link->slave_fd = link->master_fd = -1;
}
