/* Watches one station. A thread reads the station over Modbus/TCP again and again, whatever the number of browsers, and
 * publishes the result as texts that are made once and shared by all. */
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
struct shared *shared_hold(struct shared *shared); /* adds a reader */
void shared_release(struct shared *shared);        /* removes a reader; the last one frees it. Ignores NULL */
struct shared *shared_from(json_t *json);          /* takes over the reference. NULL: there is no memory */

enum watch_drawing {
    WATCH_RAILS, /* the rails to scale, with the order in force */
    WATCH_NEXT,  /* the web of the staged order, to the same scale */
    WATCH_DRAWINGS,
};

/* The result of the last reading. The texts are held for the caller. */
struct watch_view {
    uint64_t sequence;      /* grows with every reading, failed ones included; 0: there was none yet */
    bool answers;           /* the last reading succeeded */
    struct shared *station; /* JSON: everything about the station; NULL: it has never answered */
    /* SVG; NULL: there is nothing to draw, or it could not be drawn. */
    struct shared *drawing[WATCH_DRAWINGS];
    struct shared *summary; /* JSON: the station's entry in the list of stations; never NULL */
    struct kr_image *image; /* memory of the caller; filled if it is not NULL and the station answers */
};

struct watch;

/* Begins to watch. number: the station's number, from 1. The watching thread calls told() after every reading. NULL:
 * there is no memory or no thread. */
struct watch *watch_start(const struct watch_address *address, int number, int32_t period_ms,
                          void (*told)(void *of_told), void *of_told);
void watch_end(struct watch *watch); /* waits for the thread, at most for the time-out of a reading */

/* Fills in *view; any thread may call it. Release the texts with watch_let_go(). */
void watch_look(struct watch *watch, struct watch_view *view);
void watch_let_go(struct watch_view *view);

#endif
