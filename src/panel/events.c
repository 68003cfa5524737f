#include "events.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct stream {
    struct events *events;
    struct MHD_Connection *connection;
    int station;
    bool suspended;
    uint64_t sequence; /* of the last reading that was put into text */
    char *text;        /* the text that is being sent; NULL: there is none */
    size_t size, sent;
    struct stream *next;
};

struct events {
    const struct panel *panel;
    pthread_mutex_t lock; /* guards the list, and `suspended` of each stream */
    struct stream *first;
    bool ends;
};

struct events *events_new(const struct panel *panel)
{
    struct events *events = calloc(1, sizeof *events);
    if (events == NULL || pthread_mutex_init(&events->lock, NULL) != 0) {
        free(events);
        return NULL;
    }
    events->panel = panel;
    return events;
}

void events_free(struct events *events)
{
    pthread_mutex_destroy(&events->lock);
    free(events);
}

/* ---- what an event says ---------------------------------------------------------------------------------------- */

static void look(struct watch *watch, struct watch_view *view)
{
    view->image = NULL;
    watch_look(watch, view);
}

static uint64_t sequence_of(const struct panel *panel, int station)
{
    uint64_t sum = 0;
    struct watch_view view;
    for (int i = 0; i < panel->n_stations; i++) {
        if (station != EVENTS_LIST && station != i)
            continue;
        look(panel->station[i], &view);
        sum += view.sequence;
        watch_let_go(&view);
    }
    return sum;
}

static void write_shared(FILE *out, const struct shared *shared)
{
    size_t size;
    const char *text = shared_text(shared, &size);
    fwrite(text, 1, size, out);
}

static void write_list(FILE *out, const struct panel *panel)
{
    struct watch_view view;
    fputc('[', out);
    for (int i = 0; i < panel->n_stations; i++) {
        look(panel->station[i], &view);
        if (i > 0)
            fputc(',', out);
        write_shared(out, view.summary);
        watch_let_go(&view);
    }
    fputc(']', out);
}

/* An event with another name says that a station does not answer, and why. */
static void write_station(FILE *out, struct watch *watch)
{
    struct watch_view view;
    look(watch, &view);
    fprintf(out, "event: %s\ndata: ", view.answers ? "station" : "lost");
    write_shared(out, view.answers ? view.station : view.summary);
    watch_let_go(&view);
}

static char *finished(FILE *out, char **text)
{
    bool whole = !ferror(out);
    if (fclose(out) == 0 && whole)
        return *text;
    free(*text);
    return NULL;
}

char *events_list(const struct panel *panel, size_t *size)
{
    char *text = NULL;
    FILE *out = open_memstream(&text, size);
    if (out == NULL)
        return NULL;
    write_list(out, panel);
    return finished(out, &text);
}

static char *event_text(const struct stream *stream, size_t *size)
{
    char *text = NULL;
    const struct panel *panel = stream->events->panel;
    FILE *out = open_memstream(&text, size);
    if (out == NULL)
        return NULL;
    if (stream->station == EVENTS_LIST) {
        fputs("event: stations\ndata: ", out);
        write_list(out, panel);
    } else {
        write_station(out, panel->station[stream->station]);
    }
    fputs("\n\n", out);
    return finished(out, &text);
}

/* ---- a stream -------------------------------------------------------------------------------------------------- */

/* Lets the connection wait, unless something was read since the stream last looked, or the program ends. */
static void wait_for_more(struct stream *stream)
{
    struct events *events = stream->events;
    pthread_mutex_lock(&events->lock);
    if (!events->ends && sequence_of(events->panel, stream->station) == stream->sequence) {
        stream->suspended = true;
        MHD_suspend_connection(stream->connection);
    }
    pthread_mutex_unlock(&events->lock);
}

static bool ends(struct events *events)
{
    pthread_mutex_lock(&events->lock);
    bool is = events->ends;
    pthread_mutex_unlock(&events->lock);
    return is;
}

/* It notes the sequence before it makes the text, so that a later reading makes another event. */
static bool begin_event(struct stream *stream)
{
    uint64_t sequence = sequence_of(stream->events->panel, stream->station);
    if (sequence == stream->sequence)
        return true;
    stream->sequence = sequence;
    stream->sent = 0;
    stream->text = event_text(stream, &stream->size);
    return stream->text != NULL;
}

static ssize_t next_bytes(void *of_stream, uint64_t at, char *buffer, size_t most)
{
    struct stream *stream = of_stream;
    (void)at;
    if (ends(stream->events))
        return MHD_CONTENT_READER_END_OF_STREAM;
    if (stream->text == NULL && !begin_event(stream))
        return MHD_CONTENT_READER_END_WITH_ERROR;
    if (stream->text == NULL) {
        wait_for_more(stream);
        return 0;
    }
    size_t n = stream->size - stream->sent;
    n = n < most ? n : most;
    memcpy(buffer, stream->text + stream->sent, n);
    stream->sent += n;
    if (stream->sent == stream->size) {
        free(stream->text);
        stream->text = NULL;
    }
    return (ssize_t)n;
}

static void forget(void *of_stream)
{
    struct stream *stream = of_stream;
    pthread_mutex_lock(&stream->events->lock);
    for (struct stream **s = &stream->events->first; *s != NULL; s = &(*s)->next)
        if (*s == stream) {
            *s = stream->next;
            break;
        }
    pthread_mutex_unlock(&stream->events->lock);
    free(stream->text);
    free(stream);
}

struct MHD_Response *events_response(struct events *events, struct MHD_Connection *connection, int station)
{
    struct stream *stream = calloc(1, sizeof *stream);
    if (stream == NULL)
        return NULL;
    *stream = (struct stream){.events = events, .connection = connection, .station = station, .sequence = UINT64_MAX};
    struct MHD_Response *response =
        MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 16384, next_bytes, stream, forget);
    if (response == NULL) {
        free(stream);
        return NULL;
    }
    pthread_mutex_lock(&events->lock);
    stream->next = events->first;
    events->first = stream;
    pthread_mutex_unlock(&events->lock);
    return response;
}

void events_wake(void *of_events)
{
    struct events *events = of_events;
    pthread_mutex_lock(&events->lock);
    for (struct stream *s = events->first; s != NULL; s = s->next) {
        if (!s->suspended)
            continue;
        s->suspended = false;
        MHD_resume_connection(s->connection);
    }
    pthread_mutex_unlock(&events->lock);
}

void events_finish(struct events *events)
{
    pthread_mutex_lock(&events->lock);
    events->ends = true;
    pthread_mutex_unlock(&events->lock);
    events_wake(events);
}
