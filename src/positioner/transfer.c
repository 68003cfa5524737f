/* Makes one exchange with one drive, with as few transfers as the drive's map allows: with tcp.c over TCP, with
 * libmodbus on a serial line. */
#include <errno.h>
#include <poll.h>
#include <string.h>

#include "line.h"
#include "outputs.h"
#include "tcp.h"

#define PIECES_MS     2  /* an adapter or the kernel may hold bytes back for so long to hand them on together */
#define TURNAROUND_MS 10 /* an answer may take this much longer than the one before it */

/* ---- transfers ----------------------------------------------------------------------------------------- */

/* A frame is delimited by silence before and after it. If a frame began too early, every other drive on the line would
 * take it for a part of the frame before. */
static modbus_t *silent_line(const struct line *line)
{
    line_sleep_us(line->silent_us - line_now_us());
    return line->modbus;
}

static enum transfer outcome(struct line *line, int done, int wanted)
{
    int why = errno;
    line->silent_us = line_now_us() + kr_drive_silence_us(&line->link);
    errno = why;
    if (done == wanted)
        return TRANSFER_DONE;
    if (errno >= MODBUS_ENOBASE + MODBUS_EXCEPTION_ILLEGAL_FUNCTION && errno < MODBUS_ENOBASE + MODBUS_EXCEPTION_MAX)
        return TRANSFER_REFUSED;
    if (errno == ETIMEDOUT || errno >= MODBUS_ENOBASE)
        return TRANSFER_UNANSWERED;
    return TRANSFER_BROKEN;
}

static enum transfer write_run(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t word[])
{
    if (!line->link.serial)
        return tcp_write(line, port, to, word);
    return outcome(line, modbus_write_registers(silent_line(line), to.address, to.n, word), to.n);
}

static enum transfer read_run(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[])
{
    if (!line->link.serial)
        return tcp_read(line, port, from, word);
    return outcome(line, modbus_read_registers(silent_line(line), from.address, from.n, word), from.n);
}

static enum transfer write_and_read_runs(struct line *line, struct port *port, struct kr_drive_run to,
                                         const uint16_t out[], struct kr_drive_run from, uint16_t in[])
{
    if (!line->link.serial)
        return tcp_write_and_read(line, port, to, out, from, in);
    return outcome(line,
                   modbus_write_and_read_registers(silent_line(line), to.address, to.n, out, from.address, from.n, in),
                   from.n);
}

/* ---- an exchange --------------------------------------------------------------------------------------- */

static void take(const struct port *port, struct kr_drive_objects *objects, struct kr_drive_run run,
                 const uint16_t words[RUN_MAX])
{
    for (uint16_t i = 0; i < run.n; i++)
        (void)kr_drivemap_set(&port->drive.map, objects, KR_OBJECT_IN, (uint16_t)(run.address + i), words[i]);
}

static enum transfer write_and_read(struct line *line, struct port *port, struct kr_drive_objects *objects,
                                    struct kr_drive_run to, struct kr_drive_run from)
{
    uint16_t out[RUN_MAX], in[RUN_MAX];
    outputs_fill(port, objects, to, out);
    enum transfer t = write_and_read_runs(line, port, to, out, from, in);
    if (t == TRANSFER_DONE)
        take(port, objects, from, in);
    return t;
}

/* After a stop was sent, the outputs from before it are not written any more. */
static enum transfer write_then_read(struct line *line, struct port *port, struct kr_drive_objects *objects,
                                     const struct kr_drive_run to[], uint16_t n_to, const struct kr_drive_run from[],
                                     uint16_t n_from)
{
    uint16_t words[RUN_MAX];
    enum transfer t = TRANSFER_DONE;
    for (uint16_t i = 0; i < n_to && t == TRANSFER_DONE && !port->stopped; i++) {
        outputs_fill(port, objects, to[i], words);
        t = write_run(line, port, to[i], words);
    }
    for (uint16_t i = 0; i < n_from && t == TRANSFER_DONE; i++) {
        t = read_run(line, port, from[i], words);
        if (t == TRANSFER_DONE)
            take(port, objects, from[i], words);
    }
    return t;
}

