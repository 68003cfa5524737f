/* One station that is watched: a thread of its own reads it over Modbus/TCP again and again, whatever the number of
 * browsers, and publishes what it found as text that is made once and handed to everybody. */
#ifndef KNIFERAIL_PANEL_WATCH_H
#define KNIFERAIL_PANEL_WATCH_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "kniferail/client.h"

#define WATCH_HOST_MAX 64
#define WATCH_PORT_MAX 6

struct watch_address {
    char host[WATCH_HOST_MAX], port[WATCH_PORT_MAX];
    int unit_id; /* 255: the gateway's only station, or its default one */
};

/* A text that several readers share. */
struct shared;
const char *shared_text(const struct shared *shared, size_t *size);
struct shared *shared_hold(struct shared *shared); /* one more reader */
void shared_release(struct shared *shared);        /* one less; the last one frees it. NULL: nothing */
struct shared *shared_from(json_t *json);          /* takes the reference. NULL without memory */

enum watch_drawing {
    WATCH_RAILS, /* the rails to scale, with the order in force */
    WATCH_NEXT,  /* the web of the staged order, to the same scale */
    WATCH_DRAWINGS,
};

/* What was found last. The texts are held for the caller. */
struct watch_view {
    uint64_t sequence;      /* steps with every reading, failed ones included; 0: none yet */
    bool answers;           /* the last reading succeeded */
    struct shared *station; /* JSON: all about it; NULL: it has never answered */
    /* SVG; NULL: there is nothing to draw, or it could not be drawn. */
    struct shared *drawing[WATCH_DRAWINGS];
    struct shared *summary; /* JSON: for a list of stations; never NULL */
    struct kr_image *image; /* the caller's own memory, filled if it is not NULL and the station answers */
};

struct watch;

/* Begins to watch; number is the station's from 1. told is called by the watching thread after every reading. NULL
 * without memory or thread. */
struct watch *watch_start(const struct watch_address *address, int number, int32_t period_ms,
                          void (*told)(void *of_told), void *of_told);
void watch_end(struct watch *watch); /* waits for the thread: at most for the time-out of a reading */

/* Any thread. The view's texts have to be released: by watch_let_go. */
void watch_look(struct watch *watch, struct watch_view *view);
void watch_let_go(struct watch_view *view);

#endif
