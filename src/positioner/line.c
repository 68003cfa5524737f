/* The thread of a line: it waits for outputs, exchanges them for inputs, and connects again after a link was lost. */
#include "line.h"

#include <errno.h>
#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "admit.h"
#include "outputs.h"
#include "owner.h"
#include "refusal.h"

/* ---- what is told -------------------------------------------------------------------------------------- */

static void where(const struct port *port, char *text, size_t size)
{
    const struct kr_drive_link *link = &port->drive.link;
    if (link->serial)
        snprintf(text, size, "%s unit %u", link->device, (unsigned)link->unit_id);
    else
        snprintf(text, size, "%s port %u unit %u", link->address, (unsigned)link->port, (unsigned)link->unit_id);
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

static uint16_t counted(uint32_t n)
{
    return (uint16_t)(n < UINT16_MAX ? n : UINT16_MAX);
}

/* Call it under the lock. */
static void show_figures(struct port *port)
{
    port->box.figures.retries = counted(port->retries);
    port->box.figures.lost_answers = counted(port->lost_answers);
    port->box.figures.lost_links = counted(port->lost_links);
}

/* Tells whether the link has held for long. Losses of a link that never holds are logged a few times, then counted. */
static bool held(const struct port *port)
{
    return line_now_us() - port->linked_us >= 1000LL * STEADY_MS;
}

static void tell_flaps(struct line *line, struct port *port, const char *reason)
{
    char text[REASON_MAX];
    int64_t now_us = line_now_us();
    if (now_us - port->flaps_us < 1000LL * FLAPS_MS)
        return;
    snprintf(text, sizeof text, "connected and lost again %u times, the last time because: %.100s",
             (unsigned)port->flaps, reason);
    port->flaps_us = now_us;
    port->flaps = FLAPS_MAX;
    tell(line, port, text);
}

/* Logs a reason once, not once for each try. */
static void tell_lost(struct line *line, struct port *port, bool was_linked, const char *reason)
{
    bool same = strcmp(port->reason, reason) == 0;
    snprintf(port->reason, sizeof port->reason, "%s", reason);
    if (was_linked && !held(port) && port->flaps < UINT16_MAX && ++port->flaps == FLAPS_MAX)
        port->flaps_us = line_now_us();
    if (port->flaps > FLAPS_MAX)
        tell_flaps(line, port, reason);
    else if (was_linked || !same)
        tell(line, port, reason);
}

static void lose(struct line *line, struct port *port, const char *reason)
{
    bool was_linked = port->linked;
    port->linked = false;
    port->said.serial = 0;
    port->lost_links += was_linked;
    pthread_mutex_lock(&line->lock);
    port->box.in = (struct kr_axis_in){.refusal = port->refusal};
    show_figures(port);
    pthread_mutex_unlock(&line->lock);
    tell_lost(line, port, was_linked, reason);
}

static void lose_all(struct line *line, const char *reason)
{
    for (uint16_t i = 0; i < line->n_ports; i++) {
        admit_forget(&line->port[i]);
        line->port[i].refusal = (struct kr_drive_refusal){.why = KR_REFUSED_NOT};
        lose(line, &line->port[i], reason);
    }
}

static int32_t longer(int32_t pause_ms)
{
    return pause_ms * 2 < RETRY_MAX_MS ? pause_ms * 2 : RETRY_MAX_MS;
}

/* ---- one drive ----------------------------------------------------------------------------------------- */

/* Counts edges for drives without edge counters: there was an edge if a value is stored that was not stored before, or
 * that has changed. */
static void count_edges(struct kr_probe_edges *counted, unsigned before, unsigned status,
                        const struct kr_probe_edges *now)
{
    bool armed = status & KR_PROBE_ENABLED;
    if (!armed)
        counted->rise_count = counted->fall_count = 0;
    if (armed && status & KR_PROBE_RISING_STORED &&
        (!(before & KR_PROBE_RISING_STORED) || now->rise_um != counted->rise_um))
        counted->rise_count++;
    if (armed && status & KR_PROBE_FALLING_STORED &&
        (!(before & KR_PROBE_FALLING_STORED) || now->fall_um != counted->fall_um))
        counted->fall_count++;
    counted->rise_um = now->rise_um;
    counted->fall_um = now->fall_um;
}

static void count_all_edges(struct port *port, struct kr_axis_in *in)
{
    const int32_t *address = port->drive.map.address;
    struct kr_probe_edges first = {.rise_um = in->rise_um, .fall_um = in->fall_um};
    count_edges(&port->probe[0], port->probe_status, in->probe_status, &first);
    count_edges(&port->probe[1], port->probe_status >> KR_PROBE_2, in->probe_status >> KR_PROBE_2, &in->second);
    port->probe_status = in->probe_status;
    if (address[KR_OBJECT_RISE_COUNT] == KR_NO_REGISTER)
        in->rise_count = port->probe[0].rise_count;
    if (address[KR_OBJECT_FALL_COUNT] == KR_NO_REGISTER)
        in->fall_count = port->probe[0].fall_count;
    if (address[KR_OBJECT_RISE_2_COUNT] == KR_NO_REGISTER)
        in->second.rise_count = port->probe[1].rise_count;
    if (address[KR_OBJECT_FALL_2_COUNT] == KR_NO_REGISTER)
        in->second.fall_count = port->probe[1].fall_count;
}

/* Returns the serial of the outputs that this answer belongs to: those that were sent answer_lag exchanges ago. */
static uint32_t answered(struct port *port, uint32_t serial)
{
    uint32_t lag = port->drive.answer_lag;
    port->sent[port->n_sent++ % LAG_MAX] = serial;
    if (port->n_sent > lag)
        return port->sent[(port->n_sent - 1 - lag) % LAG_MAX];
    return port->sent[0] - 1;
}

/* Logs the number, too, because other gateways call this gateway by its number. */
static void tell_connected(struct line *line, struct port *port)
{
    char text[48] = "connected";
    if (port->drive.map.address[KR_OBJECT_OWNER] != KR_NO_REGISTER)
        snprintf(text, sizeof text, "connected; this is gateway number %u", (unsigned)port->owner.number);
    tell(line, port, text);
}

static void begin_link(struct line *line, struct port *port)
{
    port->n_sent = 0;
    port->probe_status = 0;
    port->linked_us = line_now_us();
    port->linked = true;
    port->refusal = (struct kr_drive_refusal){.why = KR_REFUSED_NOT};
    if (port->flaps < FLAPS_MAX)
        tell_connected(line, port);
}

static void steady_link(struct line *line, struct port *port)
{
    if (port->flaps >= FLAPS_MAX)
        tell(line, port, "connected, and steady again");
    port->flaps = 0;
    port->pause_ms = RETRY_MS;
    line->pause_ms = RETRY_MS;
}

static void keep(struct line *line, struct port *port, struct kr_axis_in *in, uint32_t serial)
{
    int64_t span_us = line_now_us() - port->asked_us;
    if (!port->linked)
        begin_link(line, port);
    else if (held(port))
        steady_link(line, port);
    count_all_edges(port, in);
    in->link = true;
    in->span_us = (int32_t)(span_us < INT32_MAX ? span_us : INT32_MAX);
    in->answers = serial != 0 ? answered(port, serial) : 0;
    pthread_mutex_lock(&line->lock);
    port->box.in = *in;
    port->box.asked_us = port->asked_us;
    if (span_us / 1000 > port->box.figures.longest_ms)
        port->box.figures.longest_ms = counted((uint32_t)(span_us / 1000));
    show_figures(port);
    pthread_mutex_unlock(&line->lock);
}

static int32_t patience_ms(const struct kr_drive_link *link)
{
    return link->serial ? link->answer_ms : link->lost_ms;
}

/* Invalid bytes and echoes are caused by the line rather than by the drive. */
static const char *hint(const struct line *line)
{
    return line->link.serial ? " (garbage, or an echo: look at baud, parity and stop bits, and at the adapter)" : "";
}

static void say_why(struct line *line, struct port *port, enum transfer t, char reason[REASON_MAX])
{
    if (t == TRANSFER_UNANSWERED && errno == ETIMEDOUT)
        snprintf(reason, REASON_MAX, "no answer within %" PRId32 " ms", patience_ms(&port->drive.link));
    else if (t == TRANSFER_UNANSWERED)
        snprintf(reason, REASON_MAX, "the answer does not fit the request: %s%s",
                 line->why[0] ? line->why : modbus_strerror(errno), hint(line));
    else if (t == TRANSFER_REFUSED)
        refusal_text(line, port, modbus_strerror(errno), reason);
    else
        snprintf(reason, REASON_MAX, "%s", modbus_strerror(errno));
}

static void fail(struct line *line, struct port *port, enum transfer t)
{
    char reason[REASON_MAX];
    bool drop = t == TRANSFER_BROKEN || (t == TRANSFER_UNANSWERED && !line->link.serial);
    say_why(line, port, t, reason);
    admit_forget(port);
    /* Without a link, it is not known any more whether the drive must not be used. */
    port->refusal = (struct kr_drive_refusal){.why = KR_REFUSED_NOT};
    port->next_try_us = line_now_us() + (int64_t)port->pause_ms * 1000;
    port->pause_ms = longer(port->pause_ms);
    lose(line, port, reason);
    if (!drop)
        return;
    line_disconnect(line);
    line->next_try_us = port->next_try_us;
    lose_all(line, reason);
}

/* Stops the drive if this program has set it in motion. From then on the drive belongs to the other gateway. */
static void stop_at_last(struct line *line, struct port *port)
{
    struct kr_axis_out out = port->said;
    struct kr_axis_in in;
    if (!port->linked || out.serial == 0 || outputs_are_a_stop(&out))
        return;
    out.controlword = KR_CW_ENABLE_VOLTAGE; /* a quick stop; brake and pin do not change */
    (void)line_exchange(line, port, &out, &in);
}

/* The drive answers, and is checked again later, because a person may have corrected it. If the reason is another
 * gateway, the owner's register is still watched all the time. */
static void refuse(struct line *line, struct port *port, const struct admitted *answer)
{
    port->refusal = answer->refusal;
    if (answer->refusal.why == KR_REFUSED_OTHER_GATEWAY) {
        stop_at_last(line, port);
    } else {
        port->next_try_us = line_now_us() + (int64_t)RETRY_MAX_MS * 1000;
        admit_forget(port);
    }
    lose(line, port, answer->reason);
}

static bool admit(struct line *line, struct port *port)
{
    struct admitted answer;
    admit_drive(line, port, &answer);
    if (answer.admission == ADMIT_FAILED)
        fail(line, port, answer.transfer);
    else if (answer.admission == ADMIT_REFUSED)
        refuse(line, port, &answer);
    return answer.admission == ADMIT_YES;
}

static void wait_for(struct line *line, uint16_t rail_number)
{
    pthread_mutex_lock(&line->lock);
    line->waits_for = rail_number;
    pthread_mutex_unlock(&line->lock);
}

static void exchange(struct line *line, struct port *port, const struct kr_axis_out *out)
{
    struct kr_axis_in in = {0};
    if (!admit(line, port))
        return;
    enum transfer t = line_exchange(line, port, out, &in);
    in.homing_method = (int8_t)(uint8_t)port->homing_method;
    if (t == TRANSFER_DONE)
        keep(line, port, &in, out->serial);
    else
        fail(line, port, t);
}

static void serve(struct line *line, struct port *port, const struct kr_axis_out *out)
{
    if (!line->connected || line_now_us() < port->next_try_us)
        return;
    wait_for(line, (uint16_t)(port->rail_index + 1));
    exchange(line, port, out);
    wait_for(line, 0);
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

/* Waits for outputs and takes them. False: the thread has to end. */
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

/* Sends the last outputs to every drive that can be reached: a quick stop, then all outputs off. */
static void say_goodbye(struct line *line)
{
    struct kr_axis_in in;
    for (uint16_t i = 0; i < line->n_ports && line->connected; i++) {
        /* No lock is needed, because the loop's thread waits for this one. */
        struct kr_axis_out out = line->port[i].box.out;
        out.controlword = KR_CW_ENABLE_VOLTAGE;
        out.outputs = 0;
        out.probe_function = 0;
        if (line->port[i].linked && line_exchange(line, &line->port[i], &out, &in) == TRANSFER_BROKEN)
            line_disconnect(line);
        if (line->connected)
            owner_give_up(line, &line->port[i]);
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

/* Blocks all signals in the new thread, because only the loop's thread handles them. */
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
        snprintf(error, size, "the thread for the line of rail %u can't be started: %s", line->port[0].rail_index + 1u,
                 strerror(failed));
    return line->started;
}
