#include "tcp.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>

#include "network.h"
#include "outputs.h"

/* MODBUS Messaging on TCP/IP Implementation Guide V1.0b, 3.1.3: transaction, protocol 0, length of what follows it,
 * unit identifier. PDUs: MODBUS Application Protocol V1.1b3, 6.3, 6.12, 6.17 and 7. */
#define MBAP_BYTES 7
#define WATCH_MS   10 /* while an answer is awaited, a stop is looked for this often */
#define SLOW_MS    50 /* an answer that takes longer counts as silence */

enum { READ_HOLDING = 3, WRITE_MANY = 16, WRITE_AND_READ = 23, EXCEPTION_BIT = 0x80 };

static void put_word(uint8_t *bytes, unsigned word)
{
    bytes[0] = (uint8_t)(word >> 8);
    bytes[1] = (uint8_t)word;
}

static unsigned word_at(const uint8_t *bytes)
{
    return (unsigned)(bytes[0] << 8 | bytes[1]);
}

/* ---- questions ----------------------------------------------------------------------------------------- */

struct question {
    uint16_t transaction;
    uint8_t pdu[TCP_ADU_MAX - MBAP_BYTES];
    size_t n;
    size_t n_answer; /* bytes of the PDU that answers the question */
};

static void begin(struct question *q, uint8_t function, struct kr_drive_run run)
{
    q->pdu[0] = function;
    put_word(q->pdu + 1, run.address);
    put_word(q->pdu + 3, run.n);
    q->n = 5;
    q->n_answer = function == WRITE_MANY ? 5 : 2u + 2u * run.n;
}

static void append_words(struct question *q, const uint16_t word[], uint16_t n)
{
    q->pdu[q->n++] = (uint8_t)(2 * n);
    for (uint16_t i = 0; i < n; i++, q->n += 2)
        put_word(q->pdu + q->n, word[i]);
}

static enum transfer send_question(struct line *line, const struct port *port, struct question *q)
{
    uint8_t adu[TCP_ADU_MAX];
    q->transaction = ++line->transaction;
    put_word(adu, q->transaction);
    put_word(adu + 2, 0);
    put_word(adu + 4, (unsigned)(1 + q->n));
    adu[6] = port->drive.link.unit_id;
    memcpy(adu + MBAP_BYTES, q->pdu, q->n);
    size_t n = MBAP_BYTES + q->n;
    return send(line->fd, adu, n, MSG_NOSIGNAL) == (ssize_t)n ? TRANSFER_DONE : TRANSFER_BROKEN;
}

/* ---- answers ------------------------------------------------------------------------------------------- */

/* The bytes are not a valid answer, so later bytes can't be matched with their requests any more, and the connection
 * has to be given up. */
static enum transfer disbelieve(struct line *line, const char *what, unsigned seen, unsigned expected)
{
    snprintf(line->why, sizeof line->why, "its %s is %u, not %u", what, seen, expected);
    errno = EMBBADDATA;
    return TRANSFER_UNANSWERED;
}

/* Judges an answer as soon as its header and its function have come. */
static enum transfer judge(struct line *line, const struct port *port, const struct question *q)
{
    const uint8_t *adu = line->received;
    bool exception = adu[MBAP_BYTES] == (q->pdu[0] | EXCEPTION_BIT);
    unsigned length = (unsigned)(1 + (exception ? 2 : q->n_answer));
    if (word_at(adu) != q->transaction)
        return disbelieve(line, "transaction number", word_at(adu), q->transaction);
    if (word_at(adu + 2) != 0)
        return disbelieve(line, "protocol identifier", word_at(adu + 2), 0);
    if (adu[6] != port->drive.link.unit_id)
        return disbelieve(line, "unit identifier", adu[6], port->drive.link.unit_id);
    if (!exception && adu[MBAP_BYTES] != q->pdu[0])
        return disbelieve(line, "function code", adu[MBAP_BYTES], q->pdu[0]);
    if (word_at(adu + 4) != length)
        return disbelieve(line, "length", word_at(adu + 4), length);
    return TRANSFER_DONE;
}

static enum transfer judge_whole(struct line *line, const struct question *q, const uint8_t *pdu)
{
    if (pdu[0] & EXCEPTION_BIT) {
        errno = MODBUS_ENOBASE + pdu[1];
        return TRANSFER_REFUSED;
    }
    if (pdu[0] == WRITE_MANY) {
        for (size_t i = 1; i < 5; i += 2)
            if (word_at(pdu + i) != word_at(q->pdu + i))
                return disbelieve(line, i == 1 ? "echoed address" : "echoed quantity", word_at(pdu + i),
                                  word_at(q->pdu + i));
    } else if (pdu[1] != q->n_answer - 2) {
        return disbelieve(line, "byte count", pdu[1], (unsigned)(q->n_answer - 2));
    }
    return TRANSFER_DONE;
}

/* Takes the bytes that have come into the buffer. */
static enum transfer receive(struct line *line)
{
    ssize_t n = recv(line->fd, line->received + line->n_received, sizeof line->received - line->n_received, 0);
    if (n > 0)
        line->n_received += (size_t)n;
    else if (n == 0)
        errno = ECONNRESET;
    else if (errno == EINTR)
        return TRANSFER_DONE;
    return n > 0 ? TRANSFER_DONE : TRANSFER_BROKEN;
}

