/* The panel's web server: GET and HEAD over HTTP/1.1, by libmicrohttpd, in one thread of its own. */
#ifndef KNIFERAIL_PANEL_SERVER_H
#define KNIFERAIL_PANEL_SERVER_H

#include "events.h"

#define SERVER_CONNECTIONS_MAX 256 /* a further one waits until one of them ends */
/* A connection that says nothing for so long is closed; streams of events speak oftener. */
#define SERVER_IDLE_S 30

struct server;

/* listening: a socket that listens already; the server closes it at its end. NULL: error says why. */
struct server *server_start(const struct panel *panel, struct events *events, int listening, char *error,
                            size_t error_size);
void server_end(struct server *server); /* after events_finish() */

#endif
