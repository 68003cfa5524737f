/* A serial line: RTU frames on a pseudo-terminal, whose other end stands under the configured device's name. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "sim/server.h"

#define GAP_MS 20 /* a pause of that length ends whatever came before: far more than 3.5 characters */

static void serve_next(struct sim_link *link);

/* ---- answers ------------------------------------------------------------------------------------------- */

/* An answer that the line doesn't take at once is lost, as on a real line. */
static void send_answer(struct sim_link *link)
{
    ssize_t n = write(link->master_fd, link->answer, link->answer_length);
    if (n != (ssize_t)link->answer_length)
        fprintf(stderr, "%s: an answer was lost on the line\n", link->name);
    link->busy = false;
}

static void on_delay(uv_timer_t *timer)
{
    send_answer(timer->data);
    serve_next(timer->data);
}

static void answer_later(struct sim_link *link, size_t pdu_length, int32_t delay_ms)
{
    link->answer[0] = link->request[0];
    uint16_t crc = sim_rtu_crc(link->answer, 1 + pdu_length);
    link->answer[1 + pdu_length] = (uint8_t)crc;
    link->answer[2 + pdu_length] = (uint8_t)(crc >> 8);
    link->answer_length = 3 + pdu_length;
    link->busy = true;
    if (delay_ms == 0 || uv_timer_start(&link->delay, on_delay, (uint64_t)delay_ms, 0) != 0)
        send_answer(link);
}

/* ---- requests ------------------------------------------------------------------------------------------ */

static void forget(struct sim_link *link, size_t length)
{
    link->length -= length;
    memmove(link->request, link->request + length, link->length);
}

static bool crc_fits(const uint8_t *frame, size_t length)
{
    return sim_rtu_crc(frame, length - 2) == (frame[length - 2] | frame[length - 1] << 8);
}

/* With a wrong check sum, and for another unit, a drive is silent. */
static void serve_frame(struct sim_link *link, size_t length)
{
    struct sim_server *server = link->server;
    int rail = sim_server_rail(link, link->request[0]);
    if (rail < 0 || !crc_fits(link->request, length))
        return;
    sim_server_catch_up(server);
    size_t answer =
        sim_slave_serve(&server->slave, (uint16_t)rail, link->request + 1, length - 3, link->answer + 1);
    if (answer > 0)
        answer_later(link, answer, sim_slave_delay_ms(&server->slave, (uint16_t)rail));
}

static void serve_next(struct sim_link *link)
{
    while (!link->busy && link->length > 0) {
        size_t length = sim_rtu_request_length(link->request, link->length);
        if (length > SIM_RTU_MAX) { /* babble: wait for a pause */
            link->length = 0;
            return;
        }
        if (length == 0 || length > link->length)
            return;
        serve_frame(link, length);
        forget(link, length);
    }
}

static void on_gap(uv_timer_t *timer)
{
    struct sim_link *link = timer->data;
    if (!link->busy)
        link->length = 0;
}

static void on_readable(uv_poll_t *poll, int status, int events)
{
    struct sim_link *link = poll->data;
    if (status != 0 || !(events & UV_READABLE))
        return;
    if (link->length == sizeof link->request)
        link->length = 0;
    ssize_t n = read(link->master_fd, link->request + link->length, sizeof link->request - link->length);
    if (n <= 0)
        return;
    link->length += (size_t)n;
    (void)uv_timer_start(&link->gap, on_gap, GAP_MS, 0);
    serve_next(link);
}

/* ---- the pseudo-terminal ------------------------------------------------------------------------------- */

/* Bytes as they are, no echo, no signals. */
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

/* Our own hold on the slave's end keeps the line up when its user closes it. */
static bool open_pair(struct sim_link *link)
{
    link->master_fd = posix_openpt(O_RDWR | O_NOCTTY);
    if (link->master_fd < 0 || grantpt(link->master_fd) != 0 || unlockpt(link->master_fd) != 0)
        return false;
    const char *name = ptsname(link->master_fd);
    link->slave_fd = name ? open(name, O_RDWR | O_NOCTTY) : -1;
    if (link->slave_fd < 0 || !make_raw(link->slave_fd))
        return false;
    int flags = fcntl(link->master_fd, F_GETFL);
    if (flags < 0 || fcntl(link->master_fd, F_SETFL, flags | O_NONBLOCK) != 0)
        return false;
    link->linked = symlink(name, link->drive_link->device) == 0;
    return link->linked;
}

static bool watch(struct sim_link *link)
{
    uv_loop_t *loop = link->server->loop;
    uv_poll_t *poll = &link->handle.poll;
    if (uv_poll_init(loop, poll, link->master_fd) != 0)
        return false;
    link->open = true;
    (void)uv_timer_init(loop, &link->gap); /* these two can't fail */
    (void)uv_timer_init(loop, &link->delay);
    poll->data = link->gap.data = link->delay.data = link;
    return uv_poll_start(poll, UV_READABLE, on_readable) == 0;
}

bool sim_server_open_line(struct sim_link *link, char *error, size_t size)
{
    snprintf(link->name, sizeof link->name, "%s", link->drive_link->device);
    if (open_pair(link) && watch(link))
        return true;
    snprintf(error, size, "cannot make a serial line under the name %s: %s", link->name, strerror(errno));
    sim_server_close_line(link);
    return false;
}

void sim_server_close_line(struct sim_link *link)
{
    if (link->open) {
        uv_close((uv_handle_t *)&link->handle.poll, NULL);
        uv_close((uv_handle_t *)&link->gap, NULL);
        uv_close((uv_handle_t *)&link->delay, NULL);
    }
    if (link->linked)
        (void)unlink(link->drive_link->device);
    if (link->slave_fd >= 0)
        (void)close(link->slave_fd);
    if (link->master_fd >= 0)
        (void)close(link->master_fd);
    link->open = link->linked = false;
    link->slave_fd = link->master_fd = -1;
}
