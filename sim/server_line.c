/* A serial line: RTU frames on a pseudo-terminal, with the timing of the line's rate. A pseudo-terminal has no rate: a
 * request arrives at once. It is served at the time when its last character would have arrived and the line would have
 * been silent for long enough. The characters of the answer are written at the times when they would arrive. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/timerfd.h>
#include <unistd.h>

#include "sim/server.h"

#define PAUSE_US 20000 /* a pause of this length ends a request that is not a whole frame */
#define PIECE_US 1000  /* at least this part of an answer is written at once, and at least one character */

static int64_t now_us(void)
{
    return (int64_t)(uv_hrtime() / 1000);
}

/* Begins a state, which ends at due_us. */
static void until(struct sim_link *link, enum sim_line_state state, int64_t due_us)
{
    struct itimerspec at = {{0, 0}, {due_us / 1000000, due_us % 1000000 * 1000}};
    link->state = state;
    link->due_us = due_us;
    /* It can't fail, because descriptor and time are valid. */
    (void)timerfd_settime(link->due_fd, TFD_TIMER_ABSTIME, &at, NULL);
}

/* ---- what is told -------------------------------------------------------------------------------------- */

enum { TELL_SETTINGS, TELL_EARLY, TELL_LOST };

static bool may_tell(struct sim_link *link, unsigned kind)
{
    static const struct kr_bucket_rate rate = {1, 10000};
    uint64_t left_out;
    if (!kr_bucket_take(&link->server->buckets, kind, link->name, rate, uv_now(link->server->loop), &left_out))
        return false;
    if (left_out > 0)
        fprintf(stderr, "%s: %llu lines like the next one were left out\n", link->name, (unsigned long long)left_out);
    return true;
}

static const char *parity_word(char parity)
{
    return parity == 'N' ? "none" : parity == 'E' ? "even" : "odd";
}

static bool settings_fit(struct sim_link *link)
{
    const struct kr_drive_link *wanted = link->drive_link, seen = sim_pty_settings(link->master_fd);
    if (seen.baud == wanted->baud && seen.parity == wanted->parity && seen.stop_bits == wanted->stop_bits)
        return true;
    if (may_tell(link, TELL_SETTINGS))
        fprintf(stderr,
                "%s: a request at %d bits a second, parity %s, stop bits %u is garbage on this line, which has "
                "%d, %s, %u\n",
                link->name, seen.baud, parity_word(seen.parity), (unsigned)seen.stop_bits, wanted->baud,
                parity_word(wanted->parity), (unsigned)wanted->stop_bits);
    return false;
}

static bool line_was_silent(struct sim_link *link, int64_t at_us)
{
    if (at_us >= link->silent_us)
        return true;
    if (may_tell(link, TELL_EARLY))
        fprintf(stderr, "%s: a request that began before the line was silent for %lld us behind an answer is garbage\n",
                link->name, (long long)kr_drive_silence_us(link->drive_link));
    return false;
}

/* ---- requests ------------------------------------------------------------------------------------------ */

static void forget(struct sim_link *link, size_t length)
{
    link->length -= length;
    memmove(link->request, link->request + length, link->length);
}

/* Returns the length of the frame at the beginning of the received bytes; 0: it is not whole. */
static size_t whole_frame(const struct sim_link *link)
{
    size_t length = sim_rtu_request_length(link->request, link->length);
    return length <= link->length ? length : 0;
}

/* Silence ends a frame. Bytes that are not a frame, or not yet, have more time. */
static void hear(struct sim_link *link)
{
    bool ends = link->garbled || whole_frame(link) > 0;
    until(link, SIM_LINE_HEARS, link->heard_us + (ends ? kr_drive_silence_us(link->drive_link) : PAUSE_US));
}

static bool crc_fits(const uint8_t *frame, size_t length)
{
    return sim_rtu_crc(frame, length - 2) == (frame[length - 2] | frame[length - 1] << 8);
}

static void answer_later(struct sim_link *link, size_t pdu_length, int32_t delay_ms)
{
    link->answer[0] = link->request[0];
    uint16_t crc = sim_rtu_crc(link->answer, 1 + pdu_length);
    link->answer[1 + pdu_length] = (uint8_t)crc;
    link->answer[2 + pdu_length] = (uint8_t)(crc >> 8);
    link->answer_length = 3 + pdu_length;
    until(link, SIM_LINE_THINKS, link->due_us + 1000LL * delay_ms);
}

/* A drive does not answer a frame with a wrong checksum or for another unit. */
static void serve_frame(struct sim_link *link, size_t length)
{
    struct sim_server *server = link->server;
    int rail = sim_server_rail(link, link->request[0]);
    if (rail < 0 || !crc_fits(link->request, length))
        return;
    sim_server_catch_up(server);
    size_t answer = sim_slave_serve(&server->slave, (uint16_t)rail, link->request + 1, length - 3, link->answer + 1);
    if (answer > 0)
        answer_later(link, answer, sim_slave_delay_ms(&server->slave, (uint16_t)rail));
}

static void end_request(struct sim_link *link)
{
    size_t length = link->garbled ? 0 : whole_frame(link);
    link->state = SIM_LINE_SILENT;
    if (length > 0)
        serve_frame(link, length);
    forget(link, length > 0 ? length : link->length);
    if (link->state == SIM_LINE_SILENT && link->length > 0)
        hear(link);
}