/* Notes whether the network or the drive is silent, for the rails that wait for this drive. */
static void note_silence(struct line *line, struct port *port, int64_t waited_us)
{
    bool network = waited_us >= 1000LL * SLOW_MS && !network_confirms(line->fd);
    pthread_mutex_lock(&line->lock);
    port->box.network_silent = network;
    pthread_mutex_unlock(&line->lock);
}

static enum transfer wait_for_bytes(struct line *line, struct port *port)
{
    struct pollfd wait = {.fd = line->fd, .events = POLLIN};
    int64_t now_us = line_now_us(), left_ms = (port->until_us - now_us + 999) / 1000;
    note_silence(line, port, now_us - port->asked_us);
    int ready = poll(&wait, 1, left_ms <= 0 ? 0 : left_ms < WATCH_MS ? (int)left_ms : WATCH_MS);
    if (ready < 0 && errno != EINTR)
        return TRANSFER_BROKEN;
    if (ready > 0)
        return receive(line);
    if (left_ms > 0)
        return TRANSFER_DONE;
    errno = ETIMEDOUT; /* what had come before this program stood still was looked at first */
    return TRANSFER_UNANSWERED;
}

/* ---- a stop while an answer is awaited ------------------------------------------------------------------ */

struct stop {
    bool sent;
    struct question question;
};

/* Sends a stop once; it works when the drive reads it. */
static enum transfer send_stop(struct line *line, struct port *port, struct stop *stop)
{
    uint16_t words[RUN_MAX];
    struct kr_axis_out out;
    if (stop->sent || !outputs_stop_wanted(line, port, &out))
        return TRANSFER_DONE;
    struct kr_drive_run run = outputs_stop(port, &out, words);
    begin(&stop->question, WRITE_MANY, run);
    append_words(&stop->question, words, run.n);
    stop->sent = port->stopped = true;
    port->said = out;
    return send_question(line, port, &stop->question);
}

/* ---- a question and its answer ------------------------------------------------------------------------- */

static void take_out(struct line *line, size_t n)
{
    line->n_received -= n;
    memmove(line->received, line->received + n, line->n_received);
}

/* Takes a frame from the beginning of the buffer if it is whole; *done tells whether it was. */
static enum transfer take_frame(struct line *line, const struct port *port, const struct question *q, uint8_t *pdu,
                                bool *done)
{
    *done = false;
    if (line->n_received <= MBAP_BYTES)
        return TRANSFER_DONE;
    enum transfer t = judge(line, port, q);
    size_t n = 6 + (size_t)word_at(line->received + 4);
    if (t != TRANSFER_DONE || line->n_received < n)
        return t;
    memcpy(pdu, line->received + MBAP_BYTES, n - MBAP_BYTES);
    take_out(line, n);
    *done = true;
    return judge_whole(line, q, pdu);
}

static enum transfer await(struct line *line, struct port *port, const struct question *q, struct stop *stop,
                           uint8_t *pdu)
{
    bool done = false;
    enum transfer t = TRANSFER_DONE;
    while (t == TRANSFER_DONE && !done) {
        if (stop)
            t = send_stop(line, port, stop);
        if (t == TRANSFER_DONE)
            t = take_frame(line, port, q, pdu, &done);
        if (t == TRANSFER_DONE && !done)
            t = wait_for_bytes(line, port);
    }
    return t;
}

/* Sends a request and waits for its answer. Answers come in the sequence of the requests. */
static enum transfer ask(struct line *line, struct port *port, struct question *q, uint8_t *pdu)
{
    uint8_t stopped[TCP_ADU_MAX];
    struct stop stop = {.sent = false};
    line->why[0] = 0;
    enum transfer t = send_question(line, port, q);
    if (t == TRANSFER_DONE)
        t = await(line, port, q, &stop, pdu);
    if ((t == TRANSFER_DONE || t == TRANSFER_REFUSED) && stop.sent) {
        int why = errno;
        enum transfer told = await(line, port, &stop.question, NULL, stopped);
        if (told != TRANSFER_DONE)
            return told;
        errno = why;
    }
    return t;
}

static void words_of(const uint8_t *pdu, uint16_t word[], uint16_t n)
{
    for (uint16_t i = 0; i < n; i++)
        word[i] = (uint16_t)word_at(pdu + 2 + (size_t)2 * i);
}

enum transfer tcp_write(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t word[])
{
    uint8_t pdu[TCP_ADU_MAX];
    struct question q;
    begin(&q, WRITE_MANY, to);
    append_words(&q, word, to.n);
    return ask(line, port, &q, pdu);
}

enum transfer tcp_read(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[])
{
    uint8_t pdu[TCP_ADU_MAX];
    struct question q;
    begin(&q, READ_HOLDING, from);
    enum transfer t = ask(line, port, &q, pdu);
    if (t == TRANSFER_DONE)
        words_of(pdu, word, from.n);
    return t;
}

enum transfer tcp_write_and_read(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t out[],
                                 struct kr_drive_run from, uint16_t in[])
{
    uint8_t pdu[TCP_ADU_MAX];
    struct question q;
    begin(&q, WRITE_AND_READ, from);
    put_word(q.pdu + 5, to.address);
    put_word(q.pdu + 7, to.n);
    q.n = 9;
    append_words(&q, out, to.n);
    enum transfer t = ask(line, port, &q, pdu);
    if (t == TRANSFER_DONE)
        words_of(pdu, in, from.n);
    return t;
}