static enum transfer once(struct line *line, struct port *port, const struct kr_axis_out *out,
                          struct kr_drive_objects *objects)
{
    struct kr_drive_run to[KR_DRIVE_RUNS_MAX], from[KR_DRIVE_RUNS_MAX];
    uint16_t n_to = out->serial != 0 ? kr_drivemap_runs(&port->drive.map, KR_OBJECT_OUT, to) : 0;
    uint16_t n_from = kr_drivemap_runs(&port->drive.map, KR_OBJECT_IN, from);
    memset(objects, 0, sizeof *objects);
    kr_drivemap_write_out(&port->drive.map, out, objects);
    port->said = *out;
    if (port->drive.function_23 && n_to == 1 && n_from == 1)
        return write_and_read(line, port, objects, to[0], from[0]);
    return write_then_read(line, port, objects, to, n_to, from, n_from);
}

/* ---- tries --------------------------------------------------------------------------------------------- */

/* Noise may spoil a transfer on a serial line, and sending the same outputs again does no harm. Over TCP a missing
 * answer may still come, and would then be taken for the answer to the next request. So nothing is repeated there. */
static bool try_again(const struct line *line, enum transfer t, int tries)
{
    return t == TRANSFER_UNANSWERED && line->link.serial && tries <= line->link.retries;
}

/* A request that was given up may still be answered. If there were two tries, the second answer may come as long after
 * the first answer as the second request came after the first. Until that time is over, no drive on this line is asked,
 * and all bytes that arrive are discarded. Otherwise they would be taken for the answer of the next drive, which would
 * be blamed for them. */
static void expect_late_answers(struct line *line, const struct port *port)
{
    int64_t now_us = line_now_us();
    line->quiet_us = now_us + (now_us - port->asked_us) + 1000LL * TURNAROUND_MS;
}

static void settle(struct line *line)
{
    if (line->quiet_us == 0)
        return;
    line_sleep_us(line->quiet_us - line_now_us());
    line->quiet_us = 0;
    (void)modbus_flush(line->modbus);
}

static bool begin_tries(struct line *line, struct port *port)
{
    port->stopped = false;
    if (line->link.serial)
        settle(line);
    port->asked_us = line_now_us();
    port->until_us = port->asked_us + 1000LL * port->drive.link.lost_ms;
    return !line->link.serial || modbus_set_slave(line->modbus, port->drive.link.unit_id) == 0;
}

/* The rest of a late or damaged answer may still be arriving, and would damage the next request. */
static void wait_for_silence(struct line *line)
{
    int silence_ms = (int)(kr_drive_silence_us(&line->link) / 1000) + PIECES_MS;
    int64_t until_us = line_now_us() + 1000LL * line->link.answer_ms;
    struct pollfd heard = {.fd = line->fd, .events = POLLIN};
    do
        (void)modbus_flush(line->modbus);
    while (poll(&heard, 1, silence_ms) > 0 && line_now_us() < until_us);
}

static void failed_try(struct line *line, struct port *port, bool again)
{
    port->lost_answers++;
    port->retries += again;
    if (again)
        wait_for_silence(line);
}

static void end_tries(struct line *line, struct port *port, enum transfer t, int tries)
{
    if (t == TRANSFER_UNANSWERED)
        failed_try(line, port, false);
    if (line->link.serial && (tries > 1 || t == TRANSFER_UNANSWERED))
        expect_late_answers(line, port);
}

enum transfer line_exchange(struct line *line, struct port *port, const struct kr_axis_out *out, struct kr_axis_in *in)
{
    struct kr_drive_objects objects;
    struct kr_axis_out newest = *out;
    enum transfer t;
    int tries = 0;
    if (!begin_tries(line, port))
        return TRANSFER_BROKEN;
    while ((t = once(line, port, &newest, &objects)), try_again(line, t, ++tries)) {
        failed_try(line, port, true);
        /* a stop must not wait until the outputs before it are answered */
        (void)outputs_stop_wanted(line, port, &newest);
    }
    end_tries(line, port, t, tries);
    if (t == TRANSFER_DONE)
        kr_drivemap_read_in(&port->drive.map, &objects, in);
    return t;
}

enum transfer line_read(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[])
{
    enum transfer t;
    int tries = 0;
    if (!begin_tries(line, port))
        return TRANSFER_BROKEN;
    while ((t = read_run(line, port, from, word)), try_again(line, t, ++tries)) {
        failed_try(line, port, true);
    }
    end_tries(line, port, t, tries);
    return t;
}

enum transfer line_write(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t word[])
{
    enum transfer t;
    int tries = 0;
    if (!begin_tries(line, port))
        return TRANSFER_BROKEN;
    while ((t = write_run(line, port, to, word)), try_again(line, t, ++tries)) {
        failed_try(line, port, true);
    }
    end_tries(line, port, t, tries);
    return t;
}
