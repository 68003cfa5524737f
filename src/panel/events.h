/* Streams of server-sent events (WHATWG HTML, 9.2), which tell a browser of changes without its asking again. */
#ifndef KNIFERAIL_PANEL_EVENTS_H
#define KNIFERAIL_PANEL_EVENTS_H

#include <microhttpd.h>

#include "panel.h"

#define EVENTS_LIST (-1) /* used in place of a station's index: the stream is about the list of all stations */

struct events;

/* panel must stay valid, and may get its stations later. NULL: there is no memory. */
struct events *events_new(const struct panel *panel);
void events_free(struct events *events); /* call it when no stream is left */

/* Makes a response that goes on until the browser or this program ends it. NULL: there is no memory. */
struct MHD_Response *events_response(struct events *events, struct MHD_Connection *connection, int station);

void events_wake(void *of_events);         /* new data was read, so every stream checks it. Any thread may call it */
void events_finish(struct events *events); /* ends every stream; a new one ends at once */

/* Returns the list of stations as JSON, in memory from malloc(). NULL: there is no memory. */
char *events_list(const struct panel *panel, size_t *size);

#endif