/* Each character takes its time after the one before it. */
static void on_readable(uv_poll_t *poll, int status, int events)
{
    struct sim_link *link = poll->data;
    int64_t at_us = now_us();
    if (status != 0 || !(events & UV_READABLE))
        return;
    if (link->length == sizeof link->request)
        link->length = 0;
    if (link->length == 0)
        link->garbled = !settings_fit(link) || !line_was_silent(link, at_us);
    link->collided = link->collided || link->state == SIM_LINE_SPEAKS;
    ssize_t n = read(link->master_fd, link->request + link->length, sizeof link->request - link->length);
    if (n <= 0)
        return;
    link->length += (size_t)n;
    link->heard_us =
        (at_us > link->heard_us ? at_us : link->heard_us) + n * kr_drive_character_ns(link->drive_link) / 1000;
    if (link->state == SIM_LINE_SILENT || link->state == SIM_LINE_HEARS)
        hear(link);
}

/* ---- answers ------------------------------------------------------------------------------------------- */

/* Bytes that the line doesn't take at once are lost, as on a real line. */
static void put(struct sim_link *link, size_t n)
{
    uint8_t *from = link->answer + link->n_sent;
    for (size_t i = 0; link->collided && i < n; i++)
        from[i] ^= 0x55;
    if (n > 0 && write(link->master_fd, from, n) != (ssize_t)n && may_tell(link, TELL_LOST))
        fprintf(stderr, "%s: an answer was lost on the line\n", link->name);
    link->n_sent += n;
}

static int64_t sent_us(const struct sim_link *link, size_t n)
{
    return link->speaking_us + (int64_t)n * kr_drive_character_ns(link->drive_link) / 1000;
}

static void end_answer(struct sim_link *link, int64_t at_us)
{
    link->silent_us = at_us + kr_drive_silence_us(link->drive_link);
    link->state = SIM_LINE_SILENT;
    if (link->length > 0)
        hear(link);
}

static void go_on_with_answer(struct sim_link *link)
{
    int64_t at_us = now_us(), next_us;
    size_t n = link->n_sent;
    while (n < link->answer_length && sent_us(link, n + 1) <= at_us)
        n++;
    put(link, n - link->n_sent);
    if (link->n_sent == link->answer_length) {
        end_answer(link, at_us);
        return;
    }
    next_us = sent_us(link, n + 1) > at_us + PIECE_US ? sent_us(link, n + 1) : at_us + PIECE_US;
    if (next_us > sent_us(link, link->answer_length))
        next_us = sent_us(link, link->answer_length);
    until(link, SIM_LINE_SPEAKS, next_us);
}

static void begin_answer(struct sim_link *link)
{
    link->speaking_us = link->due_us;
    link->n_sent = 0;
    link->collided = link->garbled = link->length > 0 && link->heard_us > link->due_us;
    link->silent_us = INT64_MAX;
    go_on_with_answer(link);
}

static void on_due(uv_poll_t *poll, int status, int events)
{
    struct sim_link *link = poll->data;
    uint64_t times;
    if (status != 0 || !(events & UV_READABLE) || read(link->due_fd, &times, sizeof times) != (ssize_t)sizeof times)
        return;
    switch (link->state) {
    case SIM_LINE_SILENT: break;
    case SIM_LINE_HEARS: end_request(link); break;
    case SIM_LINE_THINKS: begin_answer(link); break;
    case SIM_LINE_SPEAKS: go_on_with_answer(link); break;
    }
}

/* ---- the line ------------------------------------------------------------------------------------------ */

static bool watch(struct sim_link *link)
{
    uv_loop_t *loop = link->server->loop;
    uv_poll_t *poll = &link->handle.poll;
    link->due_fd = timerfd_create(CLOCK_MONOTONIC, TFD_NONBLOCK | TFD_CLOEXEC);
    if (link->due_fd < 0 || uv_poll_init(loop, poll, link->master_fd) != 0)
        return false;
    link->open = true;
    poll->data = link->due.data = link;
    if (uv_poll_init(loop, &link->due, link->due_fd) != 0)
        return false;
    link->due_watched = true;
    return uv_poll_start(poll, UV_READABLE, on_readable) == 0 && uv_poll_start(&link->due, UV_READABLE, on_due) == 0;
}

bool sim_server_open_line(struct sim_link *link, char *error, size_t size)
{
    snprintf(link->name, sizeof link->name, "%s", link->drive_link->device);
    bool open = sim_pty_open(link, error, size);
    if (open && watch(link))
        return true;
    if (open)
        snprintf(error, size, "cannot watch the serial line %s: %s", link->name, strerror(errno));
    sim_server_close_line(link);
    return false;
}

void sim_server_close_line(struct sim_link *link)
{
    if (link->open)
        uv_close((uv_handle_t *)&link->handle.poll, NULL);
    if (link->due_watched)
        uv_close((uv_handle_t *)&link->due, NULL);
    link->open = link->due_watched = false;
    if (link->due_fd >= 0)
        (void)close(link->due_fd);
    link->due_fd = -1;
    sim_pty_close(link);
}
