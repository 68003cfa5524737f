/* The thread of a line: waits for outputs, exchanges them for inputs, connects again what was lost. */
#include "line.h"

#include <errno.h>
#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

/* ---- what is told -------------------------------------------------------------------------------------- */

static void where(const struct port *port, char *text, size_t size)
{
    const struct kr_drive_link *link = &port->drive.link;
    if (link->serial)
        snprintf(text, size, "%s unit %u", link->device, (unsigned)link->unit_id);
    else
        snprintf(text, size, "%s port %u unit %u", link->address, (unsigned)link->port,
                 (unsigned)link->unit_id);
}

static void tell(struct line *line, struct port *port, const char *what)
{
    char place[PLACE_MAX];
    where(port, place, sizeof place);
    pthread_mutex_lock(&line->lock);
    snprintf(port->box.news, sizeof port->box.news, "drive at %s: %s", place, what);
    port->box.has_news = true;
    pthread_mutex_unlock(&line->lock);
}

/* Once for each reason, not once for each try. */
static void lose(struct line *line, struct port *port, const char *reason)
{
    bool same = !port->linked && strcmp(port->reason, reason) == 0;
    port->linked = false;
    snprintf(port->reason, sizeof port->reason, "%s", reason);
    pthread_mutex_lock(&line->lock);
    port->box.in = (struct kr_axis_in){0};
    pthread_mutex_unlock(&line->lock);
    if (!same)
        tell(line, port, reason);
}

static void lose_all(struct line *line, const char *reason)
{
    for (uint16_t i = 0; i < line->n_ports; i++) {
        line->port[i].proven = false;
        lose(line, &line->port[i], reason);
    }
}

static int32_t longer(int32_t pause_ms)
{
    return pause_ms * 2 < RETRY_MAX_MS ? pause_ms * 2 : RETRY_MAX_MS;
}

/* ---- one drive ----------------------------------------------------------------------------------------- */

/* Drives without edge counters: an edge shows as a value stored, or as another one than before. */
static void count_edges(struct port *port, struct kr_axis_in *in)
{
    const int32_t *address = port->drive.map.address;
    bool armed = in->probe_status & KR_PROBE_ENABLED;
    if (!armed)
        port->rise_count = port->fall_count = 0;
    if (armed && in->probe_status & KR_PROBE_RISING_STORED &&
        (!(port->probe_status & KR_PROBE_RISING_STORED) || in->rise_um != port->rise_um))
        port->rise_count++;
    if (armed && in->probe_status & KR_PROBE_FALLING_STORED &&
        (!(port->probe_status & KR_PROBE_FALLING_STORED) || in->fall_um != port->fall_um))
        port->fall_count++;
    port->probe_status = in->probe_status;
    port->rise_um = in->rise_um;
    port->fall_um = in->fall_um;
    if (address[KR_OBJECT_RISE_COUNT] == KR_NO_REGISTER)
        in->rise_count = port->rise_count;
    if (address[KR_OBJECT_FALL_COUNT] == KR_NO_REGISTER)
        in->fall_count = port->fall_count;
}

/* What the drive says now is an answer to what it was sent answer_lag exchanges ago. */
static uint32_t answered(struct port *port, uint32_t serial)
{
    uint32_t lag = port->drive.answer_lag;
    port->sent[port->n_sent++ % LAG_MAX] = serial;
    if (port->n_sent > lag)
        return port->sent[(port->n_sent - 1 - lag) % LAG_MAX];
    return port->sent[0] - 1;
}

static void keep(struct line *line, struct port *port, struct kr_axis_in *in, uint32_t serial,
                 int64_t asked_us)
{
    if (!port->linked) {
        port->n_sent = 0;
        port->probe_status = 0;
        tell(line, port, "connected");
    }
    port->linked = true;
    port->pause_ms = RETRY_MS;
    line->pause_ms = RETRY_MS;
    count_edges(port, in);
    in->link = true;
    in->answers = serial != 0 ? answered(port, serial) : 0;
    pthread_mutex_lock(&line->lock);
    port->box.in = *in;
    port->box.asked_us = asked_us;
    pthread_mutex_unlock(&line->lock);
}

static void say_why(const struct port *port, enum transfer t, char reason[REASON_MAX])
{
    static const char *const before[] = {[TRANSFER_REFUSED] = "it refuses: ",
                                         [TRANSFER_UNANSWERED] = "what came is no answer to what was asked: ",
                                         [TRANSFER_BROKEN] = ""};
    if (t == TRANSFER_UNANSWERED && errno == ETIMEDOUT)
        snprintf(reason, REASON_MAX, "no answer within %" PRId32 " ms", port->drive.link.answer_ms);
    else
        snprintf(reason, REASON_MAX, "%s%s", before[t], modbus_strerror(errno));
}

