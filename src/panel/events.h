/* Streams of server-sent events (WHATWG HTML, 9.2): a browser gets what changed without asking again. */
#ifndef KNIFERAIL_PANEL_EVENTS_H
#define KNIFERAIL_PANEL_EVENTS_H

#include <microhttpd.h>

#include "panel.h"

#define EVENTS_LIST (-1) /* in place of a station's index: the list of all */

struct events;

/* panel has to outlive it, and may get its stations later. NULL without memory. */
struct events *events_new(const struct panel *panel);
void events_free(struct events *events); /* when no stream is left */

/* A response that goes on until the browser or this program ends. NULL without memory. */
struct MHD_Response *events_response(struct events *events, struct MHD_Connection *connection, int station);

void events_wake(void *of_events);         /* something was read: every stream looks. Any thread */
void events_finish(struct events *events); /* every stream ends; a new one ends at once */

/* The list of stations as a JSON text of malloc's; NULL without memory. */
char *events_list(const struct panel *panel, size_t *size);

#endif
