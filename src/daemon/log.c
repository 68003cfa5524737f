#include "log.h"

#include <errno.h>
#include <poll.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <uv.h>

#include "clock.h"

#define RING_SIZE 262144
#define STAMP_MAX 48

static struct {
    uv_mutex_t lock;
    uv_cond_t news;    /* there is something to write, or the thread has to end */
    uv_cond_t written; /* everything is written */
    uv_thread_t writer;
    bool journal, ending, open;
    size_t first, used; /* positions in the ring buffer */
    unsigned long left_out;
    char ring[RING_SIZE];
} sink;

/* ---- the writer ------------------------------------------------------------------------------------------- */

/* Another process that shares standard error may have made it non-blocking. */
static bool wait_for_room(void)
{
    struct pollfd room = {.fd = STDERR_FILENO, .events = POLLOUT};
    return poll(&room, 1, -1) >= 0 || errno == EINTR;
}

/* If standard error can't be written to, nobody can be told of it, and the text is dropped. */
static void write_all(const char *text, size_t length)
{
    while (length > 0) {
        ssize_t n = write(STDERR_FILENO, text, length);
        bool later = n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK);
        if (n < 0 && errno != EINTR && !(later && wait_for_room()))
            return;
        if (n > 0) {
            text += n;
            length -= (size_t)n;
        }
    }
}

/* Waits for something to write, and takes the part of it that is contiguous in the buffer. 0: the thread has to end. */
static size_t take_piece(char *piece, size_t size)
{
    uv_mutex_lock(&sink.lock);
    while (sink.used == 0 && !sink.ending)
        uv_cond_wait(&sink.news, &sink.lock);
    size_t n = sink.used < size ? sink.used : size;
    if (n > RING_SIZE - sink.first)
        n = RING_SIZE - sink.first;
    memcpy(piece, sink.ring + sink.first, n);
    sink.first = (sink.first + n) % RING_SIZE;
    sink.used -= n;
    uv_mutex_unlock(&sink.lock);
    return n;
}

static void writer_main(void *arg)
{
    static char piece[16384];
    (void)arg;
    for (size_t n; (n = take_piece(piece, sizeof piece)) > 0;)
        write_all(piece, n);
    uv_mutex_lock(&sink.lock);
    sink.open = false;
    uv_cond_signal(&sink.written);
    uv_mutex_unlock(&sink.lock);
}

/* ---- lines ------------------------------------------------------------------------------------------------ */

static void put(const char *text, size_t length)
{
    size_t at = (sink.first + sink.used) % RING_SIZE, side = RING_SIZE - at;
    size_t n = length < side ? length : side;
    memcpy(sink.ring + at, text, n);
    memcpy(sink.ring, text + n, length - n);
    sink.used += length;
}

static size_t stamp(enum log_priority priority, char text[STAMP_MAX])
{
    static const char *const word[] = {"", "", "", "error", "warning", "notice", "info", "step"};
    int n;
    if (sink.journal) {
        n = snprintf(text, STAMP_MAX, "<%d>", (int)priority);
    } else {
        char now[CLOCK_TEXT_MAX];
        clock_text(clock_utc_ms(), now);
        n = snprintf(text, STAMP_MAX, "%s %-7s ", now, word[priority]);
    }
    return (size_t)n;
}

static bool put_line(const char *head, size_t head_length, const char *text, size_t length, size_t room)
{
    if (sink.used + head_length + length + 1 > room)
        return false;
    put(head, head_length);
    put(text, length);
    put("\n", 1);
    return true;
}

static void put_left_out(void)
{
    char head[STAMP_MAX], text[64];
    if (sink.left_out == 0)
        return;
    int n = snprintf(text, sizeof text, "%lu log lines were left out for lack of room", sink.left_out);
    if (put_line(head, stamp(LOG_WARNING, head), text, (size_t)n, RING_SIZE))
        sink.left_out = 0;
}

static void add(const char *head, size_t head_length, const char *text, size_t length, size_t room)
{
    uv_mutex_lock(&sink.lock);
    put_left_out();
    if (!put_line(head, head_length, text, length, room))
        sink.left_out++;
    uv_cond_signal(&sink.news);
    uv_mutex_unlock(&sink.lock);
}

void log_line(enum log_priority priority, const char *format, ...)
{
    char head[STAMP_MAX], text[LOG_LINE_MAX];
    va_list arg;
    va_start(arg, format);
    int n = vsnprintf(text, sizeof text, format, arg);
    va_end(arg);
    size_t length = n < 0 ? 0 : (size_t)n < sizeof text ? (size_t)n : sizeof text - 1;
    add(head, stamp(priority, head), text, length, priority == LOG_STEP ? RING_SIZE / 2 : RING_SIZE);
}

void log_record(const char *text)
{
    char head[STAMP_MAX];
    add(head, sink.journal ? stamp(LOG_INFORMATION, head) : 0, text, strlen(text), RING_SIZE);
}

/* ---- life ------------------------------------------------------------------------------------------------- */

bool log_is_read_by_journald(void)
{
    const char *stream = getenv("JOURNAL_STREAM");
    char own[48];
    struct stat st;
    if (stream == NULL || fstat(STDERR_FILENO, &st) != 0)
        return false;
    snprintf(own, sizeof own, "%ju:%ju", (uintmax_t)st.st_dev, (uintmax_t)st.st_ino);
    return strcmp(stream, own) == 0;
}

bool log_open(bool journal)
{
    sink.journal = journal;
    if (uv_mutex_init(&sink.lock) != 0 || uv_cond_init(&sink.news) != 0 || uv_cond_init(&sink.written) != 0)
        return false;
    sink.open = true;
    return uv_thread_create(&sink.writer, writer_main, NULL) == 0;
}

/* The thread may be blocked by a pipe that nobody reads; then the process ends without waiting for it. */
void log_close(void)
{
    const uint64_t second_ns = 1000000000;
    uv_mutex_lock(&sink.lock);
    sink.ending = true;
    uv_cond_signal(&sink.news);
    while (sink.open && uv_cond_timedwait(&sink.written, &sink.lock, second_ns) == 0)
        ; /* the wait may end for no reason; a time-out is seen by the flag in the condition */
    bool done = !sink.open;
    uv_mutex_unlock(&sink.lock);
    if (done)
        uv_thread_join(&sink.writer);
}