static void fail(struct line *line, struct port *port, enum transfer t)
{
    char reason[REASON_MAX];
    say_why(port, t, reason);
    bool drop = t == TRANSFER_BROKEN || (t == TRANSFER_UNANSWERED && !line->link.serial);
    port->proven = false; /* it may come back as another one */
    port->next_try_us = line_now_us() + (int64_t)port->pause_ms * 1000;
    port->pause_ms = longer(port->pause_ms);
    lose(line, port, reason);
    if (!drop)
        return;
    line_disconnect(line);
    line->next_try_us = port->next_try_us;
    lose_all(line, reason);
}

/* Without a proven watchdog nothing is asked of a drive: it could not be stopped. */
static bool prove(struct line *line, struct port *port)
{
    uint16_t value = 0;
    if (port->proven || port->drive.watchdog == KR_WATCHDOG_PROVEN)
        return true;
    enum transfer t = line_read_watchdog(line, port, &value);
    if (t != TRANSFER_DONE) {
        fail(line, port, t);
        return false;
    }
    port->proven = value >= 1 && value <= port->drive.watchdog_most;
    if (!port->proven) {
        char reason[REASON_MAX];
        snprintf(reason, sizeof reason,
                 "not used: its communication watchdog says %u; 1 to %" PRId32 " is needed", (unsigned)value,
                 port->drive.watchdog_most);
        port->next_try_us = line_now_us() + (int64_t)RETRY_MAX_MS * 1000;
        lose(line, port, reason);
    }
    return port->proven;
}

static void serve(struct line *line, struct port *port, const struct kr_axis_out *out)
{
    struct kr_axis_in in = {0};
    if (!line->connected || line_now_us() < port->next_try_us || !prove(line, port))
        return;
    int64_t asked_us = line_now_us();
    enum transfer t = line_exchange(line, port, out, &in);
    if (t == TRANSFER_DONE)
        keep(line, port, &in, out->serial, asked_us);
    else
        fail(line, port, t);
}

/* ---- the line ------------------------------------------------------------------------------------------ */

static void connect_again(struct line *line)
{
    if (line->connected || line_now_us() < line->next_try_us || line_connect(line))
        return;
    char reason[REASON_MAX];
    snprintf(reason, sizeof reason, "cannot connect: %s", strerror(errno));
    line_disconnect(line);
    line->next_try_us = line_now_us() + (int64_t)line->pause_ms * 1000;
    line->pause_ms = longer(line->pause_ms);
    lose_all(line, reason);
}

static bool any_fresh(const struct line *line)
{
    for (uint16_t i = 0; i < line->n_ports; i++)
        if (line->port[i].box.fresh)
            return true;
    return false;
}

/* Waits for outputs and takes them. False: it is the end. */
static bool next_outputs(struct line *line, struct kr_axis_out out[], bool fresh[])
{
    pthread_mutex_lock(&line->lock);
    while (!line->closing && !any_fresh(line))
        pthread_cond_wait(&line->news, &line->lock);
    bool go_on = !line->closing;
    for (uint16_t i = 0; i < line->n_ports; i++) {
        out[i] = line->port[i].box.out;
        fresh[i] = line->port[i].box.fresh;
        line->port[i].box.fresh = false;
    }
    pthread_mutex_unlock(&line->lock);
    return go_on;
}

/* The last word to every drive that can be reached: quick stop, outputs off. */
static void say_goodbye(struct line *line)
{
    struct kr_axis_in in;
    for (uint16_t i = 0; i < line->n_ports && line->connected; i++) {
        struct kr_axis_out out =
            line->port[i].box.out; /* the loop's thread waits for this one: no lock is needed */
        out.controlword = KR_CW_ENABLE_VOLTAGE;
        out.outputs = 0;
        out.probe_function = 0;
        if (line->port[i].linked && line_exchange(line, &line->port[i], &out, &in) == TRANSFER_BROKEN)
            line_disconnect(line);
    }
}

static void *run(void *arg)
{
    struct line *line = arg;
    struct kr_axis_out out[KR_RAILS_MAX];
    bool fresh[KR_RAILS_MAX] = {false};
    while (next_outputs(line, out, fresh)) {
        connect_again(line);
        for (uint16_t i = 0; i < line->n_ports; i++)
            if (fresh[i])
                serve(line, &line->port[i], &out[i]);
    }
    say_goodbye(line);
    line_disconnect(line);
    return NULL;
}

/* Signals are the loop's. */
bool line_start(struct line *line, char *error, size_t size)
{
    sigset_t all, before;
    for (uint16_t i = 0; i < line->n_ports; i++)
        line->port[i].pause_ms = RETRY_MS;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    int failed = pthread_create(&line->thread, NULL, run, line);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    line->started = failed == 0;
    if (failed != 0)
        snprintf(error, size, "no thread for the line of rail %u: %s", line->port[0].rail_index + 1u,
                 strerror(failed));
    return line->started;
}
